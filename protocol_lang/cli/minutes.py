"""``minutes``: how long a visit takes, and whether contact times are kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, on_option, wanted_choices

if TYPE_CHECKING:
    from datetime import date

    from protocol_lang.contamination.unfold import Unfolded
    from protocol_lang.timetable import Timetable

#: On paper and in files.
COLUMNS = 72

#: The longest session that makes sense: a day.
MOST_MINUTES = 24 * 60


@click.command("minutes", cls=Command)
@click.argument("file")
@click.option(
    "-o",
    "target",
    metavar="NAME",
    help="Where to: a picture in .pdf, .svg or .png, all of it in .json or .txt; the screen if it "
    "is not told.",
)
@click.option(
    "--session",
    type=int,
    default=240,
    show_default=True,
    metavar="MINUTES",
    help="How long a session is in which patients come one after the other.",
)
@choices_option
@click.option("--full", is_flag=True, help="Name every step of which no time is told.")
@on_option
def command(
    file: str,
    target: str | None,
    session: int,
    choice: tuple[str, ...],
    full: bool,
    on: str | None,
) -> ExitCode:
    """Tell how long a visit takes, and whether what has to stay wet is left alone long enough.

    The time is the least that any permitted order allows, with each step at its shortest and at its
    longest, and people working side by side. A contact time is kept if it is so in every permitted
    order, at whatever pace: then what lies between is named. Otherwise an order is shown in which
    it is too short. Waits count as kept, as they do in "check".

    A picture shows one visit along time. The exit code is 1 if a contact time may be too short, 4
    if one is not known; otherwise it is that of "check".
    """
    from protocol_lang.cli.check import _day
    from protocol_lang.order.runs import OutOfBudgetError
    from protocol_lang.schedule.cases import NoVisit
    from protocol_lang.schedule.whole import timetable

    if not 1 <= session <= MOST_MINUTES:
        raise CannotCarryOut(
            f"A session lasts from 1 to {MOST_MINUTES} minutes, and {session} is none of these."
        )
    to = None if target is None else Path(target)
    format = None
    if to is not None:
        format = pictures.format_of(to, ("pdf", "svg", "png", "json", "txt"))
    day = _day(on)
    found = pictures.checked(file, wanted_choices(choice), day)
    unfolded, judgement = pictures.judged(found, "time table")
    if judgement.layout is None or judgement.no_run:
        raise CannotCarryOut(
            "No order of the steps is permitted, so no visit can be timed. "
            '"protocol-lang check" tells which steps wait for each other.'
        )
    try:
        table = timetable(unfolded, judgement.layout, session)
    except NoVisit:  # pragma: no cover - the check has found an order
        raise CannotCarryOut("No order of the steps is permitted.") from None
    except OutOfBudgetError:
        raise CannotCarryOut(
            "The orders that this protocol permits are too tangled to be timed. Fewer blocks in "
            "one go, or --choice, make it easier."
        ) from None
    if to is None:
        from protocol_lang.report import minutes as page

        terminal.say_inked(page.render(table, day, *terminal.looks(), full))
    else:
        made = _made(table, unfolded, cast(str, format), day, full)
        (name,) = pictures.write(to, [made], found.texts)
        terminal.say(_upshot(table, name))
    return weightiest([pictures.code_of(found.outcome), _code(table)])


def _upshot(table: Timetable, name: Path) -> str:
    from protocol_lang.wording.minutes import upshot

    return f'{upshot(table)}\nAll of it: "{pictures.shown(name)}".'


def _made(table: Timetable, unfolded: Unfolded, format: str, day: date, full: bool) -> bytes:
    from protocol_lang import __version__

    if format == "json":
        from protocol_lang.report import minutes_json

        return (minutes_json.render(table, day, __version__) + "\n").encode("ascii")
    if format == "txt":
        from protocol_lang.report import minutes as page

        return (page.render(table, day, COLUMNS, full=full) + "\n").encode("utf-8")
    from protocol_lang.diagram.bars import draw_bars
    from protocol_lang.diagram.page import Format
    from protocol_lang.model.parts import PersonKind
    from protocol_lang.typesetter import CannotPrint
    from protocol_lang.wording import basis
    from protocol_lang.wording import minutes as words

    people = unfolded.protocol.people.values()
    others = frozenset(one.name for one in people if one.kind is not PersonKind.STAFF)
    course = table.course
    under = [
        f"One visit ({words.choices(course.choices)}): {words.about(course.ready)} until the next "
        "patient can come in.",
        "In the best order that is permitted, each step at the middle of its span.",
    ]
    try:
        return draw_bars(table, under, " ".join(basis.CAUTIONS), others, cast(Format, format))
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None


def _code(table: Timetable) -> ExitCode:
    from protocol_lang.timetable import Kept

    verdicts = {one.kept for one in table.contacts}
    if Kept.TOO_SHORT in verdicts:
        return ExitCode.TO_CORRECT
    if Kept.UNDECIDED in verdicts or not all(one.ready.sure for one in table.cases):
        return ExitCode.PARTLY_CHECKED
    return ExitCode.CLEAR
