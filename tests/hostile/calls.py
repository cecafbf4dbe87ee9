"""How each command is called with a file: taken from the commands themselves, so that no new one,
and no new option, can be forgotten."""

from __future__ import annotations

from collections.abc import Mapping

import click

from protocol_lang.cli.group import group

#: What stands for the hostile file, for a sound protocol and for what is written.
FILE, GOOD, OUT = "{file}", "{good}", "{out}"

#: By command: ways to call it with a file of the language. ``OUT`` is followed by its ending.
WITH_A_TEXT: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "check": ((FILE,), (FILE, "--json"), (FILE, "--full", "--choice", "staffing=alone")),
    "audit": ((FILE, "-o", OUT + ".json"), (GOOD, "--rules", FILE), (GOOD, "--waivers", FILE)),
    "compare": ((FILE, GOOD), (GOOD, FILE, "-o", OUT + ".json"), (GOOD, GOOD, "--rules", FILE)),
    "lapses": ((FILE, "--together", "1"), (FILE, "--together", "1", "-o", OUT + ".json")),
    "chart": (
        (FILE, "-o", OUT + ".svg"),
        (GOOD, "--rules", FILE, "-o", OUT + ".pdf"),
        (FILE, "--verify", "ABCD"),
    ),
    "card": (
        ("summary", FILE, "-o", OUT + ".svg"),
        ("summary", GOOD, "--rules", FILE, "-o", OUT + ".pdf"),
    ),
    "supplies": ((FILE,), (FILE, "-o", OUT + ".csv")),
    "texts": ((FILE, "--language", "es"), (FILE, "--language", "es", "-o", OUT + ".es.po")),
    "draw": ((FILE, "-o", OUT + ".svg"), (FILE, "--room", "-o", OUT + ".svg")),
    "minutes": ((FILE,), (FILE, "-o", OUT + ".svg")),
    "neaten": ((FILE,), (FILE, "--write")),
    "start": ((FILE,),),
    "adopt": ((FILE,), (FILE, "-o", OUT + ".protocol"), (GOOD, "--base", FILE)),
    "explain": ((FILE,),),
}

#: With a translation beside the file.
WITH_A_TRANSLATION: tuple[tuple[str, ...], ...] = (
    ("texts", FILE, "--language", "es"),
    ("texts", FILE, "--language", "es", "-o", OUT + ".es.po"),
    ("chart", FILE, "--language", "es", "-o", OUT + ".svg"),
    ("card", "summary", FILE, "--language", "es", "-o", OUT + ".svg"),
)

#: With a report of an audit.
WITH_A_REPORT: tuple[tuple[str, ...], ...] = (
    ("audit", "{folder}", "--earlier", FILE),
    ("audit", "{folder}", "--verify", FILE),
)

#: Options that name a file to be read, by command, and those that name one to be written.
READS = {
    ("audit", "--rules"),
    ("audit", "--waivers"),
    ("audit", "--earlier"),
    ("audit", "--verify"),
    ("adopt", "--base"),
    ("adopt", "--was"),
}
READS |= {(command, "--rules") for command in ("compare", "chart", "card")}
WRITES = frozenset({"-o"})

#: Options that no strange value is tried with: the name of a computer would be looked for.
LEFT_OUT = {("audit", "--cluster")}


def commands() -> Mapping[str, click.Command]:
    """Every command of the program."""
    with click.Context(group) as context:
        found = {name: group.get_command(context, name) for name in group.list_commands(context)}
    return {name: command for name, command in found.items() if command is not None}


def options() -> list[tuple[str, str]]:
    """Every option that takes a value, with its command."""
    return [
        (name, one.opts[-1])
        for name, command in commands().items()
        for one in command.params
        if isinstance(one, click.Option) and not one.is_flag
    ]
