"""The arrangement, against trying every way of cutting the pieces into columns."""

from itertools import combinations, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from protocol_lang.chart.arrange import (
    Arrangement,
    Column,
    Heights,
    Whole,
    arrange,
    brackets,
    fill,
    frames,
    levelled,
    stretches,
)
from protocol_lang.chart.pieces import Piece

ROOM = 10.0


def piece(kind: str, phase: int, cost: int | None) -> Piece:
    return Piece(kind, phase, cost, {})


@st.composite
def stacks(draw):
    """Up to three phases of a band and a few rows, with heights."""
    standing, heights = [], []
    for phase in range(draw(st.integers(1, 3))):
        standing.append(piece("band", phase, 0))
        standing.append(piece("row", phase, None))
        for _ in range(draw(st.integers(0, 3))):
            standing.append(piece("row", phase, draw(st.sampled_from([None, 30, 60]))))
    for _ in standing:
        heights.append(draw(st.sampled_from([0.5, 1.0, 2.0, 3.0])))
    phases = standing[-1].phase + 1
    return standing, Heights(tuple(heights), (0.5,) * phases, (0.25,) * phases)


def some_cut_fits(standing, heights, columns, pages, whole):
    """Whether any cut into columns fits: all subsets of places to cut, columns filled in order.

    Written from the promise of ``fill`` and not from its code. A column may stay empty at the end,
    or before a phase when it does not open a page; so a cut fits when its columns can be dealt out.
    """
    count = len(standing)
    places = range(1, count)
    for number in range(columns * pages):
        for cuts in combinations(places, number):
            edges = [0, *cuts, count]
            parts = list(pairwise(edges))
            if can_deal(standing, heights, parts, 0, columns, pages, whole):
                return True
    return False


def can_deal(standing, heights, parts, slot, columns, pages, whole):
    if not parts:
        return True
    if slot >= columns * pages:
        return False
    first, end = parts[0]
    opens = slot % columns == 0 and slot > 0
    divided = standing[first].kind != "band"
    height = sum(heights.pieces[first:end])
    if divided:
        height += heights.continued[0] + (heights.warnings[0] if opens else 0.0)
    allowed = first == 0 or not divided or standing[first].break_cost is not None
    if divided and whole is Whole.IN_COLUMNS:
        allowed = False
    if divided and opens and whole is Whole.ON_PAGES:
        allowed = False
    if (
        allowed
        and height <= ROOM
        and can_deal(standing, heights, parts[1:], slot + 1, columns, pages, whole)
    ):
        return True
    skippable = not divided and slot % columns != 0
    return skippable and can_deal(standing, heights, parts, slot + 1, columns, pages, whole)


@settings(max_examples=150, deadline=None)
@given(stacks(), st.integers(1, 3), st.integers(1, 2), st.sampled_from(Whole))
def test_fill_finds_a_cut_exactly_when_there_is_one(stack, columns, pages, whole):
    standing, heights = stack
    found = fill(standing, heights, ROOM, columns, pages, whole=whole)
    assert (found is not None) == some_cut_fits(standing, heights, columns, pages, whole)
    if found:
        assert all(a.end == b.first for a, b in pairwise(found.columns))
        assert (found.columns[0].first, found.columns[-1].end) == (0, len(standing))
        for number, column in enumerate(found.columns):
            height = sum(heights.pieces[column.first : column.end])
            height += heights.continued[0] * column.continued
            height += heights.warnings[0] * column.warned
            assert height <= ROOM
            if column.end > column.first:
                assert column.continued == (standing[column.first].kind != "band")
                assert column.warned == (column.continued and number > 0 and number % columns == 0)


def test_a_word_wider_than_its_line_fits_nowhere():
    standing = [piece("band", 0, 0), piece("row", 0, None)]
    heights = Heights((1.0, None), (0.5,), (0.0,))
    assert fill(standing, heights, ROOM, 2, 2, whole=Whole.NOWHERE) is None


def scaled(standing, per_row):
    """Heights that grow with the type, and with the number of columns (more lines are broken)."""

    def measure(tries):
        return [
            Heights(
                tuple(size * per_row * (1 + 0.1 * columns) for _ in standing),
                (size,),
                (0.0,),
            )
            for size, columns in tries
        ]

    return measure


