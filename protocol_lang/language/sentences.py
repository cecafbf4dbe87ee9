"""Sentences against frames: every reading there is.

A sentence is matched as a whole against every frame: the words of the frame in their order, and in
each slot a declared name that may stand there. All readings are found. The longest name does *not*
win, for then a name added to a shared file would silently change what another file means.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from protocol_lang.language.frames import admits, is_person, words_in
from protocol_lang.language.names import AND, ARTICLES, Name, Names, Token, tokens_of
from protocol_lang.model.verbs import Frame, Share, Slot

#: Enough to say that a sentence is not clear; more are never listed.
MOST_READINGS = 24


@dataclass(frozen=True, slots=True)
class Form:
    """A frame, and the verb it is a form of (any value that tells verbs apart)."""

    verb: Hashable
    frame: Frame


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a sentence.

    ``filled``: the names in each slot, groups spelt out. ``written``: the same before groups are
    spelt out. ``numbers``: for each of ``filled`` how many of it, where the sentence says so.
    ``spoiled``: one of the names was at fault where it was declared.
    """

    form: Form
    filled: Mapping[str, tuple[str, ...]]
    written: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    spoiled: bool = False
    numbers: Mapping[str, tuple[int | None, ...]] = field(default_factory=dict)

    @property
    def meaning(self) -> tuple[Hashable, ...]:
        """Two readings of one meaning are one."""
        filled = tuple(sorted(self.filled.items()))
        return (self.form.verb, filled, tuple(sorted(self.numbers.items())))


#: What may fill a slot: the names as written.
Filling = tuple[Name, ...]


class Spans:
    """What the stretches of one sentence may name; found once, asked by many frames."""

    __slots__ = ("_fillings", "_names", "names", "tokens")

    def __init__(self, tokens: tuple[Token, ...], names: Names) -> None:
        self.tokens = tokens
        self.names = names
        self._names: dict[tuple[int, int], tuple[Name, ...]] = {}
        self._fillings: dict[tuple[int, int, str, bool], tuple[Filling, ...]] = {}

    def named(self, start: int, end: int) -> tuple[Name, ...]:
        """The names that ``tokens[start:end]`` may mean, of any kind."""
        key = (start, end)
        found = self._names.get(key)
        if found is None:
            found = self._names[key] = self._look_up(start, end)
        return found

    def _look_up(self, start: int, end: int) -> tuple[Name, ...]:
        span = self.tokens[start:end]
        quoted = [token for token in span if token.inside is not None]
        if quoted:
            if len(quoted) == 1 and all(t is quoted[0] or t.word in ARTICLES for t in span):
                return self.names.exactly(quoted[0].inside or ())
            return ()
        words = tuple(token.word for token in span)
        if "," in words or "" in words:
            return ()
        if len(words) > self.names.longest and not any(w in ARTICLES for w in words):
            return ()
        return self.names.find(words)

    def fillings(self, start: int, end: int, slot: Slot) -> tuple[Filling, ...]:
        """All ways in which ``tokens[start:end]`` fills the slot."""
        listed = slot.share is not Share.ONE
        key = (start, end, slot.kind, listed)
        found = self._fillings.get(key)
        if found is None:
            found = tuple(
                self._lists(start, end, slot) if listed else self._single(start, end, slot)
            )
            self._fillings[key] = found
        return found

    def _single(self, start: int, end: int, slot: Slot) -> Iterable[Filling]:
        if slot.kind == "minutes":
            if end - start == 1 and is_number(self.tokens[start].word):
                yield (Name(self.tokens[start].word, "minutes"),)
            return
        for name in self.named(start, end):
            if admits(slot, name):
                yield (name,)

    def items(self, start: int, end: int, slot: Slot) -> list[Name]:
        """The names that may be one member of a list there; a group stands for its members.

        Before things, and before a group of things, a number in figures may stand.
        """
        found = []
        if end - start > 1 and is_number(self.tokens[start].word) and holds_things(slot):
            number = int(self.tokens[start].word)
            found += [
                replace(name, number=number)
                for name in self.items(start + 1, end, slot)
                if name.number is None
            ]
        for name in self.named(start, end):
            if name.kind == "group" and not name.spoiled:
                members = [self.names.thing(member) for member in name.members]
                if all(member is not None and admits(slot, member) for member in members):
                    found.append(name)
            elif admits(slot, name):
                found.append(name)
        return found

    def _lists(self, start: int, end: int, slot: Slot) -> list[Filling]:
        """Backwards, so that every stretch is cut once: the ways from each place to the end."""
        ways: dict[int, list[Filling]] = {}
        longest = self.names.longest + 4
        for at in range(end - 1, start - 1, -1):
            found: dict[tuple[tuple[str, int | None], ...], Filling] = {}
            for stop in range(at + 1, min(end, at + longest) + 1):
                tails: list[Filling]
                if stop == end:
                    tails = [()]
                else:
                    tails = [way for after in self.joints(stop, end) for way in ways.get(after, [])]
                if not tails:
                    continue
                for name in self.items(at, stop, slot):
                    for tail in tails:
                        if len(found) < MOST_READINGS:
                            filling = (name, *tail)
                            found[tuple((n.name, n.number) for n in filling)] = filling
            ways[at] = list(found.values())
        return ways.get(start, [])

    def joints(self, at: int, end: int) -> list[int]:
        """Where the next member of a list may begin if a comma, "and" or both stand here."""
        found = []
        here = at
        if here < end and self.tokens[here].word == ",":
            here += 1
            found.append(here)
        if here < end and self.tokens[here].word == AND:
            found.append(here + 1)
        return [after for after in found if after < end]


