"""Germs in the air: the published times, and who breathes what, against one order after the other.

Sources: CDC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003, table
B.1; MMWR 1994;43(RR-13), table S3-1 (the same formula, more rows).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from itertools import permutations
from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file
from protocol_lang.trade.air import clearance_minutes, clearance_time

#: Air changes an hour: minutes to 90, 99 and 99.9 percent (MMWR 1994, table S3-1).
TABLE = {
    1: (138, 276, 414), 2: (69, 138, 207), 3: (46, 92, 138), 4: (35, 69, 104), 5: (28, 55, 83),
    6: (23, 46, 69), 7: (20, 39, 59), 8: (17, 35, 52), 9: (15, 31, 46), 10: (14, 28, 41),
    11: (13, 25, 38), 12: (12, 23, 35), 13: (11, 21, 32), 14: (10, 20, 30), 15: (9, 18, 28),
    16: (9, 17, 26), 17: (8, 16, 24), 18: (8, 15, 23), 19: (7, 15, 22), 20: (7, 14, 21),
    25: (6, 11, 17), 30: (5, 9, 14), 35: (4, 8, 12), 40: (3, 7, 10), 45: (3, 6, 9), 50: (3, 6, 8),
}  # fmt: skip


@pytest.mark.parametrize("changes", TABLE)
def test_the_published_table(changes: int) -> None:
    assert tuple(clearance_minutes(changes, part) for part in (90, 99, 99.9)) == TABLE[changes]


def test_the_mixing_factor_makes_it_so_many_times_as_long() -> None:
    """MMWR 1994, table S3-1: 6 air changes, 99 percent, factor 3 (computed)."""
    assert clearance_time(6, 99, 3) == pytest.approx(138.155, abs=0.001)


@pytest.mark.parametrize("wrong", [(0, 99, 1), (-6, 99, 1), (6, 0, 1), (6, 100, 1), (6, 99, 0.5)])
def test_air_that_never_clears_has_no_time(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="no such air"):
        clearance_time(*wrong)


HEAD = """protocol "Air"
  edition 1
  takes words from "Imaging room 2"

choices, each visit
  precautions: usual, airborne

places
  scan room: 6 air changes an hour
  hall: 12 air changes an hour

air
  carries germs where precautions is airborne
  cleared to 99 percent

boxes
  mask box: box; kept clean

things
  respirator: mask; has front, ties; worn on nose and mouth; {keeps}used once; from mask box

