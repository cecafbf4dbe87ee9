"""``compare``: what is said, what is written, and with which exit code it ends."""

from __future__ import annotations

import json
import re
from pathlib import Path

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest
from jsonschema import Draft202012Validator

from protocol_lang.cli import main
from protocol_lang.report import compared_json
from tests.compare.changes import PLANTED
from tests.compare.kit import ROOM, WIRED, editions
from tests.planting import left_out

SHIPPED = ROOM / f"{WIRED}.protocol"
CAUTION = "Local codes, the labels of products and licensed practice come first."


def planted(where: Path, name: str) -> tuple[Path, Path]:
    return editions(where, PLANTED[name].changes, PLANTED[name].room)


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_the_same_twice_ends_with_0(capsys):
    assert main(["compare", str(SHIPPED), str(SHIPPED)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Nothing changes: both editions say the same.\n")
    assert CAUTION in squeezed(said)
    assert "\x1b" not in said  # nobody's screen


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("a phase is renamed", 0),
        ("a sleeve that does not leak", 0),
        ("hands are cleaned before gloves come off", 1),
        ("a weaker wipe in the room", 1),
        ("glove removal is dropped", 1),
    ],
)
def test_the_code_is_that_of_checking_the_new_edition(name: str, code: int, tmp_path, capsys):
    old, new = planted(tmp_path, name)
    assert main(["compare", str(old), str(new)]) == code
    assert squeezed(capsys.readouterr().out).startswith(PLANTED[name].says)
    assert main(["check", str(new)]) == code


def test_a_mended_edition_ends_with_0(tmp_path, capsys):
    old, new = planted(tmp_path, "a weaker wipe in the room")
    assert main(["compare", str(new), str(old)]) == 0
    assert capsys.readouterr().out.startswith("The new edition closes one path and opens none.\n")


def test_what_was_not_checked_ends_with_4(tmp_path, capsys, monkeypatch):
    from protocol_lang.contamination.unfold import arrange

    monkeypatch.setattr(arrange, "MOST_ACTS", 10)
    assert main(["compare", str(SHIPPED), str(SHIPPED)]) == 4
    said = squeezed(capsys.readouterr().out)
    assert said.startswith("Nothing changes: both editions say the same.")
    assert "the order of its steps was not judged to the end" in said


def test_a_review_that_has_passed_is_no_change_in_effect(capsys):
    assert main(["compare", str(SHIPPED), str(SHIPPED), "--on", "2030-01-01"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Nothing changes: both editions say the same.\n")
    assert "still" in said and "2030-01-01 was taken as today" in said


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("imaging-room-2", "imaging-room-2", "are room files, which have no steps"),
        (WIRED, "imaging-room-2", "is a room file"),
        (WIRED, "a-day-with-film", "is a day file"),
    ],
)
def test_what_cannot_be_compared_is_told(old: str, new: str, why: str, capsys):
    paths = [str(ROOM / f"{name}.protocol") for name in (old, new)]
    assert main(["compare", *paths]) == 2
    said = capsys.readouterr()
    assert not said.out
    assert why in said.err and "Two protocols can be compared, or two days." in said.err


def test_wrong_use_is_told(tmp_path, capsys):
    assert main(["compare", str(SHIPPED)]) == 2
    assert main(["compare", str(SHIPPED), str(tmp_path / "none.protocol")]) == 2
    assert "There is no file" in capsys.readouterr().err
    assert main(["compare", str(SHIPPED), str(SHIPPED), "-o", str(tmp_path / "a.svg")]) == 2
    assert "must end in .pdf, .json or .txt" in capsys.readouterr().err
    assert main(["compare", str(SHIPPED), str(SHIPPED), "--on", "soon"]) == 2
    (tmp_path / "empty.protocol").write_text("")
    assert main(["compare", str(SHIPPED), str(tmp_path / "empty.protocol")]) == 2
    assert not [path for path in tmp_path.iterdir() if path.suffix != ".protocol"]


def test_what_it_is_made_from_is_never_written_over(tmp_path, capsys):
    old, new = planted(tmp_path, "a phase is renamed")
    twin = tmp_path / "twin.txt"
    twin.write_text(new.read_text("utf-8"), "utf-8")
    assert main(["compare", str(old), str(twin), "-o", str(twin)]) == 2
    assert twin.read_text("utf-8") == new.read_text("utf-8")


def test_a_text_with_faults_is_told_and_not_guessed_at(tmp_path, capsys):
    old, new = editions(tmp_path, [("operator aims tube", "operator aimz tube")])
    assert main(["compare", str(old), str(new)]) == 1
    said = squeezed(capsys.readouterr().out)
    assert said.startswith("Whether paths open or close is not known, because the new edition ")
    assert "new: the order of its steps was not judged to the end" in said


