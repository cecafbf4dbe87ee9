"""What is used up as data: the same counts as the page.

The form is described by ``supplies-1.schema.json`` beside this module (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

from protocol_lang.report.json import Data, sound
from protocol_lang.supplied import Count, Cycling, Ordered, Range, Supplies, Turn, Waste
from protocol_lang.wording import supplies as words

#: Where the form is described.
SCHEMA = Path(__file__).with_name("supplies-1.schema.json")

VERSION = 1


def render(supplies: Supplies, standing: str, program: str) -> str:
    """The counts as JSON text in ASCII, without a last line feed.

    ``standing``: what the check came to; ``program``: the version of the program.
    """
    return json.dumps(sound(data(supplies, standing, program)), indent=2, ensure_ascii=True)


def data(supplies: Supplies, standing: str, program: str) -> Data:
    """The counts as plain values, in the form of :data:`SCHEMA`."""
    session, order = supplies.session, supplies.order
    return {
        "form": "supplies",
        "version": VERSION,
        "program": program,
        "file": supplies.file,
        "title": supplies.title,
        "edition": supplies.edition,
        "kind": "day" if supplies.is_day else "protocol",
        "standing": standing,
        "each": [_turn(one) for one in supplies.turns],
        "session": {
            "visits": _range(session.visits),
            "used": _counts(session.used),
            "waste": _wastes(session.waste),
            "loads": _range(session.loads),
            "pieces treated": _range(session.pieces),
        },
        "needed": [_cycling(one) for one in supplies.cycling],
        "loads": [
            {"start": one.start, "end": one.end, "pieces": one.pieces, "left": one.left}
            for one in supplies.loads
        ],
        "in use at once": [
            {"box": one.box or None, "things": list(one.things), "number": _range(one.number)}
            for one in supplies.kept
        ],
        "order": {
            "days": order.days,
            "service level": float(order.service),
            "from a mix": order.mixed,
            "taken not to be so": list(order.not_so),
            "lines": [_ordered(one) for one in order.lines],
        },
        "mix": [{"part": float(one.part), "settled": dict(one.settled)} for one in supplies.mix],
        "assumed": [
            {
                "name": one.name,
                "value": one.value,
                "given": one.given.value,
                "option": one.option,
            }
            for one in supplies.assumed
        ],
        "cautions": list(words.CAUTIONS),
    }


def _turn(turn: Turn) -> Data:
    return {
        "title": turn.title,
        "patient": turn.patient,
        "ways": turn.ways,
        "used": _counts(turn.used),
        "for each piece treated": _counts(turn.each),
        "waste": _wastes(turn.waste),
        "comes back": [{**_count(count), "through": to} for count, to in turn.back],
        "mishaps": [{"mishap": one.mishap, "more": _counts(one.counts)} for one in turn.mishaps],
        "mishaps counted": not turn.not_counted,
        "brought along": list(turn.own),
    }


def _counts(counts: Iterable[Count]) -> list[Data]:
    return [_count(one) for one in counts]


def _count(count: Count) -> Data:
    return {
        "thing": count.thing,
        "unit": count.unit.value,
        "number": _range(count.number),
        "by": [
            {
                "choice": one.choice,
                "values": [
                    {"value": value, "number": _range(numbers)} for value, numbers in one.values
                ],
            }
            for one in count.by
        ],
    }


def _wastes(wastes: Iterable[Waste]) -> list[Data]:
    return [
        {
            "stream": one.stream,
            "number": _range(one.number),
            "things": list(one.things),
            "grams": None if one.grams is None else [float(grams) for grams in one.grams],
        }
        for one in wastes
    ]


def _cycling(one: Cycling) -> Data:
    return {
        "thing": one.thing,
        "unit": one.unit.value,
        "through": one.to,
        "one visit takes": one.visit,
        "least": one.least,
        "one load again": one.one_fails,
        "of the mix": one.mixed,
        "most are out at": one.at,
    }


def _ordered(one: Ordered) -> Data:
    return {
        "thing": one.thing,
        "unit": one.unit.value,
        "expected": float(one.expected),
        "safety": one.safety,
        "number": one.pieces,
        "in a box": one.box,
        "boxes": one.boxes,
    }


def _range(numbers: Range) -> Data:
    return {"least": numbers.least, "most": numbers.most}
