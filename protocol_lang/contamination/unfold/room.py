"""Spots, pieces, bodies and layers of a room: what can hold soil, and what can cover what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field

from protocol_lang.contamination.kernel import (
    NOTHING,
    OF_PATIENTS,
    Amount,
    At,
    Bits,
    Body,
    Effect,
    Fact,
    Fit,
    Held,
    Layer,
    Moment,
    Origin,
    Outer,
    Piece,
    Reach,
    Reached,
    RetireCameOff,
    Source,
    Spot,
    Target,
    Unfit,
)
from protocol_lang.contamination.unfold.worlds import Worlds
from protocol_lang.model.parts import BodyPart, Counts, FactOf, Person, PersonKind, Start, Thing
from protocol_lang.model.protocol import Floor, Protocol

_BOTH = frozenset(Amount)
_FULL = frozenset({Amount.FULL})
_WORLD = frozenset({Origin.EVERYDAY, Origin.DIRT, Origin.CHEMICAL})
_CHEMICAL = frozenset({Origin.CHEMICAL})


def _reach_of_person(person: Person, part: BodyPart) -> tuple[Reach, ...]:
    """The table of rule 11 for parts of people."""
    if part.of is PersonKind.STAFF:
        match part.counts:
            case Counts.FACE | Counts.MOUTH:
                return (
                    Reach(Reached.STAFF, OF_PATIENTS, _BOTH),
                    Reach(Reached.STAFF, _CHEMICAL, _FULL),
                )
            case Counts.SKIN:
                return (
                    Reach(Reached.STAFF, OF_PATIENTS, _FULL, through_tears=False),
                    Reach(Reached.HANDS_AT_END, OF_PATIENTS, _BOTH, moment=Moment.END),
                )
            case Counts.NEAR_THE_FACE:
                return (Reach(Reached.STAFF, OF_PATIENTS, _FULL),)
            case Counts.CLOTHES:
                return ()
    mine = frozenset({own_soil(person)})
    # Where one visit runs into the next there are two patients, each with soil that is another's.
    others = (
        Reach(Reached.PATIENT, mine, _BOTH, own=False),
        Reach(Reached.PATIENT, OF_PATIENTS - mine, _BOTH),
    )
    if part.counts is Counts.MOUTH:
        return (*others, Reach(Reached.PATIENT, _WORLD, _BOTH))
    return others


def own_soil(person: Person) -> Origin:
    """Where the soil of a patient, or of whoever comes along, is from."""
    return Origin.NEXT if person.second else Origin.PATIENT


#: Where a part of a person or thing is: its name, and the part's name ("" for an undivided thing).
Key = tuple[str, str]


@dataclass(slots=True)
class Room:
    """The tables of a plan while it is being made; numbers are places in the lists.

    ``owner_of``, ``bodies_of``: who or what a body belongs to, and all bodies of each.
    """

    protocol: Protocol
    worlds: Worlds
    spots: list[Spot] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    layers: list[Layer] = field(default_factory=list)
    body_records: list[Body] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    body_of: dict[Key, int] = field(default_factory=dict)
    owner_of: dict[int, str] = field(default_factory=dict)
    bodies_of: dict[str, list[int]] = field(default_factory=dict)
    piece_of: dict[str, int] = field(default_factory=dict)
    instances: dict[str, list[int]] = field(default_factory=dict)
    holds: dict[tuple[str, str | None], int] = field(default_factory=dict)
    layers_for: dict[tuple[str, str], list[tuple[str, int]]] = field(default_factory=dict)
    others: dict[str, int] = field(default_factory=dict)
    fact_of: dict[tuple[str, str | None], int] = field(default_factory=dict)
    sequels: dict[tuple[int, int], int] = field(default_factory=dict)
    begun: list[tuple[str, str | None, int]] = field(default_factory=list)
    before: list[Effect] = field(default_factory=list)
    _mouths: frozenset[int] | None = None
    _floors_of: dict[frozenset[str], tuple[tuple[Bits, int], ...]] = field(default_factory=dict)

    # People

    def add_person(self, person: Person) -> None:
        for part in self.protocol.body_parts:
            if part.of is person.kind:
                self._add_part(person, part)

    def _add_part(self, person: Person, part: BodyPart) -> None:
        staff = person.kind is PersonKind.STAFF
        spot = self._spot(
            f"{person.name}'s {part.name}",
            lasting=staff,
            floors=self._floors({part.name}),
            reach=_reach_of_person(person, part),
        )
        covers = [thing for thing in self.protocol.things.values() if thing.worn_on == part.name]
        depth = {thing.name: _depth(thing, self.protocol.things) for thing in covers}
        layers: list[int] = []
        for level in range(max(depth.values(), default=-1) + 1):
            names = [name for name, at in depth.items() if at == level]
            layers.append(self._layer(f"{' or '.join(names)} on {person.name}'s {part.name}"))
            for name in names:
                self.layers_for[person.name, name] = [(part.name, layers[-1])]
        self._own(person.name, part.name, self._body(spot, layers))
        own = own_soil(person)
        if part.full_of is not None:
            self.sources.append(Source(spot, own, Amount.FULL, lasting=True))
        if part.unclean:
            patient = person.kind is PersonKind.PATIENT
            origin = own if patient else Origin.EVERYDAY
            self.sources.append(Source(spot, origin, Amount.TRACE))

    # Things

    def add_thing(self, thing: Thing) -> None:
        if thing.used_once:
            self.instances.setdefault(thing.name, [])
            return
        spots: list[int] = []
        for part in parts_of(thing):
            name = f"{thing.name}'s {part}" if part else thing.name
            spot = self._spot(
                name,
                lasting=True,
                floors=self._floors(thing.traits),
                reach=_reach_of_thing(thing),
            )
            spots.append(spot)
            layers = [
                self._layer(f"{cover} on {name}")
                for cover, parts in thing.takes
                if not parts or part in parts
            ]
            for (cover, _), layer in zip(
                [entry for entry in thing.takes if not entry[1] or part in entry[1]],
                layers,
                strict=True,
            ):
                self.layers_for.setdefault((thing.name, cover), []).append((part, layer))
            self._own(thing.name, part, self._body(spot, layers))
            if thing.start is Start.EVERYDAY:
                self.sources.append(Source(spot, Origin.EVERYDAY, Amount.TRACE, lasting=True))
            elif thing.start is Start.DIRTY:
                self.sources.append(Source(spot, Origin.DIRT, Amount.FULL, lasting=True))
            elif thing.start is Start.CHEMICAL:
                self.sources.append(Source(spot, Origin.CHEMICAL, Amount.FULL, lasting=True))
        self.piece_of[thing.name] = self._piece(thing, spots)

    def begin_covered(
        self, layers: Iterable[int], cover: Thing, used: bool, before: bool = False
    ) -> int:
        """At the start of a visit ``cover`` is on the layers; ``used``: with this patient's
        soil. ``before``: it was put on by what went before, and the visit began as the room
        says."""
        piece = self.piece_of.get(cover.name)
        if piece is None:
            piece = self.new_piece(cover)
        if before:
            self._take_off(layers)
            self.before.append(Fit(tuple(layers), piece))
        else:
            for layer in layers:
                self.layers[layer] = Layer(self.layers[layer].name, piece)
        if used:
            self.sources += [
                Source(spot, Origin.PATIENT, Amount.FULL) for spot in self.pieces[piece].spots
            ]
        return piece

    def begin_bare(self, bodies: Iterable[int], before: bool) -> None:
        """At the start of a visit nothing is on the bodies; ``before`` as above."""
        layers = [layer for body in bodies for layer in self.body_records[body].layers]
        if before:
            self._take_off(layers)
        else:
            for layer in layers:
                self.layers[layer] = Layer(self.layers[layer].name, NOTHING)

    def begin_used(self, bodies: Iterable[int]) -> None:
        """At the start of a visit the patient's soil is on the bodies' own spots."""
        self.sources += [
            Source(self.body_records[body].spot, Origin.PATIENT, Amount.FULL) for body in bodies
        ]

    def _take_off(self, layers: Iterable[int]) -> None:
        """What went before has taken off what the layers hold, and thrown it away if it is used
        once; the outermost first."""
        by_piece: dict[int, list[int]] = {}
        for layer in layers:
            by_piece.setdefault(self.layers[layer].start, []).append(layer)
        for piece, held in reversed(by_piece.items()):
            if piece != NOTHING:
                self.before.append(Unfit(tuple(held)))
                if self.pieces[piece].single_use:
                    self.before.append(RetireCameOff())

    def new_piece(self, thing: Thing) -> int:
        """One more instance of a thing that is used once."""
        spots = [
            self._spot(
                f"{thing.name}'s {part}" if part else thing.name,
                lasting=False,
                floors=self._floors(thing.traits),
                reach=_reach_of_thing(thing),
            )
            for part in parts_of(thing)
        ]
        piece = self._piece(thing, spots)
        self.instances[thing.name].append(piece)
        return piece

    def spot_of_piece(self, piece: int, thing: Thing, part: str | None) -> list[int]:
        """The spots of a piece: of that part, or all."""
        spots = self.pieces[piece].spots
        if part is None:
            return list(spots)
        names = parts_of(thing)
        return [spots[names.index(part)]]

    def bodies(self, name: str, part: str | None) -> list[int]:
        """The bodies of a part of a person or lasting thing, or of all parts of the thing."""
        if part is not None:
            return [self.body_of[name, part]]
        return list(self.bodies_of.get(name, ()))

    def part_named(self, name: str) -> tuple[str, str | None]:
        """The thing and the part that a step calls "sensor's head"; any other name as it is."""
        owner, _, part = name.rpartition("'s ")
        thing = self.protocol.things.get(owner)
        if name in self.protocol.things or thing is None or thing.used_once:
            return name, None
        return (owner, part) if part in {one.name for one in thing.parts} else (name, None)

    def mouths(self) -> Set[int]:
        """The bodies that are mouths."""
        if self._mouths is None:
            self._mouths = frozenset(
                self.body_of[person.name, part.name]
                for person in self.protocol.people.values()
                for part in self.protocol.body_parts
                if part.of is person.kind and part.counts is Counts.MOUTH
            )
        return self._mouths

    def outer(self, name: str, part: str | None) -> list[Target]:
        return [Outer(body) for body in self.bodies(name, part)]

    def at_piece(self, piece: int, thing: Thing, part: str | None) -> list[Target]:
        return [At(spot) for spot in self.spot_of_piece(piece, thing, part)]

    def held(self, thing: Thing, person: str | None, part: str | None) -> list[Target]:
        """What "the wipe" means to a person: the last one taken, by that person if ever one was."""
        hold = self.holds.get((thing.name, person))
        if hold is None:
            hold = self.hold(thing.name, None)
        pieces = self.instances[thing.name]
        names = parts_of(thing)
        wanted = range(len(names)) if part is None else (names.index(part),)
        return [
            Held(hold, tuple((piece, self.pieces[piece].spots[index]) for piece in pieces))
            for index in wanted
        ]

    def hold(self, thing: str, person: str | None) -> int:
        """The number of the hold for a kind of thing, of one person or of whoever took it last."""
        return self.holds.setdefault((thing, person), len(self.holds))

    def fact(self, name: str, subject: str | None) -> int:
        """The number of a fact of the visit, of a person or of a thing."""
        key = (name, subject)
        if key not in self.fact_of:
            record = self.protocol.facts.get(name)
            lasting = record is not None and record.lasting
            person = self.protocol.people.get(subject) if subject is not None else None
            where = record.where if record is not None else None
            start = where is not None and person is not None and person.starts_in == where
            shown = name if subject is None else f"{subject}: {name}"
            self.fact_of[key] = len(self.facts)
            self.facts.append(Fact(shown, start=start, lasting=lasting))
        return self.fact_of[key]

    def is_in(self, person: str, where: str) -> int:
        """The number of the fact that the person is in the place."""
        return self.fact(self.protocol.places[where].being_there, person)

    def own_fact(self, shown: str) -> int:
        """The number of a new fact that no author names, not so when a visit begins."""
        self.facts.append(Fact(shown))
        return len(self.facts) - 1

    def sequel(self, fact: int, since: int) -> int:
        """The number of a fact of its own: ``fact`` was made so after ``since`` last was.

        Each act that makes ``since`` so ends it, each act that makes ``fact`` so sets it.
        """
        key = (fact, since)
        if key not in self.sequels:
            shown = f"{self.facts[fact].name} since {self.facts[since].name}"
            self.sequels[key] = len(self.facts)
            self.facts.append(Fact(shown))
        return self.sequels[key]

    def others_in(self, box: str) -> Target:
        """All that is kept in the box together with the one in use: one spot that lasts.

        Nobody treats it: to treat the box, or the one in use, is not to treat the others.
        """
        if box not in self.others:
            spot = self._spot(others_name(box), lasting=True, floors=(), reach=())
            self.others[box] = self._body(spot, [])
        return Outer(self.others[box])

    def outside(self) -> int:
        """The spot of all that hands meet between two days, soiled as the everyday world is."""
        spot = self._spot("what hands met over night", lasting=True, floors=(), reach=())
        self.sources.append(Source(spot, Origin.EVERYDAY, Amount.TRACE, lasting=True))
        return spot

    # Making records

    def _spot(
        self,
        name: str,
        lasting: bool,
        floors: tuple[tuple[Bits, int], ...],
        reach: tuple[Reach, ...],
    ) -> int:
        self.spots.append(Spot(name, lasting, floors, reach))
        return len(self.spots) - 1

    def _layer(self, name: str) -> int:
        self.layers.append(Layer(name, NOTHING))
        return len(self.layers) - 1

    def _body(self, spot: int, layers: list[int]) -> int:
        self.body_records.append(Body(spot, tuple(layers)))
        return len(self.body_records) - 1

    def _own(self, owner: str, part: str, body: int) -> None:
        self.body_of[owner, part] = body
        self.owner_of[body] = owner
        self.bodies_of.setdefault(owner, []).append(body)

    def _piece(self, thing: Thing, spots: list[int]) -> int:
        self.pieces.append(
            Piece(
                thing.name,
                thing.name,
                tuple(spots),
                spots[0],
                leaks=thing.leaks,
                lets=thing.lets,
                single_use=thing.used_once and not thing.thrown_after_use,
            )
        )
        return len(self.pieces) - 1

    def _floors(self, traits: Set[str]) -> tuple[tuple[Bits, int], ...]:
        """:meth:`_floors_for`, remembered: all instances of a thing have the same traits."""
        key = frozenset(traits)
        floors = self._floors_of.get(key)
        if floors is None:
            floors = self._floors_of[key] = self._floors_for(key)
        return floors

    def _floors_for(self, traits: Set[str]) -> tuple[tuple[Bits, int], ...]:
        """The floor of what has these traits, world by world (the most traits first)."""
        levels = self.protocol.levels
        matching = sorted(
            (floor for floor in self.protocol.floors if floor.traits <= traits),
            key=lambda floor: (len(floor.traits), floor.where is not None),
            reverse=True,
        )
        left = self.worlds.all
        floors: dict[int, Bits] = {}
        for floor in matching:
            within = left & _worlds_of_floor(floor, self.worlds)
            if within:
                rank = levels[floor.level].rank
                floors[rank] = floors.get(rank, 0) | within
                left &= ~within
        if not floors:
            return ()
        if left:
            floors[NO_FLOOR] = left
        return tuple((within, rank) for rank, within in sorted(floors.items()))


#: A rank that no level has: stands for "no floor here" in a world where others have one.
NO_FLOOR = 1_000_000


def _worlds_of_floor(floor: Floor, worlds: Worlds) -> Bits:
    return worlds.all if floor.where is None else worlds.where(floor.where)


def others_name(box: str) -> str:
    """How the spot of what else is kept in a box is called."""
    return f"what else is in {box}"


def parts_of(thing: Thing) -> list[str]:
    """The names of its parts; an undivided thing has one, without a name."""
    return [part.name for part in thing.parts] or [""]


def _depth(thing: Thing, things: Mapping[str, Thing]) -> int:
    """How many covers lie under this one when it is worn."""
    depth = 0
    seen = {thing.name}
    while thing.over is not None and thing.over in things and thing.over not in seen:
        seen.add(thing.over)
        thing = things[thing.over]
        depth += 1
    return depth


def _reach_of_thing(thing: Thing) -> tuple[Reach, ...]:
    if thing.start is Start.KEPT_CLEAN:
        return (Reach(Reached.CLEAN_THING, OF_PATIENTS, _BOTH),)
    return ()


def room_of(protocol: Protocol, worlds: Worlds) -> Room:
    """The room with everybody and everything in it, as a visit starts."""
    room = Room(protocol, worlds)
    for person in protocol.people.values():
        room.add_person(person)
    for thing in protocol.things.values():
        room.add_thing(thing)
    for thing in protocol.things.values():
        if thing.starts_covered is not None and not thing.used_once:
            layers = [layer for _, layer in room.layers_for[thing.name, thing.starts_covered]]
            room.begin_covered(layers, protocol.things[thing.starts_covered], used=False)
    for fact in protocol.facts.values():
        if fact.of is FactOf.VISIT:
            room.fact(fact.name, None)
    return room
