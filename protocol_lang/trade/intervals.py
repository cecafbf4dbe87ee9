"""After how many days a test is due again, and how long instruments are kept."""

from __future__ import annotations

from protocol_lang.trade.numbers import exact
from protocol_lang.trade.tables import rows


def spore_test_days() -> int:
    """At most so many days lie between two spore tests (CDC 2003: weekly)."""
    (row,) = rows("intervals", "test")
    return int(row.number("days"))


def storage_days(*, wrapped: bool, clinical: bool = True) -> int:
    """For so many days instruments are kept before they are processed again (HTM 01-05, 2013).

    ``clinical``: they lie in a room where patients are treated; for what is wrapped it makes no
    difference.
    """
    where = "anywhere" if wrapped else "clinical" if clinical else "elsewhere"
    (row,) = (row for row in rows("intervals", "storage") if row.text("where") == where)
    return int(row.number("days"))


def spore_test_in_time(days_ago: int) -> bool:
    """Whether a spore test of so many days ago still counts. ValueError for days below 0."""
    return exact(days_ago, "number of days", least=0) <= spore_test_days()


def still_kept(days: int, *, wrapped: bool, clinical: bool = True) -> bool:
    """Whether instruments may be used so many days after processing.

    ValueError for days below 0.
    """
    return exact(days, "number of days", least=0) <= storage_days(
        wrapped=wrapped, clinical=clinical
    )
