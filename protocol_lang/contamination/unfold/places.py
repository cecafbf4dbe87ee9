"""Where people are: who goes where, what can be touched from there, who is safe at an exposure.

A person is in one place at any moment, or outside of all of them. So there is a fact for each
person and place, and to move somebody makes one of them so and ends all the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from protocol_lang.contamination.kernel import (
    NOTHING,
    AllOf,
    AnyOf,
    Claim,
    Effect,
    FactIs,
    LayerHas,
    Meet,
    Outer,
    Pass,
    SetFact,
)
from protocol_lang.contamination.unfold.room import Room
from protocol_lang.model.parts import Counts, Person, PersonKind, RoomPlace
from protocol_lang.trade.exposure import least_distance, safe_angles


def moved(room: Room, person: str, to: str | None) -> Iterator[Effect]:
    """The person is in that place now and in no other; ``to`` None: outside of all places."""
    for where in room.protocol.places:
        yield SetFact(room.is_in(person, where), value=where == to)


def gloves_left_behind(room: Room, person: str, to: str | None) -> Claim | None:
    """Whoever goes from the dirty side to any other has bare hands; None if nothing is asked."""
    places = room.protocol.places
    if room.protocol.people[person].kind is not PersonKind.STAFF:
        return None
    dirty = [where.name for where in places.values() if where.dirty_side]
    if not dirty or to in dirty:
        return None
    hands = [
        room.body_of[person, part.name]
        for part in room.protocol.body_parts
        if part.of is PersonKind.STAFF and part.counts is Counts.SKIN
    ]
    bare = AllOf(
        tuple(
            LayerHas(layer, frozenset({NOTHING}))
            for body in hands
            for layer in room.body_records[body].layers
        )
    )
    elsewhere = AllOf(tuple(FactIs(room.is_in(person, name), value=False) for name in dirty))
    return AnyOf((elsewhere, bare))


def together(room: Room, one: str, other: str) -> Claim:
    """The two people are in the same place, or both outside of all of them."""
    outside = tuple(
        FactIs(room.is_in(who, where), value=False)
        for where in room.protocol.places
        for who in (one, other)
    )
    same = [
        AllOf(tuple(FactIs(room.is_in(who, where), value=True) for who in (one, other)))
        for where in room.protocol.places
    ]
    return AnyOf((*same, AllOf(outside)))


def from_afar(room: Room, effects: Iterable[Effect]) -> Iterator[tuple[str, str, str | None]]:
    """Who touches what that stands in which place: (person, thing, place), each once.

    Of two people who touch: (one, the other, None).
    """
    if not room.protocol.places:
        return iter(())
    owners = room.owner_of
    found: dict[tuple[str, str, str | None], None] = {}
    people = room.protocol.people
    for effect in effects:
        if not isinstance(effect, Meet | Pass):
            continue
        targets = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
        bodies = [target.body for target in targets if isinstance(target, Outer)]
        # What is kept in a box beside one of many has no name of its own: the box stands for it.
        names = [owners[body] for body in bodies if body in owners]
        things = [room.protocol.things[name] for name in names if name in room.protocol.things]
        touching = list(dict.fromkeys(name for name in names if name in people))
        for at, person in enumerate(touching):
            for thing in things:
                if thing.stands_in is not None:
                    found[person, thing.name, thing.stands_in] = None
            for other in touching[at + 1 :]:
                found[person, other, None] = None
    return iter(found)


def safe_at_a_distance(where: RoomPlace) -> bool:
    """Whether somebody can stand there at an exposure without a barrier.

    At least so far from the patient, and in this range of angles from the beam (NCRP report 145,
    2003: 2 m; 90 to 135 degrees, second-hand). Local codes come first.
    """
    if where.metres is None or where.degrees is None:
        return False
    least, most = safe_angles()
    return where.metres >= least_distance() and least <= where.degrees <= most


def silent_about_exposures(places: Iterable[RoomPlace]) -> bool:
    """Whether no place tells where somebody may be at an exposure."""
    return all(
        where.metres is None and where.degrees is None and not (where.barrier or where.in_view)
        for where in places
    )


def exposed(room: Room, by: str) -> Iterator[tuple[Person, tuple[str, ...], bool, Claim]]:
    """Everybody but the patient, with the places where they may be at an exposure by ``by``,
    and whether outside of all places will do too.

    Who exposes is in one of them, and if a barrier is what protects there, sees the patient. The
    others may also be behind any barrier, or outside of all places. Where no place says anything
    of exposures (a darkroom alone), one is made outside of all of them, by whoever may be there:
    everybody is outside, and the conditions of the verb are what is asked.
    """
    places = room.protocol.places.values()
    if not places:
        return
    silent = silent_about_exposures(places)
    for person in room.protocol.people.values():
        if person.kind is PersonKind.PATIENT or (person.stays and person.name != by):
            continue
        doing = person.name == by
        safe = [
            where.name
            for where in places
            if safe_at_a_distance(where) or (where.barrier and (where.in_view or not doing))
        ]
        there: list[Claim] = [FactIs(room.is_in(person.name, name), value=True) for name in safe]
        outside = silent or not doing
        if outside:
            there.append(
                AllOf(
                    tuple(
                        FactIs(room.is_in(person.name, where.name), value=False) for where in places
                    )
                )
            )
        yield person, tuple(safe), outside, AnyOf(tuple(there))
