"""Conditions: which steps are done (``where``), and what has to be so before (``only when``)."""

from __future__ import annotations

from dataclasses import dataclass

from protocol_lang.model.refs import Ref
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class ChoiceIs:
    """The choice has this value."""

    choice: str
    value: str
    place: Place


@dataclass(frozen=True, slots=True)
class NotWhere:
    """The contrary of ``part``."""

    part: Condition


@dataclass(frozen=True, slots=True)
class EveryWhere:
    """Every one of ``parts``."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyWhere:
    """At least one of ``parts``."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class StateIs:
    """This is so at the moment at which the first of the steps is done."""

    claim: Claim
    place: Place


#: On choices, and on the state where the steps stand.
Condition = ChoiceIs | StateIs | NotWhere | EveryWhere | AnyWhere


@dataclass(frozen=True, slots=True)
class FactHolds:
    """A fact of the visit (``subject`` None), of a person or of a thing."""

    fact: str
    subject: Ref | None
    place: Place


@dataclass(frozen=True, slots=True)
class FactSince:
    """How the last act that made ``since`` so was followed up; ``since`` itself still holds.

    ``never``: no act after it made ``fact`` so, and it is not so now. Else: an act after it did,
    and it is so now. Within one act what counts is the order of its lines.
    """

    fact: str
    subject: Ref | None
    since: str
    since_subject: Ref | None
    never: bool
    place: Place


@dataclass(frozen=True, slots=True)
class IsIn:
    """The person is in the place that fills the slot ``where`` of a verb."""

    who: Ref
    where: str
    place: Place


@dataclass(frozen=True, slots=True)
class IsCovered:
    """Something is on it; with ``cover``, a cover of that name.

    ``cover`` in capitals is the name of a slot: what fills it. "ACTOR wears GLOVES" has the slot of
    a person as ``what``, without a part: the part is the one that the cover which fills the slot is
    worn on. Where the cover is known by name, its part stands in ``what``.
    """

    what: Ref
    cover: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class IsDry:
    """No treatment of it is still wet."""

    what: Ref
    place: Place


@dataclass(frozen=True, slots=True)
class IsCleanOf:
    """Nothing foreign is on it. ``own``: this patient's soil counts too; ``world``: everyday soil
    too.

    "clean of other patients": neither; "clean": both.
    """

    what: Ref
    own: bool
    world: bool
    place: Place


@dataclass(frozen=True, slots=True)
class NotSo:
    """The contrary of ``part``."""

    part: Claim


@dataclass(frozen=True, slots=True)
class EverySo:
    """Every one of ``parts``."""

    parts: tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class AnySo:
    """At least one of ``parts``."""

    parts: tuple[Claim, ...]


#: On the state just before a step. IsCleanOf stands alone or inside EverySo only.
Claim = FactHolds | FactSince | IsIn | IsCovered | IsDry | IsCleanOf | NotSo | EverySo | AnySo
