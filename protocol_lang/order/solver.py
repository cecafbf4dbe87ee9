"""The same question put to a clause-learning solver with an acyclicity constraint.

The clauses are made from the relaxed graph, never from all pairs of events: a choice of one way
out for each node used, and for every stay that a link stands for, "the ender comes before the
stay, or after it, or does not act so". An order literal is an edge in one direction or the other,
and the solver forbids cycles, so that no order relation is ever written out.

Deterministic: one thread, a fixed seed, a limit in conflicts. The solver is imported only when
needed.
"""

from __future__ import annotations

from collections.abc import Iterable
from heapq import heappop, heappush
from typing import TYPE_CHECKING, Any

from protocol_lang.order.bits import members
from protocol_lang.order.effects import START, Case, Condition, Effects
from protocol_lang.order.question import (
    Answer,
    Bits,
    Found,
    Hop,
    Impossible,
    Question,
    Undecided,
)
from protocol_lang.order.relaxed import HIT, Graph, Link, Node

if TYPE_CHECKING:
    from clingo.backend import Backend

#: Literals of the encoding: atoms of the solver, negative for "not"; two stand for the constants.
TRUE = 1 << 30
FALSE = -TRUE


def solve(effects: Effects, question: Question, graph: Graph | None, conflicts: int) -> Answer:
    """Decide ``question`` over ``graph`` (None exactly when no carry is asked).

    ``effects`` must belong to a network that already has the question's ``precedes`` and to worlds
    in which its stands and ``takes_place`` are present.
    """
    import clingo

    control = clingo.Control(
        ["--seed=0", "--parallel-mode=1", f"--solve-limit={conflicts}", "--stats"], logger=_silent
    )
    with control.backend() as backend:
        encoding = _Encoding(backend, effects)
        encoding.ask(question, graph)
    with control.solve(yield_=True) as handle:
        model = handle.model()
        if model is not None:
            return encoding.read(model.is_true, graph)
        result = handle.get()
    if result.unsatisfiable:
        return Impossible()
    return Undecided(int(control.statistics["solving"]["solvers"]["conflicts"]))


def _silent(_code: Any, _message: str) -> None:
    """The solver's own remarks are of no use to anybody here."""


