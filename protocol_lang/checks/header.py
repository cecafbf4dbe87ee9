"""What the top of a protocol says about its days: in force already, and not past its review."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from protocol_lang.findings import Finding, Weight
from protocol_lang.model.protocol import Header


def days_of(header: Header, on: date | None) -> Iterator[Finding]:
    """Findings to consider, on that day; none without a day.

    Dates prove nothing: nobody is harmed by a late review alone, but the owner has to know.
    """
    if on is None:
        return
    if header.in_force is not None and on < header.in_force:
        facts = {"day": header.in_force.isoformat(), "on": on.isoformat()}
        yield Finding("not-in-force", header.place, facts, weight=Weight.CONSIDER)
    if header.review_by is not None and on > header.review_by:
        facts = {
            "day": header.review_by.isoformat(),
            "on": on.isoformat(),
            "owner": header.owner or "",
        }
        yield Finding("review-passed", header.place, facts, weight=Weight.CONSIDER)
