"""Charts as printed: read back from the PDF with independent readers."""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.faults import CannotPrint
from protocol_lang.chart.paper import CAPITAL_HEIGHT, POINTS_PER_MM, Paper
from protocol_lang.chart.print import MARGIN, render
from protocol_lang.chart.sheet import Checked, Draft, Row, Sheet, SheetPhase, rows
from protocol_lang.chart.typeset import Format
from tests.chart.samples import full, intraoral

PAPERS = list(Paper)
STAFFING = ["alone", "paired"]


@cache
def printed(staffing: str, paper: Paper, distance: float = 1.0):
    return render(intraoral(staffing, "collar"), "pdf", paper, distance=distance)


def read(pdf: bytes) -> list[str]:
    """The text of each page, in the order in which it stands in the file, blanks made equal."""
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return [re.sub(r"\s+", " ", text.replace("\ufffe", "")) for text in texts]


def steps(sheet: Sheet) -> list[Row]:
    return [row for phase in sheet.phases for row in rows(phase.items)]


def without_actor(row: Row, sheet: Sheet) -> str:
    """What must be readable of a row whoever is named before it."""
    words = row.text
    if row.person and words.casefold().startswith(row.person.casefold() + " "):
        words = words[len(row.person) + 1 :]
    return words


def assert_in_order(text: str, parts: Iterable[str]) -> None:
    """Blanks do not count: a line may be broken after a stroke or a hyphen."""
    text, at = re.sub(r"\s", "", text.casefold()), 0
    for part in (re.sub(r"\s", "", part.casefold()) for part in parts):
        found = text.find(part, at)
        assert found >= 0, f"{part!r} does not come after {text[max(0, at - 60) : at]!r}"
        at = found + len(part)


def map_texts(sheet: Sheet, change) -> Sheet:
    def item(one):
        if isinstance(one, Row):
            return replace(one, text=change(one.text))
        return replace(one, items=tuple(item(inner) for inner in one.items))

    phases = tuple(
        replace(phase, title=change(phase.title), items=tuple(item(inner) for inner in phase.items))
        for phase in sheet.phases
    )
    return replace(sheet, title=change(sheet.title), phases=phases)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("staffing", STAFFING)
def test_all_steps_are_read_back_in_order(staffing, paper):
    sheet = intraoral(staffing, "collar")
    made = printed(staffing, paper)
    texts = read(made.pages[0])
    assert len(texts) == made.sheets
    assert_in_order(" ".join(texts), (f" {row.number} " for row in steps(sheet)))
    assert_in_order(" ".join(texts), (without_actor(row, sheet) for row in steps(sheet)))
    for text in texts:
        assert sheet.title in text and "Edition 1" in text and "2 November 2027" in text
        assert "Local rules and licensed practice come first." in text
        assert "checked, no faults" in text and "DRAFT" not in text
        for name, value in sheet.choices:
            assert f"{name} {value}" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper(paper):
    # ISO 216: A4 210 x 297 mm, A3 297 x 420 mm, A2 420 x 594 mm.
    # ANSI/ASME Y14.1: A 8.5 x 11 in, B 11 x 17 in.
    size = {
        Paper.A4: (297, 210),
        Paper.A3: (420, 297),
        Paper.A2: (594, 420),
        Paper.LETTER: (11 * 25.4, 8.5 * 25.4),
        Paper.TABLOID: (17 * 25.4, 11 * 25.4),
    }[paper]
    document = pypdfium2.PdfDocument(printed("alone", paper).pages[0])
    for page in document:
        assert [side / POINTS_PER_MM for side in page.get_size()] == pytest.approx(size, abs=0.1)
    document.close()


@pytest.mark.parametrize("profile", ["ua1", "pdfa2a"])
@pytest.mark.parametrize("staffing", STAFFING)
def test_accessible_and_lasting(staffing, profile, tmp_path):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A, by a validator that is not the typesetter's.
    file = tmp_path / "chart.pdf"
    for sheet in (intraoral(staffing, "collar"), intraoral(staffing, mark=Draft("1 fault"))):
        for paper in (Paper.A3, Paper.A4):
            file.write_bytes(render(sheet, "pdf", paper).pages[0])
            report = validator.validate_pdf(str(file), profile=profile)
            assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]


