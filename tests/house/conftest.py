"""What the tests of the command line share: a command of their own, put beside the real ones."""

from __future__ import annotations

import importlib.machinery
import sys
import types
from collections.abc import Callable

import click
import pytest

from protocol_lang.cli.exits import ExitCode
from protocol_lang.cli.group import SUMMARIES, Command

#: Gives the command line a command "trial" that does what the function does.
AddTrial = Callable[[Callable[..., ExitCode | None]], None]


@pytest.fixture
def add_trial(monkeypatch: pytest.MonkeyPatch) -> AddTrial:
    def add(function: Callable[..., ExitCode | None]) -> None:
        name = "protocol_lang.cli.trial"
        module = types.ModuleType(name)
        module.__spec__ = importlib.machinery.ModuleSpec(name, None)
        module.command = click.command("trial", cls=Command)(function)  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, name, module)
        monkeypatch.setitem(SUMMARIES, "trial", "Try something.")

    return add
