"""A visit without an image, and the turnover after it: planted faults that one choice, one order,
one mishap or the next visit shows, each with a right twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (what hands and
skin touch is covered, or cleaned and disinfected; covers go on with clean hands; cleaning before
disinfection); WHO, Guidelines on Hand Hygiene in Health Care, 2009 (after touching a patient or
what is around). That nobody but staff touches the clean half: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import Planted, among, assert_told, kinds

VISIT = "a-visit-without-an-image"
TURNOVER = "turning-over-the-room"
LAID_OUT = "operator lays out wipe"
TYPES = "operator opens the record at keyboard"
HOLDS = "patient holds clean half"
BAGS = "operator covers head rest with bag"

TALK = 'phase "Talk"\n'
SIT = "  [ ] patient sits down on chair arms\n"
LEAN = "  [ ] patient leans back on head rest\n"
RECORD = f"  [ ] {TYPES}\n"
LEAVES = "  [ ] patient leaves\n"
SEATED = (SIT, SIT.replace("patient", "seated: patient", 1))
RAISES = "  where chair is raised\n    [ ] operator works at chair arms\n"
CHAIR = "choices, each visit\n  chair: left, raised\n\n"
STEADY = "choices, each visit\n  steady: yes, no\n\n"
UNSTEADY = "  where steady is no\n    [ ] patient holds {}\n"
COLLARS = "choices, fixed for the clinic\n  shielding: none, collar\n\n"
TRIED_ON = (
    "  where shielding is collar\n    [ ] operator puts collar on patient\n"
    "    [ ] operator takes collar off patient\n{}    [ ] operator opens the record at keyboard\n"
)
CLEANS = "    [ ] operator cleans hands\n"
ARMS = (
    "    in order\n      [ ] operator cleans chair arms with a new wipe\n"
    "      [ ] operator disinfects chair arms with a new wipe\n"
)
GLOVES_OFF = "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
COLLAR_DRY = "  where shielding is collar\n    [ ] operator waits until collar is dry\n"
OFF = "  in one go\n" + GLOVES_OFF + COLLAR_DRY
BAG = f"    [ ] {BAGS}\n"
LINES = "    [ ] operator lines used half with tray paper\n"
TWO_AT_ONCE = (
    "  side by side\n    patient\n      [ ] patient sits down on chair arms\n{}"
    "      [ ] patient leans back on head rest\n    operator\n"
    "      [ ] operator works at chair arms\n"
    "      [ ] typed: operator opens the record at keyboard\n"
)


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((VISIT, old, new) for old, new in changes)


def after(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return tuple((TURNOVER, old, new) for old, new in changes)


def cough(onto: str) -> tuple[tuple[str, str, str], ...]:
    happens = (
        'can happen in "Talk"\n  patient coughs, right after seated\n'
        f"    [ ] patient spatters onto {onto}\n\n"
    )
    return of(SEATED, (TALK, happens + TALK))


NEXT_SITS = "seated: patient sits down on chair arms"
FAULTS: dict[str, Planted] = {
    "the chair is raised by its arms before the record is opened": Planted(
        of((TALK, CHAIR + TALK), (RECORD, RAISES + RECORD)),
        [("clean-thing-reached", TYPES)],
        {"chair": "raised"},
        1,
        of((TALK, CHAIR + TALK), (RECORD, RECORD + RAISES)),
    ),
    "an unsteady patient holds on to the clean half": Planted(
        of(
            (TALK, STEADY + TALK),
            (LEAVES, UNSTEADY.format("clean half") + LEAVES),
        ),
        [
            ("path-to-patient", HOLDS),
            ("clean-thing-reached", LAID_OUT),
            ("hands-at-end", "operator hangs collar on collar rack"),
        ],
        {"steady": "no"},
        2,
        # What is lined, and turned over after every visit.
        of(
            (TALK, STEADY + TALK),
            (LEAVES, UNSTEADY.format("used half") + LEAVES),
        ),
    ),
    "a collar tried on, and typed, where the clinic has collars": Planted(
        of((TALK, COLLARS + TALK), (LEAVES, TRIED_ON.format("") + LEAVES)),
        [
            ("path-to-patient", "operator puts collar on patient"),
            ("clean-thing-reached", "operator puts collar on patient"),
        ],
        {"shielding": "collar"},
        2,
        of((TALK, COLLARS + TALK), (LEAVES, TRIED_ON.format(CLEANS) + LEAVES)),
    ),
    "a cough onto the clean half": Planted(
        cough("clean half"),
        [
            ("path-to-patient", NEXT_SITS),
            ("path-to-staff", LAID_OUT),
            ("clean-thing-reached", LAID_OUT),
        ],
        {"what happens": "patient coughs"},
        2,
        cough("tube, control panel"),
    ),
    "a cough onto the keyboard": Planted(
        cough("keyboard"),
        [("path-to-patient", NEXT_SITS), ("clean-thing-reached", LAID_OUT)],
        {"what happens": "patient coughs"},
        2,
        cough("head rest"),
    ),
    "the operator works at the chair while the patient may be seated": Planted(
        of((SIT + LEAN + RECORD, TWO_AT_ONCE.format(""))),
        [("clean-thing-reached", f"typed: {TYPES}")],
        {},
        1,
        of((SIT + LEAN + RECORD, TWO_AT_ONCE.format("          after typed\n"))),
    ),
    "the chair arms cleaned and disinfected in any order": Planted(
        after((ARMS, ARMS.replace("    in order", "    any order"))),
        [("path-to-patient", "patient sits down on chair arms")],
        {},
        2,
        after((ARMS, ARMS + "      [ ] operator disinfects chair arms with a new wipe\n")),
    ),
    "the new bag goes on before or after the used gloves come off": Planted(
        after(
            (OFF, "  any order\n    in one go\n  " + GLOVES_OFF.replace("\n  ", "\n    ", 1)
             + BAG + COLLAR_DRY),
            (BAG + LINES, LINES),
        ),
        [
            ("path-to-patient", "patient leans back on head rest"),
            ("clean-thing-reached", BAGS),
            ("hands-at-end", BAGS),
        ],
        {},
        2,
        after((OFF, "  in one go\n" + GLOVES_OFF + BAG + COLLAR_DRY), (BAG + LINES, LINES)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, VISIT, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, VISIT, FAULTS[name].twin)) == []
