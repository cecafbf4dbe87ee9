"""Options that several commands share."""

from __future__ import annotations

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut

choices_option = click.option(
    "--choice",
    multiple=True,
    metavar="NAME=VALUE",
    help="Look only at this value of a choice; may be given several times.",
)


def wanted_choices(words: tuple[str, ...]) -> dict[str, str]:
    """The choices asked for on the command line, by name."""
    found: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise CannotCarryOut(
                f'"{terminal.visible_in_line(word)}" is not a choice. Write it as "staffing=alone".'
            )
        name, value = " ".join(name.split()), " ".join(value.split())
        if found.get(name, value) != value:
            raise CannotCarryOut(
                f'The choice "{name}" was given twice, as "{found[name]}" and as "{value}". '
                "Give one of them, or leave both out to look at all."
            )
        found[name] = value
    return found
