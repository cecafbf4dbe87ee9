"""Changes that tests plant into a text: short texts go with their sentences."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.planting import left_out, planted, times

BARE = """phase "A"
  [ ] one
  [ ] two
  any order
    [ ] three
    [ ] four

"""
SHORT = """phase "A"
  [ ] one
      short "1"
  [ ] two
      short "2"
  any order
    [ ] three
        short "3"
    [ ] four
        short "4"

"""
CHANGES = [
    ("  [ ] two\n", ""),
    ("\n  [ ] two", ""),
    ("  [ ] one\n  [ ] two\n", "  [ ] two\n  [ ] one\n"),
    ("  [ ] one\n  [ ] two", "  [ ] two"),
    ("two", "2"),
    ("[ ] two", "[ ] two\n      only when all is well"),
    ("    [ ] three\n    [ ] four\n", "    [ ] four\n"),
    ("    [ ] four\n\n", "\n"),
    ("\n  any order\n    [ ] three\n", "\n  in order\n    [ ] three\n"),
]


def without_short(text: str) -> str:
    return "".join(line for line in text.splitlines(keepends=True) if " short " not in line)


@pytest.mark.parametrize(("old", "new"), CHANGES)
def test_short_texts_make_no_difference(old: str, new: str) -> None:
    made = planted(SHORT, old, new)
    assert times(SHORT, old) == times(BARE, old) == BARE.count(old) == 1
    assert without_short(made) == planted(BARE, old, new) == BARE.replace(old, new)


@pytest.mark.parametrize(("old", "new"), CHANGES)
def test_no_short_text_is_under_another_sentence(old: str, new: str) -> None:
    under = {"1": "one", "2": "two", "3": "three", "4": "four"}
    lines = planted(SHORT, old, new).splitlines()
    for above, line in pairwise(lines):
        if " short " in line:
            assert above.endswith(under[line.split('"')[1]])


def test_a_step_is_left_out_by_its_words() -> None:
    assert without_short(left_out(SHORT, "two")) == left_out(BARE, "two")
    with pytest.raises(ValueError, match="not enough"):
        left_out(SHORT, "five")


def test_what_the_text_does_not_say_is_told() -> None:
    with pytest.raises(AssertionError, match="does not say"):
        planted(BARE, "five", "5")
