"""What a part of a file uses each time: from the least to the most, and what it depends on.

A world is a way in which a visit can go. Over the worlds without a mishap the least and the most
are told; both are attained. A choice is told beside a count where its values have other ranges.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from protocol_lang.contamination.rounds import AT_FIRST
from protocol_lang.contamination.unfold import TooMany, Unfolded, unfold
from protocol_lang.contamination.unfold.spelling import NOTHING_HAPPENS, repetitions
from protocol_lang.contamination.unfold.worlds import Combination
from protocol_lang.model.parts import PersonKind, Thing
from protocol_lang.model.protocol import FOUND, WHAT_HAPPENS, Choice, Protocol
from protocol_lang.stock.counting import Goes, Used, taken_in, used_in
from protocol_lang.stock.faults import CannotCount
from protocol_lang.stock.turns import Part
from protocol_lang.supplied import ByChoice, Count, More, Range, Turn, Unit, Waste

#: The part of staff that comes in twos: what is worn on it is counted in pairs.
_HANDS = "hands"

#: The value of what is found out on the way where it is not so.
NOT_SO = FOUND[1]

#: How the choice that says how often something is repeated begins; people see what is repeated.
HOW_MANY = "how many: "


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a visit can go: the combinations of choices that lead to it, its use."""

    choices: tuple[Combination, ...]
    used: Used


@dataclass(frozen=True, slots=True)
class Counted:
    """A part of a file with every way it can go, its choices, and what is told of it.

    ``waste_once``, ``waste_each``: its waste apart, once each time it is done, and once for each
    piece of what stands for all.
    """

    part: Part
    choices: tuple[Choice, ...]
    ways: tuple[Way, ...]
    turn: Turn
    waste_once: tuple[Waste, ...]
    waste_each: tuple[Waste, ...]

    @property
    def found_out(self) -> tuple[str, ...]:
        """What is found out on the way, by the names that it has in each time round."""
        return tuple(one.name for one in self.choices if one.known_after is not None)

    def with_values(self, settled: Combination) -> tuple[Way, ...]:
        """The ways in which choices may have these values. Nothing that is found out on the way
        is so, unless ``settled`` says what is."""
        unsaid = dict.fromkeys(self.found_out, NOT_SO)
        wanted = {**unsaid, **settled}
        return tuple(
            way
            for way in self.ways
            if any(
                all(one.get(name, value) == value for name, value in wanted.items())
                for one in way.choices
            )
        )

    def planned(self, name: str, each: bool = False) -> int:
        """The most that is taken of a thing where nothing is found out that need not be.

        ``each``: of what is taken once for each piece of what stands for all.
        """
        ways = self.with_values({}) or self.ways
        return max((way.used.each if each else way.used.taken).get(name, 0) for way in ways)


def counted(part: Part, only: Combination, weights: Mapping[str, Fraction]) -> Counted:
    """Counts a part of a file. ``only``: choices to which it is limited; ``weights``: in grams.

    Raises :class:`CannotCount` where there is more than is looked at.
    """
    settled = {**only, **({} if part.which is None else {_WHICH: part.which})}
    calm = replace(part.protocol, mishaps=())
    unfolded = _unfolded(part, calm, settled)
    standing = _standing(part)
    ways = tuple(
        Way(examples, used)
        for examples, used in zip(
            unfolded.worlds.examples, used_in(unfolded, standing), strict=True
        )
    )
    choices = unfolded.worlds.choices
    told = _Told(part.protocol, choices, ways)
    mishaps = _mishaps(part, settled, told)
    return Counted(
        part,
        choices,
        ways,
        Turn(
            part.title,
            _has_patient(unfolded),
            len(ways),
            told.counts(lambda used: used.taken),
            told.counts(lambda used: used.each),
            told.waste(weights, _gone),
            told.back(),
            mishaps or (),
            tuple(name for name in part.protocol.things if any(name in w.used.own for w in ways)),
            not_counted=mishaps is None,
        ),
        told.waste(weights, lambda used: used.gone),
        told.waste(weights, lambda used: used.gone_each),
    )


_WHICH = "protocol"