phase "Visit"
"""
KEEPS = HEAD.replace("{keeps}", "keeps out germs of the air; ")
MINUTES = {"scan room": 46, "hall": 23}


def _checked(where: Path, steps: str, head: str = KEEPS) -> Checked:
    path = where / "air.protocol"
    path.write_text(head + steps, "utf-8")
    return check_file(path, mend=False)


def _kinds(one: Checked) -> list[str]:
    return [finding.kind for finding in one.outcome.findings]


# --- Against the rule, applied to one order after the other ---


@dataclass
class _Day:
    """One order as it goes: where the patient and the operator are, and since when air clears."""

    sure: dict[tuple[int, int], int]
    patient: str = "outside"
    operator: str = "outside"
    masked: bool = False
    #: For a place where the patient has been: the step of leaving, while the air is not clear.
    left: dict[str, int] = field(default_factory=dict)

    def does(self, number: int, step: str) -> None:
        what, _, name = step.partition(" ")
        if what == "patient":
            if self.patient != "outside" and self.patient != name:
                self.left[self.patient] = number
            self.left.pop(name, None)
            self.patient = name
        elif what == "operator":
            self.operator = name
        elif what == "mask":
            self.masked = name == "on"
        else:
            for place, since in list(self.left.items()):
                if self.sure.get((since, number), 0) >= MINUTES[place]:
                    del self.left[place]

    def breathes(self) -> str | None:
        unclear = {self.patient, *self.left} - {"outside"}
        return self.operator if self.operator in unclear and not self.masked else None


def _sure(steps: list[str], orders: list[list[int]]) -> dict[tuple[int, int], int]:
    """For a step and a wait that always follows it: the minutes of the longest row of waits from
    there to it, each of which always follows the one before."""
    follows = {
        (a, b)
        for a in range(len(steps))
        for b in range(len(steps))
        if a != b and all(order.index(a) < order.index(b) for order in orders)
    }
    waits = [n for n, step in enumerate(steps) if step.startswith("wait")]
    found: dict[tuple[int, int], int] = {}
    for begin in range(len(steps)):
        for wait in sorted(waits, key=lambda w: sum((a, w) in follows for a in range(len(steps)))):
            if (begin, wait) in follows:
                before = [
                    found[begin, w] for w in waits if (w, wait) in follows and (begin, w) in found
                ]
                found[begin, wait] = max(before, default=0) + int(steps[wait].split()[1])
    return found


_SAID = {
    "patient scan room": "patient comes to scan room",
    "patient hall": "patient comes to hall",
    "patient outside": "patient leaves",
    "operator scan room": "operator goes to scan room",
    "operator hall": "operator goes to hall",
    "operator outside": "operator leaves the room",
    "mask on": "operator puts on respirator",
    "mask off": "operator takes off respirator by the ties",
}


def _line(step: str) -> str:
    return _SAID.get(step) or f"helper waits {step.split()[1]} minutes"


@pytest.mark.parametrize("seed", range(150))
def test_every_order_is_judged_by_the_rule(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    masked = dice.random() < 0.7
    head = ["mask on"] if masked else []
    head += [dice.choice(("patient scan room", "patient hall"))]
    moves = [s for s in _SAID if not s.startswith("mask")] + ["wait 20", "wait 23", "wait 46"]
    likely = [*moves, *(s for s in moves if s.startswith(("patient", "wait")))]
    head += [dice.choice(likely) for _ in range(dice.randint(0, 5))]
    loose = [dice.choice(moves) for _ in range(dice.randint(1, 2))]
    loose += ["mask off"] if masked else []
    tail = ["patient outside", "operator outside"]
    tail = [dice.choice(likely) for _ in range(dice.randint(0, 3))] + tail
    tail += dice.choice(([], ["wait 46"], ["wait 23", "wait 23"], ["wait 45"]))
    steps = [*head, *loose, *tail]
    middle = range(len(head), len(head) + len(loose))
    orders = [
        [*range(len(head)), *order, *range(len(head) + len(loose), len(steps))]
        for order in permutations(middle)
    ]
    wrong: set[tuple[str, str]] = set()
    for order in orders:
        day = _Day(_sure(steps, orders))
        for number in order:
            before = day.breathes()
            day.does(number, steps[number])
            now = day.breathes()
            if now is not None and now != before:
                wrong.add(("air-breathed", now))
        wrong |= {("air-not-clear", place) for place in day.left}
    lines = ["  [ ] operator cleans hands\n"]
    lines += [f"  [ ] {_line(step)}\n" for step in head]
    lines += ["  any order\n", *(f"    [ ] {_line(step)}\n" for step in loose)]
    lines += [f"  [ ] {_line(step)}\n" for step in tail]
    found = _checked(tmp_path, "".join(lines)).outcome.findings
    assert {(f.kind, f.facts["where"]) for f in found} == wrong


# --- Faults that one order or one choice alone shows, and their right twins ---

VISIT = """  [ ] operator cleans hands
  where precautions is airborne
    [ ] on: operator puts on respirator
  [ ] operator goes to scan room
  [ ] patient comes to scan room
  any order, mixed
    [ ] operator looks at the image
    in order
      [ ] patient leaves
      [ ] out: operator leaves the room
    where precautions is airborne
      [ ] operator takes off respirator by the ties
          after out
  where precautions is airborne
    [ ] helper waits 20 minutes
    [ ] helper waits 26 minutes
