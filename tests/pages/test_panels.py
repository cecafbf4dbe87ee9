"""What is told beside the steps: values worked out by hand from the texts of the protocols."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from protocol_lang.chart.sheet import Draft, PanelKind, PanelLine
from protocol_lang.model.steps import Doing, Step
from protocol_lang.pages import sheets
from tests.pages.shipped import (
    AIRBORNE,
    OPENING,
    PANORAMIC,
    QUICK,
    SENSOR,
    SERIES,
    all_sheets,
    judged,
    one_sheet,
    panel,
    rows_of,
    steps_shown,
    told,
    unfolded,
)
from tests.planting import planted


def number(path: Path, words: str, **choices: str) -> int:
    """The number of the step of which the sentence has these words."""
    found = [n for n, step in steps_shown(path, **choices) if words in step.text]
    assert found, words
    return found[0]


ALONE = {"staffing": "alone", "shielding": "none"}


# --- Lay out before gloving ---


def test_what_is_fetched_with_gloves_on():
    """Counted in the text: sensor, chair arms and used half are each cleaned and disinfected with a
    new wipe, six; the sensor is hung up by one more. The covers go on with bare hands."""
    lines = told(one_sheet(SENSOR, **ALONE), PanelKind.LAY_OUT)
    assert [(one.what, one.count) for one in lines] == [("sleeve", 1), ("holder", 1), ("wipe", 7)]
    with_collar = told(one_sheet(SENSOR, staffing="alone", shielding="collar"), PanelKind.LAY_OUT)
    assert [(one.what, one.count) for one in with_collar][-1] == ("wipe", 9)


def test_a_group_takes_one_for_each_member():
    """Bite block, and chin rest, handles and temple stops one by one: four, cleaned and
    disinfected."""
    sheet = one_sheet(PANORAMIC, loose="nothing", shielding="none", bites_on="the covered block")
    assert [(one.what, one.count) for one in told(sheet, PanelKind.LAY_OUT)] == [("wipe", 8)]


#: A sentence of the shipped vocabulary, and what one doing of it takes.
TAKES = (
    (r"(?:cleans|disinfects) (.+) with a new (\w+)$", 2),
    (r"(?:hangs|lifts) (.+) (?:on|from) .+ by a new (\w+)$", 2),
    (r"slips (\w+) over", 1),
    (r"puts \w+ into (holder)$", 1),
)


def by_hand(path: Path, **choices: str) -> Counter[str]:
    """The same by reading the sentences of a sheet from the top down, one order, with a pencil."""
    groups = unfolded(path).protocol.groups
    gloved: set[str] = set()
    found: Counter[str] = Counter()
    for _, step in steps_shown(path, **choices):
        who, _, words = step.text.partition(" ")
        if re.match(r"puts on .*gloves", words):
            gloved.add(who)
        elif re.match(r"takes off .*gloves", words):
            gloved.discard(who)
        for pattern, which in TAKES if who in gloved else ():
            if match := re.match(pattern, words):
                things = re.split(r", | and ", match[1])
                members = [m for t in things for m in (groups[t].members if t in groups else (t,))]
                found[match[which]] += len(members) if "EACH" in _form(step) else 1
    return found


def _form(step: Step) -> str:
    return step.does.frame.text if isinstance(step.does, Doing) else ""


@pytest.mark.parametrize("path", QUICK, ids=lambda path: path.stem)
def test_the_list_against_a_walk_through_the_sentences(path):
    for sheet in all_sheets(path):
        choices = dict(sheet.choices)
        lines = told(sheet, PanelKind.LAY_OUT)
        counted = {one.what: one.count for one in lines}
        assert counted == dict(by_hand(path, **choices)), choices


ROUNDS = """protocol "Rounds"
  edition 1
  takes words from "Imaging room 2"

phase "Visit"
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator puts on gloves
  for each image, 1 to 5
    first time only
      [ ] operator cleans chair arms with a new wipe
    [ ] operator cleans chair arms with a new wipe
    [ ] operator disinfects chair arms with a new wipe
  [ ] operator cleans used half with a new wipe
  either
    [ ] operator takes off gloves
    [ ] operator cleans hands
  or
    [ ] operator disinfects used half with a new wipe
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""


def test_rounds_and_ways(tmp_path):
    """Each round takes two; once the first time, once after, and once in the way that takes
    more."""
    path = tmp_path / "rounds.protocol"
    path.write_text(ROUNDS, "utf-8")
    room = SENSOR.parent / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    plan, judgement = judged(path)
    assert judgement.judged
    made = sheets(plan, judgement, Draft("x"), {})
    assert told(made[0], PanelKind.LAY_OUT) == [
        PanelLine("wipe", count=3),
        PanelLine("wipe", told="per image", count=2),
    ]


# --- What becomes of things ---


def test_what_is_covered_and_when_it_is_changed():
    lines = {one.what: one for one in told(one_sheet(SENSOR, **ALONE), PanelKind.COVERED)}
    off = number(SENSOR, "takes wrap off", **ALONE)
    on = number(SENSOR, "covers tube", **ALONE)
    assert lines["tube"] == PanelLine("tube", told="wrap", steps=(off, on))
    assert lines["control panel, exposure button"].told == "film cover"
    sleeve = number(SENSOR, "slips sleeve", **ALONE), number(SENSOR, "slide out", **ALONE)
    assert lines["sensor"].steps == sleeve
    assert set(lines) == {
        "tube", "control panel, exposure button", "head rest", "used half", "sensor",
    }  # fmt: skip


