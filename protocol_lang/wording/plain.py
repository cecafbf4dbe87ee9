"""Small turns of phrase that every wording shares: lists, counts, quotation marks."""

from __future__ import annotations

from collections.abc import Iterable
from math import log10

_WORDS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def number(n: int) -> str:
    """``n`` in words up to twelve, in figures beyond; thousands are set apart by commas."""
    return _WORDS[n] if 0 <= n < len(_WORDS) else f"{n:,}"


def count(n: int, one: str, many: str | None = None) -> str:
    """ "one step", "3 steps": the number and the noun that goes with it."""
    return f"{number(n)} {one if n == 1 else many or one + 's'}"


def listed(items: Iterable[str], joint: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    parts = list(items)
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {joint} {parts[-1]}"


def quoted(text: str) -> str:
    """The author's own words, in quotation marks."""
    return f'"{text}"'


def begin(text: str) -> str:
    """The same, as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def owned(owner: str, part: str) -> str:
    """ "operator's hands", whether or not ``part`` already says whose."""
    return part if part == owner or part.startswith(f"{owner}'s ") else f"{owner}'s {part}"


def without_owner(part: str) -> str:
    """ "mouth" for "the next patient's mouth", "patient's mouth" or "mouth"."""
    return part.rpartition("'s ")[2]


def nearest_power_of_ten(n: int) -> int:
    """The exponent of the power of ten nearest to ``n`` (at least 1), counted by factors."""
    return round(log10(n))


def power_of_ten_below(n: int) -> int:
    """The exponent of the largest power of ten that is not above ``n`` (at least 1)."""
    power = int(log10(n))  # off by one at most
    if 10**power > n:
        return power - 1
    return power + 1 if 10 ** (power + 1) <= n else power
