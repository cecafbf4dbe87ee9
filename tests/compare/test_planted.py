"""Changes of the shipped wired-sensor protocol: each is told, and nothing else is."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.comparison import Comparison
from protocol_lang.report.compared import effect_in_words, sections, upshot
from tests.compare.changes import PLANTED, Planted
from tests.compare.kit import comparison


def told(found: Comparison) -> dict[str, object]:
    """All that a comparison tells, in the form of the table."""
    return {
        "says": upshot(found),
        "added": tuple(one.text for one in found.added),
        "removed": tuple(one.text for one in found.removed),
        "reworded": tuple(
            (one.step.was.text, one.step.is_now.text, one.same) for one in found.reworded
        ),
        "moved": tuple(
            (
                one.step.is_now.text,
                tuple((to.other.is_now.text, _of(to.was), _of(to.is_now)) for to in one.to),
            )
            for one in found.moved
        ),
        "elsewhere": tuple(one.is_now.text for one in found.moved_in_text),
        "between": tuple(
            (
                tuple(pair.is_now.text for pair in one.together),
                tuple(pair.is_now.text for pair in one.others),
                one.can,
            )
            for one in found.between
        ),
        "effects": tuple(
            (
                one.step.is_now.text,
                tuple(map(effect_in_words, one.no_longer)),
                tuple(map(effect_in_words, one.now)),
            )
            for one in found.effects
        ),
        "done": tuple((one.step.is_now.text, one.was, one.is_now) for one in found.done),
        "findings": tuple((one.fate.value, one.finding.kind) for one in found.findings),
        "phases": tuple((one.sort, one.was, one.is_now) for one in found.phases),
        "options": tuple((one.sort, one.name, one.was, one.is_now) for one in found.options),
        "declared": tuple((one.name, one.was, one.is_now) for one in found.declared),
        "header": tuple((one.sort, one.was, one.is_now) for one in found.header),
    }


def _of(relation: object) -> str:
    """How the moved step stands to the other, seen from the moved one."""
    return str(getattr(relation, "value", relation))


def wanted(planted: Planted) -> dict[str, object]:
    return {name: getattr(planted, name) for name in told_names()}


def told_names() -> tuple[str, ...]:
    return (
        "says", "added", "removed", "reworded", "moved", "elsewhere", "between", "effects", "done",
        "findings", "phases", "options", "declared", "header",
    )  # fmt: skip


@pytest.mark.parametrize("name", PLANTED)
def test_a_change_is_told_and_nothing_else(name: str, tmp_path: Path):
    planted = PLANTED[name]
    found = comparison(tmp_path, planted.changes, planted.room)
    assert told(found) == wanted(planted)
    assert not found.undecided and not found.same_text and not found.rules


@pytest.mark.parametrize("name", PLANTED)
def test_what_the_answer_rests_on(name: str, tmp_path: Path):
    planted = PLANTED[name]
    found = comparison(tmp_path, planted.changes, planted.room)
    for newly, known in ((True, planted.newly), (False, planted.no_longer)):
        things = {
            f"{one.kind} {one.names[1 if one.kind == 'remainder' else 0]}"
            for one in found.assumed
            if one.newly is newly and one.kind != "without_contact"
        }
        assert things == known


def test_only_what_was_judged_is_called_gone(tmp_path: Path):
    """The old edition has a path; the new one has lost its glove removal and is not judged."""
    path = ("  [ ] operator disinfects sensor with a new wipe\n", "")
    found = comparison(tmp_path, [*PLANTED["glove removal is dropped"].changes], before=[path])
    gone = [one for one in found.findings if one.fate.value == "gone"]
    assert [one.finding.kind for one in gone] == ["path-to-patient"]
    assert not gone[0].sure
    assert upshot(found) == (
        "Whether paths open or close is not known, because the new edition was not judged to the "
        "end; one fault is new; of one finding it is not known whether it is gone."
    )


def test_a_mended_protocol_closes_the_path(tmp_path: Path):
    path = ("  [ ] operator disinfects sensor with a new wipe\n", "")
    found = comparison(tmp_path, before=[path])
    assert upshot(found) == "The new edition closes one path and opens none."
    assert [one.text for one in found.added] == ["operator disinfects sensor with a new wipe"]


def test_a_text_with_faults_is_not_compared_in_silence(tmp_path: Path):
    found = comparison(tmp_path, [("operator aims tube", "operator aimz tube")])
    assert not found.new.whole and not found.new.ordered
    assert upshot(found) == (
        "Whether paths open or close is not known, because the new edition was not judged to the "
        "end; one fault is new."
    )
    assert "a step whose text has a fault may be told as added or removed" in " ".join(
        line for section in sections(found) for row in section.rows for line in row.lines
    )
    assert found.new.number == 1
