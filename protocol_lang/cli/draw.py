"""``draw``: a protocol, or the path of one of its faults, as a picture."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, wanted_choices

if TYPE_CHECKING:
    from protocol_lang.findings import Finding
    from protocol_lang.outcome import FileOutcome


@click.command("draw", cls=Command)
@click.argument("file")
@click.option(
    "-o", "target", metavar="NAME", required=True, help="Where to: a name in .svg or .png."
)
@click.option(
    "--fault",
    type=int,
    metavar="NUMBER",
    help="Draw the path of this finding of the report over it.",
)
@choices_option
def command(file: str, target: str, fault: int | None, choice: tuple[str, ...]) -> ExitCode:
    """Draw a protocol, or one of its faults, as a picture.

    The picture shows which step must come before which, and which step makes true what another asks
    for. With --fault, how soil travels is drawn over it, step by step; the numbers are those that
    "check" gives, with the same choices.
    """
    from protocol_lang.diagram import CannotDraw, draw
    from protocol_lang.pages import picture

    to = Path(target)
    format = cast(Literal["svg", "png"], pictures.format_of(to, ("svg", "png")))
    wanted = wanted_choices(choice)
    found = pictures.checked(file, wanted)
    unfolded, judgement = pictures.judged(found, "picture")
    if judgement.circle is not None:
        raise CannotCarryOut(
            "The order of the steps runs in a circle, which cannot be drawn from top to bottom. "
            '"protocol-lang check" tells which steps wait for each other.'
        )
    finding = _finding(found.outcome, fault) if fault is not None else None
    graph = picture(unfolded, judgement, wanted, finding)
    if finding is not None and graph.route is None:
        raise _no_path(fault)
    try:
        made = draw(graph, format)
    except CannotDraw as problem:
        raise CannotCarryOut(str(problem)) from None
    (name,) = pictures.write(to, [made], found.texts)
    terminal.say(f'Drew {len(graph.nodes)} steps: "{pictures.shown(name)}".')
    return pictures.code_of(_of_these_choices(found.outcome))


def _of_these_choices(outcome: FileOutcome) -> FileOutcome:
    """A picture of some choices approves of nothing, so it need not answer for the others."""
    asked = tuple(one for one in outcome.unchecked if one.kind != "other-choices")
    return replace(outcome, unchecked=asked)


def _finding(outcome: FileOutcome, number: int) -> Finding:
    """The finding that the report gives this number."""
    from protocol_lang.outcome import Outcome
    from protocol_lang.report.told import tell

    (file,) = tell(Outcome((outcome,)))
    told = {one.number: one.finding for one in file.findings}
    if not told:
        raise CannotCarryOut("There are no findings, so there is no path to draw.")
    finding = told.get(number)
    if finding is None:
        there_is = "number 1 only" if len(told) == 1 else f"1 to {len(told)}"
        raise CannotCarryOut(f"There is no finding number {number}: the report has {there_is}.")
    if finding.route is None or not finding.route.steps:
        raise _no_path(number)
    return finding


def _no_path(number: int | None) -> CannotCarryOut:
    return CannotCarryOut(
        f"Finding number {number} is not about a path, so there is none to draw. "
        '"protocol-lang check" tells what it is about.'
    )
