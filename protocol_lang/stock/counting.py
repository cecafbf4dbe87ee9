"""The pieces of one visit: what is taken new, and what goes where, in each world of a plan.

A piece is taken by exactly one act, so in a world what is taken is the sum over its acts, whatever
the order (rules 1 and 7 of docs/meaning/kernel.md). What is thrown away follows from the state:
which piece comes off, which one is in the hand. It is followed along one permitted order; since
every single-use piece is gone or in its place at the end (rules 12 and 13), another order of a
protocol with nothing to correct throws away as many of each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from protocol_lang.contamination.kernel import (
    NOTHING,
    Effect,
    Fit,
    Plan,
    Retire,
    RetireCameOff,
    RetireHeld,
    Take,
    Unfit,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, Step
from protocol_lang.model.thrown import streams_told
from protocol_lang.model.verbs import Share, Slot

#: A thing and the stream into which it goes; None: none is told.
Goes = tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class Used:
    """The pieces of one world.

    ``taken``: new ones, by thing; ``each``: those of them that are taken once for each piece of
    what stands for all. ``gone``: pieces thrown away or given to be treated; ``gone_each``: those
    once for each. ``kept``: lasting things, one of many, that are in use. ``own``: what patients
    or those with them bring along and take home; it counts nowhere else.
    """

    taken: Mapping[str, int]
    each: Mapping[str, int]
    gone: Mapping[Goes, int]
    gone_each: Mapping[Goes, int]
    kept: frozenset[str]
    own: frozenset[str]


def used_in(unfolded: Unfolded, standing: frozenset[str] = frozenset()) -> tuple[Used, ...]:
    """What each world of a plan uses, by its number.

    ``standing``: lasting things of which one stands for all that lie in a box. What an act takes
    that names one of them, but not all of them together, is taken once for each.
    """
    acts = tuple(_acts_that_count(unfolded, standing))
    return tuple(_of_world(unfolded, acts, world) for world in range(len(unfolded.worlds.examples)))


def taken_in(unfolded: Unfolded) -> tuple[Mapping[str, int], ...]:
    """What is taken in each world, and nothing else: for very many worlds."""
    worlds: list[Counter[str]] = [Counter() for _ in unfolded.worlds.examples]
    theirs = _not_staff(unfolded.protocol)
    for act, note in zip(unfolded.plan.acts, unfolded.acts, strict=True):
        kinds = [unfolded.plan.pieces[piece].kind for piece in _taken(act.effects)]
        if note.person in theirs:
            kinds = [kind for kind in kinds if not _brought(unfolded.protocol, kind)]
        for world, found in enumerate(worlds):
            if kinds and act.worlds >> world & 1:
                found.update(kinds)
    return tuple(worlds)


@dataclass(frozen=True, slots=True)
class _Act:
    """An act that takes or throws away: its effects, the streams told for what it throws away."""

    worlds: int
    effects: tuple[Effect, ...]
    streams: tuple[str | None, ...]
    each: bool
    kept: frozenset[str]
    theirs: bool


def _acts_that_count(unfolded: Unfolded, standing: frozenset[str]) -> Iterator[_Act]:
    """The acts in one permitted order, those left out that neither take nor throw away."""
    many = {thing.name for thing in unfolded.protocol.things.values() if thing.one_of_many}
    theirs = _not_staff(unfolded.protocol)
    for number in one_order(unfolded.plan):
        act, note = unfolded.plan.acts[number], unfolded.acts[number]
        effects = tuple(effect for effect in act.effects if isinstance(effect, _COUNTING))
        step = None if note.step is None else unfolded.steps[note.step]
        named = {name for names in note.filled.values() for name in names}
        kept = frozenset(named & many)
        if effects or kept:
            streams = () if step is None else tuple(streams_told(step, note.filled))
            each = step is not None and _for_each(step, note.filled, standing)
            yield _Act(act.worlds, effects, streams, each, kept, note.person in theirs)


def _not_staff(protocol: Protocol) -> frozenset[str]:
    """Patients and those who come with them."""
    people = protocol.people.values()
    return frozenset(person.name for person in people if person.kind is not PersonKind.STAFF)


def _brought(protocol: Protocol, thing: str) -> bool:
    """Whether it is no supply of the room: what a patient takes that is kept nowhere in it."""
    return protocol.things[thing].kept_in is None


_COUNTING = (Take, Fit, Unfit, Retire, RetireHeld, RetireCameOff)


def one_order(plan: Plan) -> list[int]:
    """One order that the pairs of a plan permit: of those that can come next, the first written."""
    after: list[list[int]] = [[] for _ in plan.acts]
    waiting = [0] * len(plan.acts)
    for first, second in set(plan.order):
        after[first].append(second)
        waiting[second] += 1
    last = len(plan.acts) - 1
    ready = [act for act, number in enumerate(waiting) if not number]
    heapify(ready)
    found: list[int] = []
    while ready:
        act = heappop(ready)
        if act != last:
            found.append(act)
        for later in after[act]:
            waiting[later] -= 1
            if not waiting[later]:
                heappush(ready, later)
    return [*found, last]


def _for_each(step: Step, filled: Mapping[str, tuple[str, ...]], standing: frozenset[str]) -> bool:
    """Whether the step is done once for each piece of what stands for all."""
    return isinstance(step.does, Doing) and any(
        slot.share is not Share.ALL and standing & set(filled.get(slot.name, ()))
        for slot in step.does.frame.parts
        if isinstance(slot, Slot)
    )


def _taken(effects: tuple[Effect, ...]) -> tuple[int, ...]:
    """The pieces that an act takes: each counts once, whoever holds it from now on."""
    return tuple(dict.fromkeys(one.piece for one in effects if isinstance(one, Take)))


def _of_world(unfolded: Unfolded, acts: tuple[_Act, ...], world: int) -> Used:
    plan, things = unfolded.plan, unfolded.protocol.things
    on = [layer.start for layer in plan.layers]
    held = [NOTHING] * plan.holds
    made: dict[int, bool] = {}  # the pieces taken: whether once for each
    gone: dict[int, tuple[str | None, bool]] = {}
    kept: set[str] = set()
    own: dict[int, str] = {}
    for act in acts:
        if not act.worlds >> world & 1:
            continue
        kept |= act.kept
        streams = iter(act.streams)
        off = NOTHING
        for effect in act.effects:
            piece = NOTHING
            match effect:
                case Take(hold, taken):
                    held[hold] = taken
                    kind = plan.pieces[taken].kind
                    if act.theirs and _brought(unfolded.protocol, kind):
                        own[taken] = kind
                    elif taken in unfolded.pieces_made:
                        made.setdefault(taken, act.each)
                case Fit(layers, fitted):
                    for layer in layers:
                        on[layer] = fitted
                case Unfit(layers):
                    off = next((on[one] for one in layers if on[one] != NOTHING), NOTHING)
                    for layer in layers:
                        on[layer] = NOTHING
                case Retire(retired):
                    piece = retired
                case RetireHeld(hold):
                    piece = held[hold]
                case RetireCameOff():
                    piece = off
            if isinstance(effect, Retire | RetireHeld | RetireCameOff):
                told = next(streams, None)
                if piece not in (NOTHING, *own) and things[plan.pieces[piece].kind].used_once:
                    gone.setdefault(piece, (told, act.each))
    for piece, each in made.items():
        if things[plan.pieces[piece].kind].thrown_after_use:
            gone.setdefault(piece, (None, each))
    sums: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
    for piece, each in made.items():
        sums[each][plan.pieces[piece].kind] += 1
    streams_of: tuple[Counter[Goes], Counter[Goes]] = (Counter(), Counter())
    for piece, (told, each) in gone.items():
        thing = things[plan.pieces[piece].kind]
        # What was packed for each piece comes off once for each.
        streams_of[each or made.get(piece, False)][thing.name, told or thing.stream] += 1
    return Used(*sums, *streams_of, frozenset(kept), frozenset(own.values()))
