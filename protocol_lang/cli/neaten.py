"""``neaten``: protocols in their usual layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command

if TYPE_CHECKING:
    from protocol_lang.outcome import FileOutcome


@click.command("neaten", cls=Command)
@click.argument("files", nargs=-1, required=True, metavar="FILES...")
@click.option("--write", is_flag=True, help="Put the neat text into the files.")
def command(files: Sequence[str], write: bool) -> ExitCode:
    """Write protocols, rooms, words and data in their usual layout.

    Indentation and blanks are set right; words, order and comments stay. The text is shown, or put
    into the files with --write. A file with faults in its text is left as it is.
    """
    done = [_carried_out(Path(file), write, len(files) > 1) for file in files]
    faulty = [one.faults for one in done if one.faults is not None]
    if faulty:
        _tell_faults(done)
    return weightiest(one.code for one in done)


@dataclass(frozen=True, slots=True)
class _Done:
    """How it went with one file. ``faults``: what is wrong in its text; ``lines``: the text."""

    code: ExitCode
    faults: FileOutcome | None = None
    lines: tuple[str, ...] = ()


def _carried_out(path: Path, write: bool, several: bool) -> _Done:
    try:
        return _neatened(path, write, several)
    except CannotCarryOut as error:
        # The other files are seen to all the same.
        terminal.complain(error.sentence)
        return _Done(ExitCode.NOT_CARRIED_OUT)


def _neatened(path: Path, write: bool, several: bool) -> _Done:
    from protocol_lang.cli.writing import replace
    from protocol_lang.language.neaten import neaten
    from protocol_lang.outcome import FileOutcome
    from protocol_lang.text import Unreadable, read_text
    from protocol_lang.wording import ENTRIES

    shown = terminal.visible_in_line(str(path))
    try:
        text = read_text(path)
    except Unreadable as error:
        raise CannotCarryOut(ENTRIES[error.kind].sentence(error.facts)) from None
    neat = neaten(text)
    if neat.text is None:
        faults = FileOutcome(str(path), kind="text", findings=neat.findings)
        return _Done(ExitCode.TO_CORRECT, faults, text.lines)
    if not write:
        if several:
            terminal.say(f"# {shown}")
        terminal.hand_over(neat.text)
    elif _same(path, neat.text):
        terminal.say(f'"{shown}" is neat already.')
    else:
        replace(path, neat.text)
        terminal.say(f'"{shown}" was changed.')
    return _Done(ExitCode.CLEAR)


def _same(path: Path, text: str) -> bool:
    """Whether the file holds exactly this text already, line ends and all."""
    try:
        return path.read_bytes() == text.encode("utf-8")
    except OSError as error:
        shown = terminal.visible_in_line(str(path))
        raise CannotCarryOut(f'"{shown}" could not be read: {error.strerror}.') from None


def _tell_faults(done: Sequence[_Done]) -> None:
    from protocol_lang.outcome import Outcome
    from protocol_lang.report import page

    faulty = {one.faults.file: one for one in done if one.faults is not None}
    outcome = Outcome(
        tuple(one.faults for one in faulty.values() if one.faults is not None),
        {file: one.lines for file, one in faulty.items()},
    )
    width, _, ascii_only = terminal.looks()
    terminal.complain(page.render(outcome, width, ascii_only=ascii_only, closing=False))
