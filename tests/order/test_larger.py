"""Networks of 12 to 40 events against a SAT solver with an encoding of its own."""

from __future__ import annotations

from collections import Counter

import pytest
from pysat.solvers import Solver  # type: ignore[import-untyped]

from bench.order import families
from protocol_lang.order import Budget, Effort, Found, Impossible, decide
from tests.order import brute, fuzz, networks
from tests.order.sat_oracle import by_sat

MEDIUM = networks.Shape(events=(12, 20), positions=(3, 6), order=0.12, lanes=4, moving=0.9)
LARGE = networks.Shape(events=(24, 40), positions=(4, 8), order=0.06, lanes=5, moving=0.9)


def test_the_two_kinds_of_oracle_agree():
    for seed, network, question in fuzz.instances(10_000_000, fuzz.times(120)):
        assert by_sat(network, question) is brute.by_states(network, question), seed


@pytest.mark.parametrize(
    ("first", "count", "shape"),
    [(11_000_000, 120, MEDIUM), (12_000_000, 14, LARGE)],
    ids=["medium", "large"],
)
def test_agrees_with_a_sat_solver(first, count, shape):
    tally: Counter[str] = Counter()
    for seed, network, question in fuzz.instances(first, fuzz.times(count), shape, tally):
        effort = Effort()
        answer = decide(network, question, effort=effort)
        tally[type(answer).__name__] += 1
        if isinstance(answer, Impossible) and effort.nodes:
            tally["refuted by search"] += 1
        expected = by_sat(network, question)
        if expected is None:
            tally["too hard for the oracle"] += 1
            continue
        assert isinstance(answer, Found) is expected, seed
        handed = decide(network, question, Budget(own=0))
        assert isinstance(handed, Found) is expected, seed
    fuzz.show("against a SAT solver", tally)
    assert tally["Found"] and tally["Impossible"]
    assert tally["too hard for the oracle"] <= fuzz.times(count) // 3


@pytest.mark.parametrize("variables", [6, 9, 12])
def test_a_plan_made_from_a_formula_has_a_run_exactly_if_the_formula_has_a_model(variables):
    """Deciding is as hard as satisfiability; the reduction is an oracle without an encoding."""
    seen = set()
    for seed in range(fuzz.times(12)):
        formula = families.random_formula(variables, seed)
        instance = families.satisfiability(variables, formula, f"seed {seed}")
        with Solver(name="glucose4", bootstrap_with=formula) as solver:
            expected = solver.solve()
        answer = decide(instance.network, instance.question)
        assert isinstance(answer, Found) is expected, seed
        assert isinstance(answer, Found | Impossible), seed
        seen.add(expected)
    assert seen == {True, False}
