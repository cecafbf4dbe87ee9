"""Small random work, and the least time by trying every order: it knows nothing of the search."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import networkx as nx

from protocol_lang.order import Block, Network, close
from protocol_lang.order.network import Cycle, before_from_pairs
from protocol_lang.schedule.work import Work


def some_work(seed: int) -> tuple[Work, int, int] | None:
    """Random work, and a source and target of which the one surely comes first; None if the order
    is impossible."""
    dice = random.Random(seed)
    tasks = dice.randint(4, 6)
    people = dice.choice((1, 1, 2, 3))
    pairs = {(a, b) for a in range(tasks) for b in range(a + 1, tasks) if dice.random() < 0.17} | {
        (0, tasks - 1)
    }
    who = tuple(dice.choice((*range(people), None)) for _ in range(tasks))
    if seed % 2:  # all of it between the first and the last: who waits for whom decides
        tasks, people = 7, 2
        pairs = {(a, b) for a in range(1, 6) for b in range(a + 1, 6) if dice.random() < 0.2}
        pairs |= {(0, task) for task in range(1, 7)} | {(task, 6) for task in range(6)}
        who = tuple(dice.randrange(2) for _ in range(tasks))
    lengths = tuple(dice.choice((0, 1, 2, 3, 5, 8)) for _ in range(tasks))
    blocks = []
    for _ in range(dice.choice((0, 0, 1, 2))):
        person = dice.randrange(people)
        mine = [task for task in range(tasks) if who[task] == person]
        if len(mine) > 2:
            inside = set(dice.sample(mine, 2))
            blocks.append(
                Block(sum(1 << m for m in inside), sum(1 << m for m in mine if m not in inside))
            )
    delays = {pair: dice.randint(1, 12) for pair in sorted(pairs) if dice.random() < 0.2}
    given = before_from_pairs(tasks, pairs)
    network = close(Network(tasks, given, tuple(blocks), 1, (1,) * tasks))
    if isinstance(network, Cycle):
        return None
    work = Work(lengths, who, network.before, network.blocks, delays, given)
    if seed % 2:
        return work, 0, tasks - 1
    source = dice.choice((0, 0, 0, 1))
    after = [task for task in range(tasks) if network.before[task] >> source & 1]
    if not after:
        return None
    return work, source, dice.choice(after)


def every_order(work: Work) -> Iterator[tuple[int, ...]]:
    """All permitted orders, by networkx' topological sorts and the plain meaning of a block."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(work.lengths)))
    for task, earlier in enumerate(work.before):
        graph.add_edges_from((one, task) for one in range(len(work.lengths)) if earlier >> one & 1)
    for order in nx.all_topological_sorts(graph):
        if all(_together(order, block) for block in work.blocks):
            yield tuple(order)


def _together(order: list[int], block: Block) -> bool:
    at = [place for place, task in enumerate(order) if block.members >> task & 1]
    return not any(block.others >> task & 1 for task in order[at[0] : at[-1]])


def constraints(work: Work, order: tuple[int, ...]) -> nx.DiGraph[Any]:
    """The simple temporal network of one order: an edge (u, v, w) says v - u <= w.

    ("s", t) and ("e", t) are start and end of task t; "0" is the beginning.
    """
    graph: nx.DiGraph[Any] = nx.DiGraph()

    def at_least(u: object, v: object, ticks: int) -> None:  # v - u >= ticks
        known = graph.get_edge_data(v, u, {"weight": 0})["weight"]
        graph.add_edge(v, u, weight=min(known, -ticks) if graph.has_edge(v, u) else -ticks)

    for task, ticks in enumerate(work.lengths):
        at_least("0", ("s", task), 0)
        at_least(("s", task), ("e", task), ticks)
        for one in range(len(work.lengths)):
            if work.before[task] >> one & 1:
                at_least(("e", one), ("s", task), work.delays.get((one, task), 0))
    for place, one in enumerate(order):
        for other in order[place + 1 :]:
            if work.who[one] is not None and work.who[one] == work.who[other]:
                at_least(("e", one), ("s", other), 0)
    return graph


def least_by_hand(work: Work, source: int | None, target: int) -> int | None:
    """The least over all orders, by Bellman and Ford on each network; None without an order."""
    best: int | None = None
    for order in every_order(work):
        graph = constraints(work, order)
        begin = "0" if source is None else ("e", source)
        # v - u >= d is forced exactly if the shortest way from v to u has the length -d.
        ways = nx.single_source_bellman_ford_path_length(graph, ("s", target))
        ticks = -int(ways[begin])
        best = ticks if best is None else min(best, ticks)
    return best


def can_be_shorter(work: Work, source: int, target: int, than: int) -> bool:
    """Whether in some order the start of the target less the end of the source may be at most
    ``than`` - 1: then the network of that order has no negative cycle."""
    for order in every_order(work):
        graph = constraints(work, order)
        u, v = ("e", source), ("s", target)
        weight = than - 1
        if graph.has_edge(u, v):
            weight = min(weight, graph[u][v]["weight"])
        graph.add_edge(u, v, weight=weight)
        if not nx.negative_edge_cycle(graph):
            return True
    return False
