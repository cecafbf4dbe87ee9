"""Names: how they are compared, looked up, and found alike.

Words are compared without regard to case, in Unicode's composed form; a hyphen counts as a blank.
Articles are skipped unless a name needs them. Everything is printed as it was written.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from protocol_lang.text import without_joiners

#: Small words of the language in which protocols are written.
ARTICLES = frozenset({"a", "an", "the"})
AND = "and"
COMMAS = frozenset(",،、，")

#: A name has at most so many words, and so many letters.
MOST_WORDS = 6
MOST_LETTERS = 80

#: Numbers in words, as far as anybody waits or counts in a checklist.
FIGURES = {
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "eight": "8",
    "nine": "9",
    "ten": "10",
    "twelve": "12",
    "fifteen": "15",
    "twenty": "20",
    "thirty": "30",
}

_TOKEN = re.compile(
    r"""(?P<quoted>"(?P<inner>[^"]*)")|(?P<comma>[,،、，])|(?P<word>[^\s",،、，\-‐‑]+)|(?P<stray>")"""
)


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a comma, a name in quotation marks, or a quotation mark that nothing closes.

    ``word``: folded for comparing ("," for a comma, empty for the last two). ``start`` and ``end``
    count characters of the text as written. ``inside``: the folded words between the marks.
    """

    word: str
    start: int
    end: int
    inside: tuple[str, ...] | None = None
    stray: bool = False


@lru_cache(maxsize=4096)
def folded(word: str) -> str:
    """The word as it is compared: without signs that part or join letters and show nothing."""
    plain = unicodedata.normalize("NFC", without_joiners(word)).casefold()
    return unicodedata.normalize("NFC", plain)


def tokens_of(text: str) -> tuple[Token, ...]:
    """The words of a text, in order, with where each stands."""
    found = []
    for match in _TOKEN.finditer(text):
        start, end = match.span()
        if match["quoted"] is not None:
            found.append(Token("", start, end, inside=words_of(match["inner"])))
        elif match["comma"] is not None:
            found.append(Token(",", start, end))
        elif match["stray"] is not None:
            found.append(Token("", start, end, stray=True))
        else:
            found.append(Token(folded(match["word"]), start, end))
    return tuple(found)


@lru_cache(maxsize=8192)
def words_of(text: str) -> tuple[str, ...]:
    """The words of a name, folded; commas count as words, quotation marks are passed over."""
    return tuple(token.word for token in tokens_of(text) if token.word)


def without_articles(words: tuple[str, ...]) -> tuple[str, ...]:
    """The words without the articles that stand before another word ("box a" keeps its last)."""
    return tuple(w for i, w in enumerate(words) if w not in ARTICLES or i == len(words) - 1)


def likeness(name: str) -> str:
    """What two names have in common that nobody could tell apart.

    Equal up to case, articles, hyphens and blanks, and letters of one shape (Unicode NFKC). Letters
    that only look alike in another script are met by :func:`scripts_of`: no word mixes scripts.
    """
    plain = unicodedata.normalize("NFKC", name).casefold()
    words = without_articles(words_of(plain))
    return "".join(words) or plain


# Letters of these scripts share shapes with Latin ones; a word that mixes them misleads the eye.
_LOOK_ALIKE = ("LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC")


def scripts_of(word: str) -> frozenset[str]:
    """The scripts with look-alike letters that occur in the word."""
    scripts: set[str] = set()
    for letter in word:
        if letter.isalpha():
            name = unicodedata.name(letter, "")
            scripts.update(script for script in _LOOK_ALIKE if name.startswith(script))
    return frozenset(scripts)


def mixed_word(name: str) -> str | None:
    """The first word of the name that mixes scripts, or None."""
    for word in re.split(r"[\s\-]+", name):
        if len(scripts_of(word)) > 1:
            return word
    return None


def stray_letter(name: str) -> tuple[str, str, str, int] | None:
    """A letter of another script than the rest of its word: word, letter, script, which (from 1).

    The script that has fewer letters in the word is the stray one; None if no word mixes scripts.
    """
    word = mixed_word(name)
    if word is None:
        return None
    scripts = [next(iter(scripts_of(letter)), "") for letter in word]
    counts = {script: scripts.count(script) for script in scripts if script}
    fewest = min(counts, key=lambda script: (counts[script], script == "LATIN"))
    at = scripts.index(fewest)
    return word, word[at], fewest.capitalize(), at + 1


def distance(one: str, other: str, most: int) -> int:
    """Letters to insert, leave out, change or swap with a neighbour, at most ``most + 1``.

    The restricted edit distance of Damerau (1964), by dynamic programming.
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(other, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
        before, last = last, row
    return min(last[-1], most + 1)


@lru_cache(maxsize=1 << 16)
def close(one: str, other: str) -> int | None:
    """How far two words are apart if that is little enough to be a slip of the pen, else None."""
    longest = max(len(one), len(other))
    most = 0 if longest < 3 else 1 if longest < 6 else 2
    apart = distance(one, other, most)
    return apart if apart <= most else None


def nearest(name: str, among: Iterable[str]) -> str | None:
    """The one known name that is a slip of the pen away; None if there is none, or two."""
    wanted = " ".join(words_of(name))
    best: list[str] = []
    least = 99
    for known in sorted(set(among)):
        apart = close(wanted, " ".join(words_of(known)))
        if apart is None or apart > least:
            continue
        best = [known] if apart < least else [*best, known]
        least = apart
    return best[0] if len(best) == 1 else None


@dataclass(frozen=True, slots=True)
class Name:
    """Something a sentence can name.

    ``kind``: "staff", "patient", "companion"; "stream"; "place"; "group"; else the kind of a
    thing, which ``is_thing`` tells apart. ``members``: of a group, the things it stands for.
    ``spoiled``: its declaration was at fault, so nothing is said about its uses. ``number``: how
    many of it, where a sentence says so.
    """

    name: str
    kind: str
    is_thing: bool = False
    members: tuple[str, ...] = ()
    spoiled: bool = False
    number: int | None = None


#: What may be called as a thing is: a sentence tells it apart by the verb.
ASIDE = frozenset({"stream", "place"})

PEOPLE = frozenset({"staff", "patient", "companion"})


class Names:
    """All that sentences can name, found by words.

    Values never change after the making. Looking up is by whole names only.
    """

    __slots__ = ("_by_words", "all", "by_name", "longest")

    def __init__(self, names: Iterable[Name]) -> None:
        self.all = tuple(names)
        self.by_name = {(n.kind in ASIDE, n.name): n for n in self.all}
        by_words: dict[tuple[str, ...], list[Name]] = {}
        for name in self.all:
            words = words_of(name.name)
            for key in {words, without_articles(words)}:
                by_words.setdefault(key, []).append(name)
        self._by_words = {key: tuple(found) for key, found in by_words.items()}
        self.longest = max((len(key) for key in self._by_words), default=0)

    def exactly(self, words: tuple[str, ...]) -> tuple[Name, ...]:
        """The names with these words, articles as written or left out of the name."""
        return self._by_words.get(words, ())

    def find(self, words: tuple[str, ...]) -> tuple[Name, ...]:
        """The names that these words may mean when any of the articles among them is skipped."""
        if ARTICLES.isdisjoint(words):
            return self._by_words.get(words, ())
        found: dict[tuple[bool, str], Name] = {}
        for variant in _article_variants(words):
            for name in self._by_words.get(variant, ()):
                found[name.kind in ASIDE, name.name] = name
        return tuple(found.values())

    def thing(self, name: str) -> Name | None:
        """The thing, person or group of exactly this name."""
        return self.by_name.get((False, name))


def _article_variants(words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    at = [i for i, word in enumerate(words) if word in ARTICLES]
    if len(at) > 4:
        at = at[:4]
    for mask in range(1 << len(at)):
        skipped = {i for bit, i in enumerate(at) if mask >> bit & 1}
        kept = tuple(w for i, w in enumerate(words) if i not in skipped)
        if kept:
            yield kept
