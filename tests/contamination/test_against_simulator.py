"""The engine against the simulator: all verdicts, on thousands of random plans.

Oracle: ``tests/oracles/simulator.py``, written from docs/meaning/kernel.md alone. A fixed budget in
the usual run; PROTOCOL_LANG_LONG=N looks at N plans more (the largest run so far is told in
DEVELOPERS.md).
"""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, given, settings

from protocol_lang.contamination.kernel import Plan
from tests.contamination.compare import Verdicts, of_engine, of_simulator
from tests.oracles.plans import Size, plans, random_plan

USUAL = 2_000
SMALL_ROOMS = Size(acts=(3, 6), worlds=2, people=2, surfaces=2, classes=2)
LONG_VISITS = Size(acts=(8, 11), worlds=2, people=3, surfaces=3, classes=2, slack=20)


def _same(plan: Plan, what: str) -> Verdicts:
    engine, simulator = of_engine(plan), of_simulator(plan)
    for field in Verdicts.__dataclass_fields__:
        ours, theirs = getattr(engine, field), getattr(simulator, field)
        assert ours == theirs, f"{what}, {field}: {ours} is not {theirs}"
    return engine


@pytest.mark.parametrize("part", range(4))
def test_every_verdict_is_the_same(part: int):
    seen = [_same(random_plan(seed), f"seed {seed}") for seed in range(part, USUAL, 4)]
    # What never occurs is not tested: each verdict has to occur, and so does its absence.
    for field in ("misstep_worlds", "claims", "not_ready", "left_over", "hits"):
        there = sum(bool(getattr(one, field)) for one in seen)
        assert 0.02 * len(seen) < there < 0.98 * len(seen), field


@pytest.mark.parametrize("size", [SMALL_ROOMS, LONG_VISITS], ids=["small rooms", "long visits"])
def test_every_verdict_is_the_same_in_other_sizes(size: Size):
    for seed in range(200):
        _same(random_plan(90_000 + seed, size), f"seed {90_000 + seed}")


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
@given(plans(SMALL_ROOMS))
def test_every_verdict_is_the_same_shrinking(plan: Plan):
    _same(plan, "shrunk")


@pytest.mark.skipif("PROTOCOL_LANG_LONG" not in os.environ, reason="only when asked for")
def test_every_verdict_is_the_same_at_length():
    for seed in range(100_000, 100_000 + int(os.environ["PROTOCOL_LANG_LONG"])):
        _same(random_plan(seed), f"seed {seed}")
