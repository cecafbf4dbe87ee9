"""Lapses against the world outside: published reasons for rules, fault-tree arithmetic, a library.

Sources stand beside each check.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from math import isclose
from pathlib import Path
from random import Random

import pytest
from pysat.examples.hitman import Hitman  # type: ignore[import-untyped]

from protocol_lang.lapsed import Lapsed, SlipSet
from protocol_lang.lapses.chances import exactly, first_order, habits, upper_bound
from protocol_lang.lapses.telling import lapsed_of
from protocol_lang.pipeline import check_file

ROOM = """\
room "A small room"
  takes words from "Dental imaging"

people
  operator: staff
  patient: patient

surfaces
  shelf: surface

verb STAFF draws COVER off RECEPTOR
  meet STAFF's hands, RECEPTOR
  uncover RECEPTOR from COVER
  retire what came off

things
  sensor: receptor; goes in the mouth; not heat safe; always sleeved in the mouth; \
takes cover sleeve
  sleeve: cover; used once
  gloves: gloves; worn on hands; used once
  wipe: wipe; has face, back; used once; thrown away after use; treats to intermediate; \
stays wet 2 minutes
"""

HEAD = """\
protocol "A small visit"
  takes words from "A small room"

"""


def told(tmp_path: Path, body: str, most: int = 2, room: str = ROOM, stories: int = 1) -> Lapsed:
    """The lapses of a protocol in the small room; it has to be right as it is."""
    (tmp_path / "a-small-room.protocol").write_text(room, "utf-8")
    file = tmp_path / "visit.protocol"
    file.write_text(HEAD + body, "utf-8")
    found = check_file(file)
    assert [one.kind for one in found.outcome.findings] == []
    assert found.unfolded is not None and found.judgement is not None
    return lapsed_of(found.unfolded, found.judgement, "visit.protocol", most, stories)[0]


def least(lapsed: Lapsed, opens: str) -> int | None:
    return next(one.least for one in lapsed.margins if one.opens == opens)


def alone(lapsed: Lapsed, kind: str, step: str) -> list[tuple[str, ...]]:
    """What lapses of that kind and step open, in the order of the checklist."""
    return [one.opens for one in lapsed.alone if one.slip.kind == kind and one.slip.step == step]


def sets_of(lapsed: Lapsed, opens: str) -> set[frozenset[tuple[str, str | None]]]:
    return {
        frozenset((slip.kind, slip.cover or slip.step) for slip in one.slips)
        for one in lapsed.sets
        if one.opens == opens
    }


GLOVED = """\
phase "Image"
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator slips sleeve over sensor
  [ ] operator places sensor in mouth
  [ ] operator takes sensor out of mouth
{after}  [ ] operator takes off gloves
  [ ] operator cleans hands