def holds_things(slot: Slot) -> bool:
    """Whether things fill the slot."""
    return not is_person(slot) and slot.kind not in {"stream", "minutes"}


def is_number(word: str) -> bool:
    """Whether the word is a number in figures, of at most nine."""
    return word.isascii() and word.isdigit() and len(word) <= 9


class Sentences:
    """Reads sentences against a fixed set of forms and names."""

    __slots__ = ("_read", "_words", "forms", "names")

    def __init__(self, forms: Iterable[Form], names: Names) -> None:
        self.forms = tuple(forms)
        self.names = names
        self._words = tuple((form, frozenset(words_in(form.frame))) for form in self.forms)
        self._read: dict[str, tuple[Reading, ...]] = {}

    def read(self, text: str) -> tuple[Reading, ...]:
        """All readings that differ in meaning; those without a spoiled name, if there are any.

        None: no frame matches. Readings come in an order that does not depend on the order of
        declarations when their texts differ.
        """
        known = self._read.get(text)
        if known is None:
            known = self._read[text] = self._all(tokens_of(text))
        return known

    def _all(self, tokens: tuple[Token, ...]) -> tuple[Reading, ...]:
        here = {token.word for token in tokens}
        spans = Spans(tokens, self.names)
        found: dict[tuple[Hashable, ...], Reading] = {}
        for form, words in self._words:
            if words <= here:
                for reading in _match(form, spans):
                    found.setdefault(reading.meaning, reading)
        clean = [reading for reading in found.values() if not reading.spoiled]
        chosen = clean or list(found.values())
        return tuple(sorted(chosen, key=lambda r: (r.form.frame.text, sorted(r.filled.items()))))


_Ways = list[tuple[Filling, ...]]


def _match(form: Form, spans: Spans) -> Iterable[Reading]:
    """Every reading of the whole sentence as this form."""
    parts = form.frame.parts
    tokens = spans.tokens
    count = len(tokens)
    known: dict[tuple[int, int], _Ways] = {}

    def rest(part: int, at: int) -> _Ways:
        """The ways in which the parts from here on take the words from here on."""
        if part == len(parts):
            return [()] if at == count else []
        key = (part, at)
        if key not in known:
            known[key] = cut(part, at)
        return known[key]

    def cut(part: int, at: int) -> _Ways:
        here = parts[part]
        if isinstance(here, str):
            while at < count and tokens[at].word in ARTICLES:
                at += 1
            return rest(part + 1, at + 1) if at < count and tokens[at].word == here else []
        ways: _Ways = []
        if part + 1 == len(parts):
            stops: Iterable[int] = (count,) if at < count else ()
        else:
            word = parts[part + 1]
            stops = (i for i in range(at + 1, count) if tokens[i].word == word)
        for stop in stops:
            fillings = spans.fillings(at, stop, here)
            if not fillings:
                continue
            for tail in rest(part + 1, stop):
                for filling in fillings:
                    ways.append((filling, *tail))
                    if len(ways) >= MOST_READINGS:
                        return ways
        return ways

    slots = [part for part in parts if isinstance(part, Slot)]
    for way in rest(0, 0):
        yield _reading(form, slots, way)


def _reading(form: Form, slots: list[Slot], way: tuple[Filling, ...]) -> Reading:
    filled: dict[str, tuple[str, ...]] = {}
    written: dict[str, tuple[str, ...]] = {}
    numbers: dict[str, tuple[int | None, ...]] = {}
    spoiled = False
    for slot, filling in zip(slots, way, strict=True):
        written[slot.name] = tuple(
            name.name if name.number is None else f"{name.number} {name.name}" for name in filling
        )
        spelt: list[str] = []
        counted: list[int | None] = []
        for name in filling:
            members = name.members if name.kind == "group" else (name.name,)
            spelt.extend(members)
            counted.extend([name.number] * len(members))
            spoiled = spoiled or name.spoiled
        filled[slot.name] = tuple(spelt)
        if any(number is not None for number in counted):
            numbers[slot.name] = tuple(counted)
    return Reading(form, filled, written, spoiled, numbers)