class _Encoding:
    """The clauses for one question, and how to read a model back."""

    def __init__(self, backend: Backend, effects: Effects) -> None:
        self.backend = backend
        self.effects = effects
        self.orders: dict[tuple[int, int], int] = {}
        self.groups: dict[tuple[int, int], int] = {}
        self.edges: list[tuple[int, int, int]] = []
        self.masks: dict[Bits, int] = {effects.worlds: TRUE, 0: FALSE}
        self.last_writes: dict[tuple[int, int, int], int] = {}
        self.links: list[int] = []
        self.moments = effects.network.events
        self.world_atoms: list[tuple[Bits, int]] = []
        self.partners = _partner_blocks(effects)

    # Clauses and literals

    def fresh(self) -> int:
        """A new literal, free to be true or false."""
        atom = self.backend.add_atom()
        self.backend.add_rule([atom], [], choice=True)
        return atom

    def clause(self, literals: Iterable[int]) -> None:
        """At least one of the literals holds."""
        kept = []
        for literal in literals:
            if literal == TRUE:
                return
            if literal != FALSE:
                kept.append(-literal)
        self.backend.add_rule([], kept)

    def edge(self, a: int, b: int, literal: int) -> None:
        """If ``literal`` holds, a comes before b."""
        self.edges.append((a, b, literal))
        self.backend.add_acyc_edge(a, b, [] if literal == TRUE else [literal])

    def precedes(self, a: int, b: int) -> int:
        """The literal "a comes before b"."""
        effects = self.effects
        if effects.before[b] >> a & 1:
            return TRUE
        if effects.before[a] >> b & 1:
            return FALSE
        for number, other in self.partners.get((a, b), ()):
            return self.block_first(number, other)
        for number, (inside, outside, _, _) in enumerate(effects.blocks.blocks):
            if inside >> a & 1 and outside >> b & 1:
                return self.block_before(number, b)
            if inside >> b & 1 and outside >> a & 1:
                return -self.block_before(number, a)
        return self.pair(a, b)

    def pair(self, a: int, b: int) -> int:
        """The literal of two events that no block concerns."""
        if a > b:
            return -self.pair(b, a)
        known = self.orders.get((a, b))
        if known is None:
            known = self.orders[a, b] = self.fresh()
            self.edge(a, b, known)
            self.edge(b, a, -known)
        return known

    def block_before(self, number: int, event: int) -> int:
        """The literal "all of the block comes before ``event``"; else all of it comes after."""
        effects = self.effects
        inside = effects.blocks.blocks[number][0]
        first = (inside & -inside).bit_length() - 1
        if effects.before[event] >> first & 1:
            return TRUE
        if effects.before[first] >> event & 1:
            return FALSE
        key = (number, ~event)
        known = self.groups.get(key)
        if known is None:
            known = self.groups[key] = self.fresh()
            for member in members(inside):
                if not effects.after[member] & inside:
                    self.edge(member, event, known)
                if not effects.before[member] & inside:
                    self.edge(event, member, -known)
        return known

    def block_first(self, number: int, other: int) -> int:
        """The literal "all of block ``number`` comes before all of block ``other``"."""
        if number > other:
            return -self.block_first(other, number)
        known = self.groups.get((number, other))
        if known is None:
            known = self.groups[number, other] = self.fresh()
            blocks = self.effects.blocks.blocks
            self._sequence(blocks[number][0], blocks[other][0], known)
            self._sequence(blocks[other][0], blocks[number][0], -known)
        return known

    def _sequence(self, earlier: Bits, later: Bits, literal: int) -> None:
        effects = self.effects
        lasts = [m for m in members(earlier) if not effects.after[m] & earlier]
        firsts = [m for m in members(later) if not effects.before[m] & later]
        for a in lasts:
            for b in firsts:
                self.edge(a, b, literal)

    def mask(self, worlds: Bits) -> int:
        """The literal "the world is one of ``worlds``"; made known to the worlds at the end."""
        worlds &= self.effects.worlds
        known = self.masks.get(worlds)
        if known is None:
            rest = self.effects.worlds & ~worlds
            known = -self.masks[rest] if rest in self.masks else self.fresh()
            self.masks[worlds] = known
        return known

    def last_write(self, register: int, event: int, write: int) -> int:
        """If this literal holds, ``write`` (or START) is what the register holds at ``event``."""
        key = (register, event, write)
        known = self.last_writes.get(key)
        if known is not None:
            return known
        known = self.last_writes[key] = self.fresh()
        effects = self.effects
        if write != START:
            self.clause([-known, self.precedes(write, event)])
            self.clause([-known, self.mask(effects.present[write])])
        for other in effects.network.registers[register].writes:
            if other in (write, event) or not effects.present[other]:
                continue
            earlier = FALSE if write == START else self.precedes(other, write)
            absent = self.mask(effects.worlds & ~effects.present[other])
            self.clause([-known, earlier, self.precedes(event, other), absent])
        return known

    def has_value(self, event: int, condition: Condition, wanted: bool = True) -> list[int]:
        """Literals of which one holds if the condition does (not ``wanted``: if it does not)."""
        register, allowed = condition
        return [
            self.last_write(register, event, write)
            for write, value, _ in self.effects.writers(register, event)
            if (value in allowed) is wanted
        ]

    # The question

    def ask(self, question: Question, graph: Graph | None) -> None:
        """All clauses of the question."""
        for event, earlier in enumerate(self.effects.before):
            rest = earlier
            # Only the covering pairs: the rest follows.
            for before in sorted(members(earlier), key=lambda e: -self.effects.rank[e]):
                if rest >> before & 1:
                    self.edge(before, event, TRUE)
                    rest &= ~(self.effects.before[before] | 1 << before)
        self._blocks()
        for stand in question.stands:
            self.clause(self.has_value(stand.event, (stand.register, stand.values)))
        if graph is not None:
            self._routes(graph)
        self._worlds()

    def _blocks(self) -> None:
        """Every block and every one of its others are ordered, one way or the other."""
        blocks = self.effects.blocks.blocks
        for number, (inside, outside, _, _) in enumerate(blocks):
            if not inside & (inside - 1):
                continue
            rest = outside
            for other, (inside2, outside2, _, _) in enumerate(blocks):
                # Two whole blocks: one literal for all their pairs. An event that is in several
                # blocks gets several literals; that they agree follows from acyclicity.
                if rest & inside2 and not inside2 & ~outside and not inside & ~outside2:
                    a = (inside & -inside).bit_length() - 1
                    b = (inside2 & -inside2).bit_length() - 1
                    if not (self.effects.before[a] >> b | self.effects.before[b] >> a) & 1:
                        self.block_first(number, other)
                    rest &= ~inside2
            for event in members(rest):
                self.block_before(number, event)

    def _routes(self, graph: Graph) -> None:
        out: dict[Node, list[tuple[Link, int]]] = {}
        for link in graph.links:
            literal = self.fresh()
            self.links.append(literal)
            out.setdefault(link.name[0], []).append((link, literal))
        used = {node: self.fresh() for node in out}
        for node, links in out.items():
            literals = [literal for _, literal in links]
            self.clause([-used[node], *literals])
            if len(literals) > 1:
                self.backend.add_weight_rule([], 2, [(literal, 1) for literal in literals])
            for link, literal in links:
                self.clause([-literal, used[node]])
                if link.goal != HIT:
                    self.clause([-literal, used.get(link.goal, FALSE)])
                self.clause([-literal, self.mask(link.exit.case.worlds)])
                for condition in link.exit.case.conditions:
                    self.clause([-literal, *self.has_value(link.last, condition)])
            self._stay(used[node], links, self.moments)
            self.moments += 1
        self.clause([used[node] for node in graph.starts])

    def _stay(self, used: int, links: list[tuple[Link, int]], end: int) -> None:
        """Nothing ends the stay at a node before the link that is chosen.

        ``end`` is a moment of its own, not before the event of the chosen link: an ender comes
        before the node, or after ``end``. So the clauses number nodes times enders, not links times
        enders.
        """
        effects = self.effects
        position, event = links[0][0].position, links[0][0].event
        place = effects.positions[position]
        surely_later = -1
        ending: dict[int, list[int]] = {}
        for link, literal in links:
            last = link.last
            surely_later &= effects.after[last]
            ending.setdefault(last, []).append(literal)
        for last, literals in ending.items():
            for literal in literals:
                self.edge(last, end, literal)
                if event != START:
                    self.clause([-literal, self.precedes(event, last)])
        enders = place.enders & ~surely_later
        if event != START:
            enders &= ~effects.before[event] & ~(1 << event)
        for ender in members(enders):
            later = self.fresh()
            self.edge(end, ender, later)
            outside = [-used, later, *ending.get(ender, ())]
            if event != START:
                outside.append(self.precedes(ender, event))
            sure = place.sure.get(ender, 0)
            if sure:
                self.clause([*outside, -self.mask(sure)])
            if sure != effects.present[ender]:
                absent = self.mask(effects.worlds & ~effects.present[ender])
                keeps = [self._applies(case) for case in place.keeping[ender]]
                self.clause([*outside, absent, *keeps])

    def _applies(self, case: Case) -> int:
        """A literal that holds only if the case does (absence of its event aside)."""
        if not case.conditions:
            return self.mask(case.worlds)
        literal = self.fresh()
        self.clause([-literal, self.mask(case.worlds)])
        for condition in case.conditions:
            self.clause([-literal, *self.has_value(case.event, condition)])
        return literal

    def _worlds(self) -> None:
        """One world, as far as the masks in use tell worlds apart."""
        classes: dict[tuple[bool, ...], Bits] = {}
        masks = list(self.masks.items())
        for world in members(self.effects.worlds):
            bit = 1 << world
            key = tuple(bool(mask & bit) for mask, _ in masks)
            classes[key] = classes.get(key, 0) | bit
        for key, worlds in classes.items():
            literal = TRUE if len(classes) == 1 else self.fresh()
            self.world_atoms.append((worlds, literal))
            for holds, (_, mask) in zip(key, masks, strict=True):
                self.clause([-literal, mask if holds else -mask])
        self.clause([literal for _, literal in self.world_atoms])

    # Reading a model

    def read(self, is_true: Any, graph: Graph | None) -> Found:
        """The run and the route that a model stands for."""

        def holds(literal: int) -> bool:
            if abs(literal) == TRUE:
                return literal > 0
            return bool(is_true(literal)) if literal > 0 else not is_true(-literal)

        worlds = next(worlds for worlds, literal in self.world_atoms if holds(literal))
        world = (worlds & -worlds).bit_length() - 1
        pairs = [(a, b) for a, b, literal in self.edges if holds(literal)]
        events = self.effects.network.events
        order = tuple(e for e in _sorted(self.moments, pairs) if e < events)
        return Found(world, order, self._route(holds, graph))

    def _route(self, holds: Any, graph: Graph | None) -> tuple[Hop, ...]:
        if graph is None:
            return ()
        chosen: dict[Node, Link] = {}
        for link, literal in zip(graph.links, self.links, strict=True):
            if holds(literal):
                chosen.setdefault(link.name[0], link)
        node = next(node for node in graph.starts if self._leads_on(node, chosen))
        hops: list[Hop] = []
        while True:
            link = chosen[node]
            exit_ = link.exit
            hops.append(Hop(link.last, exit_.case.way, link.position, exit_.to, exit_.target))
            if link.goal == HIT:
                return tuple(hops)
            node = link.goal

    def _leads_on(self, node: Node, chosen: dict[Node, Link]) -> bool:
        while node in chosen:
            if chosen[node].goal == HIT:
                return True
            node = chosen[node].goal
        return False


def _sorted(events: int, pairs: list[tuple[int, int]]) -> tuple[int, ...]:
    """The order that keeps all pairs and otherwise takes the lowest number first."""
    waiting = [0] * events
    after: list[list[int]] = [[] for _ in range(events)]
    for a, b in pairs:
        waiting[b] += 1
        after[a].append(b)
    ready = [event for event in range(events) if not waiting[event]]
    order: list[int] = []
    while ready:
        event = heappop(ready)
        order.append(event)
        for later in after[event]:
            waiting[later] -= 1
            if not waiting[later]:
                heappush(ready, later)
    return tuple(order)


def _partner_blocks(effects: Effects) -> dict[tuple[int, int], list[tuple[int, int]]]:
    """For events a and b of two blocks that are each among the other's others: those blocks."""
    blocks = effects.blocks.blocks
    found: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for number, (inside, outside, _, _) in enumerate(blocks):
        for other, (inside2, outside2, _, _) in enumerate(blocks):
            if number != other and not inside2 & ~outside and not inside & ~outside2:
                for a in members(inside):
                    for b in members(inside2):
                        found.setdefault((a, b), []).append((number, other))
    return found
