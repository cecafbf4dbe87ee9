"""Opening and closing the room inside a small day: planted faults that a choice, an order, a mishap
or the first visit of the next day shows, each with a right twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (covers go on
clean, dry surfaces; surfaces that were covered are cleaned and disinfected at the end of the day);
WHO, Guidelines on Hand Hygiene in Health Care, 2009 (a rub is for germs: what is on the skin is
washed off). That the floor is never clean: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import DAY, SMALL_DAY, Planted, among, assert_told, kinds

OPENING = "opening-the-room"
CLOSING = "closing-the-room"
SMALL = (DAY, *SMALL_DAY)

OPEN = 'phase "Open the room"\n'
HANDS = "  [ ] operator cleans hands\n"
BAG = "    [ ] operator covers head rest with bag\n"
START = '  [ ] operator works at keyboard\n      short "Start the screen"\n'
FLOOR = "    [ ] operator works at floor\n"
WASH = "    [ ] operator washes hands\n"
FALLEN = "choices, each visit\n  fallen: nothing, a roll\n\n"
PICKED = "  where fallen is a roll\n"
ANY = HANDS + "  any order\n"
LET_FALL = 'can happen in "{}"\n  cover let fall, between any two steps of operator\n' + FLOOR
TRAY = "    [ ] operator takes tray paper off used half\n"
LEFT = "    may be left out\n"
DRY = "  [ ] operator waits until head rest is dry\n"
OFF = "  in one go\n    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
LAYS = "    [ ] operator lays out wipe\n"
BARE = 'phase "Bare the machine"\n'
FULL = "choices, each visit\n  bin: not full, full\n\n"
EMPTIES = "  where bin is full\n"


def opening(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return (SMALL, *((OPENING, old, new) for old, new in changes))


def closing(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return (SMALL, *((CLOSING, old, new) for old, new in changes))


NEXT_DAY = [("world-to-patient", "place: operator places holder with sensor in mouth")]
NIGHT = {"protocol (visit 1)": '"Closing the room" and "Opening the room"'}
FAULTS: dict[str, Planted] = {
    "opening: the head rest stays bare now and then": Planted(
        opening((BAG, LEFT + "  " + BAG)),
        [("not-ready", "operator takes bag off head rest")],
        {"steps": "left out"},
        1,
        opening(
            (BAG, "    either\n  " + BAG + "    or\n      [ ] operator cleans hands\n  " + BAG)
        ),
    ),
    "opening: the floor before the keyboard": Planted(
        opening((START, FLOOR[2:] + START)),
        NEXT_DAY,
        NIGHT,
        2,
        opening((START, START + FLOOR[2:] + WASH[2:])),
    ),
    "opening: a roll picked up, and hands not washed": Planted(
        opening((OPEN, FALLEN + OPEN), (ANY, HANDS + PICKED + FLOOR + "  any order\n")),
        NEXT_DAY,
        NIGHT | {"fallen": "a roll"},
        2,
        opening((OPEN, FALLEN + OPEN), (ANY, HANDS + PICKED + FLOOR + WASH + "  any order\n")),
    ),
    "opening: hands washed before or after the floor": Planted(
        opening((ANY, "  any order\n" + FLOOR + WASH + "  any order\n")),
        # From the floor, and by way of the floor what the hands came in with.
        NEXT_DAY * 2,
        NIGHT,
        3,
        opening((ANY, "  in order\n" + FLOOR + WASH + "  any order\n")),
    ),
    "opening: a cover that fell, and hands not washed": Planted(
        opening((OPEN, LET_FALL.format("Open the room") + "\n" + OPEN)),
        NEXT_DAY,
        NIGHT | {"what happens": "cover let fall"},
        2,
        opening((OPEN, LET_FALL.format("Open the room") + WASH + "\n" + OPEN)),
    ),
    "closing: tray paper left on over night now and then": Planted(
        closing((TRAY, LEFT + "  " + TRAY)),
        [("claim-can-fail", "used half is bare"), ("claim-can-fail", "used half is bare")],
        {"steps": "left out"},
        1,
        closing((TRAY, LEFT + "      [ ] operator keeps hands still\n" + TRAY)),
    ),
    "closing: gloves on uncleaned hands, from the box of the next day": Planted(
        closing(("    [ ] operator cleans hands\n" + LAYS, LAYS)),
        NEXT_DAY,
        NIGHT,
        2,
        closing(("    [ ] operator cleans hands\n" + LAYS, WASH + LAYS)),
    ),
    "closing: the floor before or after hands are washed": Planted(
        closing((OFF, OFF + "  any order\n" + FLOOR + WASH)),
        NEXT_DAY,
        NIGHT,
        2,
        closing((OFF, OFF + "  in order\n" + FLOOR + WASH)),
    ),
    "closing: a full bin set down on the floor, hands rubbed only": Planted(
        closing((BARE, FULL + BARE), (OFF, OFF + EMPTIES + FLOOR + "  " + HANDS)),
        NEXT_DAY,
        NIGHT | {"bin": "full"},
        2,
        closing((BARE, FULL + BARE), (OFF, OFF + EMPTIES + FLOOR + WASH)),
    ),
    "closing: something picked up once the gloves are off": Planted(
        closing((BARE, LET_FALL.format("Clean and disinfect") + "\n" + BARE)),
        NEXT_DAY,
        NIGHT | {"what happens": "cover let fall"},
        2,
        closing(
            (
                BARE,
                LET_FALL.format("Clean and disinfect")
                + "    where operator does not wear gloves\n  "
                + WASH
                + "\n"
                + BARE,
            )
        ),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, DAY, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, DAY, FAULTS[name].twin)) == []


def test_hands_come_in_the_next_morning_as_they_come_to_any_visit(tmp_path: Path) -> None:
    """WHO 2009: hands are cleaned before clean things are touched; what they met at home is not
    known. In closing and opening alone, done without a night between, nothing would be found."""
    unwashed = among(tmp_path, DAY, opening((HANDS + "  any order\n", "  any order\n")))
    found = unwashed.outcome.findings
    assert {one.kind for one in found} <= {"world-to-patient", "claim-not-clean"}
    route = found[0].route
    assert route is not None
    moves = [move for step in route.steps for move in step.moves]
    assert moves[0][0] == "what hands met over night"


def test_nobody_goes_home_just_out_of_gloves(tmp_path: Path) -> None:
    """CDC 2002: hands are cleaned right after gloves, and not the next morning."""
    left = among(tmp_path, DAY, closing((OFF, "  [ ] operator takes off gloves\n")))
    (found,) = left.outcome.findings
    assert found.kind == "duty-can-fail"
    assert found.facts["step"] == '"Opening the room" begins'
    assert found.facts["after"] == "operator takes off gloves"


def test_over_night_everything_dries(tmp_path: Path) -> None:
    """The head rest gets its bag in the morning. Common practice, no source."""
    assert kinds(among(tmp_path, DAY, closing((DRY, "")))) == []
