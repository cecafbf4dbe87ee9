"""A panoramic image under airborne precautions: planted faults that only one choice, one order, one
moment of a mishap or a later visit shows, each with a right twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (a surface is
cleaned before it is disinfected; covers go on with clean hands; supplies are met with clean hands);
WHO, Guidelines on Hand Hygiene in Health Care, 2009 (after touching a patient); CDC, Guidelines for
Environmental Infection Control in Health-Care Facilities, 2003, table B.1 (6 air changes an hour:
69 minutes, counted from when the source has left). That a respirator is adjusted with clean hands
only: CDC, Guideline for Isolation Precautions, 2007, from memory.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import ROOM_3, Planted, among, assert_told, kinds

VISIT = "panoramic-airborne-precautions"
BITES = "patient bites on bite block"
CHIN = "patient rests the chin on chin rest"
OPENS = "operator opens temple stops at the head of patient"
COVERS = "operator covers bite block with bag"

CLOSES = "  [ ] operator closes temple stops at the head of patient\n"
HANDS = "  [ ] operator cleans hands\n"
CLEAN = "  [ ] operator cleans touched parts with a new wipe\n"
DISINFECT = "  [ ] operator disinfects touched parts with a new wipe\n"
EACH = "  any order\n" + "".join(
    f"    in order\n      [ ] operator cleans {part} with a new wipe\n"
    f"      [ ] operator disinfects {part} with a new wipe\n"
    for part in ("chin rest", "handles", "temple stops")
)
OFF = "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
BAG = f"  [ ] {COVERS}\n"
BAGGED = "  in one go\n" + OFF + BAG
USUAL = "  where precautions is usual\n"
AIRBORNE = "  where precautions is airborne\n"
LAID_OUT = '  [ ] operator lays out wipe\n      short "Lay out wipes"\n'
LEAVES = "  [ ] patient leaves\n"
WAIT = 'phase "Wait for the air"\n  [ ] operator cleans hands\n'
READY = 'phase "Get ready"\n'
SLIPS = 'can happen in "Place and expose"\n  respirator slips, between any two steps of operator\n'
ADJUSTS = "      [ ] operator adjusts respirator\n"
RUBS = "      [ ] operator cleans hands\n"
APART = """  [ ] patient steps out holding handles
  [ ] patient leaves

phase "Wait for the air"
  [ ] operator cleans hands
  [ ] operator goes to lobby
  where precautions is airborne
    [ ] operator takes off respirator by the ties
    [ ] operator cleans hands
    [ ] operator waits 69 minutes
        short "Nobody goes in for 69 minutes"
"""
SIDE_BY_SIDE = """  side by side
    patient
      [ ] patient steps out holding handles
      [ ] gone: patient leaves
    operator
      [ ] operator cleans hands
      [ ] operator goes to lobby
      where precautions is airborne
        [ ] operator takes off respirator by the ties
        [ ] operator cleans hands
        [ ] operator waits 69 minutes
"""


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((VISIT, old, new) for old, new in changes)


FAULTS: dict[str, Planted] = {
    "hands cleaned after the head only where precautions are taken": Planted(
        of((CLOSES + HANDS, CLOSES + AIRBORNE + indented(HANDS))),
        [("path-to-patient", OPENS)],
        {"precautions": "usual"},
        2,
        of(
            (
                CLOSES + HANDS,
                CLOSES
                + AIRBORNE
                + indented(HANDS.replace("cleans", "washes"))
                + USUAL
                + indented(HANDS),
            )
        ),
    ),
    "what was touched is treated only where precautions are taken": Planted(
        of((CLEAN + DISINFECT, AIRBORNE + indented(CLEAN + DISINFECT))),
        [("path-to-patient", CHIN)],
        {"precautions": "usual"},
        2,
        of((CLEAN + DISINFECT, CLEAN + DISINFECT + AIRBORNE + indented(CLEAN + DISINFECT))),
    ),
    "cleaned and disinfected in any order: soil stays in one of two": Planted(
        of((CLEAN + DISINFECT, "  any order\n" + indented(CLEAN + DISINFECT))),
        [("path-to-patient", CHIN)],
        {},
        2,
        of((CLEAN + DISINFECT, EACH)),
    ),
    "the bag goes on before or after the used gloves come off": Planted(
        of((BAGGED, "  any order\n    in one go\n" + indented(OFF) + indented(BAG))),
        [
            ("path-to-patient", BITES),
            ("path-to-staff", COVERS),
            ("clean-thing-reached", "operator chooses settings at control panel"),
        ],
        {},
        2,
        of((BAGGED, "  [ ] operator changes gloves\n" + BAG + "  in one go\n" + OFF)),
    ),
    "a respirator that slips is adjusted after the head was touched": Planted(
        of((READY, SLIPS + "    where precautions is airborne\n" + ADJUSTS + "\n" + READY)),
        [("claim-not-clean", "operator adjusts respirator")],
        {"precautions": "airborne", "what happens": "respirator slips"},
        1,
        of(
            (
                READY,
                SLIPS
                + "    where precautions is airborne\n"
                + RUBS
                + ADJUSTS
                + RUBS
                + "\n"
                + READY,
            )
        ),
    ),
    "the patient may still be leaving while the time for the air runs": Planted(
        of((APART, SIDE_BY_SIDE)),
        [
            ("air-breathed", "operator goes to imaging room"),
            ("air-not-clear", "gone: patient leaves"),
        ],
        {"precautions": "airborne"},
        1,
        of((APART, SIDE_BY_SIDE + "            after gone\n")),
    ),
    "wipes laid out before hands are cleaned, for the next patient's chin": Planted(
        of((LAID_OUT, ""), (LEAVES, LEAVES + LAID_OUT)),
        [("path-to-patient", CHIN), ("clean-thing-reached", "operator lays out wipe")],
        {},
        2,
        of((LAID_OUT, ""), (WAIT, WAIT + LAID_OUT)),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    one = among(tmp_path, VISIT, (), ROOM_3)
    assert kinds(one) == [] and not one.outcome.unchecked


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, VISIT, FAULTS[name].changes, ROOM_3), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, VISIT, FAULTS[name].twin, ROOM_3)) == []
