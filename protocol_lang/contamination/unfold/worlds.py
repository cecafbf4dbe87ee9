"""The worlds of a protocol: combinations of its choices, as far as they differ in anything done.

Two combinations that make every condition come out the same that is come to on the way are one
world; a condition inside a branch that is not taken is not come to. So the cost follows the number
of different behaviours and not the product of the choices.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from itertools import product
from math import prod
from typing import NamedTuple

from protocol_lang.contamination.kernel import Bits
from protocol_lang.contamination.unfold.spelling import choices_in, states_in
from protocol_lang.model.conditions import (
    AnyWhere,
    ChoiceIs,
    Condition,
    EveryWhere,
    NotWhere,
    StateIs,
)
from protocol_lang.model.protocol import Air, Choice, Protocol
from protocol_lang.model.steps import Item, Step, Where
from protocol_lang.model.walk import parts_of

#: More behaviours than this are not looked at.
MOST_COMBINATIONS = 32_768

#: So many settings of the clinic are gone through together.
MOST_TOGETHER = 8

#: The value of each choice, or of those that are looked at on the way.
Combination = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a condition asks of the state: the worlds in which it is so there, and is not."""

    so: Bits
    not_so: Bits


@dataclass(frozen=True, slots=True)
class Worlds:
    """``examples[w]``: the combinations that world w stands for, at least one; what one of them
    leaves out is not come to in it and may have any value.

    ``clinic``: the worlds split by the choices that are fixed for the clinic; settings that lead to
    the very same set of behaviours are one part. ``combinations``: how many there are in all.
    ``taken``: for each branch, the worlds in which it is taken; ``asked``: what conditions ask of
    the state, in the order in which :func:`states_in` tells it. Both go by the number of the
    branching, counted from the top of the checklist down, an outer one before those inside it.
    """

    choices: tuple[Choice, ...]
    examples: tuple[tuple[Combination, ...], ...]
    clinic: tuple[Bits, ...]
    combinations: int
    taken: Mapping[tuple[int, int], Bits] = field(default_factory=dict)
    asked: Mapping[tuple[int, int], Asked] = field(default_factory=dict)

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


#: What is known of the state: for each condition on it, whether it is so.
States = Mapping[StateIs, bool]
NO_STATES: States = {}
NOTHING_TOLD: Sequence[int] = ()


def holds(
    condition: Condition, combination: Combination, states: States = NO_STATES
) -> bool | None:
    """Whether the condition holds for the combination; None where it does not say."""
    match condition:
        case ChoiceIs(choice, value):
            known = combination.get(choice)
            return None if known is None else known == value
        case StateIs():
            return states.get(condition)
        case NotWhere(part):
            inner = holds(part, combination, states)
            return None if inner is None else not inner
        case EveryWhere(parts):
            return _joined(parts, combination, states, every=True)
        case AnyWhere(parts):
            return _joined(parts, combination, states, every=False)


def _joined(
    parts: tuple[Condition, ...], combination: Combination, states: States, every: bool
) -> bool | None:
    """The parts from the first on, until one settles it: most do at once."""
    joined: bool | None = every
    for part in parts:
        inner = holds(part, combination, states)
        if inner is None:
            joined = None
        elif inner is not every:
            return inner
    return joined


def carried_in(air: Air | None, worlds: Worlds) -> Bits:
    """The worlds in which air carries germs."""
    found: Bits = 0
    for condition in air.carries if air is not None else ():
        found |= worlds.all if condition is None else worlds.where(condition)
    return found


def combinations_of(protocol: Protocol) -> int:
    """How many combinations of its choices a protocol has."""
    return prod(len(choice.values) for choice in protocol.choices)


class Memory(ABC):
    """What a walk through the checklist from the top down remembers of the state of things.

    A value: doing steps gives another memory and leaves this one as it is.
    """

    @abstractmethod
    def after(self, steps: tuple[int, ...]) -> Memory:
        """The memory once the steps with these numbers are done, one after the other."""

    @abstractmethod
    def is_so(self, fork: int, number: int) -> bool:
        """Whether what that branching asks of the state is so now."""


