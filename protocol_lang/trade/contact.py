"""How long things stay wet and hands are treated, and how bleach is thinned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import Number, exact, one_of
from protocol_lang.trade.tables import Row, rows


@dataclass(frozen=True, slots=True)
class Span:
    """From the least to the most; ``most`` is None where no end is given."""

    least: Fraction
    most: Fraction | None
    basis: Basis


def _span(row: Row) -> Span:
    return Span(row.number("least"), row.maybe("most"), row.basis)


def contact_minutes(level: str) -> Span:
    """The least contact time of a level, in minutes; the label of the product comes first.

    Source: CDC 2008, table 1. ValueError for a level of which the table gives none.
    """
    found = {row.text("level"): row for row in rows("contact-times", "contact")}
    one_of(level, tuple(found), "contact time for the level")
    return _span(found[level])


def label_minutes() -> Span:
    """From the shortest to the longest contact time that labels ask for, in minutes."""
    return _span(rows("contact-times", "label")[0])


def drying_minutes() -> Span:
    """After how many minutes a water-based product has dried."""
    return _span(rows("contact-times", "label")[1])


def wettings(label: Number, dries_after: Number | None = None) -> int:
    """How often a surface is wetted so that it stays wet for the time of the label, in minutes.

    ``dries_after``: minutes; None takes the longest published time, 2. ValueError unless both are
    above 0.
    """
    dry = drying_minutes()
    lasts = dry.most or dry.least
    if dries_after is not None:
        lasts = exact(dries_after, "time of drying", above=0)
    return ceil(exact(label, "time on the label", above=0) / lasts)


def hand_seconds(way: str, by: str | None = None) -> Span:
    """How long hands are treated, in seconds; ``way``: "rub" or "wash"; ``by``: whose figure.

    None takes the default (WHO 2009). ValueError for what there is not.
    """
    ways = rows("contact-times", "hands")
    one_of(way, tuple(dict.fromkeys(row.text("way") for row in ways)), "way to treat hands")
    found = {row.text("by"): row for row in ways if row.text("way") == way}
    if by is None:
        return _span(next(row for row in found.values() if row.default or row.question is None))
    one_of(by, tuple(found), f"figure for a {way} by")
    return _span(found[by])


def dilution_ppm(percent: Number, parts: Number) -> Fraction:
    """Chlorine, in parts per million, of bleach of so many percent, one part in ``parts``.

    "1:100" is counted as one part in a hundred in all, as published examples do. ValueError unless
    the percentage is above 0 and at most 100, and the parts at least 1.
    """
    strength = exact(percent, "strength of the bleach in percent", above=0)
    if strength > 100:
        raise ValueError(f"The strength of the bleach must be at most 100 percent, not {percent}.")
    return strength * 10_000 / exact(parts, "number of parts", least=1)
