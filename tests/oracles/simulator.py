"""A direct simulator of the kernel: what ``docs/meaning/kernel.md`` says, applied to every run.

It is the oracle for the engine and shares nothing with it but the records of
``protocol_lang.contamination.kernel``. It keeps the whole state together: every token at every
spot, the layers, holds, facts, wet times and retired pieces. So it does not rest on the insight
that tokens can be followed one at a time, which the engine uses and these tests examine.

How it works, in four parts that follow each other below:

1. *Orders*: the sets of acts that can have been done at some moment of some run.
2. *Doing an act*: what the act does to everything but soil; the soil's part is noted as *moves*
   between spots that are known by then. Soil never decides what anything else does.
3. *Soil*: a whole number with one bit for each token, spot and state; each move changes it.
4. *Visits*: every run of every visit, from every soil that earlier visits can have left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import Enum
from itertools import pairwise
from typing import NamedTuple

from protocol_lang.contamination.kernel import (
    NOTHING,
    Acts,
    AllOf,
    Amount,
    AnyOf,
    At,
    Bits,
    CameOff,
    Claim,
    Effect,
    FactIs,
    Fit,
    Held,
    IsWet,
    Judge,
    LayerHas,
    Level,
    Meet,
    Moment,
    Not,
    Origin,
    Outer,
    Pass,
    Plan,
    Reach,
    Reached,
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

# The kinds of misstep (rule 6).
ON_TWICE = "on twice"
UNDER_A_COVER = "under a cover"
NOTHING_TO_TAKE_OFF = "nothing to take off"
NOT_ONE_PIECE = "not one piece"
NOTHING_HELD = "nothing held"
RETIRED = "retired"
MISSTEPS = (
    ON_TWICE,
    UNDER_A_COVER,
    NOTHING_TO_TAKE_OFF,
    NOT_ONE_PIECE,
    NOTHING_HELD,
    RETIRED,
)

#: (part of the clinic, who, claim or -1, spot, origin, class, of this visit's patient, act)
Hit = tuple[int, Reached, int, int, Origin, str, bool, int]


@dataclass(frozen=True, slots=True)
class Outcome:
    """All that the rules find in a plan. Sets of plain tuples, so that two outcomes compare.

    ``possible``: worlds that have a run at all (rule 1).
    ``missteps``: (world, act, kind), for each run its first (rule 6).
    ``ambiguous``: (world, act, hold) where the order decides which piece the hold names (rule 7).
    ``claims``: (world, act, claim) that do not hold in some run (rule 10).
    ``not_ready``: (world, "layer", "torn" or "fact", number) (rule 12).
    ``left_over``: (world, piece) (rule 13).
    ``hits``: what reached whom in some history (rule 11); see :data:`Hit`. ``own`` is true of
    soil of the visit's own patient, and of all soil that is not of a patient.
    ``carried``: (spot, amount) of soil of earlier patients that some visit begins with (rule 12).

    A run is looked at up to its first misstep. Hits are of worlds without any misstep.
    """

    possible: frozenset[int]
    missteps: frozenset[tuple[int, int, str]]
    ambiguous: frozenset[tuple[int, int, int]]
    claims: frozenset[tuple[int, int, int]]
    not_ready: frozenset[tuple[int, str, int]]
    left_over: frozenset[tuple[int, int]]
    hits: frozenset[Hit]
    carried: frozenset[tuple[int, Amount]] = frozenset()

    @property
    def misstep_worlds(self) -> frozenset[int]:
        """The worlds in which some run has a misstep; they are not judged for contamination."""
        return frozenset(world for world, _, _ in self.missteps)


def simulate(plan: Plan, visits: int | None = 3, *, leave_out_ambiguous: bool = False) -> Outcome:
    """Apply the rules to every run of every history of at most ``visits`` visits.

    ``visits`` None: histories of any length (until no visit leaves soil that was not seen before).
    ``leave_out_ambiguous``: worlds with an ambiguous hold are left out of the hits as well.
    Raises ``ValueError`` for a plan that the rules give no meaning to (a hold that names a piece
    outside the map of its target; "what came off" where nothing came off in this act).
    """
    orders = _orders(plan)
    if not orders:
        nothing: frozenset[tuple[int, int, int]] = frozenset()
        return Outcome(
            frozenset(), frozenset(), nothing, nothing, frozenset(), frozenset(), frozenset()
        )
    things = _Things(plan)
    graphs: dict[Bits, _Runs] = {}
    of_world: list[_Runs] = []
    for world in range(plan.worlds):
        present = sum(1 << a for a, act in enumerate(plan.acts) if act.worlds >> world & 1)
        if present not in graphs:
            graphs[present] = _all_runs(things, orders, present)
        of_world.append(graphs[present])

    worlds = range(plan.worlds)
    ambiguous = frozenset((w, *use) for w in worlds for use in of_world[w].ambiguous())
    left_out = {w for w in worlds if of_world[w].missteps}
    if leave_out_ambiguous:
        left_out |= {w for w, _, _ in ambiguous}
    hits, carried = _hits(plan, of_world, left_out, visits)
    return Outcome(
        possible=frozenset(worlds),
        missteps=frozenset((w, *step) for w in worlds for step in of_world[w].missteps),
        ambiguous=ambiguous,
        claims=frozenset((w, *claim) for w in worlds for claim in of_world[w].claims),
        not_ready=frozenset((w, *what) for w in worlds for what in of_world[w].not_ready),
        left_over=frozenset((w, piece) for w in worlds for piece in of_world[w].left_over),
        hits=hits,
        carried=carried,
    )


# --- 1. Orders (rule 1) --------------------------------------------------------------------------


def _orders(plan: Plan) -> dict[Bits, tuple[int, ...]]:
    """Each set of acts done at some moment of some run, fewest first, and which may follow.

    Empty if no order of all acts is permitted. The world plays no part: an act that is left out
    keeps its place.
    """
    count = len(plan.acts)
    before = [0] * count
    for a, b in plan.order:
        before[b] |= 1 << a

    def may_follow(done: Bits) -> Iterator[int]:
        barred = done
        for group in plan.together:
            if group.members & done and group.members & ~done:
                barred |= group.others
        for act in range(count):
            if not barred >> act & 1 and not before[act] & ~done:
                yield act

    follow: dict[Bits, list[int]] = {0: []}
    queue = [0]
    for done in queue:
        follow[done] = list(may_follow(done))
        for act in follow[done]:
            after = done | 1 << act
            if after not in follow:
                follow[after] = []
                queue.append(after)

    # Only what can be completed is part of a run.
    everything = (1 << count) - 1
    completable: set[Bits] = {everything} & follow.keys()
    for done in reversed(queue):
        if any(done | 1 << act in completable for act in follow[done]):
            completable.add(done)
    return {
        done: tuple(act for act in follow[done] if done | 1 << act in completable)
        for done in queue
        if done in completable
    }


# --- 2. Doing an act: everything but soil ---------------------------------------------------------


class Through(Enum):
    """Through what a spot touches that does not touch by itself (rule 4)."""

    TEAR = "a tear"
    LEAK = "a leak"


#: The spots that touch in one handling; None for one that touches by itself.
Touching = dict[int, Through | None]

# A treatment with a wet time is, at a moment, one of these (rule 9).
DRY, WET, DISTURBED = 0, 1, 2


class State(NamedTuple):
    """All that is the case at a moment of a visit, but for soil.

    ``layers``, ``holds``: piece or NOTHING. ``torn``, ``facts``, ``retired``, ``used``: bits;
    ``torn`` are the layers on which something is torn (rule 5), ``used`` the pieces used once that
    this visit has used (rule 13).
    """

    layers: tuple[int, ...]
    torn: Bits
    holds: tuple[int, ...]
    facts: Bits
    wet: tuple[int, ...]
    retired: Bits
    used: Bits


class Contact(NamedTuple):
    """Soil goes from spot to spot, all at once: (source, goal, only a trace, the goal is touched
    through a tear)."""

    passages: tuple[tuple[int, int, bool, bool], ...]
    goals: tuple[int, ...]


class Washed(NamedTuple):
    """Caked soil at the spots becomes rinsed."""

    spots: tuple[int, ...]


class Treated(NamedTuple):
    """A level acts at the spots."""

    spots: tuple[int, ...]
    level: int


class Dropped(NamedTuple):
    """Soil at the spots is gone with the piece."""

    spots: tuple[int, ...]


class Judged(NamedTuple):
    """Nothing foreign may be at the spots."""

    judge: Judge
    spots: tuple[int, ...]


Move = Contact | Washed | Treated | Dropped | Judged


class Doing(NamedTuple):
    """What comes of an act in a state: the state after it (None: a misstep), and what happened.

    ``uses``: (number of the effect, hold, piece) for each hold that an effect reads.
    """

    after: State | None
    missteps: frozenset[str]
    moves: tuple[Move, ...]
    uses: tuple[tuple[int, int, int], ...]


class _Things:
    """A plan's bodies, layers and pieces, and what its acts do to them."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        #: For each layer: the bodies it is of, each with the layers further out.
        self.on: list[list[tuple[int, tuple[int, ...]]]] = [[] for _ in plan.layers]
        for number, body in enumerate(plan.bodies):
            for depth, layer in enumerate(body.layers):
                self.on[layer].append((number, body.layers[depth + 1 :]))
        #: For each treatment: the spots that its targets name.
        self.wetted: list[frozenset[int]] = [
            frozenset(self._plain_name(target) for target in treatment.targets)
            for treatment in plan.treatments
        ]
        #: The pieces that are on a layer when a visit starts.
        self.on_at_start = {layer.start for layer in plan.layers} - {NOTHING}
        self._known: dict[tuple[int, State], Doing] = {}

    def start(self) -> State:
        """What is the case when a visit starts (rules 10 and 12)."""
        plan = self.plan
        layers = tuple(layer.start for layer in plan.layers)
        return State(
            layers=layers,
            torn=0,
            holds=(NOTHING,) * plan.holds,
            facts=sum(1 << f for f, fact in enumerate(plan.facts) if fact.start),
            wet=(DRY,) * len(plan.treatments),
            retired=0,
            used=0,
        )

    def do(self, act: int, state: State) -> Doing:
        """The act takes place."""
        known = self._known.get((act, state))
        if known is None:
            known = self._known[act, state] = _ActInCourse(self, act, state).run()
        return known

    def passages(self, state: State, body: int) -> list[tuple[int, Through | None]]:
        """(spot, what its cover lets soil through by) from the outermost cover on, and last the
        body's own spot (rules 4 and 5)."""
        found: list[tuple[int, Through | None]] = []
        for layer in reversed(self.plan.bodies[body].layers):
            if state.layers[layer] != NOTHING:
                piece = self.plan.pieces[state.layers[layer]]
                found.append((piece.outside, self.lets_soil(state, layer)))
        return [*found, (self.plan.bodies[body].spot, None)]

    def lets_soil(self, state: State, layer: int) -> Through | None:
        """How soil passes what is on the layer (rule 5): a tear matters more than a leak."""
        if state.torn >> layer & 1:
            return Through.TEAR
        return Through.LEAK if self.plan.pieces[state.layers[layer]].leaks else None

    def stack(self, state: State, body: int) -> list[tuple[int, int]]:
        """(spot, piece) from the outermost cover to the body's own spot (piece NOTHING)."""
        pieces = self.plan.pieces
        covers = [
            (pieces[state.layers[layer]].outside, state.layers[layer])
            for layer in reversed(self.plan.bodies[body].layers)
            if state.layers[layer] != NOTHING
        ]
        return [*covers, (self.plan.bodies[body].spot, NOTHING)]

    def holds_true(self, claim: Claim, state: State) -> bool:
        """Whether the claim holds (rule 10)."""
        match claim:
            case FactIs(fact, value):
                return bool(state.facts >> fact & 1) == value
            case LayerHas(layer, pieces):
                return state.layers[layer] in pieces
            case IsWet(treatment):
                return state.wet[treatment] != DRY
            case Not(part):
                return not self.holds_true(part, state)
            case AllOf(parts):
                return all(self.holds_true(part, state) for part in parts)
            case AnyOf(parts):
                return any(self.holds_true(part, state) for part in parts)

    def _plain_name(self, target: Outer | At) -> int:
        match target:
            case Outer(body):
                return self.plan.bodies[body].spot
            case At(spot):
                return spot


