"""A finding is the same whichever way it is asked for: with changes or without, on a chart, beside
another edition. And a report says in which way it was made."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from protocol_lang.audit.asking import Ask, Job
from protocol_lang.audit.look import look
from protocol_lang.audited import FileReport
from protocol_lang.identity import identity_of
from protocol_lang.pipeline import check_file, compared
from tests.audit.clinics import HEAD, ON, write
from tests.compare.kit import ROOM, WIRED
from tests.planting import left_out

VERBS = """
verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

verb ACTOR brings THING to the gum
  meet THING, the patient's mouth

verb ACTOR boils THING
  meet ACTOR's front, THING
  wash THING
  reduce THING to sterile
"""


def protocol(title: str, *steps: str) -> str:
    return f'protocol "{title}"{HEAD}{VERBS}\nphase "All"\n' + "".join(f"  {s}\n" for s in steps)


#: Protocols of which changes tell the causes otherwise: one order of two that lets soil through;
#: two faults beside each other; hands that stay soiled at the end; one cause that reaches several.
TEXTS = {
    "either order": protocol(
        "Either order",
        "any order",
        "  [ ] operator brings chair arms to the gum",
        "  [ ] operator boils chair arms",
    ),
    "two faults": protocol(
        "Two faults",
        "[ ] operator brings chair arms to the gum",
        "[ ] operator feels the gum",
        "[ ] operator works at keyboard",
    ),
    "hands at the end": protocol(
        "Hands at the end",
        "[ ] operator cleans hands",
        "[ ] operator puts on gloves",
        "[ ] operator feels the gum",
        "[ ] operator takes off gloves",
    ),
    "several reached": protocol(
        "Several reached",
        "[ ] operator feels the gum",
        "[ ] operator works at keyboard",
        "[ ] operator opens the record at keyboard",
        "[ ] operator aims tube",
        "[ ] operator cleans hands",
    ),
}
#: Steps of the shipped protocol that are left out.
LEFT_OUT = (
    "operator disinfects sensor with a new wipe",
    "operator disinfects chair arms with a new wipe",
    "operator covers head rest with bag",
)


def looked_at(path: Path, changes: bool) -> FileReport:
    return look(Job(str(path), path.name), Ask(ON, changes=changes)).report


def same_but_for_changes(path: Path) -> FileReport:
    without, with_them = looked_at(path, False), looked_at(path, True)
    bare = tuple(replace(one, changes=()) for one in with_them.found)
    assert replace(with_them, found=bare) == without
    return with_them


@pytest.mark.parametrize("name", TEXTS)
def test_changes_are_told_beside_and_nothing_else_is_different(name: str, tmp_path: Path):
    told = same_but_for_changes(write(tmp_path, "one", TEXTS[name]))
    assert told.found and any(one.changes for one in told.found)


@pytest.mark.parametrize("sentence", LEFT_OUT)
def test_the_same_of_the_shipped_protocol(sentence: str, tmp_path: Path):
    shutil.copy(ROOM / "imaging-room-2.protocol", tmp_path)
    text = left_out((ROOM / f"{WIRED}.protocol").read_text("utf-8"), sentence)
    told = same_but_for_changes(write(tmp_path, WIRED, text))
    assert any(one.changes for one in told.found)


def test_two_editions_are_compared_by_the_identities_of_an_audit(tmp_path: Path):
    path = write(tmp_path, "one", TEXTS["either order"])
    checked = check_file(path, mend=False, lasting=True)
    (told,) = compared(checked, checked).findings
    assert [told.code] == [one.identity for one in looked_at(path, True).found]


def test_a_check_by_itself_may_name_the_order_instead(tmp_path: Path):
    """What a check tells for the author's eye does not change: it is the audit that has to last."""
    path = write(tmp_path, "one", TEXTS["either order"])
    (finding,) = check_file(path).outcome.findings
    assert finding.kind == "not-ordered"
    (lasting,) = check_file(path, lasting=True).outcome.findings
    assert lasting.kind == "path-to-patient" and lasting.remedies
    assert identity_of(lasting) == identity_of(
        check_file(path, mend=False, lasting=True).outcome.findings[0]
    )
