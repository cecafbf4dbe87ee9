"""``supplies``: what is said, what is written, and with which exit code it ends."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from protocol_lang.cli import main
from protocol_lang.report import supplies_csv, supplies_json
from tests.stock.kit import HEAD, HOLDERS, ROOM, SENSOR, small

VISIT = """phase "Visit"
  [ ] patient comes in
  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator disinfects shelf with a new wipe
  [ ] operator takes off gloves
  [ ] operator cleans hands
"""
CAUTION = "Waste goes where local rules say."


def squeezed(text: str) -> str:
    return " ".join(text.split())


def written(where: Path, name: str, *more: str) -> Path:
    target = where / name
    assert main(["supplies", str(SENSOR), "-o", str(target), *more]) == 0
    return target


def test_a_visit_of_which_nothing_is_to_be_corrected_ends_with_0(capsys):
    assert main(["supplies", str(SENSOR)]) == 0
    said = capsys.readouterr().out
    assert said.startswith('What "Intraoral, wired sensor" uses up\n')
    assert re.search(r"^ +gloves +2 to 3 pairs\n +staffing: alone 3, paired 2$", said, re.M)
    assert "clinical waste (yellow bag): 17 to 20 pieces" in said
    assert "draft" not in said and CAUTION in squeezed(said)
    assert "\x1b" not in said  # nobody's screen
    assert max(map(len, said.splitlines())) <= 72


def test_a_fault_makes_it_a_draft_and_ends_with_1(tmp_path, capsys):
    text = VISIT.replace("  [ ] operator takes off gloves\n  [ ] operator cleans hands\n", "")
    assert main(["supplies", str(small(tmp_path, text))]) == 1
    assert "until then the counts are a draft" in squeezed(capsys.readouterr().out)


def test_what_was_not_checked_ends_with_4(capsys, monkeypatch):
    from protocol_lang import pipeline
    from protocol_lang.findings import Unchecked

    monkeypatch.setattr(
        pipeline, "_left_aside", lambda *_: (Unchecked("too-hard", {"question": "x", "spent": ""}),)
    )
    assert main(["supplies", str(SENSOR)]) == 4
    assert "not checked: the counts are a draft" in squeezed(capsys.readouterr().out)


def test_some_choices_alone_end_with_0(capsys):
    assert main(["supplies", str(SENSOR), "--choice", "staffing=paired"]) == 0
    assert re.search(r"^ +gloves +2 pairs$", capsys.readouterr().out, re.M)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--visits", "none"], '"none" is no number of visits.'),
        (["--days", "0"], "--days is a number from 1 to 400, and not 0."),
        (["--loads", "noon"], '"noon" does not say when loads begin.'),
        (["--service", "100"], '"100" is no service level.'),
        (["--opens", "8"], '"8" is no time of day.'),
        (["--cycle", "200"], "begins before the one of"),
        (["--mix", "60 % staffing=alone"], "The shares of the mix come to 60 %."),
        (["--mix", "week.txt"], '"week.txt" is no share of the visits, and no file with shares.'),
        (["--choice", "staffing=both"], 'The choice "staffing" has no value "both".'),
        (["-o", "list.pdf"], "it must end in .csv, .json or .txt"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(arguments, sentence, capsys, tmp_path):
    assert main(["supplies", str(SENSOR), *arguments]) == 2
    caught = capsys.readouterr()
    assert sentence in squeezed(caught.err)
    assert not caught.out and "Traceback" not in caught.err


def test_a_file_without_steps_and_one_with_faults_in_its_text(tmp_path, capsys):
    path = small(tmp_path, VISIT)
    assert main(["supplies", str(path.with_name("small-room.protocol"))]) == 2
    assert "has no steps, so it uses nothing up" in squeezed(capsys.readouterr().err)
    path.write_text(f"{HEAD}phase\n", "utf-8")
    assert main(["supplies", str(path)]) == 2
    assert "because of one fault in its text" in squeezed(capsys.readouterr().err)


def test_a_mix_from_a_file(tmp_path, capsys):
    week = tmp_path / "week.txt"
    week.write_text("# of last month\n60 % staffing=alone\n40 % staffing=paired\n", "utf-8")
    assert main(["supplies", str(SENSOR), "--mix", str(week)]) == 0
    said = capsys.readouterr().out
    assert "637 pairs: 624 expected, 13 for safety" in said
    assert "60 % staffing=alone" in said
    week.write_bytes(b"\xff\xfe\x00")
    assert main(["supplies", str(SENSOR), "--mix", str(week)]) == 2
    assert "is no plain text in UTF-8" in capsys.readouterr().err
    week.write_text("# nothing\n", "utf-8")
    assert main(["supplies", str(SENSOR), "--mix", str(week)]) == 2
    assert "The mix has no shares." in capsys.readouterr().err


def test_data_keep_to_their_form(tmp_path, capsys):
    schema = json.loads(supplies_json.SCHEMA.read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    data = json.loads(written(tmp_path, "list.json", "--mix", "100 %").read_text("utf-8"))
    Draft202012Validator(schema).validate(data)
    (turn,) = data["each"]
    gloves = turn["used"][1]
    assert (gloves["thing"], gloves["number"]) == ("gloves", {"least": 2, "most": 3})
    assert data["standing"] == "nothing to correct"
    target = tmp_path / "loads.json"
    assert main(["supplies", str(HOLDERS), "-o", str(target)]) == 0
    Draft202012Validator(schema).validate(json.loads(target.read_text("utf-8")))
    with pytest.raises(Exception, match="is not of type"):
        Draft202012Validator(schema).validate({**data, "title": 3})
    assert "Listed seven things" in capsys.readouterr().out


def test_a_table_has_the_same_counts(tmp_path):
    text = written(tmp_path, "list.csv").read_bytes().decode("utf-8")
    assert text.count("\r\n") == text.count("\n")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == supplies_csv.COLUMNS
    (gloves,) = [
        one
        for one in rows
        if one["part"] == "each time" and one["thing"] == "gloves" and not one["choice"]
    ]
    assert (gloves["least"], gloves["most"], gloves["unit"]) == ("2", "3", "pair")
    (order,) = [one for one in rows if one["part"] == "order" and one["thing"] == "wipe"]
    assert order["number"] == "2160"
    (needed,) = [one for one in rows if one["part"] == "needed"]
    assert (needed["thing"], needed["number"]) == ("holder", "7")


def test_no_cell_becomes_a_formula(tmp_path):
    """RFC 4180 knows no formulas; spreadsheets take a cell that begins so for one (OWASP, CSV
    injection)."""
    path = small(tmp_path, VISIT)
    text = path.read_text("utf-8").replace('"A short visit"', '"=1+1"')
    path.write_text(text, "utf-8")
    target = tmp_path / "list.csv"
    main(["supplies", str(path), "-o", str(target)])
    rows = list(csv.reader(io.StringIO(target.read_text("utf-8"))))
    assert {row[1] for row in rows[1:]} == {"'=1+1"}
    assert not any(cell[:1] in ("=", "+", "@") for row in rows for cell in row)


def test_what_it_is_made_from_is_never_written_over(tmp_path, capsys):
    path = small(tmp_path, VISIT).rename(tmp_path / "visit.txt")
    before = path.read_bytes()
    assert main(["supplies", str(path), "-o", str(path)]) == 2
    assert "was left as it is" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_boxes_and_weights_of_the_room_are_told(tmp_path, capsys):
    room = f"{ROOM}\nfigures\n  gloves in a box: 50 pairs\n  weight of gloves: 9 g\n"
    room += "  weight of wipe: 4 g\n"
    assert main(["supplies", str(small(tmp_path, VISIT, room))]) in (0, 1)
    said = squeezed(capsys.readouterr().out)
    assert "240 pairs, in 5 boxes of 50" in said
    assert "clinical waste (yellow bag): 2 pieces, 13 g" in said


@pytest.mark.parametrize("columns", [40, 60, 80, 200])
def test_no_line_is_longer_than_the_screen(columns: int, monkeypatch, capsys):
    from protocol_lang.cli import terminal

    monkeypatch.setattr(terminal, "looks", lambda: (columns, True, True))
    assert main(["supplies", str(HOLDERS)]) == 0
    said = capsys.readouterr().out
    lines = [re.sub(r"\x1b\[\d*m", "", line) for line in said.splitlines()]
    assert max(map(len, lines)) <= min(columns, 96)
    assert "\x1b[1m" in said and said.isascii()
