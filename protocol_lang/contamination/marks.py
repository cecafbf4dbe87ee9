"""A plan as a network of events and marks that move: the bridge to the one question.

Layers, holds, facts and wet times become registers. One token of one class becomes a mark: its
positions are (spot, caked or rinsed, full or trace). What an act does to a token is worked out once
for every setting of the registers that the act reads, as a relation between positions; the engine
then never looks at effects again.

Reading guide to ``docs/meaning/kernel.md``: what an act does, rules 3 to 9, is in :class:`Token`;
what that means for one token, rules 4, 8, 11 and 12, is in :class:`Spread`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

from protocol_lang.contamination.kernel import (
    NOTHING,
    Act,
    Acts,
    Amount,
    At,
    Bits,
    CameOff,
    Effect,
    Fit,
    Held,
    Judge,
    Meet,
    Moment,
    Outer,
    Pass,
    Plan,
    Retire,
    RetireCameOff,
    RetireHeld,
    SetFact,
    Take,
    Target,
    Tear,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from protocol_lang.order import network as networks
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import Block, Carry, Network, Register, Way

# How a spot touches: itself, through a tear or through a leak (rule 4). Of two ways the lesser
# number counts.
DIRECT = 0
TEAR = 1
LEAK = 2

#: A spot that touches, and how.
Touch = tuple[int, int]

# A position of a token: four to a spot.
RINSED = 2
TRACE = 1
STATES = 4


def position(spot: int, rinsed: bool, trace: bool) -> int:
    """The number of the position of a token at ``spot`` in that state."""
    return spot * STATES + RINSED * rinsed + TRACE * trace


def spot_of(place: int) -> int:
    """The spot of a position."""
    return place // STATES


@dataclass(frozen=True, slots=True)
class Delivered:
    """Target: in ``act`` a contact brings the token to ``spot`` in ``amount``.

    ``torn``: through the tear of what covers it.
    """

    act: int
    spot: int
    amount: Amount
    torn: bool = False


@dataclass(frozen=True, slots=True)
class AtEnd:
    """Target: the token is at ``spot`` in ``amount`` when the visit ends."""

    spot: int
    amount: Amount


@dataclass(frozen=True, slots=True)
class Judged:
    """Target: the token is at ``spot`` when ``claim`` says in ``act`` that nothing is."""

    act: int
    spot: int
    claim: int


@dataclass(frozen=True, slots=True)
class GoesOn:
    """Target: the next visit starts with the token at ``position``."""

    position: int


Goal = Delivered | AtEnd | Judged | GoesOn


@dataclass(frozen=True, slots=True)
class Misstep:
    """An act that cannot be done with these register settings (rule 6): what is wrong, with
    which piece."""

    act: int
    kind: str
    when: tuple[tuple[int, int], ...]
    piece: int
    layer: int


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the registers that an act reads, and the worlds in which it may come about."""

    when: tuple[tuple[int, int], ...]
    worlds: Bits


# What an act does to soil, one thing after the other, once the registers are known.


@dataclass(frozen=True, slots=True)
class Contact:
    """Soil gets from some spots to others, all at once (rule 4).

    ``onward``: for each spot that it may come from, where it gets to, whether only a little of it
    does, and whether it gets there through a tear. ``touching``: all that touch, and how.
    """

    onward: Mapping[int, tuple[tuple[int, bool, bool], ...]]
    touching: tuple[Touch, ...]

    @property
    def spots(self) -> tuple[int, ...]:
        return tuple(spot for spot, _ in self.touching)

    @classmethod
    def between(cls, sources: list[Touch], into: list[Touch], amount: Amount) -> Contact:
        """From each of ``sources`` to each of ``into``."""
        onward: dict[int, list[tuple[int, bool, bool]]] = {}
        for spot, how in sources:
            onward.setdefault(spot, []).extend(
                (other, amount is Amount.TRACE or LEAK in (how, other_how), other_how == TEAR)
                for other, other_how in into
                if other != spot
            )
        return cls({spot: tuple(to) for spot, to in onward.items()}, (*sources, *into))


@dataclass(frozen=True, slots=True)
class Washed:
    """Caked soil at the spots becomes rinsed (rule 8)."""

    spots: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Treated:
    """The level acts at the spots (rule 8)."""

    spots: tuple[int, ...]
    level: int


@dataclass(frozen=True, slots=True)
class LookedAt:
    """The claim says that nothing is at the spots (rule 11)."""

    spots: tuple[int, ...]
    claim: int


@dataclass(frozen=True, slots=True)
class Dropped:
    """Soil at the spots is gone with the piece (rule 7)."""

    spots: tuple[int, ...]


