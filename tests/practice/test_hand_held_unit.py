"""A hand-held unit on a home visit: the shipped protocol, one changed place at a time.

Each fault shows only under some choice, in one order, when an image is taken again or in a second
visit; beside each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002;
* Course: course texts for operators (ring shield, mid-torso, else an apron).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "home-visits"
VISIT = "intraoral-hand-held-unit"

OFF = """  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""
LOOK = "  [ ] look: operator looks at the image\n"
SHIELD = "    [ ] operator fixes the ring shield of unit\n"
HELD = "  [ ] held: operator holds unit close to the face of patient\n"
UNIT = """    in order
      [ ] operator cleans unit with a new wipe
      [ ] operator disinfects unit with a new wipe
"""
SENSOR = UNIT.replace("unit", "sensor")
APRON = """    [ ] operator cleans own apron with a new wipe
    [ ] operator disinfects own apron with a new wipe
"""
SHEETS = "  [ ] operator takes sheet off used half and clean half\n"
WAIT = "  [ ] operator waits 2 minutes\n"
BACK = "  [ ] operator puts unit into clean case\n"

PLANTED: dict[tuple[str, str], Planted] = {
    # Course: without a ring shield an apron. Only in a clinic whose unit has none.
    (VISIT, "an apron is not put on because the unit is said to have a shield"): Planted(
        (
            (
                VISIT,
                "  where unit has is none\n    [ ] operator wears in front an own apron from apron"
                ' fold\n        short "Own apron on"\n',
                "",
            ),
            (
                VISIT,
                "    [ ] operator takes off own apron and lays it on used half\n"
                '        short "Own apron off, onto the used half"\n',
                "",
            ),
        ),
        [("claim-can-fail", "operator exposes in own apron with unit")],
        {"unit has": "none", "image blurred": "yes"},
        1,
        ((VISIT, SHIELD, SHIELD + "    [ ] operator inspects unit\n"),),
    ),
    # CDC 2003: what was in the way of a cough or a cheek is disinfected. Only with the own apron.
    (VISIT, "the own apron only inspected"): Planted(
        ((VISIT, APRON, "    [ ] operator inspects own apron\n"),),
        [
            ("path-to-patient", "operator places holder with sensor in mouth"),
            ("claim-not-clean", "operator places holder with sensor in mouth"),
            ("clean-thing-reached", "operator hangs own apron on apron fold"),
        ],
        {"unit has": "none"},
        2,
        ((VISIT, APRON, "    [ ] operator inspects own apron\n" + APRON),),
    ),
    # CDC hands: right after gloves, before anything that is kept clean.
    (VISIT, "the keyboard worked on the way to clean hands"): Planted(
        (
            (
                VISIT,
                OFF + LOOK,
                "  [ ] operator takes off gloves\n"
                + LOOK
                + "  [ ] operator works at keyboard\n  [ ] operator cleans hands\n",
            ),
        ),
        [
            ("duty-can-fail", "operator works at keyboard"),
            ("path-to-patient", "operator places holder with sensor in mouth"),
            ("clean-thing-reached", "operator takes unit out of clean case"),
        ],
        {"unit has": "a ring shield", "image blurred": "yes"},
        1,
        ((VISIT, OFF + LOOK, OFF + "  [ ] operator works at keyboard\n" + LOOK),),
    ),
    # CDC 2003: a product takes its time. One of two orders packs the unit wet.
    (VISIT, "packed in any order with the wait"): Planted(
        ((VISIT, WAIT + BACK, "  any order\n  " + WAIT + "  " + BACK),),
        [("claim-can-fail", "operator puts unit into clean case")],
        {"unit has": "a ring shield", "image blurred": "yes"},
        1,
        ((VISIT, WAIT + BACK, "  [ ] operator waits until unit is dry\n" + BACK + WAIT),),
    ),
    # CDC 2003: covers come off with gloves on. The sheets go last; bare, they soil the case.
    (VISIT, "the sheets taken off with bare hands"): Planted(
        ((VISIT, SHEETS + OFF, OFF + SHEETS),),
        [
            ("path-to-patient", "operator places holder with sensor in mouth"),
            ("claim-not-clean", "operator places holder with sensor in mouth"),
            ("clean-thing-reached", "operator puts unit into clean case"),
        ],
        {},
        2,
        ((VISIT, SHEETS + OFF, SHEETS + "  [ ] operator inspects sensor\n" + OFF),),
    ),
    # CDC 2003: a sleeve leaks, and a sensor is disinfected all the same. Only with a second one.
    (VISIT, "the sensor not disinfected when there is no shield to clean"): Planted(
        ((VISIT, SENSOR, SENSOR.replace("in order", "where unit has is a ring shield")),),
        [
            ("path-to-patient", "operator places holder with sensor in mouth"),
            ("claim-not-clean", "operator places holder with sensor in mouth"),
            ("clean-thing-reached", "operator puts sensor into holder"),
        ],
        {"unit has": "none"},
        2,
        ((VISIT, UNIT + SENSOR, SENSOR + UNIT),),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