"""


def test_the_right_visit_is_silent_with_every_choice(tmp_path: Path) -> None:
    assert _kinds(_checked(tmp_path, VISIT)) == []


def test_a_respirator_that_may_come_off_before_leaving_is_found(tmp_path: Path) -> None:
    (fault,) = _checked(tmp_path, VISIT.replace("          after out\n", "")).outcome.findings
    assert fault.kind == "air-breathed"
    assert fault.facts["step"] == "operator takes off respirator by the ties"


def test_a_next_patient_who_is_called_too_early_is_found(tmp_path: Path) -> None:
    (fault,) = _checked(tmp_path, VISIT.replace("26 minutes", "25 minutes")).outcome.findings
    assert fault.kind == "air-not-clear"
    assert fault.facts["minutes"] == "46"


def test_a_wait_that_may_come_before_the_patient_has_left_does_not_count(tmp_path: Path) -> None:
    beside = VISIT.replace(
        "    [ ] operator looks at the image\n",
        "    [ ] operator looks at the image\n    [ ] helper waits 20 minutes\n",
    ).replace("    [ ] helper waits 20 minutes\n    [ ] helper waits 26", "    [ ] helper waits 26")
    assert _kinds(_checked(tmp_path, beside)) == ["air-not-clear"]


@pytest.mark.parametrize(("first", "second", "kinds"), [
    ("20", "20", []), ("20", "30", []), ("19", "30", ["air-not-clear"]),
])  # fmt: skip
def test_waits_of_either_way_count_for_that_way(
    first: str, second: str, kinds: list[str], tmp_path: Path
) -> None:
    ways = (
        "    either\n      [ ] helper waits {} minutes\n    or\n      [ ] helper waits {} minutes\n"
    )
    text = VISIT.replace("    [ ] helper waits 20 minutes\n", ways.format(first, second))
    assert _kinds(_checked(tmp_path, text)) == kinds


def test_a_surgical_mask_does_not_keep_germs_of_the_air_out(tmp_path: Path) -> None:
    found = _checked(tmp_path, VISIT, HEAD.replace("{keeps}", "")).outcome.findings
    assert {fault.kind for fault in found} == {"air-breathed"}
    assert found[0].facts["step"] == "patient comes to scan room"


def test_only_the_choice_that_says_so_makes_air_carry_germs(tmp_path: Path) -> None:
    usual = """  [ ] operator goes to scan room
  [ ] patient comes to scan room
  [ ] patient leaves
  [ ] operator leaves the room
"""
    found = _checked(tmp_path, usual).outcome.findings
    assert [fault.kind for fault in found] == ["air-breathed", "air-not-clear"]
    never = KEEPS.replace("  carries germs where precautions is airborne\n", "")
    assert _kinds(_checked(tmp_path, usual, never)) == []


def test_whoever_comes_in_before_it_is_clear_is_found(tmp_path: Path) -> None:
    text = VISIT.replace(
        "    [ ] helper waits 26 minutes\n",
        "    [ ] helper goes to scan room\n    [ ] helper leaves the room\n"
        "    [ ] helper waits 26 minutes\n",
    )
    (fault,) = _checked(tmp_path, text).outcome.findings
    assert (fault.kind, fault.facts["person"]) == ("air-breathed", "helper")
    after = text.replace("    [ ] helper goes to scan room\n    [ ] helper leaves the room\n", "")
    after += "  [ ] helper goes to scan room\n  [ ] helper leaves the room\n"
    assert _kinds(_checked(tmp_path, after)) == []


def test_air_is_clear_before_the_patient_has_ever_been_there(tmp_path: Path) -> None:
    text = VISIT.replace(
        "  [ ] operator goes to scan room\n",
        "  [ ] patient comes to hall\n  [ ] helper goes to scan room\n"
        "  [ ] helper leaves the room\n  [ ] operator goes to scan room\n",
    )
    assert _kinds(_checked(tmp_path, text)) == []


def test_air_that_nothing_is_known_of_is_not_taken_for_clear(tmp_path: Path) -> None:
    unknown = KEEPS.replace("scan room: 6 air changes an hour", "scan room")
    assert _kinds(_checked(tmp_path, VISIT, unknown)) == ["air-not-followed"]
    nowhere = VISIT.replace("patient comes to scan room", "patient comes in")
    nowhere = nowhere.replace("patient leaves", "patient leans back on head rest")
    assert _kinds(_checked(tmp_path, nowhere)) == ["air-not-followed"]


def test_who_touches_the_patient_is_where_the_patient_is(tmp_path: Path) -> None:
    verb = "verb STAFF feels the gum\n  meet STAFF's hands, the patient's mouth\n\nphase"
    head = KEEPS.replace("phase", verb)
    text = """  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] patient comes to hall
  [ ] operator goes to {where}
  [ ] operator feels the gum
  [ ] patient leaves
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator leaves the room
"""
    head = head.replace("  carries germs where precautions is airborne\n", "")
    assert _kinds(_checked(tmp_path, text.format(where="scan room"), head)) == ["touched-from-afar"]
    assert _kinds(_checked(tmp_path, text.format(where="hall"), head)) == []
