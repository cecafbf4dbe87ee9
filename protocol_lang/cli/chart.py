"""``chart``: wall charts, one for each way in which the choices of a protocol can be made; and
whether one that hangs on a wall is of the edition at hand."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.languages import in_language, known
from protocol_lang.cli.options import kept_rules_option, on_option, opened, wanted_choices
from protocol_lang.cli.sheets import Asked, Made, sheets_of

if TYPE_CHECKING:
    from protocol_lang.chart.paper import Paper
    from protocol_lang.chart.print import Printed
    from protocol_lang.chart.sheet import Sheet
    from protocol_lang.chart.typeset import Format

#: More charts than these are not made at once.
MOST_IN_A_SET = 480
#: Of more sheets than these for one chart it is told how there come to be fewer.
MANY_SHEETS = 8


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
@on_option
@kept_rules_option
@click.option(
    "--lapses", is_flag=True, help="Mark the steps that must not be left out, and why not."
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
    packs: tuple[str, ...],
    lapses: bool,
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
    asked = Asked(wanted, day, opened(packs), lapses)
    made: list[Made] = []
    sheets: list[Sheet] = []
    for path in _protocols(files):
        found = sheets_of(path, asked)
        made.append(found)
        sheets += in_language(found.sheets, language, str(path), found.checked)
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
    return weightiest(one.code for one in made)


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
    if not rest and not os.path.exists(first):
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
    if printed.most > MANY_SHEETS:
        terminal.say(
            f"Few walls hold {printed.most} sheets for one protocol. Larger paper, a shorter "
            'reading distance, or short texts of steps (short "…") make fewer of them.'
        )
    if printed.beside:
        have = "has a sheet" if printed.beside == 1 else f"has {count(printed.beside, 'sheet')}"
        terminal.say(f"What is told beside the steps {have} of its own.")
    drafts = list(dict.fromkeys(s.mark.reason for s in sheets if isinstance(s.mark, Draft)))
    if drafts:
        terminal.complain(f'Marked as a draft: {listed(drafts)}. "protocol-lang check" tells more.')
