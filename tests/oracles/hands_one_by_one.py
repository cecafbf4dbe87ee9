"""Hands of one world at a time: nothing that is worked out for one serves another.

The oracle of :mod:`protocol_lang.contamination.hands`, which asks all worlds at once. It has the
same approximations, and tables of its own for each world, made without those of more worlds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

from protocol_lang.contamination.hands import Hand, Soil
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import NOTHING, Amount, Bits, Origin, Outer
from protocol_lang.contamination.marks import (
    LEAK,
    GoesOn,
    Layout,
    Spread,
    Token,
    class_groups,
    position,
    spot_of,
)
from protocol_lang.contamination.paths import hardest_speaks_for_all
from protocol_lang.contamination.visits import Meanings
from protocol_lang.order.bits import members
from protocol_lang.order.effects import START, Effects
from protocol_lang.order.relaxed import Node, forward, place_of, steps

_SORTS: Mapping[Soil, tuple[Origin, ...]] = {
    Soil.PATIENT: (Origin.PATIENT, Origin.NEXT),
    Soil.OTHER: (Origin.EVERYDAY, Origin.DIRT, Origin.CHEMICAL),
}


class Watch:
    """The hands of one judged plan."""

    def __init__(self, judgement: Judgement) -> None:
        """Raises ValueError if no run of the plan was judged."""
        if judgement.layout is None or not judgement.judged:
            raise ValueError("no world of this plan was judged")
        self.layout = judgement.layout
        self.judged = judgement.judged
        self.ready = judgement.ready
        plan = self.layout.plan
        groups = class_groups(self.layout)
        speaking = groups[:1] if hardest_speaks_for_all(plan) else groups
        #: How germs move, and last, if there are any, chemicals.
        self.spreads = tuple(Spread(self.layout, classes) for classes in speaking)
        if any(source.origin is Origin.CHEMICAL for source in plan.sources):
            self.spreads += (Spread(self.layout, plan.classes, chemical=True),)
        self._starts: dict[tuple[int, Soil, int], tuple[frozenset[int], frozenset[int]]] = {}

    def world(self, world: int, bodies: Iterable[int], bins: frozenset[int] = frozenset()) -> Hands:
        """The states of ``bodies`` in a world that was judged."""
        return Hands(self, world, tuple(bodies), bins)

    def starts(self, number: int, sort: Soil, world: int) -> tuple[frozenset[int], frozenset[int]]:
        """Where soil of that sort surely is when a visit starts, and where it may be.

        ``number``: of the spread. What earlier visits of the same clinic may have left is followed
        over any number of visits, each in any of its worlds.
        """
        plan = self.layout.plan
        part = next(n for n, worlds in enumerate(plan.clinic) if worlds >> world & 1)
        key = (number, sort, part)
        if key not in self._starts:
            spread = self.spreads[number]
            begun = frozenset(
                spread.wells[source.spot, source.origin, source.amount]
                if source.lasting
                else position(source.spot, False, source.amount is Amount.TRACE)
                for source in plan.sources
                if source.origin in _SORTS[sort]
                and (source.origin is Origin.CHEMICAL) is spread.chemical
            )
            worlds = plan.clinic[part] & self.judged
            tables = Effects(self.layout.network, spread.carry, worlds)
            seen, fresh = begun, begun
            while fresh:
                targets = forward(tables, fresh).targets
                onward = frozenset(
                    goal.position
                    for target, within in targets.items()
                    if isinstance(goal := spread.goals[target], GoesOn) and within & self.ready
                )
                fresh = onward - seen
                seen |= onward
            self._starts[key] = begun, seen
        return self._starts[key]


class Hands:
    """The answers for one world; see the head of this module for what they promise."""

    def __init__(
        self, watch: Watch, world: int, bodies: tuple[int, ...], bins: frozenset[int]
    ) -> None:
        self._layout = watch.layout
        self._worlds: Bits = 1 << world
        plan = self._layout.plan
        spots: set[int] = set()
        for body in bodies:
            spots.add(plan.bodies[body].spot)
            for layer in plan.bodies[body].layers:
                values = {
                    plan.layers[layer].start,
                    *self._layout.network.registers[layer].writes.values(),
                }
                spots.update(plan.pieces[piece].outside for piece in values if piece != NOTHING)
        tables = [
            Effects(self._layout.network, spread.carry, self._worlds) for spread in watch.spreads
        ]
        self._possible = tables[0]
        self._whereabouts = {
            sort: [
                _Whereabouts(self._layout, spread, table, *watch.starts(number, sort, world), spots)
                for number, (spread, table) in enumerate(zip(watch.spreads, tables, strict=True))
            ]
            for sort in _SORTS
        }
        self._carrying = [
            _Carrying(self._layout, spread, table, bins)
            for spread, table in zip(watch.spreads, tables, strict=True)
            if not spread.chemical
        ]

    def acts(self) -> Iterator[int]:
        """The acts that take place in this world."""
        for number, act in enumerate(self._layout.plan.acts):
            if act.worlds & self._worlds:
                yield number

    def at_start(self, body: int) -> frozenset[Hand]:
        """The states of the body when a visit starts."""
        layers = self._layout.plan.bodies[body].layers
        held = tuple(self._layout.plan.layers[layer].start for layer in layers)
        return frozenset(self._states(START, body, held))

    def after(self, act: int, body: int) -> frozenset[Hand]:
        """The states of the body just after an act of this world, over all permitted orders."""
        return frozenset(
            state for held in self._held_after(act, body) for state in self._states(act, body, held)
        )

    def carries_on(self, act: int, body: int) -> bool:
        """Whether fresh soil of this visit's patient on the body, just after the act, may go on."""
        layers = self._layout.plan.bodies[body].layers
        torn = self._layout.registers.torn
        read = (*layers, *(torn[layer] for layer in layers if layer in torn))
        for values in self._values_after(act, read):
            token = Token(
                self._layout, self._layout.plan.acts[act], dict(zip(read, values, strict=True))
            )
            for spot, how in token.touching(Outer(body)):
                place = position(spot, False, how == LEAK)
                if any(one.goes_on(act, place) for one in self._carrying):
                    return True
        return False

    def _held_after(self, act: int, body: int) -> list[tuple[int, ...]]:
        """What the layers of the body may hold just after the act, the innermost first."""
        return self._values_after(act, self._layout.plan.bodies[body].layers)

    def _values_after(self, act: int, read: Iterable[int]) -> list[tuple[int, ...]]:
        """What the registers ``read`` may hold just after the act."""
        options = []
        for register in read:
            written = self._layout.network.registers[register].writes.get(act)
            options.append(
                sorted(self._possible.possible(register, act)) if written is None else [written]
            )
        return list(product(*options))

    def _states(self, event: int, body: int, held: tuple[int, ...]) -> Iterator[Hand]:
        plan = self._layout.plan
        on = [piece for piece in held if piece != NOTHING]
        spot = plan.pieces[on[-1]].outside if on else plan.bodies[body].spot

        def possible(sort: Soil) -> tuple[bool, bool]:
            found = self._whereabouts[sort]
            may = any(spot in one.may.get(event, ()) for one in found)
            return may, any(spot in one.sure_spots(event) for one in found)

        may, sure = possible(Soil.PATIENT)
        if may:
            yield Hand(bool(on), Soil.PATIENT)
        if not sure:
            may, sure = possible(Soil.OTHER)
            if may:
                yield Hand(bool(on), Soil.OTHER)
            if not sure:
                yield Hand(bool(on), Soil.NONE)


