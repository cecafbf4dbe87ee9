"""Pictograms beside the steps of a wall chart: seen, not read out, and in nobody's way."""

from __future__ import annotations

import io
from dataclasses import replace

import page as validator
import pypdfium2  # type: ignore[import-untyped]
from PIL import Image

from protocol_lang.chart.paper import Paper
from protocol_lang.chart.pictograms import COLOURS
from protocol_lang.chart.pieces import pictograms
from protocol_lang.chart.print import render
from protocol_lang.chart.sheet import Group, Row, Sheet, rows
from protocol_lang.chart.translate import translated
from protocol_lang.translation.catalogue import Texts
from tests.chart.test_print import assert_clean_page, read, tags
from tests.chart.test_read_back import shipped


def small() -> Sheet:
    """The first phase of a shipped chart: little to set."""
    sheet = shipped("protective-equipment")
    return replace(sheet, phases=sheet.phases[:1], panels=())


def bare(sheet: Sheet) -> Sheet:
    """The sheet without pictograms."""

    def item(one: Row | Group) -> Row | Group:
        if isinstance(one, Row):
            return replace(one, pictogram=None)
        return replace(one, items=tuple(map(item, one.items)))

    phases = (replace(phase, items=tuple(map(item, phase.items))) for phase in sheet.phases)
    return replace(sheet, phases=tuple(phases))


def names(sheet: Sheet) -> set[str | None]:
    return {row.pictogram for phase in sheet.phases for row in rows(phase.items)}


def blue(sheet: Sheet) -> list[int]:
    """Where letters are not: the columns of the first page in which there is signal blue."""
    (png, *_) = render(sheet, "png", Paper.A3, pixels_per_inch=50).pages
    image = Image.open(io.BytesIO(png)).convert("RGB")
    wanted = tuple(bytes.fromhex(COLOURS["blue"][1:]))
    width, height = image.size
    return [x for x in range(width) if any(image.getpixel((x, y)) == wanted for y in range(height))]


def test_what_is_told_otherwise_has_no_pictogram_on_the_wall():
    shown = names(shipped("intraoral-wired-sensor"))
    assert {"rub-hands", "gloves-on", "gloves-off", "expose", "behind-the-barrier"} <= shown
    assert {"disinfect", "clean", "cover", "uncover", "place-in-mouth"} <= shown
    assert not shown & {"wait", "lay-out", "go"}


def test_they_are_drawn_where_there_are_any():
    sheet = small()
    assert len(pictograms(sheet)) > 4 and pictograms(bare(sheet)) == ()
    assert blue(sheet) and not blue(bare(sheet))


def test_they_are_not_mirrored_but_stand_on_the_other_side():
    sheet = small()
    turned = translated(sheet, Texts("ar", {}))
    assert min(blue(turned)) > min(blue(sheet))
    assert max(blue(turned)) > max(blue(sheet))


def test_nothing_of_them_is_read_out_and_all_stays_clean(tmp_path):
    """ISO 14289-1 (PDF/UA-1): what says nothing beside the words is an artifact."""
    sheet = small()
    made = render(sheet, "pdf", Paper.A3)
    plain = render(bare(sheet), "pdf", Paper.A3)
    assert tags(made.pages[0]) == tags(plain.pages[0])
    assert read(made.pages[0]) == read(plain.pages[0])
    file = tmp_path / "chart.pdf"
    file.write_bytes(made.pages[0])
    for profile in ("ua1", "pdfa2a"):
        report = validator.validate_pdf(str(file), profile=profile)
        assert report.is_compliant, [(one.rule_id, one.message) for one in report.failures]
    document = pypdfium2.PdfDocument(made.pages[0])
    for one in document:
        assert_clean_page(one, Paper.A3)
    document.close()
