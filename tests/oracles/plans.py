"""Random plans for the tests: small, but with everything in them that the kernel knows.

A plan is grown from a *tale*: acts in one sequence, each chosen so that it makes sense where it
stands (a cover comes off only where one is on). Then the order is loosened. What must stay in order
for the covers to fit mostly does, so that most plans are free of missteps, but not all are.

Every choice is one throw of :class:`Dice`, and 0 is always the plainest choice. So the same
generator serves seeded random tests and hypothesis, whose counterexamples then shrink well.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

from protocol_lang.contamination.kernel import (
    NOTHING,
    Act,
    Acts,
    AllOf,
    Amount,
    AnyOf,
    At,
    Bits,
    Body,
    CameOff,
    Claim,
    Effect,
    Fact,
    FactIs,
    Fit,
    Held,
    IsWet,
    Judge,
    Layer,
    LayerHas,
    Level,
    Meet,
    Moment,
    Not,
    Origin,
    Outer,
    Pass,
    Piece,
    Plan,
    Reach,
    Reached,
    Retire,
    RetireCameOff,
    RetireHeld,
    SetFact,
    Source,
    Spot,
    Take,
    Target,
    Tear,
    Togetherness,
    Treat,
    Treatment,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from tests.oracles.simulator import MISSTEPS, Outcome

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn, SearchStrategy

T = TypeVar("T")


# --- Dice -----------------------------------------------------------------------------------------


class Dice:
    """Choices, each made by one throw; 0 is the plainest."""

    def __init__(self, throw: Callable[[int], int]) -> None:
        #: A whole number from 0 to one less than the sides of the die.
        self.below = throw

    def chance(self, percent: int) -> bool:
        return self.below(100) >= 100 - percent

    def pick(self, choices: Sequence[T]) -> T:
        return choices[self.below(len(choices))]

    def some(self, choices: Sequence[T], least: int, most: int) -> list[T]:
        """Between ``least`` and ``most`` different ones (fewer if there are fewer)."""
        left = list(choices)
        count = min(least + self.below(most - least + 1), len(left))
        return [left.pop(self.below(len(left))) for _ in range(count)]

    def weighted(self, choices: Sequence[tuple[int, T]]) -> T:
        at = self.below(sum(weight for weight, _ in choices))
        for weight, choice in choices:
            if at < weight:
                return choice
            at -= weight
        raise AssertionError("a throw is below the sum of the weights")


# --- What may be drawn ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Size:
    """How large and how free the plans are.

    ``acts``: least and most, the end of the visit and the ends of wet times included. ``slack``
    in percent: how many plans lose some of the order that their covers and holds depend on; a
    sixth of it is the share of acts that are out of place. With none, few plans have a misstep.
    """

    acts: tuple[int, int] = (4, 9)
    worlds: int = 4
    people: int = 3
    surfaces: int = 3
    classes: int = 3
    slack: int = 30


SMALL = Size()
TINY = Size(acts=(3, 6), worlds=2, people=2, surfaces=2, classes=2)
LARGE = Size(acts=(8, 13), worlds=4, people=3, surfaces=4)


def random_plan(seed: int, size: Size = SMALL) -> Plan:
    """The plan that belongs to this seed."""
    return draw_plan(Dice(random.Random(seed).randrange), size)


def random_plans(count: int, seed: int = 0, size: Size = SMALL) -> Iterator[Plan]:
    """``count`` plans from ``seed`` on; the i-th is ``random_plan(seed + i)``."""
    return (random_plan(seed + i, size) for i in range(count))


def plans(size: Size = SMALL) -> SearchStrategy[Plan]:
    """The same plans as a hypothesis strategy."""
    from hypothesis import strategies as st

    @st.composite
    def plan(draw: DrawFn) -> Plan:
        return draw_plan(Dice(lambda sides: draw(st.integers(0, sides - 1))), size)

    return plan()


def draw_plan(dice: Dice, size: Size = SMALL) -> Plan:
    """One plan, by dice."""
    scene = _draw_scene(dice, size)
    tale = _tell(dice, scene, size)
    order, together = _loosen(dice, tale, size)
    _draw_next(dice, scene, tale)
    return Plan(
        worlds=scene.worlds,
        clinic=scene.clinic,
        classes=scene.classes,
        levels=tuple(scene.levels),
        spots=tuple(scene.spots),
        pieces=tuple(scene.pieces),
        layers=tuple(scene.layers),
        bodies=tuple(scene.bodies),
        holds=scene.holds,
        facts=tuple(scene.facts),
        treatments=tuple(tale.treatments),
        claims=tuple(tale.claims),
        sources=tuple(scene.sources),
        acts=tuple(tale.acts),
        order=order,
        together=together,
    )


# --- The scene: things, people, soil --------------------------------------------------------------

ANY_AMOUNT = frozenset(Amount)
ONLY_FULL = frozenset({Amount.FULL})
OF_PATIENTS = frozenset({Origin.PATIENT, Origin.NEXT})
PROCESS = "steam"

# The table of rule 11.
FIRST, SECOND = frozenset({Origin.PATIENT}), frozenset({Origin.NEXT})
SKIN = (
    Reach(Reached.PATIENT, FIRST, ANY_AMOUNT, own=False),
    Reach(Reached.PATIENT, SECOND, ANY_AMOUNT),
)
MOUTH = (*SKIN, Reach(Reached.PATIENT, frozenset(set(Origin) - OF_PATIENTS), ANY_AMOUNT))
NEXT_SKIN = (
    Reach(Reached.PATIENT, SECOND, ANY_AMOUNT, own=False),
    Reach(Reached.PATIENT, FIRST, ANY_AMOUNT),
)
HAND = (
    Reach(Reached.STAFF, OF_PATIENTS, ONLY_FULL, through_tears=False),
    Reach(Reached.HANDS_AT_END, OF_PATIENTS, ANY_AMOUNT, moment=Moment.END),
)
FACE = (
    Reach(Reached.STAFF, OF_PATIENTS, ANY_AMOUNT),
    Reach(Reached.STAFF, frozenset({Origin.CHEMICAL}), ONLY_FULL),
)
STRAP = (Reach(Reached.STAFF, OF_PATIENTS, ONLY_FULL),)
KEPT_CLEAN = (Reach(Reached.CLEAN_THING, OF_PATIENTS, ANY_AMOUNT),)


@dataclass
class _Scene:
    """Everything of a plan but its acts."""

    worlds: int
    clinic: tuple[Bits, ...]
    classes: tuple[str, ...]
    levels: list[Level] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    layers: list[Layer] = field(default_factory=list)
    bodies: list[Body] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    holds: int = 0
    hands: list[int] = field(default_factory=list)  # the body of each person's hand
    touchable: list[int] = field(default_factory=list)  # the other bodies
    mouth: int = 0
    fitting: list[list[int]] = field(default_factory=list)  # for each layer, its pieces
    tools: list[list[int]] = field(default_factory=list)  # for each hold, its pieces

    @property
    def everywhere(self) -> Bits:
        return (1 << self.worlds) - 1

    def spot(
        self,
        name: str,
        lasting: bool,
        floors: tuple[tuple[Bits, int], ...] = (),
        reach: tuple[Reach, ...] = (),
    ) -> int:
        self.spots.append(Spot(name, lasting, floors, reach))
        return len(self.spots) - 1

    def body(self, spot: int, layers: int = 0) -> int:
        first = len(self.layers)
        for depth in range(layers):
            self.layers.append(Layer(f"{self.spots[spot].name} layer {depth}"))
            self.fitting.append([])
        self.bodies.append(Body(spot, tuple(range(first, first + layers))))
        return len(self.bodies) - 1


def _draw_scene(dice: Dice, size: Size) -> _Scene:
    worlds = 1 + dice.below(size.worlds)
    everywhere = (1 << worlds) - 1
    clinic: tuple[Bits, ...] = (everywhere,)
    if worlds > 1 and dice.chance(35):
        part = 1 + dice.below(everywhere - 1)
        clinic = (part, everywhere & ~part)
    names = ("spores", "mycobacteria", "viruses")[-(1 + dice.below(size.classes)) :]
    scene = _Scene(worlds, clinic, names)
    _draw_levels(dice, scene)

    scene.mouth = scene.body(scene.spot("mouth", False, (), MOUTH))
    scene.touchable.append(scene.mouth)
    scene.sources.append(Source(scene.bodies[0].spot, Origin.PATIENT, Amount.FULL, True))
    for person in range(1 + dice.below(size.people)):
        lasting = not dice.chance(15)
        hand = scene.spot(f"hand {person}", lasting, _floors(dice, scene, 80), HAND)
        scene.hands.append(scene.body(hand, 1 + dice.chance(30)))
    for surface in range(1 + dice.below(size.surfaces)):
        reach = dice.weighted(((8, ()), (2, KEPT_CLEAN), (1, STRAP), (2, FACE), (1, SKIN)))
        spot = scene.spot(
            f"surface {surface}", not dice.chance(25), _floors(dice, scene, 60), reach
        )
        scene.touchable.append(scene.body(spot, dice.weighted(((4, 1), (3, 0), (2, 2)))))
    if dice.chance(35):
        skin = scene.spot("skin", dice.chance(10), (), SKIN)
        scene.touchable.append(scene.body(skin))
        scene.sources.append(Source(skin, Origin.PATIENT, Amount.TRACE, dice.chance(30)))
    if dice.chance(35):
        floor = scene.spot("floor", True)
        scene.touchable.append(scene.body(floor))
        scene.sources.append(Source(floor, Origin.DIRT, Amount.FULL, not dice.chance(40)))
    if dice.chance(35):
        soiled = scene.bodies[dice.pick(scene.touchable[1:])].spot
        amount = dice.pick((Amount.FULL, Amount.TRACE))
        scene.sources.append(Source(soiled, Origin.EVERYDAY, amount, dice.chance(35)))
    if dice.chance(35):
        bath = scene.bodies[dice.pick(scene.touchable[1:])].spot
        amount = Amount.TRACE if dice.chance(30) else Amount.FULL
        scene.sources.append(Source(bath, Origin.CHEMICAL, amount, not dice.chance(40)))
    _draw_covers(dice, scene)
    _draw_tools(dice, scene)
    for number in range(dice.weighted(((3, 0), (4, 1), (3, 2)))):
        scene.facts.append(Fact(f"fact {number}", dice.chance(30), dice.chance(55)))
    return scene


def _draw_next(dice: Dice, scene: _Scene, tale: _Tale) -> None:
    """In some plans a spot is of the patient of a visit that begins before this one is over."""
    if not dice.chance(60):
        return
    number = dice.below(len(scene.bodies))
    spot = scene.bodies[number].spot
    known = scene.spots[spot]
    scene.spots[spot] = replace(known, reach=(*known.reach, *NEXT_SKIN))
    amount = Amount.TRACE if dice.chance(30) else Amount.FULL
    scene.sources.append(Source(spot, Origin.NEXT, amount, not dice.chance(40)))
    for at, act in enumerate(tale.acts):
        effects = tuple(
            replace(one, of=Origin.NEXT) if isinstance(one, Judge) and dice.chance(50) else one
            for one in act.effects
        )
        tale.acts[at] = replace(act, effects=effects)


def _draw_levels(dice: Dice, scene: _Scene) -> None:
    """Levels that always end the easiest classes, and act on what they please."""
    for number in range(2 + dice.below(3)):
        ends = frozenset(scene.classes[1 + dice.below(len(scene.classes)) :])
        acts = dice.weighted(
            ((5, Acts.RINSED), (3, Acts.ALL), (2, Acts.TRACES), (2, Acts.CHEMICALS))
        )
        scene.levels.append(Level(f"level {number}", 1 + dice.below(3), ends, acts))


def _floors(dice: Dice, scene: _Scene, percent: int) -> tuple[tuple[Bits, int], ...]:
    if not dice.chance(percent):
        return ()
    rank = 1 + dice.below(3)
    if scene.worlds > 1 and dice.chance(35):
        part = 1 + dice.below(scene.everywhere - 1)
        return ((part, rank), (scene.everywhere & ~part, 1 + dice.below(3)))
    return ((scene.everywhere, rank),)


def _draw_covers(dice: Dice, scene: _Scene) -> None:
    for number, layer in enumerate(scene.layers):
        leaks, single_use = dice.chance(45), dice.chance(60)
        lets = frozenset({PROCESS}) if dice.chance(45) else frozenset[str]()
        has_inside = dice.chance(25)
        # Two layers may be for the same kind of cover, so that one piece can span them.
        if number and dice.chance(20):
            scene.fitting[number] = scene.fitting[dice.below(number)]
            continue
        kind = f"cover for {layer.name}"
        for copy in range(1 + dice.below(3)):
            outside = scene.spot(f"{kind}, {copy}", dice.chance(15), _floors(dice, scene, 40))
            spots: tuple[int, ...] = (outside,)
            if has_inside:
                spots = (outside, scene.spot(f"{kind}, {copy}, inside", False))
            piece = Piece(f"{kind}, {copy}", kind, spots, outside, leaks, lets, single_use)
            scene.fitting[number].append(len(scene.pieces))
            scene.pieces.append(piece)
    taken: set[int] = set()
    for number, layer in enumerate(scene.layers):
        free = [piece for piece in scene.fitting[number] if piece not in taken]
        if free and dice.chance(28):
            scene.layers[number] = Layer(layer.name, free[0])
            taken.add(free[0])


def _draw_tools(dice: Dice, scene: _Scene) -> None:
    """Wipes and the like: a back and a face, and a hold that names the one in use."""
    if not dice.chance(55):
        return
    scene.holds = 1
    scene.tools.append([])
    single_use, face_lasts = dice.chance(70), dice.chance(20)
    for copy in range(1 + dice.weighted(((1, 0), (3, 1), (2, 2)))):
        back = scene.spot(f"wipe {copy}, back", False)
        face = scene.spot(f"wipe {copy}, face", face_lasts, _floors(dice, scene, 30))
        scene.tools[0].append(len(scene.pieces))
        scene.pieces.append(
            Piece(f"wipe {copy}", "wipe", (back, face), face, single_use=single_use)
        )
    # A second hold, for a cover that is taken first and fitted later.
    if scene.layers and dice.chance(40):
        scene.holds = 2
        scene.tools.append(list(dice.pick(scene.fitting)))


# --- The tale: acts that make sense in one sequence -----------------------------------------------


@dataclass
class _Now:
    """What is the case in one world at a point of the tale."""

    layers: list[int]
    holds: list[int]
    retired: set[int] = field(default_factory=set)
    facts: list[bool] = field(default_factory=list)
    torn: set[int] = field(default_factory=set)  # layers
    wet: set[int] = field(default_factory=set)


@dataclass
class _Tale:
    scene: _Scene
    now: list[_Now]
    acts: list[Act] = field(default_factory=list)
    treatments: list[Treatment] = field(default_factory=list)
    claims: list[Claim] = field(default_factory=list)
    judgements: list[Judge] = field(default_factory=list)
    running: list[tuple[int, Bits]] = field(default_factory=list)  # wet times without an end yet
    episodes: list[tuple[int, ...]] = field(default_factory=list)  # acts that open and close
    firm: set[tuple[int, int]] = field(default_factory=set)  # pairs that stay in order
    #: For each act: the pieces that it retires by a word ("the wipe") and those it uses so.
    retires: list[set[int]] = field(default_factory=list)
    handles: list[set[int]] = field(default_factory=list)

    def where(self, worlds: Bits) -> list[_Now]:
        return [now for world, now in enumerate(self.now) if worlds >> world & 1]

    def worlds(self, true: Callable[[_Now], bool]) -> Bits:
        return sum(1 << world for world, now in enumerate(self.now) if true(now))

    def tell(self, name: str, person: int | None, worlds: Bits, effects: Sequence[Effect]) -> None:
        """The act happens: it is noted, and what is the case follows it."""
        self.acts.append(Act(name, person, worlds, tuple(effects)))
        retires: set[int] = set()
        handles: set[int] = set()
        self.retires.append(retires)
        self.handles.append(handles)
        for now in self.where(worlds):
            came_off = NOTHING
            for effect in effects:
                match effect:
                    case Fit(on, piece):
                        for layer in on:
                            now.layers[layer] = piece
                        now.torn -= set(on)
                    case Unfit(on):
                        came_off = now.layers[on[0]]
                        for layer in on:
                            now.layers[layer] = NOTHING
                        now.torn -= set(on)
                    case Tear(on):
                        now.torn |= {layer for layer in on if now.layers[layer] != NOTHING}
                    case Take(hold, piece):
                        now.holds[hold] = piece
                    case Retire(piece):
                        now.retired.add(piece)
                    case RetireHeld(hold):
                        now.retired.add(now.holds[hold])
                        retires.add(now.holds[hold])
                    case RetireCameOff():
                        now.retired.add(came_off)
                        retires.add(came_off)
                    case SetFact(fact, value):
                        now.facts[fact] = value
                    case Wet(treatment):
                        now.wet.add(treatment)
                    case WetEnd(treatment):
                        now.wet.discard(treatment)
                    case _:
                        held = (t.hold for t in _targets(effect) if isinstance(t, Held))
                        handles.update(now.holds[hold] for hold in held)


def _tell(dice: Dice, scene: _Scene, size: Size) -> _Tale:
    now = [
        _Now(
            [layer.start for layer in scene.layers],
            [NOTHING] * scene.holds,
            facts=[fact.start for fact in scene.facts],
        )
        for _ in range(scene.worlds)
    ]
    tale = _Tale(scene, now)
    least, most = size.acts
    target = least + dice.below(most - least + 1)
    closing = 1 + dice.chance(50)
    for _ in range(4 * target):
        if len(tale.acts) + len(tale.running) + closing >= target:
            break
        if tale.running and dice.chance(30):
            _end_wet_time(tale)
            continue
        if dice.chance(size.slack // 6):
            _slip(dice, tale)
        else:
            dice.weighted(_ACTS)(dice, tale)
    while tale.running:
        _end_wet_time(tale)
    _close(dice, tale, target)
    _claim(dice, tale)
    return tale


def _end_wet_time(tale: _Tale) -> None:
    treatment, worlds = tale.running.pop(0)
    tale.tell(f"end of wet time {treatment}", None, worlds, [WetEnd(treatment)])


def _person(dice: Dice, tale: _Tale) -> int:
    return dice.below(len(tale.scene.hands))


def _some_worlds(dice: Dice, among: Bits) -> Bits:
    """Mostly all of them, sometimes fewer (but at least one)."""
    if dice.chance(30):
        fewer = among & dice.below(among + 1)
        return fewer or among
    return among


def _target(dice: Dice, tale: _Tale, person: int) -> Target:
    """Something to touch: a body, or now and then a spot whatever is on it."""
    scene = tale.scene
    body = dice.pick([*scene.touchable, scene.mouth, *scene.hands])
    if dice.chance(12):
        return At(scene.bodies[body].spot)
    if dice.chance(6):
        return At(dice.below(len(scene.spots)))
    return Outer(body)


def _different(targets: Iterable[Target]) -> tuple[Target, ...]:
    return tuple(dict.fromkeys(targets))


def _touch_effect(dice: Dice, tale: _Tale, person: int) -> Effect:
    hand: Target = Outer(tale.scene.hands[person])
    others = [_target(dice, tale, person) for _ in range(1 + dice.chance(30))]
    amount = Amount.TRACE if dice.chance(20) else Amount.FULL
    if dice.chance(15):
        return Pass(tuple(others), (hand,), amount)
    if dice.chance(8):
        return Pass((hand,), tuple(others), amount)
    return Meet(_different([hand, *others]), amount)


def _touch(dice: Dice, tale: _Tale) -> None:
    person = _person(dice, tale)
    effects = [_touch_effect(dice, tale, person)]
    if dice.chance(25):
        effects.append(_touch_effect(dice, tale, person))
    tale.tell("touch", person, _some_worlds(dice, tale.scene.everywhere), effects)


def _splash(dice: Dice, tale: _Tale) -> None:
    scene = tale.scene
    sources = [_target(dice, tale, 0)]
    goals = [_target(dice, tale, 0) for _ in range(1 + dice.chance(40))]
    amount = Amount.TRACE if dice.chance(40) else Amount.FULL
    effect = Pass(_different(sources), _different(goals), amount)
    tale.tell("splash", _person(dice, tale), _some_worlds(dice, scene.everywhere), [effect])


def _body_of(scene: _Scene, layer: int) -> Body:
    return next(body for body in scene.bodies if layer in body.layers)


def _is_open(scene: _Scene, now: _Now, layer: int) -> bool:
    """Nothing is on the layer or further out."""
    layers = _body_of(scene, layer).layers
    return all(now.layers[out] == NOTHING for out in layers[layers.index(layer) :])


def _free_in(tale: _Tale, piece: int) -> Bits:
    return tale.worlds(lambda now: _is_free(now, piece))


def _is_free(now: _Now, piece: int) -> bool:
    return piece not in now.layers and piece not in now.retired and piece not in now.holds


def _can_fit(tale: _Tale) -> list[tuple[int, int, Bits]]:
    """(layer, piece, worlds in which the piece can come onto the layer now)."""
    found = []
    for layer, pieces in enumerate(tale.scene.fitting):
        for piece in pieces:

            def fits(now: _Now, layer: int = layer, piece: int = piece) -> bool:
                return _is_open(tale.scene, now, layer) and _is_free(now, piece)

            worlds = tale.worlds(fits)
            if worlds:
                found.append((layer, piece, worlds))
    return found


def _fit_effects(dice: Dice, tale: _Tale, person: int, layer: int, piece: int) -> list[Effect]:
    scene = tale.scene
    effects: list[Effect] = []
    if dice.chance(50):
        effects.append(Meet((Outer(scene.hands[person]), At(scene.pieces[piece].outside))))
    hold = next((h for h, pieces in enumerate(scene.tools) if piece in pieces), None)
    if hold is not None and dice.chance(50):
        effects.append(Take(hold, piece))
    effects.append(Fit((layer,), piece))
    if dice.chance(20):
        effects.append(_touch_effect(dice, tale, person))
    return effects


def _fit(dice: Dice, tale: _Tale) -> None:
    choices = _can_fit(tale)
    if not choices:
        return
    layer, piece, worlds = dice.pick(choices)
    person = _person(dice, tale)
    spanned = [(other, w) for other, p, w in choices if p == piece and other != layer]
    same_body = _body_of(tale.scene, layer).layers
    spanned = [(other, w) for other, w in spanned if other not in same_body and w & worlds]
    if spanned and dice.chance(70):
        other, also = dice.pick(spanned)
        effect = Fit((layer, other), piece)
        tale.tell("fit over two", person, _some_worlds(dice, worlds & also), [effect])
        return
    effects = _fit_effects(dice, tale, person, layer, piece)
    tale.tell("fit", person, _some_worlds(dice, worlds), effects)


def _on_now(tale: _Tale, now: _Now, layer: int) -> tuple[int, ...]:
    """The layers to name when what is on this layer comes off; () if it cannot."""
    piece = now.layers[layer]
    on = tuple(number for number, other in enumerate(now.layers) if other == piece)
    if piece == NOTHING:
        return ()
    for number in on:
        layers = _body_of(tale.scene, number).layers
        if any(now.layers[out] != NOTHING for out in layers[layers.index(number) + 1 :]):
            return ()
    return on


def _can_unfit(tale: _Tale) -> list[tuple[tuple[int, ...], Bits]]:
    """(layers, worlds in which one piece is on just these and can come off)."""
    found: dict[tuple[int, ...], Bits] = {}
    for world, now in enumerate(tale.now):
        for layer in range(len(now.layers)):
            on = _on_now(tale, now, layer)
            if on and on[0] == layer:
                found[on] = found.get(on, 0) | 1 << world
    return list(found.items())


def _unfit_effects(
    dice: Dice, tale: _Tale, person: int, on: tuple[int, ...], retire: int
) -> list[Effect]:
    effects: list[Effect] = []
    if dice.chance(15):
        effects.append(_touch_effect(dice, tale, person))
    effects.append(Unfit(on))
    if dice.chance(40):
        effects.append(Meet((Outer(tale.scene.hands[person]), CameOff())))
    if dice.chance(10):
        effects.append(Pass((CameOff(),), (_target(dice, tale, person),)))
    if dice.chance(retire):
        effects.append(RetireCameOff())
    return effects


def _unfit(dice: Dice, tale: _Tale) -> None:
    choices = _can_unfit(tale)
    if not choices:
        return
    on, worlds = dice.pick(choices)
    person = _person(dice, tale)
    effects = _unfit_effects(dice, tale, person, on, 70)
    tale.tell("unfit", person, _some_worlds(dice, worlds), effects)


def _change(dice: Dice, tale: _Tale) -> None:
    """One act takes a cover off and puts another of its kind on."""
    choices = [(on, worlds) for on, worlds in _can_unfit(tale) if len(on) == 1]
    if not choices:
        return
    (layer,), worlds = dice.pick(choices)
    worlds = _some_worlds(dice, worlds)
    free = [
        piece
        for piece in tale.scene.fitting[layer]
        if all(_is_free(now, piece) for now in tale.where(worlds))
    ]
    if not free:
        return
    person = _person(dice, tale)
    effects = _unfit_effects(dice, tale, person, (layer,), 85)
    effects.append(Fit((layer,), dice.pick(free)))
    tale.tell("change", person, worlds, effects)


def _episode(dice: Dice, tale: _Tale) -> None:
    """A cover comes on, is used, and comes off: acts that may be done in one go."""
    choices = _can_fit(tale)
    if not choices:
        return
    hands = [tale.scene.bodies[body].layers[0] for body in tale.scene.hands]
    on_hands = [choice for choice in choices if choice[0] in hands]
    layer, piece, worlds = dice.pick(on_hands if on_hands and dice.chance(60) else choices)
    person = hands.index(layer) if layer in hands else _person(dice, tale)
    _tell_episode(dice, tale, person, layer, piece, _some_worlds(dice, worlds))


def _tell_episode(
    dice: Dice, tale: _Tale, person: int, layer: int, piece: int, worlds: Bits
) -> None:
    first = len(tale.acts)
    tale.tell("put on", person, worlds, _fit_effects(dice, tale, person, layer, piece))
    if dice.chance(30):
        used = _some_worlds(dice, tale.scene.everywhere)
        tale.tell("use", person, used, [_touch_effect(dice, tale, person)])
    effects: list[Effect] = []
    if dice.chance(60):
        effects.append(_touch_effect(dice, tale, person))
    effects += _unfit_effects(dice, tale, person, (layer,), 80)
    tale.tell("take off", person, worlds, effects)
    tale.episodes.append(tuple(range(first, len(tale.acts))))


def _two_episodes(dice: Dice, tale: _Tale) -> None:
    """Two covers, one after the other on one layer, in either order if each is done in one go."""
    choices = _can_fit(tale)
    pairs = [
        (layer, one, other, worlds & also)
        for layer, one, worlds in choices
        for place, other, also in choices
        if place == layer and one < other and worlds & also
    ]
    if pairs:
        layer, one, other, worlds = dice.pick(pairs)
        person = _person(dice, tale)
        for piece in (one, other):
            _tell_episode(dice, tale, person, layer, piece, _some_worlds(dice, worlds))


def _relay(dice: Dice, tale: _Tale) -> None:
    """Soil that goes one thing further in each visit, since the last hop is done first."""
    scene = tale.scene
    things = dice.some([body for body in scene.touchable if body != scene.mouth], 1, 4)
    chain = [scene.mouth, *things]
    if dice.chance(60):
        chain.append(scene.mouth)
    for here, there in reversed(list(pairwise(chain))):
        effect = Pass((Outer(here),), (Outer(there),))
        tale.tell("carry", _person(dice, tale), scene.everywhere, [effect])
    if dice.chance(70):
        acts = range(len(tale.acts) - len(chain) + 1, len(tale.acts))
        tale.firm |= set(pairwise(acts))


def _tear(dice: Dice, tale: _Tale) -> None:
    """Something that is on tears; now and then there is nothing on the layer."""
    on = [layer for now in tale.now for layer, piece in enumerate(now.layers) if piece != NOTHING]
    person = _person(dice, tale)
    effects: list[Effect] = [Tear((dice.pick(on),))] if on else []
    if dice.chance(15) and tale.scene.layers:
        effects = [Tear(tuple(dice.some(range(len(tale.scene.layers)), 1, 2)))]
    if dice.chance(25):
        effects.insert(0, _touch_effect(dice, tale, person))
    if dice.chance(25):
        effects.append(_touch_effect(dice, tale, person))
    if effects:
        tale.tell("tear", person, _some_worlds(dice, tale.scene.everywhere), effects)


def _torn_glove(dice: Dice, tale: _Tale) -> None:
    """A hand is covered, the cover tears and is used; then another comes on and is used too."""
    scene = tale.scene
    person = _person(dice, tale)
    hand = scene.hands[person]
    layer = scene.bodies[hand].layers[0]
    free = [piece for on, piece, worlds in _can_fit(tale) if on == layer]
    if not free:
        return
    first = len(tale.acts)
    everywhere = scene.everywhere
    amount = Amount.TRACE if dice.chance(20) else Amount.FULL
    tale.tell("put on", person, _free_in(tale, free[0]), [Fit((layer,), free[0])])
    tale.tell("tear", person, _some_worlds(dice, everywhere), [Tear((layer,))])
    tale.tell("use", person, everywhere, [_touch_effect(dice, tale, person)])
    effects: list[Effect] = [Unfit((layer,)), RetireCameOff()]
    if len(free) > 1 and dice.chance(60):
        effects.append(Fit((layer,), free[1]))
    tale.tell("take off", person, tale.acts[first].worlds, effects)
    goal = _target(dice, tale, person)
    tale.tell("touch", person, everywhere, [Meet(_different([Outer(hand), goal]), amount)])
    acts = range(first, len(tale.acts))
    tale.firm |= {pair for pair in pairwise(acts) if dice.chance(80)}


def _cleaning_target(dice: Dice, tale: _Tale) -> Target:
    scene = tale.scene
    body = dice.pick([*scene.hands, *scene.touchable[1:]])
    if dice.chance(12):
        return At(scene.bodies[body].spot)
    return Outer(body)


def _clean(dice: Dice, tale: _Tale) -> None:
    scene = tale.scene
    targets = _different(_cleaning_target(dice, tale) for _ in range(1 + dice.chance(25)))
    effects: list[Effect] = []
    through = PROCESS if dice.chance(30) else None
    what = dice.weighted(((4, "both"), (3, "treat"), (2, "wash")))
    if what != "treat":
        effects.append(Wash(targets))
    if what != "wash":
        effects.append(Treat(targets, dice.below(len(scene.levels)), through))
    worlds = _some_worlds(dice, scene.everywhere)
    tale.tell(f"clean: {what}", _person(dice, tale), worlds, effects)


def _steam(dice: Dice, tale: _Tale) -> None:
    """Something is soiled, washed, covered, and treated through the cover (rule 8)."""
    scene = tale.scene
    choices = [
        (layer, piece, worlds)
        for layer, piece, worlds in _can_fit(tale)
        if scene.pieces[piece].lets or dice.chance(10)
    ]
    if not choices:
        return
    layer, piece, worlds = dice.pick(choices)
    person = _person(dice, tale)
    inside = At(_body_of(scene, layer).spot)
    if dice.chance(60):
        tale.tell("soil", person, scene.everywhere, [Pass((Outer(scene.mouth),), (inside,))])
    effects: list[Effect] = [Fit((layer,), piece)]
    if dice.chance(85):
        effects.insert(0, Wash((inside,)))
    tale.tell("pack", person, worlds, effects)
    body = next(n for n, body in enumerate(scene.bodies) if layer in body.layers)
    process = PROCESS if dice.chance(80) else None
    effects = [Treat((Outer(body),), dice.below(len(scene.levels)), process)]
    if dice.chance(70):
        effects += [Unfit((layer,)), RetireCameOff()]
    tale.tell("steam", person, worlds, effects)
    if dice.chance(70):
        first = len(tale.acts) - 2
        tale.firm.add((first, first + 1))


def _from_visit_to_visit(dice: Dice, tale: _Tale) -> None:
    """Treated first and washed last: what is rinsed in one visit is ended in the next (rule 12)."""
    scene = tale.scene
    person = _person(dice, tale)
    thing = At(scene.bodies[dice.pick(scene.touchable[1:])].spot)
    mouth = Outer(scene.mouth)
    first = len(tale.acts)
    for effect in (
        Treat((thing,), dice.below(len(scene.levels))),
        Pass((thing,), (mouth,)),
        Pass((mouth,), (thing,)),
        Wash((thing,)),
    ):
        tale.tell("treat and wash", person, scene.everywhere, [effect])
    tale.firm |= set(pairwise(range(first, len(tale.acts))))


def _rub(dice: Dice, tale: _Tale) -> None:
    """A brush soils a hand, and a treatment follows, whatever it acts on."""
    scene = tale.scene
    hand = At(scene.bodies[dice.pick(scene.hands)].spot)
    soiled = Pass((_target(dice, tale, 0),), (hand,), Amount.TRACE)
    treat = Treat((hand,), dice.below(len(scene.levels)))
    person = _person(dice, tale)
    if dice.chance(50):
        tale.tell("rub", person, _some_worlds(dice, scene.everywhere), [soiled, treat])
    else:
        tale.tell("brush", person, scene.everywhere, [soiled])
        tale.tell("rub", person, _some_worlds(dice, scene.everywhere), [treat])
        tale.firm.add((len(tale.acts) - 2, len(tale.acts) - 1))


def _rinse(dice: Dice, tale: _Tale) -> None:
    """A chemical gets onto something, which is rinsed or treated otherwise, and touched."""
    scene = tale.scene
    baths = [source.spot for source in scene.sources if source.origin is Origin.CHEMICAL]
    if not baths:
        return
    thing = Outer(dice.pick(scene.touchable[1:]))
    person = _person(dice, tale)
    first = len(tale.acts)
    tale.tell("soak", person, scene.everywhere, [Pass((At(dice.pick(baths)),), (thing,))])
    rinsing = [n for n, one in enumerate(scene.levels) if one.acts is Acts.CHEMICALS]
    level = rinsing[0] if rinsing and dice.chance(50) else dice.below(len(scene.levels))
    effects: list[Effect] = [Treat((thing,), level)]
    if dice.chance(50):
        effects.insert(0, Wash((thing,)))
    tale.tell("rinse", person, _some_worlds(dice, scene.everywhere), effects)
    in_danger = [
        body
        for body in [scene.mouth, *scene.touchable[1:]]
        if any(
            Origin.CHEMICAL in rule.origins for rule in scene.spots[scene.bodies[body].spot].reach
        )
    ]
    goal = Outer(dice.pick(in_danger)) if dice.chance(70) else _target(dice, tale, person)
    tale.tell("carry", person, scene.everywhere, [Pass((thing,), (goal,))])
    tale.firm |= set(pairwise(range(first, len(tale.acts))))


def _mop(dice: Dice, tale: _Tale) -> None:
    """A source, mostly one that never runs out, is cleaned and then touched."""
    scene = tale.scene
    spot = At(dice.pick(scene.sources).spot)
    effects: list[Effect] = [Wash((spot,)), Treat((spot,), dice.below(len(scene.levels)))]
    person = _person(dice, tale)
    tale.tell("mop", person, _some_worlds(dice, scene.everywhere), effects)
    goal = Outer(scene.mouth) if dice.chance(30) else _target(dice, tale, person)
    tale.tell("carry", person, scene.everywhere, [Pass((spot,), (goal,))])
    tale.firm.add((len(tale.acts) - 2, len(tale.acts) - 1))


def _begin_wet_time(dice: Dice, tale: _Tale) -> None:
    scene = tale.scene
    targets: list[Outer | At] = []
    for _ in range(1 + dice.chance(25)):
        body = dice.pick([*scene.touchable[1:], *scene.hands])
        target: Outer | At = At(scene.bodies[body].spot) if dice.chance(20) else Outer(body)
        if tale.running and dice.chance(40):
            # On something that is wet already.
            target = dice.pick(tale.treatments[tale.running[0][0]].targets)
        if target not in targets:
            targets.append(target)
    number = len(tale.treatments)
    tale.treatments.append(Treatment(tuple(targets), dice.below(len(scene.levels))))
    worlds = _some_worlds(dice, scene.everywhere)
    effects: list[Effect] = [Wet(number)]
    if dice.chance(50):
        effects.insert(0, Wash(tuple(targets)))
    if dice.chance(20):
        effects.append(Meet((Outer(dice.pick(scene.hands)), targets[0])))
    tale.tell("begin wet time", _person(dice, tale), worlds, effects)
    tale.running.append((number, scene.everywhere))


def _held(tale: _Tale, hold: int, part: int) -> Held:
    """A part of the piece in hand; pieces with fewer parts give their first."""
    pieces = tale.scene.pieces
    return Held(
        hold,
        tuple(
            (p, pieces[p].spots[min(part, len(pieces[p].spots) - 1)])
            for p in tale.scene.tools[hold]
        ),
    )


def _tool(dice: Dice, tale: _Tale) -> None:
    """Take a piece in hand, use it, throw it away: some of these in one act."""
    scene = tale.scene
    if not scene.tools:
        return
    hold = dice.below(len(scene.tools))
    person = _person(dice, tale)
    hand = Outer(scene.hands[person])
    effects: list[Effect] = []

    def usable(now: _Now) -> bool:
        return now.holds[hold] != NOTHING and now.holds[hold] not in now.retired

    in_hand = tale.worlds(usable)
    if not in_hand or dice.chance(55):
        free = [(piece, _free_in(tale, piece)) for piece in scene.tools[hold]]
        free = [(piece, worlds) for piece, worlds in free if worlds]
        if not free:
            return
        piece, worlds = dice.pick(free)
        effects.append(Take(hold, piece))
        if dice.chance(30):
            tale.tell("take", person, _some_worlds(dice, worlds), effects)
            return
    else:
        worlds = in_hand
    worlds = _some_worlds(dice, worlds)
    if hold == 1:
        # A cover in hand: it is touched, and stays in hand.
        effects.append(Meet((_held(tale, hold, 0), hand)))
        tale.tell("handle", person, worlds, effects)
        return
    surface = _cleaning_target(dice, tale)
    effects.append(Meet((_held(tale, hold, 0), hand)))
    effects.append(Meet((_held(tale, hold, 1), surface)))
    if dice.chance(50):
        effects.append(Wash((surface,)))
    if dice.chance(60):
        effects.append(Treat((surface,), dice.below(len(scene.levels))))
    if dice.chance(10):
        effects.append(Treat((_held(tale, hold, 1),), dice.below(len(scene.levels))))
    if dice.chance(60):
        effects.append(RetireHeld(hold))
    tale.tell("wipe", person, worlds, effects)


def _second_one(dice: Dice, tale: _Tale) -> None:
    """A piece is in hand; another is taken, and then "the" piece is used."""
    scene = tale.scene
    if not scene.tools:
        return
    hold = dice.below(len(scene.tools))
    in_hand = tale.worlds(lambda now: now.holds[hold] != NOTHING)
    for piece in scene.tools[hold]:
        worlds = in_hand & _free_in(tale, piece)
        if worlds:
            tale.tell("take", _person(dice, tale), worlds, [Take(hold, piece)])
            person = _person(dice, tale)
            hand = Outer(scene.hands[person])
            effects = [Meet((_held(tale, hold, 0), hand, _cleaning_target(dice, tale)))]
            tale.tell("use", person, worlds, effects)
            return


def _spray(dice: Dice, tale: _Tale) -> None:
    """Something soiled is washed and wet; it may be disturbed; then somebody judges it."""
    scene = tale.scene
    number = len(tale.treatments)
    person = _person(dice, tale)
    hand = Outer(scene.hands[person])
    body = dice.pick([*scene.touchable[1:], *scene.hands])
    thing: Outer | At = At(scene.bodies[body].spot) if dice.chance(50) else Outer(body)
    if scene.tools and dice.chance(30):
        thing = At(scene.pieces[dice.pick(scene.tools[0])].spots[0])
    strong = [n for n, level in enumerate(scene.levels) if level.acts is not Acts.TRACES]
    strong.sort(key=lambda n: -scene.levels[n].rank)
    level = strong[0] if strong and dice.chance(75) else dice.below(len(scene.levels))
    tale.treatments.append(Treatment((thing,), level))
    first = len(tale.acts)
    tale.tell("soil", person, scene.everywhere, [Pass((Outer(scene.mouth),), (thing,))])
    tale.tell("spray", person, scene.everywhere, [Wash((thing,)), Wet(number)])

    disturb: list[Effect] = []
    worlds = scene.everywhere
    what = dice.pick(("nothing", "touch", "cover", "spray", "hold", "hold"))
    if what == "touch":
        disturb = [Pass((thing,), (hand,))]
    elif what == "spray":
        tale.treatments.append(Treatment((thing,), dice.below(len(scene.levels))))
        disturb = [Wet(number + 1)]
        tale.running.append((number + 1, scene.everywhere))
    elif what == "cover":
        fits = [fit for fit in _can_fit(tale) if fit[0] in scene.bodies[body].layers]
        if fits:
            layer, piece, worlds = dice.pick(fits)
            disturb = [Fit((layer,), piece)]
            if dice.chance(30):
                disturb += [Unfit((layer,)), RetireCameOff()]
    elif what == "hold" and scene.tools:
        free = [p for p in scene.tools[0] if _free_in(tale, p)]
        if free:
            piece = dice.pick(free)
            worlds = _free_in(tale, piece)
            disturb = [Take(0, piece), Meet((_held(tale, 0, 0), hand)), RetireHeld(0)]
    if disturb:
        tale.tell("disturb", person, _some_worlds(dice, worlds), disturb)
    tale.tell(f"end of wet time {number}", None, scene.everywhere, [WetEnd(number)])
    judge = Judge(len(tale.judgements), (At(_own_spot(scene, thing)),), True)
    tale.judgements.append(judge)
    tale.tell("judge", person, scene.everywhere, [judge])
    acts = range(first, len(tale.acts))
    tale.firm |= {pair for pair in pairwise(acts) if dice.chance(85)}


def _own_spot(scene: _Scene, target: Outer | At) -> int:
    return target.spot if isinstance(target, At) else scene.bodies[target.body].spot


def _throw_away(dice: Dice, tale: _Tale) -> None:
    loose = [
        (piece, worlds)
        for piece in range(len(tale.scene.pieces))
        if (worlds := _free_in(tale, piece))
    ]
    if not loose:
        return
    piece, worlds = dice.pick(loose)
    person = _person(dice, tale)
    tale.tell("throw away", person, _some_worlds(dice, worlds), [Retire(piece)])


def _set_fact(dice: Dice, tale: _Tale) -> None:
    scene = tale.scene
    if not scene.facts:
        return
    effects: list[Effect] = [SetFact(dice.below(len(scene.facts)), not dice.chance(40))]
    person = _person(dice, tale)
    if dice.chance(40):
        effects.append(_touch_effect(dice, tale, person))
    tale.tell("set", person, _some_worlds(dice, scene.everywhere), effects)


def _judge(dice: Dice, tale: _Tale) -> None:
    scene = tale.scene
    person = _person(dice, tale)
    soiled = [At(source.spot) for source in scene.sources[1:]] if dice.chance(30) else []
    targets = _different(
        [*soiled, *(_target(dice, tale, person) for _ in range(1 + dice.chance(30)))]
    )
    # Judgements are numbered after every other claim; `_claim` moves them there.
    judge = Judge(len(tale.judgements), targets, dice.chance(40), dice.chance(65))
    tale.judgements.append(judge)
    effects: list[Effect] = [judge]
    if dice.chance(40):
        effects.insert(0, _touch_effect(dice, tale, person))
    tale.tell("judge", person, _some_worlds(dice, scene.everywhere), effects)


def _slip(dice: Dice, tale: _Tale) -> None:
    """An act that may well be a misstep where it stands."""
    scene = tale.scene
    person = _person(dice, tale)
    worlds = _some_worlds(dice, scene.everywhere)
    effect: Effect = Retire(dice.below(len(scene.pieces))) if scene.pieces else Take(0, 0)
    now = tale.now[0]
    covered = [layer for layer, piece in enumerate(now.layers) if piece != NOTHING]
    under = [
        layer
        for body in scene.bodies
        for depth, layer in enumerate(body.layers)
        if any(now.layers[out] != NOTHING for out in body.layers[depth + 1 :])
    ]
    kind = dice.pick(("retire", "fit", "off", "off", "under", "fit under", "hold", "hold"))
    if kind == "off" and covered:
        effect = Unfit(tuple(sorted(dice.some(covered, 2, 2))))
    elif kind == "under" and under:
        effect = Unfit((dice.pick(under),))
    elif kind in ("fit", "fit under") and scene.layers:
        open_or_not = under if under and kind == "fit under" else range(len(scene.layers))
        layer = dice.pick(open_or_not)
        if not scene.fitting[layer]:
            return
        effect = Fit((layer,), dice.pick(scene.fitting[layer]))
    elif kind == "hold" and scene.tools:
        hold = dice.below(len(scene.tools))
        effect = Meet((_held(tale, hold, 0), Outer(scene.hands[person])))
        if dice.chance(35):
            effect = RetireHeld(hold)
    elif not scene.pieces:
        return
    tale.tell("slip", person, worlds, [effect])


_ACTS: tuple[tuple[int, Callable[[Dice, _Tale], None]], ...] = (
    (30, _touch),
    (16, _fit),
    (16, _unfit),
    (7, _change),
    (12, _episode),
    (4, _two_episodes),
    (3, _relay),
    (10, _tear),
    (3, _torn_glove),
    (14, _clean),
    (3, _steam),
    (2, _from_visit_to_visit),
    (3, _rub),
    (3, _mop),
    (4, _rinse),
    (8, _begin_wet_time),
    (6, _spray),
    (26, _tool),
    (4, _splash),
    (3, _throw_away),
    (9, _set_fact),
    (9, _judge),
    (13, _second_one),
)


def _close(dice: Dice, tale: _Tale, target: int) -> None:
    """The end of the visit, and before it, mostly, what makes the room ready for the next."""
    scene = tale.scene
    last: list[Effect] = []
    if not dice.chance(15):
        alike: dict[tuple[object, ...], Bits] = {}
        for world, now in enumerate(tale.now):
            key = (tuple(now.layers), tuple(now.holds), frozenset(now.retired))
            alike[key] = alike.get(key, 0) | 1 << world
        for worlds in alike.values():
            effects = _closing_effects(dice, tale, tale.where(worlds)[0])
            if not effects:
                continue
            if worlds == scene.everywhere and dice.chance(40):
                last = effects
            elif len(tale.acts) < target or dice.chance(80):
                tale.tell("make ready", _person(dice, tale), worlds, effects)
        for number, fact in enumerate(scene.facts):
            if dice.chance(30):
                continue
            if fact.lasting and any(now.facts[number] != fact.start for now in tale.now):
                last.append(SetFact(number, fact.start))
    if dice.chance(10):
        last.append(_touch_effect(dice, tale, 0))
    tale.tell("end of the visit", None, scene.everywhere, last)


def _closing_effects(dice: Dice, tale: _Tale, now: _Now) -> list[Effect]:
    scene = tale.scene
    effects: list[Effect] = []
    layers, retired = list(now.layers), set(now.retired)
    # Outer layers first, so that what is under them can be reached.
    for layer in reversed(range(len(layers))):
        start = scene.layers[layer].start
        kind = None if start == NOTHING else scene.pieces[start].kind
        here = layers[layer]
        whole = layer not in now.torn or dice.chance(20)
        if here == NOTHING or (whole and kind == scene.pieces[here].kind):
            continue
        on = tuple(number for number, piece in enumerate(layers) if piece == here)
        effects += [Unfit(on), RetireCameOff()]
        retired.add(here)
        for number in on:
            layers[number] = NOTHING
    for layer, place in enumerate(scene.layers):
        if place.start == NOTHING or layers[layer] != NOTHING:
            continue
        body = _body_of(scene, layer).layers
        if any(layers[out] != NOTHING for out in body[body.index(layer) :]):
            continue
        kind = scene.pieces[place.start].kind
        free = [
            number
            for number, piece in enumerate(scene.pieces)
            if piece.kind == kind and number not in layers and number not in retired
        ]
        if free:
            effects.append(Fit((layer,), free[0]))
            layers[layer] = free[0]
    if not dice.chance(10):
        for hold in range(scene.holds):
            piece = now.holds[hold]
            if piece not in (NOTHING, *layers) and piece not in retired:
                effects.append(Retire(piece))
                retired.add(piece)
    return effects


# --- Claims ---------------------------------------------------------------------------------------


def _draw_claim(dice: Dice, tale: _Tale, deep: int = 0) -> Claim:
    """A claim; mostly one that could well be true."""
    scene = tale.scene
    kinds: list[tuple[int, str]] = [(1, "all" if deep else "fact")]
    if scene.facts:
        kinds.append((4, "fact"))
    if scene.layers:
        kinds.append((4, "layer"))
    if tale.treatments:
        kinds.append((3, "wet"))
    if deep < 2:
        kinds += [(2, "not"), (2, "all"), (3, "any")]
    kind = dice.weighted(kinds)
    if kind == "fact" and scene.facts:
        return FactIs(dice.below(len(scene.facts)), not dice.chance(40))
    if kind == "layer":
        layer = dice.below(len(scene.layers))
        pieces = frozenset(dice.some([NOTHING, *scene.fitting[layer]], 1, 3))
        return LayerHas(layer, pieces)
    if kind == "wet":
        return IsWet(dice.below(len(tale.treatments)))
    if kind == "not":
        return Not(_draw_claim(dice, tale, deep + 1))
    parts = tuple(
        _draw_claim(dice, tale, deep + 1) for _ in range(dice.below(3) if deep < 2 else 0)
    )
    return AnyOf(parts) if kind == "any" else AllOf(parts)


def _claim(dice: Dice, tale: _Tale) -> None:
    """Claims are laid on some acts, and judgements get their numbers."""
    for number, act in enumerate(tale.acts):
        if dice.chance(14):
            tale.claims.append(_draw_claim(dice, tale))
            tale.acts[number] = Act(
                act.name, act.person, act.worlds, act.effects, (len(tale.claims) - 1,)
            )
    for number, act in enumerate(tale.acts):
        effects = tuple(
            replace(e, claim=len(tale.claims) + e.claim) if isinstance(e, Judge) else e
            for e in act.effects
        )
        tale.acts[number] = Act(act.name, act.person, act.worlds, effects, act.claims)


# --- The order, loosened --------------------------------------------------------------------------

Pair = tuple[int, int]
Order = tuple[Pair, ...]


def _loosen(dice: Dice, tale: _Tale, size: Size) -> tuple[Order, tuple[Togetherness, ...]]:
    """A partial order that the tale itself keeps to, and groups done in one go."""
    acts = tale.acts
    last = len(acts) - 1
    pairs = {pair for pair in _shape(dice, tale) if pair[1] != last}
    must = _order_that_matters(tale)
    groups = _groups(dice, tale)
    # Two cover episodes that exclude each other need no order between them.
    for one in groups:
        for other in groups:
            if one < other and dice.chance(60) and _exclude_each_other(tale, one, other):
                apart = {(a, b) for a in one for b in other}
                must -= apart
                pairs -= apart
    if dice.chance(size.slack):
        share = 8 + dice.below(35)
        lost = {pair for pair in sorted(must) if dice.chance(share)}
        must -= lost
        pairs -= lost
    if dice.chance(70):
        # The first taking stays before every use; whether a later one does is left open.
        later = {pair for pair in must if _is_later_taking(tale, pair)}
        must -= later
        pairs -= later
    pairs |= must | tale.firm | _wet_pairs(acts) | {(a, last) for a in range(last)}
    together = tuple(_in_one_go(dice, tale, group) for group in groups)
    if last > 2 and dice.chance(8):
        # A group that may not be possible at all.
        members = dice.some(range(last), 2, 3)
        others = [a for a in range(last) if a not in members]
        together = (*together, Togetherness(_bits(members), _bits(others)))
    return tuple(sorted(pairs)), together


def _bits(numbers: Iterable[int]) -> Bits:
    return sum(1 << number for number in numbers)


def _shape(dice: Dice, tale: _Tale) -> set[Pair]:
    """The order that is there for its own sake."""
    count = len(tale.acts) - 1
    every = [(a, b) for b in range(count) for a in range(b)]
    kind = dice.weighted(((6, "threads"), (4, "nested"), (4, "random"), (1, "line")))
    # Many acts with no order between them are slow to simulate, and no richer.
    dense = 12 if count > 7 else 0
    if kind == "line":
        return set(every)
    if kind == "random":
        density = dense + dice.pick((0, 8, 20, 35))
        return {pair for pair in every if dice.chance(density)}
    if kind == "nested":
        pairs: set[Pair] = set()

        def split(low: int, high: int) -> None:
            if high - low < 2:
                return
            middle = low + 1 + dice.below(high - low - 1)
            if dice.chance(35 + dense):
                pairs.update((a, b) for a in range(low, middle) for b in range(middle, high))
            split(low, middle)
            split(middle, high)

        split(0, count)
        return pairs
    steady = dice.pick((100, 60, 25)) + dense
    across = dense + dice.pick((0, 0, 15))
    people = [act.person for act in tale.acts]
    return {
        (a, b)
        for a, b in every
        if dice.chance(steady if people[a] is not None and people[a] == people[b] else across)
    }


def _touches(tale: _Tale, number: int) -> tuple[set[object], set[object]]:
    """What of covers, holds and pieces an act changes, and what it relies on."""
    changes: set[object] = {("piece", piece) for piece in tale.retires[number]}
    relies: set[object] = {("piece", piece) for piece in tale.handles[number]}
    for effect in tale.acts[number].effects:
        match effect:
            case Fit(on) | Unfit(on):
                for layer in on:
                    changes.add(("layer", layer))
                    body = _body_of(tale.scene, layer).layers
                    relies.update(("layer", out) for out in body[body.index(layer) + 1 :])
                if isinstance(effect, Fit):
                    changes.add(("piece", effect.piece))
            case Take(hold, piece):
                changes.add(("hold", hold))
                relies.add(("piece", piece))
            case Retire(piece):
                changes.add(("piece", piece))
            case RetireHeld(hold):
                relies.add(("hold", hold))
            case _:
                held = (t.hold for t in _targets(effect) if isinstance(t, Held))
                relies.update(("hold", hold) for hold in held)
    return changes, relies


def _order_that_matters(tale: _Tale) -> set[Pair]:
    """Pairs of the tale whose order decides what is on which layer and in which hold."""
    touches = [_touches(tale, act) for act in range(len(tale.acts))]
    return {
        (a, b)
        for b, (changes_b, relies_b) in enumerate(touches)
        for a, (changes_a, relies_a) in enumerate(touches[:b])
        if changes_a & (changes_b | relies_b) or relies_a & changes_b
    }


def _wet_pairs(acts: list[Act]) -> set[Pair]:
    begins = {e.treatment: a for a, act in enumerate(acts) for e in act.effects if type(e) is Wet}
    ends = {e.treatment: a for a, act in enumerate(acts) for e in act.effects if type(e) is WetEnd}
    return {(begins[t], ends[t]) for t in begins}


def _is_later_taking(tale: _Tale, pair: Pair) -> bool:
    """The first act takes into a hold that was taken into before; the second only uses it."""
    a, b = pair
    takes = [{e.hold for e in act.effects if isinstance(e, Take)} for act in tale.acts]
    earlier = set().union(*takes[:a])
    return bool(takes[a] & earlier) and not takes[b]


def _groups(dice: Dice, tale: _Tale) -> list[tuple[int, ...]]:
    """Acts of one person that follow each other in the tale, at least among that person's."""
    groups: list[tuple[int, ...]] = []
    used: set[int] = set()
    for episode in tale.episodes:
        if dice.chance(75):
            groups.append(episode)
            used |= set(episode)
    if dice.chance(25):
        person = _person(dice, tale)
        mine = [a for a, act in enumerate(tale.acts) if act.person == person]
        if len(mine) > 2:
            first = dice.below(len(mine) - 1)
            group = tuple(mine[first : first + 2 + dice.below(2)])
            if not used & set(group):
                groups.append(group)
    return sorted(groups)


