"""The page of figures is that of the data as they are."""

from __future__ import annotations

from itertools import pairwise

from protocol_lang.trade.tables import documents, every, questions
from tools.trade import PAGE, page, shown

TEXT = PAGE.read_text("utf-8")


def test_the_page_is_up_to_date():
    assert page() == TEXT, '"make docs" writes it anew.'


def test_local_codes_come_first():
    opening = TEXT.split("\n\n")[2]
    assert opening.startswith(
        "**Local codes, labels of products and licensed practice come first.**"
    )


def test_the_page_leaves_nothing_out():
    lines = TEXT.splitlines()
    for table, row in every():
        values = [shown(value) for value in row.fields.values()]
        held = [line for line in lines if line.startswith("| ") and all(v in line for v in values)]
        assert held, (table.title, values)
        assert f"### {table.title}\n" in TEXT
    for question in questions():
        assert f"### {question}\n" in TEXT
    for document in documents().values():
        assert f"| {document.short} | {document.title} |" in TEXT


def test_no_cell_breaks_its_table():
    rows = [line for line in TEXT.splitlines() if line.startswith("|")]
    assert len(rows) > 300
    widths = [line.count("|") for line in rows]
    for above, below in pairwise(rows):
        if below.startswith("| ---"):
            assert above.count("|") == below.count("|")
    assert min(widths) >= 2
