"""Sets a sheet in type: PDF (tagged, PDF/UA-1 and PDF/A-2a), SVG or PNG.

Deterministic: the same sheet gives the same bytes. Every format is set as PDF first, because only
there is a letter that no font has an error and not an empty box.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from protocol_lang.chart.arrange import (
    Arrangement,
    Column,
    Heights,
    arrange,
    brackets,
    stretches,
)
from protocol_lang.chart.faults import CannotPrint
from protocol_lang.chart.inks import INKS
from protocol_lang.chart.paper import POINTS_PER_MM, Paper, least_type, reading_distance
from protocol_lang.chart.pieces import (
    Piece,
    openers,
    pieces,
    tokens,
)
from protocol_lang.chart.sheet import Draft, HandState, Sheet, rows
from protocol_lang.chart.translate import plain
from protocol_lang.chart.typeset import Format, compiled, families, query
from protocol_lang.chart.words import Words, words_of

#: From where a chart is read unless told otherwise, in metres: someone at work before it.
USUAL_DISTANCE = 1.0
#: Type is never larger than this on A3 (points), and in proportion on other paper.
LARGEST_TYPE = 30.0
#: Margins and the space between columns on A3, in millimetres.
MARGIN, GUTTER = 13.0, 9.0
MOST_COLUMNS = 4

#: How rows are built, in parts of the type size.
ROW: Mapping[str, float] = {"pitch": 1.72, "badge": 1.3, "air": 0.14, "lead-in": 0.5}
#: Where in a row the hands change: in the middle of its first line.
_MIDDLE_OF_FIRST_LINE = ROW["air"] + ROW["badge"] / 2


@dataclass(frozen=True, slots=True)
class Printed:
    """``pages``: one PDF of all pages, or each page as SVG or PNG.

    ``type_size`` (points) of the steps, and ``readable_from`` (metres) by the rule of
    :mod:`protocol_lang.chart.paper`; ``sheets``: how many pages there are.
    """

    pages: tuple[bytes, ...]
    type_size: float
    readable_from: float
    sheets: int


def render(
    sheet: Sheet,
    format: Format = "pdf",
    paper: Paper = Paper.A3,
    *,
    distance: float = USUAL_DISTANCE,
    pixels_per_inch: float = 144,
) -> Printed:
    """The sheet in type, on the fewest pages on which it can be read from ``distance`` metres.

    Raises :class:`CannotPrint` with a sentence for people: a step that is too long for the paper,
    a letter that no font has, nothing to print. ValueError: see :func:`least_type`.
    """
    return render_all((sheet,), format, paper, distance=distance, pixels_per_inch=pixels_per_inch)


def render_all(
    sheets: Sequence[Sheet],
    format: Format = "pdf",
    paper: Paper = Paper.A3,
    *,
    distance: float = USUAL_DISTANCE,
    pixels_per_inch: float = 144,
) -> Printed:
    """The sheets one after the other, each as :func:`render` sets it; at least one.

    They are of one protocol under several choices: title, language and day are those of the first.
    What they share is measured once. The type size told is the smallest.
    """
    least = least_type(distance)
    first = sheets[0]
    measures: _Measures = {}
    jobs = [_Job(sheet, paper, least, measures) for sheet in sheets]
    arrangements = [job.arrangement() for job in jobs]
    drawing = {
        **jobs[0].common(),
        "use": "draw",
        "sheets": [
            job.drawing(arrangement) for job, arrangement in zip(jobs, arrangements, strict=True)
        ],
    }
    if len(sheets) > 1:
        drawing["document"] = {"title": plain(first.title), "description": plain(first.title)}
    pages = sum(len(arrangement.pages) for arrangement in arrangements)
    pdf = compiled(drawing, "pdf", pixels_per_inch, first.in_force)
    made = pdf if format == "pdf" else compiled(drawing, format, pixels_per_inch, None)
    if len(made) != (1 if format == "pdf" else pages):
        raise AssertionError("a page overflowed")
    size = min(arrangement.size for arrangement in arrangements)
    return Printed(
        pages=tuple(made), type_size=size, readable_from=reading_distance(size), sheets=pages
    )


#: (what of a piece tells its height, number of ribbons, size, width) -> its measures.
_Measures = dict[tuple[str, int, float, float], Mapping[str, Any]]


class _Job:
    """One sheet on one paper: what is common to measuring and drawing."""

    def __init__(self, sheet: Sheet, paper: Paper, least: float, known: _Measures) -> None:
        """``known``: measures of pieces that several jobs on the same paper share."""
        if not any(True for phase in sheet.phases for _ in rows(phase.items)):
            raise CannotPrint("There is no step to print.")
        self.sheet = sheet
        self.paper = paper
        self.least = least
        self.known = known
        self.words = words_of(sheet.language)
        self.pieces = pieces(sheet, self.words)
        self.openers = openers(sheet, self.words)
        self.given = [_given(piece) for piece in self.all_pieces()]
        self.keys = [json.dumps(_tells_height(given), sort_keys=True) for given in self.given]
        self.scale = paper.value.height / Paper.A3.value.height
        self.margin = MARGIN * self.scale
        self.gutter = GUTTER * self.scale * POINTS_PER_MM
        self.room = 0.0
        self.inner: dict[tuple[float, int], tuple[tuple[tuple[float, ...], ...], ...]] = {}

    def width(self, columns: int) -> float:
        whole = (self.paper.value.width - 2 * self.margin) * POINTS_PER_MM
        return (whole - (columns - 1) * self.gutter) / columns

    def arrangement(self) -> Arrangement:
        counts = range(1, MOST_COLUMNS + 1)
        most = max(LARGEST_TYPE * self.scale, self.least)
        first = self._measured([], [])
        self.room = (
            (self.paper.value.height - 2 * self.margin) * POINTS_PER_MM
            - first["head"]
            - first["foot"]
            - 8 * self.scale
        )
        found = None
        if self.room > 0:
            found = arrange(
                self.pieces,
                self.measure,
                self.room,
                least=self.least,
                most=most,
                column_counts=counts,
            )
        if found is None:
            raise CannotPrint(self.too_long())
        return found

    def all_pieces(self) -> list[Piece]:
        return [*self.pieces, *(piece for opener in self.openers for piece in opener)]

    def measure(self, tries: Sequence[tuple[float, int]]) -> list[Heights]:
        found = self.looked_up(tries)
        result = []
        for one, measured in zip(tries, found, strict=True):
            totals = tuple(None if m["total"] < 0 else m["total"] for m in measured)
            self.inner[one] = tuple(tuple(tuple(lane) for lane in m["lanes"]) for m in measured)
            rest = iter(totals[len(self.pieces) :])
            opening = [[next(rest) for _ in opener] for opener in self.openers]
            result.append(
                Heights(
                    totals[: len(self.pieces)],
                    tuple(heights[0] for heights in opening),
                    tuple(heights[1] if len(heights) > 1 else 0.0 for heights in opening),
                )
            )
        return result

    def looked_up(self, tries: Sequence[tuple[float, int]]) -> list[list[Mapping[str, Any]]]:
        """The measures of all pieces at each try; only those that nobody asked for are made."""
        ribbons = len(self.sheet.persons)

        def name(key: str, one: tuple[float, int]) -> tuple[str, int, float, float]:
            return key, ribbons, one[0], self.width(one[1])

        new = {
            key: given
            for key, given in zip(self.keys, self.given, strict=True)
            if any(name(key, one) not in self.known for one in tries)
        }
        if new:
            measured = self._measured(tries, list(new.values()))["pieces"]
            for one, of_try in zip(tries, measured, strict=True):
                for key, piece in zip(new, of_try, strict=True):
                    self.known[name(key, one)] = piece
        return [[self.known[name(key, one)] for key in self.keys] for one in tries]

    def too_long(self) -> str:
        """The one thing that stands in the way, as a sentence."""
        metres = reading_distance(self.least)
        at = f"on {self.paper.shown} with letters that can be read from {metres:.3g} m"
        mend = "Give it a short text, take larger paper or a shorter reading distance."
        if self.room <= 0:
            return (
                f"Title and foot leave no room for steps {at}. Give the protocol a shorter title."
            )
        heights = self.measure([(self.least, 1)])[0]
        for piece, height in zip(self.pieces, heights.pieces, strict=True):
            if height is None or height > self.room:
                named = piece.data.get("number")
                what = f"Step {named}" if named else f'A part of "{self.phase_title(piece)}"'
                return f"{what} does not fit {at}. {mend}"
        return f"The steps do not fit {at} in the pages allowed. {mend}"

    def phase_title(self, piece: Piece) -> str:
        return self.sheet.phases[piece.phase].title

    # --- What the template is given ---------------------------------------------------------------

    def common(self) -> dict[str, Any]:
        size = self.paper.value
        words = self.words
        return {
            "document": {"title": self.document_title(), "description": plain(self.sheet.title)},
            "language": self.sheet.language,
            "fonts": list(families()),
            "inks": dict(INKS),
            "paper": {"width": size.width, "height": size.height},
            "margin": self.margin,
            "ribbons": len(self.sheet.persons),
            "row": dict(ROW),
            "head": self.head(words),
            "foot": self.foot(words),
        }

    def document_title(self) -> str:
        parts = [f"{name}: {value}" for name, value in self.sheet.choices]
        return plain(", ".join([self.sheet.title, *parts]))

    def head(self, words: Words) -> dict[str, Any]:
        sheet = self.sheet
        dates = []
        if sheet.edition is not None:
            dates.append(words.edition.format(n=sheet.edition))
        if sheet.in_force:
            dates.append(words.in_force.format(day=words.day(sheet.in_force)))
        lines = [", ".join(dates)] if dates else []
        if sheet.review_by:
            lines.append(words.review_by.format(day=words.day(sheet.review_by)))
        if sheet.owner:
            lines.append(words.owner.format(owner=sheet.owner))
        return {
            "title": sheet.title,
            "room": sheet.room or "",
            "lines": [line[:1].upper() + line[1:] for line in lines],
            "choices": [[name, value] for name, value in sheet.choices],
            "never-head": words.never_touch,
            "never": ", ".join(sheet.never_touch),
        }

    def foot(self, words: Words) -> dict[str, Any]:
        sheet = self.sheet
        shown = {hands.state for phase in sheet.phases for hands in phase.hands_before.values()}
        for phase in sheet.phases:
            for row in rows(phase.items):
                shown |= {hands.state for hands in row.hands.values()}
        marks = tokens(sheet.persons)
        draft = isinstance(sheet.mark, Draft)
        as_written = words.as_written
        if sheet.checked_on is not None:
            as_written = words.as_written_on.format(day=words.day(sheet.checked_on))
        return {
            "legend": words.legend,
            "states": [
                {"state": state.name, "words": words.hands[state]}
                for state in reversed(HandState)
                if state in shown
            ],
            "persons": [{"token": marks[person], "person": person} for person in sheet.persons],
            "cautions": [*words.cautions, *([] if draft else [as_written]), *sheet.cautions],
            "draft": draft,
            "draft-word": words.draft,
            "mark": words.draft_because.format(reason=sheet.mark.reason)
            if isinstance(sheet.mark, Draft)
            else words.checked,
        }

    def _measured(self, tries: Sequence[tuple[float, int]], pieces: Sequence[Any]) -> Any:
        given = {
            **self.common(),
            "use": "measure",
            "page-words": self.words.sheet_of.format(n=8, all=8),
            "pieces": pieces,
            "tries": [{"size": size, "width": self.width(columns)} for size, columns in tries],
        }
        return query(given)

    def drawing(self, arrangement: Arrangement) -> dict[str, Any]:
        inner = self.inner[arrangement.size, arrangement.columns]
        heights = self.measure([(arrangement.size, arrangement.columns)])[0]
        total = len(arrangement.pages)
        return {
            "head": self.head(self.words),
            "foot": self.foot(self.words),
            "ribbons": len(self.sheet.persons),
            "size": arrangement.size,
            "columns": arrangement.columns,
            "width": self.width(arrangement.columns),
            "gutter": self.gutter,
            "pages": [
                {
                    "words": self.words.sheet_of.format(n=number, all=total) if total > 1 else "",
                    "columns": [
                        self.column(column, heights, inner, arrangement.size) for column in page
                    ],
                }
                for number, page in enumerate(arrangement.pages, start=1)
            ],
        }

    def column(
        self,
        column: Column,
        heights: Heights,
        inner: Sequence[Sequence[Sequence[float]]],
        size: float,
    ) -> dict[str, Any]:
        standing = list(self.pieces[column.first : column.end])
        high = [height or 0.0 for height in heights.pieces[column.first : column.end]]
        lanes = list(inner[column.first : column.end])
        if column.continued:
            phase = standing[0].phase
            opener = self.openers[phase][: 2 if column.warned else 1]
            opening = (heights.continued[phase], heights.warnings[phase])[: len(opener)]
            hands = standing[0].before
            standing[:0] = [replace(piece, before=hands, after=hands) for piece in opener]
            high[:0] = [height or 0.0 for height in opening]
            lanes[:0] = [() for _ in opener]
        return {
            "pieces": [
                {
                    **_given(piece),
                    "placed": [
                        _placed(lane, lane_heights, size)
                        for lane, lane_heights in zip(piece.lanes, of_lanes, strict=True)
                    ],
                }
                for piece, of_lanes in zip(standing, lanes, strict=True)
            ],
            "placed": _placed(standing, high, size),
        }


def _given(piece: Piece) -> dict[str, Any]:
    """A piece as the template takes it."""
    longest = sorted(set(piece.words), key=lambda word: (-len(word), word))[:3]
    return {
        "kind": piece.kind,
        "data": dict(piece.data),
        "within": [kind for _, kind in piece.within],
        "lanes": [[_given(one) for one in lane] for lane in piece.lanes],
        "words": longest,
    }


def _tells_height(given: Mapping[str, Any]) -> dict[str, Any]:
    """A piece without what its height does not depend on: its number, and on which ribbon it is."""
    data = {name: one for name, one in given["data"].items() if name not in _NO_HEIGHT}
    on_a_ribbon = given["data"].get("lane", 0) >= 0
    lanes = [[_tells_height(one) for one in lane] for lane in given["lanes"]]
    return {**given, "data": data, "lanes": lanes, "ribbon": on_a_ribbon}


_NO_HEIGHT = frozenset({"number", "state", "lane", "letter"})


def _placed(standing: Sequence[Piece], heights: Sequence[float], size: float) -> dict[str, Any]:
    """Ribbons and brackets down a column or lane. No ribbon runs through a band or past lanes."""
    ribbons: list[dict[str, object]] = []
    run: list[tuple[float, float | None, Sequence[str], Sequence[str]]] = []
    top = start = 0.0
    for piece, height in zip(standing, heights, strict=True):
        if piece.kind in ("band", "lanes"):
            ribbons += _lowered(stretches(run), start)
            run, start = [], top + height
            if piece.kind == "band":
                lead_in = ROW["lead-in"] * size
                run, start = [(lead_in, None, piece.after, piece.after)], start - lead_in
        else:
            change = _MIDDLE_OF_FIRST_LINE * size if piece.kind == "row" else None
            run.append((height, change, piece.before, piece.after))
        top += height
    ribbons += _lowered(stretches(run), start)
    return {
        "heights": list(heights),
        "ribbons": ribbons,
        "brackets": brackets(
            [(height, piece.within) for piece, height in zip(standing, heights, strict=True)]
        ),
    }


def _lowered(runs: list[dict[str, Any]], by: float) -> list[dict[str, object]]:
    return [{**run, "top": run["top"] + by, "bottom": run["bottom"] + by} for run in runs]
