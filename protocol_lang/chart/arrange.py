"""Type size, columns and pages for pieces of known height. Pure arithmetic; lengths in points.

The largest type that fits on the fewest pages wins. Phases are kept whole where that costs little
type. Below the least type nothing is set: the sheet goes on to a further page, which begins with a
phase where it can.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from math import log

from protocol_lang.chart.pieces import HEADS, Piece

#: What it costs to begin a page in the middle of a phase, beside what it costs to begin a column.
PAGE_INSIDE_PHASE = 1000
#: What a phase or a panel counts as its lines.
LINES = frozenset({"row", "entry"})
#: What it costs to leave one step of a phase or group alone, at the top or bottom of a column.
ALONE = 40
#: What an empty column costs; one that is half full costs a quarter of it. Where the pieces end,
#: much less: there room may be left.
EMPTY, EMPTY_AT_THE_END = 150, 8
#: A column is too empty to be left so for the sake of whole phases (part of its height).
TOO_EMPTY = 0.4
#: Costs that differ by less than this are equal, and larger type decides.
COARSE = 25
#: How much smaller type may be (factor) if then no phase is divided.
WHOLE_PHASES_ARE_WORTH = 0.9
#: How much smaller type may be (factor) for fewer columns: longer lines, fewer of them broken.
LONG_LINES_ARE_WORTH = 0.93
#: Sizes differ by at least this factor; there are at most so many, looked at first in strides.
FINEST, MOST_SIZES, STRIDE = 1.01, 31, 5
#: So exactly, in parts of the page, the columns of a last page of panels are made equally long.
LEVEL = 0.005
#: On more pages nothing is set: nobody hangs them up.
MOST_PAGES = 12


@dataclass(frozen=True, slots=True)
class Heights:
    """Of each piece, and of each phase's band of going on, at one size in so many columns.

    ``warnings``: of what is said again under that band where a page begins (0.0: nothing is).
    None: a word of it is wider than its line.
    """

    pieces: tuple[float | None, ...]
    continued: tuple[float | None, ...]
    warnings: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """Pieces ``first`` to before ``end``; ``continued``: under the band of a phase that goes on.

    ``warned``: what must not be touched is said again below that band.
    """

    first: int
    end: int
    continued: bool
    warned: bool = False


@dataclass(frozen=True, slots=True)
class Arrangement:
    """``pages``: the columns of each page, at most ``columns``."""

    size: float
    columns: int
    pages: tuple[tuple[Column, ...], ...]


class Whole(Enum):
    """Where phases must not be divided: in no column, on no page, or they may be anywhere."""

    IN_COLUMNS = "in columns"
    ON_PAGES = "on pages"
    NOWHERE = "nowhere"


@dataclass(frozen=True, slots=True)
class Filling:
    """Columns, and how badly they break: the sum of the costs above and of the room left empty."""

    cost: float
    columns: tuple[Column, ...]


#: (size, number of columns).
Try = tuple[float, int]
#: Several tries -> the heights of each.
Measure = Callable[[Sequence[Try]], Sequence[Heights]]
#: What asks for the heights of some tries, as often as it needs, and then gives its result.
Asking = Generator[Sequence[Try], Sequence[Heights], "Arrangement | None"]


def arrange(
    pieces: Sequence[Piece],
    measure: Measure,
    room: float,
    *,
    least: float,
    most: float,
    column_counts: Sequence[int],
) -> Arrangement | None:
    """What :func:`arranging` comes to, with ``measure`` to answer it."""
    asking = arranging(pieces, room, least=least, most=most, column_counts=column_counts)
    try:
        tries = next(asking)
        while True:
            tries = asking.send(measure(tries))
    except StopIteration as end:
        found: Arrangement | None = end.value
        return found


def arranging(
    pieces: Sequence[Piece],
    room: float,
    *,
    least: float,
    most: float,
    column_counts: Sequence[int],
    sensible: Callable[[float, int], bool] = lambda size, columns: True,
    most_pages: int | None = None,
    fewest_pages: int = 1,
    sizes: Sequence[float] = (),
) -> Asking:
    """The arrangement with the largest type on the fewest pages; None if the least is too large.

    ``room``: the height of a column; ``sensible``: whether type of a size in so many columns has
    lines of a length that is worth trying; ``most_pages``: MOST_PAGES, unless told otherwise;
    ``fewest_pages``: fewer are known not to do.
    ``sizes``: those that are tried, as far as they lie between; from :func:`sizes_between`, unless
    told otherwise. Yields tries that it asks for and is sent their heights, so that many sheets can
    ask at once. The search goes up in strides until nothing fits, then looks at the sizes
    between the best stride and the next.
    """
    known: dict[Try, Heights] = {}
    begin: dict[Whole, list[int | None]] = {}
    fillings: dict[tuple[float, int, int, Whole], Filling | None] = {}

    def look(tries: Sequence[Try]) -> Generator[Sequence[Try], Sequence[Heights], None]:
        new = [one for one in tries if one not in known]
        if new:
            found = yield new
            known.update(zip(new, found, strict=True))

    def fitted(size: float, columns: int, pages: int, whole: Whole) -> Filling | None:
        key = (size, columns, pages, whole)
        if key not in fillings:
            if whole not in begin:
                begin[whole] = begin_costs(pieces, whole)
            fillings[key] = fill(
                pieces, known[size, columns], room, columns, pages, whole=whole, begin=begin[whole]
            )
        return fillings[key]

    def best_of(pages: int, whole: Whole) -> Asking:
        """The largest type on so many pages, or nearly: better breaks and fewer columns pay."""
        steps = dict.fromkeys(column_counts, -1)
        for number, size in enumerate(grid[at] for at in strides):
            counts = [columns for columns in column_counts if sensible(size, columns)]
            yield from look([(size, columns) for columns in counts])
            fitting = [c for c in counts if fitted(size, c, pages, whole)]
            if counts and not fitting:
                break  # what does not fit does not fit in larger type
            steps.update(dict.fromkeys(fitting, number))
        top = max(steps.values())
        if top < 0:
            return None
        # Between its best step and the next, for every number of columns that came near.
        fine = {
            columns: grid[strides[step] : strides[min(step + 1, len(strides) - 1)] + 1]
            for columns, step in steps.items()
            if step >= top - 1 and step >= 0
        }
        yield from look([(size, columns) for columns, sizes in fine.items() for size in sizes])
        found = [
            (size, columns, filled)
            for columns, sizes in fine.items()
            for size in sizes
            if (filled := fitted(size, columns, pages, whole)) is not None
        ]
        largest = max(size for size, _, _ in found)
        worthy = [one for one in found if one[0] >= LONG_LINES_ARE_WORTH * largest]

        def worth(one: tuple[float, int, Filling]) -> tuple[float, int, float]:
            """Where type is a little smaller, fewer lines may be broken: then that is better."""
            size, columns, filled = one
            lines = sum(height or 0.0 for height in known[size, columns].pieces) / size
            return filled.cost // COARSE, columns, lines / size

        size, columns, filled = min(worthy, key=worth)
        by_page = [filled.columns[n : n + columns] for n in range(0, len(filled.columns), columns)]
        return Arrangement(
            size, columns, tuple(tuple(c for c in page if c.end > c.first) for page in by_page)
        )

    def too_empty(found: Arrangement) -> bool:
        """Whether a column is, other than the last of all."""
        heights = known[found.size, found.columns]
        every = [column for page in found.pages for column in page]
        filled = [
            sum(height or 0.0 for height in heights.pieces[column.first : column.end])
            for column in every[:-1]
        ]
        missing = any(len(page) < found.columns for page in found.pages[:-1])
        return missing or any(height < (1 - TOO_EMPTY) * room for height in filled)

    tried = list(enumerate(sizes or sizes_between(least, most)))
    tried = [(n, s) for n, s in tried if least * (1 - 1e-9) <= s <= most * (1 + 1e-9)]
    grid = [size for _, size in tried]
    ends = {0, len(grid) - 1}
    strides = [at for at, (n, _) in enumerate(tried) if n % STRIDE == 0 or at in ends]
    divided: Arrangement | None = None
    for pages in range(fewest_pages, (most_pages or MOST_PAGES) + 1):
        in_columns = yield from best_of(pages, Whole.IN_COLUMNS)
        on_pages = yield from best_of(pages, Whole.ON_PAGES)
        if (
            in_columns
            and on_pages
            and in_columns.size >= WHOLE_PHASES_ARE_WORTH * on_pages.size
            and not (too_empty(in_columns) and not too_empty(on_pages))
        ):
            return in_columns
        if on_pages:
            return on_pages
        if divided:
            break  # one page more did not help: phases are longer than a page
        divided = yield from best_of(pages, Whole.NOWHERE)
    return divided


def fill(
    pieces: Sequence[Piece],
    heights: Heights,
    room: float,
    columns: int,
    pages: int,
    *,
    whole: Whole,
    begin: Sequence[int | None] | None = None,
) -> Filling | None:
    """The best filling of ``pages`` with ``columns`` each, exactly; None when it does not fit.

    ``begin``: what :func:`begin_costs` gives, worked out here unless told.
    Dynamic programming over the pieces: the cost of a column is that of beginning it where it
    begins, and of the room it leaves empty.
    """
    if any(height is None for height in heights.pieces):
        return None
    count = len(pieces)
    upto = [0.0]
    for height in heights.pieces:
        upto.append(upto[-1] + (height or 0.0))
    slots = columns * pages
    if upto[-1] > room * slots:
        return None
    if begin is None:
        begin = begin_costs(pieces, whole)
    heads = [piece.kind in HEADS for piece in pieces]
    #: by the number of columns filled: how many pieces stand in them -> (cost, the last column, how
    #: many stood before it)
    filled: list[dict[int, tuple[float, Column | None, int]]] = [{0: (0.0, None, 0)}]
    for number in range(slots):
        new_page = number % columns == 0 and number > 0
        #: Where fewer pieces are done than so high, the rest does not fit into the columns left.
        done = upto[-1] - room * (slots - number - 1) - _ROUNDED
        following: dict[int, tuple[float, Column | None, int]] = {}
        for first, (cost, _, _) in filled[-1].items():
            if first == count or (number % columns and heads[first] and upto[first] >= done):
                # The rest of a page may stay empty before a phase.
                whole_cost = cost + (EMPTY_AT_THE_END if first == count else EMPTY)
                if first not in following or whole_cost < following[first][0]:
                    following[first] = (whole_cost, Column(first, first, False), first)
            if first == count:
                continue
            start = begin[first]
            if start is None:
                continue
            divided = not heads[first]
            if new_page and divided and whole is not Whole.NOWHERE:
                continue
            phase = pieces[first].phase
            band = heights.continued[phase] if divided else 0.0
            warning = heights.warnings[phase] if divided and new_page else 0.0
            if band is None or warning is None:
                continue
            band += warning
            cost_here = cost + start + (PAGE_INSIDE_PHASE if new_page and divided else 0)
            for end in range(max(first + 1, bisect_left(upto, done)), count + 1):
                used = upto[end] - upto[first] + band
                if used > room:
                    break
                if end < count and begin[end] is None:
                    continue  # no column begins there
                slack = (room - used) / room
                free = (EMPTY_AT_THE_END if end == count else EMPTY) * slack * slack
                if end not in following or cost_here + free < following[end][0]:
                    column = Column(first, end, divided, divided and new_page)
                    following[end] = (cost_here + free, column, first)
        if not following:
            return None
        filled.append(following)
    if count not in filled[-1]:
        return None
    found: list[Column] = []
    at = count
    for table in reversed(filled[1:]):
        _, last, at = table[at]
        assert last is not None
        found.append(last)
    return Filling(filled[-1][count][0], tuple(reversed(found)))


#: Sums of heights, in points, may differ by so much.
_ROUNDED = 1e-6


def levelled(
    found: Arrangement, pieces: Sequence[Piece], heights: Heights, room: float
) -> Arrangement:
    """The same with the columns of its last page as equally long as whole phases allow.

    ``heights``: of all pieces, at this size in so many columns. For panels, which nobody reads from
    the first to the last: half a page of them beside an empty half looks forgotten.
    """
    *before, last = found.pages
    first = last[0].first
    if last[0].continued or last[-1].end != len(pieces):
        return found
    standing, rest = pieces[first:], replace(heights, pieces=heights.pieces[first:])
    begin = begin_costs(standing, Whole.IN_COLUMNS)

    def filled(height: float) -> Filling | None:
        return fill(standing, rest, height, found.columns, 1, whole=Whole.IN_COLUMNS, begin=begin)

    best = filled(room)
    low, high = 0.0, room
    while best is not None and high - low > LEVEL * room:
        middle = (low + high) / 2
        fits = filled(middle)
        if fits is None:
            low = middle
        else:
            best, high = fits, middle
    if best is None:
        return found
    moved = tuple(
        replace(column, first=column.first + first, end=column.end + first)
        for column in best.columns
        if column.end > column.first
    )
    return replace(found, pages=(*before, moved))


def begin_costs(pieces: Sequence[Piece], whole: Whole) -> list[int | None]:
    """What it costs to begin a column with each of the pieces; None: none begins there."""
    return [_begin_cost(pieces, index, whole) for index in range(len(pieces))]


def _begin_cost(pieces: Sequence[Piece], index: int, whole: Whole) -> int | None:
    piece = pieces[index]
    if index == 0 or piece.kind in HEADS:
        return 0
    if piece.break_cost is None or whole is Whole.IN_COLUMNS:
        return None
    alone = index + 1 == len(pieces) or pieces[index + 1].kind in HEADS
    opened = next(n for n in range(index, -1, -1) if pieces[n].kind in HEADS or n == 0)
    alone |= sum(one.kind in LINES for one in pieces[opened:index]) == 1
    return piece.break_cost + (ALONE if alone or _lonely(pieces, index) else 0)


def _lonely(pieces: Sequence[Piece], index: int) -> bool:
    """Whether a break here leaves one step of a group alone, before or after it."""
    if not pieces[index].within:
        return False
    group = pieces[index].within[0]

    def steps(part: Sequence[Piece]) -> int:
        return sum(one.kind == "row" and one.within[:1] == (group,) for one in part)

    return steps(pieces[:index]) == 1 or steps(pieces[index:]) == 1


def sizes_between(least: float, most: float) -> list[float]:
    """Sizes from least to most, each larger by the same factor, none closer than FINEST."""
    if most <= least * FINEST:
        return [least]
    steps = max(1, min(MOST_SIZES - 1, int(log(most / least) / log(FINEST))))
    factor = (most / least) ** (1 / steps)
    return [*(least * factor**step for step in range(steps)), most]


def stretches(
    columns: Sequence[tuple[float, float | None, Sequence[str], Sequence[str]]],
) -> list[dict[str, object]]:
    """The ribbons down a column as runs of one look.

    One entry per piece, from the top: (its height; where in it the hands change, None: nowhere; the
    states before; the states after). Gives, per run, ``lane``, ``state``, ``top`` and ``bottom``.
    """
    runs: dict[int, list[list[object]]] = {}
    top = 0.0
    for height, change, before, after in columns:
        for lane, (old, new) in enumerate(zip(before, after, strict=True)):
            parts = [(new, top, top + height)]
            if old != new and change is not None:
                parts = [(old, top, top + change), (new, top + change, top + height)]
            for state, start, end in parts:
                line = runs.setdefault(lane, [])
                if line and line[-1][0] == state and line[-1][2] == start:
                    line[-1][2] = end
                else:
                    line.append([state, start, end])
        top += height
    return [
        {"lane": lane, "state": state, "top": start, "bottom": end}
        for lane, line in sorted(runs.items())
        for state, start, end in line
    ]


def frames(pieces: Sequence[tuple[str, float]]) -> list[dict[str, float]]:
    """The frames around panels: one entry per piece, (its kind, its height)."""
    found: list[dict[str, float]] = []
    top, inside = 0.0, False
    for kind, height in pieces:
        if kind == "panel":
            found.append({"top": top, "bottom": top + height})
        elif inside and kind in ("entry", "remark"):
            found[-1]["bottom"] = top + height
        inside = kind in ("panel", "entry", "remark")
        top += height
    return found


def brackets(
    rows: Sequence[tuple[float, Sequence[tuple[int, str]]]],
) -> list[dict[str, object]]:
    """The brackets beside groups: one entry per piece, (its height, the groups it lies in)."""
    open_at: dict[tuple[int, int, str], tuple[float, float]] = {}
    top = 0.0
    for height, within in rows:
        for depth, (group, kind) in enumerate(within):
            start, _ = open_at.get((depth, group, kind), (top, top))
            open_at[depth, group, kind] = (start, top + height)
        top += height
    return [
        {"depth": depth, "kind": kind, "top": start, "bottom": end}
        for (depth, _, kind), (start, end) in open_at.items()
    ]
