"""What is told of rules: each thing once, names that nothing is called by, and why not decided."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from protocol_lang.identity import identity_of
from protocol_lang.language.load import load_text
from protocol_lang.pipeline import check_file
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from protocol_lang.rules.examples import examples_tried
from protocol_lang.text import decode
from protocol_lang.wording import ENTRIES
from tests.rules.kit import book_of
from tests.rules.test_judging import CHOICES, DAY, HEADER, ROOM, judged, protocol, told

THREE = "[ ] operator works at keyboard, tube, phone"


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rooms")
    (folder / "clinic-room.protocol").write_text(ROOM, "utf-8")
    return folder


def sentences(verdict: RuleVerdict) -> list[str]:
    return [ENTRIES[one.kind].sentence(one.facts) for one in verdict.findings]


# --- Each thing once -----------------------------------------------------------------------------

DONE = f'"{THREE.removeprefix("[ ] ")}" is done.'


def test_a_step_on_three_things_is_told_once_with_the_three(where: Path):
    verdict = judged(where, "never staff touches surface", THREE)
    assert sentences(verdict) == [f"{DONE} It is so for keyboard, tube and phone."]


@pytest.mark.parametrize(
    "rule",
    [
        "before staff touches surface\ncomes hands of staff are cleaned",
        "after staff touches surface\ncomes hands of staff are cleaned\nbefore the visit ends",
        "whenever staff touches surface\nonly when staff wears gloves",
    ],
)
def test_so_is_every_form_that_asks_for_each(where: Path, rule: str):
    (told_,) = sentences(judged(where, rule, THREE))
    assert told_.endswith(" It is so for keyboard, phone and tube.")


def test_where_the_words_differ_each_is_told(where: Path):
    rule = (
        "after staff touches surface\ncomes surface is treated to at least low\n"
        "before the visit ends"
    )
    found = sentences(judged(where, rule, THREE))
    assert len(set(found)) == len(found) == 3
    assert not any("It is so for" in one for one in found)


def test_what_a_rule_is_for_is_told_one_by_one_and_by_name(where: Path):
    """Since one of them may be waived, and the others not."""
    verdict = judged(where, "for surface\nnever staff touches surface", THREE)
    assert sentences(verdict) == [
        f"{DONE} It is so for {name}." for name in ("keyboard", "tube", "phone")
    ]
    assert [one.facts["thing"] for one in verdict.findings] == ["keyboard", "tube", "phone"]


def test_the_code_does_not_rest_on_how_many_there_are(where: Path):
    """So a waiver by its code, and an earlier report, go on to mean the same finding."""
    (named,) = judged(where, "never staff touches surface", THREE).findings
    without = {name: fact for name, fact in named.facts.items() if name != "about"}
    assert identity_of(named) == identity_of(replace(named, facts=without))


def test_one_thing_is_not_named_again(where: Path):
    verdict = judged(where, "never staff touches tube", THREE)
    assert sentences(verdict) == [DONE]


def test_different_steps_are_told_apart(where: Path):
    steps = "[ ] operator works at tube\n[ ] operator works at phone"
    assert len(sentences(judged(where, "never staff touches surface", steps))) == 2


# --- Names and titles ----------------------------------------------------------------------------


def faults(where: Path, lines: str) -> list[tuple[str, dict[str, str]]]:
    text = f'rules "T"\n  takes words from "Clinic room"\n\nrule "it"\n  must\n{lines}'
    loaded = load_text(decode(text.encode(), "t.protocol"), where)
    return [(one.kind, dict(one.facts)) for one in loaded.findings]


def test_a_misspelt_name_that_is_not_to_count_is_told(where: Path):
    ((kind, facts),) = faults(where, "  but not fone\n  never staff touches surface\n")
    assert kind == "unknown-name"
    assert facts["name"] == "fone"
    ((_, facts),) = faults(where, "  but not keybord\n  never staff touches surface\n")
    assert facts["nearest"] == "keyboard"


@pytest.mark.parametrize("name", ["phone", "Phone", "the phone", "surface", "machine", "staff"])
def test_names_that_are_declared_are_none(where: Path, name: str):
    assert not faults(where, f"  but not {name}\n  never staff touches surface\n")


@pytest.mark.parametrize("name", ["Machine", "the machine", "Surface", "Keyboard, TUBE, the phone"])
def test_however_they_are_written_they_do_not_count(where: Path, name: str):
    steps = "[ ] operator works at keyboard, tube"
    assert told(judged(where, f"but not {name}\nnever staff touches surface", steps)) == "met"


@pytest.mark.parametrize("rule", ["never staff works at moon", "never staff wurks at tube"])
def test_an_unknown_verb_or_thing_in_a_sentence_is_told(where: Path, rule: str):
    assert faults(where, f"  {rule}\n")


@pytest.mark.parametrize("title", ["Visit", "visit", "VISIT", "  visit "])
def test_a_title_is_the_same_in_capitals_or_not(where: Path, title: str):
    rule = f'only in phase "{title}"\n'
    assert told(judged(where, rule + "never staff touches tube", THREE)) == "failed"
    every = rule + "at least every 1 days hands of staff are cleaned"
    assert told(judged(where, every)) == "met"


def test_a_title_like_one_that_there_is_says_so(where: Path):
    verdict = judged(where, 'only in phase "Visits"\nnever staff touches tube', THREE)
    assert verdict.reason is not None
    assert verdict.reason.facts == {"phases": "Visits", "nearest": "Visit"}
    verdict = judged(where, 'only in phase "Another"\nnever staff touches tube', THREE)
    assert verdict.reason is not None
    assert verdict.reason.facts == {"phases": "Another"}


# --- Where no order can be looked at -------------------------------------------------------------

RULES = {
    "the header says owner": "met",
    "the header says source": "failed",
    "for gloves\nis declared used once": "met",
    'for gloves\ngoes into what is marked "yellow bag"': "failed",
    "the figure hand rub time is at least 20 seconds": "met",
    "at least every 1 days staff cleans hands": "met",
    "at least every 1 days hands of staff are cleaned": "met",
    "at least every 1 days tube is treated to at least low": "not applicable: no-step",
    "either\n  always staff cleans hands\nor\n  the header says owner": "met",
    "either\n  always staff cleans hands\nor\n  the header says source":
        "not decided: not-judged",
    "always staff cleans hands": "not decided: not-judged",
    "no treatment depends on staffing": "not decided: not-judged",
}  # fmt: skip
FAULTS = {
    "steps in a circle": "[ ] one: operator cleans hands\n    after two\n"
    "[ ] two: operator works at phone\n    after one",
    "a step that is never possible": "[ ] operator cleans hands\n[ ] operator takes off gloves",
}


def of_file(where: Path, steps: str, rule: str) -> str:
    lines = "\n".join(f"  {line}" for line in rule.splitlines())
    book = book_of(
        f'rules "T"\n  takes words from "Clinic room"\n\nrule "it"\n  must\n{lines}\n', where
    )
    path = where / "tried.protocol"
    path.write_text(protocol(steps, HEADER, CHOICES), "utf-8")
    checked = check_file(path, mend=False, on=DAY)
    assert checked.outcome.findings
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement, checked.whole)
    (verdict,) = judge_rules([book], subject, on=DAY)
    return told(verdict)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_of_order_leaves_open_only_what_is_about_orders(where: Path, fault: str, rule: str):
    assert of_file(where, FAULTS[fault], rule) == RULES[rule]


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("the header says owner", "met"),
        ("the header says source", "not decided: not-judged"),
        ("for gloves\nis declared used once", "not decided: not-judged"),
        ("at least every 1 days tube is treated to at least low", "not decided: not-judged"),
        ("at least every 1 days staff cleans hands", "not decided: not-judged"),
    ],
)
def test_of_a_text_that_was_not_understood_only_what_stands_there_is_said(
    where: Path, rule: str, wanted: str
):
    assert of_file(where, "[ ] operator cleens hands", rule) == wanted


# --- Examples ------------------------------------------------------------------------------------


def reasons(where: Path, example: str, rule: str = "always hands of staff are cleaned") -> str:
    text = (
        'rules "T"\n  takes words from "Clinic room"\n\nrule "it"\n  must\n'
        f"  {rule}\n  good example\n{example}"
    )
    book = book_of(text, where)
    (finding,) = examples_tried(book, where)
    because = ENTRIES[finding.kind].because(finding.facts)
    assert because is not None
    return because


def test_an_example_that_is_not_decided_says_why(where: Path):
    told_ = reasons(where, "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n")
    assert told_ == (
        "The example could not be judged: the protocol could not be judged to the end. "
        "This stands in the way: [ ] operator takes off gloves."
    )


def test_an_example_that_the_rule_is_not_about_says_why(where: Path):
    told_ = reasons(
        where, "    [ ] operator cleans hands\n", "whenever staff works at tube\n  only when "
        "staff wears gloves"
    )  # fmt: skip
    assert told_ == (
        "In the example there is nothing that the rule is about: no step does this: "
        "staff works at tube."
    )


# --- What is said by other forms -----------------------------------------------------------------

GLOVED = "[ ] operator puts on gloves\n"


@pytest.mark.parametrize(
    "rule, steps, wanted",
    [
        ("whenever staff works at tube\nonly when staff wears gloves",
         GLOVED + "[ ] operator works at tube", "met"),
        ("whenever staff works at tube\nonly when staff wears gloves",
         "[ ] operator works at tube", "failed"),
        ("but not operator\nnever staff works at tube", "[ ] operator works at tube", "met"),
        ("but not operator\nnever staff works at tube", "[ ] helper works at tube", "failed"),
        ("whenever staff works at tube\nonly when staff does not wear gloves",
         GLOVED + "[ ] operator works at tube", "failed"),
        ("whenever staff works at tube\nonly when staff does not wear gloves",
         GLOVED + "[ ] helper works at tube", "met"),
    ],
)  # fmt: skip
def test_what_needs_no_form_of_its_own(where: Path, rule: str, steps: str, wanted: str):
    assert told(judged(where, rule, steps)) == wanted
