"""The generated reference is that of the program as it is, and its forms can be read."""

from __future__ import annotations

import re

import pytest

from protocol_lang.language import reader
from protocol_lang.language.tree import Verb
from protocol_lang.resources import folder
from protocol_lang.text import Text, read_text
from protocol_lang.wording.constructs import CONSTRUCTS
from tools.forms import FORMS, Where, around
from tools.reference import BELOW, LANGUAGE, VOCABULARY, pages


@pytest.fixture(scope="module")
def written() -> dict[str, str]:
    return {path.name: text for path, text in pages().items()}


@pytest.mark.parametrize("path", [LANGUAGE, VOCABULARY], ids=lambda path: path.name)
def test_the_reference_is_up_to_date(path, written):
    assert path.read_text("utf-8") == written[path.name], '"make docs" writes it anew.'


def test_every_construct_has_its_forms_and_no_other():
    assert set(FORMS) == {construct.name for construct in CONSTRUCTS}


@pytest.mark.parametrize("name", FORMS)
def test_every_form_can_be_read(name):
    form = FORMS[name]
    for text in form.texts:
        lines = tuple(around(form.where, text).rstrip("\n").split("\n"))
        assert not reader.read(Text("form", lines)).findings, lines


def test_every_construct_shows_the_rules_of_the_grammar_that_read_its_forms(written):
    shown = written["language.md"].partition(BELOW)[2].split("\n#### ")
    grammar = (folder("grammar") / "lines.lark").read_text("utf-8")
    for piece in shown[1:]:
        name, _, rest = piece.partition("\n")
        (box,) = re.findall(r"^Grammar:\n\n```text\n(.*?)^```", rest, re.M | re.S)
        rules = re.findall(r"^(\w+): ", box, re.M)
        assert rules and all(f"\n{rule}: " in grammar for rule in rules), name
        assert all(f"{line}\n" in grammar for line in box.splitlines()), name
    by_name = {piece.partition("\n")[0]: piece for piece in shown[1:]}
    assert "\nfor_each: FOR_EACH NAME COMMA NUMBER TO NUMBER\n" in by_name["for each"]
    assert "\nside_by_side: SIDE_BY_SIDE\nlane: NAME\n" in by_name["side by side"]


def test_a_form_that_is_wrong_would_be_noticed():
    lines = tuple(around(Where.ITEM, "in one goo\n  [ ] SENTENCE").split("\n"))
    assert reader.read(Text("form", lines)).findings


def test_the_reference_has_every_construct_and_its_own_finding(written):
    shown = written["language.md"].partition(BELOW)[2]
    for construct in CONSTRUCTS:
        assert f"\n#### {construct.name}\n" in shown
        assert construct.meaning in shown
    assert shown.count("\nFaulty:\n") == len(CONSTRUCTS) == len(re.findall(r"^> \(", shown, re.M))


def test_the_vocabulary_has_every_shipped_verb(written):
    paths = sorted((folder("protocols") / "vocabulary").glob("*.protocol"))
    assert len(paths) > 1
    for path in paths:
        sections = reader.read(read_text(path)).file.sections
        verbs = [section.form.plain for section in sections if isinstance(section, Verb)]
        assert verbs
        for form in verbs:
            assert f"\n**{form}**  \n" in written["vocabulary.md"]
