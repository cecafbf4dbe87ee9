"""Things that are one of many: what a box of plates passes from patient to patient.

The rules are those of docs/language.md, "Things of which there are many": each taking may give
another one, and the others are treated by no step. Common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import kinds

HEAD = """protocol "Plates"
  edition 1
  takes words from "Imaging room 2"

surfaces
  shelf: surface; kept clean
  plate box: surface

things
  {plates}
  cloth: wipe; has face, back; used once; thrown away after use; from sterile store; treats to high

groups
  plates: {names}

verb PATIENT bites on RECEPTOR
  meet PATIENT's mouth, RECEPTOR

phase "Visit"
  [ ] operator cleans hands
"""
PLATE = "receptor; goes in the mouth; not heat safe; from plate box"
CLEANED = """  [ ] operator cleans {what} with a new cloth
  [ ] operator disinfects {what} with a new cloth
"""
BACK = """  [ ] operator cleans hands
  [ ] operator lays {what} on plate box
"""


def _found(where: Path, steps: str, many: str = "; one of many", names: str = "plate") -> list[str]:
    path = where / "plates.protocol"
    head = HEAD.format(plates=f"{names}: {PLATE}{many}", names=names)
    path.write_text(head + steps, "utf-8")
    return kinds(check_file(path, mend=False))


def _used(name: str) -> str:
    return f"  [ ] operator takes {name}\n  [ ] patient bites on {name}\n"


def test_cleaned_before_it_goes_back_is_clear(tmp_path: Path) -> None:
    steps = _used("plate") + CLEANED.format(what="plate") + BACK.format(what="plate")
    assert _found(tmp_path, steps) == []


@pytest.mark.parametrize(("many", "found"), [("; one of many", True), ("", False)])
def test_to_clean_box_and_plate_afterwards_does_not_clean_the_others(
    many: str, found: bool, tmp_path: Path
) -> None:
    """What the soiled plate left on the others comes back with the next one that is taken."""
    steps = (
        _used("plate")
        + BACK.format(what="plate")
        + "  [ ] operator washes hands\n"
        + CLEANED.format(what="plate box")
        + CLEANED.format(what="plate")
        + "  [ ] operator cleans hands\n"
    )
    assert ("path-to-patient" in _found(tmp_path, steps, many)) is found


def test_cleaned_before_each_use_but_soiled_in_the_box_is_clear(tmp_path: Path) -> None:
    steps = (
        "  [ ] operator takes plate\n  [ ] operator washes hands\n"
        + CLEANED.format(what="plate")
        + "  [ ] patient bites on plate\n"
        + BACK.format(what="plate")
        + "  [ ] operator washes hands\n"
    )
    # The bare hands that take it meet it, and are told; the next mouth does not.
    assert _found(tmp_path, steps) == ["path-to-staff"]


def test_of_two_taken_under_one_name_only_the_last_is_cleaned(tmp_path: Path) -> None:
    steps = _used("plate") * 2 + CLEANED.format(what="plate") + BACK.format(what="plate")
    assert "path-to-patient" in _found(tmp_path, steps)


TWO = "plate 1, plate 2"


def test_two_names_and_each_of_them_cleaned_is_clear(tmp_path: Path) -> None:
    used = _used("plate 1") + _used("plate 2")
    back = BACK.format(what="plate 1") + BACK.format(what="plate 2")
    assert _found(tmp_path, used + CLEANED.format(what="plates") + back, names=TWO) == []


def test_two_names_and_one_of_them_cleaned_is_told(tmp_path: Path) -> None:
    used = _used("plate 1") + _used("plate 2")
    back = BACK.format(what="plate 1") + BACK.format(what="plate 2")
    cleaned = CLEANED.format(what="plate 1")
    assert "path-to-patient" in _found(tmp_path, used + cleaned + back, names=TWO)


def test_only_the_order_in_which_it_goes_back_first_is_told(tmp_path: Path) -> None:
    order = """  any order
    in order
      [ ] washed: operator cleans plate with a new cloth
      [ ] operator disinfects plate with a new cloth
      [ ] operator cleans hands
    [ ] operator lays plate on plate box
{after}  [ ] operator cleans hands
"""
    assert {"path-to-patient", "not-ordered"} & set(
        _found(tmp_path, _used("plate") + order.format(after=""))
    )
    after = "        after washed\n"
    assert _found(tmp_path, _used("plate") + order.format(after=after)) == []
