"""Soil over any number of visits (rules 11, 12 and 14).

One visit turns "the token is at position p when it starts" into "it has reached …" and "it is at
position q when the next one starts". That relation, closed over visits, answers for histories of
any length: within one clinic every visit is free in its choices, so visits can follow each other in
any mix, and the relation of one visit is the union over its worlds.

First the whole closure is done by relaxation alone, which proves most plans at once. Where that
leaves something open, visits are decided exactly, one after the other, and only as far as needed.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass

from protocol_lang.contamination.kernel import (
    OF_PATIENTS,
    Amount,
    Bits,
    Judge,
    Moment,
    Origin,
    Reached,
)
from protocol_lang.contamination.marks import (
    AtEnd,
    Delivered,
    Goal,
    GoesOn,
    Judged,
    Layout,
    Spread,
    position,
)
from protocol_lang.order import decide, decide_all, targets_hit, worlds_shown
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import Budget, Effort, Found, Hop, Question, Undecided
from protocol_lang.order.relaxed import Passed, Reach, forward, origins

#: So many passes of relaxation are kept with their links: of the nearest starts and of all.
MOST_PASSES = 2


@dataclass(frozen=True, slots=True)
class Leg:
    """What happens to the token in one visit: the run, its route, and the goal it gets to.

    ``worlds``: all worlds in which the very same run takes the token there.
    """

    world: int
    worlds: Bits
    order: tuple[int, ...]
    route: tuple[Hop, ...]
    goal: Goal


@dataclass(frozen=True, slots=True)
class Hit:
    """Soil reaches somebody or something: whom, where, by which act, and how (a leg for each
    visit)."""

    who: Reached
    claim: int
    spot: int
    origin: Origin
    classes: tuple[str, ...]
    own: bool
    act: int
    part: int
    legs: tuple[Leg, ...]


@dataclass(frozen=True, slots=True)
class Suspect:
    """Whom or what soil of an origin may reach, so far as relaxation can tell."""

    who: Reached
    claim: int
    spot: int
    origin: Origin


@dataclass(frozen=True, slots=True)
class Open:
    """A question about soil that was not decided within the budget."""

    origin: Origin
    classes: tuple[str, ...]
    goal: Goal
    spent: int


@dataclass(frozen=True, slots=True)
class _Meaning:
    """A goal that counts as having reached somebody: whom, where, by which act."""

    who: Reached
    claim: int
    spot: int
    act: int


class Meanings:
    """What each goal counts as, by origin and visit (rule 11)."""

    def __init__(self, layout: Layout) -> None:
        self._plan = layout.plan
        self._end = layout.end
        self._claims = {
            effect.claim: effect
            for act in layout.plan.acts
            for effect in act.effects
            if isinstance(effect, Judge)
        }

    def of(self, goal: Goal, origin: Origin, own: bool) -> tuple[_Meaning, ...]:
        """Whom the goal counts as having reached, for soil of that origin; ``own``: in its own
        visit."""
        if isinstance(goal, GoesOn):
            return ()
        if isinstance(goal, Judged):
            judge = self._claims[goal.claim]
            others = not own or origin is not judge.of
            if not ((judge.own or others) if origin in OF_PATIENTS else judge.world):
                return ()
            return (_Meaning(Reached.CLAIM, goal.claim, goal.spot, goal.act),)
        moment, act = (Moment.END, self._end) if isinstance(goal, AtEnd) else (Moment.ANY, goal.act)
        return tuple(
            dict.fromkeys(
                _Meaning(rule.who, -1, goal.spot, act)
                for rule in self._plan.spots[goal.spot].reach
                if rule.moment is moment
                and origin in rule.origins
                and goal.amount in rule.amounts
                and (rule.through_tears or not (isinstance(goal, Delivered) and goal.torn))
                and (origin not in OF_PATIENTS or (rule.own if own else rule.later))
            )
        )


#: How hits are gathered: hits of one group need one witness only.
Grouping = Callable[[_Meaning], object]


def by_act(meaning: _Meaning) -> object:
    """A witness for every act that reaches somebody: for comparison with the simulator."""
    return meaning


class Soil:
    """All visits of one plan, for one group of classes."""

    def __init__(
        self,
        spread: Spread,
        worlds: Bits,
        ready: Bits,
        budget: Budget,
        effort: Effort,
    ) -> None:
        """``worlds``: those that are judged; ``ready``: those of which soil goes on (rule 12)."""
        self._spread = spread
        self._layout = spread.layout
        self._meanings = Meanings(spread.layout)
        self._worlds = worlds
        self._ready = ready
        self._budget = budget
        self._effort = effort
        self._tables: dict[Bits, Effects] = {}
        self._passes: dict[Origin, list[tuple[bool, Reach]]] = {}
        self._leads: dict[Origin, list[tuple[Bits, int, frozenset[int]]]] = {}
        # Many suspects are asked about one by one, and share most of the way to them.
        self._reached: dict[tuple[frozenset[int], Bits], dict[int, Bits]] = {}
        self._lately: dict[tuple[frozenset[int], Bits], Passed] = {}
        self._answers: dict[tuple[frozenset[int], Bits], dict[int, Leg | Undecided | None]] = {}
        self.undecided: list[Open] = []

    @property
    def spread(self) -> Spread:
        """How it moves."""
        return self._spread

    def starts(self, origin: Origin) -> frozenset[int]:
        """Where soil of that origin is when a visit starts."""
        plan = self._layout.plan
        return frozenset(
            self._spread.wells[(source.spot, source.origin, source.amount)]
            if source.lasting
            else position(source.spot, False, source.amount is Amount.TRACE)
            for source in plan.sources
            if source.origin is origin
        )

    def suspects(self, origin: Origin) -> frozenset[Suspect]:
        """Whom soil of that origin may reach, by relaxation alone, over all worlds at once.

        Whoever is not among them is proved safe in every history; whoever is, may be.
        """
        return frozenset(
            Suspect(meaning.who, meaning.claim, meaning.spot, origin)
            for own, passed in self.passes(origin)
            for number in passed.targets
            for meaning in self._meanings.of(self._spread.goals[number], origin, own)
        )

    def passes(self, origin: Origin) -> list[tuple[bool, Reach]]:
        """Where soil of that origin may get in its own visit (true), then in later ones, by
        relaxation over all worlds at once: one pass for each set of places where it may start."""
        if origin not in self._passes:
            self._passes[origin] = list(self._passed(origin))
        return self._passes[origin]

    def _passed(self, origin: Origin) -> Iterator[tuple[bool, Reach]]:
        starts = self.starts(origin)
        seen: set[int] = set()
        own = True
        while starts:
            self._effort.relaxed += 1
            passed = forward(self._table(self._worlds), starts)
            yield own, passed
            onwards = {
                goal.position
                for number, worlds in passed.targets.items()
                if isinstance(goal := self._spread.goals[number], GoesOn) and worlds & self._ready
            }
            starts = frozenset(onwards - seen)
            seen |= onwards
            own = False

    def first(self, origin: Origin, part: int, wanted: Container[Suspect]) -> Hit | None:
        """A hit on one of those wanted, in as few visits as can be; None: there is none.

        None may also mean "not decided": then :attr:`undecided` has grown.
        """
        worlds = self._worlds & self._layout.plan.clinic[part]
        starts = self.starts(origin)
        if not worlds:
            return None
        helpful = self._helpful(worlds, origin, wanted)
        trails: dict[int, tuple[Leg, ...]] = {}
        own = True
        while starts:
            candidates = self._relaxed(starts, worlds)
            targets = [
                number
                for number in candidates
                if any(
                    Suspect(meaning.who, meaning.claim, meaning.spot, origin) in wanted
                    for meaning in self._meanings.of(self._spread.goals[number], origin, own)
                )
            ]
            for near in self._nearest_first(starts, trails):
                hit = self._hit(near, worlds, targets, origin, own, wanted, trails, part)
                if hit is not None:
                    return hit
            onward = [
                number
                for number, within in candidates.items()
                if isinstance(goal := self._spread.goals[number], GoesOn)
                and within & self._ready
                and goal.position not in trails
                and goal.position in helpful
            ]
            fresh: dict[int, tuple[Leg, ...]] = {}
            for near in self._nearest_first(starts, trails):
                for goal, leg in self._decided(near, worlds & self._ready, onward, origin):
                    assert isinstance(goal, GoesOn)
                    fresh.setdefault(goal.position, (*self._trail(trails, leg), leg))
                onward = [
                    number
                    for number in onward
                    if isinstance(goal := self._spread.goals[number], GoesOn)
                    and goal.position not in fresh
                ]
            trails.update(fresh)
            starts = frozenset(fresh)
            own = False
        return None

    def _nearest_first(
        self, starts: frozenset[int], trails: dict[int, tuple[Leg, ...]]
    ) -> Iterator[frozenset[int]]:
        """The starts that make the plainest story, then all: lasting sources, the fewest hops."""
        wells = starts & set(self._spread.wells.values())
        hops = {start: sum(len(leg.route) for leg in trails.get(start, ())) for start in starts}
        fewest = min(hops.values())
        near = wells or frozenset(start for start in starts if hops[start] == fewest)
        if near != starts:
            yield near
        yield starts

    def _hit(
        self,
        starts: frozenset[int],
        worlds: Bits,
        targets: list[int],
        origin: Origin,
        own: bool,
        wanted: Container[Suspect],
        trails: dict[int, tuple[Leg, ...]],
        part: int,
    ) -> Hit | None:
        if not targets:
            return None
        question = Question(
            worlds, carry=self._spread.carry, starts=starts, targets=frozenset(targets)
        )
        answer = decide(
            self._layout.network,
            question,
            self._budget,
            self._effort,
            self._table(worlds),
            self._pass(starts, worlds),
        )
        if isinstance(answer, Undecided):
            goal = self._spread.goals[targets[0]]
            self.undecided.append(Open(origin, self._spread.classes, goal, answer.spent))
        if not isinstance(answer, Found):
            return None
        number = answer.route[-1].target
        assert number is not None
        goal = self._spread.goals[number]
        leg = self._leg(answer, starts, number)
        meaning = next(
            meaning
            for meaning in self._meanings.of(goal, origin, own)
            if Suspect(meaning.who, meaning.claim, meaning.spot, origin) in wanted
        )
        return self._made(meaning, origin, own, part, (*self._trail(trails, leg), leg))

    def _helpful(self, worlds: Bits, origin: Origin, wanted: Container[Suspect]) -> set[int]:
        """The positions at the start of a later visit from which, by relaxation, a wanted one is in
        reach; too many at times, never too few."""
        onward: dict[int, set[int]] = {}
        helpful: set[int] = set()
        for within, number, starts in self._led(origin):
            goal = self._spread.goals[number]
            if isinstance(goal, GoesOn):
                if within & worlds & self._ready:
                    onward.setdefault(goal.position, set()).update(starts)
            elif within & worlds and any(
                Suspect(meaning.who, meaning.claim, meaning.spot, origin) in wanted
                for meaning in self._meanings.of(goal, origin, False)
            ):
                helpful |= starts
        waiting = list(helpful)
        while waiting:
            more = onward.get(waiting.pop(), set()) - helpful
            helpful |= more
            waiting += more
        return helpful

    def _led(self, origin: Origin) -> list[tuple[Bits, int, frozenset[int]]]:
        """(worlds, goal, the positions from which it may be got to) in later visits.

        One for all who are asked about: a pass for each position by itself would be sharper, and
        took minutes where soil may lie in a hundred places.
        """
        if origin not in self._leads:
            self._leads[origin] = [
                (passed.targets[number], number, starts)
                for own, passed in self.passes(origin)
                if not own
                for number, starts in origins(passed).items()
            ]
        return self._leads[origin]

    def _made(
        self, meaning: _Meaning, origin: Origin, own: bool, part: int, legs: tuple[Leg, ...]
    ) -> Hit:
        return Hit(
            meaning.who,
            meaning.claim,
            meaning.spot,
            origin,
            self._spread.classes,
            own,
            meaning.act,
            part,
            legs,
        )

    def hits(self, origin: Origin, part: int, grouping: Grouping) -> list[Hit]:
        """Whom the soil of that origin reaches in histories of one clinic, one witness a group."""
        worlds = self._worlds & self._layout.plan.clinic[part]
        starts = self.starts(origin)
        if not worlds or not starts:
            return []
        found: dict[object, Hit] = {}
        trails: dict[int, tuple[Leg, ...]] = {}
        own = True
        while starts:
            answers = self._visit(starts, worlds, origin, own, found, trails, grouping)
            fresh: dict[int, tuple[Leg, ...]] = {}
            for goal, leg in answers:
                trail = (*self._trail(trails, leg), leg)
                if isinstance(goal, GoesOn):
                    if goal.position not in trails:
                        fresh.setdefault(goal.position, trail)
                    continue
                for meaning in self._meanings.of(goal, origin, own):
                    key = (grouping(meaning), own)
                    if key not in found:
                        found[key] = self._made(meaning, origin, own, part, trail)
            trails.update(fresh)
            starts = frozenset(fresh)
            own = False
        return list(found.values())

    def met_in(self, hit: Hit) -> frozenset[Suspect]:
        """Everybody whom soil of that origin reaches in the very history of a hit."""
        met: set[Suspect] = set()
        starts = self.starts(hit.origin)
        for visit, leg in enumerate(hit.legs):
            goals = [
                self._spread.goals[number]
                for number in targets_hit(
                    self._layout.network, self._spread.carry, leg.order, leg.world, starts
                )
            ]
            starts = frozenset(goal.position for goal in goals if isinstance(goal, GoesOn))
            met.update(
                Suspect(meaning.who, meaning.claim, meaning.spot, hit.origin)
                for goal in goals
                for meaning in self._meanings.of(goal, hit.origin, visit == 0)
            )
        return frozenset(met)

    def _trail(self, trails: dict[int, tuple[Leg, ...]], leg: Leg) -> tuple[Leg, ...]:
        return trails.get(leg.route[0].start, ())

    def _visit(
        self,
        starts: frozenset[int],
        worlds: Bits,
        origin: Origin,
        own: bool,
        found: dict[object, Hit],
        trails: dict[int, tuple[Leg, ...]],
        grouping: Grouping,
    ) -> Iterable[tuple[Goal, Leg]]:
        """One visit decided exactly: every goal that counts, or goes on somewhere new."""
        candidates = self._relaxed(starts, worlds)
        reaching: list[int] = []
        onward: list[int] = []
        for number, within in candidates.items():
            goal = self._spread.goals[number]
            if isinstance(goal, GoesOn):
                if goal.position not in trails and within & self._ready:
                    onward.append(number)
            elif any(
                (grouping(meaning), own) not in found
                for meaning in self._meanings.of(goal, origin, own)
            ):
                reaching.append(number)
        return [
            *self._decided(starts, worlds, reaching, origin),
            *self._decided(starts, worlds & self._ready, onward, origin),
        ]

    def _decided(
        self, starts: frozenset[int], worlds: Bits, numbers: list[int], origin: Origin
    ) -> list[tuple[Goal, Leg]]:
        """Those of the targets that are really got to, each with a visit that shows it."""
        if not numbers or not worlds:
            return []
        known = self._answers.setdefault((starts, worlds), {})
        if unknown := [number for number in numbers if number not in known]:
            answers = decide_all(
                self._layout.network,
                self._spread.carry,
                starts,
                unknown,
                worlds,
                self._budget,
                self._effort,
                self._table(worlds),
                self._pass(starts, worlds),
            )
            for number, answer in answers.items():
                if isinstance(answer, Found):
                    known[number] = self._leg(answer, starts, number)
                else:
                    known[number] = answer if isinstance(answer, Undecided) else None
        found: list[tuple[Goal, Leg]] = []
        for number in sorted(set(numbers)):
            got, goal = known[number], self._spread.goals[number]
            if isinstance(got, Leg):
                found.append((goal, got))
            elif got is not None:
                self.undecided.append(Open(origin, self._spread.classes, goal, got.spent))
        return found

    def _leg(self, found: Found, starts: frozenset[int], target: int) -> Leg:
        asked = Question(
            self._worlds, carry=self._spread.carry, starts=starts, targets=frozenset({target})
        )
        worlds = worlds_shown(self._layout.network, asked, found) | 1 << found.world
        return Leg(found.world, worlds, found.order, found.route, self._spread.goals[target])

    def _relaxed(self, starts: frozenset[int], worlds: Bits) -> dict[int, Bits]:
        """Every goal that may be got to, with the worlds in which: never too few."""
        key = starts, worlds
        if key not in self._reached:
            self._reached[key] = self._pass(starts, worlds).reach.targets
        return self._reached[key]

    def _pass(self, starts: frozenset[int], worlds: Bits) -> Passed:
        """The pass from these starts. Its links take room, so only the last few are kept."""
        key = starts, worlds
        passed = self._lately.pop(key, None)
        if passed is None:
            self._effort.relaxed += 1
            passed = Passed(forward(self._table(worlds), starts))
        self._lately[key] = passed
        while len(self._lately) > MOST_PASSES:
            self._lately.pop(next(iter(self._lately)))
        return passed

    def _table(self, worlds: Bits) -> Effects:
        tables = self._tables.get(worlds)
        if tables is None:
            layout = self._layout
            if worlds == self._worlds:
                tables = Effects(layout.network, self._spread.carry, worlds, layout.possible)
            else:
                tables = self._table(self._worlds).narrowed(worlds)
            self._tables[worlds] = tables
        return tables
