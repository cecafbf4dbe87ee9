"""Clashes: sentences that a vocabulary makes ambiguous, found before anybody writes one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from protocol_lang.language.frames import admits, words_in
from protocol_lang.language.names import AND, ARTICLES, Name, words_of
from protocol_lang.language.sentences import Form
from protocol_lang.model.verbs import Frame, Share, Slot

#: Beginnings of sentences that one search looks at.
MOST_STATES = 200_000


@dataclass(frozen=True, slots=True)
class Clash:
    """A sentence that two frames, or one frame in two ways, can read."""

    sentence: str
    one: Form
    other: Form


_State = tuple[int, tuple[str, ...] | None, str]


class _Walker:
    """A frame as a machine that takes one word after the other.

    A state is (part, words of the name so far or None, what may follow). Articles are left out:
    they are skipped alike by both sides.
    """

    def __init__(self, frame: Frame, tries: dict[str, dict[tuple[str, ...], set[str]]]) -> None:
        self.frame = frame
        self.tries = tries

    def start(self) -> Iterable[_State]:
        yield (0, None, "")

    def done(self, state: _State) -> bool:
        part, _, status = state
        return part == len(self.frame.parts) or (
            part == len(self.frame.parts) - 1 and status == "named"
        )

    def words(self, state: _State) -> set[str]:
        """The words that can come next."""
        part, name, status = state
        found: set[str] = set()
        parts = self.frame.parts
        if status == "named":
            here = parts[part]
            if isinstance(here, Slot) and here.share is not Share.ONE:
                found |= {",", AND}
            if part + 1 < len(parts):
                after = parts[part + 1]
                found.add(after if isinstance(after, str) else "")
            return found - {""}
        if part == len(parts):
            return found
        here = parts[part]
        if isinstance(here, str):
            return {here}
        if status == "comma":
            found.add(AND)
        return found | self.tries[here.name].get(name or (), set())

    def step(self, state: _State, word: str) -> Iterator[tuple[_State, str]]:
        """The states after the word, each with what the word does there."""
        part, name, status = state
        parts = self.frame.parts
        if status == "named":
            here = parts[part]
            if isinstance(here, Slot) and here.share is not Share.ONE:
                if word == ",":
                    yield (part, None, "comma"), "joint"
                elif word == AND:
                    yield (part, None, "and"), "joint"
            if part + 1 < len(parts) and parts[part + 1] == word:
                yield (part + 2, None, ""), "word"
            return
        if part == len(parts):
            return
        here = parts[part]
        if isinstance(here, str):
            if here == word:
                yield (part + 1, None, ""), "word"
            return
        if status == "comma" and word == AND:
            yield (part, None, "and"), "joint"
        trie = self.tries[here.name]
        longer = (*(name or ()), word)
        if word in trie.get(name or (), set()):
            if longer in trie:
                yield (part, longer, "within"), f"in {here.name}"
            if "" in trie.get(longer, set()):
                yield (part, None, "named"), f"end {here.name}"


def clashes(forms: Iterable[Form], sentences_names: Iterable[Name], most: int = 20) -> list[Clash]:
    """Pairs of frames, or a frame with itself, that some sentence over these names fits twice.

    For each pair the shortest such sentence; at most ``most`` pairs. Names skip their articles.
    Looks at :data:`MOST_STATES` beginnings of sentences at most: in rooms of thousands of things a
    clash may be missed here, and is then told where a sentence meets it.
    """
    names = [name for name in sentences_names if not name.spoiled]
    by_name = {name.name: name for name in names}
    listed = list(forms)
    tries: dict[tuple[str, bool], dict[tuple[str, ...], set[str]]] = {}
    walkers = []
    vocabulary: set[str] = {AND}
    for name in names:
        vocabulary.update(words_of(name.name))
    for form in listed:
        mine: dict[str, dict[tuple[str, ...], set[str]]] = {}
        for part in form.frame.parts:
            if isinstance(part, Slot):
                key = (part.kind, part.share is not Share.ONE)
                if key not in tries:
                    tries[key] = _trie(part, names, by_name)
                mine[part.name] = tries[key]
        walkers.append((form, _Walker(form.frame, mine), frozenset(words_in(form.frame))))
    found: list[Clash] = []
    left = [MOST_STATES]
    for i, (one, walk_one, words_one) in enumerate(walkers):
        for other, walk_other, words_other in walkers[i:]:
            if words_one - words_other <= vocabulary and words_other - words_one <= vocabulary:
                sentence = _common(one, walk_one, other, walk_other, left)
                if sentence is not None:
                    found.append(Clash(sentence, one, other))
                    if len(found) >= most:
                        return found
    return found


def _trie(
    slot: Slot, names: list[Name], by_name: dict[str, Name]
) -> dict[tuple[str, ...], set[str]]:
    """Beginnings of names to the words that may follow; an empty word: the name may end."""
    trie: dict[tuple[str, ...], set[str]] = {(): set()}
    for name in names:
        if name.kind == "group":
            fits = slot.share is not Share.ONE and all(
                m in by_name and admits(slot, by_name[m]) for m in name.members
            )
        else:
            fits = admits(slot, name)
        if not fits:
            continue
        words = tuple(w for w in words_of(name.name) if w not in ARTICLES) or words_of(name.name)
        for i, word in enumerate(words):
            trie.setdefault(words[:i], set()).add(word)
        trie.setdefault(words, set()).add("")
    return trie


def _common(
    one: Form, walk: _Walker, other: Form, walk_other: _Walker, left: list[int]
) -> str | None:
    """The shortest sentence that both read, differently; None if there is none.

    ``left``: how many beginnings of sentences may still be looked at, counted down.
    """
    apart = one.verb != other.verb
    Pair = tuple[_State, _State, bool]
    first: list[Pair] = [(a, b, apart) for a in walk.start() for b in walk_other.start()]
    before: dict[Pair, tuple[Pair, str] | None] = dict.fromkeys(first)
    queue = list(first)
    for pair in queue:
        left[0] -= 1
        if left[0] < 0:
            return None
        a, b, differ = pair
        if differ and walk.done(a) and walk_other.done(b):
            words = []
            here: Pair = pair
            while (step := before[here]) is not None:
                words.append(step[1])
                here = step[0]
            return " ".join(reversed(words)).replace(" ,", ",")
        for word in sorted(walk.words(a) & walk_other.words(b)):
            for a_next, a_does in walk.step(a, word):
                for b_next, b_does in walk_other.step(b, word):
                    reached = (a_next, b_next, differ or a_does != b_does)
                    if reached not in before:
                        before[reached] = (pair, word)
                        queue.append(reached)
    return None
