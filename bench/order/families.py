"""Seeded generators of plans for the benchmark: what clinics write, and what is hard on purpose.

Everything is built from a handful of acts: somebody's hand meets a thing, a thing is cleaned,
hands are cleaned, gloves come off, a mouth soils a hand. All are drawn from a seed; nothing is
recorded data.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from protocol_lang.order import (
    Block,
    Carry,
    Network,
    Question,
    Register,
    Way,
    before_from_pairs,
    close,
)

#: The position that a mark starts at, and the target that it must not hit.
MOUTH = 0
NEXT_PATIENT = 0


@dataclass(frozen=True, slots=True)
class Instance:
    """One question of a family. ``safe``: what is known of the answer by construction, or None."""

    family: str
    name: str
    network: Network
    question: Question
    safe: bool | None = None


@dataclass(slots=True)
class Plan:
    """Collects acts; :meth:`instance` asks whether the next patient meets what was in the mouth."""

    things: dict[str, int] = field(default_factory=lambda: {"mouth": MOUTH})
    acts: list[tuple[Way, ...]] = field(default_factory=list)
    pairs: list[tuple[int, int]] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    covers: dict[str, tuple[int, dict[int, int]]] = field(default_factory=dict)
    worlds: int = 1
    absent: dict[int, int] = field(default_factory=dict)

    def thing(self, name: str) -> int:
        """The position of a thing."""
        return self.things.setdefault(name, len(self.things))

    def act(self, moves: dict[int, tuple[int, ...]], after: int | None = None) -> int:
        """An act in every world and register state."""
        return self.ways((Way((), -1, moves),), after)

    def ways(self, ways: tuple[Way, ...], after: int | None = None) -> int:
        """An act with these ways; it comes after ``after``."""
        event = len(self.acts)
        self.acts.append(ways)
        if after is not None:
            self.pairs.append((after, event))
        return event

    def meet(self, *names: str, after: int | None = None) -> int:
        """One contact of all these things."""
        spots = tuple(sorted(self.thing(name) for name in names))
        return self.act(dict.fromkeys(spots, spots), after)

    def clean(self, name: str, after: int | None = None) -> int:
        """Whatever is on the thing is gone."""
        return self.act({self.thing(name): ()}, after)

    def reach(self, name: str, after: int | None = None) -> int:
        """The next patient meets the thing."""
        spot = self.thing(name)
        return self.ways((Way((), -1, {}, {spot: (NEXT_PATIENT,)}),), after)

    def exposure(self, touched: Sequence[str], after: int) -> int:
        """New gloves, the mouth, these things in any order, gloves off, hands cleaned."""
        at = self.clean("glove", after)
        at = self.meet("mouth", "glove", after=at)
        touches = [self.meet("glove", name, after=at) for name in touched]
        at = self.clean("glove")
        self.pairs += [(touch, at) for touch in touches]
        return self.clean("hand", after=at)

    def in_one_go(self, groups: list[list[int]]) -> None:
        """Each group together, as far as the acts of the other groups are concerned."""
        bits = [sum(1 << event for event in group) for group in groups]
        whole = sum(bits)
        self.blocks += [Block(mine, whole & ~mine) for mine in bits]

    # Things under covers: a register says which cover is on, 0 for none.

    def cover(self, name: str, number: int, after: int | None = None) -> int:
        """Cover a thing by its cover ``number``."""
        event = self.act({}, after)
        self._register(name)[event] = number
        return event

    def uncover(self, name: str, after: int | None = None) -> int:
        """Take the cover off; it is thrown away."""
        event = self.act({}, after)
        self._register(name)[event] = 0
        return event

    def _register(self, name: str) -> dict[int, int]:
        return self.covers.setdefault(name, (len(self.covers), {}))[1]

    def outermost(self, name: str, number: int) -> str:
        """What is touched when cover ``number`` is on."""
        return name if number == 0 else f"{name} under {number}"

    def touch(self, hand: str, name: str, numbers: int, after: int | None = None) -> int:
        """A hand meets whatever is outermost on a thing with covers 1 to ``numbers``."""
        self._register(name)
        register = self.covers[name][0]
        ways = []
        for number in range(numbers + 1):
            pair = (self.thing(hand), self.thing(self.outermost(name, number)))
            spots = tuple(sorted(pair))
            ways.append(Way(((register, number),), -1, dict.fromkeys(spots, spots)))
        return self.ways(tuple(ways), after)

    def wipe(self, name: str, numbers: int, after: int | None = None) -> int:
        """Clean whatever is outermost on a thing."""
        self._register(name)
        register = self.covers[name][0]
        return self.ways(
            tuple(
                Way(((register, number),), -1, {self.thing(self.outermost(name, number)): ()})
                for number in range(numbers + 1)
            ),
            after,
        )

    def network(self) -> Network | None:
        """The closed network; None if the pairs contradict each other."""
        events = len(self.acts)
        ranked = sorted(self.covers.values())
        registers = tuple(Register(0, writes) for _, writes in ranked)
        every = (1 << self.worlds) - 1
        closed = close(
            Network(
                events,
                before_from_pairs(events, self.pairs),
                tuple(self.blocks),
                self.worlds,
                tuple(every & ~self.absent.get(event, 0) for event in range(events)),
                registers,
            )
        )
        return closed if isinstance(closed, Network) else None

    def instance(self, family: str, name: str, safe: bool | None = None) -> Instance:
        """The question "does the next patient meet what was in the mouth?" about this plan."""
        network = self.network()
        assert network is not None, "the families are free of contradictions"
        carry = Carry(len(self.things), tuple(self.acts))
        asked = Question(
            (1 << self.worlds) - 1,
            carry=carry,
            starts=frozenset({MOUTH}),
            targets=frozenset({NEXT_PATIENT}),
        )
        return Instance(family, name, network, asked, safe)


def any_order(parts: int, seed: int = 0) -> Instance:
    """An any-order list of touches and wipes, each sub-list in one go; a second person beside it.

    4 acts each: the operator, hands clean, presses the panel, reaches into the mouth, touches a
    surface of this part, wipes it and cleans the hands. Safe only because nobody's sub-list falls
    into another.
    """
    rng = random.Random(seed)
    plan = Plan()
    first = plan.clean("hand")
    groups = []
    ends = []
    for part in range(parts):
        a = plan.meet("hand", "panel", after=first)
        b = plan.meet("mouth", "hand", f"surface {part}", after=a)
        c = plan.clean(f"surface {part}", after=b)
        d = plan.clean("hand", after=c)
        groups.append([a, b, c, d])
        ends.append(d)
    plan.in_one_go(groups)
    helper = plan.meet("helper", "panel")
    helper = plan.meet("helper", "shelf", after=helper)
    for _ in range(3):
        helper = plan.meet("helper", rng.choice(["shelf", "panel", "door"]), after=helper)
    last = plan.meet("hand", "door")
    plan.pairs += [(end, last) for end in [*ends, helper]]
    after = last
    for name in ("panel", "surface 0", "shelf"):
        after = plan.reach(name, after=after)
    return plan.instance("any order", f"{parts} parts", True)


def two_people(surfaces: int, seed: int = 0) -> Instance:
    """Surfaces touched with a soiled hand, then wiped, in any order; then a helper uses them."""
    rng = random.Random(seed)
    plan = Plan()
    soil = plan.meet("mouth", "glove", after=plan.clean("glove"))
    off = plan.clean("glove")
    ends = []
    for number in range(surfaces):
        name = f"surface {number}"
        touched = plan.meet("glove", name, after=soil)
        plan.pairs.append((touched, off))
        wiped = plan.clean(name, after=touched)
        used = plan.meet("helper", name, after=wiped)
        ends.append(plan.meet("helper", rng.choice(["shelf", "door", "chair"]), after=used))
    after = plan.clean("helper")
    plan.pairs += [(end, after) for end in ends]
    for name in ("shelf", "door", "chair", "surface 0", "helper"):
        after = plan.reach(name, after=after)
    return plan.instance("two people", f"{surfaces} surfaces", True)


def exposures(count: int) -> Instance:
    """The operator types first; then exposures on a bare machine, gloves changed each time.

    A helper parks something (panel, then shelf) at no fixed time. Safe: what the helper brings to
    the shelf comes too late for the keyboard. A relaxation without forced orders does not see
    that.
    """
    plan = Plan()
    at = plan.meet("hand", "shelf")
    at = plan.meet("hand", "keyboard", after=at)
    for _ in range(count):
        at = plan.exposure(("head", "cone", "panel"), after=at)
        at = plan.meet("hand", "holder", after=at)
        at = plan.clean("hand", after=at)
    parked = plan.meet("helper", "panel")
    plan.meet("helper", "shelf", after=parked)
    plan.reach("keyboard", after=at)
    return plan.instance("exposures", f"{count}", True)


def floating(seed: int) -> Instance:
    """A visit of 6 to 20 exposures, a bare machine, and three helpers free to act at any time."""
    rng = random.Random(seed)
    plan = Plan()
    parts = ["head", "cone", "panel", "arm"]
    shelves = ["shelf", "drawer", "keyboard", "door"]
    at = plan.meet("hand", "shelf")
    at = plan.meet("hand", "keyboard", after=at)
    for _ in range(rng.randint(6, 20)):
        at = plan.exposure(rng.sample(parts, 3), after=at)
        if rng.random() < 0.5:
            wiped = [plan.clean(part, after=at) for part in parts]
            at = plan.clean("hand")
            plan.pairs += [(wipe, at) for wipe in wiped]
        at = plan.meet("hand", rng.choice(["holder", *shelves[1:]]), after=at)
        at = plan.clean("hand", after=at)
    for number in range(3):
        name = f"helper {number}"
        before = plan.clean(name)
        for _ in range(rng.randint(2, 6)):
            thing = rng.choice(parts + shelves)
            if rng.random() < 0.3:
                before = plan.clean(rng.choice([name, thing]), after=before)
            else:
                before = plan.meet(name, thing, after=before)
    turnover = [plan.clean(part, after=at) for part in [*parts, "glove"]]
    at = plan.clean("hand")
    plan.pairs += [(wipe, at) for wipe in turnover]
    if rng.random() < 0.5:
        # The turnover waits for everybody: the visits that are meant to be safe.
        free = set(range(len(plan.acts))) - {a for a, _ in plan.pairs} - {at}
        plan.pairs += [(event, wipe) for event in sorted(free) for wipe in turnover]
    plan.reach(rng.choice([*parts, "keyboard"]), after=at)
    return plan.instance("floating lanes", f"seed {seed}")


def dense(events: int, seed: int, covers: int = 3) -> Instance:
    """A random order, dense in reductions and covers: nobody's plan, made to be hard."""
    rng = random.Random(seed * 1000 + events)
    plan = Plan()
    things = [f"thing {n}" for n in range(rng.randint(6, 12))]
    covered = things[: rng.randint(2, 5)]
    hands = ["hand 0", "hand 1", "hand 2"][: rng.randint(2, 3)]
    lanes: dict[str, int] = {}
    windows: dict[str, int] = dict.fromkeys(covered, 0)
    clean_rate = rng.uniform(0.3, 0.65)
    link_rate = rng.uniform(0.02, 0.15)
    while len(plan.acts) < events - 1:
        hand = rng.choice(hands)
        after = lanes.get(hand)
        dice = rng.random()
        if dice < 0.05:
            event = plan.meet("mouth", hand, after=after)
        elif dice < 0.17 and len(plan.acts) < events - 4:
            name = rng.choice(covered)
            if windows[name] < covers:
                windows[name] += 1
                event = plan.cover(name, windows[name], after=after)
                lanes[hand] = event
                event = plan.touch(hand, name, covers, after=event)
                event = plan.uncover(name, after=event)
            else:
                event = plan.wipe(name, covers, after=after)
        elif dice < 0.17 + clean_rate:
            name = rng.choice([*things, hand])
            event = (
                plan.wipe(name, covers, after=after)
                if name in covered
                else plan.clean(name, after=after)
            )
        else:
            name = rng.choice(things)
            event = (
                plan.touch(hand, name, covers, after=after)
                if name in covered
                else plan.meet(hand, name, after=after)
            )
        if rng.random() < link_rate and event:
            plan.pairs.append((rng.randrange(event), event))
        lanes[hand] = event
    plan.reach(
        rng.choice(things), after=None if rng.random() < 0.3 else rng.choice(list(lanes.values()))
    )
    return plan.instance("random", f"{events} events, seed {seed}")


