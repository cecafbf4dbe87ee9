"""``check``: prove protocols, or tell how soil travels."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, on_option, wanted_choices

if TYPE_CHECKING:
    from protocol_lang.outcome import FileOutcome
    from protocol_lang.text import Text

#: A folder with more files than this is not looked through.
MOST_FILES = 5_000


@click.command("check", cls=Command)
@click.argument("paths", metavar="PATHS...", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Give the findings as data.")
@choices_option
@click.option("--full", is_flag=True, help="List everything that the answer rests on.")
@on_option
def command(
    paths: tuple[str, ...], as_json: bool, choice: tuple[str, ...], full: bool, on: str | None
) -> ExitCode:
    """Prove protocols, or tell how soil gets from one patient to the next.

    PATHS are files, or folders whose files are all looked at. Every order that a protocol permits,
    every combination of its choices and any number of patients in a row are decided.
    """
    from protocol_lang import __version__
    from protocol_lang.outcome import Outcome

    only = wanted_choices(choice)
    day = _day(on)
    texts: dict[str, Text] = {}
    files: list[FileOutcome] = []
    refused: list[CannotCarryOut] = []
    for path, named in _files(paths, refused):
        try:
            files.append(_check(path, named, only, texts, day))
        except CannotCarryOut as problem:
            refused.append(problem)
    if refused and not files:
        for other in refused[1:]:
            terminal.complain(other.sentence)
        raise refused[0]
    outcome = Outcome(
        tuple(files), {name: text.lines for name, text in texts.items()}, day, __version__
    )
    if as_json:
        from protocol_lang.report import json

        terminal.say(json.render(outcome))
    else:
        from protocol_lang.report import page

        width, colour, ascii_only = terminal.looks()
        terminal.say_inked(page.render(outcome, width, colour, ascii_only, full))
    for other in refused:  # what could be checked has been told; the rest is told beside it
        terminal.complain(other.sentence)
    return weightiest([_code(outcome), *(ExitCode.NOT_CARRIED_OUT for _ in refused)])


def _check(
    path: Path, named: bool, only: dict[str, str], texts: dict[str, Text], day: date
) -> FileOutcome:
    """One file. What keeps it from being checked ends the command only if it was named itself."""
    from protocol_lang.pipeline import NoSuchChoice, check_file
    from protocol_lang.text import Unreadable

    if not named and (os.path.islink(path) or not os.path.isfile(path)):
        what = "a link, which is not followed" if os.path.islink(path) else "no ordinary file"
        return _left_out(path, f"it is {what}")
    try:
        checked = check_file(path, only, on=day)
    except (NoSuchChoice, Unreadable) as problem:
        why = problem.sentence if isinstance(problem, NoSuchChoice) else unreadable(problem)
        if named:
            raise CannotCarryOut(why) from None
        return _left_out(path, why)
    texts.update(checked.texts)
    return checked.outcome


def _left_out(path: Path, why: str) -> FileOutcome:
    from protocol_lang.findings import Unchecked
    from protocol_lang.outcome import FileOutcome

    facts = {"file": str(path), "why": why}
    return FileOutcome(str(path), "protocol", unchecked=(Unchecked("not-readable", facts),))


def unreadable(problem: Exception) -> str:
    """What keeps a file from being read, in one sentence."""
    from protocol_lang.wording import ENTRIES

    kind = getattr(problem, "kind", "")
    facts = getattr(problem, "facts", {})
    entry = ENTRIES.get(kind)
    return entry.sentence(facts) if entry is not None else str(problem)


def _files(paths: tuple[str, ...], refused: list[CannotCarryOut]) -> Iterator[tuple[Path, bool]]:
    """The files to look at, each once, and whether it was named itself.

    What is not there goes to ``refused``.
    """
    seen: set[Path] = set()
    for one in paths:
        path = Path(one)
        shown = terminal.visible_in_line(one)
        if not os.path.lexists(path):
            refused.append(CannotCarryOut(f'There is no file or folder "{shown}".'))
        elif os.path.isdir(path):
            inside = sorted(_inside(path))
            if not inside:
                told = f'The folder "{shown}" holds no file that ends in .protocol.'
                refused.append(CannotCarryOut(told))
            for file in inside:
                where = file if os.path.islink(file) else Path(os.path.realpath(file))
                if where not in seen:
                    seen.add(where)
                    yield file, False
        elif (real := Path(os.path.realpath(path))) not in seen:
            seen.add(real)
            yield path, True


def _inside(folder: Path) -> Iterator[Path]:
    """Everything in a folder and below that goes by our ending; links are listed, not followed."""
    found = 0
    for parent, folders, names in os.walk(folder, followlinks=False):
        folders.sort()
        linked = {name for name in folders if (Path(parent) / name).is_symlink()}
        for name in sorted([*names, *linked]):
            if name not in linked and Path(name).suffix.lower() != ".protocol":
                continue
            found += 1
            if found > MOST_FILES:
                raise CannotCarryOut(
                    f'"{terminal.visible_in_line(str(folder))}" holds more than {MOST_FILES} '
                    "files. Name a smaller folder."
                )
            yield Path(parent) / name


def _day(on: str | None) -> date:
    if on is None:
        return date.today()
    try:
        return date.fromisoformat(on)
    except ValueError:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(on)}" is not a day. Write it as 2026-11-02.'
        ) from None


def _code(outcome: object) -> ExitCode:
    from protocol_lang.outcome import Outcome, Standing

    assert isinstance(outcome, Outcome)
    return {
        Standing.CORRECT: ExitCode.TO_CORRECT,
        Standing.UNCHECKED: ExitCode.PARTLY_CHECKED,
        Standing.CLEAR: ExitCode.CLEAR,
    }[outcome.standing]
