"""What a line of a verb, or a claim, refers to: parts of people and things."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OfSlot:
    """What fills the slot; with ``part``, that part of it ("ACTOR's hands", "WIPE's face")."""

    slot: str
    part: str | None = None


@dataclass(frozen=True, slots=True)
class OfThing:
    """A thing by name, outside any slot."""

    thing: str
    part: str | None = None


@dataclass(frozen=True, slots=True)
class OfPatient:
    """A part of the patient ("the patient's mouth"), of the visit in which it is said."""

    part: str


@dataclass(frozen=True, slots=True)
class OfPerson:
    """A part of a person by name (only in protocols: "operator's hands").

    ``part`` None: the person as such, whose fact it is.
    """

    person: str
    part: str | None


@dataclass(frozen=True, slots=True)
class OfPlace:
    """A place by name, whose fact it is."""

    where: str


@dataclass(frozen=True, slots=True)
class WhereFrom:
    """The box, store or surface from which it comes ("WIPE's box")."""

    what: OfSlot | OfThing


@dataclass(frozen=True, slots=True)
class WhatCameOff:
    """The cover that this verb has just taken off."""


Ref = OfSlot | OfThing | OfPatient | OfPerson | OfPlace | WhereFrom | WhatCameOff
