"""The rules of ``docs/meaning/kernel.md`` once more, as one would apply them with pencil and paper.

One order after the other (``networkx.all_topological_sorts``), one act after the other, one
effect after the other, with a set of notes "this token, at this spot, caked or rinsed, full or
trace". Each patient has a number of its own. Nothing is shared between runs, nothing is worked out
in advance, and nothing is taken from the simulator but the shape of its outcome: where the two
disagree, one of them is wrong.
"""

from __future__ import annotations

from itertools import product
from typing import Any, NamedTuple

import networkx as nx

from protocol_lang.contamination import kernel as k
from tests.oracles.simulator import Outcome

# The soil of a patient is known by the visit in which it started: 1, 2, 3; that of the patient of a
# visit that begins before that one is over, by -1, -2, -3.
Who = int | k.Origin


class Note(NamedTuple):
    """One token at one spot in one state."""

    who: Who
    resistance: str
    spot: int
    caked: bool
    amount: k.Amount


def _origin(who: Who) -> k.Origin:
    if isinstance(who, k.Origin):
        return who
    return k.Origin.PATIENT if who > 0 else k.Origin.NEXT


class Misstep(Exception):
    """The run ends here; ``kinds`` says why."""

    def __init__(self, kinds: set[str]) -> None:
        super().__init__(kinds)
        self.kinds = kinds


