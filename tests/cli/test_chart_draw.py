"""``chart`` and ``draw``: what is written where, what is said, and with which exit code it ends."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.cli import main
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from tests.planting import left_out

GOOD = folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"
ALONE = ("--choice", "staffing=alone", "--choice", "shielding=none")
#: On which one sheet is enough.
LARGE = ("--paper", "A2")


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A folder of its own."""
    return tmp_path


def planted(room: Path, words: str, name: str = "faulty") -> Path:
    """The shipped protocol without one step."""
    path = room / f"{name}.protocol"
    path.write_text(left_out(GOOD.read_text(encoding="utf-8"), words), encoding="utf-8")
    return path


def faulty(room: Path) -> Path:
    return planted(room, "disinfects sensor with a new wipe")


def pages_of(pdf: Path) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return [re.sub(r"\s+", " ", text.replace("\ufffe", "")) for text in texts]


def one_sheet(command: str) -> tuple[str, ...]:
    """The options for one way of choosing, with which a command writes one picture."""
    return (*ALONE, *LARGE) if command == "chart" else ALONE


def entries(room: Path) -> set[str]:
    return {path.name for path in room.iterdir()}


# --- chart: what is printed ----------------------------------------------------------------------


def test_a_pdf_holds_a_chart_for_every_way_of_choosing(room, capsys):
    target = room / "wall.pdf"
    assert main(["chart", str(GOOD), "-o", str(target), "--on", "2026-11-25"]) == 0
    said = capsys.readouterr().out
    pages = pages_of(target)
    assert len(pages) == 8  # all four go on, on a second sheet
    assert str(target) in said and "four charts on eight sheets of A3" in " ".join(said.split())
    assert len(pages) >= 4
    for staffing in ("alone", "paired"):
        for shielding in ("none", "collar"):
            title = f"staffing {staffing} shielding {shielding}"
            assert any(title in page for page in pages), title
    for page in pages:
        assert "checked, no faults" in page and "DRAFT" not in page
        assert "Checked on 25 November 2026" in page
        assert "Local rules and licensed practice come first" in page
    assert entries(room) == {"wall.pdf"}


def test_hands_and_what_not_to_touch_are_on_the_page(room):
    target = room / "wall.pdf"
    assert main(["chart", str(GOOD), "-o", str(target), *LARGE, *ALONE]) == 0
    (page,) = pages_of(target)
    assert re.search(r"Sensor into the mouth\s*used gloves", page)
    assert re.search(r"Takes off gloves\s*used hands", page)
    assert re.search(r"Puts on gloves\s*clean gloves", page)
    never = page.split("Never with used gloves or hands:")[1].split("Get ready")[0]
    for thing in ("keyboard", "clean half", "sensor hook"):
        assert thing in never
    assert "head rest" not in never  # under a bag that is changed
    now = page.split("Do not touch now:")
    assert now[1].strip().startswith("tube, exposure button")  # bare hands will meet their covers


def test_several_pages_as_pictures_are_numbered(room, capsys):
    target = room / "wall.svg"
    assert main(["chart", str(GOOD), "-o", str(target), "--choice", "shielding=none"]) == 0
    names = entries(room)
    assert {"wall-1.svg", "wall-2.svg"} <= names and "wall.svg" not in names
    said = capsys.readouterr().out
    assert all(name in said for name in names)
    assert all((room / name).read_bytes().startswith(b"<svg") for name in names)


def test_one_page_as_a_picture_has_the_name_told(room):
    target = room / "wall.PNG"
    assert main(["chart", str(GOOD), "-o", str(target), *LARGE, *ALONE]) == 0
    assert target.read_bytes().startswith(b"\x89PNG")
    assert entries(room) == {"wall.PNG"}


@pytest.mark.parametrize(
    ("paper", "millimetres"),
    [
        ("A4", (297, 210)),
        ("a3", (420, 297)),
        ("A2", (594, 420)),
        ("Letter", (279.4, 215.9)),
        ("tabloid", (431.8, 279.4)),
    ],
)
def test_paper(room, paper, millimetres):
    target = room / "wall.pdf"
    assert main(["chart", str(GOOD), "-o", str(target), "--paper", paper, *ALONE]) == 0
    document = pypdfium2.PdfDocument(target)
    size = tuple(round(points / 72 * 25.4, 1) for points in document[0].get_size())
    document.close()
    assert size == millimetres


