"""Writes ``docs/trade-data.md``: each published figure with its source, from ``protocols/data``.

Run by ``python -m tools.trade`` from the folder of the project. A test fails when the page on disk
says something else.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from protocol_lang.trade.basis import Document
from protocol_lang.trade.tables import SUBJECTS, Row, Table, Value, documents, questions, subject

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "trade-data.md"

#: Fields whose names alone do not tell what they hold.
_HEADINGS = {
    "percent_90": "90 % gone",
    "percent_99": "99 % gone",
    "percent_99_9": "99.9 % gone",
    "blood": "with blood",
    "parts": "1 to",
    "count": "cases",
    "size": "high and wide",
}

#: Fields that are called after their unit: the unit alone says what they hold.
_UNITS = frozenset(
    {"celsius", "days", "feet", "metres", "milligrams", "millisievert", "minutes", "percent", "ppm"}
)

_INTRODUCTION = """\
# Figures of the trade

<!-- Written by tools/trade.py; do not edit. -->

**Local codes, labels of products and licensed practice come first.** What stands here is what
published documents say, in our words, so that it can be looked up and disagreed with. It replaces
none of them.

The figures are kept in `protocols/data/`, one file for each subject, and are read by
`protocol_lang/trade/`. How surely each is known:

* **read**: in the document, or in a copy of it;
* **second-hand**: in a page that restates the document;
* **from memory**: nobody has looked it up for this page;
* **computed**: arithmetic on what the document says.

*Inferred* says that a document does not name the case; it was concluded from what the document
says. Where sources disagree, all are kept, and one is the default:
[the list](#where-sources-disagree).
"""


def main() -> int:
    """Write the page. Return 0."""
    PAGE.write_text(page(), "utf-8")
    print(f"wrote {PAGE.relative_to(ROOT)}")
    return 0


def page() -> str:
    """The page as it should be."""
    return "\n".join([_INTRODUCTION, *_subjects(), *_questions(), *_documents()])


def shown(value: Value | None) -> str:
    """A value as the page shows it: a number as a decimal, exactly."""
    if value is None:
        return ""
    return str(float(value)) if isinstance(value, Fraction) else str(value)


def _subjects() -> Iterator[str]:
    for name in SUBJECTS:
        found = subject(name)
        yield f"## {found.title}\n"
        yield f"`protocols/data/{name}.toml`\n"
        for table in found.tables.values():
            yield from _table(table)


def _table(table: Table) -> Iterator[str]:
    yield f"### {table.title}\n"
    first = table.rows[0]
    same = all(_source(row) == _source(first) for row in table.rows)
    if same:
        yield f"Source: {_source(first)}.\n"
    notes = any(_note(row) for row in table.rows)
    fields = table.columns
    headings = [_heading(name, table) for name in fields]
    headings += [] if same else ["source"]
    headings += ["note"] if notes else []
    lines = [
        [shown(row.fields.get(name)) for name in fields]
        + ([] if same else [_source(row)])
        + ([_note(row)] if notes else [])
        for row in table.rows
    ]
    yield from _rows(headings, lines)


def _rows(headings: list[str], lines: list[list[str]]) -> Iterator[str]:
    yield f"| {' | '.join(headings)} |"
    yield f"|{' --- |' * len(headings)}"
    yield from (f"| {' | '.join(line)} |" for line in lines)
    yield ""


def _heading(name: str, table: Table) -> str:
    if name in _UNITS:
        return table.units[name]
    plain = _HEADINGS.get(name, name.replace("_", " "))
    return f"{plain} ({table.units[name]})" if name in table.units else plain


def _source(row: Row) -> str:
    return f"{row.basis.document.short}: {row.basis.section}; {row.basis.status.value}"


def _note(row: Row) -> str:
    said = ["Inferred."] if row.basis.inferred else []
    said += [row.basis.note] if row.basis.note else []
    said += [f"Sources disagree; {'the default' if row.default else 'not the default'}."] * (
        row.question is not None
    )
    return " ".join(said)


def _questions() -> Iterator[str]:
    yield "## Where sources disagree\n"
    yield "The default is what is taken where nothing else is asked for.\n"
    for question, rivals in questions().items():
        yield f"### {question}\n"
        for table, row in rivals:
            default = " **(default)**" if row.default else ""
            said = ", ".join(_in_words(name, value, table) for name, value in row.fields.items())
            yield f"* {said}{default} ({_source(row)})"
        yield ""


def _in_words(name: str, value: Value, table: Table) -> str:
    if isinstance(value, str):
        return value
    what = "" if name in _UNITS else f"{_HEADINGS.get(name, name.replace('_', ' '))} "
    return f"{what}{shown(value)} {table.units[name]}"


def _documents() -> Iterator[str]:
    yield "## The documents\n"
    yield (
        "Of those without a year or a number neither is known: ask for the document before relying "
        "on it.\n"
    )
    found = sorted(documents().values(), key=lambda document: document.short.casefold())
    yield from _rows(
        ["called here", "document", "year or number"],
        [[document.short, document.title, _found_by(document)] for document in found],
    )


def _found_by(document: Document) -> str:
    return ", ".join(str(known) for known in (document.year, document.identifier) if known)


if __name__ == "__main__":
    sys.exit(main())
