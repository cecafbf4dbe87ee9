"""Frames: the forms of a verb's sentence, as words and slots ("ACTOR aims ALL SURFACE")."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from protocol_lang.language.names import ARTICLES, PEOPLE, Name, Token, folded, tokens_of
from protocol_lang.language.tree import Words
from protocol_lang.model.verbs import Frame, Share, Slot
from protocol_lang.text import Place

#: Slots that every vocabulary has, with what fills them.
RESERVED_SLOTS = {
    "actor": "person",
    "staff": "staff",
    "patient": "patient",
    "companion": "companion",
    "thing": "thing",
    "stream": "stream",
    "place": "place",
}

#: A form has at most so many words, slots among them.
MOST_FORM_WORDS = 30

#: Words in capitals before the kind of a slot.
_SHARES = {"EACH": Share.EACH, "ALL": Share.ALL}
OTHER = "OTHER"

#: A kind of thing may not be called by one of these: a slot of that name means something else.
RESERVED_KINDS = frozenset({*RESERVED_SLOTS, "person", "group", "each", "all", "other", "minutes"})

_PERSONS = PEOPLE | {"person"}


def is_person(slot: Slot) -> bool:
    """Whether people fill the slot."""
    return slot.kind in _PERSONS


def admits(slot: Slot, name: Name) -> bool:
    """Whether a single name may fill the slot (a group never does; a spoiled name always does)."""
    if name.spoiled:
        return True
    if name.kind == "group":
        return False
    if slot.kind == "person":
        return not name.is_thing and name.kind in PEOPLE
    if slot.kind == "thing":
        return name.is_thing
    return name.kind == slot.kind and name.is_thing == (
        slot.kind not in _PERSONS | {"stream", "place"}
    )


@dataclass(frozen=True, slots=True)
class FrameFault:
    """Why a form of a verb cannot be used; ``kind`` as in the wording."""

    kind: str
    place: Place
    facts: dict[str, str]


def _is_capital(word: str) -> bool:
    return len(word) > 1 and word.isupper()


def parse(form: Words, kinds: Collection[str]) -> Frame | FrameFault:
    """The frame that a form means. ``kinds``: the declared kinds of thing, in lower case.

    A run of words in capitals is one slot. Articles in a form are passed over, as in sentences.
    """
    text = form.text
    tokens = tokens_of(text)
    for token in tokens:
        if token.word == "," or token.inside is not None or token.stray:
            return FrameFault(
                "form-sign",
                form.at(token.start, token.end),
                {"form": form.plain, "sign": text[token.start : token.end]},
            )
    if len(tokens) > MOST_FORM_WORDS:
        facts = {"form": form.plain, "words": str(len(tokens)), "most": str(MOST_FORM_WORDS)}
        return FrameFault("form-too-long", form.at(0, len(text)), facts)
    parts: list[str | Slot] = []
    names: dict[str, Place] = {}
    lists = 0
    for run in _runs(text, tokens):
        first = text[run[0].start : run[0].end]
        place = form.at(run[0].start, run[-1].end)
        if not _is_capital(first):
            word = run[0].word
            if word not in ARTICLES:
                parts.append(word)
            continue
        capitals = [text[token.start : token.end] for token in run]
        share = _SHARES.get(capitals[0], Share.ONE)
        if share is not Share.ONE:
            capitals = capitals[1:]
        other = bool(capitals) and capitals[0] == OTHER
        plain = " ".join(capitals[1:] if other else capitals)
        kind = RESERVED_SLOTS.get(plain.lower(), plain.lower())
        if not plain or (plain.lower() not in RESERVED_SLOTS and folded(kind) not in kinds):
            if any(_splits(capitals, i, kinds) for i in range(1, len(capitals))):
                return FrameFault("form-touching", place, {"form": form.plain})
            return FrameFault(
                "form-unknown-kind", place, {"form": form.plain, "slot": " ".join(capitals)}
            )
        name = f"{OTHER} {plain}" if other else plain
        if name in names:
            return FrameFault("form-slot-twice", place, {"form": form.plain, "slot": name})
        names[name] = place
        lists += share is not Share.ONE
        if lists > 1:
            return FrameFault("form-two-lists", place, {"form": form.plain})
        parts.append(Slot(name, kind, share))
    whole = form.at(0, len(text))
    if not any(isinstance(part, str) for part in parts):
        return FrameFault("form-no-word", whole, {"form": form.plain})
    if not any(isinstance(part, Slot) and is_person(part) for part in parts):
        return FrameFault("form-no-person", whole, {"form": form.plain})
    return Frame(tuple(parts), form.plain, form.place)


def _runs(text: str, tokens: tuple[Token, ...]) -> list[list[Token]]:
    """Each word in small letters alone; neighbouring words in capitals together."""
    runs: list[list[Token]] = []
    capital = False
    for token in tokens:
        now = _is_capital(text[token.start : token.end])
        if now and capital:
            runs[-1].append(token)
        else:
            runs.append([token])
        capital = now
    return runs


def _splits(capitals: list[str], at: int, kinds: Collection[str]) -> bool:
    known = {*RESERVED_SLOTS, *kinds}
    halves = (capitals[:at], capitals[at:])
    return all(
        folded(" ".join(w for w in half if w not in {*_SHARES, OTHER})) in known for half in halves
    )


def shape(frame: Frame) -> tuple[str, ...]:
    """What two frames have in common that accept the same sentences word for word."""
    return tuple(p if isinstance(p, str) else f"<{p.kind}>" for p in frame.parts)


def slots_of(frame: Frame) -> tuple[Slot, ...]:
    """The slots of the frame, in order."""
    return tuple(part for part in frame.parts if isinstance(part, Slot))


def words_in(frame: Frame) -> tuple[str, ...]:
    """The literal words of the frame, in order."""
    return tuple(part for part in frame.parts if isinstance(part, str))


def actor_slot(frame: Frame) -> Slot:
    """Who does it: the first slot that people fill."""
    return next(slot for slot in slots_of(frame) if is_person(slot))


_NOWHERE = Place("", 1, 1, 2)
_ACTOR = Slot("ACTOR", "person")

#: Waits belong to the language. A slot of kind "minutes" takes a number in figures.
WAITS_MINUTES = (
    Frame(
        (_ACTOR, "waits", Slot("MINUTES", "minutes"), "minutes"),
        "ACTOR waits MINUTES minutes",
        _NOWHERE,
    ),
    Frame(
        (_ACTOR, "waits", Slot("MINUTES", "minutes"), "minute"),
        "ACTOR waits MINUTES minute",
        _NOWHERE,
    ),
)
#: Names of things may be plural: "hand grips are dry". One form to whoever asks for it.
WAITS_UNTIL_DRY = tuple(
    Frame(
        (_ACTOR, "waits", "until", Slot("THING", "thing"), verb, "dry"),
        "ACTOR waits until THING is dry",
        _NOWHERE,
    )
    for verb in ("is", "are")
)
BUILT_IN = frozenset(shape(frame) for frame in (*WAITS_MINUTES, *WAITS_UNTIL_DRY))
