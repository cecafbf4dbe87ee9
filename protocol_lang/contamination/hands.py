"""How hands are after each act of one world, and what hands that carry soil must not touch then.

**Hands.** Over all permitted orders, what may be outermost on a body (its own skin, or a cover) and
whether a patient's soil, other soil or none is there just after an act. The set of answers is
*never too clean*: it holds every state that occurs in some run of some history, and may hold one
that does not. Both halves of that are approximations on the safe side, in polynomial time:

* soil *may* be at a spot unless the relaxed forward pass (``protocol_lang.order.relaxed``), which
  follows more routes than there are, cannot bring it there;
* hands *may* be clean unless soil is *sure* to be there: brought by an act that surely comes
  before, whatever the registers hold, and no act that could end it is possible in between.

**What not to touch.** For a body, the question is put as it would happen: fresh soil of this
visit's patient, in full amount, comes onto whatever is outermost on it just after the act. If from
there it may reach anybody or anything (rule 11), or may still be on something when the next visit
starts (rule 12), the body carries soil on. So a thing kept clean always does; a thing under a cover
that is changed does not, unless somebody's bare hands meet that cover first; and a bare thing does
unless it is surely cleaned and treated later in this visit. Again routes are relaxed: a thing that
is not told carries nothing on, whatever the order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from itertools import product

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import NOTHING, Amount, Bits, Origin, Outer
from protocol_lang.contamination.marks import (
    LEAK,
    GoesOn,
    Layout,
    Setting,
    Spread,
    Token,
    position,
    spot_of,
)
from protocol_lang.contamination.visits import Meanings
from protocol_lang.order.bits import members
from protocol_lang.order.effects import START, Case, Effects
from protocol_lang.order.relaxed import Facts, Node, forward, place_of, steps


class Soil(Enum):
    """What is on hands, the worst that is there."""

    PATIENT = "a patient's"
    OTHER = "everyday, dirt or a chemical"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Hand:
    """One state of a body: whether a cover (a glove) is on it, and the soil on its outside."""

    covered: bool
    soil: Soil


_SORTS: Mapping[Soil, tuple[Origin, ...]] = {
    Soil.PATIENT: (Origin.PATIENT, Origin.NEXT),
    Soil.OTHER: (Origin.EVERYDAY, Origin.DIRT, Origin.CHEMICAL),
}


class Watch:
    """The hands of one judged plan. Tables that all worlds share are made once."""

    def __init__(self, judgement: Judgement, worlds: Bits = -1) -> None:
        """``worlds``: those that will be asked about. Raises ValueError if no run was judged."""
        if judgement.layout is None or judgement.paths is None or not judgement.judged:
            raise ValueError("no world of this plan was judged")
        self.layout = judgement.layout
        self.judged = judgement.judged
        self.asked = judgement.judged & worlds
        self.ready = judgement.ready
        self.spreads = judgement.paths.spreads
        self._paths = judgement.paths
        self._made: dict[tuple[int, Bits], Effects] = {}
        self._settling: dict[int, _Settling] = {}
        self._carrying: dict[frozenset[int], list[_Carrying]] = {}
        self._going_on: dict[tuple[frozenset[int], int, int], Bits] = {}
        self._sure: dict[tuple[int, Soil], Mapping[int, Mapping[int, Bits]]] = {}
        self._starts: dict[tuple[int, Soil, int], frozenset[int]] = {}

    def world(self, world: int, bodies: Iterable[int], bins: frozenset[int] = frozenset()) -> Hands:
        """The states of ``bodies`` in a world.

        ``bins``: spots at which soil is where it belongs; that it stays there is no way on.
        Raises ValueError for a world that was not judged: after a misstep nothing can be claimed.
        """
        if not self.judged >> world & 1:
            raise ValueError("this world was not judged")
        if not self.asked >> world & 1:
            raise ValueError("this world was not among those to be asked about")
        return Hands(self, world, tuple(bodies), bins)

    def starts(self, number: int, sort: Soil, world: int) -> frozenset[int]:
        """Where soil of that sort may be when a visit in this world starts.

        ``number``: of the spread. What earlier visits of the same clinic may have left is followed
        over any number of visits, each in any of its worlds.
        """
        plan = self.layout.plan
        part = next(n for n, worlds in enumerate(plan.clinic) if worlds >> world & 1)
        key = (number, sort, part)
        if key not in self._starts:
            spread = self.spreads[number]
            tables = self._paths.tables(number, plan.clinic[part] & self.judged)
            seen = fresh = self._begun(spread, sort)
            while fresh:
                targets = forward(tables, fresh).targets
                onward = frozenset(
                    goal.position
                    for target, within in targets.items()
                    if isinstance(goal := spread.goals[target], GoesOn) and within & self.ready
                )
                fresh = onward - seen
                seen |= onward
            self._starts[key] = seen
        return self._starts[key]

    def _tables(self, number: int, worlds: Bits) -> Effects:
        """What acts do to soil of a spread in these worlds."""
        key = (number, worlds)
        if key not in self._made:
            self._made[key] = Effects(
                self.layout.network, self.spreads[number].carry, worlds, self.layout.possible
            )
        return self._made[key]

    def possible(self, world: int) -> Effects:
        """What registers may hold in one world."""
        return Effects(self.layout.network, None, 1 << world, self.layout.possible)

    def alone(self, number: int, world: int) -> Effects:
        """What acts do to soil of a spread in one world."""
        return self._tables(number, 1 << world)

    def _begun(self, spread: Spread, sort: Soil) -> frozenset[int]:
        """Where soil of that sort surely is when a visit starts, in every world."""
        return frozenset(
            spread.wells[source.spot, source.origin, source.amount]
            if source.lasting
            else position(source.spot, False, source.amount is Amount.TRACE)
            for source in self.layout.plan.sources
            if source.origin in _SORTS[sort]
            and (source.origin is Origin.CHEMICAL) is spread.chemical
        )

    def carrying(self, bins: frozenset[int]) -> list[_Carrying]:
        """Where germs may go on from, for each of their spreads; see :meth:`world`."""
        if bins not in self._carrying:
            self._carrying[bins] = [
                _Carrying(self.layout, spread, self._tables(number, self.asked), bins)
                for number, spread in enumerate(self.spreads)
                if not spread.chemical
            ]
        return self._carrying[bins]

    def goes_on(self, bins: frozenset[int], act: int, body: int) -> Bits:
        """Of the worlds asked about in which the act takes place, those in which fresh soil of this
        visit's patient on the body, just after the act, may go on; ``bins``: see :meth:`world`.

        For all of them at once: what registers may hold is told of each world alone.
        """
        key = (bins, act, body)
        known = self._going_on.get(key)
        if known is None:
            known = self._going_on[key] = self._worlds_going_on(*key)
        return known

    def _worlds_going_on(self, bins: frozenset[int], act: int, body: int) -> Bits:
        layout = self.layout
        here = layout.plan.acts[act].worlds & self.asked
        layers = layout.plan.bodies[body].layers
        read = (
            *layers,
            *(layout.registers.torn[one] for one in layers if one in layout.registers.torn),
        )
        options: list[Iterable[tuple[int, Bits]]] = []
        for register in read:
            written = layout.network.registers[register].writes.get(act)
            options.append(
                layout.possible.possible(register, act).items()
                if written is None
                else [(written, here)]
            )
        found: Bits = 0
        for combination in product(*options):
            within = here & ~found
            for _, worlds in combination:
                within &= worlds
            if not within:
                continue
            values = (value for value, _ in combination)
            token = Token(layout, layout.plan.acts[act], dict(zip(read, values, strict=True)))
            for spot, how in token.touching(Outer(body)):
                place = position(spot, False, how == LEAK)
                for one in self.carrying(bins):
                    found |= within & one.goes_on(act, place)
        return found

    def sure(self, number: int, sort: Soil) -> Mapping[int, Mapping[int, Bits]]:
        """Event -> spot -> the worlds in which some token surely is there just after the event.

        ``number``: of the spread.
        """
        key = (number, sort)
        if key not in self._sure:
            spread = self.spreads[number]
            if number not in self._settling:
                self._settling[number] = _Settling(self.layout, spread, self.asked)
            places = self._settling[number].sure(self._begun(spread, sort))
            spots: dict[int, dict[int, Bits]] = {}
            for event, within in places.items():
                here = spots[event] = {}
                for place, worlds in within.items():
                    spot = spot_of(spread.plain(place))
                    here[spot] = here.get(spot, 0) | worlds
            self._sure[key] = spots
        return self._sure[key]


class Hands:
    """The answers for one world; see the head of this module for what they promise."""

    def __init__(
        self, watch: Watch, world: int, bodies: tuple[int, ...], bins: frozenset[int]
    ) -> None:
        self._watch = watch
        self._bins = bins
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
        self._possible = watch.possible(world)
        self._whereabouts = {
            sort: [
                _Whereabouts(watch, number, sort, world, frozenset(spots))
                for number in range(len(watch.spreads))
            ]
            for sort in _SORTS
        }

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

    def worn_before(self, act: int, layer: int) -> frozenset[int]:
        """What a layer may hold just before an act of this world, over all permitted orders:
        pieces, and NOTHING where it may be empty."""
        return frozenset(self._possible.possible(layer, act))

    def may_hold(self, fact: int, act: int) -> frozenset[bool]:
        """What may be so of a fact of the plan just before an act of this world."""
        register = self._layout.registers.fact(fact)
        return frozenset(map(bool, self._possible.possible(register, act)))

    def carries_on(self, act: int, body: int) -> bool:
        """Whether fresh soil of this visit's patient on the body, just after the act, may go on."""
        return bool(self._watch.goes_on(self._bins, act, body) & self._worlds)

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
            may = any(one.perhaps(event, spot) for one in found)
            return may, any(one.surely(event, spot) for one in found)

        may, sure = possible(Soil.PATIENT)
        if may:
            yield Hand(bool(on), Soil.PATIENT)
        if not sure:
            may, sure = possible(Soil.OTHER)
            if may:
                yield Hand(bool(on), Soil.OTHER)
            if not sure:
                yield Hand(bool(on), Soil.NONE)


