"""What is in a room picture: records without geometry, filled by whoever knows how soil gets on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Far(Enum):
    """How far a patient's saliva can get, the worst that some permitted order has.

    ``ONWARD``: it is there, or comes there, when the next patient is; ``TRACE``: the same, but
    never more than a trace; ``ENDED``: only in the visit of the patient whose it is; ``NEVER``.
    ``SOURCE`` is said of that patient.
    """

    SOURCE = "source"
    ONWARD = "onward"
    TRACE = "trace"
    ENDED = "ended"
    NEVER = "never"


class Kind(Enum):
    """In which zone a thing stands, from the patient to what is farthest from them."""

    PATIENT = "the patient"
    PEOPLE = "hands and people"
    IN_USE = "things in use"
    SURFACE = "surfaces"
    KEPT_CLEAN = "kept clean"
    WASTE = "for what is used"
    NEXT = "the next patient"


@dataclass(frozen=True, slots=True)
class Spot:
    """Something that is touched. ``id`` is unique in the picture and never shown.

    ``note``: small print ("under wrap"). ``person``: whether it is a part of somebody, or worn.
    """

    id: str
    text: str
    kind: Kind
    far: Far
    note: str = ""
    person: bool = False


@dataclass(frozen=True, slots=True)
class Contact:
    """Two that meet in some step, by id, and how far saliva can get in such a step."""

    one: str
    other: str
    far: Far


@dataclass(frozen=True, slots=True)
class Room:
    """``said``: what has to be known of how the picture came about. ``soil``: what the soil of a
    patient is called ("saliva", "blood"). Spots in the order of the room file; each pair in one
    contact at most."""

    title: str
    spots: tuple[Spot, ...]
    contacts: tuple[Contact, ...]
    said: str = ""
    soil: str = "saliva"

    def __post_init__(self) -> None:
        known = {spot.id for spot in self.spots}
        if len(known) != len(self.spots):
            raise ValueError("two spots have the same id")
        pairs = [frozenset((one.one, one.other)) for one in self.contacts]
        if len(set(pairs)) != len(pairs):
            raise ValueError("two contacts of the same pair")
        if missing := sorted({end for pair in pairs for end in pair} - known):
            raise ValueError(f"no spot has the id {missing[0]!r}")
