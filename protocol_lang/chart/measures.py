"""How high pieces are at several sizes and widths, asked of the typesetter as seldom as can be.

Sheets of one protocol share most of their pieces, so each is measured once for all of them. And the
fewest sizes are measured: broken into lines one after the other, a text has never fewer lines in a
narrower column, nor in larger type; so where it is as high, in parts of its type, at two sizes, it
is so at all between them.

* Where all lengths of a piece are parts of the type size, only the ratio of width to size counts.
* Small print of a piece may stand at the least size that can be read, whatever the type size: then
  only sizes in one width are compared. At the very least size all print is equally large, and what
  is less high above it may be as high there by chance: that size speaks for no other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from protocol_lang.chart.pieces import Piece
from protocol_lang.chart.typeset import queries, query

#: (size, width of the column), in points.
Try = tuple[float, float]

#: Parts of the type size, as the template uses them: type in a panel, small print, and the air
#: above and below an entry and above a label.
PARTS: Mapping[str, float] = {"panel": 0.88, "small": 0.72, "entry-air": 0.2, "label-air": 0.2}
#: The smallest print that does not go below what can be read, and that stands in any piece.
_SMALLEST = 0.72
#: Heights are told to this many decimals of a point, so that one worked out equals one measured.
_DECIMALS = 6
_EQUAL = 1e-7
#: So many tries are worth being measured beside others, on a processor of their own.
_WORTH_A_SHARE = 50


@dataclass(frozen=True, slots=True)
class High:
    """``total``: the height of a piece in points, None if a word is wider than its line. ``lanes``:
    the heights of what stands in each lane, where there are any."""

    total: float | None
    lanes: tuple[tuple[float, ...], ...] = ()


@dataclass(slots=True)
class _Measured:
    """A piece, and what is known of it. ``ribbons``: how many stand beside it."""

    shape: Mapping[str, Any]
    ribbons: int
    known: dict[Try, High] = field(default_factory=dict)
    asked: set[Try] = field(default_factory=set)

    def at(self, one: Try, least: float) -> High | None:
        """How high it is there, if that is known or follows from what was measured."""
        found = self.known.get(one)
        if found is None:
            found = self._between(one, least)
            if found is not None:
                self.known[one] = found
        return found

    def _between(self, one: Try, least: float) -> High | None:
        if self.shape["kind"] == "lanes":
            return None
        size, width = one
        if self.in_parts(size, least):
            others = [
                (w / k, self._part(k, w, least)) for k, w in self.asked if self.in_parts(k, least)
            ]
            place = width / size
        else:
            others = [
                (k, self._part(k, w, least))
                for k, w in self.asked
                if w == width and self.speaks(k, least)
            ]
            place = size
        below = max((other for other in others if other[0] <= place), default=None)
        above = min((other for other in others if other[0] >= place), default=None)
        if below is None or above is None:
            return None
        part, other_part = below[1], above[1]
        if part is None or other_part is None:
            return High(None) if part is other_part else None
        if abs(part - other_part) > _EQUAL:
            return None
        air, own = self._own(size, least)
        return High(round(air + part * own, _DECIMALS))

    def _part(self, size: float, width: float, least: float) -> float | None:
        total = self.known[size, width].total
        if total is None:
            return None
        air, own = self._own(size, least)
        return (total - air) / own

    def _own(self, size: float, least: float) -> tuple[float, float]:
        """(air above and below, the size of its print), in points, at a type size."""
        kind = self.shape["kind"]
        if kind == "entry":
            return 2 * PARTS["entry-air"] * size, max(PARTS["panel"] * size, least)
        if kind == "label":
            return PARTS["label-air"] * size, max(PARTS["small"] * size, least)
        return 0.0, size

    def in_parts(self, size: float, least: float) -> bool:
        """Whether all its lengths are parts of the type size, then and in larger type."""
        data = self.shape["data"]
        kind = self.shape["kind"]
        if kind in ("note", "remark"):
            return True
        if kind in ("band", "panel"):
            small = data["continued"] or data.get("begins")
        elif kind == "row":
            small = any(data[name] for name in _SMALL_IN_ROWS)
        else:
            small = True
        return not small or _SMALLEST * size >= least

    def speaks(self, size: float, least: float) -> bool:
        """Whether its height at this size says something of other sizes."""
        return self.shape["kind"] in ("entry", "label") or size > least * (1 + 1e-9)

    def ends(self, tries: Sequence[Try], least: float) -> Iterator[Try]:
        """Those of ``tries`` from which the others may follow."""
        if self.shape["kind"] == "lanes":
            yield from tries
            return
        axes: dict[float, list[Try]] = {}
        for one in tries:
            size, width = one
            if self.in_parts(size, least):
                axes.setdefault(0.0, []).append(one)
            elif self.speaks(size, least):
                axes.setdefault(width, []).append(one)
            else:
                yield one
        for axis in axes.values():
            axis.sort(key=lambda one: one[1] / one[0])
            yield axis[0]
            if len(axis) > 1:
                yield axis[-1]


class Measures:
    """``common``: what the template is given in any case."""

    def __init__(self, common: Mapping[str, Any]) -> None:
        self.common = common
        self.least: float = common["least"]
        self.pieces: dict[str, _Measured] = {}

    def keep(self, ribbons: int, pieces: Sequence[Piece]) -> list[str]:
        """Take pieces that will be asked for, on a sheet with so many ribbons: gives their keys."""
        keys = []
        for piece in pieces:
            beside = ribbons if piece.kind not in _WITHOUT_RIBBONS else 0
            shape = given(piece)
            key = json.dumps([beside, _tells_height(shape)], sort_keys=True)
            if key not in self.pieces:
                self.pieces[key] = _Measured(shape, beside)
            keys.append(key)
        return keys

    def around(self, heads: Sequence[Mapping[str, Any]]) -> list[Mapping[str, float]]:
        """The heights of ``head`` and ``foot``, for each of the sheets given."""
        found = query({**self.common, "use": "around", "sheets": heads})
        return [dict(one) for one in found]

    def want(self, asked: Iterable[tuple[Sequence[str], Sequence[Try]]]) -> None:
        """Measure what will be looked at: for each of several sheets, (keys, tries).

        First what lies outermost; then what does not follow from it.
        """
        wanted: dict[str, dict[Try, None]] = {}
        for keys, tries in asked:
            for key in keys:
                wanted.setdefault(key, {}).update(dict.fromkeys(tries))
        for ends_only in (True, False):
            missing: dict[str, list[Try]] = {}
            for key, looked_at in wanted.items():
                piece = self.pieces[key]
                left = [one for one in looked_at if piece.at(one, self.least) is None]
                if left and ends_only:
                    left = list(piece.ends(left, self.least))
                if left:
                    missing[key] = left
            self._measure(missing)

    def _measure(self, missing: Mapping[str, Sequence[Try]]) -> None:
        if not missing:
            return
        shares = _shares(missing)
        for share, found in zip(shares, queries(map(self._asked, shares)), strict=True):
            for (key, tries), measured in zip(share.items(), found, strict=True):
                piece = self.pieces[key]
                piece.asked.update(tries)
                for one, told in zip(tries, measured, strict=True):
                    total = None if told["total"] < 0 else round(told["total"], _DECIMALS)
                    piece.known[one] = High(total, tuple(map(tuple, told["lanes"])))

    def _asked(self, missing: Mapping[str, Sequence[Try]]) -> dict[str, Any]:
        """What the template is given to measure these."""
        return {
            **self.common,
            "use": "measure",
            "pieces": [
                {
                    **self.pieces[key].shape,
                    "ribbons": self.pieces[key].ribbons,
                    "tries": [{"size": size, "width": width} for size, width in tries],
                }
                for key, tries in missing.items()
            ],
        }

    def look(self, keys: Sequence[str], tries: Sequence[Try]) -> list[list[High]]:
        """For each try, the measures of the pieces with these keys."""
        pieces = [self.pieces[key] for key in keys]
        if not all(one in piece.known for piece in pieces for one in tries):
            self.want([(keys, tries)])
        return [[piece.known[one] for piece in pieces] for one in tries]


def _shares(missing: Mapping[str, Sequence[Try]]) -> list[dict[str, Sequence[Try]]]:
    """The same in parts with about as many tries each, as many as there are processors for."""
    tries = sum(map(len, missing.values()))
    many = max(1, min(os.cpu_count() or 1, tries // _WORTH_A_SHARE))
    most_first = sorted(missing, key=lambda key: -len(missing[key]))
    return [{key: missing[key] for key in most_first[number::many]} for number in range(many)]


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
#: Pieces beside which no ribbon runs.
_WITHOUT_RIBBONS = frozenset({"never", "panel", "entry", "remark"})
#: What of a row is print that does not go below the least size.
_SMALL_IN_ROWS = ("hand", "after", "wait", "meanwhile", "changes", "skip", "touch", "warning")
