"""What a room and its vocabulary declare: people, things, facts, germs, levels, floors, streams."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from protocol_lang.text import Place


class PersonKind(Enum):
    """What a person is to the room."""

    STAFF = "staff"
    PATIENT = "patient"
    COMPANION = "companion"


class Counts(Enum):
    """What a part of a person counts as when soil reaches it (docs/meaning/kernel.md, rule 11)."""

    MOUTH = "mouth"
    SKIN = "skin"
    FACE = "face"
    CLOTHES = "clothes"
    NEAR_THE_FACE = "near the face"


class Start(Enum):
    """How a thing is when a visit starts."""

    CLEAN = "clean"
    KEPT_CLEAN = "kept clean"
    EVERYDAY = "everyday"
    DIRTY = "dirty"
    CHEMICAL = "chemical"


@dataclass(frozen=True, slots=True)
class BodyPart:
    """A part that every person of ``of`` has.

    ``unclean``: hands that come from somewhere; ``full_of``: soil of the patient is always here,
    and this is what it is called, "saliva", "blood" or
    "body fluid".
    """

    name: str
    of: PersonKind
    counts: Counts
    unclean: bool
    full_of: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who acts, or on whom others act.

    ``starts_in``: the place where a visit finds this person; None: outside, in no place that is
    named. ``stays``: may be near at an exposure. ``second``: of a visit that begins before the last
    one is over.
    """

    name: str
    kind: PersonKind
    place: Place
    starts_in: str | None = None
    stays: bool = False
    second: bool = False


@dataclass(frozen=True, slots=True)
class RoomPlace:
    """A place where people can be.

    ``metres``: how far from the patient it is, at an exposure; ``degrees``: at which angle from the
    beam, 0 where the beam goes. ``barrier``: a barrier stands between it and the beam;
    ``in_view``: the patient is seen from there. ``air_changes``: how often an hour its air is
    changed. ``dirty_side``: gloves stay behind when somebody leaves it for another side.
    """

    name: str
    place: Place
    metres: Fraction | None = None
    degrees: Fraction | None = None
    barrier: bool = False
    in_view: bool = False
    air_changes: Fraction | None = None
    dirty_side: bool = False

    @property
    def being_there(self) -> str:
        """The name of the fact that a person is in this place."""
        return f"in {self.name}"


@dataclass(frozen=True, slots=True)
class ThingPart:
    """A part of a thing."""

    name: str


@dataclass(frozen=True, slots=True)
class Thing:
    """A thing of the room, or the kind of a thing of which each use takes a new one.

    ``kind``: a word the vocabulary declares (surface, item, wipe, box, bin …); a slot of a verb
    written in capitals admits the things of that kind.
    ``parts``: empty when the thing is not divided; the first part is its outside when it is a
    cover.
    ``used_once``: every taking gives a new one. ``thrown_after_use``: the proof takes it that each
    one is thrown away after its last use, without a step that says so. ``leaks``/``lets``: traits
    of a cover.
    ``worn_on``: the part of a person that it covers; ``over``: the cover on top of which it goes.
    ``takes``: covers that may be put on it, the innermost first, with the parts each covers (empty:
    the whole); ``starts_covered``: the cover on it when a visit starts.
    ``keeps_air_out``: of what is worn on the face, that it keeps out germs of the air.
    ``stands_in``: the place in which it stands; who touches it has to be there.
    ``comes_from``: the box, store or surface from which one is taken. ``stocked_from``: where the
    supply laid out there is fetched from. ``one_of_many``: where it is kept lie others like it, and
    each taking may give another one. ``level``/``wet_minutes``: of a product that treats.
    """

    name: str
    kind: str
    place: Place
    parts: tuple[ThingPart, ...] = ()
    start: Start = Start.CLEAN
    used_once: bool = False
    thrown_after_use: bool = False
    leaks: bool = False
    lets: frozenset[str] = frozenset()
    worn_on: str | None = None
    over: str | None = None
    takes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    starts_covered: str | None = None
    comes_from: str | None = None
    stocked_from: str | None = None
    one_of_many: bool = False
    level: str | None = None
    wet_minutes: int | None = None
    goes_in_mouth: bool = False
    heat_safe: bool | None = None
    always_sleeved: bool = False
    stream: str | None = None
    stands_in: str | None = None
    keeps_air_out: bool = False

    @property
    def kept_in(self) -> str | None:
        """Where it is kept: not where it lies ready, if it is laid out."""
        return self.stocked_from or self.comes_from

    @property
    def traits(self) -> set[str]:
        """What floors ask of a thing: its kind and how it is used."""
        traits = {self.kind}
        if self.goes_in_mouth:
            traits.add("goes in the mouth")
        if self.heat_safe is not None:
            traits.add("heat safe" if self.heat_safe else "not heat safe")
        if self.always_sleeved:
            traits.add("always sleeved in the mouth")
        return traits


@dataclass(frozen=True, slots=True)
class Group:
    """A name for several things: "the machine means tube head, cone"."""

    name: str
    members: tuple[str, ...]
    place: Place


class FactOf(Enum):
    """Whose a fact is."""

    VISIT = "visit"
    PERSON = "person"
    THING = "thing"
    PLACE = "place"


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that is so or not so; a lasting one outlives the visit.

    ``where``: the fact is that a person is in this place; verbs that move people see to it.
    """

    name: str
    of: FactOf
    lasting: bool
    place: Place
    where: str | None = None


@dataclass(frozen=True, slots=True)
class Duty:
    """While ``fact`` holds of a person, that person's ``part`` touches nothing.

    A verb may be allowed all the same (:attr:`protocol_lang.model.verbs.Verb.allowed`).
    """

    name: str
    fact: str
    part: str
    source: str | None
    place: Place


class ActsOn(Enum):
    """Which soil a level of treatment can act on at all."""

    RINSED = "rinsed soil"
    TRACES = "traces"
    ALL = "all soil"
    CHEMICALS = "chemicals"


@dataclass(frozen=True, slots=True)
class LevelOfTreatment:
    """``rank`` counts from 1, the weakest first."""

    name: str
    rank: int
    acts_on: ActsOn
    ends: tuple[str, ...]
    source: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class GermClass:
    """Listed the hardest first."""

    name: str
    place: Place


@dataclass(frozen=True, slots=True)
class Stream:
    """A waste stream or the way to reprocessing: where retired things go.

    ``note``: what is said of it; 'to "TITLE", comes back LEVEL' names the protocol that takes what
    is in it, and how it gives it back.
    """

    name: str
    note: str | None
    place: Place

    @property
    def to(self) -> str | None:
        """The title of the protocol that takes what is in it."""
        found = _TO.match(self.note or "")
        return None if found is None else found[1]

    @property
    def comes_back(self) -> str | None:
        """The level at which that protocol gives it back."""
        found = _TO.match(self.note or "")
        return None if found is None else found[2]


_TO = re.compile(r'to "([^"]+)"(?:, comes back (.+))?$')
