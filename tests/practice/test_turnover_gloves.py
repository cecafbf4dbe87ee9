"""Turning over the room with the gloves of the visit, or with fresh ones: planted faults that show
with one of the two only, each with a right twin.

Sources: both are allowed by publications: CDC, Guidelines for Infection Control in Dental
Health-Care Settings, 2003 (covers come off while still gloved; then gloves come off, hands are
cleaned, and fresh covers are put on); gloves are changed between patients, and when they are torn.
That wipes are laid out before gloves are used, and that used gloves touch nothing that is kept
clean: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import Planted, among, assert_told, kinds

VISIT = "intraoral-phosphor-plates-with-a-helper"
TURNOVER = "turning-over-the-room"
DAY = "a-day-with-plates"

LAYS_OUT = "  [ ] operator lays out envelope, plate holder, gauze, wipe\n"
TAKES_OFF = "    in one go\n      [ ] operator takes off gloves\n      [ ] operator cleans hands\n"
KEEPS = "    [ ] say: these gloves stay on for the turnover\n"
LEAVES = "  [ ] patient leaves\n"
TYPES = "[ ] operator opens the record at keyboard\n"
FRESH = (
    "  where operator does not wear gloves\n"
    "    in one go\n"
    "      [ ] operator cleans hands\n"
    "      [ ] operator lays out wipe\n"
    '          short "Lay out wipes"\n'
    "      [ ] operator puts on gloves\n"
)
IN_MOUTH = "operator places plate holder with plate 2 in mouth"
KEPT = {"way": "say: these gloves stay on for the turnover"}
CHANGED = {"way": "operator takes off gloves"}


def outdented(lines: str) -> str:
    return "".join(f"{line[2:]}\n" for line in lines.splitlines())


LAID_OUT = '      [ ] operator lays out wipe\n          short "Lay out wipes"\n'
NOT_LAID_OUT = (TURNOVER, FRESH, FRESH.replace(LAID_OUT, ""))
ONLY_HERE = (VISIT, LAYS_OUT, LAYS_OUT.replace(", wipe", ""))
#: What comes of used gloves at something that is kept clean.
PATHS = [
    ("path-to-patient", "operator places plate holder with plate 1 in mouth"),
    ("claim-not-clean", IN_MOUTH),
    ("path-to-staff", "helper lays out wipe"),
]
FAULTS: dict[str, Planted] = {
    "gloves of the visit at the wipe tub": Planted(
        (ONLY_HERE, (TURNOVER, FRESH, NOT_LAID_OUT[2] + "  [ ] operator lays out wipe\n")),
        [
            *PATHS,
            ("clean-thing-reached", "operator lays out wipe"),
            ("hands-at-end", "operator lays out envelope, plate holder, gauze"),
        ],
        KEPT,
        2,
        (NOT_LAID_OUT,),
    ),
    "wipes laid out only where gloves are fresh": Planted(
        (ONLY_HERE,),
        [("claim-can-fail", "operator cleans sensor with a new wipe")],
        KEPT,
        1,
        ((VISIT, LAYS_OUT, "  [ ] operator lays out wipe\n" + ONLY_HERE[2]),),
    ),
    "the record written with the gloves of the visit": Planted(
        ((VISIT, LEAVES, LEAVES + "  " + TYPES),),
        [*PATHS, ("clean-thing-reached", LAYS_OUT.strip().removeprefix("[ ] "))],
        KEPT,
        2,
        ((VISIT, TAKES_OFF, TAKES_OFF + "    " + TYPES),),
    ),
    "fresh gloves put on over those of the visit": Planted(
        ((TURNOVER, FRESH, outdented(FRESH.partition("\n")[2])),),
        [("cover-on-twice", "operator puts on gloves")],
        KEPT,
        1,
        ((TURNOVER, FRESH, FRESH + "  [ ] operator changes gloves\n"),),
    ),
    "bare hands in the turnover, where gloves came off": Planted(
        ((TURNOVER, FRESH, ""),),
        [("cover-not-on", "operator takes off gloves")],
        CHANGED,
        1,
        (
            (TURNOVER, FRESH, FRESH.replace("where operator does not wear gloves", "in order")),
            (VISIT, KEEPS, KEEPS + TAKES_OFF),
        ),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    assert kinds(among(tmp_path, VISIT, ())) == []
    assert kinds(among(tmp_path, DAY, ())) == []


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, VISIT, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, VISIT, FAULTS[name].twin)) == []
