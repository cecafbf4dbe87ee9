"""A day with film: planted faults of one protocol that reach somebody in another, each with a right
twin. Each protocol alone, changed in the same way, has nothing to be corrected.

A stool and a lamp are added to the room: what everybody touches, and no turnover treats. Sources:
CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (used gloves touch no
clean surface; what is touched with used gloves is covered, or cleaned and disinfected). That lamps
and stools are forgotten in this way: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import Planted, among, assert_told, kinds

DAY = "a-day-with-film"
FILM = "intraoral-film"
SENSOR = "intraoral-wired-sensor"
TALK = "a-visit-without-an-image"
CLOSING = "closing-the-room"
HOLDERS = "holders-and-bite-blocks"

FLOOR = "  floor: surface; dirty\n"
ADDED = ("imaging-room-2", FLOOR, FLOOR + "  stool, lamp: surface\n")
TO_DARKROOM = "  either\n    [ ] operator puts on overgloves\n"
CHANGES = "  [ ] operator changes gloves\n"
STOOL = "  [ ] operator works at stool\n"
LAMP = "  [ ] operator works at lamp\n"
SLEEVE = "  [ ] operator slips sleeve over sensor\n"
LEAVES = "  [ ] patient leaves\n"
GLOVED = "  in one go\n    [ ] operator cleans hands\n    [ ] operator puts on gloves\n"
BARE = "  in one go\n    [ ] operator takes off gloves\n    [ ] operator washes hands\n"
PUTS_ON = "    [ ] operator puts on gloves\n"
INSPECTS = "  [ ] inspected: operator inspects used holder for debris\n"
TREATS = "  [ ] operator disinfects holder box and dirty side with a new cloth\n"
STOOL_TREATED = (
    "  [ ] operator cleans stool with a new cloth\n"
    "  [ ] operator disinfects stool with a new cloth\n"
)
AIMS = "        [ ] helper aims tube\n"
HELPER = "        [ ] helper works at stool\n"
TWO = "  where images is two\n"


def film(before: str) -> tuple[str, str, str]:
    """Before the darkroom, with the gloves that were in the mouth."""
    return FILM, TO_DARKROOM, before + TO_DARKROOM


def sensor(before: str) -> tuple[str, str, str]:
    """With fresh gloves, before the sensor is in the mouth."""
    return SENSOR, SLEEVE, before + SLEEVE


def talk(*steps: str) -> tuple[str, str, str]:
    return TALK, LEAVES, LEAVES + GLOVED + "".join(steps) + BARE


def closing(*steps: str) -> tuple[str, str, str]:
    lines = "".join(f"  {step}" for step in steps)
    return CLOSING, PUTS_ON, PUTS_ON + lines


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


IN_MOUTH = ("path-to-patient", "place: operator places holder with sensor in mouth")
#: What follows from a sensor that is in soiled hands before it is in the mouth.
FOLLOWS = [
    ("claim-not-clean", "operator places film holder with film 2 in mouth"),
    ("path-to-staff", "operator throws away visor by the strap"),
    ("clean-thing-reached", "operator lays out film holder, gauze, overgloves"),
    ("hands-at-end", "helper aims tube"),
]
FROM_FILM = {"protocol (visit 1)": '"Intraoral, film"'}
TO_SENSOR = FROM_FILM | {"protocol (visit 2)": '"Intraoral, wired sensor"'}
TO_THIRD = FROM_FILM | {"protocol (visit 3)": '"Intraoral, wired sensor"'}
FAULTS: dict[str, Planted] = {
    "from film to a sensor": Planted(
        (ADDED, film(STOOL), sensor(STOOL)),
        [IN_MOUTH, *FOLLOWS],
        TO_SENSOR,
        2,
        (ADDED, film(CHANGES + STOOL), sensor(STOOL)),
    ),
    "from film to a sensor, after two images only": Planted(
        (ADDED, film(TWO + indented(STOOL)), sensor(STOOL)),
        [IN_MOUTH, *FOLLOWS],
        TO_SENSOR | {"images": "two"},
        2,
        (ADDED, film(TWO + indented(CHANGES + STOOL)), sensor(STOOL)),
    ),
    "from film to the helper of a sensor, with two people only": Planted(
        (ADDED, film(STOOL), (SENSOR, AIMS, AIMS + HELPER)),
        [("path-to-staff", "helper works at stool")],
        TO_SENSOR | {"staffing": "paired"},
        2,
        (ADDED, film(CHANGES + STOOL), (SENSOR, AIMS, AIMS + HELPER)),
    ),
    "from film by a visit without an image to a sensor": Planted(
        (ADDED, film(STOOL), talk(STOOL, LAMP), sensor(LAMP)),
        [IN_MOUTH, *FOLLOWS],
        TO_THIRD | {"protocol (visit 2)": '"A visit without an image"'},
        3,
        (ADDED, film(STOOL), talk(LAMP, STOOL), sensor(LAMP)),
    ),
    "from film by a visit without an image, in one order of two": Planted(
        (ADDED, film(STOOL), talk("  any order\n", indented(STOOL + LAMP)), sensor(LAMP)),
        [IN_MOUTH, *FOLLOWS],
        TO_THIRD | {"protocol (visit 2)": '"A visit without an image"'},
        3,
        (ADDED, film(STOOL), talk(LAMP, CHANGES, STOOL), sensor(LAMP)),
    ),
    "from film by the closing over night to a sensor": Planted(
        (ADDED, film(STOOL), closing(STOOL, LAMP), sensor(LAMP)),
        [IN_MOUTH, *FOLLOWS],
        TO_THIRD | {"protocol (visit 2)": '"Closing the room" and "Opening the room"'},
        3,
        (ADDED, film(STOOL), closing(LAMP, STOOL), sensor(LAMP)),
    ),
    "from film by the gloves of washing to a sensor": Planted(
        (ADDED, (HOLDERS, INSPECTS, STOOL + INSPECTS), sensor(STOOL)),
        [
            IN_MOUTH,
            ("world-to-patient", "place: operator places holder with sensor in mouth"),
            *FOLLOWS,
        ],
        TO_THIRD | {"protocol (visit 2)": '"Holders and bite blocks"'},
        3,
        (
            ADDED,
            (HOLDERS, INSPECTS, STOOL + INSPECTS),
            (HOLDERS, TREATS, TREATS + STOOL_TREATED),
            sensor(STOOL),
        ),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    one = among(tmp_path, DAY, ())
    assert kinds(one) == [] and not one.outcome.unchecked


@pytest.mark.parametrize("name", FAULTS)
def test_the_day_tells_the_fault(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, DAY, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_no_protocol_alone_tells_it(tmp_path: Path, name: str) -> None:
    for first in (FILM, SENSOR, TALK, CLOSING, HOLDERS):
        assert kinds(among(tmp_path, first, FAULTS[name].changes)) == []


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, DAY, FAULTS[name].twin)) == []
