"""Where names of one sort are declared and looked up, and where findings are gathered.

A name whose declaration was at fault is remembered as spoiled: nothing is said about its uses.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, is_dataclass, replace
from typing import Generic, TypeVar

from protocol_lang.findings import Finding, Unchecked, Weight
from protocol_lang.language.names import (
    ARTICLES,
    MOST_LETTERS,
    MOST_WORDS,
    likeness,
    mixed_word,
    nearest,
    stray_letter,
    tokens_of,
    without_articles,
    words_of,
)
from protocol_lang.language.reading import openers
from protocol_lang.language.tree import Words
from protocol_lang.text import Place

Key = tuple[str, ...]

#: A name that was looked up in vain: its sort and its key.
Missed = tuple[str, Key]

#: Words with which a line begins, or that stand for something in every protocol: no names.
RESERVED = frozenset(
    ({*openers.HEADER, *openers.SECTIONS, *openers.ITEMS, *openers.STEP} - openers.IN_RULES)
    | {"say", "what came off", "all of", "any of", "and", "or", "not", "is"}
)


#: Names that are compared to advise one, in one run; beyond it no name is advised.
MOST_COMPARED = 200_000


def key_of(text: str) -> Key:
    """What a name is looked up by: its folded words without articles."""
    return without_articles(words_of(text))


def name_text(words: Words) -> str:
    """The name as it is shown: one blank between words, without quotation marks around it."""
    text = words.plain
    if len(text) > 1 and text[0] == text[-1] == '"' and '"' not in text[1:-1]:
        text = " ".join(text[1:-1].split())
    return text


@dataclass(slots=True)
class Told:
    """Gathers what one reading of a protocol finds.

    ``spoiled``: names that failed to be declared. ``dented``: things with a faulty trait.
    ``forms``: the small words of the forms of verbs that failed.
    ``hazy``: a file that might declare more could not be read, so that nothing is called unknown.
    """

    findings: list[Finding] = field(default_factory=list)
    unchecked: list[Unchecked] = field(default_factory=list)
    spoiled: set[Key] = field(default_factory=set)
    dented: set[str] = field(default_factory=set)
    forms: list[frozenset[str]] = field(default_factory=list)
    hazy: bool = False
    complete: bool = True
    context: str | None = None
    compared: int = 0

    def tell(
        self,
        kind: str,
        place: Place,
        *,
        others: Iterable[tuple[str, Place]] = (),
        weight: Weight = Weight.CORRECT,
        **facts: str | None,
    ) -> None:
        """A finding; facts that are None are left out."""
        self.add(kind, place, facts, tuple(others), weight)

    def add(
        self,
        kind: str,
        place: Place,
        facts: Mapping[str, str | None],
        others: tuple[tuple[str, Place], ...] = (),
        weight: Weight = Weight.CORRECT,
    ) -> None:
        """The same, with the facts as a mapping."""
        kept = {name: fact for name, fact in facts.items() if fact is not None}
        self.findings.append(Finding(kind, place, kept, others, self.context, weight=weight))
        if weight is Weight.CORRECT:
            self.complete = False

    def unknown(self, kind: str, words: Words, known: Iterable[str], **facts: str | None) -> None:
        """A name that nothing declares, with the one nearest to it if that is sure.

        Silent where the name was spoiled, or where a file that may declare it was not read.
        """
        name = name_text(words)
        self.complete = False
        if self.hazy or self.is_spoiled(name):
            return
        near = None
        if self.compared <= MOST_COMPARED:
            names = tuple(known)
            self.compared += len(names)
            near = nearest(name, names)
        self.add(kind, words.place, {"name": name, "nearest": near, **stray(name), **facts})

    def spoil(self, words: Words) -> None:
        """The name failed to be declared."""
        self.spoiled.add(key_of(name_text(words)))
        self.complete = False

    def is_spoiled(self, name: str) -> bool:
        """Whether the name failed to be declared."""
        return key_of(name) in self.spoiled


def stray(name: str) -> dict[str, str | None]:
    """The facts of a letter of another script in a name that is not known, if there is one."""
    found = stray_letter(name)
    if found is None:
        return {}
    word, letter, script, at = found
    return {"word": word, "letter": letter, "script": script, "at": str(at)}


def name_is_good(words: Words, told: Told) -> bool:
    """Whether the words may be a name at all; tells why not."""
    name = name_text(words)
    tokens = tokens_of(name)
    if not tokens:
        told.tell("name-empty", words.place, name=words.plain)
    elif any(token.word in {"", ","} for token in tokens):
        told.tell("name-sign", words.place, name=name)
    elif len(name.split()) > MOST_WORDS or len(name) > MOST_LETTERS:
        told.tell(
            "name-too-long",
            words.place,
            name=name,
            words=str(len(name.split())),
            letters=str(len(name)),
            most_words=str(MOST_WORDS),
            most_letters=str(MOST_LETTERS),
        )
    elif " ".join(words_of(name)) in RESERVED or all(word in ARTICLES for word in words_of(name)):
        told.tell("name-reserved", words.place, name=name)
    elif (word := mixed_word(name)) is not None:
        told.add("name-mixed-scripts", words.place, {"name": name, **stray(word)})
    else:
        return True
    return False


T = TypeVar("T")


def _without_place(value: object) -> object:
    """A record without where it was declared; other values as they are."""
    if is_dataclass(value) and not isinstance(value, type) and hasattr(value, "place"):
        return replace(value, place=None)
    return value


@dataclass(frozen=True, slots=True)
class Declared(Generic[T]):
    """A name, as written and where, and what it stands for."""

    name: str
    place: Place
    value: T


class Space(Generic[T]):
    """The names of one sort ("fact", "level"), each declared once."""

    __slots__ = ("_alike", "_by_key", "missed", "sort")

    def __init__(self, sort: str) -> None:
        self.sort = sort
        #: Where it is noted that a name was looked up in vain, if anybody wants to know.
        self.missed: set[Missed] | None = None
        self._by_key: dict[Key, Declared[T]] = {}
        self._alike: dict[str, Declared[T]] = {}

    def copy(self) -> Space[T]:
        """Another one with the same names, in which more can be declared."""
        made: Space[T] = Space(self.sort)
        made._by_key, made._alike = dict(self._by_key), dict(self._alike)
        return made

    def beyond(self, other: Space[T]) -> set[Missed]:
        """The names that this one has and the other does not, as they are noted when missed."""
        return {(self.sort, key) for key in self._by_key if key not in other._by_key}

    def declare(self, words: Words, value: T, told: Told, again: bool = False) -> bool:
        """Takes the name in, unless it is no good or stands already; tells which, and where.

        ``again``: it says exactly what an imported file says, which is harmless and not told.
        """
        name = name_text(words)
        if not name_is_good(words, told):
            told.spoil(words)
            return False
        like = likeness(name)
        known = self._alike.get(like)
        if known is not None:
            same = key_of(name) == key_of(known.name)
            if same and again and known.place.file != words.place.file:
                return False
            kind = "declared-twice" if same else "names-alike"
            told.tell(
                kind,
                words.place,
                others=[("first", known.place)],
                name=name,
                other=known.name,
                sort=self.sort,
            )
            if kind == "names-alike":
                told.spoil(words)
            return False
        entry = Declared(name, words.place, value)
        self._alike[like] = self._by_key[key_of(name)] = entry
        return True

    def says(self, words: Words, value: T) -> bool:
        """Whether the name stands already for the very same, wherever that was said."""
        known = self.find(name_text(words))
        return known is not None and _without_place(known) == _without_place(value)

    def put(self, name: str, value: T) -> None:
        """Replaces what a declared name stands for."""
        old = self._by_key[key_of(name)]
        new = Declared(old.name, old.place, value)
        self._by_key[key_of(name)] = self._alike[likeness(name)] = new

    def add(self, name: str, value: T, place: Place) -> None:
        """Takes in a name that no file declares."""
        self._by_key[key_of(name)] = self._alike[likeness(name)] = Declared(name, place, value)

    def find(self, text: str) -> T | None:
        """What the name stands for, or None."""
        key = key_of(text)
        found = self._by_key.get(key)
        if found is not None:
            return found.value
        if self.missed is not None:
            self.missed.add((self.sort, key))
        return None

    def declared(self, text: str) -> Declared[T] | None:
        """The declaration of the name, or None."""
        return self._by_key.get(key_of(text))

    def look(self, words: Words, told: Told, kind: str, **facts: str | None) -> T | None:
        """What the name stands for; if nothing, tells so as a finding of ``kind``."""
        found = self.find(name_text(words))
        if found is None:
            told.unknown(kind, words, self.each_name(), sort=self.sort, **facts)
        return found

    def names(self) -> tuple[str, ...]:
        """All names, in the order in which they were declared."""
        return tuple(self.each_name())

    def each_name(self) -> Iterator[str]:
        """The same, one after the other, for whoever may not need them all."""
        return (entry.name for entry in self._by_key.values())

    def values(self) -> tuple[T, ...]:
        """What all names stand for, in the order in which they were declared."""
        return tuple(entry.value for entry in self._by_key.values())
