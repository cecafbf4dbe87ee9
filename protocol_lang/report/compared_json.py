"""The comparison of two editions as data: the same differences as the page.

The form is described by ``compare-1.schema.json`` beside this module (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from protocol_lang.comparison import (
    Change,
    Comparison,
    Edition,
    Effect,
    Pair,
    Seen,
    Told,
)
from protocol_lang.findings import Finding
from protocol_lang.report.compared import (
    assumed_in_words,
    effect_in_words,
    sentence_of,
    upshot,
)
from protocol_lang.report.json import Data, coverage_data, place_data, sound
from protocol_lang.report.told import tell_counts
from protocol_lang.wording import ENTRIES, basis

#: Where the form is described.
SCHEMA = Path(__file__).with_name("compare-1.schema.json")

VERSION = 1


def render(comparison: Comparison, on: date | None, program: str) -> str:
    """The comparison as JSON text in ASCII, without a last line feed.

    ``on``: the day of judgement; ``program``: the version of the program. Raises KeyError for a
    finding that has no wording.
    """
    return json.dumps(sound(data(comparison, on, program)), indent=2, ensure_ascii=True)


def data(comparison: Comparison, on: date | None, program: str) -> Data:
    """The comparison as plain values, in the form of :data:`SCHEMA`."""
    return {
        "form": "compare",
        "version": VERSION,
        "program": program,
        "date": on.isoformat() if on else None,
        "upshot": upshot(comparison),
        "in effect": comparison.in_effect,
        "old": _edition(comparison.old),
        "new": _edition(comparison.new),
        "header": _changes(comparison.header),
        "findings": [_finding(told) for told in comparison.findings],
        "steps": _steps(comparison),
        "phases": _changes(comparison.phases),
        "options": _changes(comparison.options),
        "declared": _changes(comparison.declared),
        "rests on": [
            {
                "kind": one.kind,
                "names": list(one.names),
                "newly": one.newly,
                "sentence": assumed_in_words(one),
            }
            for one in comparison.assumed
        ],
        "not checked": [
            {
                "edition": "new" if in_new else "old",
                "kind": part.kind,
                "sentence": ENTRIES[part.kind].sentence(part.facts),
            }
            for part, in_new in comparison.unchecked
        ],
        "undecided": comparison.undecided,
        "cautions": list(basis.CAUTIONS),
    }


def _edition(edition: Edition) -> Data:
    outcome = edition.outcome
    correct, consider, unchecked = tell_counts(outcome)
    return {
        "file": outcome.file,
        "kind": outcome.kind,
        "title": outcome.title,
        "edition": edition.number,
        "in force": edition.in_force,
        "standing": outcome.standing.value,
        "counts": {
            "to correct": correct,
            "to consider": consider,
            "not checked": unchecked,
        },
        "wholly judged": edition.whole,
        "coverage": coverage_data(outcome.coverage) if outcome.coverage else None,
    }


def _changes(changes: Iterable[Change]) -> list[Data]:
    return [
        {"sort": one.sort, "name": one.name, "was": one.was, "is": one.is_now} for one in changes
    ]


def _steps(comparison: Comparison) -> Data:
    return {
        "added": [_seen(one) for one in comparison.added],
        "removed": [_seen(one) for one in comparison.removed],
        "reworded": [{**_pair(one.step), "same effect": one.same} for one in comparison.reworded],
        "moved": [
            {
                **_pair(one.step),
                "to": [
                    {
                        "other": _pair(to.other),
                        "before": to.was.value,
                        "now": to.is_now.value,
                    }
                    for to in one.to
                ],
            }
            for one in comparison.moved
        ],
        "in one go": [
            {
                "together": [_pair(one) for one in between.together],
                "others": [_pair(one) for one in between.others],
                "can come between": between.can,
            }
            for between in comparison.between
        ],
        "moved in text": [_pair(one) for one in comparison.moved_in_text],
        "effects": [
            {
                **_pair(one.step),
                "no longer": [_effect(effect) for effect in one.no_longer],
                "now": [_effect(effect) for effect in one.now],
            }
            for one in comparison.effects
        ],
        "done": [
            {**_pair(one.step), "before": list(one.was), "now": list(one.is_now)}
            for one in comparison.done
        ],
    }


def _pair(pair: Pair) -> Data:
    return {"was": _seen(pair.was), "is": _seen(pair.is_now)}


def _seen(seen: Seen) -> Data:
    return {
        "text": seen.text,
        "label": seen.label,
        "phase": seen.phase,
        "number": seen.number,
        "protocol": seen.part,
        "place": place_data(seen.place, None),
    }


def _effect(effect: Effect) -> Data:
    return {
        "kind": effect.kind,
        "names": {role: list(names) for role, names in effect.names},
        "sentence": effect_in_words(effect),
    }


def _finding(told: Told) -> Data:
    return {
        "identity": told.code,
        "fate": told.fate.value,
        "sure": told.sure,
        "kind": told.finding.kind,
        "code": ENTRIES[told.finding.kind].number,
        "weight": told.finding.weight.value,
        "sentence": sentence_of(told),
        "was": _found(told.was),
        "is": _found(told.is_now),
    }


def _found(finding: Finding | None) -> Data | None:
    if finding is None:
        return None
    return {
        "context": finding.context,
        "place": place_data(finding.place, None),
        "facts": dict(sorted(finding.facts.items())),
    }
