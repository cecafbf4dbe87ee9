"""The one place that runs the layout program: text in, SVG or PNG out."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Literal

from protocol_lang.diagram.graph import Graph
from protocol_lang.diagram.text import text


class CannotDraw(Exception):
    """The picture cannot be drawn; the text is one sentence for people, with the mend."""


def draw(graph: Graph, format: Literal["svg", "png"] = "svg") -> bytes:
    """The picture of a graph.

    The layout program comes with the package ``graphviz-pure``; nothing on PATH is asked.
    Raises :class:`CannotDraw` when the program is missing or fails, ValueError when the order runs
    in a circle.
    """
    return placed(text(graph), format)


def placed(picture: str, format: Literal["svg", "png"] = "svg") -> bytes:
    """The bytes that the layout program makes of a text in its language."""
    import graphviz  # type: ignore[import-untyped]
    import graphviz.backend.dot_command as dot_command  # type: ignore[import-untyped]

    dot_command.DOT_BINARY = _program()
    try:
        made = graphviz.Source(picture).pipe(format=format, quiet=True)
    except graphviz.CalledProcessError as error:
        raise CannotDraw("The layout program could not draw this picture.") from error
    except graphviz.ExecutableNotFound as error:
        raise CannotDraw(_MISSING) from error
    return bytes(made)


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
