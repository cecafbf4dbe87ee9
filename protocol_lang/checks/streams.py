"""Findings about waste and a whole room: each thing goes into its own stream; what leaves comes
back, and clean enough; what nobody deals with.

How soil goes that way is followed by the engine, through the box that is thrown into and the box
that is taken from. Here is what can be said without it: that there is a way back at all.
"""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.contamination.kernel import (
    At,
    Held,
    Meet,
    Outer,
    Pass,
    Plan,
    Treat,
    treated,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.room import NO_FLOOR
from protocol_lang.findings import Finding
from protocol_lang.model.parts import Stream, Thing
from protocol_lang.model.protocol import Role
from protocol_lang.model.thrown import retired
from protocol_lang.text import Place


def is_day(unfolded: Unfolded) -> bool:
    """Whether the whole room was looked at, and not one protocol of it."""
    return any(part.role is Role.VISIT for part in unfolded.protocol.parts)


def streams_of(unfolded: Unfolded) -> Iterator[Finding]:
    """For each thing that is to come back: that some protocol of the day sees to it."""
    if not is_day(unfolded):
        return
    for thing, stream, to in coming_back(unfolded):
        facts = {"thing": thing.name, "stream": stream.name, "to": to}
        if to.casefold() not in {part.title.casefold() for part in unfolded.protocol.parts}:
            yield Finding("not-taken-back", stream.place, facts)
            continue
        others = (("the thing", thing.place),)
        box = thing.kept_in
        if box is None or not _brings_into(unfolded, to, box, thing.kind):
            facts["box"] = box or "its box"
            yield Finding("not-given-back", stream.place, facts, others)
            continue
        asked = _floor(unfolded.plan, thing)
        told = unfolded.protocol.levels.get(stream.comes_back or "")
        done = _best_level(unfolded, to, thing.kind)
        ranks = {level.rank: level.name for level in unfolded.protocol.levels.values()}
        least = done if told is None else min(done, told.rank)
        if asked is not None and least < asked:
            facts |= {"level": ranks.get(least, "no level"), "asked": ranks[asked]}
            yield Finding("given-back-too-low", stream.place, facts, others)


def wrong_streams(unfolded: Unfolded) -> Iterator[Finding]:
    """Steps that say of a thing that it goes into another stream than its own line says.

    Told once for each step and thing: a step is read again in a second visit and for each choice.
    """
    things = unfolded.protocol.things
    told: set[tuple[Place, str]] = set()
    for note in unfolded.acts:
        step = None if note.step is None else unfolded.steps[note.step]
        if step is None or step.place.again:
            continue
        for name, into in retired(step, note.filled):
            thing = things.get(name or "")
            if thing is None or into is None or thing.stream in (None, into):
                continue
            if (step.place, thing.name) not in told:
                told.add((step.place, thing.name))
                facts = {"thing": thing.name, "stream": into, "asked": thing.stream}
                yield Finding("wrong-stream", step.place, facts, (("the thing", thing.place),))


def coming_back(unfolded: Unfolded) -> Iterator[tuple[Thing, Stream, str]]:
    """Things of the plan that leave through a stream that names a protocol, with its title."""
    occurring = {piece.kind for piece in unfolded.plan.pieces}
    for thing in unfolded.protocol.things.values():
        stream = unfolded.protocol.streams.get(thing.stream or "")
        if thing.name in occurring and stream is not None and stream.to is not None:
            yield thing, stream, stream.to


def untouched(unfolded: Unfolded) -> tuple[str, ...]:
    """Things of the room with which no protocol of the day does anything."""
    if not is_day(unfolded):
        return ()
    protocol = unfolded.protocol
    rooms = {source.file for source in protocol.files if source.kind == "room"}
    known = named_of_room(unfolded)
    return tuple(
        thing.name
        for thing in protocol.things.values()
        if thing.place.file in rooms and thing.name not in known
    )


def named_of_room(unfolded: Unfolded) -> frozenset[str]:
    """Names of the things with which the protocol does something, and all that its steps name."""
    plan = unfolded.plan
    met = {spot for act in plan.acts for effect in act.effects for spot in _named(plan, effect)}
    known = {piece.kind for piece in plan.pieces if met & set(piece.spots)}
    known |= {name for step in unfolded.acts for names in step.filled.values() for name in names}
    return frozenset(known)


def _named(plan: Plan, effect: object) -> Iterator[int]:
    """The spots that the targets of an effect name."""
    targets = (
        *getattr(effect, "targets", ()),
        *getattr(effect, "sources", ()),
        *getattr(effect, "goals", ()),
    )
    for target in targets:
        match target:
            case Outer(body):
                yield plan.bodies[body].spot
            case At(spot):
                yield spot
            case Held():
                yield from (spot for _, spot in target.spots)


def _brings_into(unfolded: Unfolded, title: str, box: str, kind: str) -> bool:
    """Whether an act of that protocol brings a thing of the kind into the box."""
    plan = unfolded.plan
    box_spots = {
        plan.bodies[body].spot for (owner, _), body in unfolded.bodies.items() if owner == box
    }
    items = _spots_of(unfolded, kind)
    for act, note in zip(plan.acts, unfolded.acts, strict=True):
        if (note.part or "").casefold() != title.casefold():
            continue
        for effect in act.effects:
            if isinstance(effect, Meet | Pass):
                named = set(_named(plan, effect))
                if named & box_spots and named & items:
                    return True
    return False


def _spots_of(unfolded: Unfolded, kind: str) -> set[int]:
    things = {thing.name for thing in unfolded.protocol.things.values() if thing.kind == kind}
    return {spot for piece in unfolded.plan.pieces if piece.kind in things for spot in piece.spots}


def _best_level(unfolded: Unfolded, title: str, kind: str) -> int:
    """The rank of the best treatment that the protocol gives to things of the kind; 0: none."""
    plan = unfolded.plan
    items = _spots_of(unfolded, kind)
    best = 0
    for act, note in zip(plan.acts, unfolded.acts, strict=True):
        if (note.part or "").casefold() != title.casefold():
            continue
        for effect in act.effects:
            found = treated(plan, effect)
            if found is not None:
                targets, level = found
                if items & set(_named(plan, Treat(tuple(targets), 0, None))):
                    best = max(best, level.rank)
    return best


def _floor(plan: Plan, thing: Thing) -> int | None:
    ranks = [
        rank
        for piece in plan.pieces
        if piece.kind == thing.name
        for spot in piece.spots
        for _, rank in plan.spots[spot].floors
        if rank != NO_FLOOR
    ]
    return max(ranks, default=None)