class _ActInCourse:
    """One act while it is done: its effects in order, up to the first misstep."""

    def __init__(self, things: _Things, act: int, state: State) -> None:
        self.things = things
        self.plan = things.plan
        self.effects = self.plan.acts[act].effects
        self.state = state
        self.came_off = NOTHING
        self.moves: list[Move] = []
        self.uses: list[tuple[int, int, int]] = []
        self.named: set[int] = set()
        self.timed: set[int] = set()  # the treatments that begin or end in this act

    def run(self) -> Doing:
        for number, effect in enumerate(self.effects):
            for hold in _holds_read(effect):
                if self.state.holds[hold] != NOTHING:
                    self.uses.append((number, hold, self.state.holds[hold]))
            missteps = frozenset(self._missteps(effect))
            if missteps:
                return Doing(None, missteps, tuple(self.moves), tuple(self.uses))
            self.named |= self._names(effect)
            self._do(effect)
        wet = list(self.state.wet)
        for treatment, how in enumerate(wet):
            disturbed = not self.named.isdisjoint(self.things.wetted[treatment])
            if how == WET and treatment not in self.timed and disturbed:
                wet[treatment] = DISTURBED
        after = self.state._replace(wet=tuple(wet))
        return Doing(after, frozenset(), tuple(self.moves), tuple(self.uses))

    # Missteps (rule 6): all that are true of this effect.

    def _missteps(self, effect: Effect) -> Iterator[str]:
        layers = self.state.layers
        for hold in _holds_read(effect):
            piece = self.state.holds[hold]
            if piece == NOTHING:
                yield NOTHING_HELD
            elif self._retired(piece):
                yield RETIRED
        match effect:
            case Fit(on, piece):
                if self._retired(piece):
                    yield RETIRED
                if any(layers[layer] != NOTHING for layer in on):
                    yield ON_TWICE
                if self._covered(on):
                    yield UNDER_A_COVER
            case Unfit(on):
                if any(layers[layer] == NOTHING for layer in on):
                    yield NOTHING_TO_TAKE_OFF
                if self._covered(on):
                    yield UNDER_A_COVER
                if len({layers[layer] for layer in on} - {NOTHING}) > 1:
                    yield NOT_ONE_PIECE

    def _retired(self, piece: int) -> bool:
        return bool(self.state.retired >> piece & 1)

    def _covered(self, on: tuple[int, ...]) -> bool:
        return any(
            self.state.layers[outer] != NOTHING
            for layer in on
            for _, further_out in self.things.on[layer]
            for outer in further_out
        )

    # What an effect names (rule 9), and the spots that it acts on (rules 3 and 4).

    def _names(self, effect: Effect) -> set[int]:
        match effect:
            case Meet(targets, _) | Wash(targets) | Treat(targets, _, _):
                return {spot for target in targets for spot in self._name(target)}
            case Pass(sources, goals, _):
                return {spot for target in (*sources, *goals) for spot in self._name(target)}
            case Fit(on, _) | Unfit(on) | Tear(on):
                bodies = self.plan.bodies
                return {bodies[b].spot for layer in on for b, _ in self.things.on[layer]}
            case Wet(treatment):
                return set(self.things.wetted[treatment])
            case _:
                return set()

    def _name(self, target: Target) -> set[int]:
        """The spots that a target names, whatever is on them."""
        match target:
            case Outer(body):
                return {self.plan.bodies[body].spot}
            case At(spot):
                return {spot}
            case Held(_, spots):
                return {spot for _, spot in spots}
            case CameOff():
                return set()

    def _at(self, target: Target) -> int:
        """The spot that a target stands for at this moment."""
        match target:
            case Outer(body):
                return self.things.stack(self.state, body)[0][0]
            case At(spot):
                return spot
            case Held(hold, spots):
                piece = self.state.holds[hold]
                for possible, spot in spots:
                    if possible == piece:
                        return spot
                raise ValueError(f"hold {hold} names piece {piece}, which its target leaves out")
            case CameOff():
                return self.plan.pieces[self._off()].outside

    def _off(self) -> int:
        if self.came_off == NOTHING:
            raise ValueError("an act speaks of what came off, but nothing came off in it")
        return self.came_off

    def _spots(self, targets: Iterable[Target]) -> tuple[int, ...]:
        return tuple(dict.fromkeys(self._at(target) for target in targets))

    def _touching(self, targets: Iterable[Target]) -> Touching:
        """The touching spots, and through what each touches if not by itself (rule 4)."""
        through: dict[Through, set[int]] = {Through.TEAR: set(), Through.LEAK: set()}
        for target in targets:
            if isinstance(target, Outer):
                leaked = False
                passages = self.things.passages(self.state, target.body)
                for (_, how), (under, _) in pairwise(passages):
                    if how is None:
                        break
                    leaked = leaked or how is Through.LEAK
                    through[Through.LEAK if leaked else Through.TEAR].add(under)
        touching: Touching = dict.fromkeys(through[Through.LEAK], Through.LEAK)
        touching |= dict.fromkeys(through[Through.TEAR], Through.TEAR)
        touching |= dict.fromkeys((self._at(target) for target in targets), None)
        return touching

    # The effects, one by one.

    def _do(self, effect: Effect) -> None:
        match effect:
            case Meet(targets, amount):
                touching = self._touching(targets)
                self._contact(touching, touching, amount)
                self._serve(touching)
            case Pass(sources, goals, amount):
                self._contact(self._touching(sources), self._touching(goals), amount)
                self._serve(self._touching(sources))
                self._serve(self._touching(goals))
            case Fit(on, piece):
                self._fit(on, piece)
            case Unfit(on):
                self._unfit(on)
            case Tear(on):
                holding = _bits(layer for layer in on if self.state.layers[layer] != NOTHING)
                self.state = self.state._replace(torn=self.state.torn | holding)
            case Take(hold, piece):
                self._use(piece)
                self.state = self.state._replace(holds=_with(self.state.holds, (hold,), piece))
            case Wash(targets):
                self.moves.append(Washed(self._spots(targets)))
            case Treat(targets, level, through):
                spots = dict.fromkeys(
                    spot for target in targets for spot in self._through(target, through)
                )
                self.moves.append(Treated(tuple(spots), level))
            case Wet(treatment):
                self.timed.add(treatment)
                self.state = self.state._replace(wet=_with(self.state.wet, (treatment,), WET))
            case WetEnd(treatment):
                self.timed.add(treatment)
                if self.state.wet[treatment] == WET:
                    what = self.plan.treatments[treatment]
                    self.moves.append(Treated(self._spots(what.targets), what.level))
                self.state = self.state._replace(wet=_with(self.state.wet, (treatment,), DRY))
            case SetFact(fact, value):
                facts = self.state.facts & ~(1 << fact) | value << fact
                self.state = self.state._replace(facts=facts)
            case Retire(piece):
                self._retire(piece)
            case RetireHeld(hold):
                self._retire(self.state.holds[hold])
            case RetireCameOff():
                self._retire(self._off())
            case Judge():
                self.moves.append(Judged(effect, self._spots(effect.targets)))

    def _contact(self, sources: Touching, goals: Touching, amount: Amount) -> None:
        brush = amount is Amount.TRACE
        passages = tuple(
            (
                source,
                goal,
                brush or Through.LEAK in (source_through, goal_through),
                goal_through is Through.TEAR,
            )
            for source, source_through in sources.items()
            for goal, goal_through in goals.items()
            if source != goal
        )
        self.moves.append(
            Contact(passages, tuple(dict.fromkeys(goal for _, goal, _, _ in passages)))
        )

    def _serve(self, touching: Touching) -> None:
        """What was on from the start and now touches something is used (rule 13)."""
        for piece in self.things.on_at_start:
            spots = self.plan.pieces[piece].spots
            if any(spot in touching and touching[spot] is None for spot in spots):
                self._use(piece)

    def _use(self, piece: int) -> None:
        if self.plan.pieces[piece].single_use:
            self.state = self.state._replace(used=self.state.used | 1 << piece)

    def _through(self, target: Target, process: str | None) -> Iterator[int]:
        yield self._at(target)
        if isinstance(target, Outer) and process is not None:
            stack = self.things.stack(self.state, target.body)
            for (_, cover), (under, _) in pairwise(stack):
                if process not in self.plan.pieces[cover].lets:
                    break
                yield under

    def _fit(self, on: tuple[int, ...], piece: int) -> None:
        self._use(piece)
        whole = self.state.torn & ~_bits(on)
        self.state = self.state._replace(layers=_with(self.state.layers, on, piece), torn=whole)

    def _unfit(self, on: tuple[int, ...]) -> None:
        self.came_off = self.state.layers[on[0]]
        self._use(self.came_off)
        touching: Touching = {self.plan.pieces[self.came_off].outside: None}
        for layer in on:
            how = self.things.lets_soil(self.state, layer)
            if how is not None:
                # No misstep: the piece is outermost on each of the bodies.
                for body, _ in self.things.on[layer]:
                    touching[self.things.stack(self.state, body)[1][0]] = how
        if len(touching) > 1:
            self._contact(touching, touching, Amount.FULL)
        torn = self.state.torn & ~_bits(on)
        layers = _with(self.state.layers, on, NOTHING)
        self.state = self.state._replace(layers=layers, torn=torn)

    def _retire(self, piece: int) -> None:
        self.state = self.state._replace(retired=self.state.retired | 1 << piece)
        self.moves.append(Dropped(self.plan.pieces[piece].spots))


