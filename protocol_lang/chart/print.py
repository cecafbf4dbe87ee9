"""Sets sheets in type: PDF (tagged, PDF/UA-1 and PDF/A-2a), SVG or PNG.

Deterministic: the same sheet gives the same bytes. Every format is set as PDF first, because only
there is a letter that no font has an error and not an empty box.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias, TypeVar

from protocol_lang.chart import around
from protocol_lang.chart.arrange import (
    MOST_PAGES,
    Arrangement,
    Column,
    Heights,
    Try,
    arranging,
    brackets,
    frames,
    levelled,
    sizes_between,
    stretches,
)
from protocol_lang.chart.faults import CannotPrint
from protocol_lang.chart.inks import INKS
from protocol_lang.chart.measures import PARTS, High, Measures, given
from protocol_lang.chart.paper import POINTS_PER_MM, Paper, Size, least_type, reading_distance
from protocol_lang.chart.pieces import Piece, never, openers, pieces, pieces_beside
from protocol_lang.chart.sheet import Sheet, rows
from protocol_lang.chart.translate import ORIGINAL, plain
from protocol_lang.chart.typeset import Format, compiled, families
from protocol_lang.chart.words import words_of

#: From where a chart is read unless told otherwise, in metres: someone at work before it.
USUAL_DISTANCE = 1.0
#: Type is never larger than this on A3 (points), and in proportion on other paper.
LARGEST_TYPE = 30.0
#: Margins and the space between columns on A3, in millimetres.
MARGIN, GUTTER = 13.0, 9.0
MOST_COLUMNS = 4
#: Lines worth trying, in parts of the type size (two to three letters each).
SHORTEST_LINE, LONGEST_LINE = 9.0, 50.0
#: What is told beside the steps stands on their pages if they need no more of these, and type that
#: is no smaller than this part of the size without it; else on a sheet of its own.
BESIDE_IS_WORTH = 0.85
#: What used hands never touch stands once, before the steps, and not in every head, where these are
#: on more pages than :data:`~protocol_lang.chart.arrange.MOST_PAGES` otherwise; then at most on so
#: many.
MOST_PAGES_APART = 24
#: Where a page is not full, its lines stand apart by at most this part of the type size more.
MOST_AIR = 0.4

_Result = TypeVar("_Result")

#: How rows are built, in parts of the type size.
ROW: Mapping[str, float] = {"pitch": 1.72, "badge": 1.3, "air": 0.14, "lead-in": 0.5}
#: Where in a row the hands change: in the middle of its first line.
_MIDDLE_OF_FIRST_LINE = ROW["air"] + ROW["badge"] / 2


@dataclass(frozen=True, slots=True)
class Printed:
    """``pages``: one PDF of all pages, or each page as SVG or PNG.

    ``type_size`` (points) of the steps, and ``readable_from`` (metres) by the rule of
    :mod:`protocol_lang.chart.paper`, the smallest of all; ``sheets``: how many pages there are.
    ``beside``: how many of these hold only what is told beside the steps. ``long``: how many charts
    have their steps on more than one page. ``most``: of one chart, the most pages.
    """

    pages: tuple[bytes, ...]
    type_size: float
    readable_from: float
    sheets: int
    beside: int = 0
    long: int = 0
    most: int = 1


def render(
    sheet: Sheet,
    format: Format = "pdf",
    paper: Paper = Paper.A3,
    *,
    distance: float = USUAL_DISTANCE,
    upright: bool = False,
    pixels_per_inch: float = 144,
) -> Printed:
    """The sheet in type, on the fewest pages on which it can be read from ``distance`` metres.

    Raises :class:`CannotPrint` with a sentence for people: a step that is too long for the paper,
    a letter that no font has, nothing to print. ValueError: see :func:`least_type`.
    """
    return render_all(
        (sheet,),
        format,
        paper,
        distance=distance,
        upright=upright,
        pixels_per_inch=pixels_per_inch,
    )


def render_all(
    sheets: Sequence[Sheet],
    format: Format = "pdf",
    paper: Paper = Paper.A3,
    *,
    distance: float = USUAL_DISTANCE,
    upright: bool = False,
    title: str | None = None,
    pixels_per_inch: float = 144,
) -> Printed:
    """The sheets one after the other, each as :func:`render` sets it; at least one.

    The PDF has a bookmark for each protocol, and under it one for each choice. Sheets of one
    protocol follow each other; language and day are those of the first sheet. ``title``: of the
    whole, where the sheets are of several protocols. What they share is measured once.
    """
    least = least_type(distance)
    first = sheets[0]
    size = paper.value.upright if upright else paper.value
    look = _Look(first, size, least)
    measures = Measures(look.common())
    opening = [
        number == 0 or sheets[number - 1].title != sheet.title
        for number, sheet in enumerate(sheets)
    ]
    jobs = [
        _Job(sheet, paper, look, measures, opens)
        for sheet, opens in zip(sheets, opening, strict=True)
    ]
    found = _settled(jobs, measures)
    long = [number for number, setting in enumerate(found) if setting is None]
    if long:
        for number in long:
            jobs[number] = _Job(sheets[number], paper, look, measures, opening[number], apart=True)
        for number, setting in zip(long, _settled([jobs[n] for n in long], measures), strict=True):
            found[number] = setting
    settings = [setting for setting in found if setting is not None]
    drawing = {
        **look.common(),
        "use": "draw",
        "document": _document(sheets, title),
        "sheets": [job.drawing(setting) for job, setting in zip(jobs, settings, strict=True)],
    }
    pages = sum(len(setting.pages) for setting in settings)
    pdf = compiled(drawing, "pdf", pixels_per_inch, first.in_force)
    made = pdf if format == "pdf" else compiled(drawing, format, pixels_per_inch, None)
    if len(made) != (1 if format == "pdf" else pages):
        raise AssertionError("a page overflowed")
    smallest = min(part.size for setting in settings for part in setting.parts)
    return Printed(
        pages=tuple(made),
        type_size=smallest,
        readable_from=reading_distance(smallest),
        sheets=pages,
        beside=sum(len(part.pages) for setting in settings for part in setting.parts[1:]),
        long=sum(len(setting.parts[0].pages) > 1 for setting in settings),
        most=max(len(setting.pages) for setting in settings),
    )


def _settled(jobs: Sequence[_Job], measures: Measures) -> list[_Setting | None]:
    """How each of the sheets is set; what they ask to be measured is measured for all at once.
    None: it would be on too many pages, and is to be set apart from its head."""
    surrounds = measures.around([job.surround() for job in jobs])
    asking = {
        n: job.setting(high) for n, (job, high) in enumerate(zip(jobs, surrounds, strict=True))
    }
    settled: dict[int, _Setting | None] = {}
    while asking:
        tries = {}
        for number, one in list(asking.items()):
            try:
                tries[number] = next(one)
            except StopIteration as end:
                settled[number] = end.value
                del asking[number]
        measures.want((jobs[n].keys, jobs[n].widths(asked)) for n, asked in tries.items())
    return [settled[number] for number in range(len(jobs))]


def _document(sheets: Sequence[Sheet], title: str | None) -> dict[str, str]:
    """Title and description of the whole file."""
    first = sheets[0]
    if len(sheets) == 1 and title is None:
        parts = [f"{name}: {value}" for name, value in first.choices]
        named = ", ".join([first.title, *parts])
    else:
        named = title or first.title
    return {"title": plain(named), "description": plain(title or first.title)}


class _Look:
    """What all sheets of one file share."""

    def __init__(self, first: Sheet, size: Size, least: float) -> None:
        self.first = first
        self.size = size
        self.least = least
        self.words = words_of(first.language)
        self.scale = min(size.width, size.height) / Paper.A3.value.height
        self.margin = MARGIN * self.scale
        self.gutter = GUTTER * self.scale * POINTS_PER_MM
        # The same sizes for all sheets, and with and without panels: so each is measured once.
        self.sizes = sizes_between(least, max(LARGEST_TYPE * self.scale, least))

    def common(self) -> dict[str, Any]:
        return {
            "document": _document((self.first,), None),
            "language": self.first.language,
            "original": ORIGINAL.lower(),
            "rtl": self.words.right_to_left,
            "least": self.least,
            "fonts": list(families()),
            "inks": dict(INKS),
            "paper": {"width": self.size.width, "height": self.size.height},
            "margin": self.margin,
            "row": dict(ROW),
            "parts": dict(PARTS),
        }

    def width(self, columns: int) -> float:
        whole = (self.size.width - 2 * self.margin) * POINTS_PER_MM
        return (whole - (columns - 1) * self.gutter) / columns


#: What asks for tries to be measured until it has a result.
_Asking: TypeAlias = Generator[Sequence[Try], None, _Result]


@dataclass(frozen=True, slots=True)
class _Setting:
    """``parts``: the steps, with or without what is told beside them; then that on its own pages.

    The columns count the pieces through both.
    """

    parts: tuple[Arrangement, ...]

    @property
    def pages(self) -> list[tuple[Arrangement, tuple[Column, ...]]]:
        return [(part, page) for part in self.parts for page in part.pages]


class _Job:
    """One sheet on one paper: what is common to measuring and drawing."""

    def __init__(
        self,
        sheet: Sheet,
        paper: Paper,
        look: _Look,
        measures: Measures,
        opens: bool,
        apart: bool = False,
    ) -> None:
        """``apart``: what used hands never touch stands before the steps, not in the head."""
        if not any(True for phase in sheet.phases for _ in rows(phase.items)):
            raise CannotPrint("There is no step to print.")
        self.sheet = sheet
        self.paper = paper
        self.look = look
        self.words = look.words
        self.measures = measures
        self.ribbons = len(sheet.persons)
        self.apart = apart
        main = (*(never(sheet, self.words) if apart else ()), *pieces(sheet, self.words))
        self.steps = len(main)  # pieces before those that are told beside the steps
        self.pieces = (*main, *pieces_beside(sheet, self.words))
        self.openers = openers(sheet, self.words)
        every = [*self.pieces, *(piece for opener in self.openers for piece in opener)]
        self.keys = measures.keep(self.ribbons, every)
        self.around = {
            "head": around.head(sheet, self.words, opens=opens) | ({"never": ""} if apart else {}),
            "foot": around.foot(sheet, self.words),
        }
        self.room = 0.0

    def surround(self) -> dict[str, Any]:
        """Head and foot, as they are measured."""
        return {**self.around, "words": self.words.sheet_of.format(n=8, all=8)}

    # --- How the pieces stand ---------------------------------------------------------------------

    def setting(self, high: Mapping[str, float]) -> _Asking[_Setting | None]:
        """``high``: the heights of ``head`` and ``foot``, in points. None: it is too long, and may
        yet be set apart.

        Yields the tries that it looks at next, to be measured until it goes on.
        """
        look = self.look
        self.room = (
            (look.size.height - 2 * look.margin) * POINTS_PER_MM
            - high["head"]
            - high["foot"]
            - 8 * look.scale
        )
        can_be_apart = bool(self.sheet.never_touch) and not self.apart
        if self.room <= 0:
            if can_be_apart:
                return None
            raise CannotPrint(self.too_long())
        most = look.sizes[-1]
        steps = yield from self.arranged(0, self.steps, look.least, most)
        if steps is None and can_be_apart:
            return None
        if steps is None:  # it is worth many pages, rather than none
            steps = yield from self.arranged(
                0, self.steps, look.least, look.least, MOST_PAGES_APART, MOST_PAGES + 1
            )
        if steps is None:
            raise CannotPrint(self.too_long())
        if self.steps == len(self.pieces):
            return _Setting((steps,))
        fewest = max(look.least, BESIDE_IS_WORTH * steps.size)
        whole = yield from self.arranged(0, len(self.pieces), fewest, steps.size, len(steps.pages))
        if whole is not None:
            return _Setting((whole,))
        beside = yield from self.arranged(self.steps, len(self.pieces), look.least, steps.size)
        if beside is None:
            raise CannotPrint(self.too_long())
        (high_there,) = self.heights([(beside.size, beside.columns)])
        return _Setting((steps, levelled(beside, self.pieces, high_there, self.room)))

    def arranged(
        self,
        first: int,
        end: int,
        least: float,
        most: float,
        pages: int | None = None,
        fewest: int = 1,
    ) -> _Asking[Arrangement | None]:
        """The pieces from ``first`` to before ``end``; columns count from the first of all.
        ``fewest``: pages that are tried first, where fewer are known not to do."""

        def tried(sensible: Callable[[float, int], bool]) -> _Asking[Arrangement | None]:
            asking = arranging(
                self.pieces[first:end],
                self.room,
                least=least,
                most=most,
                column_counts=range(1, MOST_COLUMNS + 1),
                sensible=sensible,
                sizes=self.look.sizes,
                most_pages=pages,
                fewest_pages=fewest,
            )
            try:
                tries = next(asking)
                while True:
                    yield tries
                    heights = self.heights(tries)
                    tries = asking.send([replace(h, pieces=h.pieces[first:end]) for h in heights])
            except StopIteration as end_of_search:
                result: Arrangement | None = end_of_search.value
                return result

        found = yield from tried(self.sensible)
        if found is None and pages is None:  # a word may need a line that is too long otherwise
            found = yield from tried(lambda size, columns: True)
        if found is None or first == 0:
            return found
        moved = tuple(
            tuple(replace(c, first=c.first + first, end=c.end + first) for c in page)
            for page in found.pages
        )
        return replace(found, pages=moved)

    def sensible(self, size: float, columns: int) -> bool:
        """Whether lines are neither too long to be found again nor too short for a few words."""
        length = self.look.width(columns) / size
        long = length > LONGEST_LINE and columns < MOST_COLUMNS
        return not long and (length >= SHORTEST_LINE or columns == 1)

    def widths(self, tries: Sequence[Try]) -> list[tuple[float, float]]:
        """The tries with the width of a column in place of their number."""
        return [(size, self.look.width(columns)) for size, columns in tries]

    def measured(self, tries: Sequence[Try]) -> list[list[High]]:
        """Of all pieces, then of all openers."""
        return self.measures.look(self.keys, self.widths(tries))

    def heights(self, tries: Sequence[Try]) -> list[Heights]:
        result = []
        for found in self.measured(tries):
            totals = tuple(one.total for one in found)
            opening = self.opening(totals)
            result.append(
                Heights(
                    totals[: len(self.pieces)],
                    tuple(heights[0] for heights in opening),
                    tuple(
                        None if None in heights[1:] else sum(one or 0.0 for one in heights[1:])
                        for heights in opening
                    ),
                )
            )
        return result

    def opening(self, totals: Sequence[float | None]) -> list[list[float | None]]:
        """The heights of each opener's pieces."""
        rest = iter(totals[len(self.pieces) :])
        return [[next(rest) for _ in opener] for opener in self.openers]

    def too_long(self) -> str:
        """The one thing that stands in the way, as a sentence."""
        metres = reading_distance(self.look.least)
        at = f"on {self.paper.shown} with letters that can be read from {metres:.3g} m"
        mend = "Give it a short text, take larger paper or a shorter reading distance."
        if self.room <= 0:
            return (
                f"Title and foot leave no room for steps {at}. Give the protocol a shorter title."
            )
        heights = self.heights([(self.look.least, 1)])[0]
        for piece, height in zip(self.pieces, heights.pieces, strict=True):
            if height is None or height > self.room:
                named = piece.data.get("number")
                what = f"Step {named}" if named else f'A part of "{self.title_over(piece)}"'
                return f"{what} does not fit {at}. {mend}"
        return f"The steps do not fit {at} in the pages allowed. {mend}"

    def title_over(self, piece: Piece) -> str:
        """Of the phase or panel that a piece is of."""
        phases = len(self.sheet.phases)
        if piece.phase < phases:
            return plain(self.sheet.phases[piece.phase].title)
        return self.words.panels[self.sheet.panels[piece.phase - phases].kind]

    # --- What the template is given ---------------------------------------------------------------

    def drawing(self, setting: _Setting) -> dict[str, Any]:
        total = len(setting.pages)
        return {
            **self.around,
            "ribbons": self.ribbons,
            "gutter": self.look.gutter,
            "pages": [
                {
                    "words": self.words.sheet_of.format(n=number, all=total) if total > 1 else "",
                    "first": number == 1,
                    "size": part.size,
                    "count": part.columns,
                    "width": self.look.width(part.columns),
                    "columns": [
                        self.column(column, part, self.more_air(part, page)) for column in page
                    ],
                }
                for number, (part, page) in enumerate(setting.pages, start=1)
            ],
        }

    def more_air(self, part: Arrangement, page: Sequence[Column]) -> float:
        """How much lower each line may be, so that the fullest column reaches the foot."""
        lines, airs = frozenset({"row", "entry"}), [MOST_AIR * part.size]
        for column in page:
            number = sum(piece.kind in lines for piece in self.pieces[column.first : column.end])
            if number:
                drawn = self.column(column, part, 0.0)
                airs.append((self.room - sum(drawn["placed"]["heights"])) / number)
        return max(0.0, min(airs) - 0.01)

    def column(self, column: Column, part: Arrangement, air: float) -> dict[str, Any]:
        """``air``: that each line of it is set lower than it need be."""
        (found,) = self.measured([(part.size, part.columns)])
        inside = slice(column.first, column.end)
        standing = list(self.pieces[inside])
        high = [
            (one.total or 0.0) + (air if piece.kind in ("row", "entry") else 0.0)
            for one, piece in zip(found[inside], standing, strict=True)
        ]
        lanes = [one.lanes for one in found[inside]]
        if column.continued:
            phase = standing[0].phase
            opener = self.openers[phase] if column.warned else self.openers[phase][:1]
            heights = self.opening([one.total for one in found])[phase]
            hands = standing[0].before
            standing[:0] = [replace(piece, before=hands, after=hands) for piece in opener]
            high[:0] = [height or 0.0 for height in heights[: len(opener)]]
            lanes[:0] = [() for _ in opener]
        level = 3 if self.sheet.choices else 2
        return {
            "pieces": [
                {
                    **given(piece, level),
                    "placed": [
                        _placed(lane, lane_heights, part.size)
                        for lane, lane_heights in zip(piece.lanes, of_lanes, strict=True)
                    ],
                }
                for piece, of_lanes in zip(standing, lanes, strict=True)
            ],
            "placed": _placed(standing, high, part.size),
        }


def _placed(standing: Sequence[Piece], heights: Sequence[float], size: float) -> dict[str, Any]:
    """Ribbons and brackets down a column or lane. No ribbon runs through a band or past lanes."""
    ribbons: list[dict[str, object]] = []
    run: list[tuple[float, float | None, Sequence[str], Sequence[str]]] = []
    top = start = 0.0
    for piece, height in zip(standing, heights, strict=True):
        if piece.kind in ("band", "panel", "lanes"):
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
        "frames": frames(
            [(piece.kind, height) for piece, height in zip(standing, heights, strict=True)]
        ),
        "brackets": brackets(
            [(height, piece.within) for piece, height in zip(standing, heights, strict=True)]
        ),
    }


def _lowered(runs: list[dict[str, Any]], by: float) -> list[dict[str, object]]:
    return [{**run, "top": run["top"] + by, "bottom": run["bottom"] + by} for run in runs]
