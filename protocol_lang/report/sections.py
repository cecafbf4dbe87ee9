"""A page for people as data: sections of rows, before anything is set in type."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """A label and the lines beside it; a line that begins with blanks belongs to the one above."""

    label: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Rows under a heading; without a heading at the head or the foot of the page."""

    heading: str
    rows: tuple[Row, ...]
