"""Film and a daylight loader: the shipped protocol, one changed place at a time.

Each fault shows only under some choice or in a second visit; beside each stands a change of the
same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002;
* Navy: US Navy dental technician manual (the fabric sleeve cannot be disinfected);
* University: a university exposure-control protocol (overgloves for the way into the loader).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "film-processing"
LOADER = "intraoral-film-daylight-loader"

SHIPPED = (ROOM / f"{LOADER}.protocol").read_text("utf-8")


def _part(start: str, end: str) -> str:
    return SHIPPED[SHIPPED.index(start) : SHIPPED.index(end, SHIPPED.index(start))]


POUCH_2 = _part(
    "    where images is two\n      [ ] operator lets film 2 fall out of film", "    in one"
)
POUCH_1 = _part("    [ ] operator lets film 1 fall out of film pouch", POUCH_2)
OFF = """    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
"""
DROP_1 = "    [ ] operator reaches into loader from above\n    [ ] operator drops film 1"
LID = _part(
    '    [ ] operator shuts the door of loader by loader lid\n        short "Shut the lid, still',
    "    [ ] operator takes off overgloves",
)
OVER = "    [ ] operator takes off overgloves\n"
DARK_OFF = _part(
    "  in one go\n    [ ] operator takes off loader gloves", "  [ ] operator feeds film 1"
)
SECOND = _part(
    "  where images is two\n    where film comes in is packets\n      [ ] operator takes film 2",
    DARK_OFF,
)
FIRST = _part("  where film comes in is packets\n    [ ] operator takes film 1 out", SECOND)

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC 2003: pouches are opened while still gloved. Only where film comes in pouches.
    (LOADER, "the pouches opened with bare hands"): Planted(
        ((LOADER, POUCH_1 + POUCH_2 + OFF, OFF + POUCH_1 + POUCH_2),),
        [
            ("path-to-patient", "operator places film holder with film 1 in mouth"),
            ("claim-not-clean", "operator places film holder with film 1 in mouth"),
            ("clean-thing-reached", "operator shuts the door of loader by loader lid"),
        ],
        {"film comes in": "pouches"},
        2,
        ((LOADER, POUCH_1 + POUCH_2 + OFF, POUCH_2 + POUCH_1 + OFF),),
    ),
    # CDC 2003: gloves off when the last pouch is open. Only with two films in pouches.
    (LOADER, "gloves off between the first pouch and the second"): Planted(
        ((LOADER, POUCH_1 + POUCH_2 + OFF, POUCH_1 + OFF + POUCH_2),),
        [
            ("path-to-patient", "operator places film holder with film 1 in mouth"),
            ("claim-not-clean", "operator places film holder with film 1 in mouth"),
            ("clean-thing-reached", "operator shuts the door of loader by loader lid"),
        ],
        {"images": "two", "film comes in": "pouches"},
        2,
        (
            (
                LOADER,
                POUCH_1 + POUCH_2 + OFF,
                POUCH_1 + "    [ ] operator changes gloves\n" + POUCH_2 + OFF,
            ),
        ),
    ),
    # University: overgloves stay on as long as clean things are touched. Only with plain packets.
    (LOADER, "the lid shut after the overgloves are off"): Planted(
        ((LOADER, LID + OVER, OVER + LID),),
        [
            ("path-to-patient", "operator places film holder with film 1 in mouth"),
            ("clean-thing-reached", "operator lays out wipe"),
        ],
        {"film comes in": "packets"},
        2,
        ((LOADER, LID + OVER, OVER + "    [ ] operator shuts the door of loader by elbow\n"),),
    ),
    # Navy: what cannot be disinfected is not met by gloves that opened packets.
    (LOADER, "hands out of the sleeves in gloves"): Planted(
        (
            (
                LOADER,
                DARK_OFF,
                DARK_OFF.replace(
                    "  in one go\n",
                    "  [ ] operator draws the hands out of"
                    " loader through loader sleeves\n  in one go\n",
                    1,
                )
                + "  [ ] operator reaches into loader through loader sleeves\n",
            ),
        ),
        [
            ("path-to-patient", "operator places film holder with film 1 in mouth"),
            ("claim-not-clean", "operator places film holder with film 1 in mouth"),
            (
                "clean-thing-reached",
                "operator draws the hands out of loader through loader sleeves",
            ),
        ],
        {"film comes in": "packets"},
        2,
        (
            (
                LOADER,
                DARK_OFF,
                DARK_OFF + "  [ ] operator draws the hands out of loader through loader"
                " sleeves\n  [ ] operator cleans hands\n"
                "  [ ] operator reaches into loader through loader sleeves\n",
            ),
        ),
    ),
    # CDC hands: right after gloves. Only with two films the gloves come off too early.
    (LOADER, "the second packet opened with the hands that feed"): Planted(
        ((LOADER, SECOND + DARK_OFF, DARK_OFF + SECOND),),
        [
            ("path-to-patient", "operator places film holder with film 1 in mouth"),
            ("claim-not-clean", "operator places film holder with film 1 in mouth"),
            ("clean-thing-reached", "operator feeds film 1 into slot in loader"),
        ],
        {"images": "two", "film comes in": "packets"},
        2,
        ((LOADER, FIRST + SECOND, SECOND + FIRST),),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
