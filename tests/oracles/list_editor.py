"""A text of steps edited by hand, with lists and nothing else: an oracle for local editions.

A phase is a list of rows: a sentence with its label or None, or a block, ``[heading, rows]``. Rows
are told apart by a number that they get when they are made. This shares no code with the program,
and knows its meaning from docs/local-editions.md alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count

_numbers = count()


@dataclass
class Row:
    """A step (``rows`` None) or a block. ``under``: lines under a step."""

    text: str
    label: str | None = None
    rows: list[Row] | None = None
    under: list[str] = field(default_factory=list)
    number: int = field(default_factory=lambda: next(_numbers))


def lines(rows: list[Row], indent: int = 2) -> list[str]:
    """The rows as an author writes them."""
    made = []
    for row in rows:
        if row.rows is None:
            label = "" if row.label is None else f"{row.label}: "
            made.append(f"{' ' * indent}[ ] {label}{row.text}")
            made += [f"{' ' * (indent + 4)}{one}" for one in row.under]
        else:
            made.append(f"{' ' * indent}{row.text}")
            made += lines(row.rows, indent + 2)
    return made


def steps(rows: list[Row]) -> Iterator[tuple[Row, list[Row], Row | None]]:
    """Each step with the list in which it stands, and the block whose list that is."""
    yield from _steps(rows, None)


def _steps(rows: list[Row], block: Row | None) -> Iterator[tuple[Row, list[Row], Row | None]]:
    for row in rows:
        if row.rows is None:
            yield row, rows, block
        else:
            yield from _steps(row.rows, row)


def where(rows: list[Row], number: int, block: Row | None = None) -> tuple[list[Row], Row | None]:
    """The list in which a row stands now, and the block whose list it is."""
    for row in rows:
        if row.number == number:
            return rows, block
        if row.rows is not None:
            try:
                return where(row.rows, number, row)
            except LookupError:
                pass
    raise LookupError(number)


def put(rows: list[Row], number: int, new: list[Row], *, after: bool) -> None:
    """Puts rows directly before or after a row; in "any order" the three become one list."""
    home, block = where(rows, number)
    at = next(i for i, row in enumerate(home) if row.number == number)
    if block is not None and block.text.startswith("any order"):
        one = home[at]
        home[at] = Row("in order", rows=[one, *new] if after else [*new, one])
        return
    home[at + after : at + after] = new


def instead(rows: list[Row], number: int, new: list[Row]) -> None:
    """Puts rows in the place of a row; one step takes over its label, unless it only says."""
    home, block = where(rows, number)
    at = next(i for i, row in enumerate(home) if row.number == number)
    old = home[at]
    if len(new) == 1 and new[0].rows is None and new[0].label is None:
        said = new[0].text.startswith("say:")
        new[0].label = None if said else old.label
    if block is not None and block.text.startswith("any order") and len(new) > 1:
        new = [Row("in order", rows=new)]
    home[at : at + 1] = new


def without(rows: list[Row], number: int) -> None:
    """Takes a row out."""
    home, _ = where(rows, number)
    home[:] = [row for row in home if row.number != number]
