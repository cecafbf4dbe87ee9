"""Facts with "since", against the words of their definition applied to one order after the other.

"X is not A since B": B is so; no act after the last one that made B so made A so; A is not so now.
"X is A since B": B is so; an act after the last one that made B so made A so; A is so now.
"""

from __future__ import annotations

import random
from itertools import permutations
from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file

HEAD = """protocol "Since"
  edition 1
  takes words from "Imaging room 2"

facts
  lamp on
  shot made

things
  plate: receptor

phase "Visit"
"""


def _checked(where: Path, steps: str, head: str = HEAD) -> Checked:
    path = where / "since.protocol"
    path.write_text(head + steps, "utf-8")
    return check_file(path, mend=False)


def _holds(told: list[tuple[bool, str]], never: bool) -> bool:
    """The definition, on what has been set (true) and ended before the claim, in order."""
    lamp, exposed = False, False
    after: list[str] = []
    for value, fact in told:
        if fact == "lamp on":
            lamp = value
        else:
            exposed = value
        if value:
            after = [] if fact == "shot made" else [*after, fact]
    made = "lamp on" in after
    return exposed and (not made and not lamp if never else made and lamp)


@pytest.mark.parametrize("seed", range(40))
def test_every_order_is_judged_by_the_definition(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    never = dice.random() < 0.5
    before = [(True, "shot made")] if dice.random() < 0.7 else []
    loose = [
        (dice.random() < 0.6, dice.choice(("lamp on", "shot made")))
        for _ in range(dice.randint(1, 4))
    ]
    lines = []
    for value, fact in before:
        lines.append(f"  [ ] say: first\n      {'sets' if value else 'ends'} {fact}\n")
    lines.append("  any order\n")
    for number, (value, fact) in enumerate(loose):
        lines.append(f"    [ ] say: {number}\n        {'sets' if value else 'ends'} {fact}\n")
    said = f"{'not ' if never else ''}lamp on since shot made"
    lines.append(f"    [ ] say: look\n        only when {said}\n")
    wrong = any(
        not _holds(before + [loose[n] for n in order[: order.index(len(loose))]], never)
        for order in permutations(range(len(loose) + 1))
    )
    found = _checked(tmp_path, "".join(lines)).outcome.findings
    assert [f.kind for f in found] == (["claim-can-fail"] if wrong else [])
    if wrong:
        assert found[0].facts["claim"] == said


DARKROOM = HEAD.replace("facts\n  lamp on\n  shot made\n", "facts of a thing\n  in bright light\n")


def test_an_order_that_puts_the_plate_into_light_is_found_and_its_twin_is_silent(
    tmp_path: Path,
) -> None:
    text = """  [ ] bare: operator looks at the image
      sets plate in bright light
  [ ] dark: operator looks at the image
      ends plate in bright light
  [ ] shot: operator looks at the image
      sets plate exposed
  any order
    [ ] read: operator looks at the image
        only when plate is not in bright light since exposed
    [ ] operator looks at the image
        sets plate in bright light
        ends plate in bright light
"""
    (fault,) = _checked(tmp_path, text, DARKROOM).outcome.findings
    assert fault.kind == "claim-can-fail"
    assert fault.facts["claim"] == "plate is not in bright light since exposed"
    mended = text.rstrip("\n") + "\n        after read\n"
    assert _checked(tmp_path, mended, DARKROOM).outcome.findings == ()


def test_what_was_so_before_and_still_is_counts(tmp_path: Path) -> None:
    text = """  [ ] operator looks at the image
      sets plate in bright light
  [ ] operator looks at the image
      sets plate exposed
  [ ] operator looks at the image
      only when plate is not in bright light since exposed
"""
    (fault,) = _checked(tmp_path, text, DARKROOM).outcome.findings
    assert fault.kind == "claim-can-fail"


def test_a_claim_about_the_end_of_the_visit(tmp_path: Path) -> None:
    text = """leaves
  not lamp on since shot made

phase "Visit"
  [ ] operator looks at the image
      sets shot made
"""
    head = HEAD.replace('phase "Visit"\n', "")
    assert _checked(tmp_path, text, head).outcome.findings == ()
    lit = text + "  [ ] operator looks at the image\n      sets lamp on\n      ends lamp on\n"
    assert [f.kind for f in _checked(tmp_path, lit, head).outcome.findings] == ["claim-can-fail"]
