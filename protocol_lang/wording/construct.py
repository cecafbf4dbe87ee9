"""The shape of an explanation of a word of the language."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Construct:
    """A word of the language. ``also``: other words that lead to the same page."""

    name: str
    also: tuple[str, ...]
    meaning: str
    good: str
    faulty: str
