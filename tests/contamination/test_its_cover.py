"""The cover that goes with a thing, in steps that go through several things."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file
from tests.practice.kit import kinds, told

HEAD = """protocol "Covers"
  edition 1
  takes words from "Imaging room 2"

surfaces
  {lamp}

phase "Visit"
  [ ] operator cleans hands
"""
LAMP = "lamp: surface; takes cover wrap, then bag"


def _check(where: Path, steps: str, lamp: str = LAMP) -> Checked:
    path = where / "covers.protocol"
    lines = "".join(f"  [ ] {line}\n" for line in steps.strip().split("\n"))
    path.write_text(HEAD.format(lamp=lamp) + lines, "utf-8")
    return check_file(path, mend=False)


def test_each_thing_gets_the_cover_that_goes_with_it(tmp_path: Path) -> None:
    one = _check(
        tmp_path,
        "operator takes each cover off machine and head rest\n"
        "operator cleans hands\n"
        "operator covers machine and head rest with its cover",
    )
    assert kinds(one) == []
    assert one.unfolded is not None
    kinds_of = [piece.kind for piece in one.unfolded.plan.pieces]
    # One at the start and a new one, on each thing.
    counted = {cover: kinds_of.count(cover) for cover in ("wrap", "film cover", "bag")}
    assert counted == {"wrap": 6, "film cover": 4, "bag": 2}


def test_one_that_is_left_bare_is_told(tmp_path: Path) -> None:
    one = _check(
        tmp_path,
        "operator takes each cover off machine and head rest\n"
        "operator covers machine with its cover",
    )
    assert told(one, "not-ready").facts["what"] == "head rest"


def test_what_is_not_on_cannot_come_off(tmp_path: Path) -> None:
    off = "operator takes its cover off head rest\n"
    assert "cover-not-on" in kinds(_check(tmp_path, off * 2))


@pytest.mark.parametrize(
    ("lamp", "found"),
    [
        (LAMP, ["which-cover"]),
        ("lamp: surface; takes cover wrap", []),
        ("lamp: surface", ["no-such-part"]),
    ],
)
def test_which_cover_is_never_guessed(lamp: str, found: list[str], tmp_path: Path) -> None:
    steps = "operator covers lamp with its cover\noperator takes its cover off lamp"
    assert kinds(_check(tmp_path, steps, lamp))[:1] == found


def test_a_cover_that_bears_these_words_makes_two_readings(tmp_path: Path) -> None:
    lamp = 'lamp: surface; takes cover "its cover"\n  its cover: cover; used once; from wrap roll'
    steps = "operator covers lamp with its cover"
    assert "two-readings" in kinds(_check(tmp_path, steps, lamp))
