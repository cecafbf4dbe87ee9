"""Rules decided by doing every permitted order one by one: the oracle of the decider.

Everything here is written from docs/meaning/rules.md and the words of the verbs. Which orders are
permitted is taken from the blocks of the checklist; what a step brings about stands in a small
table (:func:`deed`); each form is decided by reading the sequence of steps. Nothing of the package
is used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import product

# --- The room ------------------------------------------------------------------------------------

ROOM = """room "Small room"
  edition 1
  takes words from "Dental imaging"

people
  operator, helper: staff
  patient: patient

waste streams
  clinical waste: yellow bag
  general waste

surfaces
  keyboard, tube, phone: surface

boxes
  glove box: box

things
  sensor: receptor; goes in the mouth; not heat safe
  holder: holder; goes in the mouth; heat safe
  gloves: gloves; worn on hands; used once; from glove box; goes to clinical waste
  wipe: wipe; has face, back; used once; thrown away after use; treats to intermediate; WET
  swab: supply; used once
""".replace("WET", "stays wet 90 minutes")

STAFF = ("operator", "helper")
SURFACES = ("keyboard", "tube", "phone")
KINDS: Mapping[str, tuple[str, ...]] = {
    "staff": STAFF,
    "patient": ("patient",),
    "companion": (),
    "surface": SURFACES,
    "box": ("glove box",),
    "receptor": ("sensor",),
    "holder": ("holder",),
    "gloves": ("gloves",),
    "wipe": ("wipe",),
    "supply": ("swab",),
    "mask": (),
}
THINGS = (*SURFACES, "glove box", "sensor", "holder", "gloves", "wipe", "swab")
RANKS = {"hand rub": 1, "hand wash": 2, "low": 3, "intermediate": 4, "high": 5}

# --- What steps bring about ----------------------------------------------------------------------

#: What happens: its sort, then who and what, in the order of the sentence.
Event = tuple[str, ...]

#: What happens at once: a step has several moments, one after the other.
Moment = tuple[Event, ...]


@dataclass(frozen=True)
class Deed:
    """One step on one thing: its verb and what fills it, and what happens in it, in order."""

    number: int
    verb: str
    filled: tuple[str, ...]
    moments: tuple[Moment, ...]
    phase: str = ""

    @property
    def doer(self) -> str:
        return self.filled[0]


def _met(*who: str) -> Moment:
    """One handling: each touches each other one; people by the hand (the patient by no hand)."""
    return tuple(
        ("touches", one, other) for one in who for other in who if one != other and one != "patient"
    )


def _in_mouth(*who: str) -> Moment:
    """One handling, in the patient's mouth."""
    things = [one for one in who if one in THINGS]
    return (*_met(*who, "patient"), *(("mouth", one, "patient") for one in things))


def _at(*event: str) -> Moment:
    return (event,)


def _thrown(thing: str, stream: str) -> Moment:
    return (("thrown", thing), ("thrown into", thing, stream))


def _gloves_taken(a: str) -> Moment:
    return _met(a, "gloves", "glove box")


#: What each verb does, by the lines of the vocabulary.
_MOMENTS: Mapping[str, Callable[..., tuple[Moment, ...]]] = {
    "cleans hands": lambda a: (_at("hands", a, "hand rub"),),
    "washes hands": lambda a: (_at("hands", a, "hand wash"),),
    "washes hands at": lambda a, s: (_met(a, s), _at("hands", a, "hand wash")),
    "washes without a towel": lambda a, s: (
        _met(a, s), _at("hands", a, "hand wash"), _met(a, s),
    ),
    "puts on": lambda a, g: (_gloves_taken(a), _at("onto", g, a)),
    "takes off": lambda a, g: (_at("off", g, a), _thrown(g, "clinical waste")),
    "changes": lambda a, g: (
        _at("off", g, a), _thrown(g, "clinical waste"), _at("hands", a, "hand rub"),
        _gloves_taken(a), _at("onto", g, a),
    ),
    "works at": lambda a, s: (_met(a, s),),
    "opens the record": lambda a, s: (_met(a, s),),
    "places": lambda a, r: (_in_mouth(a, r),),
    "takes out": lambda a, r: (_in_mouth(a, r),),
    "places with": lambda a, h, r: (_in_mouth(a, h, r),),
    "lays on": lambda a, r, s: (_met(a, r), _met(r, s)),
    "cleans": lambda a, t, w: (_met(a, w), _met(w, t), _at("cleaned", t)),
    "disinfects": lambda a, t, w: (_met(a, w), _met(w, t), _at("treated", t, "intermediate")),
    "takes": lambda a, t: (_met(a, t),),
    "throws": lambda a, t, s: (_met(a, t), _thrown(t, s)),
    "exposes": lambda a, s: (_met(a, s),),
    "goes behind": lambda a: (),
    "comes back": lambda a: (),
    "hands over": lambda a, r, b: (_met(a, r, b),),
    "waits": lambda a, minutes: (),
    "waits until dry": lambda a, t: (),
}  # fmt: skip