def test_what_is_disinfected():
    lines = told(one_sheet(SENSOR, **ALONE), PanelKind.DISINFECTED)
    assert [(one.what, one.told, one.minutes) for one in lines] == [
        (what, "intermediate level, with wipe", 2) for what in ("sensor", "chair arms", "used half")
    ]
    assert lines[0].steps == (number(SENSOR, "disinfects sensor", **ALONE),)


def test_what_is_disinfected_only_after_a_mishap_is_told_with_its_step():
    """The cone is disinfected where a patient has gagged: the step stands on the sheet."""
    choices = {"staffing": "alone", "company": "nobody", "teaching": "none", "shielding": "none"}
    sheet = one_sheet(SERIES, **choices)
    cone = next(one for one in told(sheet, PanelKind.DISINFECTED) if one.what == "cone")
    assert cone.steps == (number(SERIES, "disinfects cone", **choices),)
    # Nobody needs those wipes in a visit that goes as it should.
    wipes = next(one for one in told(sheet, PanelKind.LAY_OUT) if one.what == "wipe")
    assert wipes.count == 7

    happens = {one.what: one for one in told(sheet, PanelKind.HAPPENS)}
    place, out = (number(SERIES, words, **choices) for words in ("places holder", "takes holder"))
    bare = number(SERIES, "slide out of sleeve", **choices)
    assert {name: one.steps for name, one in happens.items()} == {
        "phone rings": (),
        "sensor let fall": (place,),
        "sensor dropped": (out + 1,),
        "patient gags": (place,),
        "glove torn": (place + 1, out + 1),
        "sleeve found torn": (bare + 1,),
    }
    assert happens["glove torn"].told == "Off at once, wash hands, new gloves"
    happening = panel(sheet, PanelKind.HAPPENS)
    assert happening is not None
    assert any(note.startswith("glove torn: Report it as an exposure") for note in happening.notes)


def test_reprocessing_stands_only_where_it_happens():
    for path in QUICK:
        for sheet in all_sheets(path):
            assert panel(sheet, PanelKind.STERILISED) is None


def test_waste_by_stream():
    lines = {one.what: one.told for one in told(one_sheet(SENSOR, **ALONE), PanelKind.WASTE)}
    assert set(lines) == {"clinical waste (yellow bag)", "holder box"}
    assert lines["holder box"] == "holder"
    assert set(lines["clinical waste (yellow bag)"].split(", ")) == {
        "gloves", "wrap", "film cover", "bag", "tray paper", "sleeve", "wipe",
    }  # fmt: skip


# --- Exposures ---


def test_who_stands_where():
    """NCRP report 145, 2003: whoever makes an exposure is behind a barrier from which the patient
    is seen."""
    choices = {"staffing": "paired", "shielding": "none"}
    exposes = number(SENSOR, "exposes with", **choices)
    assert told(one_sheet(SENSOR, **choices), PanelKind.STANDS) == [
        PanelLine("operator", told="behind the barrier", steps=(exposes,)),
        PanelLine("helper", told="behind the barrier", steps=(exposes,)),
    ]
    sheet = one_sheet(AIRBORNE, precautions="airborne")
    assert [(one.what, one.told) for one in told(sheet, PanelKind.STANDS)] == [
        ("operator", "in booth")
    ]


def test_settings_stand_where_an_exposure_is_made_and_calls_everywhere():
    sheet = one_sheet(SENSOR, **ALONE)
    settings = panel(sheet, PanelKind.SETTINGS)
    assert settings is not None
    assert PanelLine("adult, molar", told="65 kV, 7 mA, 0.16 s") in settings.lines
    assert any("licensed physicist" in note for note in settings.notes)
    for other in all_sheets(OPENING):
        assert panel(other, PanelKind.SETTINGS) is None
    for path in QUICK:
        for one in all_sheets(path):
            assert ("radiation protection adviser", "extension 214") in [
                (line.what, line.told) for line in told(one, PanelKind.CALL)
            ]


# --- What is found out ---


def test_what_is_found_out_leads_to_its_steps():
    choices = {"loose": "nothing", "shielding": "none", "bites_on": "the covered block"}
    sheet = one_sheet(PANORAMIC, **choices)
    (moved,) = told(sheet, PanelKind.HAPPENS)
    assert moved.what == "patient moved"
    assert moved.steps == (number(PANORAMIC, "steps out", **choices),)


# --- All of it ---


@pytest.mark.parametrize("path", QUICK, ids=lambda path: path.stem)
def test_numbers_are_those_of_rows_and_no_panel_is_empty(path):
    for sheet in all_sheets(path):
        known = {row.number for row in rows_of(sheet)}
        kinds = [one.kind for one in sheet.panels]
        assert kinds == [kind for kind in PanelKind if kind in kinds]
        for one in sheet.panels:
            assert one.lines
            for line in one.lines:
                assert line.what and set(line.steps) <= known
                assert line.count is None or line.count > 0


def test_where_nothing_was_judged_nothing_is_claimed_of_gloves(tmp_path):
    text = SENSOR.read_text("utf-8")
    path = tmp_path / "twice.protocol"
    line = "    [ ] operator puts on gloves\n"
    path.write_text(planted(text, line, line + line, 1), "utf-8")
    room = SENSOR.parent / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    plan, judgement = judged(path)
    assert not judgement.judged
    for sheet in sheets(plan, judgement, Draft("x"), {}):
        assert panel(sheet, PanelKind.LAY_OUT) is None
        assert panel(sheet, PanelKind.STANDS) is None
        assert panel(sheet, PanelKind.COVERED) is not None
