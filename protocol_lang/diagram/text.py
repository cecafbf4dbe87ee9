"""A graph in the language of the layout program, with our look.

User text appears only as escaped text of labels; names of nodes are ours (n1, n2 …). Phases stand
side by side, each read from top to bottom; a person's steps are in line below one another.
"""

from __future__ import annotations

import html
import textwrap
from collections.abc import Iterable, Iterator, Sequence

from protocol_lang.diagram.graph import Arrow, Graph, Node
from protocol_lang.diagram.reduce import following, reduced

#: The layout program has the widths of this one and of those cut to its measure.
FONT = "Arial"
INK, QUIET, SOIL, PAPER, TINT = "#12303c", "#45565f", "#a52a12", "#ffffff", "#fbeee9"
#: Letters in a line of a label.
LINE = 26


def text(graph: Graph) -> str:
    """The picture as text for the layout program; the same graph gives the same text."""
    return "\n".join(_lines(graph)) + "\n"


def _lines(graph: Graph) -> Iterator[str]:
    name = {node.id: f"n{n}" for n, node in enumerate(graph.nodes, start=1)}
    phase = {node.id: node.phase for node in graph.nodes}
    persons = list(dict.fromkeys(node.person for node in graph.nodes if node.person))
    on_route = set(graph.route.nodes) if graph.route else set()
    in_line = _in_line(graph)
    number_of = {node.id: node.number for node in graph.nodes}
    made_true: dict[str, list[int]] = {}
    for arrow in dict.fromkeys(graph.makes_true):
        if phase[arrow.source] != phase[arrow.target]:
            made_true.setdefault(arrow.target, []).append(number_of[arrow.source])
    yield "digraph picture {"
    yield "  graph [rankdir=TB, newrank=true, nodesep=0.22, ranksep=0.26, pad=0.3,"
    yield f"    fontname={_q(FONT)}, fontcolor={_q(INK)}, bgcolor={_q(PAPER)},"
    yield "    labelloc=t, labeljust=l, fontsize=24,"
    yield f"    label=<{_title(graph, bool(in_line))}>];"
    yield f"  node [shape=plain, fontname={_q(FONT)}, fontsize=12, fontcolor={_q(INK)}];"
    yield f"  edge [color={_q(INK)}, arrowsize=0.6, penwidth=1.1,"
    yield f"    fontname={_q(FONT)}, fontsize=11, fontcolor={_q(SOIL)}];"
    for number, title in enumerate(graph.phases):
        inside = [node for node in graph.nodes if node.phase == number]
        if not inside:
            continue
        yield f"  subgraph cluster_{number + 1} {{"
        yield f"    label=<<B>{_escaped(title)}</B>>; fontsize=16; labeljust=l; margin=14;"
        yield f'    style="rounded"; color={_q("#8c9aa1")}; penwidth=1.0;'
        yield f"    p{number + 1} [shape=point, style=invis, width=0, height=0];"
        for node in inside:
            group = f"g{number + 1}_{persons.index(node.person) if node.person else 'x'}"
            look = _label(node, persons, node.id in on_route, made_true.get(node.id, ()))
            yield f"    {name[node.id]} [label=<{look}>, group={group}];"
        yield "  }"

    def across(arrow: Arrow) -> bool:
        return phase[arrow.source] != phase[arrow.target]

    needed = reduced([node.id for node in graph.nodes], graph.before)
    # Each phase hangs from a point of its own, and the points stand in one line, in order.
    points = [f"p{number + 1}" for number in sorted(set(phase.values()))]
    begun = {(phase[arrow.target], arrow.target) for arrow in needed if not across(arrow)}
    for node in graph.nodes:
        if (node.phase, node.id) not in begun:
            yield f"  p{node.phase + 1} -> {name[node.id]} [style=invis];"
    yield f"  {{ rank=same; {'; '.join(points)}; }}"
    if len(points) > 1:
        yield f"  {' -> '.join(points)} [style=invis];"
    for arrow in needed:
        if (phase[arrow.source], phase[arrow.target]) in in_line:
            continue
        more = ' [constraint=false, color="#8c9aa1"]' if across(arrow) else ""
        yield f"  {name[arrow.source]} -> {name[arrow.target]}{more};"
    for arrow in dict.fromkeys(graph.makes_true):
        if arrow in needed or across(arrow):
            continue  # the step just before, which has its arrow; or told in the box of the second
        yield (
            f"  {name[arrow.source]} -> {name[arrow.target]}"
            f" [style=dashed, constraint=false, arrowhead=empty, color={_q(QUIET)}];"
        )
    if graph.route:
        hops = list(zip(graph.route.nodes, graph.route.nodes[1:], strict=False))
        carries = graph.route.carries or ("",) * len(hops)
        for number, ((source, target), carrier) in enumerate(zip(hops, carries, strict=True), 1):
            said = f" {number}  {carrier} " if carrier else f" {number} "
            yield (
                f"  {name[source]} -> {name[target]} [color={_q(SOIL)}, penwidth=3.2,"
                f" arrowsize=1.0, constraint=false,"
                f" label=<<B>{_escaped(said)}</B>>];"
            )
    yield "}"