def orders_by_hand(plan: k.Plan) -> list[tuple[int, ...]]:
    """Every order of all acts that rule 1 permits."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(plan.acts)))
    graph.add_edges_from(plan.order)
    return [
        tuple(order)
        for order in nx.all_topological_sorts(graph)
        if all(_stays_together(order, group) for group in plan.together)
    ]


def _stays_together(order: list[int], group: k.Togetherness) -> bool:
    places = [i for i, act in enumerate(order) if group.members >> act & 1]
    if not places:
        return True
    within = order[min(places) : max(places) + 1]
    return not any(group.others >> act & 1 for act in within)


class Visit:
    """One run of one visit."""

    def __init__(self, plan: k.Plan, world: int, number: int, soil: frozenset[Note]) -> None:
        self.plan = plan
        self.world = world
        self.number = number
        self.whose: dict[k.Origin, Who] = {k.Origin.PATIENT: number, k.Origin.NEXT: -number}
        self.soil = set(soil) | self.fresh(lasting_only=False)
        self.on = {i: layer.start for i, layer in enumerate(plan.layers)}
        self.torn: set[int] = set()
        self.hold: dict[int, int] = {}
        self.fact = {i: fact.start for i, fact in enumerate(plan.facts)}
        self.wet: dict[int, str] = {}
        self.retired: set[int] = set()
        self.begun = {piece for piece in self.on.values() if piece != k.NOTHING}
        self.used: set[int] = set()
        self.off: int | None = None
        self.act = -1
        self.hits: set[tuple[Any, ...]] = set()
        self.failed: set[tuple[int, int]] = set()
        self.uses: set[tuple[int, int, int, int]] = set()

    def fresh(self, lasting_only: bool) -> set[Note]:
        """What the sources put at their spots."""
        return {
            Note(
                self.whose.get(source.origin, source.origin),
                resistance,
                source.spot,
                True,
                source.amount,
            )
            for source in self.plan.sources
            for resistance in self.plan.classes
            if source.lasting or not lasting_only
        }

    # Where things are.

    def pile(self, body: int) -> list[int]:
        """The pieces on a body, the innermost first."""
        layers = self.plan.bodies[body].layers
        return [self.on[layer] for layer in layers if self.on[layer] != k.NOTHING]

    def where(self, target: k.Target) -> int:
        if isinstance(target, k.At):
            return target.spot
        if isinstance(target, k.Held):
            return dict(target.spots)[self.hold[target.hold]]
        if isinstance(target, k.CameOff):
            assert self.off is not None
            return self.plan.pieces[self.off].outside
        pile = self.pile(target.body)
        if pile:
            return self.plan.pieces[pile[-1]].outside
        return self.plan.bodies[target.body].spot

    def seeping(self, target: k.Target) -> tuple[set[int], set[int]]:
        """The spots that a target touches through tears alone, and through leaks."""
        through_tears: set[int] = set()
        through_leaks: set[int] = set()
        if isinstance(target, k.Outer):
            body = self.plan.bodies[target.body]
            worn = [layer for layer in body.layers if self.on[layer] != k.NOTHING]
            only_tears = True
            while worn:
                layer = worn.pop()
                if layer not in self.torn:
                    if not self.plan.pieces[self.on[layer]].leaks:
                        break
                    only_tears = False
                under = self.plan.pieces[self.on[worn[-1]]].outside if worn else body.spot
                (through_tears if only_tears else through_leaks).add(under)
        return through_tears, through_leaks

    def steamed(self, target: k.Target, process: str | None) -> set[int]:
        found = {self.where(target)}
        if isinstance(target, k.Outer) and process:
            pile = self.pile(target.body)
            while pile and process in self.plan.pieces[pile.pop()].lets:
                found.add(
                    self.plan.pieces[pile[-1]].outside
                    if pile
                    else self.plan.bodies[target.body].spot
                )
        return found

    # Soil moves.

    def bring(
        self,
        sources: tuple[k.Target, ...],
        goals: tuple[k.Target, ...],
        brush: bool,
    ) -> None:
        def touching(targets: tuple[k.Target, ...]) -> set[tuple[int, str]]:
            by_itself = {self.where(target) for target in targets}
            torn: set[int] = set()
            seeping: set[int] = set()
            for target in targets:
                through_tears, through_leaks = self.seeping(target)
                torn |= through_tears
                seeping |= through_leaks
            torn -= by_itself
            return {
                *((s, "") for s in by_itself),
                *((s, "tear") for s in torn),
                *((s, "leak") for s in seeping - by_itself - torn),
            }

        self.carry(touching(sources), touching(goals), brush)

    def carry(
        self, sources: set[tuple[int, str]], goals: set[tuple[int, str]], brush: bool
    ) -> None:
        arriving: set[Note] = set()
        for (here, through), (there, there_through) in product(sources, goals):
            if here == there:
                continue
            for note in self.soil:
                if note.spot == here:
                    little = brush or "leak" in (through, there_through)
                    amount = k.Amount.TRACE if little else note.amount
                    arrived = Note(note.who, note.resistance, there, True, amount)
                    arriving.add(arrived)
                    for rule in self.plan.spots[there].reach:
                        told = rule.through_tears or there_through != "tear"
                        if rule.moment is k.Moment.ANY and told and self.counts(rule, arrived):
                            self.hit(rule.who, -1, arrived)
        self.soil |= arriving

    def counts(self, rule: k.Reach, note: Note) -> bool:
        if note.amount not in rule.amounts:
            return False
        if isinstance(note.who, k.Origin):
            return note.who in rule.origins
        whose = rule.own if abs(note.who) == self.number else rule.later
        return whose and _origin(note.who) in rule.origins

    def hit(self, who: k.Reached, claim: int, note: Note) -> None:
        own = isinstance(note.who, k.Origin) or abs(note.who) == self.number
        origin = _origin(note.who)
        self.hits.add((who, claim, note.spot, origin, note.resistance, own, self.act))

    def treat(self, spots: set[int], level: k.Level) -> None:
        def ends(note: Note) -> bool:
            if note.spot not in spots:
                return False
            if note.who is k.Origin.CHEMICAL:
                return level.acts in (k.Acts.ALL, k.Acts.CHEMICALS)
            if level.acts is k.Acts.CHEMICALS:
                return False
            if level.acts is k.Acts.RINSED and note.caked:
                return False
            if level.acts is k.Acts.TRACES and note.amount is k.Amount.FULL:
                return False
            if note.resistance in level.ends:
                return True
            return any(
                worlds >> self.world & 1 and level.rank >= rank
                for worlds, rank in self.plan.spots[note.spot].floors
            )

        self.soil = {note for note in self.soil if not ends(note)}

    # Acts.

    def go_through(self, order: tuple[int, ...]) -> None:
        for act in order:
            self.act = act
            if act == len(self.plan.acts) - 1:
                self.look_at_the_end()
            if self.plan.acts[act].worlds >> self.world & 1:
                self.take_place(self.plan.acts[act])

    def look_at_the_end(self) -> None:
        for note in self.soil:
            for rule in self.plan.spots[note.spot].reach:
                if rule.moment is k.Moment.END and self.counts(rule, note):
                    self.hit(rule.who, -1, note)

    def take_place(self, act: k.Act) -> None:
        for claim in act.claims:
            if not self.true(self.plan.claims[claim]):
                self.failed.add((self.act, claim))
        self.off = None
        mine: set[int] = set()
        named: set[int] = set()
        for number, effect in enumerate(act.effects):
            self.check(number, effect)
            if isinstance(effect, k.Wet | k.WetEnd):
                mine.add(effect.treatment)
            named |= self.names(effect)
            self.happen(effect)
            self.soil |= self.fresh(lasting_only=True)
        for treatment, how in self.wet.items():
            targets = self.plan.treatments[treatment].targets
            if how == "wet" and treatment not in mine:
                for target in targets:
                    if self.name(target) & named:
                        self.wet[treatment] = "disturbed"

    def true(self, claim: k.Claim) -> bool:
        if isinstance(claim, k.FactIs):
            return self.fact[claim.fact] is claim.value
        if isinstance(claim, k.LayerHas):
            return self.on[claim.layer] in claim.pieces
        if isinstance(claim, k.IsWet):
            return claim.treatment in self.wet
        if isinstance(claim, k.Not):
            return not self.true(claim.part)
        truths = [self.true(part) for part in claim.parts]
        return all(truths) if isinstance(claim, k.AllOf) else any(truths)

    def targets(self, effect: k.Effect) -> tuple[k.Target, ...]:
        if isinstance(effect, k.Pass):
            return effect.sources + effect.goals
        if isinstance(effect, k.Meet | k.Wash | k.Treat | k.Judge):
            return effect.targets
        return ()

    def check(self, number: int, effect: k.Effect) -> None:
        """Note which holds are used, and end the run if the effect is a misstep."""
        kinds: set[str] = set()
        named = [t.hold for t in self.targets(effect) if isinstance(t, k.Held)]
        read = [*named, effect.hold] if isinstance(effect, k.RetireHeld) else named
        for hold in read:
            if hold in self.hold:
                self.uses.add((self.act, number, hold, self.hold[hold]))
            else:
                kinds.add("nothing held")
        if any(self.hold.get(hold) in self.retired for hold in read):
            kinds.add("retired")
        if isinstance(effect, k.Fit | k.Unfit):
            held = [self.on[layer] for layer in effect.layers]
            for body in self.plan.bodies:
                for depth, layer in enumerate(body.layers):
                    if layer in effect.layers:
                        further_out = body.layers[depth + 1 :]
                        if any(self.on[out] != k.NOTHING for out in further_out):
                            kinds.add("under a cover")
            if isinstance(effect, k.Fit):
                if effect.piece in self.retired:
                    kinds.add("retired")
                if held != [k.NOTHING] * len(held):
                    kinds.add("on twice")
            else:
                if k.NOTHING in held:
                    kinds.add("nothing to take off")
                if len(set(held) - {k.NOTHING}) > 1:
                    kinds.add("not one piece")
        if kinds:
            raise Misstep(kinds)

    def name(self, target: k.Target) -> set[int]:
        if isinstance(target, k.Outer):
            return {self.plan.bodies[target.body].spot}
        if isinstance(target, k.At):
            return {target.spot}
        return {spot for _, spot in target.spots} if isinstance(target, k.Held) else set()

    def all_names(self, targets: tuple[k.Target, ...]) -> set[int]:
        return {spot for target in targets for spot in self.name(target)}

    def names(self, effect: k.Effect) -> set[int]:
        if isinstance(effect, k.Judge):
            return set()
        if isinstance(effect, k.Wet):
            return self.all_names(self.plan.treatments[effect.treatment].targets)
        if isinstance(effect, k.Fit | k.Unfit | k.Tear):
            return {body.spot for body in self.plan.bodies if set(body.layers) & set(effect.layers)}
        return self.all_names(self.targets(effect))

    def serve(self, targets: tuple[k.Target, ...]) -> None:
        """A piece that was on from the start and touches something now is used."""
        touched = {self.where(target) for target in targets}
        self.used |= {p for p in self.begun if touched & set(self.plan.pieces[p].spots)}

    def happen(self, effect: k.Effect) -> None:
        if isinstance(effect, k.Meet):
            self.bring(effect.targets, effect.targets, effect.amount is k.Amount.TRACE)
            self.serve(effect.targets)
        elif isinstance(effect, k.Pass):
            self.bring(effect.sources, effect.goals, effect.amount is k.Amount.TRACE)
            self.serve((*effect.sources, *effect.goals))
        elif isinstance(effect, k.Fit):
            self.used.add(effect.piece)
            for layer in effect.layers:
                self.on[layer] = effect.piece
                self.torn.discard(layer)
        elif isinstance(effect, k.Tear):
            self.torn |= {layer for layer in effect.layers if self.on[layer] != k.NOTHING}
        elif isinstance(effect, k.Unfit):
            self.used.add(self.on[effect.layers[0]])
            self.come_off(effect.layers)
        elif isinstance(effect, k.Take):
            self.used.add(effect.piece)
            self.hold[effect.hold] = effect.piece
        elif isinstance(effect, k.Wash):
            spots = {self.where(target) for target in effect.targets}
            self.soil = {n._replace(caked=n.caked and n.spot not in spots) for n in self.soil}
        elif isinstance(effect, k.Treat):
            steamed = [self.steamed(target, effect.through) for target in effect.targets]
            self.treat(set().union(*steamed), self.plan.levels[effect.level])
        elif isinstance(effect, k.Wet):
            self.wet[effect.treatment] = "wet"
        elif isinstance(effect, k.WetEnd):
            if self.wet.pop(effect.treatment, "dry") == "wet":
                what = self.plan.treatments[effect.treatment]
                spots = {self.where(target) for target in what.targets}
                self.treat(spots, self.plan.levels[what.level])
        elif isinstance(effect, k.SetFact):
            self.fact[effect.fact] = effect.value
        elif isinstance(effect, k.Judge):
            self.judge(effect)
        else:
            if isinstance(effect, k.Retire):
                piece = effect.piece
            elif isinstance(effect, k.RetireHeld):
                piece = self.hold[effect.hold]
            else:
                assert self.off is not None
                piece = self.off
            self.retired.add(piece)
            gone = self.plan.pieces[piece].spots
            self.soil = {note for note in self.soil if note.spot not in gone}

    def come_off(self, layers: tuple[int, ...]) -> None:
        self.off = self.on[layers[0]]
        piece = self.plan.pieces[self.off]
        touching = {(piece.outside, "")}
        for number, body in enumerate(self.plan.bodies):
            for layer in set(body.layers) & set(layers):
                if piece.leaks or layer in self.torn:
                    under = self.pile(number)[:-1]
                    spot = self.plan.pieces[under[-1]].outside if under else body.spot
                    touching.add((spot, "tear" if layer in self.torn else "leak"))
        self.carry(touching, touching, brush=False)
        for layer in layers:
            self.on[layer] = k.NOTHING
            self.torn.discard(layer)

    def judge(self, judge: k.Judge) -> None:
        spots = {self.where(target) for target in judge.targets}
        for note in self.soil:
            if note.spot not in spots:
                continue
            if isinstance(note.who, k.Origin):
                foreign = judge.world
            else:
                foreign = judge.own if note.who == self.whose[judge.of] else True
            if foreign:
                self.hit(k.Reached.CLAIM, judge.claim, note)

    # The end of the visit.

    def kind(self, piece: int) -> str:
        return "" if piece == k.NOTHING else self.plan.pieces[piece].kind

    def not_ready(self) -> set[tuple[str, int]]:
        layers = {
            ("layer", i)
            for i, layer in enumerate(self.plan.layers)
            if self.kind(self.on[i]) != self.kind(layer.start)
        }
        facts = {
            ("fact", i)
            for i, fact in enumerate(self.plan.facts)
            if fact.lasting and self.fact[i] is not fact.start
        }
        return layers | facts | {("torn", layer) for layer in self.torn}

    def left_over(self) -> set[int]:
        return {
            i
            for i, piece in enumerate(self.plan.pieces)
            if piece.single_use
            and i in self.used
            and i not in self.retired
            and not (i in self.on.values() and i not in self.begun)
        }

    def handed_on(self) -> frozenset[Note]:
        """The soil that the next visit finds."""
        found: set[Note] = set()
        for note in self.soil:
            if self.plan.spots[note.spot].lasting:
                found.add(note)
            for i, layer in enumerate(self.plan.layers):
                if self.on[i] != k.NOTHING:
                    parts = self.plan.pieces[self.on[i]].spots
                    for part, spot in enumerate(parts):
                        if spot == note.spot:
                            there = self.plan.pieces[layer.start].spots[part]
                            found.add(note._replace(spot=there))
        return frozenset(found)


def by_hand(plan: k.Plan, visits: int) -> Outcome:
    """What :func:`tests.oracles.simulator.simulate` finds, found the long way."""
    orders = orders_by_hand(plan)
    missteps: set[tuple[int, int, str]] = set()
    claims: set[tuple[int, int, int]] = set()
    not_ready: set[tuple[int, str, int]] = set()
    left_over: set[tuple[int, int]] = set()
    uses: dict[tuple[int, int, int, int], set[int]] = {}
    for world, order in product(range(plan.worlds), orders):
        run = Visit(plan, world, 1, frozenset())
        try:
            run.go_through(order)
        except Misstep as misstep:
            missteps |= {(world, run.act, kind) for kind in misstep.kinds}
        else:
            not_ready |= {(world, *what) for what in run.not_ready()}
            left_over |= {(world, piece) for piece in run.left_over()}
        claims |= {(world, *failed) for failed in run.failed}
        for act, effect, hold, piece in run.uses:
            uses.setdefault((world, act, effect, hold), set()).add(piece)

    hits: set[Any] = set()
    carried: set[tuple[int, k.Amount]] = set()
    judged = set(range(plan.worlds)) - {world for world, _, _ in missteps}
    going_on = judged - {world for world, _, _ in not_ready}
    for part, worlds in enumerate(plan.clinic):
        starts = {frozenset[Note]()}
        for number in range(1, visits + 1):
            ends: set[frozenset[Note]] = set()
            for soil, world, order in product(starts, sorted(judged), orders):
                if worlds >> world & 1:
                    visit = Visit(plan, world, number, soil)
                    visit.go_through(order)
                    hits |= {(part, *hit) for hit in visit.hits}
                    if world in going_on:
                        ends.add(visit.handed_on())
            starts = ends
            carried |= {
                (note.spot, note.amount)
                for soil in ends
                for note in soil
                if not isinstance(note.who, k.Origin)  # a patient's
            }
    return Outcome(
        possible=frozenset(range(plan.worlds)) if orders else frozenset(),
        missteps=frozenset(missteps),
        ambiguous=frozenset(
            (world, act, hold) for (world, act, _, hold), pieces in uses.items() if len(pieces) > 1
        ),
        claims=frozenset(claims),
        not_ready=frozenset(not_ready),
        left_over=frozenset(left_over),
        hits=frozenset(hits),
        carried=frozenset(carried),
    )
