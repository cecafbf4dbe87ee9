"""Sheets in other languages: what is translated, what stays and is marked, and how it prints."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.paper import Paper
from protocol_lang.chart.pieces import tokens
from protocol_lang.chart.plan import sheet as plan
from protocol_lang.chart.print import render
from protocol_lang.chart.sheet import (
    Checked,
    Draft,
    Group,
    Panel,
    PanelKind,
    PanelLine,
    Row,
    Sheet,
    Together,
    rows,
)
from protocol_lang.chart.translate import plain, translated, untranslated, wanted
from protocol_lang.chart.words import ENGLISH, LANGUAGES, words_of
from protocol_lang.language.load import load
from protocol_lang.pages import sheets
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from protocol_lang.translation.catalogue import Texts, texts
from protocol_lang.translation.files import catalogue_beside
from tests.chart.samples import intraoral

ROOM = folder("protocols") / "imaging-room-2"
SHIPPED = ROOM / "intraoral-wired-sensor.protocol"
OTHERS = [code for code in LANGUAGES if code != "en"]


@cache
def known(language: str) -> Texts:
    """All that is translated of the shipped protocol."""
    data = folder("protocols") / "data" / "germs-and-treatment.protocol"
    files = (SHIPPED, ROOM / "imaging-room-2.protocol", data)
    own, *others = (catalogue_beside(path, language) for path in files)
    return texts(language, own, [one for one in others if one is not None])


@cache
def shipped(staffing: str = "paired", shielding: str = "collar") -> Sheet:
    found = load(SHIPPED).protocol
    assert found is not None
    made = plan(found, {"staffing": staffing, "shielding": shielding})
    return replace(made, mark=Checked(), never_touch=("tube", "keyboard"))


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    found = " ".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return re.sub(r"\s+", " ", found)


def some(said: dict[str, str], reviewed_by: str | None = None) -> Texts:
    return Texts("es", said, reviewed_by)


# --- The records ---------------------------------------------------------------------------------


def test_every_text_is_wanted_once_in_the_order_of_reading():
    found = [one.text for one in wanted((intraoral("alone"), intraoral("paired")))]
    assert len(found) == len(set(found))
    assert found.index("Get ready") < found.index("operator cleans hands")
    assert found.index("operator cleans hands") < found.index(
        "operator opens the record at keyboard"
    )
    about = {one.text: one.about for one in wanted((intraoral("alone"),))}
    assert about["operator"] == "person"
    assert about["Get ready"] == "phase"
    assert about["Never hold the receptor or the tube for the patient."] == "note"


def test_what_is_translated_is_replaced_and_the_rest_is_marked():
    made = translated(intraoral("alone"), some({"Get ready": "Preparar", "operator": "operador"}))
    assert made.language == "es"
    assert made.persons == ("operador",)
    assert made.phases[0].title == "Preparar"
    first = next(iter(rows(made.phases[0].items)))
    assert first.person == "operador" and set(first.hands) == {"operador"}
    assert plain(first.text) == "operator cleans hands" != first.text
    missing = untranslated(made)
    assert "operator cleans hands" in missing
    assert "Get ready" not in missing and "operator" not in missing


def test_numbers_hands_and_order_stay():
    given = shipped()
    made = translated(given, known("ar"))
    pairs = [
        (before, after)
        for old, new in zip(given.phases, made.phases, strict=True)
        for before, after in zip(rows(old.items), rows(new.items), strict=True)
    ]
    assert len(pairs) > 50
    for before, after in pairs:
        assert (before.number, before.wait_minutes, before.after) == (
            after.number, after.wait_minutes, after.after,
        )  # fmt: skip
        assert list(before.hands.values()) == list(after.hands.values())


@pytest.mark.parametrize("language", OTHERS)
def test_the_shipped_protocol_is_translated_as_a_whole(language: str):
    for staffing in ("alone", "paired"):
        for shielding in ("none", "collar"):
            assert untranslated(translated(shipped(staffing, shielding), known(language))) == ()


@pytest.mark.parametrize("language", OTHERS)
def test_a_step_begins_with_who_does_it_as_in_the_protocol(language: str):
    """So that the chart can set the name apart, or leave it out where it goes without saying."""
    given, made = shipped(), translated(shipped(), known(language))
    for old, new in zip(given.phases, made.phases, strict=True):
        for before, after in zip(rows(old.items), rows(new.items), strict=True):
            if before.person and before.text.startswith(f"{before.person} "):
                assert after.text.startswith(f"{after.person} "), after.text


@pytest.mark.parametrize("language", OTHERS)
def test_steps_that_differ_differ_in_every_language(language: str):
    steps = {one.text for one in wanted((shipped(),)) if one.about in ("step", "name")}
    assert len({known(language).of(text) for text in steps}) == len(steps)


def test_the_charts_of_the_shipped_protocol_with_all_their_panels_are_translated():
    """As the engine fills them; which of them there are is for the tests of the pages."""
    checked = check_file(SHIPPED, mend=False)
    assert checked.unfolded is not None and checked.judgement is not None
    made = sheets(checked.unfolded, checked.judgement, Checked(), {})
    assert len(made) == 4 and all(sheet.panels for sheet in made)
    for language in OTHERS:
        for sheet in made:
            assert untranslated(translated(sheet, known(language))) == ()


def test_a_foot_tells_that_nobody_has_looked_it_through_until_somebody_has():
    words = words_of("es")
    made = translated(intraoral("alone"), some({}))
    assert words.not_reviewed in made.cautions
    assert any("EN" in caution for caution in made.cautions)
    made = translated(shipped(), replace(known("es"), reviewed_by="R. Ortega"))
    assert made.cautions == ("Traducción revisada por R. Ortega.",)


def test_headings_take_the_words_of_the_program_around_those_of_the_protocol():
    def heading(told: str, **said: str) -> str:
        one = Group(Together.HEADED, (), heading=told)
        phase = replace(intraoral("alone").phases[0], items=(one,))
        given = replace(intraoral("alone"), phases=(phase,))
        (group,) = translated(given, some(said)).phases[0].items
        assert isinstance(group, Group) and group.heading is not None
        return group.heading

    assert heading("either") == "o bien"
    assert heading("if image failed", **{"image failed": "falló la imagen"}) == (
        "si falló la imagen"
    )
    assert heading("for each exposure, 1 to 18", exposure="exposición") == (
        "para cada exposición, de 1 a 18"
    )
    assert heading("for each exposure, 4", exposure="exposición") == "para cada exposición, 4"
    assert heading("again from step 10, at most once") == (
        "repetir desde el paso 10, como máximo una vez"
    )
    assert heading("again from step 10, at most 3 times") == (
        "repetir desde el paso 10, como máximo 3 veces"
    )
    assert plain(heading("if image failed")) == "si image failed" != heading("if image failed")
    assert plain(heading("when all is lost")) == "when all is lost"


def test_headings_of_the_plan_are_all_known():
    """Every form of words in chart/plan.py, tried on the shipped protocols."""
    for path in sorted(folder("protocols").rglob("*.protocol")):
        found = load(path).protocol
        if found is None or path.read_text("utf-8").startswith("day "):
            continue
        choices = {one.name: one.values[0] for one in found.choices if one.known_after is None}
        made = plan(found, choices)
        about = {one.text: one.about for one in wanted((made,))}
        conditions = [text for text, what in about.items() if what == "condition"]
        for text in conditions:
            assert not re.match(r"(if|again|for each|either|first|last) ", text), text


def test_what_the_program_says_in_a_mark_or_a_caution_is_translated():
    due = date(2026, 11, 2)
    overdue = ENGLISH.review_overdue.format(day=ENGLISH.day(due))
    given = replace(
        intraoral("alone"), mark=Draft("2 faults to correct"), review_by=due, cautions=(overdue,)
    )
    made = translated(given, some({}))
    assert made.mark == Draft("2 fallos por corregir")
    assert made.cautions[0] == "La revisión debía hacerse a más tardar el 2 de noviembre de 2026."
    for reason in ENGLISH.reasons:
        said = translated(replace(given, mark=Draft(reason)), some({})).mark
        assert said == Draft(words_of("es").reasons[reason])


def test_touch_only_hands_and_consequences_are_translated():
    row = Row(
        1, "operator opens", "operator", {}, hand="the used hand", touch_only=("tube",),
        must_not_skip="soil on tube",
    )  # fmt: skip
    phase = replace(intraoral("alone").phases[0], items=(row,))
    given = replace(intraoral("alone"), phases=(phase,), rules=("House rules",))
    said = {
        "tube": "tubo", "soil on tube": "tubo contaminado", "House rules": "Reglas de la casa",
    }  # fmt: skip
    made = translated(given, some(said))
    (new,) = rows(made.phases[0].items)
    assert (new.hand, new.touch_only, new.must_not_skip) == (
        "mano contaminada", ("tubo",), "tubo contaminado",
    )  # fmt: skip
    assert made.rules == ("Reglas de la casa",)


NAMES = {
    "tube": "tubo", "wipe": "toallita", "gloves": "guantes", "wrap": "envoltorio",
    "intermediate": "intermedio", "clinical waste": "residuos clínicos",
    "yellow bag": "bolsa amarilla", "adult, molar": "adulto, molar", "image": "imagen",
    "takes off gloves": "se quita los guantes", "a glove tears": "se rompe un guante",
    "Not alone.": "No a solas.", "adviser": "asesor", "extension 214": "extensión 214",
    "operator": "operador", "behind the barrier": "detrás de la barrera", "slow": "lento",
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "line", "expected"),
    [
        (PanelKind.DISINFECTED, PanelLine("tube, wrap", "intermediate level, with wipe", minutes=2),
         PanelLine("tubo, envoltorio", "nivel intermedio, con toallita", minutes=2)),
        (PanelKind.DISINFECTED, PanelLine("tube", "intermediate level"),
         PanelLine("tubo", "nivel intermedio")),
        (PanelKind.COVERED, PanelLine("tube", "wrap", steps=(3,)),
         PanelLine("tubo", "envoltorio", steps=(3,))),
        (PanelKind.WASTE, PanelLine("clinical waste (yellow bag)", "gloves, wrap"),
         PanelLine("residuos clínicos (bolsa amarilla)", "guantes, envoltorio")),
        (PanelKind.SETTINGS, PanelLine("adult, molar", "65 kV, 0.16 s, slow"),
         PanelLine("adulto, molar", "65 kV, 0.16 s, lento")),
        (PanelKind.LAY_OUT, PanelLine("wipe", "per image", count=2),
         PanelLine("toallita", "por imagen", count=2)),
        (PanelKind.HAPPENS,
         PanelLine("a glove tears", "takes off gloves; in all up to 9 steps, see the protocol"),
         PanelLine("se rompe un guante",
                   "se quita los guantes; en total hasta 9 pasos, ver el protocolo")),
        (PanelKind.STANDS, PanelLine("operator", "behind the barrier"),
         PanelLine("operador", "detrás de la barrera")),
        (PanelKind.CALL, PanelLine("adviser", "extension 214"),
         PanelLine("asesor", "extensión 214")),
    ],
)  # fmt: skip
def test_panels_are_translated_piece_by_piece(kind, line, expected):
    notes = ("a glove tears: Not alone.",) if kind is PanelKind.HAPPENS else ("Not alone.",)
    given = replace(intraoral("alone"), panels=(Panel(kind, (line,), notes),))
    (panel,) = translated(given, some(NAMES)).panels
    assert panel.lines == (expected,)
    assert panel.notes[0].endswith("No a solas.")
    assert translated(given, some(NAMES)).panels[0].notes[0].startswith(("se rompe", "No"))


def test_tokens_are_made_of_the_names_without_marks():
    made = translated(intraoral("paired"), some({}))
    assert list(tokens(made.persons).values()) == ["O", "H"]


# --- On paper ------------------------------------------------------------------------------------


@cache
def printed(language: str, paper: Paper) -> bytes:
    made = translated(shipped(), known(language))
    return render(made, "pdf", paper).pages[0]


@pytest.mark.parametrize("paper", [Paper.A3, Paper.LETTER])
@pytest.mark.parametrize("language", OTHERS)
def test_every_language_prints_with_every_letter_and_as_its_standard_asks(language, paper):
    """PDF/UA-1 (ISO 14289-1): a letter that no font has would be an error of the typesetter."""
    pdf = printed(language, paper)
    report = validator.validate_pdf_bytes(pdf, profile="ua1")
    assert report.is_compliant, [(one.rule_id, one.message) for one in report.failures]


@pytest.mark.parametrize("language", OTHERS)
def test_the_language_of_the_document_is_told(language: str, tmp_path: Path):
    path = tmp_path / "a.pdf"
    path.write_bytes(printed(language, Paper.A3))
    with pikepdf.open(path) as pdf:
        assert str(pdf.Root.Lang) == language
        assert plain(str(pdf.docinfo.Title)) == str(pdf.docinfo.Title)


@pytest.mark.parametrize("language", ["es", "fr"])
def test_all_steps_can_be_read_back(language: str):
    """Of Latin letters alone: readers of PDF take other scripts apart."""
    text = bare(text_of(printed(language, Paper.A3)))
    made = translated(shipped(), known(language))
    for phase in made.phases:
        for row in rows(phase.items):
            words = row.text.removeprefix(f"{row.person} ")
            assert bare(words) in text
    assert bare(words_of(language).not_reviewed) in text


def bare(text: str) -> str:
    """Without blanks and hyphens, at which lines are broken."""
    return re.sub("[\\s\ufffe-]", "", text.casefold())


def languages_told(pdf: bytes, tmp_path: Path) -> list[str]:
    """The languages that are told of single words, in the order of the page."""
    path = tmp_path / "a.pdf"
    path.write_bytes(pdf)
    found: list[str] = []
    with pikepdf.open(path) as opened:
        for sheet in opened.pages:
            for instruction in pikepdf.parse_content_stream(sheet):
                if str(instruction.operator) == "BDC":
                    about = instruction.operands[1]
                    if isinstance(about, pikepdf.Dictionary) and "/Lang" in about:
                        found.append(str(about["/Lang"]))
    return found


def test_a_text_in_the_language_of_the_protocol_is_marked_and_told_as_such(tmp_path: Path):
    said = {text: said for text, said in known("es").said.items() if text != "operator aims tube"}
    given = shipped("alone", "none")
    whole = render(translated(given, known("es")), "pdf").pages[0]
    part = render(translated(given, some(said)), "pdf").pages[0]
    assert languages_told(whole, tmp_path) == []
    told = languages_told(part, tmp_path)
    assert told and set(told) == {"en"}
    text = text_of(part)
    assert "EN operator aims tube" in re.sub(r"\s+", " ", text) or "ENoperator aims tube" in text
    assert "apunta el tubo" not in text.casefold()
    assert "\ue000" not in text and "\ue001" not in text


def test_bookmarks_and_title_have_no_marks(tmp_path: Path):
    pdf = render(translated(intraoral("alone"), some({})), "pdf").pages[0]
    path = tmp_path / "a.pdf"
    path.write_bytes(pdf)
    document = pypdfium2.PdfDocument(pdf)
    names = [entry.get_title() for entry in document.get_toc()]
    document.close()
    assert "Get ready" in names
    with pikepdf.open(path) as opened:
        assert str(opened.docinfo.Title).startswith("Intraoral")
    assert validator.validate_pdf_bytes(pdf, profile="ua1").is_compliant
