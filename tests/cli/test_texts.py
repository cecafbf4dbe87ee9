"""``texts``, and ``chart --language``: what is told, what is written, and the exit codes."""

from __future__ import annotations

import re
from pathlib import Path

import polib
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.cli import main

#: A visit whose texts are counted by hand: see TEXTS.
VISIT = """protocol "First talk"
  edition 1
  takes words from "Talking room"

phase "Talk"
  [ ] nurse cleans hands
      note "For 30 seconds."
  [ ] nurse opens the record at keyboard
      short "Open the record"
  [ ] nurse cleans hands
"""
ROOM = """room "Talking room"
  takes words from "Dental imaging"

people
  nurse: staff

surfaces
  keyboard: surface; kept clean
"""
#: Title, room, the person, the phase, two steps (one is done twice) and a note.
TEXTS = [
    "First talk", "Talking room", "nurse", "Talk", "nurse cleans hands", "For 30 seconds.",
    "Open the record",
]  # fmt: skip
SPANISH = {
    "First talk": "Primera charla",
    "Talk": "Hablar",
    "nurse cleans hands": "enfermera se limpia las manos",
    "For 30 seconds.": "Durante 30 segundos.",
    "Open the record": "Abrir la ficha",
}
OF_ROOM = {"Talking room": "Sala de charla", "nurse": "enfermera", "keyboard": "teclado"}


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    (tmp_path / "first-talk.protocol").write_text(VISIT)
    (tmp_path / "talking-room.protocol").write_text(ROOM)
    return tmp_path


def visit(clinic: Path) -> str:
    return str(clinic / "first-talk.protocol")


def put(path: Path, said: dict[str, str], **header: str) -> None:
    made = polib.POFile()
    made.metadata = {"Content-Type": "text/plain; charset=UTF-8", **header}
    for text, translation in said.items():
        made.append(polib.POEntry(msgid=text, msgstr=translation))
    made.save(str(path))


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, list[str]]:
    """What is said, by heading."""
    found: dict[str, list[str]] = {}
    lines = capsys.readouterr().out.splitlines()
    found["first"] = [lines[0]]
    head = "first"
    for line in lines[1:]:
        if line and not line.startswith(" "):
            head = line
            found[head] = []
        elif line:
            found[head].append(line.strip())
    return found


def test_without_a_translation_all_texts_are_listed(clinic, capsys):
    assert main(["texts", visit(clinic), "--language", "es"]) == 4
    found = told(capsys)
    assert found["first"] == ['7 texts of "First talk": 0 in Spanish, 7 not.']
    assert found["Not translated:"] == TEXTS


def test_what_the_room_translates_is_not_missing(clinic, capsys):
    put(clinic / "talking-room.es.po", OF_ROOM)
    assert main(["texts", visit(clinic), "--language", "es"]) == 4
    assert told(capsys)["Not translated:"] == list(SPANISH)[:1] + [
        text for text in TEXTS if text in SPANISH and text != "First talk"
    ]


def test_with_all_translated_the_code_is_0_and_what_is_unused_is_told(clinic, capsys):
    put(clinic / "talking-room.es.po", OF_ROOM)
    put(clinic / "first-talk.es.po", {**SPANISH, "nurse sings": "enfermera canta"})
    assert main(["texts", visit(clinic), "--language", "es"]) == 0
    found = told(capsys)
    assert found["first"][0].endswith("in Spanish, none not.")
    assert "Not translated:" not in found
    assert found["No longer used:"] == ["nurse sings"]


def test_other_numbers_are_to_be_corrected(clinic, capsys):
    put(clinic / "talking-room.es.po", OF_ROOM)
    put(clinic / "first-talk.es.po", {**SPANISH, "For 30 seconds.": "Durante 20 segundos."})
    assert main(["texts", visit(clinic), "--language", "es"]) == 1
    found = told(capsys)
    assert found["To correct, the numbers differ:"] == ["For 30 seconds.", "Durante 20 segundos."]


def test_a_room_lists_the_names_that_it_declares(clinic, capsys):
    room = str(clinic / "talking-room.protocol")
    assert main(["texts", room, "--language", "hi"]) == 4
    assert told(capsys)["Not translated:"] == ["Talking room", "nurse", "keyboard"]
    assert main(["texts", room, "--language", "hi", "-o", str(clinic / "talking-room.hi.po")]) == 4
    assert [e.msgid for e in polib.pofile(str(clinic / "talking-room.hi.po"))] == list(OF_ROOM)


def test_a_new_file_can_be_filled_in_and_is_found(clinic, capsys):
    put(clinic / "talking-room.es.po", OF_ROOM)
    target = clinic / "first-talk.es.po"
    assert main(["texts", visit(clinic), "--language", "es", "-o", str(target)]) == 4
    assert "texts, 5 still to be translated or looked at." in capsys.readouterr().out
    made = polib.pofile(str(target))
    assert made.metadata["Language"] == "es"
    assert [e.msgid for e in made] == [text for text in TEXTS if text in SPANISH]
    for entry in made:
        entry.msgstr = SPANISH[entry.msgid]
    made.save()
    assert main(["texts", visit(clinic), "--language", "es"]) == 0