#: The same as sentences of a checklist, and of a rule with kinds in the place of names.
SENTENCES: Mapping[str, str] = {
    "cleans hands": "{} cleans hands",
    "washes hands": "{} washes hands",
    "washes hands at": "{} washes hands at {}",
    "washes without a towel": "{} washes hands at {} without a towel",
    "puts on": "{} puts on {}",
    "takes off": "{} takes off {}",
    "changes": "{} changes {}",
    "works at": "{} works at {}",
    "opens the record": "{} opens the record at {}",
    "places": "{} places {} in mouth",
    "takes out": "{} takes {} out of mouth",
    "places with": "{} places {} with {} in mouth",
    "lays on": "{} lays {} on {}",
    "cleans": "{} cleans {} with a new {}",
    "disinfects": "{} disinfects {} with a new {}",
    "takes": "{} takes {}",
    "throws": "{} throws {} into {}",
    "exposes": "{} exposes with {}",
    "goes behind": "{} goes behind the barrier",
    "comes back": "{} comes back from the barrier",
    "hands over": "{} hands {} to {}",
    "waits": "{} waits {} minutes",
    "waits until dry": "{} waits until {} is dry",
}

EVENT_SENTENCES: Mapping[str, str] = {
    "touches": "{} touches {}",
    "mouth": "{} goes into the mouth of {}",
    "onto": "{} goes onto {}",
    "off": "{} comes off {}",
    "hands": "hands of {} are cleaned",
    "hands to": "hands of {} are treated to at least {}",
    "cleaned": "{} is cleaned",
    "treated": "{} is treated to at least {}",
    "thrown": "{} is thrown away",
    "thrown into": "{} is thrown into {}",
    "exposure": "{} makes an exposure",
    "waiting": "{} waits",
    "waiting so long": "{} waits at least {} minutes",
    "waiting for": "{} waits until {} is dry",
}


def deed(number: int, verb: str, *filled: str, phase: str = "") -> Deed:
    """A step of a checklist with all that happens in it."""
    return Deed(number, verb, filled, _MOMENTS[verb](*filled), phase)


# --- The state, as far as it decides missteps and claims -----------------------------------------


@dataclass
class State:
    """Who wears gloves and stands behind the barrier; the swab in hand; whether a record is open;
    what is wet (nobody waits so long, so that it stays so until the visit ends)."""

    gloved: set[str] = field(default_factory=set)
    behind: set[str] = field(default_factory=set)
    open: bool = False
    swab: str = "none"
    wet: set[str] = field(default_factory=set)

    def misstep(self, one: Deed) -> bool:
        """Whether the step cannot be done now; if it can, the state after it."""
        who = one.doer
        match one.verb:
            case "puts on":
                if who in self.gloved:
                    return True
                self.gloved.add(who)
            case "takes off":
                if who not in self.gloved:
                    return True
                self.gloved.discard(who)
            case "changes":
                if who not in self.gloved:
                    return True
            case "takes":
                self.swab = "taken"
            case "throws":
                if self.swab != "taken":
                    return True
                self.swab = "thrown"
            case "disinfects":
                self.wet.add(one.filled[1])
            case "goes behind":
                self.behind.add(who)
            case "comes back":
                self.behind.discard(who)
            case "opens the record":
                self.open = True
        return False


