"""``chart``: the wall chart of a protocol, one for each way in which its choices can be made."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.languages import in_language, known
from protocol_lang.cli.options import wanted_choices

if TYPE_CHECKING:
    from protocol_lang.chart.print import Printed
    from protocol_lang.chart.sheet import Mark, Sheet
    from protocol_lang.chart.typeset import Format
    from protocol_lang.pipeline import Checked

#: More charts than this are not made at once.
MOST_CHARTS = 48


@click.command("chart", cls=Command)
@click.argument("file")
@click.option(
    "-o", "target", metavar="NAME", required=True, help="Where to: a name in .pdf, .svg or .png."
)
@click.option("--paper", metavar="SIZE", default="A3", help="A4, A3 (the usual), Letter, Tabloid.")
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
def command(
    file: str, target: str, paper: str, choice: tuple[str, ...], on: str | None, language: str
) -> ExitCode:
    """Print the wall chart of a protocol.

    There is a chart for every way of choosing that changes what is done; a PDF holds them all, of
    pictures each page is a file of its own. The hands of everybody after every step, and what used
    hands must not touch, are worked out over all permitted orders. The whole protocol is checked
    first: only one without faults is marked as checked, any other is a draft.
    """
    from protocol_lang.chart.faults import CannotPrint
    from protocol_lang.chart.paper import Paper
    from protocol_lang.chart.print import render_all
    from protocol_lang.cli.check import _day

    to = Path(target)
    format = cast("Format", pictures.format_of(to, ("pdf", "svg", "png")))
    sizes = {size.shown.casefold(): size for size in Paper}
    if paper.casefold() not in sizes:
        named = ", ".join(size.shown for size in Paper)
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(paper)}" is not a size of paper. There are: {named}.'
        )
    size = sizes[paper.casefold()]
    day = _day(on)
    wanted = wanted_choices(choice)
    known(language)
    found = _found(file, wanted)
    sheets = in_language(_sheets(found, wanted, day), language, file, found.checked)
    try:
        printed = render_all(sheets, format, size)
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None
    names = pictures.write(to, printed.pages, found.checked.texts)
    _tell(names, sheets, printed, size.shown, found)
    return ExitCode.PARTLY_CHECKED if found.limited else pictures.code_of(found.checked.outcome)


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


def _sheets(found: _Found, wanted: dict[str, str], day: date) -> tuple[Sheet, ...]:
    from protocol_lang.chart.words import words_of
    from protocol_lang.pages import number_of_sheets, sheets

    unfolded, judgement = pictures.judged(found.checked, "chart")
    count = number_of_sheets(unfolded, wanted)
    if count > MOST_CHARTS:
        raise CannotCarryOut(
            f"That would be {count} charts. Name choices with --choice so that at most "
            f"{MOST_CHARTS} are left."
        )
    made = []
    for sheet in sheets(unfolded, judgement, _mark(found), wanted):
        cautions = sheet.cautions
        if sheet.review_by is not None and day > sheet.review_by:
            words = words_of(sheet.language)
            overdue = words.review_overdue.format(day=words.day(sheet.review_by))
            cautions = (*cautions, overdue)
        made.append(replace(sheet, cautions=cautions, checked_on=day))
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
    names: list[Path], sheets: tuple[Sheet, ...], printed: Printed, paper: str, found: _Found
) -> None:
    from protocol_lang.chart.sheet import Draft
    from protocol_lang.wording.plain import count, listed

    charts = count(len(sheets), "chart")
    where = listed(f'"{pictures.shown(name)}"' for name in names)
    if printed.sheets > len(sheets):  # a long chart goes on: nobody should hang up half of it
        charts += f" on {count(printed.sheets, 'sheet')} of {paper}"
    else:
        charts += f" on {paper}"
    terminal.say(f"Printed {charts}, to be read from {printed.readable_from:.1f} m: {where}.")
    mark = sheets[0].mark
    if isinstance(mark, Draft):
        terminal.complain(f'Marked as a draft: {mark.reason}. "protocol-lang check" tells more.')
