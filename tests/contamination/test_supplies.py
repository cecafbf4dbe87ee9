"""Supplies laid out by number: counted over every permitted order, against listing the runs."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from protocol_lang.contamination.supplies import Short, Supply, Unsettled, shortages
from protocol_lang.findings import Finding
from protocol_lang.order import Network
from protocol_lang.pipeline import check_file
from tests.order.brute import orders
from tests.order.networks import Shape, network

PLANS = 1_500


def _by_listing(net: Network, supply: Supply) -> int:
    """The most that is taken beyond what is laid out, by going through every run; 0 if never."""
    worst = 0
    for order in orders(net):
        for world in range(net.worlds):
            taken = laid = 0
            any_laid = endless = False
            for event in order:
                if not net.present[event] >> world & 1:
                    continue
                many = supply.taken.get(event, 0)
                taken += many
                if many and any_laid and not endless:
                    worst = max(worst, taken - laid)
                if event in supply.laid_out:
                    number = supply.laid_out[event]
                    endless = endless or number is None
                    laid += number or 0
                    any_laid = True
    return worst


def _supply(rng: random.Random, events: int) -> Supply:
    kinds = [rng.random() for _ in range(events)]
    return Supply(
        "wipe",
        {event: rng.randint(1, 2) for event, kind in enumerate(kinds) if kind < 0.55},
        {
            event: None if rng.random() < 0.1 else rng.randint(1, 4)
            for event, kind in enumerate(kinds)
            if kind > 0.65
        },
    )


def test_every_count_agrees_with_listing_all_runs() -> None:
    rng = random.Random(20261125)
    short = enough = 0
    for _ in range(PLANS):
        net = network(rng, Shape(events=(4, 7)))
        if net is None or not orders(net):
            continue
        supply = _supply(rng, net.events)
        worst = _by_listing(net, supply)
        found = shortages(net, [supply], (1 << net.worlds) - 1)
        assert not any(isinstance(one, Unsettled) for one in found)
        if worst:
            (one,) = found
            assert isinstance(one, Short)
            assert one.taken - one.laid_out == worst
            short += 1
        else:
            assert found == ()
            enough += 1
    assert short > PLANS // 5
    assert enough > PLANS // 5


# --- In protocols --------------------------------------------------------------------------------

HEAD = """protocol "Counted"
  edition 1
  takes words from "Imaging room 2"

groups
  wipes: wipe

choices, each visit
  staffing: alone, paired

phase "Visit"
  [ ] operator cleans hands
"""
TWO = """    [ ] operator cleans chair arms with a new wipe
    [ ] operator disinfects chair arms with a new wipe
"""


def _short(where: Path, steps: str) -> list[Finding]:
    path = where / "counted.protocol"
    path.write_text(HEAD + steps, "utf-8")
    outcome = check_file(path, mend=False).outcome
    assert not [one for one in outcome.findings if one.kind[0:3] in ("unk", "ver")]
    return [one for one in outcome.findings if one.kind == "too-few-laid-out"]


@pytest.mark.parametrize(("laid", "found"), [("1 wipe", 1), ("2 wipe", 0), ("wipe", 0)])
def test_a_number_is_counted_and_none_is_not(laid: str, found: int, tmp_path: Path) -> None:
    steps = f"  [ ] operator lays out {laid}\n  in order\n{TWO}"
    assert len(_short(tmp_path, steps)) == found


def test_a_group_of_one_gives_a_plural(tmp_path: Path) -> None:
    (one,) = _short(tmp_path, f"  [ ] operator lays out 1 wipes and sleeve\n  in order\n{TWO}")
    assert (one.facts["taken"], one.facts["laid"]) == ("2", "1")


def test_only_one_order_runs_short(tmp_path: Path) -> None:
    """Laid out again beside the taking: short only if the second laying comes late."""
    beside = """  [ ] operator lays out 1 wipe
  any order
    [ ] again: operator lays out 1 wipe
    in order
      [ ] operator cleans chair arms with a new wipe
      [ ] {label}operator disinfects chair arms with a new wipe
"""
    (one,) = _short(tmp_path, beside.format(label=""))
    assert (one.facts["taken"], one.facts["laid"]) == ("2", "1")
    assert one.route is not None
    assert [step.place.line for step in one.route.steps if step.place] == [13, 17, 18]
    in_order = beside.replace("  any order\n", "  in order\n")
    assert _short(tmp_path, in_order.format(label="")) == []


def test_only_one_choice_runs_short(tmp_path: Path) -> None:
    steps = """  [ ] operator lays out {many} wipe
  [ ] operator cleans chair arms with a new wipe
  where staffing is paired
    [ ] operator cleans head rest with a new wipe
"""
    (one,) = _short(tmp_path, steps.format(many=1))
    assert one.route is not None
    assert one.route.choices == (("staffing", "paired"),)
    assert _short(tmp_path, steps.format(many=2)) == []


def test_branches_that_exclude_each_other_are_not_added_up(tmp_path: Path) -> None:
    steps = """  [ ] operator lays out 1 wipe
  where staffing is paired
    [ ] operator cleans head rest with a new wipe
  otherwise
    [ ] operator cleans chair arms with a new wipe
"""
    assert _short(tmp_path, steps) == []


def test_a_list_takes_one_for_each(tmp_path: Path) -> None:
    steps = "  [ ] operator lays out {many} wipe\n  [ ] operator cleans tube with a new wipe\n"
    (one,) = _short(tmp_path, steps.format(many=2))
    assert one.facts["taken"] == "3"
    assert _short(tmp_path, steps.format(many=3)) == []


def test_a_verb_that_takes_two_is_counted_twice(tmp_path: Path) -> None:
    verb = """verb ACTOR wipes SURFACE twice with WIPE
  take WIPE's back with ACTOR's hands
  meet WIPE's face, SURFACE
  wash SURFACE
  take WIPE's back with ACTOR's hands
  meet WIPE's face, SURFACE
  reduce SURFACE by WIPE

phase "Visit"
"""
    steps = "  [ ] operator lays out 1 wipe\n  [ ] operator wipes chair arms twice with wipe\n"
    path = tmp_path / "counted.protocol"
    path.write_text(HEAD.replace('phase "Visit"\n', verb) + steps, "utf-8")
    checked = check_file(path, mend=False)
    (one,) = (f for f in checked.outcome.findings if f.kind == "too-few-laid-out")
    assert one.facts["taken"] == "2"


def test_before_anything_is_laid_out_is_told_by_its_own_claim(tmp_path: Path) -> None:
    steps = "  [ ] operator cleans chair arms with a new wipe\n  [ ] operator lays out 1 wipe\n"
    assert _short(tmp_path, steps) == []
