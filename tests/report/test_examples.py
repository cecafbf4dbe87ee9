"""The examples that ``explain`` shows do what they claim, through the whole pipeline.

Left out only as long as the package has no pipeline at all; from then on they run.
"""

from __future__ import annotations

from importlib.util import find_spec

import pytest

from protocol_lang.findings import Finding
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.constructs import CONSTRUCTS

needs_pipeline = pytest.mark.skipif(
    find_spec("protocol_lang.pipeline") is None, reason="there is no pipeline yet"
)

SHOWN = [entry.kind for entry in ENTRIES.values() if entry.faulty]


def found_in(text: str) -> tuple[Finding, ...]:
    """What a check of this text finds; it must have been checked to the end if nothing is."""
    from protocol_lang.pipeline import check_text

    outcome = check_text(text, "example.protocol")
    assert outcome.findings or not outcome.unchecked, outcome.unchecked
    return tuple(outcome.findings)


@needs_pipeline
@pytest.mark.parametrize("kind", SHOWN)
def test_the_faulty_example_has_exactly_this_finding(kind):
    assert [finding.kind for finding in found_in(ENTRIES[kind].faulty)] == [kind]


@needs_pipeline
@pytest.mark.parametrize("kind", [kind for kind in SHOWN if ENTRIES[kind].good])
def test_the_good_example_has_none(kind):
    assert [finding.kind for finding in found_in(ENTRIES[kind].good)] == []


@needs_pipeline
@pytest.mark.parametrize("construct", CONSTRUCTS, ids=lambda construct: construct.name)
def test_the_good_text_of_a_construct_has_no_finding(construct):
    assert [finding.kind for finding in found_in(construct.good)] == []


@needs_pipeline
@pytest.mark.parametrize("construct", CONSTRUCTS, ids=lambda construct: construct.name)
def test_the_faulty_text_of_a_construct_has_one(construct):
    assert len(found_in(construct.faulty)) == 1


def test_only_what_no_text_can_show_has_no_example():
    assert not [kind for kind in SHOWN if not ENTRIES[kind].good]
    assert {kind for kind in ENTRIES if ENTRIES[kind].number[0] == "U"} == {
        kind for kind in ENTRIES if kind not in SHOWN and ENTRIES[kind].number[0] in "UOC"
    }
