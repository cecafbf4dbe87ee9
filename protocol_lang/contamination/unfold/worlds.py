"""The worlds of a protocol: combinations of its choices, as far as they differ in anything done.

Two combinations that make every condition come out the same that is come to on the way are one
world; a condition inside a branch that is not taken is not come to. So the cost follows the number
of different behaviours and not the product of the choices.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import prod

from protocol_lang.contamination.kernel import Bits
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere, NotWhere
from protocol_lang.model.protocol import Air, Choice, Protocol
from protocol_lang.model.steps import AnyOrder, InOneGo, InOrder, Item, SideBySide, Where

#: More behaviours than this are not looked at.
MOST_COMBINATIONS = 4096

#: The value of each choice, or of those that are looked at on the way.
Combination = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Worlds:
    """``examples[w]``: the combinations that world w stands for, at least one; what one of them
    leaves out is not come to in it and may have any value.

    ``clinic``: the worlds split by the choices that are fixed for the clinic; settings that lead to
    the very same set of behaviours are one part. ``combinations``: how many there are in all.
    """

    choices: tuple[Choice, ...]
    examples: tuple[tuple[Combination, ...], ...]
    clinic: tuple[Bits, ...]
    combinations: int

    @property
    def all(self) -> Bits:
        return (1 << len(self.examples)) - 1

    def where(self, condition: Condition) -> Bits:
        """The worlds in which the condition is come to and holds."""
        return sum(
            1 << number
            for number, combinations in enumerate(self.examples)
            if holds(condition, combinations[0])
        )

    def example(self, world: int) -> Combination:
        """A value for every choice: one combination that the world stands for."""
        known = self.examples[world][0]
        return {choice.name: known.get(choice.name, choice.values[0]) for choice in self.choices}

    def standing_for(self, world: int) -> int:
        """How many combinations of all choices the world stands for."""
        return sum(
            prod(len(choice.values) for choice in self.choices if choice.name not in known)
            for known in self.examples[world]
        )


def holds(condition: Condition, combination: Combination) -> bool | None:
    """Whether the condition holds for the combination; None where it does not say."""
    match condition:
        case ChoiceIs(choice, value):
            known = combination.get(choice)
            return None if known is None else known == value
        case NotWhere(part):
            inner = holds(part, combination)
            return None if inner is None else not inner
        case EveryWhere(parts):
            return _joined([holds(part, combination) for part in parts], every=True)
        case AnyWhere(parts):
            return _joined([holds(part, combination) for part in parts], every=False)


def _joined(parts: list[bool | None], every: bool) -> bool | None:
    if (not every) in parts:
        return not every
    return None if None in parts else every


def carried_in(air: Air | None, worlds: Worlds) -> Bits:
    """The worlds in which air carries germs."""
    found: Bits = 0
    for condition in air.carries if air is not None else ():
        found |= worlds.all if condition is None else worlds.where(condition)
    return found


def combinations_of(protocol: Protocol) -> int:
    """How many combinations of its choices a protocol has."""
    return prod(len(choice.values) for choice in protocol.choices)


#: The conditions of a checklist as they stand in each other: branches with what stands in them.
_Fork = tuple[tuple[Condition | None, tuple["_Fork", ...]], ...]


def worlds_of(protocol: Protocol, only: Combination | None = None) -> Worlds | None:
    """The worlds of a protocol; with ``only``, those that agree with it; None if there are too
    many."""
    only = only or {}
    choices = tuple(
        replace(choice, values=(only[choice.name],)) if choice.name in only else choice
        for choice in protocol.choices
    )
    forks: tuple[_Fork, ...] = (
        *(((floor.where, ()),) for floor in protocol.floors if floor.where is not None),
        *(((where, ()),) for where in (protocol.air.carries if protocol.air else ()) if where),
        *(fork for phase in protocol.phases for fork in _forks(phase.items)),
    )
    mentioned = set(_mentioned(forks))
    fixed = [choice for choice in choices if choice.fixed and choice.name in mentioned]
    if prod(len(choice.values) for choice in fixed) > MOST_COMBINATIONS:
        return None
    parts: dict[frozenset[tuple[bool, ...]], dict[tuple[bool, ...], list[Combination]]] = {}
    found = 0
    for values in product(*(choice.values for choice in fixed)):
        setting = dict(zip((choice.name for choice in fixed), values, strict=True))
        ways = _behaviours(forks, choices, setting, MOST_COMBINATIONS - found)
        if ways is None:
            return None
        found += len(ways)
        known = parts.setdefault(frozenset(ways), {})
        for behaviour, combinations in ways.items():
            known.setdefault(behaviour, []).extend(combinations)
    examples: list[tuple[Combination, ...]] = []
    clinic: list[Bits] = []
    for behaviours in parts.values():
        first = len(examples)
        examples += [tuple(combinations) for combinations in behaviours.values()]
        clinic.append((1 << len(examples)) - (1 << first))
    return Worlds(
        choices, tuple(examples), tuple(clinic), prod(len(choice.values) for choice in choices)
    )


def _behaviours(
    forks: tuple[_Fork, ...], choices: tuple[Choice, ...], setting: Combination, most: int
) -> dict[tuple[bool, ...], list[Combination]] | None:
    """What can come of a setting: how the conditions come out that are come to, and for which
    values of the other choices. None if there are more than ``most``.

    In the order of the values as declared. A choice is split only when a condition asks for it.
    """
    by_name = {choice.name: choice for choice in choices}
    waiting: list[Combination] = [setting]
    leaves: list[tuple[Combination, tuple[bool, ...]]] = []
    while waiting:
        known = waiting.pop()
        told: list[bool] = []
        asked = _walk(forks, known, told)
        if asked is None:
            leaves.append((known, tuple(told)))
        else:
            waiting += [{**known, asked: value} for value in by_name[asked].values]
        if len(leaves) + len(waiting) > most:
            return None
    places = {choice.name: place for place, choice in enumerate(choices)}

    def at(known: Combination) -> list[int]:
        row = [0] * len(choices)
        for name, value in known.items():
            row[places[name]] = by_name[name].values.index(value)
        return row

    found: dict[tuple[bool, ...], list[Combination]] = {}
    for known, behaviour in sorted(leaves, key=lambda leaf: at(leaf[0])):
        ordered = {name: known[name] for name in by_name if name in known}
        found.setdefault(behaviour, []).append(ordered)
    return found


def _walk(forks: tuple[_Fork, ...], known: Combination, told: list[bool]) -> str | None:
    """How the conditions come out, one after the other; or the choice that has to be known
    first."""
    for fork in forks:
        for condition, inside in fork:
            so = True if condition is None else holds(condition, known)
            if so is None:
                assert condition is not None
                return next(name for name in _choices_in(condition) if name not in known)
            told.append(so)
            if so:
                asked = _walk(inside, known, told)
                if asked is not None:
                    return asked
                break
    return None


def _forks(items: Iterable[Item]) -> Iterator[_Fork]:
    for item in items:
        match item:
            case Where(branches):
                yield tuple((condition, tuple(_forks(inner))) for condition, inner in branches)
            case InOrder(inner) | AnyOrder(inner) | InOneGo(inner):
                yield from _forks(inner)
            case SideBySide(lanes):
                for _, inner in lanes:
                    yield from _forks(inner)


def _mentioned(forks: Iterable[_Fork]) -> Iterator[str]:
    for fork in forks:
        for condition, inside in fork:
            if condition is not None:
                yield from _choices_in(condition)
            yield from _mentioned(inside)


def _choices_in(condition: Condition) -> Iterator[str]:
    match condition:
        case ChoiceIs(choice, _):
            yield choice
        case NotWhere(part):
            yield from _choices_in(part)
        case EveryWhere(parts) | AnyWhere(parts):
            for part in parts:
                yield from _choices_in(part)
