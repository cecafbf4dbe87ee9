"""What one rule says of another: which of two that disagree prevails.

Both are always judged. A rule that *tightens* another asks for more, so whoever keeps it keeps
both. Whether it does is looked at where the two can be compared (:mod:`.stricter`), and else told
as declared. A rule that *loosens* another takes nothing from it: the other one prevails, and where
it is not kept a waiver is needed, with a reason, an end and somebody who answers for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from protocol_lang.model.rules import Rule, RuleBook
from protocol_lang.rules.stricter import Asks, asks


class Prevails(Enum):
    """What follows from what a rule says of another."""

    BOTH = "both"
    THE_OTHER = "the other"
    NOT_APPLIED = "not applied"
    NO_SUCH_RULE = "no such rule"


@dataclass(frozen=True, slots=True)
class Relation:
    """``rule`` of ``pack`` tightens, or (``tightens`` false) loosens, ``other`` of ``other_pack``.

    ``NOT_APPLIED``: the other file of rules is none of those that are judged by. ``asks``: what the
    rule asks beside the other one, where both are known.
    """

    rule: str
    pack: str
    tightens: bool
    other: str
    other_pack: str
    prevails: Prevails
    asks: Asks = Asks.NOT_KNOWN


def relations(books: Sequence[RuleBook]) -> tuple[Relation, ...]:
    """Everything that the rules of these files say of each other, in their order."""
    return tuple(_relations(books))


def _relations(books: Sequence[RuleBook]) -> Iterable[Relation]:
    by_title = {_same(book.header.title): book for book in books}
    for book in books:
        for rule in book.rules:
            for other in rule.others:
                known = by_title.get(_same(other.pack))
                asked = Asks.NOT_KNOWN
                if known is None:
                    prevails = Prevails.NOT_APPLIED
                elif (its := _titled(known, other.title)) is None:
                    prevails = Prevails.NO_SUCH_RULE
                else:
                    prevails = Prevails.BOTH if other.tightens else Prevails.THE_OTHER
                    asked = asks(rule, its, _levels(book, known))
                yield Relation(
                    rule.title,
                    book.header.title,
                    other.tightens,
                    other.title,
                    other.pack,
                    prevails,
                    asked,
                )


def _titled(book: RuleBook, title: str) -> Rule | None:
    return next((rule for rule in book.rules if _same(rule.title) == _same(title)), None)


def _levels(book: RuleBook, other: RuleBook) -> tuple[str, ...]:
    """The levels that both know; none, if they do not have them in one order."""
    both = tuple(level for level in book.levels if level in other.levels)
    return both if both == tuple(level for level in other.levels if level in both) else ()


def _same(title: str) -> str:
    """A title as it is compared: capitals and the number of blanks do not count."""
    return " ".join(title.casefold().split())
