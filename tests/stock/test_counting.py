"""What a visit takes and throws away: against the text read by hand, and by laws that must hold."""

from __future__ import annotations

import random
from collections import Counter
from itertools import product
from pathlib import Path

import pytest

from protocol_lang.contamination.unfold import Unfolded, unfold
from protocol_lang.contamination.unfold.spelling import spell_out
from protocol_lang.stock import counting
from protocol_lang.stock.counting import used_in
from protocol_lang.stock.ranges import HOW_MANY, counted
from protocol_lang.stock.turns import parts_of
from protocol_lang.supplied import Range, Unit
from tests.stock import by_text
from tests.stock.kit import (
    DAY,
    HOLDERS,
    PANORAMIC,
    PLATES_DAY,
    SENSOR,
    SERIES,
    TURNOVER,
    counts_of,
    protocol_of,
    small,
    taken,
)


def test_every_combination_of_a_visit_is_what_its_lines_say():
    lines = by_text.lines_of(SENSOR.read_text("utf-8"))
    (visit,) = counts_of(SENSOR)
    for staffing, shielding in product(("alone", "paired"), ("none", "collar")):
        choices = {"staffing": staffing, "shielding": shielding}
        assert taken(visit, **choices) == [by_text.counted(lines, choices)]


def test_rounds_are_counted_as_often_as_they_are_done():
    """All 320 ways of a series of up to 20 images, with the turnover that follows it."""
    lines = [
        line for path in (SERIES, TURNOVER) for line in by_text.lines_of(path.read_text("utf-8"))
    ]
    (visit,) = counts_of(SERIES)
    assert len(visit.ways) == 320
    for way in visit.ways:
        (example,) = way.choices
        choices = {name: value for name, value in example.items() if not name.startswith(HOW_MANY)}
        rounds = int(example[f"{HOW_MANY}exposure"])
        assert Counter(way.used.taken) == by_text.counted(lines, choices, rounds)


def test_what_the_pencil_counts_is_not_nothing():
    lines = by_text.lines_of(SENSOR.read_text("utf-8"))
    by_hand = {
        "holder": 1, "gloves": 3, "wrap": 3, "film cover": 2, "bag": 1, "tray paper": 1,
        "sleeve": 1, "wipe": 9,
    }  # fmt: skip
    assert by_text.counted(lines, {"staffing": "alone", "shielding": "collar"}) == by_hand


@pytest.mark.parametrize("path", [DAY, PLATES_DAY, PANORAMIC, SENSOR], ids=lambda one: one.stem)
def test_as_many_are_thrown_away_as_are_taken(path: Path):
    """A visit ends with the covers with which it began, and with no single-use piece left over
    (rules 12 and 13): of each thing as many leave as are taken, in every way."""
    for one in counts_of(path):
        if one.part.overlapping:
            continue
        for way in one.ways:
            leaves: Counter[str] = Counter()
            for gone in (way.used.gone, way.used.gone_each):
                for (thing, _), number in gone.items():
                    leaves[thing] += number
            assert leaves == Counter(way.used.taken) + Counter(way.used.each)


@pytest.mark.parametrize("path", [SENSOR, HOLDERS, PANORAMIC], ids=lambda one: one.stem)
def test_another_permitted_order_throws_away_as_much(path: Path, monkeypatch):
    unfolded = unfold(protocol_of(path))
    assert isinstance(unfolded, Unfolded)
    usual = used_in(unfolded)
    for seed in range(3):
        draw = random.Random(seed)
        monkeypatch.setattr(counting, "one_order", lambda plan, draw=draw: any_order(plan, draw))
        assert used_in(unfolded) == usual


def any_order(plan, draw) -> list[int]:
    """Acts in an order drawn from those that the pairs permit; what is in one go stays together
    enough, since only whoever holds something throws it away."""
    before: dict[int, set[int]] = {number: set() for number in range(len(plan.acts))}
    for first, second in plan.order:
        before[second].add(first)
    left = dict(before)
    last = len(plan.acts) - 1
    found: list[int] = []
    while len(found) < last:
        ready = [act for act, needs in left.items() if act != last and needs <= set(found)]
        act = draw.choice(ready)
        del left[act]
        found.append(act)
    return [*found, last]


def test_each_permitted_order_is_one():
    unfolded = unfold(protocol_of(SENSOR))
    assert isinstance(unfolded, Unfolded)
    order = counting.one_order(unfolded.plan)
    assert sorted(order) == list(range(len(unfolded.plan.acts)))
    at = {act: number for number, act in enumerate(order)}
    assert all(at[first] < at[second] for first, second in unfolded.plan.order)


# --- Small texts, counted by hand ---


def one_of(path: Path):
    (part,) = parts_of(protocol_of(path))
    return counted(part, {}, {})


def test_streams_are_those_of_the_thing_unless_the_step_says_another(tmp_path):
    text = """phase "Visit"
  [ ] patient comes in
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator puts on mask
  [ ] operator disinfects shelf with a new wipe
  [ ] operator takes off gloves
  [ ] operator cleans hands
  [ ] operator takes off mask by the ties
  [ ] operator cleans hands
"""
    turn = one_of(small(tmp_path, text)).turn
    assert [(one.thing, one.unit, one.number) for one in turn.used] == [
        ("gloves", Unit.PAIR, Range(1, 1)),
        ("mask", Unit.PIECE, Range(1, 1)),
        ("wipe", Unit.PIECE, Range(1, 1)),
    ]
    assert [(one.stream, one.number, one.things) for one in turn.waste] == [
        ("clinical waste", Range(2, 2), ("gloves", "wipe")),
        ("general waste", Range(1, 1), ("mask",)),
    ]
    assert turn.patient and not turn.back and not turn.mishaps


