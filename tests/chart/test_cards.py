"""Cards as printed: read back from the PDF with independent readers."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.cards import door
from protocol_lang.chart.cards import observation as observation_card
from protocol_lang.chart.cards import summary as summary_card
from protocol_lang.chart.cards.common import CardPaper, Cards
from protocol_lang.chart.cards.door import DISTANCE, TEMPLATE, door_card, times_of
from protocol_lang.chart.cards.observation import observation
from protocol_lang.chart.cards.summary import summary
from protocol_lang.chart.deeds import Deed, deeds
from protocol_lang.chart.edition import code
from protocol_lang.chart.faults import CannotPrint
from protocol_lang.chart.paper import POINTS_PER_MM
from protocol_lang.chart.plan import sheet
from protocol_lang.chart.sheet import (
    Checked,
    Draft,
    Panel,
    PanelKind,
    PanelLine,
    Row,
    Sheet,
    Waived,
)
from protocol_lang.chart.translate import translated
from protocol_lang.chart.words import ENGLISH, LANGUAGES, by_name, words_of
from protocol_lang.cli.languages import catalogues
from protocol_lang.translation.catalogue import Texts, texts
from tests.chart.test_deeds import shipped
from tests.chart.test_print import assert_in_order, map_texts, read, steps, without_actor
from tests.chart.test_shipped import FILES

CODE = "3fa291c07b1d55e0ffff"


@cache
def sample(name: str, *choice: str) -> Sheet:
    """A shipped protocol under these choices, in order; marked as checked, with a fingerprint."""
    protocol = shipped(name)
    names = [one.name for one in protocol.choices if one.known_after is None]
    made = sheet(protocol, dict(zip(names, choice, strict=True)))
    return replace(made, mark=Checked(), fingerprint=CODE)


ON_OFF = ("protective-equipment", "one by one")
AIRBORNE = ("protective-equipment-airborne-precautions", "airborne")
SENSOR = ("intraoral-wired-sensor", "paired", "collar")


def made(kind: str, sheets: Sequence[Sheet], name: str, *args: Any, **more: Any) -> Cards:
    if kind == "observation":
        return observation(sheets, *args, **more)
    function = door_card if kind == "door" else summary
    return function(sheets, shipped(name), *args, **more)


Box = tuple[float, float, float, float]


def boxes(page: Any) -> dict[Box, int]:
    """Of every letter that is seen, once, with its place in the text."""
    text = page.get_textpage()
    letters = text.get_text_range()
    found: dict[Box, int] = {}
    for index in range(text.count_chars()):
        if index < len(letters) and not letters[index].isspace():
            box = text.get_charbox(index)
            if box[2] > box[0] and box[3] > box[1]:
                found[box] = index
    return found


def assert_clean(pdf: bytes) -> None:
    """All letters on the page, and none on another."""
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        width, height = page.get_size()
        placed = boxes(page)
        letters = sorted(placed)
        assert letters
        for left, bottom, right, top in letters:
            assert left >= 20 and right <= width - 20 and bottom >= 14 and top <= height - 14
        for number, letter in enumerate(letters):
            left, bottom, right, top = letter
            for other in letters[number + 1 :]:
                if other[0] >= right:
                    break
                if abs(placed[other] - placed[letter]) == 1:
                    continue  # neighbours lean into each other: a comma under the arm of an r
                wide = min(right, other[2]) - max(left, other[0])
                high = min(top, other[3]) - max(bottom, other[1])
                narrow = min(right - left, other[2] - other[0])
                # Letters of one word may touch or lean into each other a little.
                assert wide <= 0.35 * narrow or high <= 0.12 * (top - bottom)
    document.close()


def faults(file: Path, profile: str) -> list[tuple[str, str]]:
    """What the validator finds wrong.

    A stream whose last byte happens to be that of the end of a line it counts too short. Where it
    complains of a length, every length in the file is counted here instead.
    """
    found = validator.validate_pdf(str(file), profile=profile).failures
    told = [(one.rule_id, one.message) for one in found]
    lengths = [one for one in told if one[0] == "PDFA2A-STREAM-LENGTH-001"]
    return (
        told
        if not lengths or not lengths_are_right(file.read_bytes())
        else [one for one in told if one not in lengths]
    )


def lengths_are_right(pdf: bytes) -> bool:
    """ISO 32000-1, 7.3.8: after so many bytes of a stream comes the end of a line and endstream."""
    streams = list(re.finditer(rb"/Length (\d+)[^>]*?>>\s*?stream\r?\n", pdf))
    return pdf.count(b"endstream") >= len(streams) > 10 and all(
        re.match(rb"\r?\n?endstream", pdf[one.end() + int(one[1]) :]) for one in streams
    )


def flat(text: str) -> str:
    return re.sub(r"\s", "", text.casefold())


# --- All cards -----------------------------------------------------------------------------------

CASES = [
    pytest.param(kind, case, id=f"{kind}-{case[0]}")
    for kind in ("observation", "door", "summary")
    for case in (ON_OFF, AIRBORNE, SENSOR)
]


@pytest.mark.parametrize(("kind", "case"), CASES)
def test_accessible_lasting_and_nothing_overlaps(kind, case, tmp_path):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A, by a validator that is not the typesetter's.
    one = sample(*case)
    pdf = made(kind, [one], case[0])
    draft = made(kind, [replace(one, mark=Draft("1 fault to correct"))], case[0])
    for number, printed in enumerate((pdf, draft)):
        file = tmp_path / f"{number}.pdf"
        file.write_bytes(printed.pages[0])
        for profile in ("ua1", "pdfa2a"):
            assert faults(file, profile) == []
    assert_clean(pdf.pages[0])
    texts = read(pdf.pages[0])
    assert len(texts) == pdf.sheets
    for text in texts:
        assert one.title in text and "Local rules and licensed practice come first." in text
        assert f"Code {code(CODE)}" in text and "checked, no faults" in text
        assert "DRAFT" not in text
    for text in read(draft.pages[0]):
        assert "DRAFT: 1 fault to correct" in text and "checked, no faults" not in text
        assert text.count("DRAFT") >= 2  # across the page, too
    with pytest.raises(AssertionError):  # that mark lies on the rest: an overlap is seen
        assert_clean(draft.pages[0])


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_names_three_times_as_long(kind):
    one = map_texts(sample(*ON_OFF), lambda words: " ".join([words] * 3))
    for paper in (CardPaper.A4, CardPaper.A5) if kind == "door" else (CardPaper.A4,):
        pdf = made(kind, [one], ON_OFF[0], "pdf", paper)
        assert_clean(pdf.pages[0])
        if kind == "observation":
            assert_in_order(" ".join(read(pdf.pages[0])), (row.text for row in steps(one)))


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_a_word_longer_than_its_line_is_broken(kind):
    word = "Un" + "aussprechlich" * 7
    one = map_texts(sample(*ON_OFF), lambda words: words.replace("hands", word))
    assert word in " ".join(row.text for row in steps(one))
    assert_clean(made(kind, [one], ON_OFF[0]).pages[0])


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_formats_and_equal_bytes(kind):
    one = sample(*ON_OFF)
    pdf = made(kind, [one], ON_OFF[0])
    assert pdf == made(kind, [one], ON_OFF[0]) and pdf.pages[0].startswith(b"%PDF")
    svg = made(kind, [one], ON_OFF[0], "svg")
    png = made(kind, [one], ON_OFF[0], "png", pixels_per_inch=30)
    assert len(svg.pages) == len(png.pages) == pdf.sheets
    assert all(b"<svg" in page[:200] for page in svg.pages)
    assert all(page.startswith(b"\x89PNG") for page in png.pages)


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_several_sheets_are_one_document(kind):
    both = [sample(ON_OFF[0], way) for way in ("one by one", "gown and gloves together")]
    pdf = made(kind, both, ON_OFF[0])
    texts = " ".join(read(pdf.pages[0]))
    for one in both:
        assert one.choices[0][1] in texts
    assert pdf.sheets == sum(made(kind, [one], ON_OFF[0]).sheets for one in both)


@pytest.mark.parametrize("paper", list(CardPaper))
def test_sizes_of_paper(paper):
    # ISO 216: A4 210 x 297 mm, A5 148 x 210 mm. ANSI/ASME Y14.1: A 8.5 x 11 in. All upright.
    size = {
        CardPaper.A4: (210, 297),
        CardPaper.A5: (148, 210),
        CardPaper.LETTER: (8.5 * 25.4, 11 * 25.4),
    }[paper]
    document = pypdfium2.PdfDocument(
        made("door", [sample(*ON_OFF)], ON_OFF[0], "pdf", paper).pages[0]
    )
    for page in document:
        assert [side / POINTS_PER_MM for side in page.get_size()] == pytest.approx(size, abs=0.1)
    document.close()


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_cards_bear_the_code_of_the_chart_and_tell_what_is_waived(kind):
    waived = replace(sample(*ON_OFF), waived=Waived(2, date(2027, 3, 3)))
    text = " ".join(read(made(kind, [waived], ON_OFF[0]).pages[0]))
    assert code(CODE) in text
    assert "2 waived until 3 March 2027" in text and "no faults" not in text


def test_no_steps_no_card():
    empty = replace(sample(*ON_OFF), phases=())
    for kind in ("observation", "door", "summary"):
        with pytest.raises(CannotPrint, match="no step"):
            made(kind, [empty], ON_OFF[0])


# --- In other languages --------------------------------------------------------------------------

OTHERS = [code for code in LANGUAGES if code != "en"]


@cache
def spoken(language: str, *case: str) -> Sheet:
    """A sample with the translations beside its files."""
    path = next(path for path in FILES if path.stem == case[0])
    own, others = catalogues(path, shipped(case[0]).files, language)
    return translated(sample(*case), texts(language, own, others))


def unspoken(language: str, *case: str) -> Sheet:
    """A sample of which nothing is translated."""
    return translated(sample(*case), Texts(language, {}))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_a_card_in_another_language(kind, language, tmp_path):
    """All words are of the language, and what is known of the protocol is known all the same."""
    one, words = spoken(language, *SENSOR), words_of(language)
    pdf = made(kind, [one], SENSOR[0])
    file = tmp_path / "card.pdf"
    file.write_bytes(pdf.pages[0])
    for profile in ("ua1", "pdfa2a"):
        assert faults(file, profile) == []
    with pikepdf.open(file) as document:
        assert document.Root.Lang == language
        seen: Any = document.Root.get("/ViewerPreferences", {})
        assert seen.get("/Direction", "/L2R") == ("/R2L" if words.right_to_left else "/L2R")
    # Letters of these scripts come back from a PDF joined and turned: what the template is given is
    # looked at instead.
    given = set(strings(given_to_template(kind, one)))
    assert words.cautions[0] in given
    for name, english in by_name(ENGLISH).items():
        if isinstance(english, str) and getattr(words, name) != english:
            assert english not in given, name


def given_to_template(kind: str, one: Sheet) -> dict[str, Any]:
    if kind == "observation":
        return observation_card._card(one)
    if kind == "summary":
        return summary_card._card(one, shipped(SENSOR[0]))
    return next(door._cards(one, shipped(SENSOR[0])))


def strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from strings(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from strings(inner)


def test_the_card_for_the_door_has_the_same_steps_in_every_language():
    """Who wears what is asked of the protocol, in which people and choices have their own names."""

    def numbers(one: Sheet) -> list[list[int]]:
        return [
            [row["number"] for panel in card["panels"] for row in panel["items"] if "number" in row]
            for card in door._cards(one, shipped(AIRBORNE[0]))
        ]

    one = sample(*AIRBORNE)
    names = [*one.persons, *(word for pair in one.choices for word in pair)]
    turned = translated(one, Texts("fr", {name: f"x {name}" for name in names}))
    assert turned.persons != one.persons and turned.choices != one.choices
    assert numbers(turned) == numbers(one) and len(numbers(one)) == 2


@pytest.mark.parametrize("language", ["en", "es", "ar"])
def test_one_way_of_several_is_told_in_every_language(language):
    """What stands over ways of which only one is on the card is known by the words of the sheet."""
    one = sample(*AIRBORNE) if language == "en" else unspoken(language, *AIRBORNE)
    given = set(strings(list(door._cards(one, shipped(AIRBORNE[0])))))
    assert words_of(language).one_way in given


@pytest.mark.parametrize("kind", ["observation", "door", "summary"])
def test_what_is_not_translated_is_marked_and_not_read_out_as_marked(kind):
    one = unspoken("es", *AIRBORNE)
    pdf = made(kind, [one], AIRBORNE[0])
    text = " ".join(read(pdf.pages[0]))
    assert "EN" in text and "\ue000" not in text and "\ue001" not in text
    if kind == "door":  # nobody is named on the card of the one who does it
        assert "Puts on gown" in text and "operator puts on gown" not in text
    document = pypdfium2.PdfDocument(pdf.pages[0])
    titles = [one.get_title() for one in document.get_toc()]
    document.close()
    assert titles and not any("\ue000" in title for title in titles)


@pytest.mark.parametrize("language", ["es", "ar"])
def test_arabic_runs_from_right_to_left(language):
    """There the boxes stand left of the words of the steps; in Spanish right of them."""
    document = pypdfium2.PdfDocument(observation([unspoken(language, *AIRBORNE)]).pages[0])
    text = document[0].get_textpage()
    left, _, right, _ = text.get_charbox(text.search("gown").get_next()[0])
    bounds = [thing.get_bounds() for thing in document[0].get_objects(max_depth=8) if is_box(thing)]
    assert bounds
    for box in bounds:
        assert box[2] < left if language == "ar" else box[0] > right
    document.close()


# --- The sheet for somebody who observes ---------------------------------------------------------


@pytest.mark.parametrize("case", [ON_OFF, AIRBORNE, SENSOR], ids=lambda case: case[0])
def test_every_step_once_with_three_boxes(case):
    one = sample(*case)
    pdf = observation([one]).pages[0]
    text = " ".join(read(pdf))
    assert_in_order(text, (f" {row.number} " for row in steps(one)))
    assert_in_order(text, (without_actor(row, one) for row in steps(one)))
    for phase in one.phases:
        assert phase.title in text
    for said in ("Role of the person observed (no name)", "Observer's signature", "Remarks"):
        assert said in text
    assert squares(pdf) == 3 * len(steps(one))


def squares(pdf: bytes) -> int:
    """How many boxes to tick are drawn."""
    document = pypdfium2.PdfDocument(pdf)
    found = sum(is_box(thing) for page in document for thing in page.get_objects(max_depth=8))
    document.close()
    return found


def is_box(thing: Any) -> bool:
    """A square of 4.4 mm; its bounds have the line and a little more."""
    left, bottom, right, top = thing.get_bounds()
    least, most = 4.4 * POINTS_PER_MM, 4.4 * POINTS_PER_MM + 2.2
    return thing.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH and all(
        least <= side <= most for side in (right - left, top - bottom)
    )


def test_heads_come_again_on_every_page():
    one = sample(*SENSOR)
    texts = read(observation([one]).pages[0])
    assert len(texts) > 1
    for number, text in enumerate(texts, start=1):
        assert f"Sheet {number} of {len(texts)}" in text
        assert "not done" in text and "not seen" in text and "Remarks" in text
        assert any(phase.title in text for phase in one.phases)


def test_what_is_only_said_has_no_boxes():
    one = sample("panoramic-usual-visit", *usual())
    pdf = observation([one]).pages[0]
    assert "again from step" in " ".join(read(pdf))
    assert squares(pdf) == 3 * len(steps(one))


def usual() -> Iterable[str]:
    choices = shipped("panoramic-usual-visit").choices
    return (one.values[0] for one in choices if one.known_after is None)


# --- The card for the door -----------------------------------------------------------------------


def on_and_off(name: str, *choice: str) -> tuple[str, str]:
    """The text of the two panels of the first person."""
    text = " ".join(read(door_card([sample(name, *choice)], shipped(name)).pages[0]))
    on, off = text.split("OFF", 1)
    return on, off


def test_the_order_of_the_published_sequence():
    # CDC, sequence for putting on and removing personal protective equipment: gown, mask, goggles,
    # gloves; gloves, goggles, gown, mask; then hands. Hands before gloves: common practice.
    on, off = on_and_off(*ON_OFF)
    assert_in_order(
        on,
        [
            "Cleans hands",
            "Puts on gown",
            "Puts on mask",
            "Puts on eyewear",
            "Cleans",
            "Puts on gloves",
        ],
    )
    assert_in_order(
        off,
        ["Gloves off", "Eyewear off", "Gown off", "Mask off", "Cleans hands", "Worn again"],
    )
    assert "wipe" not in on.casefold() and "mouth" not in (on + off).casefold()


def test_airborne_the_respirator_comes_off_last_and_the_door_stays_closed():
    # CDC, the same: the respirator comes off last, after leaving the room; CDC 2003, table B.1: 69
    # minutes. That a helper's card is there, too: the protocol lets one put a respirator on.
    text = " ".join(read(door_card([sample(*AIRBORNE)], shipped(AIRBORNE[0])).pages[0]))
    assert_in_order(text, ["Puts on respirator", "Check its fit", "Gloves on, over the cuffs"])
    assert_in_order(
        text,
        ["Gloves off", "Gown off", "lobby", "Cleans", "Respirator off", "Cleans", "helper"],
    )
    assert_in_order(text, ["Keep the door closed", "69 min from step 51", "Nobody goes in before"])
    ordinary = sample(AIRBORNE[0], "ordinary")
    assert "door closed" not in " ".join(read(door_card([ordinary], shipped(AIRBORNE[0])).pages[0]))


@pytest.mark.parametrize("paper", list(CardPaper))
@pytest.mark.parametrize("case", [ON_OFF, AIRBORNE], ids=lambda case: case[0])
def test_steps_can_be_read_from_the_distance(case, paper):
    # ANSI Z535: letters of a message at least 1:300 of the distance (ratio from secondary
    # literature). Measured on the page: the height of the P of "Puts on".
    pdf = door_card([sample(*case)], shipped(case[0]), "pdf", paper)
    document = pypdfium2.PdfDocument(pdf.pages[0])
    heights = []
    for page in document:
        text = page.get_textpage()
        if found := text.search("Puts on", match_case=True).get_next():
            _, bottom, _, top = text.get_charbox(found[0])
            heights.append((top - bottom) / POINTS_PER_MM)
    document.close()
    assert heights and min(heights) >= DISTANCE * 1000 / 300 - 0.02


def test_one_page_where_it_fits():
    assert door_card([sample(*ON_OFF)], shipped(ON_OFF[0])).sheets == 1
    small = door_card([sample(*ON_OFF)], shipped(ON_OFF[0]), "pdf", CardPaper.A5)
    assert small.sheets == 2
    for text in read(small.pages[0]):
        assert "of 2" in text


def test_nobody_wears_anything():
    bare = [name for name in ("a-visit-without-an-image",) if not worn_in(name)]
    for name in bare:
        with pytest.raises(CannotPrint, match="protective equipment"):
            door_card([sample(name, *firsts(name))], shipped(name))
    with pytest.raises(CannotPrint, match="protective equipment"):
        one = sample(*ON_OFF)
        door_card([replace(one, persons=())], shipped(ON_OFF[0]))


def firsts(name: str) -> list[str]:
    return [one.values[0] for one in shipped(name).choices if one.known_after is None]


def worn_in(name: str) -> bool:
    protocol = shipped(name)
    names = [one.name for one in protocol.choices if one.known_after is None]
    done = deeds(protocol, dict(zip(names, firsts(name), strict=True)))
    return any(one.puts_on or one.takes_off for one in done.values())


def test_times_at_which_something_is_worn():
    def on(n: int, *things: str) -> Deed:
        return Deed(n, puts_on=tuple(("operator", thing) for thing in things))

    def off(n: int, *things: str) -> Deed:
        return Deed(n, takes_off=tuple(("operator", thing) for thing in things))

    found = times_of(
        "operator",
        [
            off(1, "gloves"),  # worn since before the sheet
            on(2, "gown"),
            on(3, "gloves"),
            off(4, "gloves"),
            on(5, "gloves"),
            Deed(6, puts_on=(("helper", "mask"),)),
            off(7, "gloves"),
            off(8, "gown"),
            on(9, "gloves"),
        ],
    )
    assert [(time.on, time.off) for time in found] == [([], [1]), ([2, 3, 5], [4, 7, 8]), ([9], [])]
    assert found[1].put_on == [2, 3] and found[1].taken_off == [7, 8]
    assert found[0].taken_off == [1] and found[2].put_on == [9]


# --- The summary ---------------------------------------------------------------------------------


def test_the_steps_that_matter_are_on_the_summary():
    protocol = shipped(SENSOR[0])
    panels = (
        Panel(PanelKind.COVERED, (PanelLine("tube", "wrap"), PanelLine("head rest", "bag"))),
        Panel(PanelKind.DISINFECTED, (PanelLine("sensor", "intermediate level"),)),
        Panel(PanelKind.LAY_OUT, (PanelLine("sleeves", count=1),)),
    )
    one = replace(sample(*SENSOR), never_touch=("keyboard", "boxes"), panels=panels)
    pdf = summary([one], protocol)
    (text,) = read(pdf.pages[0])
    wanted = [row for row in steps(one) if told_first(row)]
    assert len(wanted) >= 5
    assert_in_order(text, (without_actor(row, one) for row in wanted))
    assert "Never with used gloves or hands: keyboard, boxes" in text
    assert_in_order(text, ["Cover", "tube (wrap); head rest (bag)", "Disinfect", "sensor"])
    assert "sleeves" not in text and "Not every step is here" in text
    shown = [row.number for row in steps(one) if flat(without_actor(row, one)) in flat(text)]
    left = [int(n) for n in re.findall(r"and (\d+) steps? more", text)]
    assert len(shown) + sum(left) >= len(steps(one))


def told_first(row: Row) -> bool:
    return bool(row.wait_minutes) or "exposes" in row.text or "gloves" in row.text


def test_a_long_protocol_leaves_out_what_matters_less():
    one = map_texts(sample(*AIRBORNE), lambda words: " ".join([words] * 5))
    pdf = summary([one], shipped(AIRBORNE[0]))
    (text,) = read(pdf.pages[0])
    assert "Nobody goes in for 69 minutes" in text
    assert_clean(pdf.pages[0])
    longer = map_texts(sample(*AIRBORNE), lambda words: " ".join([words] * 40))
    with pytest.raises(CannotPrint, match="does not fit on one page of A4"):
        summary([longer], shipped(AIRBORNE[0]))


def test_templates_have_no_colours_of_their_own():
    for template in TEMPLATE.parent.glob("*.typ"):
        source = template.read_text(encoding="utf-8")
        found = re.search(r'rgb\(\s*"|luma\(|cmyk\(|#[0-9a-fA-F]{6}\b', source)
        assert not found, template.name
