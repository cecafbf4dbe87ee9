"""Questions without a number on which published guidance differs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import one_of
from protocol_lang.trade.tables import rows


@dataclass(frozen=True, slots=True)
class Answer:
    """One of several published answers; ``default``: it is taken where nothing is said."""

    question: str
    answer: str
    default: bool
    basis: Basis


@cache
def practice_questions() -> tuple[str, ...]:
    """The questions."""
    return tuple(dict.fromkeys(row.question or "" for row in rows("practice", "answer")))


@cache
def answers(question: str) -> tuple[Answer, ...]:
    """The published answers, the default first. ValueError for a question that is not known."""
    one_of(question, practice_questions(), "question")
    found = [
        Answer(question, row.text("answer"), row.default, row.basis)
        for row in rows("practice", "answer")
        if row.question == question
    ]
    return tuple(sorted(found, key=lambda answer: not answer.default))
