"""A spill, equipment that leaves for repair, waste with foil and fixer: the shipped protocols, one
changed place at a time.

Each fault shows only under some choice, in one order or in some rounds; beside each stands a change
of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC 2008: Guideline for Disinfection and Sterilization in Healthcare Facilities (bleach, table 1);
* CDC poster: sequence for removing personal protective equipment;
* WHO 2014: annex G (bleach on a cleaned surface, 10 minutes or more).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "now-and-then"
SPILL, REPAIR, WASTE = (
    "spill-of-saliva-or-blood",
    "equipment-leaving-for-repair",
    "waste-lead-foil-and-fixer",
)

PIECES = """  where broken pieces in it
    [ ] operator takes up broken pieces from spill place with scoop into sharps box
        short "Pieces: scoop, never fingers"
"""
CLEAN = """  [ ] operator cleans spill place with a new bleach wipe
      only when spill place is soaked up
"""
DISINFECT = "  [ ] operator disinfects spill place with a new bleach wipe\n"
WASH = "  [ ] operator washes hands\n"
MASK = "  [ ] operator takes off mask by the ties\n"
TEN = """  [ ] operator waits 10 minutes
      short "10 minutes wet; nobody walks there"
"""
IN_USE = '\nphase "In use again"\n'
USED = """  [ ] operator works at spill place
      short "With bare hands, as anybody does"
      only when spill place is clean
      only when spill place is dry
"""
BLEACH = "treats to intermediate; stays wet 10 minutes"

SENSOR = """  [ ] operator cleans faulty sensor with a new wipe
  [ ] operator disinfects faulty sensor with a new wipe
"""
OFF = """  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""
DRY = "  [ ] operator waits until faulty sensor is dry\n"
UNPACK = "    [ ] technician unpacks faulty sensor from repair bag\n"

