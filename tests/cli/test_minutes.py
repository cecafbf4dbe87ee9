"""``minutes``: what is said, what is written, and with which exit code it ends."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest
from PIL import Image

from protocol_lang.cli import main
from tests.schedule.kit import WIRED

DAY = ("--on", "2026-11-30")


def without(where: Path, words: str) -> Path:
    """The shipped protocol without the lines that say this."""
    text = WIRED.read_text("utf-8")
    left = re.sub(rf".*{words}.*\n", "", text)
    assert left != text
    path = where / "changed.protocol"
    path.write_text(left, "utf-8")
    return path


def test_all_is_kept_and_it_ends_with_0(capsys):
    assert main(["minutes", str(WIRED), *DAY]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Every contact time is kept, in every order that is permitted." in said
    assert "licensed practice come first" in said


def test_too_short_ends_with_1(tmp_path, capsys):
    path = without(tmp_path, "waits until used half is dry")
    assert main(["minutes", str(path), *DAY]) == 1
    assert "may be too short" in capsys.readouterr().out


def test_a_contact_time_is_told_even_if_the_check_finds_nothing(tmp_path, capsys):
    """A shelf that nobody's soil gets to: the check has nothing to say of its wet time."""
    path = tmp_path / "shelf.protocol"
    path.write_text(
        'protocol "A shelf"\n  edition 1\n  takes words from "Imaging room 2"\n\nphase "Visit"\n'
        "  [ ] operator cleans hands\n  [ ] operator lays out wipe\n"
        "  [ ] operator cleans clean half with a new wipe\n"
        "  [ ] operator disinfects clean half with a new wipe\n",
        "utf-8",
    )
    assert main(["check", str(path), *DAY]) == 0
    assert main(["minutes", str(path), *DAY]) == 1
    assert "the end of the visit may lie only 0 s apart" in " ".join(
        capsys.readouterr().out.split()
    )


def test_only_one_value_of_a_choice(capsys):
    assert main(["minutes", str(WIRED), "--choice", "staffing=paired", *DAY]) in (0, 4)
    said = capsys.readouterr().out
    assert "staffing: paired" in said and "staffing: alone, shielding" not in said


def test_data(tmp_path, capsys):
    to = tmp_path / "times.json"
    assert main(["minutes", str(WIRED), "-o", str(to), "--session", "120", *DAY]) == 0
    data = json.loads(to.read_text("utf-8"))
    assert data["form"] == "minutes" and data["session minutes"] == 120
    assert len(data["visits"]) == 4
    assert str(to.name) in capsys.readouterr().out


@pytest.mark.parametrize("ending", ["svg", "png", "pdf", "txt"])
def test_written_twice_it_is_the_same(ending, tmp_path, capsys):
    made = []
    for name in ("a", "b"):
        to = tmp_path / f"{name}.{ending}"
        assert main(["minutes", str(WIRED), "-o", str(to), *DAY]) == 0
        made.append(to.read_bytes())
    assert made[0] == made[1]
    if ending == "png":
        with Image.open(tmp_path / "a.png") as picture:
            assert picture.width > 1000
    elif ending == "pdf":
        document = pypdfium2.PdfDocument(tmp_path / "a.pdf")
        text = document[0].get_textpage().get_text_range()
        document.close()
        assert "Turn over the room" in text and "waits" in text
    elif ending == "svg":
        assert "<desc>Steps along time" in made[0].decode("utf-8")
    else:
        assert "Contact times" in made[0].decode("utf-8")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["nowhere.protocol"], "There is no file"),
        ([str(WIRED), "-o", "a.doc"], "must end in .pdf, .svg, .png, .json or .txt"),
        ([str(WIRED), "--session", "0"], "A session lasts from 1 to 1440 minutes"),
        ([str(WIRED), "--choice", "staffing=many"], "many"),
        ([str(WIRED.with_name("imaging-room-2.protocol"))], "has no steps"),
        ([str(WIRED.with_name("a-day-with-film.protocol"))], "has no steps"),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_ends_with_2(arguments, sentence, capsys, tmp_path):
    assert main(["minutes", *arguments]) == 2
    said = capsys.readouterr()
    assert sentence in said.err + said.out
    assert "Traceback" not in said.err
    assert not list(tmp_path.iterdir())


def test_a_text_with_faults_has_no_times(tmp_path, capsys):
    path = tmp_path / "faulty.protocol"
    path.write_text(WIRED.read_text("utf-8").replace("[ ] place:", "[] place:"), "utf-8")
    assert main(["minutes", str(path), *DAY]) == 2
    assert "There is no time table of" in capsys.readouterr().err