def tags(pdf: bytes) -> list[str]:
    import io

    document = pikepdf.open(io.BytesIO(pdf))
    found: list[str] = []

    def walk(node):
        if isinstance(node, pikepdf.Array):
            for one in node:
                walk(one)
        elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
            found.append(str(node.S))
            if "/K" in node:
                walk(node.K)

    walk(document.Root.StructTreeRoot.K)
    document.close()
    return found


@pytest.mark.parametrize("staffing", STAFFING)
def test_steps_are_items_of_lists_under_headings(staffing):
    sheet = intraoral(staffing, "collar")
    found = tags(printed(staffing, Paper.A3).pages[0])
    assert found.count("/LI") == found.count("/Lbl") == len(steps(sheet))
    assert found.count("/H1") == 1
    assert found.count("/H2") == 1  # the choices
    assert found.count("/H3") >= len(sheet.phases)
    # A list of a lane belongs to the lane; no step stands outside a list.
    assert found.index("/H1") < found.index("/H2") < found.index("/LI")


def boxes(page) -> list[tuple[float, float, float, float]]:
    """Around the ink of each letter; letters drawn as one (fi) are one.

    Commas and full stops are left out: good type tucks them under the letter before ("r,").
    """
    text = page.get_textpage()
    found: list[tuple[float, float, float, float]] = []
    for index in range(text.count_chars()):
        if text.get_text_range(index, 1).strip(" \r\n\t,."):
            box = text.get_charbox(index)
            if found[-1:] != [box]:
                found.append(box)
    return found


def assert_clean_page(page, paper: Paper) -> None:
    """All letters inside the margins, and none on another."""
    width, height = page.get_size()
    margin = MARGIN * paper.value.height / Paper.A3.value.height * POINTS_PER_MM - 1.5
    letters = sorted(boxes(page))
    for left, bottom, right, top in letters:
        assert left >= margin and right <= width - margin
        assert bottom >= margin and top <= height - margin
    for number, (left, bottom, right, top) in enumerate(letters):
        for other in letters[number + 1 :]:
            if other[0] >= right:
                break
            wide = min(right, other[2]) - max(left, other[0])
            high = min(top, other[3]) - max(bottom, other[1])
            # Letters of one word may touch or lean into each other a little.
            narrow = min(right - left, other[2] - other[0])
            low = min(top - bottom, other[3] - other[1])
            assert not (wide > 0.35 * narrow and high > 0.35 * low), "letters lie on each other"


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("staffing", "times"), [("alone", 1), ("paired", 1), ("paired", 3)])
def test_nothing_overflows_or_overlaps(staffing, paper, times):
    sheet = intraoral(staffing, "collar")
    if times > 1:
        sheet = map_texts(sheet, lambda words: " ".join([words] * times))
    made = render(sheet, "pdf", paper, distance=0.7)
    document = pypdfium2.PdfDocument(made.pages[0])
    assert len(document) == made.sheets
    for page in document:
        assert_clean_page(page, paper)
    document.close()
    text = " ".join(read(made.pages[0]))
    assert_in_order(text, (without_actor(row, sheet) for row in steps(sheet)))


def test_the_overlap_check_sees_an_overlap():
    page = pypdfium2.PdfDocument(render(intraoral("alone", mark=Draft("x"))).pages[0])[0]
    with pytest.raises(AssertionError):  # the mark across the page lies on the steps
        assert_clean_page(page, Paper.A3)


@pytest.mark.parametrize("distance", [0.6, 1.0, 2.0])
@pytest.mark.parametrize("paper", [Paper.A3, Paper.LETTER])
def test_letters_can_be_read_from_the_distance(paper, distance):
    made = printed("alone", paper, distance)
    # ANSI Z535: letters of a message at least 1:300 of the distance (ratio from secondary
    # literature). Measured on the page: the height of the P of "Puts on gloves".
    page = pypdfium2.PdfDocument(made.pages[0])[0]
    text = page.get_textpage()
    found = text.search("Puts").get_next()
    assert found is not None
    _, bottom, _, top = text.get_charbox(found[0])
    letter = (top - bottom) / POINTS_PER_MM
    assert letter >= distance * 1000 / 300 - 0.01
    assert letter == pytest.approx(made.type_size * CAPITAL_HEIGHT / POINTS_PER_MM, rel=0.02)
    assert made.readable_from >= distance - 1e-9


