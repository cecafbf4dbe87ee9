"""Protective equipment under airborne precautions: planted faults that only one order, one choice,
one moment of a mishap or a later visit shows, each with a right twin; and the published orders.

Sources: CDC, sequence for putting on and removing personal protective equipment (the respirator
comes off last, after leaving); CDC, 2020, the same for respiratory infections (hands cleaned on
leaving); UK health protection guidance on removal; CDC, Guidelines for Infection Control in Dental
Health-Care Settings, 2003 (torn gloves); CDC, Guideline for Isolation Precautions, 2007, from
memory (spores: hands washed, surfaces treated with a product that ends spores).
"""

from __future__ import annotations

from itertools import permutations
from pathlib import Path
from typing import NamedTuple

import pytest

from protocol_lang.findings import Finding
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from tests.planting import planted, times
from tests.practice.kit import Changes, kinds, reached

ROOM = folder("protocols") / "imaging-room-3"
NAME = "protective-equipment-airborne-precautions"


def checked(where: Path, changes: Changes = ()) -> Checked:
    """The shipped protocol with changes to its text, checked in its room."""
    room = "imaging-room-3.protocol"
    (where / room).write_text((ROOM / room).read_text("utf-8"), "utf-8")
    text = (ROOM / f"{NAME}.protocol").read_text("utf-8")
    for old, new in changes:
        assert times(text, old) == 1, f"{times(text, old)} times: {old!r}"
        text = planted(text, old, new)
    path = where / f"{NAME}.protocol"
    path.write_text(text, "utf-8")
    return check_file(path, mend=False)


def at(finding: Finding, where: Path) -> str:
    """The line that a finding is about."""
    assert finding.place is not None
    text = (where / f"{NAME}.protocol").read_text("utf-8")
    return text.splitlines()[finding.place.line - 1].strip().removeprefix("[ ] ")


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    one = checked(tmp_path)
    assert kinds(one) == []
    assert one.outcome.coverage is not None and one.outcome.coverage.any_number_of_visits


def test_what_may_remain_is_accepted_by_the_floor_that_is_reached(tmp_path: Path) -> None:
    """A rub is not accepted by the floor of a gut infection, nor is its source named for that."""
    coverage = checked(tmp_path).outcome.coverage
    assert coverage is not None and coverage.remainder
    assert not any("Isolation" in (rest.source or "") for rest in coverage.remainder)
    assert any("Hand Hygiene" in (rest.source or "") for rest in coverage.remainder)


class Fault(NamedTuple):
    """A planted fault, what is told of it, and a change beside it that is right."""

    changes: Changes
    told: list[tuple[str, str]]  #: (kind, line) of each finding
    choices: dict[str, str]  #: what the first one is told to need
    visits: int  #: how many its story takes
    twin: Changes


