import itertools
from dataclasses import replace

from protocol_lang.chart.pieces import Piece, pieces, pieces_beside, ranges, tokens
from protocol_lang.chart.sheet import (
    Group,
    Hands,
    HandState,
    PanelKind,
    Row,
    Sheet,
    SheetPhase,
    Together,
)
from protocol_lang.chart.words import ENGLISH
from tests.chart.samples import BARE, GLOVES, NOT_CLEAN, PERHAPS, USED, full, intraoral


def test_tokens_tell_persons_apart():
    assert tokens(["operator", "helper"]) == {"operator": "O", "helper": "H"}
    assert tokens(["operator", "observer"]) == {"operator": "OP", "observer": "OB"}
    assert tokens(["nurse", "nurse two"]) == {"nurse": "NURSE", "nurse two": "NURSE "}
    assert len(set(tokens(["a", "ab", "abc"]).values())) == 3


def row(number: int, text: str, person: str | None, **hands: Hands) -> Row:
    return Row(number, text, person, hands)


def of(persons, *items) -> list[Piece]:
    before = dict.fromkeys(persons, NOT_CLEAN)
    sheet = Sheet("T", (), (SheetPhase("P", items, before),), persons)
    return list(pieces(sheet, ENGLISH))


def test_the_name_is_told_when_it_changes_and_never_for_one_person():
    items = (
        row(1, "operator cleans hands", "operator", operator=BARE, helper=NOT_CLEAN),
        row(2, "operator puts on gloves", "operator", operator=GLOVES, helper=NOT_CLEAN),
        row(3, "helper cleans hands", "helper", operator=GLOVES, helper=BARE),
        row(4, "operator aims tube", "operator", operator=GLOVES, helper=BARE),
        row(5, "patient leaves", "patient", operator=GLOVES, helper=BARE),
        row(6, "patient returns", "patient", operator=GLOVES, helper=BARE),
    )
    told = [piece.data["lead"] for piece in of(("operator", "helper"), *items)[1:]]
    assert told == ["Operator", "", "Helper", "Operator", "Patient", "Patient"]
    alone = of(("operator",), row(1, "operator cleans hands", "operator", operator=BARE))[1]
    assert (alone.data["lead"], alone.data["text"]) == ("", "Cleans hands")


def test_a_name_that_only_begins_alike_is_no_name():
    piece = of(("op",), row(1, "operator cleans hands", "op", op=BARE))[1]
    assert piece.data["text"] == "Operator cleans hands"


def test_ribbons_change_where_the_hands_change():
    first, second = of(
        ("a", "b"),
        row(1, "a cleans hands", "a", a=BARE, b=NOT_CLEAN),
        row(2, "a takes it", "a", a=USED, b=NOT_CLEAN),
    )[1:]
    assert first.before == ("NOT_CLEAN", "NOT_CLEAN") and first.after == ("CLEAN_BARE", "NOT_CLEAN")
    assert second.before == first.after and second.after == ("USED_GLOVES", "NOT_CLEAN")
    assert second.data["changes"] == [{"who": "A", "words": "used gloves", "state": "USED_GLOVES"}]


def test_where_orders_differ_the_words_are_treat_as_used():
    piece = of(("a",), row(1, "a takes it", "a", a=PERHAPS))[1]
    assert piece.data["changes"][0]["words"] == "treat as used"
    assert piece.after == ("USED_GLOVES",)
    piece = of(("a",), row(1, "a takes it", "a", a=Hands(HandState.UNKNOWN)))[1]
    assert piece.data["changes"][0]["words"] == "treat as used"


def test_lanes_show_their_own_person_and_leave_the_worst_behind():
    lanes = Group(
        Together.SIDE_BY_SIDE,
        (
            Group(Together.LANE, (row(1, "a holds", "a", a=USED, b=BARE),), "a"),
            Group(Together.LANE, (row(2, "b aims", "b", a=USED, b=GLOVES),), "b"),
        ),
    )
    _, block, after = of(("a", "b"), lanes, row(3, "a waits", "a", a=USED, b=GLOVES))
    left, right = block.lanes
    assert left[0].after == ("USED_GLOVES",) and right[0].after == ("CLEAN_GLOVES",)
    assert [c["who"] for c in left[0].data["changes"]] == ["A"]
    assert [c["who"] for c in right[0].data["changes"]] == ["B"]
    assert after.before == ("USED_GLOVES", "CLEAN_GLOVES")
    assert after.data["changes"] == []


def test_every_step_appears_once():
    for staffing in ("alone", "paired"):
        sheet = intraoral(staffing, "collar")
        numbers = []
        for piece in pieces(sheet, ENGLISH):
            if piece.kind == "row":
                numbers.append(int(piece.data["number"]))
            for lane in piece.lanes:
                numbers += [int(one.data["number"]) for one in lane if one.kind == "row"]
        assert numbers == list(range(1, len(numbers) + 1)) and len(numbers) >= 50


def test_no_column_begins_inside_in_one_go_or_after_a_heading_unless_dear():
    standing = pieces(intraoral("alone"), ENGLISH)
    for before, piece in itertools.pairwise(standing):
        if before.kind in ("band", "label", "warning"):
            assert piece.break_cost is None or piece.kind == "band"
        if before.kind == "row" and any(kind == "IN_ONE_GO" for _, kind in piece.within):
            assert piece.break_cost is None or piece.break_cost >= 300 or piece.kind == "label"


def test_numbers_of_steps_as_people_write_them():
    assert ranges((38, 39, 40, 41)) == "38–41"
    assert ranges((45, 38, 39, 41, 41)) == "38, 39, 41, 45"
    assert ranges(()) == ""


def test_what_is_laid_out_stands_first_and_other_panels_after():
    sheet = full()
    first = pieces(sheet, ENGLISH)[0]
    assert (first.kind, first.data["kind"]) == ("panel", "LAY_OUT")
    heads = [one.data["kind"] for one in pieces_beside(sheet, ENGLISH) if one.kind == "panel"]
    assert heads == [kind.name for kind in PanelKind if kind is not PanelKind.LAY_OUT]


def test_what_a_row_tells_beside_its_words():
    sheet = full()
    every = {one.data["number"]: one.data for one in pieces(sheet, ENGLISH) if one.kind == "row"}
    wet = next(data for data in every.values() if data["skip"])
    assert wet["wait"] == "2 min" and wet["meanwhile"] == "meanwhile 37–39, 42"
    held = next(data for data in every.values() if data["hand"])
    assert held["hand"] == "right hand"
    assert (held["touch_head"], held["touch"]) == ("Touch only:", "holder, mouth, used half")
    empty = next(data for data in every.values() if data["number"] == "1")
    slots = ("hand", "wait", "meanwhile", "skip", "touch", "warning")
    assert not any(empty[slot] for slot in slots)


def test_the_name_of_a_pictogram_is_no_word_that_a_line_must_hold():
    one = replace(row(1, "operator leaves", "operator", operator=BARE), pictogram="face-shield-off")
    piece = of(("operator",), one)[1]
    assert piece.data["pictogram"] == "face-shield-off"
    assert "face-shield-off" not in piece.words and "Leaves" in piece.words
