"""Findings about soil: one for each cause, told as the story of how it travels.

Many hits can have one cause. They are one finding if the same tried change removes them; the one
that matters most is told, and what else the soil reaches is said beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from protocol_lang.checks.keys import key_of_soil
from protocol_lang.checks.remedies import Trials, Worked
from protocol_lang.checks.story import Names, contexts, route_of_soil
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import (
    NOTHING,
    OF_PATIENTS,
    Acts,
    Effect,
    Origin,
    Outer,
    Reached,
    Target,
    Treat,
    Wash,
    Wet,
    WetEnd,
    treated,
)
from protocol_lang.contamination.marks import (
    LEAK,
    STATES,
    TEAR,
    TRACE,
    Contact,
    Delivered,
    Token,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.visits import Hit, Suspect
from protocol_lang.findings import Finding, Remedy
from protocol_lang.model.parts import Counts, PersonKind
from protocol_lang.order.question import Hop

_FIRST_TOLD = (
    Reached.PATIENT,
    Reached.CLAIM,
    Reached.STAFF,
    Reached.CLEAN_THING,
    Reached.HANDS_AT_END,
)


#: So many causes are told of one protocol; whoever mends these sees the rest then.
MOST_CAUSES = 12
#: So many others that the same soil reaches, in the very same visits, are named beside a story.
MOST_ALSO = 5


class SoilFindings:
    """Makes the findings about soil of one judgement. ``mend``: whether to try changes.

    ``lasting``: what is told does not depend on that. Changes are then offered beside it, and tell
    neither which paths have one cause nor what a finding is called.
    """

    def __init__(
        self, unfolded: Unfolded, judgement: Judgement, mend: bool, lasting: bool = False
    ) -> None:
        self._mend = mend
        self._lasting = lasting
        self.trials: Trials | None = None
        self._contexts = {
            unfolded.acts[act].place: told for act, told in contexts(unfolded).items()
        }
        self._look_at(unfolded, judgement)

    def _look_at(self, unfolded: Unfolded, judgement: Judgement) -> None:
        """From now on speak of this protocol: the one asked about, or that with changes made."""
        self.unfolded = unfolded
        self.judgement = judgement
        self.names = Names(unfolded)
        acts_tried = self.trials.acts_tried if self.trials is not None else 0
        self.trials = Trials(unfolded, judgement, acts_tried) if self._mend else None
        self.mouths = {
            unfolded.bodies[person.name, part.name]
            for person in unfolded.protocol.people.values()
            for part in unfolded.protocol.body_parts
            if part.of is person.kind and part.counts is Counts.MOUTH
        }

    def all(self) -> Iterator[tuple[Finding, list[Worked]]]:
        """Every finding about soil, each cause once, with the changes that put it right.

        The suspects are decided exactly, those that matter most first. Once a change is known that
        puts a cause right, the next cause is looked for in the protocol with that change made: so
        faults that stand beside each other do not hide each other, and what has the same cause is
        not told again. Where findings are to last, neither is done: a path is told by itself.
        """
        left = set(self.judgement.suspects)
        for _ in range(MOST_CAUSES):
            paths = self.judgement.paths
            if not left or paths is None:
                return
            hit = self._worst(left)
            if hit is None:
                return
            suspect = Suspect(hit.who, hit.claim, hit.spot, hit.origin)
            left.discard(suspect)
            classes = paths.classes_reaching(hit)
            if len(classes) == len(self.unfolded.plan.classes):
                classes = ()  # all of them: not worth a list
            worked = self._worked(hit)
            same = [
                other
                for other in sorted(left, key=lambda one: (self._rank(one), one.spot))
                if self._same_cause(hit, other, [] if self._lasting else worked)
            ]
            mended = {key_of_soil(self.names, other, self.unfolded) for other in same}
            worked = [one for one in worked if not mended & one.left]
            met = paths.met_in(hit)
            also: dict[str, Suspect] = {}
            for other in same:
                if other in met and other.who is not Reached.CLAIM:
                    also.setdefault(self._also_reached(other), other)
            also.pop(self._also_reached(suspect), None)  # the finding is about it
            named = list(also.values())[:MOST_ALSO]
            yield self._finding(replace(hit, classes=classes), worked, named), worked
            left -= set(same)
            if worked and not self._lasting:
                keys = {key_of_soil(self.names, other, self.unfolded) for other in left}
                own = key_of_soil(self.names, hit, self.unfolded)
                keys |= {own} & worked[0].left
                self._look_at(worked[0].unfolded, worked[0].judgement)
                left = {
                    other
                    for other in self.judgement.suspects
                    if key_of_soil(self.names, other, self.unfolded) in keys
                }

    def _worst(self, left: set[Suspect]) -> Hit | None:
        """The hit that matters most; those that prove to be safe are taken out of ``left``."""
        paths = self.judgement.paths
        while left and paths is not None:
            worst = min(self._rank(suspect) for suspect in left)
            wanted = frozenset(suspect for suspect in left if self._rank(suspect) == worst)
            hit = paths.first(wanted)
            if hit is not None:
                return hit
            left -= wanted
        return None

    def _rank(self, suspect: Suspect | Hit) -> tuple[int, int, int]:
        """Patients before staff before things, and a mouth before the rest of a patient."""
        body = self.unfolded.plan.bodies
        mouth = any(body[number].spot == suspect.spot for number in self.mouths)
        second = int(suspect.origin is Origin.NEXT)  # the same again, from a visit later
        return (_FIRST_TOLD.index(suspect.who), int(not mouth), second)

    def _worked(self, hit: Hit) -> list[Worked]:
        if self.trials is None:
            return []
        return self.trials.for_hit(hit, key_of_soil(self.names, hit, self.unfolded))

    def _same_cause(self, hit: Hit, other: Suspect, worked: list[Worked]) -> bool:
        if worked:
            return key_of_soil(self.names, other, self.unfolded) not in worked[0].left
        if other.origin is not hit.origin and not {other.origin, hit.origin} <= OF_PATIENTS:
            return False
        if other.who is hit.who or other.spot in self._on_the_way(hit):
            return True
        if other.spot == hit.spot:
            return True
        too_little = self._treated_too_little(hit)
        if not too_little or self.judgement.paths is None:
            return False
        beside = self.judgement.paths.first(frozenset({other}))
        return beside is not None and self._treated_too_little(beside) == too_little

    def _on_the_way(self, hit: Hit) -> set[int]:
        """The spots that the route passes."""
        return {
            self.names.spot_at(hop.to)
            for leg in hit.legs
            for hop in leg.route
            if self.names.is_act(hop.event)
        }

    def _finding(self, hit: Hit, worked: list[Worked], same: list[Suspect]) -> Finding:
        act = self.unfolded.acts[hit.act]
        route = route_of_soil(self.unfolded, self.names, hit)
        kind, facts = self._kind(hit)
        if route.steps:
            facts["first"] = route.steps[0].text
            facts["last"] = route.steps[-1].text
        facts.update(self._torn(hit) or self._treated_in_vain(hit) or self._leaked(hit))
        also = list(dict.fromkeys(self._also_reached(other) for other in same))
        if also:
            facts["follows"] = "the same soil also reaches " + _listed(also)
        remedies = tuple(one.remedy for one in worked)
        order = next((one for one in remedies if one.kind == "add-after"), None)
        if order is not None and not self._lasting:
            kind, facts = "not-ordered", self._not_ordered(order, hit, facts)
        place = act.place
        if place is None:
            place = next(
                (step.place for step in reversed(route.steps) if step.place is not None),
                self.unfolded.protocol.header.place,
            )
        return Finding(
            kind,
            place,
            facts,
            context=self._contexts.get(place),
            route=route,
            remedies=remedies,
        )

    def _torn(self, hit: Hit) -> dict[str, str]:
        """A cover that the soil gets through, and the step in which it tore."""
        layout = self.judgement.layout
        assert layout is not None
        return self._through_a_cover(hit, TEAR) if layout.registers.torn else {}

    def _leaked(self, hit: Hit) -> dict[str, str]:
        """A cover that the soil gets through because it leaks."""
        if not any(piece.leaks for piece in self.unfolded.plan.pieces):
            return {}
        return self._through_a_cover(hit, LEAK)

    def _through_a_cover(self, hit: Hit, how: int) -> dict[str, str]:
        layout = self.judgement.layout
        assert layout is not None
        plan, registers = self.unfolded.plan, layout.network.registers
        for leg in hit.legs:
            values = dict(enumerate(register.initial for register in registers))
            tore: dict[int, int] = {}
            for act in leg.order:
                if act >= len(plan.acts) or not plan.acts[act].worlds >> leg.world & 1:
                    continue
                for layer, register in layout.registers.torn.items():
                    if registers[register].writes.get(act):
                        tore[layer] = act
                for hop in leg.route:
                    spots = {self.names.spot_at(hop.start), self.names.spot_at(hop.to)}
                    if isinstance(leg.goal, Delivered) and hop.target is not None:
                        spots.add(leg.goal.spot)
                    if hop.event == act:
                        for layer in self._layers_passed(act, values, spots, how):
                            cover = plan.pieces[values[layer]].name
                            if how == LEAK:
                                return {"leaks": cover, "leaked_in": self.names.act(act)}
                            return {"torn": cover, "tore_in": self.names.act(tore[layer])}
                for number, memory in enumerate(registers):
                    values[number] = memory.writes.get(act, values[number])
        return {}

    def _layers_passed(
        self, act: int, values: dict[int, int], spots: set[int], how: int
    ) -> Iterator[int]:
        """The layers through whose tears, or leaks, one of ``spots`` is touched in the act."""
        layout = self.judgement.layout
        assert layout is not None
        plan = layout.plan
        through = {
            spot
            for move in Token(layout, plan.acts[act], dict(values)).course()
            if isinstance(move, Contact)
            for spot, touched in move.touching
            if touched == how and spot in spots
        }
        before = Token(layout, plan.acts[act], dict(values))
        for body in plan.bodies:
            held = [layer for layer in body.layers if values[layer] != NOTHING]
            under = {body.spot, *(plan.pieces[values[layer]].outside for layer in held)}
            if through & under:
                yield from (layer for layer in reversed(held) if before.through(layer) == how)

    def _treated_in_vain(self, hit: Hit) -> dict[str, str]:
        """Why a treatment on the way did not end the soil; nothing would have ended a chemical."""
        if hit.origin is Origin.CHEMICAL:
            return {}
        return (
            self._treated_too_little(hit)
            or self._still_wet(hit)
            or self._not_washed(hit)
            or self._only_traces(hit)
        )

    def _only_traces(self, hit: Hit) -> dict[str, str]:
        """Hands on the way that are treated with what ends traces only, when there is more."""
        plan = self.unfolded.plan
        for hop, spot, act, effect in self._effects_after(hit):
            if (
                isinstance(effect, Treat)
                and plan.levels[effect.level].acts is Acts.TRACES
                and not hop.to % STATES & TRACE
                and self._acts_on(effect.targets, spot)
            ):
                return {"rubbed": self.names.spot(spot), "rubbed_in": self.names.act(act)}
        return {}

    def _effects_after(self, hit: Hit) -> Iterator[tuple[Hop, int, int, Effect]]:
        """For each hop that brings soil to a spot, the effects of the acts after it, in the order
        of the story, until the soil goes on from there."""
        plan = self.unfolded.plan
        for leg in hit.legs:
            done = [
                act
                for act in leg.order
                if act < len(plan.acts) and plan.acts[act].worlds >> leg.world & 1
            ]
            for number, hop in enumerate(leg.route):
                spot = self.names.spot_at(hop.to)
                if hop.event not in done or hop.target is not None:
                    continue
                if self.names.spot_at(hop.start) == spot:
                    continue  # It was there before: this is a treatment of it.
                later = leg.route[number + 1].event if number + 1 < len(leg.route) else None
                end = done.index(later) if later in done else len(done)
                for act in done[done.index(hop.event) + 1 : end]:
                    for effect in plan.acts[act].effects:
                        yield hop, spot, act, effect

    def _treated_too_little(self, hit: Hit) -> dict[str, str]:
        """A thing on the way that is treated below its floor: that is why soil is still there."""
        plan = self.unfolded.plan
        world = hit.legs[0].world
        spots = self._on_the_way(hit)
        for act in plan.acts:
            if not act.worlds >> world & 1:
                continue
            for effect in act.effects:
                if (treatment := treated(plan, effect)) is None:
                    continue
                targets, level = treatment
                if level.acts is Acts.CHEMICALS:
                    continue
                for target in targets:
                    if not isinstance(target, Outer):
                        continue
                    spot = plan.bodies[target.body].spot
                    floor = next(
                        (rank for within, rank in plan.spots[spot].floors if within >> world & 1),
                        0,
                    )
                    least = next((one.name for one in plan.levels if one.rank == floor), None)
                    if spot in spots and level.rank < floor and least is not None:
                        return {
                            "treated": plan.spots[spot].name,
                            "level": level.name,
                            "floor": least,
                        }
        return {}

    def _still_wet(self, hit: Hit) -> dict[str, str]:
        """A thing on the way that is touched while a disinfection on it is still wet, or that is
        still wet when the visit ends."""
        plan = self.unfolded.plan
        layout = self.judgement.layout
        assert layout is not None
        for leg in hit.legs:
            at = {event: number for number, event in enumerate(leg.order)}
            spots = {
                self.names.spot_at(place) for hop in leg.route for place in (hop.start, hop.to)
            }
            for number, treatment in enumerate(plan.treatments):
                wet = [
                    plan.bodies[target.body].spot
                    for target in treatment.targets
                    if isinstance(target, Outer) and plan.bodies[target.body].spot in spots
                ]
                begun = self._act_with(Wet(number), leg.world)
                if not wet or begun is None:
                    continue
                dry = self._act_with(WetEnd(number), leg.world)
                over = len(leg.order) if dry is None else at[dry]
                register = layout.network.registers[layout.registers.undisturbed(number)]
                told = {"wet": self.names.spot(wet[0])}
                for act, value in register.writes.items():
                    present = plan.acts[act].worlds >> leg.world & 1
                    if present and not value and at[begun] < at[act] < over:
                        return {**told, "touched": self.names.act(act)}
                if dry is None:
                    return told
        return {}

    def _not_washed(self, hit: Hit) -> dict[str, str]:
        """A thing on the way that is treated without having been washed since the soil came."""
        washed: set[Hop] = set()
        for hop, spot, act, effect in self._effects_after(hit):
            if isinstance(effect, Wash) and self._acts_on(effect.targets, spot):
                washed.add(hop)
            elif hop not in washed and self._treats_rinsed(effect, spot):
                return {"unwashed": self.names.spot(spot), "treated_in": self.names.act(act)}
        return {}

    def _treats_rinsed(self, effect: Effect, spot: int) -> bool:
        """Whether the effect treats the spot, or begins to, with what acts on rinsed soil only."""
        levels = self.unfolded.plan.levels
        if isinstance(effect, Treat):
            rinsed = levels[effect.level].acts is Acts.RINSED
            return rinsed and self._acts_on(effect.targets, spot)
        return isinstance(effect, Wet) and self._wets(effect.treatment, spot)

    def _acts_on(self, targets: tuple[Target, ...], spot: int) -> bool:
        bodies = self.unfolded.plan.bodies
        return any(
            isinstance(target, Outer) and bodies[target.body].spot == spot for target in targets
        )

    def _wets(self, treatment: int, spot: int) -> bool:
        return self._acts_on(self.unfolded.plan.treatments[treatment].targets, spot)

    def _act_with(self, effect: Effect, world: int) -> int | None:
        """The act of a world that has this effect."""
        acts = enumerate(self.unfolded.plan.acts)
        return next(
            (at for at, act in acts if act.worlds >> world & 1 and effect in act.effects), None
        )

    def _not_ordered(self, order: Remedy, hit: Hit, facts: dict[str, str]) -> dict[str, str]:
        told = {
            "first": order.facts["of"],
            "second": order.facts["step"],
            "reaches": self._reached(hit),
        }
        if "follows" in facts:
            told["follows"] = facts["follows"]
        return told

    def _visit(self, hit: Hit) -> int:
        return len(hit.legs) if hit.origin in OF_PATIENTS else 1

    def _reached(self, hit: Hit) -> str:
        return self.names.spot(hit.spot, self._visit(hit))

    def _also_reached(self, suspect: Suspect) -> str:
        later = suspect.who is Reached.PATIENT and suspect.origin in OF_PATIENTS
        return self.names.spot(suspect.spot, 2 if later else 1)

    def _kind(self, hit: Hit) -> tuple[str, dict[str, str]]:
        name = self._reached(hit)
        owner, _, part = self.names.spot(hit.spot).rpartition("'s ")
        match hit.who:
            case Reached.PATIENT if hit.origin in OF_PATIENTS:
                source = self.names.at(hit.legs[0].route[0].start, 1)
                facts = {"who": name, "from_what": source}
                if (soil := self._always_at(source)) is not None:
                    facts["soil"] = soil
                return "path-to-patient", facts
            case Reached.PATIENT:
                return "world-to-patient", {"origin": hit.origin.value, "part": name}
            case Reached.STAFF:
                facts = {"who": owner or name, "part": part}
                if hit.origin is Origin.CHEMICAL:
                    facts["origin"] = hit.origin.value
                return "path-to-staff", facts
            case Reached.CLEAN_THING:
                return "clean-thing-reached", {"thing": name}
            case Reached.HANDS_AT_END:
                return "hands-at-end", {"who": owner or name}
            case Reached.CLAIM:
                return "claim-not-clean", {"what": name, "step": self.unfolded.acts[hit.act].text}

    def _always_at(self, source: str) -> str | None:
        """What a part of a patient is full of: "saliva", "blood" ...; None: of nothing."""
        part = source.rpartition("'s ")[2]
        return next(
            (
                one.full_of
                for one in self.unfolded.protocol.body_parts
                if one.of is PersonKind.PATIENT and one.name == part
            ),
            None,
        )


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
