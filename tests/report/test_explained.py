"""Pages that explain a word: examples are shown so that they can be copied."""

from __future__ import annotations

import pytest

from protocol_lang.report.explained import render, subjects
from protocol_lang.wording.examples import TAB, TAB_IS_SHOWN


@pytest.mark.parametrize("subject", subjects(), ids=lambda subject: subject.name)
@pytest.mark.parametrize("width", [40, 72])
def test_examples_are_shown_line_for_line(subject, width):
    page = render([subject], width=width, ascii_only=False)
    for example in (subject.good, subject.faulty):
        for line in example.splitlines():
            if line.strip() and line.isprintable():
                assert f"    {line.rstrip()}" in page.splitlines()


def test_a_tab_is_shown():
    [subject] = [each for each in subjects() if each.name == "tab-indent"]
    page = render([subject])
    assert f"    {TAB}[ ] operator cleans hands" in page
    assert TAB_IS_SHOWN in page
    others = [each for each in subjects() if "\t" not in each.good + each.faulty]
    assert TAB_IS_SHOWN not in render(others)


@pytest.mark.parametrize(
    "word",
    [
        *("is clean", "covered", "bare", "wears", "dry", "has", "all of", "any of"),
        *("near the face", "slots", "slot"),
    ],
)
def test_words_of_claims_traits_and_forms_have_pages(word):
    from protocol_lang.report.explained import Unknown, find

    assert not isinstance(find(word, subjects()), Unknown)
