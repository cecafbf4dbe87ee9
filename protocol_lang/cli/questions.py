"""What ``start`` asks about a room, how it takes the answers, and what it says of a copy."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut
from protocol_lang.cli.titles import file_name
from protocol_lang.library import Copied, Copy, Kept, Shelf, copy, shelf

#: So many protocols are named in a sentence; of more, only how many they are.
MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be written: a copy of ``kept``, or the short protocol (None).

    ``title``, ``room``: names of the clinic's own; None: as in the library.
    """

    kept: Kept | None
    title: str | None = None
    room: str | None = None


class NobodyAnswers(Exception):
    """No more will be typed, though something is asked."""


# --- By options ----------------------------------------------------------------------------------


def by_options(
    given: Mapping[str, str], like: str | None, title: str | None, room: str | None
) -> Wish:
    """The one protocol of the library that options tell of.

    Raises :class:`CannotCarryOut` for an answer that is none, and when no protocol or more than one
    is left; the sentence says which.
    """
    kept = shelf()
    if like is not None:
        if given:
            raise CannotCarryOut(
                f'"--from" names the protocol already; leave out "--{next(iter(given))}".'
            )
        found = kept.titled(" ".join(like.split()))
        if found is None:
            raise CannotCarryOut(
                f'The library has no protocol "{terminal.visible_in_line(like)}". It has '
                f"{_titles(kept.protocols)}."
            )
        return Wish(found, title, room)
    answers: dict[str, str] = {}
    for question in kept.questions:
        if question.name in given:
            answers[question.name] = _answer(given[question.name], question.answers, question.name)
    first = kept.questions[0].name
    if answers.get(first) in kept.outside:
        more = [name for name in answers if name != first] + ["room-name"] * (room is not None)
        if more:
            raise CannotCarryOut(
                f'With "--{first} {answers[first]}" one short protocol is written, for which '
                f'"--{more[0]}" makes no difference. Leave it out.'
            )
        return Wish(None, title)
    left = kept.fitting(answers)
    if len(left) == 1:
        return Wish(left[0], title, room)
    if not left:
        raise CannotCarryOut(_nothing_fits(kept, answers))
    asked = kept.next_question(answers)
    further = (
        f' "--{asked.name}" tells them apart, with '
        f'{_listed(kept.answers_left(asked, answers))}; or name one with "--from".'
        if asked is not None
        else ' Name one with "--from".'
    )
    which = f": {_titles(left)}" if len(left) <= MOST_NAMED else ""
    raise CannotCarryOut(f"{len(left)} protocols of the library fit{which}.{further}")


def _answer(given: str, answers: Mapping[str, str], name: str) -> str:
    plain = " ".join(given.replace("-", " ").split()).casefold()
    if plain not in answers:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(given)}" is no answer to "--{name}". Possible are '
            f"{_listed(list(answers))}."
        )
    return plain


def _nothing_fits(kept: Shelf, answers: Mapping[str, str]) -> str:
    """Which answer left nothing, after which others, and what would leave something."""
    earlier: dict[str, str] = {}
    for question in kept.questions:
        if question.name not in answers:
            continue
        if not kept.fitting({**earlier, question.name: answers[question.name]}):
            left = kept.answers_left(question, earlier)
            after = _listed(list(earlier.values()))
            return (
                f'After {after}, the library has nothing for "{answers[question.name]}". For '
                f'"--{question.name}" it has {_listed(left)} there.'
            )
        earlier[question.name] = answers[question.name]
    raise AssertionError("the protocols that are left are none, though each answer left some")


# --- By questions --------------------------------------------------------------------------------


