"""A sketch to bytes: labels measured, boxes placed, everything set in type on one page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from protocol_lang import typesetter
from protocol_lang.diagram.inks import INKS
from protocol_lang.diagram.lean import lean
from protocol_lang.diagram.place import Path_, Places, Point, placed
from protocol_lang.diagram.sketch import Line, Size, Sketch, written

Format = Literal["pdf", "svg", "png"]
TEMPLATE = Path(__file__).with_name("picture.typ")
#: White round a picture, and between two of them, in points.
MARGIN, GAP = 28, 36
#: The least width of a page: the key has to find room.
LEAST = 560


@dataclass(frozen=True, slots=True)
class Sample:
    """A line of the key: ``sort`` "line" or "box", its look, and what it stands for."""

    sort: str
    look: str
    text: str


@dataclass(frozen=True, slots=True)
class Panel:
    """One of the graphs on a page. ``only``: the boxes and lines of the sketch that are in it, with
    the look that they have here; None: all, as sketched."""

    heading: str = ""
    boxes: Mapping[str, str] | None = None
    lines: Mapping[tuple[str, str], str] | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """What stands round the graphs. ``alt``: the picture in words."""

    title: str
    under: str
    key: tuple[Sample, ...]
    alt: str
    sketch: Sketch
    panels: tuple[Panel, ...] = (Panel(),)


def text(page: Page) -> str:
    """The graph as text for the layout program; equal pages give equal texts."""
    return written(page.sketch, _sizes(page.sketch))


def draw(page: Page, format: Format = "svg") -> bytes:
    """The page as bytes. Raises :class:`~protocol_lang.diagram.place.CannotDraw`, and
    :class:`~protocol_lang.typesetter.CannotPrint` for a letter that no font has (in PDF)."""
    (made,) = typesetter.compiled(TEMPLATE, "picture", set_out(page), format, pixels_per_inch=144)
    return lean(made.decode(), page.title, page.alt).encode() if format == "svg" else made


def set_out(page: Page) -> dict[str, Any]:
    """All that the template draws, with its place."""
    sizes = _sizes(page.sketch)
    places = placed(written(page.sketch, sizes))
    panels = [_panel(page, panel, places, sizes) for panel in page.panels]
    width = len(panels) * places.width + (len(panels) - 1) * GAP + 2 * MARGIN
    return {
        **_common(),
        "title": page.title,
        "under": page.under,
        "key": [{"sort": one.sort, "look": one.look, "text": one.text} for one in page.key],
        "alt": page.alt,
        "width": max(width, LEAST),
        "gap": GAP,
        "panels": panels,
    }


def _common() -> dict[str, Any]:
    return {"inks": dict(INKS), "families": list(typesetter.families()), "lang": "en"}


def _sizes(sketch: Sketch) -> list[Size]:
    given = {**_common(), "labels": [dict(one) for one in sketch.labels()]}
    return [(w, h) for w, h in typesetter.measured(TEMPLATE, "picture", given)]


def _panel(page: Page, panel: Panel, places: Places, sizes: Sequence[Size]) -> dict[str, Any]:
    boxes, lines, hops = [], [], []
    of_hops = iter(sizes[sum(1 + len(zone.boxes) for zone in page.sketch.zones) :])
    for zone in page.sketch.zones:
        for box in zone.boxes:
            frame = places.boxes[box.id]
            far = str(box.label.get("far", "")) if panel.boxes is None else panel.boxes[box.id]
            boxes.append({**_frame(frame), "label": dict(box.label), "far": far})
    taken: dict[tuple[str, str, str], int] = {}
    for line in page.sketch.lines:
        key = (line.source, line.target, line.look)
        drawn = places.lines[key][taken.get(key, 0)]
        taken[key] = taken.get(key, 0) + 1
        look = line.look
        if panel.lines is not None:
            if (line.source, line.target) not in panel.lines:
                continue
            look = panel.lines[line.source, line.target]
        lines.append(_line(line, look, drawn))
        if line.label is not None and drawn.middle is not None:
            (x, y), (w, h) = drawn.middle, next(of_hops)
            at = {"x": round(x - w / 2, 2), "y": round(y - h / 2, 2), "w": w, "h": h}
            hops.append({**at, "label": dict(line.label)})
    lines.sort(key=lambda one: _DEPTH.get(str(one["look"]), 0))
    return {
        "heading": panel.heading,
        "width": places.width,
        "height": places.height,
        "zones": [
            {**_frame(frame), "label": dict(zone.label)}
            for zone, frame in zip(page.sketch.zones, places.zones, strict=True)
        ],
        "boxes": boxes,
        "lines": lines,
        "hops": hops,
    }


#: What is drawn later lies on top.
_DEPTH = {"never": 0, "across": 0, "makes-true": 1, "before": 2, "ended": 3, "trace": 4}
_DEPTH |= {"onward": 5, "route": 6}


def _frame(frame: Any) -> dict[str, float]:
    return {"x": frame.x, "y": frame.y, "w": round(frame.w, 2), "h": round(frame.h, 2)}


def _line(line: Line, look: str, drawn: Path_) -> dict[str, Any]:
    head: list[Point] = []
    if line.head and drawn.tip is not None:
        head = _head(drawn.points[-1], drawn.tip, 1.5 if look == "route" else 1.0)
    return {"look": look, "points": [list(one) for one in drawn.points], "head": head}


def _head(end: Point, tip: Point, scale: float) -> list[Point]:
    """The three corners of an arrow head."""
    dx, dy = tip[0] - end[0], tip[1] - end[1]
    length = math.hypot(dx, dy) or 1.0
    ux, uy = dx / length, dy / length
    half = 3.0 * scale
    return [
        tip,
        (round(end[0] - uy * half, 2), round(end[1] + ux * half, 2)),
        (round(end[0] + uy * half, 2), round(end[1] - ux * half, 2)),
    ]