class _Whereabouts:
    """Where soil of one sort may be, and surely is, just after each act of a world.

    ``number``: of the spread. ``spots``: those that it will be asked for.
    """

    def __init__(
        self, watch: Watch, number: int, sort: Soil, world: int, spots: frozenset[int]
    ) -> None:
        self._watch = watch
        self._number = number
        self._world = world
        self._starts = watch.starts(number, sort, world)
        self._spots = spots
        self._sure = watch.sure(number, sort)

    def surely(self, event: int, spot: int) -> bool:
        """Whether some token surely is there just after the event (START: as a visit starts)."""
        return bool(self._sure.get(event, _NOWHERE).get(spot, 0) >> self._world & 1)

    def perhaps(self, event: int, spot: int) -> bool:
        """Whether one may be there then."""
        return self.surely(event, spot) or spot in self._may.get(event, ())

    @cached_property
    def _may(self) -> Mapping[int, set[int]]:
        """Event -> the spots where soil may be after it."""
        tables = self._watch.alone(self._number, self._world)
        spread = self._watch.spreads[self._number]
        acts = (1 << len(spread.layout.plan.acts)) - 1
        found: dict[int, set[int]] = {}
        for node, facts in forward(tables, self._starts).nodes.items():
            place, event = place_of(tables, node)
            spot = spot_of(spread.plain(place))
            if spot not in self._spots:
                continue
            found.setdefault(event, set()).add(spot)
            ended = tables.positions[place].sure
            for last, _ in steps(tables, node, facts, acts):
                if last not in ended:
                    found.setdefault(last, set()).add(spot)
        return found


