"""Small turns of phrase that every wording shares: lists, counts, quotation marks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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


def ordinal(n: int) -> str:
    """ "first", "12th": which one it is."""
    words = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
    if n <= len(words):
        return words[n - 1]
    ending = "th" if n % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"


def listed(items: Iterable[str], joint: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    parts = list(items)
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {joint} {parts[-1]}"


def quoted(text: str) -> str:
    """The author's own words, in quotation marks."""
    return f'"{text}"'


def stray_letter(facts: Mapping[str, str]) -> str | None:
    """Which letter of a name belongs to another script, if one does (``letter`` in the facts)."""
    if "letter" not in facts:
        return None
    return (
        f"the {ordinal(int(facts['at']))} letter of {quoted(facts['word'])} is "
        f"{facts['script']}; it only looks like one of the others"
    )


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
