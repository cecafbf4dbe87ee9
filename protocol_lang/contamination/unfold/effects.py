"""The lines of a verb, with names filled in, as effects on targets.

One :class:`Writer` writes one act. What a name means is settled here once: a person's part, a
lasting thing, a new instance of a thing that is used once, or the one last taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from protocol_lang.contamination.kernel import (
    NOTHING,
    Amount,
    At,
    CameOff,
    Effect,
    Fit,
    Judge,
    Meet,
    Origin,
    Outer,
    Pass,
    Retire,
    RetireCameOff,
    RetireHeld,
    SetFact,
    Take,
    Target,
    Tear,
    Treat,
    Treatment,
    Unfit,
    Wash,
    Wet,
)
from protocol_lang.contamination.kernel import AllOf as KAll
from protocol_lang.contamination.kernel import AnyOf as KAny
from protocol_lang.contamination.kernel import Claim as KClaim
from protocol_lang.contamination.kernel import FactIs as KFact
from protocol_lang.contamination.kernel import IsWet as KWet
from protocol_lang.contamination.kernel import LayerHas as KLayer
from protocol_lang.contamination.kernel import Not as KNot
from protocol_lang.contamination.unfold.places import (
    exposed,
    from_afar,
    gloves_left_behind,
    moved,
    together,
)
from protocol_lang.contamination.unfold.room import Room
from protocol_lang.findings import Finding
from protocol_lang.model.conditions import (
    AnySo,
    Claim,
    EverySo,
    FactHolds,
    FactSince,
    IsCleanOf,
    IsCovered,
    IsDry,
    IsIn,
    NotSo,
)
from protocol_lang.model.parts import PersonKind, Thing
from protocol_lang.model.verbs import (
    CoversWith,
    Exposes,
    LaysOut,
    Line,
    Meets,
    Moves,
    OfPatient,
    OfPerson,
    OfPlace,
    OfSlot,
    OfThing,
    Passes,
    Reduces,
    Ref,
    Retires,
    SetsFact,
    Takes,
    Tears,
    Uncovers,
    Verb,
    Washes,
    WhatCameOff,
    WhereFrom,
)
from protocol_lang.text import Place

#: What a verb calls the cover that goes with a thing ("SURFACE's cover").
ITS_COVER = "cover"
#: The fact of a thing that a supply has been laid out.
LAID_OUT = "laid out"


@dataclass(frozen=True, slots=True)
class PendingClaim:
    """A claim to be turned into the kernel's once all instances are known, with what it is
    about."""

    kind: str
    claim: Claim | KClaim
    place: Place
    facts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Treating:
    """Something is treated, or washed, with a thing (a wipe, a bath): ``effect`` is where that
    begins, on ``targets``."""

    effect: Treat | Wet | Wash
    thing: str
    targets: tuple[Target, ...]


@dataclass(slots=True)
class Written:
    """One act as written so far: its effects, what must hold, what it wets, and what it judges.

    ``treating``: what is treated with which thing. ``laid_out``: supplies with how many of each
    (None: as many as are taken). ``taken``: supplies of which one was taken from where it is laid
    out.
    """

    effects: list[Effect] = field(default_factory=list)
    claims: list[PendingClaim] = field(default_factory=list)
    wets: list[int] = field(default_factory=list)
    treating: list[Treating] = field(default_factory=list)
    laid_out: list[tuple[str, int | None]] = field(default_factory=list)
    taken: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Entity:
    """What a reference comes down to: a person's part or a thing (part None: the whole)."""

    owner: str
    part: str | None
    thing: Thing | None


