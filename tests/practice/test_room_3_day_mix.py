"""A day in imaging room 3 with a second sort of visit: planted faults of one protocol that reach
the patient of the other, each with a right twin. Alone, neither protocol has anything to correct.

The second sort of visit is the shipped one for airborne precautions, without what it says of the
air: that is told by tests of its own, and a day takes one word on the air from all its parts. A
rail and a lamp are added to the room, which no turnover treats.

Sources: WHO, Guidelines on Hand Hygiene in Health Care, 2009 (hands cleaned after touching a
patient, before what is around, and again after that); CDC, Guidelines for Infection Control in
Dental Health-Care Settings, 2003 (what hands touch is covered, or cleaned and disinfected).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import ROOM_3, Planted, among, assert_told, kinds, kinds_and_lines

DAY = "a-day-in-imaging-room-3"
USUAL = "panoramic-usual-visit"
OTHER = "panoramic-airborne-precautions"

VISITS = 'visits "Panoramic, usual visit"'
BOTH = (DAY, VISITS, VISITS + ', "Panoramic, airborne precautions"')
NO_AIR = (
    OTHER,
    "air\n  carries germs where precautions is airborne\n  cleared to 99.9 percent\n\n",
    "",
)
TRAY = "  clean tray: surface; in imaging room\n"
ADDED = ("imaging-room-3", TRAY, TRAY + "  rail, lamp: surface; in imaging room\n")
MIX = (BOTH, NO_AIR, ADDED)

RAIL = "  [ ] operator works at rail\n"
LAMP = "  [ ] operator works at lamp\n"
HANDS = "  [ ] operator cleans hands\n"
OPENS = "  [ ] operator opens temple stops at the head of patient\n"
CLOSES = "  [ ] operator closes temple stops at the head of patient\n"
STEPS_IN = "  [ ] patient steps in holding handles\n"
GLOVED = "      [ ] operator puts on gloves\n    [ ] operator turns the head"
ONLY = "  where precautions is airborne\n"


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


def usual_after(soils: str) -> tuple[str, str, str]:
    """In a usual visit, once the head was touched."""
    return USUAL, OPENS + HANDS, OPENS + soils


def usual_gloved(where: str) -> tuple[str, str, str]:
    """In a usual visit with gloves, right before the head is touched."""
    return (
        USUAL,
        GLOVED,
        GLOVED.replace("    [ ] operator turns", f"  {where}    [ ] operator turns"),
    )


def other_before(*steps: str) -> tuple[str, str, str]:
    return OTHER, HANDS + CLOSES, "".join(steps)


def other_after(steps: str) -> tuple[str, str, str]:
    return OTHER, OPENS, OPENS + steps


def other_carries(steps: str) -> tuple[str, str, str]:
    return OTHER, STEPS_IN, steps + HANDS + STEPS_IN


def steadied(*steps: str) -> tuple[tuple[str, str, str], ...]:
    happens = 'can happen in "Place and expose"\n  patient sways, right after opened\n' + indented(
        "".join(steps)
    )
    ready = 'phase "Get ready"\n'
    return (
        (OTHER, ready, f"{happens}\n{ready}"),
        (OTHER, OPENS, OPENS.replace("operator", "opened: operator", 1)),
    )


TURNS = [("path-to-patient", "operator turns the head of patient")]
TO_OTHER = {
    "protocol (visit 1)": '"Panoramic, usual visit"',
    "protocol (visit 2)": '"Panoramic, airborne precautions"',
}
TO_USUAL = {
    "protocol (visit 1)": '"Panoramic, airborne precautions"',
    "protocol (visit 2)": '"Panoramic, usual visit"',
}
AND_BACK = TO_OTHER | {"protocol (visit 3)": '"Panoramic, usual visit"'}
FAULTS: dict[str, Planted] = {
    "from a usual visit to the other": Planted(
        (*MIX, usual_after(RAIL + HANDS), other_before(HANDS, RAIL, CLOSES)),
        [("path-to-patient", "operator closes temple stops at the head of patient")],
        TO_OTHER,
        2,
        (*MIX, usual_after(RAIL + HANDS), other_before(RAIL, HANDS, CLOSES)),
    ),
    "from the other to a usual visit with gloves": Planted(
        (*MIX, other_after(RAIL), usual_gloved(RAIL)),
        TURNS,
        TO_USUAL,
        2,
        (*MIX, other_after(HANDS + RAIL), usual_gloved(RAIL)),
    ),
    "from the other, where precautions are taken, to a usual visit": Planted(
        (*MIX, other_after(ONLY + indented(RAIL)), usual_gloved(RAIL)),
        TURNS,
        TO_USUAL | {"precautions": "airborne"},
        2,
        (*MIX, other_after(ONLY + indented(HANDS + RAIL)), usual_gloved(RAIL)),
    ),
    "from the other, where the patient sways, to a usual visit": Planted(
        (*MIX, *steadied(RAIL), usual_gloved(RAIL)),
        TURNS,
        TO_USUAL | {"what happens": "patient sways"},
        2,
        (*MIX, *steadied(HANDS, RAIL), usual_gloved(RAIL)),
    ),
    "from a usual visit by the other to a usual visit": Planted(
        (*MIX, usual_after(RAIL + HANDS), other_carries(RAIL + LAMP), usual_gloved(LAMP)),
        TURNS,
        AND_BACK,
        3,
        (*MIX, usual_after(RAIL + HANDS), other_carries(LAMP + RAIL), usual_gloved(LAMP)),
    ),
    "from a usual visit by the other in one order of two": Planted(
        (
            *MIX,
            usual_after(RAIL + HANDS),
            other_carries("  any order\n" + indented(RAIL + LAMP)),
            usual_gloved(LAMP),
        ),
        TURNS,
        AND_BACK,
        3,
        (
            *MIX,
            usual_after(RAIL + HANDS),
            other_carries("  in order\n" + indented(LAMP + RAIL)),
            usual_gloved(LAMP),
        ),
    ),
}


def test_as_shipped_and_with_both_visits_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    for changes in ((), MIX):
        one = among(tmp_path, DAY, changes, ROOM_3)
        assert kinds(one) == [] and not one.outcome.unchecked


def test_a_day_takes_one_word_on_the_air_from_all_its_parts(tmp_path: Path) -> None:
    assert kinds_and_lines(among(tmp_path, DAY, (BOTH,), ROOM_3)) == [
        ("parts-differ", "carries germs where precautions is airborne")
    ]


@pytest.mark.parametrize("name", FAULTS)
def test_the_day_tells_the_fault(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, DAY, FAULTS[name].changes, ROOM_3), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_no_protocol_alone_tells_it(tmp_path: Path, name: str) -> None:
    for first in (USUAL, OTHER):
        assert kinds(among(tmp_path, first, FAULTS[name].changes, ROOM_3)) == []


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, DAY, FAULTS[name].twin, ROOM_3)) == []
