"""What the engine knows, as it stands on sheets and in pictures."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from protocol_lang.chart.sheet import Checked, Draft, HandState, Row, Sheet, rows
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.diagram import Graph, steps_page, text
from protocol_lang.pages import choices_that_matter, sheets, worlds_wanted
from protocol_lang.pages.picture import picture
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from tests.planting import planted

SHIPPED = folder("protocols") / "imaging-room-2"
SENSOR = SHIPPED / "intraoral-wired-sensor.protocol"


def judged(path: Path) -> tuple[Unfolded, Judgement]:
    checked = check_file(path, mend=False)
    assert checked.unfolded is not None and checked.judgement is not None, checked.outcome.findings
    return checked.unfolded, checked.judgement


@cache
def shipped(path: Path) -> tuple[Unfolded, Judgement]:
    return judged(path)


def one_sheet(found: tuple[Unfolded, Judgement], choices: Mapping[str, str]) -> Sheet:
    (sheet,) = sheets(*found, Checked(), choices)
    return sheet


def alone(found: tuple[Unfolded, Judgement], shielding: str = "none") -> Sheet:
    return one_sheet(found, {"staffing": "alone", "shielding": shielding})


def rows_of(sheet: Sheet) -> list[Row]:
    return [row for phase in sheet.phases for row in rows(phase.items)]


def row(sheet: Sheet, words: str, which: int = 0) -> Row:
    return [one for one in rows_of(sheet) if words in one.text][which]


def changed(tmp_path: Path, *changes: tuple[str, str], room: tuple[str, str] = ("", "")) -> Path:
    """The shipped sensor protocol and its room, with words replaced."""
    text = SENSOR.read_text(encoding="utf-8")
    for old, new in changes:
        text = planted(text, old, new)
    path = tmp_path / "changed.protocol"
    path.write_text(text.replace('"Imaging room 2"', '"Imaging room 3"'), encoding="utf-8")
    other = (SHIPPED / "imaging-room-2.protocol").read_text(encoding="utf-8")
    assert room[0] in other
    other = other.replace('"Imaging room 2"', '"Imaging room 3"').replace(*room)
    (tmp_path / "imaging-room-3.protocol").write_text(other, encoding="utf-8")
    return path


# --- Which sheets there are ---


def test_a_sheet_for_each_way_in_the_order_of_the_values():
    made = sheets(*shipped(SENSOR), Checked(), {})
    assert [dict(sheet.choices) for sheet in made] == [
        {"staffing": staffing, "shielding": shielding}
        for staffing in ("alone", "paired")
        for shielding in ("none", "collar")
    ]
    assert all(isinstance(sheet.mark, Checked) for sheet in made)


def test_only_choices_that_matter_are_named(tmp_path):
    idle = "  staffing: alone, paired\n  weather: fair, foul\n"
    path = changed(tmp_path, ("  staffing: alone, paired\n", idle))
    unfolded, judgement = judged(path)
    assert len(sheets(unfolded, judgement, Checked(), {})) == 4
    for world in range(4):
        names = [name for name, _ in choices_that_matter(unfolded, world)]
        assert names == ["staffing", "shielding"]
    # Where one works alone, the helper's choice changes nothing.
    asked = "    [ ] helper cleans hands\n"
    nested = "    where helper brings is tray\n      [ ] say: the tray is here\n" + asked
    more = "  staffing: alone, paired\n  helper brings: tray, nothing\n"
    path = changed(tmp_path, ("  staffing: alone, paired\n", more), (asked, nested))
    unfolded, judgement = judged(path)
    for sheet in sheets(unfolded, judgement, Checked(), {"shielding": "none"}):
        told = dict(sheet.choices)
        assert ("helper brings" in told) == (told["staffing"] == "paired")


def test_worlds_wanted():
    unfolded, _ = shipped(SENSOR)
    for world in worlds_wanted(unfolded, {"shielding": "collar"}):
        assert unfolded.worlds.examples[world][0]["shielding"] == "collar"
    assert len(worlds_wanted(unfolded, {"shielding": "collar"})) == 2
    assert worlds_wanted(unfolded, {"shielding": "lead"}) == ()


# --- Hands ---


def test_hands_along_a_sheet():
    sheet = alone(shipped(SENSOR))
    states = [one.hands["operator"].state for one in rows_of(sheet)]
    assert sheet.phases[0].hands_before["operator"].state is HandState.NOT_CLEAN
    assert states[0] is HandState.CLEAN_BARE
    assert row(sheet, "into the mouth").hands["operator"].state is HandState.USED_GLOVES
    assert row(sheet, "takes off gloves").hands["operator"].state is HandState.USED_BARE
    assert states[-1] is HandState.CLEAN_BARE
    # Only while the covers come off in any order: the bag on the head rest has met the hair.
    differ = [one.text for one in rows_of(sheet) if one.hands["operator"].orders_differ]
    assert len(differ) == 2 and all("off" in text for text in differ)


def test_gloves_put_on_with_hands_that_are_not_clean(tmp_path):
    """The helper comes in and puts gloves on at once: no patient's soil, but not clean either."""
    path = changed(
        tmp_path,
        (
            "otherwise\n    [ ] helper cleans hands\n",
            "otherwise\n    [ ] helper puts on gloves\n",
        ),
    )
    unfolded, judgement = judged(path)
    made = sheets(unfolded, judgement, Draft("x"), {"staffing": "paired", "shielding": "none"})
    told = row(made[0], "helper puts on gloves").hands["helper"]
    assert told.state in (HandState.NOT_CLEAN_GLOVES, HandState.UNKNOWN)
    if judgement.judged:
        assert told.state is HandState.NOT_CLEAN_GLOVES


