"""The tables of ``protocols/data``, as they are written.

A file has a title and tables. A table has a title, its rows, and what all of its rows share. Three
kinds of values are set apart from the rest of a row:

* what it rests on: ``source`` (a key of sources.toml), ``section``, ``status``, ``inferred``, and a
  ``note``;
* ``question`` and ``default``: rows with the same question are rival answers to it, and one of
  them is taken where nothing is said;
* ``units``: of each field that holds a number.

Numbers with a decimal point are read exactly, as fractions.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from types import MappingProxyType
from typing import Any

from protocol_lang.resources import folder
from protocol_lang.trade.basis import Basis, Document, Status

#: The subjects: a file each, in the order in which a reader meets them.
SUBJECTS = (
    "germs", "germicides", "contact-times", "steam", "intervals", "air", "waste", "exposure",
    "legibility", "rates", "practice",
)  # fmt: skip

#: A value of a row.
Value = str | int | Fraction

_BASIS = ("source", "section", "status", "inferred", "note")
_APART = (*_BASIS, "question", "default", "units", "title", "row")


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table.

    ``fields``: its own values, by name. ``question``: to what it is one of several answers;
    ``default``: it is the one that is taken where nothing is said.
    """

    fields: Mapping[str, Value]
    basis: Basis
    question: str | None
    default: bool

    def text(self, name: str) -> str:
        """A value that is a text. KeyError if it is missing, TypeError if it is a number."""
        value = self.fields[name]
        if not isinstance(value, str):
            raise TypeError(f"{name}: {value}")
        return value

    def number(self, name: str) -> Fraction:
        """A value that is a number. KeyError if it is missing, TypeError if it is a text."""
        value = self.fields[name]
        if isinstance(value, str):
            raise TypeError(f"{name}: {value}")
        return Fraction(value)

    def maybe(self, name: str) -> Fraction | None:
        """A value that is a number, None if it is missing."""
        return self.number(name) if name in self.fields else None


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``units``: of each field that holds a number."""

    name: str
    title: str
    units: Mapping[str, str]
    rows: tuple[Row, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        """The names of all fields, in the order in which the rows bring them."""
        return tuple(dict.fromkeys(name for row in self.rows for name in row.fields))


@dataclass(frozen=True, slots=True)
class Subject:
    """A file of tables, by name."""

    title: str
    tables: Mapping[str, Table]


def _read(name: str) -> dict[str, Any]:
    path = folder("protocols") / "data" / f"{name}.toml"
    return tomllib.loads(path.read_text("utf-8"), parse_float=Fraction)


@cache
def documents() -> Mapping[str, Document]:
    """The documents that figures come from, by key."""
    found = {
        key: Document(key, said["short"], said["title"], said.get("year"), said.get("identifier"))
        for key, said in _read("sources").items()
    }
    return MappingProxyType(found)


@cache
def subject(name: str) -> Subject:
    """A file of tables, read once; ``name`` is one of :data:`SUBJECTS`."""
    said = _read(name)
    title = said.pop("title")
    return Subject(
        title, MappingProxyType({key: _table(name, key, table) for key, table in said.items()})
    )


def rows(name: str, table: str) -> tuple[Row, ...]:
    """The rows of a table of a subject."""
    return subject(name).tables[table].rows


def every() -> Iterator[tuple[Table, Row]]:
    """Every row of every subject, with its table."""
    for name in SUBJECTS:
        for table in subject(name).tables.values():
            for row in table.rows:
                yield table, row


def questions() -> Mapping[str, tuple[tuple[Table, Row], ...]]:
    """Where sources disagree: by question the rival rows, with their tables, the default first."""
    found: dict[str, list[tuple[Table, Row]]] = {}
    for table, row in every():
        if row.question is not None:
            found.setdefault(row.question, []).append((table, row))
    return MappingProxyType(
        {
            question: tuple(sorted(rivals, key=lambda rival: not rival[1].default))
            for question, rivals in found.items()
        }
    )


def _table(file: str, key: str, said: dict[str, Any]) -> Table:
    shared = {name: value for name, value in said.items() if name not in ("row", "title", "units")}
    found = tuple(_row(f"{file}.toml, {key}", {**shared, **row}) for row in said["row"])
    return Table(key, said["title"], MappingProxyType(said.get("units", {})), found)


def _row(where: str, said: dict[str, Any]) -> Row:
    for name in ("source", "section", "status"):
        if name not in said:
            raise ValueError(f"{where}: a row without a {name}.")
    fields = {name: value for name, value in said.items() if name not in _APART}
    basis = Basis(
        documents()[said["source"]],
        said["section"],
        Status(said["status"]),
        said.get("inferred", False),
        said.get("note"),
    )
    return Row(
        MappingProxyType(fields), basis, said.get("question"), bool(said.get("default", False))
    )
