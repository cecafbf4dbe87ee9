"""The shape of a wording."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

Facts = Mapping[str, str]


def nothing(facts: Facts) -> str | None:
    """No advice: given where none is certain."""
    return None


@dataclass(frozen=True, slots=True)
class Entry:
    """How one kind of finding speaks.

    ``kind``: its readable name; ``number``: its permanent short name, never used again for another.
    ``sentence``: what is the case, in one sentence that stands alone, in the author's nouns.
    ``change``: the mend, only where it is certain. ``because``: what else must be known.
    ``explanation``: paragraphs for ``explain``; ``faulty`` and ``good``: small complete texts, of
    which the first has exactly this finding and the second none (run by the tests). An empty
    ``faulty`` is allowed only for kinds that no text can show (an unreadable file).
    """

    kind: str
    number: str
    sentence: Callable[[Facts], str]
    explanation: str
    faulty: str
    good: str
    change: Callable[[Facts], str | None] = nothing
    because: Callable[[Facts], str | None] = nothing
