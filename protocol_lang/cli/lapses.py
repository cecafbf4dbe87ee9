"""``lapses``: what opens a path if someone forgets, and how many things must go wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, on_option, wanted_choices

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from protocol_lang.diagram.page import Format
    from protocol_lang.lapsed import Lapsed
    from protocol_lang.lapses.improving import Reader
    from protocol_lang.pipeline import Checked
    from protocol_lang.text import Text

#: In files.
COLUMNS = 72

#: Forms of the picture of rates.
DRAWN = ("pdf", "svg", "png")

TITLE = "What if someone forgets?"


@click.command("lapses", cls=Command)
@click.argument("file")
@click.option(
    "-o",
    "target",
    metavar="NAME",
    help="Where to: a name in .pdf, .json or .txt; the screen if it is not told.",
)
@click.option(
    "--together",
    default="2",
    metavar="NUMBER",
    help="How many lapses are put together, 1 to 3; 2 if it is not told. 3 can take minutes.",
)
@click.option("--rates", is_flag=True, help="Rank by published rates, as a comparison.")
@click.option(
    "--picture",
    "drawn",
    metavar="NAME",
    help="With --rates: draw which rate matters most, into a name in .pdf, .svg or .png.",
)
@click.option(
    "--improve", is_flag=True, help="Try single changes and tell those that help; can take minutes."
)
@click.option("--full", is_flag=True, help="List every set that opens a path, with its story.")
@choices_option
@on_option
def command(
    file: str,
    target: str | None,
    together: str,
    rates: bool,
    drawn: str | None,
    improve: bool,
    full: bool,
    choice: tuple[str, ...],
    on: str | None,
) -> ExitCode:
    """Tell which steps must never be left out, and how many things must go wrong.

    FILE is a protocol. A lapse is one thing that goes wrong at one place: a step left out, a
    contact time cut short, a cover that leaks, a cover taken off uncleanly, a step done with bare
    hands. The margin is the fewest lapses after which soil of a patient can get to another person;
    all smallest sets of lapses are found, for every order, choice and number of patients.
    """
    from protocol_lang.cli.check import _day

    to = None if target is None else Path(target)
    form = None if to is None else pictures.format_of(to, ("pdf", "json", "txt"))
    day = _day(on)
    if together not in ("1", "2", "3"):
        shown = terminal.visible_in_line(together)
        raise CannotCarryOut(f'Put 1, 2 or 3 together: "{shown}" is none of these.')
    picture = _picture(drawn, rates, to)
    found = pictures.checked(file, wanted_choices(choice), day)
    read = _reader(file, wanted_choices(choice), day) if improve else None
    told = _told(found, int(together), rates, full or improve or form is not None, read)
    if picture is not None:
        pictures.write(picture, [_drawn(told, pictures.format_of(picture, DRAWN))], found.texts)
    if to is None:
        from protocol_lang.report import lapsed as page

        terminal.say_inked(page.render(told, day, *terminal.looks(), full))
    else:
        pictures.write(to, [_made(told, form, day)], found.texts)
        from protocol_lang.report.lapsed import upshot

        terminal.say(f'{upshot(told)}\nAll of it: "{pictures.shown(to)}".')
    if picture is not None:
        terminal.say(f'Which rate matters most: "{pictures.shown(picture)}".')
    code = pictures.code_of(found.outcome)
    return ExitCode.PARTLY_CHECKED if code is ExitCode.CLEAR and told.undecided else code


def _picture(drawn: str | None, rates: bool, to: Path | None) -> Path | None:
    """Where the picture goes, if one is asked for. Raises :class:`CannotCarryOut`."""
    if drawn is None:
        return None
    picture = Path(drawn)
    pictures.format_of(picture, DRAWN)
    if not rates:
        raise CannotCarryOut("A picture of rates needs the rates: add --rates.")
    if to is not None and picture.resolve() == to.resolve():
        raise CannotCarryOut("The report and the picture need two names.")
    return picture


def _drawn(told: Lapsed, form: str) -> bytes:
    """The picture. Raises :class:`CannotCarryOut` where there is nothing to draw."""
    from protocol_lang.diagram.tornado import draw_tornado
    from protocol_lang.typesetter import CannotPrint
    from protocol_lang.wording import basis
    from protocol_lang.wording import lapsed as words

    if not told.rankings:
        raise CannotCarryOut(words.NOTHING_TO_DRAW)
    try:
        return draw_tornado(
            told.rankings,
            words.TORNADO_TITLE,
            (told.title, words.COMPARISON),
            " ".join(basis.CAUTIONS),
            words.TORNADO,
            words.sum_of,
            words.rate_and_sum,
            words.share,
            cast("Format", form),
        )
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None


def _reader(file: str, only: Mapping[str, str], day: date) -> Reader:
    """Reads and checks the protocol as it would be with changes, which are not written."""
    from protocol_lang.lapses.improving import Read

    def read(texts: Mapping[str, Text]) -> Read:
        found = pictures.checked(file, only, day, mend=False, instead=texts)
        outcome = found.outcome
        return Read(outcome.findings, len(outcome.unchecked), found.unfolded, found.judgement)

    return read


def _told(
    found: Checked,
    together: int,
    rates: bool,
    stories: bool,
    read: Reader | None = None,
) -> Lapsed:
    """The report; with ``read``, single changes are tried.

    Raises :class:`CannotCarryOut` where there is nothing to ask about.
    """
    from protocol_lang.lapsed import Lapsed
    from protocol_lang.lapses.doing import NoListedOrder
    from protocol_lang.lapses.telling import MOST_STORIES, lapsed_of
    from protocol_lang.outcome import Standing
    from protocol_lang.report.told import sentences_to_correct

    unfolded, judgement = pictures.judged(found, "list of lapses")
    outcome = found.outcome
    name = terminal.visible_in_line(outcome.file)
    if outcome.standing is Standing.CORRECT:
        header = unfolded.protocol.header
        return Lapsed(name, header.title, header.edition, sentences_to_correct(outcome))
    try:
        told, lapses, smallest = lapsed_of(
            unfolded, judgement, name, together, MOST_STORIES if stories else 1
        )
    except NoListedOrder:
        raise CannotCarryOut(
            f'Lapses of "{name}" are not looked at: its steps hang together so that no order that '
            "follows the list was found within the limit of counted steps."
        ) from None
    if rates:
        from protocol_lang.lapses.chances import ranked

        told = ranked(told, unfolded, lapses, smallest)
    if read is not None:
        from protocol_lang.lapses.improving import improved

        told = replace(
            told, improvement=improved(told, unfolded, lapses, smallest, found.texts, read)
        )
    return told


def _made(told: Lapsed, form: str | None, day: object) -> bytes:
    from datetime import date

    from protocol_lang import __version__

    assert isinstance(day, date)
    if form == "json":
        from protocol_lang.report import lapsed_json

        return (lapsed_json.render(told, day, __version__) + "\n").encode("ascii")
    from protocol_lang.report import lapsed as page

    if form == "txt":
        return (page.render(told, day, COLUMNS, full=True) + "\n").encode("utf-8")
    from protocol_lang.chart.account import Account, render
    from protocol_lang.chart.faults import CannotPrint

    sections = [
        (section.heading, [(row.label, row.lines) for row in section.rows])
        for section in page.sections(told, day)
    ]
    account = Account(
        TITLE, f"{told.title}. {page.upshot(told)}", sections, f"{TITLE} {told.title}"
    )
    try:
        return render(account, day)
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None