Move = Contact | Washed | Treated | LookedAt | Dropped

#: For each place that a contact takes caked soil from: where it brings it to, and what that hits.
_ByPlace = dict[int, tuple[set[int], list[Goal]]]


class Registers:
    """Where each small memory of a plan is numbered in the network.

    Layers first, then holds, facts, for each treatment whether it is wet and whether nothing has
    disturbed it, and for each layer that some act tears whether what is on it is torn (``torn``:
    layer -> register).
    """

    def __init__(self, plan: Plan) -> None:
        self._layers = len(plan.layers)
        self._holds = plan.holds
        self._facts = len(plan.facts)
        self._treatments = len(plan.treatments)
        tearing = {
            layer
            for act in plan.acts
            for effect in act.effects
            if isinstance(effect, Tear)
            for layer in effect.layers
        }
        first = self.undisturbed(self._treatments)
        self.torn: Mapping[int, int] = {
            layer: first + number for number, layer in enumerate(sorted(tearing))
        }

    def layer(self, layer: int) -> int:
        return layer

    def hold(self, hold: int) -> int:
        return self._layers + hold

    def fact(self, fact: int) -> int:
        return self._layers + self._holds + fact

    def wet(self, treatment: int) -> int:
        return self._layers + self._holds + self._facts + treatment

    def undisturbed(self, treatment: int) -> int:
        return self.wet(treatment) + self._treatments

    @property
    def count(self) -> int:
        return self.undisturbed(self._treatments) + len(self.torn)


@dataclass(frozen=True)
class Layout:
    """A plan with its network: everything that does not depend on the class of soil.

    Events are the acts of the plan, then one that stands for the moment after the last of them, and
    then one closing event for each layer that holds something when a visit starts (there the soil
    of what it holds at the end goes on).
    """

    plan: Plan
    registers: Registers
    network: Network
    possible: Effects
    body_of_layer: Mapping[int, int]
    settings: tuple[tuple[Setting, ...], ...]
    closing: Mapping[int, int]

    @property
    def end(self) -> int:
        """The event that is the end of the visit."""
        return len(self.plan.acts) - 1

    @property
    def over(self) -> int:
        """The event just after the end of the visit: what holds there is how the visit leaves
        things."""
        return len(self.plan.acts)

    @property
    def worlds(self) -> Bits:
        return (1 << self.plan.worlds) - 1

    @cached_property
    def courses(self) -> tuple[tuple[tuple[Setting, tuple[Move, ...]], ...], ...]:
        """For each act, under each setting in which it is no misstep, what it does to soil."""

        return tuple(
            tuple(
                (setting, Token(self, act, dict(setting.when)).course())
                for setting, fault in zip(self.settings[number], self._faults[number], strict=True)
                if fault is None
            )
            for number, act in enumerate(self.plan.acts)
        )

    @cached_property
    def missteps(self) -> tuple[Misstep, ...]:
        """Every way in which an act might not be doable; whether it can come about is a
        question."""
        found: list[Misstep] = []
        for number, faults in enumerate(self._faults):
            for setting, fault in zip(self.settings[number], faults, strict=True):
                if fault is not None:
                    kind, piece, layer = fault
                    found.append(Misstep(number, kind, setting.when, piece, layer))
        return tuple(found)

    @cached_property
    def _faults(self) -> tuple[tuple[tuple[str, int, int] | None, ...], ...]:
        """For each act, under each setting, the misstep that it is, if it is one."""
        return tuple(
            tuple(
                Token(self, act, dict(setting.when)).misstep() for setting in self.settings[number]
            )
            for number, act in enumerate(self.plan.acts)
        )


@dataclass(frozen=True, slots=True)
class Circle:
    """The plan's order lines run in a circle: ``acts`` in the order in which they wait for each
    other."""

    acts: tuple[int, ...]


def lay_out(plan: Plan) -> Layout | Circle:
    """The network of a plan, or the circle in which its order lines run."""
    registers = Registers(plan)
    body_of_layer = {
        layer: number for number, body in enumerate(plan.bodies) for layer in body.layers
    }
    network = network_of(plan, registers, body_of_layer)
    if isinstance(network, Circle):
        return network
    everywhere = (1 << plan.worlds) - 1
    possible = Effects(network, None, everywhere)
    settings = tuple(
        tuple(_settings(possible, event, act, _reads(plan, registers, body_of_layer, act)))
        for event, act in enumerate(plan.acts)
    )
    closing = dict(_closing(plan))
    return Layout(plan, registers, network, possible, body_of_layer, settings, closing)


def _closing(plan: Plan) -> Iterator[tuple[int, int]]:
    """The closing events, each with its layer."""
    begun = (number for number, layer in enumerate(plan.layers) if layer.start != NOTHING)
    return ((len(plan.acts) + 1 + place, number) for place, number in enumerate(begun))


