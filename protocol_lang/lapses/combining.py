"""Which sets of lapses have to be looked at because their parts do not speak for them.

Of all sets of two or three lapses most open nothing that a part of them does not open: what one
lapse lets through never comes to where another one changes anything. This module finds the others,
by one relaxed pass over the smaller sets, each of them a world of its own. The reasoning:

* Lapses that change the same act, or what is on the same layer, are *connected*
  (:meth:`~protocol_lang.lapses.making.Lapses.connected`). Of a set that falls into connected parts,
  each act is done, and each memory is, as with the one part that touches it (or as written). So
  all that the relaxed graph says of an act is known from the parts, unless two of them touch what
  that one act depends on. (What disturbs a wet time is no memory of that kind. But for two parts
  together nothing is disturbed that is not so for one of them, and a treatment that is not
  disturbed lets less through.)
* A *moment* is a node of the relaxed graph and an act before which soil that came there may still
  be there. What a set lets soil reach is *carried up* to all sets that hold it. If a set reaches a
  moment or a node that no part of it reaches, then it is connected itself; or some part of it
  reaches a moment whose act the rest touches; or several of its parts touch acts that end a stay
  at one node, in no fixed order among each other; or a part leaves the room otherwise than the
  whole. Such sets are named. Of any other the nodes that its parts reach are closed under its own
  links: it opens nothing that none of them opens.
* The facts of a node (see :mod:`protocol_lang.order.relaxed`) have to hold for all sets, also for
  those that are not worlds of the pass. So they rest on the order alone, and on acts that end a
  stay in every world and that no two lapses touch.

Carrying up makes the pass follow more than there is. So a set may be told to open something that it
does not. Sets that hold such a one must be looked at one and all: its parts speak for nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import combinations

from protocol_lang.contamination.kernel import (
    NOTHING,
    At,
    Bits,
    CameOff,
    Fit,
    Held,
    Judge,
    Meet,
    Origin,
    Outer,
    Pass,
    Retire,
    RetireCameOff,
    RetireHeld,
    Target,
    Treat,
    Unfit,
    Wash,
    WetEnd,
)
from protocol_lang.contamination.marks import (
    GoesOn,
    Layout,
    Spread,
    lay_out,
    registers_read,
    spot_of,
)
from protocol_lang.contamination.visits import Meanings, Soil
from protocol_lang.lapses.making import BEGINNING, Lapses, Made, Set
from protocol_lang.lapses.sets import any_place, at_every_place
from protocol_lang.lapses.spread import Opens, any_after, may_open, opens, spreads
from protocol_lang.order.bits import gather, members
from protocol_lang.order.effects import START, Effects
from protocol_lang.order.question import Budget, Effort
from protocol_lang.order.relaxed import Node, behind

#: Position or node, with the worlds in which soil may be there.
Marks = dict[int, Bits]


@dataclass(slots=True)
class Combined:
    """What a pass over smaller sets tells of larger ones.

    ``sets``: those of the size asked for whose parts do not speak for them. ``perhaps``: for each
    kind of path the smaller sets that open it, so far as this pass can tell.
    """

    sets: set[Set] = field(default_factory=set)
    perhaps: dict[Opens, list[Set]] = field(default_factory=dict)


def combined(
    lapses: Lapses, smaller: Sequence[Set], size: int, wanted: frozenset[Opens]
) -> Combined:
    """Of sets of ``size`` lapses those that may open what is wanted though no part of them does.

    ``smaller``: the sets of fewer lapses that are worth looking at: the empty one, single lapses,
    and of the larger ones those that were told in their turn; with each its parts, so far as these
    were told. Sets that hold a lapse of none of them are not told.
    """
    return _Combining(lapses, smaller, size, wanted).told()


class _Combining:
    def __init__(
        self, lapses: Lapses, smaller: Sequence[Set], size: int, wanted: frozenset[Opens]
    ) -> None:
        self.lapses = lapses
        self.size = size
        self.wanted = wanted
        self.sets: tuple[Set, ...] = tuple(sorted(set(smaller), key=lambda one: (len(one), one)))
        assert self.sets[0] == ()
        self.number = {one: number for number, one in enumerate(self.sets)}
        self.made: Made = lapses.made(self.sets)
        layout = lay_out(self.made.plan)
        assert isinstance(layout, Layout)
        self.layout = layout
        self.many = len(self.sets)
        self.places = len(self.made.worlds)
        self.one: Bits = (1 << self.many) - 1
        self.firsts = at_every_place(1, self.many, self.places)
        self.found = Combined(perhaps={what: [] for what in wanted})
        #: Each set as the bits of its lapses.
        self.bits = [gather(one) for one in self.sets]
        self.named: set[Bits] = set()
        self._groups()
        self._larger()

    def told(self) -> Combined:
        self._connected()
        opened = dict.fromkeys(self.wanted, 0)
        meanings = Meanings(self.layout)
        for spread in spreads(self.layout):
            soil = Soil(spread, self.layout.worlds, self.made.ready, Budget(), Effort())
            table: Effects | None = None
            for origin in Origin:
                if (origin is Origin.CHEMICAL) is not spread.chemical:
                    continue
                if not may_open(origin) & self.wanted:
                    continue
                if starts := soil.starts(origin):
                    table = table or soil.table(self.layout.worlds)
                    one = _Pass(self, spread, table)
                    one.follow(origin, dict.fromkeys(starts, self.layout.worlds), meanings, opened)
        for what, worlds in opened.items():
            sets = any_place(worlds, self.many, self.places)
            self.found.perhaps[what] = [self.sets[number] for number in members(sets)]
        self.found.sets = {tuple(members(lapses)) for lapses in self.named}
        return self.found

    # What touches which act.

    def _groups(self) -> None:
        """The events that stand for one act; the sets that touch it, and the spots it may concern.

        A set touches an act if it is done otherwise than without lapses, or if something that it
        depends on may be otherwise.
        """
        self.events: list[list[int]] = []
        self.group_of: list[int] = [-1] * self.layout.network.events
        of_act: dict[int, int] = {}
        for event in range(self.layout.network.events):
            # What follows the acts stands for itself; what the visit before left is one act.
            act = self.made.acts[event] if event < len(self.made.acts) else -2 - event
            if act not in of_act:
                of_act[act] = len(self.events)
                self.events.append([])
            self.group_of[event] = of_act[act]
            self.events[of_act[act]].append(event)
        self.touching: list[Bits] = [self._touching(events) for events in self.events]
        self.lapses_at: list[Bits] = [
            gather(lapse for number in members(sets) for lapse in self.sets[number])
            for sets in self.touching
        ]
        #: Events that no two lapses touch: what is sure of them is sure with all sets.
        self.solid: Bits = gather(
            event
            for events, at in zip(self.events, self.lapses_at, strict=True)
            if at.bit_count() < 2
            for event in events
        )
        self.joint: list[frozenset[Bits]] = [self._jointly(sets) for sets in self.touching]
        begin = of_act.get(BEGINNING, -1)  # it only puts covers where they are, and moves nothing
        self.touched = [
            number for number, sets in enumerate(self.touching) if sets and number != begin
        ]
        self.unlike = self._unlike()
        of_spot: dict[int, set[int]] = {}
        for group in self.touched:
            for spot in self._spots(self.events[group]):
                of_spot.setdefault(spot, set()).add(group)
        self.at_spot: dict[int, tuple[int, ...]] = {
            spot: tuple(sorted(groups)) for spot, groups in of_spot.items()
        }

    def _touching(self, events: list[int]) -> Bits:
        plan, layout = self.made.plan, self.layout
        here = self.layout.network.present
        differing = 0
        for event in events:
            differing |= self._otherwise(here[event])
        for event in events:
            if event < len(plan.acts):
                read: Iterable[int] = registers_read(layout, plan.acts[event])
            else:
                read = (layer for closing, layer in layout.closing.items() if closing == event)
            for register in read:
                for worlds in layout.possible.possible(register, event).values():
                    # Only where it takes place anything is told of a register.
                    differing |= self._otherwise(worlds)
        return any_place(differing, self.many, self.places) & ~1

    def _unlike(self) -> tuple[Bits, ...]:
        """The connected sets with which a visit ends or begins otherwise than without lapses."""
        differing = self._otherwise(self.made.ready)
        for alike in self.made.alike:
            differing |= self._otherwise(alike)
        sets = any_place(differing, self.many, self.places) & ~1
        return tuple(
            self.bits[number] for number in members(sets) if self._is_connected(self.sets[number])
        )

    def _otherwise(self, worlds: Bits) -> Bits:
        """The worlds whose set differs, in being among these, from the world without lapses."""
        return worlds ^ self._as_without(worlds)

    def _as_without(self, worlds: Bits) -> Bits:
        """All worlds at the places where the world without lapses is among these."""
        begun = worlds & self.firsts
        return (begun << self.many) - begun

    def _jointly(self, sets: Bits) -> frozenset[Bits]:
        """Sets of several parts that all touch the act: what they do there together is not known
        from each of them."""
        parts = [self.bits[one] for one in members(sets) if self._is_connected(self.sets[one])]
        found: set[Bits] = set(parts)
        for _ in range(self.size - 1):
            found |= {
                union
                for one in found
                for other in parts
                if (union := one | other).bit_count() <= self.size
            }
        return frozenset(found.difference(parts))

    def _is_connected(self, one: Set) -> bool:
        return len(one) == 1 or _hang_together(self.lapses, one)

    def _spots(self, events: list[int]) -> set[int]:
        """The spots at which soil may be for which the act matters, whatever is on the layers."""
        plan, layout = self.made.plan, self.layout
        found: set[int] = set()

        def of_layers(layers: Iterable[int], event: int) -> None:
            for layer in layers:
                for piece in layout.possible.possible(layout.registers.layer(layer), event):
                    if piece != NOTHING:
                        found.update(plan.pieces[piece].spots)

        def of_body(body: int, event: int) -> None:
            found.add(plan.bodies[body].spot)
            of_layers(plan.bodies[body].layers, event)

        def of_targets(targets: Iterable[Target], event: int) -> None:
            for target in targets:
                if isinstance(target, Outer):
                    of_body(target.body, event)
                elif isinstance(target, At):
                    found.add(target.spot)
                elif isinstance(target, Held):
                    found.update(spot for _, spot in target.spots)
                else:
                    assert isinstance(target, CameOff)  # the same act takes it off

        for event in events:
            if event >= len(plan.acts):
                return set(range(len(plan.spots)))
            for effect in plan.acts[event].effects:
                if isinstance(effect, Meet | Wash | Treat | Judge):
                    of_targets(effect.targets, event)
                elif isinstance(effect, Pass):
                    of_targets(effect.sources + effect.goals, event)
                elif isinstance(effect, WetEnd):
                    of_targets(plan.treatments[effect.treatment].targets, event)
                elif isinstance(effect, Fit | Unfit):
                    for layer in effect.layers:
                        of_body(layout.body_of_layer[layer], event)
                    if isinstance(effect, Fit):
                        found.update(plan.pieces[effect.piece].spots)
                elif isinstance(effect, Retire):
                    found.update(plan.pieces[effect.piece].spots)
                elif isinstance(effect, RetireHeld):
                    for piece in layout.possible.possible(
                        layout.registers.hold(effect.hold), event
                    ):
                        if piece != NOTHING:
                            found.update(plan.pieces[piece].spots)
                elif isinstance(effect, RetireCameOff):
                    pass  # the same act takes it off
            if event == layout.end:
                return set(range(len(plan.spots)))
        return found

    # Naming sets.

    def name(self, lapses: Bits) -> None:
        """Takes down a set, by its lapses as bits, if it has the size asked for."""
        if lapses.bit_count() == self.size:
            self.named.add(lapses)

    def _connected(self) -> None:
        """Sets that are connected themselves."""
        single = [one[0] for one in self.sets if len(one) == 1]
        beside = {
            one: [other for other in single if other != one and self.lapses.connected(one, other)]
            for one in single
        }
        grown: set[Set] = {(one,) for one in single}
        for _ in range(self.size - 1):
            grown = {
                _union(one, (more,))
                for one in grown
                for lapse in one
                for more in beside[lapse]
                if more not in one
            }
        for one in grown:
            self.name(gather(one))

    def _larger(self) -> None:
        """For each set the larger ones that are worlds of the pass."""
        self.larger: list[list[int]] = [[] for _ in self.sets]
        for number, one in enumerate(self.sets):
            for size in range(1, len(one)):
                for part in combinations(one, size):
                    if part in self.number:
                        self.larger[self.number[part]].append(number)
        self.lower: Bits = gather(number for number, above in enumerate(self.larger) if above)
        self.lower_worlds = at_every_place(self.lower, self.many, self.places)

    def carried_up(self, worlds: Bits) -> Bits:
        """These worlds, and those of sets that hold one of these."""
        begun = worlds & self.firsts
        everywhere = (begun << self.many) - begun
        found = worlds | everywhere
        rest = worlds & ~everywhere & self.lower_worlds
        if rest:
            for number in members(any_place(rest, self.many, self.places) & ~1):
                at = rest >> number & self.firsts
                for above in self.larger[number]:
                    found |= at << above
        return found

    def smallest(self, worlds: Bits) -> Bits:
        """The numbers of the sets that are there at some place where none of their parts is."""
        begun = worlds & self.firsts
        everywhere = (begun << self.many) - begun
        rest = worlds & ~everywhere
        lower = rest & self.lower_worlds
        if lower:
            covered = 0
            for number in members(any_place(lower, self.many, self.places)):
                at = rest >> number & self.firsts
                for above in self.larger[number]:
                    covered |= at << above
            rest &= ~covered
        return any_place(rest, self.many, self.places) | (1 if begun else 0)


def _union(*parts: Iterable[int]) -> Set:
    return tuple(sorted(set().union(*parts)))


def _hang_together(lapses: Lapses, one: Set) -> bool:
    """Whether the set does not fall apart into lapses that are not connected."""
    reached, waiting = {one[0]}, [one[0]]
    while waiting:
        lapse = waiting.pop()
        for other in one:
            if other not in reached and lapses.connected(lapse, other):
                reached.add(other)
                waiting.append(other)
    return len(reached) == len(one)


class _Pass:
    """The relaxed passes of one kind of soil, with facts that hold for every set."""

    def __init__(self, all_: _Combining, spread: Spread, table: Effects) -> None:
        self.all = all_
        self.spread = spread
        self.table = table
        self.width = spread.carry.positions
        self.always = [place.always & all_.solid for place in table.positions]
        self._helping: dict[tuple[int, int], Bits] = {}
        #: What has been named, so that it is not named again.
        self._done: dict[tuple[int, Bits], Bits] = {}
        self._gone_on: Bits = 0
        #: For each position, the acts that may end a stay there: who helps, and who comes to them.
        self._ending: dict[int, dict[int, tuple[Bits, Bits]]] = {}

    def follow(
        self, origin: Origin, begun: Marks, meanings: Meanings, opened: dict[Opens, Bits]
    ) -> None:
        """Soil of one origin, visit after visit; adds to ``opened`` the worlds in which it opens
        what."""
        seen: Marks = {}
        starts, own = begun, True
        ready = self.all.made.ready
        while starts:
            nodes, targets = self._visit(starts)
            self._name(nodes)
            onward: Marks = {}
            for number, worlds in targets.items():
                goal = self.spread.goals[number]
                if isinstance(goal, GoesOn):
                    if worlds & ready:
                        after = any_after(self.all.made, worlds & ready)
                        into = onward.get(goal.position, 0)
                        onward[goal.position] = into | self.all.carried_up(after)
                    continue
                for meaning in meanings.of(goal, origin, own):
                    what = opens(meaning.who, origin)
                    if what in opened:
                        assert what is not None
                        opened[what] |= worlds
            starts = {}
            for place, worlds in onward.items():
                fresh = worlds & ~seen.get(place, 0)
                if fresh:
                    starts[place] = fresh
                    seen[place] = seen.get(place, 0) | fresh
            own = False

    def _visit(self, starts: Marks) -> tuple[dict[Node, tuple[Bits, Bits, Bits]], Marks]:
        """(the facts of every node reached, the worlds in which each target is)."""
        nodes: dict[Node, tuple[Bits, Bits, Bits]] = {
            start: (0, -1, worlds) for start, worlds in starts.items()
        }
        targets: Marks = {}
        queue = sorted(nodes)
        queued = set(queue)
        rank, positions = self.table.rank, self.table.positions
        while queue:
            while queue:
                node = heappop(queue)
                queued.discard(node)
                place = positions[node % self.width]
                for last, early, late, worlds in self._steps(node, nodes[node], place.movers):
                    there = worlds & self.table.present[last]
                    if not there:
                        continue
                    base = (rank[last] + 1) * self.width
                    for exit_ in place.exits[last]:
                        moved = there & exit_.case.worlds
                        if not moved:
                            continue
                        if exit_.target is not None:
                            targets[exit_.target] = targets.get(exit_.target, 0) | moved
                            continue
                        goal = base + exit_.to
                        old = nodes.get(goal)
                        new = early, late, moved
                        if old is not None:
                            if not moved & ~old[2] and not old[0] & ~early and not old[1] & ~late:
                                continue
                            new = old[0] & early, old[1] & late, old[2] | moved
                        nodes[goal] = new
                        if goal not in queued:
                            queued.add(goal)
                            heappush(queue, goal)
            for node, (early, late, worlds) in nodes.items():
                more = self.all.carried_up(worlds)
                if more != worlds:
                    nodes[node] = early, late, more
                    queued.add(node)
            queue = sorted(queued)
        return nodes, {number: self.all.carried_up(worlds) for number, worlds in targets.items()}

    def _steps(
        self, node: Node, facts: tuple[Bits, Bits, Bits], events: Bits
    ) -> Iterator[tuple[int, Bits, Bits, Bits]]:
        """(event, what is surely before it, surely after it, worlds in which soil that came to the
        node may still be there), whether the event takes place or not; the worlds may be none."""
        table = self.table
        number = node % self.width
        rank = node // self.width
        place = table.positions[number]
        early, late, worlds = facts
        event = table.ranked[rank - 1] if rank else START
        start = 1 << event if rank else 0
        inside = table.blocks.inside
        scope = table.blocks.scope
        scope_here = scope[event] if rank else 0
        early |= start
        sure = self.always[number] & ~start
        past, later = behind(table.after, sure & late)
        candidates = events & ~early & ~past
        while candidates:
            here = candidates & -candidates
            candidates ^= here
            last = here.bit_length() - 1
            low, high = table.before[last], late
            if rank and (inside[event] or inside[last]):
                low, high = table.between(event, last)
                high |= late
            between = low & high & ~(here | start)
            if sure & between:
                continue
            left = worlds
            for ender in members(place.enders & between):
                left &= ~place.sure.get(ender, 0)
            new_early = early | low
            new_late = table.after[last] | (later & ~here)
            if high != late:
                for ender in members(sure & high & ~(here | start)):
                    new_late |= table.after[ender] | 1 << ender
            for block in members(scope[last] & ~scope_here):
                members_, others, down, up = table.blocks.blocks[block]
                if others & here:
                    if members_ & new_early:
                        new_early |= down
                    if members_ & new_late:
                        new_late |= up
            if not (new_early & new_late or (new_early | new_late) & here):
                yield last, new_early, new_late, left

    # What is named.

    def _name(self, nodes: dict[Node, tuple[Bits, Bits, Bits]]) -> None:
        self._ending = {}
        for node, facts in nodes.items():
            self._name_at(node, facts)
        for ending in self._ending.values():
            if len(ending) > 1:
                self._name_unordered(list(ending.items()))

    def _name_at(self, node: Node, facts: tuple[Bits, Bits, Bits]) -> None:
        all_ = self.all
        position = node % self.width
        groups = all_.at_spot.get(spot_of(self.spread.plain(position)), ())
        rank = node // self.width
        own = all_.group_of[self.table.ranked[rank - 1]] if rank else -1
        enders = self.table.positions[position].enders
        ending = self._ending.setdefault(position, {})
        for group in groups:
            if group == own:
                continue
            worlds = 0
            events = gather(all_.events[group])
            for _, _, _, left in self._steps(node, facts, events):
                worlds |= left
            if not worlds:
                continue
            helped = self._helped(position, group)
            reached = all_.smallest(worlds)
            done = self._done.get((group, helped), 0)
            for one in members(reached & ~done):
                for lapses in self._joined(group, helped, one):
                    all_.name(lapses)
            self._done[group, helped] = done | reached
            if enders & events:
                known = ending.get(group, (helped, 0))[1]
                ending[group] = helped, known | reached
        if all_.unlike:
            self._name_going_on(node, facts)

    def _joined(self, group: int, helped: Bits, reached: int) -> Iterator[Bits]:
        """A set that reaches a moment, together with those that change what its act does there."""
        all_ = self.all
        lapses = all_.bits[reached]
        # With one that touches the act itself, others may help that alone do not.
        others = all_.touching[group] if lapses & all_.lapses_at[group] else helped
        for other in members(others):
            yield lapses | all_.bits[other]
        for more in all_.joint[group]:
            yield lapses | more

    def _name_going_on(self, node: Node, facts: tuple[Bits, Bits, Bits]) -> None:
        """Sets with which soil goes on to another visit though it does not with a part of them,
        because that part leaves the room otherwise."""
        all_ = self.all
        acts = len(all_.made.plan.acts)
        over = self.table.positions[node % self.width].movers >> acts << acts
        worlds = 0
        for _, _, _, left in self._steps(node, facts, over):
            worlds |= left
        reached = all_.smallest(worlds) & ~self._gone_on if worlds else 0
        self._gone_on |= reached
        for number in members(reached):
            lapses = all_.bits[number]
            for other in all_.unlike:
                if other & lapses:
                    all_.name(lapses | other)

    def _name_unordered(self, ending: list[tuple[int, tuple[Bits, Bits]]]) -> None:
        """Sets of which several parts keep acts from ending a stay at one position, in no fixed
        order."""
        all_ = self.all
        beside = {
            (one, other)
            for one, other in combinations(range(len(ending)), 2)
            if self._in_any_order(ending[one][0], ending[other][0])
        }
        if not beside:
            return
        # What has the full size is named already, whatever it stands beside.
        joined = [
            {
                lapses
                for one in members(reached)
                for lapses in self._joined(group, helped, one)
                if lapses.bit_count() < all_.size
            }
            for group, (helped, reached) in ending
        ]
        for first, second in beside:
            both = {one | other for one in joined[first] for other in joined[second]}
            for lapses in both:
                all_.name(lapses)
            for third in range(second + 1, len(ending)) if all_.size > 2 else ():
                if (first, third) in beside and (second, third) in beside:
                    for one in both:
                        if one.bit_count() < all_.size:
                            for other in joined[third]:
                                all_.name(one | other)

    def _in_any_order(self, one: int, other: int) -> bool:
        first, second = self.all.events[one], self.all.events[other]
        before = self.table.before
        return not any(
            before[event] >> later & 1 or before[later] >> event & 1
            for event in first
            for later in second
        )

    def _helped(self, position: int, group: int) -> Bits:
        """The sets with which the act lets soil at the position go on, or stay, as it does not
        without lapses."""
        known = self._helping.get((position, group))
        if known is None:
            known = self._helping[position, group] = self._help(position, group)
        return known

    def _help(self, position: int, group: int) -> Bits:
        all_ = self.all
        place = self.table.positions[position]
        ended = 0
        leaving: dict[tuple[int, int | None], Bits] = {}
        for event in all_.events[group]:
            ended |= place.sure.get(event, 0)
            for exit_ in place.exits.get(event, ()):
                key = (exit_.to, exit_.target)
                leaving[key] = leaving.get(key, 0) | exit_.case.worlds
        helped = all_._as_without(ended) & ~ended
        for worlds in leaving.values():
            helped |= worlds & ~all_._as_without(worlds)
        return any_place(helped, all_.many, all_.places) & all_.touching[group]
