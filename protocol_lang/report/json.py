"""The report as data: the same findings in the same order and words as the page.

The form is described by ``check-1.schema.json`` beside this module (JSON Schema, draft 2020-12).
The number in its name changes when a program that reads version 1 could no longer do so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from protocol_lang.findings import Route, Weight
from protocol_lang.outcome import Coverage, Outcome
from protocol_lang.report.told import Told, ToldFile, ToldPart, tell
from protocol_lang.text import Place
from protocol_lang.wording import basis

#: Where the form is described.
SCHEMA = Path(__file__).with_name("check-1.schema.json")

VERSION = 1

Data = dict[str, Any]


def render(outcome: Outcome) -> str:
    """The report as JSON text in ASCII, without a last line feed.

    Raises KeyError for a finding that has no wording.
    """
    return json.dumps(sound(data(outcome)), indent=2, ensure_ascii=True)


def sound(value: Any) -> Any:
    """The value, with bytes of file names that are no text shown as escapes."""
    if isinstance(value, str):
        return value.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    if isinstance(value, dict):
        return {key: sound(inner) for key, inner in value.items()}
    return [sound(inner) for inner in value] if isinstance(value, list) else value


def data(outcome: Outcome) -> Data:
    """The report as plain values, in the form of :data:`SCHEMA`."""
    return {
        "form": "check",
        "version": VERSION,
        "program": outcome.version,
        "date": outcome.on.isoformat() if outcome.on else None,
        "standing": outcome.standing.value,
        "files": [_file(told, outcome) for told in tell(outcome)],
        "cautions": list(basis.CAUTIONS),
    }


def _file(told: ToldFile, outcome: Outcome) -> Data:
    file = told.outcome
    weights = [found.finding.weight for found in told.findings]
    return {
        "file": file.file,
        "kind": file.kind,
        "title": file.title,
        "edition": file.edition,
        "standing": file.standing.value,
        "counts": {
            "to correct": weights.count(Weight.CORRECT),
            "to consider": weights.count(Weight.CONSIDER),
            "not checked": len(told.parts),
        },
        "findings": [_finding(found, outcome) for found in told.findings],
        "not checked": [_part(part) for part in told.parts],
        "coverage": coverage_data(file.coverage) if file.coverage else None,
    }


def _finding(told: Told, outcome: Outcome) -> Data:
    finding = told.finding
    return {
        "number": told.number,
        "kind": finding.kind,
        "code": told.code,
        "weight": finding.weight.value,
        "sentence": told.sentence,
        "because": told.because,
        "follows": told.follows,
        "context": finding.context,
        "place": place_data(finding.place, outcome),
        "others": [
            {"role": role, "place": place_data(place, outcome)} for role, place in finding.others
        ],
        "route": route_data(finding.route) if finding.route else None,
        "advice": told.advice,
        "changes": [
            {
                "kind": remedy.kind,
                "sentence": change.sentence,
                "lines": list(change.lines),
                "place": place_data(remedy.place, outcome),
                "facts": _facts(remedy.facts),
            }
            for remedy, change in told.changes
        ],
        "facts": _facts(finding.facts),
    }


def _part(told: ToldPart) -> Data:
    return {
        "kind": told.part.kind,
        "code": told.code,
        "sentence": told.sentence,
        "place": place_data(told.part.place, None),
        "facts": _facts(told.part.facts),
    }


def _facts(facts: Mapping[str, str]) -> Data:
    return dict(sorted(facts.items()))


def place_data(place: Place | None, outcome: Outcome | None) -> Data | None:
    """A place; with ``outcome``, and if its file was read, the line and the words there."""
    if place is None:
        return None
    where: Data = {
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "end": place.end,
    }
    lines = outcome.texts.get(place.file, ()) if outcome else ()
    if 1 <= place.line <= len(lines):
        where["text"] = lines[place.line - 1]
        where["words"] = lines[place.line - 1][place.column - 1 : place.end - 1]
    return where


def route_data(route: Route) -> Data:
    """A story as plain values."""
    return {
        "choices": [_choice(*pair) for pair in route.choices],
        "steps": [
            {
                "visit": step.visit,
                "person": step.person,
                "text": step.text,
                "place": place_data(step.place, None),
                "moves": [{"from": source, "to": goal} for source, goal in step.moves],
            }
            for step in route.steps
        ],
        "classes": list(route.classes),
    }


def _choice(name: str, value: str) -> Data:
    return {"choice": name, "value": value}


def coverage_data(coverage: Coverage) -> Data:
    """What was looked at, and what the answer rests on."""
    orders = coverage.orders
    return {
        "steps": coverage.steps,
        "choices": [
            {"choice": choice.name, "values": list(choice.values), "fixed": choice.fixed}
            for choice in coverage.choices
        ],
        "combinations": coverage.combinations,
        "courses": coverage.courses,
        "mishaps": list(coverage.mishaps),
        "rounds": [
            {"name": name, "most": most, "looked at": looked_at}
            for name, most, looked_at in coverage.rounds
        ],
        "asked only": [_choice(*pair) for pair in coverage.asked_only],
        # As digits: more than most readers of JSON can hold as a number.
        "orders": {"number": _digits(orders.number), "exact": orders.exact} if orders else None,
        "any number of visits": coverage.any_number_of_visits,
        "visits apart": coverage.visits_apart,
        "running on": list(coverage.running_on),
        "only who exposes": coverage.only_who_exposes,
        "starts": [{"thing": thing, "state": state} for thing, state in coverage.starts],
        "leaking": list(coverage.leaking),
        "tearing": list(coverage.tearing),
        "thrown away": list(coverage.thrown_away),
        "remainder": [
            {
                "level": rest.level,
                "thing": rest.thing,
                "classes": list(rest.classes),
                "source": rest.source,
            }
            for rest in coverage.remainder
        ],
        "without contact": [
            {"text": line.text, "place": place_data(line.place, None)}
            for line in coverage.without_contact
        ],
        "own verbs": [
            {"text": line.text, "place": place_data(line.place, None)}
            for line in coverage.own_verbs
        ],
        "handed over": [{"thing": thing, "to": to} for thing, to in coverage.handed_over],
        "parts": [{"role": role, "title": title} for role, title in coverage.parts],
        "follows another protocol": coverage.follows,
        "untouched": list(coverage.untouched),
        "files": [
            {
                "kind": read.kind,
                "title": read.title,
                "file": read.file,
                "packaged": read.packaged,
                **({"fingerprint": read.fingerprint} if read.fingerprint else {}),
            }
            for read in coverage.files
        ],
    }


def _digits(number: int) -> str:
    """``number`` in figures, however many (the interpreter refuses more than some thousands)."""
    parts: list[str] = []
    while number >= 10**4000:
        number, rest = divmod(number, 10**4000)
        parts.append(f"{rest:04000d}")
    return str(number) + "".join(reversed(parts))
