"""What a file says, line by line and block by block, before any name is looked up.

Every record is frozen. Two are equal when they say the same: places, and how many blanks stand
between two words, do not count. Every record has a ``place`` of at least one character, on one line
of the file. Names, sentences and the forms of verbs are kept as :class:`Words`, for level 2 to look
up; the structure around them has been read.

Comments travel with the line they belong to, as :class:`Remarks`; a blank line that the author put
inside a section travels with them, so that printing loses neither.

A line that could not be read becomes :class:`Spoiled` where it stood: it has been reported, nothing
that rests on it should be reported again, and what could be read under it is kept inside.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal, Union

from protocol_lang.text import Place


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """Some words of one line, as written: ``text`` is exactly what stands at ``place``.

    Names in double quotes keep their quotes when they stand among other words (a sentence, a list);
    titles, notes and other quoted texts come without, and ``place`` is then what is between them.
    """

    text: str
    place: Place

    @property
    def plain(self) -> str:
        """The same with one blank between words: what is compared and printed."""
        return " ".join(self.text.split())

    def at(self, start: int, end: int) -> Place:
        """The place of ``text[start:end]`` (at least one character is marked)."""
        first = self.place.column + start
        return Place(self.place.file, self.place.line, first, first + max(1, end - start))

    def part(self, start: int, end: int) -> Words:
        """``text[start:end]`` as words of their own."""
        return Words(self.text[start:end], self.at(start, end))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Words) and self.plain == other.plain

    def __hash__(self) -> int:
        return hash(self.plain)


@dataclass(frozen=True, slots=True)
class Remarks:
    """The comments of a line, each without its ``#`` and the blank after it.

    ``above``: on lines of their own, :data:`BLANK` standing for a blank line. ``beside``: after the
    line's own words.
    """

    above: tuple[str, ...] = ()
    beside: str | None = None


#: How a blank line is written in :attr:`Remarks.above`.
BLANK = "\n"

NO_REMARKS = Remarks()


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """Something that has a line of its own (or, for a claim or condition, a part of one)."""

    place: Place = field(compare=False)
    remarks: Remarks = NO_REMARKS


@dataclass(frozen=True, slots=True, kw_only=True)
class Block(Node):
    """A line with lines under it. ``end``: comments that stand after the last of them."""

    end: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiled(Block):
    """A line that could not be read, and has been reported.

    ``names``: what it would have declared, as far as can be told; not to be reported as unknown.
    ``items``: the steps and blocks under it that could be read.
    """

    words: Words
    names: tuple[Words, ...] = ()
    items: tuple[Item, ...] = ()


# --- Lines that occur under several kinds of block -----------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Node):
    """note "…"."""

    text: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Source(Node):
    """source "…"."""

    text: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Short(Node):
    """short "…": the text for the wall."""

    text: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Lasts(Node):
    """takes 20 seconds, takes 20 to 40 seconds. ``most`` None: always the same. ``minutes``: not
    seconds."""

    least: Words
    most: Words | None
    minutes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OnlyWhen(Block):
    """only when CLAIM; with lines under it, all of which or any of which hold."""

    claim: Claim


@dataclass(frozen=True, slots=True, kw_only=True)
class Sets(Node):
    """sets FACT, or ends FACT (``value`` false). ``fact`` may begin with whose it is."""

    fact: Words
    value: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class After(Node):
    """after LABEL, LABEL."""

    labels: tuple[Words, ...]


# --- Conditions on choices: where … --------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceIs(Node):
    """A is B; with ``negated``: A is not B."""

    choice: Words
    value: Words
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined(Block):
    """Parts joined by ``and`` (``every``) or by ``or``.

    ``spread``: written as ``all of`` or ``any of`` with each part on a line of its own.
    """

    every: bool
    parts: tuple[Condition, ...]
    spread: bool = False


#: The claims among them are on the state at that moment, or on what was found out.
Condition = Union["ChoiceIs", "Covered", "Bare", "Dry", "Wears", "FactIs", "Joined", Spoiled]


# --- Claims on the state just before a step: only when … -----------------------------------------
# ``plural``, here as above and below: the author wrote "are", "wear" or "touch".


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered(Node):
    """WHAT is covered, is covered with COVER. ``negated``: is not."""

    what: Words
    cover: Words | None
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bare(Node):
    """WHAT is bare: nothing is on it."""

    what: Words
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Dry(Node):
    """WHAT is dry."""

    what: Words
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Clean(Node):
    """WHAT is clean; ``of_others``: is clean of other patients."""

    what: Words
    of_others: bool
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Wears(Node):
    """WHO wears COVER; ``negated``: does not wear it."""

    who: Words
    cover: Words
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FactIs(Node):
    """A fact: of the visit (``what`` None), or "WHAT is FACT" of a person or a thing.

    ``since``: the fact that was made so first, in "WHAT is not FACT since OTHER FACT".
    """

    what: Words | None
    fact: Words
    since: Words | None = None
    negated: bool = False
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedClaims(Block):
    """Claims joined by ``and`` (``every``) or by ``or``; ``spread`` as in :class:`Joined`.

    A line is cut at every ``and`` outside quotes, since names are not known yet. So "nose and mouth
    are bare" arrives as the fact "nose" and the claim that mouth is bare: a part that is a
    :class:`FactIs` without ``what`` and names no fact begins the name in the part after it.
    ``words`` is the whole text, to cut such names from (None when ``spread``).
    """

    every: bool
    parts: tuple[Claim, ...]
    spread: bool = False
    words: Words | None = None


Claim = Covered | Bare | Dry | Clean | Wears | FactIs | JoinedClaims | Spoiled


# --- Header --------------------------------------------------------------------------------------

FileKind = Literal["protocol", "day", "room", "words", "data", "rules", "waivers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition(Node):
    """edition 3."""

    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce(Node):
    """in force from 2026-11-02."""

    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewBy(Node):
    """review by 2027-11-02."""

    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner(Node):
    """owner infection control lead."""

    who: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class TakesWords(Node):
    """takes words from "A", "B"."""

    titles: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Then(Node):
    """then "A": that protocol goes on where this one ends."""

    title: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows(Node):
    """follows another protocol: this one is a part that goes on where another one ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExamplesIn(Node):
    """examples in "A": the examples of rules take words from there too."""

    titles: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunsOn(Node):
    """may run into the next visit: nobody waits for the end of this phase but those who do it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adapts(Node):
    """adapts "A" edition 3 fingerprint abc: this file says what is different from that one."""

    title: Words
    edition: int
    fingerprint: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToSettle(Node):
    """to settle "…": what somebody has to decide before the line after it can be relied on."""

    text: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsOfDay(Node):
    """opening "A"; visits "A", "B"; closing "A"; beside the visits "A": ``role`` is the first
    word."""

    role: PartRole
    titles: tuple[Words, ...]


PartRole = Literal["opening", "visits", "closing", "beside"]

HeaderLine = (
    Edition
    | InForce
    | ReviewBy
    | Owner
    | TakesWords
    | Then
    | Follows
    | PartsOfDay
    | Source
    | Note
    | Spoiled
    | ExamplesIn
    | Adapts
    | ToSettle
)


# --- The checklist -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Say(Node):
    """say: …, in place of a sentence: a step without contact."""

    text: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Step(Block):
    """[ ] label: sentence, with its lines in the author's order."""

    label: Words | None
    does: Words | Say
    lines: tuple[StepLine, ...] = ()


