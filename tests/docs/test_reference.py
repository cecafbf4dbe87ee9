"""The generated reference is that of the program as it is, and its forms can be read."""

from __future__ import annotations

import re

import pytest

from protocol_lang.language import reader
from protocol_lang.language.tree import Verb
from protocol_lang.resources import folder
from protocol_lang.text import Text, read_text
from protocol_lang.wording.constructs import CONSTRUCTS
from tools.forms import FORMS, Where
from tools.reference import BELOW, LANGUAGE, VOCABULARY, pages

#: What is put around a form so that it stands where it may; {} is its place.
AROUND = {
    Where.FIRST_LINE: "{}\n  edition 1\n",
    Where.HEADER: 'protocol "T"\n{}\n',
    Where.SECTION: 'protocol "T"\n  edition 1\n\n{}\n',
    Where.ITEM: 'protocol "T"\n  edition 1\n\nphase "P"\n{}\n',
    Where.STEP: 'protocol "T"\n  edition 1\n\nphase "P"\n  [ ] SENTENCE\n{}\n',
    Where.THING: 'protocol "T"\n  edition 1\n\nthings\n  NAME: KIND; {}\n',
    Where.VERB: 'protocol "T"\n  edition 1\n\nverb ACTOR does SURFACE\n{}\n',
    Where.LOCAL: 'protocol "T"\n  edition 1\n  adapts "B" edition 1\n\n{}\n',
    Where.RULES: 'rules "T"\n  edition 1\n\n{}\n',
    Where.RULE: 'rules "T"\n  edition 1\n\nrule "R"\n{}\n',
}
INDENT = {Where.HEADER: 2, Where.ITEM: 2, Where.STEP: 6, Where.VERB: 2, Where.RULE: 2}


def around(where: Where, text: str) -> str:
    for word, example in (("NUMBER", "2"), ("DAY", "2027-01-31")):
        text = re.sub(rf"\b{word}\b", example, text)
    blanks = " " * INDENT.get(where, 0)
    return AROUND[where].format("\n".join(blanks + line for line in text.split("\n")))


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