def _holds_read(effect: Effect) -> tuple[int, ...]:
    match effect:
        case RetireHeld(hold):
            return (hold,)
        case Meet(targets, _) | Wash(targets) | Treat(targets, _, _) | Judge(_, targets, _, _, _):
            return tuple(target.hold for target in targets if isinstance(target, Held))
        case Pass(sources, goals, _):
            return tuple(t.hold for t in (*sources, *goals) if isinstance(t, Held))
        case _:
            return ()


def _with(values: tuple[int, ...], places: tuple[int, ...], value: int) -> tuple[int, ...]:
    return tuple(value if i in places else old for i, old in enumerate(values))


def _bits(numbers: Iterable[int]) -> Bits:
    bits = 0
    for number in numbers:
        bits |= 1 << number
    return bits


# All runs of one visit, for worlds in which the same acts take place.


@dataclass(slots=True)
class _Node:
    """A moment of some runs: the same acts are done and the same is the case, but for soil."""

    state: State
    #: (act, moves, the node after it)
    ways: list[tuple[int, tuple[Move, ...], int]] = field(default_factory=list)


@dataclass(slots=True)
class _Runs:
    """Every moment of every run (``nodes``, in an order in which each comes after those before
    it in a run; ``ends`` are the last ones), and the verdicts that do not ask about soil."""

    nodes: list[_Node] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    missteps: set[tuple[int, str]] = field(default_factory=set)
    claims: set[tuple[int, int]] = field(default_factory=set)
    uses: dict[tuple[int, int, int], set[int]] = field(default_factory=dict)
    not_ready: set[tuple[str, int]] = field(default_factory=set)
    left_over: set[int] = field(default_factory=set)

    def ambiguous(self) -> set[tuple[int, int]]:
        return {(act, hold) for (act, _, hold), pieces in self.uses.items() if len(pieces) > 1}


