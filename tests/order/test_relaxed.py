"""The relaxed graph by itself: what it must settle, and that every link of it leads on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bench.order import families
from protocol_lang.order import Effort, Impossible, decide
from protocol_lang.order.deciding import prepare
from protocol_lang.order.effects import START, Effects
from protocol_lang.order.relaxed import HIT, Passed, forward, graph_to, origins
from tests.order import brute, fuzz


@pytest.mark.parametrize(
    "instance",
    [
        families.any_order(12),
        families.two_people(20),
        families.exposures(3),
        families.exposures(12),
    ],
    ids=lambda instance: f"{instance.family}, {instance.name}",
)
def test_ordinary_safe_plans_need_no_search(instance):
    effort = Effort()
    assert decide(instance.network, instance.question, effort=effort) == Impossible()
    assert effort == Effort(relaxed=1, settled_by_relaxation=1)


@pytest.mark.parametrize("seed", [*range(12), 5107])
def test_every_link_lies_on_a_way_from_a_start_to_a_target(seed):
    """The alternating passes may stop early (5107 is such a seed): dead ends must be gone."""
    instance = families.dense(100, seed)
    question = instance.question
    effects = Effects(instance.network, question.carry, 1)
    passed = Passed(forward(effects, question.starts))
    graph = graph_to(passed, question.targets, question.starts)
    sources = {link.name[0] for link in graph.links}
    goals = {link.goal for link in graph.links}
    assert all(link.goal == HIT or link.goal in sources for link in graph.links)
    assert all(link.event == START or link.name[0] in goals for link in graph.links)
    assert set(graph.starts) == {link.name[0] for link in graph.links if link.event == START}


@pytest.mark.parametrize("shape", [fuzz.SMALL, fuzz.LOOSE], ids=["small", "loose"])
def test_no_start_that_leads_to_a_target_is_left_out(shape):
    """Against brute force from each start by itself; and no start is named that cannot be one."""
    led = left_out = 0
    for seed, network, question in fuzz.instances(70_000, fuzz.times(150), shape):
        if question.carry is None:
            continue
        effects = prepare(network, question)
        if effects is None:
            continue
        found = origins(forward(effects, question.starts))
        for starts in found.values():
            assert starts <= question.starts, seed
            left_out += len(question.starts) - len(starts)
        for start in question.starts:
            for target in question.targets:
                alone = replace(question, starts=frozenset({start}), targets=frozenset({target}))
                if brute.by_states(network, alone):
                    assert start in found[target], seed
                    led += 1
    assert led > 20 and left_out >= 5
