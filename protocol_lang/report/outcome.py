"""Moved to :mod:`protocol_lang.outcome`, below everything that makes outcomes."""

from protocol_lang.outcome import (
    ChoiceSeen,
    Coverage,
    FileOutcome,
    FileRead,
    Line,
    OrderCount,
    Outcome,
    Remainder,
    Standing,
)

__all__ = [
    "ChoiceSeen",
    "Coverage",
    "FileOutcome",
    "FileRead",
    "Line",
    "OrderCount",
    "Outcome",
    "Remainder",
    "Standing",
]