def network_of(
    plan: Plan,
    registers: Registers | None = None,
    body_of_layer: Mapping[int, int] | None = None,
) -> Network | Circle:
    """The closed network of a plan alone: its order, and without ``registers`` no memories."""
    acts = len(plan.acts)
    events = acts + 1 + len(list(_closing(plan)))
    pairs = list(plan.order)
    pairs += [(act, acts - 1) for act in range(acts - 1)]
    pairs += [(event - 1, event) for event in range(acts, events)]
    everywhere = (1 << plan.worlds) - 1
    present = tuple(act.worlds for act in plan.acts) + (everywhere,) * (events - acts)
    blocks = tuple(Block(group.members, group.others) for group in plan.together)
    remembered: tuple[Register, ...] = ()
    if registers is not None and body_of_layer is not None:
        remembered = _registers(plan, registers, body_of_layer)
    network = networks.close(
        Network(
            events=events,
            before=networks.before_from_pairs(events, pairs),
            blocks=blocks,
            worlds=plan.worlds,
            present=present,
            registers=remembered,
        )
    )
    return Circle(network.events) if isinstance(network, networks.Cycle) else network


def named_spots(
    plan: Plan, body_of_layer: Mapping[int, int], effects: Iterable[Effect]
) -> set[int]:
    """The spots that these effects name in the sense of rule 9."""
    named: set[int] = set()

    def targets(items: Iterable[Target]) -> None:
        for target in items:
            if isinstance(target, Outer):
                named.add(plan.bodies[target.body].spot)
            elif isinstance(target, At):
                named.add(target.spot)
            elif isinstance(target, Held):
                named.update(spot for _, spot in target.spots)

    for effect in effects:
        if isinstance(effect, Meet | Wash | Treat):
            targets(effect.targets)
        elif isinstance(effect, Pass):
            targets(effect.sources)
            targets(effect.goals)
        elif isinstance(effect, _AT_LAYERS):
            named.update(plan.bodies[body_of_layer[layer]].spot for layer in effect.layers)
        elif isinstance(effect, Wet):
            targets(plan.treatments[effect.treatment].targets)
    return named


def _registers(
    plan: Plan, registers: Registers, body_of_layer: Mapping[int, int]
) -> tuple[Register, ...]:
    initial = [0] * registers.count
    writes: list[dict[int, int]] = [{} for _ in range(registers.count)]
    for number, record in enumerate(plan.layers):
        initial[registers.layer(number)] = record.start
    for hold in range(plan.holds):
        initial[registers.hold(hold)] = NOTHING
    for number, fact in enumerate(plan.facts):
        initial[registers.fact(number)] = int(fact.start)
    wetted = [
        named_spots(plan, body_of_layer, (Wet(number),)) for number in range(len(plan.treatments))
    ]
    for event, act in enumerate(plan.acts):
        named = named_spots(plan, body_of_layer, act.effects)
        for number, spots in enumerate(wetted):
            if named & spots:
                writes[registers.undisturbed(number)][event] = 0
        for effect in act.effects:
            if isinstance(effect, Fit):
                for layer in effect.layers:
                    writes[registers.layer(layer)][event] = effect.piece
            elif isinstance(effect, Unfit):
                for layer in effect.layers:
                    writes[registers.layer(layer)][event] = NOTHING
            if isinstance(effect, _AT_LAYERS):
                for layer in effect.layers:
                    if layer in registers.torn:
                        writes[registers.torn[layer]][event] = int(isinstance(effect, Tear))
            elif isinstance(effect, Take):
                writes[registers.hold(effect.hold)][event] = effect.piece
            elif isinstance(effect, SetFact):
                writes[registers.fact(effect.fact)][event] = int(effect.value)
            elif isinstance(effect, Wet):
                writes[registers.wet(effect.treatment)][event] = 1
                writes[registers.undisturbed(effect.treatment)][event] = 1
            elif isinstance(effect, WetEnd):
                writes[registers.wet(effect.treatment)][event] = 0
    return tuple(Register(start, write) for start, write in zip(initial, writes, strict=True))


