"""Two slow and simple oracles, written from the definition in ``question.py`` and nothing else.

Both follow the *whole* set of marks through a run, never one mark at a time, so that the engine's
assumption that marks move alone is under test as well.
"""

from __future__ import annotations

import networkx as nx

from protocol_lang.order.question import Carry, Network, Question, Way


def way_of(carry: Carry, event: int, world: int, memory: tuple[int, ...]) -> Way | None:
    """The first way that applies."""
    for way in carry.ways[event]:
        if way.worlds >> world & 1 and all(memory[r] == v for r, v in way.when):
            return way
    return None


def orders(network: Network, precedes: tuple[tuple[int, int], ...] = ()) -> list[tuple[int, ...]]:
    """Every permitted order: all topological sorts but those that split a block."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(network.events))
    for event, before in enumerate(network.before):
        graph.add_edges_from((a, event) for a in range(network.events) if before >> a & 1)
    graph.add_edges_from(precedes)
    if not nx.is_directed_acyclic_graph(graph):
        return []
    return [tuple(o) for o in nx.all_topological_sorts(graph) if _together(network, o)]


def _together(network: Network, order: list[int]) -> bool:
    for block in network.blocks:
        places = [i for i, e in enumerate(order) if block.members >> e & 1]
        if places and any(block.others >> e & 1 for e in order[places[0] : places[-1] + 1]):
            return False
    return True


def shows(network: Network, question: Question, world: int, order: tuple[int, ...]) -> bool:
    """Does this run show what the question asks for?"""
    memory = tuple(r.initial for r in network.registers)
    marks = set(question.starts)
    hit = question.carry is None
    for event in order:
        here = network.present[event] >> world & 1
        if not here and question.takes_place >> event & 1:
            return False
        for stand in question.stands:
            if stand.event == event and not (here and memory[stand.register] in stand.values):
                return False
        if not here:
            continue
        if question.carry is not None:
            way = way_of(question.carry, event, world, memory)
            if way is not None:
                struck = {t for p in marks for t in way.hits.get(p, ())}
                hit = hit or not struck.isdisjoint(question.targets)
                marks = {q for p in marks for q in way.moves.get(p, (p,))}
        memory = tuple(
            r.writes.get(event, old) for r, old in zip(network.registers, memory, strict=True)
        )
    return hit


def by_listing(network: Network, question: Question) -> bool:
    """Is there a run that shows it? By listing all orders in all worlds."""
    return any(
        question.worlds >> world & 1 and shows(network, question, world, order)
        for order in orders(network, question.precedes)
        for world in range(network.worlds)
    )


def by_states(network: Network, question: Question) -> bool:
    """The same by exploring states: world, events done, registers, all marks, hit or not."""
    before = list(network.before)
    for a, b in question.precedes:
        before[b] |= 1 << a
    every = (1 << network.events) - 1
    for world in range(network.worlds):
        if not question.worlds >> world & 1:
            continue
        if any(
            question.takes_place >> e & 1 and not network.present[e] >> world & 1
            for e in range(network.events)
        ):
            continue
        start = (
            0,
            tuple(r.initial for r in network.registers),
            question.starts,
            question.carry is None,
        )
        seen = {start}
        stack = [start]
        while stack:
            done, memory, marks, hit = stack.pop()
            if done == every and hit:
                return True
            for event in range(network.events):
                if done >> event & 1 or before[event] & ~done:
                    continue
                if any(
                    b.members & done and b.members & ~done and b.others >> event & 1
                    for b in network.blocks
                ):
                    continue
                here = network.present[event] >> world & 1
                if any(
                    s.event == event and not (here and memory[s.register] in s.values)
                    for s in question.stands
                ):
                    continue
                new_memory, new_marks, new_hit = memory, marks, hit
                if here:
                    way = (
                        way_of(question.carry, event, world, memory)
                        if question.carry is not None and not hit
                        else None
                    )
                    if way is not None:
                        struck = {t for p in marks for t in way.hits.get(p, ())}
                        new_hit = hit or not struck.isdisjoint(question.targets)
                        new_marks = frozenset(q for p in marks for q in way.moves.get(p, (p,)))
                    new_memory = tuple(
                        r.writes.get(event, old)
                        for r, old in zip(network.registers, memory, strict=True)
                    )
                state = (done | 1 << event, new_memory, new_marks, new_hit)
                if state not in seen:
                    seen.add(state)
                    stack.append(state)
    return False
