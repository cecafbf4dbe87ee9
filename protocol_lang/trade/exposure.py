"""Where people stand at an exposure."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

from protocol_lang.trade.numbers import Number, exact, one_of
from protocol_lang.trade.tables import rows


@cache
def least_distance(by: str | None = None) -> Fraction:
    """Metres from the patient, at least, without a barrier.

    ``by``: whose figure, None for the default (NCRP 145: 2 m; US texts take 6 ft for it).
    ValueError for what there is not.
    """
    found = rows("exposure", "distance")
    if by is None:
        return next(row.number("metres") for row in found if row.default)
    by_name = {row.text("by"): row.number("metres") for row in found}
    one_of(by, tuple(by_name), "distance by")
    return by_name[by]


@cache
def safe_angles() -> tuple[Fraction, Fraction]:
    """Degrees from the beam, from and to, between which people stand without a barrier."""
    (row,) = rows("exposure", "angle")
    return row.number("least"), row.number("most")


@cache
def least_cord() -> Fraction:
    """Metres of the cord of the exposure button of a mobile set, at least (WAC 246-225A)."""
    (row,) = rows("exposure", "cord")
    return metres(row.number("feet"))


def metres(feet: Number) -> Fraction:
    """Feet in metres, exactly. ValueError below 0."""
    (row,) = rows("exposure", "length")
    return exact(feet, "length in feet", least=0) * row.number("metres")


def dose_part(near: Number, far: Number) -> Fraction:
    """What is left of a dose at ``near`` metres from a small source, at ``far`` metres from it.

    The inverse square law; scattered radiation and walls are left out. ValueError unless both are
    above 0.
    """
    ratio = exact(near, "nearer distance", above=0) / exact(far, "farther distance", above=0)
    return ratio**2
