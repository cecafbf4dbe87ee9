"""The one place that runs the layout program: a written graph in, places out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

#: Across from the left, down from the top, in points.
Point = tuple[float, float]


class CannotDraw(Exception):
    """The picture cannot be drawn; the text is one sentence for people, with the mend."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A box or zone: its upper left corner and its size, in points."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True, slots=True)
class Path_:
    """A line: ``points`` of a chain of cubic curves; ``tip``: where its head ends, if it has one;
    ``middle``: of its label."""

    points: tuple[Point, ...]
    tip: Point | None
    middle: Point | None


@dataclass(frozen=True, slots=True)
class Places:
    """Where everything is. ``lines`` by (source, target, look), in the order of writing."""

    width: float
    height: float
    boxes: Mapping[str, Frame]
    zones: tuple[Frame, ...]
    lines: Mapping[tuple[str, str, str], list[Path_]]


def placed(picture: str) -> Places:
    """The places that the layout program gives to what is in a written graph.

    It comes with the package ``graphviz-pure``; nothing on PATH is asked. Raises
    :class:`CannotDraw` when it is missing or fails.
    """
    import graphviz  # type: ignore[import-untyped]
    import graphviz.backend.dot_command as dot_command  # type: ignore[import-untyped]

    dot_command.DOT_BINARY = _program()
    try:
        made = graphviz.Source(picture).pipe(format="json", quiet=True)
    except graphviz.CalledProcessError as error:
        raise CannotDraw("The layout program could not draw this picture.") from error
    except graphviz.ExecutableNotFound as error:
        raise CannotDraw(_MISSING) from error
    return _read(json.loads(made))


def _read(made: Mapping[str, Any]) -> Places:
    left, bottom, right, top = map(float, made["bb"].split(","))

    def frame(box: str) -> Frame:
        x1, y1, x2, y2 = map(float, box.split(","))
        return Frame(x1 - left, top - y2, x2 - x1, y2 - y1)

    def point(pair: str) -> Point:
        x, y = map(float, pair.split(","))
        return round(x - left, 2), round(top - y, 2)

    boxes: dict[str, Frame] = {}
    zones: dict[int, Frame] = {}
    names: dict[int, str] = {}
    for one in made.get("objects", ()):
        name = one["name"]
        if name.startswith("cluster_"):
            zones[int(name.removeprefix("cluster_"))] = frame(one["bb"])
        elif "pos" in one:
            x, y = point(one["pos"])
            w, h = float(one["width"]) * 72, float(one["height"]) * 72
            boxes[name] = Frame(round(x - w / 2, 2), round(y - h / 2, 2), w, h)
            names[one["_gvid"]] = name
    lines: dict[tuple[str, str, str], list[Path_]] = {}
    for edge in made.get("edges", ()):
        if "pos" not in edge or "class" not in edge:
            continue
        parts = edge["pos"].split()
        tip = next((point(part[2:]) for part in parts if part.startswith("e,")), None)
        points = tuple(point(part) for part in parts if not part.startswith(("e,", "s,")))
        middle = point(edge["lp"]) if "lp" in edge else None
        ends = (names[edge["tail"]], names[edge["head"]], edge["class"])
        lines.setdefault(ends, []).append(Path_(points, tip, middle))
    return Places(right - left, top - bottom, boxes, tuple(zones[n] for n in sorted(zones)), lines)


_MISSING = 'The layout program is missing (package "graphviz-pure"). Install the program again.'


@cache
def _program() -> Path:
    from importlib.metadata import PackageNotFoundError, files

    try:
        listed = files("graphviz-pure") or []
    except PackageNotFoundError as error:
        raise CannotDraw(_MISSING) from error
    for file in listed:
        if file.stem == "graphviz-pure" and file.suffix in ("", ".exe"):
            return Path(str(file.locate()))
    raise CannotDraw(_MISSING)
