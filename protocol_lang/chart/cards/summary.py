"""A protocol on one page: the steps that matter most in each phase, and what is done with things.

What matters: exposures and wet times; gloves and other equipment that go on or come off, and hands
that become used; hands that are cleaned. In this order they stay, where not all fit on the page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
from protocol_lang.chart.deeds import Deed, deeds, settled
from protocol_lang.chart.sheet import Hands, Panel, PanelKind, Row, Sheet, SheetPhase, rows
from protocol_lang.chart.words import Words, words_of
from protocol_lang.model.protocol import Protocol
from protocol_lang.typesetter import CannotPrint, Format

TEMPLATE = Path(__file__).with_name("summary.typ")

#: Sizes of type that are tried, in points, and the one for the last resort.
LARGEST_TYPE, USUAL_LEAST, LEAST_TYPE = 12.0, 8.0, 7.0

#: How much a step matters; steps that matter less than the last are not on the card.
FIRST, SECOND, THIRD, NOT = 1, 2, 3, 4

#: The panels of the sheet that get a line.
PANELS = (
    PanelKind.COVERED,
    PanelKind.DISINFECTED,
    PanelKind.STERILISED,
    PanelKind.WASTE,
    PanelKind.CALL,
)


def summary(
    sheets: Sequence[Sheet],
    protocol: Protocol,
    format: Format = "pdf",
    paper: CardPaper = CardPaper.A4,
    *,
    pixels_per_inch: float = 144,
) -> Cards:
    """The summaries of these sheets of ``protocol``, one page each.

    Raises :class:`CannotPrint` when not even exposures and wet times fit, when there is no step, or
    for a letter that no font has.
    """
    demand_steps(sheets)
    words = words_of(sheets[0].language)
    cards = [_card(sheet, protocol) for sheet in sheets]
    sizes = {"most": LARGEST_TYPE, "usual": USUAL_LEAST, "least": LEAST_TYPE}
    press = Press(TEMPLATE, sheets, words.summary, cards, paper, sizes)
    made = press.measured()
    if not all(made):
        raise CannotPrint(
            f"The summary does not fit on one page of {paper.name.capitalize()}. Take larger "
            "paper, or give long steps a short text."
        )
    drawn = press.drawn(format, pixels_per_inch, {"made": made})
    if len(drawn) != (1 if format == "pdf" else len(sheets)):
        raise AssertionError("a page overflowed")
    return Cards(drawn, len(sheets), min(one["k"] for one in made))


def matters(row: Row, deed: Deed, before: Mapping[str, Hands]) -> int:
    """How much a step matters: FIRST, SECOND, THIRD or NOT."""
    if deed.exposes or row.wait_minutes or row.must_not_skip:
        return FIRST
    becomes_used = any(
        hands.state.is_used and not (person in before and before[person].state.is_used)
        for person, hands in row.hands.items()
    )
    if deed.puts_on or deed.takes_off or becomes_used:
        return SECOND
    return THIRD if deed.cleans else NOT


def _card(sheet: Sheet, protocol: Protocol) -> dict[str, Any]:
    words = words_of(sheet.language)
    done = deeds(protocol, settled(protocol, sheet))
    return {
        "head": head(sheet, words.summary),
        "never-head": words.never_touch,
        "never": words.comma.join(sheet.never_touch),
        "phases": [_phase(phase, sheet, done, words) for phase in sheet.phases],
        "panels": [
            {"title": words.panels[panel.kind], "text": _line(panel, words)}
            for kind in PANELS
            for panel in sheet.panels
            if panel.kind is kind
        ],
        "foot": foot(sheet, words.not_every_step),
    }


def _phase(
    phase: SheetPhase, sheet: Sheet, done: Mapping[int, Deed], words: Words
) -> dict[str, Any]:
    numbers = [row.number for row in rows(phase.items)]
    items = []
    before = phase.hands_before
    for row in rows(phase.items):
        deed = done[row.number]
        weight = matters(row, deed, before)
        if weight is not NOT:
            items.append(_item(row, deed, before, weight, sheet))
        before = row.hands
    return {
        "title": phase.title,
        "steps": words.steps_from(numbers[0], numbers[-1]) if numbers else "",
        "items": items,
        "more": {
            str(most): _more(len(numbers) - sum(item["weight"] <= most for item in items), words)
            for most in (FIRST, SECOND, THIRD)
        },
    }


def _more(left: int, words: Words) -> str:
    """How many steps of a phase are not on the card."""
    return words.more_steps.format(n=left) if left else ""


def _item(
    row: Row, deed: Deed, before: Mapping[str, Hands], weight: int, sheet: Sheet
) -> dict[str, Any]:
    words = words_of(sheet.language)
    who, text = split(row, sheet.persons)
    alone = len(sheet.persons) == 1 and who == sheet.persons[0]
    changed = [
        {"words": words.hands_are(hands), "used": hands.state.is_used}
        for person, hands in row.hands.items()
        if before.get(person) != hands
    ]
    return {
        "n": row.number,
        "lead": "" if alone else who,
        "text": capital(text) if alone or not who else text,
        "pictogram": deed.pictogram or "",
        "wait": words.minutes.format(n=row.wait_minutes) if row.wait_minutes else "",
        "exposes": deed.exposes,
        "hands": changed,
        "must": row.must_not_skip or "",
        "weight": weight,
    }


def _line(panel: Panel, words: Words) -> str:
    """A panel in a line: of each thing its name, and what is told of it, in brackets."""
    return words.semicolon.join(
        line.what + (f" ({line.told})" if line.told else "") for line in panel.lines
    )