def _unfolded(part: Part, protocol: Protocol, settled: Combination) -> Unfolded:
    found = unfold(protocol, settled)
    if isinstance(found, Unfolded):
        return found
    if isinstance(found, TooMany):
        raise CannotCount(
            f'"{part.title}" has {found.number:,} {found.what}, and at most {found.most:,} are '
            "counted. Give a value of a choice with --choice, or let what is repeated be done "
            "fewer times."
        )
    raise CannotCount(
        f'"{part.title}" cannot be done as it stands. "protocol-lang check" tells where and what '
        "to change."
    )


def _standing(part: Part) -> frozenset[str]:
    """Lasting things of which one stands for all that another protocol sends here."""
    things = part.protocol.things.values()
    titles = {phase.part for phase in part.protocol.phases} | {part.protocol.header.title}
    own = {title.casefold() for title in titles if title is not None}
    streams = part.protocol.streams
    kinds = {
        thing.kind
        for thing in things
        if (stream := streams.get(thing.stream or "")) is not None
        and (stream.to or "").casefold() in own
    }
    return frozenset(thing.name for thing in things if thing.kind in kinds and not thing.used_once)


def _has_patient(unfolded: Unfolded) -> bool:
    people = unfolded.protocol.people
    patients = {one.name for one in people.values() if one.kind is PersonKind.PATIENT}
    return any(
        note.person in patients or any(patients & set(names) for names in note.filled.values())
        for note in unfolded.acts
    )


def unit_of(thing: Thing) -> Unit:
    """What one of a thing is: hands are one pair, unless each of them is a thing by itself."""
    return Unit.PAIR if thing.worn_on == _HANDS else Unit.PIECE


def shown_choice(name: str) -> str:
    """The name of a choice as people see it and write it."""
    return name.removeprefix(HOW_MANY)


def spread(numbers: Iterable[int]) -> Range:
    """From the least of some numbers to the most."""
    found = tuple(numbers)
    return Range(min(found), max(found))


@dataclass(frozen=True, slots=True)
class _Told:
    """Counts of all ways as ranges."""

    protocol: Protocol
    choices: tuple[Choice, ...]
    ways: tuple[Way, ...]

    def counts(self, of: Callable[[Used], Mapping[str, int]]) -> tuple[Count, ...]:
        """Of each thing that is ever counted, in the order of the room."""
        met = {name for way in self.ways for name, number in of(way.used).items() if number}
        things = self.protocol.things
        found = []
        for name in (name for name in things if name in met):
            numbers = [of(way.used).get(name, 0) for way in self.ways]
            found.append(
                Count(name, unit_of(things[name]), spread(numbers), tuple(self._by(numbers)))
            )
        return tuple(found)

    def _by(self, numbers: Sequence[int]) -> Iterable[ByChoice]:
        """The choices on which the numbers of the ways depend."""
        if len(set(numbers)) < 2:
            return
        for choice in self.choices:
            if choice.rounds or len(choice.values) < 2 or choice.name == _WHICH:
                continue
            by = []
            for value in choice.values:
                here = [
                    number
                    for way, number in zip(self.ways, numbers, strict=True)
                    if any(one.get(choice.name) == value for one in way.choices)
                ]
                if here:
                    by.append((value, spread(here)))
            if len({numbers for _, numbers in by}) > 1:
                yield ByChoice(shown_choice(choice.name), tuple(by))

    def waste(
        self, weights: Mapping[str, Fraction], gone: Callable[[Used], Mapping[Goes, int]]
    ) -> tuple[Waste, ...]:
        """What goes into each stream, in the order of the room; last what no stream is told for."""
        streams, things = self.protocol.streams, self.protocol.things
        met = {goes for way in self.ways for goes in gone(way.used)}
        order: list[str | None] = [*streams, None]
        order += sorted({stream for _, stream in met if stream is not None} - set(streams))
        found = []
        for stream in order:
            names = [
                name
                for name, thing in things.items()
                if (name, stream) in met and not self._comes_back(thing, stream)
            ]
            if not names:
                continue
            each = [
                {name: gone(way.used).get((name, stream), 0) for name in names} for way in self.ways
            ]
            grams = None
            if all(name in weights for name in names):
                weighed = [
                    sum((weights[name] * n for name, n in one.items()), Fraction()) for one in each
                ]
                grams = (min(weighed), max(weighed))
            number = spread(sum(one.values()) for one in each)
            found.append(Waste(stream, number, tuple(names), grams))
        return tuple(found)

    def back(self) -> tuple[tuple[Count, str | None], ...]:
        """What leaves to be treated, with the title of the protocol that brings it back."""
        things, streams = self.protocol.things, self.protocol.streams
        met = {goes for way in self.ways for goes in _gone(way.used)}
        found = []
        for name, stream in product(things, (*streams, None)):
            if (name, stream) not in met or not self._comes_back(things[name], stream):
                continue
            numbers = [_gone(way.used).get((name, stream), 0) for way in self.ways]
            count = Count(name, unit_of(things[name]), spread(numbers), tuple(self._by(numbers)))
            found.append((count, None if stream is None else streams[stream].to))
        return tuple(found)

    def _comes_back(self, thing: Thing, stream: str | None) -> bool:
        """Whether what leaves so is brought back: a protocol is named that sees to it, or the
        thing stands the heat of a steriliser, which nobody says of what is thrown away."""
        record = self.protocol.streams.get(stream or "")
        return (record is not None and record.to is not None) or thing.heat_safe is True


