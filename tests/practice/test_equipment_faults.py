"""Protective equipment, on and off: planted faults that only one way of taking off shows, one order
or one mishap, each with a right twin.

Sources: CDC, sequence for putting on and removing personal protective equipment (gloves first, or
gown and gloves together; eyewear by the strap; the front of the mask is contaminated; hands cleaned
at once when everything is off); CDC, Guidelines for Infection Control in Dental Health-Care
Settings, 2003 (eyewear that is used again is cleaned, and disinfected when soiled; torn gloves come
off, and hands are washed before new ones).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import Planted, among, assert_told, kinds

EQUIPMENT = "protective-equipment"
EYEWEAR = "operator takes off eyewear by the strap"
HANGS = "operator hangs eyewear on clean hook"
GLOVES = "operator puts on gloves"

OFF = '    [ ] operator takes off gloves\n        short "Gloves off"\n    any order\n'
OFF_IN_ORDER = OFF.replace("any order", "in order")
OFF_ANY = '    any order\n      [ ] operator takes off gloves\n          short "Gloves off"\n'
GOWN = (
    "    [ ] operator takes off gown and gloves together\n"
    '        short "Gown and gloves off together"\n    [ ] operator cleans hands\n'
)
STRAP = (
    "    [ ] operator takes off eyewear by the strap\n"
    '        short "Eyewear off by the strap"\n  [ ] operator takes off mask'
)
STRAP_FIRST = STRAP.removesuffix("  [ ] operator takes off mask")
CLEAN = "  [ ] operator cleans eyewear with a new wipe\n"
DISINFECT = "  [ ] operator disinfects eyewear with a new wipe\n"
WAIT = "  [ ] operator waits until eyewear is dry\n"
MASK = '  [ ] operator takes off mask by the ties\n      short "Mask off by the ties"\n'
HANDS = "  [ ] operator cleans hands\n"
MASK_ANY = "  any order\n    [ ] operator takes off mask by the ties\n  " + HANDS
AGAIN = '\nphase "Clean the eyewear"\n  in one go\n    [ ] operator cleans hands\n'
NOT_AGAIN = AGAIN.replace("    [ ] operator cleans hands\n", "")
PUT_ON = 'phase "Put on"\n'
SPATTERS = "[ ] patient spatters onto operator\n"
AT_WORK = (SPATTERS, SPATTERS.replace("patient", "work: patient", 1))


def happening(name: str, *steps: str) -> tuple[str, str]:
    lines = "".join(f"    [ ] {step}\n" for step in steps)
    return PUT_ON, f'can happen in "At work"\n  {name}, right after work\n{lines}\n{PUT_ON}'


def torn(how: str) -> tuple[str, str]:
    return happening(
        "glove torn",
        "operator tears gloves",
        "operator takes off gloves",
        f"operator {how} hands",
        GLOVES,
    )


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((EQUIPMENT, old, new) for old, new in changes)


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


ONE_BY_ONE = {"taking off": "one by one"}
TOGETHER = {"taking off": "gown and gloves together"}
ADJUSTS = "operator adjusts mask"
CHANGES = "operator changes gloves"
HUNG_SOILED = [("path-to-staff", HANGS), ("clean-thing-reached", HANGS)]
FAULTS: dict[str, Planted] = {
    "gloves in any order with eyewear and gown": Planted(
        of((OFF, OFF_ANY)),
        [("path-to-staff", EYEWEAR), ("clean-thing-reached", GLOVES)],
        ONE_BY_ONE,
        1,
        of((OFF, OFF_IN_ORDER)),
    ),
    "eyewear before gown and gloves together": Planted(
        of((GOWN + STRAP, STRAP_FIRST + GOWN + "  [ ] operator takes off mask")),
        [("path-to-staff", EYEWEAR), ("clean-thing-reached", GLOVES)],
        TOGETHER,
        1,
        of((GOWN + STRAP, GOWN + STRAP_FIRST + "  " + HANDS + "  [ ] operator takes off mask")),
    ),
    "eyewear disinfected only where everything came off one by one": Planted(
        of((DISINFECT, "  where taking off is one by one\n" + indented(DISINFECT))),
        HUNG_SOILED,
        TOGETHER,
        1,
        of((DISINFECT, DISINFECT + "  where taking off is one by one\n" + indented(DISINFECT))),
    ),
    "eyewear cleaned and disinfected in any order": Planted(
        of((CLEAN + DISINFECT, "  any order\n" + indented(CLEAN + DISINFECT))),
        HUNG_SOILED,
        {},
        1,
        # The second disinfecting surely comes after the cleaning.
        of((CLEAN + DISINFECT, "  any order\n" + indented(CLEAN + DISINFECT) + DISINFECT)),
    ),
    "the wait for the eyewear left out now and then": Planted(
        of((WAIT, "  may be left out\n" + indented(WAIT))),
        HUNG_SOILED,
        {},
        1,
        of((WAIT, WAIT + "  may be left out\n" + indented(WAIT))),
    ),
    "the mask and the hands in any order, and gloves on": Planted(
        of((MASK + HANDS + AGAIN, MASK_ANY + NOT_AGAIN)),
        [("clean-thing-reached", GLOVES)],
        ONE_BY_ONE,
        1,
        # Cleaned once more, right before the gloves.
        of((MASK + HANDS, MASK_ANY)),
    ),
    "a mask that slips is adjusted with used gloves": Planted(
        of(AT_WORK, happening("mask slips", ADJUSTS)),
        [("claim-not-clean", ADJUSTS)],
        {"what happens": "mask slips"},
        1,
        of(AT_WORK, happening("mask slips", CHANGES, ADJUSTS, CHANGES)),
    ),
    "hands rubbed after a glove tore, one by one": Planted(
        of(AT_WORK, torn("cleans")),
        [("path-to-staff", EYEWEAR), ("clean-thing-reached", GLOVES)],
        {"what happens": "glove torn"} | ONE_BY_ONE,
        1,
        of(AT_WORK, torn("washes")),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, EQUIPMENT, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, EQUIPMENT, FAULTS[name].twin)) == []
