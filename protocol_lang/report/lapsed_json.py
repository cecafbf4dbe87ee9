"""Lapses as data: the same as the page, and all sets that are listed.

The form is described by ``lapses-1.schema.json`` beside this module (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from protocol_lang.lapsed import Chance, Change, Improvement, Lapsed, Slip, SlipSet, Tally
from protocol_lang.report.json import Data, place_data, route_data, sound
from protocol_lang.report.lapsed import upshot
from protocol_lang.wording import lapsed as words

#: Where the form is described.
SCHEMA = Path(__file__).with_name("lapses-1.schema.json")

VERSION = 1


def render(lapsed: Lapsed, on: date | None, program: str) -> str:
    """The report as JSON text in ASCII, without a last line feed. ``program``: its version."""
    return json.dumps(sound(data(lapsed, on, program)), indent=2, ensure_ascii=True)


def data(lapsed: Lapsed, on: date | None, program: str) -> Data:
    """The report as plain values, in the form of :data:`SCHEMA`."""
    return {
        "form": "lapses",
        "version": VERSION,
        "program": program,
        "date": on.isoformat() if on else None,
        "upshot": upshot(lapsed),
        "file": lapsed.file,
        "title": lapsed.title,
        "edition": lapsed.edition,
        "to be corrected": list(lapsed.already),
        "margins": [
            {"opens": one.opens, "least": one.least, "looked up to": one.beyond, "sure": one.sure}
            for one in lapsed.margins
        ],
        "sets": [_set(one) for one in lapsed.sets],
        "sets in all": dict(lapsed.open_sets),
        "alone": [
            {**_slip(one.slip), "opens": list(one.opens), "classes": list(one.classes)}
            for one in lapsed.alone
        ],
        "single lapses by class": {one.klass: dict(one.singles) for one in lapsed.by_class},
        "never done": [
            {"step": one.step, "places": one.times, "opens": list(one.opens)}
            for one in lapsed.never
        ],
        "rankings": [
            {
                "opens": one.opens,
                "usual": one.usual,
                "low": one.low,
                "high": one.high,
                "samples": one.samples,
                "rates": [
                    {
                        "rate": sway.rate,
                        "least": sway.least,
                        "usual": sway.usual,
                        "most": sway.most,
                        "low": sway.low,
                        "high": sway.high,
                        "source": sway.basis,
                    }
                    for sway in one.sways
                ],
            }
            for one in lapsed.rankings
        ],
        "caution": words.COMPARISON if lapsed.rankings else None,
        "improvement": None if lapsed.improvement is None else _improvement(lapsed.improvement),
        "looked at": {
            "lapses": lapsed.lapses,
            "together": lapsed.most,
            "sets": lapsed.looked_at,
            "combinations": lapsed.combinations,
            "choices asked for": dict(lapsed.only),
        },
        "not checked": [
            *lapsed.unchecked,
            *([words.not_together(lapsed.mishaps)] if lapsed.mishaps else []),
            *([words.not_decided(lapsed.undecided)] if lapsed.undecided else []),
        ],
    }


def _improvement(improvement: Improvement) -> Data:
    return {
        "together": improvement.together,
        "before": _tally(improvement.before),
        "changes": list(map(_change, improvement.changes)),
        "better in one thing and worse in another": list(map(_change, improvement.mixed)),
        "tried": [
            {
                "kind": one.kind,
                "thought of": one.thought_of,
                "tried": one.tried,
                "helped": one.helped,
                "something to correct or consider": one.faulty,
                "not decided": one.undecided,
                "better in one thing and worse in another": one.mixed,
                "no better": one.no_better,
            }
            for one in improvement.tried
        ],
    }


def _change(one: Change) -> Data:
    return {
        "kind": one.kind,
        "edits": [
            {
                "file": edit.file,
                "how": edit.how,
                "said": edit.said,
                "at line": edit.at,
                "before line": edit.line,
                "lines that go": edit.out,
                "lines that come": list(edit.lines),
            }
            for edit in one.edits
        ],
        "after": _tally(one.after),
    }


def _tally(tally: Tally) -> Data:
    return {
        "margins": dict(tally.margins),
        "single lapses": dict(tally.singles),
        "chances": dict(tally.chances),
    }


def _slip(slip: Slip) -> Data:
    return {
        "kind": slip.kind,
        "step": slip.step,
        "cover": slip.cover,
        "where": slip.where,
        "place": place_data(slip.place, None),
        "sentence": words.slip(slip),
        "alike": slip.alike,
    }


def _set(one: SlipSet) -> Data:
    return {
        "opens": one.opens,
        "lapses": [_slip(slip) for slip in one.slips],
        "alike": one.alike,
        "reached": one.reached or None,
        "classes": list(one.classes),
        "route": route_data(one.route) if one.route is not None else None,
        "chance": _chance(one.chance) if one.chance is not None else None,
    }


def _chance(chance: Chance) -> Data:
    return {
        "least": chance.least,
        "usual": chance.usual,
        "most": chance.most,
        "nine in ten from": chance.low,
        "nine in ten to": chance.high,
    }