def test_a_stream_that_a_step_names_comes_before_that_of_the_thing(tmp_path):
    text = """phase "Visit"
  [ ] operator cleans hands
  [ ] operator takes mask
  [ ] operator throws mask into clinical waste
  [ ] operator puts on mask
  [ ] operator takes off mask by the ties
"""
    turn = one_of(small(tmp_path, text)).turn
    assert [(one.stream, one.number) for one in turn.waste] == [
        ("clinical waste", Range(1, 1)),
        ("general waste", Range(1, 1)),
    ]


def test_the_same_wipe_is_counted_once(tmp_path):
    text = """phase "Visit"
  [ ] operator cleans shelf with a new wipe
  [ ] operator disinfects shelf with the same wipe
"""
    path = small(tmp_path, text)
    spelt = spell_out(protocol_of(path))
    assert not spelt.findings
    turn = one_of(path).turn
    assert [(one.thing, one.number) for one in turn.used] == [("wipe", Range(1, 1))]
    assert not turn.patient


def test_ways_repetitions_and_what_may_be_left_out(tmp_path):
    """Either one wipe or two; then up to three times another; and perhaps one more."""
    text = """phase "Visit"
  either
    [ ] operator cleans shelf with a new wipe
  or
    [ ] operator cleans shelf with a new wipe
    [ ] operator disinfects shelf with a new wipe
  for each stain, 1 to 3
    [ ] operator cleans shelf with a new wipe
  may be left out
    [ ] operator cleans shelf with a new wipe
"""
    (wipe,) = one_of(small(tmp_path, text)).turn.used
    assert wipe.number == Range(2, 6)
    by = {one.choice.split(" at ")[0]: [number for _, number in one.values] for one in wipe.by}
    assert by["stain"] == [Range(2, 4), Range(3, 5), Range(4, 6)]
    assert by["way"] == [Range(2, 5), Range(3, 6)]


def test_a_mishap_is_counted_apart(tmp_path):
    text = """can happen in "Visit"
  glove torn, right after clean
    [ ] operator tears gloves
    [ ] operator changes gloves

phase "Visit"
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] clean: operator cleans shelf with a new wipe
  [ ] operator takes off gloves
  [ ] operator cleans hands
"""
    turn = one_of(small(tmp_path, text)).turn
    assert [(one.thing, one.number) for one in turn.used] == [
        ("gloves", Range(1, 1)),
        ("wipe", Range(1, 1)),
    ]
    (more,) = turn.mishaps
    assert more.mishap == "glove torn"
    assert [(one.thing, one.number) for one in more.counts] == [("gloves", Range(1, 1))]


def test_mishaps_of_a_series_as_its_lines_say():
    """Read in the text: gagging takes a wrap, gloves and two wipes for the cone; a sensor that is
    let fall takes a holder, two pairs of gloves, tray paper, a sleeve and two wipes if it falls to
    the floor, nothing if not."""
    (visit,) = counts_of(SERIES)
    told = {
        more.mishap: {one.thing: one.number for one in more.counts} for more in visit.turn.mishaps
    }
    floor = {
        "holder": Range(0, 1), "gloves": Range(0, 2), "tray paper": Range(0, 1),
        "sleeve": Range(0, 1), "wipe": Range(0, 2),
    }  # fmt: skip
    assert told["sensor dropped"] == floor
    assert told["sleeve found torn"] == {}
    assert told["glove torn"]["gloves"].most == 1
    assert {"wrap", "gloves", "wipe"} == set(told["patient gags"])
    assert told["patient gags"]["wipe"].most == 2


def test_what_patients_bring_along_is_no_supply():
    (visit,) = counts_of(PANORAMIC)
    assert visit.turn.own == ("earrings", "glasses", "denture")
    assert not {one.thing for one in visit.turn.used} & set(visit.turn.own)
    assert "own tray" in {one.thing for one in visit.turn.used}  # from a box of the room


def test_one_thing_that_stands_for_all_takes_its_pack_once_for_each():
    (loads,) = counts_of(HOLDERS)
    assert {one.thing for one in loads.turn.each} == {"pouch", "indicator", "cloth"}
    once = {one.thing: one.number for one in loads.turn.used}
    assert once["mask"] == Range(1, 1) and once["gloves"] == Range(1, 3)
    calm = loads.with_values({})
    assert {way.used.each["pouch"] for way in calm} == {1}
    # Box and side are cleaned and disinfected, two surfaces each, gloves disinfected once or twice.
    assert {way.used.taken["cloth"] for way in calm} == {5, 6}


def test_what_comes_back_is_no_waste():
    (visit,) = counts_of(SENSOR)
    ((count, to),) = visit.turn.back
    assert (count.thing, count.number, to) == ("holder", Range(1, 1), "Holders and bite blocks")
    assert all("holder" not in one.things for one in visit.turn.waste)
    (panoramic,) = counts_of(PANORAMIC)
    assert [(count.thing, to) for count, to in panoramic.turn.back] == [("metal block", None)]


def test_a_day_is_taken_apart():
    day = counts_of(PLATES_DAY)
    alone = {one.part.title: one.turn for one in day}
    (sensor,) = counts_of(SENSOR)
    assert alone["Intraoral, wired sensor"].used == sensor.turn.used
    assert alone["Closing the room and Opening the room"].patient is False
    assert sum(one.part.overlapping for one in day) == 3
    kept = {len(way.used.kept) for one in day if one.part.overlapping for way in one.ways}
    assert max(kept) == 4  # two plates of each of two patients
