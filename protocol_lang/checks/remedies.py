"""Changes that break a path: thought of from the route, tried one after the other, kept if they
work.

A change works when it is proved for the changed protocol that the finding is gone and that nothing
is found which was not there before. A change that merely moves the fault is not offered.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, combinations, islice, pairwise

from protocol_lang.checks.edits import (
    Change,
    in_any_order,
    inserted,
    label_for,
    placed,
    replaced,
    written,
)
from protocol_lang.checks.keys import Key, key_of_soil, keys_of
from protocol_lang.checks.story import Names
from protocol_lang.checks.verbs import Toolbox
from protocol_lang.contamination.judge import ClaimFails, Judgement, judge
from protocol_lang.contamination.kernel import (
    NOTHING,
    At,
    Meet,
    Outer,
    Pass,
    Reached,
    Target,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from protocol_lang.contamination.marks import Contact
from protocol_lang.contamination.rounds import judge_as_deep
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.visits import Hit
from protocol_lang.findings import Remedy
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Item, Step
from protocol_lang.order.question import Budget

#: Tries for one finding; each is a whole check.
MOST_TRIES = 30

#: In a large visit fewer changes are tried, as many as come to so many acts: a visit of 80 acts
#: gets all its tries, one of 500 gets four.
MOST_ACTS_TRIED = 2_400
#: After so many in all, over all that is found, the smallest number is tried for each finding.
MOST_ACTS_TRIED_IN_ALL = 9_600
#: So many are always tried.
LEAST_TRIES = 3
#: Once a change puts everything right, only so many more are tried.
TRIES_AFTER_ALL_IS_WELL = 4
#: Changes shown for one finding.
MOST_SHOWN = 3
#: What a trial may cost: a trial that is not decided within it is not offered.
TRIAL = Budget(own=300, conflicts=20_000)


@dataclass(frozen=True, slots=True)
class Worked:
    """A change that works, and what is found with it."""

    remedy: Remedy
    left: frozenset[Key]
    unfolded: Unfolded
    judgement: Judgement


class Trials:
    """Tries changes to one protocol."""

    def __init__(self, unfolded: Unfolded, judgement: Judgement, acts_tried: int = 0) -> None:
        """``acts_tried``: how many there were in what has been tried for other findings."""
        self.acts_tried = acts_tried
        self.unfolded = unfolded
        self.judgement = judgement
        self.names = Names(unfolded)
        self.tools = Toolbox(unfolded.protocol)
        self.before = keys_of(unfolded, judgement)

    def for_hit(self, hit: Hit, key: Key) -> list[Worked]:
        """Changes that break the path of the hit.

        If none keeps the soil from getting there at all, it may be that it gets there in another
        way as well, by a fault of its own. Then a change counts that keeps it from getting there
        by way of the same things.
        """
        tried: list[Worked | None] = []
        worked = self._kept(self._tried(self._changes_for_hit(hit), into=tried), key)
        if worked:
            return worked
        way = self._way_of(hit)
        paths = self.judgement.paths
        assert paths is not None
        by_this_way = paths.suspects_by_way_of(way)
        if all(key_of_soil(self.names, one, self.unfolded) != key for one in by_this_way):
            return []
        return self._kept(tried, key, way)

    def _way_of(self, hit: Hit) -> frozenset[str]:
        """The names of the spots that may pass soil on in the acts of the route."""
        layout = self.judgement.layout
        assert layout is not None
        spots = {hit.spot}
        for leg in hit.legs:
            for hop in leg.route:
                spots |= {self.names.spot_at(hop.start), self.names.spot_at(hop.to)}
                for _, moves in layout.courses[hop.event] if self.names.is_act(hop.event) else ():
                    for move in moves:
                        if isinstance(move, Contact):
                            spots.update(move.spots)
        return frozenset(self.unfolded.plan.spots[spot].name for spot in spots)

    def for_claim(self, failing: ClaimFails, key: Key, registers: Iterable[int]) -> list[Worked]:
        """Order lines with which the claim holds; for a duty on hands also doing it at once."""
        changes = chain(
            self._orders_for_claim(failing, registers), self._duty_done_at_once(failing, registers)
        )
        return self._kept(self._tried(changes), key)

    def _duty_done_at_once(self, failing: ClaimFails, registers: Iterable[int]) -> Iterator[Change]:
        """Hands cleaned right after each step that makes it a duty."""
        layout = self.judgement.layout
        note = self.unfolded.claims[failing.claim]
        if layout is None or note.kind != "duty":
            return
        person = note.facts["person"]
        position = {event: number for number, event in enumerate(failing.run.order)}
        begun = [
            event
            for register in registers
            for event, value in layout.network.registers[register].writes.items()
            if value and position[event] < position[failing.act]
        ]
        for event in sorted(begun, key=position.__getitem__, reverse=True):
            step = self.unfolded.acts[event].step
            if step is not None:
                items = self.tools.clean_hands(person)
                yield from self._insert(
                    self.unfolded.steps[step], items, f"{person}'s hands", after=True
                )

    def for_cover(
        self, cover: str, what: tuple[str, ...], key: Key, act: int | None
    ) -> list[Worked]:
        """Changes for a cover that is not changed (``act``: where it is last touched), not put on
        again (``act`` None), or put on while one is there (see :meth:`for_second_cover`)."""
        return self._kept(self._tried(self._changes_for_cover(cover, what, act)), key)

    def for_second_cover(self, cover: str, what: str, act: int, key: Key) -> list[Worked]:
        """Changes for a cover that is put on where one is already."""
        return self._kept(self._tried(self._off_before(cover, what, act)), key)

    def _off_before(self, cover: str, what: str, act: int) -> Iterator[Change]:
        note = self.unfolded.acts[act]
        if note.step is not None and note.person and what == f"{note.person}'s hands":
            items = self.tools.bare_hands(note.person, cover)
            for step in self._own_steps_up_to(note.step, note.person)[:3]:
                yield from self._insert(step, items, what)
        if note.step is not None and note.person and what in self.unfolded.protocol.things:
            step = self.unfolded.steps[note.step]
            items = self.tools.uncover(note.person, cover, (what,))
            yield from self._insert(step, items, what)
            gloves = self._gloves_off_before(act, note.person)
            if gloves is not None:
                yield from self._insert(gloves, items, what)

    def _changes_for_cover(
        self, cover: str, what: tuple[str, ...], act: int | None
    ) -> Iterator[Change]:
        if not all(name in self.unfolded.protocol.things for name in what):
            return
        for person in self._staff():
            last = self._last_step(person)
            on = self.tools.cover(person, cover, what)
            if last is None or not on:
                continue
            if act is None:
                yield from self._insert(last, on, cover, after=True)
                continue
            off = self.tools.uncover(person, cover, what)
            steps = [*self._gloves_off_after(act, person), last]
            for step in steps if off else ():
                yield self._two_steps(step, off, last, on)

    def _two_steps(
        self, first: Step, off: tuple[Item, ...], last: Step, on: tuple[Item, ...]
    ) -> Change:
        """One thing done before one step and another after the last."""
        alone = first is last

        def protocol() -> Protocol:
            made = self.unfolded.protocol
            if alone:
                both = tuple(placed(item, last.place) for item in (*off, *on))
                return inserted(made, last, both, after=True)
            after = tuple(placed(item, last.place) for item in on)
            made = inserted(made, last, after, after=True)
            return inserted(made, first, tuple(placed(item, first.place) for item in off))

        facts = {
            "text": "\n".join(written(off)),
            "then": "\n".join(written(on)),
            "last": last.text,
        }
        if not alone:
            facts["step"] = first.text
        return Change(Remedy("change-cover", facts, first.place), protocol)

    def _own_steps_up_to(self, step: int, person: str) -> list[Step]:
        """The step and those of the same person before it in the text, the nearest first."""
        own = {note.step for note in self.unfolded.acts if note.person == person}
        return [self.unfolded.steps[n] for n in range(step, -1, -1) if n in own]

    def _last_step(self, person: str) -> Step | None:
        own = [
            note.step
            for note in self.unfolded.acts
            if note.person == person and note.step is not None and not note.ends_treatment
        ]
        return self.unfolded.steps[max(own)] if own else None

    def _gloves_off_before(self, act: int, person: str) -> Step | None:
        """The last step before the act in which the person takes gloves off."""
        layout = self.judgement.layout
        body = self.unfolded.bodies.get((person, "hands"))
        if layout is None or body is None:
            return None
        registers = [
            layout.network.registers[layer] for layer in self.unfolded.plan.bodies[body].layers
        ]
        for event in reversed(range(len(self.unfolded.acts))):
            step = self.unfolded.acts[event].step
            off = any(register.writes.get(event) == NOTHING for register in registers)
            if off and step is not None and layout.network.before[act] >> event & 1:
                return self.unfolded.steps[step]
        return None

    def _tried(
        self, changes: Iterable[Change], into: list[Worked | None] | None = None
    ) -> Iterator[Worked | None]:
        """What comes of each change, one after the other, as many as may be tried; None where it
        cannot be told. ``into``: a list that keeps them."""
        acts = max(1, len(self.unfolded.plan.acts))
        left_in_all = MOST_ACTS_TRIED_IN_ALL - self.acts_tried
        tries = min(MOST_TRIES, MOST_ACTS_TRIED // acts, left_in_all // acts)
        for change in islice(_each_once(changes), max(LEAST_TRIES, tries)):
            self.acts_tried += acts
            one = self._with(change)
            if into is not None:
                into.append(one)
            yield one

    def _kept(
        self, tried: Iterable[Worked | None], key: Key, way: frozenset[str] | None = None
    ) -> list[Worked]:
        """Those that work, the ones that put most right first.

        With ``way``: those with which soil no longer gets there by these things alone.
        """
        worked: list[Worked] = []
        more: int | None = None
        for one in tried:
            if one is not None and one.left <= self.before and self._mended(one, key, way):
                worked.append(one)
                if not one.left and more is None:  # all is well with it: look only a little further
                    more = TRIES_AFTER_ALL_IS_WELL
            if more is not None:
                more -= 1
                if more <= 0:
                    break
        worked.sort(key=lambda one: (len(one.left), len(_lines(one))))
        shown: list[Worked] = []
        for one in worked:
            if not any(_lines(other) <= _lines(one) for other in shown if _lines(other)):
                shown.append(one)
        return shown[:MOST_SHOWN]

    def _mended(self, one: Worked, key: Key, way: frozenset[str] | None) -> bool:
        if way is None:
            return key not in one.left
        paths = one.judgement.paths
        if paths is None:
            return False
        names = Names(one.unfolded)
        reached = paths.suspects_by_way_of(way)
        return all(key_of_soil(names, suspect, one.unfolded) != key for suspect in reached)

    def _with(self, change: Change) -> Worked | None:
        """The protocol with the change, judged; None if it cannot be."""
        if change.order is not None:
            plan = self.unfolded.plan
            order = tuple(sorted({*plan.order, change.order}))
            unfolded = replace(self.unfolded, plan=replace(plan, order=order))
        else:
            assert change.protocol is not None
            made = judge_as_deep(change.protocol(), self.unfolded, TRIAL)
            if made is None:
                return None
            return self._worked(change, made.unfolded, made.judgement)
        return self._worked(change, unfolded, judge(unfolded.plan, TRIAL))

    def _worked(self, change: Change, unfolded: Unfolded, judged: Judgement) -> Worked | None:
        if judged.undecided:
            return None
        return Worked(change.remedy, keys_of(unfolded, judged), unfolded, judged)

    # Orders

    def _orders_for_claim(self, failing: ClaimFails, registers: Iterable[int]) -> Iterator[Change]:
        layout = self.judgement.layout
        assert layout is not None
        for register in registers:
            for event in layout.network.registers[register].writes:
                if event < len(self.unfolded.acts):
                    yield from self._order(event, failing.act)

    def _order(self, first: int, second: int) -> Iterator[Change]:
        """ "second waits for first", if that is not already so and not the contrary."""
        layout = self.judgement.layout
        assert layout is not None
        notes = self.unfolded.acts
        if notes[first].step is None or notes[second].step is None:
            return
        if notes[first].step == notes[second].step or notes[first].ends_treatment:
            return
        if layout.network.before[second] >> first & 1 or layout.network.before[first] >> second & 1:
            return
        waits = self.unfolded.steps[notes[second].step or 0]
        of = self.unfolded.steps[notes[first].step or 0]
        facts = {"step": waits.text, "of": of.text, "label": of.label or label_for(of.text)}
        if of.label is None:
            facts["new"] = "yes"
        yield Change(Remedy("add-after", facts, waits.place), None, (first, second))

    # Paths of soil

    def _changes_for_hit(self, hit: Hit) -> Iterator[Change]:
        yield from self._orders_for_hit(hit)
        yield from self._steps_for_hit(hit)

    def _orders_for_hit(self, hit: Hit) -> Iterator[Change]:
        layout = self.judgement.layout
        assert layout is not None
        acts = len(self.unfolded.acts)
        for leg in hit.legs:
            events = [hop.event for hop in leg.route if hop.event < acts]
            for earlier, later in pairwise(events):
                yield from self._order(later, earlier)
            for spot in dict.fromkeys(self.names.spot_at(hop.start) for hop in leg.route):
                for one, other in combinations(self._treating(spot), 2):
                    yield from self._order(one, other)
                    yield from self._order(other, one)
            for number, hop in enumerate(leg.route):
                spot = self.names.spot_at(hop.start)
                since = events[number - 1] if 0 < number <= len(events) else None
                for ender in self._enders(spot):
                    if hop.event >= acts or ender == hop.event:
                        continue
                    yield from self._order(ender, hop.event)
                    if since is not None and ender != since:
                        yield from self._order(since, ender)

    def _treating(self, spot: int) -> list[int]:
        """The acts in which somebody washes or treats what the spot is on."""
        layout = self.judgement.layout
        assert layout is not None
        plan = layout.plan
        found: list[int] = []
        for number, act in enumerate(plan.acts):
            for effect in act.effects:
                targets: tuple[Target, ...] = ()
                if isinstance(effect, Treat | Wash):
                    targets = effect.targets
                elif isinstance(effect, Wet):
                    targets = plan.treatments[effect.treatment].targets
                if any(
                    isinstance(target, Outer) and plan.bodies[target.body].spot == spot
                    for target in targets
                ):
                    found.append(number)
        return list(dict.fromkeys(found))

    def _enders(self, spot: int) -> Iterator[int]:
        """The acts after which a token that was at the spot may be gone from it."""
        layout = self.judgement.layout
        assert layout is not None
        own_body = [body for body in layout.plan.bodies if body.spot == spot]
        for number, act in enumerate(layout.plan.acts):
            for effect in act.effects:
                if isinstance(effect, Treat | Wash):
                    targets = effect.targets
                elif isinstance(effect, WetEnd):
                    targets = layout.plan.treatments[effect.treatment].targets
                elif isinstance(effect, Unfit):
                    yield number
                    continue
                else:
                    continue
                if any(
                    (isinstance(target, At) and target.spot == spot)
                    or (isinstance(target, Outer) and layout.plan.bodies[target.body] in own_body)
                    for target in targets
                ):
                    yield number

    def _steps_for_hit(self, hit: Hit) -> Iterator[Change]:
        acts = len(self.unfolded.acts)
        if hit.who is Reached.HANDS_AT_END:
            person = self._person_of_hands(hit.spot)
            if person is not None:
                yield from self._at_the_end(person)
        for leg in reversed(hit.legs):
            for hop in reversed(leg.route):
                if hop.event < acts:
                    yield from self._before_hop(self.names.spot_at(hop.start), hop.event)
                if hop.event < acts and hop.target is None:
                    yield from self._after_hop(self.names.spot_at(hop.to), hop.event)

    def _before_hop(self, spot: int, event: int) -> Iterator[Change]:
        """Clean the hands, or change the gloves, that carry the soil into this step."""
        note = self.unfolded.acts[event]
        if note.step is None:
            return
        step = self.unfolded.steps[note.step]
        instead = self.tools.with_a_new_wipe(step)
        if instead is not None:
            remedy = Remedy("write-instead", {"step": step.text, "text": instead.text}, step.place)
            yield Change(remedy, partial(replaced, self.unfolded.protocol, step, instead))
        person = self._person_of_hands(spot)
        if person is not None:  # whoever it is: a parent's hands, or the patient's, are cleaned too
            clean = self.tools.clean_hands(person)
            yield from self._insert_around(step, note.step, person, clean, f"{person}'s hands")
        glove = self._glove(spot)
        if glove is not None:
            person, thing = glove
            what = f"{person}'s {thing}"
            bare = self.tools.bare_hands(person, thing)
            yield from self._insert_around(step, note.step, person, bare, what)
            yield from self._insert(step, self.tools.fresh_gloves(person, thing), what)

    def _insert_around(
        self, step: Step, number: int, person: str, items: tuple[Item, ...], what: str
    ) -> Iterator[Change]:
        """Before the step, and before and after the last own step that others do not wait for."""
        yield from self._insert(step, items, what)
        protocol = self.unfolded.protocol
        earlier = [
            one
            for one in self._own_steps_up_to(number, person)[1:]
            if not in_any_order(protocol, one)
        ]
        for one in earlier[:1]:
            yield from self._insert(one, items, what, after=True)
        for one in earlier[:2]:
            yield from self._insert(one, items, what)

    def _after_hop(self, spot: int, event: int) -> Iterator[Change]:
        """Clean and disinfect the thing that the soil has come to, before the gloves come off."""
        thing = self._thing(spot)
        note = self.unfolded.acts[event]
        bare = self._person_of_hands(spot)
        if bare is not None and self.tools.is_staff(bare) and note.step is not None:
            on = self.tools.gloves_on(bare)
            yield from self._insert(self.unfolded.steps[note.step], on, f"{bare}'s hands")
        if thing is None or note.step is None:
            return
        doer = note.person if note.person and self.tools.is_staff(note.person) else None
        for treating in self._treating(spot):
            treated, person = self.unfolded.acts[treating].step, self.unfolded.acts[treating].person
            if treated is not None and person is not None:
                yield from self._insert(
                    self.unfolded.steps[treated], self.tools.clean(person, thing), thing
                )
        for step in self._touching_after(event, thing):
            person = self._doer(step)
            if person is not None:
                yield from self._insert(step, self.tools.wait_until_dry(person, thing), thing)
        for person in self._staff():
            last = self._last_step(person)
            if last is not None:
                dry = self.tools.wait_until_dry(person, thing)
                yield from self._insert(last, dry, thing, after=True)
        for person in [doer] if doer is not None else self._staff():
            for items in (
                self.tools.disinfect(person, thing),
                self.tools.clean_and_disinfect(person, thing),
            ):
                for step in self._touching_after(event, thing):
                    yield from self._insert(step, items, thing)
                for step in self._gloves_off_after(event, person):
                    yield from self._insert(step, items, thing)
            yield from self._insert(self.unfolded.steps[note.step], items, thing, after=True)

    def _at_the_end(self, person: str) -> Iterator[Change]:
        step = self._last_step(person)
        if step is not None:
            yield from self._insert(
                step, self.tools.clean_hands(person), f"{person}'s hands", after=True
            )

    def _insert(
        self, step: Step, items: tuple[Item, ...], what: str, after: bool = False
    ) -> Iterator[Change]:
        if not items or any(isinstance(one, Step) and one.text == step.text for one in items):
            return  # the same step twice in a row mends nothing
        here = tuple(placed(item, step.place) for item in items)
        protocol = partial(inserted, self.unfolded.protocol, step, here, after)
        if in_any_order(self.unfolded.protocol, step):
            both = (step, *items) if after else (*items, step)
            lines = ["in order", *(f"  {line}" for line in written(both))]
            remedy = Remedy(
                "write-instead", {"step": step.text, "text": "\n".join(lines)}, step.place
            )
        elif after:
            facts = {"text": "\n".join(written(items)), "after": step.text}
            remedy = Remedy("add-step", facts, step.place)
        else:
            facts = {"what": what, "step": step.text, "text": "\n".join(written(items))}
            remedy = Remedy("clean-before", facts, step.place)
        yield Change(remedy, protocol)

    # Who and what

    def _person_of_hands(self, spot: int) -> str | None:
        for (owner, part), body in self.unfolded.bodies.items():
            if part == "hands" and self.unfolded.plan.bodies[body].spot == spot:
                return owner
        return None

    def _glove(self, spot: int) -> tuple[str, str] | None:
        """Whose glove this is, and which kind."""
        unfolded = self.unfolded
        for piece, record in enumerate(unfolded.plan.pieces):
            if spot in record.spots:
                thing = unfolded.protocol.things.get(record.kind)
                act = unfolded.pieces_made.get(piece)
                person = (
                    unfolded.worn_at_start.get(piece) if act is None else unfolded.acts[act].person
                )
                if thing is not None and thing.worn_on == "hands" and person:
                    return person, thing.name
        return None

    def _thing(self, spot: int) -> str | None:
        for (owner, _), body in self.unfolded.bodies.items():
            if (
                owner in self.unfolded.protocol.things
                and self.unfolded.plan.bodies[body].spot == spot
            ):
                return owner
        return None

    def _staff(self) -> Iterator[str]:
        seen: dict[str, None] = {}
        for note in self.unfolded.acts:
            if note.person is not None:
                seen[note.person] = None
        yield from (name for name in seen if self.tools.is_staff(name))

    def _doer(self, step: Step) -> str | None:
        """The member of staff who does the step."""
        for number, one in enumerate(self.unfolded.steps):
            if one is step:
                person = self.unfolded.acts[self.unfolded.acts_of[number][0]].person
                return person if person is not None and self.tools.is_staff(person) else None
        return None

    def _touching_after(self, event: int, thing: str) -> list[Step]:
        """The last steps after the event that touch the thing, the last first."""
        layout = self.judgement.layout
        assert layout is not None
        bodies = {body for (owner, _), body in self.unfolded.bodies.items() if owner == thing}
        steps: dict[int, None] = {}
        for act in reversed(range(len(self.unfolded.acts))):
            number = self.unfolded.acts[act].step
            touches = any(
                isinstance(effect, Meet | Pass)
                and any(
                    isinstance(target, Outer) and target.body in bodies
                    for target in _targets(effect)
                )
                for effect in layout.plan.acts[act].effects
            )
            if touches and number is not None and layout.network.before[act] >> event & 1:
                steps[number] = None
        return [self.unfolded.steps[number] for number in list(steps)[:2]]

    def _gloves_off_after(self, event: int, person: str) -> Iterator[Step]:
        """Steps after the event in which the person takes gloves off, the last first."""
        layout = self.judgement.layout
        assert layout is not None
        body = self.unfolded.bodies.get((person, "hands"))
        if body is None:
            return
        registers = [
            layout.network.registers[layer] for layer in self.unfolded.plan.bodies[body].layers
        ]
        off = [
            act
            for act in range(len(self.unfolded.acts))
            if any(register.writes.get(act) == NOTHING for register in registers)
            and layout.network.before[act] >> event & 1
        ]
        seen: set[int] = set()
        for act in reversed(off):
            number = self.unfolded.acts[act].step
            if number is not None and number not in seen:
                seen.add(number)
                yield self.unfolded.steps[number]


def _targets(effect: Meet | Pass) -> tuple[Target, ...]:
    return effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals


def _lines(one: Worked) -> frozenset[str]:
    """The lines that a change adds; none for an order line."""
    return frozenset(one.remedy.facts.get("text", "").splitlines())


def _each_once(changes: Iterable[Change]) -> Iterator[Change]:
    told: set[tuple[str, ...]] = set()
    for change in changes:
        key = (change.remedy.kind, str(change.remedy.place), *change.remedy.facts.values())
        if key not in told:
            told.add(key)
            yield change
