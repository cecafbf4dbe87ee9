from dataclasses import replace
from datetime import date

import pytest

from protocol_lang.chart.plan import Known, holds, sheet
from protocol_lang.chart.sheet import Checked, Draft, Group, Hands, HandState, Row, Together, rows
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, EveryWhere, NotWhere
from protocol_lang.model.parts import Person, PersonKind, Thing
from protocol_lang.model.protocol import Choice, Header, Protocol, Source
from protocol_lang.model.refs import OfSlot
from protocol_lang.model.steps import (
    AnyOrder,
    Doing,
    InOneGo,
    InOrder,
    Phase,
    Saying,
    SideBySide,
    Step,
    Waiting,
    Where,
)
from protocol_lang.model.verbs import Frame, Reduces, Slot, Verb
from protocol_lang.text import Place
from tests.chart.samples import BARE, GLOVES, NOT_CLEAN, USED


def at(line: int) -> Place:
    return Place("a.protocol", line, 1, 2)


FRAME = Frame((Slot("ACTOR", "person"), "does it to", Slot("SURFACE", "surface"), "with",
               Slot("WIPE", "wipe")), "ACTOR does it to SURFACE with WIPE", at(1))  # fmt: skip
WETS = Reduces((OfSlot("SURFACE"),), None, "WIPE", None, at(1))


def verb(*lines) -> Verb:
    return Verb((FRAME,), (), lines, (), not lines, (), (), at(1))


def does(line: int, actor: str, text: str, *, short=None, wets=None) -> Step:
    filled = {"ACTOR": (actor,), "SURFACE": (wets or "shelf",), "WIPE": ("wipe",)}
    doing = Doing(verb(WETS) if wets else verb(), FRAME, filled)
    return Step(None, text, short, doing, (), (), (), (), (), at(line))


def other(line: int, does) -> Step:
    return Step(None, f"text {line}", None, does, (), (), (), (f"note {line}",), (), at(line))


def protocol(*phases: Phase) -> Protocol:
    return Protocol(
        header=Header("Title", 3, date(2026, 1, 2), None, "lead", (), (), at(1)),
        people={
            "operator": Person("operator", PersonKind.STAFF, at(1)),
            "guest": Person("guest", PersonKind.STAFF, at(1)),
            "helper": Person("helper", PersonKind.STAFF, at(1)),
            "patient": Person("patient", PersonKind.PATIENT, at(1)),
        },
        body_parts=(),
        things={"wipe": Thing("wipe", "wipe", at(1), wet_minutes=2)},
        groups={},
        facts={},
        duties=(),
        germs=(),
        levels={},
        floors=(),
        streams={},
        verbs=(),
        choices=(
            Choice("staffing", ("alone", "paired"), False, at(1)),
            Choice("shielding", ("none", "collar"), True, at(1)),
        ),
        begins=(),
        leaves=(),
        phases=phases,
        files=(Source("room", "Room 9", "room.protocol", False),),
    )


ALONE = ChoiceIs("staffing", "alone", at(1))
COLLAR = ChoiceIs("shielding", "collar", at(1))


def phase(title: str, *items) -> Phase:
    return Phase(title, None, (), items, at(99))


def test_branches_and_numbers():
    plan = protocol(
        phase(
            "One",
            does(10, "operator", "operator starts"),
            Where(
                (
                    (ALONE, (does(11, "operator", "operator alone"),)),
                    (COLLAR, (does(12, "helper", "helper collar"),)),
                    (None, (does(13, "helper", "helper else"), does(14, "helper", "helper too"))),
                ),
                at(11),
            ),
            other(15, Saying("hello")),
        ),
        phase(
            "Only paired", Where(((NotWhere(ALONE), (does(20, "patient", "patient x"),)),), at(20))
        ),
    )

    def texts(**choices):
        made = sheet(plan, choices)
        return [
            (p.title, [(r.number, r.text) for r in rows(p.items)]) for p in made.phases
        ], made.persons

    assert texts(staffing="alone", shielding="none") == (
        [("One", [(1, "operator starts"), (2, "operator alone"), (3, "text 15")])],
        ("operator",),
    )
    assert texts(staffing="paired", shielding="collar") == (
        [
            ("One", [(1, "operator starts"), (2, "helper collar"), (3, "text 15")]),
            ("Only paired", [(4, "patient x")]),
        ],
        ("operator", "helper"),
    )
    assert texts(staffing="paired", shielding="none")[0][0][1][1:3] == [
        (2, "helper else"),
        (3, "helper too"),
    ]


