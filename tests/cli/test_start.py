"""``start`` from the library: by options, and at a terminal by questions.

The terminal is a pseudo-terminal of the system: the program runs in a process of its own and sees
what it would see with somebody at the keyboard.
"""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from protocol_lang.cli import main
from protocol_lang.cli.exits import ExitCode
from protocol_lang.library import shelf

ROOT = Path(__file__).resolve().parents[2]
VISIT = ("--room", "intraoral", "--part", "a visit")


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def there(tmp_path: Path) -> list[str]:
    return sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*"))


# --- By options ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", shelf().protocols, ids=lambda kept: kept.path.stem)
def test_each_copy_checks_where_it_is(kept, tmp_path, capsys):
    assert main(["start", "Ours", "--from", kept.title]) == ExitCode.CLEAR
    assert "To be filled in" in capsys.readouterr().out
    assert main(["check", "ours"]) == ExitCode.CLEAR, capsys.readouterr().out
    # It rests on the clinic's own files, but for what all share.
    from protocol_lang.language.opening import open_file
    from protocol_lang.resources import folder

    opened = open_file(tmp_path / "ours" / "ours.protocol", folder("protocols"))
    assert {one.file.kind for one in opened.files if one.packaged} <= {"words", "data"}
    # Each is neat, and stays so.
    capsys.readouterr()
    for path in (tmp_path / "ours").iterdir():
        assert main(["neaten", str(path)]) == ExitCode.CLEAR
        assert capsys.readouterr().out == path.read_text("utf-8")


def test_answers_lead_to_one_protocol_which_is_copied_with_its_room(tmp_path, capsys):
    answers = [*VISIT, "--receptor", "Phosphor-plate", "--staff", "with a helper"]
    assert main(["start", "Plates by two", *answers, "--room-name", "Room 5"]) == ExitCode.CLEAR
    assert there(tmp_path) == [
        "plates-by-two",
        "plates-by-two/plates-by-two.protocol",
        "plates-by-two/room-5.protocol",
        "plates-by-two/turning-over-the-room.protocol",
    ]
    said = capsys.readouterr().out
    assert 'after "Intraoral, phosphor plates, with a helper" of the library' in said
    for name in ("plates-by-two", "turning-over-the-room"):
        text = (tmp_path / "plates-by-two" / f"{name}.protocol").read_text("utf-8")
        assert '"Room 5"' in text and "Imaging room 2" not in text
    assert 'room "Room 5"' in (tmp_path / "plates-by-two" / "room-5.protocol").read_text("utf-8")


def test_a_copy_can_be_printed_and_its_supplies_counted(capsys):
    """The room's box for used holders still leads to how they are made sterile again."""
    main(["start", "Ours", "--from", "Intraoral, wired sensor", "--room-name", "Room 5"])
    assert main(["supplies", "ours/ours.protocol"]) == ExitCode.CLEAR
    assert "holder" in capsys.readouterr().out