def _reads(
    plan: Plan, registers: Registers, body_of_layer: Mapping[int, int], act: Act
) -> tuple[int, ...]:
    """The registers whose value before the act decides what it does."""
    read: dict[int, None] = {}
    written: set[int] = set()

    def see(register: int) -> None:
        if register not in written:
            read[register] = None

    def see_body(body: int) -> None:
        for layer in plan.bodies[body].layers:
            see(registers.layer(layer))

    def see_tear(layer: int) -> None:
        if layer in registers.torn:
            see(registers.torn[layer])

    def see_targets(targets: Iterable[Target], contact: bool = False) -> None:
        for target in targets:
            if isinstance(target, Outer):
                see_body(target.body)
                if contact:
                    for layer in plan.bodies[target.body].layers:
                        see_tear(layer)
            elif isinstance(target, Held):
                see(registers.hold(target.hold))

    for effect in act.effects:
        if isinstance(effect, _WITH_TARGETS):
            see_targets(effect.targets, contact=isinstance(effect, Meet))
        elif isinstance(effect, Pass):
            see_targets(effect.sources, contact=True)
            see_targets(effect.goals, contact=True)
        elif isinstance(effect, Fit | Unfit):
            for layer in effect.layers:
                see_body(body_of_layer[layer])
                if isinstance(effect, Unfit):
                    see_tear(layer)
            written.update(registers.layer(layer) for layer in effect.layers)
        if isinstance(effect, _AT_LAYERS):
            written.update(
                registers.torn[layer] for layer in effect.layers if layer in registers.torn
            )
        if isinstance(effect, RetireHeld):
            see(registers.hold(effect.hold))
        elif isinstance(effect, Take):
            written.add(registers.hold(effect.hold))
        elif isinstance(effect, WetEnd):
            see(registers.undisturbed(effect.treatment))
            see_targets(plan.treatments[effect.treatment].targets)
    return tuple(read)


def registers_read(layout: Layout, act: Act) -> tuple[int, ...]:
    """The registers whose value before the act decides what it does."""
    return _reads(layout.plan, layout.registers, layout.body_of_layer, act)


def _settings(possible: Effects, event: int, act: Act, reads: tuple[int, ...]) -> Iterator[Setting]:
    choices = [
        [((register, value), worlds) for value, worlds in _values(possible, register, event)]
        for register in reads
    ]
    for combination in product(*choices):
        worlds = act.worlds
        for _, within in combination:
            worlds &= within
        if worlds:
            yield Setting(tuple(pair for pair, _ in combination), worlds)


def _values(possible: Effects, register: int, event: int) -> list[tuple[int, Bits]]:
    """The values that the register may have at the event, with the worlds in which it may."""
    return sorted(possible.possible(register, event).items())


#: Effects on what is worn or covers something; as a constant, as below.
_AT_LAYERS = (Fit, Unfit, Tear)


