"""How far soil of a patient gets, as pictures tell it, against the simulator on random plans.

Oracle: ``tests/oracles/simulator.py``, which keeps all soil together and does every permitted
order. It is asked by rules of its own at every spot: two whose name tells the amount.
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from protocol_lang.contamination.judge import judge
from protocol_lang.contamination.kernel import OF_PATIENTS, Amount, Plan, Reach, Reached
from protocol_lang.contamination.whereabouts import LATER, OWN, whereabouts
from tests.oracles.plans import Size, random_plan
from tests.oracles.simulator import simulate

#: Two verdicts that stand for the amount in which soil arrives.
AMOUNT = {Reached.PATIENT: Amount.FULL, Reached.STAFF: Amount.TRACE}
EVERYWHERE = tuple(Reach(who, OF_PATIENTS, frozenset({amount})) for who, amount in AMOUNT.items())
LONG_VISITS = Size(acts=(8, 11), worlds=2, people=3, surfaces=3, classes=2, slack=10)


def by_simulator(plan: Plan):
    """(spot, own) -> the largest amount, and (act, spot, own) of every arrival."""
    asked = replace(plan, spots=tuple(replace(spot, reach=EVERYWHERE) for spot in plan.spots))
    outcome = simulate(asked, None)
    at: dict[tuple[int, bool], set[Amount]] = {}
    brought = set()
    for _, who, claim, spot, origin, _, own, act in outcome.hits:
        if claim == -1 and origin in OF_PATIENTS:
            at.setdefault((spot, own), set()).add(AMOUNT[who])
            brought.add((act, spot, own))
    for spot, amount in outcome.carried:
        at.setdefault((spot, LATER), set()).add(amount)
    for source in plan.sources:
        if source.origin in OF_PATIENTS:
            at.setdefault((source.spot, OWN), set()).add(source.amount)
    most = {
        key: Amount.FULL if Amount.FULL in amounts else Amount.TRACE for key, amounts in at.items()
    }
    return most, brought


def compared(seed: int, size: Size) -> str:
    """What a plan was good for: "" where nothing is claimed of it."""
    plan = random_plan(seed, size)
    judgement = judge(plan)
    if judgement.layout is None or not judgement.judged:
        return ""
    found = whereabouts(judgement)
    assert not found.undecided
    most, brought = by_simulator(plan)
    assert dict(found.at) == most, f"seed {seed}"
    assert found.brought == brought, f"seed {seed}"
    later = {amount for (_, own), amount in most.items() if own is LATER}
    return "full" if Amount.FULL in later else "trace" if later else "own"


@pytest.mark.parametrize("part", range(2))
def test_every_spot_is_told_as_the_simulator_finds_it(part: int):
    seen = [compared(seed, Size()) for seed in range(500_000 + part, 500_600, 2)]
    for sort in ("full", "trace", "own"):  # what never occurs is not tested
        assert seen.count(sort) > 5, sort


def test_every_spot_of_long_visits():
    for seed in range(600_000, 600_100):
        compared(seed, LONG_VISITS)


@pytest.mark.skipif("PROTOCOL_LANG_LONG" not in os.environ, reason="only when asked for")
def test_every_spot_at_length():
    for seed in range(610_000, 610_000 + int(os.environ["PROTOCOL_LANG_LONG"])):
        compared(seed, Size())
