"""Charts with what the engine knows on them: every shipped protocol, every way of choosing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import page as validator
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.paper import CAPITAL_HEIGHT, POINTS_PER_MM, Paper
from protocol_lang.chart.print import Printed, render, render_all
from protocol_lang.chart.sheet import Checked, Sheet
from protocol_lang.chart.words import ENGLISH
from protocol_lang.pages import sheets
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from tests.chart.test_print import assert_clean_page, assert_in_order, read, steps, without_actor

pytestmark = pytest.mark.usefixtures("forgotten")

FILES = sorted((folder("protocols") / "imaging-room-2").glob("*.protocol"))

#: One with several sheets.
SEVERAL = next(path for path in FILES if path.stem == "intraoral-wired-sensor")
#: One with long steps, after which hands stand on a line of their own.
CONE_BEAM = folder("protocols") / "imaging-room-4" / "cone-beam-ct.protocol"


@cache
def judged(path: Path) -> tuple[Sheet, ...]:
    checked = check_file(path, mend=False)
    if checked.unfolded is None or checked.judgement is None:
        return ()
    return sheets(checked.unfolded, checked.judgement, Checked(), {})


@cache
def printed(path: Path, paper: Paper) -> Printed:
    return render_all(judged(path), "pdf", paper)


CASES = [
    pytest.param(path, paper, id=f"{path.stem}-{paper.shown}")
    for path in FILES
    if path.read_text(encoding="utf-8").startswith("protocol ")
    for paper in Paper
    # The long ones fill many sheets: on one paper only.
    if paper is Paper.A3 or path.stat().st_size < 4_000
]


@pytest.mark.parametrize(("path", "paper"), CASES)
def test_all_sheets_stand_one_after_the_other_in_one_file(path, paper):
    made = printed(path, paper)
    (pdf,) = made.pages
    pages = read(pdf)
    assert len(pages) == made.sheets >= len(judged(path))
    text = " ".join(pages)
    assert_in_order(text, (without_actor(row, one) for one in judged(path) for row in steps(one)))
    # Each page says for which choices it is, and what is never touched.
    for page in pages:
        assert any(
            " ".join(f"{name} {value}" for name, value in one.choices) in page
            and re.sub(r"\s", "", ", ".join(one.never_touch)) in re.sub(r"\s", "", page)
            for one in judged(path)
        )


@pytest.mark.parametrize(("path", "paper"), CASES)
def test_no_letter_leaves_the_page_or_lies_on_another(path, paper):
    document = pypdfium2.PdfDocument(printed(path, paper).pages[0])
    for page in document:
        assert_clean_page(page, paper)
    document.close()


def test_together_as_alone():
    """A sheet looks the same whether others stand beside it or not."""
    every = judged(SEVERAL)
    some = (every[0], every[len(every) // 2], every[-1])
    together = render_all(some, "pdf", Paper.A3)
    each = [render(one, "pdf", Paper.A3) for one in some]
    assert together.sheets == sum(one.sheets for one in each)
    assert together.type_size == min(one.type_size for one in each)
    assert read(together.pages[0]) == [page for one in each for page in read(one.pages[0])]


@pytest.mark.parametrize("profile", ["ua1", "pdfa2a"])
def test_several_sheets_keep_the_standards(profile, tmp_path):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A, by a validator that is not the typesetter's.
    file = tmp_path / "chart.pdf"
    file.write_bytes(printed(SEVERAL, Paper.A3).pages[0])
    report = validator.validate_pdf(str(file), profile=profile)
    assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]


def test_what_is_never_touched_is_read_from_two_metres_where_it_takes_one_line():
    """Letters of 1:300 of the distance (ANSI Z535, ratio from secondary literature)."""
    path = next(path for path in FILES if path.stem == "protective-equipment")
    few = render(replace(judged(path)[0], never_touch=("keyboard", "boxes and rolls")))
    heights = heights_of(few.pages[0], "boxes and rolls")
    assert heights * 300 / 1000 >= 2.0


def heights_of(pdf: bytes, words: str) -> float:
    """The height of capitals, in millimetres, in the type in which these words are set."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0].get_textpage()
    finder = page.search(words)
    index, _ = finder.get_next()
    size = pypdfium2.raw.FPDFText_GetFontSize(page.raw, index)
    document.close()
    return float(size) * CAPITAL_HEIGHT / POINTS_PER_MM


# --- How hands are, beside the words of a step ----------------------------------------------------


def _labels_on(page) -> Iterator[tuple[tuple[float, float, float, float], list[str]]]:
    """Each frame around how hands are after a step, and the letters of other words that it touches.

    Boxes: left, bottom, right and top of what is drawn, in points.
    """
    told = page.get_textpage()
    number = told.count_chars()
    letters = [chr(pypdfium2.raw.FPDFText_GetUnicode(told, one)) for one in range(number)]
    boxes = [told.get_charbox(one) for one in range(number)]
    drawn = [
        one.get_bounds()
        for one in page.get_objects()
        if one.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH
    ]
    for label in set(ENGLISH.hands.values()):
        for found in re.finditer(re.escape(label), "".join(letters)):
            left, bottom, _, top = boxes[found.start()]
            right = boxes[found.end() - 1][2]
            frames = [
                one
                for one in drawn
                if one[0] < left and one[1] < bottom and right < one[2] and top < one[3]
                if one[2] - one[0] < 1.5 * (right - left) and one[3] - one[1] < 3 * (top - bottom)
            ]
            if not frames:
                continue  # in the legend, and where a sentence speaks of hands
            frame = min(frames, key=lambda one: (one[2] - one[0]) * (one[3] - one[1]))
            yield (
                frame,
                [
                    letters[at]
                    for at, (x, y, x_end, y_end) in enumerate(boxes)
                    if letters[at].strip()
                    if x < frame[2] and x_end > frame[0] and y < frame[3] and y_end > frame[1]
                    # Of its own words and of whom they speak all is within.
                    if not (frame[0] < x and x_end < frame[2] and frame[1] < y and y_end < frame[3])
                ],
            )


@pytest.mark.parametrize("path", [SEVERAL, CONE_BEAM], ids=lambda path: path.stem)
def test_how_hands_are_keeps_clear_of_the_letters_of_the_step(path):
    """The frame lay on the tail of the letter above it where it had a line of its own."""
    document = pypdfium2.PdfDocument(printed(path, Paper.A3).pages[0])
    found = [one for page in document for one in _labels_on(page)]
    document.close()
    assert len(found) > 20
    assert [touched for _, touched in found if touched] == []
