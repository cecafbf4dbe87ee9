"""``start``: a new protocol to begin from: a short one, or one of the library with its room."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command
from protocol_lang.cli.questions import NobodyAnswers, Wish, by_options, by_questions, told
from protocol_lang.cli.titles import file_name
from protocol_lang.language.opening import slug
from protocol_lang.library import Kept, copy, shelf

_TITLE = "New protocol"
_TEMPLATE = Path("templates", "new-protocol.protocol")


def _answers(function: Callable[..., ExitCode]) -> Callable[..., ExitCode]:
    """An option for each question of the library, under its name."""
    for question in reversed(shelf().questions):
        words = ", ".join(f'"{answer}"' if " " in answer else answer for answer in question.answers)
        function = click.option(
            f"--{question.name}",
            question.name,
            metavar="ANSWER",
            help=f"{question.asks} {words}.",
        )(function)
    return function


@click.command("start", cls=Command)
@click.argument("name", metavar="[NAME]", required=False)
@_answers
@click.option("--from", "like", metavar="TITLE", help="Copy the library's protocol of this title.")
@click.option("--room-name", metavar="NAME", help="What your own room is called.")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    name: str | None,
    like: str | None,
    room_name: str | None,
    **answers: str | None,
) -> ExitCode:
    """Write a new protocol that can be checked and changed at once.

    NAME is its title. At a terminal, some questions are asked about the room, and the protocol of
    the library that fits is copied into a new folder, together with its room. The options give the
    answers beforehand; nothing is asked then. With "--room none", or where nobody can be asked, one
    short protocol with comments is written into this folder.

    What is there already is never touched.
    """
    given = {question: answer for question, answer in answers.items() if answer is not None}
    try:
        if given or like is not None or room_name is not None:
            wish = by_options(given, like, name, room_name)
        elif terminal.can_ask():
            wish = by_questions(name)
        else:
            wish = Wish(None, name)
    except (KeyboardInterrupt, NobodyAnswers):
        raise CannotCarryOut("Ended before all was answered: nothing was written.") from None
    if wish.kept is not None:
        return _copy(wish.kept, wish)
    if wish.title is None:
        (argument,) = (one for one in ctx.command.params if one.name == "name")
        raise click.MissingParameter(ctx=ctx, param=argument)
    return _short(wish.title)


def _short(name: str) -> ExitCode:
    from protocol_lang.cli.writing import write_new

    title = " ".join(name.split())
    path = Path(f"{file_name(title)}.protocol")
    write_new(path, text(title))
    terminal.say(f'"{path}" was written. "protocol-lang check {path}" checks it.')
    return ExitCode.CLEAR


def _copy(kept: Kept, wish: Wish) -> ExitCode:
    from protocol_lang.cli.writing import write_folder

    title = kept.title if wish.title is None else " ".join(wish.title.split())
    room = None if wish.room is None else " ".join(wish.room.split())
    # The titles of the library are fit for files, and may be kept.
    path = Path(slug(title) if title == kept.title else file_name(title))
    if room is not None:
        plain = copy(kept.path).room
        if plain is None:
            raise CannotCarryOut(f'With "{kept.title}" no room is copied that could be named.')
        if room != plain:
            file_name(room)
    try:
        made = copy(kept.path, title, room)
    except ValueError:
        raise CannotCarryOut(
            f'With the title "{title}" two files of the copy would have the same name. Choose '
            "another title, or another name for the room."
        ) from None
    write_folder(path, {one.name: one.text for one in made.files})
    for line in told(path, kept, made):
        terminal.say(line)
    return ExitCode.CLEAR


def text(title: str) -> str:
    """The new protocol with that title."""
    from protocol_lang.resources import folder

    template = (folder("protocols") / _TEMPLATE).read_text("utf-8")
    return template.replace(f'protocol "{_TITLE}"', f'protocol "{title}"', 1)
