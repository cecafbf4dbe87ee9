"""Numbers that callers hand in: exact, or refused with a sentence."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

#: What callers may give as a number. A float counts as exactly the number that it is.
Number = int | float | Fraction


def exact(
    value: Number, what: str, *, above: int | None = None, least: int | None = None
) -> Fraction:
    """The number as a fraction; ``what`` names it in the sentence of an error.

    ValueError if it is no finite number, not above ``above``, or below ``least``.
    """
    try:
        found = Fraction(value)
    except (ValueError, OverflowError, TypeError):
        raise ValueError(f"The {what} must be a number, not {value}.") from None
    if above is not None and found <= above:
        raise ValueError(f"The {what} must be more than {above}, not {value}.")
    if least is not None and found < least:
        raise ValueError(f"The {what} must be at least {least}, not {value}.")
    return found


def one_of(name: str, known: Collection[str], what: str) -> str:
    """The name, if it is known.

    ValueError that lists what is known, otherwise.
    """
    if name not in known:
        raise ValueError(f'There is no {what} "{name}". Known are: {", ".join(known)}.')
    return name
