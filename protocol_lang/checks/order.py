"""Findings about order: what contradicts itself, what cannot be done, what need not hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from protocol_lang.checks.keys import Key, key_of_claim
from protocol_lang.checks.said import claim_of
from protocol_lang.checks.story import Names, contexts, registers_of, route_of_order
from protocol_lang.contamination.judge import (
    ClaimFails,
    Judgement,
    LeftOver,
    MisstepFound,
    NotReady,
    WhichOne,
    first_misstep,
)
from protocol_lang.contamination.kernel import NOTHING, Meet, Outer, Pass, Target
from protocol_lang.contamination.marks import Layout, Misstep
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import branchings_of, states_in
from protocol_lang.findings import Finding
from protocol_lang.model.protocol import Protocol, Role
from protocol_lang.model.walk import steps_of
from protocol_lang.text import Place

_MISSTEP_KINDS = {
    "on twice": "cover-on-twice",
    "under a cover": "under-a-cover",
    "nothing to take off": "cover-not-on",
    "not one piece": "which-one",
    "nothing held": "nothing-taken",
    "retired": "already-thrown-away",
}


#: Claims about where people are, by the kind of finding that tells when they fail.
_OF_PLACES = {
    "from-afar": "touched-from-afar",
    "exposure": "near-an-exposure",
    "gloves-behind": "gloves-off-the-dirty-side",
    "air": "air-breathed",
    "air-at-end": "air-not-clear",
}


class OrderFindings:
    """Makes the findings about order of one judgement."""

    def __init__(self, unfolded: Unfolded, judgement: Judgement) -> None:
        self.unfolded = unfolded
        self.judgement = judgement
        self.names = Names(unfolded)
        self.contexts = contexts(unfolded)
        self._fact = {number: fact for fact, number in unfolded.facts.items()}

    def all(self) -> Iterator[Finding]:
        """Every finding about order, each cause once."""
        judgement = self.judgement
        if judgement.circle is not None:
            yield self._circle(judgement.circle.acts)
            return
        if judgement.no_run:
            yield self._no_run()
            return
        yield from self._never()
        if judgement.layout is None:
            return
        yield from self._missteps(judgement.layout)
        yield from self._which(judgement.layout)
        yield from self._claims(judgement.layout)
        yield from self._not_ready(judgement.layout)
        yield from self._left_over(judgement.layout)

    def _circle(self, acts: tuple[int, ...]) -> Finding:
        steps = [act for act in dict.fromkeys(acts) if self.unfolded.acts[act].step is not None]
        return Finding(
            "order-circle",
            self._place(steps[0]),
            {"steps": ", ".join(f'"{self._step(act)}"' for act in steps)},
            others=tuple(
                ("waits for it", place)
                for act in steps[1:]
                if (place := self._place(act)) is not None
            ),
            context=self.contexts.get(steps[0]),
        )

    def _no_run(self) -> Finding:
        asked = [number for number, step in enumerate(self.unfolded.steps) if step.after]
        acts = [self.unfolded.acts_of[number][0] for number in asked] or [0]
        return Finding(
            "no-permitted-order",
            self._place(acts[0]),
            {"steps": ", ".join(f'"{self._step(act)}"' for act in acts)},
            context=self.contexts.get(acts[0]),
        )

    def _never(self) -> Iterator[Finding]:
        if self.unfolded.only:
            return  # other choices may lead there
        done = {
            self._place(act)
            for act in range(len(self.unfolded.acts))
            if act not in self.judgement.never
        }
        elsewhere = set(_left_to_others(self.unfolded.protocol))
        told: set[Place | None] = set()
        for act in self.judgement.never:
            place = self._place(act)
            if place not in told and place not in done | elsewhere:
                told.add(place)
                yield Finding(
                    "never-done",
                    place,
                    {"step": self._step(act)},
                    context=self.contexts.get(act),
                )

    def _missteps(self, layout: Layout) -> Iterator[Finding]:
        """The same trouble with the same cover is told once, at the first step that meets it."""
        by_trouble: dict[tuple[str, ...], list[Finding]] = {}
        for found in self.judgement.missteps:
            first = first_misstep(layout, found.run) or found.misstep
            if self._follows_from_before(found, first):
                continue
            finding = self._misstep(layout, found, first, _MISSTEP_KINDS[first.kind])
            facts = finding.facts
            trouble = (finding.kind, facts["what"], facts.get("cover", ""))
            by_trouble.setdefault(trouble, []).append(finding)
        for findings in by_trouble.values():
            first_told, *others = sorted(findings, key=lambda one: (one.place is None, one.place))
            later = list(
                dict.fromkeys(
                    f'"{one.facts["step"]}" (line {one.place.line})'
                    for one in others
                    if one.place is not None and one.place != first_told.place
                )
            )
            if later:
                follows = f"the same can happen before {' and '.join(later[:3])}"
                first_told = replace(first_told, facts={**first_told.facts, "follows": follows})
            yield first_told

    def _follows_from_before(self, found: MisstepFound, misstep: Misstep) -> bool:
        """Whether the protocol before left something else than this one begins with, which is told
        instead."""
        order = found.run.order
        return any(
            found.worlds & ~self.judgement.judged & failing.worlds == found.worlds
            and order.index(failing.act) < order.index(misstep.act)
            for failing in self.judgement.claims
            if self.unfolded.claims[failing.claim].kind in ("begins", "leaves")
        )

    def _misstep(self, layout: Layout, found: MisstepFound, misstep: Misstep, kind: str) -> Finding:
        plan = self.unfolded.plan
        facts = {"step": self._step(misstep.act)}
        registers: set[int] = set()
        if misstep.kind == "nothing held":
            facts["what"] = self.unfolded.holds[misstep.layer][0]
            registers.add(layout.registers.hold(misstep.layer))
        elif misstep.kind == "retired":
            facts["what"] = plan.pieces[misstep.piece].name
            registers.update(
                layout.registers.hold(number)
                for number, (thing, _) in enumerate(self.unfolded.holds)
                if thing == facts["what"]
            )
        else:
            body = plan.bodies[layout.body_of_layer[misstep.layer]]
            facts["what"] = self.names.spot(body.spot)
            registers.update(layout.registers.layer(layer) for layer in body.layers)
            if misstep.piece != NOTHING:
                facts["cover"] = plan.pieces[misstep.piece].name
            else:
                facts["cover"] = plan.layers[misstep.layer].name.partition(" on ")[0]
        return Finding(
            kind,
            self._place(misstep.act),
            facts,
            context=self.contexts.get(misstep.act),
            route=route_of_order(
                self.unfolded, self.names, layout, found.run, misstep.act, registers
            ),
        )

    def _which(self, layout: Layout) -> Iterator[Finding]:
        told: set[Place | None] = set()
        for one in self.judgement.which:
            place = self._place(one.act)
            if place not in told:
                told.add(place)
                yield self._which_one(layout, one)

    def _which_one(self, layout: Layout, one: WhichOne) -> Finding:
        thing = self.unfolded.holds[one.hold][0]
        made = [self.unfolded.pieces_made.get(piece) for piece in one.pieces]
        taken = [
            f'the {thing} of "{self._step(act)}"' if act is not None else f"no {thing} yet"
            for act in made
        ]
        return Finding(
            "which-one",
            self._place(one.act),
            {"step": self._step(one.act), "what": " or ".join(taken)},
            context=self.contexts.get(one.act),
            route=route_of_order(
                self.unfolded,
                self.names,
                layout,
                one.runs[0],
                one.act,
                [layout.registers.hold(one.hold)],
            ),
        )

    def _claims(self, layout: Layout) -> Iterator[Finding]:
        """Claims that fail for the same reason are told once, at the first step that they hit."""
        by_reason: dict[tuple[str, ...], list[ClaimFails]] = {}
        for failing in self.judgement.claims:
            note = self.unfolded.claims[failing.claim]
            if self._told_by_the_verb(layout, failing):
                continue
            reason = (note.kind, self.claim_text(failing), self._since(layout, failing))
            by_reason.setdefault(reason, []).append(failing)
        for (_, text, _), failings in by_reason.items():
            finding = self._claim(layout, failings[0], text)
            later = list(
                dict.fromkeys(
                    f'"{self._step(one.act)}"'
                    for one in failings[1:]
                    if self._place(one.act) != self._place(failings[0].act)
                )
            )
            if later:
                told = " and ".join(later[:3])
                finding = replace(
                    finding,
                    facts={**finding.facts, "follows": f"the same can happen before {told}"},
                )
            yield finding

    def _told_by_the_verb(self, layout: Layout, failing: ClaimFails) -> bool:
        """Whether the verb itself asks where whoever does it is: then that is told, once."""
        if self.unfolded.claims[failing.claim].kind not in ("exposure", "from-afar"):
            return False
        claims = self.unfolded.plan.claims
        registers = registers_of(layout, claims[failing.claim])
        return any(
            other.act == failing.act
            and self.unfolded.claims[other.claim].kind == "only-when"
            and not failing.worlds & ~other.worlds
            and registers & registers_of(layout, claims[other.claim])
            for other in self.judgement.claims
        )

    def _since(self, layout: Layout, failing: ClaimFails) -> str:
        """The step that made the claim fail in the run that shows it, whichever time round."""
        registers = registers_of(layout, self.unfolded.plan.claims[failing.claim])
        act = self._last_writer(layout, failing, registers)
        return "" if act is None else str(self._place(act))

    def claim_text(self, failing: ClaimFails) -> str:
        """The claim in words, for the act before which it fails."""
        return claim_of(self.unfolded, failing.claim, self.unfolded.acts[failing.act])

    def _claim(self, layout: Layout, failing: ClaimFails, text: str) -> Finding:
        note = self.unfolded.claims[failing.claim]
        registers = registers_of(layout, self.unfolded.plan.claims[failing.claim])
        route = route_of_order(
            self.unfolded, self.names, layout, failing.run, failing.act, sorted(registers)
        )
        facts = {
            "step": self._step(failing.act),
            "claim": text,
            "person": self.unfolded.acts[failing.act].person or "",
        }
        kind = "claim-can-fail"
        if note.kind == "duty":
            kind = "duty-can-fail"
            facts["duty"] = note.facts["duty"]
            facts["person"] = note.facts["person"]
            facts["after"] = self._last_before(layout, failing, registers)
        elif note.kind == "where":
            kind = "either-here"
        elif note.kind in _OF_PLACES:
            kind = _OF_PLACES[note.kind]
            facts |= note.facts
        own_place = note.kind in ("begins", "leaves", "where")
        place = note.place if own_place else self._place(failing.act)
        if place is None:  # the end of the visit: the step after which something was left undone
            place = next((step.place for step in reversed(route.steps) if step.place), None)
        return Finding(kind, place, facts, context=self.contexts.get(failing.act), route=route)

    def _last_before(self, layout: Layout, failing: ClaimFails, registers: set[int]) -> str:
        """The step that last changed what the claim speaks of."""
        act = self._last_writer(layout, failing, registers)
        return "the start of the visit" if act is None else self._step(act)

    def _last_writer(self, layout: Layout, failing: ClaimFails, registers: set[int]) -> int | None:
        """The act that is done last in the run before the claim, of those that it depends on."""
        network, run = layout.network, failing.run
        for event in reversed(run.order[: run.order.index(failing.act)]):
            if (
                event < len(self.unfolded.acts)
                and network.present[event] >> run.world & 1
                and any(event in network.registers[register].writes for register in registers)
            ):
                return event
        return None

    def _not_ready(self, layout: Layout) -> Iterator[Finding]:
        by_state: dict[tuple[str, str], list[NotReady]] = {}
        wrong = {one.number for one in self.judgement.not_ready if one.kind == "layer"}
        for one in self.judgement.not_ready:
            if one.kind == "torn" and one.number in wrong:
                continue  # it should not be there, torn or not
            if self._is_elsewhere(one):
                continue
            by_state.setdefault(self._states(one), []).append(one)
        for (begins, ends), ones in by_state.items():
            what = ", ".join(dict.fromkeys(self.what_is_not_ready(one) for one in ones))
            first = ones[0]
            match first.kind:
                case "layer":
                    registers = [layout.registers.layer(first.number)]
                case "torn":
                    registers = [first.number, layout.registers.torn[first.number]]
                case _:
                    registers = [layout.registers.fact(first.number)]
            route = route_of_order(
                self.unfolded, self.names, layout, first.run, layout.end, registers
            )
            place = next(
                (step.place for step in reversed(route.steps[:-1]) if step.place is not None),
                self.unfolded.protocol.header.place,
            )
            act = next(
                (number for number, note in enumerate(self.unfolded.acts) if note.place == place),
                layout.end,
            )
            yield Finding(
                "not-ready",
                place,
                {"what": what, "begins": begins, "ends": ends},
                context=self.contexts.get(act),
                route=route if len(route.steps) > 1 or route.choices else None,
            )

    def keys_of(self, finding: Finding) -> frozenset[Key]:
        """The keys of what a finding about claims, or about what is not ready, speaks of."""
        if finding.kind in ("claim-can-fail", "duty-can-fail", *_OF_PLACES.values()):
            return frozenset(
                key_of_claim(self.unfolded, failing.act, failing.claim)
                for failing in self.judgement.claims
                if self._place(failing.act) == finding.place
                and self.claim_text(failing) == finding.facts["claim"]
            )
        if finding.kind == "not-ready":
            what = tuple(finding.facts["what"].split(", "))
            numbers = self.numbers_not_ready(what)
            return frozenset(("not ready", "layer", number) for number in numbers)
        return frozenset()

    def act_at(self, finding: Finding) -> int | None:
        """The first act of the step where the finding stands."""
        for number, note in enumerate(self.unfolded.acts):
            if note.step is not None and note.place == finding.place:
                return number
        return None

    def numbers_not_ready(self, what: tuple[str, ...]) -> list[str]:
        """The layers, as they stand in keys, of things that are not ready."""
        return [
            str(one.number)
            for one in self.judgement.not_ready
            if one.kind == "layer" and self.what_is_not_ready(one) in what
        ]

    def what_is_not_ready(self, one: NotReady) -> str:
        """The name of the thing or fact."""
        plan = self.unfolded.plan
        if one.kind == "fact":
            name, whose = self._fact[one.number]
            where = self._place_of(name)
            return plan.facts[one.number].name if whose is None or where is None else whose
        for body in plan.bodies:
            if one.number in body.layers:
                return self.names.spot(body.spot)
        return plan.layers[one.number].name

    def _place_of(self, fact: str) -> str | None:
        """The place, if the fact is that somebody is in it."""
        record = self.unfolded.protocol.facts.get(fact)
        return record.where if record is not None else None

    def _is_elsewhere(self, one: NotReady) -> bool:
        """Somebody is where the visit did not begin, which is told of where it did begin."""
        if one.kind != "fact" or self.unfolded.plan.facts[one.number].start:
            return False
        name, whose = self._fact[one.number]
        person = self.unfolded.protocol.people.get(whose or "")
        where = self._place_of(name)
        return where is not None and person is not None and person.starts_in is not None

    def _states(self, one: NotReady) -> tuple[str, str]:
        plan = self.unfolded.plan
        if one.kind == "fact":
            name, _ = self._fact[one.number]
            if self._place_of(name) is not None:
                return (name, "elsewhere") if plan.facts[one.number].start else ("outside", name)
            return ("so", "not so") if plan.facts[one.number].start else ("not so", "so")
        start = plan.layers[one.number].start
        torn = ", torn" if one.kind == "torn" else ""
        return self._on(start), self._on(one.value) + torn

    def _on(self, piece: int) -> str:
        return (
            "bare" if piece == NOTHING else f"covered with {self.unfolded.plan.pieces[piece].name}"
        )

    def _left_over(self, layout: Layout) -> Iterator[Finding]:
        plan = self.unfolded.plan
        begun = {layer.start for layer in plan.layers}
        covers = [one for one in self.judgement.left_over if one.piece in begun]
        by_kind: dict[str, list[LeftOver]] = {}
        for one in covers:
            by_kind.setdefault(plan.pieces[one.piece].name, []).append(one)
        for cover, ones in by_kind.items():
            yield self._not_changed(layout, cover, ones)
        told: set[Place | None] = set()
        for one in self.judgement.left_over:
            act = self.unfolded.pieces_made.get(one.piece)
            if one.piece in begun or act is None or self._place(act) in told:
                continue
            told.add(self._place(act))
            yield Finding(
                "left-over",
                self._place(act),
                {"thing": plan.pieces[one.piece].name},
                context=self.contexts.get(act),
                route=route_of_order(self.unfolded, self.names, layout, one.run, act, ()),
            )

    def _not_changed(self, layout: Layout, cover: str, ones: list[LeftOver]) -> Finding:
        """A cover that was on from the start, was touched, and is still there for the next
        patient."""
        plan = self.unfolded.plan
        what: dict[str, None] = {}
        layers: set[int] = set()
        for one in ones:
            for body in plan.bodies:
                for layer in body.layers:
                    if plan.layers[layer].start == one.piece:
                        what[self.names.spot(body.spot)] = None
                        layers.add(layer)
        bodies = {number for number, body in enumerate(plan.bodies) if layers & set(body.layers)}
        touching = [
            act
            for act in ones[0].run.order
            if act < len(plan.acts)
            and plan.acts[act].worlds >> ones[0].run.world & 1
            and any(
                isinstance(target, Outer) and target.body in bodies
                for effect in plan.acts[act].effects
                if isinstance(effect, Meet | Pass)
                for target in _targets(effect)
            )
        ]
        act = touching[-1] if touching else layout.end
        return Finding(
            "cover-not-changed",
            self._place(act) or self.unfolded.protocol.header.place,
            {"cover": cover, "what": ", ".join(what), "step": self._step(act)},
            context=self.contexts.get(act),
            route=route_of_order(self.unfolded, self.names, layout, ones[0].run, act, ()),
        )

    def _step(self, act: int) -> str:
        return self.unfolded.acts[act].text

    def _place(self, act: int) -> Place | None:
        return self.unfolded.acts[act].place


def _targets(effect: Meet | Pass) -> tuple[Target, ...]:
    return effect.targets if isinstance(effect, Meet) else (*effect.sources, *effect.goals)


def _left_to_others(protocol: Protocol) -> Iterator[Place]:
    """The steps that a protocol which follows others has for what some of those others leave.

    It is written once for all of them, and for all days: that those of this visit or day never
    leave it so is no fault of either.
    """
    later = {part.title for part in protocol.parts if part.role is Role.THEN}
    for phase in protocol.phases:
        if phase.part in later if protocol.parts else protocol.follows:
            for fork in branchings_of(phase.items):
                if any(one is not None and any(states_in(one)) for one, _ in fork.branches):
                    yield from (
                        step.place for _, items in fork.branches for step in steps_of(items)
                    )
