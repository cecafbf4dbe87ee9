"""Where something stands in a text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Some words on one line of one file.

    ``file``: the name shown to people. ``line`` and ``column`` count from 1, columns in characters
    (code points) of the text as read; ``end`` is the column just after the last marked character.
    """

    file: str
    line: int
    column: int
    end: int
