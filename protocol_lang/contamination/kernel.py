"""The kernel: one visit as acts on things, once all words are gone.

These records carry the meaning that ``docs/meaning/kernel.md`` defines rule by rule (the numbers
in brackets below are its rules). They compute nothing. The engine that turns them into questions
and the simulator in the tests both start here and share nothing else.

Everything is numbered from 0 within its tuple in :class:`Plan`: spots, pieces, layers, facts,
holds, treatments, acts, worlds. A set of worlds is the bits of a whole number.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

Bits = int

#: Stands for "no piece" wherever the number of a piece is expected.
NOTHING = -1


class Amount(Enum):
    """How much soil: a trace is what comes through a leak, a strap, or a glove taken off well."""

    FULL = "full"
    TRACE = "trace"


class Origin(Enum):
    """Where soil comes from. ``PATIENT`` is the patient of the visit in which the soil started,
    ``NEXT`` the patient of a visit that begins before that one is over; a ``CHEMICAL`` (fixer, what
    a disinfectant leaves) is no germ (rule 2)."""

    PATIENT = "patient"
    NEXT = "next patient"
    EVERYDAY = "everyday world"
    DIRT = "floor, bin or drain"
    CHEMICAL = "chemical"


#: The origins of whose soil it matters whether it is met in its own visit or a later one.
OF_PATIENTS = frozenset({Origin.PATIENT, Origin.NEXT})


class Acts(Enum):
    """Which soil a level of treatment can act on at all (rule 8)."""

    RINSED = "rinsed soil"
    TRACES = "traces"
    ALL = "all soil"
    CHEMICALS = "chemicals"


class Moment(Enum):
    """When a reach rule looks: at every moment of the visit, or only at its end."""

    ANY = "any moment"
    END = "end of the visit"


class Reached(Enum):
    """Whom or what soil has reached: the verdicts of rule 11."""

    PATIENT = "patient"
    STAFF = "staff"
    CLEAN_THING = "clean thing"
    HANDS_AT_END = "hands at the end"
    CLAIM = "claimed clean"


@dataclass(frozen=True, slots=True)
class Reach:
    """Soil of ``origins`` and ``amounts`` at a spot counts as having reached ``who``.

    For soil of a patient: in that patient's own visit if ``own``, in later visits if ``later``.
    For other origins both count always. ``through_tears``: also what arrives through the tear of a
    cover.
    """

    who: Reached
    origins: frozenset[Origin]
    amounts: frozenset[Amount]
    own: bool = True
    later: bool = True
    moment: Moment = Moment.ANY
    through_tears: bool = True


@dataclass(frozen=True, slots=True)
class Spot:
    """One place that can hold soil and is not divided further: a sensor's head, a glove's outside.

    ``lasting``: it is there in every visit, and soil on it at the end of one visit is on it at the
    start of the next (rule 12). ``floors``: (worlds, rank) pairs whose worlds cover all worlds
    once; a treatment of at least that rank ends every class (rule 8). An empty tuple: no floor.
    """

    name: str
    lasting: bool
    floors: tuple[tuple[Bits, int], ...] = ()
    reach: tuple[Reach, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """A thing, or one instance of a thing that is used once: this pair of gloves, that wipe.

    ``spots``: its parts. ``outside``: the spot that contact meets when the piece is a cover.
    ``leaks``: soil passes through it, as a trace (rule 5). ``lets``: processes that act through it.
    ``single_use``: must be retired, or be on something, when the visit ends (rule 13).
    ``kind``: pieces of one kind can stand in for each other at the boundary of visits (rule 12).
    """

    name: str
    kind: str
    spots: tuple[int, ...]
    outside: int
    leaks: bool = False
    lets: frozenset[str] = frozenset()
    single_use: bool = False


@dataclass(frozen=True, slots=True)
class Layer:
    """One place where a cover can be: what it holds at the start of a visit, a piece or NOTHING."""

    name: str
    start: int = NOTHING


@dataclass(frozen=True, slots=True)
class Body:
    """A spot that can be covered, with its layers from the innermost to the outermost."""

    spot: int
    layers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that is or is not the case. A lasting fact must end a visit as it began it."""

    name: str
    start: bool = False
    lasting: bool = False


