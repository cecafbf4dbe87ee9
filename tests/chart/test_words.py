"""The words of charts in every language: complete, filled in the same way, right by the CLDR."""

from __future__ import annotations

import re
from dataclasses import fields
from datetime import date, timedelta
from string import Formatter

import polib
import pytest
from babel import Locale
from babel.dates import format_date, get_month_names

from protocol_lang.chart.sheet import HandState, PanelKind, Together
from protocol_lang.chart.words import (
    ENGLISH,
    FOLDER,
    LANGUAGES,
    Counted,
    by_name,
    words_of,
)
from tools.catalogues import messages, refreshed

OTHERS = [code for code in LANGUAGES if code != "en"]


def catalogue(language: str) -> polib.POFile:
    return polib.pofile(str(FOLDER / f"{language}.po"), encoding="utf-8")


def braces(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_has_every_message_and_no_other(language: str):
    found = catalogue(language)
    assert [(e.msgctxt, e.msgid, e.msgid_plural) for e in found] == list(messages())
    assert [e.msgid for e in found if not e.translated()] == []
    assert not [e.msgid for e in found if e.fuzzy or e.obsolete]


@pytest.mark.parametrize("language", OTHERS)
def test_the_tool_has_nothing_to_change(language: str):
    path = FOLDER / f"{language}.po"
    made = str(refreshed(language, catalogue(language))).rstrip("\n") + "\n"
    assert made == path.read_text("utf-8")


@pytest.mark.parametrize("language", OTHERS)
def test_each_translation_is_filled_in_as_the_english_is(language: str):
    for entry in catalogue(language):
        wanted = braces(entry.msgid)
        if not entry.msgid_plural:
            assert braces(entry.msgstr) == wanted, entry.msgid
            continue
        assert braces(entry.msgid_plural) == wanted
        for form, said in entry.msgstr_plural.items():
            # A form that stands for one number only may say it in a word.
            lone = len(numbers_of(language, form)) == 1
            assert braces(said) in ({*wanted}, wanted - {"n"} if lone else wanted), said


def numbers_of(language: str, form: int) -> list[int]:
    """The numbers up to 999 that take a form."""
    rule = rule_of(language)
    return [n for n in range(1000) if rule(n) == form]


def rule_of(language: str):
    from protocol_lang.translation.messages import messages as loaded

    found = loaded(FOLDER / f"{language}.po")
    return found.plural  # type: ignore[attr-defined]


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_says_that_a_native_speaker_must_review_it(language: str):
    head = " ".join(catalogue(language).header.split())
    assert "by the makers" in head
    assert "to be reviewed by a native speaker of the clinic" in head


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_have_the_same_shape_in_every_language(language: str):
    words = words_of(language)
    for name, value in by_name(ENGLISH).items():
        other = getattr(words, name)
        assert type(other) is type(value), name
        if isinstance(value, tuple):
            assert len(other) == len(value)
        elif not isinstance(value, str | Counted):
            assert other.keys() == value.keys()
    assert set(words.panels) == set(PanelKind)
    assert set(words.hands) == set(HandState)
    assert set(words.together) == set(Together)


def test_unknown_languages_are_english_and_a_region_makes_no_difference():
    assert words_of("xx") is ENGLISH
    assert words_of("en-GB") is ENGLISH
    assert words_of("es-MX").draft == words_of("es").draft == "BORRADOR"


def test_what_is_told_apart_in_english_is_told_apart_in_every_language():
    for language in OTHERS:
        words = words_of(language)
        assert len(set(words.hands.values())) == len(set(ENGLISH.hands.values()))
        assert len(set(words.panels.values())) == len(PanelKind)
        assert len({words.done, words.not_done, words.not_seen}) == 3
        assert words.put_on != words.take_off
        assert len(set(words.which_hand.values())) == len(words.which_hand)


# --- Against the CLDR: Unicode Common Locale Data Repository, as in Babel (BSD-3-Clause) ----------


@pytest.mark.parametrize("language", LANGUAGES)
def test_months_are_those_of_the_cldr(language: str):
    theirs = get_month_names("wide", "format", language)
    assert words_of(language).months == tuple(theirs[n] for n in range(1, 13))


@pytest.mark.parametrize("language", LANGUAGES)
def test_dates_are_those_of_the_cldr(language: str):
    """CLDR dateFormatLength "long". English: that of the United Kingdom, the day first. French: on
    the first of a month CLDR has the bare number, and we "1er" (common practice, no source)."""
    locale = "en_GB" if language == "en" else language
    for days in range(0, 400, 7):
        day = date(2026, 1, 1) + timedelta(days=days)
        theirs = format_date(day, "long", locale)
        if language == "fr" and day.day == 1:
            theirs = theirs.replace("1 ", "1er ", 1)
        ours = words_of(language).day(day)
        assert ours == re.sub(r"\s+", " ", theirs), language


@pytest.mark.parametrize("language", OTHERS)
def test_plural_rules_group_numbers_as_the_cldr_does(language: str):
    """For whole numbers up to 999. (Spanish and French have one more form in the CLDR, for whole
    millions.)"""
    theirs, ours = Locale(language).plural_form, rule_of(language)
    pairs = {(theirs(n), ours(n)) for n in range(1000)}
    assert len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs})


@pytest.mark.parametrize("language", OTHERS)
def test_as_many_forms_as_the_cldr_has_for_such_numbers(language: str):
    forms = next(entry for entry in catalogue(language) if entry.msgid_plural).msgstr_plural
    assert len(forms) == len({Locale(language).plural_form(n) for n in range(1000)})


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_direction_of_writing_is_that_of_the_cldr(language: str):
    assert words_of(language).right_to_left == (Locale(language).text_direction == "rtl")


def test_numbers_take_their_form():
    arabic = words_of("ar").minutes
    assert [arabic.format(n=n) for n in (1, 2, 3, 10, 11, 100)] == [
        "دقيقة واحدة", "دقيقتان", "3 دقائق", "10 دقائق", "11 دقيقة", "100 دقيقة",
    ]  # fmt: skip
    spanish = words_of("es").checked_waived
    assert spanish.format(n=1, day="x") == "comprobado, 1 excepción hasta el x"
    assert spanish.format(n=2, day="x") == "comprobado, 2 excepciones hasta el x"
    assert words_of("fr").faults.format(n=0) == "0 défaut à corriger"
    assert ENGLISH.faults.format(n=0) == "0 faults to correct"


def test_every_field_is_looked_at():
    assert {one.name for one in fields(ENGLISH)} - set(by_name(ENGLISH)) == {"right_to_left"}