#: A formula in conjunctive form: clauses of literals, +v or -v for variables from 1 on.
Formula = list[tuple[int, ...]]


def random_formula(variables: int, seed: int) -> Formula:
    """Three literals a clause, 4.26 clauses a variable: the hardest mixture (from memory)."""
    rng = random.Random(seed)
    return [
        tuple(v if rng.random() < 0.5 else -v for v in rng.sample(range(1, variables + 1), 3))
        for _ in range(round(4.26 * variables))
    ]


def satisfiability(variables: int, formula: Formula, name: str) -> Instance:
    """Satisfiability as a plan: the next patient is hit in some run exactly if there is a model.

    For each variable two writes of its register in free order, before all else: the later one
    counts. For each clause one act per literal, which hands the mark on if the literal holds.
    """
    plan = Plan()
    writes = []
    for variable in range(1, variables + 1):
        writes.append(plan.cover(f"variable {variable}", 1))
        writes.append(plan.cover(f"variable {variable}", 2))
    at: int | None = None
    for number, clause in enumerate(formula):
        source = plan.thing(f"clause {number}") if number else MOUTH
        goal = plan.thing(f"clause {number + 1}")
        for literal in clause:
            register = plan.covers[f"variable {abs(literal)}"][0]
            way = Way(((register, 1 if literal > 0 else 2),), -1, {source: (goal,)})
            event = plan.ways((way,), after=at)
            if at is None:
                plan.pairs += [(write, event) for write in writes]
            at = event
    plan.reach(f"clause {len(formula)}", after=at)
    return plan.instance("satisfiability", name)


