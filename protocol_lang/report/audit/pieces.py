"""What a report is made of, whatever it is set down as: parts with paragraphs, forms and tables.

All texts are plain: nothing in them is markup. What an author wrote has been made visible (control
characters as escapes), and has :data:`ISOLATE` and :data:`RELEASE` around it where it is written
from right to left, so that the words beside it keep their places.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from protocol_lang.text import shown

#: First strong isolate, and the end of one: Unicode Standard Annex 9 (UAX #9), section 2.4.
ISOLATE, RELEASE = "\u2068", "\u2069"


def name(text: str) -> str:
    """A name or sentence of an author, fit to stand among words of ours."""
    safe = shown(text)
    if safe.isascii() or not any(unicodedata.bidirectional(one) in ("R", "AL") for one in safe):
        return safe
    return f"{ISOLATE}{safe}{RELEASE}"


def without_isolates(text: str) -> str:
    """The same for a page that cannot use them."""
    return text.replace(ISOLATE, "").replace(RELEASE, "")


@dataclass(frozen=True, slots=True)
class Paragraph:
    """``strong``: not to be overlooked."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a list, with what belongs to it."""

    text: str
    deeper: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Items:
    """A list. ``lead``: what stands over it."""

    lines: tuple[Line, ...]
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a form: a label and what stands beside it. A single line is no list."""

    label: str
    lines: tuple[Line, ...]
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """Rows under a heading of their own; ``mark``: its number or letter; ``kind``: its look."""

    heading: str
    rows: tuple[Row, ...]
    mark: str = ""
    kind: str = "plain"


@dataclass(frozen=True, slots=True)
class Numbers:
    """The few numbers that matter, each over its label."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """``caption`` may be empty: the heading says it all. ``widths``: of the columns, beside each
    other; 0: a column of numbers; ``counts``: what these count.

    A cell may have several lines, set apart by a line feed. ``total``: the last row sums up.
    ``left``: on the first page, what is said below if only so many rows are shown; empty elsewhere.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]
    total: bool = False
    left: tuple[str, ...] = ()
    counts: str = ""


@dataclass(frozen=True, slots=True)
class Signatures:
    """Empty places to sign: ``head`` of the columns, one row for each of ``rows``."""

    head: tuple[str, ...]
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a part."""

    text: str


Piece = Paragraph | Items | Form | Numbers | Table | Signatures | Heading


@dataclass(frozen=True, slots=True)
class Part:
    """A numbered part of the report; ``key``: a short ASCII name for links."""

    key: str
    title: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """``first``: the first page; ``after``: what follows it where its table is cut; ``foot``: what
    stands at the foot of every page."""

    title: str
    subtitle: str
    first: tuple[Piece, ...]
    after: tuple[Piece, ...]
    parts: tuple[Part, ...]
    foot: str

    @property
    def is_cut(self) -> bool:
        """Whether the table of the first page leaves rows out."""
        return any(
            isinstance(piece, Table) and piece.left and piece.left[-1] for piece in self.first
        )
