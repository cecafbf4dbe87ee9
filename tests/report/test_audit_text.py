"""The report of an audit as text: every width can hold it, ink only repeats, ASCII is ASCII."""

from __future__ import annotations

import re

import pytest

from protocol_lang.report.audit.text import render
from protocol_lang.report.letters import width
from tests.report import audits

WIDTHS = (24, 40, 60, 72, 96, 200)
SAMPLES = {
    **audits.ALL,
    "long": audits.spoken("A name three times as long as others " * 5 + "x" * 90),
    "Hindi": audits.spoken(audits.HINDI),
    "Arabic": audits.spoken(audits.ARABIC),
    "wide": audits.spoken("日本の部屋"),
    "many": audits.many(40),
}


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("columns", WIDTHS)
@pytest.mark.parametrize("ascii_only", [False, True])
def test_no_line_is_longer_than_the_page(name, columns, ascii_only):
    page = render(SAMPLES[name], columns, ascii_only=ascii_only)
    assert max(width(line) for line in page.split("\n")) <= min(columns, 96)
    assert not re.search(r" $", page, re.MULTILINE)
    assert "\n\n\n" not in page
    assert page == page.strip("\n")


@pytest.mark.parametrize("name", SAMPLES)
def test_ascii_only_is_ascii(name):
    assert render(SAMPLES[name], 60, ascii_only=True).isascii()


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("columns", [24, 60, 96])
def test_ink_only_repeats(name, columns):
    plain = render(SAMPLES[name], columns)
    inked = render(SAMPLES[name], columns, colour=True)
    assert inked != plain
    assert re.sub("\x1b\\[[0-9]m", "", inked) == plain
    for line in inked.split("\n"):
        inks = re.findall("\x1b\\[([0-9])m", line)
        assert not inks or inks[-1] == "0"


def test_a_wide_page_has_tables_and_a_narrow_one_forms():
    wide, narrow = render(audits.AUDIT, 96), render(audits.AUDIT, 40)
    assert re.search(
        r"^File +Protocol +Outcome +Met +Failed +Waived +Not +Not$", wide, re.MULTILINE
    )
    assert re.search(r"^All files +4 +2 +1 +1 +1$", wide, re.MULTILINE)
    assert "rules" in narrow
    assert re.search(r"^Rule +", narrow, re.MULTILINE) is None
    counted = "met 4, failed 2, waived 1, not applicable 1, not decided 1"
    assert counted in " ".join(narrow.split())


def test_columns_stand_under_each_other():
    lines = render(audits.AUDIT, 96).split("\n")
    head = next(line for line in lines if line.startswith("Identity"))
    at = head.index("File")
    rows = [line for line in lines if line.startswith("z9-old")]
    assert len(rows) == 3 and all(row[at - 1] == " " and row[at] != " " for row in rows)


def test_there_are_lines_to_sign_on():
    page = render(audits.AUDIT, 60)
    for label in ("Name", "Role", "Date", "Signature"):
        assert len(re.findall(rf"^  {label} +\.{{20,}}$", page, re.MULTILINE)) == 2
