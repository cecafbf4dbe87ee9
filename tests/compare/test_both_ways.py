"""Laws of comparing: an edition with itself says nothing; turned round, everything is turned."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from protocol_lang.comparison import Comparison
from protocol_lang.pipeline import Checked, check_file, compared
from protocol_lang.report.compared import sections, upshot
from tests.compare.changes import PLANTED
from tests.compare.kit import both_ways
from tests.practice.kit import ROOM, ROOM_3

#: Of rooms 2 and 3: what comparing does has no other paths in further rooms.
SHIPPED = sorted(
    path
    for room in (ROOM, ROOM_3)
    for path in room.glob("*.protocol")
    if path.read_text("utf-8").startswith(("protocol", "day"))
)
#: The day with 1,169 acts takes some seconds; the others take less than one.
PAIRS = [
    ("intraoral-wired-sensor", "intraoral-series-wired-sensor"),
    ("intraoral-film", "intraoral-phosphor-plates"),
    ("intraoral-phosphor-plates", "intraoral-phosphor-plates-with-a-helper"),
    ("opening-the-room", "closing-the-room"),
    ("panoramic-usual-visit", "panoramic-airborne-precautions"),
    ("a-day-with-film", "a-day-with-plates"),
]


@cache
def checked(name: str) -> Checked:
    (path,) = (path for path in SHIPPED if path.stem == name)
    return check_file(path, mend=False)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_an_edition_with_itself_says_that_nothing_changes(path: Path):
    one = check_file(path, mend=False)
    found = compared(one, one)
    assert not found.in_effect
    assert found.same_text
    assert upshot(found) == "Nothing changes: both editions say the same."
    headings = {section.heading for section in sections(found)}
    assert headings <= {"", "Findings"}  # a part may have findings, all of them still there
    for field in (
        "header", "phases", "options", "declared", "added", "removed", "reworded", "moved",
        "between", "moved_in_text", "effects", "done", "assumed", "unchecked",
    ):  # fmt: skip
        assert not getattr(found, field), field


def facts(found: Comparison, turned: bool) -> dict[str, object]:
    """All that is told, without order; turned: as the other way round would tell it."""

    def two(was: object, is_now: object) -> tuple[object, object]:
        return (is_now, was) if turned else (was, is_now)

    def pair(one) -> object:
        return two(one.was, one.is_now)

    added, removed = two(found.added, found.removed)
    return {
        "editions": two(found.old, found.new),
        "added": added,
        "removed": removed,
        "named": {
            (sort, one.sort, one.name, two(one.was, one.is_now))
            for sort in ("header", "options", "declared")
            for one in getattr(found, sort)
        },
        "phases": {
            (one.sort, two(one.was, one.is_now)) for one in found.phases if one.sort != "runs on"
        },
        "reworded": {(pair(one.step), one.same) for one in found.reworded},
        "moved": {
            (pair(one.step), pair(to.other), two(to.was, to.is_now))
            for one in found.moved
            for to in one.to
        },
        "between": {
            (
                frozenset(map(pair, one.together)),
                frozenset(map(pair, one.others)),
                one.can is not turned,
            )
            for one in found.between
        },
        "elsewhere": set(map(pair, found.moved_in_text)),
        "effects": {(pair(one.step), two(one.no_longer, one.now)) for one in found.effects},
        "done": {(pair(one.step), two(one.was, one.is_now)) for one in found.done},
        "findings": {
            (one.code, one.sure, two(one.was is None, one.is_now is None)) for one in found.findings
        },
        "assumed": {(one.kind, one.names, one.newly is not turned) for one in found.assumed},
        "unchecked": {(part.kind, new is not turned) for part, new in found.unchecked},
    }


@pytest.mark.parametrize("name", PLANTED)
def test_turned_round_everything_is_turned(name: str, tmp_path: Path):
    there, back = both_ways(tmp_path, PLANTED[name].changes, PLANTED[name].room)
    assert facts(there, turned=False) == facts(back, turned=True)


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_so_it_is_with_protocols_that_have_little_in_common(one: str, other: str):
    there = compared(checked(one), checked(other))
    back = compared(checked(other), checked(one))
    assert there.in_effect
    told, turned = facts(there, turned=False), facts(back, turned=True)
    for name in told:
        assert told[name] == turned[name], name
