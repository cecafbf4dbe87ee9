"""Changes that are proposed are written into the text, and there they do what was told of them."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.lapses.improving import improved
from protocol_lang.lapses.telling import MOST_STORIES, lapsed_of
from protocol_lang.pipeline import check_file
from tests.lapses.test_outside import DISINFECTED, HEAD, least, told, visit


def test_a_change_that_is_told_helps_once_it_is_written(tmp_path: Path):
    """Oracle: the text with the lines put in, checked and asked for lapses from the beginning."""
    body = visit(DISINFECTED)
    before = told(tmp_path, body)
    found = check_file(tmp_path / "visit.protocol")
    assert found.unfolded is not None and found.judgement is not None
    lapsed, _, smallest = lapsed_of(
        found.unfolded, found.judgement, "visit.protocol", 2, MOST_STORIES
    )
    changes = improved(lapsed, found.unfolded, smallest)
    assert changes
    for change in changes:
        lines = (HEAD + body).splitlines()
        indent = "  "
        lines[change.place.line - 1 : change.place.line - 1] = [
            f"{indent}in one go",
            *(f"{indent}  {line}" for line in change.lines),
        ]
        after = told(tmp_path, "\n".join(lines).removeprefix(HEAD.rstrip("\n")) + "\n", most=1)
        singles = {
            opens: sum(one.slip.alike for one in after.alone if opens in one.opens)
            for opens in change.after
        }
        assert singles == dict(change.after)
        assert sum(change.after.values()) < sum(change.before.values())
        for opens in ("patient", "staff"):
            margin = least(before, opens)
            assert margin is not None and (least(after, opens) or 2) >= margin


def test_nothing_is_proposed_that_is_to_be_corrected(tmp_path: Path):
    """Each proposal was checked: cleaning hands that wear gloves would be a fault, and is none."""
    told(tmp_path, visit(DISINFECTED))
    found = check_file(tmp_path / "visit.protocol")
    assert found.unfolded is not None and found.judgement is not None
    lapsed, _, smallest = lapsed_of(
        found.unfolded, found.judgement, "visit.protocol", 1, MOST_STORIES
    )
    for change in improved(lapsed, found.unfolded, smallest):
        assert "takes off gloves" in change.lines[0] or "cleans" in change.lines[0]
