"""Cephalometric images and cone-beam scans: the shipped protocols, one changed place at a time.

Each fault shows only under some choice, in one order, after a mishap or in a second visit; beside
each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002;
* CDC 2008: Guideline for Disinfection and Sterilization in Healthcare Facilities (table 1).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "imaging-room-4"
SKULL, VOLUME = "cephalometric", "cone-beam-ct"

OFF = """  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""
ON = """  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
"""
COVER_OFF = """    where on the brow rest is a cover
      [ ] operator takes film cover off brow rest
    otherwise
"""
BARE_REST = """      [ ] operator cleans brow rest with a new wipe
      [ ] operator disinfects brow rest with a new wipe
"""
RODS = """    in order
      [ ] operator cleans ear rods with a new wipe
      [ ] operator disinfects ear rods with a new wipe
"""
WAIT = "  [ ] operator waits 2 minutes\n"
CAPS = "  [ ] operator covers ear rods with rod cap\n"
CUP = """    in order
      [ ] operator cleans chin cup with a new wipe
      [ ] operator disinfects chin cup with a new wipe
"""
SEAT = CUP.replace("chin cup", "seat arms")
TURN = "  [ ] operator turns the head of patient\n"
STEADY = (
    TURN
    + """  [ ] steadied: operator straps the head of patient with head strap
"""
)
LOOSE = "  [ ] operator loosens head strap from the head of patient\n"
OUT = 'phase "Out"\n'

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC 2003: what has no cover is cleaned and disinfected.
    (SKULL, "the brow rest without a cover is not disinfected"): Planted(
        ((SKULL, BARE_REST, "      [ ] operator inspects brow rest\n"),),
        [("path-to-patient", "operator brings brow rest to the brow of patient")],
        {"view": "from the side", "on the brow rest": "nothing"},
        2,
        ((SKULL, BARE_REST, "      [ ] operator inspects brow rest\n" + BARE_REST),),
    ),
    # CDC 2003: covers come off while still gloved.
    (SKULL, "its cover comes off with bare hands"): Planted(
        (
            (
                SKULL,
                COVER_OFF,
                COVER_OFF.replace("operator takes film cover off", "operator inspects"),
            ),
            (
                SKULL,
                WAIT,
                "  where on the brow rest is a cover\n"
                "    [ ] operator takes film cover off brow rest\n" + WAIT,
            ),
        ),
        [
            ("path-to-patient", "operator brings ear rods into the ears of patient"),
            ("clean-thing-reached", "operator covers ear rods with rod cap"),
        ],
        {"view": "from the side", "on the brow rest": "a cover"},
        2,
        (
            (
                SKULL,
                COVER_OFF,
                COVER_OFF.replace("operator takes film cover off", "operator inspects"),
            ),
            (
                SKULL,
                "  [ ] operator takes rod cap off ear rods\n",
                "  where on the brow rest is a cover\n"
                "    [ ] operator takes film cover off brow rest\n"
                "  [ ] operator takes rod cap off ear rods\n",
            ),
        ),
    ),
    # CDC 2008, table 1: a product takes its time. One of two orders covers what is still wet.
    (SKULL, "capped in any order with the wait"): Planted(
        ((SKULL, WAIT + CAPS, "  any order\n  " + WAIT + "  " + CAPS),),
        [("claim-can-fail", "operator covers ear rods with rod cap")],
        {"view": "from the side", "on the brow rest": "a cover", "patient moved": "yes"},
        1,
        (
            (
                SKULL,
                WAIT + CAPS,
                "  any order\n    [ ] operator waits until brow rest is dry\n  " + WAIT + CAPS,
            ),
        ),
    ),
    # CDC hands: before clean things, hands are cleaned.
    (SKULL, "from the second try to the booth with hands that were in the hair"): Planted(
        (
            (
                SKULL,
                "  [ ] operator cleans hands\n  [ ] operator goes to booth\n  [ ] operator exp",
                "  [ ] operator goes to booth\n  [ ] operator exp",
            ),
        ),
        [("path-to-patient", "operator takes brow rest away from the brow of patient")],
        {"view": "from the side", "on the brow rest": "a cover"},
        2,
        (
            (
                SKULL,
                "  [ ] operator cleans hands\n  [ ] operator goes to booth\n  [ ] operator exp",
                "  [ ] operator goes to booth\n  [ ] operator cleans hands\n  [ ] operator exp",
            ),
        ),
    ),
    # CDC 2003: gloves where saliva may be. Only if the patient coughed and then moved.
    (VOLUME, "the strap closed with bare hands"): Planted(
        (
            (
                VOLUME,
                ON + STEADY + OFF,
                "  [ ] operator cleans hands\n" + STEADY + "  [ ] operator cleans hands\n",
            ),
        ),
        [
            ("path-to-patient", "patient bites on own splint from splint cup"),
            ("clean-thing-reached", "operator exposes from booth with exposure button"),
        ],
        {"patient moved": "yes", "what happens": "patient coughs", "splint": "with markers"},
        2,
        ((VOLUME, ON + STEADY + OFF, ON + STEADY.removeprefix(TURN) + TURN + OFF),),
    ),
    # CDC 2003: splashed surfaces are cleaned and disinfected, used or not.
    (VOLUME, "the chin cup disinfected only if a chin was on it"): Planted(
        ((VOLUME, CUP, CUP.replace("in order", "where steadied by is the chin cup")),),
        [
            ("path-to-patient", "patient bites on bite fork"),
            ("path-to-staff", "operator fixes bite fork to chin cup"),
            ("clean-thing-reached", "operator puts on gloves"),
        ],
        {"steadied by": "a bite fork", "what happens": "patient coughs"},
        2,
        ((VOLUME, CUP + SEAT, SEAT + CUP),),
    ),
    # CDC 2003: gloves for what spatter may have met. Only after a cough.
    (VOLUME, "the strap loosened before gloves are on"): Planted(
        ((VOLUME, OUT + ON + LOOSE, OUT + LOOSE + ON),),
        [
            ("path-to-patient", "patient bites on own splint from splint cup"),
            ("clean-thing-reached", "operator puts on gloves"),
        ],
        {"what happens": "patient coughs", "splint": "with markers"},
        2,
        ((VOLUME, OUT + ON + LOOSE, OUT + ON.replace("cleans", "washes") + LOOSE),),
    ),
    # CDC 2003: a wipe that has cleaned brings back what it took. Found by those that stay soiled.
    (VOLUME, "the chin cup disinfected with the wipe that cleaned it"): Planted(
        (
            (
                VOLUME,
                "disinfects chin cup with a new wipe",
                "disinfects chin cup with the same wipe",
            ),
        ),
        [
            ("path-to-patient", "patient bites on bite fork"),
            ("path-to-staff", "operator fixes bite fork to chin cup"),
            ("clean-thing-reached", "operator puts on gloves"),
        ],
        {"what happens": "patient coughs", "steadied by": "a bite fork"},
        2,
        (
            (
                VOLUME,
                "      [ ] operator disinfects chin cup",
                "      [ ] operator cleans chin cup"
                " with the same wipe\n      [ ] operator disinfects chin cup",
            ),
        ),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