@dataclass(slots=True)
class Token:
    """One act, done effect by effect under one setting of the registers."""

    layout: Layout
    act: Act
    values: dict[int, int]
    came_off: int = NOTHING

    # What targets touch with (rules 3 and 4).

    def under(self, body: int, layer_index: int) -> tuple[int, int]:
        """What is directly under that layer: its spot, and the index of its layer (-1: the
        body)."""
        plan = self.layout.plan
        layers = plan.bodies[body].layers
        for index in range(layer_index - 1, -1, -1):
            piece = self.values[layers[index]]
            if piece != NOTHING:
                return plan.pieces[piece].outside, index
        return plan.bodies[body].spot, -1

    def torn(self, layer: int) -> bool:
        """Whether what is on the layer is torn there (rule 5)."""
        register = self.layout.registers.torn.get(layer)
        return register is not None and bool(self.values.get(register))

    def through(self, layer: int) -> int:
        """What soil can pass on the layer: a tear, a leak, or (``DIRECT``) nothing."""
        if self.torn(layer):
            return TEAR
        return LEAK if self.layout.plan.pieces[self.values[layer]].leaks else DIRECT

    def touching(self, target: Target) -> list[Touch]:
        """The spots with which the target touches, and how."""
        plan = self.layout.plan
        if isinstance(target, At):
            return [(target.spot, DIRECT)]
        if isinstance(target, Held):
            piece = self.values[self.layout.registers.hold(target.hold)]
            return [(spot, DIRECT) for held, spot in target.spots if held == piece]
        if isinstance(target, CameOff):
            if self.came_off == NOTHING:
                return []
            return [(plan.pieces[self.came_off].outside, DIRECT)]
        layers = plan.bodies[target.body].layers
        spot, index = self.under(target.body, len(layers))
        spots = [(spot, DIRECT)]
        how = DIRECT
        while index >= 0 and (through := self.through(layers[index])):
            how = max(how, through)
            spot, index = self.under(target.body, index)
            spots.append((spot, how))
        return spots

    def all_touching(self, targets: Iterable[Target]) -> list[Touch]:
        """All spots that touch; one touched by itself does not touch through a cover as well."""
        found: dict[int, int] = {}
        for target in targets:
            for spot, how in self.touching(target):
                found[spot] = min(found.get(spot, LEAK), how)
        return list(found.items())

    def taken_off(self, effect: Unfit) -> list[Touch]:
        """What touches when the cover comes off (rule 6): its outside, and what it lets through."""
        plan = self.layout.plan
        touching = [(plan.pieces[self.values[effect.layers[0]]].outside, DIRECT)]
        for layer in effect.layers:
            if through := self.through(layer):
                body = self.layout.body_of_layer[layer]
                index = plan.bodies[body].layers.index(layer)
                touching.append((self.under(body, index)[0], through))
        return touching

    def direct(self, targets: Iterable[Target]) -> tuple[int, ...]:
        """The spots that the targets stand for, whatever they touch through covers."""
        return tuple(
            spot for target in targets for spot, how in self.touching(target) if how == DIRECT
        )

    def reached_through(self, target: Target, process: str | None) -> list[int]:
        """The spots on which a treatment acts (rule 8)."""
        if process is None or not isinstance(target, Outer):
            return list(self.direct((target,)))
        plan = self.layout.plan
        layers = plan.bodies[target.body].layers
        spot, index = self.under(target.body, len(layers))
        spots = [spot]
        while index >= 0 and process in plan.pieces[self.values[layers[index]]].lets:
            spot, index = self.under(target.body, index)
            spots.append(spot)
        return spots

    # What the act does to soil (rules 4 to 9).

    def course(self) -> tuple[Move, ...]:
        """All that the act does to soil, in order; the act is done then."""
        moves: list[Move] = []
        for effect in self.act.effects:
            moves += self._moves(effect)
            self.advance(effect)
        return tuple(moves)

    def _moves(self, effect: Effect) -> Iterator[Move]:
        plan = self.layout.plan
        if isinstance(effect, Meet):
            touching = self.all_touching(effect.targets)
            yield Contact.between(touching, touching, effect.amount)
        elif isinstance(effect, Pass):
            sources, into = self.all_touching(effect.sources), self.all_touching(effect.goals)
            yield Contact.between(sources, into, effect.amount)
        elif isinstance(effect, Unfit):
            touching = self.taken_off(effect)
            yield Contact.between(touching, touching, Amount.FULL)
        elif isinstance(effect, Wash):
            yield Washed(self.direct(effect.targets))
        elif isinstance(effect, Treat):
            yield self._treated(effect.targets, effect.level, effect.through)
        elif isinstance(effect, WetEnd):
            if self.values[self.layout.registers.undisturbed(effect.treatment)]:
                treatment = plan.treatments[effect.treatment]
                yield self._treated(treatment.targets, treatment.level, None)
        elif isinstance(effect, Judge):
            yield LookedAt(self.direct(effect.targets), effect.claim)
        for piece in pieces_retired(self, effect):
            if piece != NOTHING:
                yield Dropped(plan.pieces[piece].spots)

    def _treated(self, targets: Iterable[Target], level: int, through: str | None) -> Treated:
        spots = [spot for target in targets for spot in self.reached_through(target, through)]
        return Treated(tuple(spots), level)

    # Missteps (rule 6).

    def misstep(self, retired: set[int] | None = None) -> tuple[str, int, int] | None:
        """The first thing that makes this act impossible: (kind, piece, layer).

        With ``retired``, the pieces that earlier acts have retired, also the use of one of these;
        what this act retires is added to them.
        """
        for effect in self.act.effects:
            fault = self._misstep_of(effect)
            if fault is not None:
                return fault
            if retired is not None:
                for piece in pieces_used(self, effect):
                    if piece in retired:
                        return "retired", piece, NOTHING
                retired.update(pieces_retired(self, effect))
            self.advance(effect)
        return None

    def _misstep_of(self, effect: Effect) -> tuple[str, int, int] | None:
        if isinstance(effect, Fit):
            for layer in effect.layers:
                if self.values[layer] != NOTHING:
                    return "on twice", self.values[layer], layer
                if self._covered_further_out(layer):
                    return "under a cover", effect.piece, layer
        elif isinstance(effect, Unfit):
            for layer in effect.layers:
                if self.values[layer] == NOTHING:
                    return "nothing to take off", NOTHING, layer
                if self._covered_further_out(layer):
                    return "under a cover", self.values[layer], layer
            if len({self.values[layer] for layer in effect.layers}) > 1:
                return "not one piece", self.values[effect.layers[0]], effect.layers[0]
        else:
            for hold in _holds_used(effect):
                if self.values[self.layout.registers.hold(hold)] == NOTHING:
                    return "nothing held", NOTHING, hold
        return None

    def _covered_further_out(self, layer: int) -> bool:
        layers = self.layout.plan.bodies[self.layout.body_of_layer[layer]].layers
        return any(self.values[further] != NOTHING for further in layers[layers.index(layer) + 1 :])

    def advance(self, effect: Effect) -> None:
        """Layers, tears, holds and what came off, after the effect."""
        if isinstance(effect, Fit):
            for layer in effect.layers:
                self.values[layer] = effect.piece
        elif isinstance(effect, Unfit):
            self.came_off = self.values[effect.layers[0]]
            for layer in effect.layers:
                self.values[layer] = NOTHING
        if isinstance(effect, _AT_LAYERS):
            for layer in effect.layers:
                if layer in self.layout.registers.torn:
                    register = self.layout.registers.torn[layer]
                    self.values[register] = int(isinstance(effect, Tear))
        elif isinstance(effect, Take):
            self.values[self.layout.registers.hold(effect.hold)] = effect.piece