@dataclass(frozen=True, slots=True)
class Level:
    """A level of treatment. ``rank`` compares with floors; ``ends`` are the classes it always
    ends."""

    name: str
    rank: int
    ends: frozenset[str]
    acts: Acts = Acts.RINSED


# --- What an effect acts on (rule 3) -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Outer:
    """The outermost layer of a body at that moment."""

    body: int


@dataclass(frozen=True, slots=True)
class At:
    """Exactly this spot, whatever is on it."""

    spot: int


@dataclass(frozen=True, slots=True)
class Held:
    """A spot of the piece that ``hold`` now names: ``spots`` maps each possible piece to its
    spot."""

    hold: int
    spots: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class CameOff:
    """The outside of the piece that the last :class:`Unfit` of this act took off."""


Target = Outer | At | Held | CameOff


# --- Effects, in the order in which the act does them (rules 4 to 10) ----------------------------


@dataclass(frozen=True, slots=True)
class Meet:
    """One handling: all targets touch each other at once, both ways (rule 4)."""

    targets: tuple[Target, ...]
    amount: Amount = Amount.FULL


@dataclass(frozen=True, slots=True)
class Pass:
    """Soil goes one way, from each source to each goal (rule 4)."""

    sources: tuple[Target, ...]
    goals: tuple[Target, ...]
    amount: Amount = Amount.FULL


@dataclass(frozen=True, slots=True)
class Fit:
    """Piece ``piece`` comes onto every one of ``layers`` (rule 6). No contact of its own."""

    layers: tuple[int, ...]
    piece: int


@dataclass(frozen=True, slots=True)
class Unfit:
    """The one piece on ``layers`` comes off; a leaking or torn one touches what was under it (rule
    6)."""

    layers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Tear:
    """What is on ``layers`` is torn there until it comes off or another cover is fitted (rule 5).
    No contact of its own; on a layer that holds nothing it does nothing."""

    layers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Take:
    """From now on ``hold`` names ``piece`` (rule 7)."""

    hold: int
    piece: int


@dataclass(frozen=True, slots=True)
class Wash:
    """Caked soil at the targets becomes rinsed (rule 8)."""

    targets: tuple[Target, ...]


@dataclass(frozen=True, slots=True)
class Treat:
    """The level acts on the targets; with ``through`` also on what lies under covers that let
    it (rule 8)."""

    targets: tuple[Target, ...]
    level: int
    through: str | None = None


@dataclass(frozen=True, slots=True)
class Wet:
    """Treatment ``treatment`` begins: its targets are wet from now on (rule 9)."""

    treatment: int


@dataclass(frozen=True, slots=True)
class WetEnd:
    """The wet time of ``treatment`` is over: it acts, unless something disturbed it (rule 9)."""

    treatment: int


@dataclass(frozen=True, slots=True)
class SetFact:
    """The fact becomes so or not so (rule 10)."""

    fact: int
    value: bool


@dataclass(frozen=True, slots=True)
class Retire:
    """The piece is thrown away or leaves for good: it may not be used again (rule 7)."""

    piece: int


@dataclass(frozen=True, slots=True)
class RetireHeld:
    """The piece that ``hold`` names is retired (rule 7)."""

    hold: int


@dataclass(frozen=True, slots=True)
class RetireCameOff:
    """The piece that came off last in this act is retired (rule 7)."""


