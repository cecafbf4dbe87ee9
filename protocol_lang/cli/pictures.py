"""What ``chart`` and ``draw`` share: the protocol to begin from, and the file to write to."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode

if TYPE_CHECKING:
    from protocol_lang.contamination.judge import Judgement
    from protocol_lang.contamination.unfold import Unfolded
    from protocol_lang.outcome import FileOutcome
    from protocol_lang.pipeline import Checked
    from protocol_lang.text import Text


def format_of(target: Path, formats: Sequence[str]) -> str:
    """The format that the name of the file to write asks for, one of ``formats``.

    Raises :class:`CannotCarryOut` for any other name.
    """
    ending = target.suffix.lower().removeprefix(".")
    if ending not in formats:
        endings = [f".{one}" for one in formats]
        named = f"{', '.join(endings[:-1])} or {endings[-1]}"
        raise CannotCarryOut(
            f'The name after -o says what is made: it must end in {named}, and "{shown(target)}" '
            "does not."
        )
    return ending


def checked(
    file: str,
    only: Mapping[str, str],
    on: date | None = None,
    mend: bool = True,
    lasting: bool = False,
    instead: Mapping[str, Text] | None = None,
    name: str | None = None,
) -> Checked:
    """The file after all stages, with the choices limited as told; ``on``: the day of judgement;
    ``mend`` and ``instead`` as for :func:`~protocol_lang.pipeline.check_file`. ``lasting``:
    findings by their lasting identities, as an audit has them, and no changes. ``name``: how people
    see the file.

    Raises :class:`CannotCarryOut` with a sentence if it cannot be read or lacks one of the choices.
    """
    from dataclasses import replace

    from protocol_lang.cli.check import unreadable
    from protocol_lang.pipeline import NoSuchChoice, check_file
    from protocol_lang.text import Unreadable

    path = Path(file)
    if not os.path.lexists(path):
        raise CannotCarryOut(f'There is no file "{shown(path)}".')
    try:
        found = check_file(
            path,
            only,
            mend=mend and not lasting,
            on=on,
            name=name,
            lasting=lasting,
            instead=instead,
        )
    except NoSuchChoice as problem:
        raise CannotCarryOut(problem.sentence) from None
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    if not only:
        return found
    # That a step is for choices which were not asked for is no fault of it.
    left = tuple(one for one in found.outcome.findings if one.kind != "never-done")
    return replace(found, outcome=replace(found.outcome, findings=left))


def judged(found: Checked, what: str) -> tuple[Unfolded, Judgement]:
    """The plan and its judgement; ``what`` is to be made of them ("chart", "picture").

    Raises :class:`CannotCarryOut` if there is none, and says where the reasons are told.
    """
    outcome = found.outcome
    name = terminal.visible_in_line(outcome.file)
    if outcome.kind != "protocol":
        raise CannotCarryOut(
            f'"{name}" has no steps, so there is no {what} of it. Name a file that begins with '
            '"protocol".'
        )
    if found.unfolded is None or found.judgement is None:
        raise CannotCarryOut(
            f'There is no {what} of "{name}" yet, because of {reason(outcome)}. '
            f'"protocol-lang check" tells where and what to change.'
        )
    return found.unfolded, found.judgement


def reason(outcome: FileOutcome) -> str:
    """Why nothing can be made of a file, to stand after "because of"."""
    from protocol_lang.wording.plain import count

    if outcome.findings:
        return f"{count(faults(outcome), 'fault')} in its text"
    return "what could not be checked"


def faults(outcome: FileOutcome) -> int:
    """How many findings to correct the report counts."""
    from protocol_lang.findings import Weight
    from protocol_lang.report.told import in_order

    listed = in_order(outcome.findings, outcome.file)
    return sum(finding.weight is Weight.CORRECT for finding in listed)


def code_of(outcome: FileOutcome) -> ExitCode:
    """The exit code that the check of this file ends with."""
    from protocol_lang.outcome import Standing

    return {
        Standing.CORRECT: ExitCode.TO_CORRECT,
        Standing.UNCHECKED: ExitCode.PARTLY_CHECKED,
        Standing.CLEAR: ExitCode.CLEAR,
    }[outcome.standing]


def of_these_choices(outcome: FileOutcome) -> FileOutcome:
    """What was made of some choices approves of nothing, so it need not answer for the others."""
    from dataclasses import replace

    asked = tuple(one for one in outcome.unchecked if one.kind != "other-choices")
    return replace(outcome, unchecked=asked)


def write(target: Path, pages: Sequence[bytes], read: Iterable[str]) -> list[Path]:
    """Write the pages, each whole or not at all: one as ``target``, several as name-1, name-2 …

    ``read``: the files that the pages were made from, never written over. Gives what was written.
    """
    from protocol_lang.cli.writing import write_over

    names = [target]
    if len(pages) > 1:
        names = [
            target.with_name(f"{target.stem}-{number}{target.suffix}")
            for number in range(1, len(pages) + 1)
        ]
    sources = {os.path.realpath(one) for one in read}
    for name in names:
        if os.path.realpath(name) in sources:
            raise CannotCarryOut(
                f'"{shown(name)}" is what this is made from, and was left as it is. '
                "Choose another name after -o."
            )
    for name, page in zip(names, pages, strict=True):
        write_over(name, page)
    return names


def shown(path: Path) -> str:
    """The name of a file, fit for a sentence."""
    return terminal.visible_in_line(str(path))
