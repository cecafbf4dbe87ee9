"""Each step of the shipped protocol left out, one at a time: what is told, and at which words.

This measures missed faults, the dangerous kind: the protocol as shipped is clear, so whatever is
told comes from the step that is missing. Left out without harm are steps that touch nothing, or
whose absence leaves nothing soiled; each of those is listed too, so that none is passed over.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import ROOM

NAME = "intraoral-wired-sensor.protocol"
LINES = (ROOM / NAME).read_text("utf-8").split("\n")
STEPS = [number for number, line in enumerate(LINES) if line.strip().startswith("[ ]")]

#: For the n-th tick box (from 1): what is told, and the words at which it is told.
TOLD = {
    1: ("world-to-patient", "operator places holder with sensor in mouth"),
    3: ("claim-can-fail", "operator places holder with sensor in mouth"),
    4: ("claim-can-fail", "operator slips sleeve over sensor"),
    9: ("empty-block", "where shielding is collar"),
    12: ("cover-not-on", "operator takes off gloves"),
    13: ("cover-not-on", "operator lets sensor slide out of sleeve onto used half"),
    14: ("nothing-taken", "operator places holder with sensor in mouth"),
    16: ("cover-on-twice", "operator puts on gloves"),
    17: ("duty-can-fail", "operator aims tube"),
    19: ("claim-can-fail", "operator exposes with exposure button"),
    21: ("claim-can-fail", "operator takes holder with sensor out of mouth"),
    23: ("cover-not-on", "operator takes off gloves"),
    26: ("unknown-label", "behind"),
    28: ("claim-can-fail", "helper exposes with exposure button"),
    30: ("claim-can-fail", "operator takes holder with sensor out of mouth"),
    35: ("not-ready", "operator slips sleeve over sensor"),
    36: ("left-over", "operator puts sensor into holder"),
    37: ("cover-on-twice", "operator puts on gloves"),
    38: ("duty-can-fail", "operator takes collar off patient"),
    39: ("empty-block", "where shielding is collar"),
    41: ("path-to-patient", "operator places holder with sensor in mouth"),
    42: ("cover-not-on", "operator takes off gloves"),
    43: ("cover-on-twice", "operator covers tube with wrap"),
    44: ("cover-on-twice", "operator covers control panel and exposure button with film cover"),
    45: ("cover-on-twice", "operator covers head rest with bag"),
    46: ("path-to-patient", "operator places holder with sensor in mouth"),
    47: ("path-to-patient", "operator places holder with sensor in mouth"),
    48: ("cover-on-twice", "operator lines used half with tray paper"),
    49: ("path-to-patient", "patient sits down on chair arms"),
    50: ("path-to-patient", "patient sits down on chair arms"),
    53: ("path-to-patient", "operator places holder with sensor in mouth"),
    55: ("clean-thing-reached", "operator hangs collar on collar rack"),
    56: ("clean-thing-reached", "operator hangs collar on collar rack"),
    57: ("claim-can-fail", "operator lines used half with tray paper"),
    58: ("not-ready", "operator puts on gloves"),
    59: ("duty-can-fail", "operator hangs collar on collar rack"),
    60: ("clean-thing-reached", "operator hangs collar on collar rack"),
    62: ("not-ready", "operator takes wrap off tube"),
    63: ("not-ready", "operator takes film cover off control panel and exposure button"),
    64: ("not-ready", "operator takes bag off head rest"),
    65: ("not-ready", "operator takes tray paper off used half"),
    66: ("path-to-patient", "patient sits down on chair arms"),
}


def _without(number: int) -> str:
    """The text without that tick box and the lines that belong to it."""
    start = STEPS[number - 1]
    indent = len(LINES[start]) - len(LINES[start].lstrip())
    end = start + 1
    while LINES[end].strip() and len(LINES[end]) - len(LINES[end].lstrip()) > indent:
        end += 1
    return "\n".join(LINES[:start] + LINES[end:])


@pytest.mark.parametrize("number", range(1, len(STEPS) + 1))
def test_a_step_left_out(number: int, tmp_path: Path):
    room = "imaging-room-2.protocol"
    (tmp_path / room).write_text((ROOM / room).read_text("utf-8"), "utf-8")
    path = tmp_path / NAME
    path.write_text(_without(number), "utf-8")
    checked = check_file(path, mend=False)
    lines = path.read_text("utf-8").split("\n")
    found = {
        (finding.kind, lines[place.line - 1][place.column - 1 : place.end - 1])
        for finding in checked.outcome.findings
        if (place := finding.place) is not None
    }
    left_out = LINES[STEPS[number - 1]].strip()
    if number in TOLD:
        assert TOLD[number] in found, left_out
    else:
        assert not checked.outcome.findings, left_out


def test_nobody_is_beside_the_patient_at_an_exposure(tmp_path: Path):
    """NCRP report 145, 2003: all who work there stand behind a barrier or far enough away."""
    room = "imaging-room-2.protocol"
    (tmp_path / room).write_text((ROOM / room).read_text("utf-8"), "utf-8")
    path = tmp_path / NAME
    text = "\n".join(LINES)
    assert text.count("            after behind\n") == 1
    path.write_text(text.replace("            after behind\n", ""), "utf-8")
    (found,) = check_file(path, mend=False).outcome.findings
    assert found.kind == "claim-can-fail" and "exposes" in found.facts["step"]
    coverage = check_file(path, mend=False).outcome.coverage
    assert coverage is not None and coverage.only_who_exposes


@pytest.mark.parametrize("who", ["operator", "helper"])
def test_whoever_stands_behind_the_barrier_is_not_at_the_mouth(who: str, tmp_path: Path):
    """Common practice, no source: nobody's hands are on both sides of it."""
    text = "\n".join(LINES)
    back = f"    [ ] {who} comes back from the barrier\n"
    taken = "  [ ] take out: operator takes holder with sensor out of mouth\n"
    paired = text.index("otherwise\n    [ ] helper cleans hands")
    assert back in text[paired:] and taken in text
    text = text[:paired] + text[paired:].replace(back, "")
    if who == "helper":
        text = text.replace(taken, taken.replace("operator takes", "helper takes"))
    room = "imaging-room-2.protocol"
    (tmp_path / room).write_text((ROOM / room).read_text("utf-8"), "utf-8")
    (tmp_path / NAME).write_text(text, "utf-8")
    found = check_file(tmp_path / NAME, mend=False).outcome.findings
    told = [one for one in found if one.kind == "claim-can-fail"]
    assert any("not behind the barrier" in one.facts["claim"] for one in told)


def test_the_table_is_about_this_protocol():
    assert len(STEPS) == 66
    assert max(TOLD) <= len(STEPS)
