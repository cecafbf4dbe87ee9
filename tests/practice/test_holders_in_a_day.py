"""Holders and bite blocks beside the visits of a small day: planted faults that show over two or
three visits, each with a right twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (cleaning before
sterilisation; packs are kept from what is soiled; dirty and clean sides kept apart; heavy-duty
gloves are cleaned and disinfected). That a pack that fell on the floor is not stocked: common
practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import DAY, SMALL_DAY, Planted, among, assert_told, kinds

HOLDERS = "holders-and-bite-blocks"
SMALL = (DAY, *SMALL_DAY)

BEGINS = "begins with\n"
LOAD = "choices, each visit\n  load: small, large\n\n"
LARGE = "  where load is large\n"
SCRUBS = "  [ ] operator scrubs used holder at sink\n"
WASHES = "  [ ] operator washes thick gloves on the hands at sink\n"
DISINFECTS = "  [ ] operator disinfects thick gloves on the hands with a new cloth\n"
TREATS = (
    "  [ ] operator cleans holder box and dirty side with a new cloth\n"
    "  [ ] operator disinfects holder box and dirty side with a new cloth\n"
)
LATER = "  [ ] operator works at dirty side\n"
GLOVED = "    [ ] operator puts on gloves\n"
PACKS = "  [ ] operator packs used holder with indicator in pouch\n"
UNLOADS = "  [ ] operator unloads used holder onto clean side\n"
ON_DIRTY = ("used holder onto clean side", "used holder onto dirty side")
DIRTY_SIDE = 'phase "Dirty side"\n'


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return (SMALL, *((HOLDERS, old, new) for old, new in changes))


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


def dropped(onto: str) -> tuple[tuple[str, str, str], ...]:
    happens = (
        'can happen in "Sterilise"\n  pack dropped, right after unloaded\n'
        f"    [ ] operator drops used holder onto {onto}\n"
        f"    [ ] operator picks up used holder from {onto}\n\n"
    )
    return of(
        (DIRTY_SIDE, happens + DIRTY_SIDE),
        (UNLOADS, UNLOADS.replace("operator", "unloaded: operator", 1)),
    )


IN_MOUTH = ("path-to-patient", "place: operator places holder with sensor in mouth")
STOCKED = "operator stocks sterile store with used holder in pouch"
HELPER = ("path-to-staff", "helper aims tube")
RETURNS = [
    IN_MOUTH,
    ("path-to-staff", STOCKED),
    ("clean-thing-reached", "operator opens the record at keyboard"),
    ("hands-at-end", "helper aims tube"),
]
BETWEEN = {"protocol (visit 2)": '"Holders and bite blocks"'}
ROUND = {"protocol (visit 1)": '"Intraoral, wired sensor"'} | BETWEEN
FAULTS: dict[str, Planted] = {
    "a small load is not scrubbed": Planted(
        of((BEGINS, LOAD + BEGINS), (SCRUBS, LARGE + indented(SCRUBS))),
        RETURNS,
        ROUND | {"load": "small", "protocol (visit 3)": '"Intraoral, wired sensor"'},
        3,
        of((BEGINS, LOAD + BEGINS), (SCRUBS, SCRUBS + LARGE + indented(SCRUBS))),
    ),
    "scrubbing left out now and then": Planted(
        of((SCRUBS, "  may be left out\n" + indented(SCRUBS))),
        RETURNS,
        ROUND | {"steps": "left out"},
        3,
        of((SCRUBS, SCRUBS + "  may be left out\n" + indented(SCRUBS))),
    ),
    "packs unloaded where used holders were tipped out": Planted(
        of((TREATS, ""), ON_DIRTY),
        [IN_MOUTH, HELPER, ("clean-thing-reached", STOCKED)],
        ROUND,
        3,
        of(ON_DIRTY),
    ),
    "packed with gloves that were at the dirty side": Planted(
        of((TREATS, ""), (GLOVED + PACKS, GLOVED + LATER + PACKS)),
        [
            IN_MOUTH,
            HELPER,
            ("clean-thing-reached", "operator packs used holder with indicator in pouch"),
        ],
        ROUND,
        3,
        of((GLOVED + PACKS, GLOVED + LATER + PACKS)),
    ),
    "gloves of washing washed and disinfected in any order": Planted(
        of((WASHES + DISINFECTS, "  any order\n" + indented(WASHES + DISINFECTS))),
        [("path-to-staff", "operator puts on thick gloves")],
        ROUND | {"protocol (visit 3)": '"Holders and bite blocks"'},
        3,
        of((WASHES + DISINFECTS, "  any order\n" + indented(WASHES + DISINFECTS) + DISINFECTS)),
    ),
    "a pack that fell on the floor is stocked": Planted(
        dropped("floor"),
        [("world-to-patient", IN_MOUTH[1])],
        {"what happens": "pack dropped", "protocol (visit 2)": '"Intraoral, wired sensor"'},
        2,
        dropped("clean side"),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, DAY, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, DAY, FAULTS[name].twin)) == []
