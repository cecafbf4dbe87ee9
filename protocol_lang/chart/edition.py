"""The short code by which a chart on the wall is told from one of another edition.

It shows which edition a chart was printed from, not who approved it: anybody can print any code.
Nine letters carry the first 45 bits of a fingerprint; the tenth is worked out from them, so that
one letter misread, or two changed about, is told from a chart of another edition.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

#: 32 letters. Those that are taken for another are left out: I and L for 1, O and Q for 0.
ALPHABET = "ABCDEFGHJKMNPRSTUVWXYZ0123456789"
_TAKEN_FOR = str.maketrans({"I": "1", "L": "1", "O": "0", "Q": "0"})
#: Letters that carry the fingerprint; one more is the check.
CARRYING = 9
GROUP = 5


class NoCode(ValueError):
    """What was typed is no code; the text is one sentence for people."""


def code(printed: str) -> str:
    """The code of a fingerprint (hexadecimal, at least 45 bits), in two groups of five letters."""
    bits = 5 * CARRYING
    number = int(printed, 16) >> (4 * len(printed) - bits)
    values = [number >> (bits - 5 * (place + 1)) & 31 for place in range(CARRYING)]
    letters = "".join(ALPHABET[value] for value in (*values, _check(values)))
    return f"{letters[:GROUP]} {letters[GROUP:]}"


def read(typed: str) -> str:
    """A code as somebody typed it, in the form of :func:`code`.

    Large and small letters, blanks and strokes make no difference, nor does a letter that is taken
    for a figure. Raises :class:`NoCode`.
    """
    letters = "".join(typed.split()).replace("-", "").upper().translate(_TAKEN_FOR)
    if len(letters) != CARRYING + 1:
        raise NoCode(f"A code has {CARRYING + 1} letters and figures, and this has {len(letters)}.")
    strange = [letter for letter in letters if letter not in ALPHABET]
    if strange:
        raise NoCode(f'A code has only letters and figures, and no "{strange[0]}".')
    values = [ALPHABET.index(letter) for letter in letters]
    if _check(values[:-1]) != values[-1]:
        raise NoCode(
            "No chart has this code: a letter or figure of it is misread. Read it again from the "
            "foot of the chart."
        )
    return f"{letters[:GROUP]} {letters[GROUP:]}"


def _check(values: Iterable[int]) -> int:
    """A sum in the field of 32 elements, each value times a power of x of its own.

    Powers of x differ from place to place (x is primitive modulo x^5 + x^2 + 1), so no change
    of one letter and no swap of two leaves the sum as it was.
    """
    total = 0
    for value in values:
        total ^= value
        total <<= 1
        if total & 32:
            total ^= 0b100101
    return total


@lru_cache(maxsize=8)
def square(printed: str, title: str) -> str:
    """An SVG picture of a QR code (ISO/IEC 18004) that holds the code and the title as plain text.

    The quiet zone of four modules that the standard asks for is part of the picture. All sheets of
    one protocol have the same.
    """
    from io import BytesIO

    import segno

    short = title if len(title) <= _MOST_TITLE else title[: _MOST_TITLE - 1].rstrip() + "…"
    made = segno.make_qr(f"{code(printed)}\n{short}", error="m", encoding="utf-8")
    to = BytesIO()
    made.save(to, kind="svg", border=4, xmldecl=False, dark="#12303c", light="#ffffff")
    return to.getvalue().decode("utf-8")


#: Letters of a title in a QR code: more would make its squares too small to be read in print.
_MOST_TITLE = 60