StepLine = OnlyWhen | Note | Short | Source | Sets | After | Lasts | Spoiled


@dataclass(frozen=True, slots=True, kw_only=True)
class InOrder(Block):
    """in order."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyOrder(Block):
    """any order; any order, mixed."""

    items: tuple[Item, ...]
    mixed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class InOneGo(Block):
    """in one go."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane(Block):
    """A person's name with what that person does, in side by side."""

    person: Words
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide(Block):
    """side by side."""

    lanes: tuple[Lane | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch(Block):
    """where COND, otherwise where COND, or otherwise (``condition`` None)."""

    condition: Condition | None
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Where(Node):
    """Branches that stand one under the other; the first whose condition holds is done."""

    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way(Block):
    """either, or: one of the ways in which something may be done."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Either(Node):
    """Ways that stand one under the other; whoever does it is free to take any."""

    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MayBeLeftOut(Block):
    """may be left out; with ``when``, "every week" or "on delivery"."""

    items: tuple[Item, ...]
    when: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ForEach(Block):
    """for each NAME, 1 to 18."""

    name: Words
    least: int
    most: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOnly(Block):
    """first time only (``first``); last time only."""

    first: bool
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Again(Node):
    """again from LABEL, at most 2 times."""

    label: Words
    most: int


Item = (
    Step
    | InOrder
    | AnyOrder
    | InOneGo
    | SideBySide
    | Where
    | Either
    | MayBeLeftOut
    | ForEach
    | TimeOnly
    | Again
    | Spoiled
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase(Block):
    """phase "…": notes and a short text first, then the steps. ``title`` None: it was spoiled."""

    title: Words | None
    lines: tuple[Note | Short | Source | RunsOn | Spoiled, ...] = ()
    items: tuple[Item, ...] = ()


# --- What a protocol says before its phases ------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceLine(Node):
    """staffing: alone, paired."""

    name: Words
    values: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices(Block):
    """choices, each visit; choices, fixed for the clinic (``fixed``)."""

    fixed: bool
    lines: tuple[ChoiceLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundOutLine(Block):
    """image failed, known after look; under it what soils something when it is so, and what is
    made so or not so."""

    name: Words
    label: Words
    lines: tuple[VerbLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundOut(Block):
    """found out on the way."""

    lines: tuple[FoundOutLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap(Block):
    """NAME, between any two steps of PERSON; NAME, right after LABEL, LABEL: then what is done.

    ``lines``: the same in short, for the wall.
    """

    name: Words
    person: Words | None
    labels: tuple[Words, ...]
    items: tuple[Item, ...]
    lines: tuple[Short | Spoiled, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CanHappen(Block):
    """can happen in "PHASE"."""

    phases: tuple[Words, ...]
    lines: tuple[Mishap | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundUsed(Node):
    """WHAT is used: patients' soil is on it."""

    what: Words
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginsLine(Node):
    """WHAT is covered with COVER, or WHO wears COVER; ``used``: "; used" follows.

    WHAT is bare; WHAT is used.
    """

    claim: Covered | Wears | Bare | FoundUsed
    used: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginsWith(Block):
    """begins with: how a visit finds the room, where that is not how it leaves it."""

    lines: tuple[BeginsLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavesLine(Node):
    """A claim that holds at the end of the visit."""

    claim: Claim


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaves(Block):
    """leaves: what a visit must leave for the next."""

    lines: tuple[LeavesLine | Spoiled, ...]


# --- Words: kinds, parts, facts, duties, verbs ---------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class NamesLine(Node):
    """surface, receptor, holder."""

    names: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds(Block):
    """kinds of thing."""

    lines: tuple[NamesLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine(Node):
    """hands: skin; unclean on coming in. ``full_of``: "; full of saliva"."""

    name: Words
    counts: Literal["mouth", "skin", "face", "clothes", "near the face"]
    unclean: bool = False
    full_of: Literal["saliva", "blood", "body fluid"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts(Block):
    """parts of staff, parts of a patient, parts of a companion."""

    of: Literal["staff", "patient", "companion"]
    lines: tuple[PartLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FactLine(Node):
    """settings chosen; lasting."""

    name: Words
    lasting: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts(Block):
    """facts, facts of a person, of a thing, of a place."""

    of: Literal["visit", "person", "thing", "place"]
    lines: tuple[FactLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class While(Node):
    """while FACT, PART touch nothing."""

    fact: Words
    part: Words
    plural: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty(Block):
    """duty "…". Exactly one line is a :class:`While`, or one is spoiled."""

    title: Words | None
    lines: tuple[While | Note | Source | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Also(Node):
    """also FORM: another form of the same verb."""

    form: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedWhile(Node):
    """allowed while FACT."""

    fact: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Take(Node):
    """take WHAT with HANDS."""

    what: Words
    hands: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class LayOut(Node):
    """lay out WHAT with HANDS."""

    what: Words
    hands: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Meet(Node):
    """meet A, B, C; with ``trace``: brush A, B; with ``may``: may meet A, B (never both)."""

    what: tuple[Words, ...]
    trace: bool = False
    may: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass(Node):
    """pass A, B to C, D; with ``trace``: pass a trace of A to C."""

    sources: tuple[Words, ...]
    goals: tuple[Words, ...]
    trace: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover(Node):
    """cover WHAT with COVER."""

    what: Words
    cover: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncover(Node):
    """uncover WHAT from COVER."""

    what: Words
    cover: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Tear(Node):
    """tear COVER on WHAT."""

    cover: Words
    what: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Wash(Node):
    """wash A, B."""

    what: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduce(Node):
    """reduce A, B to LEVEL through PROCESS, or reduce A by PRODUCT: one of the two is there."""

    what: tuple[Words, ...]
    level: Words | None = None
    product: Words | None = None
    through: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Retire(Node):
    """retire WHAT into STREAM."""

    what: Words
    stream: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves(Node):
    """moves WHO to PLACE; ``to`` None: moves WHO out."""

    who: Words
    to: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure(Node):
    """exposure by WHO."""

    who: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class NoContact(Node):
    """no contact."""


VerbLine = (
    Also
    | OnlyWhen
    | AllowedWhile
    | Take
    | LayOut
    | Meet
    | Pass
    | Cover
    | Uncover
    | Tear
    | Wash
    | Reduce
    | Retire
    | Sets
    | Moves
    | Exposure
    | NoContact
    | Lasts
    | Note
    | Source
    | Spoiled
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verb(Block):
    """verb FORM, with its lines in the author's order."""

    form: Words
    lines: tuple[VerbLine, ...] = ()


# --- Data: germs, levels, floors -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Germs(Block):
    """germs, hardest first."""

    lines: tuple[NamesLine | Spoiled, ...]


#: What a level of treatment may act on.
ActsOn = Literal["rinsed soil", "traces", "all soil", "chemicals"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelLine(Block):
    """low: acts on rinsed soil; ends A, B. ``ends`` None: ends every class; empty: it acts on
    chemicals, which have no class."""

    name: Words
    acts_on: ActsOn
    ends: tuple[Words, ...] | None
    lines: tuple[Note | Source | Spoiled, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels(Block):
    """levels, weakest first."""

    lines: tuple[LevelLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorLine(Block):
    """goes in the mouth, heat safe: sterile."""

    traits: tuple[Words, ...]
    level: Words
    lines: tuple[Note | Source | Spoiled, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Floors(Block):
    """floors; floors where COND."""

    condition: Condition | None
    lines: tuple[FloorLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Materials(Block):
    """materials."""

    lines: tuple[NamesLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductLine(Block):
    """pale fluid: treats to low; stays wet 2 minutes; not on brass, cork, in the author's order."""

    name: Words
    traits: tuple[TreatsTo | StaysWet | NotOn, ...]
    lines: tuple[Note | Source | Spoiled, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Products(Block):
    """products."""

    lines: tuple[ProductLine | Spoiled, ...]


# --- Rooms: people, streams, things, groups ------------------------------------------------------


#: The units of numbers about places, with the words that follow them.
Unit = Literal[
    "m from the patient", "degrees from the beam", "air changes an hour", "percent", "mixing factor"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonLine(Node):
    """operator, helper: staff; starts in PLACE. ``stays``: stays at an exposure."""

    names: tuple[Words, ...]
    kind: Literal["staff", "patient", "companion"]
    starts_in: Words | None = None
    stays: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class People(Block):
    """people."""

    lines: tuple[PersonLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount(Node):
    """A number with its unit: "2 m from the patient", "90 degrees from the beam"."""

    amount: Words
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(Node):
    """What a place is without a number."""

    what: Literal["barrier", "patient in view", "dirty side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine(Node):
    """NAME, NAME: 2 m from the patient; barrier."""

    names: tuple[Words, ...]
    traits: tuple[Amount | Standing, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Places(Block):
    """places."""

    lines: tuple[PlaceLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Carries(Node):
    """carries germs where COND, or carries germs (``condition`` None: always)."""

    condition: Condition | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Air(Block):
    """air: when it carries germs, and what counts as clear."""

    lines: tuple[Carries | Amount | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamLine(Node):
    """clinical waste: yellow bag."""

    name: Words
    note: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Streams(Block):
    """waste streams."""

    lines: tuple[StreamLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HasPart(Node):
    """One part of a list after ``has``."""

    name: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Has(Node):
    """has A, B."""

    parts: tuple[HasPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverTaken(Node):
    """One cover after ``takes cover``; ``on``: the parts it covers, empty for the whole."""

    cover: Words
    on: tuple[Words, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TakesCover(Node):
    """takes cover C on PART, PART, then D: the innermost first."""

    covers: tuple[CoverTaken, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsCovered(Node):
    """starts covered with C."""

    cover: Words


#: How a thing may be when a visit starts.
Starts = Literal["kept clean", "everyday", "dirty", "chemical"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartsAs(Node):
    """kept clean, everyday, dirty or chemical: how the thing is when a visit starts."""

    how: Starts


#: What a trait without names may say.
Flag = Literal[
    "used once",
    "one of many",
    "thrown away after use",
    "leaks",
    "goes in the mouth",
    "keeps out germs of the air",
    "heat safe",
    "not heat safe",
    "always sleeved in the mouth",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trait(Node):
    """A trait without names."""

    what: Flag


@dataclass(frozen=True, slots=True, kw_only=True)
class LetsThrough(Node):
    """lets P, Q through."""

    names: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WornOn(Node):
    """worn on PART over COVER."""

    part: Words
    over: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class From(Node):
    """from BOX."""

    box: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class StandsIn(Node):
    """in PLACE."""

    where: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut(Node):
    """laid out on SURFACE, from BOX."""

    surface: Words
    box: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class GoesTo(Node):
    """goes to STREAM."""

    stream: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatsTo(Node):
    """treats to LEVEL."""

    level: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatsWith(Node):
    """treats with PRODUCT."""

    product: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class StaysWet(Node):
    """stays wet 2 minutes."""

    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NotOn(Node):
    """not on MATERIAL, MATERIAL: of a product."""

    materials: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeOf(Node):
    """made of MATERIAL, MATERIAL."""

    materials: tuple[Words, ...]


ThingTrait = (
    Has
    | TakesCover
    | StartsCovered
    | StartsAs
    | Trait
    | LetsThrough
    | WornOn
    | From
    | LaidOut
    | StandsIn
    | GoesTo
    | TreatsTo
    | TreatsWith
    | StaysWet
    | MadeOf
    | Spoiled
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ThingLine(Node):
    """tube head, cone: surface; takes cover wrap. A spoiled trait leaves the others standing."""

    names: tuple[Words, ...]
    kind: Words
    traits: tuple[ThingTrait, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Things(Block):
    """surfaces, boxes or things: three headings with one meaning."""

    heading: Literal["surfaces", "boxes", "things"]
    lines: tuple[ThingLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupLine(Node):
    """tube: tube head, cone, arm."""

    name: Words
    members: tuple[Words, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups(Block):
    """groups."""

    lines: tuple[GroupLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureLine(Node):
    """hand rub time: 20 seconds."""

    name: Words
    amount: Words
    unit: Words | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures(Block):
    """figures."""

    lines: tuple[FigureLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTo(Node):
    """65 kV: one of the settings of an exposure."""

    amount: Words
    unit: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureLine(Node):
    """adult, molar: 65 kV, 7 mA, 0.16 s. ``of``: what all of these words together stand for."""

    of: tuple[Words, ...]
    values: tuple[SetTo, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureSettings(Block):
    """exposure settings: what is set at the machine for each kind of image."""

    lines: tuple[ExposureLine | Note | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallLine(Node):
    """radiation protection adviser: extension 214."""

    name: Words
    how: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class WhomToCall(Block):
    """whom to call."""

    lines: tuple[CallLine | Note | Spoiled, ...]


# --- Rules ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings(Block):
    """settings: where sources disagree, the values that may be chosen."""

    lines: tuple[ChoiceLine | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleLine(Block):
    """A line under a rule. ``rule``: its rule in the grammar; ``words``: all of it.

    ``word``: what its grammar lets vary ("must", "at least"). ``lines``: sentences that count as
    well, or the lines of a way. An example has ``header``, ``sections`` and ``items`` instead.
    """

    rule: str
    words: Words
    word: str | None = None
    sentence: Words | None = None
    names: tuple[Words, ...] = ()
    quoted: tuple[Words, ...] = ()
    number: Words | None = None
    traits: tuple[ThingTrait, ...] = ()
    claim: Claim | None = None
    condition: Condition | None = None
    lines: tuple[RuleLine | Spoiled, ...] = ()
    header: tuple[HeaderLine, ...] = ()
    sections: tuple[Section, ...] = ()
    items: tuple[Item, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule(Block):
    """rule "…": what is asked."""

    title: Words | None
    lines: tuple[RuleLine | Spoiled, ...]


# --- A whole file --------------------------------------------------------------------------------

# --- Waivers -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiverLine(Node):
    """A line under a waiver: ``rule`` is its rule in the grammar, ``words`` all of it.

    ``quoted``: what it quotes; ``name``: the thing, label, code, role or number that it tells;
    ``days``: the first and the last; ``choice``: the choice and its value.
    """

    rule: str
    words: Words
    quoted: tuple[Words, ...] = ()
    name: Words | None = None
    days: tuple[date, ...] = ()
    choice: tuple[Words, Words] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver(Block):
    """waiver "…", with the lines under it."""

    title: Words | None
    lines: tuple[WaiverLine | Spoiled, ...]


# --- Local editions -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed(Node):
    """Which step of the base is meant: LABEL, or "SENTENCE", or "SENTENCE", 2 of 3.

    ``name``: the label, or the sentence without its quotation marks (``quoted``). ``number`` and
    ``of``: which one of how many steps with that sentence. ``around``: 1 for the block around it,
    2 for the block around that one.
    """

    name: Words
    quoted: bool = False
    number: int | None = None
    of: int | None = None
    around: int = 0


#: What a change does with a step of the base.
How = Literal["instead of", "without", "before", "after", "beside", "move", "reword"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled(Node):
    """label NAME, under a step that is said in other words."""

    name: Words


RewordLine = Short | Note | Source | Lasts | Labelled | ToSettle | Spoiled


@dataclass(frozen=True, slots=True, kw_only=True)
class Change(Block):
    """A change of the steps of a phase. ``items``: the steps that are put in; ``to`` and ``after``:
    where a step moves; ``lines``: what is said in other words."""

    how: How
    what: Changed
    items: tuple[Item, ...] = ()
    to: Changed | None = None
    after: bool = False
    lines: tuple[RewordLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesIn(Block):
    """changes in "PHASE"."""

    phase: Words | None
    lines: tuple[Change | ToSettle | Spoiled, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead(Node):
    """instead of HEADING: its lines take the place of those that bear the same names.

    ``section``: the section as it would be read without "instead of", with the comments.
    """

    section: Section
    settle: tuple[ToSettle, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Without(Block):
    """without HEADING, and under it names; without phase "…" (``phase``), and nothing under it."""

    heading: Words
    phase: Words | None = None
    lines: tuple[NamesLine | Spoiled, ...] = ()
    settle: tuple[ToSettle, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhasesBeside(Block):
    """before phase "…", after phase "…" (``after``), with phases under it."""

    after: bool
    phase: Words | None
    phases: tuple[Phase | Spoiled, ...]
    settle: tuple[ToSettle, ...] = ()


Section = Union[
    Choices,
    FoundOut,
    CanHappen,
    BeginsWith,
    Leaves,
    Phase,
    Kinds,
    Parts,
    Facts,
    Duty,
    Verb,
    Germs,
    Levels,
    Materials,
    Products,
    Floors,
    People,
    Places,
    Air,
    Streams,
    Things,
    Groups,
    Figures,
    ExposureSettings,
    WhomToCall,
    Settings,
    "Rule",
    "Waiver",
    ChangesIn,
    "Instead",
    Without,
    PhasesBeside,
    Spoiled,
]


@dataclass(frozen=True, slots=True, kw_only=True)
class File(Block):
    """A whole file: ``place`` is its first line, ``end`` the comments after its header lines.

    ``title`` None: the first line was spoiled or is missing. ``closing``: comments after the last
    section.
    """

    kind: FileKind
    title: Words | None
    header: tuple[HeaderLine, ...] = ()
    sections: tuple[Section, ...] = ()
    closing: tuple[str, ...] = ()
