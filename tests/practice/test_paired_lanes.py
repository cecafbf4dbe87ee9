"""A wired sensor with two people: planted faults that only the paired lanes show, or one order of
their steps, each with a right twin. With one person alone none of them is there.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (used gloves
touch no clean surface; gloves go on clean hands); NCRP report 145, 2003 (behind a barrier from
which the patient is seen); WHO, Guidelines on Hand Hygiene in Health Care, 2009 (before an aseptic
task). That the collar is off clean hands before the keyboard: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import Planted, among, assert_told, kinds

VISIT = "intraoral-wired-sensor"
PLACE = "place: operator places holder with sensor in mouth"
OUT = "take out: operator takes holder with sensor out of mouth"
EXPOSES = "helper exposes with exposure button"

CLEAN = "    [ ] helper cleans hands\n"
LANES = "    side by side\n"
STILL = "        [ ] operator keeps hands still\n"
BEHIND = "        [ ] behind: operator goes behind the barrier\n"
AFTER = "            after behind\n"
AIM = "        [ ] helper aims tube\n"
EXPOSE = "        [ ] helper exposes with exposure button\n"
BACK = "    [ ] operator comes back from the barrier\n    [ ] helper comes"
EARLY = BEHIND + "        [ ] operator comes back from the barrier\n"
OPERATOR_AIMS = "        [ ] operator aims tube\n"
TYPES = "        [ ] helper opens the record at keyboard\n"
OPERATOR_TYPES = "        [ ] operator opens the record at keyboard\n"
BARE_TYPES = (
    "        in one go\n          [ ] operator takes off gloves\n"
    "          [ ] operator cleans hands\n"
    + OPERATOR_TYPES
    + "        in one go\n          [ ] operator cleans hands\n"
    "          [ ] operator puts on gloves\n"
)
CORRECTS = (
    "        [ ] helper puts on gloves\n        [ ] helper corrects holder with sensor in mouth\n"
    "        in one go\n          [ ] helper takes off gloves\n          [ ] helper cleans hands\n"
)
COLLAR = (
    "        where shielding is collar\n          [ ] helper takes collar off patient\n"
    "          [ ] helper cleans hands\n"
)
HANDED = "        [ ] helper hands sensor to operator\n"


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((VISIT, old, new) for old, new in changes)


PAIRED = {"staffing": "paired"}
FAULTS: dict[str, Planted] = {
    "exposed when the operator may still be beside the patient": Planted(
        of((AFTER, "")),
        [("claim-can-fail", EXPOSES)],
        PAIRED,
        1,
        # Behind the barrier before the two begin: then no order need be told.
        of((AFTER, ""), (BEHIND, ""), (LANES, BEHIND[4:].replace("behind: ", "") + LANES)),
    ),
    "the operator comes back when the exposure may not have been made": Planted(
        of((BEHIND, EARLY), (BACK, "    [ ] helper comes")),
        [("claim-can-fail", EXPOSES), ("claim-can-fail", EXPOSES)],
        PAIRED,
        1,
        of(
            (BEHIND, EARLY + "            after seen\n"),
            (BACK, "    [ ] helper comes"),
            (EXPOSE, EXPOSE.replace("helper", "seen: helper", 1)),
        ),
    ),
    "used gloves aim too, and the helper types: soil needs the gloves to come first": Planted(
        of((STILL, OPERATOR_AIMS), (AIM, AIM + TYPES)),
        [
            ("path-to-patient", OUT),
            ("path-to-staff", "operator opens the record at keyboard"),
            ("clean-thing-reached", "operator lays out sleeve and wipe"),
        ],
        PAIRED,
        2,
        of(
            (STILL, OPERATOR_AIMS + "            after typed\n"),
            (AIM, AIM + TYPES.replace("helper", "typed: helper", 1)),
        ),
    ),
    "the operator types with used gloves while the helper aims": Planted(
        of((STILL, OPERATOR_TYPES)),
        [
            ("path-to-patient", OUT),
            ("path-to-staff", "operator opens the record at keyboard"),
            ("clean-thing-reached", "operator lays out sleeve and wipe"),
            ("hands-at-end", "helper aims tube"),
        ],
        PAIRED,
        2,
        of((STILL, BARE_TYPES)),
    ),
    "the helper corrects in gloves that went on uncleaned hands": Planted(
        of(("  otherwise\n" + CLEAN, "  otherwise\n"), (AIM, CORRECTS + AIM)),
        [("world-to-patient", "helper corrects holder with sensor in mouth")],
        PAIRED,
        1,
        of((AIM, CORRECTS + AIM)),
    ),
    "the helper takes the collar off and types, where the clinic has collars": Planted(
        of((AIM, AIM + COLLAR.replace("          [ ] helper cleans hands\n", "") + TYPES)),
        [
            ("path-to-patient", PLACE),
            ("claim-not-clean", PLACE),
            ("clean-thing-reached", "operator lays out sleeve and wipe"),
        ],
        {"staffing": "paired", "shielding": "collar"},
        2,
        of((AIM, AIM + COLLAR + TYPES)),
    ),
    "new gloves for the operator, and a sensor from the helper's bare hand": Planted(
        of((STILL, "        [ ] operator changes gloves\n"), (AIM, AIM + HANDED)),
        [("path-to-patient", OUT)],
        PAIRED,
        2,
        of((STILL, "        [ ] operator changes gloves\n")),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, VISIT, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, VISIT, FAULTS[name].twin)) == []


@pytest.mark.parametrize("name", FAULTS)
def test_with_one_person_alone_there_is_no_such_fault(tmp_path: Path, name: str) -> None:
    among(tmp_path, VISIT, FAULTS[name].changes)
    alone = check_file(tmp_path / f"{VISIT}.protocol", {"staffing": "alone"}, mend=False)
    assert alone.judgement is not None and not alone.outcome.findings