class CannotBeDone(Exception):
    """A line that cannot be done with what fills its slots: the finding says why."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.kind)
        self.finding = finding


class Writer:
    """Writes the effects of one act.

    ``filled``: what fills each slot (one name, but for a slot that takes all at once). ``actor``:
    who does it. ``pieces``: the instances this act makes, by (thing, how many-th of this act):
    known ones are used again, so that writing the same act twice gives the same pieces.
    ``numbers``: how many of a supply are laid out.
    """

    def __init__(
        self,
        room: Room,
        filled: Mapping[str, tuple[str, ...]],
        actor: str,
        pieces: dict[tuple[str, int], int],
        treatments: list[Treatment],
        wet_minutes: list[int],
        place: Place,
        numbers: Mapping[str, int] | None = None,
    ) -> None:
        self.room = room
        self.filled = filled
        self.actor = actor
        self.pieces = pieces
        self.treatments = treatments
        self.wet_minutes = wet_minutes
        self.place = place
        self.numbers = numbers or {}
        self.taken: dict[str, int] = {}
        self.made: dict[str, int] = {}
        self.act = Written()
        #: Whether what was written depends on the instances that there are of something.
        self.names_instances = False

    def again(self, treatments: list[Treatment], wet_minutes: list[int]) -> None:
        """Takes the act over into other lists of treatments, in which it stands as it did in the
        ones that it was written for. Only where it does not depend on instances."""
        for number in self.act.wets:
            assert number == len(treatments), "acts are taken over in the order of their writing"
            treatments.append(self.treatments[number])
            wet_minutes.append(self.wet_minutes[number])
        self.treatments, self.wet_minutes = treatments, wet_minutes

    # Names

    def entities(self, ref: Ref) -> list[Entity]:
        """Who or what the reference is, a member each for a group or a list."""
        protocol = self.room.protocol
        match ref:
            case OfSlot(slot, part):
                return [self._entity(name, part) for name in self.filled[slot]]
            case OfThing(thing, part):
                group = protocol.groups.get(thing)
                names = group.members if group is not None else (thing,)
                return [self._entity(name, part) for name in names]
            case OfPatient(part):
                patients = [
                    person.name
                    for person in protocol.people.values()
                    if person.kind is PersonKind.PATIENT and person.second is self.place.again
                ]
                return [self._entity(name, part) for name in patients]
            case OfPerson(person, part):
                return [self._entity(person, part)]
            case WhereFrom(what):
                sources = [
                    entity.thing.comes_from
                    for entity in self.entities(what)
                    if entity.thing is not None and entity.thing.comes_from is not None
                ]
                return [self._entity(name, None) for name in sources]
            case WhatCameOff() | OfPlace():
                return []

    def _entity(self, name: str, part: str | None) -> Entity:
        thing = self.room.protocol.things.get(name)
        owner, own_part = self.room.part_named(name)
        if own_part is not None and part is None:
            return Entity(owner, own_part, self.room.protocol.things[owner])
        if thing is None:
            if part is None or (name, part) not in self.room.body_of:
                raise CannotBeDone(
                    self._finding("no-such-part", {"owner": name, "part": part or ""})
                )
        elif part is not None and part not in {one.name for one in thing.parts}:
            if part == ITS_COVER and thing.takes:
                cover = self._its_cover(thing)
                return Entity(cover.name, None, cover)
            raise CannotBeDone(self._finding("no-such-part", {"owner": name, "part": part}))
        return Entity(name, part, thing)

    def _its_cover(self, thing: Thing) -> Thing:
        """The cover that goes with a thing: the one it starts with, or the only one it takes."""
        if thing.starts_covered is not None:
            return self.room.protocol.things[thing.starts_covered]
        names = list(dict.fromkeys(cover for cover, _ in thing.takes))
        if len(names) > 1:
            raise CannotBeDone(
                self._finding("which-cover", {"thing": thing.name, "covers": " or ".join(names)})
            )
        return self.room.protocol.things[names[0]]

    def targets(self, refs: Iterable[Ref]) -> tuple[Target, ...]:
        """Everything that the references touch with."""
        found: list[Target] = []
        for ref in refs:
            if isinstance(ref, WhatCameOff):
                found.append(CameOff())
                continue
            for entity in self.entities(ref):
                found += self._targets(entity)
        return tuple(dict.fromkeys(found))

    def _targets(self, entity: Entity) -> list[Target]:
        thing = entity.thing
        if thing is None or not thing.used_once:
            return self.room.outer(entity.owner, entity.part)
        if thing.name in self.taken:
            return self.room.at_piece(self.taken[thing.name], thing, entity.part)
        return self._held(thing, entity.part)

    def _held(self, thing: Thing, part: str | None) -> list[Target]:
        """What "the wipe" means to who does the act: whichever instance was last taken."""
        self.names_instances = True
        return self.room.held(thing, self.actor, part)

    # Lines

    def verb(self, verb: Verb) -> None:
        """Everything the verb says: what must hold, then its lines in order."""
        for claim in verb.claims:
            self.claim("only-when", claim, verb.place)
        for line in verb.lines:
            self.line(line)
        self._duties(verb)
        self._sleeved()
        for person, thing, where in from_afar(self.room, self.act.effects):
            facts = {"person": person, "thing": thing}
            if where is None:
                there = together(self.room, person, thing)
            else:
                there = KFact(self.room.is_in(person, where), value=True)
                facts["where"] = where
            self.act.claims.append(PendingClaim("from-afar", there, self.place, facts))

    def claim(self, kind: str, claim: Claim, place: Place) -> None:
        """Something that must hold before the act; cleanliness becomes a judgement."""
        if isinstance(claim, EverySo):
            for part in claim.parts:
                self.claim(kind, part, place)
        else:
            self.act.claims.append(PendingClaim(kind, claim, place, {}))

    def claims_at_border(self, kind: str, claims: Iterable[Claim], place: Place) -> None:
        """Claims where a protocol begins or ends, each told at its own place."""
        for claim in claims:
            for part in claim.parts if isinstance(claim, EverySo) else (claim,):
                at = getattr(part, "place", getattr(getattr(part, "part", None), "place", place))
                self.act.claims.append(PendingClaim(kind, part, at, {}))

    def line(self, line: Line) -> None:
        effects = self.act.effects
        match line:
            case Meets(refs, trace):
                self._meet(refs, _amount(trace))
            case Passes(sources, goals, trace):
                effects.append(Pass(self.targets(sources), self.targets(goals), _amount(trace)))
            case Takes(what, hands):
                for entity in self.entities(what):
                    self._take(entity, hands)
            case LaysOut(what, hands):
                for entity in self.entities(what):
                    self._lay_out(entity, hands)
            case CoversWith(what, cover):
                self._cover(what, self._cover_thing(cover))
            case Uncovers(what, cover):
                thing = self._cover_thing(cover)
                for entity in self.entities(what):
                    effects.append(Unfit(tuple(self.layers(entity, thing))))
            case Tears(cover, what):
                thing = self._cover_thing(cover)
                for entity in self.entities(what):
                    effects.append(Tear(tuple(self.layers(entity, thing))))
            case Washes(refs):
                washes = Wash(self.targets(refs))
                effects.append(washes)
                self.act.treating += [
                    Treating(washes, name, washes.targets) for name in self._products()
                ]
            case Reduces():
                self._reduce(line)
            case Retires(what, stream):
                self._retire(what, stream)
            case SetsFact(fact, subject, value):
                for name in self._subjects(subject):
                    effects.append(SetFact(self.room.fact(fact, name), value))
            case Moves(who, to):
                where = self.filled[to.slot][0] if isinstance(to, OfSlot) else to
                for name in self._subjects(who):
                    assert name is not None
                    effects += moved(self.room, name, where)
                    behind = gloves_left_behind(self.room, name, where)
                    if behind is not None:
                        facts = {"person": name}
                        self.act.claims.append(
                            PendingClaim("gloves-behind", behind, self.place, facts)
                        )
            case Exposes(by):
                for name in self._subjects(by):
                    assert name is not None
                    self._expose(name)

    def _meet(self, refs: tuple[Ref, ...], amount: Amount) -> None:
        """One handling. The parts of one thing touch the rest, but not each other.

        With a thing of several parts that is: what else there is meets, passes what it has onto
        each part, and then each part passes what it has onto the rest.
        """
        whole: list[tuple[Target, ...]] = []
        single: list[Target] = []
        for ref in refs:
            if isinstance(ref, WhatCameOff):
                single.append(CameOff())
                continue
            for entity in self.entities(ref):
                targets = self._targets(entity)
                if len(targets) > 1:
                    whole.append(tuple(targets))
                else:
                    single += targets
        single += self._given_back(refs)
        rest = tuple(dict.fromkeys(single))
        effects = self.act.effects
        if len(rest) > 1 or not whole:
            effects.append(Meet(rest, amount))
        others = [rest, *whole] if rest else whole
        for number, group in enumerate(others):
            for other in others[number + 1 :]:
                effects.append(Pass(group, other, amount))
        for number, group in enumerate(others):
            for other in others[number + 1 :]:
                effects.append(Pass(other, group, amount))

    def _given_back(self, refs: Iterable[Ref]) -> list[Target]:
        """What lies in a box where one of many meets that box."""
        entities = [
            entity
            for ref in refs
            if not isinstance(ref, WhatCameOff)
            for entity in self.entities(ref)
        ]
        owners = {entity.owner for entity in entities}
        return [
            target
            for entity in entities
            if entity.thing is not None and entity.thing.kept_in in owners
            for target in self._others(entity.thing)
        ]

    def _subjects(self, subject: Ref | None) -> list[str | None]:
        if subject is None:
            return [None]
        if isinstance(subject, OfSlot) and subject.part is None:
            return list(self.filled[subject.slot])
        if isinstance(subject, OfPerson):
            return [subject.person]
        if isinstance(subject, OfPlace):
            return [subject.where]
        return [entity.owner for entity in self.entities(subject)]

    def _take(self, entity: Entity, hands: Ref) -> None:
        thing = self._thing(entity)
        effects = self.act.effects
        if thing.used_once:
            piece = self._new(thing)
            for person in (self.actor, None):
                effects.append(Take(self.room.hold(thing.name, person), piece))
            whole = self.room.at_piece(piece, thing, None)
            met = self.room.at_piece(piece, thing, entity.part)
        else:
            whole = self.room.outer(thing.name, None)
            met = self.room.outer(thing.name, entity.part)
        hand = self.targets((hands,))
        others = self._others(thing)
        if others and thing.stocked_from is None:
            # Whichever it is: the one that went by this name before is now among the others.
            effects.append(Pass(tuple(whole), others))
            effects.append(Pass(others, tuple(whole)))
        if thing.comes_from is None:
            effects.append(Meet((*hand, *met)))
            return
        source = tuple(self.room.outer(thing.comes_from, None))
        effects.append(Pass(source, tuple(whole)))
        if thing.stocked_from is None:
            effects.append(Meet((*hand, *source, *others, *met)))
        else:
            laid_out = KFact(self.room.fact(LAID_OUT, thing.name), value=True)
            self.act.claims.append(
                PendingClaim(
                    "laid-out",
                    laid_out,
                    self.place,
                    {"thing": thing.name, "surface": thing.comes_from},
                )
            )
            effects.append(Meet((*hand, *met)))
            if thing.used_once:
                self.act.taken.append(thing.name)

    def _lay_out(self, entity: Entity, hands: Ref) -> None:
        thing = self._thing(entity)
        if thing.comes_from is None or thing.stocked_from is None:
            raise CannotBeDone(self._finding("not-laid-out", {"thing": thing.name}))
        number = self.numbers.get(thing.name)
        if number is not None and not thing.used_once:
            raise CannotBeDone(self._finding("number-of-one", {"thing": thing.name}))
        self.act.laid_out.append((thing.name, number))
        stock = self.room.outer(thing.stocked_from, None)
        surface = self.room.outer(thing.comes_from, None)
        hand = self.targets((hands,))
        self.act.effects.append(Meet((*hand, *stock, *self._others(thing), *surface)))
        self.act.effects.append(SetFact(self.room.fact(LAID_OUT, thing.name), value=True))

    def _others(self, thing: Thing) -> tuple[Target, ...]:
        """What is kept together with a thing that is one of many."""
        if not thing.one_of_many or thing.kept_in is None:
            return ()
        return (self.room.others_in(thing.kept_in),)

    def _new(self, thing: Thing) -> int:
        number = self.made.get(thing.name, 0)
        self.made[thing.name] = number + 1
        piece = self.pieces.get((thing.name, number))
        if piece is None:
            piece = self.pieces[thing.name, number] = self.room.new_piece(thing)
        self.taken[thing.name] = piece
        return piece

    def _cover(self, what: Ref, cover: Thing) -> None:
        if cover.used_once:
            piece = self.taken.get(cover.name)
            if piece is None:
                piece = self._new(cover)
                for person in (self.actor, None):
                    self.act.effects.append(Take(self.room.hold(cover.name, person), piece))
        else:
            piece = self.room.piece_of[cover.name]
        for entity in self.entities(what):
            self.act.effects.append(Fit(tuple(self.layers(entity, cover)), piece))

    def _cover_thing(self, cover: OfSlot | OfThing) -> Thing:
        if isinstance(cover, OfSlot) and cover.part != ITS_COVER:
            cover = OfSlot(cover.slot)
        (entity,) = self.entities(cover)
        return self._thing(entity)

    def _thing(self, entity: Entity) -> Thing:
        if entity.thing is None:
            raise CannotBeDone(self._finding("no-such-part", {"owner": entity.owner, "part": ""}))
        return entity.thing

    def layers(self, entity: Entity, cover: Thing) -> list[int]:
        """The layers of the entity on which such a cover goes.

        A cover that goes over several parts of a thing goes over all of them, and comes off all.
        """
        layers = [
            layer
            for part, layer in self.room.layers_for.get((entity.owner, cover.name), ())
            if entity.part is None or part == entity.part
        ]
        if layers and entity.thing is not None:
            layers = [layer for _, layer in self.room.layers_for[entity.owner, cover.name]]
        if not layers:
            shown = f"{entity.owner}'s {entity.part}" if entity.part else entity.owner
            raise CannotBeDone(
                self._finding("takes-no-such-cover", {"what": shown, "cover": cover.name})
            )
        return layers

    def _reduce(self, line: Reduces) -> None:
        levels = self.room.protocol.levels
        minutes: int | None = None
        with_what: str | None = None
        if line.product is not None:
            (entity,) = self.entities(OfSlot(line.product))
            product = self._thing(entity)
            if product.level is None:
                raise CannotBeDone(self._finding("treats-to-nothing", {"thing": product.name}))
            level, minutes, with_what = product.level, product.wet_minutes, product.name
        else:
            assert line.level is not None  # the grammar asks for one of the two
            level = line.level
        number = list(levels).index(level)
        targets = self.targets(line.refs)
        began: Treat | Wet
        if minutes is None or line.through is not None:
            began = Treat(targets, number, line.through)
            self.act.effects.append(began)
            if with_what is not None:
                self.act.treating.append(Treating(began, with_what, targets))
            return
        lasting = tuple(target for target in targets if isinstance(target, Outer | At))
        treatment = len(self.treatments)
        self.treatments.append(Treatment(lasting, number))
        self.wet_minutes.append(minutes)
        began = Wet(treatment)
        self.act.effects.append(began)
        self.act.wets.append(treatment)
        if with_what is not None:
            self.act.treating.append(Treating(began, with_what, targets))

    def _products(self) -> Iterator[str]:
        """What fills a place of the sentence and treats with a product, so that it brings that."""
        for name in dict.fromkeys(name for names in self.filled.values() for name in names):
            thing = self.room.protocol.things.get(name)
            if thing is not None and thing.product is not None:
                yield name

    def _retire(self, what: Ref, stream: OfSlot | str | None) -> None:
        into = self._box_of(stream)
        if isinstance(what, WhatCameOff):
            if into:
                self.act.effects.append(Pass((CameOff(),), into))
            self.act.effects.append(RetireCameOff())
            return
        for entity in self.entities(what):
            thing = self._thing(entity)
            if not thing.used_once:
                raise CannotBeDone(self._finding("not-used-once", {"thing": thing.name}))
            if into:
                taken = self.taken.get(thing.name)
                whole = (
                    self._held(thing, None)
                    if taken is None
                    else self.room.at_piece(taken, thing, None)
                )
                self.act.effects.append(Pass(tuple(whole), into))
            if thing.name in self.taken:
                self.act.effects.append(Retire(self.taken[thing.name]))
            else:
                held = self._held(thing, None)[0]
                assert not isinstance(held, At | Outer | CameOff)
                self.act.effects.append(RetireHeld(held.hold))

    def _box_of(self, stream: OfSlot | str | None) -> tuple[Target, ...]:
        """The box of the room that a waste stream is, if it is one: what was thrown in is there."""
        name = self.filled[stream.slot][0] if isinstance(stream, OfSlot) else stream
        thing = self.room.protocol.things.get(name) if name is not None else None
        if thing is None or thing.used_once:
            return ()
        return tuple(self.room.outer(thing.name, None))

    # What follows from traits and duties, without being written in the verb

    def _expose(self, by: str) -> None:
        """Nobody but the patient is near at an exposure."""
        for person, safe, outside, claim in exposed(self.room, by):
            there = [f"in {where}" for where in safe]
            if outside:
                there.append("outside")
            safely = " or ".join(there) or "in a place where an exposure may be made"
            facts = {"person": person.name, "by": by, "safe": safely}
            self.act.claims.append(PendingClaim("exposure", claim, self.place, facts))

    def _duties(self, verb: Verb) -> None:
        """While a duty's fact holds, that person's part touches nothing."""
        protocol = self.room.protocol
        touched = self._bodies_touched()
        if not touched:
            return
        for duty in protocol.duties:
            if duty.fact in verb.allowed:
                continue
            for person in protocol.people.values():
                body = self.room.body_of.get((person.name, duty.part))
                if body in touched and person.kind is PersonKind.STAFF:
                    fact = KFact(self.room.fact(duty.fact, person.name), value=False)
                    self.act.claims.append(
                        PendingClaim(
                            "duty", fact, self.place, {"duty": duty.name, "person": person.name}
                        )
                    )

    def duties_at_the_end(self) -> list[PendingClaim]:
        """No duty is left undone when the visit ends."""
        protocol = self.room.protocol
        return [
            PendingClaim(
                "duty",
                KFact(self.room.fact(duty.fact, person.name), value=False),
                self.place,
                {"duty": duty.name, "person": person.name},
            )
            for duty in protocol.duties
            for person in protocol.people.values()
            if person.kind is PersonKind.STAFF and (person.name, duty.part) in self.room.body_of
        ]

    def _bodies_touched(self) -> set[int]:
        touched: set[int] = set()
        for effect in self.act.effects:
            targets: tuple[Target, ...] = ()
            if isinstance(effect, Meet):
                targets = effect.targets
            elif isinstance(effect, Pass):
                targets = (*effect.sources, *effect.goals)
            touched.update(target.body for target in targets if isinstance(target, Outer))
        return touched

    def _sleeved(self) -> None:
        """What is always sleeved in the mouth is a claim at every contact with a mouth."""
        protocol = self.room.protocol
        if not any(isinstance(effect, Meet | Pass) for effect in self.act.effects):
            return
        mouths = self.room.mouths()
        owners = self.room.owner_of
        for effect in self.act.effects:
            if isinstance(effect, Meet):
                touching = effect.targets
            elif isinstance(effect, Pass):
                touching = (*effect.sources, *effect.goals)
            else:
                continue
            bodies = [target.body for target in touching if isinstance(target, Outer)]
            if not mouths & set(bodies):
                continue
            for name in dict.fromkeys(owners[body] for body in bodies):
                thing = protocol.things.get(name)
                if thing is not None and thing.always_sleeved:
                    claim = IsCovered(OfThing(name), None, self.place)
                    self.act.claims.append(
                        PendingClaim("sleeved", claim, self.place, {"thing": name})
                    )

    # Claims, once every instance is known

    def settle(self, claim: Claim | KClaim) -> KClaim | None:
        """The claim in the kernel's terms; None for cleanliness (see :meth:`judge`)."""
        match claim:
            case FactHolds(fact, subject):
                facts = [
                    KFact(self.room.fact(fact, name), value=True)
                    for name in self._subjects(subject)
                ]
                return KAll(tuple(facts))
            case FactSince():
                return self._since(claim)
            case IsIn(who, where):
                place = self.filled[where][0]
                people = [name for name in self._subjects(who) if name is not None]
                return KAll(tuple(KFact(self.room.is_in(one, place), True) for one in people))
            case IsCovered(what, cover):
                return self._covered(what, cover)
            case IsDry(what):
                spots = {
                    spot_of_target(self.room, target)
                    for target in self.targets((what,))
                    if isinstance(target, Outer | At)
                }
                return KAll(
                    tuple(
                        KNot(KWet(number))
                        for number, treatment in enumerate(self.treatments)
                        if spots
                        & {spot_of_target(self.room, target) for target in treatment.targets}
                    )
                )
            case IsCleanOf():
                return None
            case NotSo(IsCovered(what, None)):
                return self._bare(what)
            case NotSo(part):
                inner = self.settle(part)
                return None if inner is None else KNot(inner)
            case EverySo(parts):
                return KAll(tuple(one for part in parts if (one := self.settle(part)) is not None))
            case AnySo(parts):
                return KAny(tuple(one for part in parts if (one := self.settle(part)) is not None))
            case _:
                return claim

    def _since(self, claim: FactSince) -> KClaim:
        room = self.room
        parts: list[KClaim] = []
        for name in self._subjects(claim.subject):
            # "since" of the same person or thing goes with each of them.
            own = claim.since_subject == claim.subject
            whose = (name,) if own else self._subjects(claim.since_subject)
            for other in whose:
                fact, since = room.fact(claim.fact, name), room.fact(claim.since, other)
                later = KFact(room.sequel(fact, since), value=not claim.never)
                parts += [KFact(since, value=True), later, KFact(fact, value=not claim.never)]
        return KAll(tuple(dict.fromkeys(parts)))

    def judge(self, number: int, claim: IsCleanOf) -> Judge:
        """The judgement that a claim of cleanliness is."""
        of = Origin.NEXT if self.place.again else Origin.PATIENT
        return Judge(number, self.targets((claim.what,)), claim.own, claim.world, of)

    def _worn(self, what: Ref, cover: Thing | None) -> list[tuple[Entity, list[int]]]:
        """For every part meant: the layers that can hold the cover (or any cover)."""
        found: list[tuple[Entity, list[int]]] = []
        if isinstance(what, OfSlot | OfThing) and what.part is None:
            names = self.filled[what.slot] if isinstance(what, OfSlot) else (what.thing,)
            for name in names:
                group = self.room.protocol.groups.get(name)
                for member in group.members if group is not None else (name,):
                    found += self._worn_by(member, None, cover)
            return found
        for entity in self.entities(what):
            found += self._worn_by(entity.owner, entity.part, cover)
        return found

    def _worn_by(
        self, owner: str, part: str | None, cover: Thing | None
    ) -> list[tuple[Entity, list[int]]]:
        room = self.room
        if cover is not None:
            layers = room.layers_for.get((owner, cover.name), ())
            by_part: dict[str, list[int]] = {}
            for name, layer in layers:
                if part is None or name == part:
                    by_part.setdefault(name, []).append(layer)
            if not by_part:
                shown = f"{owner}'s {part}" if part else owner
                raise CannotBeDone(
                    self._finding("takes-no-such-cover", {"what": shown, "cover": cover.name})
                )
            return [
                (Entity(owner, name, room.protocol.things.get(owner)), found)
                for name, found in by_part.items()
            ]
        return [
            (Entity(owner, name, room.protocol.things.get(owner)), list(record.layers))
            for (holder, name), body in room.body_of.items()
            if holder == owner and (part is None or name == part)
            for record in (room.body_records[body],)
        ]

    def _covered(self, what: Ref, cover: str | None) -> KClaim:
        thing: Thing | None = None
        if cover is not None:
            name = self.filled[cover][0] if cover in self.filled else cover
            thing = self.room.protocol.things[name]
        parts: list[KClaim] = []
        for _, layers in self._worn(what, thing):
            if not layers:
                continue
            if thing is None:
                parts.append(
                    KAny(tuple(KNot(KLayer(layer, frozenset({NOTHING}))) for layer in layers))
                )
            else:
                # With no such piece in the whole visit the claim never holds.
                pieces = frozenset(self.room.instances.get(thing.name, ()))
                if thing.name in self.room.piece_of:
                    pieces = frozenset({self.room.piece_of[thing.name]})
                parts.append(KAny(tuple(KLayer(layer, pieces) for layer in layers)))
        return KAll(tuple(parts)) if parts else KAny(())

    def _bare(self, what: Ref) -> KClaim:
        return KAll(
            tuple(
                KLayer(layer, frozenset({NOTHING}))
                for _, layers in self._worn(what, None)
                for layer in layers
            )
        )

    def _finding(self, kind: str, facts: Mapping[str, str]) -> Finding:
        return Finding(kind, self.place, facts)


def _amount(trace: bool) -> Amount:
    return Amount.TRACE if trace else Amount.FULL


def spot_of_target(room: Room, target: Outer | At) -> int:
    """The spot that a target names, whatever is on it."""
    return target.spot if isinstance(target, At) else room.body_records[target.body].spot
