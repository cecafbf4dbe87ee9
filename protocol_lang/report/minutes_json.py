"""How long a visit takes, as data: the same as the page.

The form is described by ``minutes-1.schema.json`` beside this module (JSON Schema, draft 2020-12).
Times are in seconds.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from protocol_lang.report.json import Data, place_data, sound
from protocol_lang.timetable import Bar, Case, Contact, Drying, Gain, Pairs, Span, Timetable, Told
from protocol_lang.wording.minutes import upshot

#: Where the form is described.
SCHEMA = Path(__file__).with_name("minutes-1.schema.json")

VERSION = 1


def render(table: Timetable, on: date | None, program: str) -> str:
    """The time table as JSON text in ASCII, without a last line feed."""
    return json.dumps(sound(data(table, on, program)), indent=2, ensure_ascii=True)


def data(table: Timetable, on: date | None, program: str) -> Data:
    """The time table as plain values, in the form of :data:`SCHEMA`."""
    return {
        "form": "minutes",
        "version": VERSION,
        "program": program,
        "date": on.isoformat() if on else None,
        "title": table.title,
        "upshot": upshot(table),
        "session minutes": table.session,
        "visits": [_case(one) for one in table.cases],
        "course": {
            "choices": _pairs(table.course.choices),
            "seconds": _seconds(table.course.ready),
            "exact": table.course.sure,
            "steps": [_bar(one) for one in table.course.bars],
        },
        "contact times": [_contact(one) for one in table.contacts],
        "drying": [_drying(one) for one in table.drying],
        "air": [
            {
                "place": one.where,
                "air changes an hour": one.changes,
                "percent": one.percent,
                "minutes": one.minutes,
            }
            for one in table.clearing
        ],
        "gains": [_gain(one) for one in table.gains],
        "without time": list(table.untold),
        "rounds": [
            {"name": name, "most": most, "looked at": seen} for name, most, seen in table.rounds
        ],
        "mishaps left out": table.mishaps,
    }


def _seconds(ticks: int) -> int | float:
    return ticks // 1000 if ticks % 1000 == 0 else ticks / 1000


def _span(one: Span | None) -> Data | None:
    if one is None:
        return None
    return {"least": _seconds(one.least), "most": _seconds(one.most), "exact": one.sure}


def _pairs(pairs: Pairs) -> Data:
    return dict(pairs)


def _case(one: Case) -> Data:
    return {
        "choices": _pairs(one.choices),
        "ready": _span(one.ready),
        "turnover": _span(one.turnover),
        "all done": _span(one.whole),
        "patients": None if one.patients is None else list(one.patients),
    }


def _bar(one: Bar) -> Data:
    return {
        "person": one.person or None,
        "text": one.text,
        "phase": one.phase,
        "start": _seconds(one.start),
        "end": _seconds(one.end),
        "slack": _seconds(one.slack),
        "wait": one.wait,
        "place": None if one.place is None else place_data(one.place, None),
    }


def _told(one: Told) -> Data:
    return {"text": one.text, "person": one.person or None, "seconds": _seconds(one.length)}


def _contact(one: Contact) -> Data:
    return {
        "verdict": one.kept.value,
        "wetting": one.wetting,
        "place": None if one.place is None else place_data(one.place, None),
        "things": list(one.things),
        "touch": one.touch,
        "label": _seconds(one.label),
        "least": _seconds(one.least),
        "because": [_told(told) for told in one.because],
        "one person": one.load,
        "without waits": None if one.without_waits is None else _seconds(one.without_waits),
        "order": [_told(told) for told in one.story],
        "choices": _pairs(one.choices),
    }


def _drying(one: Drying) -> Data:
    return {
        "wetting": one.wetting,
        "label": _seconds(one.label),
        "wet at most": _seconds(one.wet),
        "times": one.times,
        "gap": None if one.gap is None else _seconds(one.gap),
    }


def _gain(one: Gain) -> Data:
    return {
        "sort": one.sort,
        "what": list(one.what),
        "who": one.who or None,
        "label minutes": one.minutes or None,
        "saved": _seconds(one.saved),
        "exact": one.sure,
    }
