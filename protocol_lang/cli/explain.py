"""``explain``: what a word of the language, a verb or a kind of finding means."""

from __future__ import annotations

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command


@click.command("explain", cls=Command)
@click.argument("words", nargs=-1, metavar="[WORD]")
def command(words: tuple[str, ...]) -> ExitCode:
    """Tell what a word means, with a good and a faulty example.

    WORD is a kind of finding or its number, a word of the language, or a verb ("disinfects").
    Without a WORD, all that can be explained is listed.
    """
    from protocol_lang.cli.verbs import packaged_verbs
    from protocol_lang.report.explained import Unknown, contents, find, render, subjects

    known = (*subjects(), *packaged_verbs())
    width, _, ascii_only = terminal.looks()
    if not words:
        terminal.say(contents(known, width, ascii_only))
        return ExitCode.CLEAR
    found = find(" ".join(words), known)
    if isinstance(found, Unknown):
        nearest = f' The nearest is "{found.nearest}".' if found.nearest else ""
        raise CannotCarryOut(
            f'Nothing is explained under "{terminal.visible_in_line(found.word)}".{nearest} '
            '"protocol-lang explain" lists all that is.'
        )
    terminal.say(render(found, width, ascii_only))
    return ExitCode.CLEAR
