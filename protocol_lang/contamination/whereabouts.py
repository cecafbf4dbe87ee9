"""How far soil of a patient can get: to which spots, by which acts, and whether for the next one.

The check asks only of spots where soil matters. Here every spot is asked about, exactly as there:
what relaxation leaves open is decided, over all permitted orders, all worlds that were judged and
histories of any length (``docs/meaning/kernel.md``, rules 4 to 8 and 12).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import OF_PATIENTS, Amount, Bits, Origin
from protocol_lang.contamination.marks import (
    TRACE,
    Delivered,
    Goal,
    GoesOn,
    Layout,
    Spread,
    class_groups,
    position,
    spot_of,
)
from protocol_lang.contamination.paths import hardest_speaks_for_all
from protocol_lang.order import Effects, any_run, decide, targets_hit
from protocol_lang.order.bits import members
from protocol_lang.order.question import Budget, Effort, Found, Question, Undecided
from protocol_lang.order.relaxed import forward

#: In so many worlds one order is done for one goal, before that goal is decided.
MOST_DONE = 6
#: Soil of a patient in that patient's own visit, or in a later one.
OWN, LATER = True, False


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where soil of a patient can be.

    ``at``: (spot, in its own visit) -> the largest amount that is ever there: brought there, there
    from a source, or there when a later visit begins. ``brought``: (act, spot, in its own visit)
    that some permitted order has; ``undecided``: whether something was taken as reached because it
    could not be decided within the budget.
    """

    at: Mapping[tuple[int, bool], Amount]
    brought: frozenset[tuple[int, int, bool]]
    undecided: bool = False

    def own(self, spot: int) -> Amount | None:
        """The most that can be there in the visit of the patient whose soil it is."""
        return self.at.get((spot, OWN))

    def later(self, spot: int) -> Amount | None:
        """The most that can be there in the visit of somebody after that patient."""
        return self.at.get((spot, LATER))


class _EveryArrival(Spread):
    """A spread in which each arrival at a spot is a goal, whether or not a rule asks for it."""

    def _deliver(self, number: int, spot: int, trace: bool, torn: bool, goals: list[Goal]) -> None:
        goals.append(Delivered(number, spot, Amount.TRACE if trace else Amount.FULL))


def whereabouts(judgement: Judgement, budget: Budget | None = None) -> Whereabouts:
    """Where soil of a patient can be, in the worlds that were judged.

    Where the room is not left as the next visit begins, no soil is followed into a later visit.
    Raises ValueError if no world was judged: after a misstep nothing can be claimed.
    """
    layout = judgement.layout
    if layout is None or not judgement.judged:
        raise ValueError("no world of this plan was judged")
    search = _Search(layout, judgement.judged, judgement.ready, budget or Budget())
    plan = layout.plan
    groups = class_groups(layout)
    for classes in groups[:1] if hardest_speaks_for_all(plan) else groups:
        spread = _EveryArrival(layout, classes)
        for origin in sorted(OF_PATIENTS, key=lambda one: one.value):
            for part in plan.clinic:
                search.follow(spread, origin, part)
    return Whereabouts(dict(search.at), frozenset(search.brought), search.undecided)


@dataclass(slots=True)
class _Search:
    """What has been found so far; each question is asked only while its answer would be new."""

    layout: Layout
    judged: Bits
    ready: Bits
    budget: Budget
    at: dict[tuple[int, bool], Amount] = field(default_factory=dict)
    brought: set[tuple[int, int, bool]] = field(default_factory=set)
    undecided: bool = False

    def follow(self, spread: Spread, origin: Origin, part: Bits) -> None:
        """Soil of that origin through the visits of one part of the clinic."""
        plan, worlds = self.layout.plan, part & self.judged
        sources = [source for source in plan.sources if source.origin is origin]
        if not worlds or not sources:
            return
        for source in sources:
            self._note(source.spot, OWN, source.amount)
        starts = frozenset(
            spread.wells[source.spot, origin, source.amount]
            if source.lasting
            else position(source.spot, False, source.amount is Amount.TRACE)
            for source in sources
        )
        gone_on: set[int] = set()
        visit = OWN
        while starts:
            fresh: set[int] = set()
            for goal in self._visit(spread, starts, worlds, visit, gone_on):
                if isinstance(goal, GoesOn):
                    fresh.add(goal.position)
                    amount = Amount.TRACE if goal.position & TRACE else Amount.FULL
                    self._note(spot_of(goal.position), LATER, amount)
                elif isinstance(goal, Delivered):
                    self.brought.add((goal.act, goal.spot, visit))
                    self._note(goal.spot, visit, goal.amount)
            starts = frozenset(fresh - gone_on)
            gone_on |= fresh
            visit = LATER

    def _note(self, spot: int, visit: bool, amount: Amount) -> None:
        if self.at.get((spot, visit)) is not Amount.FULL:
            self.at[spot, visit] = amount

    def _visit(
        self,
        spread: Spread,
        starts: frozenset[int],
        worlds: Bits,
        visit: bool,
        gone_on: set[int],
    ) -> Iterator[Goal]:
        """What soil that begins a visit at ``starts`` gets to in it: each goal once, but for those
        that would tell nothing new.

        One order is permitted in every world, so it is done in some of those in which a goal may be
        got to; in each it takes soil to many goals. Only what it does not show is decided.
        """
        network, carry = self.layout.network, spread.carry
        tables = Effects(network, carry, worlds, self.layout.possible)
        possible = forward(tables, starts).targets
        got: set[int] = set()

        def shown(order: Sequence[int], world: int) -> Iterator[Goal]:
            for number in targets_hit(network, carry, order, world, starts) - got:
                goal = spread.goals[number]
                if isinstance(goal, GoesOn) and not self.ready >> world & 1:
                    continue
                got.add(number)
                yield goal

        any_order = any_run(network, self.budget)
        done: Bits = 0
        for number in sorted(possible, key=lambda one: self._is_trace(spread.goals[one])):
            goal = spread.goals[number]
            within = possible[number] & worlds
            if isinstance(goal, GoesOn):
                within &= self.ready
            if not within or self._is_known(goal, visit, gone_on):
                continue
            for world in islice(members(within & ~done), MOST_DONE):
                if number not in got and isinstance(any_order, Found):
                    done |= 1 << world
                    yield from shown(any_order.order, world)
            if number in got:
                continue
            question = Question(within, carry=carry, starts=starts, targets=frozenset({number}))
            answer = decide(network, question, self.budget, Effort(), tables)
            if isinstance(answer, Found):
                yield from shown(answer.order, answer.world)
            elif isinstance(answer, Undecided):
                self.undecided = True
                yield goal

    def _is_known(self, goal: Goal, visit: bool, gone_on: set[int]) -> bool:
        """Whether the goal, if it is got to, tells nothing new."""
        if isinstance(goal, GoesOn):
            return goal.position in gone_on
        if not isinstance(goal, Delivered):
            return True
        known = self.at.get((goal.spot, visit))
        enough = known is Amount.FULL or known is goal.amount
        return enough and (goal.act, goal.spot, visit) in self.brought

    @staticmethod
    def _is_trace(goal: Goal) -> bool:
        """Full amounts are asked about first: they answer for traces."""
        return isinstance(goal, Delivered) and goal.amount is Amount.TRACE
