"""``compare``: what is different between two editions, as steps and as consequences."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import on_option, opened

if TYPE_CHECKING:
    from protocol_lang.comparison import Comparison
    from protocol_lang.pipeline import Checked

#: On paper and in files.
COLUMNS = 72

TITLE = "What the new edition changes"


@click.command("compare", cls=Command)
@click.argument("old")
@click.argument("new", required=False)
@click.option(
    "-o",
    "target",
    metavar="NAME",
    help="Where to: a name in .pdf, .json or .txt; the screen if it is not told.",
)
@click.option(
    "--rules",
    "packs",
    metavar="PACK",
    multiple=True,
    help="A file of rules, or the title of a shipped one: which are kept now and were not.",
)
@on_option
def command(
    old: str, new: str | None, target: str | None, packs: tuple[str, ...], on: str | None
) -> ExitCode:
    """Tell what a new edition changes, in its steps and in what follows from them.

    OLD and NEW are two protocols, or two days, each beside the room that it takes words from. Both
    are checked. The first sentence says what the change amounts to: which paths of soil it opens or
    closes, and what is done otherwise. A step counts as moved only if some permitted order of the
    steps is another; what only stands on another line is told apart.

    With a local edition alone, OLD is the protocol that it adapts, and NEW the local edition.

    The exit code is that of "check" for NEW: 0 if nothing is to be corrected in it, 1 if something
    is, 4 if nothing is but part was not checked; 2 if the two could not be compared.
    """
    from protocol_lang.cli.check import _day
    from protocol_lang.pipeline import compared

    to = None if target is None else Path(target)
    format = None if to is None else pictures.format_of(to, ("pdf", "json", "txt"))
    day = _day(on)
    name = None
    if new is None:
        new = old
        old, name = _base_of(Path(old))
    was = pictures.checked(old, {}, day, lasting=True, name=name)
    is_now = pictures.checked(new, {}, day, lasting=True)
    _comparable(was, is_now)
    comparison = compared(was, is_now, tuple(pack.book for pack in opened(packs)), day)
    if to is None:
        from protocol_lang.report import compared as page

        terminal.say_inked(page.render(comparison, day, *terminal.looks()))
    else:
        made = _made(comparison, format, day)
        pictures.write(to, [made], [*was.texts, *is_now.texts])
        terminal.say(_told(comparison, to))
    return pictures.code_of(is_now.outcome)


def _base_of(path: Path) -> tuple[str, str]:
    """The file of the protocol that a local edition adapts, and its name as people see it.

    Raises :class:`CannotCarryOut`.
    """
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.load import load
    from protocol_lang.language.local import adapts
    from protocol_lang.text import Unreadable

    try:
        loaded = load(path)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    shown = pictures.shown(path)
    if loaded.base is not None:
        return str(loaded.base), loaded.adapted[-1].place.file
    if adapts(loaded.root) is not None:
        raise CannotCarryOut(
            f'What "{shown}" adapts cannot be read. "protocol-lang check" tells more.'
        )
    raise CannotCarryOut(
        f'"{shown}" adapts no other protocol. Name the two that are to be compared.'
    )


def _comparable(was: Checked, is_now: Checked) -> None:
    """Raises :class:`CannotCarryOut` unless both are protocols, or both are days."""
    from protocol_lang.wording import compared as words

    kinds = was.outcome.kind, is_now.outcome.kind
    if kinds not in (("protocol", "protocol"), ("day", "day")):
        names = [terminal.visible_in_line(one.outcome.file) for one in (was, is_now)]
        raise CannotCarryOut(words.other_kinds(names[0], kinds[0], names[1], kinds[1]))


def _made(comparison: Comparison, format: str | None, day: date) -> bytes:
    from protocol_lang import __version__
    from protocol_lang.report import compared as page

    if format == "json":
        from protocol_lang.report import compared_json

        return (compared_json.render(comparison, day, __version__) + "\n").encode("ascii")
    if format == "txt":
        return (page.render(comparison, day, COLUMNS) + "\n").encode("utf-8")
    from protocol_lang.chart.account import Account, render
    from protocol_lang.chart.faults import CannotPrint

    sections = [
        (section.heading, [(row.label, row.lines) for row in section.rows])
        for section in page.sections(comparison, day)
    ]
    title = comparison.new.outcome.title or comparison.old.outcome.title
    foot = f"{TITLE}: {title}" if title else TITLE
    try:
        return render(Account(TITLE, page.upshot(comparison), sections, foot), day)
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None


def _told(comparison: Comparison, to: Path) -> str:
    from protocol_lang.report.compared import upshot

    return f'{upshot(comparison)}\nAll of it: "{pictures.shown(to)}".'
