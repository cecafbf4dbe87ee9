"""Indentation and comments: where lines and comments end up, and what a wrong indent spoils."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from protocol_lang.language.layout import Layout, Raw, cut, lay_out
from protocol_lang.language.tree import BLANK
from protocol_lang.text import Text


def laid(*lines: str) -> Layout:
    return lay_out(Text("f", lines))


def shape(lines: tuple[Raw, ...]) -> list[object]:
    """Each line as its words, or (words, lines under it); a spoiled one with a question mark."""
    made: list[object] = []
    for raw in lines:
        words = raw.words.text + ("?" if raw.spoiled else "")
        made.append((words, shape(raw.lines)) if raw.lines else words)
    return made


def found(layout: Layout) -> list[tuple[str, int]]:
    return [(f.kind, f.place.line) for f in layout.findings if f.place is not None]


def test_lines_stand_under_lines():
    layout = laid("a", "  b", "    c", "    d", "  e", "", "f", "   g")
    assert shape(layout.lines) == [("a", [("b", ["c", "d"]), "e"]), ("f", ["g"])]
    assert layout.findings == ()


def test_words_come_without_indentation_and_comment_but_with_their_place():
    [a] = laid("a").lines
    assert (a.words.place.column, a.words.place.end) == (1, 2)
    [b] = laid("a", '  b "#" c   # d ').lines[0].lines
    assert b.words.text == 'b "#" c'
    assert (b.words.place.line, b.words.place.column, b.words.place.end) == (2, 3, 10)
    assert b.remarks.beside == "d"


def test_a_comment_stays_with_what_it_speaks_of():
    layout = laid(
        "# over a", "a", "  # over b", "  b  # beside b", "", "  # over c", "  c", "    d",
        "    # after d", "  # after c", "# over e", "", "e", "# the end",
    )  # fmt: skip
    a, e = layout.lines
    b, c = a.lines
    assert a.remarks.above == ("over a",)
    assert (b.remarks.above, b.remarks.beside) == (("over b",), "beside b")
    assert c.remarks.above == (BLANK, "over c")
    assert c.end == ("after d",)
    assert a.end == ("after c",)
    assert e.remarks.above == ("over e", BLANK)
    assert layout.closing == ("the end",)


def test_a_comment_less_deep_than_the_line_after_it_stays_with_that_line():
    layout = laid("a", "  b", "# at the margin", "  c")
    [a] = layout.lines
    assert shape(layout.lines) == [("a", ["b", "c"])]
    assert a.lines[1].remarks.above == ("at the margin",)


def test_a_number_sign_in_quotes_begins_no_comment():
    assert cut('a "b # c" # d') == ('a "b # c"', "d")
    assert cut('a "b # c') == ('a "b # c', None)
    assert cut("a#b") == ("a", "b")
    assert cut("#") == ("", "")
    assert cut("a #   indented  ") == ("a", "  indented")


def test_a_wrong_indent_spoils_its_line_only():
    layout = laid("a", "    b", "  c", "    d", "e")
    assert shape(layout.lines) == [("a", ["b", "c?", "d"]), "e"]
    assert found(layout) == [("wrong-indent", 3)]
    assert layout.findings[0].facts["possible"] == "0 or 4"


def test_nothing_is_said_of_lines_under_a_wrong_indent():
    layout = laid("a", "      b", "  c", "   d", "     e", "      f")
    assert found(layout) == [("wrong-indent", 3)]
    assert shape(layout.lines) == [("a", ["b", ("c?", [("d", ["e"])]), "f"])]


def test_lines_that_share_a_wrong_indent_are_one_mistake():
    assert found(laid("a", "    b", "  c", "  d", "  e")) == [("wrong-indent", 3)]
    assert found(laid("a", "    b", "  c", "    d", "  e")) == [
        ("wrong-indent", 3),
        ("wrong-indent", 5),
    ]


def test_the_first_line_begins_at_the_margin():
    layout = laid("  a", "b")
    assert found(layout) == [("wrong-indent", 1)]
    assert shape(layout.lines) == ["a?", "b"]


def test_tabs_are_named_once_for_each_run():
    layout = laid("a", "\tb", "\t\tc", "  d", "\te", "f")
    assert found(layout) == [("tab-indent", 2), ("tab-indent", 5)]
    assert layout.findings[0].facts == {"last": "3"}
    assert layout.findings[1].facts == {}
    assert shape(layout.lines) == [("a", [("b?", ["c?"]), "d", "e?"]), "f"]


def test_tabs_that_look_like_another_width_spoil_nothing_else():
    layout = laid("a", "\tb", "    c", "    d")
    assert found(layout) == [("tab-indent", 2)]


def test_tabs_tell_nothing_about_the_lines_after_them():
    layout = laid("a", "\t\tb", "  c", "  d", "e")
    assert found(layout) == [("tab-indent", 2)]
    assert shape(layout.lines) == [("a", ["b?", "c", "d"]), "e"]


def test_comments_after_a_block_do_not_go_back_into_it():
    layout = laid("a", "  b", "    c", "  # of a", "    # of a too", "e")
    assert layout.lines[0].end == ("of a", "of a too")
    assert layout.lines[0].lines[0].end == ()


def test_a_blank_that_is_none_counts_as_a_tab():
    assert found(laid("a", "\u00a0 b")) == [("tab-indent", 2)]
    assert found(laid("a", "\u3000b")) == [("tab-indent", 2)]


def test_tabs_between_words_and_before_comments_are_blanks():
    layout = laid("a\tb", "\t# a comment", "c")
    assert layout.findings == ()
    assert layout.lines[1].remarks.above == ("a comment",)


lines_of_blocks = st.lists(
    st.tuples(st.integers(0, 6), st.sampled_from(["x", "x # y", "# z", "", "\tx", 'x "']))
)


@given(lines_of_blocks)
def test_every_line_ends_up_in_the_tree_once(rows: list[tuple[int, str]]):
    lines = [" " * indent + words for indent, words in rows]
    layout = laid(*lines)

    def numbers(raws: tuple[Raw, ...]) -> list[int]:
        made = []
        for raw in raws:
            made += [raw.words.place.line, *numbers(raw.lines)]
        return made

    def comments(raws: tuple[Raw, ...]) -> list[str]:
        made: list[str] = []
        for raw in raws:
            made += raw.remarks.above
            made += [raw.remarks.beside] if raw.remarks.beside is not None else []
            made += comments(raw.lines) + list(raw.end)
        return made

    expected = [n for n, line in enumerate(lines, start=1) if cut(line)[0].strip()]
    assert sorted(numbers(layout.lines)) == expected
    told = [c for c in comments(layout.lines) + list(layout.closing) if c != BLANK]
    assert sorted(told) == sorted(c for line in lines if (c := cut(line)[1]) is not None)
