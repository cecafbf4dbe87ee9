"""What surely takes so long, whatever order is chosen.

Two reasons: a chain of tasks each of which has to end before the next, and one person's tasks that
all have to be done in between, since nobody does two things at once. Both hold in every permitted
order, so the greater of them is a bound from below; it may be less than what is possible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from protocol_lang.order.bits import members
from protocol_lang.order.partial import PartialOrder
from protocol_lang.schedule.work import Work


@dataclass(frozen=True, slots=True)
class Bound:
    """At least so many ticks, on account of these tasks: a chain, or the load of one person."""

    ticks: int
    tasks: tuple[int, ...]
    load: bool


def at_least(work: Work, order: PartialOrder, source: int | None, target: int) -> Bound:
    """The greatest bound that chains and loads give for the time from the end of ``source`` (None:
    from the beginning) to the start of ``target``, in every order that extends ``order``."""
    between = order.before[target]
    if source is not None:
        between &= order.after[source]
    between &= work.counts
    tasks = sorted(members(between), key=lambda task: order.before[task].bit_count())
    hands = work.who
    heads, reasons = _heads(work, order, tasks, hands, source)
    tails = _tails(work, order, tasks, hands, target)
    best = _to(work, order, heads, reasons, tasks, hands, source, target)
    loads: dict[int, list[int]] = {}
    for task in tasks:
        if (person := hands[task]) is not None and work.lengths[task]:
            loads.setdefault(person, []).append(task)
    for mine in loads.values():
        ticks, used = _load(work, heads, tails, mine)
        if ticks > best.ticks:
            best = Bound(ticks, used, load=True)
    return best


Reason = tuple[tuple[int, ...], bool]


def _heads(
    work: Work,
    order: PartialOrder,
    tasks: Sequence[int],
    hands: Sequence[int | None],
    source: int | None,
) -> tuple[dict[int, int], dict[int, Reason]]:
    """The least time from the source to the start of each task between, and why."""
    heads: dict[int, int] = {}
    reasons: dict[int, Reason] = {}
    for task in tasks:
        bound = _to(work, order, heads, reasons, tasks, hands, source, task)
        heads[task] = bound.ticks
        reasons[task] = (bound.tasks, bound.load)
    return heads, reasons


def _to(
    work: Work,
    order: PartialOrder,
    heads: dict[int, int],
    reasons: dict[int, Reason],
    tasks: Sequence[int],
    hands: Sequence[int | None],
    source: int | None,
    task: int,
) -> Bound:
    """The bound for one task, once those before it have theirs."""
    best, why = 0, ((), False)  # type: tuple[int, Reason]
    if source is not None and order.before[task] >> source & 1:
        best = work.delays.get((source, task), 0)
    loads: dict[int, list[int]] = {}
    earlier = order.before[task]
    for one in tasks:
        if one not in heads:
            break
        if not earlier >> one & 1:
            continue
        value = heads[one] + work.lengths[one] + work.delays.get((one, task), 0)
        if value > best:
            known, load = reasons[one]
            best, why = value, ((*known, one), load)
        if (person := hands[one]) is not None and work.lengths[one]:
            loads.setdefault(person, []).append(one)
    for mine in loads.values():
        if len(mine) < 2:
            continue
        end = 0
        used: list[int] = []
        for one in sorted(mine, key=heads.__getitem__):
            if heads[one] > end:
                end, used = heads[one], list(reasons[one][0])
            end += work.lengths[one]
            used.append(one)
        if end > best:
            best, why = end, (tuple(used), True)
    return Bound(best, why[0], why[1])


def _tails(
    work: Work,
    order: PartialOrder,
    tasks: Sequence[int],
    hands: Sequence[int | None],
    target: int,
) -> dict[int, int]:
    """The least time from the end of each task between to the start of the target."""
    tails: dict[int, int] = {}
    for task in reversed(tasks):
        best = work.delays.get((task, target), 0)
        loads: dict[int, list[int]] = {}
        later = order.after[task]
        for one in tails:
            if not later >> one & 1:
                continue
            value = work.delays.get((task, one), 0) + work.lengths[one] + tails[one]
            best = max(best, value)
            if (person := hands[one]) is not None and work.lengths[one]:
                loads.setdefault(person, []).append(one)
        for mine in loads.values():
            end = 0
            for one in sorted(mine, key=tails.__getitem__):
                end = max(end, tails[one]) + work.lengths[one]
            best = max(best, end)
        tails[task] = best
    return tails


def _load(
    work: Work, heads: dict[int, int], tails: dict[int, int], mine: list[int]
) -> tuple[int, tuple[int, ...]]:
    """One person's tasks: the greatest, over heads and tails from some value on, of least head,
    all lengths and least tail together."""
    best, used = 0, ()  # type: tuple[int, tuple[int, ...]]
    for tail in sorted({tails[one] for one in mine}):
        inside = [one for one in mine if tails[one] >= tail]
        inside.sort(key=heads.__getitem__, reverse=True)
        total = 0
        for number, one in enumerate(inside, start=1):
            total += work.lengths[one]
            ticks = heads[one] + total + tail
            if ticks > best:
                best, used = ticks, tuple(inside[:number])
    return best, used
