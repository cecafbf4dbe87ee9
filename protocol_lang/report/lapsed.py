"""Lapses on a page for people: the margin, steps that must not be left out, sets, stories."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from protocol_lang.findings import Route
from protocol_lang.lapsed import Alone, Improvement, Lapsed, SlipSet
from protocol_lang.report.page import route_lines
from protocol_lang.report.sections import Row, Section
from protocol_lang.report.setting import Setting
from protocol_lang.wording import basis
from protocol_lang.wording import lapsed as words
from protocol_lang.wording.plain import begin

#: So many sets of several lapses, and so many stories, are told unless all are asked for.
MOST_SETS = 6
MOST_STORIES = 3


@dataclass(frozen=True, slots=True)
class Part:
    """Lines under a heading; a line that begins with blanks belongs to the one above."""

    heading: str
    lines: tuple[str, ...]


def upshot(lapsed: Lapsed) -> str:
    """The first sentence."""
    if lapsed.already:
        return words.already(lapsed.title)
    return words.upshot(lapsed.margins)


def render(
    lapsed: Lapsed,
    on: date | None = None,
    width: int = 72,
    colour: bool = False,
    ascii_only: bool = False,
    full: bool = False,
) -> str:
    """The report as text, without a last line feed. The parameters are those of
    :func:`protocol_lang.report.page.render`; ``on``: the day of judgement."""
    page = Setting(width, colour, ascii_only)
    page.put(f"{lapsed.file}: {lapsed.title}.", bold=True)
    page.put(upshot(lapsed))
    for part in parts(lapsed, full):
        page.gap()
        page.put(part.heading, bold=True)
        for line in part.lines:
            inner = len(line) - len(line.lstrip(" "))
            if isinstance(line, words.Typed):
                page.copy(line.lstrip(" "), " " * (page.indent + inner))
            else:
                page.put(line.lstrip(" "), " " * (page.indent + inner), hang=2)
    page.gap()
    for label, lines in closing(lapsed, on):
        page.row(label, lines, margin=0)
    return page.text()


def sections(lapsed: Lapsed, on: date | None = None) -> tuple[Section, ...]:
    """All of it as data, to be set in type: what heads some lines becomes their label."""
    told = [Section(part.heading, tuple(_rows(part.lines))) for part in parts(lapsed, full=True)]
    foot = tuple(Row(label, tuple(lines)) for label, lines in closing(lapsed, on))
    return (*told, Section("", foot))


def _rows(lines: Iterable[str]) -> Iterable[Row]:
    """Lines with those that belong to them: the number of a change, the phase of some steps, the
    visit of a story become a label."""
    blocks: list[list[str]] = []
    for line in lines:
        if line.startswith(" ") and blocks:
            blocks[-1].append(line)
        else:
            blocks.append([line])
    for first, *rest in blocks:
        number, dot, text = first.partition(". ")
        if dot and number.isdecimal():
            yield Row(f"{number}.", (text, *map(_deep, rest)))
        elif rest and (first.startswith(_VISIT) or first in _phases(blocks)):
            yield Row(first, tuple(line.removeprefix("  ") for line in rest))
        else:
            yield Row("", (first, *rest))


_VISIT = "visit "
_HARD_BLANK = "\N{NO-BREAK SPACE}"


def _phases(blocks: Iterable[Sequence[str]]) -> set[str]:
    """The heads that stand for a phase: all others end some sentence or are one."""
    return {first for first, *rest in blocks if rest and first.startswith(("In ", "When "))}


def _deep(line: str) -> str:
    """A line to be typed keeps its blanks."""
    if not isinstance(line, words.Typed):
        return line
    plain = line.lstrip(" ")
    return "  " + _HARD_BLANK * (len(line) - len(plain)) + plain


def parts(lapsed: Lapsed, full: bool = False) -> Iterable[Part]:
    """Everything between the first sentence and the foot."""
    if lapsed.already:
        yield Part("To be corrected as it is", (words.FAULTY, *lapsed.already, words.FIRST_CORRECT))
        return
    yield Part(
        "The margin: how many things must go wrong", tuple(map(words.margin, lapsed.margins))
    )
    opening = [one for one in lapsed.alone if one.opens]
    steps = [one for one in opening if one.slip.kind in ("left out", "cut short")]
    others = [one for one in opening if one.slip.kind not in ("left out", "cut short")]
    told = _alone(steps)
    yield Part(words.HEADINGS["left out"], told or (words.NO_PATH,))
    if others:
        yield Part(words.HEADINGS["other"], _alone(others))
    if full:
        nothing = [one for one in lapsed.alone if not one.opens]
        if nothing:
            yield Part(words.HEADINGS["opens nothing"], _alone(nothing))
        if lapsed.by_class:
            yield Part(words.HEADINGS["class"], tuple(map(words.by_class, lapsed.by_class)))
    for opens in words.OPENS:
        sets = [one for one in lapsed.sets if one.opens == opens and len(one.slips) > 1]
        if sets:
            heading = f"{words.HEADINGS['together']} {words.OPENS[opens]}"
            yield Part(heading, _together(lapsed, opens, sets, full))
    if lapsed.never:
        yield Part(
            words.HEADINGS["never"],
            tuple(words.never(one.step, one.times, one.opens) for one in lapsed.never),
        )
    yield from _stories(lapsed, full)
    if lapsed.improvement is not None:
        yield from _changes(lapsed.improvement, lapsed.file)
    if lapsed.rankings:
        yield Part(words.HEADINGS["ranking"], tuple(_ranking(lapsed)))


def _alone(those: Sequence[Alone]) -> tuple[str, ...]:
    """Lapses and what they open, phase by phase."""
    lines: list[str] = []
    phase: str | None = None
    for one in those:
        step, within = words.step_and_phase(one.slip)
        if within != phase:
            lines.append(within)
            phase = within
        told = f": {words.opened_alone(one)}" if one.opens else ""
        lines.append(f"  {step}{words.slip_in_phase(one.slip)}{told}")
    return tuple(lines)


def _together(lapsed: Lapsed, opens: str, sets: Sequence[SlipSet], full: bool) -> tuple[str, ...]:
    listed = sets if full else sets[:MOST_SETS]
    lines = [begin(words.together(one.slips, one.alike)) for one in listed]
    if len(listed) < len(sets):
        lines.append(words.more_sets(sum(one.alike for one in sets[len(listed) :])))
    left = lapsed.open_sets.get(opens, 0) - sum(
        one.alike for one in lapsed.sets if one.opens == opens
    )
    if left > 0:
        lines.append(words.not_listed(left))
    return tuple(lines)


def _stories(lapsed: Lapsed, full: bool) -> Iterable[Part]:
    """The story of a smallest set of each kind of path; of all of them if asked for."""
    told = [one for one in lapsed.sets if one.route is not None]
    if not full:
        first: dict[str, SlipSet] = {}
        for one in told:
            first.setdefault(one.opens, one)
        told = list(first.values())[:MOST_STORIES]
    for one in told:
        assert one.route is not None
        slips = words.together(one.slips, 1)
        heading = f"{words.HEADINGS['story']}, {words.to_whom([one.opens])}: {slips}"
        yield Part(heading, tuple(_route(one.route, lapsed.file)))


def _route(route: Route, file: str) -> list[str]:
    return route_lines(route, None, file)


def _changes(improvement: Improvement, file: str) -> Iterable[Part]:
    """What helps, then what was tried."""
    first = 1
    for heading, changes in (("changes", improvement.changes), ("mixed", improvement.mixed)):
        lines = [
            line
            for place, one in enumerate(changes, start=first)
            for line in words.change(place, one, improvement.before, file)
        ]
        first += len(changes)
        if lines or heading == "changes":
            yield Part(words.HEADINGS[heading], tuple(lines) or (words.NO_CHANGE,))
    told = words.tried_in_all(improvement.tried, len(improvement.changes), improvement.together)
    each = [f"  {words.tried(one)}" for one in improvement.tried]
    yield Part(words.HEADINGS["tried"], (*told, *each, words.NOT_THOUGHT_OF))


def _ranking(lapsed: Lapsed) -> Iterable[str]:
    yield words.COMPARISON
    for one in lapsed.rankings:
        yield words.ranking(one)
        for sway in one.sways:
            yield f"  {words.sway(sway)}"
    yield from words.likeliest(lapsed.sets)


def closing(lapsed: Lapsed, on: date | None) -> list[tuple[str, list[str]]]:
    """The foot: what was looked at, what was not, the usual cautions."""
    rows: list[tuple[str, list[str]]] = []
    if not lapsed.already:
        rows.append(
            (
                "Checked",
                words.looked_at(lapsed.lapses, lapsed.looked_at, lapsed.most, lapsed.combinations),
            )
        )
        if lapsed.only:
            asked = ", ".join(f"{name}: {value}" for name, value in lapsed.only)
            rows.append(("Only", [asked]))
        rows.append(("Rests on", [words.SAFE_SIDE]))
    left = list(lapsed.unchecked)
    if lapsed.mishaps and not lapsed.already:
        left.append(words.not_together(lapsed.mishaps))
    if lapsed.undecided:
        left.append(words.not_decided(lapsed.undecided))
    rows.append(("Not checked", left or [basis.NOTHING_LEFT_OUT]))
    rows.append(("Caution", list(basis.CAUTIONS)))
    if on is not None:
        rows.append(("Date", [basis.day(on.isoformat())]))
    return rows
