"""The worlds of a protocol: combinations of its choices, as far as they differ in anything done.

Two combinations that make every condition of the protocol come out the same are one world. So the
cost follows the number of different behaviours and not the product of the choices.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod

from protocol_lang.contamination.kernel import Bits
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere, NotWhere
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.model.steps import AnyOrder, InOneGo, InOrder, Item, SideBySide, Where

#: More combinations than this are not looked at.
MOST_COMBINATIONS = 4096

#: One combination: the value of each choice.
Combination = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Worlds:
    """``examples[w]``: the combinations that world w stands for, at least one.

    ``clinic``: the worlds split by the choices that are fixed for the clinic; settings that lead to
    the very same set of behaviours are one part. ``combinations``: how many there are in all.
    """

    examples: tuple[tuple[Combination, ...], ...]
    clinic: tuple[Bits, ...]
    combinations: int

    @property
    def all(self) -> Bits:
        return (1 << len(self.examples)) - 1

    def where(self, condition: Condition) -> Bits:
        """The worlds in which the condition holds."""
        return sum(
            1 << number
            for number, combinations in enumerate(self.examples)
            if holds(condition, combinations[0])
        )


def holds(condition: Condition, combination: Combination) -> bool:
    """Whether the condition holds for the combination."""
    match condition:
        case ChoiceIs(choice, value):
            return combination[choice] == value
        case NotWhere(part):
            return not holds(part, combination)
        case EveryWhere(parts):
            return all(holds(part, combination) for part in parts)
        case AnyWhere(parts):
            return any(holds(part, combination) for part in parts)


def combinations_of(protocol: Protocol) -> int:
    """How many combinations of its choices a protocol has."""
    return prod(len(choice.values) for choice in protocol.choices)


def worlds_of(protocol: Protocol, only: Combination | None = None) -> Worlds | None:
    """The worlds of a protocol; with ``only``, those that agree with it; None if there are too
    many."""
    only = only or {}
    choices = [
        Choice(choice.name, (only[choice.name],), choice.fixed, choice.place)
        if choice.name in only
        else choice
        for choice in protocol.choices
    ]
    conditions = list(_conditions(protocol))
    mentioned = {name for condition in conditions for name in _choices_in(condition)}
    looked_at = [choice for choice in choices if choice.name in mentioned]
    if prod(len(choice.values) for choice in looked_at) > MOST_COMBINATIONS:
        return None
    by_setting: dict[tuple[str, ...], dict[tuple[bool, ...], list[Combination]]] = {}
    fixed = [choice.name for choice in looked_at if choice.fixed]
    rest = {choice.name: choice.values[0] for choice in choices if choice.name not in mentioned}
    for values in product(*(choice.values for choice in looked_at)):
        combination = dict(zip((choice.name for choice in looked_at), values, strict=True))
        behaviour = tuple(holds(condition, combination) for condition in conditions)
        setting = tuple(combination[name] for name in fixed)
        by_setting.setdefault(setting, {}).setdefault(behaviour, []).append(
            _in_order(protocol, {**rest, **combination})
        )
    parts: dict[frozenset[tuple[bool, ...]], dict[tuple[bool, ...], list[Combination]]] = {}
    for behaviours in by_setting.values():
        known = parts.setdefault(frozenset(behaviours), {})
        for behaviour, combinations in behaviours.items():
            known.setdefault(behaviour, []).extend(combinations)
    examples: list[tuple[Combination, ...]] = []
    clinic: list[Bits] = []
    for behaviours in parts.values():
        first = len(examples)
        examples += [tuple(combinations) for combinations in behaviours.values()]
        clinic.append((1 << len(examples)) - (1 << first))
    return Worlds(tuple(examples), tuple(clinic), prod(len(choice.values) for choice in choices))


def _in_order(protocol: Protocol, combination: Combination) -> Combination:
    return {choice.name: combination[choice.name] for choice in protocol.choices}


def _conditions(protocol: Protocol) -> Iterator[Condition]:
    for floor in protocol.floors:
        if floor.where is not None:
            yield floor.where
    for phase in protocol.phases:
        yield from _conditions_in(phase.items)


def _conditions_in(items: Iterable[Item]) -> Iterator[Condition]:
    for item in items:
        match item:
            case Where(branches):
                for condition, inner in branches:
                    if condition is not None:
                        yield condition
                    yield from _conditions_in(inner)
            case InOrder(inner) | AnyOrder(inner) | InOneGo(inner):
                yield from _conditions_in(inner)
            case SideBySide(lanes):
                for _, inner in lanes:
                    yield from _conditions_in(inner)


def _choices_in(condition: Condition) -> Iterator[str]:
    match condition:
        case ChoiceIs(choice, _):
            yield choice
        case NotWhere(part):
            yield from _choices_in(part)
        case EveryWhere(parts) | AnyWhere(parts):
            for part in parts:
                yield from _choices_in(part)
