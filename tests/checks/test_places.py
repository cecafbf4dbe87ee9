"""Where people are, against the plain rules applied to one order after the other.

Everybody is in one place or outside. Who touches a thing that stands somewhere is there.
At an exposure: NCRP report 145, 2003 (behind a barrier from which the patient is seen; without one,
at least 2 m away, at 90 to 135 degrees from the beam).
"""

from __future__ import annotations

import random
from itertools import permutations
from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file

HEAD = """protocol "Places"
  edition 1
  takes words from "Imaging room 2"

places
  booth: barrier; patient in view
  store, chair side

people
  parent: companion

surfaces
  shelf: surface; in store
  switch: surface; in booth

phase "Visit"
"""


def _checked(where: Path, steps: str, head: str = HEAD) -> Checked:
    path = where / "places.protocol"
    path.write_text(head + steps, "utf-8")
    return check_file(path, mend=False)


def _kinds(one: Checked) -> list[str]:
    return [finding.kind for finding in one.outcome.findings]


@pytest.mark.parametrize("seed", range(30))
def test_every_order_is_judged_by_where_people_are(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    stands = {"shelf": "store", "switch": "booth"}
    loose: list[tuple[str, str, str]] = []
    for _ in range(dice.randint(2, 4)):
        who = dice.choice(("operator", "helper"))
        if dice.random() < 0.6:
            loose.append(("go", who, dice.choice(("booth", "store", "chair side"))))
        else:
            loose.append(("touch", who, dice.choice(("shelf", "switch"))))
    lines = ["  [ ] operator cleans hands\n  [ ] helper cleans hands\n"]
    first = dice.choice(("booth", "store"))
    lines.append(f"  [ ] operator goes to {first}\n  any order\n")
    for what, who, name in loose:
        does = f"goes to {name}" if what == "go" else f"works at {name}"
        lines.append(f"    [ ] {who} {does}\n")
    lines.append("  [ ] operator leaves the room\n  [ ] helper leaves the room\n")
    wrong = set()
    for order in permutations(range(len(loose))):
        at = {"operator": first, "helper": "outside"}
        for number in order:
            what, who, name = loose[number]
            if what == "go":
                at[who] = name
            elif at[who] != stands[name]:
                wrong.add((who, name))
    if len({*loose}) < len(loose):
        return  # the same step twice: nothing new
    found = _checked(tmp_path, "".join(lines)).outcome.findings
    assert {f.kind for f in found} == ({"touched-from-afar"} if wrong else set())
    assert {(f.facts["person"], f.facts["thing"]) for f in found} == wrong


def test_who_is_not_back_where_the_visit_began_is_told(tmp_path: Path) -> None:
    (there,) = _checked(tmp_path, "  [ ] operator goes to booth\n").outcome.findings
    assert there.kind == "not-ready"
    assert there.facts == {"what": "operator", "begins": "outside", "ends": "in booth"}
    back = "  [ ] operator goes to booth\n  [ ] operator leaves the room\n"
    assert _kinds(_checked(tmp_path, back)) == []
    here = HEAD.replace("parent: companion", "student: staff; starts in booth")
    away = "  [ ] student goes to store\n"
    assert _kinds(_checked(tmp_path, away, here)) == ["not-ready"]
    assert _kinds(_checked(tmp_path, away + "  [ ] student goes to booth\n", here)) == []
    assert _kinds(_checked(tmp_path, "  [ ] student works at switch\n", here)) == []


def test_the_place_in_a_slot_of_a_verb(tmp_path: Path) -> None:
    verb = "verb STAFF rests in PLACE\n  only when STAFF is in PLACE\n  no contact\n\n"
    head = HEAD.replace("phase", verb + "phase")
    text = (
        "  [ ] operator goes to booth\n  [ ] operator rests in store\n"
        "  [ ] operator leaves the room\n"
    )
    (fault,) = _checked(tmp_path, text, head).outcome.findings
    assert fault.kind == "claim-can-fail"
    assert fault.facts["claim"] == "operator is in store"
    assert _kinds(_checked(tmp_path, text.replace("in store", "in booth"), head)) == []


def test_the_handle_of_a_door_is_met_by_the_hand_and_not_by_the_elbow(tmp_path: Path) -> None:
    head = HEAD.replace("surfaces\n", "surfaces\n  door handle: surface; kept clean\n").replace(
        "phase", "verb ACTOR feels the gum\n  meet ACTOR's hands, the patient's mouth\n\nphase"
    )
    text = """  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator feels the gum
  [ ] operator goes to store through the door by {how}
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator leaves the room
"""
    assert _kinds(_checked(tmp_path, text.format(how="door handle"), head)) == [
        "clean-thing-reached"
    ]
    assert _kinds(_checked(tmp_path, text.format(how="elbow"), head)) == []


EXPOSURE = """  [ ] operator cleans hands
  [ ] operator takes film cover off exposure button
  [ ] operator chooses settings at keyboard
  [ ] operator goes to {where}
  {others}
  [ ] shot: operator exposes from {where} with exposure button
  [ ] operator covers exposure button with film cover
  [ ] operator leaves the room
"""


def _exposed(tmp_path: Path, place: str, others: str = "", more: str = "") -> list[str]:
    head = HEAD.replace("  store, chair side\n", f"  store, chair side\n  here{place}\n{more}")
    text = EXPOSURE.format(where="here", others=others or "[ ] helper cleans hands")
    return _kinds(_checked(tmp_path, text, head))


@pytest.mark.parametrize(
    ("place", "safe"),
    [
        (": barrier; patient in view", True),
        (": barrier", False),
        (": patient in view", False),
        (": 2 m from the patient; 90 degrees from the beam", True),
        (": 2 m from the patient; 135 degrees from the beam", True),
        (": 1.999 m from the patient; 90 degrees from the beam", False),
        # 6 ft are 1.8288 m: less than 2 m.
        (": 1.829 m from the patient; 90 degrees from the beam", False),
        (": 2 m from the patient; 89 degrees from the beam", False),
        (": 2 m from the patient; 136 degrees from the beam", False),
        (": 3 m from the patient", False),
        (": 90 degrees from the beam", False),
        ("", False),
    ],
)
def test_where_an_exposure_may_be_made_from(tmp_path: Path, place: str, safe: bool) -> None:
    """NCRP report 145, 2003: each bound of the rule from both sides."""
    assert _exposed(tmp_path, place) == ([] if safe else ["near-an-exposure"])


BACK = (
    "  any order\n    in order\n      [ ] {who} goes to {where}\n      [ ] {who} leaves the room\n"
)


@pytest.mark.parametrize(
    ("who", "where", "safe"),
    [
        ("helper", "chair side", False),
        ("helper", "booth", True),
        ("parent", "chair side", False),
        ("parent", "booth", True),
        ("patient", "chair side", True),
    ],
)
def test_nobody_but_the_patient_is_near_at_an_exposure(
    tmp_path: Path, who: str, where: str, safe: bool
) -> None:
    """One permitted order only has the exposure while the other is there."""
    text = EXPOSURE.format(where="booth", others="[ ] helper cleans hands").replace(
        "  [ ] shot: operator exposes",
        BACK.format(who=who, where=where) + "    [ ] operator exposes",
    )
    assert _kinds(_checked(tmp_path, text)) == ([] if safe else ["near-an-exposure"])
    before = EXPOSURE.format(where="booth", others="[ ] helper cleans hands").replace(
        "  [ ] shot: ",
        f"  [ ] {who} goes to {where}\n  [ ] {who} leaves the room\n  [ ] ",
    )
    assert _kinds(_checked(tmp_path, before)) == []


def test_a_companion_who_stays_may_be_near(tmp_path: Path) -> None:
    text = EXPOSURE.format(where="booth", others="[ ] parent goes to chair side")
    text += "  [ ] parent leaves the room\n"
    assert _kinds(_checked(tmp_path, text)) == ["near-an-exposure"]
    head = HEAD.replace("parent: companion", "parent: companion; stays at an exposure")
    assert _kinds(_checked(tmp_path, text, head)) == []


def test_the_verb_without_a_place_judges_the_place_all_the_same(tmp_path: Path) -> None:
    text = EXPOSURE.format(where="chair side", others="[ ] operator goes behind the barrier")
    text = text.replace("exposes from chair side with", "exposes with")
    text = text.replace(
        "  [ ] operator leaves the room",
        "  [ ] operator comes back from the barrier\n  [ ] operator leaves the room",
    )
    assert _kinds(_checked(tmp_path, text)) == ["near-an-exposure"]
    assert _kinds(_checked(tmp_path, text.replace("chair side", "booth"))) == []
    no_places = HEAD.replace(HEAD[HEAD.index("places") : HEAD.index("people")], "")
    no_places = no_places[: no_places.index("surfaces")] + 'phase "Visit"\n'
    plain = text.replace("  [ ] operator goes to chair side\n", "")
    plain = plain.replace("  [ ] operator leaves the room\n", "")
    assert _kinds(_checked(tmp_path, plain, no_places)) == []


SIDES = HEAD.replace(
    "  store, chair side\n", "  store, chair side\n  sink, bath corner: dirty side\n"
)


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        (("goes to sink", "goes to store", "takes off gloves"), True),
        (("goes to sink", "leaves the room", "takes off gloves"), True),
        (("goes to sink", "goes to bath corner", "goes to store", "takes off gloves"), True),
        (("goes to sink", "goes to bath corner", "takes off gloves", "goes to store"), False),
        (("goes to sink", "takes off gloves", "goes to store"), False),
        (("goes to chair side", "goes to store", "takes off gloves"), False),
    ],
)
def test_gloves_do_not_leave_the_dirty_side(
    tmp_path: Path, steps: tuple[str, ...], found: bool
) -> None:
    text = "  [ ] operator cleans hands\n  [ ] operator puts on gloves\n"
    text += "".join(f"  [ ] operator {step}\n" for step in steps)
    text += "  [ ] operator cleans hands\n  [ ] operator leaves the room\n"
    told = ["gloves-off-the-dirty-side"] if found else []
    assert _kinds(_checked(tmp_path, text, SIDES)) == told


