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
LARGE = "      where load is large\n"
SCRUBS = "      [ ] operator scrubs and rinses used holder at sink\n"
LEFT_OUT = "      may be left out\n"
WASHES = "  [ ] operator washes thick gloves on the hands at sink\n"
DISINFECTS = "  [ ] operator disinfects thick gloves on the hands with a new cloth\n"
TREATS = (
    "  [ ] operator cleans holder box and dirty side with a new cloth\n"
    "  [ ] operator disinfects holder box and dirty side with a new cloth\n"
)
LATER = "  [ ] operator works at dirty side\n"
PACKS = "  [ ] operator packs used holder with indicator in pouch\n"
UNLOADS = "    [ ] operator unloads used holder onto clean side\n"
ON_DIRTY = ("used holder onto clean side", "used holder onto dirty side")
DIRTY_SIDE = 'phase "Dirty side"\n'


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return (SMALL, *((HOLDERS, old, new) for old, new in changes))


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


def dropped(onto: str) -> tuple[tuple[str, str, str], ...]:
    happens = (
        'can happen in "Pack and sterilise"\n  pack dropped, right after unloaded\n'
        f"    [ ] operator drops used holder onto {onto}\n"
        f"    [ ] operator picks up used holder from {onto}\n\n"
    )
    return of(
        (DIRTY_SIDE, happens + DIRTY_SIDE),
        (UNLOADS, UNLOADS.replace("operator", "unloaded: operator", 1)),
    )


#: The gloves of washing at the end of the dirty side; they are cleaned for the washer as well.
ANY_ORDER = "  any order\n" + indented(WASHES + DISINFECTS)
IN_MOUTH = ("path-to-patient", "place: operator places holder with sensor in mouth")
STOCKED = "operator stocks sterile store with used holder in pouch"
#: Dirt of the sink is on a holder that was not scrubbed, and everyday soil on hands.
WORLD = ("world-to-patient", IN_MOUTH[1])
VISOR = ("path-to-staff", "operator throws away visor by the strap")
HANDS = ("hands-at-end", "helper aims tube")
RETURNS = [
    IN_MOUTH,
    WORLD,
    ("path-to-staff", STOCKED),
    ("clean-thing-reached", "operator opens the record at keyboard"),
    HANDS,
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
        of((SCRUBS, LEFT_OUT + indented(SCRUBS))),
        RETURNS,
        ROUND | {"steps": "left out"},
        3,
        of((SCRUBS, SCRUBS + LEFT_OUT + indented(SCRUBS))),
    ),
    "packs unloaded where used holders were tipped out": Planted(
        of((TREATS, ""), ON_DIRTY),
        [IN_MOUTH, WORLD, VISOR, ("clean-thing-reached", STOCKED), HANDS],
        ROUND,
        3,
        of(ON_DIRTY),
    ),
    "packed with gloves that were at the dirty side": Planted(
        of((TREATS, ""), (PACKS, LATER + PACKS)),
        [
            IN_MOUTH,
            WORLD,
            VISOR,
            ("clean-thing-reached", "operator packs used holder with indicator in pouch"),
            HANDS,
        ],
        ROUND,
        3,
        of((PACKS, LATER + PACKS)),
    ),
    "gloves of washing washed and disinfected in any order": Planted(
        of((TREATS + WASHES + DISINFECTS, TREATS + ANY_ORDER)),
        [("path-to-staff", "operator puts on thick gloves")],
        ROUND | {"protocol (visit 3)": '"Holders and bite blocks"'},
        3,
        of((TREATS + WASHES + DISINFECTS, TREATS + ANY_ORDER + DISINFECTS)),
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
