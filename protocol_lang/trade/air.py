"""How long the air of a room takes to clear."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import floor, log

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.tables import rows

#: The columns of the published table: how much is gone, in percent.
COLUMNS = {"percent_90": 90, "percent_99": 99, "percent_99_9": 99.9}


def clearance_time(air_changes: float, percent: float, mixing: float = 1.0) -> float:
    """Minutes until so many percent of what floats in the air are gone, once nothing adds to it.

    t = -ln(1 - percent/100) / air changes an hour * 60 minutes, times the mixing factor (1 for air
    that mixes perfectly, up to 10 for air that hardly does).

    Source: CDC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003,
    table B.1, after MMWR 1994;43(RR-13), table S3-1. Raises ValueError where no such time exists.
    """
    if air_changes <= 0 or not 0 < percent < 100 or mixing < 1:
        raise ValueError(f"no such air: {air_changes} changes, {percent} percent, {mixing}")
    return -log(1 - percent / 100) / air_changes * 60 * mixing


def clearance_minutes(air_changes: float, percent: float, mixing: float = 1.0) -> int:
    """The same in whole minutes, half of one rounded up, as the table is printed."""
    return floor(clearance_time(air_changes, percent, mixing) + 0.5)


@dataclass(frozen=True, slots=True)
class Clearance:
    """A figure of the published table: whole minutes until so many percent are gone."""

    air_changes: int
    percent: float
    minutes: int
    basis: Basis


@cache
def published() -> tuple[Clearance, ...]:
    """The published table, row by row."""
    return tuple(
        Clearance(int(row.number("changes")), percent, int(row.number(column)), row.basis)
        for row in rows("air", "clearance")
        for column, percent in COLUMNS.items()
    )
