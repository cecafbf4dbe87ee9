"""Small vocabularies for the tests of names and sentences."""

from __future__ import annotations

from collections.abc import Iterable

from protocol_lang.language.frames import parse
from protocol_lang.language.names import Name, Names
from protocol_lang.language.sentences import Form, Sentences
from protocol_lang.language.tree import Words
from protocol_lang.model.verbs import Frame
from protocol_lang.text import Place

KINDS = ("surface", "receptor", "cover", "gown", "gloves", "wipe", "item")


def words(text: str, line: int = 1) -> Words:
    return Words(text, Place("kit", line, 1, 1 + max(1, len(text))))


def frame(text: str, kinds: Iterable[str] = KINDS) -> Frame:
    found = parse(words(text), tuple(kinds))
    assert isinstance(found, Frame), found
    return found


def forms(*verbs: str) -> list[Form]:
    """Each string is a verb; " / " stands between its forms."""
    return [Form(at, frame(text)) for at, verb in enumerate(verbs) for text in verb.split(" / ")]


def things(kind: str, *names: str) -> list[Name]:
    return [Name(name, kind, True) for name in names]


PEOPLE = [Name("operator", "staff"), Name("helper", "staff"), Name("patient", "patient")]


def reader(verbs: Iterable[str], names: Iterable[Name]) -> Sentences:
    return Sentences(forms(*verbs), Names([*PEOPLE, *names]))


def filled(sentences: Sentences, text: str) -> list[dict[str, tuple[str, ...]]]:
    return [dict(reading.filled) for reading in sentences.read(text)]
