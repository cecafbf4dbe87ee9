"""Each layer alone against brute force: relaxation, our own search, the clause-learning solver."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from protocol_lang.order import (
    START,
    Effort,
    Found,
    Network,
    Question,
    possible_values,
    reach,
    replay,
)
from protocol_lang.order.deciding import prepare
from protocol_lang.order.effects import Effects
from protocol_lang.order.relaxed import Graph, Passed, forward, graph_to
from protocol_lang.order.search import search
from protocol_lang.order.solver import solve
from tests.order import brute, fuzz

SHAPES = pytest.mark.parametrize(
    ("first", "count", "shape"),
    [(6_000_000, 1500, fuzz.SMALL), (7_000_000, 1000, fuzz.LOOSE)],
    ids=["small", "loose"],
)


def prepared(
    first: int, count: int, shape
) -> Iterator[tuple[int, Network, Question, Effects, Graph | None, bool]]:
    """Questions, their tables and relaxed graphs, and whether brute force finds a run."""
    for seed, network, question in fuzz.instances(first, fuzz.times(count), shape):
        expected = brute.by_states(network, question)
        effects = prepare(network, question)
        if effects is None:
            assert not expected, seed
            continue
        graph = None
        if question.carry is not None:
            passed = Passed(forward(effects, question.starts))
            graph = graph_to(passed, question.targets, question.starts)
        yield seed, network, question, effects, graph, expected


@SHAPES
def test_relaxation_never_excludes_what_exists(first, count, shape):
    settled = 0
    for seed, _, question, effects, graph, expected in prepared(first, count, shape):
        if graph is None:
            continue
        hit = bool(question.targets & forward(effects, question.starts).targets.keys())
        assert hit or not expected, seed
        assert graph.links or not expected, seed
        settled += not graph.links
    assert settled > count // 10


@SHAPES
def test_own_search_alone(first, count, shape):
    for seed, network, question, effects, graph, expected in prepared(first, count, shape):
        answer = search(effects, question, graph, 1_000_000, Effort())
        assert isinstance(answer, Found) is expected, seed
        if isinstance(answer, Found):
            replay(network, question, answer)


@SHAPES
def test_solver_alone(first, count, shape):
    for seed, network, question, effects, graph, expected in prepared(first, count, shape):
        answer = solve(effects, question, graph, 1_000_000)
        assert isinstance(answer, Found) is expected, seed
        if isinstance(answer, Found):
            replay(network, question, answer)


def test_possible_values_and_places_leave_nothing_out():
    """Every value of a register and every place of a mark, in any run, is listed as possible."""
    for seed, network, question in fuzz.instances(8_000_000, fuzz.times(250)):
        if network.events > 7 or question.carry is None:
            continue
        everywhere = (1 << network.worlds) - 1
        reached = reach(network, question.carry, question.starts, everywhere)
        values = {
            (r, e): possible_values(network, r, e)
            for r in range(len(network.registers))
            for e in range(network.events)
        }
        places = {e: reached.held_at(e) for e in range(network.events)}
        arrivals = reached.arrivals()
        assert all((start, START) in arrivals for start in question.starts)
        for order in brute.orders(network):
            for world in range(network.worlds):
                memory = tuple(r.initial for r in network.registers)
                marks = set(question.starts)
                for event in order:
                    if not network.present[event] >> world & 1:
                        continue
                    for register, value in enumerate(memory):
                        assert values[register, event].get(value, 0) >> world & 1, seed
                    for position in marks:
                        assert places[event].get(position, 0) >> world & 1, seed
                    way = brute.way_of(question.carry, event, world, memory)
                    if way is not None:
                        for p in marks:
                            for q in way.moves.get(p, ()):
                                assert q == p or arrivals[q, event] >> world & 1, seed
                        marks = {q for p in marks for q in way.moves.get(p, (p,))}
                    memory = tuple(
                        r.writes.get(event, old)
                        for r, old in zip(network.registers, memory, strict=True)
                    )
