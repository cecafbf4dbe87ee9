"""Where a figure comes from, and how surely that is known."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Status(Enum):
    """How surely the figure is known.

    READ: from the document, or from a copy of it. SECOND_HAND: from a page that restates it.
    MEMORY: nobody has looked it up. COMPUTED: arithmetic on what the document says.
    """

    READ = "read"
    SECOND_HAND = "second-hand"
    MEMORY = "from memory"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Document:
    """A published document.

    ``short``: what it is called in a table. ``year`` and ``identifier`` are None for what is not
    known of it.
    """

    key: str
    short: str
    title: str
    year: int | None
    identifier: str | None


@dataclass(frozen=True, slots=True)
class Basis:
    """What one figure rests on.

    ``inferred``: the document does not say it of this case, but it was concluded from what the
    document says. ``note``: what has to be known besides.
    """

    document: Document
    section: str
    status: Status
    inferred: bool = False
    note: str | None = None