VISOR_ON = "  [ ] operator puts on visor\n"
VISOR_OFF = "  [ ] operator throws away visor by the strap\n"
FIXER = """    [ ] operator drains fixer into can
        note "Never into the drain."
"""
GLOVES_OFF = """  [ ] operator takes off thick pair
      short "Thick gloves off"
"""
FOIL = """  [ ] operator cleans foil box with a new wipe
  [ ] operator disinfects foil box with a new wipe
"""
BIN = FOIL.replace("foil box", "bin")
NEW_BAG = """  [ ] operator covers bin with liner
      short "New bag, clean hands"
"""

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC 2003: intermediate level where blood is visible. Of saliva a weaker product is enough.
    (SPILL, "a product of the low level"): Planted(
        ((SPILL, BLEACH, BLEACH.replace("intermediate", "low")),),
        [("claim-not-clean", "operator works at spill place")],
        {"spilled": "blood"},
        1,
        ((SPILL, BLEACH, BLEACH.replace("intermediate", "sporicidal")),),
    ),
    # CDC 2003: cleaning comes first. Only where nothing was broken is it left out.
    (SPILL, "not cleaned before where nothing is broken"): Planted(
        (
            (
                SPILL,
                CLEAN,
                "  where broken pieces in it\n    [ ] operator cleans spill place with a new"
                " bleach wipe\n",
            ),
        ),
        [
            ("claim-not-clean", "operator works at spill place"),
            ("path-to-staff", "operator works at spill place"),
            ("clean-thing-reached", "operator lays out paper, scoop and bleach wipe"),
        ],
        {"broken pieces in it": "no"},
        1,
        (
            (
                SPILL,
                CLEAN,
                CLEAN + "  where broken pieces in it\n    [ ] operator cleans spill place with"
                " a new bleach wipe\n",
            ),
        ),
    ),
    # WHO 2014 and the label: 10 minutes. One of two orders has it touched before its time.
    (SPILL, "in use again in any order with the wait"): Planted(
        (
            (
                SPILL,
                TEN + IN_USE + USED,
                "  any order\n    [ ] operator waits 10 minutes\n    [ ] operator"
                " works at spill place\n        only when spill place is dry\n",
            ),
        ),
        [
            ("claim-can-fail", "operator works at spill place"),
            ("path-to-staff", "operator works at spill place"),
            ("clean-thing-reached", "operator lays out paper, scoop and bleach wipe"),
        ],
        {"spilled": "saliva", "amount": "below 10 mL", "broken pieces in it": "yes"},
        1,
        ((SPILL, TEN, "  [ ] operator waits until spill place is dry\n"),),
    ),
    # Common practice, no source: no fingers in broken pieces, gloved or not; here bare ones.
    (SPILL, "pieces picked up before gloves are on"): Planted(
        (
            (SPILL, PIECES, ""),
            (
                SPILL,
                'phase "Get dressed"\n',
                'phase "Get dressed"\n'
                "  where broken pieces in it\n    [ ] operator works at spill place\n",
            ),
        ),
        [
            ("claim-not-clean", "operator works at spill place"),
            ("path-to-staff", "operator throws away visor by the strap"),
            ("clean-thing-reached", "operator lays out paper, scoop and bleach wipe"),
        ],
        {"broken pieces in it": "yes"},
        1,
        (
            (
                SPILL,
                PIECES,
                PIECES + "  where broken pieces in it\n    [ ] operator works at spill place\n",
            ),
        ),
    ),
    # CDC 2003: whoever has it in the hands next is protected by what was done before. Only where it
    # is repaired in the room was it handed over as it was.
    (REPAIR, "disinfected only if it leaves"): Planted(
        (
            (
                REPAIR,
                SENSOR + OFF,
                "  where repaired is in the workshop\n"
                + "".join(f"  {line}\n" for line in SENSOR.rstrip().split("\n"))
                + OFF,
            ),
        ),
        [
            ("path-to-staff", "technician takes over faulty sensor"),
            ("clean-thing-reached", "technician puts on workshop gloves"),
            ("hands-at-end", "operator puts on gloves"),
        ],
        {"repaired": "in the room"},
        1,
        (
            (
                REPAIR,
                SENSOR + OFF,
                "  where repaired is in the workshop\n    [ ] operator inspects faulty"
                " sensor\n" + SENSOR + OFF,
            ),
        ),
    ),
    # CDC 2008, table 1: a product takes its time. One of two orders packs it wet.
    (REPAIR, "packed in any order with the wait"): Planted(
        ((REPAIR, OFF + DRY + "\n", OFF + "\n"), (REPAIR, UNPACK, UNPACK + "  " + DRY)),
        [
            ("claim-can-fail", "operator packs faulty sensor in a new repair bag and labels it"),
            ("path-to-staff", "operator packs faulty sensor in a new repair bag and labels it"),
            ("clean-thing-reached", "operator lays out wipe"),
            ("hands-at-end", "technician unpacks faulty sensor from repair bag"),
        ],
        {"repaired": "in the workshop", "inside": "shut", "still broken": "yes"},
        1,
        ((REPAIR, OFF + DRY + "\n", DRY + OFF + "\n"),),
    ),
    # Common practice, no source: eyes are kept from chemicals. Only if fixer was drained.
    (WASTE, "no visor when fixer is drained"): Planted(
        ((WASTE, VISOR_ON, ""), (WASTE, VISOR_OFF, "")),
        [("path-to-staff", "operator drains fixer into can")],
        {"every month": "done"},
        1,
        ((WASTE, VISOR_ON, VISOR_ON + "  [ ] operator inspects can\n"),),
    ),
    # CDC 2003: clean covers go on with clean hands. One of two orders has the used gloves still on.
    (WASTE, "the new bag in any order with the gloves"): Planted(
        (
            (WASTE, NEW_BAG, ""),
            (
                WASTE,
                GLOVES_OFF,
                "  any order\n    [ ] operator covers bin with liner"
                "\n    [ ] operator takes off thick pair\n",
            ),
        ),
        [
            ("claim-can-fail", "operator covers bin with liner"),
            ("duty-can-fail", "operator covers bin with liner"),
            ("path-to-staff", "operator covers bin with liner"),
        ],
        {"every month": "done"},
        1,
        (
            (WASTE, FOIL, ""),
            (
                WASTE,
                BIN,
                "  any order\n    in order\n"
                + "".join(f"    {line}\n" for line in FOIL.rstrip().split("\n"))
                + "    in order\n"
                + "".join(f"    {line}\n" for line in BIN.rstrip().split("\n")),
            ),
        ),
    ),
    # CDC 2003: what comes from the bin is not pressed down with a bare hand.
    (WASTE, "pressed down before gloves are on"): Planted(
        (
            (
                WASTE,
                'phase "Get dressed"\n',
                'phase "Get dressed"\n  every week\n    [ ] operator presses down what is in bin\n',
            ),
        ),
        [
            ("path-to-staff", "operator presses down what is in bin"),
            ("clean-thing-reached", "operator lays out wipe"),
        ],
        {"every week": "done"},
        1,
        (
            (
                WASTE,
                'phase "The bin"\n',
                'phase "The bin"\n  every week\n    [ ] operator presses down what is in bin\n',
            ),
        ),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
