"""How many reusable things a day needs, so that none is used before it is back."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from protocol_lang.stock.asked import Numbers, clock
from protocol_lang.stock.cycle import (
    DAY,
    DAYS_LOOKED_AT,
    Timetable,
    keeps_up,
    overlapping,
    run,
    timetable,
)
from protocol_lang.stock.faults import CannotCount
from protocol_lang.stock.mix import Weighed
from protocol_lang.supplied import Cycling, Load, Unit

#: So many days of a mix are drawn, always the same ones.
DAYS_DRAWN = 1_000

#: Stands for all other things that are treated together with the one that is asked about.
_OTHERS = ""


@dataclass(frozen=True, slots=True)
class Reusable:
    """What is given to be treated: to whom (None: nobody says), how many a visit takes at most."""

    thing: str
    unit: Unit
    to: str | None
    most: int


@dataclass(frozen=True, slots=True)
class Needed:
    """How many of each thing, and the loads of the first day of visits that take the most."""

    cycling: tuple[Cycling, ...]
    loads: tuple[Load, ...]


def needed(
    numbers: Numbers, back: Sequence[Reusable], at_once: int, mix: Sequence[Weighed]
) -> Needed:
    """How many of each are needed. ``at_once``: of all of them together one visit takes at most.

    Raises :class:`CannotCount` where one load begins before the last one has ended, and where the
    visits or a load do not fit into a day.
    """
    if numbers.visits.most * numbers.every > DAY:
        raise CannotCount(
            f"{numbers.visits.most} visits of {numbers.every} minutes each do not fit into a day. "
            "Tell another time with --every, or fewer visits with --visits."
        )
    table = _table(numbers, numbers.visits.most)
    if not table.loads:
        raise CannotCount(
            f"No load fits into a day: it takes {numbers.cycle} minutes, and the first one begins "
            f"{numbers.between} minutes after opening. Tell other times with --loads or --cycle."
        )
    clash = overlapping(table)
    if clash is not None:
        first, second = map(clock, clash)
        raise CannotCount(
            f"The load that begins at {second} begins before the one of {first} has ended: a load "
            f"takes {numbers.cycle} minutes. Tell other times with --loads, or another time with "
            "--cycle."
        )
    drawn = _drawn(numbers, back, mix)
    found = tuple(_of_one(numbers, table, one, at_once, drawn.get(one.thing)) for one in back)
    visits = [{_OTHERS: at_once}] * len(table.visits)
    loads = run(table, [visits]).loads
    return Needed(found, loads)


def _table(numbers: Numbers, visits: int) -> Timetable:
    return timetable(
        visits, numbers.every, numbers.opens, numbers.loads, numbers.between, numbers.cycle,
        numbers.places,
    )  # fmt: skip


def _of_one(
    numbers: Numbers, table: Timetable, one: Reusable, at_once: int, mixed: int | None
) -> Cycling:
    """Each visit takes the most of this thing, and as much else as any visit can that takes less of
    it; what else it takes goes before it into the box, and so into a load. Nothing can be later."""
    take = {_OTHERS: at_once - one.most, one.thing: one.most}
    visits = [take] * len(table.visits)
    if not keeps_up(table, visits):
        return Cycling(one.thing, one.unit, one.to, one.most, None, None, mixed, None)
    days = [visits] * DAYS_LOOKED_AT
    whole = run(table, days)
    least, at = whole.most.get(one.thing, (0, 0))
    of_two_days = sum(load.start < 2 * DAY for load in whole.loads)
    fails = [
        run(table, days, fails=number).most.get(one.thing, (0, 0))[0]
        for number in range(of_two_days)
    ]
    worst = max(fails, default=least)
    return Cycling(one.thing, one.unit, one.to, one.most, least, worst, mixed, at % DAY)


def _drawn(
    numbers: Numbers, back: Sequence[Reusable], mix: Sequence[Weighed]
) -> Mapping[str, int | None]:
    """How many of each thing are enough in that part of the days of a mix which is asked for.

    Days are drawn, the number of visits as well, and gone through one after the other.
    """
    if not mix:
        return {}
    draw = random.Random(1)
    weights = [float(one.part) for one in mix]
    days = []
    for _ in range(DAYS_DRAWN):
        many = draw.randint(numbers.visits.least, numbers.visits.most)
        days.append([one.back for one in draw.choices(mix, weights, k=many)])
    table = _table(numbers, numbers.visits.most)
    found = run(table, days)
    of_mix = sum((one.part * sum(one.back.values()) for one in mix), Fraction())
    mean = of_mix * (numbers.visits.least + numbers.visits.most) / 2
    if mean > table.places * len(table.loads):
        return dict.fromkeys((one.thing for one in back), None)
    rank = ceil(numbers.service / 100 * DAYS_DRAWN) - 1
    return {one.thing: sorted(day.get(one.thing, 0) for day in found.by_day)[rank] for one in back}