# --- The checklist and its orders ----------------------------------------------------------------


@dataclass(frozen=True)
class Once:
    """One line of a checklist; several deeds where it goes through a list one by one."""

    deeds: tuple[Deed, ...]


@dataclass(frozen=True)
class Block:
    """``sort``: "in order", "any order", "any order, mixed", "in one go"."""

    sort: str
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Lanes:
    lanes: tuple[tuple[str, tuple[Item, ...]], ...]


@dataclass(frozen=True)
class Branches:
    """``where``: a declared choice and its value; None: either, or (a choice of its own)."""

    name: str
    values: tuple[str, ...]
    ways: tuple[tuple[Item, ...], ...]


Item = Once | Block | Lanes | Branches

#: The value of every choice.
Course = Mapping[str, str]


@dataclass(frozen=True)
class Checklist:
    """``choices``: of each visit, declared or not; ``fixed``: for the clinic."""

    phases: tuple[tuple[str, tuple[Item, ...]], ...]
    choices: Mapping[str, tuple[str, ...]]
    fixed: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Run:
    course: tuple[tuple[str, str], ...]
    deeds: tuple[Deed, ...]


def deeds_of(items: Iterable[Item]) -> Iterator[Deed]:
    for item in items:
        match item:
            case Once(deeds):
                yield from deeds
            case Block(_, inner):
                yield from deeds_of(inner)
            case Lanes(lanes):
                for _, inner in lanes:
                    yield from deeds_of(inner)
            case Branches(ways=ways):
                for way in ways:
                    yield from deeds_of(way)


def _pairs(items: Sequence[Item], series: bool = True) -> Iterator[tuple[Deed, Deed]]:
    """Which deed comes before which, by the blocks alone."""
    for number, item in enumerate(items):
        match item:
            case Once(deeds):
                yield from ((a, b) for i, a in enumerate(deeds) for b in deeds[i + 1 :])
            case Block(sort, inner):
                yield from _pairs(inner, not sort.startswith("any order"))
            case Lanes(lanes):
                for _, inner in lanes:
                    yield from _pairs(inner)
            case Branches(ways=ways):
                for way in ways:
                    yield from _pairs(way)
        if series:
            for later in items[number + 1 :]:
                yield from product(deeds_of((item,)), deeds_of((later,)))


def _together(items: Iterable[Item]) -> Iterator[frozenset[Deed]]:
    """What is done in one go: blocks that say so, lists in any order, and a line with a list."""
    for item in items:
        match item:
            case Once(deeds):
                yield frozenset(deeds)
            case Block(sort, inner):
                yield from _together(inner)
                if sort == "in one go":
                    yield frozenset(deeds_of(inner))
                if sort == "any order":
                    yield from (frozenset(deeds_of((one,))) for one in inner)
            case Lanes(lanes):
                for _, inner in lanes:
                    yield from _together(inner)
            case Branches(ways=ways):
                for way in ways:
                    yield from _together(way)


def done_in(items: Iterable[Item], course: Course) -> Iterator[Deed]:
    """The deeds that are done in a course."""
    for item in items:
        match item:
            case Once(deeds):
                yield from deeds
            case Block(_, inner):
                yield from done_in(inner, course)
            case Lanes(lanes):
                for _, inner in lanes:
                    yield from done_in(inner, course)
            case Branches(name, values, ways):
                for value, way in zip(values, ways, strict=True):
                    if course[name] == value:
                        yield from done_in(way, course)


def courses(checklist: Checklist) -> Iterator[Course]:
    names = {**checklist.choices, **checklist.fixed}
    for values in product(*names.values()):
        yield dict(zip(names, values, strict=True))


class TooMany(Exception):
    """More orders than are gone through."""