def test_the_days_that_are_told_stand_on_the_lines_that_are_told(tmp_path, capsys):
    main(["start", "Ours", "--from", "Cone-beam CT"])
    assert "ours.protocol, lines 5 to 7: days and owner" in capsys.readouterr().out
    path = tmp_path / "ours" / "ours.protocol"
    lines = path.read_text("utf-8").splitlines()
    for at in (4, 5, 6):
        lines[at] = lines[at].replace("# ", "")
    path.write_text("\n".join(lines) + "\n", "utf-8")
    assert main(["check", "ours"]) == ExitCode.CLEAR
    assert "in force" in path.read_text("utf-8")


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--room", "kitchen"], '"kitchen" is no answer to "--room". Possible are "intraoral", '),
        ([*VISIT], '10 protocols of the library fit. "--receptor" tells them apart, with '),
        (
            ["--room", "panoramic", "--part", "a visit", "--precautions", "airborne"],
            '2 protocols of the library fit: "Panoramic, airborne precautions" and "Extra-oral '
            'image first". Name one with "--from".',
        ),
        (
            [*VISIT, "--receptor", "film", "--staff", "with a helper"],
            'After "intraoral", "a visit" and "film", the library has nothing for "with a helper". '
            'For "--staff" it has "alone" there.',
        ),
        (["--from", "Cone-bean CT"], 'The library has no protocol "Cone-bean CT". It has "Intra'),
        (["--from", "Cephalometric", "--room", "home"], '"--from" names the protocol already'),
        (
            ["--room", "none", "--staff", "alone"],
            'for which "--staff" makes no difference. Leave it out.',
        ),
        (["--room", "none", "--room-name", "X"], '"--room-name" makes no difference'),
        (["--room-name", "X"], "32 protocols of the library fit. "),
        (
            ["--from", "Cephalometric", "--room-name", "Ours"],
            'With the title "Ours" two files of the copy would have the same name.',
        ),
        (["--from", "Cephalometric", "--room-name", 'a"b'], "has a sign that a title may not have"),
        (["--from", "Cephalometric", "--room-name", "Panoramic"], "Choose another title"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence_and_nothing_is_written(
    options, told, tmp_path, capsys
):
    assert main(["start", "Ours", *options]) == ExitCode.NOT_CARRIED_OUT
    said = capsys.readouterr()
    assert told in said.err and not said.out
    assert not there(tmp_path)


def test_the_short_protocol_is_had_by_an_option_too(tmp_path, capsys):
    assert main(["start", "Ours", "--room", "none"]) == ExitCode.CLEAR
    one = (tmp_path / "ours.protocol").read_bytes()
    (tmp_path / "ours.protocol").unlink()
    assert main(["start", "Ours"]) == ExitCode.CLEAR
    assert (tmp_path / "ours.protocol").read_bytes() == one


@pytest.mark.parametrize("options", [[], ["--room", "none"]])
def test_without_a_terminal_the_short_one_wants_a_title(options, tmp_path, capsys):
    assert main(["start", *options]) == ExitCode.NOT_CARRIED_OUT
    assert '"protocol-lang start" needs NAME.' in capsys.readouterr().err
    assert not there(tmp_path)


@pytest.mark.parametrize("sort", ["folder", "full folder", "file", "link"])
def test_nothing_is_written_over_what_is_there(sort, tmp_path, capsys):
    path = tmp_path / "ours"
    match sort:
        case "file":
            path.write_text("mine")
        case "link":
            path.symlink_to("nowhere")
        case _:
            path.mkdir()
            if sort == "full folder":
                (path / "mine").write_text("mine")
    before = there(tmp_path)
    assert main(["start", "Ours", "--from", "Cephalometric"]) == ExitCode.NOT_CARRIED_OUT
    assert '"ours" is there already, and was left as it is.' in capsys.readouterr().err
    assert there(tmp_path) == before


def test_a_disk_that_is_full_leaves_no_folder(tmp_path, monkeypatch, capsys):
    left = iter([None, None, OSError(28, "No space left on device")])

    def full(_handle):
        if error := next(left):
            raise error

    monkeypatch.setattr(os, "fsync", full)
    assert main(["start", "Ours", "--from", "Cephalometric"]) == ExitCode.NOT_CARRIED_OUT
    assert '"ours" could not be written: No space left on device.' in capsys.readouterr().err
    assert not there(tmp_path)


def test_the_new_folder_has_the_permissions_of_any_new_folder(tmp_path):
    main(["start", "Ours", "--from", "Cephalometric"])
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "file").write_text("")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "other").stat().st_mode
    files = [tmp_path / "ours" / "ours.protocol", tmp_path / "other" / "file"]
    assert len({path.stat().st_mode for path in files}) == 1


# --- At a terminal -------------------------------------------------------------------------------

pty = (
    pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    if os.name == ("posix")
    else None
)
at_a_terminal = pytest.mark.skipif(pty is None, reason="this system has no pseudo-terminals")


@dataclass
class Keyboard:
    """A run of ``start`` at a terminal: what it has said so far, and where to type."""

    process: subprocess.Popen[bytes]
    hold: int
    said: str = ""
    read: int = field(default=0)

    def until(self, words: str) -> str:
        """What is said up to the next ``words``."""
        end = time.monotonic() + 30
        while words not in self.said[self.read :]:
            assert time.monotonic() < end, self.said
            if not self._more(end - time.monotonic()):
                raise AssertionError(f"it ended before {words!r}: {self.said}")
        at = self.said.index(words, self.read) + len(words)
        piece, self.read = self.said[self.read : at], at
        return piece

    def types(self, line: str) -> None:
        os.write(self.hold, line.encode())

    def ends(self) -> int:
        end = time.monotonic() + 30
        while self._more(end - time.monotonic()):
            assert time.monotonic() < end, f"it still asks: {self.said}"
        os.close(self.hold)
        return self.process.wait(60)

    def _more(self, seconds: float) -> bool:
        if not select.select([self.hold], [], [], max(0, seconds))[0]:
            return True
        try:
            piece = os.read(self.hold, 4096)
        except OSError:  # how Linux tells that the other end was closed
            return False
        self.said += piece.decode("utf-8", "replace").replace("\r\n", "\n")
        return bool(piece)


