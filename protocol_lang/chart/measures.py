"""How high pieces are at several sizes and widths, asked of the typesetter as seldom as can be.

Sheets of one protocol share most of their pieces, so those of all sheets are measured together when
a size is first asked for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from protocol_lang.chart.pieces import Piece
from protocol_lang.chart.typeset import query

#: (size, width of the column), in points.
Try = tuple[float, float]


class Measures:
    """``common``: what the template is given in any case."""

    def __init__(self, common: Mapping[str, Any]) -> None:
        self.common = common
        self.pieces: dict[int, dict[str, Mapping[str, Any]]] = {}
        self.known: dict[tuple[str, int, Try], Mapping[str, Any]] = {}

    def keep(self, ribbons: int, pieces: Sequence[Piece]) -> list[str]:
        """Take pieces that will be asked for, on a sheet with so many ribbons: gives their keys."""
        keys = []
        for piece in pieces:
            shape = given(piece)
            key = json.dumps(_tells_height(shape), sort_keys=True)
            self.pieces.setdefault(ribbons, {}).setdefault(key, shape)
            keys.append(key)
        return keys

    def around(self, heads: Sequence[Mapping[str, Any]]) -> list[Mapping[str, float]]:
        """The heights of ``head`` and ``foot``, for each of the sheets given."""
        found = query({**self.common, "use": "around", "sheets": heads})
        return [dict(one) for one in found]

    def look(
        self, ribbons: int, keys: Sequence[str], tries: Sequence[Try]
    ) -> list[list[Mapping[str, Any]]]:
        """For each try, the measures of the pieces with these keys."""
        if any((key, ribbons, one) not in self.known for key in keys for one in tries):
            everything = self.pieces[ribbons]
            wanted = {
                key: shape
                for key, shape in everything.items()
                if any((key, ribbons, one) not in self.known for one in tries)
            }
            measured = query(
                {
                    **self.common,
                    "use": "measure",
                    "ribbons": ribbons,
                    "pieces": list(wanted.values()),
                    "tries": [{"size": size, "width": width} for size, width in tries],
                }
            )
            for one, of_try in zip(tries, measured, strict=True):
                for key, piece in zip(wanted, of_try, strict=True):
                    self.known[key, ribbons, one] = piece
        return [[self.known[key, ribbons, one] for key in keys] for one in tries]


def given(piece: Piece, level: int = 2) -> dict[str, Any]:
    """A piece as the template takes it. ``level``: of the headings of phases and panels."""
    longest = sorted(set(piece.words), key=lambda word: (-len(word), word))[:3]
    return {
        "kind": piece.kind,
        "data": {**piece.data, "level": level},
        "within": [kind for _, kind in piece.within],
        "lanes": [[given(one, level) for one in lane] for lane in piece.lanes],
        "words": longest,
    }


def _tells_height(shape: Mapping[str, Any]) -> dict[str, Any]:
    """A piece without what its height does not depend on: its number, and on which ribbon it is."""
    data = {name: one for name, one in shape["data"].items() if name not in _NO_HEIGHT}
    on_a_ribbon = shape["data"].get("lane", 0) >= 0
    lanes = [[_tells_height(one) for one in lane] for lane in shape["lanes"]]
    return {**shape, "data": data, "lanes": lanes, "ribbon": on_a_ribbon}


_NO_HEIGHT = frozenset({"number", "state", "lane", "letter", "level", "first"})
