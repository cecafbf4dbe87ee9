"""``card``: what hangs or is carried beside the wall chart: for the door, for whoever observes, and
a summary on one page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.languages import in_language, known
from protocol_lang.cli.options import kept_rules_option, on_option, opened, wanted_choices
from protocol_lang.cli.sheets import Asked, Made, sheets_of

if TYPE_CHECKING:
    from protocol_lang.chart.cards.common import CardPaper, Cards
    from protocol_lang.chart.sheet import Sheet
    from protocol_lang.typesetter import Format

#: What there is, and what one of it is called.
KINDS = {"observation": "observation sheet", "door": "door card", "summary": "summary"}


@click.command("card", cls=Command)
@click.argument("kind", metavar="KIND")
@click.argument("file")
@click.option(
    "-o", "target", metavar="NAME", required=True, help="Where to: a name in .pdf, .svg or .png."
)
@click.option("--paper", metavar="SIZE", default="A4", help="A4 (the usual), A5, Letter.")
@click.option(
    "--choice",
    multiple=True,
    metavar="NAME=VALUE",
    help="Only cards for this value of a choice; may be given several times.",
)
@on_option
@kept_rules_option
@click.option("--language", metavar="CODE", default="en", help="en (the usual), es, fr, hi or ar.")
def command(
    kind: str,
    file: str,
    target: str,
    paper: str,
    choice: tuple[str, ...],
    on: str | None,
    packs: tuple[str, ...],
    language: str,
) -> ExitCode:
    """Print a card of a protocol, to go with its wall chart.

    KIND is one of three. "observation": every step with boxes for done, not done and not seen, for
    somebody who watches. "door": what is put on before going in and taken off, in order. "summary":
    what matters most, on one page. As for charts there is one for every way of choosing, the
    protocol is checked first, and one with faults gives a draft.
    """
    from protocol_lang.cli.check import _day
    from protocol_lang.typesetter import CannotPrint

    if kind not in KINDS:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(kind)}" is no kind of card. There are: {", ".join(KINDS)}.'
        )
    to = Path(target)
    format = cast("Format", pictures.format_of(to, ("pdf", "svg", "png")))
    size = _size(paper)
    known(language)
    found = sheets_of(Path(file), Asked(wanted_choices(choice), _day(on), opened(packs)))
    sheets = in_language(found.sheets, language, file, found.checked)
    try:
        cards = _printed(kind, sheets, found, format, size)
    except CannotPrint as problem:
        raise CannotCarryOut(str(problem)) from None
    names = pictures.write(to, cards.pages, found.checked.texts)
    _tell(kind, names, found, cards)
    return found.code


def _size(paper: str) -> CardPaper:
    from protocol_lang.chart.cards.common import CardPaper

    sizes = {size.name.casefold(): size for size in CardPaper}
    if paper.casefold() not in sizes:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(paper)}" is not a size of cards. There are: A4, A5, '
            "Letter."
        )
    return sizes[paper.casefold()]


def _printed(
    kind: str, sheets: tuple[Sheet, ...], found: Made, format: Format, size: CardPaper
) -> Cards:
    protocol = found.checked.protocol
    assert protocol is not None  # there are sheets of it
    if kind == "observation":
        from protocol_lang.chart.cards.observation import observation

        return observation(sheets, format, size)
    if kind == "door":
        from protocol_lang.chart.cards.door import door_card

        return door_card(sheets, protocol, format, size)
    from protocol_lang.chart.cards.summary import summary

    return summary(sheets, protocol, format, size)


def _tell(kind: str, names: list[Path], found: Made, cards: Cards) -> None:
    from protocol_lang.chart.sheet import Draft
    from protocol_lang.wording.plain import count, listed

    where = listed(f'"{pictures.shown(name)}"' for name in names)
    ways = count(len(found.sheets), "way")
    pages = count(cards.sheets, "page")
    terminal.say(f"Printed the {KINDS[kind]} for {ways} of choosing, on {pages}: {where}.")
    mark = found.sheets[0].mark
    if isinstance(mark, Draft):
        terminal.complain(f'Marked as a draft: {mark.reason}. "protocol-lang check" tells more.')
