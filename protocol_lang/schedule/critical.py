"""One order as it runs: when each task begins at the earliest, and how late it could.

The critical path method of Kelley and Walker (Critical-path planning and scheduling, Proceedings of
the Eastern Joint Computer Conference, 1959; from memory) on the graph of what comes after what.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from protocol_lang.order.bits import members
from protocol_lang.schedule.work import Work, sequenced


@dataclass(frozen=True, slots=True)
class Times:
    """Of each task: when it starts at the earliest, and how much later it may start without the
    target starting later. Of what need not be done before the target, the slack is None."""

    start: tuple[int, ...]
    slack: tuple[int | None, ...]


def times(work: Work, run: Sequence[int], target: int) -> Times:
    """Start and slack of every task in the order ``run``."""
    import networkx as nx  # slow to import, and only whoever asks for times needs it

    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(run)
    for task, earlier in enumerate(sequenced(work, run)):
        for one in members(earlier):
            graph.add_edge(one, task, delay=work.delays.get((one, task), 0))
    start = dict.fromkeys(run, 0)
    ranked = list(nx.topological_sort(graph))
    for task in ranked:
        for one in graph.predecessors(task):
            after = start[one] + work.lengths[one] + graph.edges[one, task]["delay"]
            start[task] = max(start[task], after)
    latest: dict[int, int] = {target: start[target]}
    for task in reversed(ranked):
        for one in graph.successors(task):
            if one in latest:
                limit = latest[one] - graph.edges[task, one]["delay"] - work.lengths[task]
                latest[task] = min(latest.get(task, limit), limit)
    tasks = range(len(work.lengths))
    return Times(
        tuple(start[task] for task in tasks),
        tuple(latest[task] - start[task] if task in latest else None for task in tasks),
    )