"""


def visit(after: str) -> str:
    """A visit with one image by a gloved operator; the settings are chosen beforehand."""
    return (
        'phase "Before"\n'
        "  [ ] operator cleans hands\n"
        "  [ ] operator chooses settings at shelf\n" + GLOVED.format(after=after)
    )


BARE = "  [ ] operator draws sleeve off sensor\n"
DISINFECTED = (
    "  [ ] operator draws sleeve off sensor\n"
    "  [ ] operator cleans sensor with a new wipe\n"
    "  [ ] operator disinfects sensor with a new wipe\n"
    "  [ ] operator waits until sensor is dry\n"
)


def test_a_sleeve_that_may_leak_needs_a_disinfection_behind_it(tmp_path: Path):
    """CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003, on sensors:
    barriers leak, so a sensor that cannot be sterilised is barrier-protected and, between patients,
    cleaned and disinfected at least at intermediate level."""
    without = told(tmp_path, visit(BARE))
    assert least(without, "patient") == 1
    leak = frozenset({("leaks", "sleeve on sensor")})
    assert leak in sets_of(without, "patient")

    disinfected = told(tmp_path, visit(DISINFECTED))
    sets = sets_of(disinfected, "patient")
    assert leak not in sets
    assert min(len(one) for one in sets if leak < one) == 2
    for step in ("cleans sensor with a new wipe", "disinfects sensor with a new wipe"):
        assert leak | {("left out", f"operator {step}")} in sets
    assert leak | {("cut short", "operator disinfects sensor with a new wipe")} in sets


def test_gloves_off_without_clean_hands_after_is_enough(tmp_path: Path):
    """CDC, Guideline for Hand Hygiene in Health-Care Settings, 2002: hands are decontaminated after
    gloves are removed, since gloves do not keep them free of everything."""
    lapsed = told(
        tmp_path,
        visit(DISINFECTED) + "  [ ] operator works at shelf\n",
    )
    opens = alone(lapsed, "left out", "operator cleans hands")
    assert "staff" in opens[-1]


ONE_PAIR = """\
phase "Visit"
  [ ] operator {cleans} hands
  [ ] operator puts on gloves
  [ ] operator feels gums
  [ ] operator takes off gloves
  [ ] operator {cleans} hands
"""

FEELS = """
verb STAFF feels gums
  meet STAFF's hands, the patient's mouth
"""

SCRUBS = """
verb STAFF scrubs hands
  allowed while just out of gloves
  reduce STAFF's hands to hand wash
  ends STAFF just out of gloves
"""


def one_pair(tmp_path: Path, cleans: str) -> set[frozenset[tuple[str, str | None]]]:
    """The smallest sets, up to three, that bring soil of a patient to the next one, of a visit with
    one pair of gloves and hands cleaned before and after."""
    room = ROOM.replace("\nthings\n", f"{FEELS}{SCRUBS}\nthings\n", 1)
    lapsed = told(tmp_path, ONE_PAIR.format(cleans=cleans), most=3, room=room)
    return sets_of(lapsed, "patient")


KEPT_ON = frozenset({("left out", "operator takes off gloves")})


def test_one_pair_of_gloves_and_hands_washed_before_and_after_take_two_lapses(tmp_path: Path):
    """WHO, Guidelines on Hand Hygiene in Health Care, 2009, and CDC, Guideline for Hand Hygiene in
    Health-Care Settings, 2002: hands are cleaned before and after a patient, gloves or not, since
    gloves have holes and hands are soiled when they come off. The two stand in for each other: of
    all that can go wrong with hands (gloves not worn, a bare hand, a hole, gloves drawn off so that
    they brush the hand, either washing left out), nothing by itself brings soil of a patient to the
    next one. It takes both washings, before and after.

    What this does not cover, and CDC 2003 has as a rule of its own, is gloves that are *kept on*:
    with them nobody's hands are cleaned at all. That is one lapse."""
    sets = one_pair(tmp_path, "washes")
    assert KEPT_ON in sets
    others = sets - {KEPT_ON}
    assert others == {frozenset({("left out", "operator washes hands")})}
    lapsed = told(
        tmp_path,
        ONE_PAIR.format(cleans="washes"),
        room=ROOM.replace("\nthings\n", f"{FEELS}\nthings\n", 1),
    )
    (both,) = [one for one in lapsed.sets if one.opens == "patient" and len(one.slips) > 1]
    assert [slip.where for slip in both.slips] == ['step 1 in "Visit"', 'step 5 in "Visit"']


def test_hands_that_are_rubbed_need_gloves_and_clean_removal_as_well(tmp_path: Path):
    """CDC 2002: hands that are visibly dirty or soiled with body fluids are washed, for a rub does
    not do then. So with a rub before and after, gloves that are not worn are enough."""
    sets = one_pair(tmp_path, "cleans")
    assert {one for one in sets if len(one) == 1 and one != KEPT_ON} >= {
        frozenset({("left out", "operator puts on gloves")}),
        frozenset({("bare", "operator feels gums")}),
        frozenset({("unclean", "operator takes off gloves")}),
    }


