"""Prints which published mistakes are told, and by what, and which good practice is told wrongly.

Run by ``make mistakes``, or ``python -m tools.mistakes`` from the folder of the project. The
mistakes and the good orders, with their sources, are those of ``tests/practice/published/``; the
shipped protocols are good practice too. It ends with 1 where something is told otherwise than is
written there.
"""

from __future__ import annotations

import math
import sys
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from protocol_lang.pipeline import check_file
from tests.practice.kit import ROOM, ROOM_3
from tests.practice.published.bases import base
from tests.practice.published.good import GOOD, INCOMPLETE, NOT_SAID, Good
from tests.practice.published.mistakes import MISTAKES, OUTSIDE, How, Mistake
from tests.practice.published.told import Told, new, told_of, told_of_checked

_WIDTH = 100
_UNEXPECTED = "  (otherwise than written down)"

_TELLERS = ("check and rules", "the check alone", "rules alone")

#: The quantile of the normal distribution for an interval of 95 %.
_Z = 1.959964


def main() -> int:
    """Print the tables. Return 1 if anything is told otherwise than is written down."""
    unexpected = False
    for line in lines(
        ((one, new(one.base, one.changes)) for one in MISTAKES),
        ((one, of_good(one)) for one in GOOD),
        ((one, of_good(one)) for one in INCOMPLETE),
        shipped(),
    ):
        unexpected |= _UNEXPECTED in line
        print(line, flush=True)
    return 1 if unexpected else 0


def of_good(one: Good) -> Told:
    """Everything that is told of a good order."""
    return told_of(base(one.base).changed(one.changes), dict(one.settings))


def shipped() -> Iterator[tuple[str, Told]]:
    """Every shipped protocol and day, and what is told of it."""
    for room in (ROOM, ROOM_3):
        for path in sorted(room.glob("*.protocol")):
            found = of_shipped(path)
            if found is not None:
                yield path.stem, found


def of_shipped(path: Path) -> Told | None:
    """What is told of a shipped file; None for one that is no protocol."""
    one = check_file(path, mend=False)
    return told_of_checked(one) if one.protocol is not None else None


def lines(
    mistakes: Iterable[tuple[Mistake, Told]],
    good: Iterable[tuple[Good, Told]],
    incomplete: Iterable[tuple[Good, Told]],
    protocols: Iterable[tuple[str, Told]],
) -> Iterator[str]:
    """The tables line by line, as what they are about is found out."""
    yield "Published mistakes: what is new that is told of a good protocol once it has one"
    by: Counter[tuple[How, str]] = Counter()
    for mistake, told in mistakes:
        how = mistake.judged(told)
        as_written = (told.kinds, told.rules) == (mistake.check, mistake.rules)
        tellers = _tellers(told, mistake.aside)
        by[how, tellers] += 1
        yield from _row(how.value, mistake.title, as_written)
        yield from _wrapped(f"{mistake.weight.value}: {mistake.source}")
        yield from _what(told, mistake.aside)
        if mistake.given:
            yield from _wrapped("given that " + mistake.given)
        if mistake.why:
            yield from _wrapped("because " + mistake.why)
    yield from _outside(OUTSIDE)
    yield ""
    yield f"Sensitivity: {_share(sum(by[How.TOLD, one] for one in _TELLERS), by.total())}"
    yield ", ".join(f"by {one}: {by[How.TOLD, one]}" for one in _TELLERS).capitalize()
    yield ", ".join(
        f"{how.value}: {sum(some for (one, _), some in by.items() if one is how)}"
        for how in How
        if how is not How.TOLD
    ).capitalize()
    yield "Words and rules were made with these mistakes in sight: of others fewer may be told."

    yield ""
    yield "Published good orders: what is to be corrected of them"
    wrong = []
    for order, told in good:
        wrong.append(bool(told.published))
        yield from _row(_verdict(wrong[-1]), order.title, told.published == order.wrongly)
        yield from _wrapped(order.source)
        for name, value in order.settings:
            yield from _wrapped(f"with the setting {name}: {value}")
        if order.given:
            yield from _wrapped("given that " + order.given)
        yield from _what(Told(told.check, must=told.must))
        if order.why:
            yield from _wrapped("because " + order.why)
    for order, told in incomplete:
        as_written = told.published == order.wrongly
        yield from _row("no whole order, not counted", order.title, as_written)
        yield from _wrapped(order.source)
        yield from _what(Told(told.check, must=told.must))
        yield from _wrapped("because " + order.why)
    yield from _outside(NOT_SAID)
    yield ""
    yield f"False alarms on good orders: {_share(sum(wrong), len(wrong))}"

    yield ""
    yield "Shipped protocols: what is to be corrected of them"
    wrong = []
    for name, told in protocols:
        wrong.append(bool(told.to_correct))
        yield from _row(_verdict(wrong[-1]), name, not told.to_correct)
        yield from _what(Told(told.check, must=told.must, house=told.house))
    yield ""
    yield f"False alarms on shipped protocols: {_share(sum(wrong), len(wrong))}"


def _row(verdict: str, title: str, as_written: bool) -> list[str]:
    return [f"  {verdict}: {title}" + ("" if as_written else _UNEXPECTED)]


def _verdict(wrong: bool) -> str:
    return "told wrongly" if wrong else "silent"


def _what(told: Told, aside: frozenset[str] = frozenset()) -> Iterator[str]:
    """What tells it, and what of it is only because of how the change is written."""
    parts = {
        "the check": told.kinds - aside,
        "rules": (told.must | told.should) - aside,
        "rules of the clinic": told.house - aside,
        "only of how it is written": (told.kinds | told.rules) & aside,
    }
    for name, found in parts.items():
        if found:
            yield from _wrapped(f"{name}: " + "; ".join(sorted(found)))


def _tellers(told: Told, aside: frozenset[str]) -> str:
    check, rules = bool(told.kinds - aside), bool(told.rules - aside)
    return _TELLERS[0 if check and rules else 1 if check else 2] if check or rules else ""


def _outside(cannot: Mapping[str, str]) -> Iterator[str]:
    for title, reason in cannot.items():
        yield from (f"  cannot be said: {title}", *_wrapped(reason))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 8, break_on_hyphens=False
    )


def _share(some: int, of: int) -> str:
    low, high = wilson(some, of)
    return f"{some} of {of} ({some / of:.0%}; 95 % interval {low:.0%} to {high:.0%})"


def wilson(some: int, of: int) -> tuple[float, float]:
    """The interval of Wilson (1927) for a share, at 95 %: the shares p from which what was seen is
    no farther than z standard errors of p. ``of`` must be more than 0."""
    share = some / of
    middle = share + _Z**2 / (2 * of)
    half = _Z * math.sqrt(share * (1 - share) / of + _Z**2 / (4 * of**2))
    whole = 1 + _Z**2 / of
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


if __name__ == "__main__":
    sys.exit(main())
