"""The checklist: steps and the blocks that order them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from protocol_lang.model.conditions import Claim, Condition
from protocol_lang.model.verbs import Frame, SetsFact, Verb
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Doing:
    """A sentence read as a verb: ``frame`` is the form that matched, ``filled`` what fills each
    slot.

    Each filling is a tuple of names (of people, things, streams; groups spelt out); more than one
    only in a slot that takes a list. ``numbers``: for slots of supplies that are laid out, how many
    of each filling; None where no number is told, which means as many as are taken.
    """

    verb: Verb
    frame: Frame
    filled: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, tuple[int | None, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Saying:
    """say: …, a step without contact."""

    text: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wait of so many minutes, or until a thing is dry."""

    actor: str
    minutes: int | None
    until_dry: str | None


@dataclass(frozen=True, slots=True)
class Step:
    """One tick box. ``label``: its name, if it has one. ``text``: the sentence as written."""

    label: str | None
    text: str
    short: str | None
    does: Doing | Saying | Waiting
    claims: tuple[Claim, ...]
    sets: tuple[SetsFact, ...]
    after: tuple[tuple[str, Place], ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class InOrder:
    """Items one after the other."""

    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class AnyOrder:
    """Items in any order; a sub-list stays in one go unless ``mixed``."""

    items: tuple[Item, ...]
    mixed: bool
    place: Place


@dataclass(frozen=True, slots=True)
class InOneGo:
    """Items one after the other, with no other step of the same person in between."""

    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Lanes of people who work at the same time: (person, items)."""

    lanes: tuple[tuple[str, tuple[Item, ...]], ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Where:
    """Branches: the first whose condition holds is done; the last may have none (otherwise)."""

    branches: tuple[tuple[Condition | None, tuple[Item, ...]], ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Border:
    """Where one protocol ends and another goes on: no step, but what is claimed just there.

    ``title``: of the protocol that begins here (``begins``) or ends.
    """

    title: str
    begins: bool
    claims: tuple[Claim, ...]
    place: Place


Item = Step | InOrder | AnyOrder | InOneGo | SideBySide | Where | Border


@dataclass(frozen=True, slots=True)
class Phase:
    """A titled part of the checklist; phases follow each other.

    ``part``: the title of the protocol that it stands in, where several are put together.
    """

    title: str
    short: str | None
    notes: tuple[str, ...]
    items: tuple[Item, ...]
    place: Place
    part: str | None = None