def test_a_file_is_brought_up_to_date_and_keeps_all(clinic, capsys):
    target = clinic / "first-talk.es.po"
    put(target, {**SPANISH, **OF_ROOM}, **{"X-Reviewed-By": "R. Ortega"})
    changed = VISIT.replace("Open the record", "Open the records").replace(
        "For 30 seconds.", "For 20 seconds."
    )
    (clinic / "first-talk.protocol").write_text(changed)
    assert main(["texts", visit(clinic), "--language", "es", "-o", str(target)]) == 4
    made = {entry.msgid: entry for entry in polib.pofile(str(target))}
    assert made["Open the records"].fuzzy and made["Open the records"].msgstr == "Abrir la ficha"
    assert made["Open the record"].obsolete and made["For 30 seconds."].obsolete
    assert made["nurse cleans hands"].msgstr == "enfermera se limpia las manos"
    assert polib.pofile(str(target)).metadata["X-Reviewed-By"] == "R. Ortega"
    before = target.read_bytes()
    main(["texts", visit(clinic), "--language", "es", "-o", str(target)])
    assert target.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["--language", "xx"], "is not a language of charts"),
        (["--language", "en"], "need no translation into English"),
        (["--language", "es", "-o", "texts.txt"], "must end in .po"),
    ],
)
def test_what_cannot_be_asked_for(clinic, capsys, arguments, what):
    assert main(["texts", visit(clinic), *arguments]) == 2
    assert what in capsys.readouterr().err
    assert not (clinic / "texts.txt").exists()


@pytest.mark.parametrize("command", ["texts", "chart"])
@pytest.mark.parametrize("of", ["first-talk", "talking-room"])
def test_a_broken_translation_is_told_with_its_line_and_nothing_is_written(
    clinic, capsys, command, of
):
    broken = clinic / f"{of}.es.po"
    broken.write_text('msgid "a"\nmsgstr "b\n')
    target = clinic / ("out.pdf" if command == "chart" else "out.po")
    more = ["-o", str(target), "--language", "es"]
    assert main([command, visit(clinic), *more]) == 2
    said = capsys.readouterr().err
    assert f"{of}.es.po" in said and "because of line 2" in said
    assert not target.exists()


def test_a_broken_file_is_not_written_over(clinic, capsys):
    target = clinic / "mine.po"
    target.write_text("my notes")
    assert main(["texts", visit(clinic), "--language", "es", "-o", str(target)]) == 2
    assert target.read_text() == "my notes"


def test_a_link_that_leads_out_is_refused(clinic, tmp_path_factory, capsys):
    other = tmp_path_factory.mktemp("other") / "secret.po"
    other.write_text('msgid "a"\nmsgstr "b"\n')
    (clinic / "first-talk.es.po").symlink_to(other)
    assert main(["texts", visit(clinic), "--language", "es"]) == 2
    assert "leads out of its folder" in capsys.readouterr().err
    assert main(
        ["texts", visit(clinic), "--language", "es", "-o", str(clinic / "first-talk.es.po")]
    ) == 2  # fmt: skip
    assert other.read_text() == 'msgid "a"\nmsgstr "b"\n'


def test_a_file_that_is_no_protocol_or_faulty_has_no_texts(clinic, capsys):
    (clinic / "bad.protocol").write_text(VISIT.replace("nurse opens", "nobody opens"))
    assert main(["texts", str(clinic / "bad.protocol"), "--language", "es"]) == 2
    assert main(["texts", str(clinic / "none.protocol"), "--language", "es"]) == 2


# --- chart --language ----------------------------------------------------------------------------


def read(pdf: Path) -> str:
    document = pypdfium2.PdfDocument(pdf)
    found = " ".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return re.sub(r"\s+", " ", found)


def test_a_chart_is_printed_with_what_lies_beside_and_says_what_is_missing(clinic, capsys):
    put(clinic / "talking-room.es.po", OF_ROOM)
    put(clinic / "first-talk.es.po", SPANISH, **{"X-Reviewed-By": "R. Ortega"})
    out = clinic / "wall.pdf"
    arguments = ["chart", visit(clinic), "-o", str(out), "--language", "es", "--on", "2026-11-25"]
    code = main(arguments)
    assert "not in Spanish" not in capsys.readouterr().err
    text = read(out)
    assert "Primera charla" in text and "Se limpia las manos" in text
    assert "Traducción revisada por R. Ortega." in text
    assert "no se ha revisado" not in text
    put(clinic / "first-talk.es.po", {k: v for k, v in SPANISH.items() if k != "Talk"})
    assert main(arguments) == code
    said = capsys.readouterr().err
    assert "one text of the chart is not in Spanish" in said
    assert f"texts {visit(clinic)} --language es" in said
    assert "no se ha revisado" in read(out)


def test_english_is_as_without_the_option(clinic):
    one, other = clinic / "a.pdf", clinic / "b.pdf"
    main(["chart", visit(clinic), "-o", str(one), "--on", "2026-11-25"])
    main(["chart", visit(clinic), "-o", str(other), "--on", "2026-11-25", "--language", "en"])
    assert one.read_bytes() == other.read_bytes()


def test_another_language_is_told_before_anything_is_checked(clinic, capsys):
    assert main(["chart", "none.protocol", "-o", "a.pdf", "--language", "tlh"]) == 2
    assert "is not a language of charts" in capsys.readouterr().err
