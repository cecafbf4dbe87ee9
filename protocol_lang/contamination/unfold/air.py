"""The air of a place: it carries germs from when the patient comes in until it is clear again.

What is asked of an order comes down to facts that acts set and end, and to claims about them. With
M an act that brings the patient into the place, and L an act that takes the patient anywhere else,
the air is *not clear* while

* the patient is in the place; or
* the patient has been there, and for the first L since the last M, less than the time for clearing
  has passed.

An L starts the clock, and the first wait that surely follows it and with which the waits since
then come to that time stops it. That an L was the first since the last M is told by facts that say
which of two acts came last. So the clock counts from the event and not from a place in the list.

Nobody has to be asked after each act whether staff breathe such air: only an act that brings them
in, that brings the patient in, or that changes what is on their face can make it so. Of such an act
it is claimed, on the state before it, that it does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from protocol_lang.contamination.kernel import (
    NOTHING,
    Act,
    AllOf,
    AnyOf,
    Bits,
    Claim,
    Effect,
    FactIs,
    Fit,
    IsWet,
    LayerHas,
    Not,
    SetFact,
    Unfit,
)
from protocol_lang.contamination.unfold.room import Room
from protocol_lang.model.parts import Counts, PersonKind

TRUE, FALSE = AllOf(()), AnyOf(())


@dataclass(frozen=True, slots=True)
class Leaving:
    """An act that takes the patient away from a place, and the fact that its clock still runs."""

    act: int
    clock: int


@dataclass(frozen=True, slots=True)
class Air:
    """The air of one place, where one patient comes and goes.

    ``minutes``: until it is clear. ``carrying``: not clear, whether the patient is there or has
    been; ``left``: not clear though the patient has gone.
    """

    where: str
    minutes: int
    leavings: tuple[Leaving, ...]
    carrying: Claim
    left: Claim


def goes_to(room: Room, act: Act, person: str) -> tuple[bool, str | None]:
    """Whether the act moves the person, and to which place (None: outside)."""
    places = {room.is_in(person, where): where for where in room.protocol.places}
    moves, to = False, None
    for effect in act.effects:
        if isinstance(effect, SetFact) and effect.fact in places:
            moves = True
            if effect.value:
                to = places[effect.fact]
            elif to == places[effect.fact]:
                to = None
    return moves, to


def not_followed(room: Room, acts: Iterable[Act]) -> str | None:
    """A place to which a patient comes and that tells no air changes; "" if they come to none.

    None: the air of all places where patients come can be followed.
    """
    come = {
        to
        for patient in patients_of(room)
        for act in acts
        for moved, to in (goes_to(room, act, patient),)
        if moved and to is not None
    }
    if not come:
        return ""
    return next(
        (p.name for p in room.protocol.places.values() if p.name in come and p.air_changes is None),
        None,
    )


def air_of(
    room: Room, acts: list[Act], patient: str, where: str, minutes: int, germs: Claim
) -> Air | None:
    """The air of a place; its facts are made, and set and ended in ``acts``.

    ``germs``: the claim that air carries germs in this world. None if the patient never comes in.
    """
    moves = {
        number: to
        for number, act in enumerate(acts)
        for moved, to in (goes_to(room, act, patient),)
        if moved
    }
    coming = [act for act, to in moves.items() if to == where]
    going = [act for act, to in moves.items() if to != where]
    if not coming:
        return None
    been = room.own_fact(f"{patient} has been in {where}")
    changes: dict[int, list[Effect]] = {act: [SetFact(been, value=True)] for act in coming}
    since: dict[int, int] = {}
    clocks: dict[int, int] = {}
    for act in going:
        since[act] = room.own_fact(f"{where}: left since {patient} last came")
        clocks[act] = room.own_fact(f"{where}: air not clear")
        changes.setdefault(act, []).append(SetFact(since[act], value=True))
        changes[act].append(SetFact(clocks[act], value=True))
        for other in coming:
            changes[other].append(SetFact(since[act], value=False))
    later: dict[tuple[int, int], int] = {}
    for one in going:
        for other in going:
            if one < other:
                later[one, other] = room.own_fact(f"{where}: which of two comes last")
                changes[one].append(SetFact(later[one, other], value=False))
                changes[other].append(SetFact(later[one, other], value=True))

    def before(one: int, other: int) -> Claim:
        """Of two acts that have both been done: the first came first."""
        if one < other:
            return FactIs(later[one, other], value=True)
        return FactIs(later[other, one], value=False)

    def first(act: int) -> Claim:
        others = [
            AnyOf((FactIs(since[other], value=False), before(act, other)))
            for other in going
            if other != act
        ]
        return AllOf((FactIs(since[act], value=True), *others))

    for number, more in changes.items():
        acts[number] = replace(acts[number], effects=(*acts[number].effects, *more))
    left = AllOf(
        (
            germs,
            FactIs(been, value=True),
            AnyOf(tuple(AllOf((FactIs(clocks[act], value=True), first(act))) for act in going)),
        )
    )
    here = AllOf((germs, FactIs(room.is_in(patient, where), value=True)))
    return Air(
        where,
        minutes,
        tuple(Leaving(act, clocks[act]) for act in going),
        AnyOf((here, left)),
        left,
    )


def protected(room: Room, person: str) -> Claim:
    """The person wears on the face something that keeps germs of the air out."""
    face = {
        part.name
        for part in room.protocol.body_parts
        if part.of is PersonKind.STAFF and part.counts in (Counts.FACE, Counts.MOUTH)
    }
    worn: list[Claim] = []
    for thing in room.protocol.things.values():
        if not thing.keeps_air_out or thing.worn_on not in face:
            continue
        pieces = frozenset(room.instances.get(thing.name, ()))
        if thing.name in room.piece_of:
            pieces = frozenset({room.piece_of[thing.name]})
        for _, layer in room.layers_for.get((person, thing.name), ()):
            worn.append(LayerHas(layer, pieces))
    return AnyOf(tuple(worn))


def breathes(room: Room, air: Air, person: str) -> Claim:
    """Somebody is in the place while its air is not clear, without anything that keeps it out."""
    there = FactIs(room.is_in(person, air.where), value=True)
    return AllOf((there, air.carrying, Not(protected(room, person))))


def can_begin(room: Room, air: Air, patient: str, person: str, act: Act) -> bool:
    """Whether the act can make somebody breathe the air who did not before it."""
    into = {room.is_in(person, air.where), room.is_in(patient, air.where)}
    layers = layers_in(protected(room, person))
    return any(
        (isinstance(effect, SetFact) and effect.value and effect.fact in into)
        or (isinstance(effect, Fit | Unfit) and layers & set(effect.layers))
        for effect in act.effects
    )


def layers_in(claim: Claim) -> set[int]:
    """The layers that the claim speaks of."""
    match claim:
        case LayerHas(layer, _):
            return {layer}
        case Not(part):
            return layers_in(part)
        case AllOf(parts) | AnyOf(parts):
            return {layer for part in parts for layer in layers_in(part)}
        case _:
            return set()


def before_act(claim: Claim, effects: Iterable[Effect]) -> Claim:
    """What has to hold before the effects so that the claim holds after them."""
    facts: dict[int, bool] = {}
    layers: dict[int, int] = {}
    for effect in effects:
        match effect:
            case SetFact(fact, value):
                facts[fact] = value
            case Fit(onto, piece):
                layers.update(dict.fromkeys(onto, piece))
            case Unfit(off):
                layers.update(dict.fromkeys(off, NOTHING))
            case _:
                pass
    return _settled(claim, facts, layers)


def _settled(claim: Claim, facts: Mapping[int, bool], layers: Mapping[int, int]) -> Claim:
    match claim:
        case FactIs(fact, value):
            if fact in facts:
                return TRUE if facts[fact] is value else FALSE
            return claim
        case LayerHas(layer, pieces):
            if layer in layers:
                return TRUE if layers[layer] in pieces else FALSE
            return claim
        case IsWet():
            return claim
        case Not(part):
            inner = _settled(part, facts, layers)
            return FALSE if inner == TRUE else TRUE if inner == FALSE else Not(inner)
        case AllOf(parts):
            kept = [one for part in parts if (one := _settled(part, facts, layers)) != TRUE]
            return FALSE if FALSE in kept else AllOf(tuple(kept))
        case AnyOf(parts):
            kept = [one for part in parts if (one := _settled(part, facts, layers)) != FALSE]
            return TRUE if TRUE in kept else AnyOf(tuple(kept))


def staff_of(room: Room) -> Iterator[str]:
    """Everybody of the staff."""
    return (p.name for p in room.protocol.people.values() if p.kind is PersonKind.STAFF)


def patients_of(room: Room) -> Iterator[str]:
    """The patient (a room may name several)."""
    return (p.name for p in room.protocol.people.values() if p.kind is PersonKind.PATIENT)


def waited(
    begin: int,
    worlds: Bits,
    waits: Mapping[int, int],
    acts: list[Act],
    before: list[Bits],
) -> Iterator[tuple[Bits, dict[int, int]]]:
    """These worlds in parts, and in each part, for each wait that surely comes after ``begin``: the
    minutes waited since, with its own.

    The worlds of a part have the same waits; waits one after the other add up.
    """
    after = sorted(
        (act for act in waits if before[act] >> begin & 1 and acts[act].worlds & worlds),
        key=lambda act: before[act].bit_count(),
    )
    parts = [worlds]
    for act in after:
        within = acts[act].worlds
        parts = [half for part in parts for half in (part & within, part & ~within) if half]
    for part in parts:
        found: dict[int, int] = {}
        for act in after:
            if not acts[act].worlds & part:
                continue
            earlier = (minutes for one, minutes in found.items() if before[act] >> one & 1)
            found[act] = max(earlier, default=0) + waits[act]
        yield part, found