def test_why_gloves_that_are_kept_on_are_one_lapse(tmp_path: Path):
    """CDC 2003 and WHO 2009: gloves are not washed or rubbed for another use. Cleaning hands asks
    for bare hands; with gloves kept on it cleans nothing, and new gloves are not put on (rules 3
    and 4 of docs/meaning/lapses.md). A verb of the clinic's own that does not ask for bare hands
    scrubs the gloves instead, and then the margin is told as two: what a verb asks for is what
    keeps the margin from being told too great."""
    asking, not_asking = one_pair(tmp_path, "washes"), one_pair(tmp_path, "scrubs")
    assert KEPT_ON in asking
    assert KEPT_ON not in not_asking
    assert min(map(len, asking)) == 1
    sizes = {len(one.slips) for one in _sets_with(tmp_path, "scrubs")}
    assert min(sizes) == 2


def _sets_with(tmp_path: Path, cleans: str) -> list[SlipSet]:
    room = ROOM.replace("\nthings\n", f"{FEELS}{SCRUBS}\nthings\n", 1)
    lapsed = told(tmp_path, ONE_PAIR.format(cleans=cleans), most=3, room=room)
    return [one for one in lapsed.sets if one.opens == "patient"]


def test_hand_cleaning_before_and_after_covers_for_each_other(tmp_path: Path):
    """The same with an image between: cleanings that are left out open nothing one by one."""
    lapsed = told(tmp_path, visit(DISINFECTED), most=3)
    cleaning = [
        one.slips
        for one in lapsed.sets
        if one.opens == "patient"
        and {(slip.kind, slip.step) for slip in one.slips}
        == {("left out", "operator cleans hands")}
    ]
    assert cleaning
    assert all(len(slips) >= 2 for slips in cleaning)


def test_gloves_that_are_kept_on_go_to_the_next_patient(tmp_path: Path):
    """CDC 2003: gloves are changed between patients. That is one lapse, whatever else is done."""
    lapsed = told(tmp_path, visit(DISINFECTED))
    assert "patient" in alone(lapsed, "left out", "operator takes off gloves")[-1]


def test_what_one_lapse_lets_spread_by_class(tmp_path: Path):
    """CDC, Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008, figure 1: a
    disinfection of intermediate level ends all but spores. So where only that stands behind a
    sleeve that is not drawn off, spores alone get to the next patient; and with an agent that ends
    spores as well, nothing does."""
    washed = visit(DISINFECTED).replace("cleans hands", "washes hands")
    step = "operator draws sleeve off sensor"
    lapsed = told(tmp_path, washed, most=1, stories=9)
    (kept,) = [one for one in lapsed.alone if (one.slip.kind, one.slip.step) == ("left out", step)]
    assert kept.opens == ("patient",)
    assert kept.classes == ("bacterial spores",)
    hardest, *others = [one.singles["patient"] for one in lapsed.by_class]
    assert lapsed.by_class[0].klass == "bacterial spores"
    assert others == [hardest - 1] * len(others)

    stronger = ROOM.replace("treats to intermediate", "treats to sporicidal")
    lapsed = told(tmp_path, washed, most=1, stories=9, room=stronger)
    (kept,) = [one for one in lapsed.alone if (one.slip.kind, one.slip.step) == ("left out", step)]
    assert kept.opens == ()
    assert [one.singles["patient"] for one in lapsed.by_class] == [hardest - 1] * (1 + len(others))


# --- Fault trees ---------------------------------------------------------------------------------


