"""The dependency picture: a graph of steps as a sketch, with what stands round it.

Phases stand side by side, each read from top to bottom; a person's steps are in line below one
another. A long phase is continued in a further column.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from protocol_lang.diagram.graph import Arrow, Graph, Node
from protocol_lang.diagram.page import Page, Sample
from protocol_lang.diagram.reduce import following, reduced
from protocol_lang.diagram.sketch import Box, Label, Line, Sketch, Zone

#: How much wider than high a picture is at best: a sheet on its side.
SHAPE = 1.41
#: About what a column and a row take, in points.
COLUMN, ROW = 236, 62
#: A phase is never cut into columns of fewer steps below one another.
LEAST_ROWS = 8
#: The frames of the number, per person in the order in which they first act; further persons look
#: like the last, and are told apart by name.
LOOKS = ("filled", "framed", "dashed", "dotted")


def steps_page(graph: Graph) -> Page:
    """The page of a graph. Raises ValueError when the order runs in a circle."""
    columns = _in_columns(graph)
    name = {node.id: f"n{n}" for n, node in enumerate(columns.nodes, start=1)}
    needed = reduced([node.id for node in columns.nodes], columns.before)
    in_line = _in_line(columns)
    phase = {node.id: node.phase for node in columns.nodes}

    def across(arrow: Arrow) -> bool:
        return phase[arrow.source] != phase[arrow.target]

    lines = [
        Line(
            name[arrow.source],
            name[arrow.target],
            "across" if across(arrow) else "before",
            head=True,
            wish="constraint=false" if across(arrow) else "weight=4",
        )
        for arrow in needed
        if (phase[arrow.source], phase[arrow.target]) not in in_line
    ]
    lines += [
        Line(
            name[arrow.source], name[arrow.target], "makes-true", head=True, wish="constraint=false"
        )
        for arrow in dict.fromkeys(columns.makes_true)
        # Else it is the step just before, which has its arrow, or is told in the box of the second.
        if arrow not in needed and not across(arrow)
    ]
    lines += _route(columns, name)
    zones = _zones(columns, name)
    begun = {arrow.target for arrow in needed if not across(arrow)}
    # Each column hangs from a point of its own, and the points stand in one line, in order.
    points = [f"p{number + 1}" for number in sorted(set(phase.values()))]
    below = [
        f"p{node.phase + 1} -> {name[node.id]} [style=invis];"
        for node in columns.nodes
        if node.id not in begun
    ]
    below.append(f"{{ rank=same; {'; '.join(points)}; }}")
    if len(points) > 1:
        below.append(f"{' -> '.join(points)} [style=invis];")
    return Page(
        title=graph.title,
        under=_under(graph, bool(in_line)),
        key=tuple(_key(columns, lines)),
        alt=in_words(graph),
        sketch=Sketch(
            zones,
            tuple(lines),
            "rankdir=TB, newrank=true, nodesep=0.2, ranksep=0.2, arrowsize=0.6, pad=0, "
            "splines=true",
            tuple(below),
        ),
    )


def _zones(graph: Graph, name: dict[str, str]) -> tuple[Zone, ...]:
    persons = list(dict.fromkeys(node.person for node in graph.nodes if node.person))
    on_route = set(graph.route.nodes) if graph.route else set()
    made_true = _made_true_elsewhere(graph)
    zones = []
    for number, title in enumerate(graph.phases):
        boxes = tuple(
            Box(
                name[node.id],
                _label(node, persons, node.id in on_route, made_true.get(node.id, [])),
                f"group=g{number + 1}_{persons.index(node.person) if node.person else 'x'}",
            )
            for node in graph.nodes
            if node.phase == number
        )
        if boxes:
            point = f"p{number + 1} [shape=point, style=invis, width=0, height=0];"
            zones.append(
                Zone({"sort": "zone", "text": _shown(title), "width": 178}, boxes, (point,))
            )
    return tuple(zones)


def _label(node: Node, persons: Sequence[str], on_route: bool, made_true: Sequence[int]) -> Label:
    """``made_true``: the steps of other columns that make an "only when" of this one true."""
    words = node.text
    if node.person and words.casefold().startswith(node.person.casefold() + " "):
        words = words[len(node.person) + 1 :]
    small = [f"only {node.condition}"] if node.condition else []
    if made_true:
        small.append(f"made true by {' or '.join(map(str, sorted(made_true)))}")
    look = LOOKS[min(persons.index(node.person), len(LOOKS) - 1)] if node.person else "nobody"
    return {
        "sort": "step",
        "number": str(node.number),
        "person": _shown(node.person or ""),
        "text": _shown(words),
        "small": [_shown(one) for one in small],
        "look": look,
        "marked": on_route,
    }


def _made_true_elsewhere(graph: Graph) -> dict[str, list[int]]:
    phase = {node.id: node.phase for node in graph.nodes}
    number = {node.id: node.number for node in graph.nodes}
    found: dict[str, list[int]] = {}
    for arrow in dict.fromkeys(graph.makes_true):
        if phase[arrow.source] != phase[arrow.target]:
            found.setdefault(arrow.target, []).append(number[arrow.source])
    return found


def _route(graph: Graph, name: dict[str, str]) -> Iterator[Line]:
    if graph.route is None:
        return
    hops = list(zip(graph.route.nodes, graph.route.nodes[1:], strict=False))
    carries = graph.route.carries or ("",) * len(hops)
    for number, ((source, target), carrier) in enumerate(zip(hops, carries, strict=True), 1):
        label = {"sort": "hop", "number": str(number), "text": _shown(carrier)}
        yield Line(name[source], name[target], "route", True, label, "constraint=false")


# --- Columns -------------------------------------------------------------------------------------


def _in_columns(graph: Graph) -> Graph:
    """The graph with long phases cut, so that the whole is about as wide as a sheet on its side."""
    rows = _rows(graph)
    most = max(rows.values(), default=0) + 1
    best = min(
        range(min(LEAST_ROWS, most), most + 1),
        key=lambda length: _out_of_shape(graph, rows, length),
    )
    phases: list[str] = []
    column_of: dict[tuple[int, int], int] = {}
    for number, title in enumerate(graph.phases):
        deepest = [rows[node.id] for node in graph.nodes if node.phase == number]
        parts = _parts(max(deepest) + 1, best) if deepest else 1
        for part in range(parts):
            column_of[number, part] = len(phases)
            phases.append(title if part == 0 else f"{title}, continued")
    length_of = {
        number: _parts_length(graph, rows, number, best) for number in range(len(graph.phases))
    }
    nodes = tuple(
        replace(node, phase=column_of[node.phase, rows[node.id] // length_of[node.phase]])
        for node in graph.nodes
    )
    return replace(graph, phases=tuple(phases), nodes=nodes)


def _rows(graph: Graph) -> dict[str, int]:
    """For each step how many steps of its phase must come before it, one after the other."""
    phase = {node.id: node.phase for node in graph.nodes}
    rows = {node.id: 0 for node in graph.nodes}
    inside = [
        one for one in reduced(list(rows), graph.before) if phase[one.source] == phase[one.target]
    ]
    follow: dict[str, list[str]] = {}
    waiting = dict.fromkeys(rows, 0)
    for arrow in inside:
        follow.setdefault(arrow.source, []).append(arrow.target)
        waiting[arrow.target] += 1
    ready = [name for name, count in waiting.items() if not count]
    for name in ready:
        for later in follow.get(name, ()):
            rows[later] = max(rows[later], rows[name] + 1)
            waiting[later] -= 1
            if not waiting[later]:
                ready.append(later)
    return rows


def _parts(rows: int, length: int) -> int:
    return math.ceil(rows / length)


def _parts_length(graph: Graph, rows: dict[str, int], phase: int, length: int) -> int:
    """How many rows a column of the phase has, so that its columns are about equally long."""
    deepest = max((rows[node.id] for node in graph.nodes if node.phase == phase), default=0) + 1
    return math.ceil(deepest / _parts(deepest, length))


def _out_of_shape(graph: Graph, rows: dict[str, int], length: int) -> float:
    """How far the picture is from the shape of a sheet if no column has more rows than that."""
    width = height = 0
    for number in range(len(graph.phases)):
        inside = [rows[node.id] for node in graph.nodes if node.phase == number]
        if not inside:
            continue
        cut = _parts_length(graph, rows, number, length)
        height = max(height, min(cut, max(inside) + 1))
        for part in range(_parts(max(inside) + 1, cut)):
            side_by_side = [row for row in inside if row // cut == part]
            width += max(side_by_side.count(row) for row in set(side_by_side))
    return abs(math.log(max(width * COLUMN, 1) / max(height * ROW, 1) / SHAPE))


def _in_line(graph: Graph) -> set[tuple[int, int]]:
    """Pairs of columns of which the second begins only when all of the first is done.

    Columns are read from left to right, so no arrow need say that.
    """
    after = following([node.id for node in graph.nodes], graph.before)
    inside: dict[int, set[str]] = {}
    for node in graph.nodes:
        inside.setdefault(node.phase, set()).add(node.id)
    return {
        (first, second)
        for first, nodes in inside.items()
        for second, others in inside.items()
        if first < second and all(others <= after[node] for node in nodes)
    }


# --- Words ---------------------------------------------------------------------------------------


def _under(graph: Graph, in_line: bool) -> str:
    told = "Each box is a step, read from top to bottom"
    if in_line:
        told += "; the grounds stand for phases, one after the other from left to right"
    if graph.route:
        told += "; the numbered line is the path of the fault, as soil travels"
    return told + "."


def _key(graph: Graph, lines: Sequence[Line]) -> Iterator[Sample]:
    looks = {line.look for line in lines}
    if "before" in looks:
        yield Sample("line", "before", "must come before")
    if "across" in looks:
        yield Sample("line", "across", "must come before, across phases")
    if "makes-true" in looks:
        yield Sample("line", "makes-true", "makes the “only when” of the later step true")
    if graph.route:
        yield Sample("line", "route", "path of the fault: what carries soil to the next step")


def in_words(graph: Graph) -> str:
    """The picture in words: each step with those just before it, then the path."""
    number = {node.id: node.number for node in graph.nodes}
    direct: dict[str, list[int]] = {}
    for arrow in reduced([node.id for node in graph.nodes], graph.before):
        direct.setdefault(arrow.target, []).append(number[arrow.source])
    told = [f"Which step must come before which, of “{_shown(graph.title)}”."]
    for place, title in enumerate(graph.phases):
        told.append(f"{_shown(title)}:")
        for node in graph.nodes:
            if node.phase != place:
                continue
            after = direct.get(node.id)
            when = f", after {' and '.join(map(str, sorted(after)))}" if after else ""
            only = f", only {_shown(node.condition)}" if node.condition else ""
            told.append(f"{node.number} {_shown(node.text)}{when}{only}.")
    if graph.route:
        carries = ("", *graph.route.carries) if graph.route.carries else ()
        stops = [
            f"{number[one]}" + (f" (by {_shown(carries[at])})" if carries and carries[at] else "")
            for at, one in enumerate(graph.route.nodes)
        ]
        told.append(f"The path of the fault: from step {', then '.join(stops)}.")
    return " ".join(told)


def _shown(words: str) -> str:
    """Text for the typesetter: what cannot be seen is shown as replaced."""
    return "".join(one if one.isprintable() else "\N{REPLACEMENT CHARACTER}" for one in words)
