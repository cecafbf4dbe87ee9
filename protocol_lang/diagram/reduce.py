"""Leaves out of an order every arrow that follows from the others."""

from __future__ import annotations

from collections.abc import Sequence

from protocol_lang.diagram.graph import Arrow


def reduced(ids: Sequence[str], arrows: Sequence[Arrow]) -> tuple[Arrow, ...]:
    """The fewest arrows that force the same orders, sorted by the places of their ends in ``ids``.

    The transitive reduction of an acyclic relation is unique (Aho, Garey and Ullman, 1972). Raises
    ValueError when the arrows run in a circle.
    """
    import networkx as nx  # slow to import, and only pictures need it

    place = {name: n for n, name in enumerate(ids)}
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(ids)
    graph.add_edges_from((arrow.source, arrow.target) for arrow in arrows)
    if not nx.is_directed_acyclic_graph(graph):
        raise ValueError("the order runs in a circle")
    kept = nx.transitive_reduction(graph).edges
    return tuple(
        Arrow(source, target)
        for source, target in sorted(kept, key=lambda ends: (place[ends[0]], place[ends[1]]))
    )


def following(ids: Sequence[str], arrows: Sequence[Arrow]) -> dict[str, set[str]]:
    """For each id all those that come after it, by any number of arrows."""
    after: dict[str, set[str]] = {name: set() for name in ids}
    for arrow in arrows:
        after[arrow.source].add(arrow.target)
    for name in ids:
        waiting = list(after[name])
        while waiting:
            fresh = after[waiting.pop()] - after[name]
            after[name] |= fresh
            waiting += fresh
    return after