def test_json_is_written_and_fits_its_schema(tmp_path, capsys):
    old, new = planted(tmp_path, "hands are cleaned before gloves come off")
    target = tmp_path / "changes.json"
    assert main(["compare", str(old), str(new), "-o", str(target), "--on", "2026-11-25"]) == 1
    said = capsys.readouterr().out
    assert said.startswith(PLANTED["hands are cleaned before gloves come off"].says)
    assert str(target) in said
    data = json.loads(target.read_text("ascii"))
    schema = json.loads(compared_json.SCHEMA.read_text("utf-8"))
    assert not list(Draft202012Validator(schema).iter_errors(data))
    (moved,) = data["steps"]["moved"]
    assert moved["is"]["text"] == "operator cleans hands"
    assert [(to["other"]["is"]["text"], to["before"], to["now"]) for to in moved["to"]] == [
        ("operator takes off gloves", "after", "before")
    ]
    assert data["in effect"] and data["date"] == "2026-11-25"


def test_text_is_written_as_it_is_shown(tmp_path, capsys):
    old, new = planted(tmp_path, "a weaker wipe in the room")
    target = tmp_path / "changes.txt"
    arguments = [str(old), str(new), "--on", "2026-11-25"]
    assert main(["compare", *arguments]) == 1
    shown = capsys.readouterr().out
    assert main(["compare", *arguments, "-o", str(target)]) == 1
    assert target.read_text("utf-8") == shown


def read(pdf: Path) -> str:
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return re.sub(r"\s+", " ", " ".join(texts).replace("\ufffe", ""))


@pytest.mark.parametrize("profile", ["ua1", "pdfa2a"])
def test_the_pdf_is_accessible_and_lasting(profile: str, tmp_path: Path):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A, by a validator that is not the typesetter's.
    old, new = planted(tmp_path, "a weaker wipe in the room")
    target = tmp_path / "changes.pdf"
    assert main(["compare", str(old), str(new), "-o", str(target)]) == 1
    report = validator.validate_pdf(str(target), profile=profile)
    assert report.is_compliant, [(one.rule_id, one.message) for one in report.failures]


def test_the_pdf_says_what_the_page_says(tmp_path: Path, capsys):
    from protocol_lang.pipeline import check_file, compared
    from protocol_lang.report import compared as page

    old, new = planted(tmp_path, "a weaker wipe in the room")
    target = tmp_path / "changes.pdf"
    arguments = ["compare", str(old), str(new), "-o", str(target), "--on", "2026-11-25"]
    assert main(arguments) == 1
    first = target.read_bytes()
    assert main(arguments) == 1
    assert target.read_bytes() == first  # the same is the same, byte for byte
    text = read(target).replace(" ", "").replace("-", "")  # lines may end at a hyphen
    found = compared(check_file(old), check_file(new))
    at = text.index(page.upshot(found).replace(" ", ""))
    for section in page.sections(found):
        if section.heading:
            at = text.index(section.heading.replace(" ", ""), at)
        for row in section.rows:
            for line in row.lines:
                assert line.replace(" ", "").replace("-", "") in text[at:], line
    with pikepdf.open(target) as document:
        assert document.docinfo["/Title"] == "What the new edition changes"


def test_marks_of_the_typesetter_in_a_protocol_are_only_letters(tmp_path: Path):
    strange = "say: *bold* $x$ <label> @ref // and \\\\ that"
    old, new = editions(tmp_path, [("  [ ] patient comes in\n", f"  [ ] {strange}\n")])
    target = tmp_path / "changes.pdf"
    main(["compare", str(old), str(new), "-o", str(target)])
    assert strange.replace(" ", "") in read(target).replace(" ", "")


def test_nothing_that_is_handed_to_the_typesetter_is_carried_out(tmp_path: Path):
    from protocol_lang.chart.account import Account, render

    strange = '#panic("x") #eval("1+1") \x1b[2J'
    target = tmp_path / "account.pdf"
    rows = [(strange, [strange, f"  {strange}"])]
    target.write_bytes(render(Account(strange, strange, [(strange, rows)], strange)))
    text = read(target).replace(" ", "")
    assert text.count('#panic("x")#eval("1+1")\\x1b[2J') == 7 and "\x1b" not in text


