"""Findings about products: used on a material that the maker forbids, or too weak for a thing.

A product acts on what is outside at that moment: the outermost cover, or the thing itself where it
is bare (docs/meaning/kernel.md, rules 3 and 8). So what it meets depends on the order, and is
decided over every permitted one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from protocol_lang.checks.story import Names, contexts, registers_of, route_of_order
from protocol_lang.contamination.judge import Judgement, runs_where
from protocol_lang.contamination.kernel import (
    NOTHING,
    Acts,
    AllOf,
    AnyOf,
    At,
    Bits,
    CameOff,
    Claim,
    Effect,
    Fit,
    Held,
    LayerHas,
    Outer,
    Plan,
    Target,
    Treat,
    Treatment,
    Unfit,
    Wash,
    Wet,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.effects import Treating
from protocol_lang.contamination.unfold.room import NO_FLOOR
from protocol_lang.findings import Finding, Unchecked
from protocol_lang.model.parts import Product
from protocol_lang.order.question import Effort

_ALWAYS: Claim = AllOf(())
_NEVER: Claim = AnyOf(())
#: What a layer holds that leaves what is under it outside.
_FREE = frozenset({NOTHING})

#: What a finding is about, whatever step shows it: its kind, what is used, on what.
_About = tuple[str, str, str]


def product_findings(
    unfolded: Unfolded, judgement: Judgement
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """Each product on each thing that it may not be used on or is too weak for, at the first step
    where that can be; and what was not decided."""
    if judgement.layout is None or judgement.no_run or not judgement.judged:
        return (), ()
    return _Asking(unfolded, judgement).all()


@dataclass(frozen=True, slots=True)
class _Met:
    """What a treatment may meet: a kind of piece, when it does, and whether that is a thing that
    takes covers and has none on."""

    kind: str
    when: Claim
    bare: bool = False


@dataclass(slots=True)
class _Moment:
    """What an act has done to layers before one of its effects. ``on``: what they hold by now;
    ``off``: what came off last, as a layer with what is known of it."""

    on: dict[int, int]
    off: tuple[int, int | None] | None = None

    def holds(self, layer: int, pieces: frozenset[int]) -> Claim:
        """That the layer holds one of these, said of the moment when the act begins."""
        if layer in self.on:
            return _ALWAYS if self.on[layer] in pieces else _NEVER
        return LayerHas(layer, pieces)

    def came_off(self, pieces: frozenset[int]) -> Claim:
        """That what came off is one of these."""
        if self.off is None:
            return _NEVER
        layer, known = self.off
        if known is not None:
            return _ALWAYS if known in pieces else _NEVER
        return LayerHas(layer, pieces)


class _Asking:
    """Asks, of everything that is treated with something, what that may meet."""

    def __init__(self, unfolded: Unfolded, judgement: Judgement) -> None:
        assert judgement.layout is not None
        self.unfolded = unfolded
        self.plan: Plan = unfolded.plan
        self.layout = judgement.layout
        self.judged = judgement.judged
        self.names = Names(unfolded)
        self.things = unfolded.protocol.things
        self.undecided = False
        self._effort = Effort()

    def all(self) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
        """Every finding about products, each once."""
        products = self.unfolded.protocol.products
        found: dict[_About, list[Finding]] = {}
        for number, note in enumerate(self.unfolded.acts):
            if note.ends_treatment:
                continue
            for treating in note.treating:
                told = [*self._too_weak(number, treating)]
                product = products.get(self.things[treating.thing].product or "")
                if product is not None and product.not_on:
                    told += self._forbidden(number, treating, product)
                for about, finding in told:
                    found.setdefault(about, []).append(finding)
        missing: tuple[Unchecked, ...] = ()
        if self.undecided:
            facts = {"question": "what products are used on", "spent": "the limit of counted steps"}
            missing = (Unchecked("too-hard", facts),)
        return tuple(map(_told_once, found.values())), missing

    # --- Materials -------------------------------------------------------------------------------

    def _forbidden(
        self, act: int, treating: Treating, product: Product
    ) -> Iterator[tuple[_About, Finding]]:
        """Each kind of thing of a forbidden material that the treatment may meet."""
        moment = self._moment(act, treating.effect)
        ways: dict[str, list[_Met]] = {}
        for target in treating.targets:
            for met in self._outside(target, moment):
                if self.things[met.kind].made_of & product.not_on:
                    ways.setdefault(met.kind, []).append(met)
        for kind, mets in ways.items():
            thing = self.things[kind]
            facts = {
                "product": product.name,
                "thing": kind,
                "material": " and ".join(sorted(thing.made_of & product.not_on)),
            }
            if product.source is not None:
                facts["source"] = product.source
            if all(met.bare for met in mets):
                facts["bare"] = "yes"
            when = AnyOf(tuple(met.when for met in mets))
            told = self._finding("forbidden-material", act, when, self.judged, facts)
            if told is not None:
                others = (("the product", product.place), ("the thing", thing.place))
                yield (told.kind, product.name, kind), replace(told, others=others)

    def _moment(self, act: int, until: Effect) -> _Moment:
        """What the act has done to layers before the effect."""
        moment = _Moment({})
        for effect in self.plan.acts[act].effects:
            if effect == until:
                break
            if isinstance(effect, Fit):
                moment.on.update(dict.fromkeys(effect.layers, effect.piece))
            elif isinstance(effect, Unfit):
                first = effect.layers[0]
                moment.off = (first, moment.on.get(first))
                moment.on.update(dict.fromkeys(effect.layers, NOTHING))
        return moment

    def _outside(self, target: Target, moment: _Moment) -> Iterator[_Met]:
        """All that may be outside at a target."""
        match target:
            case Outer(body):
                layers = self.plan.bodies[body].layers
                free = [moment.holds(layer, _FREE) for layer in layers]
                owner = self._owner.get(body)
                for at, layer in enumerate(layers):
                    for kind, pieces in self._pieces.items():
                        if kind != owner:
                            on = moment.holds(layer, pieces)
                            yield _Met(kind, AllOf((on, *free[at + 1 :])))
                if owner is not None and owner in self.things:
                    yield _Met(owner, AllOf(tuple(free)), bare=bool(layers))
            case At(spot):
                yield _Met(self._kind_at[spot], _ALWAYS)
            case Held(_, spots):
                for kind in dict.fromkeys(self._kind_at[spot] for _, spot in spots):
                    yield _Met(kind, _ALWAYS)
            case CameOff():
                for kind, pieces in self._pieces.items():
                    yield _Met(kind, moment.came_off(pieces))

    @cached_property
    def _pieces(self) -> Mapping[str, frozenset[int]]:
        """The pieces of each kind that a product may not be used on."""
        forbidden = {
            material
            for product in self.unfolded.protocol.products.values()
            for material in product.not_on
        }
        kinds: dict[str, set[int]] = {}
        for number, piece in enumerate(self.plan.pieces):
            if self.things[piece.kind].made_of & forbidden:
                kinds.setdefault(piece.kind, set()).add(number)
        return {kind: frozenset(pieces) for kind, pieces in kinds.items()}

    @cached_property
    def _kind_at(self) -> Mapping[int, str]:
        """The kind of piece that a spot is part of."""
        return {spot: piece.kind for piece in self.plan.pieces for spot in piece.spots}

    @cached_property
    def _owner(self) -> Mapping[int, str]:
        """Whose a body is."""
        return {body: owner for (owner, _), body in self.unfolded.bodies.items()}

    # --- Levels ----------------------------------------------------------------------------------

    def _too_weak(self, act: int, treating: Treating) -> Iterator[tuple[_About, Finding]]:
        """Each bare thing that asks for a higher level, and does not get it in the same visit."""
        if isinstance(treating.effect, Wash):
            return
        level = self.plan.levels[self._level_of(treating.effect)]
        if level.acts is Acts.CHEMICALS:
            return
        moment = self._moment(act, treating.effect)
        ranks = {one.rank: one.name for one in self.plan.levels}
        for target in treating.targets:
            if not isinstance(target, Outer):
                continue
            body = self.plan.bodies[target.body]
            for within, floor in self.plan.spots[body.spot].floors:
                if floor == NO_FLOOR or floor <= level.rank:
                    continue
                worlds = self.judged & within & ~self._meant_for(floor, target.body)
                if not worlds or self._comes_back_at(floor, target.body):
                    continue
                thing = self.names.spot(body.spot)
                facts = {
                    "with": treating.thing,
                    "level": level.name,
                    "thing": thing,
                    "floor": ranks[floor],
                }
                when = AllOf(tuple(moment.holds(layer, _FREE) for layer in body.layers))
                told = self._finding("product-too-weak", act, when, worlds, facts)
                if told is not None:
                    used = self.things[treating.thing]
                    yield (
                        (told.kind, treating.thing, thing),
                        replace(told, others=(("what it is treated with", used.place),)),
                    )

    def _level_of(self, effect: Treat | Wet) -> int:
        return effect.level if isinstance(effect, Treat) else self._treatment(effect).level

    def _treatment(self, effect: Wet) -> Treatment:
        return self.plan.treatments[effect.treatment]

    def _meant_for(self, rank: int, body: int) -> Bits:
        """The worlds of those settings in which something is done to the body at that level.

        Where that turns out not to have worked (a cycle that was not reached), the weaker
        treatment was not what the thing was left to.
        """
        treated = self._treated_to(rank, body)
        settings = {self._setting(world) for world in self._worlds(treated & self.judged)}
        more = sum(1 << one for one in self._worlds(self.judged) if self._setting(one) in settings)
        return treated | more

    def _worlds(self, worlds: Bits) -> Iterator[int]:
        return (world for world in range(worlds.bit_length()) if worlds >> world & 1)

    def _setting(self, world: int) -> tuple[str, ...]:
        """What is settled before a visit of that world."""
        values = self.unfolded.worlds.examples[world][0]
        return tuple(
            values.get(choice.name, "")
            for choice in self.unfolded.protocol.choices
            if choice.known_after is None
        )

    def _treated_to(self, rank: int, body: int) -> Bits:
        """The worlds in which something is done to the body at that level."""
        worlds: Bits = 0
        for act in self.plan.acts:
            for effect in act.effects:
                if isinstance(effect, Treat):
                    targets: tuple[Target, ...] = effect.targets
                elif isinstance(effect, Wet):
                    targets = self._treatment(effect).targets
                else:
                    continue
                enough = self.plan.levels[self._level_of(effect)].rank >= rank
                if enough and Outer(body) in targets:
                    worlds |= act.worlds
        return worlds

    def _comes_back_at(self, rank: int, body: int) -> bool:
        """Whether another protocol gives the thing back at that level."""
        thing = self.things.get(self._owner.get(body, ""))
        stream = self.unfolded.protocol.streams.get((thing and thing.stream) or "")
        told = self.unfolded.protocol.levels.get((stream and stream.comes_back) or "")
        return told is not None and told.rank >= rank

    # --- The findings ----------------------------------------------------------------------------

    def _finding(
        self, kind: str, act: int, when: Claim, worlds: Bits, facts: Mapping[str, str]
    ) -> Finding | None:
        """The finding with a run that shows it; None if no permitted order comes to it."""
        _, run, settled = runs_where(self.layout, act, when, worlds, self._effort)
        if run is None:
            self.undecided |= not settled
            return None
        note = self.unfolded.acts[act]
        registers = sorted(registers_of(self.layout, when))
        route = route_of_order(self.unfolded, self.names, self.layout, run, act, registers)
        shown = len(route.steps) > 1 or bool(route.choices)
        return Finding(
            kind,
            note.place,
            {"step": note.text, **facts},
            context=self._contexts.get(act),
            route=route if shown else None,
        )

    @cached_property
    def _contexts(self) -> Mapping[int, str]:
        return contexts(self.unfolded)


def _told_once(findings: list[Finding]) -> Finding:
    """The first of findings about one product and one thing, naming the other steps."""
    first, *others = findings
    later = dict.fromkeys(f'"{one.facts["step"]}"' for one in others if one.place != first.place)
    if not later:
        return first
    follows = f"the same can happen with {' and '.join(list(later)[:3])}"
    return replace(first, facts={**first.facts, "follows": follows})
