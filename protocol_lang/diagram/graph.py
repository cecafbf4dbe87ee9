"""What is in a dependency picture: records without geometry, filled by whoever knows the orders."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Node:
    """One step. ``id`` is any text that is unique in the graph; it is never shown.

    ``number`` as on the chart; ``person``: who does it, None for nobody's hands; ``phase`` counts
    from 0 into ``Graph.phases``. ``condition``: where it is done ("staffing: alone"), None: always.
    """

    id: str
    number: int
    text: str
    person: str | None
    phase: int
    condition: str | None = None


@dataclass(frozen=True, slots=True)
class Arrow:
    """From one node to another, by id."""

    source: str
    target: str


@dataclass(frozen=True, slots=True)
class Route:
    """The path of a fault: its nodes in the order in which soil travels, and what it says in short.

    A node may come twice (in a later visit). ``carries``: what carries the soil from each node to
    the next ("gloves", "tube"), one less than nodes, or none at all.
    """

    nodes: tuple[str, ...]
    carries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Graph:
    """``before``: the first must be done before the second, in every permitted order.

    ``makes_true``: the first establishes what an "only when" of the second asks for (dashed).
    Nodes are in the order of the checklist. ``before`` must have no cycle.
    """

    title: str
    phases: tuple[str, ...]
    nodes: tuple[Node, ...]
    before: tuple[Arrow, ...] = ()
    makes_true: tuple[Arrow, ...] = ()
    route: Route | None = None

    def __post_init__(self) -> None:
        known = {node.id for node in self.nodes}
        if len(known) != len(self.nodes):
            raise ValueError("two nodes have the same id")
        named = {
            end for arrow in self.before + self.makes_true for end in (arrow.source, arrow.target)
        }
        if self.route:
            named |= set(self.route.nodes)
            if len(self.route.carries) not in (0, len(self.route.nodes) - 1):
                raise ValueError("a route tells what carries it between all of its nodes or none")
        if missing := sorted(named - known):
            raise ValueError(f"no node has the id {missing[0]!r}")
        if any(not 0 <= node.phase < len(self.phases) for node in self.nodes):
            raise ValueError("a node lies in no phase")
