"""Days of a steriliser: against a clock that goes minute by minute with so many things and no more.

The clock shares nothing with the program: it has a store that can be empty, and the least number
is found by trying one after the other.
"""

from __future__ import annotations

import random
from dataclasses import replace
from math import ceil

import pytest

from protocol_lang.stock.cycle import DAY, Timetable, keeps_up, overlapping, run, timetable

THING = "holder"


def enough(table: Timetable, takes: list[list[int]], stock: int, fails: int | None = None) -> bool:
    """Whether no visit finds too few, going through the minutes of all days one by one."""
    store, box = stock, 0
    machine: list[tuple[int, int, bool]] = []  # when a load ends, its pieces, whether it is reached
    begun: list[tuple[int, int]] = []
    loads = 0
    for minute in range(DAY * len(takes)):
        day, clock = divmod(minute, DAY)
        for end, number, done in machine:
            if end == minute and done:
                store += number
            if end == minute and not done:
                box += number
        for end, number in begun:
            if end == minute:
                box += number
        if clock in table.loads:
            number = min(box, table.places)
            if number:
                machine.append((minute + table.load, number, loads != fails))
                box -= number
                loads += 1
        for number, begins in zip(takes[day], table.visits, strict=False):
            if begins == clock:
                if number > store:
                    return False
                store -= number
                begun.append((minute + table.visit, number))
    return True


def least(table: Timetable, takes: list[list[int]], fails: int | None = None) -> int:
    """The least number that is enough, by trying."""
    return next(n for n in range(1_000) if enough(table, takes, n, fails))


def told(table: Timetable, takes: list[list[int]], fails: int | None = None) -> int:
    days = [[{THING: number} for number in day] for day in takes]
    return run(table, days, fails).most.get(THING, (0, 0))[0]


def drawn(draw: random.Random) -> tuple[Timetable, list[list[int]]]:
    """A small clinic: visits every quarter of an hour or more, loads that may be full."""
    visits, every = draw.randint(1, 8), draw.choice((15, 20, 30, 45))
    load = draw.choice((40, 60, 75))
    if draw.random() < 0.5:
        table = timetable(
            visits, every, 480, (), draw.choice((75, 90, 120)), load, draw.randint(4, 9)
        )
    else:
        times = [540]
        while len(times) < draw.randint(1, 3):
            times.append(times[-1] + draw.choice((75, 90, 120)))
        table = timetable(visits, every, 480, times, 0, load, draw.randint(4, 9))
    takes = [[draw.randint(0, 3) for _ in range(visits)] for _ in range(draw.randint(1, 2))]
    return table, takes


@pytest.mark.parametrize("seed", range(40))
def test_the_least_number_is_the_one_found_by_trying(seed: int):
    table, takes = drawn(random.Random(seed))
    assert told(table, takes) == least(table, takes)


@pytest.mark.parametrize("seed", range(100, 115))
def test_the_same_where_a_load_has_to_be_treated_again(seed: int):
    draw = random.Random(seed)
    table, takes = drawn(draw)
    fails = draw.randint(0, 2)
    assert told(table, takes, fails) == least(table, takes, fails)


def test_a_day_by_hand():
    """Visits of half an hour from 8:00, each with one holder; loads at 10:00 and every two hours,
    back after 75 minutes. At 10:00 the four of 8:00 to 9:30 go in, and are back at 11:15. So at
    11:00 the seventh visit takes the seventh."""
    table = timetable(12, 30, 480, (), 120, 75, 12)
    found = run(table, [[{THING: 1}] * 12])
    assert found.most == {THING: (7, 11 * 60)}
    first = found.loads[0]
    assert (first.start, first.end, first.pieces, first.left) == (600, 675, 4, 0)
    assert [one.pieces for one in found.loads] == [4, 4, 4]
    assert found.left == 0