def test_nothing_is_claimed_of_a_world_that_was_not_judged(tmp_path):
    twice = "[ ] operator puts on gloves\n    [ ] operator puts on gloves\n"
    path = changed(tmp_path, ("[ ] operator puts on gloves\n", twice))
    unfolded, judgement = judged(path)
    assert not judgement.judged
    for sheet in sheets(unfolded, judgement, Draft("2 faults to correct"), {}):
        assert isinstance(sheet.mark, Draft)
        assert not sheet.never_touch
        for one in rows_of(sheet):
            assert all(hands.state is HandState.UNKNOWN for hands in one.hands.values())


# --- What must not be touched ---


def told_by(sheet: Sheet) -> dict[str, tuple[str, ...]]:
    return {one.text: one.do_not_touch for one in rows_of(sheet) if one.do_not_touch}


def test_what_holds_throughout_is_told_once():
    sheet = alone(shipped(SENSOR))
    assert {"keyboard", "clean half", "sensor hook", "boxes and rolls"} <= set(sheet.never_touch)
    for phase in sheet.phases:
        assert not set(phase.do_not_touch) & set(sheet.never_touch)
    for things in told_by(sheet).values():
        assert not set(things) & set(sheet.never_touch)
    # The floor is no clean thing, the collar is of another clinic, and the rest has its covers.
    assert not {"floor", "collar", "head rest", "used half", "sensor"} & set(sheet.never_touch)


def test_what_comes_to_it_is_told_with_the_step():
    told = told_by(alone(shipped(SENSOR)))
    mouth = told["Sensor into the mouth"]
    assert mouth == ("tube", "exposure button")
    bared = next(things for step, things in told.items() if "takes wrap off" in step)
    # Uncovered and not covered again: by the name of the group.
    assert bared == ("tube",)
    # Disinfected, and on no account to be touched with these gloves again.
    assert "sensor" in next(things for step, things in told.items() if "disinfects sensor" in step)
    # What these gloves are yet to clean is not told before it is clean.
    assert "chair arms" not in bared and "used half" not in bared


def test_a_phase_that_begins_with_used_hands_says_again_what_still_holds():
    sheet = alone(shipped(SENSOR), "collar")
    assert next(p for p in sheet.phases if p.title == "Take down").do_not_touch == ("collar",)
    # It begins with used hands, but they are cleaned before the next thing is told.
    assert next(p for p in sheet.phases if p.title == "Get ready").do_not_touch == ()


def test_a_group_stands_for_its_members_only_if_all_are_told(tmp_path):
    group = "  boxes and rolls: wrap roll, film cover roll, bag roll, tray paper roll, sleeve box, "
    group += "glove box, wipe tub, sterile store\n"
    whole = alone(shipped(SENSOR))
    assert "boxes and rolls" in whole.never_touch
    assert "glove box" not in whole.never_touch and "wipe tub" not in whole.never_touch
    boxes = "glove box, wipe tub"
    part = alone(judged(changed(tmp_path, room=(group, f"  mixed: {boxes}, floor\n"))))
    assert "mixed" not in part.never_touch and "glove box" in part.never_touch


# --- Pictures ---


def arrows(graph: Graph) -> set[tuple[str, str]]:
    words = {node.id: node.text for node in graph.nodes}
    return {(words[arrow.source], words[arrow.target]) for arrow in graph.before}


