"""The least time between two moments, over all permitted orders and timings.

In one order the least time is the longest way through what has to come one after the other: the
partial order, the delays, and each person's tasks in sequence. (The simple temporal network of the
order: a deadline is kept by no timing exactly if the way is longer, a negative cycle; Dechter,
Meiri and Pearl, Temporal constraint networks, Artificial Intelligence 49, 1991; from memory.)

Over the orders it is searched for. An order is taken and its longest way looked at. Where all of it
is forced, no order does better. Otherwise every better order has to turn round one of the pairs of
the way that the order has only chosen, and each of them is tried, with those before it on the way
kept. Bounds cut off what cannot be better.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from protocol_lang.order.bits import members
from protocol_lang.order.partial import PartialOrder
from protocol_lang.order.runs import Meter, linearise
from protocol_lang.schedule.bounds import Bound, at_least
from protocol_lang.schedule.work import Work, longest, sequenced

#: Orders that are looked at before the answer is a bound.
MOST_ORDERS = 400
#: How often a block is put before or after something until an order is found.
MOST_TRIES = 100_000


@dataclass(frozen=True, slots=True)
class Least:
    """``order``: all tasks in an order that takes ``ticks``, with its longest ``way``.

    ``bound``: no order takes less, on account of ``why``; the answer is exact if they are equal.
    ``forced``: the bound is that of ``why``, found without a search. ``looked_at``: so many orders.
    """

    ticks: int
    order: tuple[int, ...]
    way: tuple[int, ...]
    bound: int
    why: Bound
    forced: bool
    looked_at: int

    @property
    def exact(self) -> bool:
        """Whether no order takes less than the one found."""
        return self.ticks == self.bound


def least(
    work: Work,
    source: int | None,
    target: int,
    enough: int | None = None,
    most: int = MOST_ORDERS,
) -> Least | None:
    """The least ticks from the end of ``source`` (None: the beginning) to the start of ``target``.

    ``target`` comes after ``source`` in the partial order of ``work``. ``enough``: the search ends
    when it is known that no order takes less than this. None: no order is permitted. Raises
    :class:`~protocol_lang.order.runs.OutOfBudgetError` if no order is found in reasonable time.
    """
    begun = work.order()
    why = at_least(work, begun, source, target)
    first = _Found.of(work, begun, source, target)
    if first is None:
        return None
    if first.ticks <= why.ticks or (enough is not None and why.ticks >= enough):
        return first.told(why.ticks, why, forced=True, looked_at=1)
    best, looked_at = first, 1
    queue = [(why.ticks, 0, begun, first)]
    while queue:
        bound, number, order, found = queue[0]
        if bound >= best.ticks or (enough is not None and bound >= enough):
            break
        heapq.heappop(queue)
        for branch in _turned(order, found):
            there = at_least(work, branch, source, target).ticks
            if max(there, bound) >= best.ticks:
                continue
            if looked_at >= most:
                heapq.heappush(queue, (bound, number, order, found))
                return best.told(queue[0][0], why, forced=False, looked_at=looked_at)
            looked_at += 1
            came = _Found.of(work, branch, source, target)
            if came is not None:
                best = min(best, came, key=lambda one: one.ticks)
                heapq.heappush(queue, (max(there, bound), looked_at, branch, came))
    bound = min(best.ticks, queue[0][0]) if queue else best.ticks
    return best.told(bound, why, forced=False, looked_at=looked_at)


def _turned(order: PartialOrder, found: _Found) -> Iterator[PartialOrder]:
    """What better orders have to do: one of the chosen pairs of the way is turned round, and those
    before it on the way are kept."""
    kept = order
    for one, other in found.chosen:
        turned = kept.copy()
        if turned.precede(other, one):
            yield turned
        kept = kept.copy()
        if not kept.precede(one, other):
            return


@dataclass(frozen=True, slots=True)
class _Found:
    """An order, its longest way, and the pairs of the way that only the order chosen makes so."""

    ticks: int
    order: tuple[int, ...]
    way: tuple[int, ...]
    chosen: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, work: Work, order: PartialOrder, source: int | None, target: int) -> _Found | None:
        run = _run(work, order, source, target)
        if run is None:
            return None
        before = sequenced(work, run)
        ticks, way = longest(work, before, run, source, target)
        chosen = tuple(
            (one, other)
            for one, other in pairwise(_without_idle(work, way))
            if not order.before[other] >> one & 1
        )
        return cls(ticks, run, tuple(way), chosen)

    def told(self, bound: int, why: Bound, forced: bool, looked_at: int) -> Least:
        return Least(self.ticks, self.order, self.way, bound, why, forced, looked_at)


def _run(
    work: Work, order: PartialOrder, source: int | None, target: int
) -> tuple[int, ...] | None:
    """A permitted order, a good one if that is easy to find: what need not come between the two
    moments comes before or after; and what others wait for longest comes first."""
    run = _with_taste(work, order, source, target)
    if run is not None:
        return run
    return linearise(order, Meter(MOST_TRIES))


def _without_idle(work: Work, way: list[int]) -> list[int]:
    """The way without tasks that take no time between two of the same person: these two come in
    their order by themselves."""
    kept: list[int] = []
    for task, later in zip(way, [*way[1:], None], strict=True):
        if kept and later is not None and not work.lengths[task]:
            earlier = kept[-1]
            mine = work.who[task] is not None
            alike = work.who[earlier] == work.who[task] == work.who[later]
            delayed = (earlier, task) in work.delays or (task, later) in work.delays
            if mine and alike and not delayed:
                continue
        kept.append(task)
    return kept


def _with_taste(
    work: Work, order: PartialOrder, source: int | None, target: int
) -> tuple[int, ...] | None:
    tails = _plain_tails(work, order, target)
    wanted = order.before[target] | 1 << target
    ready = [0] * len(work.lengths)
    ends = [0] * len(work.lengths)
    free: dict[int, int] = {}
    done = 0
    #: Each task that cannot come yet, under one of those that it waits for.
    watching: dict[int, list[int]] = {}
    able: list[int] = []

    def look_at(task: int) -> None:
        missing = order.before[task] & ~done
        if missing:
            watching.setdefault(missing.bit_length() - 1, []).append(task)
            return
        able.append(task)
        for one in members(work.given[task]):
            ready[task] = max(ready[task], ends[one] + work.delays.get((one, task), 0))

    for task in range(len(work.lengths)):
        look_at(task)
    run: list[int] = []
    while able:
        forbidden = 0
        for block in order.blocks:
            if block.members & done and block.members & ~done:
                forbidden |= block.others
        best: tuple[tuple[int, ...], int, int] | None = None
        for task in able:
            if forbidden >> task & 1:
                continue
            person = work.who[task]
            start = ready[task] if person is None else max(ready[task], free.get(person, 0))
            tail = -tails.get(task, -1)
            rank: tuple[int, ...]
            if source is None:
                rank = (start, tail, task)
            elif not done >> source & 1:
                rank = (int(task == source), int(bool(wanted >> task & 1)), task)
            else:
                rank = (int(not wanted >> task & 1), start, tail, task)
            if best is None or rank < best[0]:
                best = (rank, task, start)
        if best is None:
            return None
        _, task, start = best
        able.remove(task)
        run.append(task)
        done |= 1 << task
        ends[task] = start + work.lengths[task]
        person = work.who[task]
        if person is not None:
            free[person] = ends[task]
        for later in watching.pop(task, ()):
            look_at(later)
    return tuple(run)


def _plain_tails(work: Work, order: PartialOrder, target: int) -> dict[int, int]:
    """The longest chain from the start of each task that takes time to the target."""
    tails: dict[int, int] = {}
    counting = order.before[target] & work.counts
    for task in sorted(members(counting), key=lambda one: -order.before[one].bit_count()):
        best = work.delays.get((task, target), 0)
        for one in members(order.after[task] & counting):
            best = max(best, work.delays.get((task, one), 0) + tails[one])
        tails[task] = work.lengths[task] + best
    return tails
