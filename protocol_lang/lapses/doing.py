"""What is still done of each act once lapses are made (docs/meaning/lapses.md, rules 3 to 6).

One walk through the acts in the order in which they are listed, in one world, that keeps what is
on each layer and what each hold names, and nothing about soil. What cannot be done any more is not
done; its contacts are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from protocol_lang.contamination.kernel import (
    NOTHING,
    AllOf,
    AnyOf,
    Bits,
    CameOff,
    Claim,
    Effect,
    Fit,
    Held,
    LayerHas,
    Meet,
    Not,
    Outer,
    Pass,
    Plan,
    Retire,
    RetireCameOff,
    RetireHeld,
    Take,
    Target,
    Tear,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from protocol_lang.lapses.kinds import Hands, Kind, Lapse, bare, held_by

#: The effects of an act; None: it is left out.
Done = tuple[Effect, ...] | None

#: What is on the layers at a moment, and what stays of a layer when the next visit begins.
Layers = tuple[int, ...]


#: So many steps are taken to find the listed order; it nearly always takes one for each act.
MOST_STEPS = 50_000


class NoListedOrder(Exception):
    """The order that follows the list was not found within the counted steps."""


def listed_order(
    plan: Plan, ranks: Sequence[int] | None = None, besides: Iterable[tuple[int, int]] = ()
) -> tuple[int, ...]:
    """Of all permitted orders the one that always goes on with the first listed act that it can.

    ``ranks``: the acts in the order in which they are preferred, if it is not that of the list;
    ``besides``: further pairs of acts that keep their order.

    Raises :class:`NoListedOrder` if there is none, or it takes more than the counted steps.
    """
    count = len(plan.acts)
    before = [0] * count
    for first, second in (*plan.order, *besides):
        before[second] |= 1 << first
    preferred = range(count) if ranks is None else ranks
    before[count - 1] |= (1 << count - 1) - 1

    def following(done: Bits) -> Iterator[int]:
        barred = done
        for group in plan.together:
            if group.members & done and group.members & ~done:
                barred |= group.others
        return (act for act in preferred if not barred >> act & 1 and not before[act] & ~done)

    done: Bits = 0
    order: list[int] = []
    ways = [following(done)]
    dead: set[Bits] = set()
    for _ in range(MOST_STEPS):
        if len(order) == count:
            return tuple(order)
        act = next((act for act in ways[-1] if done | 1 << act not in dead), None)
        if act is not None:
            order.append(act)
            done |= 1 << act
            ways.append(following(done))
        elif order:
            dead.add(done)
            ways.pop()
            done ^= 1 << order.pop()
        else:
            break
    raise NoListedOrder


@dataclass(frozen=True, slots=True)
class Course:
    """One world with some lapses: what is done of the acts that are done otherwise, what is on the
    layers when a visit begins, and whether it ends as it began (only then can another follow)."""

    acts: Mapping[int, Done]
    start: Layers
    ready: bool


class Doing:
    """The walks through one plan.

    Pieces beyond those of the plan stand for others of their kind: ``leaking(p)`` is piece p, with
    a leak; ``kept(p, l)`` is one like p that a visit before this one has left on, on the layer l
    and perhaps on others after it.
    """

    def __init__(self, plan: Plan, hands: Hands, worlds: Bits) -> None:
        """``worlds``: those that are looked at. Raises :class:`NoListedOrder`."""
        self.plan = plan
        self._worlds = worlds
        self.hands = hands
        self.order = listed_order(plan)
        self._many = len(plan.pieces)
        self._outward = {
            layer: tuple(body.layers[depth + 1 :])
            for body in plan.bodies
            for depth, layer in enumerate(body.layers)
        }
        self._body_of = {
            layer: number for number, body in enumerate(plan.bodies) for layer in body.layers
        }
        self._start = tuple(layer.start for layer in plan.layers)
        self._of_covers = {
            number: _of_covers_alone(claim) for number, claim in enumerate(plan.claims)
        }

    def leaking(self, piece: int) -> int:
        return piece + self._many if piece < self._many else piece

    def kept(self, piece: int, layer: int) -> int:
        return piece % self._many + (2 + layer) * self._many

    def plain(self, piece: int) -> int:
        """The piece of the plan that it is, or is like."""
        return piece if piece == NOTHING else piece % self._many

    def is_kept(self, piece: int) -> bool:
        return piece >= 2 * self._many

    def is_leaking(self, piece: int) -> bool:
        return self._many <= piece < 2 * self._many

    @cached_property
    def watched(self) -> tuple[int, ...]:
        """The acts, in their order, that change covers and holds or depend on them."""
        return tuple(
            act
            for act in self.order
            if self.plan.acts[act].worlds & self._worlds
            and (self._depends(act) or self._changes(act))
        )

    @cached_property
    def other_orders(self) -> tuple[tuple[int, ...], ...]:
        """Further permitted orders, in which every cover and every hold has the same fate as in the
        listed one: what rests on one of them or changes it is done in the listed order, all other
        acts as early or as late as can be."""
        resting: dict[int, list[int]] = {}
        for act in self.watched:
            for memory in self.memories(act) | self.writing(act):
                resting.setdefault(memory, []).append(act)
        chains = [pair for acts in resting.values() for pair in pairwise(acts)]
        among = set(self.watched)
        others = [act for act in self.order if act not in among]
        found: dict[tuple[int, ...], None] = {}
        for ranks in (
            tuple(reversed(self.order)),
            (*self.watched, *others),
            (*others, *self.watched),
            (*reversed(self.watched), *others),
            (*others, *reversed(self.watched)),
        ):
            try:
                found[listed_order(self.plan, ranks, chains)] = None
            except NoListedOrder:
                continue
        found.pop(self.order, None)
        return tuple(found)

    def memories(self, act: int) -> frozenset[int]:
        """The layers and (after them) holds that decide what is done of a watched act."""
        known = self._memories.get(act)
        if known is None:
            known = self._memories[act] = frozenset(self._asked_by(act))
        return known

    @cached_property
    def _memories(self) -> dict[int, frozenset[int]]:
        return {}

    def _asked_by(self, act: int) -> Iterator[int]:
        record = self.plan.acts[act]
        for claim in record.claims:
            if self._of_covers[claim]:
                yield from _layers_in(self.plan.claims[claim])
        for effect in record.effects:
            if isinstance(effect, Fit | Unfit):
                for layer in effect.layers:
                    yield layer
                    yield from self._outward[layer]
            yield from (len(self._start) + hold for hold in held_by(effect))

    def swayed(self, act: int) -> frozenset[int]:
        """The layers and holds that may be otherwise later on if the act is left out: what it
        writes, and then what acts write that depend on these."""
        known = self._swayed.get(act)
        if known is None:
            found = set(self.writing(act))
            while True:
                more = {
                    memory
                    for other in self.watched
                    if found & self.memories(other)
                    for memory in self.writing(other)
                }
                if more <= found:
                    break
                found |= more
            known = self._swayed[act] = frozenset(found)
        return known

    @cached_property
    def _swayed(self) -> dict[int, frozenset[int]]:
        return {}

    def writing(self, act: int) -> frozenset[int]:
        """The layers and holds that the act may change."""
        known = self._writing.get(act)
        if known is None:
            known = self._writing[act] = frozenset(self._written_by(act))
        return known

    @cached_property
    def _writing(self) -> dict[int, frozenset[int]]:
        return {}

    def _written_by(self, act: int) -> Iterator[int]:
        for effect in self.plan.acts[act].effects:
            if isinstance(effect, Fit | Unfit | Tear):
                yield from effect.layers
            elif isinstance(effect, (Take, RetireHeld)):
                yield len(self._start) + effect.hold
            elif isinstance(effect, Retire):
                yield from self._naming(effect.piece)
        if any(isinstance(effect, RetireCameOff) for effect in self.plan.acts[act].effects):
            for effect in self.plan.acts[act].effects:
                if isinstance(effect, Unfit):
                    for piece in self._ever_on(effect.layers):
                        yield from self._naming(piece)

    def _naming(self, piece: int) -> Iterator[int]:
        """The holds that may name the piece."""
        return (len(self._start) + hold for hold in self._holds_of.get(piece, ()))

    @cached_property
    def _holds_of(self) -> dict[int, set[int]]:
        found: dict[int, set[int]] = {}
        for act in self.plan.acts:
            for effect in act.effects:
                if isinstance(effect, Take):
                    found.setdefault(effect.piece, set()).add(effect.hold)
        return found

    def _ever_on(self, layers: Iterable[int]) -> set[int]:
        """The pieces that may be on one of the layers."""
        wanted = set(layers)
        return {
            effect.piece
            for act in self.plan.acts
            for effect in act.effects
            if isinstance(effect, Fit) and wanted & set(effect.layers)
        } | {self._start[layer] for layer in wanted if self._start[layer] != NOTHING}

    def _changes(self, act: int) -> bool:
        return any(
            isinstance(effect, Fit | Unfit | Tear | Take | Retire | RetireHeld | RetireCameOff)
            for effect in self.plan.acts[act].effects
        )

    def _depends(self, act: int) -> bool:
        record = self.plan.acts[act]
        return any(self._of_covers[claim] for claim in record.claims) or any(
            held_by(effect) for effect in record.effects
        )

    def acts_for(self, lapses: Iterable[Lapse]) -> tuple[int, ...]:
        """The acts, in their order, through which a walk with these lapses has to go: those that
        may come out differently, and those that decide how these do."""
        made = [lapse for lapse in lapses if lapse.act >= 0 or lapse.pieces]
        swayed: set[int] = set()
        lapsed: set[int] = set()
        for lapse in made:
            swayed |= self.swayed_by(lapse)
            if lapse.act >= 0:
                lapsed.add(lapse.act)
        key = (frozenset(swayed), frozenset(lapsed))
        known = self._acts_for.get(key)
        if known is None:
            asking = lapsed | {act for act in self.watched if swayed & self.memories(act)}
            through = set(asking)
            while True:
                # What the walk goes through has to find what it depends on, as it would be.
                asked = swayed.union(*(self.memories(act) for act in through))
                more = {act for act in self.watched if asked & self.writing(act)} - through
                if not more:
                    break
                through |= more
            known = self._acts_for[key] = tuple(act for act in self.order if act in through)
        return known

    @cached_property
    def _acts_for(self) -> dict[tuple[frozenset[int], frozenset[int]], tuple[int, ...]]:
        return {}

    def swayed_by(self, lapse: Lapse) -> frozenset[int]:
        """The layers and holds that may be otherwise for the lapse."""
        known = self._swayed_by.get(lapse)
        if known is None:
            known = self._swayed_by[lapse] = self._sways(lapse)
        return known

    @cached_property
    def _swayed_by(self) -> dict[Lapse, frozenset[int]]:
        return {}

    def _sways(self, lapse: Lapse) -> frozenset[int]:
        if lapse.kind is Kind.LEFT_OUT:
            return self.swayed(lapse.act)
        if lapse.kind is not Kind.LEAKS:
            return frozenset()
        return frozenset(
            layer
            for act in self.watched
            for effect in self.plan.acts[act].effects
            if isinstance(effect, Fit) and effect.piece in lapse.pieces
            for layer in effect.layers
        ) | {layer for layer, start in enumerate(self._start) if start in lapse.pieces}

    def course(self, lapses: Iterable[Lapse], world: int, acts_for: tuple[int, ...]) -> Course:
        """What is done in this world with these lapses in it; ``acts_for``: see there."""
        made = frozenset(lapses)
        swayed = frozenset().union(*(self.swayed_by(lapse) for lapse in made))
        usual = self._as_written(world)
        start = self._started(made, self._start)
        acts, end, whole = self._walk(made, world, start, acts_for, swayed, usual)
        after = self._next(end, made)
        if after == start:
            return Course(self._changed(acts), start, whole)
        again, end, whole_again = self._walk(made, world, after, acts_for, swayed, usual)
        if self._next(end, made) == after:
            return Course(self._changed(again), after, whole_again)
        return Course(self._changed(acts), start, False)

    def _changed(self, acts: Mapping[int, Done]) -> dict[int, Done]:
        return {act: done for act, done in acts.items() if done != self.plan.acts[act].effects}

    def _started(self, made: frozenset[Lapse], start: Layers) -> Layers:
        leaking = _leaking(made)
        return tuple(self.leaking(piece) if piece in leaking else piece for piece in start)

    def _next(self, end: Layers, made: frozenset[Lapse]) -> Layers:
        """What the next visit begins with: of the same kind as a visit begins with as written,
        that very piece; nothing; or one that was left on."""
        found: list[int] = []
        for begun, left in zip(self._start, end, strict=True):
            # One piece that is on several layers is kept on as one.
            if left == NOTHING:
                found.append(NOTHING)
            elif begun != NOTHING and self._kind(begun) == self._kind(left):
                found.append(self._started(made, (begun,))[0])
            else:
                found.append(self.kept(self._first_like(left), end.index(left)))
        return tuple(found)

    def _first_like(self, piece: int) -> int:
        kind = self._kind(piece)
        return next(one for one in range(self._many) if self.plan.pieces[one].kind == kind)

    def _kind(self, piece: int) -> str:
        return self.plan.pieces[self.plain(piece)].kind

    def covered(self, worlds: Iterable[int]) -> frozenset[int]:
        """The acts that in one of the worlds are done with something on the hands."""
        found: set[int] = set()
        for world in worlds:
            on = list(self._start)
            for act in self.order:
                record = self.plan.acts[act]
                if not record.worlds >> world & 1:
                    continue
                body = self.hands.body(record.person)
                if body is not None and any(
                    on[layer] != NOTHING for layer in self.plan.bodies[body].layers
                ):
                    found.add(act)
                for effect in record.effects:
                    if isinstance(effect, Fit | Unfit):
                        for layer in effect.layers:
                            on[layer] = effect.piece if isinstance(effect, Fit) else NOTHING
        return frozenset(found)

    def _as_written(self, world: int) -> Mapping[tuple[int, int], bool]:
        """For each act and each claim about covers, whether it holds without any lapse."""
        known = self._written.get(world)
        if known is None:
            known = self._written[world] = {}
            self._walk(frozenset(), world, self._start, self.watched, frozenset(), None, known)
        return known

    @cached_property
    def _written(self) -> dict[int, dict[tuple[int, int], bool]]:
        return {}

    def _walk(
        self,
        made: frozenset[Lapse],
        world: int,
        start: Layers,
        acts_for: tuple[int, ...],
        swayed: frozenset[int],
        usual: Mapping[tuple[int, int], bool] | None,
        noted: dict[tuple[int, int], bool] | None = None,
    ) -> tuple[dict[int, Done], Layers, bool]:
        """(what is done of the acts gone through, what is on the layers at the end, whether
        nothing of it is torn). Layers that are not ``swayed`` end as they do as written."""
        now = _Now(list(start), [NOTHING] * self.plan.holds, set(), set())
        at: dict[int, list[Kind]] = {}
        for lapse in made:
            if lapse.kind is not Kind.LEAKS:
                at.setdefault(lapse.act, []).append(lapse.kind)
        leaking = _leaking(made)
        acts: dict[int, Done] = {}
        for act in acts_for:
            kinds = at.get(act, ())
            record = self.plan.acts[act]
            if not record.worlds >> world & 1:
                continue
            if Kind.LEFT_OUT in kinds:
                acts[act] = None
                continue
            holds = {
                claim: self._holds(claim, now) for claim in record.claims if self._of_covers[claim]
            }
            if noted is not None:
                noted.update({(act, claim): held for claim, held in holds.items()})
            bared = usual is not None and any(
                not held and usual.get((act, claim), False) for claim, held in holds.items()
            )
            acts[act] = self._do(act, now, kinds, bared, leaking)
        end = tuple(
            now.layers[layer] if layer in swayed else begun for layer, begun in enumerate(start)
        )
        return acts, end, not now.torn & swayed

    def _holds(self, claim: int, now: _Now) -> bool:
        def holds(one: Claim) -> bool:
            match one:
                case LayerHas(layer, pieces):
                    on = now.layers[layer]
                    if self.is_kept(on):
                        return any(
                            piece != NOTHING and self._kind(piece) == self._kind(on)
                            for piece in pieces
                        )
                    return self.plain(on) in pieces
                case Not(part):
                    return not holds(part)
                case AllOf(parts):
                    return all(holds(part) for part in parts)
                case AnyOf(parts):
                    return any(holds(part) for part in parts)
                case _:
                    raise AssertionError("a claim about covers alone")

        return holds(self.plan.claims[claim])

    def _do(
        self, act: int, now: _Now, kinds: Iterable[Kind], without: bool, leaking: frozenset[int]
    ) -> Done:
        """The effects of an act that are done; ``without``: its cleaning and fitting are not."""
        record = self.plan.acts[act]
        if self._nothing_to_put_on(record.effects, now):
            return None
        body = self.hands.body(record.person)
        came_off = NOTHING
        done: list[Effect] = []
        for effect in record.effects:
            match effect:
                case Fit(layers=layers, piece=piece):
                    blocked = any(self._is_covered(layer, now) for layer in layers)
                    if blocked or without or piece in now.retired:
                        continue
                    put_on = self.leaking(piece) if piece in leaking else piece
                    for layer in layers:
                        now.layers[layer] = put_on
                    now.torn.difference_update(layers)
                    done.append(effect if put_on == piece else replace(effect, piece=put_on))
                case Unfit(layers=layers):
                    on = {now.layers[layer] for layer in layers}
                    if (
                        NOTHING in on
                        or len(on) > 1
                        or any(
                            now.layers[further] != NOTHING
                            for layer in layers
                            for further in self._outward[layer]
                        )
                    ):
                        continue
                    came_off = on.pop()
                    now.torn.difference_update(layers)
                    for layer in layers:
                        now.layers[layer] = NOTHING
                    done.append(effect)
                    if Kind.UNCLEAN in kinds:
                        under = dict.fromkeys(self._body_of[layer] for layer in layers)
                        done.append(Meet((CameOff(), *map(Outer, under))))
                case Tear(layers=layers):
                    now.torn.update(layer for layer in layers if now.layers[layer] != NOTHING)
                    done.append(effect)
                case Take(hold=hold, piece=piece):
                    now.holds[hold] = piece
                    done.append(effect)
                case Meet(targets=targets):
                    touched = self._touched(targets, now, came_off, kinds, body)
                    if len(touched) == len(targets) or len(touched) > 1:
                        same = touched == targets
                        done.append(effect if same else replace(effect, targets=touched))
                case Pass(sources=sources, goals=goals):
                    froms = self._touched(sources, now, came_off, kinds, body)
                    tos = self._touched(goals, now, came_off, kinds, body)
                    if froms and tos:
                        same = froms == sources and tos == goals
                        done.append(effect if same else replace(effect, sources=froms, goals=tos))
                case Wash(targets=targets) | Treat(targets=targets):
                    treated = self._touched(targets, now, came_off, (), None)
                    if treated and not without:
                        same = treated == targets
                        done.append(effect if same else replace(effect, targets=treated))
                case Wet():
                    if not without:
                        done.append(effect)
                case WetEnd():
                    if Kind.CUT_SHORT not in kinds:
                        done.append(effect)
                case Retire(piece=piece):
                    now.retired.add(piece)
                    done.append(effect)
                case RetireHeld(hold=hold):
                    if self._has(now, hold):
                        now.retired.add(now.holds[hold])
                        done.append(effect)
                case RetireCameOff():
                    if came_off != NOTHING:
                        now.retired.add(came_off - self._many * self.is_leaking(came_off))
                        done.append(effect)
                case _:
                    done.append(effect)
        return tuple(done)

    def _nothing_to_put_on(self, effects: tuple[Effect, ...], now: _Now) -> bool:
        """Whether the act only puts on covers, and all that they are for is covered: nobody fetches
        a cover for that."""
        fits = [effect for effect in effects if isinstance(effect, Fit)]
        return (
            bool(fits)
            and not any(isinstance(effect, Unfit) for effect in effects)
            and all(any(self._is_covered(layer, now) for layer in fit.layers) for fit in fits)
        )

    def _is_covered(self, layer: int, now: _Now) -> bool:
        return any(now.layers[one] != NOTHING for one in (layer, *self._outward[layer]))

    def _has(self, now: _Now, hold: int) -> bool:
        return now.holds[hold] != NOTHING and now.holds[hold] not in now.retired

    def _touched(
        self,
        targets: tuple[Target, ...],
        now: _Now,
        came_off: int,
        kinds: Iterable[Kind],
        body: int | None,
    ) -> tuple[Target, ...]:
        """The targets that are there, with bare hands if that is the lapse."""
        if body is not None and Kind.BARE in kinds:
            targets = bare(targets, body, self.plan.bodies[body].spot)
        return tuple(
            target
            for target in targets
            if not (isinstance(target, Held) and not self._has(now, target.hold))
            and not (isinstance(target, CameOff) and came_off == NOTHING)
        )


@dataclass(slots=True)
class _Now:
    layers: list[int]
    holds: list[int]
    retired: set[int]
    torn: set[int]


def _leaking(made: frozenset[Lapse]) -> frozenset[int]:
    return frozenset(piece for lapse in made if lapse.kind is Kind.LEAKS for piece in lapse.pieces)


def _layers_in(claim: Claim) -> Iterator[int]:
    match claim:
        case LayerHas(layer, _):
            yield layer
        case Not(part):
            yield from _layers_in(part)
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from _layers_in(part)


def _of_covers_alone(claim: Claim) -> bool:
    """Whether the claim speaks of what is on layers, and of nothing else."""
    match claim:
        case LayerHas():
            return True
        case Not(part):
            return _of_covers_alone(part)
        case AllOf(parts) | AnyOf(parts):
            return bool(parts) and all(_of_covers_alone(part) for part in parts)
        case _:
            return False