def test_more_pages_before_smaller_type():
    assert printed("alone", Paper.A3, 1.0).sheets == 1
    far = printed("alone", Paper.A3, 2.0)
    assert far.sheets > 1
    for text in read(far.pages[0]):
        assert f"of {far.sheets}" in text


def test_a_phase_that_goes_on_says_again_what_must_not_be_touched():
    far = printed("paired", Paper.A4, 2.0)
    pages = [
        rest
        for text in read(far.pages[0])
        for _, _, rest in [text.partition(" Edition 1")]
        if rest.startswith(" O H Place and expose, continued")
    ]
    assert pages
    for rest in pages:
        assert_in_order(rest, ["continued", "Do not touch now:", "keyboard", "own face"])


AWKWARD = [
    '#read("x")',
    "*b*",
    "$x$",
    "<l>",
    "@l",
    "#{1+1}",
    "_i_",
    "= h",
    "- l",
    "//c",
    "\\n",
    "`r`",
]


@pytest.mark.parametrize("words", AWKWARD)
def test_text_is_printed_as_written(words):
    sheet = map_texts(intraoral("paired"), lambda text: f"{text} {words} end")
    sheet = replace(
        sheet, room=f"Room {words} end", owner=words, choices=((f"c {words}", f"v {words} end"),)
    )
    text = " ".join(read(render(sheet).pages[0]))
    assert f"Room {words} end" in text
    assert f"Intraoral, wired sensor {words} end" in text
    assert f"c {words} v {words} end" in text
    assert_in_order(text, (without_actor(row, sheet) for row in steps(sheet)))


def test_draft_is_marked_across_every_page_and_at_its_foot():
    made = render(intraoral("alone", mark=Draft("2 faults to correct")), "pdf", Paper.A4)
    assert made.sheets > 1
    for text in read(made.pages[0]):
        assert "DRAFT: 2 faults to correct" in text
        assert text.count("DRAFT") == 2
        assert "no faults" not in text and "Checked" not in text


@pytest.mark.parametrize("format", ["pdf", "svg", "png"])
def test_the_same_sheet_gives_the_same_bytes(format):
    sheet = intraoral("paired", "collar")
    one = render(sheet, format, pixels_per_inch=40)
    other = render(sheet, format, pixels_per_inch=40)
    assert one == other


def test_pictures_one_for_each_page():
    sheet = intraoral("alone")
    begins: dict[Format, bytes] = {"svg": b"<svg", "png": b"\x89PNG"}
    for format, begin in begins.items():
        made = render(sheet, format, Paper.A4, pixels_per_inch=40)
        assert len(made.pages) == made.sheets > 1
        assert all(page.startswith(begin) for page in made.pages)
        if format == "svg":
            assert all(b"<script" not in page and b"http://www.w3" in page for page in made.pages)


@pytest.mark.parametrize("format", ["pdf", "svg", "png"])
@pytest.mark.parametrize(("letter", "code"), [("日", "U+65E5"), ("☃", "U+2603")])
def test_a_letter_without_a_font_is_named(format, letter, code):
    with pytest.raises(CannotPrint) as caught:
        render(replace(intraoral("alone"), title=f"Sensor {letter}"), format)
    assert letter in str(caught.value) and code in str(caught.value)


def test_other_scripts_print():
    made = render(replace(intraoral("alone"), title="संवेदक", room="غرفة"), "pdf")
    assert made.sheets == 1


def one_step(text: str) -> Sheet:
    """Checked, so that no mark lies across it."""
    row = Row(1, text, None, {})
    return Sheet("Short", (), (SheetPhase("Only", (row,), {}),), (), mark=Checked())


