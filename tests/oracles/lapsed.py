"""Lapses made in a plan, by hand: docs/meaning/lapses.md, one set and one world at a time.

The oracle for ``protocol_lang.lapses``. It takes from there only the records of lapses; what comes
of them it works out anew, in plain steps, and has the simulator judge it. Each world is a list of
acts of its own, so that nothing is shared between worlds or sets; only worlds that begin alike are
put together in one plan, because visits of them can follow each other.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace

from protocol_lang.contamination.kernel import (
    NOTHING,
    OF_PATIENTS,
    Act,
    AllOf,
    AnyOf,
    At,
    CameOff,
    Claim,
    Effect,
    Fit,
    Held,
    LayerHas,
    Meet,
    Not,
    Origin,
    Outer,
    Pass,
    Plan,
    Reached,
    Retire,
    RetireCameOff,
    RetireHeld,
    Take,
    Tear,
    Togetherness,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from protocol_lang.lapses.kinds import Kind, Lapse
from tests.oracles.simulator import Outcome, _orders, simulate

#: What opens, in the words of the page.
NEXT, STAFF, ROOM = "next patient", "staff", "from the room"


def what_opens(plan: Plan, hands: dict[int, int], lapses: Iterable[Lapse]) -> set[str]:
    """What the lapses open in some world, order and number of visits."""
    by_hand = _ByHand(plan, hands, frozenset(lapses))
    found: set[str] = set()
    for group in by_hand.plans():
        outcome = simulate(group, visits=None)
        if outcome.misstep_worlds or by_hand.ends_otherwise(group, outcome):
            outcome = simulate(by_hand.as_listed(group), visits=None)
        found |= {
            told
            for _, who, _, _, origin, *_ in outcome.hits
            if (told := _opens(who, origin)) is not None
        }
    return found


def _opens(who: Reached, origin: Origin) -> str | None:
    if who is Reached.PATIENT:
        return NEXT if origin in OF_PATIENTS else ROOM
    if who in (Reached.STAFF, Reached.HANDS_AT_END) and origin in OF_PATIENTS:
        return STAFF
    return None


class _ByHand:
    def __init__(self, plan: Plan, hands: dict[int, int], lapses: frozenset[Lapse]) -> None:
        self.plan = plan
        self.hands = hands
        self.lapses = lapses
        follow = _orders(plan)
        done, self.order = 0, []
        while follow.get(done):
            self.order.append(follow[done][0])
            done |= 1 << follow[done][0]
        self.copies: dict[Plan, list[list[int]]] = {}
        self.ready: dict[Plan, set[int]] = {}
        self.torn: set[int] = set()
        self.leaky = {p for one in lapses if one.kind is Kind.LEAKS for p in one.pieces}
        self.above = {
            layer: list(body.layers[place + 1 :])
            for body in plan.bodies
            for place, layer in enumerate(body.layers)
        }
        self.begun = [layer.start for layer in plan.layers]

    # What a visit begins with: pieces of the plan, or ("kept", kind, the first of its layers).

    def plans(self) -> list[Plan]:
        """One plan for each way in which visits begin."""
        groups: dict[tuple[object, ...], list[int]] = {}
        acts: dict[int, list[list[Effect] | None]] = {}
        ready: set[int] = set()
        for world in range(self.plan.worlds):
            written: dict[int, list[bool]] = {}
            self.visit(world, list(self.begun), frozenset(), written)
            done, end = self.visit(world, list(self.begun), self.lapses, written, usual=False)
            start: list[object] = list(self.begun)
            after = self.next_start(end)
            if after == start:
                if not self.torn:
                    ready.add(world)
            else:
                first_torn = bool(self.torn)
                other, end = self.visit(world, list(after), self.lapses, written, usual=False)
                if self.next_start(end) == after:
                    done, start = other, after
                    if not self.torn:
                        ready.add(world)
                else:
                    self.torn = {-1} if first_torn else set()
            acts[world] = done
            groups.setdefault(tuple(start), []).append(world)
        return [self.put_together(start, group, acts, ready) for start, group in groups.items()]

    def kind(self, piece: object) -> str:
        if isinstance(piece, tuple):
            return str(piece[1])
        assert isinstance(piece, int)
        return self.plan.pieces[piece].kind

    def next_start(self, end: list[object]) -> list[object]:
        found: list[object] = []
        for begun, left in zip(self.begun, end, strict=True):
            if left == NOTHING:
                found.append(NOTHING)
            elif begun != NOTHING and self.kind(begun) == self.kind(left):
                found.append(begun)
            else:
                found.append(("kept", self.kind(left), end.index(left)))
        return found

    def visit(
        self,
        world: int,
        on: list[object],
        lapses: frozenset[Lapse],
        written: dict[int, list[bool]],
        usual: bool = True,
    ) -> tuple[list[list[Effect] | None], list[object]]:
        """What is done of each act, in the listed order, and what is on the layers at the end.

        ``usual``: without lapses; notes which claims about covers hold.
        """
        held: list[int] = [NOTHING] * self.plan.holds
        self.torn = set()
        gone: set[int] = set()
        done: list[list[Effect] | None] = [None] * len(self.plan.acts)
        for number in self.order:
            act = self.plan.acts[number]
            if not act.worlds >> world & 1:
                continue
            kinds: set[Kind] = {
                one.kind for one in lapses if one.act == number and one.kind is not Kind.LEAKS
            }
            if Kind.LEFT_OUT in kinds:
                continue
            holding = [self.holds(self.plan.claims[claim], on) for claim in act.claims]
            if usual:
                written[number] = [bool(one) for one in holding]
            without = not usual and any(
                now is False and before
                for now, before in zip(holding, written[number], strict=True)
            )
            done[number] = self.do(act, on, held, gone, kinds, without)
        return done, on

    def holds(self, claim: Claim, on: list[object]) -> bool | None:
        """Whether a claim about covers holds; None for other claims."""
        match claim:
            case LayerHas(layer, pieces):
                here = on[layer]
                if isinstance(here, tuple):
                    return any(p != NOTHING and self.kind(p) == here[1] for p in pieces)
                return here in pieces
            case Not(part):
                inner = self.holds(part, on)
                return None if inner is None else not inner
            case AllOf(parts) | AnyOf(parts):
                inners = [self.holds(part, on) for part in parts]
                if not inners or None in inners:
                    return None
                return all(inners) if isinstance(claim, AllOf) else any(inners)
            case _:
                return None

    def do(
        self,
        act: Act,
        on: list[object],
        held: list[int],
        gone: set[int],
        kinds: set[Kind],
        without: bool,
    ) -> list[Effect] | None:
        def free(layer: int) -> bool:
            return all(on[one] == NOTHING for one in [layer, *self.above[layer]])

        fits = [one for one in act.effects if isinstance(one, Fit)]
        only_on = fits and not any(isinstance(one, Unfit) for one in act.effects)
        if only_on and not any(all(free(layer) for layer in fit.layers) for fit in fits):
            return None
        hand = self.hands.get(-1 if act.person is None else act.person)
        came_off: object = NOTHING
        kept: list[Effect] = []

        def there(targets: tuple[object, ...], contact: bool) -> tuple[object, ...]:
            found: list[object] = []
            for target in targets:
                if isinstance(target, Held) and (
                    held[target.hold] == NOTHING or held[target.hold] in gone
                ):
                    continue
                if isinstance(target, CameOff) and came_off == NOTHING:
                    continue
                if contact and Kind.BARE in kinds and hand is not None and target == Outer(hand):
                    target = At(self.plan.bodies[hand].spot)
                found.append(target)
            return tuple(found)

        for effect in act.effects:
            if isinstance(effect, Fit):
                if without or effect.piece in gone or not all(map(free, effect.layers)):
                    continue
                for layer in effect.layers:
                    on[layer] = effect.piece
                self.torn -= set(effect.layers)
            elif isinstance(effect, Tear):
                self.torn |= {layer for layer in effect.layers if on[layer] != NOTHING}
            elif isinstance(effect, Unfit):
                pieces = {on[layer] for layer in effect.layers}
                over = [one for layer in effect.layers for one in self.above[layer]]
                if NOTHING in pieces or len(pieces) != 1 or any(on[one] != NOTHING for one in over):
                    continue
                came_off = pieces.pop()
                self.torn -= set(effect.layers)
                for layer in effect.layers:
                    on[layer] = NOTHING
                kept.append(effect)
                if Kind.UNCLEAN in kinds:
                    under = [
                        number
                        for layer in effect.layers
                        for number, body in enumerate(self.plan.bodies)
                        if layer in body.layers
                    ]
                    kept.append(Meet((CameOff(), *(Outer(one) for one in dict.fromkeys(under)))))
                continue
            elif isinstance(effect, Take):
                held[effect.hold] = effect.piece
            elif isinstance(effect, Meet):
                targets = there(effect.targets, True)
                if len(targets) < 2 and len(targets) < len(effect.targets):
                    continue
                effect = Meet(targets, effect.amount)  # type: ignore[arg-type]
            elif isinstance(effect, Pass):
                sources, goals = there(effect.sources, True), there(effect.goals, True)
                if not sources or not goals:
                    continue
                effect = Pass(sources, goals, effect.amount)  # type: ignore[arg-type]
            elif isinstance(effect, Wash | Treat):
                targets = there(effect.targets, False)
                if without or not targets:
                    continue
                effect = replace(effect, targets=targets)  # type: ignore[arg-type]
            elif isinstance(effect, Wet):
                if without:
                    continue
            elif isinstance(effect, WetEnd):
                if Kind.CUT_SHORT in kinds:
                    continue
            elif isinstance(effect, Retire):
                gone.add(effect.piece)
            elif isinstance(effect, RetireHeld):
                if held[effect.hold] == NOTHING or held[effect.hold] in gone:
                    continue
                gone.add(held[effect.hold])
            elif isinstance(effect, RetireCameOff):
                if came_off == NOTHING:
                    continue
                if isinstance(came_off, int):
                    gone.add(came_off)
            kept.append(effect)
        return kept

    def put_together(
        self,
        start: tuple[object, ...],
        worlds: list[int],
        done: dict[int, list[list[Effect] | None]],
        ready: set[int],
    ) -> Plan:
        """One plan of the worlds that begin alike; an act comes once for each way in which it is
        done. Worlds that do not end as they begin get a fact that says so."""
        plan = self.plan
        spots, pieces = list(plan.spots), list(plan.pieces)
        pieces = [
            replace(piece, leaks=piece.leaks or number in self.leaky)
            for number, piece in enumerate(pieces)
        ]
        layers = list(plan.layers)
        made_for: dict[object, int] = {}
        for number, piece in enumerate(start):
            if piece in made_for:
                layers[number] = replace(layers[number], start=made_for[piece])
            elif isinstance(piece, tuple):
                like = next(one for one in pieces if one.kind == piece[1])
                like = replace(like, leaks=next(p for p in plan.pieces if p.kind == piece[1]).leaks)
                where = {spot: len(spots) + place for place, spot in enumerate(like.spots)}
                spots += [plan.spots[spot] for spot in like.spots]
                pieces.append(
                    replace(like, spots=tuple(where.values()), outside=where[like.outside])
                )
                made_for[piece] = len(pieces) - 1
                layers[number] = replace(layers[number], start=len(pieces) - 1)
            else:
                assert isinstance(piece, int)
                layers[number] = replace(layers[number], start=piece)
        at = {world: 1 << place for place, world in enumerate(worlds)}

        def these(bits: int) -> int:
            return sum(bit for world, bit in at.items() if bits >> world & 1)

        acts: list[Act] = []
        copies: list[list[int]] = []
        for number, act in enumerate(plan.acts):
            ways: dict[tuple[Effect, ...], int] = {}
            for world in worlds:
                kept = done[world][number]
                if kept is not None:
                    ways[tuple(kept)] = ways.get(tuple(kept), 0) | at[world]
            copies.append([])
            for effects, bits in (ways or {(): 0}).items():
                copies[-1].append(len(acts))
                acts.append(replace(act, worlds=bits, effects=effects, claims=()))
        pairs = [(a, b) for x, y in plan.order for a in copies[x] for b in copies[y]]
        pairs += [(a, copies[-1][0]) for one in copies[:-1] for a in one]
        for one in copies:
            pairs += list(itertools.pairwise(one))

        def all_of(bits: int) -> int:
            return sum(1 << a for x, one in enumerate(copies) if bits >> x & 1 for a in one)

        # A visit that is not ready is in a part of the clinic of its own, and has no next one.
        parts = []
        for part in plan.clinic:
            parts.append(these(part) & sum(at[world] for world in worlds if world in ready))
        made = replace(
            plan,
            worlds=len(worlds),
            clinic=tuple(parts),
            claims=(),
            facts=tuple(replace(fact, lasting=False) for fact in plan.facts),
            spots=tuple(
                replace(spot, floors=tuple((these(bits), rank) for bits, rank in spot.floors))
                for spot in spots
            ),
            pieces=tuple(pieces),
            layers=tuple(layers),
            acts=tuple(acts),
            order=tuple(pairs),
            together=tuple(
                Togetherness(all_of(group.members), all_of(group.others)) for group in plan.together
            ),
        )
        alone = tuple(at[world] for world in worlds if world not in ready)
        made = replace(made, clinic=tuple(one for one in (*parts, *alone) if one))
        self.copies[made] = copies
        self.ready[made] = {place for place, world in enumerate(worlds) if world in ready}
        return made

    def ends_otherwise(self, plan: Plan, outcome: Outcome) -> bool:
        """Whether a world that ends as it begins in the listed order does not in another."""
        return any(world in self.ready[plan] for world, *_ in outcome.not_ready)

    def as_listed(self, plan: Plan) -> Plan:
        """Acts that put on, take off, tear or take something keep their listed order."""
        place = {number: at for at, number in enumerate(self.order)}
        handling = [
            (place[number], copy)
            for number, one in enumerate(self.copies[plan][:-1])
            for copy in one
            if any(isinstance(e, Fit | Unfit | Tear | Take) for e in plan.acts[copy].effects)
        ]
        chain = [copy for _, copy in sorted(handling)]
        return replace(plan, order=plan.order + tuple(itertools.pairwise(chain)))
