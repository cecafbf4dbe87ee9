"""The head and the foot of a sheet, as plain values for the template."""

from __future__ import annotations

from typing import Any

from protocol_lang.chart import edition
from protocol_lang.chart.pictograms import drawing
from protocol_lang.chart.pieces import pictograms, tokens
from protocol_lang.chart.sheet import Draft, HandState, Sheet, rows
from protocol_lang.chart.translate import plain
from protocol_lang.chart.words import Words


def chosen(sheet: Sheet) -> str:
    """The choices of a sheet in one line."""
    return ", ".join(f"{name} {value}" for name, value in sheet.choices)


def head(sheet: Sheet, words: Words, *, opens: bool = True) -> dict[str, Any]:
    """``opens``: it is the first sheet of its protocol, so its title is a bookmark."""
    sign = {"drawing": drawing("radiation"), "words": words.radiation}
    lines = [] if sheet.edition is None else [words.edition.format(n=sheet.edition)]
    return {
        "title": sheet.title,
        "opens": opens,
        "room": sheet.room or "",
        "lines": lines,
        "choices": [[name, value] for name, value in sheet.choices],
        "drawings": {name: drawing(name) for name in pictograms(sheet)},
        "chosen": plain(chosen(sheet)),
        "sign": sign if sheet.exposes else None,
        "never-head": words.never_touch,
        "never": words.comma.join(sheet.never_touch),
    }


def foot(sheet: Sheet, words: Words) -> dict[str, Any]:
    """Legend, cautions, what the check found, whose chart it is, until when, and its code."""
    marks = tokens(sheet.persons)
    shown = _shown(sheet)
    draft = isinstance(sheet.mark, Draft)
    as_written = words.as_written
    if sheet.checked_on is not None:
        as_written = words.as_written_on.format(day=words.day(sheet.checked_on))
    rules = [_sentence(words.rules.format(titles=words.comma.join(sheet.rules)))]
    return {
        "legend": words.legend,
        "states": [
            {"state": state.name, "words": words.hands[state]}
            for state in reversed(HandState)
            if state in shown
        ],
        "persons": [{"token": marks[person], "person": person} for person in sheet.persons],
        "cautions": [
            *words.cautions,
            *([] if draft else [as_written]),
            *(rules if sheet.rules else []),
            *sheet.cautions,
        ],
        "draft": draft,
        "draft-word": words.draft,
        "mark": mark(sheet, words),
        "lines": _whose(sheet, words),
        "code": _code(sheet, words),
    }


def _shown(sheet: Sheet) -> set[HandState]:
    """The states of hands that are anywhere on the sheet."""
    shown = {hands.state for phase in sheet.phases for hands in phase.hands_before.values()}
    for phase in sheet.phases:
        for row in rows(phase.items):
            shown |= {hands.state for hands in row.hands.values()}
    return shown


def mark(sheet: Sheet, words: Words) -> str:
    """What the check found. Waivers are told only where all else is without faults."""
    if isinstance(sheet.mark, Draft):
        return words.draft_because.format(reason=sheet.mark.reason)
    if sheet.waived is not None:
        until = words.day(sheet.waived.until)
        return words.checked_waived.format(n=sheet.waived.number, day=until)
    return words.checked


def _whose(sheet: Sheet, words: Words) -> list[str]:
    lines = [] if not sheet.owner else [words.owner.format(owner=sheet.owner)]
    days = []
    if sheet.in_force:
        days.append(words.in_force.format(day=words.day(sheet.in_force)))
    if sheet.review_by:
        days.append(words.review_by.format(day=words.day(sheet.review_by)))
    return [*lines, *([_capital(words.comma.join(days))] if days else [])]


def _code(sheet: Sheet, words: Words) -> dict[str, Any] | None:
    if sheet.fingerprint is None:
        return None
    letters = edition.code(sheet.fingerprint)
    return {
        **code_in_words(letters, words),
        "square": edition.square(sheet.fingerprint, plain(sheet.title)),
        "alt": f"QR: {words.code.format(code=letters)}, {plain(sheet.title)}",
    }


def code_in_words(letters: str, words: Words) -> dict[str, str]:
    """A code and the words around it, apart: its letters run from left to right in any language."""
    before, _, after = words.code.partition("{code}")
    return {"before": _capital(before), "letters": letters, "after": after}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sentence(text: str) -> str:
    return _capital(text) + ("" if text.endswith((".", "।")) else ".")
