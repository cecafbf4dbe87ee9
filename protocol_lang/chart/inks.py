"""The colours of charts, and which stands on which: tested for contrast.

None is the only sign of anything: hands are told apart by width, outline and pattern as well.
"""

from __future__ import annotations

from collections.abc import Mapping

#: Name to sRGB.
INKS: Mapping[str, str] = {
    "paper": "#ffffff",
    "ink": "#12303c",  # text, bands, outlines
    "quiet": "#45565f",  # names of people before a step, small print
    "line": "#b9c4c9",  # hairlines that carry no meaning
    "tint": "#e4ebee",  # behind the heads of panels
    "soil": "#a52a12",  # used hands, do not touch, draft
    "soil tint": "#fbeee9",
    "clean": "#10608f",  # clean hands
    "clean tint": "#cfe4f2",
    "doubt": "#5a4a12",  # unknown, not clean
}

#: (what, on what, letters or a shape): WCAG 2.x asks 4.5 of letters and 3 of shapes with meaning.
PAIRS: tuple[tuple[str, str, str], ...] = (
    ("ink", "paper", "letters"),
    ("quiet", "paper", "letters"),
    ("soil", "paper", "letters"),
    ("clean", "paper", "letters"),
    ("doubt", "paper", "letters"),
    ("paper", "ink", "letters"),
    ("paper", "soil", "letters"),
    ("ink", "tint", "letters"),
    ("ink", "soil tint", "letters"),
    ("soil", "soil tint", "letters"),
    ("soil", "paper", "shape"),
    ("clean", "paper", "shape"),
    ("paper", "clean", "shape"),
    ("paper", "ink", "shape"),
    ("clean", "clean tint", "shape"),
    ("doubt", "paper", "shape"),
    ("ink", "paper", "shape"),
)
