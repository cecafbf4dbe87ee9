"""A whole protocol with everything it takes from its room, vocabulary and data files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from fractions import Fraction

from protocol_lang.model.conditions import Claim, Condition
from protocol_lang.model.parts import (
    BodyPart,
    Duty,
    Fact,
    GermClass,
    Group,
    LevelOfTreatment,
    Person,
    Product,
    RoomPlace,
    Stream,
    Thing,
)
from protocol_lang.model.steps import Mishap, Phase, Round
from protocol_lang.model.verbs import Line, Ref, SetsFact, Verb
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Header:
    """What stands at the top of a protocol."""

    title: str
    edition: int | None
    in_force: date | None
    review_by: date | None
    owner: str | None
    sources: tuple[str, ...]
    notes: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Choice:
    """``fixed``: fixed for the clinic; else free in each visit.

    ``known_after``: found out on the way: the label of the step after which it is known; the values
    are then :data:`FOUND`; ``soils`` tells what it soils when it is so, at any moment before it is
    known, and ``sets`` what is so or not so from then on. ``declared``: written
    among the choices; else it comes from a line of the checklist (``either``, ``for each``, ...).
    ``rounds``: of what is free anew each time round, which time this is. ``moments``: of the
    moments at which a mishap may happen, for each value which time round that is.
    """

    name: str
    values: tuple[str, ...]
    fixed: bool
    place: Place
    known_after: str | None = None
    soils: tuple[Line, ...] = ()
    sets: tuple[SetsFact, ...] = ()
    declared: bool = True
    rounds: tuple[Round, ...] = ()
    moments: tuple[tuple[Round, ...], ...] = ()


#: The choice that stands for the mishap of a visit, of which there is one at most.
WHAT_HAPPENS = "what happens"

#: The values of what is found out on the way: it is so, or it is not.
FOUND = ("yes", "no")


@dataclass(frozen=True, slots=True)
class Floor:
    """Things or parts that answer to all of ``traits`` have this floor, in worlds where ``where``
    holds.

    Traits: "hands" (or another part of a person), "surface" (a kind of thing), "goes in the mouth",
    "heat safe", "not heat safe", "always sleeved in the mouth". The rule with the most traits
    counts; among those, one with ``where`` before one without.
    """

    traits: frozenset[str]
    level: str
    where: Condition | None
    source: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Begins:
    """A visit begins with ``what`` covered with ``cover``; ``used``: with this patient's soil
    on it.

    ``cover`` None: bare; or, if ``used``, as the room says, with this patient's soil.
    """

    what: Ref
    cover: str | None
    used: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Air:
    """What is said of the air.

    ``carries``: it carries the patient's germs where one of these conditions holds (None: always).
    ``percent``: of them have to be gone for air that counts as clear. ``mixing``: the time for that
    is so many times as long as with air that mixes perfectly.
    """

    carries: tuple[Condition | None, ...]
    percent: Fraction
    mixing: Fraction
    place: Place


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that a protocol or a room states: "hand rub time: 20 seconds"."""

    name: str
    amount: Fraction
    unit: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class ExposureSetting:
    """What is set at the machine for one kind of image.

    ``name``: the kind of image ("adult, molar"); ``values``: each with its unit, as written
    ("65 kV", "0.16 s"). Nothing is worked out from them: figures are those of whoever answers for
    them in law, the licensed physicist of the place.
    """

    name: str
    values: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody who is called when something is wrong, and how."""

    name: str
    how: str
    place: Place


@dataclass(frozen=True, slots=True)
class Source:
    """A file that was read: its kind ("protocol", "room", "words", "data"), title and name
    shown. The kind of what a local edition adapts is "base"; then with its ``fingerprint``."""

    kind: str
    title: str
    file: str
    packaged: bool
    fingerprint: str = ""


class Role(Enum):
    """What a protocol is to the day, or to the visit, that it is put into."""

    FIRST = "first"
    THEN = "then"
    VISIT = "visit"
    OPENING = "opening"
    CLOSING = "closing"
    BESIDE = "beside"


@dataclass(frozen=True, slots=True)
class Part:
    """A protocol that was put together with others."""

    role: Role
    title: str
    file: str


@dataclass(frozen=True, slots=True)
class Protocol:
    """A protocol in which every name has been looked up; maps are in order of declaration.

    ``follows``: by itself it is only a part, before which another one is done; what it begins with
    is what that one leaves. ``parts``: what it was put together from, if it was.
    ``exposures``, ``calls``: the table of settings, and whom to call, with the notes under either.
    """

    header: Header
    people: Mapping[str, Person]
    body_parts: tuple[BodyPart, ...]
    things: Mapping[str, Thing]
    groups: Mapping[str, Group]
    facts: Mapping[str, Fact]
    duties: tuple[Duty, ...]
    germs: tuple[GermClass, ...]
    levels: Mapping[str, LevelOfTreatment]
    floors: tuple[Floor, ...]
    streams: Mapping[str, Stream]
    verbs: tuple[Verb, ...]
    choices: tuple[Choice, ...]
    begins: tuple[Begins, ...]
    leaves: tuple[Claim, ...]
    phases: tuple[Phase, ...]
    files: tuple[Source, ...]
    places: Mapping[str, RoomPlace] = field(default_factory=dict)
    air: Air | None = None
    follows: bool = False
    parts: tuple[Part, ...] = ()
    mishaps: tuple[Mishap, ...] = ()
    figures: Mapping[str, Figure] = field(default_factory=dict)
    exposures: Mapping[str, ExposureSetting] = field(default_factory=dict)
    calls: Mapping[str, Call] = field(default_factory=dict)
    products: Mapping[str, Product] = field(default_factory=dict)
    notes_of_exposures: tuple[str, ...] = ()
    notes_of_calls: tuple[str, ...] = ()