@pytest.fixture
def start(tmp_path):
    begun = []

    def run(*words: str) -> Keyboard:
        assert pty is not None
        hold, inside = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-m", "protocol_lang", "start", *words],
            stdin=inside, stdout=inside, stderr=inside, cwd=tmp_path, start_new_session=True,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        os.close(inside)
        begun.append(process)
        return Keyboard(process, hold)

    yield run
    for process in begun:
        if process.poll() is None:
            process.kill()
            process.wait()


@at_a_terminal
def test_answers_at_the_keyboard_make_the_same_folder_as_options(start, tmp_path):
    """By number, by words, after answers that are none, with a name that cannot be."""
    run = start()
    assert "4  images at a patient's home" in run.until("1 to 8: ")
    run.types("nine\n")
    assert '"nine" is none of these.' in run.until("1 to 8: ")
    run.types("0\n")
    run.until("1 to 8: ")
    run.types("\n")
    run.until("1 to 8: ")
    run.types("1\n")
    assert "What is the protocol about?" in run.until("1 to 3: ")
    run.types("A visit\n")
    assert "What takes the image?" in run.until("1 to 4: ")
    run.types("2\n")
    assert "Who works in the room?" in run.until("1 to 2: ")
    run.types("with a helper\n")
    run.until('Name, or Enter for "Intraoral, phosphor plates, with a helper": ')
    run.types("con\n")
    assert '"con" cannot be the name of a file on every system.' in run.until("Enter for")
    run.types("  Plates   by two \n")
    assert "What is your room called?" in run.until('Enter for "Imaging room 2": ')
    run.types("Room 5\n")
    assert run.ends() == ExitCode.CLEAR, run.said
    assert "Traceback" not in run.said
    made = {path.name: path.read_bytes() for path in (tmp_path / "plates-by-two").iterdir()}
    answers = ["--from", "Intraoral, phosphor plates, with a helper", "--room-name", "Room 5"]
    (tmp_path / "plates-by-two").rename(tmp_path / "typed")
    assert main(["start", "Plates by two", *answers]) == ExitCode.CLEAR
    assert made == {path.name: path.read_bytes() for path in (tmp_path / "plates-by-two").iterdir()}


@at_a_terminal
def test_enter_alone_keeps_the_names_of_the_library(start, tmp_path):
    run = start()
    run.until("1 to 8: ")
    run.types("5\n")
    run.until('Enter for "Ultrasound probe between patients": ')
    run.types("\n")
    run.until('Enter for "Ultrasound room": ')
    run.types("\n")
    assert run.ends() == ExitCode.CLEAR, run.said
    assert "ultrasound-probe-between-patients/ultrasound-room.protocol" in there(tmp_path)
    assert main(["check", "ultrasound-probe-between-patients"]) == ExitCode.CLEAR


@at_a_terminal
def test_a_title_beforehand_is_not_asked_for_again(start, tmp_path):
    run = start("Ours")
    run.until("1 to 8: ")
    run.types("none\n")
    assert run.ends() == ExitCode.CLEAR
    assert "called" not in run.said
    assert there(tmp_path) == ["ours.protocol"]


@at_a_terminal
@pytest.mark.parametrize("answers", [0, 1, 3])
@pytest.mark.parametrize("key", ["\x04", "\x03"], ids=["end of input", "Ctrl-C"])
def test_whoever_leaves_before_the_end_finds_nothing_written(start, tmp_path, key, answers):
    run = start()
    for answer in ("7\n", "\n", "\n")[:answers]:
        run.until(": ")
        run.types(answer)
    run.until(": ") if answers < 3 else None
    if answers == 3:
        assert run.ends() == ExitCode.CLEAR  # all was answered: it is written
        assert there(tmp_path)
        return
    if key == "\x03":
        os.killpg(run.process.pid, signal.SIGINT)
    else:
        run.types(key)
    assert run.ends() == ExitCode.NOT_CARRIED_OUT
    assert "Ended before all was answered: nothing was written." in run.said
    assert "Traceback" not in run.said
    assert not there(tmp_path)


@at_a_terminal
def test_options_ask_nothing_at_a_terminal(start, tmp_path):
    run = start("--from", "Cephalometric")
    assert run.ends() == ExitCode.CLEAR
    assert "Name" not in run.said.split("was written")[0]


@at_a_terminal
def test_signs_that_are_no_letters_are_shown_and_asked_again(start, tmp_path):
    run = start()
    run.until("1 to 8: ")
    run.types("\x1b[2J\n")
    assert r'"\u001b[2J" is none of these.' in run.until("1 to 8: ")
    os.write(run.hold, b"\xff\xfe\n")
    assert "is none of these." in run.until("1 to 8: ")
    run.types("\x04")
    assert run.ends() == ExitCode.NOT_CARRIED_OUT
    assert not there(tmp_path)
