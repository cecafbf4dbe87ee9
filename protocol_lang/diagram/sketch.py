"""What is to be drawn, before it has a place: labelled boxes in zones, and lines between them.

Both pictures become a sketch. From it :func:`written` makes the text for the layout program, in
which a box is an empty frame of the size that the typesetter measured for its label: no words of a
user are read by that program, and what was measured is what is drawn.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

#: What a template sets: plain values. ``sort`` says as what: step, thing, zone or hop.
Label = Mapping[str, object]
#: Width and height in points.
Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """``id``: a name of ours, such as n1. ``wish``: further words for the layout program."""

    id: str
    label: Label
    wish: str = ""


@dataclass(frozen=True, slots=True)
class Zone:
    """Boxes on one ground. ``before``, ``after``: further lines for the layout program."""

    label: Label
    boxes: tuple[Box, ...]
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """From box to box. ``look``: a name that the template knows; ``label``: of a numbered hop."""

    source: str
    target: str
    look: str
    head: bool = False
    label: Label | None = None
    wish: str = ""


@dataclass(frozen=True, slots=True)
class Sketch:
    """``wish``: of the whole graph; ``lines_below``: what else is asked of the layout program."""

    zones: tuple[Zone, ...]
    lines: tuple[Line, ...]
    wish: str
    lines_below: tuple[str, ...] = ()

    def labels(self) -> list[Label]:
        """All that has to be measured: of zones, of their boxes, then of lines."""
        return [
            *(zone.label for zone in self.zones),
            *(box.label for zone in self.zones for box in zone.boxes),
            *(line.label for line in self.lines if line.label is not None),
        ]


def written(sketch: Sketch, sizes: Sequence[Size]) -> str:
    """The text for the layout program; ``sizes``: of :meth:`Sketch.labels`, in their order.

    The words stand in it as comments, for people who compare two of them.
    """
    return "\n".join(_written(sketch, iter(sizes[: len(sketch.zones)]), sizes)) + "\n"


def _written(sketch: Sketch, heads: Iterator[Size], sizes: Sequence[Size]) -> Iterator[str]:
    rest = iter(sizes[len(sketch.zones) :])
    yield "digraph picture {"
    yield f"  graph [{sketch.wish}];"
    yield '  node [shape=box, fixedsize=true, label=""];'
    for number, zone in enumerate(sketch.zones, start=1):
        width, height = next(heads)
        yield f"  subgraph cluster_{number} {{"
        yield f"    // {_plainly(zone.label)}"
        yield f"    margin=12; labeljust=l; label=<{_room(min(width, 60), height)}>;"
        for wish in zone.lines:
            yield f"    {wish}"
        for box in zone.boxes:
            width, height = next(rest)
            more = f", {box.wish}" if box.wish else ""
            inches = f"width={width / 72:.4f}, height={height / 72:.4f}"
            yield f"    {box.id} [{inches}{more}]; // {_plainly(box.label)}"
        yield "  }"
    for wish in sketch.lines_below:
        yield f"  {wish}"
    for line in sketch.lines:
        wishes = [line.wish] if line.wish else []
        if not line.head:
            wishes.append("dir=none")
        said = ""
        if line.label is not None:
            wishes.append(f"label=<{_room(*next(rest))}>")
            said = f" // {_plainly(line.label)}"
        how = ", ".join([f"class={_q(line.look)}", *wishes])
        yield f"  {line.source} -> {line.target} [{how}];{said}"
    yield "}"


def _room(width: float, height: float) -> str:
    """A label without words that takes so much room, in points."""
    return (
        f'<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="0" CELLPADDING="0" FIXEDSIZE="TRUE"'
        f' WIDTH="{width:.0f}" HEIGHT="{height:.0f}"><TR><TD></TD></TR></TABLE>'
    )


def _plainly(label: Label) -> str:
    """The words of a label in one line of a comment; ASCII, so that no letter ends the line."""
    told = [label.get(name) for name in ("number", "person", "text", "note", "small", "far")]
    return " ".join(json.dumps(one) for one in told if one and isinstance(one, str | list))


def _q(value: str) -> str:
    return f'"{value}"'
