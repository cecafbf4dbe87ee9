"""Published mistakes are told exactly so, published good orders are not, and the table counts both.

The sources stand beside each in :mod:`tests.practice.published`. Here is compared with equality:
a mistake that begins to be told, or is told by something else, shows as well as one that is missed.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from tests.practice.kit import ROOM, ROOM_3
from tests.practice.published.bases import SMALL_ROOM, base
from tests.practice.published.good import GOOD, INCOMPLETE, NOT_SAID, Good
from tests.practice.published.mistakes import MISTAKES, OUTSIDE, How, Mistake, Weight
from tests.practice.published.told import Told, new, told_of_base
from tools.mistakes import lines, of_good, of_shipped, wilson

#: Protocols that are shipped and not among the good orders. Days put together what is checked here
#: one by one; tests/rules judges them by every rule.
SHIPPED = [
    path
    for room in (ROOM, ROOM_3)
    for path in sorted(room.glob("*.protocol"))
    if not path.stem.startswith(("a-day-", "imaging-room-"))
    and path.stem not in {order.base for order in GOOD if not order.changes}
]


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.title)
def test_a_published_mistake_is_told_exactly_so(mistake: Mistake) -> None:
    found = new(mistake.base, mistake.changes)
    assert (found.kinds, found.rules) == (mistake.check, mistake.rules)
    assert mistake.judged(found) is mistake.how


@pytest.mark.parametrize("name", sorted({one.base for one in (*MISTAKES, *GOOD)}))
def test_of_what_mistakes_are_planted_in_nothing_is_to_be_corrected(name: str) -> None:
    told = told_of_base(name)
    assert not told.check | told.must


@pytest.mark.parametrize("order", (*GOOD, *INCOMPLETE), ids=lambda order: order.title)
def test_of_a_published_good_order_only_this_is_told_to_be_corrected(order: Good) -> None:
    assert of_good(order).published == order.wrongly


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_of_a_shipped_protocol_nothing_is_told_to_be_corrected(path: Path) -> None:
    told = of_shipped(path)
    assert told is not None and not told.to_correct


def test_whatever_is_not_told_or_told_wrongly_has_its_reason() -> None:
    assert all(OUTSIDE.values()) and all(NOT_SAID.values())
    for mistake in MISTAKES:
        assert bool(mistake.why) == (mistake.how is not How.TOLD), mistake.title
        assert mistake.source and mistake.aside <= mistake.check | mistake.rules, mistake.title
    for order in (*GOOD, *INCOMPLETE):
        assert bool(order.why) == bool(order.wrongly), order.title
        assert order.source, order.title


def test_what_is_given_is_what_it_takes() -> None:
    """In a room that does not say which of its places gloves do not leave, nothing tells it."""
    (corridor,) = [one for one in MISTAKES if one.given]
    silent = new(corridor.base, (*corridor.changes, (SMALL_ROOM, ": dirty side", "")))
    assert not silent.to_correct | silent.to_consider


def test_each_mistake_and_each_order_is_there_once() -> None:
    titles = [one.title for one in (*MISTAKES, *GOOD, *INCOMPLETE)] + [*OUTSIDE, *NOT_SAID]
    assert len(set(titles)) == len(titles)
    for table in (MISTAKES, (*GOOD, *INCOMPLETE)):
        changed = [base(one.base).changed(one.changes) for one in table]
        assert len(set(changed)) == len(changed)


# --- How it is counted ---------------------------------------------------------------------------

_SOMETHING = frozenset({"something"})


@pytest.mark.parametrize(
    ("weight", "told", "how"),
    [
        (Weight.ERROR, Told(check=_SOMETHING), How.TOLD),
        (Weight.ERROR, Told(must=_SOMETHING), How.TOLD),
        (Weight.ERROR, Told(should=_SOMETHING), How.TOO_MILD),
        (Weight.ERROR, Told(), How.NOT),
        (Weight.ERROR, Told(check=frozenset({"aside"})), How.NOT),
        (Weight.ERROR, Told(check=frozenset({"aside"}), hints=_SOMETHING), How.TOO_MILD),
        (Weight.CONSIDER, Told(should=_SOMETHING), How.TOLD),
        (Weight.CONSIDER, Told(must=_SOMETHING, should=_SOMETHING), How.TOO_HARD),
        (Weight.CONSIDER, Told(), How.NOT),
    ],
)
def test_it_counts_as_told_with_its_own_weight_only(weight: Weight, told: Told, how: How) -> None:
    mistake = Mistake("t", "s", "b", (), weight=weight, aside=frozenset({"aside"}))
    assert mistake.judged(told) is how


def test_only_what_is_new_against_the_good_protocol_is_told() -> None:
    before = Told(check=frozenset({"a"}), must=frozenset({"R"}))
    after = Told(check=frozenset({"a", "b"}), must=frozenset({"R"}), should=frozenset({"S"}))
    assert after.without(before) == Told(check=frozenset({"b"}), should=frozenset({"S"}))


def _as_written(mistake: Mistake) -> Told:
    """What the first test of this module has found to be told of a mistake, made up again."""
    told = {
        How.TOLD: mistake.weight is Weight.ERROR,
        How.TOO_MILD: False,
        How.TOO_HARD: True,
        How.NOT: False,
    }[mistake.how]
    if told:
        return Told(check=mistake.check, must=mistake.rules)
    return Told(hints=mistake.check, should=mistake.rules)


def test_the_table_counts_what_is_written_down() -> None:
    printed = "\n".join(
        lines(
            ((one, _as_written(one)) for one in MISTAKES),
            ((one, Told(check=one.wrongly)) for one in GOOD),
            ((one, Told(check=one.wrongly)) for one in INCOMPLETE),
            ((path.stem, Told()) for path in SHIPPED),
        )
    )
    counts = {
        name: (int(some), int(of))
        for name, some, of in re.findall(r"^(\S[^:]*): (\d+) of (\d+) \(", printed, re.MULTILINE)
    }
    assert counts == {
        "Sensitivity": (sum(one.how is How.TOLD for one in MISTAKES), len(MISTAKES)),
        "False alarms on good orders": (sum(bool(one.wrongly) for one in GOOD), len(GOOD)),
        "False alarms on shipped protocols": (0, len(SHIPPED)),
    }
    assert "otherwise than written down" not in printed
    told = [one for one in MISTAKES if one.how is How.TOLD]
    both = sum(bool(one.check - one.aside) and bool(one.rules - one.aside) for one in told)
    check = sum(bool(one.check - one.aside) for one in told) - both
    assert (
        f"\nBy check and rules: {both}, by the check alone: {check}, "
        f"by rules alone: {len(told) - both - check}\n" in printed
    )
    for one in MISTAKES:
        assert f"\n  {one.how.value}: {one.title}\n" in printed
    for order in GOOD:
        assert f"\n  {'told wrongly' if order.wrongly else 'silent'}: {order.title}\n" in printed
    for order in INCOMPLETE:
        assert f"\n  no whole order, not counted: {order.title}\n" in printed
    for title in (*OUTSIDE, *NOT_SAID):
        assert f"\n  cannot be said: {title}\n" in printed


def test_the_table_says_where_it_differs_from_what_is_written_down() -> None:
    (first, *_), (order, *_) = MISTAKES, GOOD
    printed = "\n".join(
        lines(
            [(first, Told())],
            [(order, Told(check=_SOMETHING))],
            [(INCOMPLETE[0], Told())],
            [("p", Told(house=_SOMETHING))],
        )
    )
    assert printed.count("otherwise than written down") == 4
    assert "Sensitivity: 0 of 1 (0%" in printed


@pytest.mark.parametrize(
    ("some", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_one_of_the_worked_examples(
    some: int, of: int, low: float, high: float
) -> None:
    """Newcombe 1998, Stat Med 17:857, table I, score method (from memory)."""
    assert wilson(some, of) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("some", "of"), [(3, 7), (30, 36), (1, 2)])
def test_both_ends_of_the_interval_are_as_far_from_what_was_seen(some: int, of: int) -> None:
    """Wilson 1927: the ends solve (share - p)^2 = z^2 p (1 - p) / n."""
    for end in wilson(some, of):
        assert abs(some / of - end) == pytest.approx(
            1.96 * math.sqrt(end * (1 - end) / of), rel=1e-3
        )