@dataclass
class _Whereabouts:
    """Where soil of one sort and class group may be, and surely is, just after each act of a world.

    ``begun``: positions where it surely is when the visit starts; ``starts``: where it may be.
    ``spots``: those that ``may`` is worked out for.
    """

    layout: Layout
    spread: Spread
    tables: Effects
    begun: frozenset[int]
    starts: frozenset[int]
    spots: set[int]

    @cached_property
    def may(self) -> Mapping[int, set[int]]:
        """Event (START: the start of the visit) -> the watched spots where soil may be after it."""
        acts = (1 << len(self.layout.plan.acts)) - 1
        found: dict[int, set[int]] = {}
        for node, facts in forward(self.tables, self.starts).nodes.items():
            place, event = place_of(self.tables, node)
            spot = spot_of(self.spread.plain(place))
            if spot not in self.spots:
                continue
            found.setdefault(event, set()).add(spot)
            ended = self.tables.positions[place].sure
            for last, _ in steps(self.tables, node, facts, acts):
                if last not in ended:
                    found.setdefault(last, set()).add(spot)
        return found

    def sure_spots(self, event: int) -> set[int]:
        """The spots where soil of this sort surely is just after the event."""
        return {spot_of(self.spread.plain(place)) for place in self.sure[event]}

    @cached_property
    def sure(self) -> Mapping[int, frozenset[int]]:
        """Event -> the positions at which some token surely is just after it."""
        tables = self.tables
        present = sum(1 << e for e in range(len(self.layout.plan.acts)) if tables.present[e])
        found: dict[int, frozenset[int]] = {START: self.begun}
        for event in tables.ranked:
            if not present >> event & 1:
                continue
            before = set(self._still(self.begun, present & ~tables.after[event] & ~(1 << event)))
            for earlier in members(tables.before[event] & present):
                between = present & ~tables.before[earlier] & ~tables.after[event]
                between &= ~(1 << earlier | 1 << event)
                before.update(self._still(found[earlier], between))
            found[event] = self._moved(event, before)
        return found

    def _still(self, places: Iterable[int], between: Bits) -> Iterator[int]:
        """Those of the places that no act ``between`` could end."""
        return (place for place in places if not self.tables.positions[place].enders & between)

    def _moved(self, event: int, places: set[int]) -> frozenset[int]:
        """Where tokens at ``places`` surely are after the event, whatever the registers hold."""
        outcomes: list[frozenset[int]] = []
        for setting in self.layout.settings[event]:
            if not setting.worlds & self.tables.worlds:
                continue
            moves = next(
                (
                    way.moves
                    for way in self.spread.carry.ways[event]
                    if way.when == setting.when and way.worlds & self.tables.worlds
                ),
                {},
            )
            outcomes.append(
                frozenset(goal for place in places for goal in moves.get(place, (place,)))
            )
        return frozenset.intersection(*outcomes) if outcomes else frozenset()