def test_head():
    made = sheet(
        protocol(phase("One", does(10, "operator", "operator starts"))),
        {"staffing": "alone", "shielding": "none"},
    )
    assert (made.title, made.edition, made.in_force, made.review_by, made.owner, made.room) == (
        "Title",
        3,
        date(2026, 1, 2),
        None,
        "lead",
        "Room 9",
    )
    assert made.choices == (("staffing", "alone"), ("shielding", "none"))
    # Nobody has told anything about this protocol: a draft, and hands are not claimed to be clean.
    assert made.mark == Draft("not checked")
    assert made.phases[0].hands_before == {"operator": Hands(HandState.UNKNOWN)}
    assert [r.hands for r in rows(made.phases[0].items)] == [made.phases[0].hands_before]


def test_blocks_become_groups_and_empty_ones_go():
    a, b, c = (does(n, "operator", f"operator {n}") for n in (10, 11, 12))
    none = Where(((COLLAR, (a,)),), at(10))
    both = Where(((ALONE, (b, c)),), at(10))
    plan = protocol(
        phase(
            "One",
            InOneGo((none,), at(1)),
            AnyOrder((a, both), True, at(1)),
            InOneGo((InOrder((a,), at(1)),), at(1)),
            SideBySide((("operator", (none,)), ("helper", (b,))), at(1)),
        )
    )
    items = sheet(plan, {"staffing": "alone", "shielding": "none"}).phases[0].items
    assert [item.kind for item in items if isinstance(item, Group)] == [
        Together.MIXED,
        Together.IN_ONE_GO,
        Together.SIDE_BY_SIDE,
    ]
    mixed, _, lanes = items
    assert isinstance(mixed, Group) and isinstance(lanes, Group)
    # A branch of several steps inside any order stays a list in its own order.
    assert isinstance(mixed.items[0], Row)
    assert isinstance(mixed.items[1], Group) and mixed.items[1].kind is Together.IN_ORDER
    assert [(lane.kind, lane.person) for lane in lanes.items if isinstance(lane, Group)] == [
        (Together.LANE, "helper")
    ]


def test_hands_are_carried_until_the_engine_says_otherwise():
    plan = protocol(
        phase("One", does(10, "operator", "operator a"), does(11, "operator", "operator b")),
        phase("Two", does(12, "helper", "helper c")),
    )
    known = Known(
        hands={at(11): {"operator": USED, "helper": BARE}, at(12): {"helper": GLOVES, "x": BARE}},
        start={"helper": BARE},
        mark=Checked(),
        phase_do_not_touch={at(99): ("keyboard",)},
        do_not_touch={at(12): ("mouse",)},
    )
    made = sheet(plan, {"staffing": "alone", "shielding": "none"}, known)
    one, two = made.phases
    assert one.hands_before == {"operator": NOT_CLEAN, "helper": BARE}
    assert [dict(r.hands) for r in rows(one.items)] == [
        {"operator": NOT_CLEAN, "helper": BARE},
        {"operator": USED, "helper": BARE},
    ]
    assert two.hands_before == {"operator": USED, "helper": BARE}
    row = next(rows(two.items))
    assert row.hands == {"operator": USED, "helper": GLOVES}
    assert row.hands["helper"].state is HandState.CLEAN_GLOVES
    assert row.do_not_touch == ("mouse",) and one.do_not_touch == ("keyboard",)
    assert made.mark == Checked()


