"""Replaying an answer by the plain definition, event by event.

This module shares nothing with the decision procedures, so that an order they return is believed
only after it has been executed here. See :mod:`protocol_lang.order.question` for the definition.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from protocol_lang.order.question import Bits, Carry, Found, Network, Question, Way


class WrongAnswerError(AssertionError):
    """An answer that does not show what it should: an error of this package."""


def replay(network: Network, question: Question, found: Found) -> None:
    """Execute ``found``; :class:`WrongAnswerError` says what is not as it must be."""
    _check_run(network, found)
    world = 1 << found.world
    _demand(bool(question.worlds & world), "the world is not among those asked for")
    place = {event: index for index, event in enumerate(found.order)}
    for a, b in question.precedes:
        _demand(place[a] < place[b], f"event {a} does not come before event {b}")
    for event in range(network.events):
        if question.takes_place >> event & 1:
            _demand(bool(network.present[event] & world), f"event {event} does not take place")

    memory = [register.initial for register in network.registers]
    written = _written(network)
    hops = list(found.route)
    at: int | None = None
    hit = False
    if question.carry is not None:
        _demand(bool(hops), "the route is empty")
        at = hops[0].start
        _demand(at in question.starts, "the route does not begin at a start")
    else:
        _demand(not hops, "a route was not asked for")
    for event in found.order:
        present = bool(network.present[event] & world)
        for stand in question.stands:
            if stand.event == event:
                _demand(present, f"event {event} of a stand does not take place")
                _demand(
                    memory[stand.register] in stand.values,
                    f"register {stand.register} has another value at event {event}",
                )
        if not present:
            _demand(not hops or hops[0].event != event, f"absent event {event} moves the mark")
            continue
        if question.carry is not None and not hit:
            way = _way(question.carry, event, world, memory)
            if hops and hops[0].event == event:
                hop = hops.pop(0)
                _demand(hop.start == at, f"the mark is not at position {hop.start}")
                _demand(way is not None and way[0] == hop.way, f"event {event} acts another way")
                assert way is not None
                if hop.target is not None:
                    _demand(hop.target in question.targets, "the target is not one asked for")
                    _demand(hop.target in way[1].hits.get(hop.start, ()), "nothing is hit")
                    _demand(not hops and hop.to == hop.start, "the hit is not the last hop")
                    hit = True
                else:
                    _demand(hop.to != hop.start, "a hop that stays is listed")
                    _demand(hop.to in way[1].moves.get(hop.start, ()), "the mark does not go there")
                    at = hop.to
            elif way is not None and at is not None:
                _demand(at in way[1].moves.get(at, (at,)), f"event {event} ends the stay at {at}")
        for register, value in written.get(event, ()):
            memory[register] = value
    _demand(question.carry is None or hit, "the mark does not hit a target")


def worlds_shown(network: Network, question: Question, found: Found) -> Bits:
    """All worlds of the question in which this very order and route show it too.

    One pass over the events for all worlds together. The order itself is taken as checked.
    """
    worlds = question.worlds & (1 << network.worlds) - 1
    for event in range(network.events):
        if question.takes_place >> event & 1:
            worlds &= network.present[event]
    memory = [{register.initial: worlds} for register in network.registers]
    written = _written(network)
    hops = list(found.route)
    at = hops[0].start if hops else None
    for event in found.order:
        here = network.present[event]
        for stand in question.stands:
            if stand.event == event:
                worlds &= here & _where(memory[stand.register], stand.values)
        if hops:
            assert question.carry is not None and at is not None
            hop = hops[0] if hops[0].event == event else None
            rest = worlds & here
            if hop is not None:
                worlds = rest
            for number, way in enumerate(question.carry.ways[event]):
                applies = rest & way.worlds
                for register, value in way.when:
                    applies &= memory[register].get(value, 0)
                rest &= ~applies
                if hop is not None:
                    if number != hop.way:
                        worlds &= ~applies
                elif at not in way.moves.get(at, (at,)):
                    worlds &= ~applies
            if hop is not None:
                worlds &= ~rest
                at = hop.to
                hops.pop(0)
        for register, new in written.get(event, ()):
            values = memory[register]
            for value in values:
                values[value] &= ~here
            values[new] = values.get(new, 0) | here
    return worlds


def targets_hit(
    network: Network, carry: Carry, order: Sequence[int], world: int, starts: Iterable[int]
) -> frozenset[int]:
    """Every target that marks from ``starts`` hit in one run: this order, in this world.

    The run itself is taken as checked.
    """
    memory = [register.initial for register in network.registers]
    written = _written(network)
    marked = frozenset(starts)
    found: set[int] = set()
    for event in order:
        if not network.present[event] >> world & 1:
            continue
        applied = _way(carry, event, 1 << world, memory)
        if applied is not None:
            _, way = applied
            found.update(target for at in marked for target in way.hits.get(at, ()))
            marked = frozenset(to for at in marked for to in way.moves.get(at, (at,)))
        for register, value in written.get(event, ()):
            memory[register] = value
    return frozenset(found)


def _written(network: Network) -> dict[int, list[tuple[int, int]]]:
    """What each event writes: (register, value)."""
    written: dict[int, list[tuple[int, int]]] = {}
    for number, register in enumerate(network.registers):
        for event, value in register.writes.items():
            written.setdefault(event, []).append((number, value))
    return written


def _where(values: dict[int, Bits], wanted: frozenset[int]) -> Bits:
    mask = 0
    for value in wanted:
        mask |= values.get(value, 0)
    return mask


def _check_run(network: Network, found: Found) -> None:
    _demand(0 <= found.world < network.worlds, "there is no such world")
    _demand(sorted(found.order) == list(range(network.events)), "not an order of all events")
    done = 0
    for event in found.order:
        _demand(not network.before[event] & ~done, f"event {event} comes too early")
        for block in network.blocks:
            begun = block.members & done
            if begun and block.members & ~done:
                _demand(not block.others >> event & 1, f"event {event} falls into a block")
        done |= 1 << event


def _way(carry: Carry, event: int, world: int, memory: list[int]) -> tuple[int, Way] | None:
    for number, way in enumerate(carry.ways[event]):
        if way.worlds & world and all(memory[register] == value for register, value in way.when):
            return number, way
    return None


def _demand(holds: bool, sentence: str) -> None:
    if not holds:
        raise WrongAnswerError(sentence)