def test_a_step_too_long_for_the_paper_is_named():
    with pytest.raises(CannotPrint, match=r"^Step 1 does not fit on A4 with letters .* 2 m\. Give"):
        render(one_step("very " * 400), "pdf", Paper.A4, distance=2.0)
    with pytest.raises(CannotPrint, match=r"^Step 1 does not fit"):
        render(one_step("x" * 300), "pdf", Paper.A4)


def test_a_long_word_makes_type_smaller_and_stays_in_its_line():
    short = render(one_step("word"), "pdf", Paper.A4)
    long = render(one_step("w" * 60), "pdf", Paper.A4)
    assert long.type_size < short.type_size
    page = pypdfium2.PdfDocument(long.pages[0])[0]
    assert_clean_page(page, Paper.A4)


def test_no_steps_no_chart():
    with pytest.raises(CannotPrint, match="no step"):
        render(Sheet("Empty", (), (SheetPhase("Nothing", (), {}),), ()))


def places(pdf: bytes, page: int, words: str) -> tuple[float, float]:
    """The left and the right edge of words on a page."""
    document = pypdfium2.PdfDocument(pdf)
    text = document[page].get_textpage()
    index, count = text.search(words).get_next()
    found = [text.get_charbox(index), text.get_charbox(index + count - 1)]
    document.close()
    return min(box[0] for box in found), max(box[2] for box in found)


def test_from_right_to_left_all_is_mirrored(monkeypatch):
    # English words set as Arabic is: what reads from the left is tested by its letters, and each
    # thing stands as far from the right edge as it stood from the left.
    from protocol_lang.chart import print as printing
    from protocol_lang.chart.words import ENGLISH

    sheet = intraoral("paired", "collar")
    usual = render(sheet).pages[0]
    mirrored = replace(ENGLISH, right_to_left=True)
    monkeypatch.setattr(printing, "words_of", lambda language: mirrored)
    other = render(sheet).pages[0]
    width = 420 * POINTS_PER_MM
    for words in ("Get ready", "Puts on gloves", "Imaging room 2", "at the same time"):
        left, right = places(usual, 0, words)
        mirror_left, mirror_right = places(other, 0, words)
        assert mirror_left == pytest.approx(width - right, abs=1.5), words
        assert mirror_right == pytest.approx(width - left, abs=1.5), words
    document = pypdfium2.PdfDocument(other)
    for page in document:
        assert_clean_page(page, Paper.A3)
    document.close()
    # Readers put lines of mixed directions in orders of their own: the same letters are asked for.
    letters = [Counter(re.sub(r"\s", "", "".join(read(pdf)))) for pdf in (usual, other)]
    assert letters[0] == letters[1]


def test_a_set_of_several_protocols(tmp_path):
    from protocol_lang.chart.print import render_all

    other = replace(intraoral("alone"), title="Another", choices=())
    sheets = (intraoral("alone"), intraoral("paired"), other)
    made = render_all(sheets, title="Imaging room 2")
    file = tmp_path / "room.pdf"
    file.write_bytes(made.pages[0])
    for profile in ("ua1", "pdfa2a"):
        report = validator.validate_pdf(str(file), profile=profile)
        assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]
    document = pypdfium2.PdfDocument(made.pages[0])
    marks = [(one.level, one.get_title()) for one in document.get_toc()]
    document.close()
    assert [title for level, title in marks if level == 0] == ["Intraoral, wired sensor", "Another"]
    assert [title for level, title in marks if level == 1][:2] == [
        "staffing alone, shielding none",
        "staffing paired, shielding none",
    ]
    assert [title for level, title in marks if level == 2][:2] == ["Get ready", "Place and expose"]


def test_every_kind_of_panel_is_accessible_and_lasting(tmp_path):
    file = tmp_path / "chart.pdf"
    file.write_bytes(render(full("paired")).pages[0])
    for profile in ("ua1", "pdfa2a"):
        report = validator.validate_pdf(str(file), profile=profile)
        assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]
    found = tags(render(full("paired")).pages[0])
    lines = sum(len(panel.lines) for panel in full().panels)
    assert found.count("/LI") == len(steps(full("paired"))) + lines
    assert found.count("/Figure") >= 2  # the warning sign and the QR