@dataclass(frozen=True, slots=True)
class Judge:
    """Claim ``claim`` says that nothing foreign is on the targets at this moment (rule 11).

    Foreign: soil of a patient in a later visit; with ``own`` also soil of this visit's own patient;
    with ``world`` also soil of the everyday world and dirt. ``of``: who that own patient is; soil
    of the other one who is there in the same visit is foreign.
    """

    claim: int
    targets: tuple[Target, ...]
    own: bool = False
    world: bool = False
    of: Origin = Origin.PATIENT


Effect = (
    Meet
    | Pass
    | Fit
    | Unfit
    | Tear
    | Take
    | Wash
    | Treat
    | Wet
    | WetEnd
    | SetFact
    | Retire
    | RetireHeld
    | RetireCameOff
    | Judge
)


# --- Claims about state (rule 10) ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FactIs:
    """The fact has this value."""

    fact: int
    value: bool


@dataclass(frozen=True, slots=True)
class LayerHas:
    """The layer holds one of these pieces (NOTHING may be among them)."""

    layer: int
    pieces: frozenset[int]


@dataclass(frozen=True, slots=True)
class IsWet:
    """The treatment has begun and its wet time is not over."""

    treatment: int


@dataclass(frozen=True, slots=True)
class Not:
    """The contrary of ``part``."""

    part: Claim


@dataclass(frozen=True, slots=True)
class AllOf:
    """Every one of ``parts``; with none, true."""

    parts: tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one of ``parts``; with none, false."""

    parts: tuple[Claim, ...]


Claim = FactIs | LayerHas | IsWet | Not | AllOf | AnyOf


@dataclass(frozen=True, slots=True)
class Treatment:
    """A treatment with a wet time: what it acts on and at which level (rule 9)."""

    targets: tuple[Outer | At, ...]
    level: int


@dataclass(frozen=True, slots=True)
class Act:
    """One event: what one person does at one moment, or the end of a wet time (person None).

    ``worlds``: the worlds in which it takes place. ``claims``: numbers of :attr:`Plan.claims` that
    must hold just before its first effect, in every run (rule 10).
    """

    name: str
    person: int | None
    worlds: Bits
    effects: tuple[Effect, ...]
    claims: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """At the start of every visit this soil, caked, is at the spot; a lasting one is never
    ended (rule 2)."""

    spot: int
    origin: Origin
    amount: Amount
    lasting: bool = False


@dataclass(frozen=True, slots=True)
class Togetherness:
    """Acts done in one go, and the acts that may not fall between them (rule 1). Sets as bits."""

    members: Bits
    others: Bits


@dataclass(frozen=True, slots=True)
class Plan:
    """One visit in all its worlds.

    ``order``: pairs (a, b): act a comes before act b; need not be closed. The last act is the end
    of the visit and comes after every other one.
    ``clinic``: the worlds split by what is fixed for the clinic; visits of different parts never
    follow each other (rule 12). ``classes``: the resistance classes, the hardest first.
    """

    worlds: int
    clinic: tuple[Bits, ...]
    classes: tuple[str, ...]
    levels: tuple[Level, ...]
    spots: tuple[Spot, ...]
    pieces: tuple[Piece, ...]
    layers: tuple[Layer, ...]
    bodies: tuple[Body, ...]
    holds: int
    facts: tuple[Fact, ...]
    treatments: tuple[Treatment, ...]
    claims: tuple[Claim, ...]
    sources: tuple[Source, ...]
    acts: tuple[Act, ...]
    order: tuple[tuple[int, int], ...]
    together: tuple[Togetherness, ...]


def treated(plan: Plan, effect: Effect) -> tuple[tuple[Target, ...], Level] | None:
    """What a treatment acts on at this effect and at which level, whether it acts at once or at
    the end of its wet time (rules 8 and 9); None for any other effect."""
    match effect:
        case Treat(targets=targets, level=level):
            return targets, plan.levels[level]
        case WetEnd(treatment=number):
            treatment = plan.treatments[number]
            return treatment.targets, plan.levels[treatment.level]
        case _:
            return None
