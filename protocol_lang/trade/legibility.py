"""How high letters are, and how much they stand out."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from re import fullmatch

from protocol_lang.trade.numbers import Number, exact, one_of
from protocol_lang.trade.tables import rows


@cache
def letter_parts(kind: str = "message", by: str | None = None) -> Fraction:
    """How many times its height a letter can be read from.

    ``kind``: "message" or "signal word"; ``by``: whose figure, None for the default (ANSI Z535).
    ValueError for what there is not.
    """
    found = rows("legibility", "letter")
    rules = tuple(dict.fromkeys(row.text("by") for row in found))
    rule = next(row.text("by") for row in found if row.default) if by is None else by
    one_of(rule, rules, "rule for the height of letters by")
    kinds = {row.text("kind"): row.number("parts") for row in found if row.text("by") == rule}
    one_of(kind, tuple(kinds), f"height ({rule}) for letters of the kind")
    return kinds[kind]


def letter_height(metres: Number, kind: str = "message", by: str | None = None) -> Fraction:
    """The least height of a letter, in millimetres, that is read from so many metres.

    ValueError unless the distance is above 0, and as for :func:`letter_parts`.
    """
    return exact(metres, "reading distance", above=0) * 1000 / letter_parts(kind, by)


def acuity_factor(acuity: Number) -> Fraction:
    """By how much letters are larger for a visual acuity of 0.7, 0.5 or 0.4 (DIN 1450).

    ValueError for another acuity: the standard is not read between its values.
    """
    asked = exact(acuity, "visual acuity", above=0)
    found = {row.number("acuity"): row.number("times") for row in rows("legibility", "acuity")}
    for known, times in found.items():
        if float(known) == float(asked):
            return times
    raise ValueError(
        f"There is no factor for a visual acuity of {acuity}. "
        f"Known are: {', '.join(str(float(known)) for known in found)}."
    )


def least_contrast(grade: str = "AA", kind: str = "text") -> Fraction:
    """The least contrast of a grade for "text", "large text" or "not text" (WCAG 2.x).

    ValueError for what there is not.
    """
    for row in rows("legibility", "contrast"):
        if (row.text("grade"), row.text("kind")) == (grade, kind):
            return row.number("ratio")
    raise ValueError(f'There is no least contrast of the grade "{grade}" for "{kind}".')


def contrast(one: str, other: str) -> float:
    """The contrast of two colours, from 1 to 21; each is written as "#rrggbb".

    Source: WCAG 2.x, contrast ratio and relative luminance. ValueError for another writing.
    """
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    if fullmatch("#[0-9A-Fa-f]{6}", colour) is None:
        raise ValueError(f'A colour is written as "#rrggbb", not "{colour}".')
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