def test_the_same_input_gives_the_same_bytes(room):
    made = []
    for name in ("a.pdf", "b.pdf"):
        main(["chart", str(GOOD), "-o", str(room / name), "--on", "2026-11-25", *ALONE])
        made.append((room / name).read_bytes())
    assert made[0] == made[1]


def test_a_review_that_is_due_is_told_on_the_page(room):
    target = room / "wall.pdf"
    main(["chart", str(GOOD), "-o", str(target), "--on", "2028-01-01", *ALONE])
    assert "The review was due by 2 November 2027." in pages_of(target)[0]


# --- chart: paper, distance, sets and codes ------------------------------------------------------


def test_upright(room):
    target = room / "wall.pdf"
    assert main(["chart", str(GOOD), "-o", str(target), "--paper", "A4", "--upright", *ALONE]) == 0
    document = pypdfium2.PdfDocument(target)
    assert [round(side / 72 * 25.4, 1) for side in document[0].get_size()] == [210, 297]
    document.close()


def test_what_does_not_fit_goes_on_and_that_is_said(room, capsys):
    target = room / "wall.pdf"
    arguments = ["chart", str(GOOD), "-o", str(target), "--reading-distance", "2 m", *ALONE]
    assert main(arguments) == 0
    said = " ".join(capsys.readouterr().out.split())
    pages = len(pages_of(target))
    assert pages > 1 and "sheets of A3" in said
    assert "In letters for 2 m, one chart goes on over several sheets" in said
    assert re.search(r"to be read from 2\.\d m", said)