def runs_of(checklist: Checklist, most: int = 10**9) -> list[Run]:
    """Every permitted order of every course, up to its misstep; none of a course that has one.

    What is left out keeps its place in the order (kernel, rule 1): orders are those of all deeds.
    """
    items = tuple(item for _, inner in checklist.phases for item in inner)
    every = tuple(deeds_of(items))
    present = {
        tuple(course.items()): frozenset(done_in(items, course)) for course in courses(checklist)
    }
    before: dict[Deed, set[Deed]] = {one: set() for one in every}
    for first, second in _pairs(items):
        before[second].add(first)
    groups: list[tuple[frozenset[Deed], frozenset[Deed]]] = []
    for group in _together(items):
        for who in STAFF:
            mine = frozenset(one for one in group if one.doer == who)
            if len(mine) < 2:
                continue
            others = frozenset(
                one for one in every
                if one.doer == who and one not in mine
                and any(one in done and not mine.isdisjoint(done) for done in present.values())
            )  # fmt: skip
            groups.append((mine, others))
    orders: list[tuple[Deed, ...]] = []

    def go_on(order: tuple[Deed, ...], left: frozenset[Deed]) -> None:
        if not left:
            orders.append(order)
            if len(orders) > most:
                raise TooMany
        for one in every:
            if one not in left or not before[one].isdisjoint(left):
                continue
            torn = any(
                one in others and not mine <= left and not mine.isdisjoint(left)
                for mine, others in groups
            )
            if not torn:
                go_on((*order, one), left - {one})

    go_on((), frozenset(every))
    runs: list[Run] = []
    for course, done in present.items():
        sequences = dict.fromkeys(tuple(one for one in order if one in done) for order in orders)
        if not any(_goes_wrong(sequence) for sequence in sequences):
            runs += [Run(course, sequence) for sequence in sequences]
    if len(runs) > most:
        raise TooMany
    return runs


def _goes_wrong(sequence: Iterable[Deed]) -> bool:
    state = State()
    return any(state.misstep(one) for one in sequence)


# --- Sentences of rules --------------------------------------------------------------------------

Bound = tuple[tuple[str, str], ...]

#: A verb's sentence is about the step as a whole: as what begins, it is there at its start.
WHOLE = -1


@dataclass(frozen=True)
class Sentence:
    """``sort``: of an event, or (``verb``) the name of a verb. ``words``: kinds or names."""

    sort: str
    words: tuple[str, ...]
    verb: bool = False

    @property
    def text(self) -> str:
        return (SENTENCES if self.verb else EVENT_SENTENCES)[self.sort].format(*self.words)


Sentences = tuple[Sentence, ...]


def _unify(words: Sequence[str], actual: Sequence[str]) -> Bound | None:
    """What the kinds among the words stand for; None if the sentence is about others."""
    found: dict[str, str] = {}
    for word, name in zip(words, actual, strict=True):
        if word in KINDS or word == "thing":
            if name not in (THINGS if word == "thing" else KINDS[word]):
                return None
            if found.setdefault(word, name) != name:
                return None
        elif word != name:
            return None
    return tuple(sorted(found.items()))


@cache
def happens(sentence: Sentence, one: Deed) -> tuple[tuple[int, Bound, frozenset[str]], ...]:
    """Each time that it happens in a step: where in it, for whom, and all names in it."""
    found: list[tuple[int, Bound, frozenset[str]]] = []

    def note(at: int, words: Sequence[str], actual: Sequence[str]) -> None:
        bound = _unify(words, actual)
        if bound is not None:
            found.append((at, bound, frozenset(actual)))

    if sentence.verb:
        if sentence.sort == one.verb:
            note(WHOLE, sentence.words, one.filled)
        return tuple(found)
    if sentence.sort == "exposure":
        if one.verb == "exposes":
            note(WHOLE, sentence.words, one.filled[:1])
        return tuple(found)
    if sentence.sort.startswith("waiting"):
        who, until = one.filled[0], one.filled[-1]
        if sentence.sort == "waiting" and one.verb in ("waits", "waits until dry"):
            note(WHOLE, sentence.words, (who,))
        long = sentence.sort == "waiting so long" and one.verb == "waits"
        if long and int(until) >= int(sentence.words[1]):
            note(WHOLE, sentence.words[:1], (who,))
        if sentence.sort == "waiting for" and one.verb == "waits until dry":
            note(WHOLE, sentence.words, (who, until))
        return tuple(found)
    for at, moment in enumerate(one.moments):
        for sort, *actual in moment:
            words = sentence.words
            if sentence.sort in ("hands to", "treated"):
                if (
                    sort == sentence.sort.removesuffix(" to")
                    and RANKS[actual[1]] >= RANKS[words[1]]
                ):
                    note(at, words[:1], actual[:1])
            elif sentence.sort == sort:
                note(at, words, actual[: len(words)])
    return tuple(found)


