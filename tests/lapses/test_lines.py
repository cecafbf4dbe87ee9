"""Lines that are put in, written instead or moved, in a text of a few lines."""

from __future__ import annotations

from protocol_lang.lapses.lines import Lines, changed, fit_together
from protocol_lang.text import Place, Text

TEXT = Text(
    "a",
    (
        'phase "One"',
        "  [ ] first",
        '      note "of the first"',
        "",
        "  any order",
        "    [ ] second  # why",
        '        short "2nd"',
        "    [ ] third",
    ),
)
LINES = Lines({"a": TEXT})


def at(line: int) -> Place:
    return Place("a", line, 1, 2)


def after(*edits: object) -> list[str]:
    return list(changed({"a": TEXT}, edits)["a"].lines)  # type: ignore[arg-type]


def test_before_and_after_a_step_with_what_is_below_it():
    both = after(LINES.before(at(2), ["[ ] new"]), LINES.after(at(2), ["[ ] last"]))
    assert both[1:5] == ["  [ ] new", "  [ ] first", '      note "of the first"', "  [ ] last"]


def test_where_the_order_is_free_both_go_into_a_list():
    put = after(LINES.before(at(6), ["[ ] new"]))
    assert put[4:] == [
        "  any order",
        "    in order",
        "      [ ] new",
        "      [ ] second  # why",
        '          short "2nd"',
        "    [ ] third",
    ]
    assert after(LINES.instead(at(8), "[ ] 3rd", ["[ ] new"]))[7:] == [
        "    in order",
        "      [ ] new",
        "      [ ] 3rd",
    ]


def test_a_step_is_moved_with_what_is_below_it_and_as_deep_as_there():
    assert after(*LINES.moved(at(6), at(2)))[:4] == [
        'phase "One"',
        "  [ ] second  # why",
        '      short "2nd"',
        "  [ ] first",
    ]


def test_more_words_stand_before_the_comment():
    assert after(LINES.with_more(at(6), "; more"))[5] == "    [ ] second; more  # why"


def test_edits_of_the_same_lines_do_not_fit_together():
    one, other = LINES.instead(at(2), "[ ] 1st"), LINES.instead(at(2), "[ ] once")
    assert not fit_together([one, other])
    away, put = LINES.moved(at(2), at(8))
    assert fit_together([away, put])
    assert fit_together([one, LINES.before(at(2), ["[ ] new"])])
    assert after(one, LINES.before(at(2), ["[ ] new"]))[1:3] == ["  [ ] new", "  [ ] 1st"]
