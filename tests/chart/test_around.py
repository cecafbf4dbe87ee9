"""Head and foot as values, and as read back from the page."""

from dataclasses import replace

import pytest

from protocol_lang.chart import edition
from protocol_lang.chart.around import foot, head
from protocol_lang.chart.print import render
from protocol_lang.chart.sheet import Draft
from protocol_lang.chart.words import ENGLISH
from tests.chart.samples import PRINT, full, intraoral
from tests.chart.test_print import read


def test_waivers_are_told_and_a_draft_outweighs_them():
    assert foot(full(), ENGLISH)["mark"] == "checked, 2 waived until 3 March 2027"
    draft = foot(full(mark=Draft("1 fault to correct")), ENGLISH)
    assert draft["draft"] and draft["mark"] == "DRAFT: 1 fault to correct"


def test_the_foot_tells_whose_until_when_and_which_edition():
    (text, *_) = read(render(full(), "pdf").pages[0])
    code = edition.code(PRINT)
    for words in ("Owner: infection control lead", "In force from 2 November 2026", f"Code {code}"):
        assert words in text
    assert "eview by 2 November 2027" in text and "Rules: Rules of the house, Hands." in text
    assert "Local rules and licensed practice come first." in text
    assert foot(intraoral("alone"), ENGLISH)["code"] is None


@pytest.mark.parametrize("exposes", [True, False])
def test_where_exposures_happen_the_sheet_warns(exposes):
    # ISO 7010 W003, on rooms with X-ray equipment: a Canadian rule on signs for dental rooms.
    sheet = replace(full(), exposes=exposes)
    for one in (sheet, replace(sheet, panels=())):
        assert (head(one, ENGLISH)["sign"] is not None) == exposes


def test_the_warning_is_printed_with_its_words():
    (text, *_) = read(render(full(), "pdf").pages[0])
    assert "Caution: ionising radiation" in text
