"""Where in a plan something happens that a rule speaks of, and with whom and what.

An act *touches* what one of its meetings names; a *treatment* is found where it begins. What lies
under a cover is not looked at here: a rule speaks of the words of steps, and soil is another matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from protocol_lang.contamination.kernel import (
    NOTHING,
    At,
    Effect,
    Fit,
    Held,
    Meet,
    Outer,
    Pass,
    Retire,
    RetireCameOff,
    RetireHeld,
    Target,
    Treat,
    Unfit,
    Wash,
    Wet,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.parts import Counts
from protocol_lang.model.rules import Event, Happening
from protocol_lang.model.steps import Doing
from protocol_lang.model.verbs import Exposes, OfPerson, OfSlot, Verb

#: Whose part of whom or of what: the part is "" for an undivided thing.
Owned = tuple[str, str]

#: What stands for each kind that a sentence names: somebody or something by name.
Binding = Mapping[str, str]

#: The words for anything at all, for any place and for any waste stream.
ANYTHING, ANY_PLACE, ANY_STREAM = "thing", "place", "waste stream"


@dataclass(frozen=True, slots=True)
class Seen:
    """That it happens in ``act``, at its ``index``-th effect (-1: the act as a whole)."""

    act: int
    index: int
    binding: tuple[tuple[str, str], ...]


class Happenings:
    """Finds happenings in one plan. ``kinds``: the names of kinds that sentences use, with what
    they are; ``but``: names that do not count."""

    def __init__(self, unfolded: Unfolded, kinds: Mapping[str, str]) -> None:
        self.unfolded = unfolded
        self.kinds = kinds
        plan = unfolded.plan
        protocol = unfolded.protocol
        self._owner: dict[int, Owned] = {}
        for owned, body in unfolded.bodies.items():
            self._owner.setdefault(plan.bodies[body].spot, owned)
        self._of_body: dict[int, Owned] = {body: owned for owned, body in unfolded.bodies.items()}
        for piece in plan.pieces:
            for spot in piece.spots:
                self._owner.setdefault(spot, (piece.kind, ""))
        self._bodies_of: dict[str, set[int]] = {}
        for (owner, _), body in unfolded.bodies.items():
            self._bodies_of.setdefault(owner, set()).add(body)
        self._hands = {
            part.name for part in protocol.body_parts if part.name.split()[-1] in ("hand", "hands")
        }
        self._mouths = {part.name for part in protocol.body_parts if part.counts is Counts.MOUTH}
        self._ranks = {level.name: level.rank for level in protocol.levels.values()}
        self._layer_owner: dict[int, Owned] = {}
        for number, record in enumerate(plan.bodies):
            for layer in record.layers:
                self._layer_owner[layer] = self._of_body.get(number, ("", ""))
        self._fitted: dict[int, set[str]] = {}
        for number, place in enumerate(plan.layers):
            if place.start != NOTHING:
                self._fitted.setdefault(number, set()).add(plan.pieces[place.start].kind)
        for act in plan.acts:
            for effect in act.effects:
                if isinstance(effect, Fit):
                    for layer in effect.layers:
                        self._fitted.setdefault(layer, set()).add(plan.pieces[effect.piece].kind)

    # --- Who and what ----------------------------------------------------------------------------

    def stands_for(self, name: str, actual: str) -> bool:
        """Whether a name of a rule means this somebody or something."""
        kind = self.kinds.get(name)
        if kind is None:
            return name.casefold() == actual.casefold()
        return actual in self.members(name)

    def members(self, name: str) -> tuple[str, ...]:
        """All that a name of a rule may mean in this protocol."""
        protocol = self.unfolded.protocol
        kind = self.kinds.get(name)
        if kind is None:
            every = (*protocol.people, *protocol.things)
            return tuple(one for one in every if one.casefold() == name.casefold())
        if kind in (ANY_PLACE, ANY_STREAM):
            return tuple(protocol.places if kind == ANY_PLACE else protocol.streams)
        people = [one.name for one in protocol.people.values() if one.kind.value == kind]
        things = [one.name for one in protocol.things.values() if kind in (ANYTHING, one.kind)]
        return (*people, *things)

    # --- Happenings ------------------------------------------------------------------------------

    def seen(
        self, happening: Happening, binding: Binding, but: frozenset[str] = frozenset()
    ) -> Iterator[Seen]:
        """Every time it happens, with what ``binding`` says standing for its kinds."""
        for number, act in enumerate(self.unfolded.plan.acts):
            if not act.worlds:
                continue
            for index, filled in self._in_act(happening, number):
                if but and not but.isdisjoint(filled.values()):
                    continue
                bound = self._bound(happening, filled, binding)
                if bound is not None:
                    yield Seen(number, index, bound)

    def _bound(
        self, happening: Happening, filled: Mapping[str, str], binding: Binding
    ) -> tuple[tuple[str, str], ...] | None:
        """What stands for the kinds of the sentence; None if it is about others."""
        found: dict[str, str] = {}
        for slot, name in happening.filled.items():
            actual = filled.get(slot)
            if actual is None or not self.stands_for(name, actual):
                return None
            if name in self.kinds:
                wanted = binding.get(name, found.get(name, actual))
                if wanted != actual:
                    return None
                found[name] = actual
        return tuple(sorted(found.items()))

    def _in_act(self, happening: Happening, number: int) -> Iterator[tuple[int, dict[str, str]]]:
        if isinstance(happening.does, Doing):
            yield from self._of_verb(happening, happening.does.verb, number)
        else:
            yield from self._of_event(happening, happening.does, number)

    def _of_verb(
        self, happening: Happening, verb: Verb, number: int
    ) -> Iterator[tuple[int, dict[str, str]]]:
        note = self.unfolded.acts[number]
        if note.step is None or note.ends_treatment:
            return
        does = self.unfolded.steps[note.step].does
        if not isinstance(does, Doing) or not is_of(does, verb):
            return
        for choice in _each_way({slot: note.filled.get(slot, ()) for slot in happening.filled}):
            yield -1, choice

    def _of_event(
        self, happening: Happening, event: Event, number: int
    ) -> Iterator[tuple[int, dict[str, str]]]:
        if event is Event.EXPOSURE:
            yield from ((-1, {"PERSON": who}) for who in self._exposing(number))
            return
        came_off: set[str] = set()
        for index, effect in enumerate(self.unfolded.plan.acts[number].effects):
            if isinstance(effect, Unfit):
                came_off = set().union(*(self._fitted.get(one, set()) for one in effect.layers))
            match event:
                case Event.TOUCHES:
                    found = self._touching(effect, happening)
                case Event.INTO_THE_MOUTH:
                    found = self._into_mouths(effect)
                case Event.GOES_ONTO if isinstance(effect, Fit):
                    found = self._onto(effect.layers, {self._piece(effect.piece)})
                case Event.COMES_OFF if isinstance(effect, Unfit):
                    found = self._onto(effect.layers, came_off)
                case Event.HANDS_CLEANED | Event.CLEANED | Event.TREATED:
                    found = self._treated(effect, event, happening)
                case Event.THROWN_AWAY:
                    found = self._thrown(effect, came_off, number)
                case _:
                    continue
            for filled in found:
                yield index, filled

    def _exposing(self, number: int) -> Iterator[str]:
        note = self.unfolded.acts[number]
        if note.step is None or note.ends_treatment:
            return
        does = self.unfolded.steps[note.step].does
        if isinstance(does, Doing):
            for line in does.verb.lines:
                if isinstance(line, Exposes):
                    match line.by:
                        case OfSlot(slot):
                            yield from note.filled.get(slot, ())
                        case OfPerson(person):
                            yield person
                        case _:
                            pass

    def _piece(self, piece: int) -> str:
        return self.unfolded.plan.pieces[piece].kind

    def _owners(self, targets: Iterable[Target]) -> list[Owned]:
        """Whom or what the targets may be, each once."""
        found: dict[Owned, None] = {}
        for target in targets:
            match target:
                case Outer(body):
                    owned = self._of_body.get(body)
                    if owned is not None:
                        found[owned] = None
                case At(spot):
                    owned = self._owner.get(spot)
                    if owned is not None:
                        found[owned] = None
                case Held(hold, spots):
                    found[self.unfolded.holds[hold][0], ""] = None
                    for piece, _ in spots:
                        found[self._piece(piece), ""] = None
                case _:
                    pass
        return list(found)

    def _touching(self, effect: Effect, happening: Happening) -> Iterator[dict[str, str]]:
        if not isinstance(effect, Meet):
            return
        owners = self._owners(effect.targets)
        by_hand = "PERSON" in happening.filled
        first = "PERSON" if by_hand else "THING"
        second = next(slot for slot in happening.filled if slot.startswith("OTHER"))
        people = self.unfolded.protocol.people
        for one, part in owners:
            if (one in people) is not by_hand or (by_hand and part not in self._hands):
                continue
            for other, _ in owners:
                if other != one and (other in people) is (second == "OTHER PERSON"):
                    yield {first: one, second: other}

    def _into_mouths(self, effect: Effect) -> Iterator[dict[str, str]]:
        if not isinstance(effect, Meet | Pass):
            return
        targets = effect.targets if isinstance(effect, Meet) else (*effect.sources, *effect.goals)
        owners = self._owners(targets)
        people = self.unfolded.protocol.people
        for who, part in owners:
            if who in people and part in self._mouths:
                for thing, _ in owners:
                    if thing not in people:
                        yield {"THING": thing, "PERSON": who}

    def _onto(self, layers: Iterable[int], kinds: Iterable[str]) -> Iterator[dict[str, str]]:
        owners = {self._layer_owner[layer][0] for layer in layers}
        for owner in sorted(owners):
            slot = "PERSON" if owner in self.unfolded.protocol.people else "OTHER THING"
            for kind in sorted(kinds):
                yield {"THING": kind, slot: owner}

    def _treated(
        self, effect: Effect, event: Event, happening: Happening
    ) -> Iterator[dict[str, str]]:
        """What is washed or treated as a whole here, if to no less than is asked."""
        plan = self.unfolded.plan
        match effect:
            case Wash(targets=targets):
                if event is Event.TREATED:
                    return
            case Treat(targets=targets, level=level):
                if event is Event.CLEANED or not self._enough(plan.levels[level].name, happening):
                    return
            case Wet(treatment=treatment):
                of = plan.treatments[treatment]
                targets = of.targets
                if event is Event.CLEANED or not self._enough(
                    plan.levels[of.level].name, happening
                ):
                    return
            case _:
                return
        bodies = {target.body for target in targets if isinstance(target, Outer)}
        people = self.unfolded.protocol.people
        for owner, part in self._owners(targets):
            if owner in people:
                if part in self._hands:
                    yield {"PERSON": owner}
            elif self._bodies_of.get(owner, set()) <= bodies:
                yield {"THING": owner}

    def _enough(self, level: str, happening: Happening) -> bool:
        return happening.level is None or self._ranks[level] >= self._ranks.get(
            happening.level, len(self._ranks) + 1
        )

    def _thrown(self, effect: Effect, came_off: set[str], number: int) -> Iterator[dict[str, str]]:
        match effect:
            case Retire(piece):
                things = {self._piece(piece)}
            case RetireHeld(hold):
                things = {self.unfolded.holds[hold][0]}
            case RetireCameOff():
                things = came_off
            case _:
                return
        into = [name for names in self.unfolded.acts[number].filled.values() for name in names]
        streams = [name for name in into if name in self.unfolded.protocol.streams]
        for thing in sorted(things):
            yield {"THING": thing}
            for stream in streams:
                yield {"THING": thing, "STREAM": stream}


def is_of(does: Doing, verb: Verb) -> bool:
    """Whether a step is one of that verb. What belongs to the language itself, such as a spatter,
    is a verb without a sentence of its own, and of no rule."""
    return any(one.text == verb.frames[0].text for one in does.verb.frames[:1])


def _each_way(filled: Mapping[str, tuple[str, ...]]) -> Iterator[dict[str, str]]:
    """One name for each slot, in every way."""
    ways: list[dict[str, str]] = [{}]
    for slot, names in filled.items():
        ways = [{**way, slot: name} for way in ways for name in names]
    return iter(ways)