def test_a_full_load_leaves_the_rest_waiting():
    table = timetable(12, 30, 480, (), 120, 75, 3)
    found = run(table, [[{THING: 1}] * 12])
    assert [one.pieces for one in found.loads] == [3, 3, 3, 3]
    assert [one.left for one in found.loads] == [1, 2, 3, 0]


@pytest.mark.parametrize("seed", range(200, 230))
def test_the_law_of_little(seed: int):
    """J. D. C. Little, A Proof for the Queuing Formula L = lambda W, Operations Research 9, 1961:
    how many are out on average is how many go out in a unit of time, times how long each is out.
    The most that are out at once are at least as many."""
    table, takes = drawn(random.Random(seed))
    takes = takes[:1]
    days = [[{THING: number} for number in takes[0]], *([[]] * 6)]
    found = run(table, days)
    assert found.left == 0
    out: list[int] = []  # how long each is out: pieces come back in the order in which they went
    went = [
        begins
        for begins, number in zip(table.visits, takes[0], strict=False)
        for _ in range(number)
    ]
    back = [load.end for load in found.loads for _ in range(load.pieces)]
    assert len(went) == len(back)
    out = [end - start for start, end in zip(went, back, strict=True)]
    if not went:
        return
    span = max(back) - min(went)
    on_average = len(went) / span * (sum(out) / len(out))
    assert ceil(on_average - 1e-9) <= found.most[THING][0]


def test_more_are_never_back_earlier():
    """What else is treated only makes things later: so the day in which every visit brings the
    most is the worst, whatever the order of the visits."""
    draw = random.Random(7)
    for _ in range(40):
        table, takes = drawn(draw)
        alone = [[{THING: number} for number in day] for day in takes]
        crowded = [
            [{"other": draw.randint(0, 2), THING: number} for number in day] for day in takes
        ]
        assert (
            run(table, alone).most.get(THING, (0, 0))[0]
            <= (run(table, crowded).most.get(THING, (0, 0))[0])
        )


def test_a_later_day_is_no_worse_than_the_second():
    """As long as a day's loads have room for what a day uses."""
    draw = random.Random(11)
    looked_at = 0
    while looked_at < 30:
        table, takes = drawn(draw)
        day = [{THING: number} for number in takes[0]]
        if not keeps_up(table, day):
            continue
        looked_at += 1
        days = run(table, [day] * 6).by_day
        peaks = [one.get(THING, 0) for one in days]
        assert peaks[0] <= peaks[1] and set(peaks[1:]) == {peaks[1]}


def test_what_was_not_reached_goes_in_again_before_all_else():
    """Two of one kind go in at 10:00 and are not reached; at 12:00 there is room for two again, and
    these are they: what the visits of 10:00 brought waits."""
    table = timetable(4, 60, 480, (600, 720, 840, 960), 0, 75, 2)
    day = [{"first": 1}, {"first": 1}, {"second": 1}, {"first": 1, "second": 1}]
    found = run(table, [day], fails=0)
    assert [(one.start, one.pieces, one.left) for one in found.loads] == [
        (600, 2, 0),
        (720, 2, 3),
        (840, 2, 1),
        (960, 1, 0),
    ]
    out = run(replace(table, visits=(480, 540, 600, 800)), [day], fails=0)
    # At 13:20 the second load has ended with both of the first kind; the second kind is out.
    assert out.most["first"] == (2, 540)
    assert out.most["second"] == (2, 800)


def test_loads_that_would_overlap_are_seen():
    table = timetable(4, 30, 480, (600, 660), 0, 75, 6)
    assert overlapping(table) == (600, 660)
    assert overlapping(replace(table, loads=(600, 675))) is None
    assert overlapping(timetable(4, 30, 480, (30, 1_420), 0, 75, 6)) == (1_420, 30)


def test_loads_too_small_for_a_day_are_seen():
    table = timetable(12, 30, 480, (720,), 0, 75, 6)
    assert not keeps_up(table, [{THING: 1}] * 12)
    assert keeps_up(table, [{THING: 1}] * 6)
