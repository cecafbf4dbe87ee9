"""Going through a checklist: the lists that an item holds, its steps, and the same with others."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere, NotWhere
from protocol_lang.model.steps import (
    Again,
    Border,
    Either,
    Item,
    RoundEnds,
    SideBySide,
    Step,
    Where,
)

Items = tuple[Item, ...]


def parts_of(item: Item) -> tuple[Items, ...]:
    """The lists of items that an item holds."""
    match item:
        case Step() | Again() | Border() | RoundEnds():
            return ()
        case SideBySide(lanes):
            return tuple(inner for _, inner in lanes)
        case Where(branches):
            return tuple(inner for _, inner in branches)
        case Either(ways):
            return ways
        case _:
            return (item.items,)


def with_parts(item: Item, within: Callable[[Items], Items]) -> Item:
    """The item with each list that it holds put through ``within``."""
    match item:
        case Step() | Again() | Border() | RoundEnds():
            return item
        case SideBySide(lanes):
            return replace(item, lanes=tuple((who, within(inner)) for who, inner in lanes))
        case Where(branches):
            told = tuple((condition, within(inner)) for condition, inner in branches)
            return replace(item, branches=told)
        case Either(ways):
            return replace(item, ways=tuple(within(way) for way in ways))
        case _:
            return replace(item, items=within(item.items))


def steps_of(items: Iterable[Item]) -> Iterator[Step]:
    """Every step in the items, in the order written."""
    for item in items:
        if isinstance(item, Step):
            yield item
        for inner in parts_of(item):
            yield from steps_of(inner)


def with_choices(condition: Condition, called: Callable[[ChoiceIs], ChoiceIs]) -> Condition:
    """The condition with each question about a choice put through ``called``."""
    match condition:
        case ChoiceIs():
            return called(condition)
        case NotWhere(part):
            return NotWhere(with_choices(part, called))
        case EveryWhere(parts):
            return EveryWhere(tuple(with_choices(part, called) for part in parts))
        case AnyWhere(parts):
            return AnyWhere(tuple(with_choices(part, called) for part in parts))
        case _:
            return condition
