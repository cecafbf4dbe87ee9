"""What the library has, and which of it fits: ``protocols/library.toml`` as values.

A new protocol of the library is an entry in that file and nothing here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from protocol_lang.resources import folder

#: Stands in the place of answers that a protocol leaves open: every answer fits.
ANY: frozenset[str] = frozenset()

#: Answers by the name of their question.
Answers = Mapping[str, str]

_TITLE = re.compile(r'(?:protocol|day) "([^"]+)"')


@dataclass(frozen=True, slots=True)
class Question:
    """A question about the room. ``answers``: what is meant, by the word that is answered with."""

    name: str
    asks: str
    answers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Kept:
    """A protocol of the library. ``fits``: by question, the answers that lead to it."""

    path: Path
    title: str
    about: str
    fits: Mapping[str, frozenset[str]]

    def suits(self, answers: Answers) -> bool:
        """Whether no answer leads away from it."""
        return all(
            answer in fit if (fit := self.fits.get(name, ANY)) else True
            for name, answer in answers.items()
        )


@dataclass(frozen=True, slots=True)
class Shelf:
    """All questions in the order in which they are asked, and all protocols."""

    questions: tuple[Question, ...]
    protocols: tuple[Kept, ...]

    def fitting(self, answers: Answers) -> tuple[Kept, ...]:
        """The protocols that no answer leads away from."""
        return tuple(one for one in self.protocols if one.suits(answers))

    def answers_left(self, question: Question, answers: Answers) -> tuple[str, ...]:
        """The answers to a question that something is left for, given earlier ones.

        An answer that is about no protocol of the library (a room like none of them) is always
        among those to the first question.
        """
        left = self.fitting(answers)
        return tuple(
            answer
            for answer in question.answers
            if any(one.suits({question.name: answer}) for one in left)
            or (question == self.questions[0] and answer in self.outside)
        )

    def next_question(self, answers: Answers) -> Question | None:
        """The first question, not answered yet, in which the protocols that are left differ."""
        left = self.fitting(answers)
        for question in self.questions:
            if question.name in answers:
                continue
            split = {
                tuple(one.title for one in left if one.suits({question.name: answer}))
                for answer in self.answers_left(question, answers)
            }
            if len(split) > 1:
                return question
        return None

    @property
    def outside(self) -> frozenset[str]:
        """The answers to the first question that lead to no protocol of the library."""
        first = self.questions[0]
        return frozenset(
            answer for answer in first.answers if not self.fitting({first.name: answer})
        )

    def titled(self, title: str) -> Kept | None:
        """The protocol of that title; capitals make no difference."""
        return next(
            (one for one in self.protocols if one.title.casefold() == title.casefold()), None
        )


@cache
def shelf() -> Shelf:
    """What the library has.

    Raises :class:`ValueError` when its file names a question, an answer or a protocol that is not
    there: the install is damaged.
    """
    protocols = folder("protocols")
    said = tomllib.loads((protocols / "library.toml").read_text("utf-8"))
    questions = tuple(
        Question(one["name"], one["asks"], one["answers"]) for one in said["question"]
    )
    return Shelf(questions, tuple(_kept(protocols, questions, said["protocol"])))


def _kept(
    protocols: Path, questions: Sequence[Question], entries: Sequence[Mapping[str, object]]
) -> Iterator[Kept]:
    for entry in entries:
        file, about, fits = str(entry["file"]), str(entry["about"]), {}
        for question in questions:
            answers = entry.get(question.name, [])
            assert isinstance(answers, list)
            if not question.answers.keys() >= set(answers):
                raise ValueError(f"library.toml, {file}: {question.name} has no such answer.")
            fits[question.name] = frozenset(answers)
        if unknown := entry.keys() - fits.keys() - {"file", "about"}:
            raise ValueError(f"library.toml, {file}: there is no question {min(unknown)}.")
        path = protocols / f"{file}.protocol"
        title = _TITLE.match(path.read_text("utf-8"))
        if title is None:
            raise ValueError(f"library.toml, {file}: it is neither a protocol nor a day.")
        yield Kept(path, title[1], about, fits)
