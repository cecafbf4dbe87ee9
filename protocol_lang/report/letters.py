"""Letters on a page: how wide they are, where a line ends, and what stands in for them in ASCII."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator

from protocol_lang.text import shown

#: Marks around the words to change, in the text that is laid out. They take no room; what becomes
#: of them is settled when the page is written. Two of the code points that are no letters and never
#: will be, so that no author's text has them.
OPEN, CLOSE = "\ufdd0", "\ufdd1"

#: A blank at which no line ends.
HARD_BLANK = "\N{NO-BREAK SPACE}"


def fit(text: str, ascii_only: bool) -> str:
    """One line of ``text`` for a page: all that could mislead a reader as escapes.

    With ``ascii_only``, letters with accents become bare letters and others escapes.
    """
    safe = shown(text.replace("\t", " "))
    return "".join(map(_in_ascii, safe)) if ascii_only else safe


def _in_ascii(character: str) -> str:
    if character.isascii() or character in (OPEN, CLOSE):
        return character
    if unicodedata.combining(character):
        return ""
    bare = unicodedata.normalize("NFKD", character)[0]
    return bare if bare.isascii() else character.encode("ascii", "backslashreplace").decode()


def width(text: str) -> int:
    """How many columns ``text`` takes: wide letters two, marks over letters none."""
    return sum(map(_width, text))


def _width(character: str) -> int:
    if character in (OPEN, CLOSE) or unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def wrap(text: str, columns: int) -> list[str]:
    """``text`` in lines of at most ``columns`` (at least 2), ended at blanks where that can be.

    A word too long for a line is cut: after a slash, else after a hyphen or a full stop, else
    anywhere.
    """
    lines: list[str] = []
    line = ""
    for word in _words(text, columns):
        if line and width(line) + 1 + width(word) > columns:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return [*lines, line] if line or not lines else lines


def _words(text: str, columns: int) -> Iterator[str]:
    for word in text.split(" "):
        start = 0
        while _wider(word, start, columns):
            cut = start + _cut(word, start, columns)
            yield word[start:cut]
            start = cut
        if start < len(word):
            yield word[start:]


def _wider(word: str, start: int, columns: int) -> bool:
    """Whether the rest of the word takes more columns; of a very long one only as much is looked
    at as that takes."""
    taken = 0
    for at in range(start, len(word)):
        taken += _width(word[at])
        if taken > columns:
            return True
    return False


def _cut(word: str, start: int, columns: int) -> int:
    """How many letters from the start on fit into a line."""
    taken = 0
    best = good = hard = 0
    for at in range(start, len(word)):
        character = word[at]
        taken += _width(character)
        if taken > columns:
            break
        hard = at + 1 - start
        if character in "/\\":
            best = hard
        elif character in "-.":
            good = hard
    return best or good or hard
