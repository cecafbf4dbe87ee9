"""Cells of tables for spreadsheets: text that none of them reckons with."""

from __future__ import annotations

import re
import unicodedata

from protocol_lang.text import shown

#: What a spreadsheet may take for the beginning of a formula: these, and what Unicode holds to be
#: the same letter in another width (NFKC), and the minus sign proper.
_FORMULA = frozenset("=+-@\u2212")
#: What begins a formula by itself, as some spreadsheets go on behind it.
_BEFORE = frozenset("\t\r")
#: Where a spreadsheet in another language of the desk begins a new cell: it splits at semicolons.
_PARTS = re.compile(r"([;\n])")


def cell(value: str) -> str:
    """The value as text: a formula begins with an apostrophe, control characters are escapes.

    Blanks and what nobody sees (formats, joiners) before it do not hide a formula.
    """
    guarded = "".join(f"'{part}" if _is_formula(part) else part for part in _PARTS.split(value))
    return "\n".join(map(shown, guarded.split("\n")))


def _is_formula(text: str) -> bool:
    for letter in text:
        if letter in _BEFORE:
            return True
        if unicodedata.category(letter)[0] not in "ZC":
            return unicodedata.normalize("NFKC", letter)[:1] in _FORMULA
    return False