def _exclude_each_other(tale: _Tale, one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    if one not in tale.episodes or other not in tale.episodes:
        return False
    people = {tale.acts[a].person for a in (*one, *other)}
    fitted = [
        {e.piece for a in group for e in tale.acts[a].effects if isinstance(e, Fit)}
        for group in (one, other)
    ]
    plain = not any(isinstance(e, Take) for a in (*one, *other) for e in tale.acts[a].effects)
    between = range(one[-1] + 1, other[0])
    touched = set().union(*(_touches(tale, a)[0] for a in (*one, *other)))
    free = all(not _touches(tale, a)[0] & touched for a in between)
    return len(people) == 1 and plain and free and not fitted[0] & fitted[1]


def _in_one_go(dice: Dice, tale: _Tale, group: tuple[int, ...]) -> Togetherness:
    person = tale.acts[group[0]].person
    others = [a for a, act in enumerate(tale.acts) if act.person == person and a not in group]
    return Togetherness(_bits(group), _bits(others))


# --- What is in the plans -------------------------------------------------------------------------


def features(plan: Plan) -> set[str]:
    """What a plan has in it, in words for :func:`census`."""
    found: set[str] = set()

    def note(name: str, is_so: object) -> None:
        if is_so:
            found.add(name)

    effects = [effect for act in plan.acts for effect in act.effects]
    for effect in effects:
        note(f"effect {type(effect).__name__}", True)
        match effect:
            case Meet(_, Amount.TRACE) | Pass(_, _, Amount.TRACE):
                note("a brush", True)
            case Treat(_, level, through):
                note(f"treats {plan.levels[level].acts.value}", True)
                note("treats through covers", through)
            case Fit(on, _):
                note("a cover over two bodies", len(on) > 1)
        for target in _targets(effect):
            note(f"target {type(target).__name__}", True)
    note("several worlds", plan.worlds > 1)
    note("parts of the clinic", len(plan.clinic) > 1)
    note("floor by world", any(len(spot.floors) > 1 for spot in plan.spots))
    note("acts left out", any(act.worlds != (1 << plan.worlds) - 1 for act in plan.acts))
    note("two layers on a body", any(len(body.layers) > 1 for body in plan.bodies))
    note("covers on at the start", any(layer.start != NOTHING for layer in plan.layers))
    note("a leaking cover", any(piece.leaks for piece in plan.pieces))
    torn = {layer for effect in effects if isinstance(effect, Tear) for layer in effect.layers}
    note(
        "a cover that leaks and may tear",
        any(
            plan.pieces[e.piece].leaks and torn & set(e.layers)
            for e in effects
            if isinstance(e, Fit)
        ),
    )
    note("in one go", plan.together)
    note("several people", len({act.person for act in plan.acts} - {None}) > 1)
    note("lasting fact", any(fact.lasting for fact in plan.facts))
    takes = Counter(effect.hold for effect in effects if isinstance(effect, Take))
    note("several takes", max(takes.values(), default=0) > 1)
    for source in plan.sources:
        note(f"source {source.origin.value}, {'' if source.lasting else 'not '}lasting", True)
    for claim in plan.claims:
        for part in _parts(claim):
            note(f"claim {type(part).__name__}", True)
    return found


def _targets(effect: Effect) -> tuple[Target, ...]:
    match effect:
        case Meet(targets, _) | Wash(targets) | Treat(targets, _, _) | Judge(_, targets, _, _, _):
            return targets
        case Pass(sources, goals, _):
            return (*sources, *goals)
        case _:
            return ()


def _parts(claim: Claim) -> Iterator[Claim]:
    yield claim
    match claim:
        case Not(part):
            yield from _parts(part)
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from _parts(part)


def verdicts(plan: Plan, outcome: Outcome) -> set[str]:
    """What an outcome finds, in words for :func:`census`."""
    found: set[str] = set()
    if not outcome.possible:
        return {"no run"}
    found |= {f"misstep {kind}" for _, _, kind in outcome.missteps}
    if not outcome.missteps:
        found.add("no misstep")
        if not outcome.hits:
            found.add("nothing reached")
    elif len(outcome.misstep_worlds) < plan.worlds:
        found.add("missteps in some worlds only")
    if outcome.ambiguous:
        found.add("ambiguous hold")
    if outcome.claims:
        found.add("claim does not hold")
    elif any(act.claims for act in plan.acts):
        found.add("all claims hold")
    found |= {f"not ready: {what}" for _, what, _ in outcome.not_ready}
    if not outcome.not_ready:
        found.add("ready")
    if outcome.left_over:
        found.add("left over")
    for _, who, _, _, origin, _, own, _ in outcome.hits:
        whose = "" if origin not in OF_PATIENTS else ", own" if own else ", earlier"
        found.add(f"reached {who.value} by {origin.value}{whose}")
    return found


def census(outcomes: Iterable[tuple[Plan, Outcome]]) -> dict[str, float]:
    """Share of the plans, in percent, that have each feature and each verdict."""
    counts: Counter[str] = Counter({f"misstep {kind}": 0 for kind in MISSTEPS})
    total = 0
    for plan, outcome in outcomes:
        total += 1
        counts.update(features(plan) | verdicts(plan, outcome))
    return {name: 100 * count / max(total, 1) for name, count in sorted(counts.items())}
