"""What is written is whole or not there: a full disk, a closed folder, a run that is stopped."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.resources import folder as shipped
from tests.hostile import calls
from tests.hostile.corpus import BASE
from tests.hostile.running import hold, listed, run

ROOT = Path(__file__).resolve().parents[2]
SENSOR = shipped("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"

pytestmark = pytest.mark.timeout(120)

#: Every command that writes, with the words by which it does.
WRITING = [
    (command, way)
    for command, ways in calls.WITH_A_TEXT.items()
    for way in ways
    if any(calls.OUT in word for word in way) or "--write" in way or command == "start"
]


#: A local edition of the sound protocol, for the command that asks for one.
LOCAL = 'protocol "Good here"\n  edition 1\n  adapts "Good" edition 1\n'


def _sound(command: str, way: tuple[str, ...], folder: Path) -> str:
    """The file that the command is called with; what it needs is written beside."""
    if command == "start":
        return "New"
    if command == "adopt":
        (folder / "local.protocol").write_text(LOCAL, "utf-8")
        return str(folder / "local.protocol")
    return str(folder / ("pack.protocol" if "--rules" in way else "good.protocol"))


def _full(handle: int) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _asked_to_end(handle: int) -> None:
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(1)  # the signal comes before this is over


def _stopped(handle: int) -> None:
    raise KeyboardInterrupt


def test_every_command_that_writes_is_tried() -> None:
    writing = {
        name
        for name, command in calls.commands().items()
        if any(set(one.opts) & calls.WRITES for one in command.params)
    }
    assert writing | {"neaten", "start"} == {command for command, _ in WRITING}


@pytest.mark.parametrize("how", [_full, _asked_to_end, _stopped])
@pytest.mark.parametrize(
    ("command", "way"),
    [one for one in WRITING if one[0] != "audit"],  # which has a process of its own for each file
    ids=lambda one: str(one)[:40],
)
def test_a_write_that_ends_half_way(
    command: str,
    way: tuple[str, ...],
    how: Callable[[int], None],
    tmp_path: Path,
    capsys,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """When all is written but not yet safe on the disk: nothing is left, what was there stays."""
    given = tmp_path / "given"
    given.mkdir()
    untidy = BASE.replace('"Base"', '"Good"').replace("  [ ] washing:", "  [ ]  washing:")
    (given / "good.protocol").write_text(untidy, "utf-8")
    (given / "pack.protocol").write_text('rules "Pack"\n  takes words from "Dental imaging"\n')
    monkeypatch.chdir(given)
    file = _sound(command, way, given)
    words = [
        word.replace(calls.FILE, file)
        .replace(calls.GOOD, str(given / "good.protocol"))
        .replace(calls.OUT, str(given / "made"))
        for word in way
    ]
    before = listed(given)
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", how)
        ran = run(capsys, [command, *words])
    hold(ran, f"{command} {way}")
    assert listed(given) == before
    assert ran.code == 2
    again = run(capsys, [command, *words])
    assert again.code in (0, 1, 4), "nothing else stood in the way"
    assert listed(given) != before


@pytest.mark.parametrize(("command", "way"), WRITING, ids=lambda one: str(one)[:40])
def test_a_folder_that_cannot_be_written(
    command: str,
    way: tuple[str, ...],
    tmp_path: Path,
    capsys,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A folder that takes no files from anybody, also not from one who may do everything."""
    if "--write" in way or "--rules" in way:
        return
    (tmp_path / "good.protocol").write_text(BASE.replace('"Base"', '"Good"'), "utf-8")
    closed = _sound(command, way, tmp_path)
    monkeypatch.chdir("/proc")
    words = [
        word.replace(calls.FILE, closed)
        .replace(calls.GOOD, str(tmp_path / "good.protocol"))
        .replace(calls.OUT, "/proc/made")
        for word in way
    ]
    ran = run(capsys, [command, *words])
    hold(ran, f"{command} {way}")
    assert ran.code == 2 and "could not be written" in " ".join(ran.err.split())


def _process(*words: str, **settings) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "protocol_lang", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        **settings,
    )


def _little_room() -> None:
    """No file may become longer than this: what a disk does that is full in the middle of one."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (600, 600))


@pytest.mark.parametrize("name", ["made.svg", "made.json"])
def test_a_disk_that_is_full_in_the_middle(name: str, tmp_path: Path) -> None:
    (tmp_path / "good.protocol").write_text(BASE.replace('"Base"', '"Good"'), "utf-8")
    (tmp_path / name).write_text("what was there before", "utf-8")
    before = listed(tmp_path)
    words = ("minutes", str(tmp_path / "good.protocol"), "-o", str(tmp_path / name))
    process = _process(*words, preexec_fn=_little_room)
    _, told = process.communicate(timeout=100)
    assert process.returncode == 2, told
    assert "could not be written" in " ".join(told.split()) and "Traceback" not in told
    assert listed(tmp_path) == before


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_stopped_in_the_middle_of_the_work(number: signal.Signals, tmp_path: Path) -> None:
    target = tmp_path / "made.json"
    process = _process("lapses", str(SENSOR), "--improve", "-o", str(target))
    time.sleep(4)
    process.send_signal(number)
    shown, told = process.communicate(timeout=100)
    assert process.returncode == 2, told
    assert told.startswith("Stopped before the end")
    assert shown == "" and not list(tmp_path.iterdir())
