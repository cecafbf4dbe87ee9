"""Sets of lapses made in a plan: the plan that comes of it (docs/meaning/lapses.md, rule 7).

Each set and each world of the plan together are one world of the new plan, so that one pass of the
engine follows soil under all sets at once. Visits that follow each other have the same lapses and
begin alike; the engine is told so by the parts of the clinic.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from protocol_lang.contamination.kernel import (
    NOTHING,
    Act,
    Bits,
    Effect,
    Fit,
    Layer,
    Piece,
    Plan,
    Spot,
    Togetherness,
    Unfit,
)
from protocol_lang.contamination.marks import Circle, network_of
from protocol_lang.lapses.doing import Course, Doing, Done, Layers, NoListedOrder
from protocol_lang.lapses.kinds import Hands, Lapse, exclude_each_other, lapses_of
from protocol_lang.order import Network
from protocol_lang.order.bits import members

#: The lapses of one set, by their numbers, in rising order.
Set = tuple[int, ...]

#: Stands for the beginning of the visit where a number of an act is expected.
BEGINNING = -1


@dataclass(frozen=True, slots=True)
class Made:
    """A plan with sets of lapses made in it.

    World ``place * len(sets) + number`` is the world ``worlds[place]`` of the plan as written, with
    the lapses of ``sets[number]``. ``acts``: for each act the one that it was (BEGINNING: what was
    left by the visit before). ``ready``: the worlds that end as they begin. Of worlds in the same
    one of ``alike`` and of the same set, each can follow the other.
    """

    plan: Plan
    sets: tuple[Set, ...]
    worlds: tuple[int, ...]
    acts: tuple[int, ...]
    ready: Bits
    alike: tuple[Bits, ...]


class Lapses:
    """All lapses of a plan, and what comes of making them.

    ``worlds``: the worlds that are looked at. ``kept``: the acts that take place in one of them.
    Of the others only what they say about the order of these is kept (``pairs``); they leave more
    orders open, never fewer.
    """

    def __init__(self, plan: Plan, hands: Hands, worlds: Bits) -> None:
        """Raises :class:`~protocol_lang.lapses.doing.NoListedOrder`."""
        self.plan = plan
        self.worlds = tuple(members(worlds))
        self.doing = Doing(plan, hands, worlds)
        self.all = lapses_of(plan, hands, worlds, self.doing.covered(self.worlds))
        self._touching: dict[int, frozenset[int]] = {}
        self._courses: dict[Set, tuple[tuple[Bits, Course], ...]] = {}
        self._parts: dict[tuple[int, ...], tuple[Bits, ...]] = {}
        self._places: dict[int, Bits] = {}
        self.kept: Bits = 1 << len(plan.acts) - 1
        for number, act in enumerate(plan.acts):
            if act.worlds & worlds:
                self.kept |= 1 << number
        network = network_of(plan)
        if isinstance(network, Circle):
            raise NoListedOrder
        self.network: Network = network
        self.pairs = tuple(
            (first, second)
            for second in members(self.kept)
            for first in members(self.network.before[second] & self.kept)
        )
        self._excluded: dict[tuple[int, int], bool] = {}

    def can_be(self, first: int, second: int) -> bool:
        """Whether both lapses can be made in one visit."""
        key = (first, second)
        if key not in self._excluded:
            self._excluded[key] = exclude_each_other(self.plan, self.all[first], self.all[second])
        return not self._excluded[key]

    def courses(self, lapses: Set) -> tuple[tuple[Bits, Course], ...]:
        """What is done with these lapses: (places of worlds looked at, what is done there), each
        place once."""
        known = self._courses.get(lapses)
        if known is None:
            if self._by_themselves(lapses):
                known = tuple(self._joined(lapses))
            else:
                known = tuple(self._walked([self.all[one] for one in lapses]))
            self._courses[lapses] = known
        return known

    def _walked(self, lapses: list[Lapse]) -> Iterator[tuple[Bits, Course]]:
        acts = self.doing.acts_for(lapses)
        for places in self._alike_in(acts):
            world = self.worlds[next(members(places))]
            yield places, self.doing.course(lapses, world, acts)

    def _alike_in(self, acts: tuple[int, ...]) -> tuple[Bits, ...]:
        """The places of the worlds looked at, gathered so that in each part the same ones of these
        acts take place."""
        known = self._parts.get(acts)
        if known is None:
            parts = [(1 << len(self.worlds)) - 1]
            for act in acts:
                there = self._where(act)
                parts = [one for part in parts for one in (part & there, part & ~there) if one]
            known = self._parts[acts] = tuple(parts)
        return known

    def _where(self, act: int) -> Bits:
        """The places of the worlds in which the act takes place."""
        known = self._places.get(act)
        if known is None:
            within = self.plan.acts[act].worlds
            known = self._places[act] = sum(
                1 << place for place, world in enumerate(self.worlds) if within >> world & 1
            )
        return known

    def _by_themselves(self, lapses: Set) -> bool:
        """Whether none of the lapses touches what another one changes."""
        if len(lapses) < 2:
            return False
        touched = [self.touching(one) for one in lapses]
        return len(frozenset().union(*touched)) == sum(map(len, touched))

    def _joined(self, lapses: Set) -> Iterator[tuple[Bits, Course]]:
        """What comes of lapses one by one."""
        for places, first in self.courses(lapses[:-1]):
            for others, second in self.courses(lapses[-1:]):
                if places & others:
                    yield (
                        places & others,
                        Course(
                            {**first.acts, **second.acts},
                            tuple(
                                other if other != begin else one
                                for one, other, begin in zip(
                                    first.start, second.start, self._begun, strict=True
                                )
                            ),
                            first.ready and second.ready,
                        ),
                    )

    @cached_property
    def _begun(self) -> Layers:
        return tuple(layer.start for layer in self.plan.layers)

    def connected(self, first: int, second: int) -> bool:
        """Whether one of the lapses touches what the other one changes."""
        return not self.touching(first).isdisjoint(self.touching(second))

    def touching(self, lapse: int) -> frozenset[int]:
        """Numbers of what the lapse changes, and of all acts that may come out differently for it:
        acts as they are, layers and holds as negative numbers."""
        known = self._touching.get(lapse)
        if known is None:
            known = self._touching[lapse] = frozenset(self._touched_by(lapse))
        return known

    def _touched_by(self, lapse: int) -> Iterator[int]:
        made = self.all[lapse]
        if made.act != BEGINNING:
            yield made.act
        memories = self.doing.swayed_by(made)
        for act in self.doing.watched:
            if memories & self.doing.memories(act):
                yield act
        for memory in memories:
            yield -2 - memory

    def made(self, sets: Sequence[Set], only: Iterable[int] | None = None) -> Made:
        """The plan with each of the sets; ``only``: of the worlds looked at, by their place."""
        places = tuple(range(len(self.worlds)) if only is None else only)
        return _Maker(self, tuple(sets), places).made()


class _Maker:
    """Puts one plan together."""

    def __init__(self, lapses: Lapses, sets: tuple[Set, ...], places: tuple[int, ...]) -> None:
        self.lapses = lapses
        self.plan = lapses.plan
        self.doing = lapses.doing
        self.sets = sets
        self.places = places
        self.every: Bits = (1 << len(sets) * len(places)) - 1
        self.starts: dict[Layers, Bits] = {}
        self.ready: Bits = 0
        self._firsts: dict[Bits, Bits] = {}
        #: For each act, what is done of it otherwise than as written, and in which worlds.
        self.otherwise: dict[int, dict[Done, Bits]] = {}
        self._gather()
        self._number_pieces()

    def _gather(self) -> None:
        usual = tuple(layer.start for layer in self.plan.layers)
        begun = self.every
        for number, one in enumerate(self.sets):
            for within, course in self.lapses.courses(one):
                worlds = self._at(within) << number
                if not worlds:
                    continue
                if course.ready:
                    self.ready |= worlds
                if course.start != usual:
                    self.starts[course.start] = self.starts.get(course.start, 0) | worlds
                    begun ^= worlds
                for act, done in course.acts.items():
                    ways = self.otherwise.setdefault(act, {})
                    ways[done] = ways.get(done, 0) | worlds
        if begun:
            self.starts[usual] = begun

    def _at(self, within: Bits) -> Bits:
        """The worlds of the first set at these places of the worlds looked at."""
        known = self._firsts.get(within)
        if known is None:
            known = self._firsts[within] = sum(
                1 << place * len(self.sets)
                for place, at in enumerate(self.places)
                if within >> at & 1
            )
        return known

    def _number_pieces(self) -> None:
        """Numbers for the pieces that the walks added, and the pieces and spots themselves."""
        added: dict[int, None] = {}
        for start in self.starts:
            added.update(dict.fromkeys(piece for piece in start if piece >= len(self.plan.pieces)))
        for ways in self.otherwise.values():
            for done in ways:
                for effect in done or ():
                    if isinstance(effect, Fit) and effect.piece >= len(self.plan.pieces):
                        added[effect.piece] = None
        self.pieces: list[Piece] = list(self.plan.pieces)
        self.spots: list[Spot] = list(self.plan.spots)
        self.numbers: dict[int, int] = {}
        for piece in sorted(added):
            self._add(piece)

    def _add(self, piece: int) -> None:
        record = self.plan.pieces[self.doing.plain(piece)]
        if self.doing.is_leaking(piece):
            if len(self.sets) == 1:  # in every world: then it is simply so
                self.numbers[piece] = self.doing.plain(piece)
                self.pieces[self.doing.plain(piece)] = replace(record, leaks=True)
                return
            record = replace(record, leaks=True)
        else:
            first = len(self.spots)
            self.spots += [self.plan.spots[spot] for spot in record.spots]
            where = {spot: first + number for number, spot in enumerate(record.spots)}
            record = replace(record, spots=tuple(where.values()), outside=where[record.outside])
        self.numbers[piece] = len(self.pieces)
        self.pieces.append(record)

    def _number(self, piece: int) -> int:
        return self.numbers.get(piece, piece)

    def made(self) -> Made:
        beginning, layers = self._beginning()
        acts: list[Act] = list(beginning)
        origin: list[int] = [BEGINNING] * len(beginning)
        first: list[int] = []
        last: list[int] = []
        for number, act in enumerate(self.plan.acts):
            first.append(len(acts))
            if not self.lapses.kept >> number & 1:
                last.append(len(acts) - 1)
                continue
            left = self._worlds(act.worlds)
            variants: list[tuple[tuple[Effect, ...], Bits]] = []
            for done, within in self.otherwise.get(number, {}).items():
                worlds = within & left
                left &= ~worlds
                if done is not None and worlds:
                    variants.append((tuple(map(self._renumbered, done)), worlds))
            if left or not variants:
                variants.insert(0, (tuple(map(self._renumbered, act.effects)), left))
            for effects, worlds in variants:
                acts.append(replace(act, worlds=worlds, effects=effects, claims=()))
                origin.append(number)
            last.append(len(acts) - 1)
        pairs = [(one, one + 1) for one in range(len(beginning))]
        pairs += [
            (one, one + 1)
            for low, high in zip(first, last, strict=True)
            for one in range(low, high)
        ]
        pairs += [(last[one], first[other]) for one, other in self.lapses.pairs]
        if beginning:
            pairs += [(len(beginning) - 1, first[one]) for one in members(self.lapses.kept)]

        def spread(acts_: Bits) -> Bits:
            kept = acts_ & self.lapses.kept
            return sum((1 << last[act] + 1) - (1 << first[act]) for act in members(kept))

        alike = self._alike()
        every = (self.every,)
        plan = replace(
            self.plan,
            worlds=len(self.sets) * len(self.places),
            clinic=alike if len(self.sets) == 1 else every,
            spots=tuple(
                replace(
                    spot, floors=tuple((self._worlds(within), rank) for within, rank in spot.floors)
                )
                for spot in self.spots
            ),
            pieces=tuple(self.pieces),
            layers=layers,
            claims=(),
            facts=tuple(replace(fact, lasting=False) for fact in self.plan.facts),
            acts=tuple(acts),
            order=tuple(pairs),
            together=tuple(
                Togetherness(spread(group.members), spread(group.others))
                for group in self.plan.together
                if group.members & self.lapses.kept
            ),
        )
        looked_at = tuple(self.lapses.worlds[place] for place in self.places)
        return Made(plan, self.sets, looked_at, tuple(origin), self.ready, alike)

    def _worlds(self, within: Bits) -> Bits:
        """The new worlds of those of the plan."""
        one = (1 << len(self.sets)) - 1
        return sum(
            one << place * len(self.sets)
            for place, at in enumerate(self.places)
            if within >> self.lapses.worlds[at] & 1
        )

    def _alike(self) -> tuple[Bits, ...]:
        """The worlds of one part of the clinic that begin alike."""
        return tuple(
            worlds
            for part in self.plan.clinic
            for start in self.starts.values()
            if (worlds := start & self._worlds(part))
        )

    def _beginning(self) -> tuple[list[Act], tuple[Layer, ...]]:
        """The acts that stand for what the visit before left, and what layers hold before them.

        Where all worlds begin alike there are none: it is simply so. Else all covers of a body come
        off, the outermost first, and those with which a visit of that world begins come on.
        """
        layers = list(self.plan.layers)
        differing: list[tuple[int, ...]] = []
        for body in self.plan.bodies:
            begun = {tuple(start[layer] for layer in body.layers) for start in self.starts}
            if len(begun) == 1:
                for layer, piece in zip(body.layers, next(iter(begun)), strict=True):
                    layers[layer] = replace(layers[layer], start=self._number(piece))
            else:
                differing.append(body.layers)
        for layer in (layer for of_body in differing for layer in of_body):
            begun_with = (self.plan.layers[layer].start, *(start[layer] for start in self.starts))
            held = next((piece for piece in begun_with if piece != NOTHING), NOTHING)
            if self.doing.is_leaking(held):
                held = self.doing.plain(held)
            before = NOTHING if held == NOTHING else self._silent(self._number(held))
            layers[layer] = replace(layers[layer], start=before)
        acts: list[Act] = []
        for start, worlds in self.starts.items() if differing else ():
            effects: list[Effect] = []
            for of_body in differing:
                effects += [
                    Unfit((layer,)) for layer in reversed(of_body) if layers[layer].start != NOTHING
                ]
                effects += [
                    Fit((layer,), self._number(start[layer]))
                    for layer in of_body
                    if start[layer] != NOTHING
                ]
            acts.append(Act("the visit begins", None, worlds, tuple(effects)))
        return acts, tuple(layers)

    def _silent(self, piece: int) -> int:
        """The piece, or if it leaks one in its place that does not: taking that away is no
        contact."""
        record = self.pieces[piece]
        if not record.leaks:
            return piece
        self.pieces.append(replace(record, leaks=False))
        return len(self.pieces) - 1

    def _renumbered(self, effect: Effect) -> Effect:
        if not self.numbers:
            return effect
        if isinstance(effect, Fit):
            return replace(effect, piece=self._number(effect.piece))
        return effect
