"""Where the letters of a chart stand, read back from the PDF: every shipped protocol and paper.

None outside the margins, none on another, none of what is to be read from afar smaller than it may
be, and every step there once and in the order of reading. The usual run looks at all protocols on
A3, and at all papers for two; PROTOCOL_LANG_LONG=1 looks at all of both, and at names three times
as long.
"""

import os
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.paper import Paper, least_type
from protocol_lang.chart.plan import sheet as planned
from protocol_lang.chart.print import render
from protocol_lang.chart.sheet import Checked, Group, Sheet, rows
from protocol_lang.chart.words import ENGLISH
from tests.chart.samples import PRINT, full, panels
from tests.chart.test_print import (
    assert_clean_page,
    assert_in_order,
    map_texts,
    read,
    steps,
    without_actor,
)
from tests.chart.test_shipped import FILES, protocol

pytestmark = pytest.mark.usefixtures("forgotten")

LONG = bool(os.environ.get("PROTOCOL_LANG_LONG"))
TWO = ("intraoral-wired-sensor", "holders-and-bite-blocks")
SHIPPED = [path for path in FILES if not path.read_text("utf-8").startswith("day ")]


def cases():
    names = [path.stem for path in SHIPPED if protocol(path) is not None]
    assert set(TWO) < set(names)
    for name, paper, upright in product(names, Paper, (False, True)):
        usual = (paper is Paper.A3 and not upright) or name in TWO
        if LONG or usual:
            yield pytest.param(name, paper, upright, 1, id=_id(name, paper, upright))
        if LONG or (name in TWO and paper in (Paper.A3, Paper.LETTER)):
            yield pytest.param(name, paper, upright, 3, id=_id(name, paper, upright) + "-long")


def _id(name, paper, upright):
    return f"{name}-{paper.shown}-{'upright' if upright else 'lying'}"


@cache
def shipped(name: str) -> Sheet:
    """The chart of the last choice of all, with panels, as if it had been checked."""
    path: Path = next(path for path in SHIPPED if path.stem == name)
    found = protocol(path)
    assert found is not None
    settled = {one.name: one.values[-1] for one in found.choices if one.known_after is None}
    made = planned(found, settled)
    return replace(made, mark=Checked(), panels=panels(), fingerprint=PRINT)


def small_print(sheet: Sheet) -> str:
    """All that may be smaller than letters to be read from afar: read from close by, or told in
    larger letters as well. Numbers and letters in discs are left out by the caller."""
    parts = [sheet.title, sheet.room or "", sheet.owner or "", ENGLISH.legend, ENGLISH.radiation]
    parts += [*sheet.cautions, *ENGLISH.cautions, ENGLISH.as_written, ENGLISH.as_written_on]
    parts += [ENGLISH.checked, ENGLISH.owner, ENGLISH.edition, ENGLISH.code, ENGLISH.sheet_of]
    parts += [ENGLISH.in_force, ENGLISH.review_by, *ENGLISH.months, *ENGLISH.hands.values()]
    parts += [word for pair in sheet.choices for word in pair]
    parts += [*sheet.rules, *sheet.persons, ENGLISH.runs_on, ENGLISH.rules]
    for phase in sheet.phases:
        parts += phase.notes
        parts += [note for row in rows(phase.items) for note in row.notes]
    parts += [note for panel in sheet.panels for note in panel.notes]
    return " ".join(parts).casefold()


def letter_sizes(page):
    """Words with their type sizes in points, as the file tells them."""
    text = page.get_textpage()
    word, size = "", 0.0
    for index in range(text.count_chars()):
        letter = text.get_text_range(index, 1)
        if letter.strip():
            word += letter
            size = max(size, pypdfium2.raw.FPDFText_GetFontSize(text, index))
        elif word:
            yield word, size
            word, size = "", 0.0
    if word:
        yield word, size


def assert_set_well(sheet: Sheet, paper: Paper, upright: bool, distance: float) -> None:
    made = render(sheet, "pdf", paper, upright=upright, distance=distance)
    texts = read(made.pages[0])
    document = pypdfium2.PdfDocument(made.pages[0])
    assert len(document) == made.sheets == len(texts)
    least = least_type(distance)
    small = small_print(sheet)
    for page in document:
        size = paper.value.upright if upright else paper.value
        assert page.get_width() < page.get_height() if upright else True
        assert [round(side / 72 * 25.4, 1) for side in page.get_size()] == [size.width, size.height]
        assert_clean_page(page, paper)
        for word, high in letter_sizes(page):
            if high < least * 0.99 and not re.fullmatch(r"[\d.,–()]+|[A-Z]{1,2}|[A-Z0-9]{5}", word):
                assert word.casefold().strip(".,:;") in small, (word, high, least)
    document.close()
    text = " ".join(texts)
    told = [without_actor(row, sheet) for row in steps(sheet)]
    assert_in_order(text, told)
    assert_once(text, sheet, told)


def assert_once(text: str, sheet: Sheet, told: list[str]) -> None:
    """No step is printed twice: what a text is found in beside it is in other texts."""

    def bare(words):
        return re.sub(r"\s", "", words.casefold())

    others = [phase.title for phase in sheet.phases]
    others += [note for phase in sheet.phases for note in phase.notes]
    others += [heading for phase in sheet.phases for heading in headings(phase.items)]
    others += [note for row in steps(sheet) for note in row.notes]
    others += [f"{line.what} {line.told}" for panel in sheet.panels for line in panel.lines]
    everything = [bare(words) for words in (*told, *others)]
    page = bare(text)
    for words, number in Counter(map(bare, told)).items():
        if len(words) > 12:
            most = sum(other.count(words) for other in everything)
            assert number <= page.count(words) <= most, words


def headings(items):
    for item in items:
        if isinstance(item, Group):
            yield item.heading or ""
            yield from headings(item.items)


@pytest.mark.parametrize(("name", "paper", "upright", "times"), list(cases()))
def test_a_shipped_protocol_on_paper(name, paper, upright, times):
    sheet = shipped(name)
    if times > 1:
        sheet = map_texts(sheet, lambda words: " ".join([words] * times))
    assert_set_well(sheet, paper, upright, 0.7)


def test_the_caution_has_room_beside_wide_choices():
    assert_set_well(shipped("panoramic-usual-visit"), Paper.A4, True, 0.7)


@pytest.mark.parametrize("distance", [1.0, 2.0])
@pytest.mark.parametrize("staffing", ["alone", "paired"])
def test_all_that_can_stand_on_a_sheet(staffing, distance):
    for upright in (False, True):
        assert_set_well(replace(full(staffing), waived=None), Paper.A3, upright, distance)
