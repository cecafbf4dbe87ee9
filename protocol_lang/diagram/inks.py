"""The colours of pictures: those of charts where both have one, so that they hang side by side.

A test holds the two tables together; the chart and the diagram do not know each other.
"""

from __future__ import annotations

from collections.abc import Mapping

#: Name to sRGB. None is the only sign of anything: width, dash, pattern and words say it as well.
INKS: Mapping[str, str] = {
    "paper": "#ffffff",
    "ink": "#12303c",
    "quiet": "#45565f",
    "line": "#b9c4c9",
    "soil": "#a52a12",
    "soil tint": "#fbeee9",
    "clean tint": "#cfe4f2",
    "pale": "#8c9aa1",  # lines that say the least: contacts without soil, order across phases
    "ground": "#f0f3f4",  # behind a phase or zone
    "hatch": "#cf8d7e",  # the pattern of a trace, over the tint
}