# --- Rules ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Asked:
    """One form of a rule. ``first``, ``second``, ``third``: its sentences in the order of the form;
    ``number``: how often; ``claim``: what has to hold."""

    form: str
    first: Sentences
    second: Sentences = ()
    third: Sentences = ()
    number: int = 0
    claim: str = ""

    def lines(self) -> Iterator[str]:
        def told(opening: str, sentences: Sentences) -> Iterator[str]:
            yield f"{opening} {sentences[0].text}"
            yield from (f"  or {one.text}" for one in sentences[1:])

        match self.form:
            case "always" | "never":
                yield from told(self.form, self.first)
            case "before" | "before, never":
                yield from told("before", self.first)
                yield from told("comes", self.second)
                if self.third:
                    yield from told("but never", self.third)
            case "after" | "after, to the end" | "after, to the next":
                yield from told("after", self.first)
                yield from told("comes", self.second)
                if self.form == "after":
                    yield from told("before", self.third)
                else:
                    what = "visit ends" if self.form == "after, to the end" else "next patient"
                    yield f"before the {what}"
            case "between" | "between, to the end":
                yield from told("after", self.first)
                if self.form == "between":
                    yield from told("until", self.second)
                else:
                    yield "until the visit ends"
                yield from told("never", self.third)
            case "whenever":
                yield from told("whenever", self.first)
                yield f"only when {self.claim}"
            case "at most" | "at least":
                yield from told(f"{self.form} {self.number} times", self.first)


@dataclass(frozen=True)
class Rule:
    """``where``: (choice, value, whether it is so); ``about``: the kind it is about; ``ways``: one
    form, or several of which one is kept."""

    ways: tuple[Asked, ...]
    where: tuple[tuple[str, str, bool], ...] = ()
    phase: str | None = None
    but: tuple[str, ...] = ()
    about: str | None = None

    def text(self, title: str) -> str:
        lines = [f'rule "{title}"', "  must"]
        if self.where:
            told = [f"{name} is {'' if so else 'not '}{value}" for name, value, so in self.where]
            lines.append("  where " + " and ".join(told))
        if self.phase:
            lines.append(f'  only in phase "{self.phase}"')
        if self.but:
            lines.append("  but not " + ", ".join(self.but))
        if self.about:
            lines.append(f"  for {self.about}")
        if len(self.ways) == 1:
            lines += [f"  {line}" for line in self.ways[0].lines()]
        else:
            for number, way in enumerate(self.ways):
                lines.append("  or" if number else "  either")
                lines += [f"    {line}" for line in way.lines()]
        return "\n".join(lines) + "\n"


MET, FAILED, NOT_APPLICABLE = "met", "failed", "not applicable"