@dataclass
class _Carrying:
    """Whether a mark of this visit's patient may get on from where it is: routes without memory."""

    layout: Layout
    spread: Spread
    tables: Effects
    bins: frozenset[int]
    known: dict[Node, bool] = field(default_factory=dict)

    @cached_property
    def _meanings(self) -> Meanings:
        return Meanings(self.layout)

    def goes_on(self, act: int, place: int) -> bool:
        """Whether soil put at ``place`` just after ``act`` may reach somebody or outlast the
        visit."""
        first = self._node(act, place)
        if first in self.known:
            return self.known[first]
        waiting, seen = [first], {first}
        while waiting:
            node = waiting.pop()
            for following in self._onward(node):
                if following is None or self.known.get(following):
                    self.known[first] = True
                    return True
                if following not in seen and following not in self.known:
                    seen.add(following)
                    waiting.append(following)
        self.known.update(dict.fromkeys(seen, False))
        return False

    def _node(self, event: int, place: int) -> Node:
        assert self.tables.carry is not None
        return (self.tables.rank[event] + 1) * self.tables.carry.positions + place

    def _onward(self, node: Node) -> Iterator[Node | None]:
        """Where soil may be next; None: where it must not be. The last events come first."""
        tables = self.tables
        place, event = place_of(tables, node)
        facts = (tables.before[event], tables.after[event], tables.worlds)
        record = tables.positions[place]
        links = list(steps(tables, node, facts, record.movers))
        for last, (early, late, worlds) in sorted(links, key=lambda link: -tables.rank[link[0]]):
            for exit_ in record.exits[last]:
                case = exit_.case
                if not case.worlds & worlds or (case.early & late) or (case.late & early):
                    continue
                if exit_.target is None:
                    yield self._node(last, exit_.to)
                elif self._counts(exit_.target):
                    yield None

    def _counts(self, target: int) -> bool:
        goal = self.spread.goals[target]
        if isinstance(goal, GoesOn):
            return spot_of(goal.position) not in self.bins
        return bool(self._meanings.of(goal, Origin.PATIENT, own=True))
