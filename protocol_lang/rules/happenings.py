"""Where in a plan something happens that a rule speaks of, and with whom and what.

An act *touches* what one of its meetings names; a *treatment* is found where it begins. What lies
under a cover is not looked at here: a rule speaks of the words of steps, and soil is another
matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from protocol_lang.checks.story import Names, contexts
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
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.rules import Event, Happening
from protocol_lang.model.steps import Doing, Waiting
from protocol_lang.model.verbs import Exposes, OfPerson, OfSlot, Verb
from protocol_lang.text import Place

#: Whose part of whom or of what: the part is "" for an undivided thing.
Owned = tuple[str, str]

#: What stands for each kind that a sentence names: somebody or something by name.
Binding = Mapping[str, str]

#: A sort of happening: an event or the form of a verb, a level or so many minutes, the slots of the
#: sentence.
Sort = tuple[Event | str | None, str | int | None, tuple[str, ...]]

#: An act, the number of an effect in it, and what fills the slots of the sentence there.
Filled = tuple[int, int, Mapping[str, str]]

#: The effects in which something happens.
_EFFECTS: Mapping[Event, tuple[type[Effect], ...]] = {
    Event.TOUCHES: (Meet,),
    Event.INTO_THE_MOUTH: (Meet, Pass),
    Event.GOES_ONTO: (Fit,),
    Event.COMES_OFF: (Unfit,),
    Event.HANDS_CLEANED: (Wash, Treat, Wet),
    Event.CLEANED: (Wash,),
    Event.TREATED: (Treat, Wet),
    Event.THROWN_AWAY: (Retire, RetireHeld, RetireCameOff),
}

#: The words for anything at all, for any place and for any waste stream.
ANYTHING, ANY_PLACE, ANY_STREAM = "thing", "place", "waste stream"


#: In the place of an effect: the act as a whole. Less than the number of any effect.
WHOLE = -1


@dataclass(frozen=True, slots=True)
class Seen:
    """That it happens in ``act``, at its ``index``-th effect, or in the act as a whole."""

    act: int
    index: int
    binding: tuple[tuple[str, str], ...]


class Scene:
    """All that happens in one plan, whoever asks for it: what several files of rules share."""

    def __init__(self, unfolded: Unfolded) -> None:
        self.unfolded = unfolded
        self.names = Names(unfolded)
        self.contexts = contexts(unfolded)
        self._found: dict[Sort, list[Filled]] = {}
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
        self._by_sort: dict[type[Effect], list[tuple[int, int, Effect]]] = {}
        self._by_verb: dict[str | None, list[int]] = {}
        self._waits: list[tuple[int, Waiting]] = []
        for number, act in enumerate(plan.acts):
            for index, effect in enumerate(act.effects if act.worlds else ()):
                self._by_sort.setdefault(type(effect), []).append((number, index, effect))
                if isinstance(effect, Fit):
                    for layer in effect.layers:
                        self._fitted.setdefault(layer, set()).add(plan.pieces[effect.piece].kind)
            note = unfolded.acts[number]
            if act.worlds and note.step is not None and not note.ends_treatment:
                does = unfolded.steps[note.step].does
                if isinstance(does, Doing):
                    self._by_verb.setdefault(form_of(does.verb), []).append(number)
                elif isinstance(does, Waiting):
                    self._waits.append((number, does))

    def happening(self, happening: Happening) -> list[Filled]:
        """Every time that something of this sort happens, whoever and whatever is in it."""
        does = happening.does
        what = form_of(does.verb) if isinstance(does, Doing) else does
        least = happening.level if happening.minutes is None else happening.minutes
        sort = (what, least, tuple(happening.filled))
        known = self._found.get(sort)
        if known is None:
            known = self._found[sort] = list(
                self._of_verb(happening, does.verb)
                if isinstance(does, Doing)
                else self._of_event(happening, does)
            )
        return known

    def _of_verb(self, happening: Happening, verb: Verb) -> Iterator[Filled]:
        for number in self._by_verb.get(form_of(verb), ()):
            filled = self.unfolded.acts[number].filled
            for choice in _each_way({slot: filled.get(slot, ()) for slot in happening.filled}):
                yield number, WHOLE, choice

    def _of_event(self, happening: Happening, event: Event) -> Iterator[Filled]:
        if event is Event.EXPOSURE:
            for acts in self._by_verb.values():
                for number in acts:
                    yield from ((number, WHOLE, {"PERSON": who}) for who in self._exposing(number))
            return
        if event in (Event.WAITS, Event.WAITS_UNTIL_DRY):
            for number, wait in self._waits:
                filled = _waited(wait, event, happening.minutes)
                if filled is not None:
                    yield number, WHOLE, filled
            return
        for sort in _EFFECTS[event]:
            for number, index, effect in self._by_sort.get(sort, ()):
                for names in self._in_effect(happening, event, (number, index), effect):
                    yield number, index, names

    def _in_effect(
        self, happening: Happening, event: Event, at: tuple[int, int], effect: Effect
    ) -> Iterator[dict[str, str]]:
        match event:
            case Event.TOUCHES:
                return self._touching(effect, happening)
            case Event.INTO_THE_MOUTH:
                return self._into_mouths(effect)
            case Event.GOES_ONTO:
                assert isinstance(effect, Fit)
                return self._onto(effect.layers, {self._piece(effect.piece)})
            case Event.COMES_OFF:
                assert isinstance(effect, Unfit)
                return self._onto(effect.layers, self._coming_off(effect, at[0]))
            case Event.THROWN_AWAY:
                return self._thrown(effect, *at)
            case _:
                return self._treated(effect, event, happening)

    def _coming_off(self, effect: Unfit, number: int) -> set[str]:
        """What comes off: what the step names, if that is ever put on there; else whatever is."""
        ever = set().union(*(self._fitted.get(one, set()) for one in effect.layers))
        filled = self.unfolded.acts[number].filled
        named = {name for names in filled.values() for name in names}
        return ever & named or ever

    def _came_off(self, number: int, before: int) -> set[str]:
        """What came off last in an act, before the effect of that number."""
        things: set[str] = set()
        for effect in self.unfolded.plan.acts[number].effects[:before]:
            if isinstance(effect, Unfit):
                things = self._coming_off(effect, number)
        return things

    def _exposing(self, number: int) -> Iterator[str]:
        note = self.unfolded.acts[number]
        does = None if note.step is None else self.unfolded.steps[note.step].does
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

    def _thrown(self, effect: Effect, number: int, index: int) -> Iterator[dict[str, str]]:
        match effect:
            case Retire(piece):
                things = {self._piece(piece)}
            case RetireHeld(hold):
                things = {self.unfolded.holds[hold][0]}
            case RetireCameOff():
                things = self._came_off(number, index)
            case _:
                return
        protocol = self.unfolded.protocol
        into = [name for names in self.unfolded.acts[number].filled.values() for name in names]
        streams = [name for name in into if name in protocol.streams]
        for thing in sorted(things):
            yield {"THING": thing}
            declared = protocol.things[thing].stream
            for stream in streams or ([] if declared is None else [declared]):
                yield {"THING": thing, "STREAM": stream}


class Happenings:
    """Finds the happenings of rules in one plan. ``kinds``: the names of kinds that their sentences
    use, with what they are."""

    def __init__(self, scene: Scene, kinds: Mapping[str, str]) -> None:
        self.scene = scene
        self.unfolded = scene.unfolded
        self.kinds = kinds
        self._found: dict[Place, list[Filled]] = {}
        self._members: dict[str, tuple[str, ...]] = {}

    # --- Who and what ----------------------------------------------------------------------------

    def _meaning(self, name: str) -> Callable[[str], bool]:
        """Whether a name of a rule means this somebody or something."""
        if name in self.kinds:
            return frozenset(self.members(name)).__contains__
        plain = name.casefold()
        return lambda actual: actual.casefold() == plain

    def members(self, name: str) -> tuple[str, ...]:
        """All that a name of a rule may mean in this protocol."""
        known = self._members.get(name)
        if known is None:
            known = self._members[name] = meant(self.unfolded.protocol, self.kinds, name)
        return known

    # --- Happenings ------------------------------------------------------------------------------

    def seen(
        self, happening: Happening, binding: Binding, but: frozenset[str] = frozenset()
    ) -> Iterator[Seen]:
        """Every time it happens, with what ``binding`` says standing for its kinds."""
        for number, index, filled in self._everywhere(happening):
            if but and not but.isdisjoint(filled.values()):
                continue
            bound = self._bound(happening, filled, binding)
            if bound is not None:
                yield Seen(number, index, bound)

    def _everywhere(self, happening: Happening) -> list[Filled]:
        """Every time it happens, whatever its kinds stand for: (act, effect, what fills it)."""
        known = self._found.get(happening.place)
        if known is None:
            means = [(slot, self._meaning(name)) for slot, name in happening.filled.items()]
            known = [
                one
                for one in self.scene.happening(happening)
                if all(slot in one[2] and so(one[2][slot]) for slot, so in means)
            ]
            self._found[happening.place] = known
        return known

    def _bound(
        self, happening: Happening, filled: Mapping[str, str], binding: Binding
    ) -> tuple[tuple[str, str], ...] | None:
        """What stands for the kinds of the sentence; None if it is about others."""
        found: dict[str, str] = {}
        for slot, name in happening.filled.items():
            actual = filled[slot]
            if name in self.kinds:
                wanted = binding.get(name, found.get(name, actual))
                if wanted != actual:
                    return None
                found[name] = actual
        return tuple(sorted(found.items()))


def meant(protocol: Protocol, kinds: Mapping[str, str], name: str) -> tuple[str, ...]:
    """All that a name of a rule may mean in a protocol: of a kind, everybody or everything."""
    kind = kinds.get(name)
    if kind is None:
        every = (*protocol.people, *protocol.things)
        return tuple(one for one in every if one.casefold() == name.casefold())
    if kind in (ANY_PLACE, ANY_STREAM):
        return tuple(protocol.places if kind == ANY_PLACE else protocol.streams)
    people = [one.name for one in protocol.people.values() if one.kind.value == kind]
    things = [one.name for one in protocol.things.values() if kind in (ANYTHING, one.kind)]
    return (*people, *things)


def form_of(verb: Verb) -> str | None:
    """The form by which a verb is known; None for what belongs to the language itself, such as a
    spatter: a verb without a sentence of its own, and of no rule."""
    return verb.frames[0].text if verb.frames else None


def _waited(wait: Waiting, event: Event, least: int | None) -> dict[str, str] | None:
    """What fills the sentence, if the wait is one that it speaks of; else None.

    ``least``: only waits that are told in minutes count, and of these the ones that are so long.
    """
    if event is Event.WAITS_UNTIL_DRY:
        return None if wait.until_dry is None else {"PERSON": wait.actor, "THING": wait.until_dry}
    if least is not None and (wait.minutes is None or wait.minutes < least):
        return None
    return {"PERSON": wait.actor}


def _each_way(filled: Mapping[str, tuple[str, ...]]) -> Iterator[dict[str, str]]:
    """One name for each slot, in every way."""
    ways: list[dict[str, str]] = [{}]
    for slot, names in filled.items():
        ways = [{**way, slot: name} for way in ways for name in names]
    return iter(ways)
