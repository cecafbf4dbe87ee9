"""What used hands have to do with, hands on coming in and after a break, wet times."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from protocol_lang.chart.sheet import Draft, HandState
from protocol_lang.model.steps import Doing, Step
from protocol_lang.model.verbs import Meets, OfSlot, Ref, Takes
from protocol_lang.pages import sheets
from protocol_lang.pages.hands import MOST_TO_TOUCH
from tests.pages.shipped import (
    PLATES,
    QUICK,
    SENSOR,
    all_sheets,
    judged,
    one_sheet,
    rows_of,
    steps_shown,
    unfolded,
)

ALONE = {"staffing": "alone", "shielding": "none"}


def members(path: Path, names: Iterable[str]) -> set[str]:
    groups = unfolded(path).protocol.groups
    return {one for name in names for one in (groups[name].members if name in groups else (name,))}


@pytest.mark.parametrize("path", QUICK, ids=lambda path: path.stem)
def test_nothing_is_both_to_be_touched_and_not(path):
    for sheet in all_sheets(path):
        never = members(path, sheet.never_touch)
        for phase in sheet.phases:
            told = members(path, phase.do_not_touch) | never
            assert not members(path, phase.touch_only) & told
            assert len(phase.touch_only) <= MOST_TO_TOUCH
        for row in rows_of(sheet):
            told = members(path, row.do_not_touch) | never
            assert not members(path, row.touch_only) & told
            assert len(row.touch_only) <= MOST_TO_TOUCH


def touched(step: Step) -> set[str]:
    """The things that the hands of whoever does a step touch, by the lines of its verb."""
    if not isinstance(step.does, Doing):
        return set()
    filled = step.does.filled
    found: set[str] = set()
    for line in step.does.verb.lines:
        refs: tuple[Ref, ...] = ()
        if isinstance(line, Takes):
            refs = (line.what,)
        elif isinstance(line, Meets) and OfSlot("ACTOR", "hands") in line.refs:
            refs = line.refs
        for ref in refs:
            if isinstance(ref, OfSlot) and ref.slot in filled and ref.slot != "ACTOR":
                found.update(filled[ref.slot])
    return found


@pytest.mark.parametrize("staffing", ["alone", "paired"])
def test_the_white_list_against_a_walk_through_the_verbs(staffing):
    """From the sensor out of the mouth on until hands are clean, read off the verbs in one order:
    it is a stretch without "any order"."""
    choices = {"staffing": staffing, "shielding": "none"}
    sheet = one_sheet(SENSOR, **choices)
    steps = dict(steps_shown(SENSOR, **choices))
    begins = next(row for row in rows_of(sheet) if row.touch_only)
    walked: set[str] = set()
    for row in rows_of(sheet):
        if row.number > begins.number and row.person == "operator":
            walked |= touched(steps[row.number])
            if not row.hands["operator"].state.is_used:
                break
    things = unfolded(SENSOR).protocol.things
    assert set(begins.touch_only) == {name for name in walked if name in things}
    assert set(begins.touch_only) == {"sensor", "holder"}


def test_told_where_a_time_of_used_hands_begins_and_with_a_phase():
    sheet = one_sheet(SENSOR, **ALONE)
    steps = dict(steps_shown(SENSOR, **ALONE))
    told = {steps[row.number].text: row.touch_only for row in rows_of(sheet) if row.touch_only}
    assert told["operator takes holder with sensor out of mouth"] == ("sensor", "holder")
    # Of the covers that come off in any order each may still be to come; the wipe is laid out.
    assert told["operator takes wrap off tube"] == (
        "control panel", "exposure button", "head rest", "used half", "wipe",
    )  # fmt: skip
    # Between the mouth and the barrier gloves come off and nothing is touched.
    assert "operator places holder with sensor in mouth" not in told
    phase = next(one for one in sheet.phases if one.title == "Take down")
    assert phase.touch_only == ("sensor", "holder")


def test_hands_on_coming_in_are_not_clean():
    sheet = one_sheet(SENSOR, staffing="paired", shielding="none")
    first = sheet.phases[0].hands_before
    assert {hands.state for hands in first.values()} == {HandState.NOT_CLEAN}
    rows = rows_of(sheet)
    comes = next(row for row in rows if row.hands["helper"].state is HandState.CLEAN_BARE)
    assert all(
        row.hands["helper"].state is HandState.NOT_CLEAN
        for row in rows
        if row.number < comes.number
    )


BREAK = """protocol "A break"
  edition 1
  takes words from "Imaging room 2"

