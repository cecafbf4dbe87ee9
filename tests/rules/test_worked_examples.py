"""The worked examples of docs/meaning/rules.md."""

from __future__ import annotations

import pytest

from tests.rules.kit import verdicts

ONE = """protocol "One"
  takes words from "Small room"

phase "Visit"
  [ ] operator puts on gloves
  any order
    [ ] operator takes off gloves
    [ ] operator works at keyboard
  [ ] operator cleans hands
  [ ] operator works at phone
"""
TWO = """protocol "Two"
  takes words from "Small room"

choices, {fixed}
  staffing: alone, paired

phase "Visit"
  [ ] operator places sensor in mouth
  where staffing is paired
    [ ] helper disinfects sensor with a new wipe
"""
VISIT = TWO.format(fixed="each visit")
CLINIC = TWO.format(fixed="fixed for the clinic")
FIRST = """protocol "Two"
  takes words from "Small room"

phase "Visit"
  [ ] helper disinfects sensor with a new wipe
  [ ] operator places sensor in mouth
"""

WAITS = """protocol "Three"
  takes words from "Small room"

phase "Visit"
  [ ] operator disinfects tube with a new wipe
  any order
    [ ] operator waits 5 minutes
    [ ] operator waits until glove box is dry
  [ ] operator works at tube
"""

CLEANED = "after gloves come off staff\ncomes hands of staff are cleaned\n"
TREATED = (
    "after receptor goes into the mouth of patient\n"
    "comes receptor is treated to at least intermediate\n"
)
NEXT = TREATED + "before the next patient"
EITHER = "for receptor\neither\n  is declared used once\nor\n  " + NEXT.replace("\n", "\n  ")
BEFORE = "before staff touches surface\ncomes hands of staff are cleaned"
NEVER = (
    "after gloves come off staff\nuntil hands of staff are cleaned\nnever staff touches keyboard"
)
WAITED = "before staff works at surface\ncomes staff waits at least {} minutes"
DISINFECTED = "after surface is treated to at least low\n"
GLOVED = "whenever staff works at keyboard\nonly when staff wears gloves"


@pytest.mark.parametrize(
    "protocol, rule, wanted",
    [
        (ONE, CLEANED + "before staff touches surface", "failed"),
        (ONE, CLEANED + "before the visit ends", "met"),
        (ONE, BEFORE, "failed"),
        (ONE, 'only in phase "Another"\n' + BEFORE, "not applicable"),
        (ONE, NEVER, "failed"),
        (ONE, "but not operator\n" + NEVER, "not applicable"),
        (ONE, "at most 1 times staff touches surface", "failed"),
        (ONE, GLOVED, "failed"),
        (ONE, "where staffing is alone\n" + GLOVED, "not applicable"),
        (VISIT, NEXT, "failed"),
        (VISIT, "where staffing is paired\n" + NEXT, "met"),
        (VISIT, "where staffing is alone\n" + NEXT, "failed"),
        (CLINIC, NEXT, "failed"),
        (CLINIC, "where staffing is paired\n" + NEXT, "met"),
        (FIRST, NEXT, "met"),
        (FIRST, TREATED + "before the visit ends", "failed"),
        (VISIT, EITHER, "failed"),
        (WAITS, WAITED.format(5), "met"),
        (WAITS, WAITED.format(6), "failed"),
        (
            WAITS,
            DISINFECTED + "comes staff waits at least 5 minutes\n"
            "before staff waits until box is dry",
            "failed",
        ),
        (WAITS, DISINFECTED + "comes staff waits\nbefore staff works at surface", "met"),
        (WAITS, "never staff waits until surface is dry", "met"),
    ],
)
def test_the_examples_come_out_as_told(protocol: str, rule: str, wanted: str):
    lines = "\n".join(f"  {line}" for line in rule.splitlines())
    book = f'rules "Worked"\n  takes words from "Small room"\n\nrule "it"\n  must\n{lines}\n'
    (verdict,) = verdicts(book, protocol)
    assert verdict.verdict.value == wanted
