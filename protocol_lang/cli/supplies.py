"""``supplies``: what is used up for each patient and in a session, and how much to order."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import choices_option, wanted_choices

if TYPE_CHECKING:
    from protocol_lang.outcome import FileOutcome
    from protocol_lang.pipeline import Checked
    from protocol_lang.stock import Asked
    from protocol_lang.supplied import Share, Supplies

#: On paper and in files.
COLUMNS = 72

#: A file of shares that is longer than this is not read, in bytes.
MOST_BYTES = 100_000


@click.command("supplies", cls=Command)
@click.argument("file")
@click.option(
    "-o",
    "target",
    metavar="NAME",
    help="Where to: a name in .csv, .json or .txt; the screen if it is not told.",
)
@choices_option
@click.option("--visits", metavar="NUMBER", help='Visits in a session: "12", or "10 to 14".')
@click.option(
    "--mix",
    metavar="SHARE",
    multiple=True,
    help='Which visits come: "60 % staffing=alone; exposure=4", as often as there are shares; or '
    "the name of a file with one share on a line.",
)
@click.option("--days", type=int, metavar="NUMBER", help="So many days the order has to last.")
@click.option(
    "--service", metavar="PERCENT", help="In so many periods of a hundred the order is enough."
)
@click.option("--every", type=int, metavar="MINUTES", help="From one visit to the next.")
@click.option("--opens", metavar="TIME", help='When the first visit begins, as "8:00".')
@click.option("--cycle", type=int, metavar="MINUTES", help="From dirty to back, for a load.")
@click.option("--places", type=int, metavar="NUMBER", help="Pieces for which a load has room.")
@click.option(
    "--loads", metavar="TIMES", help='When loads begin: "10:30, 13:00", or "every 90 minutes".'
)
def command(
    file: str,
    target: str | None,
    choice: tuple[str, ...],
    visits: str | None,
    mix: tuple[str, ...],
    days: int | None,
    service: str | None,
    every: int | None,
    opens: str | None,
    cycle: int | None,
    places: int | None,
    loads: str | None,
) -> ExitCode:
    """Tell what is used up: for each patient, in a session, and how much to order.

    FILE is a protocol, or a day with all that happens in a room. Counted are the pieces that its
    steps take new, from the least to the most over all that may be chosen or found out, and on
    which choices the number depends; what goes into which waste; and of what comes back from
    treatment, how many are needed so that none is used before it is back.

    What the protocol or its room does not tell is told with the options, or taken as usual, and
    the list says so. Figures that are looked for: "gloves in a box", "weight of gloves", "visits
    in a session", "time from visit to visit", "reprocessing time", "places in a load".

    With --mix an order list is made for what comes, with a safety stock. The exit code is that of
    "check": 0 if nothing is to be corrected, 1 if something is, 4 if part was not checked.
    """
    from protocol_lang.stock import CannotCount, account_of

    to = None if target is None else Path(target)
    format = None if to is None else pictures.format_of(to, ("csv", "json", "txt"))
    wanted = wanted_choices(choice)
    try:
        asked = _asked(visits, mix, days, service, every, opens, cycle, places, loads)
        found = _checked(file, wanted)
        assert found.protocol is not None
        supplies = account_of(found.protocol, found.outcome.file, wanted, asked)
    except CannotCount as problem:
        raise CannotCarryOut(terminal.visible_in_line(problem.sentence)) from None
    if to is None:
        from protocol_lang.report import supplies as page

        width, colour, ascii_only = terminal.looks()
        told = page.render(
            supplies, _standing(found.outcome), _notes(found), width, colour, ascii_only
        )
        terminal.say_inked(told)
    else:
        assert format is not None
        pictures.write(to, [_made(supplies, found, format)], found.texts)
        from protocol_lang.wording import supplies as words

        terminal.say(words.told(len(supplies.session.used), pictures.shown(to)))
    return pictures.code_of(found.outcome)


def _asked(
    visits: str | None,
    mix: tuple[str, ...],
    days: int | None,
    service: str | None,
    every: int | None,
    opens: str | None,
    cycle: int | None,
    places: int | None,
    loads: str | None,
) -> Asked:
    """What the options say. Raises :class:`CannotCount` or :class:`CannotCarryOut`."""
    from protocol_lang.stock import Asked, asked

    times, between = asked.loads_of(loads) if loads is not None else ((), None)
    return Asked(
        asked.visits_of(visits) if visits is not None else None,
        _within("--every", every, asked.MOST_MINUTES),
        asked.clock_of(opens) if opens is not None else None,
        _within("--days", days, asked.MOST_DAYS),
        asked.service_of(service) if service is not None else None,
        _within("--cycle", cycle, asked.MOST_MINUTES),
        _within("--places", places, asked.MOST_PLACES),
        times,
        between,
        _mix(mix),
    )


def _within(option: str, number: int | None, most: int) -> int | None:
    if number is not None and not 1 <= number <= most:
        raise CannotCarryOut(f"{option} is a number from 1 to {most:,}, and not {number}.")
    return number


def _mix(words: tuple[str, ...]) -> tuple[Share, ...]:
    """The shares that are told, or those of a file."""
    from protocol_lang.stock import mix

    shares: list[Share] = []
    for word in words:
        if mix.is_share(word):
            shares.append(mix.share_of(word))
        else:
            shares += mix.shares_of(_lines(word))
    if words and not shares:
        raise CannotCarryOut("The mix has no shares. Write one on a line, as "
                             '"60 % staffing=alone".')  # fmt: skip
    return tuple(shares)


def _lines(name: str) -> list[str]:
    path = Path(name)
    shown = pictures.shown(path)
    try:
        if not os.path.isfile(path):
            raise CannotCarryOut(
                f'"{shown}" is no share of the visits, and no file with shares. Write a share as '
                '"60 % staffing=alone".'
            )
        if path.stat().st_size > MOST_BYTES:
            raise CannotCarryOut(f'"{shown}" is too long for a file of shares.')
        return path.read_text("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise CannotCarryOut(f'"{shown}" is no plain text in UTF-8.') from None
    except OSError as error:
        raise CannotCarryOut(f'"{shown}" cannot be read: {error.strerror}.') from None


def _checked(file: str, wanted: dict[str, str]) -> Checked:
    """The file after all stages. Raises :class:`CannotCarryOut` where nothing can be counted."""
    from protocol_lang.wording import supplies as words

    found = pictures.checked(file, wanted)
    found = replace(found, outcome=pictures.of_these_choices(found.outcome))
    name = terminal.visible_in_line(found.outcome.file)
    if found.outcome.kind not in ("protocol", "day"):
        raise CannotCarryOut(words.no_steps(name))
    if found.protocol is None or found.unfolded is None:
        raise CannotCarryOut(words.no_list(name, pictures.reason(found.outcome)))
    return found


def _standing(outcome: FileOutcome) -> str | None:
    """What is said at the head of the list: nothing, if nothing is to be corrected."""
    from protocol_lang.outcome import Standing

    return None if outcome.standing is Standing.CLEAR else outcome.standing.value


def _notes(found: Checked) -> dict[str, str]:
    """What the room says of its waste streams."""
    assert found.protocol is not None
    streams = found.protocol.streams.values()
    return {one.name: one.note for one in streams if one.note is not None and one.to is None}


def _made(supplies: Supplies, found: Checked, format: str) -> bytes:
    from protocol_lang import __version__

    if format == "json":
        from protocol_lang.report import supplies_json

        standing = found.outcome.standing.value
        return (supplies_json.render(supplies, standing, __version__) + "\n").encode("ascii")
    if format == "csv":
        from protocol_lang.report import supplies_csv

        return supplies_csv.render(supplies).encode("utf-8")
    from protocol_lang.report import supplies as page

    text = page.render(supplies, _standing(found.outcome), _notes(found), COLUMNS)
    return (text + "\n").encode("utf-8")
