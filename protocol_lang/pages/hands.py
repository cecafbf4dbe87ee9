"""What hands are like along a sheet, what they must not touch then, and what they have to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from protocol_lang.chart.plan import Known
from protocol_lang.chart.sheet import Hands, HandState, worst
from protocol_lang.contamination.hands import Hand, Soil, Watch
from protocol_lang.contamination.hands import Hands as HandsOfWorld
from protocol_lang.contamination.kernel import (
    At,
    Effect,
    Held,
    Meet,
    Outer,
    Pass,
    Target,
    Treat,
    Wash,
    Wet,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.parts import Counts, PersonKind, Start
from protocol_lang.order import Network
from protocol_lang.pages.shown import named
from protocol_lang.text import Place

_STATES: Mapping[Hand, HandState] = {
    Hand(True, Soil.PATIENT): HandState.USED_GLOVES,
    Hand(False, Soil.PATIENT): HandState.USED_BARE,
    Hand(True, Soil.OTHER): HandState.NOT_CLEAN_GLOVES,
    Hand(False, Soil.OTHER): HandState.NOT_CLEAN,
    Hand(True, Soil.NONE): HandState.CLEAN_GLOVES,
    Hand(False, Soil.NONE): HandState.CLEAN_BARE,
}


def hands_of_staff(unfolded: Unfolded) -> dict[str, int]:
    """For each member of staff the body that is their hands: the bare skin that they work with."""
    skin = [
        part.name
        for part in unfolded.protocol.body_parts
        if part.of is PersonKind.STAFF and part.counts is Counts.SKIN
    ]
    covered = {thing.worn_on for thing in unfolded.protocol.things.values()}
    named = sorted(skin, key=lambda name: (name != "hands", name not in covered))
    return {
        name: unfolded.bodies[name, named[0]]
        for name, person in unfolded.protocol.people.items()
        if named and person.kind is PersonKind.STAFF
    }


#: A list of more names than this to be touched alone helps nobody.
MOST_TO_TOUCH = 6


@dataclass(frozen=True, slots=True)
class Handled:
    """What used hands have to do with from some step on, and what they must not touch there."""

    things: frozenset[str]
    forbidden: frozenset[str]


@dataclass(slots=True)
class NotToTouch:
    """What used hands must not touch: by the place of a phase as it begins, and of a step from
    which on it holds. ``only_in_phases``, ``only``: what such hands have to do with, likewise."""

    phases: dict[Place, tuple[str, ...]] = field(default_factory=dict)
    rows: dict[Place, tuple[str, ...]] = field(default_factory=dict)
    only_in_phases: dict[Place, Handled] = field(default_factory=dict)
    only: dict[Place, Handled] = field(default_factory=dict)


@dataclass
class Knowing:
    """What the engine tells about one world, step by step."""

    unfolded: Unfolded
    watch: Watch
    world: int
    staff: dict[str, int] = field(init=False)
    hands: HandsOfWorld = field(init=False)
    #: (number of the step, its last act) of the steps done in this world, as in the checklist
    done: list[tuple[int, int]] = field(init=False)
    states: dict[int, dict[str, Hands]] = field(init=False)
    #: (person, number of a step) -> what they touch or clean in it, once it was asked for
    _touching: dict[tuple[str, int], frozenset[str]] = field(init=False, default_factory=dict)
    #: things that some step of this world touches, covers or cleans
    at_hand: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self.staff = hands_of_staff(self.unfolded)
        self.hands = self.watch.world(self.world, self.staff.values(), self._bins())
        acts = self.unfolded.plan.acts
        # A step may be written as other acts for other worlds.
        self.done = [
            (step, here[-1])
            for step, numbers in enumerate(self.unfolded.acts_of)
            if (here := [act for act in numbers if acts[act].worlds >> self.world & 1])
        ]
        self.states = {
            step: {
                person: worst(_STATES[hand] for hand in self.hands.after(act, body))
                for person, body in self.staff.items()
            }
            for step, act in self.done
        }

        named = {
            thing
            for act in self.hands.acts()
            for thing in self._touched(self.unfolded.plan.acts[act].effects, None)
        }
        self.at_hand = frozenset(
            name
            for name in named
            if name in self.unfolded.protocol.things
            and self.unfolded.protocol.things[name].start is not Start.DIRTY
        )

    @property
    def network(self) -> Network:
        """The order of the acts."""
        return self.watch.layout.network

    def _bins(self) -> frozenset[int]:
        """The spots of boxes that are waste streams: what is thrown in soils them, as it may."""
        plan = self.unfolded.plan
        return frozenset(
            plan.bodies[body].spot
            for (name, _), body in self.unfolded.bodies.items()
            if name in self.unfolded.protocol.streams
        )

    def known(self, never: frozenset[str] | None = None, found: NotToTouch | None = None) -> Known:
        """What a sheet tells of this world. ``never``: what is told once for the sheet, where it
        stands for other worlds as well; None: what holds in this one (:attr:`never`). ``found``:
        what :meth:`not_to_touch` gives, worked out here unless told."""
        steps = self.unfolded.steps
        never = self.never if never is None else never
        found = found or self.not_to_touch(never)
        return Known(
            hands={steps[step].place: states for step, states in self.states.items()},
            start={
                person: worst(_STATES[hand] for hand in self.hands.at_start(body))
                for person, body in self.staff.items()
            },
            phase_do_not_touch=found.phases,
            do_not_touch=found.rows,
            never_touch=self.named(never),
        )

    # What must not be touched, and what has to be.

    @cached_property
    def listed(self) -> Mapping[int, frozenset[str]]:
        """By the number of a step after which somebody's hands are used: what they would carry
        soil on to."""
        return {step: self._listed(step, act) for step, act in self.done if self._used(step)}

    @property
    def never(self) -> frozenset[str]:
        """What used hands must not touch, whenever somebody has them."""
        return frozenset.intersection(*self.listed.values()) if self.listed else frozenset()

    def not_to_touch(self, never: frozenset[str]) -> NotToTouch:
        """What used hands must not touch as a phase begins, and from a step on; and what they have
        to do with.

        Only steps after which somebody's hands are used have a say. What holds after every one of
        them (``never``) is told once for the sheet. Where a time of used hands begins, the rest is
        told with that step, and further steps add what is new; a phase that begins with used hands
        says again what was told and still holds. What those hands have to do with is told where
        such a time begins, and with such a phase.
        """
        found = NotToTouch()
        told: frozenset[str] = frozenset()
        phase: str | None = None
        before: list[str] = []
        places = {phase.title: phase.place for phase in self.unfolded.protocol.phases}
        last: int | None = None
        for step, act in self.done:
            title = self.unfolded.acts[act].phase or ""
            if step not in self.listed:
                phase, told, before, last = title, frozenset(), [], step
                continue
            now = self.listed[step] - never
            place = self.unfolded.steps[step].place
            if title != phase:
                phase, told = title, told & now
                if told:
                    found.phases[places[title]] = self.named(told)
                if before and last is not None:
                    todo = self._to_do(before, last, at=step)
                    found.only_in_phases[places[title]] = Handled(todo, told | never)
            if new := now - told:
                found.rows[place] = self.named(new)
            told |= now
            used = self._used(step)
            begun = [person for person in used if person not in before]
            if begun:
                found.only[place] = Handled(self._to_do(used, step), self.listed[step] | never)
            before, last = used, step
        return found

    def _to_do(self, people: Sequence[str], step: int, at: int | None = None) -> frozenset[str]:
        """What the used hands of these people touch after the step, until they are clean again.

        ``at``: the step with which a phase begins, which is then still to come. All of it, in
        whatever order: a step that stands further up counts as well, where it may be done later.
        """
        before = self.network.before
        mark = self.unfolded.acts_of[step if at is None else at][0]
        found: set[str] = set()
        for person in people:
            end = self._clean_again(person, step)
            for other, _ in self.done:
                if other == step or (end is not None and other > end):
                    continue
                for act in self._acts(other):
                    may_follow = other > step or not before[mark] >> act & 1
                    if self.unfolded.acts[act].person == person and may_follow:
                        found.update(self._handled(act, self.staff[person]))
        return frozenset(found)

    def _clean_again(self, person: str, step: int) -> int | None:
        """The first step from here on after which these hands are clean in all orders; its own
        doing is still done with used hands."""
        return next(
            (other for other, _ in self.done if other > step and person not in self._used(other)),
            None,
        )

    def _acts(self, step: int) -> list[int]:
        acts = self.unfolded.plan.acts
        return [act for act in self.unfolded.acts_of[step] if acts[act].worlds >> self.world & 1]

    def _handled(self, act: int, hands: int) -> Iterator[str]:
        """Things, and sorts of things, that those hands themselves touch."""
        plan = self.unfolded.plan
        owner = self._owner
        kind_at = self._kind_at
        things = self.unfolded.protocol.things
        for effect in plan.acts[act].effects:
            if not isinstance(effect, Meet | Pass):
                continue
            both = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
            if Outer(hands) not in both:
                continue
            for one in both:
                if isinstance(one, Outer) and owner.get(one.body) in things:
                    yield owner[one.body]
                elif isinstance(one, At) and kind_at.get(one.spot) in things:
                    yield kind_at[one.spot]
                elif isinstance(one, Held) and one.spots:
                    yield plan.pieces[one.spots[0][0]].kind

    @cached_property
    def _owner(self) -> Mapping[int, str]:
        """Whose each body is: of a person, or of a thing."""
        return {body: name for (name, _), body in self.unfolded.bodies.items()}

    @cached_property
    def _kind_at(self) -> Mapping[int, str]:
        """The kind of the piece that has a spot."""
        return {spot: one.kind for one in self.unfolded.plan.pieces for spot in one.spots}

    def _used(self, step: int) -> list[str]:
        """Whose hands are, or may be, used just after the step."""
        return [person for person, hands in self.states[step].items() if hands.state.is_used]

    def _listed(self, step: int, act: int) -> frozenset[str]:
        """The things that hands used by now would carry soil on to.

        Left out is what those same hands are told to do before they are clean again: a thing that
        they are to meet all the same (the check has judged that), and one yet to be cleaned.
        So is a bare thing that is not kept clean and that no step of this sheet has to do with:
        nobody has it at hand.
        """
        carrying = self._carrying(act)
        return frozenset(
            thing for person in self._used(step) for thing in carrying - self._meant(person, step)
        )

    def _carrying(self, act: int) -> frozenset[str]:
        things = self.unfolded.protocol.things
        return frozenset(
            owner
            for (owner, _), body in self.unfolded.bodies.items()
            if owner in things
            and (things[owner].start is Start.KEPT_CLEAN or owner in self.at_hand)
            and self.hands.carries_on(act, body)
        )

    def _meant(self, person: str, step: int) -> frozenset[str]:
        """What this person is told to touch or clean after the step, while the hands stay used."""
        found: set[str] = set()
        for later, _ in self.done:
            if later <= step:
                continue
            found |= self._touched_in(person, later)
            if person not in self._used(later):
                break
        return frozenset(found)

    def _touched_in(self, person: str, step: int) -> frozenset[str]:
        """What this person touches or cleans in a step, in whichever world."""
        key = person, step
        known = self._touching.get(key)
        if known is None:
            acts, plan = self.unfolded.acts, self.unfolded.plan
            known = self._touching[key] = frozenset(
                thing
                for act in self.unfolded.acts_of[step]
                if acts[act].person == person
                for thing in self._touched(plan.acts[act].effects, self.staff[person])
            )
        return known

    def _touched(self, effects: Sequence[Effect], hands: int | None) -> Iterator[str]:
        """Owners of the bodies that are cleaned, or meet those hands (None: meet anything)."""
        owner = self._owner
        for effect in effects:
            targets: tuple[Target, ...] = ()
            if isinstance(effect, Wash | Treat):
                targets = effect.targets
            elif isinstance(effect, Wet):
                targets = self.unfolded.plan.treatments[effect.treatment].targets
            elif isinstance(effect, Meet | Pass):
                both = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
                if hands is None or Outer(hands) in both:
                    targets = both
            yield from (
                owner[one.body] for one in targets if isinstance(one, Outer) and one.body in owner
            )

    def named(self, things: Iterable[str]) -> tuple[str, ...]:
        """Things in the order of the room; a group that is wholly among them by its own name."""
        return named(self.unfolded, things)
