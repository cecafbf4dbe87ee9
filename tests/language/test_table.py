"""The table of the grammar is the one of the grammar at hand, and changes nothing but the time."""

from __future__ import annotations

import pickle
import re
import shutil
from pathlib import Path

import lark
import pytest

from protocol_lang.language.reading import table
from protocol_lang.resources import folder

GRAMMAR = folder("grammar")
TEXT = table.grammar()


@pytest.fixture(scope="module")
def anew() -> lark.Lark:
    """The parser, worked out from the grammar."""
    return table.parser_of(TEXT)


def _told(parser: lark.Lark, line: str, start: str) -> object:
    """What a parser makes of a line: its tree, or where it stops and what would fit."""
    try:
        return parser.parse(line, start=start)
    except lark.UnexpectedToken as error:
        return ("word", error.pos_in_stream, error.token.type, error.accepts or error.expected)
    except lark.UnexpectedCharacters as error:
        return ("letter", error.pos_in_stream, error.allowed)


def _lines() -> list[str]:
    """Every line of the shipped files, and each of them cut off and with a word too many."""
    whole = {
        line.split("#")[0].strip()
        for path in sorted(folder("protocols").rglob("*.protocol"))
        for line in path.read_text("utf-8").splitlines()
    }
    lines = sorted(line for line in whole if line)
    cut = [line[: len(line) // 2].strip() for line in lines[::3]]
    more = [re.sub(r" ", " of ", line, count=1) for line in lines[::3]]
    return [line for line in (*lines, *cut, *more) if line]


def test_the_table_is_that_of_the_grammar_at_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails: python -m tools.line_table."""

    def not_needed(text: str) -> lark.Lark:
        raise AssertionError("the table is that of another grammar, or of another parser library")

    monkeypatch.setattr(table, "parser_of", not_needed)
    table.parser()


def test_by_its_table_the_parser_says_of_every_line_what_it_says_without(anew: lark.Lark) -> None:
    by_table = table.parser()
    assert {t.name for t in by_table.terminals} == {t.name for t in anew.terminals}
    lines = _lines()
    assert len(lines) > 1000
    for number, line in enumerate(lines):
        starts = table.starts_of(TEXT) if number % 25 == 0 else [table.BY_OPENING]
        for start in starts:
            assert _told(by_table, line, start) == _told(anew, line, start), (start, line)


def _elsewhere(
    place: Path, monkeypatch: pytest.MonkeyPatch, text: str = TEXT, written: bytes | None = None
) -> lark.Lark:
    """The parser of a folder with this grammar, and with this table or the shipped one."""
    shutil.copy(GRAMMAR / table.TABLE, place)
    if written is not None:
        (place / table.TABLE).write_bytes(written)
    (place / "lines.lark").write_text(text, "utf-8")
    monkeypatch.setattr(table, "folder", lambda name: place)
    return table.parser()


def test_a_grammar_that_is_newer_than_its_table_goes_before_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed = TEXT.replace('EDITION.2: "edition"', 'EDITION.2: "issue"')
    assert changed != TEXT
    parser = _elsewhere(tmp_path, monkeypatch, changed)
    assert parser.parse("issue 1", start="line").data == "edition"


def test_a_table_of_another_library_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = (GRAMMAR / table.TABLE).read_bytes()
    head = pickle.dumps((lark.__version__, TEXT))
    assert written.startswith(head)
    other = pickle.dumps(("0", TEXT)) + pickle.dumps({"memo": {}, "data": {}})
    parser = _elsewhere(tmp_path, monkeypatch, written=other)
    assert parser.parse("edition 1", start="line").data == "edition"


def test_without_a_table_the_parser_is_made_from_the_grammar(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "lines.lark").write_text(TEXT, "utf-8")
    monkeypatch.setattr(table, "folder", lambda name: tmp_path)
    assert table.parser().parse("edition 1", start="line").data == "edition"


@pytest.mark.parametrize("cut", [0, 1, 20_000])
def test_a_table_that_is_torn_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cut: int
) -> None:
    written = (GRAMMAR / table.TABLE).read_bytes()[:cut]
    parser = _elsewhere(tmp_path, monkeypatch, written=written)
    assert parser.parse("edition 1", start="line").data == "edition"


def _shouted() -> None:
    raise AssertionError("something in a table was run")


class _Runs:
    """What would be run on reading, if it were looked up."""

    def __reduce__(self) -> tuple[object, ...]:
        return (_shouted, ())


def test_nothing_in_a_table_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written = pickle.dumps((lark.__version__, TEXT)) + pickle.dumps(_Runs())
    parser = _elsewhere(tmp_path, monkeypatch, written=written)
    assert parser.parse("edition 1", start="line").data == "edition"
