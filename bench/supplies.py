"""What it costs to count what is used up, beside the check that goes before it.

Of the longest protocol that is shipped and of a whole room: the best of several runs in one
process, in milliseconds. Then how a year of days of a steriliser grows with the visits of a day.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from bench.check import longest
from protocol_lang.language.load import load
from protocol_lang.resources import folder
from protocol_lang.stock import account_of
from protocol_lang.stock.cycle import run, timetable

RUNS = 3
VISITS = (6, 12, 24, 48)
DAYS = 250


def milliseconds(do: Callable[[], object]) -> float:
    """The best of some runs."""
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        do()
        best = min(best, time.perf_counter() - start)
    return best * 1000


def days_of(visits: int) -> None:
    """A year in which every visit takes two of one thing and one of another."""
    every = 24 * 60 // VISITS[-1] // 2
    table = timetable(visits, every, 480, (), 90, 75, 24)
    run(table, [[{"holder": 2, "cup": 1}] * visits] * DAYS)


def main() -> int:
    """Print the figures. Return 0."""
    day = folder("protocols") / "imaging-room-2" / "a-day-in-imaging-room-2.protocol"
    for path in (longest(), day):
        protocol = load(path).protocol
        assert protocol is not None
        title = f'"{protocol.header.title}"'
        took = milliseconds(lambda protocol=protocol: account_of(protocol, ""))  # type: ignore[misc]
        print(f"  {title:42} {took:8.0f} ms")
    print(f"\n  {DAYS} days, by the visits of a day")
    for visits in VISITS:
        print(f"  {visits:42} {milliseconds(lambda visits=visits: days_of(visits)):8.0f} ms")  # type: ignore[misc]
    return 0


if __name__ == "__main__":
    sys.exit(main())
