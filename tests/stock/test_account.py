"""Sessions, orders and what is needed, put together: hand-worked figures of shipped and small
files, and every way in which what is asked can be wrong."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path

import pytest

from protocol_lang.stock import Asked, CannotCount, account_of
from protocol_lang.stock import asked as reading
from protocol_lang.stock.cycle import run, timetable
from protocol_lang.stock.mix import is_share, share_of, shares_of
from protocol_lang.stock.needed import Reusable, needed
from protocol_lang.supplied import Given, Range, Share, Supplies, Unit
from tests.stock.kit import HOLDERS, PLATES_DAY, ROOM, SENSOR, protocol_of, small


@cache
def account(path: Path, *shares: str, **asked) -> Supplies:
    mix = tuple(map(share_of, shares))
    return account_of(protocol_of(path), path.name, None, Asked(mix=mix, **asked))


def used(supplies: Supplies) -> dict[str, Range]:
    return {one.thing: one.number for one in supplies.session.used}


# --- Sessions ---


def test_a_session_is_so_many_visits():
    of_ten = account(SENSOR, visits=Range(10, 10))
    assert used(of_ten)["gloves"] == Range(20, 30)
    assert used(of_ten)["wipe"] == Range(70, 90)
    assert "holder" not in used(of_ten)
    some = account(SENSOR, visits=Range(10, 14))
    assert used(some)["gloves"] == Range(20, 42)


def test_a_day_has_opening_and_loads():
    """By hand: each of 12 visits takes three wraps, opening the room three more; at least a visit
    without an image, one pair of gloves each, and one to close: 13."""
    day = account(PLATES_DAY)
    assert used(day)["wrap"] == Range(39, 39)
    assert used(day)["gloves"].least == 13
    # 12 visits with two holders each, in loads at 10:00, 12:00 and 14:00.
    assert (day.session.loads, day.session.pieces) == (Range(0, 3), Range(0, 24))
    assert used(day)["pouch"] == Range(0, 3 * 24)
    assert used(day)["mask"] == Range(0, 3)


def test_a_protocol_of_loads_by_itself_is_a_full_load():
    loads = account(HOLDERS, places=8)
    assert used(loads)["pouch"] == Range(8, 24)
    assert used(loads)["mask"] == Range(1, 1)
    assert {one.name for one in loads.assumed} == {
        "visits in a session", "days that the order lasts", "places in a load"
    }  # fmt: skip


# --- Orders ---


def test_an_order_of_a_mix_by_hand():
    """60 % alone with three pairs of gloves, 40 % paired with two: mean 2.6, variance 0.24 a visit.
    240 visits: mean 624, variance 57.6, z 1.645: 12.5 for safety; 636.5, so 637."""
    of_mix = account(SENSOR, "60 % staffing=alone", "40 % staffing=paired")
    (gloves,) = [one for one in of_mix.order.lines if one.thing == "gloves"]
    assert (gloves.expected, gloves.pieces) == (Fraction(624), 637)
    assert gloves.safety == pytest.approx(12.48, abs=0.01)
    (wipe,) = [one for one in of_mix.order.lines if one.thing == "wipe"]
    assert (wipe.pieces, wipe.safety) == (9 * 240, 0)  # the collar is left open: the most


def test_without_a_mix_every_visit_takes_the_most():
    plain = account(SENSOR)
    (gloves,) = [one for one in plain.order.lines if one.thing == "gloves"]
    assert not plain.order.mixed
    assert (gloves.pieces, gloves.safety) == (3 * 12 * 20, 0)


def test_pouches_of_the_most_without_a_mix():
    (pouch,) = [one for one in account(PLATES_DAY).order.lines if one.thing == "pouch"]
    assert pouch.pieces == 2 * 12 * 20


def test_holders_bring_their_pouches_with_them():
    """40 % of 12 visits with one holder, the rest without an image: 4.8 pouches a day, 96 in 20."""
    of_mix = account(
        PLATES_DAY, "40 % visit=Intraoral, wired sensor", "60 % visit=A visit without an image"
    )
    (pouch,) = [one for one in of_mix.order.lines if one.thing == "pouch"]
    assert pouch.expected == 96
    assert of_mix.order.not_so == ("debris left", "cycle not reached")
    # A mask for each load, three at most in a day.
    (mask,) = [one for one in of_mix.order.lines if one.thing == "mask"]
    assert mask.pieces == 60


def test_a_mishap_can_be_part_of_a_mix():
    title = "Intraoral, phosphor plates, with a helper"
    calm = account(PLATES_DAY, f"100 % visit={title}; images=two")
    rough = account(
        PLATES_DAY,
        f"90 % visit={title}; images=two",
        f"10 % visit={title}; images=two; happens=plate dropped",
    )
    before, after = (
        next(line.expected for line in one.order.lines if line.thing == "gloves")
        for one in (calm, rough)
    )
    assert after - before == Fraction(1, 10) * 12 * 20  # one pair more each


# --- What comes back ---


def test_needed_in_any_order_and_for_a_mix():
    (holder,) = account(SENSOR).cycling
    assert (holder.visit, holder.least, holder.at, holder.mixed) == (1, 7, 660, None)
    of_mix = account(
        PLATES_DAY, "50 % visit=Intraoral, wired sensor", "50 % visit=A visit without an image"
    )
    (one,) = [one for one in of_mix.cycling if one.thing == "holder"]
    assert one.least is not None and one.mixed is not None and one.one_fails is not None
    assert one.mixed <= one.least <= one.one_fails


@pytest.mark.parametrize(("places", "loads"), [(3, ()), (4, (600, 690, 780, 900)), (12, ())])
def test_enough_in_whatever_order_the_visits_come(places: int, loads: tuple[int, ...]):
    """Every sequence of six visits of three kinds, one by one."""
    kinds = ({"holder": 1}, {"plate holder": 2}, {"holder": 1, "cup": 1})
    numbers = reading.numbers_of(
        protocol_of(SENSOR),
        Asked(visits=Range(6, 6), places=places, loads=loads),
        cycles=True,
        loads=True,
        patient=True,
    )
    back = [
        Reusable("holder", Unit.PIECE, None, 1),
        Reusable("plate holder", Unit.PIECE, None, 2),
        Reusable("cup", Unit.PIECE, None, 1),
    ]
    found = {one.thing: one.least or 0 for one in needed(numbers, back, 2, ()).cycling}
    table = timetable(6, numbers.every, numbers.opens, loads, numbers.between, 75, places)
    worst = dict.fromkeys(found, 0)
    for visits in product(kinds, repeat=6):
        for thing, (most, _) in run(table, [visits, visits, visits]).most.items():
            worst[thing] = max(worst[thing], most)
    assert all(found[thing] >= most for thing, most in worst.items())
    assert found["plate holder"] == worst["plate holder"]  # a day of nothing else


def test_others_take_room_in_a_load():
    """Loads of four pieces: what else is treated makes a holder wait."""
    numbers = reading.numbers_of(
        protocol_of(SENSOR), Asked(visits=Range(12, 12), places=4), True, True, True
    )
    back = [Reusable("holder", Unit.PIECE, None, 1)]
    alone = needed(numbers, back, 1, ()).cycling[0].least
    crowded = needed(numbers, back, 3, ()).cycling[0].least
    assert (alone, crowded) == (7, 10)


def test_loads_that_cannot_keep_up_are_told():
    (holder,) = account(SENSOR, places=2, loads=(12 * 60,)).cycling
    assert (holder.least, holder.one_fails) == (None, None)


def test_a_load_that_begins_too_early_is_told():
    with pytest.raises(CannotCount, match=r"at 10:30 begins before the one of 10:00 has ended"):
        account(SENSOR, loads=(600, 630))


def test_plates_are_back_when_the_visit_ends():
    (box,) = account(PLATES_DAY).kept
    assert (box.box, box.things, box.number) == ("plate box", ("plate 1", "plate 2"), Range(1, 4))


# --- Figures ---

FIGURES = """
figures
  gloves in a box: 50 pairs
  weight of gloves: 9 g
  weight of wipe: 0.004 kg
  visits in a session: 8
