"""What the verbs of a vocabulary look like and do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from protocol_lang.model.conditions import Claim
from protocol_lang.model.refs import (
    OfPatient,
    OfPerson,
    OfPlace,
    OfSlot,
    OfThing,
    Ref,
    WhatCameOff,
    WhereFrom,
)
from protocol_lang.text import Place

__all__ = [
    "CoversWith",
    "Exposes",
    "Frame",
    "Lasting",
    "LaysOut",
    "Line",
    "Meets",
    "Moves",
    "OfPatient",
    "OfPerson",
    "OfPlace",
    "OfSlot",
    "OfThing",
    "Passes",
    "Reduces",
    "Ref",
    "Retires",
    "SetsFact",
    "Share",
    "Slot",
    "Takes",
    "Tears",
    "Uncovers",
    "Verb",
    "Washes",
    "WhatCameOff",
    "WhereFrom",
]


class Share(Enum):
    """How a slot takes a list: not at all; once per member; all members in one handling."""

    ONE = "one"
    EACH = "each"
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Slot:
    """A place for a name in a frame. ``name`` is unique in the frame ("ACTOR", "SURFACE", "OTHER
    ITEM").

    ``kind``: "person", "thing" (any thing), "stream", or a kind of thing, in lower case.
    """

    name: str
    kind: str
    share: Share = Share.ONE


@dataclass(frozen=True, slots=True)
class Frame:
    """The words and slots of one form of a sentence, e.g. ACTOR covers EACH SURFACE with COVER."""

    parts: tuple[str | Slot, ...]
    text: str
    place: Place


# --- Lines of a verb's body, done in the order written -------------------------------------------


@dataclass(frozen=True, slots=True)
class Meets:
    """meet A, B, C — or brush A, B (``trace``)."""

    refs: tuple[Ref, ...]
    trace: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Passes:
    """pass A to B, C — or pass a trace of A to B."""

    sources: tuple[Ref, ...]
    goals: tuple[Ref, ...]
    trace: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Takes:
    """take WIPE's back with ACTOR's hands: a new one where it is used once, else the thing itself.

    From a box or store: hands, box and the part taken (the whole, if no part is named) meet, and
    the box is passed onto every part. From a surface on which it was laid out: the surface is
    passed onto every part, and the hands meet the part taken; that it was laid out is a claim.
    """

    what: OfSlot | OfThing
    hands: Ref
    place: Place


@dataclass(frozen=True, slots=True)
class LaysOut:
    """lay out SUPPLY with ACTOR's hands: hands, its stock and the surface meet; it is then laid
    out."""

    what: OfSlot | OfThing
    hands: Ref
    place: Place


@dataclass(frozen=True, slots=True)
class CoversWith:
    """cover A with COVER (slot or thing name)."""

    what: Ref
    cover: OfSlot | OfThing
    place: Place


@dataclass(frozen=True, slots=True)
class Uncovers:
    """uncover A from COVER."""

    what: Ref
    cover: OfSlot | OfThing
    place: Place


@dataclass(frozen=True, slots=True)
class Tears:
    """tear COVER on A: from now on, until it comes off, soil gets through it."""

    cover: OfSlot | OfThing
    what: Ref
    place: Place


@dataclass(frozen=True, slots=True)
class Washes:
    """wash A: caked soil becomes rinsed."""

    refs: tuple[Ref, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Reduces:
    """reduce A to LEVEL, or reduce A by WIPE (its level, over its wet time); through PROCESS.

    ``product``: the name of a slot in capitals, or of a thing.
    """

    refs: tuple[Ref, ...]
    level: str | None
    product: str | None
    through: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Retires:
    """retire A, with ``stream`` the slot or the name of where it goes, if told."""

    what: Ref
    stream: OfSlot | str | None
    place: Place


@dataclass(frozen=True, slots=True)
class SetsFact:
    """sets/ends a fact: of the visit (``subject`` None), of a person or of a thing."""

    fact: str
    subject: Ref | None
    value: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Moves:
    """moves ACTOR to PLACE (a slot, or the name of a place), or moves ACTOR out (``to`` None)."""

    who: Ref
    to: OfSlot | str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Exposes:
    """exposure by ACTOR: everybody has to be where an exposure does not reach them."""

    by: Ref
    place: Place


Line = (
    Meets
    | Passes
    | Takes
    | LaysOut
    | CoversWith
    | Uncovers
    | Tears
    | Washes
    | Reduces
    | Retires
    | SetsFact
    | Moves
    | Exposes
)


@dataclass(frozen=True, slots=True)
class Lasting:
    """How long something takes, in seconds: from the least to the most."""

    least: Fraction
    most: Fraction
    place: Place


@dataclass(frozen=True, slots=True)
class Verb:
    """A verb: its frames (the first is the one shown), what must hold, and what it does.

    ``allowed``: facts whose duty does not bind this verb. ``no_contact``: the author says that it
    touches nothing (a verb with lines that touch nothing must say so). ``takes``: how long it
    usually takes, each time that it is done.
    """

    frames: tuple[Frame, ...]
    claims: tuple[Claim, ...]
    lines: tuple[Line, ...]
    allowed: tuple[str, ...]
    no_contact: bool
    notes: tuple[str, ...]
    sources: tuple[str, ...]
    place: Place
    takes: Lasting | None = None
