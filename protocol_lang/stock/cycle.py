"""Days of a steriliser, one event after the other: when what is used is back, and how many are out.

Visits begin one after the other; each takes what it needs as it begins and gives it into the box as
it ends. A load begins at its time, takes what has waited longest, as much as there are places, and
is back in the store when it ends. At one moment first loads end, then visits end, then loads begin,
then visits begin. What waits in the evening waits for the loads of the next day.

Nothing of this depends on how many there are, as long as there are enough. So as many are needed as
are out at once at most: with one fewer, the visit that takes the last of them finds too few.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from heapq import heapify, heappop, heappush

from protocol_lang.supplied import Load

DAY = 24 * 60

#: After so many days a day is like the one before: what is left over has come to its most.
DAYS_LOOKED_AT = 4


class _What(IntEnum):
    """Events of one moment, in the order in which they happen."""

    LOAD_ENDS = 0
    VISIT_ENDS = 1
    LOAD_BEGINS = 2
    VISIT_BEGINS = 3


@dataclass(frozen=True, slots=True)
class Timetable:
    """When visits and loads begin, in minutes after midnight, how long each takes, and how many
    pieces a load has room for."""

    visits: tuple[int, ...]
    visit: int
    loads: tuple[int, ...]
    load: int
    places: int


@dataclass(frozen=True, slots=True)
class Run:
    """What happened. ``most``: by thing, how many were out at once, and when that was first so;
    ``by_day``: the first of these for each day. ``left``: what waits at the end."""

    most: Mapping[str, tuple[int, int]]
    by_day: tuple[Mapping[str, int], ...]
    loads: tuple[Load, ...]
    left: int


def timetable(
    visits: int, every: int, opens: int, loads: Sequence[int], between: int, load: int, places: int
) -> Timetable:
    """The times of a day. Where no loads are named, they begin ``between`` minutes after opening
    and so on, for as long as the last of them ends before the next opening."""
    times = tuple(opens + number * every for number in range(visits))
    if not loads:
        loads = range(opens + between, opens + DAY - load + 1, between)
    return Timetable(times, every, tuple(loads), load, places)


def overlapping(table: Timetable) -> tuple[int, int] | None:
    """Two loads that follow each other, of which the second begins before the first has ended."""
    if not table.loads:
        return None
    following = (*table.loads[1:], table.loads[0] + DAY)
    for first, second in zip(table.loads, following, strict=True):
        if second - first < table.load:
            return first, second % DAY
    return None


def run(
    table: Timetable, days: Iterable[Sequence[Mapping[str, int]]], fails: int | None = None
) -> Run:
    """Goes through days; of each, what its visits take, by thing, in order.

    ``fails``: the number, from 0, of a load that is not reached: what is in it waits again, before
    all else.
    """
    events: list[tuple[int, _What, int]] = []
    takes: list[Mapping[str, int]] = []
    number_of_days = 0
    for day, visits in enumerate(days):
        number_of_days += 1
        for begins, take in zip(table.visits, visits, strict=False):
            events.append((day * DAY + begins, _What.VISIT_BEGINS, len(takes)))
            takes.append(take)
        events += [(day * DAY + begins, _What.LOAD_BEGINS, 0) for begins in table.loads]
    heapify(events)
    waiting: deque[str] = deque()
    inside: list[tuple[str, ...]] = []
    loads: list[Load] = []
    out: Counter[str] = Counter()
    most: dict[str, tuple[int, int]] = {}
    by_day: list[dict[str, int]] = [{} for _ in range(number_of_days)]
    while events:
        now, what, number = heappop(events)
        match what:
            case _What.VISIT_BEGINS:
                out.update(takes[number])
                heappush(events, (now + table.visit, _What.VISIT_ENDS, number))
                peaks = by_day[min(now // DAY, number_of_days - 1)]
                for thing in takes[number]:
                    peaks[thing] = max(peaks.get(thing, 0), out[thing])
                    if out[thing] > most.get(thing, (0, 0))[0]:
                        most[thing] = (out[thing], now)
            case _What.VISIT_ENDS:
                for thing, many in takes[number].items():
                    waiting.extend([thing] * many)
            case _What.LOAD_BEGINS:
                taken = tuple(waiting.popleft() for _ in range(min(table.places, len(waiting))))
                if taken:
                    heappush(events, (now + table.load, _What.LOAD_ENDS, len(inside)))
                    inside.append(taken)
                    loads.append(Load(now, now + table.load, len(taken), len(waiting)))
            case _What.LOAD_ENDS:
                if number == fails:
                    waiting.extendleft(reversed(inside[number]))
                else:
                    out.subtract(inside[number])
    return Run(most, tuple(by_day), tuple(loads), len(waiting))


def keeps_up(table: Timetable, visits: Sequence[Mapping[str, int]]) -> bool:
    """Whether the loads of a day have room for what its visits use."""
    pieces = sum(sum(take.values()) for take in visits[: len(table.visits)])
    return pieces <= table.places * len(table.loads)
