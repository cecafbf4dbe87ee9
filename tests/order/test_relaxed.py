"""The relaxed graph by itself: what it must settle, and that every link of it leads on."""

from __future__ import annotations

import pytest

from bench.order import families
from protocol_lang.order import Effort, Impossible, decide
from protocol_lang.order.effects import START, Effects
from protocol_lang.order.relaxed import HIT, forward, graph_to


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
    graph = graph_to(forward(effects, question.starts), question.targets, question.starts)
    sources = {link.name[0] for link in graph.links}
    goals = {link.goal for link in graph.links}
    assert all(link.goal == HIT or link.goal in sources for link in graph.links)
    assert all(link.event == START or link.name[0] in goals for link in graph.links)
    assert set(graph.starts) == {link.name[0] for link in graph.links if link.event == START}
