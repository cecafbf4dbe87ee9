"""The findings of an audit as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from protocol_lang.audited import FileReport
from protocol_lang.report.audit.csv import COLUMNS, render
from protocol_lang.report.cells import cell
from tests.report import audits


def rows(audit=audits.AUDIT) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(render(audit), newline="")))


def test_one_row_for_each_finding_in_each_file():
    assert [(row["identity"], row["file"]) for row in rows()] == [
        ("k7f2-q9", audits.FILM),
        ("k7f2-q9", audits.SENSOR),
        ("m3c1-d4", audits.SENSOR),
        ("a1b5-x2", audits.SENSOR),
        ("w8e0-t6", audits.SENSOR),
    ]
    assert rows(audits.EMPTY) == []


def test_a_file_that_could_not_be_looked_at_has_a_row_with_the_reason():
    lost = FileReport("lost.protocol", "not checked", reason="It is no text.", cause="unreadable")
    (row,) = rows(replace(audits.EMPTY, files=(lost,)))
    told = {name: value for name, value in row.items() if value}
    assert told == {
        "weight": "not checked",
        "file": "lost.protocol",
        "kind": "unreadable",
        "sentence": "It is no text.",
    }


def test_a_row_holds_the_whole_finding():
    row = rows()[2]
    assert row == {
        "identity": "m3c1-d4",
        "weight": "to correct",
        "since": "reopened",
        "waived by": "",
        "file": audits.SENSOR,
        "line": "47",
        "words": "operator disinfects sensor",
        "context": "",
        "kind": "rule-failed",
        "sentence": "The sensor is not cleaned before it is disinfected.",
        "rule": "Clean before disinfecting",
        "rules": "Infection control at work",
        "edition": "3",
        "strength": "must",
        "sources": audits.CDC,
        "choices": "",
        "because": "",
        "change": "",
        "story": "Visit 1, line 47: operator disinfects sensor",
        "by": "sterilization lead",
        "until": "2026-12-15",
    }
    assert rows()[1]["choices"] == "staffing: alone; shielding: none"
    assert rows()[1]["by"] == "radiography lead"
    assert rows()[1]["change"].startswith('After "operator places')
    assert rows()[4]["waived by"] == "Aprons until the new hooks"


def test_the_form_is_that_of_the_standard():
    # RFC 4180, section 2: CR LF ends each record; quotes inside a quoted field are doubled.
    made = render(audits.AUDIT)
    assert made.startswith(",".join(COLUMNS) + "\r\n") and made.endswith("\r\n")
    assert '""operator places holder with sensor in mouth""' in made
    assert render(audits.AUDIT) == render(replace(audits.AUDIT))


@pytest.mark.parametrize("begin", ["=cmd()", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "=\x1b"])
@pytest.mark.parametrize("blank", ["", " ", "  ", "\u00a0", "\u3000", "\u200b", "\ufeff", " \x00"])
def test_no_cell_is_reckoned_with(begin, blank):
    begin = blank + begin
    # Common practice, no source: cells that begin so are run as formulas by spreadsheets.
    for row in rows(audits.spoken(begin)):
        guarded = [value for value in row.values() if value.startswith("'")]
        assert len(guarded) >= 10
        assert not any(value.startswith(("=", "+", "-", "@", "\t", "\r")) for value in row.values())


@pytest.mark.parametrize("wide", ["\uff1d", "\uff0b", "\uff0d", "\uff20", "\ufe66", "\u2212"])
def test_wide_and_small_forms_begin_a_formula_too(wide):
    """Some spreadsheets read a cell in a wide form as they read the plain one (common practice, no
    source); which letters are such forms is from the Unicode Standard (NFKC)."""
    assert cell(f"{wide}1+1") == f"'{wide}1+1"
    assert cell(f" {wide}1+1") == f"' {wide}1+1"


def test_a_cell_is_no_formula_where_semicolons_part_cells():
    """Spreadsheets in languages with a decimal comma split there; the line begins anew as well."""
    assert cell("lamp;=1+1") == "lamp;'=1+1"
    assert cell("lamp; @x\n-2") == "lamp;' @x\n'-2"


def test_what_begins_otherwise_stays_as_it_is():
    for text in ("", " ", "a=b", "1-2", "(+1)", "\u2013 2", "lamp; cone", "a\nb"):
        assert cell(text) == text


def test_names_are_kept_as_written():
    for text in (*audits.MARKUP, audits.HINDI, audits.ARABIC, 'a "b", c', "a,b;c"):
        guard = "'" if text.startswith(("=", "+", "-", "@")) else ""
        for row in rows(audits.spoken(text)):
            assert row["rule"] == guard + text
            assert row["file"] == guard + text


def test_control_characters_are_shown_as_escapes():
    made = render(audits.spoken("a\x00b\x1bc\ud800\u202ed"))
    assert not set(made) & set("\x00\x1b\ud800\u202e")
    assert r"a\x00b\x1bc\ud800\u202ed" in made
