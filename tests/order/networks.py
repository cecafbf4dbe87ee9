"""Seeded random networks, carries and questions for the tests: small, and full of every feature."""

from __future__ import annotations

import random
from dataclasses import dataclass

from protocol_lang.order import (
    Block,
    Carry,
    Network,
    Question,
    Register,
    Stand,
    Way,
    close,
)
from protocol_lang.order.bits import members


@dataclass(frozen=True, slots=True)
class Shape:
    """How large and how rich the networks are."""

    events: tuple[int, int] = (5, 8)
    positions: tuple[int, int] = (2, 4)
    worlds: tuple[int, int] = (1, 3)
    registers: tuple[int, int] = (0, 2)
    order: float = 0.35
    lanes: int = 3
    moving: float = 0.8


def network(rng: random.Random, shape: Shape = Shape()) -> Network | None:
    """A closed network; None when its parts contradict each other."""
    events = rng.randint(*shape.events)
    before = [0] * events
    style = rng.random()
    if style < 0.4:
        for b in range(events):
            for a in range(b):
                if rng.random() < shape.order:
                    before[b] |= 1 << a
    else:
        last: dict[int, int] = {}
        for event in range(events):
            lane = rng.randrange(rng.randint(1, shape.lanes))
            if lane in last and rng.random() < 0.9:
                before[event] |= 1 << last[lane]
            if rng.random() < 0.15 and event:
                before[event] |= 1 << rng.randrange(event)
            last[lane] = event
    blocks: list[Block] = []
    if rng.random() < 0.5:
        blocks = _blocks(rng, events)
    worlds = rng.randint(*shape.worlds)
    every = (1 << worlds) - 1
    present = [every if rng.random() < 0.7 else rng.randrange(every + 1) for _ in range(events)]
    registers = []
    for _ in range(rng.randint(*shape.registers)):
        writers = rng.sample(range(events), rng.randint(1, min(3, events)))
        registers.append(Register(rng.randrange(3), {w: rng.randrange(3) for w in writers}))
    names = list(range(events))
    if rng.random() < 0.3:
        # The numbering of events must not matter.
        rng.shuffle(names)
        moved = [0] * events
        for b in range(events):
            for a in members(before[b]):
                moved[names[b]] |= 1 << names[a]
        before = moved
    closed = close(
        Network(events, tuple(before), tuple(blocks), worlds, tuple(present), tuple(registers))
    )
    return closed if isinstance(closed, Network) else None


def _blocks(rng: random.Random, events: int) -> list[Block]:
    found = []
    if rng.random() < 0.5:
        # Blocks of one person: each among the others of the other.
        free = rng.sample(range(events), events)
        mine = free[: rng.randint(3, events)]
        parts: list[int] = []
        while mine:
            size = rng.randint(1, 3)
            parts.append(sum(1 << e for e in mine[:size]))
            mine = mine[size:]
        whole = sum(parts)
        return [Block(p, whole & ~p) for p in parts if rng.random() < 0.9]
    for _ in range(rng.randint(1, 3)):
        inside = sum(1 << e for e in rng.sample(range(events), rng.randint(2, 3)))
        outside = rng.randrange(1 << events) & ~inside
        found.append(Block(inside, outside))
    return found


def carry(rng: random.Random, net: Network, shape: Shape = Shape()) -> Carry:
    """Ways for every event: contacts, reductions, moves, hits; conditional and by world."""
    positions = rng.randint(*shape.positions)
    every = (1 << net.worlds) - 1
    ways: list[tuple[Way, ...]] = []
    for _ in range(net.events):
        if rng.random() > shape.moving:
            ways.append(())
            continue
        style = rng.random()
        mine: list[Way] = []
        if style < 0.55 or (not net.registers and net.worlds == 1):
            mine.append(_way(rng, positions, (), every))
        elif style < 0.7 or not net.registers:
            part = rng.randrange(every + 1)
            mine.append(_way(rng, positions, (), part))
            if rng.random() < 0.6:
                mine.append(_way(rng, positions, (), every & ~part))
        else:
            register = rng.randrange(len(net.registers))
            for value in rng.sample(range(3), rng.randint(1, 3)):
                when = [(register, value)]
                if len(net.registers) > 1 and rng.random() < 0.4:
                    when.append((1 - register, rng.randrange(3)))
                mine.append(
                    _way(
                        rng,
                        positions,
                        tuple(when),
                        every if rng.random() < 0.8 else rng.randrange(every + 1),
                    )
                )
            if rng.random() < 0.15:
                # Beyond what callers promise: overlapping ways, of which the first is taken.
                mine.append(_way(rng, positions, (), every))
        ways.append(tuple(mine))
    return Carry(positions, tuple(ways))


