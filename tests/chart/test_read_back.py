"""Where the letters of a chart stand, read back from the PDF: every shipped protocol and paper.

None outside the margins, none on another, none of what is to be read from afar smaller than it may
be, and every step there once and in the order of reading. The usual run looks at all protocols on
A3, at each on one more paper and in one more language, which go round, and at all papers and
languages for two; PROTOCOL_LANG_LONG=1 looks at every protocol on every paper, lying and upright,
in every language, and with names three times as long.
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

from protocol_lang.chart.paper import POINTS_PER_MM, Paper, least_type
from protocol_lang.chart.plan import sheet as planned
from protocol_lang.chart.print import MARGIN, render
from protocol_lang.chart.sheet import (
    Checked,
    Group,
    Panel,
    PanelKind,
    PanelLine,
    Sheet,
    rows,
)
from protocol_lang.chart.translate import plain, translated
from protocol_lang.chart.words import ENGLISH, LANGUAGES
from protocol_lang.resources import folder
from protocol_lang.translation.catalogue import Texts, texts
from protocol_lang.translation.files import catalogue_beside
from tests.chart.samples import PRINT, full, panels
from tests.chart.test_print import (
    assert_clean_page,
    assert_in_order,
    boxes,
    map_texts,
    read,
    steps,
    without_actor,
)
from tests.chart.test_shipped import FILES, protocol

pytestmark = pytest.mark.usefixtures("forgotten")

LONG = bool(os.environ.get("PROTOCOL_LANG_LONG"))
DATA = folder("protocols") / "data" / "germs-and-treatment.protocol"
TWO = ("intraoral-wired-sensor", "holders-and-bite-blocks")
SHIPPED = [path for path in FILES if not path.read_text("utf-8").startswith("day ")]


#: Every paper but the usual, lying and upright.
OTHER_PAPERS = [one for one in product(Paper, (False, True)) if one != (Paper.A3, False)]
OTHER_LANGUAGES = [code for code in LANGUAGES if code != "en"]
#: Letters with marks above and below them, which lie on each other as they should; and in Arabic
#: they stand in the file from left to right.
MARKED_LETTERS = {"hi", "ar"}


def cases():
    names = [path.stem for path in SHIPPED if protocol(path) is not None]
    assert set(TWO) < set(names)
    for place, (name, (paper, upright)) in enumerate(
        product(names, [(Paper.A3, False), *OTHER_PAPERS])
    ):
        turn = OTHER_PAPERS[names.index(name) % len(OTHER_PAPERS)]
        usual = place % 10 == 0 or (paper, upright) == turn or name in TWO
        if LONG or usual:
            yield pytest.param(name, paper, upright, 1, id=_id(name, paper, upright))
        if LONG or (name in TWO and paper in (Paper.A3, Paper.LETTER)):
            yield pytest.param(name, paper, upright, 3, id=_id(name, paper, upright) + "-long")


def cases_in_other_languages():
    names = [path.stem for path in SHIPPED if protocol(path) is not None]
    every = [(Paper.A3, False), *OTHER_PAPERS]
    for name, (paper, upright), language in product(names, every, OTHER_LANGUAGES):
        number = names.index(name)
        # Over all protocols every paper meets every language.
        mine = (every[number % 10], OTHER_LANGUAGES[(number + number // 10) % 4])
        if LONG or ((paper, upright), language) == mine or (name in TWO and paper is Paper.A4):
            ident = f"{_id(name, paper, upright)}-{language}"
            yield pytest.param(name, paper, upright, language, id=ident)


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


@cache
def said(name: str, language: str) -> Texts:
    """What lies beside the files of a shipped protocol in a language; of most there is nothing."""
    path = next(path for path in SHIPPED if path.stem == name)
    files = [path, *sorted(path.parent.glob("*.protocol")), DATA]
    own, *others = (catalogue_beside(one, language) for one in files)
    return texts(language, own, [one for one in others if one is not None])


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


@pytest.mark.parametrize(("name", "paper", "upright", "language"), list(cases_in_other_languages()))
def test_a_shipped_protocol_in_another_language(name, paper, upright, language):
    sheet = translated(shipped(name), said(name, language))
    made = render(sheet, "pdf", paper, upright=upright, distance=0.7)
    document = pypdfium2.PdfDocument(made.pages[0])
    assert len(document) == made.sheets
    for page in document:
        if language in MARKED_LETTERS:
            assert_inside_margins(page, paper)
        else:
            assert_clean_page(page, paper)
    document.close()
    words = set(" ".join(read(made.pages[0])).split())
    assert {str(row.number) for row in steps(sheet)} <= words
    if language not in MARKED_LETTERS:
        text = " ".join(read(made.pages[0]))
        assert_in_order(text, [plain(row.text) for row in steps(sheet) if not row.person])


def assert_inside_margins(page, paper: Paper) -> None:
    width, height = page.get_size()
    margin = MARGIN * paper.value.height / Paper.A3.value.height * POINTS_PER_MM - 1.5
    for left, bottom, right, top in boxes(page):
        assert left >= margin and right <= width - margin
        assert bottom >= margin and top <= height - margin


#: As many things as the shipped protocol for film keeps used hands off.
MANY = tuple(f"thing number {number} of the room" for number in range(24))


def test_what_is_never_touched_stands_once_where_a_chart_would_be_on_too_many_sheets():
    # All of it in every head leaves so little room that the steps are on more than twelve sheets.
    sheet = replace(shipped("intraoral-film"), never_touch=MANY)
    near, far = (render(sheet, "pdf", Paper.A3, distance=metres) for metres in (0.8, 2.0))
    assert [text.count(MANY[-1]) for text in read(near.pages[0])] == [1] * near.sheets
    told = read(far.pages[0])
    assert 12 < far.most == len(told) <= 24 + far.beside
    assert told[0].count(MANY[-1]) == sum(text.count(MANY[-1]) for text in told) == 1
    every = " ".join(told)
    first = without_actor(steps(sheet)[0], sheet)
    assert every.index(MANY[-1]) < every.lower().index(first.lower())
    assert "continued" not in told[0][: told[0].index(MANY[0])]
    assert_in_order(every, [without_actor(row, sheet) for row in steps(sheet)])
    document = pypdfium2.PdfDocument(far.pages[0])
    for page in document:
        assert_clean_page(page, Paper.A3)
    document.close()


def test_two_figures_stand_beside_their_sign_in_the_least_type():
    # "15 ×" before what is laid out was broken after the figures, in letters to be read from afar.
    lay_out = Panel(PanelKind.LAY_OUT, (PanelLine("wipe", count=15), PanelLine("gauze", count=2)))
    sheet = replace(shipped("intraoral-film"), never_touch=MANY, panels=(lay_out,))
    made = render(sheet, "pdf", Paper.A3, distance=2.0)
    document = pypdfium2.PdfDocument(made.pages[0])
    page = document[0].get_textpage()
    place = page.search("15 ×").get_next()
    assert place is not None
    bottoms = [page.get_charbox(place[0] + number)[1] for number in (0, 3)]
    assert abs(bottoms[0] - bottoms[1]) < made.type_size / 2
    document.close()


def test_the_caution_has_room_beside_wide_choices():
    assert_set_well(shipped("panoramic-usual-visit"), Paper.A4, True, 0.7)


@pytest.mark.parametrize("distance", [1.0, 2.0])
@pytest.mark.parametrize("staffing", ["alone", "paired"])
def test_all_that_can_stand_on_a_sheet(staffing, distance):
    for upright in (False, True):
        assert_set_well(replace(full(staffing), waived=None), Paper.A3, upright, distance)