#: The cell of the number, per person in the order in which they first act: told apart in black and
#: white by fill and frame, and named as well. Further persons look like the last.
_CELLS = (
    f'BGCOLOR="{INK}" BORDER="0"',
    f'BGCOLOR="{PAPER}" BORDER="2" COLOR="{INK}"',
    f'BGCOLOR="#cfe4f2" BORDER="2" COLOR="{INK}" STYLE="DASHED"',
    f'BGCOLOR="#dfe4e6" BORDER="2" COLOR="{INK}" STYLE="DOTTED"',
)
_NOBODY = f'BGCOLOR="{PAPER}" BORDER="0"'


def _label(node: Node, persons: list[str], on_route: bool, made_true: Sequence[int]) -> str:
    """Number and person at the left, in the person's pattern; the words at the right.

    ``made_true``: the steps of other phases that make an "only when" of this one true.
    """
    border = f'BORDER="{3 if on_route else 1}" COLOR="{SOIL if on_route else INK}"'
    who = min(persons.index(node.person), len(_CELLS) - 1) if node.person else None
    cell = _NOBODY if who is None else _CELLS[who]
    ink = PAPER if who == 0 else INK
    person, words = node.person or "", node.text
    if person and words.casefold().startswith(person.casefold() + " "):
        words = words[len(person) + 1 :]
    lines = '<BR ALIGN="LEFT"/>'.join(_escaped(line) for line in _wrapped(words))
    if person:
        person = (
            f'<FONT POINT-SIZE="10" COLOR="{QUIET}">{_escaped(person)}</FONT><BR ALIGN="LEFT"/>'
        )
    small = [f"only {node.condition}"] if node.condition else []
    if made_true:
        small.append(f"made true by {' or '.join(map(str, sorted(made_true)))}")
    for line in (line for said in small for line in _wrapped(said)):
        lines += '<BR ALIGN="LEFT"/>'
        lines += f'<FONT POINT-SIZE="10" COLOR="{QUIET}"><I>{_escaped(line)}</I></FONT>'
    return (
        f'<TABLE {border} CELLBORDER="0" CELLSPACING="0" CELLPADDING="5"'
        f' BGCOLOR="{TINT if on_route else PAPER}"><TR>'
        f'<TD {cell} WIDTH="26"><FONT COLOR="{ink}"><B>{node.number}</B></FONT></TD>'
        f'<TD ALIGN="LEFT" BALIGN="LEFT" WIDTH="158">{person}{lines}<BR ALIGN="LEFT"/></TD>'
        f"</TR></TABLE>"
    )


def _in_line(graph: Graph) -> set[tuple[int, int]]:
    """Pairs of phases of which the second begins only when all of the first is done.

    Phases are read from left to right, so no arrow need say that.
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


def _title(graph: Graph, in_line: bool) -> str:
    key = "solid: must come before    dashed: makes the “only when” of the later step true"
    if in_line:
        key = "boxes: phases, one after the other from left to right    " + key
    if graph.route:
        key += "    thick, numbered: the path of the fault"
    return (
        f'<B>{_escaped(graph.title)}</B><BR ALIGN="LEFT"/>'
        '<FONT POINT-SIZE="9"> <BR ALIGN="LEFT"/></FONT>'  # room below the title
        f'<FONT POINT-SIZE="13" COLOR="{QUIET}">{_escaped(key)}</FONT><BR ALIGN="LEFT"/>'
    )


def _wrapped(words: str) -> list[str]:
    return textwrap.wrap(words, LINE, break_long_words=False, break_on_hyphens=False) or [""]


def _escaped(words: str) -> str:
    """Text inside a label: no markup, no characters that the picture's format cannot hold.

    The layout program replaces \\N, \\G and the like even in labels of this kind, so a backslash
    goes in twice.
    """
    return html.escape("".join(_printable(words)), quote=True).replace("\\", "\\\\")


def _printable(words: Iterable[str]) -> Iterator[str]:
    for letter in words:
        yield letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}"


def _q(value: str) -> str:
    """A value of ours in quotes; never user text."""
    return f'"{value}"'
