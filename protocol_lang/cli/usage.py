"""What is said of a command line that cannot be understood."""

from __future__ import annotations

import click

from protocol_lang.cli import terminal


def told(error: click.ClickException) -> str:
    """What was not understood, in one sentence, and on a second line where to read more."""
    sentence = terminal.visible_in_line(_sentence(error))
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is None:
        return sentence
    return f'{sentence}\n"{context.command_path} --help" tells what can be written.'


def _sentence(error: click.ClickException) -> str:
    context = error.ctx if isinstance(error, click.UsageError) else None
    command = context.command_path if context else "protocol-lang"
    match error:
        case click.NoSuchOption():
            near = error.possibilities or []
            offer = f' The nearest is "{near[0]}".' if len(near) == 1 else ""
            return f'"{command}" has no option "{error.option_name}".{offer}'
        case click.MissingParameter():
            return f'"{command}" needs {_name(error.param)}.'
        case click.BadParameter():
            return f"The value of {_name(error.param)} cannot be used: {error.message}"
        case click.BadOptionUsage():
            takes_none = "not take" in error.message
            return f'The option "{error.option_name}" takes {"no" if takes_none else "a"} value.'
        case click.FileError():
            return f'"{error.ui_filename}" cannot be opened: {error.message}.'
    return error.message


def _name(parameter: click.Parameter | None) -> str:
    match parameter:
        case click.Option():
            return f'the option "{max(parameter.opts, key=len)}"'
        case click.Argument():
            return parameter.make_metavar(click.Context(click.Command(None))).strip("[].")
    return "an argument"
