"""Every command on files that nobody should give it: a sentence and a code, nothing half written.

The usual run tries each file with some of the commands, chosen by their names, so that all runs try
the same; ``PROTOCOL_LANG_LONG=1`` tries each with all.
"""

from __future__ import annotations

import contextlib
import os
import zlib
from pathlib import Path

import click
import pytest

from protocol_lang.cli.entry import main
from tests.hostile import calls, corpus
from tests.hostile.corpus import BASE, Hostile
from tests.hostile.running import hold, listed, run, told_of, whole

#: One of so many ways to call a command is tried with each file, but for the quickest commands.
ONE_OF = 1 if os.environ.get("PROTOCOL_LANG_LONG") else 9
ALWAYS = ("check", "neaten")
DAY = ("--on", "2026-11-25")

pytestmark = pytest.mark.timeout(120)

TEXTS = list(corpus.texts())
TRANSLATIONS = list(corpus.translations())

#: A report of an audit as version 1 of the form has it, enough of it to have each member damaged.
ON = [
    name
    for name, command in calls.commands().items()
    if any("--on" in p.opts for p in command.params)
]


def _is_tried(*names: str) -> bool:
    return zlib.crc32("/".join(names).encode("utf-8", "surrogatepass")) % ONE_OF == 0


def _filled(words: tuple[str, ...], file: Path, good: Path, folder: Path) -> list[str]:
    out = str(folder / "made")
    return [
        word.replace("{file}", str(file))
        .replace("{good}", str(good))
        .replace("{folder}", str(file.parent))
        .replace("{out}", out)
        for word in words
    ]


def _tried(capsys, hostile: Hostile, command: str, words: tuple[str, ...], where: Path) -> None:
    """One command on one file: what has to be true, whatever comes of it."""
    folder, made = where / "given", where / "written"
    folder.mkdir()
    made.mkdir()
    file = hostile.made(folder)
    good = where / "good.protocol"
    good.write_text(BASE.replace('"Base"', '"Good"'), "utf-8")
    before = listed(folder)
    day = DAY if command in ON and command != "audit" else ()
    with contextlib.chdir(made):
        ran = run(capsys, [command, *_filled(words, file, good, made), *day])
    hold(ran, f"{command} {words} on {hostile.name}")
    if "--write" in words and ran.code == 0:
        assert listed(folder).keys() == before.keys()
    elif command != "start":
        assert listed(folder) == before, "what was given is as it was"
    for path in made.iterdir():
        asked_for = path.name.startswith("made") or command == "start"
        assert asked_for, "nothing is left but what was asked for"
        whole(path)
    if command in ALWAYS and ran.code and file.name.isprintable():
        assert told_of(ran, file.name), "the place is named"


CALLS = [
    (command, number)
    for command, ways in calls.WITH_A_TEXT.items()
    for number in range(len(ways))
    if command != "audit"
]


@pytest.mark.parametrize("hostile", TEXTS, ids=lambda one: one.name)
def test_texts(hostile: Hostile, tmp_path: Path, capsys) -> None:
    for command, number in CALLS:
        words = calls.WITH_A_TEXT[command][number]
        quick = command in ALWAYS and number == 0
        if quick or _is_tried(hostile.name, command, str(number)):
            where = tmp_path / f"{command}{number}"
            where.mkdir()
            _tried(capsys, hostile, command, words, where)


@pytest.mark.parametrize("hostile", TRANSLATIONS, ids=lambda one: one.name)
def test_translations(hostile: Hostile, tmp_path: Path, capsys) -> None:
    for number, (command, *words) in enumerate(calls.WITH_A_TRANSLATION):
        if number == 0 or _is_tried(hostile.name, command, str(number)):
            where = tmp_path / f"{number}"
            where.mkdir()
            _tried(capsys, hostile, command, tuple(words), where)


def test_an_audit_of_all_of_them_at_once(tmp_path: Path, capsys) -> None:
    """Each is named in the report, and none keeps another from being looked at."""
    for number, hostile in enumerate(TEXTS):
        if ONE_OF == 1 or _is_tried(hostile.name, "audit"):
            (tmp_path / f"{number}").mkdir()
            hostile.make(tmp_path / f"{number}")
    (tmp_path / "good.protocol").write_text(BASE, "utf-8")
    ran = run(capsys, ["audit", str(tmp_path), "--workers", "2", "-o", str(tmp_path / "made.json")])
    hold(ran, "audit of all")
    assert ran.code in (1, 2)
    whole(tmp_path / "made.json")
    assert "good.protocol" in (tmp_path / "made.json").read_text("utf-8")


