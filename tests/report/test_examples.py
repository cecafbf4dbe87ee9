"""The examples that ``explain`` shows do what they claim, through the whole pipeline."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.cli.titles import file_name
from protocol_lang.pipeline import check_file
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.constructs import CONSTRUCTS

#: Kinds with an example; others are of files that no text can show.
SHOWN = [entry.kind for entry in ENTRIES.values() if entry.faulty]

Found = Callable[[str], list[str]]


@pytest.fixture
def found(tmp_path: Path) -> Found:
    """The kinds of what a check of a text finds, to the end if it finds nothing."""

    def check(text: str) -> list[str]:
        # Named after its title, so that an example can take words from itself.
        title = re.search(r'^\w+ "(.+)"$', text, re.MULTILINE)
        path = tmp_path / f"{file_name(title[1]) if title else 'example'}.protocol"
        path.write_text(text, "utf-8")
        outcome = check_file(path).outcome
        assert outcome.findings or not outcome.unchecked, outcome.unchecked
        return [finding.kind for finding in outcome.findings]

    return check


@pytest.mark.parametrize("kind", SHOWN)
def test_the_faulty_example_has_exactly_this_finding(kind, found):
    assert found(ENTRIES[kind].faulty) == [kind]


@pytest.mark.parametrize("kind", [kind for kind in SHOWN if ENTRIES[kind].good])
def test_the_good_example_has_none(kind, found):
    assert found(ENTRIES[kind].good) == []


@pytest.mark.parametrize("construct", CONSTRUCTS, ids=lambda construct: construct.name)
def test_the_good_text_of_a_construct_has_no_finding(construct, found):
    assert found(construct.good) == []


@pytest.mark.parametrize("construct", CONSTRUCTS, ids=lambda construct: construct.name)
def test_the_faulty_text_of_a_construct_has_one(construct, found):
    assert len(found(construct.faulty)) == 1


def test_only_what_no_text_can_show_has_no_example():
    assert not [kind for kind in SHOWN if not ENTRIES[kind].good]
    assert {kind for kind in ENTRIES if ENTRIES[kind].number[0] == "U"} == {
        kind for kind in ENTRIES if kind not in SHOWN and ENTRIES[kind].number[0] in "UOC"
    }