def _way(rng: random.Random, positions: int, when: tuple[tuple[int, int], ...], worlds: int) -> Way:
    moves: dict[int, tuple[int, ...]] = {}
    hits: dict[int, tuple[int, ...]] = {}
    for position in range(positions):
        dice = rng.random()
        if dice < 0.25:
            moves[position] = ()
        elif dice < 0.55:
            moves[position] = tuple(sorted({position, rng.randrange(positions)}))
        elif dice < 0.65:
            moves[position] = tuple(sorted(rng.sample(range(positions), rng.randint(1, positions))))
        if rng.random() < 0.12:
            hits[position] = tuple(sorted({rng.randrange(3), rng.randrange(3)}))
    return Way(when, worlds, moves, hits)


def question(rng: random.Random, net: Network, shape: Shape = Shape()) -> Question:
    """A question about ``net`` with some of: a carry, stands, order literals, sure events."""
    every = (1 << net.worlds) - 1
    worlds = every if rng.random() < 0.7 else rng.randrange(1, every + 1)
    with_carry = rng.random() < 0.85 or not net.registers
    stands = []
    if net.registers and (not with_carry or rng.random() < 0.25):
        for _ in range(rng.randint(1, 3)):
            stands.append(
                Stand(
                    rng.randrange(net.events),
                    rng.randrange(len(net.registers)),
                    frozenset(rng.sample(range(3), rng.randint(1, 2))),
                )
            )
    precedes = []
    if rng.random() < 0.15:
        for _ in range(rng.randint(1, 2)):
            a, b = rng.sample(range(net.events), 2)
            precedes.append((a, b))
    takes_place = 1 << rng.randrange(net.events) if rng.random() < 0.1 else 0
    if not with_carry:
        return Question(worlds, takes_place, tuple(stands), tuple(precedes))
    moved = carry(rng, net, shape)
    starts = frozenset(rng.sample(range(moved.positions), 1 if rng.random() < 0.8 else 2))
    targets = frozenset(rng.sample(range(3), 1 if rng.random() < 0.8 else 2))
    return Question(worlds, takes_place, tuple(stands), tuple(precedes), moved, starts, targets)


def features(net: Network, asked: Question) -> list[str]:
    """What this instance exercises, for the counts that the tests print."""
    found = []
    if any(b.members & (b.members - 1) for b in net.blocks):
        found.append("blocks")
    if net.worlds > 1:
        found.append("worlds")
    if any(mask != (1 << net.worlds) - 1 for mask in net.present):
        found.append("absent events")
    if net.registers:
        found.append("registers")
    if asked.stands:
        found.append("one stand" if len(asked.stands) == 1 else "several stands")
    if asked.precedes:
        found.append("order literals")
    if asked.takes_place:
        found.append("sure events")
    if asked.carry is None:
        found.append("no carry")
    else:
        ways = [way for mine in asked.carry.ways for way in mine]
        if any(way.when for way in ways):
            found.append("conditional ways")
        if any(mine and len(mine) > 1 for mine in asked.carry.ways):
            found.append("several ways")
        if any(p in to and len(to) > 1 for w in ways for p, to in w.moves.items()):
            found.append("contacts")
        if any(not to for w in ways for to in w.moves.values()):
            found.append("reductions")
    return found
