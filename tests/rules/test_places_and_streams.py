"""The words "place" and "waste stream" stand for any of them in rules, as kinds of things do."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.rules.kit import verdicts

_ROOM = """room "Room with places"
  takes words from "Dental imaging"

people
  operator: staff
  patient: patient

places
  darkroom
  hall

waste streams
  red bag
  black bag

surfaces
  counter: surface; in darkroom

boxes
  glove box: box

things
  gloves: gloves; worn on hands; used once; from glove box; goes to red bag
  ticket: supply; used once; from glove box; goes to black bag
"""


@pytest.fixture
def where(tmp_path: Path) -> Path:
    (tmp_path / "room-with-places.protocol").write_text(_ROOM, "utf-8")
    return tmp_path


def _told(where: Path, rule: str, steps: str) -> str:
    head = '  takes words from "Room with places"\n\n'
    lines = "".join(f"  {line}\n" for line in rule.splitlines())
    phase = "".join(f"  [ ] {line}\n" for line in steps.splitlines())
    (verdict,) = verdicts(
        f'rules "Tried"\n{head}rule "it"\n  must\n{lines}',
        f'protocol "Small"\n{head}phase "Work"\n{phase}',
        where=where,
    )
    return verdict.verdict.value


def test_a_place_is_any_place_and_the_same_one_throughout(where: Path) -> None:
    rule = "before staff goes to place\ncomes staff cleans hands"
    assert _told(where, rule, "operator cleans hands\noperator goes to hall") == "met"
    assert _told(where, rule, "operator goes to darkroom\noperator cleans hands") == "failed"
    assert _told(where, rule, "operator cleans hands") == "not applicable"
    twice = "after staff goes to place\ncomes staff goes to hall\nbefore the visit ends"
    assert _told(where, twice, "operator goes to darkroom\noperator goes to hall") == "met"
    assert _told(where, twice, "operator goes to hall\noperator goes to darkroom") == "failed"


def test_a_waste_stream_is_any_of_them(where: Path) -> None:
    steps = "operator takes ticket\noperator throws ticket into {}"
    never = "never supply is thrown into {}"
    assert _told(where, never.format("waste stream"), steps.format("red bag")) == "failed"
    assert _told(where, never.format("red bag"), steps.format("black bag")) == "met"
    assert _told(where, never.format("red bag"), steps.format("red bag")) == "failed"


def test_a_spatter_is_no_verb_of_a_rule(where: Path) -> None:
    """A step of the language itself, which has no sentence of its own, is passed over."""
    rule = "at least every 7 days staff cleans hands"
    assert _told(where, rule, "patient spatters onto operator\noperator cleans hands") == "met"
