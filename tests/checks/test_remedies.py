"""Changes that are offered: written into the text as they are told, they put the finding right."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.findings import Finding, Remedy
from protocol_lang.pipeline import Checked, check_file
from tests.practice.kit import ROOM, Changes, checked
from tests.practice.test_published_practice import (
    BARE_MACHINE,
    GLOVES_KEPT_ON,
    HANDS_NOT_CLEANED,
    NO_WRAPS,
    NOT_DISINFECTED,
)

SAME_WIPE = (("disinfects sensor with a new wipe", "disinfects sensor with the same wipe"),)
KEYBOARD = (
    (
        "  [ ] operator lays holder with sensor on used half\n",
        "  [ ] operator lays holder with sensor on used half\n  [ ] operator works at keyboard\n",
    ),
)
UNORDERED = (
    (
        "  [ ] operator cleans sensor with a new wipe\n"
        "  [ ] operator disinfects sensor with a new wipe\n",
        "  any order\n"
        "    [ ] operator cleans sensor with a new wipe\n"
        "    [ ] operator disinfects sensor with a new wipe\n",
    ),
)
WRAPS_LEFT = (
    ("    [ ] operator takes wrap off tube\n", ""),
    ("    [ ] operator covers tube with wrap\n", ""),
)
WRAPS_NOT_PUT_BACK = (("    [ ] operator covers tube with wrap\n", ""),)
BAG_ON_TWICE = (("    [ ] operator takes bag off head rest\n", ""),)
GLOVES_ON_TWICE = (
    (
        "    in one go\n      [ ] operator takes off gloves\n      [ ] operator cleans hands\n"
        "    [ ] operator aims tube\n",
        "    [ ] operator aims tube\n",
    ),
)
STRAIGHT_BACK = (("drops holder into holder box", "drops holder into sterile store"),)
STORE_NOT_KEPT_CLEAN = (("  holder box: to", "  sterile store\n  holder box: to"),)
CASES: dict[str, tuple[Changes, Changes]] = {
    "used gloves on a bare machine": ((*GLOVES_KEPT_ON, *NO_WRAPS), BARE_MACHINE),
    "hands not cleaned, bare machine": ((*HANDS_NOT_CLEANED, *NO_WRAPS), BARE_MACHINE),
    "sensor not disinfected": (NOT_DISINFECTED, ()),
    "the same wipe": (SAME_WIPE, ()),
    "keyboard with used gloves": (KEYBOARD, ()),
    "cleaned and disinfected in any order": (UNORDERED, ()),
    "wraps left for the next patient": (WRAPS_LEFT, ()),
    "wraps not put back": (WRAPS_NOT_PUT_BACK, ()),
    "bag put on twice": (BAG_ON_TWICE, ()),
    "gloves put on twice": (GLOVES_ON_TWICE, ()),
}


def _check(path: Path) -> Checked:
    return check_file(path, mend=True)


def _identity(finding: Finding) -> tuple[str, str]:
    reached = finding.facts.get("who") or finding.facts.get("thing") or finding.facts.get("what")
    return finding.kind, reached or finding.facts.get("claim", "")


def _written_in(text: str, remedy: Remedy) -> str:
    """The text with the change, as the report tells to write it."""
    lines = text.split("\n")
    assert remedy.place is not None
    at = remedy.place.line - 1
    indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
    if remedy.kind == "add-after":
        label = remedy.facts["label"]
        lines.insert(at + 1, f"{indent}    after {label}")
        if remedy.facts.get("new"):
            step = f"[ ] {remedy.facts['of']}"
            (where,) = [n for n, line in enumerate(lines) if line.strip() == step]
            lines[where] = lines[where].replace("[ ] ", f"[ ] {label}: ")
        return "\n".join(lines)
    if remedy.kind == "write-instead":
        written = remedy.facts["text"].split("\n")
        boxed = written if len(written) > 1 else [f"[ ] {written[0]}"]
        lines[at : at + 1] = [indent + line for line in boxed]
        return "\n".join(lines)
    if remedy.kind == "change-cover":
        (last,) = [
            n for n, line in enumerate(lines) if line.strip() == f"[ ] {remedy.facts['last']}"
        ]
        deep = lines[last][: len(lines[last]) - len(lines[last].lstrip())]
        then = [f"{deep}{line}" for line in remedy.facts["then"].split("\n")]
        lines[last + 1 : last + 1] = then
        if "step" not in remedy.facts:
            at = last + 1
    added = [indent + line for line in remedy.facts["text"].split("\n")]
    if remedy.kind == "add-step":
        at += 1
        while lines[at].startswith(indent + "  ") and lines[at].strip():
            at += 1  # lines that belong to the step
    return "\n".join(lines[:at] + added + lines[at:])


@pytest.mark.parametrize("name", CASES)
def test_what_is_offered_works_as_it_is_told(name: str, tmp_path: Path):
    changes, room = CASES[name]
    checked(tmp_path, changes, room)
    path = tmp_path / "intraoral-wired-sensor.protocol"
    text = path.read_text("utf-8")
    before = _check(path).outcome.findings
    known = {_identity(finding) for finding in before}
    offered = [(f, remedy) for f in before for remedy in f.remedies]
    assert offered, name
    for finding, remedy in offered:
        path.write_text(_written_in(text, remedy), "utf-8")
        outcome = _check(path).outcome
        assert outcome.coverage is not None, (remedy, outcome.findings)
        after = {_identity(one) for one in outcome.findings}
        if finding.kind == "not-ordered":
            assert len(outcome.findings) < len(before), remedy
        else:
            assert _identity(finding) not in after, remedy
            assert after <= known, (remedy, after - known)


def test_a_change_that_moves_the_fault_is_not_offered(tmp_path: Path):
    """Gloves off before aiming alone would leave bare hands to take the receptor out."""
    changes, room = CASES["used gloves on a bare machine"]
    checked(tmp_path, changes, room)
    outcome = _check(tmp_path / "intraoral-wired-sensor.protocol").outcome
    texts = [remedy.facts.get("text", "") for f in outcome.findings for remedy in f.remedies]
    assert texts
    assert all("puts on gloves" in text for text in texts if "takes off gloves" in text)
    assert not any(text == "[ ] operator takes off gloves" for text in texts)


def test_one_order_line_is_told_instead_of_the_path(tmp_path: Path):
    checked(tmp_path, UNORDERED)
    findings = _check(tmp_path / "intraoral-wired-sensor.protocol").outcome.findings
    assert [finding.kind for finding in findings] == ["not-ordered"]
    assert findings[0].facts["first"] == "operator cleans sensor with a new wipe"
    assert findings[0].facts["second"] == "operator disinfects sensor with a new wipe"


def test_what_no_change_mends_is_told_once_and_without_one(tmp_path: Path):
    """Used holders go straight back to those that are taken: no cleaning of anything helps."""
    checked(tmp_path, STRAIGHT_BACK, STORE_NOT_KEPT_CLEAN)
    findings = _check(tmp_path / "intraoral-wired-sensor.protocol").outcome.findings
    told = [(one.kind, one.place, one.route) for one in findings]
    assert len(told) == len(set(told))
    (path,) = (one for one in findings if one.kind == "path-to-patient")
    assert path.remedies == ()


A_PARENT = (
    ('phase "Get ready"\n', 'people\n  parent: companion\n\nphase "Get ready"\n'),
    (
        "  [ ] place: operator places holder",
        "  [ ] parent holds the head of patient\n  [ ] place: operator places holder",
    ),
)


def test_whoever_comes_along_may_clean_hands_as_well(tmp_path: Path):
    """Common practice, no source: who helps with their hands cleans them before."""
    checked(tmp_path, A_PARENT)
    findings = _check(tmp_path / "intraoral-wired-sensor.protocol").outcome.findings
    assert findings
    offered = [remedy.facts.get("text") for one in findings for remedy in one.remedies]
    assert "[ ] parent cleans hands" in offered


BESIDE = """protocol "Visit"
  edition 1
  takes words from "Imaging room 2"

surfaces
  shelf: surface

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

verb ACTOR hoses SURFACE
  no contact
  reduce SURFACE to hand wash

phase "Main"
  [ ] operator washes hands
  [ ] operator works at shelf
  [ ] operator feels the gum
  [ ] operator washes hands

phase "Beside"
  may run into the next visit
  [ ] helper feels the gum
  [ ] helper works at shelf
  [ ] helper hoses shelf
  [ ] helper washes hands
"""


def test_between_two_visits_no_change_is_offered(tmp_path: Path):
    """A label speaks within its visit, and a line that is added is there in both of them."""
    room = ROOM / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    (tmp_path / "visit.protocol").write_text(BESIDE, "utf-8")
    (tmp_path / "day.protocol").write_text('day "Day"\n  visits "Visit"\n', "utf-8")
    findings = _check(tmp_path / "day.protocol").outcome.findings
    assert "path-to-patient" in {one.kind for one in findings}
    assert not any(one.remedies for one in findings)