def test_the_largest_type_on_the_fewest_pages():
    standing = [piece("band", 0, 0), piece("row", 0, None)]
    standing += [piece("row", 0, 30) for _ in range(18)]
    room = 100.0
    found = arrange(standing, scaled(standing, 1.0), room, least=1.0, most=50.0, column_counts=[1])
    assert found is not None and len(found.pages) == 1
    # 20 pieces of 1.1 times the type: 100 / 22 is the largest that can be.
    assert 0.9 * 100 / 22 <= found.size <= 100 / 22
    # Twice that type at least: a second page.
    more = arrange(standing, scaled(standing, 1.0), room, least=8.0, most=50.0, column_counts=[1])
    assert more is not None and len(more.pages) == 2 and more.size >= 8.0
    assert (
        arrange(standing, scaled(standing, 1.0), room, least=200.0, most=200.0, column_counts=[1])
        is None
    )


def test_ribbons_run_on_and_change_in_the_middle_of_a_row():
    runs = stretches(
        [(4.0, None, ("A",), ("A",)), (4.0, 1.0, ("A",), ("B",)), (4.0, 1.0, ("B",), ("B",))]
    )
    assert runs == [
        {"lane": 0, "state": "A", "top": 0.0, "bottom": 5.0},
        {"lane": 0, "state": "B", "top": 5.0, "bottom": 12.0},
    ]


def test_brackets_span_their_group():
    outer, inner = (1, "ANY_ORDER"), (2, "IN_ORDER")
    found = brackets([(1.0, ()), (2.0, (outer,)), (3.0, (outer, inner)), (1.0, (outer,))])
    assert {"depth": 0, "kind": "ANY_ORDER", "top": 1.0, "bottom": 7.0} in found
    assert {"depth": 1, "kind": "IN_ORDER", "top": 3.0, "bottom": 6.0} in found


def test_frames_around_panels():
    standing = [("row", 1.0), ("panel", 2.0), ("entry", 1.0), ("remark", 0.5), ("panel", 1.0)]
    assert frames([*standing, ("entry", 1.0), ("band", 3.0), ("row", 1.0)]) == [
        {"top": 1.0, "bottom": 4.5},
        {"top": 4.5, "bottom": 6.5},
    ]
    assert frames([("entry", 1.0)]) == []  # a panel that goes on has its head again


# --- The last page of panels ----------------------------------------------------------------------


def panels_of(sizes):
    """Panels with so many entries, each as high as its heading and its entries of 1.0."""
    standing = []
    for phase, entries in enumerate(sizes):
        standing.append(piece("panel", phase, 0))
        standing += [piece("entry", phase, None if at == 0 else 30) for at in range(entries)]
    heights = Heights((1.0,) * len(standing), (0.5,) * len(sizes), (0.0,) * len(sizes))
    return standing, heights


@settings(deadline=None)
@given(st.lists(st.integers(1, 4), min_size=1, max_size=7), st.integers(1, 4))
def test_columns_of_a_last_page_are_as_equal_as_whole_panels_allow(sizes, columns):
    """Against every way of dealing whole panels out to the columns, in their order."""
    standing, heights = panels_of(sizes)
    room = float(len(standing))  # so that all would go into one column
    found = Arrangement(10.0, columns, ((Column(0, len(standing), False),),))
    highs = [entries + 1 for entries in sizes]
    least = min(
        max(sum(highs[first:end]) for first, end in pairwise([0, *cuts, len(highs)]))
        for number in range(columns)
        for cuts in combinations(range(1, len(highs)), number)
    )
    (page,) = levelled(found, standing, heights, room).pages
    assert max(column.end - column.first for column in page) == least
    assert [n for c in page for n in range(c.first, c.end)] == list(range(len(standing)))
    assert len(page) <= columns
    assert all(standing[column.first].kind == "panel" for column in page)


def test_only_the_last_page_is_made_level():
    standing, heights = panels_of([4, 4, 1, 1])
    before = (Column(0, 5, False), Column(5, 10, False))
    found = Arrangement(10.0, 2, (before, (Column(10, 14, False),)))
    assert levelled(found, standing, heights, ROOM).pages == (
        before,
        (Column(10, 12, False), Column(12, 14, False)),
    )


def test_a_last_page_that_goes_on_with_a_panel_is_left_as_it_is():
    standing, heights = panels_of([5, 2, 2])
    pages = ((Column(0, 3, False), Column(3, 5, True)), (Column(5, 12, True),))
    found = Arrangement(10.0, 2, pages)
    assert levelled(found, standing, heights, ROOM) is found