def choices(options: int, seed: int) -> Instance:
    """A visit of ten exposures with so many binary options: 2 to that power worlds in one question.

    Each option leaves out some acts and puts others in their place; a helper is free to act at any
    time.
    """
    rng = random.Random(seed)
    plan = Plan(worlds=1 << options)
    chosen = [
        sum(1 << world for world in range(plan.worlds) if world >> option & 1)
        for option in range(options)
    ]
    every = (1 << plan.worlds) - 1

    def either(event: int, other: int, option: int) -> None:
        plan.absent[event] = every & ~chosen[option]
        plan.absent[other] = chosen[option]

    parts = ["head", "cone", "panel", "arm"]
    at = plan.meet("hand", "shelf")
    at = plan.meet("hand", "keyboard", after=at)
    for exposure in range(10):
        at = plan.exposure(rng.sample(parts, 3), after=at)
        for option in range(exposure, options, 10):
            one = plan.meet("hand", rng.choice([*parts, "holder"]), after=at)
            two = plan.clean(rng.choice(parts), after=at)
            either(one, two, option)
            at = plan.clean("hand", after=one)
            plan.pairs.append((two, at))
            if rng.random() < 0.3:
                plan.absent[at] = chosen[(option + 1) % options]
    helper = plan.clean("helper")
    for name in rng.sample(["shelf", "drawer", *parts], 4):
        helper = plan.meet("helper", name, after=helper)
        plan.absent[helper] = chosen[rng.randrange(options)]
    turnover = [plan.clean(part, after=at) for part in [*parts, "glove"]]
    for number, event in enumerate(turnover):
        if rng.random() < 0.3:
            plan.absent[event] = chosen[number % options]
    at = plan.clean("hand")
    plan.pairs += [(wipe, at) for wipe in [*turnover, helper]]
    plan.reach(rng.choice([*parts, "keyboard", "drawer"]), after=at)
    return plan.instance("choices", f"{options} options, seed {seed}")
