"""Rules: what is asked of every protocol they apply to, once all words are looked up.

A rule speaks of *happenings*: a sentence of a verb, or one of the few that every rule may use
(:class:`Event`). Where a sentence has the name of a kind ("staff", "receptor"), that stands for
anybody or anything of the kind, and the same word for the same one throughout the rule. What each
form means exactly is told in docs/meaning/rules.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from protocol_lang.model.conditions import Claim
from protocol_lang.model.protocol import Header, Source
from protocol_lang.model.steps import Doing
from protocol_lang.text import Place


class Strength(Enum):
    """How much a rule binds: by a standard, by advice, or by the house alone."""

    MUST = "must"
    SHOULD = "should"
    LOCAL = "local"


class Event(Enum):
    """What may happen besides the sentences of verbs, told by what an act does to things."""

    TOUCHES = "touches"
    INTO_THE_MOUTH = "goes into the mouth"
    GOES_ONTO = "goes onto"
    COMES_OFF = "comes off"
    HANDS_CLEANED = "hands are cleaned"
    CLEANED = "is cleaned"
    TREATED = "is treated to at least"
    THROWN_AWAY = "is thrown away"
    EXPOSURE = "makes an exposure"
    WAITS = "waits"
    WAITS_UNTIL_DRY = "waits until it is dry"


@dataclass(frozen=True, slots=True)
class Happening:
    """One sentence of a rule.

    ``does``: the verb, or the event. ``filled``: what fills each slot, one name each: the name of a
    kind, of a person or of a thing. ``level``: of a treatment, at least which; ``minutes``: of a
    wait, at least how many. ``text``: as written.
    """

    does: Doing | Event
    filled: Mapping[str, str]
    text: str
    place: Place
    level: str | None = None
    minutes: int | None = None


#: Any one of them.
Happenings = tuple[Happening, ...]


class Until(Enum):
    """How far a rule looks, if not up to some happening."""

    END_OF_VISIT = "the visit ends"
    NEXT_PATIENT = "the next patient"


@dataclass(frozen=True, slots=True)
class Always:
    """One of ``what`` is done in every course of the visit."""

    what: Happenings


@dataclass(frozen=True, slots=True)
class Never:
    """None of ``what`` is ever done."""

    what: Happenings


@dataclass(frozen=True, slots=True)
class Before:
    """Before every one of ``what`` comes one of ``first``, and none of ``never`` in between."""

    what: Happenings
    first: Happenings
    never: Happenings = ()


@dataclass(frozen=True, slots=True)
class After:
    """After every one of ``what`` comes one of ``then``, before any of ``before``."""

    what: Happenings
    then: Happenings
    before: Happenings | Until


@dataclass(frozen=True, slots=True)
class NotBetween:
    """From every one of ``what`` until the next of ``until``, none of ``never`` is done."""

    what: Happenings
    until: Happenings | Until
    never: Happenings


@dataclass(frozen=True, slots=True)
class Whenever:
    """``claim`` holds whenever one of ``what`` begins."""

    what: Happenings
    claim: Claim
    text: str


@dataclass(frozen=True, slots=True)
class Times:
    """In a visit ``what`` is done at least ``least`` times, and at most ``most``."""

    what: Happenings
    least: int = 0
    most: int | None = None


@dataclass(frozen=True, slots=True)
class EveryDays:
    """One of ``what`` is done at least every so many ``days``."""

    what: Happenings
    days: int


@dataclass(frozen=True, slots=True)
class Declared:
    """The thing is declared so: every field of ``traits`` has that value; of ``least``, that rank
    or number at least."""

    traits: Mapping[str, object]
    text: str


@dataclass(frozen=True, slots=True)
class Marked:
    """What is thrown away goes into a waste stream of which the room says ``mark`` ("red bag")."""

    mark: str


@dataclass(frozen=True, slots=True)
class HeaderSays:
    """The header gives ``what``: owner, edition, source, in force from, review by.

    The last two are also judged by the day: in force already, and review not overdue.
    """

    what: str


@dataclass(frozen=True, slots=True)
class FigureIs:
    """The figure of that name is at least, at most, or just so much (``how`` ">=", "<=", "=")."""

    name: str
    how: str
    amount: Fraction
    unit: str | None
    text: str


@dataclass(frozen=True, slots=True)
class NoTreatmentDependsOn:
    """Whatever value the choice has, the same things are treated to the same levels."""

    choice: str


@dataclass(frozen=True, slots=True)
class OneOf:
    """For each thing that the rule is about, one of these ways is kept in every order."""

    ways: tuple[Duty, ...]


Duty = (
    Always
    | Never
    | Before
    | After
    | NotBetween
    | Whenever
    | Times
    | EveryDays
    | Declared
    | Marked
    | HeaderSays
    | FigureIs
    | NoTreatmentDependsOn
    | OneOf
)


@dataclass(frozen=True, slots=True)
class About:
    """The rule is about each thing of ``kind`` (or of that name) that is declared so."""

    kind: str
    traits: Mapping[str, object]
    text: str


@dataclass(frozen=True, slots=True)
class Asked:
    """Where a choice of the protocol, or a setting of the rules, has (``so``) that value."""

    name: str
    value: str
    so: bool
    setting: bool


@dataclass(frozen=True, slots=True)
class Example:
    """A protocol that keeps the rule (``good``) or breaks it; ``text``: ready to be checked."""

    good: bool
    text: str
    place: Place


@dataclass(frozen=True, slots=True)
class OtherRule:
    """That this rule is to be taken beside (``tightens``) or instead of another one."""

    tightens: bool
    title: str
    pack: str
    place: Place


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. ``where``: all of it holds in the courses that it is about; ``phases``: steps of
    these phases alone are meant by its first sentence; ``but``: it is not about these names."""

    title: str
    strength: Strength
    sources: tuple[str, ...]
    because: str | None
    notes: tuple[str, ...]
    about: About | None
    where: tuple[Asked, ...]
    phases: tuple[str, ...]
    but: tuple[str, ...]
    duty: Duty
    others: tuple[OtherRule, ...]
    examples: tuple[Example, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Setting:
    """Where sources disagree: the values that may be chosen; the first one holds unless told."""

    name: str
    values: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class RuleBook:
    """A file of rules.

    ``kinds``: the names of kinds that its sentences may use, with what they are ("staff",
    "patient", "companion", or a kind of thing). ``levels``: of treatment, the weakest first.
    """

    header: Header
    settings: tuple[Setting, ...]
    rules: tuple[Rule, ...]
    kinds: Mapping[str, str]
    files: tuple[Source, ...]
    levels: tuple[str, ...] = ()