"""
VISIT = """phase "Visit"
  [ ] patient comes in
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator disinfects shelf with a new wipe
  [ ] operator takes off gloves
  [ ] operator cleans hands
"""


def test_figures_of_the_room_are_used(tmp_path):
    found = account(small(tmp_path, VISIT, ROOM + FIGURES), days=10)
    assert found.session.visits == Range(8, 8)
    lines = {one.thing: one for one in found.order.lines}
    assert (lines["gloves"].pieces, lines["gloves"].box, lines["gloves"].boxes) == (80, 50, 2)
    assert lines["wipe"].boxes is None
    (waste,) = found.session.waste
    assert waste.grams == (Fraction(8 * 13), Fraction(8 * 13))
    assert [one.given for one in found.assumed if one.name == "visits in a session"] == [
        Given.FIGURE
    ]


def test_what_is_asked_comes_before_a_figure(tmp_path):
    found = account(small(tmp_path, VISIT, ROOM + FIGURES), visits=Range(3, 3))
    assert used(found) == {"gloves": Range(3, 3), "wipe": Range(3, 3)}


def test_a_weight_that_is_missing_leaves_the_weight_out(tmp_path):
    room = ROOM + FIGURES.replace("  weight of wipe: 0.004 kg\n", "")
    (waste,) = account(small(tmp_path, VISIT, room)).session.waste
    assert waste.grams is None


@pytest.mark.parametrize(
    ("figure", "sentence"),
    [
        ("weight of gloves: 9 pairs", "has to be a weight"),
        ("gloves in a box: 0.5", "has to be a whole number from 1"),
        ("visits in a session: 900", "has to be a whole number from 1 to 200"),
    ],
)
def test_a_figure_that_cannot_be_used_is_told_with_its_place(tmp_path, figure, sentence):
    room = f"{ROOM}\nfigures\n  {figure}\n"
    with pytest.raises(CannotCount) as told:
        account(small(tmp_path, VISIT, room))
    line = room.splitlines().index(f"  {figure}") + 1
    assert sentence in told.value.sentence
    assert told.value.sentence.endswith(f"small-room.protocol, line {line}).")


# --- What is asked ---


def test_shares_are_read():
    assert share_of(" 60 %  staffing = alone ; exposure=4 ") == Share(
        Fraction(6, 10), {"staffing": "alone", "exposure": "4"}
    )
    assert share_of("12.5 %") == Share(Fraction(1, 8), {})
    lines = ["# an ordinary week", "", "60 % staffing=alone  # most days", "40%"]
    assert shares_of(lines) == (
        Share(Fraction(6, 10), {"staffing": "alone"}),
        Share(Fraction(4, 10), {}),
    )
    assert is_share("60 % x") and is_share("1.5%") and not is_share("week.txt")


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"every": 200}, "12 visits of 200 minutes each do not fit into a day."),
        ({"cycle": 1_400}, "No load fits into a day: it takes 1400 minutes"),
    ],
)
def test_what_does_not_fit_into_a_day_is_told(asked: dict[str, int], sentence: str):
    with pytest.raises(CannotCount, match=re.escape(sentence)):
        account(SENSOR, **asked)


@pytest.mark.parametrize(
    "text",
    [
        "60 staffing=alone",
        "0 % a=b",
        "101 %",
        "60 % staffing",
        "60 % a=b; a=c",
        "x % a=b",
        "9" * 5_000 + " %",
    ],
)
def test_what_is_no_share_is_told(text: str):
    with pytest.raises(CannotCount, match="is no share of the visits"):
        share_of(text)


@pytest.mark.parametrize(
    ("shares", "sentence"),
    [
        (["60 % staffing=alone"], "The shares of the mix come to 60 %."),
        (["100 % staff=alone"], 'has no choice called "staff". Its choices: staffing and'),
        (["100 % staffing=both"], "has no value \"both\". Its values: alone, paired."),
        (["100 % visit=Nothing"], 'There is no visit "Nothing" in this day.'),
        (
            ["50 % shielding=none", "50 % shielding=collar"],
            '"shielding" is fixed for the clinic, and the mix gives it as "none" and as "collar".',
        ),
        (["100 % happens=flood"], '"flood" does not happen. What can happen: nothing.'),
    ],
)  # fmt: skip
def test_a_mix_that_does_not_fit_is_told(shares: list[str], sentence: str):
    with pytest.raises(CannotCount, match=re.escape(sentence)):
        account(SENSOR, *shares)


def test_numbers_are_read():
    assert reading.visits_of("12") == Range(12, 12)
    assert reading.visits_of("10 to 14") == Range(10, 14)
    assert reading.clock_of("8:30") == 510
    assert reading.loads_of("10:30, 13:00") == ((630, 780), None)
    assert reading.loads_of("every 90 minutes") == ((), 90)
    assert reading.service_of("99.5 %") == Fraction(199, 2)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        *((reading.visits_of, text) for text in ("", "0", "14 to 10", "many", "201", "1 to 999")),
        *((reading.clock_of, text) for text in ("8", "24:00", "8:60", "eight")),
        *((reading.loads_of, text) for text in ("", "13:00, 10:30", "10:30, 10:30", "every 0")),
        *((reading.service_of, text) for text in ("", "100", "49", "high")),
    ],
)
def test_numbers_that_cannot_be_read_are_told(read, text: str):
    with pytest.raises(CannotCount, match=f'^"{text}" '):
        read(text)
