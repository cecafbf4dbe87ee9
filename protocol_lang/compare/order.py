"""What comes before what in every permitted order, and which steps moved in that sense.

A step may stand for several acts: of a list that it goes through one by one, of several times
round, of several worlds. Step a surely comes before step b if, in every world and time round in
which both are done, all acts of a come before all acts of b in every permitted order; with no world
in which both are done they are never in one visit. (Which orders are permitted does not depend on
the world: docs/meaning/kernel.md, rule 1.)

What follows from order lines and from "in one go" alone (the closed network) settles nearly all
pairs. The rest is settled by permitted orders: one that has the two acts the other way round, or a
proof that there is none.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from heapq import heapify, heappop, heappush
from itertools import combinations
from typing import TypeVar

from protocol_lang.compare.steps import own_place
from protocol_lang.comparison import Between, Moved, Pair, Relation, Reordered
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.order import (
    Answer,
    Budget,
    Found,
    Impossible,
    Network,
    Question,
    any_run,
    decide,
)
from protocol_lang.order.bits import gather, members
from protocol_lang.order.partial import transpose_closed
from protocol_lang.text import Place

#: A pair of acts that takes more than this to settle is told as not settled.
BUDGET = Budget(own=300, conflicts=20_000)

Bits = int

T = TypeVar("T")

#: Worlds, which of two visits, and which time round of each repetition.
_Kind = tuple[Bits, int, tuple[tuple[Place, int], ...]]


class Orders:
    """The permitted orders of one edition, asked about by the places of its steps.

    ``undecided``: questions that were not settled within the budget.
    """

    def __init__(self, unfolded: Unfolded, layout: Layout, places: Sequence[Place]) -> None:
        """``places``: of the steps that are in both editions."""
        self.undecided = 0
        # What is permitted depends on no world and no memory: without them it is asked fast.
        events = layout.network.events
        self._network = replace(layout.network, worlds=1, present=(1,) * events, registers=())
        self._copies: dict[Place, dict[int, Bits]] = {place: {} for place in places}
        self._kind_of: dict[int, int] = {}
        kinds: dict[_Kind, int] = {}
        of_kind: dict[int, Bits] = defaultdict(int)
        acts = unfolded.plan.acts
        for number, step in enumerate(unfolded.steps):
            copies = self._copies.get(own_place(step.place))
            if copies is None:
                continue
            rounds = tuple((one.place, one.number) for one in step.rounds)
            for act in unfolded.acts_of[number]:
                if not acts[act].worlds:
                    continue
                key = (acts[act].worlds, unfolded.acts[act].visit, rounds)
                kind = self._kind_of[act] = kinds.setdefault(key, len(kinds))
                copies[kind] = copies.get(kind, 0) | 1 << act
                of_kind[kind] |= 1 << act
        self._beside = [
            gather(
                act
                for other, number in kinds.items()
                if _meet(one, other)
                for act in members(of_kind[number])
            )
            for one in kinds
        ]
        self._all = gather(self._kind_of)
        self._before: dict[int, Bits] = {
            act: self._network.before[act] & self._all for act in self._kind_of
        }
        #: For each act those that come after it in some permitted order that has been seen.
        self._seen_after: dict[int, Bits] = dict.fromkeys(self._kind_of, 0)
        self._settle()

    def acts(self, place: Place) -> Bits:
        """All acts of a step, but for those of no world."""
        found = 0
        for copy in self._copies[place].values():
            found |= copy
        return found

    def relation(self, one: Place, other: Place) -> Relation:
        """How the step at ``one`` stands to the step at ``other``."""
        here, there = self.acts(one), self.acts(other)
        met = before = after = False
        for act in members(there):
            meets = here & self._beside[self._kind_of[act]]
            if not meets:
                continue
            met = True
            earlier = meets & self._before[act]
            before |= bool(earlier)
            if earlier == meets:
                continue
            if earlier or any(not self._before[mine] >> act & 1 for mine in members(meets)):
                return Relation.OPEN
            after = True
        if not met:
            return Relation.APART
        if before and after:
            return Relation.OPEN
        return Relation.BEFORE if before else Relation.AFTER

    def blocks(self, places: Sequence[Place]) -> Iterator[tuple[frozenset[Place], Bits]]:
        """What is done in one go: the steps with an act in it, and the acts that may not fall in
        between."""
        acts = {place: self.acts(place) for place in places}
        for block in self._network.blocks:
            inside = frozenset(place for place in places if acts[place] & block.members)
            if len(inside) > 1:
                yield inside, block.others & self._all

    def between(self, first: Place, other: Place, last: Place) -> bool:
        """Whether ``other`` can come after ``first`` and before ``last`` in one permitted order of
        one visit."""
        for act in members(self.acts(other)):
            beside = self._beside[self._kind_of[act]]
            for early in members(self.acts(first) & beside):
                if self._before[early] >> act & 1:
                    continue
                late_ones = self.acts(last) & beside & self._beside[self._kind_of[early]]
                for late in members(late_ones & ~(1 << early)):
                    if self._before[act] >> late & 1:
                        continue
                    answer = self._ask((early, act), (act, late))
                    if isinstance(answer, Found):
                        return True
        return False

    def _ask(self, *precedes: tuple[int, int]) -> Answer:
        answer = decide(self._network, Question(1, precedes=precedes), BUDGET)
        if isinstance(answer, Found):
            self._note(answer.order)
        elif not isinstance(answer, Impossible):
            self.undecided += 1
        return answer

    def _note(self, order: Sequence[int]) -> None:
        later = 0
        for event in reversed(order):
            if event in self._kind_of:
                self._seen_after[event] |= later
                later |= 1 << event

    def _settle(self) -> None:
        """Adds to ``before`` what only all permitted orders together show."""
        if not self._network.blocks:
            return
        if isinstance(found := any_run(self._network, BUDGET), Found):
            self._note(found.order)
            # One order and one as unlike it as can be show most pairs both ways round.
            if (unlike := unlike_order(self._network, found.order)) is not None:
                self._note(unlike)
        for act, kind in self._kind_of.items():
            for other in members(self._beside[kind] & ~((2 << act) - 1)):
                if self._before[act] >> other & 1 or self._before[other] >> act & 1:
                    continue
                for first, second in ((act, other), (other, act)):
                    if self._seen_after[first] >> second & 1:
                        continue
                    if isinstance(self._ask((first, second)), Impossible):
                        self._before[first] |= 1 << second


def unlike_order(network: Network, order: Sequence[int]) -> tuple[int, ...] | None:
    """A permitted order that takes of what can come next what is last in ``order``.

    None if that leads to where nothing can come next: it never goes back.
    """
    after = transpose_closed(network.before)
    waiting = [earlier.bit_count() for earlier in network.before]
    place = {event: -at for at, event in enumerate(order)}
    ready = [(place[event], event) for event in order if not waiting[event]]
    heapify(ready)
    held: list[tuple[int, int]] = []
    left = [block.members for block in network.blocks]
    of_event: dict[int, list[int]] = defaultdict(list)
    for number, block in enumerate(network.blocks):
        for event in members(block.members):
            of_event[event].append(number)
    open_blocks: set[int] = set()
    made: list[int] = []
    while ready:
        rank, event = heappop(ready)
        if any(network.blocks[number].others >> event & 1 for number in open_blocks):
            held.append((rank, event))
            continue
        made.append(event)
        for number in of_event[event]:
            left[number] &= ~(1 << event)
            open_blocks.discard(number)
            if left[number]:
                open_blocks.add(number)
        for later in members(after[event]):
            waiting[later] -= 1
            if not waiting[later]:
                heappush(ready, (place[later], later))
        for one in held:
            heappush(ready, one)
        held = []
    return tuple(made) if len(made) == network.events else None


def _meet(one: _Kind, other: _Kind) -> bool:
    """Whether acts of the two kinds are done in one visit, and not in different times round."""
    if not one[0] & other[0] or one[1] != other[1]:
        return False
    rounds = dict(one[2])
    return all(rounds.get(place, number) == number for place, number in other[2])


# --- What moved ----------------------------------------------------------------------------------


def moved(
    common: Sequence[Pair], old: Orders, new: Orders
) -> tuple[tuple[Moved, ...], frozenset[int]]:
    """The steps that moved in effect, and the numbers in ``common`` of all whose order changed."""
    changed: dict[int, dict[int, Reordered]] = defaultdict(dict)
    for (a, one), (b, other) in combinations(enumerate(common), 2):
        was = old.relation(one.was.place, other.was.place)
        is_now = new.relation(one.is_now.place, other.is_now.place)
        if was is not is_now:
            changed[a][b] = Reordered(other, was, is_now)
            changed[b][a] = Reordered(one, _turned(was), _turned(is_now))
    found = [
        (step, Moved(common[step], tuple(to[other] for other in sorted(to))))
        for step, to in _fewest(changed, common)
    ]
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0])), frozenset(changed)


def moved_in_text(
    common: Sequence[Pair], of_old: Sequence[int], but: frozenset[int]
) -> tuple[Pair, ...]:
    """Of steps whose order is the same in effect, the fewest that were found to stand elsewhere.

    ``common`` is in the order of the new text; ``of_old``: which step of the old text each is;
    ``but``: numbers, in ``common``, of steps that are told otherwise.
    """
    changed: dict[int, dict[int, None]] = defaultdict(dict)
    for one, other in combinations(range(len(common)), 2):
        if of_old[one] > of_old[other] and one not in but and other not in but:
            changed[one][other] = changed[other][one] = None
    return tuple(common[step] for step, _ in sorted(_fewest(changed, common)))


def _turned(relation: Relation) -> Relation:
    return {Relation.BEFORE: Relation.AFTER, Relation.AFTER: Relation.BEFORE}.get(
        relation, relation
    )


def _fewest(
    changed: Mapping[int, Mapping[int, T]], common: Sequence[Pair]
) -> list[tuple[int, dict[int, T]]]:
    """Steps that together account for every changed pair, each pair once.

    The one with the most pairs first; of several, a choice that does not depend on which edition is
    the old one. (The fewest possible are a vertex cover, which is hard in general: this finds few.)
    """
    left = {step: dict(to) for step, to in changed.items()}
    found: list[tuple[int, dict[int, T]]] = []
    while any(left.values()):
        step = min(left, key=lambda one: (-len(left[one]), _name(common[one])))
        to = left.pop(step)
        for other in to:
            left[other].pop(step, None)
        found.append((step, to))
    return found


def _name(pair: Pair) -> tuple[object, ...]:
    lines = sorted((pair.was.place.line, pair.is_now.place.line))
    return (*sorted((pair.was.text, pair.is_now.text)), *lines)


# --- What is done in one go ----------------------------------------------------------------------


def come_between(common: Sequence[Pair], old: Orders, new: Orders) -> tuple[Between, ...]:
    """Where others can come between steps now, or no longer, that one edition does in one go."""
    found: list[Between] = []
    for can in (True, False):
        bound, free = (old, new) if can else (new, old)

        def at(pair: Pair, orders: Orders) -> Place:
            return (pair.was if orders is old else pair.is_now).place

        by_place = {at(pair, bound): pair for pair in common}
        in_both = set(_in_both(free, [at(pair, free) for pair in common]))
        for inside, others in bound.blocks(list(by_place)):
            together = [pair for pair in common if at(pair, bound) in inside]
            if frozenset(at(pair, free) for pair in together) in in_both:
                continue
            outside = [
                pair
                for pair in common
                if pair not in together and bound.acts(at(pair, bound)) & others
            ]
            entering = tuple(
                other
                for other in outside
                if any(
                    free.between(at(one, free), at(other, free), at(two, free))
                    for one in together
                    for two in together
                    if one is not two
                )
            )
            if entering:
                found.append(Between(tuple(together), entering, can))
    return tuple(dict.fromkeys(found))


def _in_both(orders: Orders, places: Sequence[Place]) -> Iterator[frozenset[Place]]:
    for inside, _ in orders.blocks(places):
        yield inside