@dataclass(frozen=True, slots=True)
class _Fork:
    """A branching: its number, and for each branch the condition and what stands in it.

    ``states``: what its conditions ask of the state. ``plain``: of a single branch that is taken
    where some choices have these values, and for no other reason, those; which settles most of the
    many moments of a mishap. ``asks``: the choices that its conditions mention.
    """

    number: int
    branches: tuple[tuple[Condition | None, _Way], ...]
    states: tuple[StateIs, ...] = ()
    plain: tuple[tuple[str, str], ...] | None = None
    asks: tuple[str, ...] = ()


#: What is come to one after the other: branchings, and runs of steps by their numbers.
_Way = tuple["_Fork | tuple[int, ...]", ...]


def worlds_of(
    protocol: Protocol, only: Combination | None = None, memory: Memory | None = None
) -> Worlds | None:
    """The worlds of a protocol in plain blocks; with ``only``, those that agree with it; None if
    there are too many.

    ``memory``: how a visit begins; needed where conditions ask for the state.
    """
    only = only or {}
    choices = tuple(
        replace(choice, values=(only[choice.name],)) if choice.name in only else choice
        for choice in protocol.choices
    )
    carries = protocol.air.carries if protocol.air else ()
    throughout = [
        *(floor.where for floor in protocol.floors if floor.where is not None),
        *(where for where in carries if where is not None),
    ]
    way: _Way = (
        *(
            _Fork(-1 - number, ((where, ()),), asks=_asked_for((where,)))
            for number, where in enumerate(throughout)
        ),
        *_Counting(memory is not None).all(phase.items for phase in protocol.phases),
    )
    mentioned = set(_mentioned(way))
    fixed = [choice for choice in choices if choice.fixed and choice.name in mentioned]
    if prod(len(choice.values) for choice in fixed) > MOST_COMBINATIONS:
        return None
    settings = [
        dict(zip((choice.name for choice in fixed), values, strict=True))
        for values in product(*(choice.values for choice in fixed))
    ]
    walk = _Walk(way, choices, memory)
    together: _Leaves | None = None
    if len(settings) <= MOST_TOGETHER:
        names = frozenset(choice.name for choice in fixed)
        together = walk.leaves({}, names, MOST_COMBINATIONS * len(settings))
        if together is None:
            return None  # so many that a single setting has too many
    parts: dict[frozenset[_Behaviour], dict[_Behaviour, list[Combination]]] = {}
    found = 0
    for setting in settings:
        most = MOST_COMBINATIONS - found
        leaves = (
            walk.leaves(setting, frozenset(), most)
            if together is None
            else _of_setting(together, setting)
        )
        if leaves is None or len(leaves) > most:
            return None
        ways = walk.behaviours(leaves)
        found += len(ways)
        known = parts.setdefault(frozenset(ways), {})
        for behaviour, combinations in ways.items():
            known.setdefault(behaviour, []).extend(combinations)
    examples: list[tuple[Combination, ...]] = []
    clinic: list[Bits] = []
    told: dict[tuple[int, int], list[int]] = {}
    for behaviours in parts.values():
        first = len(examples)
        for behaviour, combinations in behaviours.items():
            for what in behaviour:
                told.setdefault(what, []).append(len(examples))
            examples.append(tuple(combinations))
        clinic.append((1 << len(examples)) - (1 << first))
    total = prod(len(choice.values) for choice in choices)
    return Worlds(choices, tuple(examples), tuple(clinic), total, *_by_branching(told))


#: How everything comes out that is come to, as pairs: a branching by its number, and the branch
#: that is taken; or what is asked of the state there, and whether it is so (:func:`_state`). Where
#: no branch is taken, nothing is done, and nothing is told.
_Behaviour = tuple[tuple[int, int], ...]

#: Stands for "no branch is taken".
_NONE = -1

#: How a branching comes out: the branch that is taken, and what is asked of the state; or the
#: choice that has to be known first.
_Outcome = tuple[int, Sequence[int]] | str

#: How a branching with a single branch comes out that asks for nothing of the state.
_TAKEN: tuple[int, Sequence[int]] = (0, ())
_NOT_TAKEN: tuple[int, Sequence[int]] = (_NONE, ())


def _state(number: int, so: bool) -> int:
    """How an answer about the state is written beside branches, whose numbers are not negative."""
    return -2 - 2 * number - so