class Judge:
    """One rule on the runs of one checklist."""

    def __init__(self, checklist: Checklist, runs: Sequence[Run], rule: Rule) -> None:
        self.checklist = checklist
        self.rule = rule
        self.every = runs
        self.runs = [run for run in runs if self._in_scope(dict(run.course))]
        self.done = dict.fromkeys(one for run in self.runs for one in run.deeds)

    def _in_scope(self, course: Course) -> bool:
        return all((course[name] == value) is so for name, value, so in self.rule.where)

    # --- Happenings ---

    def _times(
        self, sentences: Sentences, one: Deed, bound: Mapping[str, str], first: bool = False
    ) -> list[tuple[int, Bound]]:
        """When in a step one of the sentences happens, for what is bound; ``first``: as the first
        sentence of a rule, which means steps of its phase alone."""
        if first and self.rule.phase not in (None, one.phase):
            return []
        return [
            (at, mine)
            for sentence in sentences
            for at, mine, names in happens(sentence, one)
            if names.isdisjoint(self.rule.but)
            and all(bound.get(word, name) == name for word, name in mine)
        ]

    # --- Verdicts ---

    def verdict(self) -> str:
        if not self.runs:
            return NOT_APPLICABLE
        if self.rule.phase and self.rule.phase not in (title for title, _ in self.checklist.phases):
            return NOT_APPLICABLE
        applied = False
        for bound in self.bindings():
            ways = [way for way in self.rule.ways if self.applies(way, bound)]
            if not ways:
                continue
            applied = True
            if len(ways) == len(self.rule.ways) and all(self.breaks(way, bound) for way in ways):
                return FAILED
        return MET if applied else NOT_APPLICABLE

    def bindings(self) -> list[dict[str, str]]:
        about = self.rule.about
        if about is None:
            return [{}]
        return [{about: name} for name in KINDS[about] if name not in self.rule.but]

    def applies(self, way: Asked, bound: Mapping[str, str]) -> bool:
        """Whether there is anything that the form is about."""
        if way.form in ("always", "at least"):
            return True
        if way.form in ("never", "at most"):
            there = [
                one
                for one in way.first
                if all(word not in KINDS or word in bound or KINDS[word] for word in one.words)
            ]
            return bool(there)
        return any(self._times(way.first, one, bound, True) for one in self.done)

    def breaks(self, way: Asked, bound: Mapping[str, str]) -> bool:
        """Whether some run breaks the form."""
        if way.form == "after, to the next":
            return self.next_pair(way, bound) is not None
        return any(self.broken(way, run.deeds, bound) for run in self.runs)

    def broken(self, way: Asked, deeds: Sequence[Deed], bound: Mapping[str, str]) -> bool:
        """Whether one sequence of steps breaks the form (which looks at one visit alone)."""
        match way.form:
            case "always":
                return not any(self._times(way.first, one, bound, True) for one in deeds)
            case "never":
                return any(self._times(way.first, one, bound, True) for one in deeds)
            case "at most":
                return self._count(way, deeds, bound) > way.number
            case "at least":
                return self._count(way, deeds, bound) < way.number
            case "whenever":
                return self._whenever(way, deeds, bound)
        return any(
            self._one_broken(way, deeds, i, at, {**bound, **dict(mine)})
            for i, one in enumerate(deeds)
            for at, mine in self._times(way.first, one, bound, True)
        )

    def _count(self, way: Asked, deeds: Sequence[Deed], bound: Mapping[str, str]) -> int:
        return sum(bool(self._times(way.first, one, bound, True)) for one in deeds)

    def _one_broken(
        self, way: Asked, deeds: Sequence[Deed], i: int, at: int, bound: Mapping[str, str]
    ) -> bool:
        """The form for the one time that its first sentence happens, in step ``i``."""
        match way.form:
            case "before" | "before, never":
                return not self._prepared(way.second, way.third, deeds, i, at, bound)
            case "after, to the end":
                return self._owed(way.second, deeds, i, at, bound)
            case "after":
                if self._brings(way.second, deeds[i], at, bound):
                    return False
                for one in deeds[i + 1 :]:
                    if self._times(way.second, one, bound):
                        return False
                    if self._times(way.third, one, bound):
                        return True
                return False
            case "between" | "between, to the end":
                if self._brings(way.second, deeds[i], at, bound):
                    return False
                for one in deeds[i + 1 :]:
                    if self._times(way.second, one, bound):
                        return False
                    if self._times(way.third, one, bound):
                        return True
                return False
        raise AssertionError(way.form)

    def _brings(self, what: Sentences, one: Deed, at: int, bound: Mapping[str, str]) -> bool:
        """Whether the step itself brings it, at or after that moment in it."""
        return any(when == WHOLE or when >= at for when, _ in self._times(what, one, bound))

    def _owed(
        self, what: Sentences, deeds: Sequence[Deed], i: int, at: int, bound: Mapping[str, str]
    ) -> bool:
        if self._brings(what, deeds[i], at, bound):
            return False
        return not any(self._times(what, one, bound) for one in deeds[i + 1 :])

    def _prepared(
        self,
        what: Sentences,
        never: Sentences,
        deeds: Sequence[Deed],
        i: int,
        at: int,
        bound: Mapping[str, str],
    ) -> bool:
        """Whether it came before that moment of step ``i``, and none of ``never`` since."""
        if any(when < at for when, _ in self._times(what, deeds[i], bound)):
            return True
        for one in reversed(deeds[:i]):
            came = [when for when, _ in self._times(what, one, bound)]
            spoilt = [when for when, _ in self._times(never, one, bound)]
            if came:
                return WHOLE in came or not spoilt or max(came) >= max(spoilt)
            if spoilt:
                return False
        return False

    def _whenever(self, way: Asked, deeds: Sequence[Deed], bound: Mapping[str, str]) -> bool:
        state = State()
        for one in deeds:
            for _, mine in self._times(way.first, one, bound, True):
                if not claim_holds(way.claim, state, {**bound, **dict(mine)}):
                    return True
            state.misstep(one)
        return False

    def next_pair(self, way: Asked, bound: Mapping[str, str]) -> tuple[Run, Run] | None:
        """Two visits, one after the other, the first of which leaves undone what the next one's
        patient needs."""
        return next(self.next_pairs(way, bound), None)

    def next_pairs(self, way: Asked, bound: Mapping[str, str]) -> Iterator[tuple[Run, Run]]:
        firsts: list[tuple[Run, Bound]] = []
        for run in self.runs:
            mine = {
                bnd
                for i, one in enumerate(run.deeds)
                for at, bnd in self._times(way.first, one, bound, True)
                if self._owed(way.second, run.deeds, i, at, {**bound, **dict(bnd)})
            }
            firsts += [(run, bnd) for bnd in sorted(mine)]
        needs: dict[Bound, list[Run]] = {bnd: [] for _, bnd in firsts}
        for bnd, found in needs.items():
            for run in self.every:
                if self._unprepared(way, run.deeds, {**bound, **dict(bnd)}):
                    found.append(run)
        for run, bnd in firsts:
            for other in needs[bnd]:
                if all(dict(run.course)[n] == dict(other.course)[n] for n in self.checklist.fixed):
                    yield run, other

    def _unprepared(self, way: Asked, deeds: Sequence[Deed], bound: Mapping[str, str]) -> bool:
        return any(
            not self._prepared(way.second, (), deeds, i, at, bound)
            for i, one in enumerate(deeds)
            for at, _ in self._times(way.first, one, bound)
        )