def token_of(layout: Layout, number: int, setting: Setting) -> Token:
    """A token about to go through act ``number`` under ``setting``."""
    return Token(layout, layout.plan.acts[number], dict(setting.when))


#: Effects that name what they act on; as a constant, since this is asked very often.
_WITH_TARGETS = (Meet, Wash, Treat, Judge)


def _holds_used(effect: Effect) -> Iterator[int]:
    """The holds that the effect reads."""
    targets: tuple[Target, ...] = ()
    if isinstance(effect, _WITH_TARGETS):
        targets = effect.targets
    elif isinstance(effect, Pass):
        targets = effect.sources + effect.goals
    elif isinstance(effect, RetireHeld):
        yield effect.hold
    for target in targets:
        if isinstance(target, Held):
            yield target.hold


def holds_read(act: Act) -> Iterator[int]:
    """The holds whose piece was taken in an earlier act (rule 7)."""
    taken: set[int] = set()
    for effect in act.effects:
        if isinstance(effect, Take):
            taken.add(effect.hold)
        yield from (hold for hold in _holds_used(effect) if hold not in taken)


def pieces_used(token: Token, effect: Effect) -> Iterator[int]:
    """The pieces that the effect fits, or names through a hold."""
    if isinstance(effect, Fit):
        yield effect.piece
    for hold in _holds_used(effect):
        yield token.values[token.layout.registers.hold(hold)]


def pieces_retired(token: Token, effect: Effect) -> Iterator[int]:
    """The pieces that the effect retires."""
    if isinstance(effect, Retire):
        yield effect.piece
    elif isinstance(effect, RetireHeld):
        yield token.values[token.layout.registers.hold(effect.hold)]
    elif isinstance(effect, RetireCameOff) and token.came_off != NOTHING:
        yield token.came_off