_NOWHERE: Mapping[int, Bits] = {}


class _Settling:
    """Where a token surely is just after each event, in many worlds at once.

    Each world is judged for itself: what is told of one does not depend on which others are looked
    at beside it.
    """

    def __init__(self, layout: Layout, spread: Spread, worlds: Bits) -> None:
        self._layout = layout
        self._spread = spread
        self._tables = Effects(layout.network, None, worlds, layout.possible)
        #: place -> event -> the worlds in which the event may end a stay there
        self._ending: dict[int, dict[int, Bits]] = {}
        for event, ways in enumerate(spread.carry.ways):
            if not ways or not self._tables.present[event]:
                continue
            for number, here, _ in self._tables.applying(event, ways):
                if number < 0:
                    continue
                for place, reached in ways[number].moves.items():
                    if place not in reached:
                        enders = self._ending.setdefault(place, {})
                        enders[event] = enders.get(event, 0) | here
        self._enders = {
            place: sum(1 << event for event in enders) for place, enders in self._ending.items()
        }

    def sure(self, begun: Iterable[int]) -> Mapping[int, Mapping[int, Bits]]:
        """Event -> position -> the worlds in which a token surely is there just after the event.

        ``begun``: positions at which tokens surely are when the visit starts.
        """
        tables = self._tables
        acts = (1 << len(self._layout.plan.acts)) - 1
        present = sum(1 << event for event in members(acts) if tables.present[event])
        found: dict[int, dict[int, Bits]] = {START: dict.fromkeys(begun, tables.worlds)}
        for event in tables.ranked:
            if not present >> event & 1:
                continue
            here = tables.present[event]
            before: dict[int, Bits] = {}
            # The nearest first: they leave little for those further off.
            earlier_ones = sorted(
                members(tables.before[event] & present), key=tables.rank.__getitem__, reverse=True
            )
            for earlier in (*earlier_ones, START):
                between = present & ~tables.after[event] & ~(1 << event)
                both = here
                if earlier != START:
                    between &= ~tables.before[earlier] & ~(1 << earlier)
                    both &= tables.present[earlier]
                if not both:
                    continue
                for place, worlds in found[earlier].items():
                    fresh = worlds & both & ~before.get(place, 0)
                    if fresh:
                        fresh = self._still(place, fresh, between)
                    if fresh:
                        before[place] = before.get(place, 0) | fresh
            found[event] = self._moved(event, before)
        return found

    def _still(self, place: int, worlds: Bits, between: Bits) -> Bits:
        """Those of the worlds in which no act ``between`` could end a stay at the place."""
        for ender in members(self._enders.get(place, 0) & between):
            worlds &= ~self._ending[place][ender]
            if not worlds:
                break
        return worlds

    def _moved(self, event: int, before: Mapping[int, Bits]) -> dict[int, Bits]:
        """Where tokens surely are after the event, whatever the registers hold."""
        found: dict[int, Bits] = {}
        covered = 0
        for setting in self._layout.settings[event]:
            here = setting.worlds & self._tables.worlds
            if not here:
                continue
            reached: dict[int, Bits] = {}
            for moves, within in self._moving(event, setting, here):
                for place, worlds in before.items():
                    if worlds & within:
                        for goal in moves.get(place, (place,)):
                            reached[goal] = reached.get(goal, 0) | worlds & within
            for goal, worlds in found.items():
                found[goal] = worlds & (reached.get(goal, 0) | ~here)
            for goal, worlds in reached.items():
                if worlds & ~covered:
                    found[goal] = found.get(goal, 0) | worlds & ~covered
            covered |= here
        return {goal: worlds for goal, worlds in found.items() if worlds}

    def _moving(
        self, event: int, setting: Setting, here: Bits
    ) -> Iterator[tuple[Mapping[int, Iterable[int]], Bits]]:
        """How tokens move under a setting, and in which of the worlds so."""
        for way in self._spread.carry.ways[event]:
            if way.when == setting.when and way.worlds & here:
                yield way.moves, way.worlds & here
                here &= ~way.worlds
        if here:
            yield {}, here