def _gone(used: Used) -> Mapping[tuple[str, str | None], int]:
    """All that leaves, as if there were one piece of what stands for all."""
    if not used.gone_each:
        return used.gone
    both = dict(used.gone)
    for goes, number in used.gone_each.items():
        both[goes] = both.get(goes, 0) + number
    return both


def _mishaps(part: Part, settled: Combination, told: _Told) -> tuple[More, ...] | None:
    """What each mishap takes beyond the same visit without it; None where it cannot be counted.

    What is repeated is spelt out a few times only, as it is for the proof: a mishap in a later time
    round takes what it takes in an earlier one.
    """
    if not part.protocol.mishaps:
        return ()
    depths = {one.place: AT_FIRST for one in repetitions(part.protocol) if one.most > AT_FIRST}
    unfolded = unfold(part.protocol, settled, depths)
    if not isinstance(unfolded, Unfolded):
        return None
    taken = taken_in(unfolded)
    calm = [
        (example, taken[world])
        for world, examples in enumerate(unfolded.worlds.examples)
        for example in examples
        if example.get(WHAT_HAPPENS, NOTHING_HAPPENS) == NOTHING_HAPPENS
    ]
    names = {choice.name for choice in told.choices}
    usual = _Usual(names, calm)
    more: dict[str, dict[Hashable, dict[str, int]]] = {}
    alone: set[str] = set()
    for world, examples in enumerate(unfolded.worlds.examples):
        for example in examples:
            happens = example.get(WHAT_HAPPENS, NOTHING_HAPPENS)
            if happens == NOTHING_HAPPENS:
                continue
            alike = usual.like(example)
            if not alike:
                alone.add(happens)
            for number, before in enumerate(alike):
                both = {*taken[world], *before}
                surplus = {one: taken[world].get(one, 0) - before.get(one, 0) for one in both}
                more.setdefault(happens, {})[world, number] = surplus
    if alone:
        return None  # there is nothing to compare it with
    things = part.protocol.things
    found = []
    for mishap, surpluses in more.items():
        met = {one for surplus in surpluses.values() for one, number in surplus.items() if number}
        found.append(
            More(
                mishap,
                tuple(
                    Count(
                        name,
                        unit_of(things[name]),
                        spread(surplus.get(name, 0) for surplus in surpluses.values()),
                    )
                    for name in things
                    if name in met
                ),
            )
        )
    return tuple(found)


class _Usual:
    """What visits without a mishap take, found by the choices that a visit with one shares."""

    def __init__(
        self, names: set[str], calm: Sequence[tuple[Combination, Mapping[str, int]]]
    ) -> None:
        self._names = names
        self._calm = calm
        self._known: dict[Hashable, tuple[Mapping[str, int], ...]] = {}

    def like(self, example: Combination) -> tuple[Mapping[str, int], ...]:
        """What they take, each different answer once."""
        shared = {name: value for name, value in example.items() if name in self._names}
        key = frozenset(shared.items())
        if key not in self._known:
            found: list[Mapping[str, int]] = []
            for other, taken in self._calm:
                if taken not in found and all(
                    shared.get(name, value) == value for name, value in other.items()
                ):
                    found.append(taken)
            self._known[key] = tuple(found)
        return self._known[key]