# --- Claims --------------------------------------------------------------------------------------

#: Claims that rules make: the kind that they are about ("": none), and whether they hold of one of
#: it in a state.
CLAIMS: Mapping[str, tuple[str, Callable[[State, str], bool]]] = {
    "staff's hands are bare": ("staff", lambda state, who: who not in state.gloved),
    "staff wears gloves": ("staff", lambda state, who: who in state.gloved),
    "staff does not wear gloves": ("staff", lambda state, who: who not in state.gloved),
    "staff is behind the barrier": ("staff", lambda state, who: who in state.behind),
    "staff is not behind the barrier": ("staff", lambda state, who: who not in state.behind),
    "staff wears gloves or record open": (
        "staff",
        lambda state, who: who in state.gloved or state.open,
    ),
    "record open": ("", lambda state, _: state.open),
    "receptor is dry": ("receptor", lambda state, what: what not in state.wet),
    "surface is dry": ("surface", lambda state, what: what not in state.wet),
    "surface is not dry": ("surface", lambda state, what: what in state.wet),
}


def claim_holds(claim: str, state: State, bound: Mapping[str, str]) -> bool:
    """A kind that is bound means that one, any other each of the kind."""
    kind, holds = CLAIMS[claim]
    if not kind:
        return holds(state, "")
    return all(holds(state, one) for one in ((bound[kind],) if kind in bound else KINDS[kind]))