def _all_runs(things: _Things, orders: dict[Bits, tuple[int, ...]], present: Bits) -> _Runs:
    """Every run in which the acts ``present`` take place and the others keep their places."""
    plan = things.plan
    runs = _Runs()
    numbers: dict[Bits, dict[State, int]] = {done: {} for done in orders}

    def node(done: Bits, state: State) -> int:
        here = numbers[done]
        if state not in here:
            here[state] = len(runs.nodes)
            runs.nodes.append(_Node(state))
        return here[state]

    node(0, things.start())
    for done, follow in orders.items():
        for state, number in numbers[done].items():
            for act in follow:
                after = done | 1 << act
                if not present >> act & 1:
                    runs.nodes[number].ways.append((act, (), node(after, state)))
                    continue
                for claim in plan.acts[act].claims:
                    if not things.holds_true(plan.claims[claim], state):
                        runs.claims.add((act, claim))
                doing = things.do(act, state)
                for effect, hold, piece in doing.uses:
                    runs.uses.setdefault((act, effect, hold), set()).add(piece)
                if doing.after is None:
                    runs.missteps |= {(act, kind) for kind in doing.missteps}
                else:
                    runs.nodes[number].ways.append((act, doing.moves, node(after, doing.after)))
    for state, number in numbers[(1 << len(plan.acts)) - 1].items():
        runs.ends.append(number)
        runs.not_ready |= set(_not_ready(plan, state))
        runs.left_over |= set(_left_over(plan, state))
    return runs


