"""The picture of a visit along time: who does what when, what waits, and what has slack."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from protocol_lang import typesetter
from protocol_lang.diagram.inks import INKS
from protocol_lang.diagram.lean import lean
from protocol_lang.diagram.page import Format
from protocol_lang.timetable import Bar, Timetable

TEMPLATE = Path(__file__).with_name("bars.typ")

#: How bars of one person look, by the order in which people first do something; patients are pale.
_LOOKS = ("filled", "framed", "dashed", "dotted")

#: Between two lines of the scale so many seconds, the first with which there are at most a dozen.
_SCALES = (10, 30, 60, 120, 300, 600, 1200, 1800, 3600)


def draw_bars(
    table: Timetable,
    under: Sequence[str],
    foot: str,
    patients: frozenset[str] = frozenset(),
    format: Format = "svg",
) -> bytes:
    """The picture of the table's course as bytes. ``under``: what stands below the title;
    ``patients``: who of the people is no staff.

    Raises :class:`~protocol_lang.typesetter.CannotPrint` for a letter that no font has (in PDF).
    """
    given = set_out(table, under, foot, patients)
    (made,) = typesetter.compiled(TEMPLATE, "bars", given, format, pixels_per_inch=144)
    return lean(made.decode(), table.title, given["alt"]).encode() if format == "svg" else made


def set_out(
    table: Timetable, under: Sequence[str], foot: str, patients: frozenset[str] = frozenset()
) -> dict[str, Any]:
    """All that the template draws; times in seconds."""
    bars = sorted(table.course.bars, key=lambda bar: (bar.start, bar.end))
    total = max([table.course.ready, *(bar.end for bar in bars), 1]) / 1000
    people = dict.fromkeys(bar.person for bar in bars)
    staff = [person for person in people if person and person not in patients]
    looks = {person: _LOOKS[min(at, len(_LOOKS) - 1)] for at, person in enumerate(staff)}
    looks |= {person: "pale" for person in people if person not in looks}
    numbers = {id(bar): number for number, bar in enumerate(bars, start=1)}
    shown = [person for person in people if person]
    key = [{"look": looks[person], "text": person} for person in shown]
    if any(bar.wait for bar in bars):
        key.append({"look": "wait", "text": "waits"})
    if any(bar.slack for bar in bars):
        key.append({"look": "slack", "text": "may be so much later"})
    return {
        "inks": dict(INKS),
        "families": list(typesetter.families()),
        "lang": "en",
        "title": table.title,
        "under": list(under),
        "foot": foot,
        "alt": _in_words(table, bars),
        "total": total,
        "ticks": _ticks(total),
        "key": key,
        "lanes": [_lane(person, looks[person], bars) for person in shown],
        "phases": [
            {
                "title": phase,
                "note": _minutes(
                    max(bar.end for bar in bars if bar.phase == phase)
                    - min(bar.start for bar in bars if bar.phase == phase)
                ),
                "rows": [
                    _row(bar, looks[bar.person], numbers[id(bar)])
                    for bar in bars
                    if bar.phase == phase
                ],
            }
            for phase in dict.fromkeys(bar.phase for bar in bars)
        ],
    }


def _lane(person: str, look: str, bars: Sequence[Bar]) -> dict[str, Any]:
    mine = [bar for bar in bars if bar.person == person]
    busy = sum(bar.end - bar.start for bar in mine if not bar.wait)
    waits = sum(bar.end - bar.start for bar in mine if bar.wait)
    return {
        "person": person,
        "look": look,
        "note": f"busy {_minutes(busy)}" + (f", waits {_minutes(waits)}" if waits else ""),
        "parts": [_times(bar) | {"look": "wait" if bar.wait else look} for bar in mine],
    }


def _row(bar: Bar, look: str, number: int) -> dict[str, Any]:
    said = f"{bar.person} " if bar.person else ""
    text = bar.text.removeprefix(said)
    return _times(bar) | {
        "number": number,
        "badge": look,
        "look": "wait" if bar.wait else look,
        "text": text[:1].upper() + text[1:],
        "note": "",
        "slack": bar.slack / 1000,
    }


def _times(bar: Bar) -> dict[str, Any]:
    return {"start": bar.start / 1000, "end": bar.end / 1000}


def _minutes(ticks: int) -> str:
    seconds = (ticks + 500) // 1000
    return f"{seconds} s" if seconds < 120 else f"{(seconds + 3) // 6 / 10:g} min"


def _ticks(total: float) -> list[dict[str, Any]]:
    step = next((one for one in _SCALES if total / one <= 12), _SCALES[-1])
    ticks = []
    at = 0
    while at <= total:
        text = f"{at} s" if step < 60 else f"{at // 60} min"
        ticks.append({"at": at, "text": "0" if not at else text})
        at += step
    return ticks


def _in_words(table: Timetable, bars: Sequence[Bar]) -> str:
    """The picture for those who do not see it."""
    told = [
        f"{bar.text}, from {bar.start / 1000:g} s to {bar.end / 1000:g} s"
        + (f", may be {bar.slack / 1000:g} s later" if bar.slack else "")
        for bar in bars
    ]
    return f"Steps along time, {table.course.ready / 1000:g} s in all. " + "; ".join(told) + "."
