"""What each event can do to marks, tabulated once for a network, a carry and a set of worlds.

Everything here is what is *possible* or *sure* in view of the closed partial order, never what
holds in one run: :func:`possible_values` may list a value too many, never one too few.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from protocol_lang.order.bits import gather, members
from protocol_lang.order.partial import transpose_closed
from protocol_lang.order.question import Bits, Carry, Network, Way

#: Stands for "no event": a value that nothing has written yet, a mark that has not moved yet.
START = -1

#: A condition on the moment just before an event: register, and the values it may have.
Condition = tuple[int, frozenset[int]]


@dataclass(frozen=True, slots=True)
class Case:
    """One way (or, with ``way`` -1, none) in which an event may act, and what that presupposes.

    ``conditions``: only those that some run in ``worlds`` may fail. ``early``, ``late``: events
    that are surely before, surely after the event whenever the conditions hold.
    """

    event: int
    way: int
    worlds: Bits
    conditions: tuple[Condition, ...]
    early: Bits
    late: Bits


class Exit(NamedTuple):
    """At ``case.event`` a mark goes on to ``to``, or (``to`` then is idle) hits ``target``."""

    to: int
    case: Case
    target: int | None = None


@dataclass(slots=True)
class Position:
    """What events do to a mark at one position.

    ``movers``: events that may take it elsewhere, or under which it may hit. ``exits``: how.
    ``enders``: events after which it may no longer be here. ``sure``: for an event, the worlds in
    which it surely is no longer here afterwards, whatever the registers hold (0 is left out).
    ``always``: events that surely end it in every world looked at.
    ``keeping``: for an ender, the cases in which it stays, worlds of absence left out.
    """

    movers: Bits = 0
    exits: dict[int, list[Exit]] = field(default_factory=dict)
    enders: Bits = 0
    sure: dict[int, Bits] = field(default_factory=dict)
    always: Bits = 0
    keeping: dict[int, list[Case]] = field(default_factory=dict)
    _sure_in: dict[Bits, Bits] = field(default_factory=dict)

    def sure_in(self, worlds: Bits) -> Bits:
        """The events that surely end a stay here in each of ``worlds``."""
        known = self._sure_in.get(worlds)
        if known is None:
            known = gather(event for event, mask in self.sure.items() if not worlds & ~mask)
            self._sure_in[worlds] = known
        return known


@dataclass(slots=True)
class BlockTables:
    """Blocks seen from each event, for the rule of blocks on a single link.

    ``scope[e]``: numbers of the blocks (as bits) that e is a member or an other of.
    ``inside[e]``: its blocks, as (others, members and all before them, members and all after them).
    """

    blocks: list[tuple[Bits, Bits, Bits, Bits]]
    scope: list[Bits]
    inside: list[list[tuple[Bits, Bits, Bits]]]


class Effects:
    """The tables for one network, carry and set of worlds."""

    __slots__ = (
        "_untouched",
        "after",
        "before",
        "blocks",
        "carry",
        "network",
        "positions",
        "present",
        "rank",
        "ranked",
        "values",
        "wider",
        "worlds",
        "writers_of",
        "writing",
    )

    def __init__(
        self, network: Network, carry: Carry | None, worlds: Bits, known: Effects | None = None
    ) -> None:
        """``known``: tables of some carry and worlds; what is of the network alone is taken over if
        it is this very one, and what registers may hold if these are among its worlds."""
        self.network = network
        self.carry = carry
        self.worlds = worlds
        self.before = network.before
        self.present = [mask & worlds for mask in network.present]
        self.ranked: list[int]
        self.rank: list[int]
        self.after: list[Bits]
        self.blocks: BlockTables
        if known is not None and known.network is network:
            self.ranked, self.rank = known.ranked, known.rank
            self.after, self.blocks = known.after, known.blocks
        else:
            self.ranked = sorted(
                range(network.events), key=lambda e: (network.before[e].bit_count(), e)
            )
            self.rank = [0] * network.events
            for rank, event in enumerate(self.ranked):
                self.rank[event] = rank
            self.after = transpose_closed(network.before)
            self.blocks = _block_tables(network, self.after)
        self.values: dict[tuple[int, int], dict[int, Bits]]
        self.writing: dict[int, Bits]
        self.writers_of: dict[tuple[int, int], list[tuple[int, int, Bits]]] = {}
        #: Tables of more worlds. What is told of registers is told of each world alone, so that
        #: theirs hold here as well.
        self.wider: Effects | None = None
        if known is not None and known.network is network and known.worlds == worlds:
            self.values, self.writing = known.values, known.writing
        else:
            self.values, self.writing = {}, {}
            if known is not None and known.network is network and not worlds & ~known.worlds:
                self.wider = known
        # Where nothing ever happens to a mark, there is one record for all: most are like that.
        self._untouched = Position()
        self.positions = [self._untouched] * (0 if carry is None else carry.positions)
        if carry is not None:
            for event, ways in enumerate(carry.ways):
                if ways and self.present[event]:
                    self._tabulate(event, ways)

    def narrowed(self, worlds: Bits) -> Effects:
        """The same for fewer worlds, without working anything out anew.

        What is sure in all worlds of these tables is sure in fewer; that more may be sure there is
        passed over. So everything stays sound, and a pass may leave a little more to the search.
        """
        made = object.__new__(Effects)
        for name in Effects.__slots__:
            setattr(made, name, getattr(self, name))
        made.worlds = worlds
        made.present = [mask & worlds for mask in self.present]
        made.values, made.writers_of, made.wider = {}, {}, self
        return made

    def possible(self, register: int, event: int) -> dict[int, Bits]:
        """:func:`possible_values`, remembered."""
        key = (register, event)
        known = self.values.get(key)
        if known is None:
            known = {}
            if self.wider is not None:
                for value, worlds in self.wider.possible(register, event).items():
                    if worlds & self.worlds:
                        known[value] = worlds & self.worlds
            else:
                for _, value, worlds in self.writers(register, event):
                    known[value] = known.get(value, 0) | worlds
            self.values[key] = known
        return known

    def writers(self, register: int, event: int) -> list[tuple[int, int, Bits]]:
        """Who may have written what ``register`` holds just before ``event``.

        (writing event or START, value, worlds): an over-approximation, from the closed order and
        the rule of blocks applied to "the write comes before the event".
        """
        if self.wider is not None:
            key = (register, event)
            known = self.wider.writers_of.get(key)
            if known is None:
                known = self.wider.writers_of[key] = self.wider.writers(register, event)
            mine = self.worlds
            return [(write, value, where & mine) for write, value, where in known if where & mine]
        memory = self.network.registers[register]
        present, before = self.present, self.before[event]
        writes = self._writes(register)
        here = present[event]
        found: list[tuple[int, int, Bits]] = []
        candidates = writes & ~self.after[event] & ~(1 << event)
        # The latest first. Of writes that follow each other the earlier is overwritten by all those
        # that overwrite the later, and by the later: so what has been gathered is added to.
        counted = taken = 0  # writes, and the worlds in which one of them takes place
        while candidates:
            write = candidates.bit_length() - 1
            candidates ^= 1 << write
            worlds = here & present[write]
            if not worlds:
                continue  # never both in one run
            low, high = self.between(write, event)
            others = writes & high & low
            if counted & ~others:
                worlds = self._not_overwritten(worlds, others)
            else:
                for other in members(others & ~counted):
                    taken |= present[other]
                counted = others
                worlds &= ~taken
            if worlds:
                found.append((write, memory.writes[write], worlds))
            if before >> write & 1 and not here & ~present[write]:
                # It surely takes place, and after those before it, which it overwrites.
                candidates &= ~self.before[write]
        others = writes & before
        if not counted & ~others:
            here, others = here & ~taken, others & ~counted
        worlds = self._not_overwritten(here, others)
        if worlds:
            found.append((START, memory.initial, worlds))
        found.reverse()
        return found

    def _writes(self, register: int) -> Bits:
        """The events that write a register in some world looked at."""
        known = self.writing.get(register)
        if known is None:
            known = gather(w for w in self.network.registers[register].writes if self.present[w])
            self.writing[register] = known
        return known

    def _not_overwritten(self, worlds: Bits, others: Bits) -> Bits:
        """The worlds in which none of the other writes takes place. The latest are looked at
        first, for where events are numbered as they may follow each other, they rule out most."""
        present = self.present
        while others and worlds:
            last = others.bit_length() - 1
            worlds &= ~present[last]
            others ^= 1 << last
        return worlds

    def between(self, first: int, second: int) -> tuple[Bits, Bits]:
        """(surely before ``second``, surely after ``first``) if first comes before second.

        Neither set contains ``first`` or ``second``.
        """
        low = self.before[second]
        high = self.after[first]
        for others, down, _ in self.blocks.inside[first]:
            if others >> second & 1:
                low |= down
        for others, _, up in self.blocks.inside[second]:
            if others >> first & 1:
                high |= up
        ends = 1 << first | 1 << second
        return low & ~ends, high & ~ends

    def condition_worlds(self, event: int, conditions: Mapping[int, frozenset[int]]) -> Bits:
        """The worlds in which all conditions may hold at ``event``, each looked at alone."""
        worlds = self.present[event]
        for register, allowed in conditions.items():
            worlds &= self._may_hold(register, event, allowed)
        return worlds

    def _may_hold(self, register: int, event: int, allowed: frozenset[int]) -> Bits:
        """The worlds in which the register may have one of the ``allowed`` values at the event."""
        possible = self.possible(register, event)
        worlds = 0
        for value in allowed:
            worlds |= possible.get(value, 0)
        return worlds

    def case(self, event: int, way: int, worlds: Bits, held: Mapping[int, frozenset[int]]) -> Case:
        """A case with its sure conditions dropped and its must-hold orders worked out."""
        conditions: list[Condition] = []
        early = late = 0
        for register, allowed in sorted(held.items()):
            possible = self.possible(register, event)
            if any(value not in allowed and where & worlds for value, where in possible.items()):
                conditions.append((register, allowed))
                sure_early, sure_late = self._must_hold(register, event, allowed, worlds)
                early |= sure_early
                late |= sure_late
        return Case(event, way, worlds, tuple(conditions), early, late)

    def _must_hold(
        self, register: int, event: int, allowed: frozenset[int], worlds: Bits
    ) -> tuple[Bits, Bits]:
        """What comes before and after ``event`` whichever write gives an ``allowed`` value."""
        early = late = -1
        writes = self.network.registers[register].writes
        surely = gather(write for write in writes if not worlds & ~self.present[write])
        for write, value, where in self.writers(register, event):
            if value not in allowed or not where & worlds:
                continue
            if write == START:
                low, high = 0, surely & ~(1 << event)
            else:
                low, high = self.between(write, event)
                low |= 1 << write
                high &= surely & ~(1 << write)
                low |= self.before[write]
            early &= low
            late &= high | self._after_any(high)
        every = (1 << self.network.events) - 1
        return early & every, late & every

    def at_most(self, case: Case) -> tuple[Bits, Bits]:
        """All that ``early`` and ``late`` of the case may hold in any one of these worlds."""
        early = late = 0
        for register, allowed in case.conditions:
            writes = self._writes(register)
            for write, value, where in self.writers(register, case.event):
                if value not in allowed or not where & case.worlds:
                    continue
                if write == START:
                    high = writes & ~(1 << case.event)
                else:
                    low, high = self.between(write, case.event)
                    early |= low | 1 << write | self.before[write]
                    high &= writes & ~(1 << write)
                late |= high | self._after_any(high)
        return early, late

    def _after_any(self, events: Bits) -> Bits:
        """What is surely after some of the events. Whatever is after one that is itself after
        another is after that other as well, so that many need not be looked at."""
        found = 0
        while events:
            low = events & -events
            later = self.after[low.bit_length() - 1]
            found |= later
            events &= ~(later | low)
        return found

    def _tabulate(self, event: int, ways: tuple[Way, ...]) -> None:
        here = self.present[event]
        if len(ways) == 1 and not ways[0].when and not here & ~ways[0].worlds:
            self._always(event, ways[0])
            return
        cases = self.cases(event, ways)
        touched: set[int] = set()
        for way in ways:
            touched.update(way.moves)
            touched.update(way.hits)
        bit = 1 << event
        acting = [
            (case, ways[case.way].moves, ways[case.way].hits) if case.way >= 0 else (case, {}, {})
            for case in cases
        ]
        for number in sorted(touched):
            position = self._position(number)
            keeping: list[Case] = []
            exits: list[Exit] = []
            stays = 0
            ends = False
            for case, moves, hits in acting:
                reached = moves.get(number)
                if reached is None:
                    stays |= case.worlds
                    keeping.append(case)
                else:
                    if number in reached:
                        stays |= case.worlds
                        keeping.append(case)
                    else:
                        ends = True
                    exits += [Exit(to, case) for to in reached if to != number]
                if number in hits:
                    exits += [Exit(number, case, target) for target in hits[number]]
            if exits:
                position.movers |= bit
                position.exits.setdefault(event, []).extend(exits)
            if ends:
                position.enders |= bit
                position.keeping[event] = keeping
                sure = here & ~stays
                if sure:
                    position.sure[event] = sure
                    if sure == self.worlds:
                        position.always |= bit

    def _position(self, number: int) -> Position:
        """The record of a position, to write into."""
        position = self.positions[number]
        if position is self._untouched:
            position = self.positions[number] = Position()
        return position

    def _always(self, event: int, way: Way) -> None:
        """The common case: one way, whatever the registers hold, in every world of the event."""
        here = self.present[event]
        bit = 1 << event
        case = Case(event, 0, here, (), 0, 0)
        for number, reached in way.moves.items():
            position = self._position(number)
            exits = [Exit(to, case) for to in reached if to != number]
            if exits:
                position.movers |= bit
                position.exits[event] = exits
            if number not in reached:
                position.enders |= bit
                position.sure[event] = here
                position.keeping[event] = []
                if here == self.worlds:
                    position.always |= bit
        for number, targets in way.hits.items():
            position = self._position(number)
            position.movers |= bit
            position.exits.setdefault(event, []).extend(
                [Exit(number, case, target) for target in targets]
            )

    def cases(self, event: int, ways: tuple[Way, ...]) -> list[Case]:
        """Disjoint cases that cover every run in which ``event`` takes place.

        Impossible ones are left out. The first way that applies is taken: each way gets what the
        ways before it left over.
        """
        return [self.case(event, *one) for one in self.applying(event, ways)]

    def applying(
        self, event: int, ways: tuple[Way, ...]
    ) -> list[tuple[int, Bits, dict[int, frozenset[int]]]]:
        """The same as (number of the way, or -1; worlds; what registers hold). What is told of the
        worlds is told of each alone."""
        Cube = tuple[Bits, dict[int, frozenset[int]]]
        # Of each, the worlds are only those in which all that it holds may be so: what is added
        # has to be looked at, and nothing again.
        rest: list[Cube] = [(self.present[event], {})]
        found: list[tuple[int, Bits, dict[int, frozenset[int]]]] = []
        for number, way in enumerate(ways):
            left: list[Cube] = []
            for worlds, held in rest:
                if worlds & ~way.worlds:
                    left.append((worlds & ~way.worlds, held))
                inner = worlds & way.worlds
                within = dict(held)
                for register, value in way.when:
                    if not inner:
                        break
                    domain = within.get(register)
                    if domain is None:
                        domain = frozenset(self.possible(register, event))
                    others = domain - {value}
                    not_so = inner & self._may_hold(register, event, others)
                    if not_so:
                        left.append((not_so, within | {register: others}))
                    within[register] = domain & {value}
                    inner &= self._may_hold(register, event, within[register])
                if inner:
                    found.append((number, inner, within))
            rest = left
        found += [(-1, worlds, held) for worlds, held in rest]
        return found


def possible_values(network: Network, register: int, event: int) -> dict[int, Bits]:
    """For each value that ``register`` may have just before ``event``, the worlds in which it may.

    Only worlds in which the event takes place are listed. An over-approximation in polynomial time:
    a value is left out only if the closed order and the rule of blocks exclude it.
    """
    worlds = (1 << network.worlds) - 1
    return Effects(network, None, worlds).possible(register, event)


def _block_tables(network: Network, after: list[Bits]) -> BlockTables:
    blocks: list[tuple[Bits, Bits, Bits, Bits]] = []
    scope = [0] * network.events
    inside: list[list[tuple[Bits, Bits, Bits]]] = [[] for _ in range(network.events)]
    for number, block in enumerate(network.blocks):
        down = up = block.members
        for member in members(block.members):
            down |= network.before[member]
            up |= after[member]
        blocks.append((block.members, block.others, down, up))
        for event in members(block.members | block.others):
            scope[event] |= 1 << number
        for event in members(block.members):
            inside[event].append((block.others, down, up))
    return BlockTables(blocks, scope, inside)
