"""Options that several commands share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut

if TYPE_CHECKING:
    from protocol_lang.audit.packs import Pack

choices_option = click.option(
    "--choice",
    multiple=True,
    metavar="NAME=VALUE",
    help="Look only at this value of a choice; may be given several times.",
)

on_option = click.option(
    "--on", metavar="DATE", help="The day of judgement, as 2026-11-02; today if it is not told."
)
#: Of what is printed and hung up.
kept_rules_option = click.option(
    "--rules",
    "packs",
    metavar="PACK",
    multiple=True,
    help="A file of rules, or the title of a shipped one, that has to be kept as well.",
)


def opened(packs: tuple[str, ...]) -> tuple[Pack, ...]:
    """The files of rules asked for. Raises :class:`CannotCarryOut` for one that cannot be used."""
    if not packs:
        return ()
    from protocol_lang.audit.packs import NoPack, open_pack

    try:
        return tuple(open_pack(asked) for asked in packs)
    except NoPack as problem:
        raise CannotCarryOut(problem.sentence) from None


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