GLOVES = '  [ ] operator takes off long gloves\n      short "Gloves off"\n  any order\n'
TORN = "    [ ] operator takes off long gloves\n    [ ] operator washes hands\n"
FOGGED = "    [ ] operator keeps hands still\n"
MASK_OFF = '          short "Mask off by the ties"\n    [ ] operator washes hands\n'
FAULTS: dict[str, Fault] = {
    "gloves in any order with eyewear and gown: soil needs the eyewear first": Fault(
        (
            (
                GLOVES,
                "  any order\n    [ ] operator takes off long gloves\n"
                '        short "Gloves off"\n',
            ),
        ),
        [
            ("path-to-patient", "patient bites on bite block"),
            ("path-to-staff", "helper takes off respirator by the ties"),
            ("clean-thing-reached", "operator puts on gown"),
        ],
        {"precautions": "airborne"},
        3,
        # Gloves first, and then a fixed order in place of a free one.
        ((GLOVES, GLOVES.replace("any order", "in order")),),
    ),
    "hands rubbed at the end of a visit with a gut infection": Fault(
        (("    [ ] operator washes hands\n    [ ] helper washes hands\n",
          "    [ ] operator cleans hands\n    [ ] helper washes hands\n"),),
        [("hands-at-end", "operator takes off mask by the ties")],
        {"precautions": "gut infection"},
        1,
        # More than is asked: washed where rubbing will do.
        (("    [ ] operator cleans hands\n    [ ] helper cleans hands\n",
          "    [ ] operator washes hands\n    [ ] helper cleans hands\n"),),
    ),
    "hands rubbed after a glove tore: what came through the tear is more than a trace": Fault(
        ((TORN, TORN.replace("washes", "cleans")),),
        [
            ("path-to-patient", "patient bites on bite block"),
            ("path-to-staff", "operator takes off visor by the strap"),
            ("clean-thing-reached", "operator puts on long gloves over the cuffs of gown"),
        ],
        {"what happens": "glove torn"},
        3,
        ((TORN, TORN.replace("washes", "cleans") + "    [ ] operator washes hands\n"),),
    ),
    "the front of a fogged visor wiped with the glove, once it is used": Fault(
        ((FOGGED, "    [ ] operator adjusts visor\n"),),
        [("claim-not-clean", "operator adjusts visor")],
        {"what happens": "visor fogs"},
        1,
        # The same before the patient is touched.
        (
            (FOGGED, "    [ ] operator adjusts visor\n"),
            ('can happen in "In the room"\n', 'can happen in "Get ready"\n'),
        ),
    ),
    "a helper who unties the gown comes without a respirator": Fault(
        (
            ("        [ ] helper puts on respirator\n", ""),
            (
                "      where precautions is airborne\n"
                "        [ ] helper takes off respirator by the ties\n",
                "",
            ),
        ),
        [("air-breathed", "helper goes to anteroom")],
        {"precautions": "airborne"},
        1,
        # With precautions of every sort: no harm.
        (
            (
                "      where precautions is airborne\n"
                "        [ ] helper goes to lobby\n"
                "        [ ] helper puts on respirator\n",
                "      [ ] helper goes to lobby\n      [ ] helper puts on respirator\n",
            ),
            (
                "      where precautions is airborne\n"
                "        [ ] helper takes off respirator by the ties\n",
                "      [ ] helper takes off respirator by the ties\n",
            ),
        ),
    ),
    "a door that is not always shut": Fault(
        (
            (
                "  [ ] operator shuts the door of imaging room by elbow\n",
                "  may be left out\n    [ ] operator shuts the door of imaging room by elbow\n",
            ),
        ),
        [("claim-can-fail", "helper exposes from booth with exposure button")],
        {},
        1,
        (
            (
                "  [ ] operator turns the head of patient\n",
                "  may be left out\n    [ ] operator turns the head of patient\n",
            ),
        ),
    ),
    "gloves changed within reach of a cough": Fault(
        (("  in one go\n    [ ] operator closes", "  in order\n    [ ] operator closes"),),
        [
            ("path-to-patient", "patient bites on bite block"),
            ("path-to-staff", "operator takes off visor by the strap"),
            ("clean-thing-reached", "operator puts on long gloves over the cuffs of gown"),
        ],
        {"what happens": "glove torn"},
        3,
        # Nobody coughs: then it may be any moment.
        (
            ("  in one go\n    [ ] operator closes", "  in order\n    [ ] operator closes"),
            (
                "    [ ] patient spatters onto operator\n"
                '        short "Work near the patient\'s mouth"\n',
                "",
            ),
        ),
    ),
    "a wipe that does not end spores, after a gut infection": Fault(
        (
            (
                "disinfects touched parts with a new strong wipe",
                "disinfects touched parts with a new wipe",
            ),
            (
                "[ ] operator lays out strong wipe\n",
                "[ ] operator lays out strong wipe and wipe\n",
            ),
        ),
        [("path-to-patient", "patient rests the chin on chin rest")],
        {"precautions": "gut infection"},
        2,
        (
            (
                "    [ ] operator disinfects touched parts with a new wipe\n",
                "    [ ] operator disinfects touched parts with a new strong wipe\n",
            ),
            ("[ ] operator lays out wipe\n", "[ ] operator lays out wipe and strong wipe\n"),
        ),
    ),
    "untied by nobody, and slipped out of": Fault(
        (
            (
                "      [ ] helper unties gown of operator\n",
                "      [ ] helper keeps hands still\n",
            ),
        ),
        [("claim-can-fail", "operator slips out of gown inside out")],
        {},
        1,
        (("slips out of gown inside out\n      [ ] helper goes",
          "takes off gown inside out\n      [ ] helper goes"),),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    fault = FAULTS[name]
    one = checked(tmp_path, fault.changes)
    assert not one.outcome.unchecked
    found = one.outcome.findings
    assert [(each.kind, at(each, tmp_path)) for each in found] == fault.told
    route = found[0].route
    assert route is not None
    assert fault.choices.items() <= dict(route.choices).items()
    assert max(step.visit for step in route.steps) == fault.visits


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(checked(tmp_path, FAULTS[name].twin)) == []


# --- Published orders ----------------------------------------------------------------------------

WORDS = {
    "GLOVES": "operator takes off long gloves",
    "EYE": "operator takes off visor by the strap",
    "GOWN": "operator takes off gown inside out",
    "OUT": "operator goes to lobby through the door by elbow",
}
LAST = {"MASK": "takes off {} by the ties", "MASK_FRONT": "adjusts {}"}


def off(order: str) -> Changes:
    """The part from "Take off, in the anteroom" on, in this order and without a helper."""
    text = (ROOM / f"{NAME}.protocol").read_text("utf-8")
    start = text.index('phase "Take off, in the anteroom"')
    end = text.index('phase "Before the next patient"')
    lines = ['phase "Take off"']
    for word in order.split():
        if word in WORDS:
            lines.append(f"  [ ] {WORDS[word]}")
            if word == "EYE":
                lines.append("  [ ] operator drops visor into clinical waste")
            if word == "OUT":
                lines.append("      only when operator's hands are bare")
        elif word == "HH":
            lines += ["  where precautions is gut infection", "    [ ] operator washes hands"]
            lines += ["  otherwise", "    [ ] operator cleans hands"]
        else:
            lines += ["  where precautions is airborne",
                      f"    [ ] operator {LAST[word].format('respirator')}",
                      "  otherwise", f"    [ ] operator {LAST[word].format('mask')}"]  # fmt: skip
    lines += ["  [ ] helper washes hands", "", ""]
    return ((text[start:end], "\n".join(lines)),)


ACCEPTED = {
    "CDC poster, example 1; the respirator after leaving": "GLOVES EYE GOWN OUT MASK HH",
    "CDC 2020, hands cleaned on leaving": "GLOVES GOWN OUT HH EYE MASK HH",
    "UK guidance: mask off after leaving": "GLOVES GOWN EYE OUT MASK HH",
    "UK guidance, hands cleaned on leaving": "GLOVES GOWN EYE OUT HH MASK HH",
}


@pytest.mark.parametrize("order", ACCEPTED.values(), ids=ACCEPTED)
def test_published_orders_of_taking_off_are_clear(order: str, tmp_path: Path) -> None:
    assert kinds(checked(tmp_path, off(order))) == []


@pytest.mark.parametrize(
    ("order", "kind"),
    {
        # CDC poster, CDC 2020 and UK guidance have gloves first, the mask last and outside.
        "OUT MASK GLOVES EYE GOWN HH": "claim-can-fail",
        "MASK GLOVES EYE GOWN OUT HH": "path-to-staff",
        "EYE GLOVES GOWN OUT MASK HH": "path-to-patient",
        # CDC poster: hands are cleaned at once after everything is off.
        "GLOVES EYE GOWN OUT MASK": "hands-at-end",
        "GLOVES EYE GOWN OUT HH MASK": "hands-at-end",
        # CDC poster: the front of mask and respirator is contaminated, and not touched.
        "GLOVES EYE GOWN OUT HH MASK_FRONT MASK HH": "path-to-staff",
        # CDC 2020: gloves are off before the room is left.
        "GOWN OUT GLOVES EYE MASK HH": "claim-can-fail",
    }.items(),
)
def test_published_mistakes_are_told(order: str, kind: str, tmp_path: Path) -> None:
    assert kind in kinds(checked(tmp_path, off(order)))


def test_eyewear_before_gloves_soils_the_head_where_the_strap_is(tmp_path: Path) -> None:
    one = checked(tmp_path, off("EYE GLOVES GOWN OUT MASK HH"))
    assert {"operator's head and neck", "operator's hands"} <= reached(one)
    good = checked(tmp_path, off("GLOVES EYE GOWN OUT MASK HH"))
    assert "operator's head and neck" not in reached(good)


def test_a_respirator_off_before_leaving_is_told_for_the_air_alone(tmp_path: Path) -> None:
    """CDC poster: it comes off outside. Everything else is in a published order."""
    assert kinds(checked(tmp_path, off("GLOVES EYE GOWN MASK HH OUT"))) == ["air-breathed"]


def test_of_all_orders_before_leaving_two_are_clear(tmp_path: Path) -> None:
    """What the published orders share: gloves first; eyewear and gown as one likes."""
    clear = {
        order
        for order in permutations(("GLOVES", "EYE", "GOWN"))
        if not kinds(checked(tmp_path, off(" ".join((*order, "OUT MASK HH")))))
    }
    assert clear == {("GLOVES", "EYE", "GOWN"), ("GLOVES", "GOWN", "EYE")}
