"""Sets an account in type, as PDF (tagged, PDF/UA-1 and PDF/A-2a): a sentence, then rows of a label
and lines under headings. Plain values in, bytes out; the same account gives the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from protocol_lang.chart.inks import INKS
from protocol_lang.chart.paper import Paper
from protocol_lang.text import shown
from protocol_lang.typesetter import compiled, families

TEMPLATE = Path(__file__).with_name("account.typ")

#: (label, lines); a line that begins with blanks belongs to the one above it.
Row = tuple[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class Account:
    """``sections``: (heading, rows); a section without a heading is set apart by space alone."""

    title: str
    upshot: str
    sections: Sequence[tuple[str, Sequence[Row]]]
    foot: str
    language: str = "en"


def render(account: Account, dated: date | None = None, paper: Paper = Paper.A4) -> bytes:
    """The account as a PDF. ``dated``: the day that the PDF carries as its date.

    What could steer a screen or hide in a line is shown as escapes. Raises
    :class:`~protocol_lang.chart.faults.CannotPrint` for a letter that no font has.
    """
    size = paper.value
    given = {
        "document": {"title": shown(account.title), "description": shown(account.upshot)},
        "language": account.language,
        "fonts": list(families()),
        "inks": dict(INKS),
        "paper": {"width": min(size.width, size.height), "height": max(size.width, size.height)},
        "upshot": shown(account.upshot),
        "foot": shown(account.foot),
        "sections": [
            {
                "heading": shown(heading),
                "rows": [
                    {"label": shown(label), "lines": [_line(line) for line in lines]}
                    for label, lines in rows
                ],
            }
            for heading, rows in account.sections
        ],
    }
    (made,) = compiled(TEMPLATE, "chart", given, dated=dated)
    return made


def _line(line: str) -> dict[str, object]:
    return {"text": shown(line.strip(" ")), "inside": line.startswith(" ")}
