"""Roles compared as people read them, and not as they are spelt.

Who approves of a waiver must be somebody else than who owns the protocol. Two names that nobody
could tell apart on paper are one: letters of other scripts that have the shape of Latin ones,
figures for letters, accents, articles, hyphens, capitals, the order of words, and words that only
say where somebody works. What a program cannot know is told in docs/audit.md.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from protocol_lang.language.names import ARTICLES, mixed_word

#: Letters by the Latin one that has their shape: those of Cyrillic, Greek, Armenian and Latin that
#: Unicode Technical Standard 39, "confusables", has for these shapes (a part of it, from memory).
_SHAPES = str.maketrans(
    {
        letter: latin
        for latin, letters in {
            "a": "аАαΑɑ", "b": "ВΒЬьƅ", "c": "сСϲϹⅽ", "d": "ԁԀժ", "e": "еЕΕεёЁҽ", "f": "ƒϝ",
            "g": "ɡցԍ", "h": "һНΗհҺн", "i": "іІιΙıїЇӏӀɩ", "j": "јЈϳյ", "k": "кКκΚ", "l": "ⅼ|ǀІӏ",
            "m": "МΜмⅿ", "n": "пΝηոռ", "o": "оОοΟσօՕ", "p": "рРρΡ", "q": "ԛգզ", "r": "гᴦ",
            "s": "ѕЅႽտ", "t": "тТτΤ", "u": "υսцᴜ", "v": "νѵѴᴠ", "w": "ԝԜωшա", "x": "хХχΧ",
            "y": "уУγΥүҮ", "z": "ΖᴢΖ",
        }.items()
        for letter in letters
    }
)  # fmt: skip

#: Shapes that the eye takes for each other within one script; in the order in which they are taken.
_TAKEN_FOR = (("rn", "m"), ("vv", "w"), ("0", "o"), ("1", "l"), ("|", "l"), ("i", "l"))

#: Words that only say where somebody works, or that it is here.
_HERE = frozenset(
    {
        "at", "clinic", "department", "for", "here", "house", "in", "its", "local", "of", "office",
        "our", "own", "practice", "room", "site", "surgery", "this", "unit",
    }
)  # fmt: skip
_JOINTS = re.compile(r"[,;/&+]|\band\b|\bor\b")


def same_role(one: str, other: str, places: Iterable[str] = ()) -> bool:
    """Whether two names of roles are read as one. ``places``: titles of the room and the protocol,
    whose words tell no role from another."""
    here = _HERE | {word for title in places for word in _words(title)}
    return _read(one, here) == _read(other, here)


def nobody_but(role: str, others: Iterable[str], places: Iterable[str] = ()) -> bool:
    """Whether everybody whom ``role`` names is one of ``others``: "A and B" names two.

    Among ``others`` each part counts by itself: of "A. Name, practice manager" the name alone and
    the role alone are the same person.
    """
    places = tuple(places)
    others = [name for other in others for name in (other, *_parts(other))]
    if any(same_role(role, other, places) for other in others):
        return True
    parts = _parts(role)
    return bool(parts) and all(
        any(same_role(part, other, places) for other in others) for part in parts
    )


def _parts(role: str) -> list[str]:
    return [part for part in _JOINTS.split(role) if part.strip()]


def two_scripts(role: str) -> str | None:
    """A word of the name whose letters are of two scripts that look alike, or None."""
    return mixed_word(role)


def _read(role: str, here: frozenset[str]) -> frozenset[str]:
    """The words that are left when all is dropped that tells nothing apart; never none of them."""
    words = _words(role)
    return frozenset(word for word in words if word not in _SHAPED_HERE | here) or frozenset(words)


def _words(name: str) -> list[str]:
    """The shapes of the words of a name."""
    folded = unicodedata.normalize("NFKD", name.translate(_SHAPES))
    plain = "".join(
        letter for letter in folded if unicodedata.category(letter) not in ("Mn", "Me", "Cf")
    )
    plain = re.sub(r"['\u2019]s\b", "", plain.translate(_SHAPES).casefold())
    words = re.sub(r"[^\w|]+", " ", plain).split()
    return [_shape(word) for word in words if word not in ARTICLES]


def _shape(word: str) -> str:
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        word = word[:-1]
    for seen, taken in _TAKEN_FOR:
        word = word.replace(seen, taken)
    return word


_SHAPED_HERE = frozenset(map(_shape, _HERE))
