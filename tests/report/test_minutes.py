"""The page and the data of the time of a visit."""

from __future__ import annotations

import json
from datetime import date
from functools import cache

import pytest
from jsonschema import Draft202012Validator

from protocol_lang.report import minutes as page
from protocol_lang.report import minutes_json
from protocol_lang.report.letters import width
from protocol_lang.timetable import (
    Bar,
    Case,
    Clearing,
    Contact,
    Course,
    Drying,
    Gain,
    Kept,
    Span,
    Timetable,
    Told,
)
from protocol_lang.wording import minutes as words

DAY = date(2026, 11, 30)
CONTACT = Contact(
    wetting="operator disinfects shelf",
    place=None,
    things=("shelf",),
    touch="operator lines shelf",
    label=120_000,
    kept=Kept.SURELY,
    least=130_000,
    because=(Told("operator tidies", "operator", 60_000), Told("waits", "operator", 0, wait=True)),
    without_waits=60_000,
)
SHORT = Contact(
    wetting="operator disinfects sensor",
    place=None,
    things=("sensor",),
    touch=None,
    label=120_000,
    kept=Kept.TOO_SHORT,
    least=60_000,
    story=(Told("operator disinfects sensor", "operator", 10_000), Told("x", "helper", 60_000)),
    choices=(("staffing", "alone"),),
)
OPEN = Contact("operator wipes", None, ("arm",), "operator aims", 60_000, Kept.UNDECIDED, 0)
FULL = Timetable(
    title="A visit",
    cases=(
        Case(
            (("staffing", "alone"),),
            Span(600_000, 1_164_000), Span(60_000, 90_000), None, (12, 24), True,
        ),
        Case(
            (("staffing", "paired"),),
            Span(500_000, 900_000, sure=False), None, Span(600_000, 950_000), (1, 1), False,
        ),
    ),
    course=Course(
        (("staffing", "alone"),),
        (
            Bar("operator", "operator tidies", "Tidy", 0, 60_500, 0, False, None),
            Bar("operator", "operator waits", "Tidy", 60_500, 90_000, 0, True, None),
            Bar("helper", "helper fetches", "Tidy", 0, 30_000, 60_000, False, None),
        ),
        90_000,
        True,
    ),
    contacts=(SHORT, OPEN, CONTACT),
    drying=(Drying("operator disinfects arm", None, 600_000, 120_000, 5, 130_000),),
    clearing=(Clearing("scan room", "6", "99.9", 69),),
    gains=(
        Gain("helper", ("operator tidies",), 30_000, True, who="helper"),
        Gain("product", ("wipe",), 20_000, True, minutes=1),
        Gain("another", ("sensor",), 10_000, False),
    ),
    untold=("say: a", "say: b", "say: c", "say: d", "say: e"),
    session=240,
    rounds=(("exposure", 20, 3),),
    mishaps=True,
)  # fmt: skip


@cache
def schema():
    return json.loads(minutes_json.SCHEMA.read_text("utf-8"))


def told(**how: object) -> str:
    return " ".join(page.render(FULL, DAY, **how).split())  # type: ignore[arg-type]


def test_the_schema_is_one():
    # JSON Schema, draft 2020-12, by the reference library's copy of the meta-schema.
    Draft202012Validator.check_schema(schema())


def test_the_data_has_the_form_that_the_schema_describes():
    text = minutes_json.render(FULL, DAY, "0.1.0")
    assert text.isascii()
    errors = list(Draft202012Validator(schema()).iter_errors(json.loads(text)))
    assert not errors, errors


def test_the_schema_refuses_what_it_should():
    data = json.loads(minutes_json.render(FULL, None, "0.1.0"))
    for spoil in (
        lambda d: d.pop("upshot"),
        lambda d: d.update(version=2),
        lambda d: d.update(more=1),
        lambda d: d["contact times"][0].update(verdict="kept"),
        lambda d: d["visits"][0].update(patients=[1]),
        lambda d: d["course"]["steps"][0].update(slack=-1),
    ):
        spoiled = json.loads(json.dumps(data))
        spoil(spoiled)
        assert not Draft202012Validator(schema()).is_valid(spoiled)


def test_times_are_in_seconds():
    data = minutes_json.data(FULL, DAY, "0.1.0")
    assert data["visits"][0]["ready"] == {"least": 600, "most": 1164, "exact": True}
    assert data["course"]["steps"][0]["end"] == 60.5


def test_everything_stands_on_the_page():
    said = told(width=72)
    for part in (
        "A visit. A visit takes 8.3 to 19.4 minutes. One contact time may be too short. Of one "
        "contact time it is not known.",
        "10.0 to 19.4 min; of that 1.0 to 1.5 min from when the patient has left; 12 to 24 "
        "patients",
        "not to the last decided; 10.0 to 15.8 min until all is done; one patient in 240 minutes",
        'sensor, 2 min: "operator disinfects sensor" and the end of the visit may lie only 1 min '
        "apart (staffing: alone).",
        "1. operator disinfects sensor (10 s) 2. x (1 min)",
        'shelf, 2 min: at least 2 min 10 s from "operator disinfects shelf" to "operator lines '
        'shelf". By the wait "waits" and by "operator tidies" (1 min); without waiting it would be '
        "1 min.",
        "Wet it 5 times. Here 2 min 10 s can lie between two times, even without a pause.",
        'helper takes over "operator tidies", at the same time as the rest',
        "another sensor is at hand, so that nobody waits for this one to dry (at least)",
        'Five steps have no time and count as taking none: "say: a", "say: b", "say: c" and two '
        "others.",
        "The air of scan room is cleared to 99.9 percent 69 minutes after the patient has left it",
        'Of up to 20 times of "exposure" up to 3 were worked out; more take longer.',
        "Local codes, the labels of products and licensed practice come first.",
        "2026-11-30 was taken as today",
    ):
        assert part in said, part
    assert '"say: e"' not in said and '"say: e"' in told(full=True)


@pytest.mark.parametrize("columns", [24, 40, 72, 80, 200])
def test_no_line_is_longer_than_asked_for(columns: int):
    text = page.render(FULL, DAY, columns)
    assert max(width(line) for line in text.splitlines()) <= columns
    assert "\x1b" not in text


def test_in_ascii_and_in_colour():
    assert page.render(FULL, DAY, 72, ascii_only=True).isascii()
    coloured = page.render(FULL, DAY, 72, colour=True)
    assert "\x1b[1m" in coloured


@pytest.mark.parametrize(
    ("ticks", "said"),
    [
        (0, "0 s"),
        (1_000, "1 s"),
        (1_500, "1.5 s"),
        (60_000, "1 min"),
        (95_000, "95 s"),
        (120_000, "2 min"),
        (125_000, "2 min 5 s"),
        (4_500_250, "75 min 0.25 s"),
    ],
)
def test_a_time_in_words(ticks: int, said: str):
    assert words.clock(ticks) == said


def test_tenths_of_minutes():
    assert [words.tenths(ticks) for ticks in (0, 2_999, 3_000, 599_999, 600_000)] == [
        "0.0",
        "0.0",
        "0.1",
        "10.0",
        "10.0",
    ]