def _not_ready(plan: Plan, state: State) -> Iterator[tuple[str, int]]:
    """What is not as it was when the visit started (rule 12)."""
    for number, layer in enumerate(plan.layers):
        if _kind(plan, state.layers[number]) != _kind(plan, layer.start):
            yield "layer", number
        if state.torn >> number & 1:
            yield "torn", number
    for number, fact in enumerate(plan.facts):
        if fact.lasting and bool(state.facts >> number & 1) != fact.start:
            yield "fact", number


def _kind(plan: Plan, piece: int) -> str | None:
    return None if piece == NOTHING else plan.pieces[piece].kind


def _left_over(plan: Plan, state: State) -> Iterator[int]:
    """Pieces used once that nobody took care of (rule 13)."""
    begun = {layer.start for layer in plan.layers}
    for number, piece in enumerate(plan.pieces):
        used, retired = state.used >> number & 1, state.retired >> number & 1
        ready_for_the_next = number in state.layers and number not in begun
        if piece.single_use and used and not retired and not ready_for_the_next:
            yield number


# --- 3. Soil --------------------------------------------------------------------------------------

# The states of a token at a spot, in the order of their fields: what comes with a contact is
# caked, so its full and trace fields are those of the caked half.
CAKED_FULL, CAKED_TRACE, RINSED_FULL, RINSED_TRACE = range(4)

