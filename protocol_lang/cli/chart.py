"""``chart``: wall charts, one for each way in which the choices of a protocol can be made; and
whether one that hangs on a wall is of the edition at hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.languages import in_language, known
from protocol_lang.cli.options import wanted_choices

if TYPE_CHECKING:
    from protocol_lang.chart.paper import Paper
    from protocol_lang.chart.print import Printed
    from protocol_lang.chart.sheet import Mark, Sheet
    from protocol_lang.chart.typeset import Format
    from protocol_lang.pipeline import Checked

#: More charts than these are not made at once: of one protocol, and in all.
MOST_CHARTS = 48
MOST_IN_A_SET = 480


@click.command("chart", cls=Command)
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option("-o", "target", metavar="NAME", help="Where to: a name in .pdf, .svg or .png.")
@click.option(
    "--paper", metavar="SIZE", default="A3", help="A4, A3 (the usual), A2, Letter, Tabloid."
)
@click.option("--upright", is_flag=True, help="The paper stands on its short side.")
@click.option(
    "--reading-distance",
    "distance",
    metavar="LENGTH",
    default="1 m",
    help="From how far it has to be read: 2m, or 150cm; 1 m if it is not told.",
)
@click.option(
    "--choice",
    multiple=True,
    metavar="NAME=VALUE",
    help="Print only charts for this value of a choice; may be given several times.",
)
@click.option(
    "--on", metavar="DATE", help="The day of judgement, as 2026-11-02; today if it is not told."
)
@click.option("--language", metavar="CODE", default="en", help="en (the usual), es, fr, hi or ar.")
@click.option(
    "--verify",
    "code",
    metavar="CODE",
    help="Print nothing; tell whether the chart with this code shows the edition at hand.",
)
def command(
    files: tuple[str, ...],
    target: str | None,
    paper: str,
    upright: bool,
    distance: str,
    choice: tuple[str, ...],
    on: str | None,
    language: str,
    code: str | None,
) -> ExitCode:
    """Print the wall chart of a protocol, or all charts of a room.

    There is a chart for every way of choosing that changes what is done; a PDF holds them all, of
    pictures each page is a file of its own. Several files, a folder or a day make one set. The
    hands of everybody after every step, and what used hands must not touch, are worked out over all
    permitted orders. Each protocol is checked first: only one without faults is marked as checked,
    any other is a draft. The code at the foot of a chart tells its edition, not who approved it.
    """
    if code is not None:
        return _verified(code, files)
    from protocol_lang.chart.faults import CannotPrint
    from protocol_lang.chart.print import render_all
    from protocol_lang.cli.check import _day

    if target is None:
        raise CannotCarryOut("Say where to print it: -o and a name in .pdf, .svg or .png.")
    to = Path(target)
    format = cast("Format", pictures.format_of(to, ("pdf", "svg", "png")))
    size = _size(paper)
    metres = _metres(distance)
    day = _day(on)
    wanted = wanted_choices(choice)
    known(language)
    made: list[_Found] = []
    sheets: list[Sheet] = []
    for path in _protocols(files):
        found = _found(str(path), wanted)
        made.append(found)
        own = _sheets(found, wanted, day, path)
        sheets += in_language(own, language, str(path), found.checked)
        if len(sheets) > MOST_IN_A_SET:
            raise CannotCarryOut(
                f"That would be more than {MOST_IN_A_SET} charts. Name fewer files at once."
            )
    try:
        printed = render_all(
            sheets, format, size, distance=metres, upright=upright, title=_title(files, sheets)
        )
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None
    read = [name for found in made for name in found.checked.texts]
    names = pictures.write(to, printed.pages, read)
    _tell(names, sheets, printed, size, metres)
    return weightiest(
        ExitCode.PARTLY_CHECKED if one.limited else pictures.code_of(one.checked.outcome)
        for one in made
    )


def _size(paper: str) -> Paper:
    from protocol_lang.chart.paper import Paper

    sizes = {size.shown.casefold(): size for size in Paper}
    if paper.casefold() not in sizes:
        named = ", ".join(size.shown for size in Paper)
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(paper)}" is not a size of paper. There are: {named}.'
        )
    return sizes[paper.casefold()]


def _metres(distance: str) -> float:
    from protocol_lang.chart.paper import distance_of

    try:
        return distance_of(distance)
    except ValueError as problem:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(distance)}" is no distance to read from. {problem}'
        ) from None


def _protocols(files: tuple[str, ...]) -> list[Path]:
    """One file is taken as it is: whoever names it is told what is wrong with it."""
    from protocol_lang.cli.walls import protocols

    (first, *rest) = files
    if not rest and not Path(first).exists():
        raise CannotCarryOut(f'There is no file "{terminal.visible_in_line(first)}".')
    return protocols(files)


def _title(files: tuple[str, ...], sheets: list[Sheet]) -> str | None:
    """Of a set of several protocols: the room, where it is the same for all."""
    if len({sheet.title for sheet in sheets}) == 1:
        return None
    rooms = list(dict.fromkeys(sheet.room for sheet in sheets if sheet.room))
    return ", ".join(rooms) or Path(files[0]).stem


def _verified(code: str, files: tuple[str, ...]) -> ExitCode:
    """Tell of which of the protocols a chart with this code is, if it is of any."""
    from protocol_lang.chart import edition
    from protocol_lang.cli.walls import fingerprint

    try:
        asked = edition.read(code)
    except edition.NoCode as problem:
        raise CannotCarryOut(f'"{terminal.visible_in_line(code)}" is no code. {problem}') from None
    at_hand = {path: edition.code(fingerprint(path)) for path in _protocols(files)}
    for path, current in at_hand.items():
        if current == asked:
            terminal.say(
                f'Yes: a chart with the code {asked} shows "{pictures.shown(path)}" as it is.'
            )
            return ExitCode.CLEAR
    if len(at_hand) == 1:
        ((path, current),) = at_hand.items()
        told = f'"{pictures.shown(path)}" has the code {current} now'
    else:
        told = f"none of these {len(at_hand)} protocols has it now"
    terminal.say(f"No: the code {asked} is of another protocol or edition; {told}. Take it down.")
    return ExitCode.TO_CORRECT


@dataclass(frozen=True, slots=True)
class _Found:
    """``limited``: only some choices could be checked, though visits may differ in them."""

    checked: Checked
    limited: bool = False


def _found(file: str, wanted: dict[str, str]) -> _Found:
    """The check that the charts rest on.

    Visits of one clinic follow each other in any mix of their choices, so a chart for some of them
    is sound only if all are. Choices that are fixed for the clinic never mix: where the whole is
    not without faults, it is enough that the clinic asked for is.
    """
    from protocol_lang.outcome import Standing

    whole = pictures.checked(file, {})
    if whole.protocol is None:
        return _Found(whole)
    names = {one.name: one for one in whole.protocol.choices}
    if any(name not in names or value not in names[name].values for name, value in wanted.items()):
        pictures.checked(file, wanted)  # says which one there is not
    if whole.unfolded is not None and whole.outcome.standing is Standing.CLEAR:
        return _Found(whole)
    fixed = {name: value for name, value in wanted.items() if names[name].fixed}
    if fixed:
        clinic = pictures.checked(file, fixed)
        if clinic.unfolded is not None:
            return _Found(clinic)
    if whole.unfolded is None and wanted and not whole.outcome.findings:
        return _Found(pictures.checked(file, wanted), limited=True)
    return _Found(whole)


def _sheets(found: _Found, wanted: dict[str, str], day: date, path: Path) -> tuple[Sheet, ...]:
    from protocol_lang.chart.words import words_of
    from protocol_lang.cli.walls import fingerprint
    from protocol_lang.pages import number_of_sheets, sheets

    unfolded, judgement = pictures.judged(found.checked, "chart")
    count = number_of_sheets(unfolded, wanted)
    if count > MOST_CHARTS:
        raise CannotCarryOut(
            f"That would be {count} charts. Name choices with --choice so that at most "
            f"{MOST_CHARTS} are left."
        )
    printed = fingerprint(path)
    made = []
    for sheet in sheets(unfolded, judgement, _mark(found), wanted):
        cautions = sheet.cautions
        if sheet.review_by is not None and day > sheet.review_by:
            words = words_of(sheet.language)
            overdue = words.review_overdue.format(day=words.day(sheet.review_by))
            cautions = (*cautions, overdue)
        made.append(replace(sheet, cautions=cautions, checked_on=day, fingerprint=printed))
    return tuple(made)


def _mark(found: _Found) -> Mark:
    from protocol_lang.chart.sheet import Checked, Draft
    from protocol_lang.outcome import Standing

    outcome = found.checked.outcome
    if outcome.standing is Standing.CORRECT:
        number = pictures.faults(outcome)
        return Draft(f"{number} {'fault' if number == 1 else 'faults'} to correct")
    if found.limited:
        return Draft("other choices were not checked")
    if outcome.standing is Standing.UNCHECKED:
        return Draft("part was not checked")
    return Checked()


def _tell(
    names: list[Path], sheets: list[Sheet], printed: Printed, size: Paper, metres: float
) -> None:
    from protocol_lang.chart.sheet import Draft
    from protocol_lang.wording.plain import count, listed

    charts = count(len(sheets), "chart")
    protocols = len({sheet.title for sheet in sheets})
    if protocols > 1:
        charts += f" of {count(protocols, 'protocol')}"
    where = listed(f'"{pictures.shown(name)}"' for name in names)
    if printed.sheets > len(sheets):  # a long chart goes on: nobody should hang up half of it
        charts += f" on {count(printed.sheets, 'sheet')} of {size.shown}"
    else:
        charts += f" on {size.shown}"
    terminal.say(f"Printed {charts}, to be read from {printed.readable_from:.1f} m: {where}.")
    if printed.long:
        long = count(printed.long, "chart")
        goes = "goes" if printed.long == 1 else "go"
        terminal.say(
            f"In letters for {metres:g} m, {long} {goes} on over several sheets; hang them side by "
            "side."
        )
    if printed.beside:
        have = "has a sheet" if printed.beside == 1 else f"has {count(printed.beside, 'sheet')}"
        terminal.say(f"What is told beside the steps {have} of its own.")
    drafts = list(dict.fromkeys(s.mark.reason for s in sheets if isinstance(s.mark, Draft)))
    if drafts:
        terminal.complain(f'Marked as a draft: {listed(drafts)}. "protocol-lang check" tells more.')