KEPT = sorted((Path(__file__).parent / "kept").glob("*.protocol"))


@pytest.mark.parametrize("path", KEPT, ids=lambda path: path.stem)
def test_what_once_was_a_fault_of_the_program(path: Path, tmp_path: Path, capsys) -> None:
    """Found by ``python -m tools.fuzz``, or by the tests of this folder."""

    def make(folder: Path) -> None:
        (folder / path.name).write_bytes(path.read_bytes())

    for command in ALWAYS:
        (tmp_path / command).mkdir()
        words = calls.WITH_A_TEXT[command][0]
        _tried(capsys, Hostile(path.stem, path.name, make), command, words, tmp_path / command)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A sound report of an audit."""
    folder = tmp_path_factory.mktemp("audited")
    (folder / "base.protocol").write_text(BASE, "utf-8")
    assert main(["audit", str(folder), "-o", str(folder / "report.json")]) in (0, 1, 4)
    return (folder / "report.json").read_text("utf-8")


def test_reports(report: str, tmp_path: Path, capsys) -> None:
    """Both ways to read a report, with each member of one damaged in turn."""
    tried = 0
    for number, hostile in enumerate(corpus.reports(report)):
        for way, (command, *words) in enumerate(calls.WITH_A_REPORT):
            if _is_tried(hostile.name, str(way)) or hostile.name.startswith("report: deep"):
                where = tmp_path / f"{number}-{way}"
                where.mkdir()
                _tried(capsys, hostile, command, tuple(words), where)
                tried += 1
    assert tried >= 10


VALUES = ("", " ", "-1", "9" * 30, "NaN", "a=b=c", "½", "\x1b[31m", "é" * 3000, "0", "1e400")


@pytest.mark.parametrize(("command", "option"), sorted(set(calls.options()) - calls.LEFT_OUT))
def test_strange_values(command: str, option: str, tmp_path: Path, capsys) -> None:
    """Any value of any option: what cannot be is told, and nothing is written elsewhere."""
    (tmp_path / "work").mkdir()
    good = tmp_path / "work" / "good.protocol"
    good.write_text(BASE.replace('"Base"', '"Good"'), "utf-8")
    words = next(
        (way for way in calls.WITH_A_TEXT[command] if calls.OUT not in " ".join(way)),
        calls.WITH_A_TEXT[command][0],
    )
    for number, value in enumerate(VALUES):
        if ONE_OF > 1 and zlib.crc32(f"{command}{option}{number}".encode()) % 4:
            continue
        if option in calls.WRITES and not os.fsencode(value):
            continue
        before = listed(tmp_path / "work")
        given = _filled(words, good, good, tmp_path / "work")
        if option in given:
            at = given.index(option)
            given[at + 1] = value
        else:
            given += [option, value]
        with contextlib.chdir(tmp_path / "work"):
            ran = run(capsys, [command, *given])
        hold(ran, f"{command} {option} {value!r}")
        new = listed(tmp_path / "work").keys() - before.keys()
        assert all(name.startswith("made") for name in new) or command == "start", new


def test_every_command_is_tried() -> None:
    assert set(calls.WITH_A_TEXT) == set(calls.commands())


def test_every_option_that_names_a_file_is_tried() -> None:
    """An option of which the help speaks of a file is among those that are tried with one."""
    ways = {
        (command, word)
        for command, each in calls.WITH_A_TEXT.items()
        for way in each
        for word in way
    }
    ways |= {(command, word) for command, *words in calls.WITH_A_REPORT for word in words}
    for name, command in calls.commands().items():
        for one in command.params:
            speaks = f"{getattr(one, 'help', '')}".casefold()
            read = "a file of" in speaks or "(.json)" in speaks
            if isinstance(one, click.Option) and (read or one.opts[-1] in calls.WRITES):
                assert (name, one.opts[-1]) in ways, (name, one.opts)
