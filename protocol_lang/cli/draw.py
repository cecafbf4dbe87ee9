"""``draw``: a protocol, or the path of one of its faults, as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, wanted_choices

if TYPE_CHECKING:
    from protocol_lang.contamination.judge import Judgement
    from protocol_lang.contamination.unfold import Unfolded
    from protocol_lang.diagram import Page
    from protocol_lang.findings import Finding, Remedy
    from protocol_lang.outcome import FileOutcome


@click.command("draw", cls=Command)
@click.argument("file")
@click.option(
    "-o", "target", metavar="NAME", required=True, help="Where to: a name in .pdf, .svg or .png."
)
@click.option(
    "--fault",
    type=int,
    metavar="NUMBER",
    help="Draw the path of this finding of the report over it.",
)
@click.option("--room", is_flag=True, help="Draw what meets what, and how far saliva can get.")
@choices_option
def command(
    file: str, target: str, fault: int | None, room: bool, choice: tuple[str, ...]
) -> ExitCode:
    """Draw a protocol, or one of its faults, as a picture.

    The picture shows which step must come before which, and which step makes true what another asks
    for. With --fault, how soil travels is drawn over it, step by step; the numbers are those that
    "check" gives, with the same choices.

    With --room, it shows the things of the room instead, who and what meets them, and how far a
    patient's saliva can get. With --fault as well, the room stands there twice: as it is, and with
    the first change that the report offers for this finding.
    """
    from protocol_lang.diagram import CannotDraw, Format, draw
    from protocol_lang.typesetter import CannotPrint

    to = Path(target)
    format = cast(Format, pictures.format_of(to, ("pdf", "svg", "png")))
    wanted = wanted_choices(choice)
    found = pictures.checked(file, wanted)
    unfolded, judgement = pictures.judged(found, "picture")
    if judgement.circle is not None:
        raise CannotCarryOut(
            "The order of the steps runs in a circle, which cannot be drawn from top to bottom. "
            '"protocol-lang check" tells which steps wait for each other.'
        )
    finding = _finding(found.outcome, fault) if fault is not None else None
    if room:
        page, drawn = _room(unfolded, judgement, finding, fault)
    else:
        page, drawn = _steps(unfolded, judgement, wanted, finding, fault)
    try:
        made = draw(page, format)
    except (CannotDraw, CannotPrint) as problem:
        raise CannotCarryOut(str(problem)) from None
    (name,) = pictures.write(to, [made], found.texts)
    terminal.say(f'Drew {drawn}: "{pictures.shown(name)}".')
    return pictures.code_of(pictures.of_these_choices(found.outcome))


def _steps(
    unfolded: Unfolded,
    judgement: Judgement,
    wanted: Mapping[str, str],
    finding: Finding | None,
    number: int | None,
) -> tuple[Page, str]:
    """The picture of the order, and what is in it."""
    from protocol_lang.diagram import steps_page
    from protocol_lang.pages.picture import picture
    from protocol_lang.wording.plain import count

    graph = picture(unfolded, judgement, wanted, finding)
    if finding is not None and graph.route is None:
        raise _no_path(number)
    return steps_page(graph), count(len(graph.nodes), "step")


def _room(
    unfolded: Unfolded, judgement: Judgement, finding: Finding | None, number: int | None
) -> tuple[Page, str]:
    """The picture of the room, and what is in it."""
    from protocol_lang.diagram import room_page
    from protocol_lang.pages.room_picture import mended, room_picture
    from protocol_lang.wording.plain import count

    if not judgement.judged:
        raise CannotCarryOut(
            "A step cannot be done as it stands, so nothing can be told of how soil gets on. "
            '"protocol-lang check" tells which step.'
        )
    drawn = room_picture(unfolded, judgement)
    told = count(len(drawn.spots), "thing or person", "things and people")
    if finding is None:
        return room_page(drawn), told
    better = mended(unfolded, judgement, finding)
    if better is None:
        raise CannotCarryOut(
            f"No change is known that ends the path of finding number {number}, so there is "
            "nothing to compare. Without --fault the room is drawn as it is."
        )
    *before, change = [_said(remedy) for remedy in better.changes]
    under = [f"The change: {change}"]
    if before:
        under.append(f"With what is offered for the findings before it: {' '.join(before)}")
    after = room_picture(better.unfolded, better.judgement)
    headings = ("As it is", f"With the change for finding {number}")
    return room_page(drawn, after, headings, tuple(under)), told


def _said(remedy: Remedy) -> str:
    """A change in one line."""
    from protocol_lang.wording import remedies

    said = remedies.said(remedy)
    lines = "; ".join(line.strip().removeprefix("[ ] ") for line in said.lines)
    return f"{said.sentence} {lines}." if lines else said.sentence


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
