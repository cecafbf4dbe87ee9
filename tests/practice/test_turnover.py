"""Turning over the room after a visit with a sensor: planted faults, each with a right twin.

The visit is the shipped one up to "Turn over the room"; what follows is the shipped protocol of
that name, checked as a part of that visit and of the day.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (covers changed
or surfaces cleaned and disinfected; digital sensors cleaned and disinfected at intermediate level;
a surface stays wet as long as the label says). One wipe for one surface, wipes laid out before
gloves are used: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from tests.practice.kit import DAY, ROOM, SMALL_DAY, Changes, among, kinds, kinds_and_lines, visits

TURNOVER = "turning-over-the-room"
VISIT = "intraoral-wired-sensor"


def checked(where: Path, changes: Changes, first: str = VISIT):
    """The visit, or the day with it, going on with "Turning over the room", changed."""
    text = (ROOM / f"{VISIT}.protocol").read_text("utf-8")
    own = text[text.index('phase "Turn over the room"') :]
    header = "  owner infection control lead\n"
    parts = ((VISIT, own, ""), (VISIT, header, f'{header}  then "Turning over the room"\n'))
    small = (DAY, *SMALL_DAY)
    return among(where, first, (small, *parts, *((TURNOVER, old, new) for old, new in changes)))


class Fault(NamedTuple):
    """A planted fault, the findings (kind, step) with the visits of the first, and a right twin."""

    changes: Changes
    told: list[tuple[str, str]]
    visits: int
    twin: Changes


PLACE = "place: operator places holder with sensor in mouth"
HANG = "  [ ] operator hangs sensor on sensor hook by a new wipe\n"
ARMS = "      [ ] operator disinfects chair arms with a new wipe\n"
HALF = "  [ ] operator waits until used half is dry\n"
LINE = "    [ ] operator lines used half with tray paper\n"
LAID_OUT = (
    '      [ ] operator lays out wipe\n          short "Lay out wipes"\n'
    "      [ ] operator puts on gloves\n"
)
SAME = (
    "[ ] operator cleans used half with a new",
    "[ ] operator cleans used half with the same",
)
COVERS = "  any order\n    [ ] operator covers tube"
CLEAN_SENSOR = "  [ ] operator cleans sensor with a new wipe\n"
COLLAR_OFF = "    [ ] operator disinfects collar with a new wipe\n"
FAULTS: dict[str, Fault] = {
    "the sensor laid away by hand after disinfecting": Fault(
        ((HANG, HANG.replace(" by a new wipe", "")),),
        [
            ("path-to-patient", PLACE),
            ("clean-thing-reached", "operator hangs sensor on sensor hook"),
        ],
        2,
        (
            (
                HANG,
                "  [ ] operator changes gloves\n" + HANG.replace(" by a new wipe", ""),
            ),
        ),
    ),
    "the wipe that cleaned disinfects as well": Fault(
        ((ARMS, ARMS.replace("a new", "the same")),),
        [("path-to-patient", "patient sits down on chair arms")],
        2,
        # The other way round it does no harm: cleaned once more with what has just disinfected.
        ((ARMS, ARMS + "      [ ] operator disinfects chair arms with a new wipe\n"),),
    ),
    "one wipe for two surfaces, where it may be either": Fault(
        (SAME,),
        [("which-one", "operator cleans used half with the same wipe")],
        1,
        # In a settled order, with the last disinfecting by a new one.
        (
            SAME,
            (
                "  any order\n    in order\n      [ ] operator cleans chair",
                "  in order\n    in order\n      [ ] operator cleans chair",
            ),
        ),
    ),
    "used gloves at the wipe tub": Fault(
        (
            (LAID_OUT, "      [ ] operator puts on gloves\n"),
            (CLEAN_SENSOR, "  [ ] operator lays out wipe\n" + CLEAN_SENSOR),
        ),
        [
            ("path-to-patient", PLACE),
            ("claim-not-clean", PLACE),
            ("clean-thing-reached", "operator lays out wipe"),
            ("hands-at-end", "operator hangs collar on collar rack"),
        ],
        2,
        # New gloves, before they have touched anything.
        ((LAID_OUT, "      [ ] operator puts on gloves\n      [ ] operator lays out wipe\n"),),
    ),
    "lined while wet": Fault(
        ((HALF, ""),),
        [("claim-can-fail", "operator lines used half with tray paper")],
        1,
        (
            (HALF, ""),
            (
                LINE,
                "    in order\n      [ ] operator waits until used half is dry\n"
                "      [ ] operator lines used half with tray paper\n",
            ),
        ),
    ),
    "waited for after the covers, in some orders only": Fault(
        ((HALF, ""), (LINE, "    [ ] operator waits until used half is dry\n" + LINE)),
        [("claim-can-fail", "operator lines used half with tray paper")],
        1,
        ((HALF, ""), (COVERS, HALF + COVERS)),
    ),
    "a collar that is only cleaned, where the clinic has one": Fault(
        ((COLLAR_OFF, ""),),
        [
            ("path-to-patient", PLACE),
            ("claim-not-clean", PLACE),
            ("clean-thing-reached", "operator hangs collar on collar rack"),
        ],
        2,
        ((COLLAR_OFF, COLLAR_OFF + COLLAR_OFF),),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    assert kinds(checked(tmp_path, ())) == []
    assert kinds(checked(tmp_path, (), DAY)) == []


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    one = checked(tmp_path, FAULTS[name].changes)
    assert kinds_and_lines(one) == FAULTS[name].told
    assert visits(one.outcome.findings[0]) == FAULTS[name].visits


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(checked(tmp_path, FAULTS[name].twin)) == []


def test_the_day_tells_what_the_visit_tells(tmp_path: Path) -> None:
    """A sensor laid away by hand reaches the next mouth, and the sterile store, in the day too."""
    fault = FAULTS["the sensor laid away by hand after disinfecting"]
    assert {"path-to-patient", "clean-thing-reached"} <= set(
        kinds(checked(tmp_path, fault.changes, DAY))
    )
    assert kinds(checked(tmp_path, fault.twin, DAY)) == []
