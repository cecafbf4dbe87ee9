"""The command line as a whole: whatever happens, a sentence and the right exit code."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from protocol_lang import __version__
from protocol_lang.cli import main
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import SUMMARIES, Command, group
from tests.house.conftest import AddTrial

ROOT = Path(__file__).resolve().parents[2]


def started(*arguments: str, **settings) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-m", "protocol_lang", *arguments],
        capture_output=True, text=True, env=environment, timeout=60, check=False, **settings,
    )  # fmt: skip


@pytest.mark.parametrize("page", [["--help"], ["start", "--help"], ["audit", "--help"]])
def test_help_keeps_within_a_narrow_screen(page: list[str], capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert main(page) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 50


def test_help_says_what_it_does_what_it_cannot_and_all_exit_codes(capsys):
    assert main(["--help"]) == 0
    shown = capsys.readouterr().out
    assert "local codes" in shown
    assert shown.isascii()
    assert max(map(len, shown.splitlines())) <= 80
    for number in range(5):
        assert f"\n  {number}  " in shown


def test_version(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"protocol-lang {__version__}\n"


def test_help_lists_exactly_the_commands_that_exist(capsys, add_trial: AddTrial):
    add_trial(lambda: ExitCode.CLEAR)
    main(["--help"])
    shown = capsys.readouterr().out
    assert "\n  trial " in shown
    for name in SUMMARIES:
        if name != "trial":
            exists = (ROOT / "protocol_lang" / "cli" / f"{name}.py").is_file()
            assert (f"\n  {name} " in shown) == exists


def test_every_command_can_be_loaded_and_has_a_help_page(capsys):
    for name in group.list_commands(click.Context(group)):
        command = importlib.import_module(f"protocol_lang.cli.{name}").command
        assert isinstance(command, Command)
        assert command.name == name
        assert main([name, "--help"]) == 0
        shown = capsys.readouterr().out
        assert shown.startswith(f"Write  protocol-lang {name}")


@pytest.mark.parametrize("code", ExitCode)
def test_a_command_ends_with_the_code_it_returns(add_trial: AddTrial, code):
    add_trial(lambda: code)
    assert main(["trial"]) == int(code)


def test_a_command_that_forgets_its_code_is_a_fault_of_ours(add_trial: AddTrial, capsys):
    add_trial(lambda: None)
    assert main(["trial"]) == 3
    assert "a fault of its own" in capsys.readouterr().err


def test_what_cannot_be_carried_out_is_told_as_it_stands(add_trial: AddTrial, capsys):
    def refuse():
        raise CannotCarryOut('There is no file "a.protocol".')

    add_trial(refuse)
    assert main(["trial"]) == 2
    assert capsys.readouterr() == ("", 'There is no file "a.protocol".\n')


@pytest.mark.parametrize("kind", [ValueError, RecursionError, MemoryError, OSError, KeyError])
def test_a_fault_of_ours_is_one_sentence_and_code_3(add_trial: AddTrial, capsys, monkeypatch, kind):
    def break_down():
        raise kind("something odd\x1b[2J")

    monkeypatch.delenv("PROTOCOL_LANG_TRACE", raising=False)
    add_trial(break_down)
    assert main(["trial"]) == 3
    told = capsys.readouterr().err
    assert "nothing can be concluded" in told
    assert "Traceback" not in told
    assert "\x1b" not in told
    assert told.count("\n") == 1


def test_a_fault_of_ours_shows_its_place_when_asked(add_trial: AddTrial, capsys, monkeypatch):
    def break_down():
        raise ValueError("odd")

    monkeypatch.setenv("PROTOCOL_LANG_TRACE", "1")
    add_trial(break_down)
    assert main(["trial"]) == 3
    assert "in break_down" in capsys.readouterr().err


def test_a_broken_pipe_inside_a_command_is_no_verdict(add_trial: AddTrial, capsys):
    # Not our output but, say, a layout program that died: it must never read as "to correct".
    def break_down():
        raise BrokenPipeError

    add_trial(break_down)
    assert main(["trial"]) == 3


@pytest.mark.parametrize("kind", [KeyboardInterrupt, click.Abort])
def test_a_run_that_is_stopped_says_so_without_traceback(add_trial: AddTrial, capsys, kind):
    def stop():
        raise kind

    add_trial(stop)
    assert main(["trial"]) == 2
    told = capsys.readouterr().err
    assert told == "Stopped before the end: nothing can be concluded from this run.\n"


def with_options():
    # Made anew each time: the library takes the options off the function when it makes a command.
    @click.argument("paths", nargs=-1, required=True)
    @click.option("--paper", type=click.Choice(["A4", "A3"]))
    @click.option("--out", "-o", type=click.Path())
    @click.option("--wide", is_flag=True)
    def function(paths, paper, out, wide):
        return ExitCode.CLEAR

    return function


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "No command is named."),
        (["trail"], '"trail" is not a command of protocol-lang. The nearest is "trial".'),
        (["qqq"], '"qqq" is not a command of protocol-lang.'),
        (["a\nb"], r'"a\u000ab" is not a command of protocol-lang.'),
        (["--wide"], '"protocol-lang" has no option "--wide".'),
        (["trial"], '"protocol-lang trial" needs PATHS.'),
        (
            ["trial", "a", "--papr", "A4"],
            '"protocol-lang trial" has no option "--papr". The nearest is "--paper".',
        ),
        (["trial", "a", "-o"], 'The option "-o" takes a value.'),
        (["trial", "a", "--wide=1"], 'The option "--wide" takes no value.'),
        (["trial", "a", "--paper", "A5"], 'The value of the option "--paper" cannot be used: '),
    ],
)
def test_a_slip_on_the_command_line_is_told_in_a_sentence(
    add_trial: AddTrial, capsys, arguments, sentence
):
    add_trial(with_options())
    assert main(arguments) == 2
    shown, told = capsys.readouterr()
    assert shown == ""
    first, second = told.splitlines()
    assert first.startswith(sentence)
    assert second.endswith('--help" tells what can be written.')


def test_what_is_left_over_is_named(add_trial: AddTrial, capsys):
    add_trial(lambda: ExitCode.CLEAR)
    assert main(["trial", "x", "y z"]) == 2
    assert '"protocol-lang trial" can do nothing with "x", "y z".' in capsys.readouterr().err


def test_a_reader_that_goes_away_leaves_no_traceback():
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ended = subprocess.run(
            [sys.executable, "-m", "protocol_lang", "--help"],
            stdout=writing, stderr=subprocess.PIPE, text=True, timeout=60, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
    finally:
        os.close(writing)
    assert ended.returncode == 2
    assert ended.stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_told():
    with open("/dev/full", "w") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "protocol_lang", "--help"],
            stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
    assert ended.returncode == 2
    assert ended.stderr.startswith("The result could not be written: ")
    assert "Traceback" not in ended.stderr


def test_a_name_that_is_not_ascii_is_told_on_an_ascii_screen():
    ended = subprocess.run(
        [sys.executable, "-m", "protocol_lang", "prüfe"],
        capture_output=True, timeout=60, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii:strict"},
    )  # fmt: skip
    assert ended.returncode == 2
    assert ended.stderr.startswith(b'"prufe" is not a command of protocol-lang.')


def test_the_module_is_the_command():
    ended = started("--version")
    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout == f"protocol-lang {__version__}\n"
