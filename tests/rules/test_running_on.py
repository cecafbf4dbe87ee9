"""Rules on days, and where one visit runs into the next."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from tests.rules.kit import book_of
from tests.rules.reading import ROOM

VISIT = """protocol "Visit"
  takes words from "Small room"

phase "Take"
  [ ] operator places sensor in mouth
  [ ] operator cleans hands

phase "Clean"
{runs_on}  [ ] helper disinfects sensor with a new wipe
"""
TALK = """protocol "Talk"
  takes words from "Small room"

phase "Talk"
  [ ] operator opens the record at keyboard
"""
RUNS_ON = "  may run into the next visit\n"
RULE = """rules "Next"
  takes words from "Small room"

rule "next"
  must
  after receptor goes into the mouth of patient
  comes receptor is treated to at least intermediate
  before the next patient
"""


def judged(where: Path, visits: str, runs_on: str) -> RuleVerdict:
    (where / "small-room.protocol").write_text(ROOM, "utf-8")
    (where / "visit.protocol").write_text(VISIT.format(runs_on=runs_on), "utf-8")
    (where / "talk.protocol").write_text(TALK, "utf-8")
    day = where / "day.protocol"
    day.write_text(f'day "Day"\n  visits {visits}\n', "utf-8")
    checked = check_file(day, mend=False)
    assert checked.unfolded is not None, checked.outcome.findings
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement)
    (verdict,) = judge_rules([book_of(RULE, where)], subject)
    return verdict


@pytest.mark.parametrize("visits", ['"Visit"', '"Visit", "Talk"'])
def test_the_next_patient_may_come_while_the_last_visit_still_runs(tmp_path: Path, visits: str):
    assert judged(tmp_path, visits, "").verdict.value == "met"
    verdict = judged(tmp_path, visits, RUNS_ON)
    assert verdict.verdict.value == "failed"
    (finding, *_) = verdict.findings
    assert finding.route is not None
    assert [(step.visit, step.text) for step in finding.route.steps] == [
        (1, "operator places sensor in mouth"),
        (2, "operator places sensor in mouth"),
    ]


def test_what_the_second_visit_needs_twice_it_does_not_owe_itself(tmp_path: Path):
    """Two images of the next patient are no reason to disinfect between them."""
    twice = VISIT.replace(
        "  [ ] operator cleans hands\n",
        "  [ ] operator cleans hands\n  [ ] operator places sensor in mouth\n"
        "  [ ] operator cleans hands\n",
    ).replace("{runs_on}", "")
    twice += '\nphase "Papers"\n  may run into the next visit\n  [ ] say: all is well\n'
    (tmp_path / "small-room.protocol").write_text(ROOM, "utf-8")
    (tmp_path / "visit.protocol").write_text(twice, "utf-8")
    day = tmp_path / "day.protocol"
    day.write_text('day "Day"\n  visits "Visit"\n', "utf-8")
    checked = check_file(day, mend=False)
    assert checked.unfolded is not None, checked.outcome.findings
    assert max(note.visit for note in checked.unfolded.acts) == 2
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement)
    (verdict,) = judge_rules([book_of(RULE, tmp_path)], subject)
    assert verdict.verdict.value == "met"


def test_a_visit_in_between_without_an_image_settles_nothing(tmp_path: Path):
    """What is owed is owed to whoever needs it, however many visits later."""
    text = VISIT.format(runs_on="").replace("  [ ] helper disinfects sensor with a new wipe\n", "")
    text = text.replace('\nphase "Clean"\n', "")
    (tmp_path / "small-room.protocol").write_text(ROOM, "utf-8")
    for name, told in (("visit", text), ("talk", TALK)):
        (tmp_path / f"{name}.protocol").write_text(told, "utf-8")
    day = tmp_path / "day.protocol"
    day.write_text('day "Day"\n  visits "Visit", "Talk"\n', "utf-8")
    checked = check_file(day, mend=False)
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement)
    (verdict,) = judge_rules([book_of(RULE, tmp_path)], subject)
    assert verdict.verdict.value == "failed"
