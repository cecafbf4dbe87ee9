"""What is used up as a table for a spreadsheet: one row for each count.

As RFC 4180 has it: a head, commas, lines ended by CR LF. No cell can become a formula.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from protocol_lang.report.cells import cell
from protocol_lang.supplied import Count, Range, Supplies, Turn, Waste

#: The columns. New ones are added at the end, so that a program can go by place as well.
COLUMNS = (
    "part", "of", "thing", "stream", "unit", "least", "most", "expected", "safety", "number",
    "in a box", "boxes", "least grams", "most grams", "through", "choice", "value",
)  # fmt: skip

_Row = dict[str, str]


def render(supplies: Supplies) -> str:
    """The table as text; to be written as UTF-8, line ends as they are."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in _rows(supplies):
        writer.writerow([cell(row.get(column, "")) for column in COLUMNS])
    return out.getvalue()


def _rows(supplies: Supplies) -> Iterator[_Row]:
    for turn in supplies.turns:
        yield from _turn(turn)
    session = supplies.session
    for count in session.used:
        yield _count("session", supplies.title, count)
    yield from _wastes("session waste", supplies.title, session.waste)
    if session.loads.most:
        yield {"part": "session loads", "of": supplies.title, **_range(session.loads)}
        yield {"part": "session pieces treated", "of": supplies.title, **_range(session.pieces)}
    for one in supplies.cycling:
        row = {
            "part": "needed", "of": supplies.title, "thing": one.thing, "unit": one.unit.value,
            "through": one.to or "",
        }  # fmt: skip
        yield row | {"number": _number(one.least)}
        yield row | {"part": "needed, one load again", "number": _number(one.one_fails)}
        if one.mixed is not None:
            yield row | {"part": "needed, of the mix", "number": _number(one.mixed)}
    for box in supplies.kept:
        for thing in box.things:
            yield {
                "part": "in use at once", "of": box.box, "thing": thing, "unit": "piece",
                **_range(box.number),
            }  # fmt: skip
    for line in supplies.order.lines:
        yield {
            "part": "order", "of": supplies.title, "thing": line.thing, "unit": line.unit.value,
            "expected": f"{float(line.expected):.2f}", "safety": f"{line.safety:.2f}",
            "number": str(line.pieces), "in a box": _number(line.box),
            "boxes": _number(line.boxes),
        }  # fmt: skip


def _turn(turn: Turn) -> Iterator[_Row]:
    for part, counts in (("each time", turn.used), ("each piece treated", turn.each)):
        for count in counts:
            yield _count(part, turn.title, count)
            for by in count.by:
                for value, numbers in by.values:
                    yield _count(part, turn.title, count) | {
                        "choice": by.choice, "value": value, **_range(numbers)
                    }  # fmt: skip
    yield from _wastes("waste each time", turn.title, turn.waste)
    for count, to in turn.back:
        yield _count("comes back", turn.title, count) | {"through": to or ""}
    for mishap in turn.mishaps:
        for count in mishap.counts:
            row = _count("more with a mishap", turn.title, count)
            yield row | {"choice": "happens", "value": mishap.mishap}


def _wastes(part: str, of: str, wastes: Sequence[Waste]) -> Iterator[_Row]:
    for one in wastes:
        row = {"part": part, "of": of, "stream": one.stream or "", "unit": "piece"}
        row |= _range(one.number)
        if one.grams is not None:
            least, most = (f"{float(grams):.2f}" for grams in one.grams)
            row |= {"least grams": least, "most grams": most}
        yield row


def _count(part: str, of: str, count: Count) -> _Row:
    return {
        "part": part, "of": of, "thing": count.thing, "unit": count.unit.value,
        **_range(count.number),
    }  # fmt: skip


def _range(numbers: Range) -> _Row:
    return {"least": str(numbers.least), "most": str(numbers.most)}


def _number(number: int | None) -> str:
    return "" if number is None else str(number)
