"""From the command line to an exit code, whatever happens on the way."""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from collections.abc import Iterator, Sequence
from types import FrameType

import click

from protocol_lang.cli import terminal, usage
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import group

#: Set to anything but nothing: a fault of the program is shown with the place in its code.
TRACE = "PROTOCOL_LANG_TRACE"

#: So many objects more than have been let go, before Python looks for circles among them. What the
#: program makes it mostly keeps, and looking every 700 takes a tenth of a check; of a whole day a
#: look every 50,000 still takes a twentieth, for three megabytes.
OBJECTS_UNTIL_CIRCLES = 1_000_000


def main(arguments: Sequence[str] | None = None) -> int:
    """Carry out a command line and return its exit code (see :class:`ExitCode`).

    ``arguments``: without the program's name; by default those the program was started with.
    No error gets past here: each is told in a sentence on standard error.
    """
    gc.set_threshold(OBJECTS_UNTIL_CIRCLES, *gc.get_threshold()[1:])
    terminal.prepare()
    try:
        with _ending_as_asked():
            code = _carry_out(sys.argv[1:] if arguments is None else arguments)
        terminal.finish()
    except terminal.OutputLostError as lost:
        terminal.abandon()
        if lost.reason is not None:
            terminal.complain(f"The result could not be written: {lost.reason}.")
        code = ExitCode.NOT_CARRIED_OUT
    return int(code)


@contextlib.contextmanager
def _ending_as_asked() -> Iterator[None]:
    """Who is asked to end (by a computer that is shut down, by whoever watches over a run) stops as
    at the keyboard, so that nothing is left half written."""
    import signal

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    try:
        before = signal.signal(signal.SIGTERM, stop)
    except ValueError:  # not in the main thread: whoever runs us sees to it
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _carry_out(arguments: Sequence[str]) -> ExitCode:
    try:
        with group.make_context("protocol-lang", list(arguments)) as context:
            return ExitCode(group.invoke(context))
    except click.exceptions.Exit as done:  # the help page and the like
        return ExitCode(done.exit_code)
    except click.ClickException as error:
        terminal.complain(usage.told(error))
        return ExitCode.NOT_CARRIED_OUT
    except CannotCarryOut as error:
        terminal.complain(error.sentence)
        return ExitCode.NOT_CARRIED_OUT
    except (KeyboardInterrupt, click.Abort):
        terminal.complain("Stopped before the end: nothing can be concluded from this run.")
        return ExitCode.NOT_CARRIED_OUT
    except terminal.OutputLostError:
        raise
    except Exception as error:
        _tell_fault(error)
        return ExitCode.OUR_FAULT


def _tell_fault(error: Exception) -> None:
    if os.environ.get(TRACE):
        import traceback

        terminal.complain("".join(traceback.format_exception(error)).rstrip("\n"))
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    terminal.complain(
        "protocol-lang came upon a fault of its own, and nothing can be concluded from this run"
        f" ({terminal.visible_in_line(what)}). To see where, set {TRACE}=1 and run it again."
    )
