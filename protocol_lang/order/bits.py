"""Sets of small numbers as whole numbers: the few helpers that the package shares."""

from __future__ import annotations

from collections.abc import Iterable, Iterator


def members(bits: int) -> Iterator[int]:
    """The members of a set of bits, smallest first."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def gather(numbers: Iterable[int]) -> int:
    """The set of bits whose members are ``numbers``."""
    bits = 0
    for number in numbers:
        bits |= 1 << number
    return bits
