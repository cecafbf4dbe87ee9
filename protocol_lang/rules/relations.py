"""What one rule says of another: which of two that disagree prevails.

Both are always judged. A rule that *tightens* another asks for more, so whoever keeps it keeps
both. A rule that *loosens* another takes nothing from it: the other one prevails, and where it is
not kept a waiver is needed, with a reason, an end and somebody who answers for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from protocol_lang.model.rules import RuleBook


class Prevails(Enum):
    """What follows from what a rule says of another."""

    BOTH = "both"
    THE_OTHER = "the other"
    NOT_APPLIED = "not applied"
    NO_SUCH_RULE = "no such rule"


@dataclass(frozen=True, slots=True)
class Relation:
    """``rule`` of ``pack`` tightens, or (``tightens`` false) loosens, ``other`` of ``other_pack``.

    ``NOT_APPLIED``: the other file of rules is none of those that are judged by.
    """

    rule: str
    pack: str
    tightens: bool
    other: str
    other_pack: str
    prevails: Prevails


def relations(books: Sequence[RuleBook]) -> tuple[Relation, ...]:
    """Everything that the rules of these files say of each other, in their order."""
    return tuple(_relations(books))


def _relations(books: Sequence[RuleBook]) -> Iterable[Relation]:
    titles = {
        _same(book.header.title): {_same(rule.title) for rule in book.rules} for book in books
    }
    for book in books:
        for rule in book.rules:
            for other in rule.others:
                known = titles.get(_same(other.pack))
                if known is None:
                    prevails = Prevails.NOT_APPLIED
                elif _same(other.title) not in known:
                    prevails = Prevails.NO_SUCH_RULE
                else:
                    prevails = Prevails.BOTH if other.tightens else Prevails.THE_OTHER
                yield Relation(
                    rule.title, book.header.title, other.tightens, other.title, other.pack, prevails
                )


def _same(title: str) -> str:
    """A title as it is compared: capitals and the number of blanks do not count."""
    return " ".join(title.casefold().split())
