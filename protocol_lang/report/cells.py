"""Cells of tables for spreadsheets: text that none of them reckons with."""

from __future__ import annotations

from protocol_lang.text import shown

#: What a spreadsheet may take for the beginning of a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def cell(value: str) -> str:
    """The value as text: a formula begins with an apostrophe, control characters are escapes."""
    guarded = f"'{value}" if value.startswith(_FORMULA) else value
    return "\n".join(map(shown, guarded.split("\n")))
