"""An image from outside the mouth first, where an infection through the air is suspected: the
shipped protocol, one changed place at a time.

Each fault shows only if the first image is not enough, after a cough or in a second visit; beside
each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC air: Guidelines for Environmental Infection Control in Health-Care Facilities, 2003, table B.1
  (6 air changes an hour: 46 minutes to 99 percent, 69 to 99.9);
* CDC poster: sequence for putting on and removing personal protective equipment.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "suspected-airborne-infection"
VISIT = "extra-oral-image-first"

ROOM_LEFT = "    [ ] operator goes to lobby\n"
OUT = "    [ ] patient leaves\n    [ ] operator goes to lobby\n"
RESPIRATOR_OFF = """    [ ] operator takes off respirator by the ties
        short "Respirator off by the ties, last"
"""
VISOR_OFF = """    [ ] operator throws away visor by the strap
        short "Visor off by the strap"
"""
GOWN_OFF = """    [ ] operator takes off gown inside out
        short "Gown off inside out"
"""
WAIT = "operator waits 69 minutes\n"
AIM = """      [ ] operator aims tube
          note "Before the sensor is in: it stays in for as short as can be."
"""
PLACE = """      [ ] place: operator places holder with sensor in mouth
          short "Sensor into the mouth"
          only when operator's hands are clean of other patients
"""
OFF = """      in one go
        [ ] operator takes off gloves
        [ ] operator cleans hands
"""
BOOTH = "      [ ] operator goes to booth\n"
SENSOR = """      [ ] operator cleans sensor with a new wipe
      [ ] operator disinfects sensor with a new wipe
"""
BAGS = "    [ ] operator takes bag off bite block and tube\n"

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC air: 46 minutes are enough to 99 percent only.
    (VISIT, "46 minutes in the place of 69"): Planted(
        ((VISIT, WAIT, WAIT.replace("69", "46")),),
        [("air-breathed", "operator goes to imaging room"), ("air-not-clear", "patient leaves")],
        {"precautions": "airborne", "too little seen": "yes"},
        1,
        (
            (VISIT, WAIT, WAIT.replace("69", "46")),
            (VISIT, "cleared to 99.9 percent", "cleared to 99 percent"),
        ),
    ),
    # CDC poster: the respirator comes off after leaving the room.
    (VISIT, "the respirator off before the room is left"): Planted(
        (
            (VISIT, OUT, "    [ ] patient leaves\n" + RESPIRATOR_OFF + ROOM_LEFT),
            (VISIT, GOWN_OFF + RESPIRATOR_OFF, GOWN_OFF),
        ),
        [
            ("air-breathed", "operator takes off respirator by the ties"),
            ("path-to-staff", "operator takes off gown inside out"),
        ],
        {"precautions": "airborne", "too little seen": "no"},
        1,
        ((VISIT, VISOR_OFF + GOWN_OFF + RESPIRATOR_OFF, GOWN_OFF + VISOR_OFF + RESPIRATOR_OFF),),
    ),
    # CDC poster: a respirator alone leaves the eyes bare. Only if the patient coughs.
    (VISIT, "no visor"): Planted(
        ((VISIT, "    [ ] operator puts on visor\n", ""), (VISIT, VISOR_OFF, "")),
        [("path-to-staff", "patient spatters onto operator and onto tube")],
        {"precautions": "airborne", "too little seen": "yes", "what happens": "patient coughs"},
        1,
        (
            (
                VISIT,
                "    [ ] operator puts on visor\n",
                "    [ ] operator puts on visor\n    [ ] operator cleans hands\n",
            ),
        ),
    ),
    # CDC 2003: what spatter may have met is not touched with bare hands. Only after a cough.
    (VISIT, "aimed once the sensor is in, with bare hands"): Planted(
        ((VISIT, AIM, ""), (VISIT, OFF + BOOTH, OFF + "      [ ] operator aims tube\n" + BOOTH)),
        [
            ("path-to-patient", "place: operator places holder with sensor in mouth"),
            ("claim-not-clean", "place: operator places holder with sensor in mouth"),
            ("path-to-staff", "operator throws away visor by the strap"),
            ("clean-thing-reached", "operator exposes from booth with exposure button"),
        ],
        {"precautions": "airborne", "too little seen": "yes", "what happens": "patient coughs"},
        2,
        ((VISIT, AIM, ""), (VISIT, PLACE, PLACE + "      [ ] operator aims tube\n")),
    ),
    # CDC 2003: a sleeve leaks. Only if there was a second image, and only the next patient.
    (VISIT, "the sensor only cleaned"): Planted(
        ((VISIT, SENSOR, SENSOR.partition("\n")[0] + "\n"),),
        [
            ("path-to-patient", "place: operator places holder with sensor in mouth"),
            ("claim-not-clean", "place: operator places holder with sensor in mouth"),
            ("path-to-staff", "operator throws away visor by the strap"),
            ("clean-thing-reached", "operator hangs sensor on sensor hook by a new wipe"),
        ],
        {"precautions": "airborne", "too little seen": "yes"},
        2,
        ((VISIT, SENSOR, SENSOR.partition("\n")[0] + "\n" + SENSOR),),
    ),
    # CDC 2003: covers come off with gloves on. The bag of the tube was coughed at, or was not.
    (VISIT, "the bags taken off before gloves are on"): Planted(
        (
            (VISIT, BAGS, ""),
            (
                VISIT,
                "    [ ] operator lays out wipe\n",
                BAGS + "    [ ] operator cleans hands\n    [ ] operator lays out wipe\n",
            ),
        ),
        [
            ("path-to-patient", "place: operator places holder with sensor in mouth"),
            ("claim-not-clean", "place: operator places holder with sensor in mouth"),
            ("path-to-staff", "operator throws away visor by the strap"),
            ("clean-thing-reached", "operator lays out wipe"),
        ],
        {"precautions": "airborne", "too little seen": "yes"},
        2,
        ((VISIT, BAGS, BAGS.replace("bite block and tube", "tube and bite block")),),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
