"""The sheet for somebody who observes: every step, with a box for done, not done, not seen.

It asks for the role of the person observed, and never for a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from protocol_lang.chart.cards.common import (
    CardPaper,
    Cards,
    Press,
    capital,
    demand_steps,
    foot,
    head,
    split,
)
from protocol_lang.chart.sheet import Group, Row, Sheet, Together
from protocol_lang.chart.words import Words, words_of
from protocol_lang.typesetter import Format

TEMPLATE = Path(__file__).with_name("observation.typ")

#: Type of the steps, in points: read at arm's length, on a clipboard.
TYPE_SIZE = 10.0


def observation(
    sheets: Sequence[Sheet],
    format: Format = "pdf",
    paper: CardPaper = CardPaper.A4,
    *,
    pixels_per_inch: float = 144,
) -> Cards:
    """The observation sheets of these sheets, each on as many pages as it needs.

    Raises :class:`~protocol_lang.chart.faults.CannotPrint` when there is no step, or for a letter
    that no font has.
    """
    demand_steps(sheets)
    words = words_of(sheets[0].language)
    cards = [_card(sheet) for sheet in sheets]
    press = Press(TEMPLATE, sheets, words.observation_sheet, cards, paper, {"size": TYPE_SIZE})
    count = press.measured()
    pages = press.drawn(format, pixels_per_inch, {})
    return Cards(pages, count, TYPE_SIZE)


def _card(sheet: Sheet) -> dict[str, Any]:
    words = words_of(sheet.language)
    return {
        "head": head(sheet, words.observation_sheet),
        "how": words.how_to_observe,
        "fields": {
            "date": words.date_and_time,
            "room": words.room,
            "role": words.role,
            "observer": words.observer,
        },
        "columns": {
            "number": words.step_number,
            "step": words.to_do,
            "boxes": [words.done, words.not_done, words.not_seen],
            "remarks": words.remarks,
        },
        "continued": words.continued,
        "phases": [
            {
                "title": phase.title,
                "rows": list(_rows(phase.items, sheet, words, 0)),
            }
            for phase in sheet.phases
        ],
        "foot": foot(sheet),
    }


def _rows(
    items: Sequence[Row | Group], sheet: Sheet, words: Words, depth: int
) -> Iterator[dict[str, Any]]:
    """Steps. The words of the groups that begin with a step are told with it; a group without steps
    is told alone."""
    for item in items:
        if isinstance(item, Row):
            yield _row(item, sheet, words, depth)
            continue
        told = _label(item, words)
        inside = list(_rows(item.items, sheet, words, depth + bool(told)))
        if told:
            inside = inside or [_NO_STEP]
            label = {"text": told, "depth": depth}
            inside[0] = {**inside[0], "labels": [label, *inside[0]["labels"]]}
        yield from inside


_NO_STEP: dict[str, Any] = {"n": None, "labels": []}


def _label(group: Group, words: Words) -> str:
    if group.kind is Together.HEADED:
        return group.heading or ""
    if group.kind is Together.LANE:
        return group.person or ""
    if group.kind is Together.IN_ORDER:
        return words.together[group.kind] if len(group.items) > 1 else ""
    return words.together[group.kind]


def _row(row: Row, sheet: Sheet, words: Words, depth: int) -> dict[str, Any]:
    who, text = split(row, sheet.persons)
    return {
        "labels": [],
        "n": row.number,
        "lead": who,
        "text": text if who else capital(text),
        "wait": words.minutes.format(n=row.wait_minutes) if row.wait_minutes else "",
        "must": row.must_not_skip or "",
        "depth": depth,
    }