# Whose soil a token is, in the order of the bits within a field.
OWN, OWN_NEXT, EARLIER, EARLIER_NEXT, EVERYDAY, DIRT, CHEMICAL = range(7)
_WHOSE = {
    Origin.PATIENT: OWN,
    Origin.NEXT: OWN_NEXT,
    Origin.EVERYDAY: EVERYDAY,
    Origin.DIRT: DIRT,
    Origin.CHEMICAL: CHEMICAL,
}
_ORIGIN = (
    Origin.PATIENT,
    Origin.NEXT,
    Origin.PATIENT,
    Origin.NEXT,
    Origin.EVERYDAY,
    Origin.DIRT,
    Origin.CHEMICAL,
)


class _Soil:
    """Soil as one whole number: for each spot four fields (the states), each a bit for a token.

    A token is (whose, class). Soil of earlier patients is one kind of token: rule 11 does not
    ask which of them it is of. ``everything[spot]``: the bits of all tokens there.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.classes = len(plan.classes)
        self.width = len(_ORIGIN) * self.classes
        self.field = (1 << self.width) - 1
        self.arrivals = (1 << 2 * self.width) - 1
        self.all = (1 << 4 * self.width) - 1
        self.shift = [4 * self.width * spot for spot in range(len(plan.spots))]
        self.sources = 0
        self.lasting = 0
        for source in plan.sources:
            state = CAKED_FULL if source.amount is Amount.FULL else CAKED_TRACE
            soil = self._whose(_WHOSE[source.origin]) << self.shift[source.spot]
            soil <<= state * self.width
            self.sources |= soil
            if source.lasting:
                self.lasting |= soil
        self.own_everywhere = 0
        for shift in self.shift:
            for state in range(4):
                own = self._whose(OWN) | self._whose(OWN_NEXT)
                self.own_everywhere |= own << shift + state * self.width
        self.any_moment = [self._rules(spot.reach, Moment.ANY) for spot in plan.spots]
        self.at_end = [
            (spot, who, wanted)
            for spot, record in enumerate(plan.spots)
            for who, wanted, _ in self._rules(record.reach, Moment.END)
        ]
        self._ended: dict[tuple[int, int, int], int] = {}

    def _whose(self, whose: int) -> int:
        """A field with the tokens of every class of this soil."""
        return ((1 << self.classes) - 1) << whose * self.classes

    def _rules(self, rules: tuple[Reach, ...], moment: Moment) -> list[tuple[Reached, int, bool]]:
        """Rules of a spot with the tokens they are about, in a full and a trace field, and whether
        what comes through a tear counts (rule 11)."""
        found = []
        for rule in rules:
            if rule.moment is not moment:
                continue
            tokens = 0
            if Origin.PATIENT in rule.origins:
                tokens |= rule.own * self._whose(OWN) | rule.later * self._whose(EARLIER)
            if Origin.NEXT in rule.origins:
                tokens |= rule.own * self._whose(OWN_NEXT)
                tokens |= rule.later * self._whose(EARLIER_NEXT)
            if Origin.EVERYDAY in rule.origins:
                tokens |= self._whose(EVERYDAY)
            if Origin.DIRT in rule.origins:
                tokens |= self._whose(DIRT)
            if Origin.CHEMICAL in rule.origins:
                tokens |= self._whose(CHEMICAL)
            full = tokens if Amount.FULL in rule.amounts else 0
            trace = tokens if Amount.TRACE in rule.amounts else 0
            found.append((rule.who, full | trace << self.width, rule.through_tears))
        return found

    def full_and_trace(self, soil: int, spot: int) -> int:
        """The tokens at a spot in two fields, full and trace, be they caked or rinsed."""
        here = soil >> self.shift[spot]
        return (here | here >> 2 * self.width) & self.arrivals

    def in_one_field(self, two: int) -> int:
        """The tokens of a full and a trace field together."""
        return (two | two >> self.width) & self.field

    def ended(self, spot: int, level: int, world: int) -> int:
        """The bits that a treatment of the level ends at a spot (rule 8)."""
        key = (spot, level, world)
        if key not in self._ended:
            how: Level = self.plan.levels[level]
            floors = self.plan.spots[spot].floors
            floor = [rank for worlds, rank in floors if worlds >> world & 1]
            ends_every_class = bool(floor) and how.rank >= floor[0]
            classes = _bits(
                number
                for number, name in enumerate(self.plan.classes)
                if ends_every_class or name in how.ends
            )
            tokens = 0
            for whose in (OWN, OWN_NEXT, EARLIER, EARLIER_NEXT, EVERYDAY, DIRT):
                tokens |= classes << whose * self.classes
            if how.acts is Acts.CHEMICALS:
                tokens = 0
            if how.acts in (Acts.CHEMICALS, Acts.ALL):
                tokens |= self._whose(CHEMICAL)
            states = {
                Acts.RINSED: (RINSED_FULL, RINSED_TRACE),
                Acts.TRACES: (CAKED_TRACE, RINSED_TRACE),
                Acts.ALL: (CAKED_FULL, CAKED_TRACE, RINSED_FULL, RINSED_TRACE),
                Acts.CHEMICALS: (CAKED_FULL, CAKED_TRACE, RINSED_FULL, RINSED_TRACE),
            }[how.acts]
            bits = 0
            for state in states:
                bits |= tokens << self.shift[spot] + state * self.width
            self._ended[key] = bits
        return self._ended[key]

    def foreign(self, judge: Judge) -> int:
        """The tokens that a judgement calls foreign (rule 11)."""
        tokens = self._whose(EARLIER) | self._whose(EARLIER_NEXT)
        if judge.own or judge.of is Origin.NEXT:
            tokens |= self._whose(OWN)
        if judge.own or judge.of is Origin.PATIENT:
            tokens |= self._whose(OWN_NEXT)
        if judge.world:
            tokens |= self._whose(EVERYDAY) | self._whose(DIRT) | self._whose(CHEMICAL)
        return tokens

    def move(self, soil: int, move: Move, world: int, hits: dict[_Whom, int]) -> int:
        """Soil after the move; the tokens that reach somebody are added to ``hits``."""
        match move:
            case Contact():
                soil = self._contact(soil, move, hits)
            case Washed(spots):
                for spot in spots:
                    caked = soil & self.arrivals << self.shift[spot]
                    soil = soil & ~caked | caked << 2 * self.width
            case Treated(spots, level):
                for spot in spots:
                    soil &= ~self.ended(spot, level, world)
            case Dropped(spots):
                for spot in spots:
                    soil &= ~(self.all << self.shift[spot])
            case Judged(judge, spots):
                for spot in spots:
                    here = self.in_one_field(self.full_and_trace(soil, spot))
                    found = here & self.foreign(judge)
                    if found:
                        whom = (Reached.CLAIM, judge.claim, spot)
                        hits[whom] = hits.get(whom, 0) | found
        return soil | self.lasting

    def _contact(self, soil: int, contact: Contact, hits: dict[_Whom, int]) -> int:
        arriving = past_tears = 0
        for source, goal, only_trace, torn in contact.passages:
            comes = self.full_and_trace(soil, source)
            if only_trace:
                comes = self.in_one_field(comes) << self.width
            arriving |= comes << self.shift[goal]
            if not torn:
                past_tears |= comes << self.shift[goal]
        for goal in contact.goals:
            for who, wanted, tears_too in self.any_moment[goal]:
                counted = arriving if tears_too else past_tears
                found = self.in_one_field(counted >> self.shift[goal] & wanted)
                if found:
                    whom = (who, -1, goal)
                    hits[whom] = hits.get(whom, 0) | found
        return soil | arriving

    def look_at_the_end(self, soil: int, hits: dict[_Whom, int]) -> None:
        """The rules that look when the last act begins (rule 11)."""
        for spot, who, wanted in self.at_end:
            found = self.in_one_field(self.full_and_trace(soil, spot) & wanted)
            if found:
                whom = (who, -1, spot)
                hits[whom] = hits.get(whom, 0) | found

    def next_visit(self, soil: int, state: State) -> int:
        """Soil when the next visit starts (rule 12)."""
        own = soil & self.own_everywhere
        soil = soil & ~own | own << 2 * self.classes
        start = self.sources
        for spot, record in enumerate(self.plan.spots):
            if record.lasting:
                start |= soil & self.all << self.shift[spot]
        for number, layer in enumerate(self.plan.layers):
            if state.layers[number] != NOTHING:
                ends = self.plan.pieces[state.layers[number]].spots
                starts = self.plan.pieces[layer.start].spots
                for here, there in zip(ends, starts, strict=True):
                    start |= (soil >> self.shift[here] & self.all) << self.shift[there]
        return start

    def of_earlier(self, soil: int) -> Iterator[tuple[int, Amount]]:
        """Where soil of earlier patients is, in which amounts."""
        earlier = self._whose(EARLIER) | self._whose(EARLIER_NEXT)
        for spot in range(len(self.plan.spots)):
            two = self.full_and_trace(soil, spot)
            if two & earlier:
                yield spot, Amount.FULL
            if two >> self.width & earlier:
                yield spot, Amount.TRACE

    def token(self, bit: int) -> tuple[Origin, str, bool]:
        """A token's origin, class, and whether it is not of an earlier patient."""
        whose, number = divmod(bit, self.classes)
        earlier = whose in (EARLIER, EARLIER_NEXT)
        return _ORIGIN[whose], self.plan.classes[number], not earlier


