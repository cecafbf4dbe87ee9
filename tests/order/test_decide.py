"""The whole decision against brute force, over every order, every world and whole sets of marks."""

from __future__ import annotations

from collections import Counter

import pytest

from protocol_lang.order import (
    Budget,
    Effort,
    Found,
    Impossible,
    Question,
    Undecided,
    any_run,
    decide,
    decide_all,
)
from tests.order import brute, fuzz

FEATURES = (
    "absent events",
    "blocks",
    "conditional ways",
    "contacts",
    "no carry",
    "one stand",
    "order literals",
    "reductions",
    "registers",
    "several stands",
    "several ways",
    "sure events",
    "worlds",
)


@pytest.mark.parametrize(
    ("first", "count", "shape"),
    [(0, 6000, fuzz.SMALL), (1_000_000, 3000, fuzz.LOOSE)],
    ids=["small", "loose"],
)
def test_agrees_with_exploring_all_states(first, count, shape):
    tally: Counter[str] = Counter()
    for seed, network, question in fuzz.instances(first, fuzz.times(count), shape, tally):
        effort = Effort()
        answer = decide(network, question, effort=effort)
        tally[type(answer).__name__] += 1
        tally["settled by relaxation"] += effort.settled_by_relaxation
        tally["handed over"] += effort.handed_over
        if effort.nodes and isinstance(answer, Impossible):
            tally["refuted by search"] += 1
        assert isinstance(answer, Found) is brute.by_states(network, question), seed
    fuzz.show("against all states", tally)
    # A generator that no longer produces a feature would make this test worth nothing.
    assert all(tally[name] >= count // 60 for name in FEATURES), tally
    assert min(tally["Found"], tally["Impossible"]) > count // 10
    assert tally["refuted by search"] >= 10


def test_agrees_with_listing_all_orders():
    for seed, network, question in fuzz.instances(2_000_000, fuzz.times(400)):
        if network.events > 7:
            continue
        expected = brute.by_listing(network, question)
        assert expected is brute.by_states(network, question), f"the oracles differ: {seed}"
        assert isinstance(decide(network, question), Found) is expected, seed


def test_many_targets_at_once_are_answered_like_one_by_one():
    for seed, network, question in fuzz.instances(3_000_000, fuzz.times(600)):
        carry = question.carry
        if carry is None:
            continue
        answers = decide_all(network, carry, question.starts, range(3), question.worlds)
        for target, answer in answers.items():
            alone = Question(
                question.worlds,
                carry=carry,
                starts=question.starts,
                targets=frozenset({target}),
            )
            assert isinstance(answer, Found) is brute.by_states(network, alone), (seed, target)


def test_the_same_question_has_the_same_answer_again():
    for seed, network, question in fuzz.instances(4_000_000, 300):
        for budget in (Budget(), Budget(own=0)):
            assert decide(network, question, budget) == decide(network, question, budget), seed


def test_any_run_exists_exactly_when_an_order_is_permitted():
    for seed, network, _ in fuzz.instances(5_000_000, fuzz.times(300)):
        if network.events <= 7:
            found = isinstance(any_run(network), Found)
            assert found is bool(brute.orders(network)), seed


def test_a_spent_budget_is_said_and_never_a_guess():
    """Of hard questions with no budget at all, those answered anyway are answered rightly."""
    undecided = 0
    for seed, network, question in fuzz.instances(1_000_000, 1500, fuzz.LOOSE):
        answer = decide(network, question, Budget(own=0, conflicts=1))
        if isinstance(answer, Undecided):
            undecided += 1
            assert answer.spent >= 1, seed
        else:
            assert isinstance(answer, Found) is brute.by_states(network, question), seed
    assert undecided > 0
