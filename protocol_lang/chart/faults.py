"""Why a chart cannot be printed."""

from __future__ import annotations


class CannotPrint(Exception):
    """The sheet cannot be set as asked; the text is one sentence for people, with the mend."""