def test_a_narrow_screen_in_colour(tmp_path, capsys, monkeypatch):
    from protocol_lang.cli import terminal

    monkeypatch.setattr(terminal, "looks", lambda: (40, True, False))
    old, new = planted(tmp_path, "a weaker wipe in the room")
    assert main(["compare", str(old), str(new)]) == 1
    said = capsys.readouterr().out
    assert said.startswith("\x1b[1mThe new edition opens one path")
    assert max(len(re.sub("\x1b[^m]*m", "", line)) for line in said.split("\n")) <= 40


def test_a_file_name_cannot_steer_the_screen(tmp_path, capsys):
    evil = tmp_path / "a\x1b[2Jb.protocol"
    evil.write_text(SHIPPED.read_text("utf-8"), "utf-8")
    main(["compare", str(SHIPPED), str(evil)])
    said = capsys.readouterr()
    assert "\x1b" not in said.out + said.err


def test_rules_that_are_kept_no_longer_are_told(tmp_path, capsys):
    """Sources: CDC 2003 and 2008, sensors: intermediate level between patients."""
    for path in ROOM.glob("*.protocol"):
        (tmp_path / path.name).write_text(path.read_text("utf-8"), "utf-8")
    old = tmp_path / "intraoral-wired-sensor.protocol"
    new = tmp_path / "new" / old.name
    new.parent.mkdir()
    (new.parent / "imaging-room-2.protocol").write_text(
        (ROOM / "imaging-room-2.protocol").read_text("utf-8"), "utf-8"
    )
    new.write_text(left_out(old.read_text("utf-8"), "disinfects sensor"), "utf-8")
    target = tmp_path / "changes.json"
    words = ["compare", str(old), str(new), "--rules", "Items by class", "-o", str(target)]
    assert main(words) == 1
    capsys.readouterr()
    rules = json.loads(target.read_text("utf-8"))["rules"]
    assert {
        "rule": "Always covered in the mouth: intermediate level at least",
        "pack": "Items by class",
        "was": "met",
        "is": "failed",
    } in rules
    assert main(["compare", str(old), str(new), "--rules", "Items by class"])
    told = " ".join(capsys.readouterr().out.split())
    assert '"Items by class": failed; for the old edition met' in told
    assert main(["compare", str(old), str(new), "--rules", "Nothing of the kind"]) == 2


# --- A local edition against what it adapts -------------------------------------------------------

SECOND = ROOM.parent / "second-site" / "intraoral-wired-sensor-second-site.protocol"


def test_a_local_edition_alone_is_compared_with_its_base(tmp_path: Path, capsys):
    """As if both were named; and all that the file changes is told, and no more."""
    assert main(["compare", str(SHIPPED), str(SECOND)]) == 0
    both = squeezed(capsys.readouterr().out)
    assert main(["compare", str(SECOND)]) == 0
    told = squeezed(capsys.readouterr().out)
    # Which file the base is, is told from the place of the local one.
    assert told.partition(" Checked ")[2] == both.partition(" Checked ")[2] != ""
    assert told.partition(" Old ")[0] == both.partition(" Old ")[0]
    target = tmp_path / "a.json"
    assert main(["compare", str(SECOND), "-o", str(target)]) == 0
    data = json.loads(target.read_text("utf-8"))
    schema = json.loads(compared_json.SCHEMA.read_text("utf-8"))
    assert not list(Draft202012Validator(schema).iter_errors(data))
    steps = data["steps"]
    assert [one["text"] for one in steps["added"]] == [
        "say: name and day of birth",
        "operator takes chair wrap off chair arms",
        "operator covers chair arms with chair wrap",
    ]
    assert [one["text"] for one in steps["removed"]] == [
        "operator cleans chair arms with a new wipe",
        "operator disinfects chair arms with a new wipe",
        "operator waits until chair arms are dry",
    ]
    assert [one["is"]["text"] for one in steps["moved"]] == ["operator sets tube roughly"]
    assert 'product "everyday fluid", minutes that it stays wet: was 2, is 3' in told
    assert 'call "infection control lead: how": another' in told


def test_a_local_edition_that_opens_a_path_ends_with_1(tmp_path: Path, capsys):
    local = tmp_path / "ours.protocol"
    text = SECOND.read_text("utf-8")
    local.write_text(
        text.replace("    [ ] operator covers chair arms with chair wrap\n", "    [ ] say: done\n"),
        "utf-8",
    )
    assert main(["compare", str(local)]) == 1
    assert main(["check", str(local)]) == 1


def test_a_protocol_alone_that_adapts_nothing_has_nothing_to_be_compared_with(capsys):
    assert main(["compare", str(SHIPPED)]) == 2
    assert "adapts" in capsys.readouterr().err