#: (who, claim or -1, spot)
_Whom = tuple[Reached, int, int]


# --- 4. Visits ------------------------------------------------------------------------------------


def _hits(
    plan: Plan, runs: list[_Runs], left_out: set[int], visits: int | None
) -> tuple[frozenset[Hit], frozenset[tuple[int, Amount]]]:
    """What reaches whom in the histories of each part of the clinic (rules 11 and 12), and where
    soil of earlier patients is when a visit begins."""
    soil = _Soil(plan)
    hits: set[Hit] = set()
    carried: set[tuple[int, Amount]] = set()
    for part, worlds in enumerate(plan.clinic):
        found: dict[int, dict[_Whom, int]] = {act: {} for act in range(len(plan.acts))}
        judged = [
            _World(soil, world, runs[world], found)
            for world in range(plan.worlds)
            if worlds >> world & 1 and world not in left_out
        ]
        # Every soil that a visit can start with; what an earlier visit started with is not new.
        seen = {soil.sources}
        starts = {soil.sources}
        visit = 0
        while starts and (visits is None or visit < visits):
            visit += 1
            starts = {left for world in judged for left in world.visit(starts)} - seen
            seen |= starts
        carried.update(one for start in seen for one in soil.of_earlier(start))
        for act, whom in found.items():
            for (who, claim, spot), tokens in whom.items():
                for bit in range(soil.width):
                    if tokens >> bit & 1:
                        hits.add((part, who, claim, spot, *soil.token(bit), act))
    return frozenset(hits), frozenset(carried)


