"""An oracle for larger networks: a SAT encoding of the definition in ``question.py`` alone.

It knows no links, enders or routes. For every pair of events a literal "a before b" with
transitivity written out; for every event its immediate predecessor, the values of all registers
and the places of marks just before it, passed on step by step from predecessor to event. The
solver is another one than the engine's (Glucose, through python-sat).
"""

from __future__ import annotations

from collections import defaultdict
from itertools import count

from pysat.solvers import Solver  # type: ignore[import-untyped]

from protocol_lang.order.bits import members
from protocol_lang.order.question import Network, Question


class _Clauses:
    def __init__(self) -> None:
        self.next = count(1)
        self.names: dict[object, int] = defaultdict(lambda: next(self.next))
        self.solver = Solver(name="glucose4")

    def __call__(self, *name: object) -> int:
        return self.names[name]

    def add(self, *literals: int) -> None:
        self.solver.add_clause(literals)


def by_sat(network: Network, question: Question, conflicts: int = 20_000) -> bool | None:
    """Is there a run that shows it? None if that takes more than so many conflicts."""
    n = network.events
    v = _Clauses()
    _order(v, network, question)
    _worlds(v, network, question)
    _memory(v, network)
    for stand in question.stands:
        v.add(v("present", stand.event))
        register = network.registers[stand.register]
        known = stand.values & {register.initial, *register.writes.values()}
        v.add(*[v("value", stand.register, x, stand.event) for x in sorted(known)])
    if question.carry is not None:
        _marks(v, network, question)
    # The first event has no predecessor; every other has one.
    for e in range(n):
        v.add(v("first", e), *[v("next", f, e) for f in range(n) if f != e])
    try:
        v.solver.conf_budget(conflicts)
        answer: bool | None = v.solver.solve_limited()
        return answer
    finally:
        v.solver.delete()


def _before(v: _Clauses, a: int, b: int) -> int:
    return v("before", a, b) if a < b else -v("before", b, a)


def _order(v: _Clauses, network: Network, question: Question) -> None:
    n = network.events
    for a in range(n):
        for b in range(a + 1, n):
            for c in range(b + 1, n):
                ab, bc, ac = _before(v, a, b), _before(v, b, c), _before(v, a, c)
                v.add(-ab, -bc, ac)
                v.add(ab, bc, -ac)
    for b in range(n):
        for a in members(network.before[b]):
            v.add(_before(v, a, b))
    for a, b in question.precedes:
        v.add(_before(v, a, b))
    for block in network.blocks:
        inside = list(members(block.members))
        for x in members(block.others):
            for m in inside[1:]:
                v.add(-_before(v, inside[0], x), _before(v, m, x))
                v.add(_before(v, inside[0], x), -_before(v, m, x))
    for e in range(n):
        for f in range(n):
            if f == e:
                continue
            v.add(-v("first", e), _before(v, e, f))
            v.add(-v("first", e), -v("first", f))
            v.add(-v("next", f, e), _before(v, f, e))
            for g in range(n):
                if g not in (e, f):
                    v.add(-v("next", f, e), _before(v, g, f), _before(v, e, g))
                    # Implied, and a help: one predecessor, one successor.
                    v.add(-v("next", f, e), -v("next", g, e))
                    v.add(-v("next", f, e), -v("next", f, g))


def _worlds(v: _Clauses, network: Network, question: Question) -> None:
    worlds = list(members(question.worlds))
    v.add(*[v("world", w) for w in worlds])
    for a in worlds:
        for b in worlds:
            if a < b:
                v.add(-v("world", a), -v("world", b))
        for e in range(network.events):
            here = network.present[e] >> a & 1
            v.add(-v("world", a), v("present", e) if here else -v("present", e))
    for e in members(question.takes_place):
        v.add(v("present", e))


def _memory(v: _Clauses, network: Network) -> None:
    n = network.events
    for r, register in enumerate(network.registers):
        values = sorted({register.initial, *register.writes.values()})
        for e in range(n):
            v.add(*[v("value", r, x, e) for x in values])
            for x in values:
                for y in values:
                    if x < y:
                        v.add(-v("value", r, x, e), -v("value", r, y, e))
            v.add(-v("first", e), v("value", r, register.initial, e))
            for f in range(n):
                if f == e:
                    continue
                acts = [v("present", f)] if f in register.writes else []
                if acts:
                    v.add(-v("next", f, e), -acts[0], v("value", r, register.writes[f], e))
                for x in values:
                    # Without a write that takes place, the value stays.
                    v.add(-v("next", f, e), *acts, -v("value", r, x, f), v("value", r, x, e))


def _marks(v: _Clauses, network: Network, question: Question) -> None:
    carry = question.carry
    assert carry is not None
    n = network.events
    places = range(carry.positions)
    hits: list[int] = []
    for e in range(n):
        earlier: list[int] = []
        for number, way in enumerate(carry.ways[e]):
            applies = v("applies", e, number)
            fits = v("fits", e, number)
            conditions = [v("present", e)]
            conditions.append(v("in worlds", e, number))
            for w in members(question.worlds):
                sign = 1 if way.worlds >> w & 1 else -1
                v.add(-v("world", w), sign * v("in worlds", e, number))
            for r, x in way.when:
                register = network.registers[r]
                if x in {register.initial, *register.writes.values()}:
                    conditions.append(v("value", r, x, e))
                else:
                    v.add(-v("no such value"))
                    conditions.append(v("no such value"))
            for condition in conditions:
                v.add(-fits, condition)
            v.add(fits, *[-condition for condition in conditions])
            # The first way that fits applies.
            v.add(-applies, fits)
            for other in earlier:
                v.add(-applies, -other)
            v.add(applies, -fits, *earlier)
            earlier.append(fits)
            for q in places:
                sources = [v("at", p, e) for p in places if q in way.moves.get(p, (p,))]
                v.add(-v("left at", q, e), -applies, *sources)
            struck = v("hit", e, number)
            hits.append(struck)
            v.add(-struck, applies)
            v.add(
                -struck,
                *[v("at", p, e) for p in places if question.targets & set(way.hits.get(p, ()))],
            )
        for q in places:
            v.add(-v("left at", q, e), *earlier, v("at", q, e))
            if q not in question.starts:
                v.add(-v("first", e), -v("at", q, e))
            for f in range(n):
                if f != e:
                    v.add(-v("next", f, e), -v("at", q, e), v("left at", q, f))
    v.add(*hits)