def _by_branching(
    told: Mapping[tuple[int, int], Sequence[int]],
) -> tuple[dict[tuple[int, int], Bits], dict[tuple[int, int], Asked]]:
    """The worlds in which each branch is taken, and those in which what is asked is so or not."""
    taken: dict[tuple[int, int], Bits] = {}
    asked: dict[tuple[int, int], Asked] = {}
    for (fork, what), members in told.items():
        worlds = _gathered(members)
        if what >= 0:
            taken[fork, what] = worlds
        else:
            number, so = divmod(-2 - what, 2)
            before = asked.get((fork, number), Asked(0, 0))
            asked[fork, number] = replace(before, **{"so" if so else "not_so": worlds})
    return taken, asked


def _gathered(members: Sequence[int]) -> Bits:
    """A set of worlds as bits: all at once, since there may be thousands."""
    bits = bytearray(members[-1] // 8 + 1)
    for member in members:
        bits[member >> 3] |= 1 << (member & 7)
    return int.from_bytes(bits, "little")


class _Rest(NamedTuple):
    """What is still to be come to: a way from some place on, then what comes after that way."""

    way: _Way
    start: int
    then: _Rest | None


class _Told(NamedTuple):
    """How one more thing has come out, after all that came out before."""

    what: tuple[int, int]
    before: _Told | None


#: Courses of events: for which values of choices, and how everything comes out.
_Leaves = list[tuple[Combination, _Behaviour]]


def _of_setting(leaves: _Leaves, setting: Combination) -> _Leaves:
    """Those of a setting, out of those of all."""
    return [
        ({**setting, **known}, behaviour)
        for known, behaviour in leaves
        if all(known.get(name, value) == value for name, value in setting.items())
    ]


class _Walk:
    """Goes through a way for the values of some choices, and for all of the others."""

    def __init__(self, way: _Way, choices: tuple[Choice, ...], memory: Memory | None) -> None:
        self._way = way
        self._memory = memory
        self._outcomes = _Outcomes()
        self._values = {choice.name: choice.values for choice in choices}
        self._places = {
            (choice.name, value): (place, at)
            for place, choice in enumerate(choices)
            for at, value in enumerate(choice.values)
            if at
        }

    def leaves(self, setting: Combination, first: Set[str], most: int) -> _Leaves | None:
        """How the conditions come out that are come to, and for which values of the other choices.
        None if there are more than ``most``.

        A choice is split only when a condition asks for it, and what comes before is not gone
        through again. Where something has to be split, those choices ``first`` that the branching
        mentions: then all else is split as it would be if these had been known from the beginning.
        What is settled without them comes out so for each of their values.
        """
        waiting: list[tuple[Combination, _Rest, _Told | None, Memory | None]] = [
            (setting, _Rest(self._way, 0, None), None, self._memory)
        ]
        leaves: _Leaves = []
        while waiting:
            known, (way, at, then), told, now = waiting.pop()
            while True:
                if at == len(way):
                    if then is None:
                        leaves.append((known, _unrolled(told)))
                        break
                    way, at, then = then
                    continue
                item = way[at]
                if not isinstance(item, _Fork):
                    assert now is not None
                    now = now.after(item)
                    at += 1
                    continue
                came: _Outcome
                if item.plain is not None:
                    came = _TAKEN
                    for name, value in item.plain:
                        given = known.get(name)
                        if given is None:
                            came = name if came is _TAKEN else came
                        elif given != value:
                            came = _NOT_TAKEN
                            break
                    if came is _NOT_TAKEN:
                        at += 1
                        continue
                else:
                    came = self._outcomes.of(item, known, now)
                if isinstance(came, str):
                    came = next(
                        (one for one in item.asks if one in first and one not in known), came
                    )
                    rest = _Rest(way, at, then)
                    waiting += [
                        ({**known, came: value}, rest, told, now) for value in self._values[came]
                    ]
                    break
                branch, states = came
                for what in states:
                    told = _Told((item.number, what), told)
                at += 1
                if branch != _NONE:
                    told = _Told((item.number, branch), told)
                    way, at, then = item.branches[branch][1], 0, _Rest(way, at, then)
            if len(leaves) + len(waiting) > most:
                return None
        return leaves

    def behaviours(self, leaves: _Leaves) -> dict[_Behaviour, list[Combination]]:
        """The combinations of each behaviour of one setting, in the order of the values as
        declared."""

        def row(known: Combination) -> list[tuple[int, int]]:
            found = (self._places.get(pair) for pair in known.items())
            return sorted(place for place in found if place is not None)

        found: dict[_Behaviour, list[Combination]] = {}
        for known, behaviour in sorted(leaves, key=lambda leaf: _row(row(leaf[0]))):
            found.setdefault(behaviour, []).append(known)
        return found


def _row(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Sorts as the row of all values would that has 0 wherever no pair stands."""
    return [(-place, value) for place, value in pairs]


def _unrolled(told: _Told | None) -> _Behaviour:
    found: list[tuple[int, int]] = []
    while told is not None:
        found.append(told.what)
        told = told.before
    return tuple(reversed(found))


class _Outcomes:
    """How branchings come out, each told once: it depends on the values of the choices that its
    conditions mention and on what is so of what they ask of the state, and on nothing else."""

    def __init__(self) -> None:
        self._told: dict[Hashable, _Outcome] = {}

    def of(self, fork: _Fork, known: Combination, memory: Memory | None) -> _Outcome:
        so: tuple[bool, ...] = ()
        if fork.states:
            assert memory is not None
            so = tuple(memory.is_so(fork.number, number) for number in range(len(fork.states)))
        key = (fork.number, so, *map(known.get, fork.asks))
        came = self._told.get(key)
        if came is None:
            came = self._told[key] = _comes_out(fork, known, so)
        return came


def _comes_out(fork: _Fork, known: Combination, so_there: Sequence[bool]) -> _Outcome:
    """``so_there``: whether each thing is so that its conditions ask of the state."""
    states = dict(zip(fork.states, so_there, strict=True))
    told = [_state(number, so) for number, so in enumerate(so_there)] or NOTHING_TOLD
    for number, (condition, _) in enumerate(fork.branches):
        so = True if condition is None else holds(condition, known, states)
        if so is None:
            assert condition is not None
            return next(one.choice for one in choices_in(condition) if one.choice not in known)
        if so:
            return number, told
    return _NONE, told


class _Counting:
    """Numbers branchings and steps from the top down; steps are kept only if ``steps``."""

    def __init__(self, steps: bool) -> None:
        self.keeps_steps = steps
        self.forks = 0
        self.steps = 0

    def all(self, lists: Iterable[Iterable[Item]]) -> _Way:
        return _runs(one for items in lists for one in self.within(items))

    def within(self, items: Iterable[Item]) -> Iterator[_Fork | int]:
        for item in items:
            match item:
                case Step():
                    self.steps += 1
                    if self.keeps_steps:
                        yield self.steps - 1
                case Where(branches):
                    number = self.forks
                    self.forks += 1
                    told = tuple(
                        (condition, _runs(self.within(inner))) for condition, inner in branches
                    )
                    states = (
                        state
                        for condition, _ in branches
                        if condition is not None
                        for state in states_in(condition)
                    )
                    yield _Fork(
                        number,
                        told,
                        tuple(dict.fromkeys(states)),
                        _plain(branches),
                        _asked_for(condition for condition, _ in branches),
                    )
                case _:
                    for inner in parts_of(item):
                        yield from self.within(inner)


def _asked_for(conditions: Iterable[Condition | None]) -> tuple[str, ...]:
    """The choices that the conditions mention."""
    asked = (one for where in conditions if where is not None for one in choices_in(where))
    return tuple(dict.fromkeys(one.choice for one in asked))


def _plain(
    branches: Sequence[tuple[Condition | None, object]],
) -> tuple[tuple[str, str], ...] | None:
    match branches:
        case ((ChoiceIs(choice, value), _),):
            return ((choice, value),)
        case ((EveryWhere(parts), _),):
            plain = [(one.choice, one.value) for one in parts if isinstance(one, ChoiceIs)]
            return tuple(plain) if len(plain) == len(parts) else None
        case _:
            return None


def _runs(found: Iterable[_Fork | int]) -> _Way:
    """Steps that follow each other as one run."""
    made: list[_Fork | tuple[int, ...]] = []
    for one in found:
        if isinstance(one, _Fork):
            made.append(one)
        elif made and isinstance(made[-1], tuple):
            made[-1] = (*made[-1], one)
        else:
            made.append((one,))
    return tuple(made)


def _mentioned(way: _Way) -> Iterator[str]:
    for fork in way:
        if not isinstance(fork, _Fork):
            continue
        for condition, inside in fork.branches:
            if condition is not None:
                yield from (one.choice for one in choices_in(condition))
            yield from _mentioned(inside)