phase "Visit"
  [ ] operator cleans hands
  [ ] operator opens the record at keyboard
  [ ] operator goes behind the barrier
  [ ] operator touches phone
  [ ] operator comes back from the barrier
  [ ] operator cleans hands

surfaces
  phone: surface; everyday

verb ACTOR touches SURFACE
  meet ACTOR's hands, SURFACE
"""


def test_hands_after_a_break_are_not_clean(tmp_path):
    """Who has had to do with something of every day is not clean until hands are cleaned."""
    path = tmp_path / "a-break.protocol"
    path.write_text(BREAK, "utf-8")
    room = SENSOR.parent / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    plan, judgement = judged(path)
    assert judgement.judged
    (sheet,) = sheets(plan, judgement, Draft("x"), {})
    states = [row.hands["operator"].state for row in rows_of(sheet)]
    clean, off = HandState.CLEAN_BARE, HandState.NOT_CLEAN
    assert states == [clean, clean, clean, off, off, clean]


def test_which_hand():
    sheet = one_sheet(PLATES, images="one", shielding="none")
    steps = dict(steps_shown(PLATES, images="one", shielding="none"))
    hands = {steps[row.number].text: row.hand for row in rows_of(sheet) if row.hand}
    assert hands == {
        "operator takes plate 1 out of plate cup with the used hand": "the used hand",
        "operator lets plate 1 slide out of envelope onto plate tray with the used hand":
            "the used hand",
        "operator feeds plate 1 into scanner with the feeding hand": "the feeding hand",
        "operator cleans both hands": "both hands",
    }  # fmt: skip


# --- Wet times ---


def test_what_may_be_done_in_the_wet_time():
    """Read off the text: the sensor is waited for after the used half, which is waited for before
    gloves come off; the chair arms only at the end."""
    sheet = one_sheet(SENSOR, **ALONE)
    steps = dict(steps_shown(SENSOR, **ALONE))
    rows = {steps[row.number].text: row for row in rows_of(sheet)}

    def between(words: str) -> list[str]:
        row = rows[f"operator disinfects {words} with a new wipe"]
        assert row.wet_minutes == 2
        return [steps[number].text for number in row.meanwhile]

    assert between("sensor") == [
        "operator takes tray paper off used half",
        "operator cleans chair arms with a new wipe",
        "operator disinfects chair arms with a new wipe",
        "operator cleans used half with a new wipe",
        "operator disinfects used half with a new wipe",
    ]
    assert between("used half") == ["operator hangs sensor on sensor hook by a new wipe"]
    late = between("chair arms")
    assert late[-1] == "operator lines used half with tray paper"
    assert not any("waits" in words or "chair arms" in words for words in late)
    assert all(row.wet_minutes is None for text, row in rows.items() if "disinfects" not in text)


@pytest.mark.parametrize("path", QUICK, ids=lambda path: path.stem)
def test_meanwhile_lies_between_the_treatment_and_a_wait(path):
    for sheet in all_sheets(path):
        rows = rows_of(sheet)
        waits = [row.number for row in rows if row.wait_minutes is not None]
        for row in rows:
            if row.meanwhile:
                assert row.wet_minutes is not None
                assert row.number < min(row.meanwhile)
                assert any(wait > max(row.meanwhile) for wait in waits)
                assert not set(waits) & set(row.meanwhile)
