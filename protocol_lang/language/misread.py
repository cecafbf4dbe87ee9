"""Why a sentence has no reading, or two: the slot that is filled wrongly, or the words that differ.

The sentence is laid against every frame that shares words with it, at the least cost: a word
misspelt, missing or too many, a slot filled by a wrong name or by an unknown one. What the cheapest
frame says is told; where two frames are equally cheap and say different things, no advice is given.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from protocol_lang.language.frames import admits, words_in
from protocol_lang.language.names import (
    AND,
    ARTICLES,
    FIGURES,
    PEOPLE,
    Name,
    Names,
    Token,
    close,
    nearest,
    tokens_of,
)
from protocol_lang.language.sentences import (
    Form,
    Reading,
    Sentences,
    Spans,
    holds_things,
    is_number,
)
from protocol_lang.model.verbs import Share, Slot


@dataclass(frozen=True, slots=True)
class Slip:
    """What is wrong with ``text[start:end]``; ``kind`` and ``facts`` as in the wording."""

    kind: str
    start: int
    end: int
    facts: tuple[tuple[str, str], ...]


#: What each slip costs. One wrong slot is likelier than wrong verb words, and a known name of the
#: wrong kind likelier than an unknown one; long stretches of unknown words are unlikely names.
_MISSPELT = 20
_MISSING = 32
_TOO_MANY = 40
_WRONG_KIND = 28
_ONE_ONLY = 24
_UNKNOWN = 30
_PER_WORD = 3
_EMPTY = 45
_MOST = 140
_MOST_NAMES = 400
#: A frame with all its words and no more than one name amiss needs no rival with other words.
_ONE_SLIP = _UNKNOWN + 2 * _PER_WORD

#: A stretch that may be meant as one name.
_LONGEST_UNKNOWN = 12
#: Longer sentences are not laid against frames word by word.
_LONGEST = 50
_CANDIDATES = 12
#: So many forms are listed where none is nearest.
_MOST_FORMS = 3
#: Sentences with more names than these are not laid out slot by slot.
_MOST_USED = 8


def slips(sentences: Sentences, text: str) -> tuple[Slip, ...]:
    """Why the text, which has no reading, has none. Empty: what is wrong is only a spoiled name."""
    tokens = tokens_of(text)
    whole = _span(text, 0, len(text))
    for token in tokens:
        if token.stray:
            return (Slip("open-quotation", token.start, token.end, ()),)
    if not tokens or len(tokens) > _LONGEST:
        return (Slip("unknown-sentence", *whole, ()),)
    spans = Spans(tokens, sentences.names)
    second = _second_act(sentences, tokens, text)
    if second is not None:
        return (Slip("two-acts", *_span(text, second, len(text)), ()),)
    best: list[_Laid] = []
    least = _MOST_NAMES + 1
    guesses = _Guesses(spans, text)
    for full, form in _candidates(sentences, [token.word for token in tokens]):
        if least <= _ONE_SLIP and not full:
            break
        laid = _Laying(form, guesses).best(least)
        if laid is None or laid.cost > least:
            continue
        best = [laid] if laid.cost < least else [*best, laid]
        least = laid.cost
    if tokens[0].word == "say" and (not best or least > _ONE_SLIP):
        return (Slip("unknown-sentence", tokens[0].start, tokens[0].end, (("say", "yes"),)),)
    if not best:
        return (Slip("unknown-sentence", *whole, _verb_like(sentences, spans)),)
    told = _told(best, sentences, whole)
    if len(told) == 1 and told[0].kind == "verb-forms" and "meant" not in dict(told[0].facts):
        fitting = _fitting(sentences, spans)
        if fitting:
            return (_forms_slip(fitting, whole),)
    return told


def _fitting(sentences: Sentences, spans: Spans) -> list[str]:
    """The forms, of those with a main word that stands here, that take just the names used."""
    tokens = spans.tokens
    used: list[tuple[Name, ...]] = []
    at = 0
    while at < len(tokens):
        furthest = min(len(tokens), at + sentences.names.longest)
        named = next((end for end in range(furthest, at, -1) if spans.named(at, end)), None)
        if named is not None:
            used.append(spans.named(at, named))
        at = named or at + 1
    here = {token.word for token in tokens}
    forms = (form.frame for form in sentences.forms if words_in(form.frame)[0] in here)
    return list(
        dict.fromkeys(
            frame.text
            for frame in forms
            if _take_all([part for part in frame.parts if isinstance(part, Slot)], used)
        )
    )


def _take_all(slots: list[Slot], used: list[tuple[Name, ...]]) -> bool:
    """Whether these slots take these names, each at least one, and none more than it may."""
    if len(used) > _MOST_USED or len(slots) > len(used):
        return False

    def place(number: int, held: tuple[int, ...]) -> bool:
        if number == len(used):
            return all(held)
        return any(
            place(number + 1, (*held[:at], held[at] + 1, *held[at + 1 :]))
            for at, slot in enumerate(slots)
            if (not held[at] or slot.share is not Share.ONE)
            and any(admits(slot, name) for name in used[number])
        )

    return place(0, (0,) * len(slots))


def _second_act(sentences: Sentences, tokens: tuple[Token, ...], text: str) -> int | None:
    """Where a second act begins after one that can be read: "cleans hands and puts on gloves"."""
    verb_words = {words_in(form.frame)[0] for form in sentences.forms}
    for at, token in enumerate(tokens):
        next_words = {other.word for other in tokens[at + 1 : at + 4]}
        if token.word not in {AND, ","} or next_words.isdisjoint(verb_words):
            continue
        if sentences.read(text[: token.start].rstrip(" ,")):
            return token.start
    return None


def _span(text: str, start: int, end: int) -> tuple[int, int]:
    """Without blanks at either end, but never empty."""
    inner = text[start:end]
    if not inner.strip():
        return (start, start + 1)
    lead = len(inner) - len(inner.lstrip())
    return (start + lead, start + len(inner.rstrip()))


def _verb_like(sentences: Sentences, spans: Spans) -> tuple[tuple[str, str], ...]:
    """Nothing is near; if the sentence does not begin with somebody, that is worth saying."""
    count = len(spans.tokens)
    for end in range(1, min(count, sentences.names.longest + 2) + 1):
        if any(name.kind in PEOPLE or name.spoiled for name in spans.named(0, end)):
            return ()
    return (("nobody", "yes"),)


def _candidates(sentences: Sentences, words: list[str]) -> list[tuple[bool, Form]]:
    """The forms with the most words in common with the sentence, and all whose words all occur."""
    here = set(words)
    scored = []
    for at, form in enumerate(sentences.forms):
        literal = words_in(form.frame)
        same = sum(word in here for word in literal)
        alike = 0
        if same < len(literal):
            for word in literal:
                if word not in here and any(close(word, other) is not None for other in here):
                    alike += 1
        if same + alike:
            scored.append((-(same + 0.8 * alike) / len(literal), -same, at, form))
    scored.sort(key=lambda entry: entry[:3])
    full = [entry for entry in scored if entry[0] == -1.0]
    return [(entry[0] == -1.0, entry[3]) for entry in scored[: max(_CANDIDATES, len(full))]]


@dataclass(frozen=True, slots=True)
class _Laid:
    cost: int
    form: Form
    slips: tuple[Slip, ...]
    spoiled: bool


#: Cost, what is wrong, and whether a spoiled name is among what is right.
_Way = tuple[int, tuple[Slip, ...], bool]
_NO_WAY: _Way = (1_000_000, (), False)
_VERB_SLIPS = frozenset({"misspelt", "missing", "empty", "too-many"})


def _cheap(way: _Way) -> tuple[int, int]:
    return (way[0], len(way[1]))


class _Guesses:
    """What stretches of one sentence could be meant as; shared by all frames laid against it."""

    def __init__(self, spans: Spans, text: str) -> None:
        self.spans = spans
        self.text = text
        self._ones: dict[tuple[int, int, str, bool], _Way] = {}
        self._lists: dict[tuple[int, str], dict[int, _Way]] = {}

    def filled(self, at: int, stop: int, slot: Slot) -> _Way:
        """The cheapest way in which the stretch fills the slot."""
        if slot.share is not Share.ONE:
            return self._list(at, stop, slot)
        fillings = self.spans.fillings(at, stop, slot)
        if fillings:
            return (0, (), fillings[0][0].spoiled)
        return self.one(at, stop, slot)

    def one(self, at: int, stop: int, slot: Slot) -> _Way:
        """What is wrong with a stretch that is to be one name."""
        key = (at, stop, slot.kind, slot.share is Share.ONE)
        way = self._ones.get(key)
        if way is None:
            way = self._ones[key] = self._one(at, stop, slot)
        return way

    def _list(self, at: int, stop: int, slot: Slot) -> _Way:
        """The cheapest way to cut the stretch into members."""
        key = (stop, slot.kind)
        best = self._lists.get(key)
        if best is None:
            best = self._lists[key] = self._lists_to(stop, slot)
        return best.get(at, _NO_WAY)

    def _lists_to(self, stop: int, slot: Slot) -> dict[int, _Way]:
        best: dict[int, _Way] = {}
        for start in range(stop - 1, -1, -1):
            ways = []
            for end in range(start + 1, min(stop, start + _LONGEST_UNKNOWN) + 1):
                if end == stop:
                    tail: _Way | None = (0, (), False)
                else:
                    tails = [best[at] for at in self.spans.joints(end, stop) if at in best]
                    tail = min(tails, key=_cheap) if tails else None
                if tail is None:
                    continue
                names = self.spans.items(start, end, slot)
                if names:
                    ways.append((tail[0], tail[1], tail[2] or names[0].spoiled))
                else:
                    one = self.one(start, end, slot)
                    ways.append((one[0] + tail[0], one[1] + tail[1], one[2] or tail[2]))
            if ways:
                best[start] = min(ways, key=_cheap)
        return best

    def _one(self, at: int, stop: int, slot: Slot) -> _Way:
        tokens = self.spans.tokens
        while at + 1 < stop and tokens[at].word in ARTICLES:
            at += 1
        start, end = tokens[at].start, tokens[stop - 1].end
        written = " ".join(self.text[start:end].split())
        named = self.spans.named(at, stop)
        wanted = kind_words(slot)
        if slot.kind == "minutes":
            if is_number(tokens[at].word) or stop - at > 1:
                return _NO_WAY
            facts = [("name", written)]
            if tokens[at].word in FIGURES:
                facts.append(("meant", FIGURES[tokens[at].word]))
            return (_WRONG_KIND, (Slip("no-number", start, end, tuple(facts)),), False)
        if named:
            name = named[0]
            if name.kind == "group" and slot.share is Share.ONE:
                slip = Slip("one-only", start, end, (("name", name.name), ("wanted", wanted)))
                return (_ONE_ONLY, (slip,), False)
            wrong = name
            if name.kind == "group":
                members = [self.spans.names.thing(member) for member in name.members]
                wrong = next((m for m in members if m and not admits(slot, m)), name)
            facts = [("name", wrong.name), ("actual", actual_words(wrong)), ("wanted", wanted)]
            if wrong is not name:
                facts.append(("group", name.name))
            return (_WRONG_KIND, (Slip("wrong-kind", start, end, tuple(facts)),), False)
        if slot.share is Share.ONE:
            several = Slot(slot.name, slot.kind, Share.EACH)
            if self.spans.fillings(at, stop, several):
                slip = Slip("one-only", start, end, (("name", written), ("wanted", wanted)))
                return (_ONE_ONLY, (slip,), False)
        words = [token.word for token in tokens[at:stop]]
        if "," in words or stop - at > _LONGEST_UNKNOWN:
            return _NO_WAY
        if stop - at > 1 and slot.share is not Share.ONE and holds_things(slot):
            if is_number(words[0]):
                return self.one(at + 1, stop, slot)
            if words[0] in FIGURES and self.spans.items(at + 1, stop, slot):
                said = self.text[start : tokens[at].end]
                slip = Slip(
                    "no-number",
                    start,
                    tokens[at].end,
                    (("name", said), ("meant", FIGURES[words[0]])),
                )
                return (_WRONG_KIND, (slip,), False)
        joints = words.count(AND)
        cost = _UNKNOWN + _PER_WORD * (len(words) - 1 + 2 * joints)
        facts = [("name", written.strip('"')), ("wanted", wanted), ("kind", slot.kind)]
        if stop - at > 1 and words[0] in FIGURES and slot.share is not Share.ONE:
            facts += [("word", written.split()[0]), ("figures", FIGURES[words[0]])]
        return (cost, (Slip("unknown-name", start, end, tuple(facts)),), False)


class _Laying:
    """One frame laid against the sentence: the cheapest way, by dynamic programming."""

    def __init__(self, form: Form, guesses: _Guesses) -> None:
        self.form = form
        self.guesses = guesses
        self.tokens = guesses.spans.tokens
        self.parts = form.frame.parts
        self.count = len(self.tokens)
        self.known: dict[tuple[int, int], _Way] = {}

    def best(self, least: int) -> _Laid | None:
        """The cheapest way, or None if it costs too much to mean anything."""
        cost, found, spoiled = self.rest(0, 0)
        names_only = all(slip.kind not in _VERB_SLIPS for slip in found)
        most = _MOST_NAMES if names_only else _MOST
        if cost > min(least, most) or not self._holds_together(found):
            return None
        return _Laid(cost, self.form, found, spoiled)

    def _holds_together(self, found: tuple[Slip, ...]) -> bool:
        """The main word of the verb, its first, stands there, and more is right than wrong."""
        lacking = sum(slip.kind in {"missing", "empty"} for slip in found)
        wrong = lacking + sum(slip.kind == "too-many" for slip in found)
        main = words_in(self.form.frame)[0]
        stands = not any(
            slip.kind == "missing" and dict(slip.facts)["word"] == main for slip in found
        )
        return stands and wrong <= len(self.parts) - lacking

    def rest(self, part: int, at: int) -> _Way:
        key = (part, at)
        way = self.known.get(key)
        if way is None:
            self.known[key] = _NO_WAY  # no way leads back here; guards the type
            way = self.known[key] = min(self._ways(part, at), key=_cheap)
        return way

    def _ways(self, part: int, at: int) -> Iterator[_Way]:
        tokens = self.tokens
        if part == len(self.parts):
            if at == self.count:
                yield (0, (), False)
                return
            yield self._skip(part, at)
            return
        if at < self.count and tokens[at].word in ARTICLES:
            yield self.rest(part, at + 1)
        here = self.parts[part]
        if isinstance(here, str):
            if at < self.count:
                word = tokens[at].word
                if word == here:
                    yield self.rest(part + 1, at + 1)
                    return
                if word and close(word, here) is not None:
                    slip = self._slip("misspelt", at, at + 1, here)
                    yield _plus(_MISSPELT, (slip,), self.rest(part + 1, at + 1))
                yield self._skip(part, at)
            slip = self._slip("missing", at, at, here)
            yield _plus(_MISSING, (slip,), self.rest(part + 1, at))
            return
        furthest = min(self.count, at + _LONGEST_UNKNOWN)
        if here.share is not Share.ONE:
            furthest = self.count
        for stop in range(at + 1, furthest + 1):
            cost, found, spoiled = self.guesses.filled(at, stop, here)
            if cost <= _MOST_NAMES:
                tail = self.rest(part + 1, stop)
                yield (cost + tail[0], found + tail[1], spoiled or tail[2])
        yield _plus(_EMPTY, (self._slip("empty", at, at, here.name),), self.rest(part + 1, at))

    def _skip(self, part: int, at: int) -> _Way:
        if self.tokens[at].word in ARTICLES:
            return self.rest(part, at + 1)
        slip = self._slip("too-many", at, at + 1, "")
        return _plus(_TOO_MANY, (slip,), self.rest(part, at + 1))

    def _slip(self, kind: str, start: int, stop: int, word: str) -> Slip:
        tokens = self.tokens
        if start == stop:
            first = tokens[min(start, self.count - 1)]
            return Slip(kind, first.start, first.end, (("word", word),))
        return Slip(kind, tokens[start].start, tokens[stop - 1].end, (("word", word),))


def _plus(cost: int, found: tuple[Slip, ...], tail: _Way) -> _Way:
    return (cost + tail[0], found + tail[1], tail[2])


def kind_words(slot: Slot) -> str:
    """What a slot admits, in words."""
    return {"person": "person", "stream": "waste stream", "place": "place"}.get(
        slot.kind, slot.kind
    )


def actual_words(name: Name) -> str:
    """What a name is, in words."""
    return {"stream": "waste stream", "place": "place", "group": "group"}.get(name.kind, name.kind)


def _told(best: list[_Laid], sentences: Sentences, whole: tuple[int, int]) -> tuple[Slip, ...]:
    """What the cheapest frames agree on."""
    first = best[0]
    if any(slip.kind in _VERB_SLIPS for laid in best for slip in laid.slips):
        return () if any(laid.spoiled for laid in best) else (_form_slip(best, whole),)
    found = []
    for at, slip in enumerate(first.slips):
        facts = dict(slip.facts)
        facts["form"] = first.form.frame.text
        kinds = [facts.pop("kind", "")]
        others = [laid.slips[at] for laid in best[1:] if len(laid.slips) > at]
        same = [o for o in others if (o.kind, o.start, o.end) == (slip.kind, slip.start, slip.end)]
        if len(same) < len(best) - 1:
            return (_form_slip(best, whole),)
        wanted = [facts.get("wanted", ""), *(dict(o.facts).get("wanted", "") for o in same)]
        if facts.get("wanted"):
            facts["wanted"] = " or ".join(sorted(set(wanted)))
        if slip.kind == "unknown-name":
            kinds += [dict(o.facts)["kind"] for o in same]
            near = nearest(facts["name"], _of_kinds(sentences.names, kinds))
            if near is not None:
                facts["nearest"] = near
            elif "figures" in facts:
                counted = facts["name"].removeprefix(facts["word"]).strip()
                near = nearest(counted, _of_kinds(sentences.names, kinds))
                if near is not None:
                    found.append(_number_in_words(slip, facts, near))
                    continue
                facts["figures"] += f" {counted}"
        if slip.kind == "one-only":
            facts |= _form_for_several(first.form, sentences)
        found.append(Slip(slip.kind, slip.start, slip.end, tuple(facts.items())))
    # The same name twice in one sentence is told once.
    return tuple({(slip.kind, slip.facts): slip for slip in reversed(found)}.values())[::-1]


def _number_in_words(slip: Slip, facts: dict[str, str], near: str) -> Slip:
    """How many of a name that is misspelt, or has the ending of several: "two wipes"."""
    told = (
        ("name", facts["word"]),
        ("whole", facts["name"]),
        ("meant", f"{facts['figures']} {near}"),
        ("form", facts["form"]),
    )
    return Slip("no-number", slip.start, slip.end, told)


def _form_for_several(form: Form, sentences: Sentences) -> dict[str, str]:
    """The word that differs in the form of the same verb that takes a list: "clean", "cleans"."""
    ours = form.frame.parts
    for other in sentences.forms:
        theirs = other.frame.parts
        if other.verb != form.verb or len(theirs) != len(ours):
            continue
        pairs = list(zip(ours, theirs, strict=True))
        words = [(a, b) for a, b in pairs if isinstance(a, str) and isinstance(b, str) and a != b]
        slots = [(a, b) for a, b in pairs if isinstance(a, Slot) and isinstance(b, Slot)]
        grown = any(a.share is Share.ONE and b.share is not Share.ONE for a, b in slots)
        if grown and len(words) == 1 and len(words) + len(slots) + _same(pairs) == len(pairs):
            return {"word": words[0][0], "meant": words[0][1]}
    return {}


def _same(pairs: list[tuple[str | Slot, str | Slot]]) -> int:
    return sum(isinstance(a, str) and a == b for a, b in pairs)


def _of_kinds(names: Names, kinds: list[str]) -> Iterator[str]:
    slots = [Slot("", kind) for kind in kinds]
    for name in names.all:
        if not name.spoiled and any(admits(slot, name) for slot in slots):
            yield name.name


def _form_slip(best: list[_Laid], whole: tuple[int, int]) -> Slip:
    """The words of the verb differ: the listed form, if one is nearest; else at most three."""
    texts = list(dict.fromkeys(laid.form.frame.text for laid in best))
    words = [s for s in best[0].slips if s.kind in {"misspelt", "too-many"}]
    if len(texts) == 1 and len(words) == len(best[0].slips) and words:
        start, end = words[0].start, words[-1].end
    else:
        start, end = whole
    slip = _one_word(best)
    if len(texts) == 1:
        facts = (("form", texts[0]),)
        return Slip("verb-form", start, end, facts if slip is None else (*facts, *slip[1]))
    if slip is not None:
        forms = ("forms", "\n".join(texts[:_MOST_FORMS]))
        return Slip("verb-forms", slip[0].start, slip[0].end, (forms, *slip[1]))
    return _forms_slip(texts, whole)


def _forms_slip(texts: list[str], whole: tuple[int, int]) -> Slip:
    """Forms that are near, of which none is nearer than the others, or the only one."""
    if len(texts) == 1:
        return Slip("verb-form", *whole, (("form", texts[0]),))
    return Slip("verb-forms", *whole, (("forms", "\n".join(texts[:_MOST_FORMS])),))


def _one_word(best: list[_Laid]) -> tuple[Slip, tuple[tuple[str, str], ...]] | None:
    """The one word that is amiss, and the word that all these forms have there."""
    slips = {laid.slips for laid in best}
    if len(slips) != 1 or len(best[0].slips) != 1 or best[0].slips[0].kind != "misspelt":
        return None
    slip = best[0].slips[0]
    return slip, (("meant", dict(slip.facts)["word"]),)


# --- Two readings --------------------------------------------------------------------------------


def spelt_out(reading: Reading) -> str:
    """A reading in words: the form, then what stands in each slot that has a choice to make."""
    filled = []
    for part in reading.form.frame.parts:
        if isinstance(part, Slot):
            names = ", ".join(f'"{name}"' for name in reading.written[part.name])
            filled.append(f"{part.name}: {names}")
    return f"{reading.form.frame.text} ({'; '.join(filled)})"