def by_questions(title: str | None) -> Wish:
    """What somebody at a terminal wants.

    Raises :class:`NobodyAnswers` when the answers end early.
    """
    kept = shelf()
    terminal.say("Some questions, so that you need not begin with a blank page. Answer with the")
    terminal.say("number. Ctrl-C ends without writing anything.")
    answers: dict[str, str] = {}
    while (question := kept.next_question(answers)) is not None:
        possible = kept.answers_left(question, answers)
        at = _chosen(question.asks, [question.answers[one] for one in possible], possible)
        answers[question.name] = possible[at]
        if answers.get(kept.questions[0].name) in kept.outside:
            return Wish(None, title or _named("What is your protocol called?", None, file_name))
    left = kept.fitting(answers)
    at = 0
    if len(left) > 1:
        titles = [one.title for one in left]
        at = _chosen(
            "Which of these comes nearest?", [f"{one.title}. {one.about}" for one in left], titles
        )
    found = left[at]
    if title is None:
        title = _named("What is your protocol called?", found.title, file_name)
    room = copy(found.path).room
    if room is not None:
        room = _named("What is your room called?", room, file_name)
    return Wish(found, title, room)


def _chosen(asks: str, shown: Sequence[str], words: Sequence[str]) -> int:
    """Which of some answers was chosen, by its number or its words."""
    terminal.say("")
    terminal.say(asks)
    width = terminal.looks()[0]
    for number, line in enumerate(shown, 1):
        first, *more = textwrap.wrap(line, width - 6)
        terminal.say(f"  {number:>2}  {first}")
        for rest in more:
            terminal.say(f"      {rest}")
    plain = [word.casefold() for word in words]
    while True:
        typed = _typed(f"1 to {len(shown)}: ")
        if typed.isdecimal() and typed.isascii() and 1 <= int(typed[:4]) <= len(shown):
            return int(typed) - 1
        if typed.casefold() in plain:
            return plain.index(typed.casefold())
        if typed:
            terminal.say(f'"{terminal.visible_in_line(typed[:40])}" is none of these.')


def _named(asks: str, usual: str | None, fit: Callable[[str], str]) -> str:
    """A name that is typed, or the usual one when nothing is; one that cannot be is told."""
    terminal.say("")
    terminal.say(asks)
    prompt = "Name: " if usual is None else f'Name, or Enter for "{usual}": '
    while True:
        typed = " ".join(_typed(prompt).split())
        if usual is not None and typed in ("", usual):
            return usual
        if not typed:
            continue
        try:
            fit(typed)
        except CannotCarryOut as error:
            terminal.say(error.sentence)
            continue
        return typed


def _typed(prompt: str) -> str:
    typed = terminal.ask(prompt)
    if typed is None:
        terminal.say("")
        raise NobodyAnswers
    return typed


# --- What is said of a copy ----------------------------------------------------------------------


def told(path: Path, kept: Kept, made: Copy) -> Iterator[str]:
    """What was written, what is to be filled in, and how to go on."""
    yield f'"{path}" was written, after "{kept.title}" of the library:'
    for one in made.files:
        yield f"  {one.name}"
    yield "To be filled in before it is used:"
    for one in made.files:
        yield from _to_fill_in(one)
    settle = [sentence for one in made.files for sentence in one.settle]
    if settle:
        yield "To be settled by whoever leads infection control:"
        for sentence in settle:
            yield from _indented(f"{sentence[:1].upper()}{sentence[1:]}")
    yield "Local codes, the labels of products and licensed practice come first."
    yield f'"protocol-lang check {path}" checks it.'


def _to_fill_in(one: Copied) -> Iterator[str]:
    if one.lines_to_fill_in:
        first, last = one.lines_to_fill_in[0], one.lines_to_fill_in[-1]
        yield from _indented(f"{one.name}, lines {first} to {last}: days and owner")
    if one.kind == "room":
        yield from _indented(f"{one.name}: your people, things, covers and boxes")
    for heading in one.examples:
        yield from _indented(f'{one.name}, "{heading}": what stands there is an example')


def _indented(sentence: str) -> Iterator[str]:
    width = terminal.looks()[0]
    yield from textwrap.wrap(
        sentence, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
    )


def _titles(some: Sequence[Kept]) -> str:
    return _listed([one.title for one in some])


def _listed(names: Sequence[str]) -> str:
    *most, last = (f'"{name}"' for name in names)
    return f"{', '.join(most)} and {last}" if most else last