def test_one_permitted_order_that_takes_gloves_off_the_dirty_side_is_found(tmp_path: Path) -> None:
    text = """  [ ] operator cleans hands
  [ ] operator goes to sink
  any order
    [ ] go: operator goes to store
    in order
      [ ] operator puts on gloves
      [ ] operator takes off gloves
  [ ] operator cleans hands
  [ ] operator leaves the room
"""
    assert _kinds(_checked(tmp_path, text, SIDES)) == []
    mixed = text.replace("any order", "any order, mixed")
    assert _kinds(_checked(tmp_path, mixed, SIDES)) == ["gloves-off-the-dirty-side"]


@pytest.mark.parametrize(
    ("where", "expected"),
    [("", []), ("  [ ] operator goes to store\n", ["near-an-exposure"])],
)
@pytest.mark.parametrize("speaks", [False, True])
def test_places_that_say_nothing_of_exposures_leave_them_outside(
    tmp_path: Path, where: str, expected: list[str], speaks: bool
) -> None:
    """A darkroom alone: what the verb itself asks for counts. A booth: it is made from there."""
    head = HEAD if speaks else HEAD.replace("booth: barrier; patient in view", "booth")
    text = (
        "  [ ] operator cleans hands\n"
        "  [ ] operator chooses settings at control panel\n"
        "  [ ] operator takes film cover off control panel and exposure button\n"
        f"{where}"
        "  [ ] operator goes behind the barrier\n"
        "  [ ] operator exposes with exposure button\n"
        "  [ ] operator covers control panel and exposure button with film cover\n"
        "  [ ] operator leaves the room\n"
    )
    assert _kinds(_checked(tmp_path, text, head)) == (["near-an-exposure"] if speaks else expected)