def test_waits_tell_their_minutes():
    plan = protocol(
        phase(
            "One",
            other(10, Waiting("operator", 5, None)),
            other(11, Waiting("operator", None, "sensor")),
            does(12, "operator", "operator disinfects sensor", wets="sensor"),
            other(13, Waiting("operator", None, "sensor")),
            other(14, Waiting("operator", None, "shelf")),
        )
    )
    choices = {"staffing": "alone", "shielding": "none"}
    waits = [r.wait_minutes for r in rows(sheet(plan, choices).phases[0].items)]
    assert waits == [5, None, None, 2, None]
    told = sheet(plan, choices, Known(wait_minutes={at(14): 7})).phases[0].items
    assert [r.wait_minutes for r in rows(told)] == [5, None, None, 2, 7]


def test_a_step_tells_the_numbers_of_those_it_waits_for():
    """Also of one that stands below it; a label that is not on the sheet is nothing to wait for."""
    first = replace(
        does(10, "operator", "operator waits for both"),
        after=(("last", at(10)), ("elsewhere", at(10))),
    )
    last = replace(does(12, "helper", "helper comes last"), label="last")
    plan = protocol(phase("One", first, does(11, "operator", "operator goes on"), last))
    made = sheet(plan, {"staffing": "alone", "shielding": "none"})
    assert [row.after for row in rows(made.phases[0].items)] == [(3,), (), ()]


def test_short_text_and_notes():
    plan = protocol(
        phase(
            "One",
            does(10, "operator", "operator does a long thing", short="Short"),
            other(11, Saying("x")),
        )
    )
    first, second = rows(sheet(plan, {"staffing": "alone", "shielding": "none"}).phases[0].items)
    assert (first.text, first.person) == ("Short", "operator")
    assert (second.person, second.notes) == (None, ("note 11",))


def test_conditions():
    world = {"staffing": "alone", "shielding": "none"}
    assert holds(None, world) and holds(ALONE, world) and not holds(COLLAR, world)
    assert holds(NotWhere(COLLAR), world)
    assert holds(AnyWhere((ALONE, COLLAR)), world) and not holds(EveryWhere((ALONE, COLLAR)), world)


@pytest.mark.parametrize(
    "choices", [{}, {"staffing": "alone"}, {"staffing": "x", "shielding": "none"}]
)
def test_every_choice_needs_a_value_that_it_offers(choices):
    with pytest.raises(ValueError, match="must be one of"):
        sheet(protocol(phase("One", does(10, "operator", "operator a"))), choices)


def test_what_may_be_done_meanwhile_goes_by_the_numbers_of_the_sheet():
    """Places of steps that are not on the sheet have no number."""
    plan = protocol(
        phase(
            "One",
            does(10, "operator", "wets", wets="shelf"),
            Where(((COLLAR, (does(11, "operator", "only there"),)),), at(11)),
            does(12, "operator", "meanwhile"),
            other(13, Waiting("operator", None, "shelf")),
        )
    )
    known = Known(meanwhile={at(10): (at(11), at(12))}, wet_minutes={at(10): 2})
    for shielding, numbers in (("none", (2,)), ("collar", (2, 3))):
        made = sheet(plan, {"staffing": "alone", "shielding": shielding}, known)
        first, *rest = rows(made.phases[0].items)
        assert (first.meanwhile, first.wet_minutes) == (numbers, 2)
        assert all(row.meanwhile == () and row.wet_minutes is None for row in rest)


def test_what_is_to_be_touched_alone_is_told_where_it_is_known():
    plan = protocol(phase("One", does(10, "operator", "one"), does(11, "operator", "two")))
    known = Known(touch_only={at(11): ("wipe",)}, phase_touch_only={at(99): ("shelf",)})
    made = sheet(plan, {"staffing": "alone", "shielding": "none"}, known)
    assert made.phases[0].touch_only == ("shelf",)
    assert [row.touch_only for row in rows(made.phases[0].items)] == [(), ("wipe",)]
