"""Holders and bite blocks, from the used box to the store: planted faults, each with a right twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (heavy-duty
gloves for cleaning are cleaned and disinfected; cleaning before sterilisation; packs are dry; what
goes in the mouth and stands heat is sterilised; a load whose cycle was not reached is run again);
CDC 2008, table 1 (levels).
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from tests.practice.kit import DAY, SMALL_DAY, Changes, among, kinds, kinds_and_lines, told, visits

HOLDERS = "holders-and-bite-blocks"


def checked(where: Path, changes: Changes, first: str = HOLDERS):
    changed = [(HOLDERS, old, new) for old, new in changes]
    return among(where, first, [*changed, (DAY, *SMALL_DAY)])


class Fault(NamedTuple):
    """A planted fault, the findings (kind, step) with the visits of the first, and a right twin."""

    changes: Changes
    told: list[tuple[str, str]]
    visits: int
    twin: Changes


PACK = "  [ ] operator packs"
RELEASE = "    [ ] operator releases used holder as sterile\n"
UNLOAD = "    [ ] operator unloads used holder onto clean side\n"
STOCK = "    [ ] operator stocks sterile store with used holder in pouch"
BOX = (
    "  [ ] operator cleans holder box and dirty side with a new cloth\n"
    "  [ ] operator disinfects holder box and dirty side with a new cloth\n"
)
WASH = "  [ ] operator washes thick gloves on the hands at sink\n"
DISINFECT = "  [ ] operator disinfects thick gloves on the hands with a new cloth\n"
AWAY = "  [ ] operator waits 2 minutes\n  [ ] operator takes off thick gloves\n"
#: The gloves of washing at the end of the dirty side; they are cleaned for the washer as well.
GLOVES = BOX + WASH + DISINFECT + AWAY
IN_THICK = (
    "    [ ] operator puts on thick gloves\n"
    + UNLOAD
    + "    [ ] operator takes off thick gloves\n"
    + "    [ ] operator hangs thick gloves on glove hook\n"
    + "    [ ] operator cleans hands\n"
)
HOOK = ("path-to-staff", "operator puts on thick gloves")
FAULTS: dict[str, Fault] = {
    "packed wet": Fault(
        (
            (
                PACK,
                "  [ ] operator disinfects used holder with a new cloth\n" + PACK,
            ),
        ),
        [("claim-can-fail", "operator packs used holder with indicator in pouch")],
        1,
        (
            (
                PACK,
                "  [ ] operator disinfects used holder with a new cloth\n"
                "  [ ] operator waits until used holder is dry\n" + PACK,
            ),
        ),
    ),
    "unloaded with the gloves of washing, which were not cleaned": Fault(
        ((GLOVES, BOX + AWAY), (UNLOAD, IN_THICK)),
        [HOOK, ("clean-thing-reached", "operator hangs thick gloves on glove hook")],
        1,
        ((UNLOAD, IN_THICK),),
    ),
    "gloves of washing hung up as they are": Fault(
        ((GLOVES, BOX + AWAY),),
        [HOOK, ("clean-thing-reached", "operator hangs thick gloves on glove hook")],
        2,
        ((GLOVES, BOX + WASH + WASH + DISINFECT + AWAY),),
    ),
    "gloves of washing rinsed only": Fault(
        ((GLOVES, BOX + WASH + AWAY),),
        [HOOK],
        2,
        ((GLOVES, BOX + WASH + DISINFECT + DISINFECT + AWAY),),
    ),
    "the store filled with hands that were at the dirty side again": Fault(
        (
            (BOX, ""),
            (STOCK, "    [ ] operator works at dirty side\n" + STOCK),
        ),
        [
            ("path-to-staff", "operator works at dirty side"),
            ("clean-thing-reached", STOCK.removeprefix("    [ ] ")),
        ],
        1,
        ((STOCK, "    [ ] operator works at dirty side\n" + STOCK),),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    assert kinds(checked(tmp_path, ())) == []


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    one = checked(tmp_path, FAULTS[name].changes)
    assert kinds_and_lines(one) == FAULTS[name].told
    assert visits(one.outcome.findings[0]) == FAULTS[name].visits


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(checked(tmp_path, FAULTS[name].twin)) == []


def cycle(level: str) -> Changes:
    """The release replaced by one that is called sterile and reaches a level."""
    verb = (
        "verb STAFF treats HOLDER in its pouch\n"
        f"  reduce HOLDER to {level} through steam\n  sets HOLDER sterile\n  no contact\n"
    )
    treated = "    [ ] operator treats used holder in its pouch\n"
    return (('phase "Dirty side"\n', f'{verb}\nphase "Dirty side"\n'), (RELEASE, treated))


def test_a_weaker_treatment_of_a_holder_is_told_as_below_its_floor(tmp_path: Path) -> None:
    """CDC 2003: what goes in the mouth and stands heat is sterilised; CDC 2008: high is not."""
    facts = told(checked(tmp_path, cycle("high")), "path-to-staff").facts
    assert (facts["treated"], facts["level"], facts["floor"]) == ("used holder", "high", "sterile")
    day = checked(tmp_path, cycle("high"), DAY)
    assert {"path-to-patient", "given-back-too-low"} <= set(kinds(day))
    assert visits(told(day, "path-to-patient")) == 3
    assert kinds(checked(tmp_path, cycle("sterile"), DAY)) == []


def test_hands_from_an_untreated_box_soil_the_store_for_a_later_mouth(tmp_path: Path) -> None:
    """The box of used holders is carried about by hand before the store is filled."""
    carried = (STOCK, "    [ ] operator carries holder box\n" + STOCK)
    one = checked(tmp_path, ((BOX, BOX.replace("holder box and ", "")), carried), DAY)
    path = told(one, "path-to-patient")
    assert visits(path) == 3
    assert ("clean-thing-reached", STOCK.removeprefix("    [ ] ")) in kinds_and_lines(one)


def test_what_was_cleaned_is_not_said_to_be_uncleaned(tmp_path: Path) -> None:
    """For a crate no floor is declared: spores stay on it, though it was cleaned first."""
    declared = (
        "kinds of thing\n  crate\n\nthings\n  tray of ours: crate\n\n"
        "verb STAFF shifts CRATE\n  meet STAFF's hands, CRATE\n\n"
    )
    shifted = (
        ("begins with\n", "begins with\n  tray of ours is used\n"),
        ('phase "Dirty side"\n', declared + 'phase "Dirty side"\n'),
        (BOX, BOX.replace("holder box and ", "holder box, tray of ours and ")),
        (STOCK, "    [ ] operator shifts tray of ours\n" + STOCK),
    )
    one = checked(tmp_path, shifted)
    assert told(one, "path-to-staff").place is not None
    assert all("unwashed" not in finding.facts for finding in one.outcome.findings)