def test_the_rare_event_sum_and_its_bounds():
    """Fault Tree Handbook, NUREG-0492 (1981), chapter XI: the chance of the top event is to the
    first order the sum over minimal cut sets of the products of their parts. Its pressure tank
    example has the cut sets {tank}, {K2}, {S, S1}, {S, K1}, {S, R} with 5e-6, 3e-5, 1e-4, 3e-5,
    3e-5 and 1e-4, and nearly all of it is the relay K2 (example and figures from memory)."""
    chance = {"tank": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": 3e-5, "R": 1e-4}
    cut_sets = [{"tank"}, {"K2"}, {"S", "S1"}, {"S", "K1"}, {"S", "R"}]
    parts = [[chance[name] for name in one] for one in cut_sets]
    total = first_order(parts)
    assert f"{total:.1e}" == "3.5e-05"
    assert isclose(total, 5e-6 + 3e-5 + 1e-4 * (3e-5 + 3e-5 + 1e-4), rel_tol=1e-12)
    truth = exactly([frozenset(one) for one in cut_sets], chance)
    assert truth <= upper_bound(parts) <= total
    assert isclose(truth, total, rel_tol=1e-4)


def test_the_exact_chance_is_that_of_all_outcomes():
    """Oracle: adding up the chances of every outcome in which some set happened."""
    dice = Random(7)
    for _ in range(60):
        names = "abcdef"[: dice.randint(2, 6)]
        chance = {name: dice.random() for name in names}
        sets = [
            frozenset(dice.sample(names, dice.randint(1, min(3, len(names)))))
            for _ in range(dice.randint(1, 5))
        ]
        truth = 0.0
        for many in range(len(names) + 1):
            for happened in combinations(names, many):
                if any(one <= set(happened) for one in sets):
                    share = 1.0
                    for name in names:
                        share *= chance[name] if name in happened else 1 - chance[name]
                    truth += share
        assert isclose(exactly(sets, chance), truth, rel_tol=1e-9)
        parts = [[chance[name] for name in one] for one in set(sets)]
        assert truth <= first_order(parts) + 1e-12


def minimal_hitting_sets(routes: Sequence[Iterable[str]]) -> set[frozenset[str]]:
    """Every smallest set that has a part in each route, by a general library (python-sat)."""
    with Hitman(bootstrap_with=[sorted(route) for route in routes], htype="sorted") as hitman:
        return {frozenset(one) for one in hitman.enumerate()}


def test_smallest_sets_are_the_hitting_sets_of_the_guards(tmp_path: Path):
    """Each smallest set has to break every way of being safe, and none of its parts does: the
    smallest sets are the minimal hitting sets of the minimal sets of guards that keep a path shut
    (duality of cut sets and path sets, NUREG-0492, chapter VII; from memory). python-sat's minimal
    hitting sets, taken twice, give them back."""
    lapsed = told(tmp_path, visit(DISINFECTED))
    for opens in ("patient", "staff", "room"):
        sets = {
            frozenset(f"{kind}: {what}" for kind, what in one) for one in sets_of(lapsed, opens)
        }
        least_ones = {one for one in sets if not any(other < one for other in sets)}
        if least_ones:
            guards = minimal_hitting_sets(list(least_ones))
            assert minimal_hitting_sets(list(guards)) == least_ones


# --- Rates ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "usual"),
    [
        ("sleeve in the mouth leaks", (44 + 51) / 200),  # Hokett 2000: 44 to 51 % of sheaths
        ("hand cleaning left out", 1 - 0.399),  # Thivichon-Prince 2014: 39.9 % done
        ("glove with a hole", 0.09),  # routine dental care: 9 % of 1,462
        ("gloves taken off uncleanly", 0.529),  # Tomas 2015: 52.9 % with gloves
        # Hokett 2000: with a finger cot at most 6 % of sheaths, of the 44 to 51 % without
        ("cover over a sleeve leaks as well", (0 + 6) / (44 + 51)),
    ],
)
def test_rates_are_those_of_the_studies(name: str, usual: float):
    habit = habits()[name]
    assert isclose(habit.usual, usual, rel_tol=1e-9)
    assert habit.least <= habit.usual <= habit.most
