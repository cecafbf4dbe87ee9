"""``lapses``: what is told, the forms, and the exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.cli import main
from protocol_lang.cli.lapses import _told
from protocol_lang.pipeline import check_file
from protocol_lang.report import lapsed as page
from protocol_lang.report.lapsed_json import SCHEMA
from protocol_lang.report.letters import width as columns_of
from tests.lapses.test_outside import DISINFECTED, HEAD, ROOM, visit


@pytest.fixture
def clinic(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "a-small-room.protocol").write_text(ROOM, "utf-8")
    (tmp_path / "visit.protocol").write_text(HEAD + visit(DISINFECTED), "utf-8")
    faulty = visit(DISINFECTED).replace("  [ ] operator puts on gloves\n", "", 1)
    (tmp_path / "faulty.protocol").write_text(
        HEAD + faulty.replace("  [ ] operator takes off gloves\n", ""), "utf-8"
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


def ran(*words: str) -> int:
    return main(list(words))


def test_the_margin_and_the_steps_are_told(clinic: Path, capsys: pytest.CaptureFixture[str]):
    assert ran("lapses", "visit.protocol") == 0
    told = capsys.readouterr().out
    assert "One thing that goes wrong is enough" in told
    assert "from staff or the room to a patient: 2" in told
    assert 'step 10, "operator takes off gloves": to another patient' in told
    assert "Sleeve on sensor leaks" in told
    assert "Local codes" in told


def test_what_is_wrong_as_it_is_has_margin_0(clinic: Path, capsys: pytest.CaptureFixture[str]):
    assert ran("lapses", "faulty.protocol") == 1
    told = capsys.readouterr().out
    assert "has something to correct as it is" in told
    assert "The margin is 0" in told
    assert "Steps that must not be left out" not in told


def test_data_have_the_form_that_is_described(clinic: Path):
    schema = json.loads(SCHEMA.read_text("utf-8"))
    for name, code in (("visit", 0), ("faulty", 1)):
        words = (f"{name}.protocol", "--rates", "--improve", "--together", "1")
        assert ran("lapses", *words, "-o", f"{name}.json") == code
        jsonschema.validate(json.loads((clinic / f"{name}.json").read_text()), schema)
    told = json.loads((clinic / "visit.json").read_text())
    assert [one["least"] for one in told["margins"]] == [1, 1, None]
    assert told["improvement"]["changes"]
    assert all(one["route"] for one in told["sets"])
    assert told["rankings"][0]["low"] <= told["rankings"][0]["usual"]
    for one in told["sets"]:
        if one["chance"] is not None:
            chance = one["chance"]
            assert chance["least"] <= chance["nine in ten from"] <= chance["nine in ten to"]
            assert chance["nine in ten to"] <= chance["most"]


def test_sums_by_rates_are_labelled_as_a_comparison(
    clinic: Path, capsys: pytest.CaptureFixture[str]
):
    assert ran("lapses", "visit.protocol", "--rates") == 0
    assert "not a prediction of infections" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("columns", [24, 40, 72, 96])
def test_no_line_is_longer_than_the_screen(clinic: Path, columns: int):
    told = _told(check_file(Path("visit.protocol")), 2, True, True)
    lines = page.render(told, None, columns, full=True).splitlines()
    assert max(map(columns_of, lines)) <= columns
    plain = page.render(told, None, columns, ascii_only=True, full=True)
    assert plain.isascii()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("visit.protocol", "-o", "visit.doc"), "must end in"),
        (("nothing.protocol",), "There is no file"),
        (("a-small-room.protocol",), "has no steps"),
        (("visit.protocol", "--choice", "staffing=alone"), "has no choice"),
        (("visit.protocol", "--together", "4"), "Put 1, 2 or 3 together"),
        (("visit.protocol", "--picture", "rates.svg"), "add --rates"),
        (("visit.protocol", "--rates", "--picture", "rates.doc"), "must end in"),
        (("visit.protocol", "--rates", "--picture", "a.pdf", "-o", "a.pdf"), "two names"),
    ],
)
def test_what_cannot_be_done_is_told(
    clinic: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], sentence: str
):
    assert ran("lapses", *words) == 2
    told = capsys.readouterr().err
    assert sentence in told
    assert "Traceback" not in told


def test_the_report_is_a_pdf_with_all_of_it(clinic: Path, capsys: pytest.CaptureFixture[str]):
    assert ran("lapses", "visit.protocol", "--rates", "--together", "1", "-o", "visit.pdf") == 0
    assert 'All of it: "visit.pdf"' in capsys.readouterr().out
    document = pypdfium2.PdfDocument(clinic / "visit.pdf")
    told = " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)
    for sought in (
        "What if someone forgets?",
        "One thing that goes wrong is enough",
        "Steps that must not be left out",
        "How it comes about",
        "Which matter most, by published rates",
        "not a prediction of infections",
        "Local codes",
    ):
        assert sought in told
    with pikepdf.open(clinic / "visit.pdf") as tagged:
        assert tagged.Root.MarkInfo.Marked
    assert (clinic / "visit.pdf").read_bytes() == _again(clinic, "--rates", "--together", "1")


def _again(clinic: Path, *words: str) -> bytes:
    assert ran("lapses", "visit.protocol", *words, "-o", "again.pdf") == 0
    return (clinic / "again.pdf").read_bytes()


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_rates_are_drawn(clinic: Path, capsys: pytest.CaptureFixture[str], ending: str):
    name = f"rates.{ending}"
    words = ("visit.protocol", "--rates", "--together", "1", "--picture", name)
    assert ran("lapses", *words) == 0
    assert f'Which rate matters most: "{name}"' in capsys.readouterr().out
    begins = {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF"}[ending]
    assert (clinic / name).read_bytes().startswith(begins)


def test_nothing_is_drawn_of_what_is_to_be_corrected(
    clinic: Path, capsys: pytest.CaptureFixture[str]
):
    assert ran("lapses", "faulty.protocol", "--rates", "--picture", "rates.svg") == 2
    assert "There is no picture of rates" in capsys.readouterr().err
    assert not (clinic / "rates.svg").exists()


def test_everything_that_can_go_wrong_is_listed_in_full(
    clinic: Path, capsys: pytest.CaptureFixture[str]
):
    """Also what opens nothing, and what each class of germs gets through."""
    assert ran("lapses", "visit.protocol", "--full", "--together", "1") == 0
    told = capsys.readouterr().out
    opening, _, rest = told.partition("Lapses that alone open nothing")
    assert 'step 7, "operator cleans sensor with a new wipe"' not in opening
    assert 'step 7, "operator cleans sensor with a new wipe"' in rest
    assert "Sleeve on sensor leaks" in rest or "sleeve on sensor leaks" in rest
    assert "bacterial spores: 7 to another patient" in rest


def test_a_text_holds_all_sets(clinic: Path):
    assert ran("lapses", "visit.protocol", "-o", "visit.txt") == 0
    told = (clinic / "visit.txt").read_text("utf-8")
    assert told.startswith("visit.protocol: A small visit.")
    assert "more such" not in told