class _Carrying:
    """Whether a mark of this visit's patient may get on from where it is: routes without memory.

    In many worlds at once, and each of them is judged for itself: what is told of one does not
    depend on which others are looked at beside it.
    """

    def __init__(
        self, layout: Layout, spread: Spread, tables: Effects, bins: frozenset[int]
    ) -> None:
        self._layout = layout
        self._spread = spread
        self._tables = tables
        self._bins = bins
        self._meanings = Meanings(layout)
        #: node -> the worlds in which it goes on from there
        self._known: dict[Node, Bits] = {}
        #: target -> whether it counts
        self._counting: dict[int, bool] = {}
        #: tables of one world each, without a carry
        self._alone: dict[int, Effects] = {}
        self._cases: dict[tuple[int, int], Case] = {}
        self._widest: dict[int, tuple[Bits, Bits]] = {}

    def goes_on(self, act: int, place: int) -> Bits:
        """The worlds in which soil put at ``place`` just after ``act`` may reach somebody or
        outlast the visit."""
        assert self._tables.carry is not None
        node = (self._tables.rank[act] + 1) * self._tables.carry.positions + place
        if node not in self._known:
            self._find_out(node)
        return self._known[node]

    def _find_out(self, first: Node) -> None:
        """Look at all that may come after, and carry back what was found."""
        into: dict[Node, list[tuple[Node, Bits]]] = {}
        found: dict[Node, Bits] = {}
        waiting, seen = [first], {first}
        changed: list[Node] = []
        while waiting:
            node = waiting.pop()
            found[node], onward = self._onward(node)
            if found[node]:
                changed.append(node)
            for following, worlds in onward.items():
                if following in self._known:
                    more = self._known[following] & worlds & ~found[node]
                    if more:
                        found[node] |= more
                        changed.append(node)
                    continue
                into.setdefault(following, []).append((node, worlds))
                if following not in seen:
                    seen.add(following)
                    waiting.append(following)
        while changed:
            node = changed.pop()
            for source, worlds in into.get(node, ()):
                more = found[node] & worlds & ~found[source]
                if more:
                    found[source] |= more
                    changed.append(source)
        self._known.update(found)

    def _onward(self, node: Node) -> tuple[Bits, dict[Node, Bits]]:
        """(the worlds in which soil may be next where it must not be; where else it may be next,
        in which of the others)."""
        tables = self._tables
        assert tables.carry is not None
        place, event = place_of(tables, node)
        record = tables.positions[place]
        hits = 0
        onward: dict[Node, Bits] = {}
        links = _links_of_each(tables, place, event)
        # The last events come first: so near the end it is soon known.
        for last, (early, late, worlds) in sorted(links, key=lambda link: -tables.rank[link[0]]):
            base = (tables.rank[last] + 1) * tables.carry.positions
            for exit_ in record.exits[last]:
                left = worlds & exit_.case.worlds & ~hits
                if left:
                    left = self._holding(exit_.case, left, early, late)
                if not left:
                    continue
                if exit_.target is None:
                    goal = base + exit_.to
                    onward[goal] = onward.get(goal, 0) | left
                elif self._counts(exit_.target):
                    hits |= left
        return hits, {goal: left for goal, worlds in onward.items() if (left := worlds & ~hits)}

    def _holding(self, case: Case, worlds: Bits, early: Bits, late: Bits) -> Bits:
        """The worlds in which a case does not contradict what comes before and after."""
        if not case.conditions:
            return worlds
        widest = self._widest.get(id(case))
        if widest is None:
            widest = self._widest[id(case)] = self._tables.at_most(case)
        if not (widest[0] & late or widest[1] & early):
            return worlds
        holding = 0
        for world in members(worlds):
            alone = self._cases.get((id(case), world))
            if alone is None:
                alone = self._cases[id(case), world] = self._in_one(case, world)
            if not (alone.early & late or alone.late & early):
                holding |= 1 << world
        return holding

    def _in_one(self, case: Case, world: int) -> Case:
        """What a case presupposes in one world alone."""
        tables = self._alone.get(world)
        if tables is None:
            tables = self._alone[world] = Effects(
                self._layout.network, None, 1 << world, self._tables
            )
        return tables.case(case.event, case.way, 1 << world, dict(case.conditions))

    def _counts(self, target: int) -> bool:
        known = self._counting.get(target)
        if known is None:
            goal = self._spread.goals[target]
            if isinstance(goal, GoesOn):
                known = spot_of(goal.position) not in self._bins
            else:
                known = bool(self._meanings.of(goal, Origin.PATIENT, own=True))
            self._counting[target] = known
        return known