def test_numbers_are_those_of_the_chart_once_all_choices_are_settled():
    for staffing in ("alone", "paired"):
        choices = {"staffing": staffing, "shielding": "collar"}
        sheet = one_sheet(shipped(SENSOR), choices)
        graph = picture(*shipped(SENSOR), choices)
        assert [(n.number, n.text) for n in graph.nodes] == [
            (one.number, one.text) for one in rows_of(sheet)
        ]
        assert all(node.condition is None for node in graph.nodes)


def test_branches_say_when_they_are_done():
    graph = picture(*shipped(SENSOR), {})
    told = {node.condition for node in graph.nodes}
    assert told == {None, "staffing: alone", "staffing: paired", "shielding: collar"}


def test_steps_that_are_left_out_keep_their_place():
    """What stands before and after a branch keeps its order where the branch is not done."""
    graph = picture(*shipped(SENSOR), {"staffing": "alone", "shielding": "none"})
    assert ("operator puts on gloves", "Sensor out of the mouth") in arrows(graph)
    chairs = "operator cleans chair arms with a new wipe"
    half = "operator cleans used half with a new wipe"
    assert (chairs, half) not in arrows(graph) and (half, chairs) not in arrows(graph)


def test_what_makes_an_only_when_true():
    graph = picture(*shipped(SENSOR), {"staffing": "alone", "shielding": "none"})
    words = {node.id: node.text for node in graph.nodes}
    told = {(words[arrow.source], words[arrow.target]) for arrow in graph.makes_true}
    settings = "operator chooses settings at control panel"
    assert (settings, "Sensor into the mouth") in told
    assert (settings, "operator exposes with exposure button") in told
    assert ("operator goes behind the barrier", "operator exposes with exposure button") in told
    assert not any("keyboard" in source for source, _ in told)


def test_an_order_in_a_circle_has_no_picture_but_a_sheet(tmp_path):
    line = "  [ ] operator opens the record at keyboard\n"
    path = changed(tmp_path, (line, f"{line}      after place\n"))
    unfolded, judgement = judged(path)
    assert judgement.circle is not None
    with pytest.raises(ValueError, match="circle"):
        picture(unfolded, judgement, {})
    for sheet in sheets(unfolded, judgement, Draft("x"), {}):
        assert all(
            h.state is HandState.UNKNOWN for one in rows_of(sheet) for h in one.hands.values()
        )


def test_a_picture_is_the_same_every_time():
    first, again = (text(steps_page(picture(*judged(SENSOR), {}))) for _ in range(2))
    assert first == again


BESIDE = """protocol "Beside"
  edition 1
  takes words from "Imaging room 2"

choices, each visit
  extra: no, yes

phase "Main"
  [ ] operator cleans hands
  [ ] helper cleans hands

phase "Beside it"
  may run into the next visit
  in one go
    [ ] helper cleans hands
    [ ] helper puts on gloves
  in one go
    [ ] helper takes off gloves
    [ ] helper cleans hands

phase "After"
  where extra is yes
    [ ] helper opens the record at keyboard
  [ ] operator works at keyboard
"""


def test_what_runs_on_is_drawn_and_told_whichever_act_comes_next(tmp_path):
    """Its steps are judged as other acts where the helper has something to do afterwards."""
    room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    path = tmp_path / "beside.protocol"
    path.write_text(BESIDE, "utf-8")
    found = judged(path)
    for extra in ("no", "yes"):
        sheet = one_sheet(found, {"extra": extra})
        gloved = row(sheet, "helper puts on gloves")
        assert gloved.hands["helper"].state is HandState.CLEAN_GLOVES, extra
    graph = picture(*found, {})
    by_text = {node.text: node for node in graph.nodes}
    assert by_text["helper puts on gloves"].condition is None
    assert by_text["helper opens the record at keyboard"].condition == "extra: yes"
    assert ("helper puts on gloves", "helper takes off gloves") in arrows(graph)
    assert ("helper takes off gloves", "operator works at keyboard") not in arrows(graph)
    assert graph.phases == ("Main", "Beside it (may run into the next visit)", "After")


def test_when_a_mishap_happens_is_no_condition_of_a_usual_step():
    """A picture has no steps of mishaps, so at which moment one comes is said of no other step."""
    graph = picture(*judged(folder("protocols") / "imaging-room-2" / "intraoral-film.protocol"), {})
    told = {node.condition for node in graph.nodes if node.condition}
    assert told and not any("when:" in one or "what happens" in one for one in told)
