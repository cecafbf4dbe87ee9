"""Steps that are not done in every visit: never relied on as a cleaning, always counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import kinds, told

HEAD = """protocol "Now and then"
  edition 1
  takes words from "Imaging room 2"

surfaces
  lamp: surface

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

phase "Visit"
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator puts on gloves
"""
GUM = "  [ ] operator works at lamp\n  [ ] operator feels the gum\n  [ ] operator works at lamp\n"
OFF = "  in one go\n    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
WIPED = """{i}[ ] operator cleans lamp with a new wipe
{i}[ ] operator disinfects lamp with a new wipe
{i}[ ] operator waits until lamp is dry
"""


def _check(where: Path, steps: str):
    path = where / "now.protocol"
    path.write_text(HEAD + steps, "utf-8")
    return check_file(path, mend=False)


@pytest.mark.parametrize("when", ["every week", "every second day", "on delivery"])
def test_what_is_wiped_only_now_and_then_is_not_relied_on(when: str, tmp_path: Path) -> None:
    always = GUM + OFF + WIPED.format(i="  ")
    now_and_then = GUM + OFF + f"  {when}\n" + WIPED.format(i="    ")
    assert kinds(_check(tmp_path, always)) == []
    found = told(_check(tmp_path, now_and_then), "path-to-patient")
    assert found.route is not None
    assert any(name.startswith(when) for name, _ in found.route.choices)


def test_what_is_touched_only_now_and_then_is_counted(tmp_path: Path) -> None:
    gum = "  [ ] operator feels the gum\n"
    touch = "  every week\n    [ ] operator works at keyboard\n"
    assert kinds(_check(tmp_path, gum + OFF + touch)) == []
    assert "clean-thing-reached" in kinds(_check(tmp_path, gum + touch + OFF))


def test_the_words_are_one_line(tmp_path: Path) -> None:
    assert kinds(_check(tmp_path, "  every\n    [ ] operator works at lamp\n" + OFF)) != []