def test_of_many_sheets_it_is_said_what_makes_fewer(room, capsys):
    arguments = ["chart", str(GOOD), "-o", str(room / "wall.pdf"), "--paper", "A4", *ALONE]
    assert main([*arguments, "--reading-distance", "1 m"]) == 0
    assert "Few walls" not in capsys.readouterr().out
    assert main([*arguments, "--reading-distance", "2 m"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    pages = len(pages_of(room / "wall.pdf"))
    assert pages > 8 and f"Few walls hold {pages} sheets for one protocol. Larger paper" in said


@pytest.mark.parametrize("typed", ["far", "", "2 km", "0", "50m", "-1"])
def test_distances_that_are_none(room, capsys, typed):
    said = refused(
        capsys, "chart", str(GOOD), "-o", str(room / "x.pdf"), f"--reading-distance={typed}"
    )
    assert "is no distance to read from" in said and "metres" in said
    assert entries(room) == set()


def test_nowhere_to_print(capsys):
    assert "-o" in refused(capsys, "chart", str(GOOD))


def outline(pdf: Path) -> list[tuple[int, str]]:
    document = pypdfium2.PdfDocument(pdf)
    found = [(one.level, one.get_title()) for one in document.get_toc()]
    document.close()
    return found


def test_a_set_is_one_file_with_bookmarks(room, capsys):
    other = GOOD.with_name("holders-and-bite-blocks.protocol")
    target = room / "room.pdf"
    assert main(["chart", str(GOOD), str(other), "-o", str(target)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "of two protocols" in said
    marks = outline(target)
    assert [title for level, title in marks if level == 0] == [
        "Intraoral, wired sensor",
        "Holders and bite blocks",
    ]
    first = [title for level, title in marks[: marks.index((0, "Holders and bite blocks"))]]
    for staffing in ("alone", "paired"):
        for shielding in ("none", "collar"):
            assert first.count(f"staffing {staffing}, shielding {shielding}") == 1


def test_the_files_of_a_folder_and_of_a_day():
    from protocol_lang.cli.walls import protocols

    room = GOOD.parent
    inside = {path.stem for path in protocols((str(room),))}
    assert {"intraoral-wired-sensor", "closing-the-room"} <= inside
    # Neither words, rooms or days, nor what others go on with, on whose charts it stands.
    assert not inside & {"imaging-room-2", "a-day-in-imaging-room-2"}
    assert not inside & {"turning-over-the-room", "opening-the-room"}
    day = protocols((str(room / "a-day-in-imaging-room-2.protocol"),))
    assert [path.stem for path in day] == [
        "opening-the-room",
        "intraoral-wired-sensor",
        "intraoral-series-wired-sensor",
        "intraoral-film",
        "intraoral-phosphor-plates",
        "a-visit-without-an-image",
        "closing-the-room",
        "holders-and-bite-blocks",
    ]


def test_a_folder_without_protocols(room, capsys):
    assert "no file" in refused(capsys, "chart", str(room), "-o", str(room / "x.pdf"))
    (room / "words.protocol").write_text('vocabulary "Words"\n', encoding="utf-8")
    refused(capsys, "chart", str(room), "-o", str(room / "x.pdf"))
    assert entries(room) == {"words.protocol"}


def code_of(pdf: Path) -> str:
    found = re.search(r"Code ([A-Z0-9]{5} [A-Z0-9]{5})", pages_of(pdf)[0])
    assert found is not None
    return found.group(1)


def test_whether_a_chart_is_of_the_edition_at_hand(room, capsys):
    path = room / "ours.protocol"
    text = GOOD.read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    target = room / "wall.pdf"
    assert main(["chart", str(path), "-o", str(target), *ALONE]) == 0
    code = code_of(target)
    typed = code.lower().replace(" ", "").replace("0", "o").replace("1", "i")
    capsys.readouterr()
    assert main(["chart", "--verify", typed, str(path)]) == 0
    assert code in capsys.readouterr().out
    path.write_text(text.replace("aims tube", "aims tube "), encoding="utf-8")
    assert main(["chart", "--verify", code, str(path)]) == 1
    assert "another protocol or edition" in capsys.readouterr().out
    wrong = code[:-1] + ("A" if code[-1] != "A" else "B")
    assert "misread" in refused(capsys, "chart", "--verify", wrong, str(path))
    assert "no code" in refused(capsys, "chart", "--verify", "12", str(path))
    assert "no file" in refused(capsys, "chart", "--verify", code, str(room / "none.protocol"))


# --- chart: never said to be checked when it is not ----------------------------------------------


def test_a_protocol_with_a_fault_is_a_draft(room, capsys):
    target = room / "wall.pdf"
    assert main(["chart", str(faulty(room)), "-o", str(target)]) == 1
    pages = pages_of(target)
    assert all("DRAFT: 1 fault to correct" in page for page in pages)
    assert not any("checked, no faults" in page for page in pages)
    assert "draft" in capsys.readouterr().err


def test_a_fault_in_another_choice_of_the_same_clinic_makes_a_draft_too(room):
    """Visits follow in any mix: a chart for working alone rests on paired visits too."""
    path = room / "paired-faulty.protocol"
    text = GOOD.read_text(encoding="utf-8")
    slip = text.replace("operator keeps hands still", "operator works at keyboard")
    assert slip != text
    path.write_text(slip, encoding="utf-8")
    assert main(["draw", str(path), "-o", str(room / "x.svg"), "--choice", "staffing=alone"]) == 0
    assert main(["draw", str(path), "-o", str(room / "x.svg"), "--choice", "staffing=paired"]) == 1
    target = room / "wall.pdf"
    assert main(["chart", str(path), "-o", str(target), "--choice", "staffing=alone"]) == 1
    assert all("DRAFT" in page for page in pages_of(target))


def test_a_fault_of_another_clinic_does_not(room):
    """What is fixed for the clinic does not mix: where there is no collar, none need be clean."""
    path = planted(room, "disinfects collar with a new wipe", "collar-faulty")
    target = room / "wall.pdf"
    assert main(["chart", str(path), "-o", str(target)]) == 1
    assert main(["chart", str(path), "-o", str(target), "--choice", "shielding=none"]) == 0
    assert all("checked, no faults" in page for page in pages_of(target))
    assert main(["chart", str(path), "-o", str(target), "--choice", "shielding=collar"]) == 1


def test_faults_in_the_text_give_no_chart(room, capsys):
    path = room / "slip.protocol"
    text = GOOD.read_text(encoding="utf-8")
    path.write_text(text.replace("operator aims tube", "operator aimz tube", 1), encoding="utf-8")
    assert main(["chart", str(path), "-o", str(room / "wall.pdf")]) == 2
    said = capsys.readouterr().err
    assert "one fault in its text" in said and "protocol-lang check" in said
    assert entries(room) == {"slip.protocol"}


# --- both: what cannot be done is one sentence, and nothing is written ---------------------------


def refused(capsys, *arguments: str) -> str:
    assert main(list(arguments)) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "Traceback" not in shown.err
    return str(shown.err)


@pytest.mark.parametrize("command", ["chart", "draw"])
@pytest.mark.parametrize("name", ["wall", "wall.doc", "wall.pdf.gz", ".pdf", "wall."])
def test_another_ending(room, capsys, command, name):
    said = refused(capsys, command, str(GOOD), "-o", str(room / name))
    assert ".svg" in said and "ends" not in said.split("must end")[0]
    assert entries(room) == set()


@pytest.mark.parametrize("command", ["chart", "draw"])
def test_what_cannot_be_read(room, capsys, command):
    target = str(room / "x.svg")
    assert "There is no file" in refused(capsys, command, str(room / "no.protocol"), "-o", target)
    assert refused(capsys, command, str(room), "-o", target)
    words = folder("protocols") / "vocabulary" / "dental-imaging.protocol"
    assert "has no steps" in refused(capsys, command, str(words), "-o", target)
    assert entries(room) == set()


@pytest.mark.parametrize("command", ["chart", "draw"])
def test_choices_that_there_are_not(room, capsys, command):
    target = str(room / "x.svg")
    for choice, word in (("staff=alone", "staffing"), ("staffing=three", "paired"), ("alone", "=")):
        assert word in refused(capsys, command, str(GOOD), "-o", target, "--choice", choice)
    assert entries(room) == set()


def test_paper_and_day_that_there_are_not(room, capsys):
    target = str(room / "x.pdf")
    assert "Letter" in refused(capsys, "chart", str(GOOD), "-o", target, "--paper", "B5")
    assert "2026-11-02" in refused(capsys, "chart", str(GOOD), "-o", target, "--on", "tomorrow")


@pytest.mark.parametrize("command", ["chart", "draw"])
def test_never_over_what_it_is_made_from(room, capsys, command):
    source = room / "mine.svg"  # a protocol may have any name
    source.write_bytes(GOOD.read_bytes())
    said = refused(capsys, command, str(source), "-o", str(source), *one_sheet(command))
    assert "was left as it is" in said
    assert source.read_bytes() == GOOD.read_bytes()
    assert entries(room) == {"mine.svg"}


@pytest.mark.parametrize("command", ["chart", "draw"])
def test_only_ordinary_files_are_replaced(room, capsys, command):
    target = room / "x.svg"
    target.write_text("old", encoding="utf-8")
    assert main([command, str(GOOD), "-o", str(target), *one_sheet(command)]) == 0
    assert target.read_bytes().lstrip().startswith((b"<svg", b"<?xml"))
    link, aim = room / "link.svg", room / "aim.svg"
    aim.write_text("kept", encoding="utf-8")
    link.symlink_to(aim)
    capsys.readouterr()
    assert "link" in refused(capsys, command, str(GOOD), "-o", str(link), *one_sheet(command))
    assert aim.read_text(encoding="utf-8") == "kept"
    directory = room / "folder.svg"
    directory.mkdir()
    assert "folder" in refused(
        capsys, command, str(GOOD), "-o", str(directory), *one_sheet(command)
    )
    assert "could not be written" in refused(
        capsys, command, str(GOOD), "-o", str(room / "no" / "x.svg"), *one_sheet(command)
    )
    assert not [name for name in entries(room) if name.startswith(".")]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="permissions do not bind here")
def test_a_file_that_may_not_be_written_is_left(room, capsys):
    target = room / "x.svg"
    target.write_text("kept", encoding="utf-8")
    target.chmod(0o444)
    refused(capsys, "draw", str(GOOD), "-o", str(target))
    assert target.read_text(encoding="utf-8") == "kept"


# --- draw ----------------------------------------------------------------------------------------


def test_the_whole_protocol_and_one_way_of_choosing(room):
    whole, alone = room / "whole.pdf", room / "alone.pdf"
    assert main(["draw", str(GOOD), "-o", str(whole)]) == 0
    assert main(["draw", str(GOOD), "-o", str(alone), *ALONE]) == 0
    (of_all,), (of_one,) = pages_of(whole), pages_of(alone)
    assert "only staffing: paired" in of_all
    assert "helper" not in of_one and "only staffing" not in of_one


def test_a_fault_is_drawn_over_the_picture(room):
    path, target = faulty(room), room / "fault.pdf"
    assert main(["draw", str(path), "-o", str(target), "--fault", "1"]) == 1
    found = check_file(path).outcome.findings
    route = found[0].route
    assert route is not None
    (shown,) = pages_of(target)
    for number, stop in enumerate(route.steps[:-1], start=1):
        assert f"{number} {stop.moves[-1][1]}" in shown
    assert "next visit" in shown


@pytest.mark.parametrize("ending", ["pdf", "svg", "png"])
def test_the_room_is_drawn(room, capsys, ending):
    target = room / f"room.{ending}"
    assert main(["draw", str(GOOD), "-o", str(target), "--room"]) == 0
    assert "things and people" in capsys.readouterr().out
    assert target.read_bytes()[:4] in (b"%PDF", b"<svg", b"\x89PNG")


def test_the_room_before_and_after_a_change(room):
    path, target = faulty(room), room / "both.pdf"
    assert main(["draw", str(path), "-o", str(target), "--room", "--fault", "1"]) == 1
    (shown,) = pages_of(target)
    assert "As it is" in shown and "With the change for finding 1" in shown
    assert "The change:" in shown and "operator disinfects sensor" in shown


def test_findings_that_cannot_be_drawn(room, capsys):
    target = str(room / "x.svg")
    assert "no findings" in refused(capsys, "draw", str(GOOD), "-o", target, "--fault", "1")
    path = str(faulty(room))
    for number in ("0", "2", "-1"):
        said = refused(capsys, "draw", path, "-o", target, "--fault", number)
        assert f"no finding number {number}" in said
    refused(capsys, "draw", path, "-o", target, "--fault", "first")
    assert not (room / "x.svg").exists()


# --- What is beyond the limits, and what runs in a circle ---


def many_choices(room: Path) -> Path:
    """The shipped protocol with sixteen more choices that matter: too many combinations."""
    names = [f"extra {letter}" for letter in "abcdefghijklmnop"]
    text = GOOD.read_text(encoding="utf-8")
    choices = "".join(f"  {name}: yes, no\n" for name in names)
    steps = "".join(f"  where {name} is yes\n    [ ] say: {name}\n" for name in names)
    text = text.replace("choices, each visit\n", f"choices, each visit\n{choices}", 1)
    text = text.replace('phase "Get ready"\n', f'phase "Get ready"\n{steps}', 1)
    path = room / "many.protocol"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_checked_only_for_some_choices_is_a_draft(room, capsys):
    path, target = many_choices(room), room / "wall.pdf"
    assert "could not be checked" in refused(capsys, "chart", str(path), "-o", str(target))
    settled = [word for letter in "abcdefghijklmnop" for word in ("--choice", f"extra {letter}=no")]
    assert main(["chart", str(path), "-o", str(target), *settled, *ALONE]) == 4
    page = pages_of(target)[0]
    assert "DRAFT: other choices were not checked" in page
    assert "checked, no faults" not in page


def test_too_many_charts_at_once(room, capsys):
    path = many_choices(room)
    settled = [word for letter in "abcdefghij" for word in ("--choice", f"extra {letter}=no")]
    said = refused(capsys, "chart", str(path), "-o", str(room / "wall.pdf"), *settled)
    assert "256 charts" in said and "--choice" in said


def test_what_comes_up_during_the_visit_makes_no_further_chart(room, capsys):
    path = room / "phone.protocol"
    path.write_text(
        """protocol "Phone"
  edition 1
  takes words from "Imaging room 2"

choices, each visit
  staffing: alone, paired

can happen in "Visit"
  phone rings, between any two steps of operator
    [ ] operator cleans hands

phase "Visit"
  for each image, 1 to 3
    [ ] operator cleans hands
    either
      [ ] operator works at keyboard
    or
      [ ] operator looks at the image
  where staffing is paired
    [ ] helper cleans hands
""",
        "utf-8",
    )
    assert main(["chart", str(path), "-o", str(room / "wall.pdf")]) == 0
    assert "two charts" in capsys.readouterr().out
    first, second = pages_of(room / "wall.pdf")
    assert "staffing alone" in " ".join(first.split())
    assert "staffing paired" in " ".join(second.split())


def test_an_order_in_a_circle(room, capsys):
    line = "  [ ] operator opens the record at keyboard\n"
    text = GOOD.read_text(encoding="utf-8")
    path = room / "circle.protocol"
    path.write_text(text.replace(line, f"{line}      after place\n"), encoding="utf-8")
    assert "circle" in refused(capsys, "draw", str(path), "-o", str(room / "x.svg"))
    target = room / "wall.pdf"
    assert main(["chart", str(path), "-o", str(target), *ALONE]) == 1
    assert all("DRAFT" in page for page in pages_of(target))
