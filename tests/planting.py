"""Planting a change into the text of a protocol: lines are named by what they say.

Under the sentence of a step there may stand a short text for the wall. It says nothing to the
proof, so whoever plants a change names the sentences alone, and what is found is the same whether
or not there is a short text. A sentence that goes, or becomes another one, takes its short text
along: it would otherwise be that of the step before.
"""

from __future__ import annotations

import re

_SHORT = r'[ ]*short "[^"\n]*"'


def times(text: str, old: str) -> int:
    """How often the text says this."""
    return len(_pattern(old).findall(text))


def planted(text: str, old: str, new: str, most: int = 0) -> str:
    """The text with ``new`` wherever it says ``old``, at most ``most`` times (0: everywhere).

    AssertionError where it does not say it at all.
    """
    stays = _last_line(old) == _last_line(new)

    def change(found: re.Match[str]) -> str:
        return found["before"] + new + (found["after"] if stays else "")

    made, number = _pattern(old).subn(change, text, count=most)
    assert number, f"the text does not say {old!r}"
    return made


def left_out(text: str, words: str) -> str:
    """The text without the one step whose line has these words."""
    (line,) = (one for one in text.splitlines() if words in one and "[ ]" in one)
    assert times(text, f"{line}\n") == 1
    return planted(text, f"{line}\n", "")


def _last_line(text: str) -> str:
    return text.removesuffix("\n").rpartition("\n")[2]


def _pattern(old: str) -> re.Pattern[str]:
    """``old`` with a short text, or none, under each of its lines: ``before``: under the line that
    it only begins after; ``after``: under its last one."""
    begins = old.startswith("\n")
    lines = old.removeprefix("\n").removesuffix("\n").split("\n")
    between = rf"(?:\n{_SHORT})?\n"
    body = between.join(map(re.escape, lines))
    before = rf"(?P<before>(?:\n{_SHORT}(?=\n))?)\n" if begins else "(?P<before>)"
    if old.endswith("\n") and old != "\n":
        return re.compile(rf"{before}{body}\n(?P<after>(?:{_SHORT}\n)?)")
    return re.compile(rf"{before}{body}(?P<after>(?:\n{_SHORT}(?=\n))?)")
