"""The page for people: numbered findings, each a sentence and a small form; a closing.

Made to be printed, read aloud and written on: no drawing characters, no marks under letters, labels
that are words. Colour (bold, reverse) only repeats what the words and brackets say.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from string import ascii_lowercase

from protocol_lang.findings import Route, RouteStep, Weight
from protocol_lang.outcome import Coverage, Outcome, Remainder, Standing
from protocol_lang.report.letters import CLOSE, HARD_BLANK, OPEN
from protocol_lang.report.letters import width as columns_of
from protocol_lang.report.setting import Setting, Text
from protocol_lang.report.told import Told, ToldFile, tell
from protocol_lang.text import MAX_LETTERS, Place
from protocol_lang.wording import basis, remedies
from protocol_lang.wording.plain import begin, count, listed


def render(
    outcome: Outcome,
    width: int = 72,
    colour: bool = False,
    ascii_only: bool = False,
    full: bool = False,
    closing: bool = True,
) -> str:
    """The report as text, without a last line feed; no line is longer than ``width`` columns.

    ``width``: at least 24. ``colour``: bold and reverse by the usual escape sequences; all of the
    author's words are made safe first. ``ascii_only``: nothing but ASCII. ``full``: list everything
    that the answer rests on. Raises KeyError for a finding that has no wording.
    """
    page = Setting(width, colour, ascii_only)
    files = tell(outcome)
    for told in files:
        _file(page, told, outcome)
        if closing:
            page.gap()
            _coverage(page, told, full)
    if closing:
        _closing(page, files, outcome)
    return page.text()


# --- One file ------------------------------------------------------------------------------------


def _file(page: Setting, told: ToldFile, outcome: Outcome) -> None:
    page.gap()
    correct = [found for found in told.findings if found.finding.weight is Weight.CORRECT]
    consider = [found for found in told.findings if found.finding.weight is Weight.CONSIDER]
    counts = basis.counts(len(correct), len(consider), len(told.parts))
    page.put(f"{told.outcome.file}: {counts}.", bold=True)
    if not correct and (verdict := _verdict(told)):
        page.put(verdict)
    for found in correct:
        _finding(page, found, told, outcome)
    if consider:
        page.gap()
        page.put("To consider", bold=True)
        for found in consider:
            _finding(page, found, told, outcome)


def _verdict(told: ToldFile) -> str | None:
    """What it means that nothing was found; None where the counts have said all there is."""
    coverage = told.outcome.coverage
    if told.outcome.standing is Standing.UNCHECKED:
        return basis.PARTLY
    if coverage is None:
        return None
    return basis.CLEAR if coverage.any_number_of_visits else basis.CLEAR_FIRST_VISIT


def _finding(page: Setting, told: Told, file: ToldFile, outcome: Outcome) -> None:
    page.gap()
    page.put(told.sentence, f"{told.number}. ".ljust(page.indent), bold=True)
    if told.again:
        page.row("more", [f"told above as number {told.number}"])
        return
    finding = told.finding
    page.row("where", _where(page, finding.place, finding.context))
    page.row("text", _quote(page, finding.place, outcome))
    for role, place in finding.others:
        page.row("also", _also(page, role, place, finding.place, outcome))
    if finding.route is not None:
        page.row("route", route_lines(finding.route, finding.place, file.outcome.file))
    page.row("because", [told.because] if told.because else [])
    page.row("change", _change(told))
    page.row("locally", _locally(told))
    page.row("follows", [f"{begin(told.follows).rstrip('.')}."] if told.follows else [])
    page.row("more", [f"{finding.kind} ({told.code})"])


def _spot(place: Place) -> str:
    return f"{place.file}:{place.line}:{place.column}"


def _where(page: Setting, place: Place | None, context: str | None) -> list[str]:
    spot = _spot(place) if place else None
    if context and spot and page.label + columns_of(context) + 2 + columns_of(spot) <= page.columns:
        return [f"{context}{HARD_BLANK}{HARD_BLANK}{spot}"]
    return [part for part in (context, spot) if part]


#: Of a line that is longer than lines may be, so many letters are shown on each side.
_AROUND = 60


def _quote(page: Setting, place: Place | None, outcome: Outcome) -> list[str]:
    lines = outcome.texts.get(place.file, ()) if place else ()
    if place is None or not 1 <= place.line <= len(lines):
        return []
    line = lines[place.line - 1]
    before, marked, after = (
        line[: place.column - 1],
        line[place.column - 1 : place.end - 1],
        line[place.end - 1 :],
    )
    if len(line) > MAX_LETTERS:
        before, marked, after = before[-_AROUND:], marked[:_AROUND], after[:_AROUND]
        before, after = f"... {before}", f"{after} ..."
        line = before + marked + after
    if not marked.strip():
        return [line.strip()] if line.strip() else []
    opening, closing = page.brackets()
    return [f"{before.lstrip()}{opening}{OPEN}{marked}{CLOSE}{closing}{after.rstrip()}"]


def _also(
    page: Setting, role: str, place: Place, main: Place | None, outcome: Outcome
) -> list[str]:
    spot = f"line {place.line}" if main and place.file == main.file else _spot(place)
    quote = _quote(page, place, outcome)
    return [f"{role}, {spot}", *(f"  {line}" for line in quote)]


def route_lines(route: Route, main: Place | None, file: str) -> list[str]:
    """A timetable: visits, and under each its steps with their lines and what travels."""
    home = main.file if main else file
    lines: list[str] = []
    throughout, of_visit = _choices(route)
    if throughout:
        lines.append("with " + listed(throughout))
    if not of_visit and _says_nothing_new(route, main):
        return lines
    visits = {step.visit for step in route.steps}
    for visit, steps in groupby(route.steps, key=lambda step: step.visit):
        if len(visits) > 1 or visit in of_visit:
            lines.append(", ".join([f"visit {visit}", *of_visit.get(visit, [])]))
        for step in steps:
            lines.extend(_stop(step, home))
    if route.classes:
        lines.append(f"Germs that get through: {listed(route.classes)}.")
    return lines


def _choices(route: Route) -> tuple[list[str], dict[int, list[str]]]:
    """The choices that hold throughout, and those of single visits ("staffing (visit 2)")."""
    throughout: list[str] = []
    of_visit: dict[int, list[str]] = {}
    for name, value in route.choices:
        named = re.fullmatch(r"(.+) \(visit (\d+)\)", name)
        if named:
            of_visit.setdefault(int(named[2]), []).append(f"{named[1]}: {value}")
        else:
            throughout.append(f"{name}: {value}")
    return throughout, of_visit


def _says_nothing_new(route: Route, main: Place | None) -> bool:
    """Whether the route is only the step that the finding is about."""
    return all(step.place == main and not step.moves for step in route.steps)


def _stop(step: RouteStep, home: str) -> list[str]:
    if step.place is None:
        where = ""
    elif step.place.file == home:
        where = f"line {step.place.line}: "
    else:
        where = f"{step.place.file}, line {step.place.line}: "
    by = "" if not step.person or step.text.startswith(step.person) else f"{step.person}: "
    moves = [
        f"    from {source} to {listed(goal for _, goal in goals)}"
        for source, goals in groupby(step.moves, key=lambda move: move[0])
    ]
    return [f"  {where}{by}{step.text}", *moves]


def _change(told: Told) -> list[Text]:
    lines: list[Text] = [told.advice] if told.advice else []
    changes = [change for _, change in told.changes]
    if len(changes) == 1:
        lines.append(remedies.ONE)
    elif changes:
        lines.append(remedies.several(len(changes)))
    for letter, change in zip(ascii_lowercase, changes, strict=False):
        lead = f"{letter}) " if len(changes) > 1 else ""
        lines.append((lead, change.sentence))
        lines += [f"{' ' * (len(lead) + 2)}{line}" for line in change.lines]
    return lines


def _locally(told: Told) -> list[Text]:
    if not told.locally:
        return []
    return [basis.LOCALLY, *(f"  {line}" for line in told.locally)]


# --- The end -------------------------------------------------------------------------------------


def _coverage(page: Setting, told: ToldFile, full: bool) -> None:
    coverage = told.outcome.coverage
    unchecked = [part.sentence for part in told.parts]
    if coverage is None:
        if told.outcome.kind in ("protocol", "day"):
            unchecked = unchecked or [basis.NO_ORDERS]
    else:
        page.row("Checked", _checked(told, coverage), margin=0)
        rests = _rests_in_full(coverage) if full else _rests(coverage)
        page.row("Rests on", rests, margin=0)
    page.row("Not checked", unchecked or [basis.NOTHING_LEFT_OUT], margin=0)


def looked_at(told: ToldFile, coverage: Coverage) -> list[str]:
    """What was looked at in a file, in lines."""
    return _checked(told, coverage)


def rests_on(coverage: Coverage) -> list[str]:
    """What the answer rests on, in short lines."""
    return [line for line in _rests(coverage) if line != basis.MORE]


def _checked(told: ToldFile, coverage: Coverage) -> list[str]:
    day = any(role == "visit" for role, _ in coverage.parts)
    choices = [
        (choice.name, (basis.ONE_OF_THESE,) if day and not place else choice.values)
        for place, choice in enumerate(coverage.choices)
    ]
    counted = coverage.orders
    return [
        basis.what(told.outcome.title, told.outcome.edition, coverage.steps),
        *basis.parts(coverage.parts),
        *basis.combinations(coverage.combinations, choices, coverage.asked_only),
        *([basis.courses(coverage.courses)] if coverage.courses is not None else []),
        *(basis.rounds(*told_rounds) for told_rounds in coverage.rounds),
        basis.orders(counted.number, counted.exact) if counted else basis.EVERY_ORDER,
        basis.visits(coverage.any_number_of_visits),
    ]


def _rests(coverage: Coverage) -> list[str]:
    parts = []
    parts += _bases(coverage)
    others = [read for read in _read(coverage) if read[0] not in ("protocol", "base")]
    if others:
        parts.append(basis.files_short(others))
    if coverage.leaking:
        parts.append(basis.leaking(coverage.leaking))
    if coverage.tearing:
        parts.append(basis.tearing(coverage.tearing))
    if coverage.thrown_away:
        parts.append(basis.thrown_away(coverage.thrown_away))
    if coverage.remainder:
        things = dict.fromkeys(
            thing for rest in coverage.remainder for thing in rest.thing.split(", ")
        )
        parts.append(basis.remainder_short(list(things)))
    if coverage.without_contact:
        parts.append(basis.without_contact(len(coverage.without_contact)))
    if coverage.own_verbs:
        parts.append(basis.own_verbs(len(coverage.own_verbs)))
    if coverage.handed_over:
        parts.append(basis.handed_over_short([thing for thing, _ in coverage.handed_over]))
    if coverage.untouched:
        parts.append(basis.untouched(coverage.untouched))
    if coverage.follows:
        parts.append(basis.FOLLOWS)
    if coverage.only_who_exposes:
        parts.append(basis.ONLY_WHO_EXPOSES)
    if coverage.mishaps:
        parts.append(basis.ONE_MISHAP)
    parts += _apart(coverage)
    return [*parts, basis.MORE] if parts else []


def _read(coverage: Coverage) -> list[tuple[str, str, str]]:
    return [(read.kind, read.title, read.file) for read in coverage.files]


def _bases(coverage: Coverage) -> list[str]:
    return [basis.base(read.title, read.fingerprint) for read in coverage.files if read.fingerprint]


def _rests_in_full(coverage: Coverage) -> list[str]:
    rows: list[str] = []

    def part(heading: str, lines: Sequence[str]) -> None:
        if lines:
            rows.append(heading)
            rows.extend(f"  {line}" for line in lines)

    part("What was read:", basis.files(_read(coverage)))
    part("What it adapts:", _bases(coverage))
    part("How things are when a visit starts:", basis.starts(coverage.starts))
    covers = [basis.leaking(coverage.leaking)] if coverage.leaking else []
    covers += [basis.tearing(coverage.tearing)] if coverage.tearing else []
    part("Covers:", covers)
    part("Waste:", [basis.thrown_away(coverage.thrown_away)] if coverage.thrown_away else [])
    part("What may remain:", _remainders(coverage.remainder))
    part(
        begin(basis.without_contact(len(coverage.without_contact))) + ":",
        [_line(line.text, line.place) for line in coverage.without_contact],
    )
    part(
        begin(basis.own_verbs(len(coverage.own_verbs))) + ":",
        [_line(line.text, line.place) for line in coverage.own_verbs],
    )
    part("What leaves:", [basis.handed_over(*pair) for pair in coverage.handed_over])
    part("The room:", [basis.untouched(coverage.untouched)] if coverage.untouched else [])
    part("Exposures:", [basis.ONLY_WHO_EXPOSES] if coverage.only_who_exposes else [])
    visits = [basis.FOLLOWS] if coverage.follows else []
    visits += [basis.ONE_MISHAP] if coverage.mishaps else []
    part("Visits:", [*visits, *_apart(coverage)])
    return rows


def _apart(coverage: Coverage) -> list[str]:
    """Whether a visit may begin before the one before it is over."""
    told = [basis.VISITS_APART] if coverage.visits_apart else []
    if coverage.running_on:
        told.append(basis.running_on(coverage.running_on, coverage.visits_apart))
    return told


def _line(text: str, place: Place | None) -> str:
    return f"{text} (line {place.line})" if place else text


def _remainders(remainder: Sequence[Remainder]) -> list[str]:
    """One line for all things that share level, classes and source."""
    groups: dict[tuple[str, tuple[str, ...], str | None], list[str]] = {}
    for rest in remainder:
        things = groups.setdefault((rest.level, rest.classes, rest.source), [])
        things.extend(rest.thing.split(", "))
    return [
        basis.remainder(level, things, classes, source)
        for (level, classes, source), things in groups.items()
    ]


def _closing(page: Setting, files: Sequence[ToldFile], outcome: Outcome) -> None:
    if len(files) > 1:
        page.gap()
        page.put(_total(files), bold=True)
    page.gap()
    page.row("Caution", basis.CAUTIONS, margin=0)
    if outcome.on is not None:
        page.row("Date", [basis.day(outcome.on.isoformat())], margin=0)


def _total(files: Sequence[ToldFile]) -> str:
    found = {told.number: told for file in files for told in file.findings}
    correct = sum(told.finding.weight is Weight.CORRECT for told in found.values())
    parts = sum(len(file.parts) for file in files)
    counts = basis.counts(correct, len(found) - correct, parts)
    return f"{begin(count(len(files), 'file'))} in all: {counts}."
