"""Who may do what, what is kept in writing, and how old or how often: rules of a room in which
people learn, each with an order that keeps it and one that breaks it.

What such a room asks of itself is common practice, no source. That packs are kept for a year at
most is HTM 01-05 (2013, second-hand), a spore test every week CDC 2003, VI (second-hand): both are
in the shipped files of rules (protocols/rules/steam-cycles.protocol).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.language.load import load
from protocol_lang.pipeline import check_file
from protocol_lang.rules import Subject, judge_rules

ROOM = """room "Teaching room"
  edition 1
  takes words from "Dental imaging"

people
  operator, supervisor, student: staff
  patient: patient

places
  booth: barrier; patient in view
  office

surfaces
  exposure button, log: surface

verb ACTOR signs SURFACE
  meet ACTOR's hands, SURFACE
"""

RULES = """rules "Learning"
  edition 1
  takes words from "Teaching room"

rule "A student exposes with the supervisor beside"
  must
  whenever student makes an exposure
  only when supervisor is in booth
  good example
    GOOD_1
  faulty example
    FAULTY_1

rule "Nobody but operator and student exposes"
  must
  but not operator, student
  never staff makes an exposure
  good example
    GOOD_2
  faulty example
    FAULTY_2

rule "The log is signed every week"
  must
  at least every 7 days supervisor signs log
  good example
    GOOD_3
  faulty example
    FAULTY_3

rule "Who exposes has signed before"
  must
  before staff makes an exposure
  comes staff signs log
  good example
    GOOD_4
  faulty example
    FAULTY_4

rule "The log is kept for ten years"
  must
  the figure age of log is at least 520 weeks
  good example
    GOOD_5
  faulty example
    FAULTY_5
"""

#: For each rule what keeps it, and what breaks it.
EXAMPLES = (
    (
        "[ ] supervisor goes to booth\n[ ] student goes to booth\n"
        "[ ] student exposes with exposure button",
        # she may still come in time, and may be late
        "[ ] student goes to booth\nany order\n  [ ] supervisor goes to booth\n"
        "  [ ] student exposes with exposure button",
    ),
    (
        "[ ] operator goes to booth\n[ ] operator exposes with exposure button",
        "[ ] supervisor goes to booth\n[ ] supervisor exposes with exposure button",
    ),
    ("every week\n  [ ] supervisor signs log", "every month\n  [ ] supervisor signs log"),
    (
        "[ ] student signs log\n[ ] student exposes with exposure button",
        "[ ] operator signs log\n[ ] student exposes with exposure button",
    ),
    ("figures\n  age of log: 520 weeks", "figures\n  age of log: 519 weeks"),
)


def _book(examples: tuple[tuple[str, str], ...]) -> str:
    text = RULES
    for number, both in enumerate(examples, 1):
        for name, lines in zip(("GOOD", "FAULTY"), both, strict=True):
            text = text.replace(f"{name}_{number}", lines.replace("\n", "\n    "))
    return text


@pytest.fixture
def kinds(tmp_path: Path):
    """What is found when a file of rules with these examples is checked."""
    (tmp_path / "teaching-room.protocol").write_text(ROOM, "utf-8")

    def found(examples: tuple[tuple[str, str], ...]) -> list[str]:
        path = tmp_path / "learning.protocol"
        path.write_text(_book(examples), "utf-8")
        return [one.kind for one in check_file(path).outcome.findings]

    return found


def test_the_examples_do_what_they_are_there_to_show(kinds):
    assert kinds(EXAMPLES) == []


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_examples_the_other_way_round_are_told(kinds, number: int):
    good, faulty = EXAMPLES[number]
    told = kinds((*EXAMPLES[:number], (faulty, good), *EXAMPLES[number + 1 :]))
    assert len(told) == 2, told


def test_a_protocol_says_who_was_not_there(tmp_path: Path):
    """The story of the failure shows the order in which the student is alone."""
    (tmp_path / "teaching-room.protocol").write_text(ROOM, "utf-8")
    (tmp_path / "learning.protocol").write_text(_book(EXAMPLES), "utf-8")
    visit = tmp_path / "visit.protocol"
    visit.write_text(
        'protocol "Visit"\n  takes words from "Teaching room"\n\nphase "Image"\n'
        "  [ ] student signs log\n"
        + "".join(f"  {line}\n" for line in EXAMPLES[0][1].split("\n"))
        + "  any order\n    [ ] student leaves the room\n    [ ] supervisor leaves the room\n",
        "utf-8",
    )
    rules = load(tmp_path / "learning.protocol").rules
    assert rules is not None
    checked = check_file(visit)
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement, checked.whole)
    verdicts = {one.rule.title: one for one in judge_rules([rules], subject)}
    assert {title: one.verdict.value for title, one in verdicts.items()} == {
        "A student exposes with the supervisor beside": "failed",
        "Nobody but operator and student exposes": "met",
        "The log is signed every week": "not applicable",
        "Who exposes has signed before": "met",
        "The log is kept for ten years": "not applicable",
    }
    (finding,) = verdicts["A student exposes with the supervisor beside"].findings
    assert finding.route is not None
    assert finding.route.steps[-1].text == "student exposes with exposure button"
