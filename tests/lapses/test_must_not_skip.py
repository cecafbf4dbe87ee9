"""Which steps a wall chart marks, compared with the report that names them."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.chart.sheet import Checked, Group, Row, Sheet
from protocol_lang.lapses.must_not_skip import must_not_skip
from protocol_lang.lapses.telling import lapsed_of
from protocol_lang.pages import sheets
from protocol_lang.pipeline import Checked as File
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from protocol_lang.wording.lapsed import CONSEQUENCE

ROOM_2 = folder("protocols") / "imaging-room-2"


@pytest.fixture(scope="module")
def visit() -> File:
    return check_file(ROOM_2 / "intraoral-wired-sensor.protocol", mend=False)


def rows(sheet: Sheet) -> list[Row]:
    def of(item: Row | Group) -> list[Row]:
        return [item] if isinstance(item, Row) else [row for one in item.items for row in of(one)]

    return [row for phase in sheet.phases for item in phase.items for row in of(item)]


def test_marked_are_steps_that_the_report_names(visit: File):
    """The marks come from one order; the report from all of them. So no mark is without a line in
    the report, and the worst consequence is told."""
    assert visit.unfolded is not None and visit.judgement is not None
    marked = must_not_skip(visit.unfolded, visit.judgement)
    told, _, _ = lapsed_of(visit.unfolded, visit.judgement, "visit", 1)
    named: dict[object, set[str]] = {}
    for one in told.alone:
        if one.slip.kind in ("left out", "cut short"):
            named.setdefault(one.slip.place, set()).update(one.opens)
    assert len(marked) > 10
    for place, consequence in marked.items():
        assert consequence in {CONSEQUENCE[opens] for opens in named[place]}
    for place, consequence in marked.items():
        if consequence == CONSEQUENCE["room"]:
            assert named[place] == {"room"}


def test_consequences_have_at_most_six_words():
    assert all(len(told.split()) <= 6 for told in CONSEQUENCE.values())


def test_the_sheet_shows_them_only_if_asked(visit: File):
    assert visit.unfolded is not None and visit.judgement is not None
    without = sheets(visit.unfolded, visit.judgement, Checked(), {})
    assert not any(row.must_not_skip for sheet in without for row in rows(sheet))
    marked = must_not_skip(visit.unfolded, visit.judgement)
    with_marks = sheets(visit.unfolded, visit.judgement, Checked(), {}, marked)
    told = [(row.text, row.must_not_skip) for sheet in with_marks for row in rows(sheet)]
    consequences = {said for text, said in told if "isinfect" in text and "sensor" in text}
    assert consequences == {CONSEQUENCE["patient"]}
    assert {said for text, said in told if "hands still" in text} == {None}


def test_a_faulty_protocol_has_marks_only_for_what_is_not_open_anyhow(tmp_path: Path):
    text = (ROOM_2 / "intraoral-wired-sensor.protocol").read_text("utf-8")
    (tmp_path / "imaging-room-2.protocol").write_bytes(
        (ROOM_2 / "imaging-room-2.protocol").read_bytes()
    )
    file = tmp_path / "visit.protocol"
    file.write_text(
        text.replace("  [ ] operator disinfects sensor with a new wipe\n", "", 1).replace(
            "  [ ] operator waits until sensor is dry\n", "", 1
        ),
        "utf-8",
    )
    found = check_file(file, mend=False)
    assert found.unfolded is not None and found.judgement is not None
    marked = must_not_skip(found.unfolded, found.judgement)
    assert CONSEQUENCE["patient"] not in marked.values()