class Spread:
    """How soil of one group of classes moves: the carry, and what its targets mean.

    ``classes``: the classes that no treatment of the plan tells apart. ``chemical``: it is no germ;
    then they are all classes, since none of them matters. ``goals``: what each target number stands
    for.
    """

    def __init__(
        self,
        layout: Layout,
        classes: tuple[str, ...],
        only_by: frozenset[str] | None = None,
        chemical: bool = False,
    ) -> None:
        """``only_by``: names of spots; soil that gets anywhere else is not followed further."""
        self.layout = layout
        self.classes = classes
        self.chemical = chemical
        #: Whether it counts that soil comes to a spot, by spot, as a trace, and through a tear.
        self._reached_by: dict[tuple[int, bool, bool], bool] = {}
        self._closed = (
            frozenset()
            if only_by is None
            else frozenset(
                spot for spot, record in enumerate(layout.plan.spots) if record.name not in only_by
            )
        )
        self.goals: list[Goal] = []
        self._numbers: dict[Goal, int] = {}
        plan = layout.plan
        lasting = [source for source in plan.sources if source.lasting]
        base = len(plan.spots) * STATES
        #: position of the soil of each lasting source, which nothing ends
        self.wells = {
            (source.spot, source.origin, source.amount): base + number
            for number, source in enumerate(lasting)
        }
        self._well_state = {
            base + number: position(source.spot, False, source.amount is Amount.TRACE)
            for number, source in enumerate(lasting)
        }
        ways = [self._ways(number, act) for number, act in enumerate(plan.acts)]
        ways.append(self._over_ways())
        ways += [self._closing_ways(event, layer) for event, layer in layout.closing.items()]
        self.carry = Carry(base + len(lasting), tuple(ways))

    def number(self, goal: Goal) -> int:
        """The number of a target, made up at first mention."""
        known = self._numbers.get(goal)
        if known is None:
            known = self._numbers[goal] = len(self.goals)
            self.goals.append(goal)
        return known

    def plain(self, place: int) -> int:
        """The position (spot and state) at which a mark there is: a well's soil is at its spot."""
        return self._well_state.get(place, place)

    def _ways(self, number: int, act: Act) -> tuple[Way, ...]:
        ways: list[Way] = []
        for setting, course in self.layout.courses[number]:
            for worlds in self._floor_worlds(act, setting.worlds):
                way = self._way(number, course, setting.when, worlds)
                if way.moves or way.hits:
                    ways.append(way)
        return tuple(ways)

    def _floor_worlds(self, act: Act, worlds: Bits) -> list[Bits]:
        """``worlds`` split so that within each part every floor is the same."""
        treats = any(isinstance(effect, Treat | WetEnd) for effect in act.effects)
        parts = [worlds]
        if not treats:
            return parts
        for spot in self.layout.plan.spots:
            if len(spot.floors) > 1:
                parts = [
                    part & within for part in parts for within, _ in spot.floors if part & within
                ]
        return parts

    def _way(
        self,
        number: int,
        course: tuple[Move, ...],
        when: tuple[tuple[int, int], ...],
        worlds: Bits,
    ) -> Way:
        last = number == self.layout.end
        if not course and not last:
            return Way(when, worlds, {}, {})
        spots = set().union(*(move.spots for move in course))
        plan = self.layout.plan
        moves: dict[int, tuple[int, ...]] = {}
        hits: dict[int, tuple[int, ...]] = {}
        if last:
            spots |= {
                spot
                for spot, record in enumerate(plan.spots)
                if any(rule.moment is Moment.END for rule in record.reach)
            }
        starts = [spot * STATES + state for spot in sorted(spots) for state in range(STATES)]
        starts += [well for well, state in self._well_state.items() if spot_of(state) in spots]
        reached = [
            self._reached(number, move) if isinstance(move, Contact) else {} for move in course
        ]
        only_contacts = all(isinstance(move, Contact) for move in course)
        brought: dict[int, tuple[set[int], list[Goal]]] = {}
        for start in starts:
            if only_contacts:
                caked = self.plain(start) & ~RINSED
                if caked not in brought:
                    brought[caked] = self._brought(reached, caked)
                to, goals = brought[caked]
                after = to | {start}
            else:
                after, goals = self._carry_out(number, course, reached, worlds, start)
            if last:
                goals = goals + self._at_end(self.plain(start))
            if after != {start}:
                moves[start] = tuple(sorted(after))
            if goals:
                hits[start] = tuple(dict.fromkeys(self.number(goal) for goal in goals))
        return Way(when, worlds, moves, hits)

    def _at_end(self, place: int) -> list[Goal]:
        plan = self.layout.plan
        spot = spot_of(place)
        amount = Amount.TRACE if place & TRACE else Amount.FULL
        if any(
            rule.moment is Moment.END and amount in rule.amounts for rule in plan.spots[spot].reach
        ):
            return [AtEnd(spot, amount)]
        return []

    def _over_ways(self) -> tuple[Way, ...]:
        """Soil at lasting spots goes on as it is (rule 12)."""
        hits = {
            place: (self.number(GoesOn(self.plain(place))),)
            for place in [
                *range(len(self.layout.plan.spots) * STATES),
                *self._well_state,
            ]
            if self.layout.plan.spots[spot_of(self.plain(place))].lasting
        }
        return (Way((), self.layout.worlds, {}, hits),)

    def _closing_ways(self, event: int, layer: int) -> tuple[Way, ...]:
        """At the end the soil of what the layer holds goes on to what it holds at a start (rule
        12)."""
        plan = self.layout.plan
        start = plan.pieces[plan.layers[layer].start]
        ways: list[Way] = []
        for value, worlds in _values(self.layout.possible, layer, event):
            if value == NOTHING or plan.pieces[value].kind != start.kind:
                continue
            hits = {
                ends * STATES + state: (self.number(GoesOn(begins * STATES + state)),)
                for ends, begins in zip(plan.pieces[value].spots, start.spots, strict=True)
                for state in range(STATES)
            }
            ways.append(Way(((layer, value),), worlds, {}, hits))
        return tuple(ways)

    # Rules 4, 7, 8 and 11 for one token.

    def _carry_out(
        self,
        number: int,
        course: tuple[Move, ...],
        reached: Sequence[_ByPlace],
        worlds: Bits,
        start: int,
    ) -> tuple[set[int], list[Goal]]:
        """``reached``: for each move that is a contact, what :meth:`_reached` says of it."""
        here = {start}
        goals: list[Goal] = []
        for move, brought in zip(course, reached, strict=True):
            if isinstance(move, Contact):
                here = self._contact(here, brought, goals)
            elif isinstance(move, Washed):
                for spot in move.spots:
                    here = {place | RINSED if self._is_at(place, spot) else place for place in here}
            elif isinstance(move, Treated):
                for spot in move.spots:
                    here = self._treated(here, spot, move.level, worlds)
            elif isinstance(move, LookedAt):
                spots = {spot_of(self.plain(place)) for place in here}
                goals += [Judged(number, spot, move.claim) for spot in move.spots if spot in spots]
            else:
                here = {
                    place
                    for place in here
                    if place in self._well_state or spot_of(place) not in move.spots
                }
        return here, goals

    def _brought(self, reached: Iterable[_ByPlace], caked: int) -> tuple[set[int], list[Goal]]:
        """Where contacts one after the other bring soil that begins at a place, and what that hits.

        It stays where it began as well, caked or rinsed: that makes no difference to contacts.
        """
        places: set[int] = set()
        goals: list[Goal] = []
        for of_contact in reached:
            further: set[int] = set()
            for place in (caked, *places):
                found = of_contact.get(place)
                if found is not None:
                    further |= found[0]
                    goals += found[1]
            places |= further
        return places, goals

    def _is_at(self, place: int, spot: int) -> bool:
        return place not in self._well_state and spot_of(place) == spot

    def _contact(self, here: set[int], reached: _ByPlace, goals: list[Goal]) -> set[int]:
        after = here
        for place in here:
            # Whether soil is caked or rinsed, it gets to the same places.
            found = reached.get(self._well_state.get(place, place) & ~RINSED)
            if found is not None:
                to, delivered = found
                after = after | to
                goals += delivered
        return after

    def _reached(self, number: int, contact: Contact) -> _ByPlace:
        """For each place that the contact takes soil from, caked: the places that it brings it to,
        and what that hits."""
        reached: _ByPlace = {}
        for at, onward in contact.onward.items():
            for little_there in (False, True):
                to: set[int] = set()
                goals: list[Goal] = []
                for spot, little, torn in onward:
                    if spot not in self._closed:
                        trace = little or little_there
                        to.add(position(spot, False, trace))
                        self._deliver(number, spot, trace, torn, goals)
                reached[position(at, False, little_there)] = to, goals
        return reached

    def _deliver(self, number: int, spot: int, trace: bool, torn: bool, goals: list[Goal]) -> None:
        amount = Amount.TRACE if trace else Amount.FULL
        told = self._reached_by.get((spot, trace, torn))
        if told is None:
            told = self._reached_by[spot, trace, torn] = any(
                rule.moment is Moment.ANY
                and amount in rule.amounts
                and (rule.through_tears or not torn)
                for rule in self.layout.plan.spots[spot].reach
            )
        if told:
            goals.append(Delivered(number, spot, amount, torn))

    def _treated(self, here: set[int], spot: int, level: int, worlds: Bits) -> set[int]:
        acts = self.layout.plan.levels[level].acts
        if self.chemical:
            rinsed_off = acts in (Acts.CHEMICALS, Acts.ALL)
            return {place for place in here if not (rinsed_off and self._is_at(place, spot))}
        if acts is Acts.CHEMICALS or not self._ends(level, spot, worlds):
            return here
        return {
            place
            for place in here
            if not (
                self._is_at(place, spot)
                and (
                    acts is Acts.ALL
                    or (acts is Acts.RINSED and place & RINSED)
                    or (acts is Acts.TRACES and place & TRACE)
                )
            )
        }

    def _ends(self, level: int, spot: int, worlds: Bits) -> bool:
        return ends(self.layout.plan, level, spot, worlds, self.classes[0])


def ends(plan: Plan, level: int, spot: int, worlds: Bits, klass: str) -> bool:
    """Whether a treatment at the level ends soil of the class at the spot in these worlds (rule 8),
    if it can act on it.

    ``worlds`` must lie within one part of the spot's floors.
    """
    record = plan.levels[level]
    if klass in record.ends:
        return True
    return any(record.rank >= rank for within, rank in plan.spots[spot].floors if within & worlds)


def class_groups(layout: Layout) -> tuple[tuple[str, ...], ...]:
    """The classes, grouped by what the treatments of the plan do to them; the hardest group
    first."""
    plan = layout.plan
    used = {
        effect.level if isinstance(effect, Treat) else plan.treatments[effect.treatment].level
        for act in plan.acts
        for effect in act.effects
        if isinstance(effect, Treat | WetEnd)
    }
    groups: dict[tuple[bool, ...], list[str]] = {}
    for klass in plan.classes:
        signature = tuple(klass in plan.levels[level].ends for level in sorted(used))
        groups.setdefault(signature, []).append(klass)
    return tuple(tuple(group) for group in groups.values())
