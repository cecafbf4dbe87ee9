"""The tick boxes of a protocol, each once, with what stands around them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from protocol_lang.comparison import Seen
from protocol_lang.model.conditions import (
    AnyWhere,
    ChoiceIs,
    Condition,
    EveryWhere,
    NotWhere,
)
from protocol_lang.model.protocol import FOUND, WHAT_HAPPENS, Protocol
from protocol_lang.model.said import claim
from protocol_lang.model.steps import (
    Again,
    Either,
    ForEach,
    Item,
    MayBeLeftOut,
    SideBySide,
    Step,
    TimeOnly,
    Where,
)
from protocol_lang.model.walk import parts_of
from protocol_lang.text import Place

Items = tuple[Item, ...]

#: What the words begin with that say under which condition a step is done.
WHERE = "where "


@dataclass(frozen=True, slots=True)
class Written:
    """A tick box, where it stands, and the words of the blocks around it, the outermost first."""

    seen: Seen
    step: Step
    under: tuple[str, ...]


def written(protocol: Protocol) -> tuple[Written, ...]:
    """All tick boxes in the order of the text, those of mishaps last; each once, even where a
    protocol is read for several visits."""
    found: dict[Place, Written] = {}
    lists: list[tuple[str, str | None, Items, tuple[str, ...]]] = [
        (one.title, one.part, one.items, ()) for one in protocol.phases
    ]
    lists += [(one.name, one.part, one.items, (f'if "{one.name}"',)) for one in protocol.mishaps]
    for title, part, items, under in lists:
        for number, (step, around) in enumerate(_within(items, under), start=1):
            place = own_place(step.place)
            text = " ".join(step.text.split())
            seen = Seen(text, title, number, place, step.label, part)
            found.setdefault(place, Written(seen, step, around))
    return tuple(found.values())


def own_place(place: Place) -> Place:
    """The place in the file, whichever visit it was read for."""
    return replace(place, again=False)


def _within(items: Items, under: tuple[str, ...]) -> Iterator[tuple[Step, tuple[str, ...]]]:
    for item in items:
        if isinstance(item, Step):
            yield item, under
            continue
        for words, inner in _lists(item):
            yield from _within(inner, (*under, *words))


def _lists(item: Item) -> Iterator[tuple[tuple[str, ...], Items]]:
    """The lists of an item, each with the words that say when it is done."""
    match item:
        case Where(branches):
            before: list[Condition] = []
            for condition, inner in branches:
                words = [f"not {_bracketed(one)}" for one in before]
                if condition is not None:
                    words.append(told_condition(condition))
                    before.append(condition)
                yield (WHERE + " and ".join(words),), inner
        case Either(ways):
            for number, way in enumerate(ways, start=1):
                yield (f"one of {len(ways)} ways, the {_nth(number)}",), way
        case MayBeLeftOut(inner, _, when):
            yield (when or "may be left out",), inner
        case ForEach(name, least, most, inner):
            yield (f"for each {name}, {least} to {most}",), inner
        case TimeOnly(first, inner):
            yield (f"{'first' if first else 'last'} time only",), inner
        case SideBySide() | Again():
            yield from (((), inner) for inner in parts_of(item))
        case _:
            yield from (((), inner) for inner in parts_of(item))


def _nth(number: int) -> str:
    words = ("first", "second", "third", "fourth", "fifth", "sixth")
    return words[number - 1] if number <= len(words) else f"{number}th"


def _bracketed(condition: Condition) -> str:
    told = told_condition(condition)
    return f"({told})" if isinstance(condition, EveryWhere | AnyWhere) else told


def told_condition(condition: Condition) -> str:
    """The condition in the author's words."""
    match condition:
        case ChoiceIs(choice, value) if choice == WHAT_HAPPENS:
            return value
        case ChoiceIs(choice, value) if value in FOUND:
            return choice if value == FOUND[0] else f"not {choice}"
        case ChoiceIs(choice, value):
            return f"{choice} is {value}"
        case NotWhere(part):
            return f"not {_bracketed(part)}"
        case EveryWhere(parts):
            return " and ".join(map(_bracketed, parts))
        case AnyWhere(parts):
            return " or ".join(map(_bracketed, parts))
        case _:
            return claim(condition.claim, {})


def repeated(protocol: Protocol) -> Iterator[tuple[str, int]]:
    """The lines "again from LABEL, at most so many times": label and number."""

    def within(items: Items) -> Iterator[tuple[str, int]]:
        for item in items:
            if isinstance(item, Again):
                yield item.label, item.most
            for inner in parts_of(item):
                yield from within(inner)

    for phase in protocol.phases:
        yield from within(phase.items)
