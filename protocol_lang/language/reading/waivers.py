"""Waivers: the lines under them, each read by its opening words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading import openers
from protocol_lang.language.reading.desk import Desk, spoiled
from protocol_lang.language.reading.lines import Shape
from protocol_lang.text import Place

#: What every waiver has to say, by the rule of the line that says it.
_NEEDED: Mapping[str, str] = {
    "waiver_reason": 'reason "..."',
    "waiver_approved": "approved by ROLE",
    "waiver_days": "from DAY to DAY",
}


def waiver(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Waiver:
    """waiver "…", with the lines under it; what it lacks is reported."""
    lines = tuple(_lines(desk, raw.lines))
    made = tree.Waiver(
        title=None if shape is None else desk.quoted(shape.get("QUOTED")),
        lines=lines,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )
    if lines and not any(isinstance(line, tree.Spoiled) for line in lines):
        _whole(desk, raw, {line.rule for line in lines if isinstance(line, tree.WaiverLine)})
    return made


def _whole(desk: Desk, raw: Raw, said: set[str]) -> None:
    missing = [form for rule, form in _NEEDED.items() if rule not in said]
    if "waiver_finding" in said and said & {"waiver_rule", "waiver_for", "waiver_where"}:
        desk.report("waiver-about-both", raw.words.place)
    elif "waiver_finding" not in said and not {"waiver_rule", "waiver_for"} <= said:
        about = 'rule "..." of "..."' if "waiver_rule" not in said else "for THING"
        missing.insert(0, about if "waiver_rule" in said else "finding CODE, or " + about)
    for form in missing:
        desk.report("waiver-lacks", raw.words.place, {"form": form})


def _lines(desk: Desk, raws: Iterable[Raw]) -> Iterable[tree.WaiverLine | tree.Spoiled]:
    said: dict[str, Place] = {}
    for raw in raws:
        if desk.full:
            break
        rule = desk.rule(raw, "waiver")
        shape = None if rule is None else desk.parse(rule, raw.words)
        line = None if shape is None else _line(desk, raw, shape)
        if line is not None and line.rule in said:
            phrase = next(p for p, r in openers.WAIVER.items() if r == line.rule)
            desk.report(
                "said-twice", raw.words.place, {"found": phrase}, (("first", said[line.rule]),)
            )
        if line is not None:
            said.setdefault(line.rule, raw.words.place)
        yield spoiled(raw) if line is None else line


def _line(desk: Desk, raw: Raw, shape: Shape) -> tree.WaiverLine | None:
    desk.no_lines_under(raw)
    quoted = tuple(desk.quoted(words) for words in shape.all("QUOTED"))
    asked = shape.part("choice_is")
    days = _days(desk, shape)
    if any(words is None for words in quoted) or days is None:
        return None
    choice = None if asked is None else asked.all("PIECE")
    if asked is not None and asked.has("NOT"):
        desk.report("waiver-where-not", raw.words.place)
        return None
    return tree.WaiverLine(
        rule=shape.rule,
        words=raw.words,
        quoted=tuple(words for words in quoted if words is not None),
        name=shape.find("NAME") or shape.find("REST") or shape.find("NUMBER"),
        days=days,
        choice=None if choice is None else (choice[0], choice[1]),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def _days(desk: Desk, shape: Shape) -> tuple[date, ...] | None:
    days: list[date] = []
    for words in shape.all("DAY"):
        try:
            days.append(date.fromisoformat(words.text))
        except ValueError:
            desk.report("day-not-real", words.place, {"found": words.text})
            return None
    if len(days) == 2 and days[1] < days[0]:
        desk.report("waiver-ends-first", shape.place)
        return None
    return tuple(days)
