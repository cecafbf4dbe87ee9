"""Making a network sound: transitive closure, the rule of blocks, and cycles told by name.

Sets of events are whole numbers (see :mod:`protocol_lang.order.bits`), so that closing 200 events
takes a few milliseconds.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace

from protocol_lang.order.bits import members
from protocol_lang.order.partial import PartialOrder, transpose, transpose_closed
from protocol_lang.order.question import Bits, Network


@dataclass(frozen=True, slots=True)
class Cycle:
    """No run exists: each of ``events`` comes before the next, and the last before the first.

    ``blocks[i]`` is the number of the block from which the step out of ``events[i]`` follows, or
    None when the step was given.
    """

    events: tuple[int, ...]
    blocks: tuple[int | None, ...]


class MalformedNetworkError(ValueError):
    """The numbers of a network do not fit together: a fault of the caller, not of a plan."""


def before_from_pairs(events: int, pairs: Iterable[tuple[int, int]]) -> tuple[Bits, ...]:
    """``Network.before`` (not yet closed) from pairs (a, b): a before b."""
    before = [0] * events
    for a, b in pairs:
        before[b] |= 1 << a
    return tuple(before)


def validate(network: Network) -> None:
    """Raise :class:`MalformedNetworkError` unless every number lies in its range."""
    every = (1 << network.events) - 1
    worlds = (1 << network.worlds) - 1
    if network.worlds < 1:
        raise MalformedNetworkError("a network needs at least one world")
    if len(network.before) != network.events or len(network.present) != network.events:
        raise MalformedNetworkError("before and present need one entry for each event")
    if any(earlier & ~every for earlier in network.before):
        raise MalformedNetworkError("before names an event that does not exist")
    if any(mask & ~worlds for mask in network.present):
        raise MalformedNetworkError("present names a world that does not exist")
    for block in network.blocks:
        if block.members & block.others:
            raise MalformedNetworkError("members and others of a block must be disjoint")
        if (block.members | block.others) & ~every:
            raise MalformedNetworkError("a block names an event that does not exist")
    for register in network.registers:
        if any(not 0 <= event < network.events for event in register.writes):
            raise MalformedNetworkError("a register is written by an event that does not exist")


def close(network: Network) -> Network | Cycle:
    """The network with ``before`` closed under transitivity and the rule of blocks, or a cycle.

    ``network.before`` need not be closed. See :mod:`protocol_lang.order.partial` for the rule.
    """
    validate(network)
    given = network.before
    links = list(given)
    reasons: dict[tuple[int, int], int] = {}
    while True:
        ranked = _sorted(links)
        if ranked is None:
            return _cycle(given, links, reasons)
        before = _closure(links, ranked)
        if not _apply_blocks(network, before, links, reasons):
            return replace(network, before=tuple(before))


def with_order(network: Network, pairs: Iterable[tuple[int, int]]) -> Network | None:
    """A closed network with further pairs (a before b), closed again; None if contradictory."""
    order = PartialOrder(list(network.before), transpose_closed(network.before), network.blocks)
    if not order.precede_all(pairs):
        return None
    return replace(network, before=tuple(order.before))


def _sorted(links: list[Bits]) -> list[int] | None:
    """One topological order, or None when there is a cycle."""
    waiting = [earlier.bit_count() for earlier in links]
    after = transpose(links)
    ready = [event for event, count in enumerate(waiting) if not count]
    ranked: list[int] = []
    while ready:
        event = ready.pop()
        ranked.append(event)
        for later in members(after[event]):
            waiting[later] -= 1
            if not waiting[later]:
                ready.append(later)
    return ranked if len(ranked) == len(links) else None


def _closure(links: list[Bits], ranked: list[int]) -> list[Bits]:
    before = [0] * len(links)
    for event in ranked:
        total = links[event]
        for earlier in members(links[event]):
            total |= before[earlier]
        before[event] = total
    return before


def _apply_blocks(
    network: Network, before: list[Bits], links: list[Bits], reasons: dict[tuple[int, int], int]
) -> bool:
    """Add to ``links`` what blocks force at once; whether anything was added."""
    if not network.blocks:
        return False
    grown = False
    after = transpose_closed(before)
    for number, block in enumerate(network.blocks):
        earlier = later = 0
        for member in members(block.members):
            earlier |= before[member]
            later |= after[member]
        pairs = [
            (x, m)
            for m in members(block.members)
            for x in members(earlier & block.others & ~before[m])
        ]
        pairs += [
            (m, x)
            for m in members(block.members)
            for x in members(later & block.others & ~after[m])
        ]
        for a, b in pairs:
            links[b] |= 1 << a
            reasons.setdefault((a, b), number)
            grown = True
    return grown


def _cycle(
    given: tuple[Bits, ...], links: list[Bits], reasons: dict[tuple[int, int], int]
) -> Cycle:
    events = _shortest_cycle(given) or _shortest_cycle(links)
    assert events is not None, "called only when there is a cycle"
    steps = zip(events, events[1:] + events[:1], strict=True)
    return Cycle(
        tuple(events),
        tuple(None if given[b] >> a & 1 else reasons[a, b] for a, b in steps),
    )


def _shortest_cycle(before: Iterable[Bits]) -> list[int] | None:
    """A shortest cycle through the lowest event that lies on one; None without a cycle."""
    after = transpose(tuple(before))
    for start in range(len(after)):
        source: dict[int, int] = {}
        seen = 0
        queue = deque([start])
        while queue:
            event = queue.popleft()
            if after[event] >> start & 1:
                path = [event]
                while path[-1] != start:
                    path.append(source[path[-1]])
                return path[::-1]
            fresh = after[event] & ~seen
            seen |= fresh
            for later in members(fresh):
                source[later] = event
                queue.append(later)
    return None