@dataclass(slots=True)
class _World:
    """The visits of one world. ``found``: for each act, the tokens that reach somebody in it."""

    soil: _Soil
    world: int
    runs: _Runs
    found: dict[int, dict[_Whom, int]]
    #: What an act's moves make of a soil, so that it is worked out only once.
    known: dict[tuple[int, tuple[Move, ...]], dict[int, int]] = field(default_factory=dict)

    def visit(self, starts: set[int]) -> set[int]:
        """Every run from every soil in ``starts``: the soils that the next visit can find."""
        runs, soil = self.runs, self.soil
        last_act = len(soil.plan.acts) - 1
        at: list[set[int]] = [set() for _ in runs.nodes]
        at[0] = set(starts)
        for number, node in enumerate(runs.nodes):
            for act, moves, after in node.ways:
                if act == last_act:
                    for here in at[number]:
                        soil.look_at_the_end(here, self.found[act])
                if not moves:
                    at[after] |= at[number]
                    continue
                known = self.known.setdefault((act, moves), {})
                for here in at[number]:
                    there = known.get(here)
                    if there is None:
                        there = known[here] = self.course(act, moves, here)
                    at[after].add(there)
        if runs.not_ready:
            return set()
        return {
            soil.next_visit(here, runs.nodes[end].state) for end in runs.ends for here in at[end]
        }

    def course(self, act: int, moves: tuple[Move, ...], here: int) -> int:
        """Soil after all moves of an act."""
        for move in moves:
            here = self.soil.move(here, move, self.world, self.found[act])
        return here