def _links_of_each(tables: Effects, place: int, event: int) -> Iterator[tuple[int, Facts]]:
    """The events that may end a stay begun at ``place`` in ``event``, and the facts there, as
    :func:`~protocol_lang.order.relaxed.steps` tells of each world alone.

    Facts are those of several worlds where they are the same in these, or nobody asks for them.
    What comes later depends on which events surely end the stay, and these may be more in one world
    than in all.
    """
    assert tables.carry is not None
    node = (tables.rank[event] + 1) * tables.carry.positions + place
    worlds = tables.present[event]
    begun = tables.before[event], tables.after[event]
    record, blocks = tables.positions[place], tables.blocks
    apart: list[Bits] | None = None
    for last, facts in steps(tables, node, (*begun, worlds), record.movers):
        asked_for = (
            blocks.inside[event]
            or blocks.inside[last]
            or blocks.scope[last] & ~blocks.scope[event]
            or any(exit_.case.conditions for exit_ in record.exits[last])
        )
        if not asked_for:
            yield last, facts
            continue
        if apart is None:
            alike: dict[Bits, Bits] = {}
            for world in members(worlds):
                sure = record.sure_in(1 << world)
                alike[sure] = alike.get(sure, 0) | 1 << world
            apart = list(alike.values())
        for some in apart:
            if some & facts[2]:
                yield from steps(tables, node, (*begun, some & facts[2]), 1 << last)
