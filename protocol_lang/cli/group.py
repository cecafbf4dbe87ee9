"""The commands by name, and how their help pages look.

A command is looked for only when it is called: the help page and a slip of the keyboard must not
wait for the parser, the solver or the typesetter.
"""

from __future__ import annotations

import importlib
import importlib.util

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import MEANINGS

#: Each command lies in the module of its name in this package, as ``command``.
SUMMARIES: dict[str, str] = {
    "check": "Prove protocols, or tell how soil gets from one patient to the next.",
    "audit": "Look at many files at once, and at the rules that they have to keep.",
    "compare": "Tell what a new edition changes, in its steps and in what follows from them.",
    "adopt": "Put a local edition onto a new edition of the protocol that it adapts.",
    "lapses": "Tell what opens a path if someone forgets, and how many things must go wrong.",
    "chart": "Print the wall chart of a protocol.",
    "card": "Print a card for the door, for whoever observes, or a summary.",
    "supplies": "Tell what is used up for each patient, and how much to order.",
    "texts": "Tell which texts of a chart are not translated yet.",
    "draw": "Draw a protocol, or one of its faults, as a picture.",
    "minutes": "Tell how long a visit takes, and whether contact times are kept.",
    "neaten": "Write protocols in their usual layout.",
    "start": "Write a new protocol to begin from.",
    "explain": "Tell what a word of the language or a kind of finding means.",
}

#: The columns of a help page; fewer on a screen that has fewer.
_WIDTH = 78


class _Shared(click.Command):
    """How help pages and usage errors read, for the whole and for each command."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the arguments; an error knows which command it is about."""
        try:
            return super().parse_args(ctx, args)
        except click.UsageError as error:
            error.ctx = error.ctx or ctx
            raise

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        """The option that shows the help page, through our own way to the screen."""
        return click.Option(
            ["--help"],
            is_flag=True,
            is_eager=True,
            expose_value=False,
            callback=_show_help,
            help="Show this page.",
        )

    def format_usage(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The first line of the help page."""
        formatter.width = terminal.columns(_WIDTH)
        pieces = " ".join(self.collect_usage_pieces(ctx))
        formatter.write_usage(ctx.command_path, pieces, prefix="Write  ")


class Command(_Shared):
    """A command of ours. Its function returns an :class:`~protocol_lang.cli.exits.ExitCode`."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the arguments; what is left over is told by name."""
        ctx.allow_extra_args = True
        rest = super().parse_args(ctx, args)
        if rest and not ctx.resilient_parsing:
            listed = ", ".join(f'"{word}"' for word in rest)
            raise click.UsageError(f'"{ctx.command_path}" can do nothing with {listed}.', ctx)
        return rest


class Group(_Shared, click.Group):
    """All commands whose modules are there, in the order of :data:`SUMMARIES`."""

    command_class = Command

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of the commands, without importing any."""
        return [name for name in SUMMARIES if importlib.util.find_spec(_module(name))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command = importlib.import_module(_module(cmd_name)).command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the first argument names; only its whole name will do."""
        name = args[0]
        command = self.get_command(ctx, name)
        if command is None:
            # Only now: a word that is close to one command alone is offered.
            from difflib import get_close_matches

            near = get_close_matches(name, self.list_commands(ctx), n=2)
            offer = f' The nearest is "{near[0]}".' if len(near) == 1 else ""
            raise click.UsageError(f'"{name}" is not a command of {ctx.command_path}.{offer}', ctx)
        return name, command, args[1:]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands with their summaries, taken from here and not from their modules."""
        listed = [(name, SUMMARIES[name]) for name in self.list_commands(ctx)]
        if listed:
            with formatter.section("Commands"):
                formatter.write_dl(listed)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Commands first, since they are what people look for; then options and exit codes."""
        self.format_commands(ctx, formatter)
        click.Command.format_options(self, ctx, formatter)
        with formatter.section("Exit codes"):
            formatter.write_dl([(str(int(code)), meaning) for code, meaning in MEANINGS.items()])


def _module(name: str) -> str:
    return f"protocol_lang.cli.{name}"


def _show_help(ctx: click.Context, parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        terminal.say(ctx.get_help())
        ctx.exit()


def _show_version(ctx: click.Context, parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        from protocol_lang import __version__

        terminal.say(f"protocol-lang {__version__}")
        ctx.exit()


@click.group(
    cls=Group,
    options_metavar="",
    subcommand_metavar="COMMAND ...",
    no_args_is_help=False,
    invoke_without_command=True,
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version of the program.",
)
@click.pass_context
def group(ctx: click.Context) -> None:
    """Check the infection control protocol of a dental imaging room, and print it.

    A protocol is proved as it is written. What people do is for the clinic to see to; local codes
    and licensed practice come first.

    "COMMAND --help" tells about a command.
    """
    if ctx.invoked_subcommand is None:
        raise click.UsageError("No command is named.", ctx)
