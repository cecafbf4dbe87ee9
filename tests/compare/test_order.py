"""What comes before what, and what can come between, against every permitted order.

Oracle: all topological sorts of the plan's order lines that split nothing that is done in one go,
written down one after the other (``tests.order.brute``). It knows nothing of closing an order, of
blocks that force each other, or of what was asked before.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, count, permutations

import pytest

from protocol_lang.compare.editions import Given, compare
from protocol_lang.compare.order import Orders, unlike_order
from protocol_lang.comparison import Comparison, Relation
from protocol_lang.contamination.judge import judge
from protocol_lang.contamination.unfold import Unfolded, unfold
from protocol_lang.findings import Unchecked
from protocol_lang.language.load import load
from protocol_lang.model.conditions import ChoiceIs
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.model.steps import (
    AnyOrder,
    InOneGo,
    InOrder,
    Item,
    Phase,
    SideBySide,
    Step,
    Waiting,
    Where,
)
from protocol_lang.order.network import before_from_pairs
from protocol_lang.order.question import Block, Network
from protocol_lang.outcome import FileOutcome
from protocol_lang.text import Place
from tests.compare.kit import ROOM, WIRED
from tests.order.brute import orders

PEOPLE = ("operator", "helper")
HERE = Place("here", 1, 1, 2)
CHOICE = Choice("how", ("one", "other"), False, HERE)


@pytest.fixture(scope="module")
def empty() -> Protocol:
    """The shipped protocol without its steps."""
    protocol = load(ROOM / f"{WIRED}.protocol").protocol
    assert protocol is not None
    return replace(protocol, phases=(), choices=(CHOICE,), leaves=())


def _label(name: str) -> str:
    return name.replace(" ", "-")


def _checklist(dice: random.Random, names: list[str]) -> tuple[Item, ...]:
    """A random checklist of these steps, each by some person, each on a line of its own."""
    lines = count(1)
    labelled = sorted(names)[::2]  # the others are known again by their sentences

    def step(name: str) -> Step:
        place = Place("here", next(lines), 1, 2)
        waits = Waiting(name.split()[0], 1, None)
        label = _label(name) if name in labelled else None
        other = _label(dice.choice(names))
        known = other != label and other in map(_label, labelled)
        after = ((other, HERE),) if known and dice.random() < 0.3 else ()
        return Step(label, name, None, waits, (), (), after, (), (), place)

    def items(left: list[str], deep: int) -> tuple[Item, ...]:
        made: list[Item] = []
        while left:
            if deep == 0 or dice.random() < 0.4:
                made.append(step(left.pop(0)))
                continue
            taken = [left.pop(0) for _ in range(min(len(left), dice.randint(1, 4)))]
            inner = items(taken, deep - 1)
            match dice.randrange(6):
                case 0:
                    made.append(InOrder(inner, HERE))
                case 1:
                    made.append(AnyOrder(inner, False, HERE))
                case 2:
                    made.append(AnyOrder(inner, True, HERE))
                case 3:
                    made.append(InOneGo(inner, HERE))
                case 4:
                    half = len(inner) // 2
                    lanes = ((PEOPLE[0], inner[:half]), (PEOPLE[1], inner[half:]))
                    made.append(SideBySide(lanes, HERE))
                case _:
                    half = len(inner) // 2
                    asked = ChoiceIs("how", "one", HERE)
                    made.append(Where(((asked, inner[:half]), (None, inner[half:])), HERE))
        return tuple(made)

    return items(list(names), 3)


def _given(empty: Protocol, dice: random.Random, names: list[str]) -> Given | None:
    """A checklist with its judgement; None if no order is permitted or it cannot be unfolded."""
    return _judged(empty, _checklist(dice, names))


def _judged(empty: Protocol, items: tuple[Item, ...]) -> Given | None:
    phase = Phase("Visit", None, (), items, HERE)
    protocol = replace(empty, phases=(phase,))
    unfolded = unfold(protocol)
    if not isinstance(unfolded, Unfolded):
        return None
    judgement = judge(unfolded.plan)
    if judgement.layout is None or judgement.no_run:
        return None
    outcome = FileOutcome("here", unchecked=(Unchecked("next-visits", {"why": "a trial"}),))
    return Given(outcome, protocol, unfolded, judgement)


def _permitted(unfolded: Unfolded) -> list[tuple[int, ...]]:
    """Every permitted order of the acts, by the plan alone."""
    plan = unfolded.plan
    network = Network(
        len(plan.acts),
        before_from_pairs(len(plan.acts), plan.order),
        tuple(Block(one.members, one.others) for one in plan.together),
        plan.worlds,
        tuple(act.worlds for act in plan.acts),
    )
    return orders(network)


def _acts(unfolded: Unfolded) -> dict[str, list[int]]:
    return {
        step.text: [act for act in acts if unfolded.plan.acts[act].worlds]
        for step, acts in zip(unfolded.steps, unfolded.acts_of, strict=True)
    }


def _relation(unfolded: Unfolded, every: Sequence[tuple[int, ...]], one: str, other: str) -> str:
    acts = _acts(unfolded)
    worlds = [act.worlds for act in unfolded.plan.acts]
    pairs = [(a, b) for a in acts[one] for b in acts[other] if worlds[a] & worlds[b]]
    if not pairs:
        return Relation.APART.value
    seen = {order.index(a) < order.index(b) for order in every for a, b in pairs}
    if seen == {True}:
        return Relation.BEFORE.value
    return Relation.AFTER.value if seen == {False} else Relation.OPEN.value


def _names(dice: random.Random) -> list[str]:
    return [f"{dice.choice(PEOPLE)} step {number}" for number in range(dice.randint(3, 6))]


@pytest.mark.parametrize("seed", range(150))
def test_relations_are_those_of_every_permitted_order(empty: Protocol, seed: int):
    dice = random.Random(seed)
    names = _names(dice)
    given = _given(empty, dice, names)
    if given is None:
        return
    assert given.unfolded is not None and given.judgement is not None
    assert given.judgement.layout is not None
    every = _permitted(given.unfolded)
    assert every
    places = {step.text: step.place for step in given.unfolded.steps}
    asked = Orders(given.unfolded, given.judgement.layout, list(places.values()))
    for one, other in permutations(names, 2):
        found = asked.relation(places[one], places[other]).value
        assert found == _relation(given.unfolded, every, one, other), (one, other)
    worlds = [act.worlds for act in given.unfolded.plan.acts]
    acts = _acts(given.unfolded)
    for first, middle, last in permutations(names, 3):
        can = any(
            order.index(a) < order.index(b) < order.index(c)
            for a in acts[first]
            for b in acts[middle]
            for c in acts[last]
            if worlds[a] & worlds[b] and worlds[b] & worlds[c] and worlds[a] & worlds[c]
            for order in every
        )
        assert asked.between(places[first], places[middle], places[last]) is can
    assert not asked.undecided
    network = given.judgement.layout.network
    unlike = unlike_order(network, tuple(range(network.events)))
    if unlike is not None:
        assert tuple(act for act in unlike if act < len(worlds)) in set(every)


def _moved(found: Comparison) -> dict[frozenset[str], dict[str, tuple[str, str]]]:
    """Each changed pair once, with both relations as seen from the step that is named."""
    told: dict[frozenset[str], dict[str, tuple[str, str]]] = {}
    for one in found.moved:
        for to in one.to:
            pair = frozenset({one.step.was.text, to.other.was.text})
            assert pair not in told, "told twice"
            told[pair] = {one.step.was.text: (to.was.value, to.is_now.value)}
    return told


@pytest.mark.parametrize("seed", range(150))
def test_moved_is_what_some_permitted_order_shows(empty: Protocol, seed: int):
    dice = random.Random(1_000 + seed)
    names = _names(dice)
    old = _given(empty, dice, names)
    shuffled = list(names)
    dice.shuffle(shuffled)
    new = _given(empty, dice, shuffled)
    if old is None or new is None:
        return
    found = compare(old, new)
    assert not found.added and not found.removed
    told = _moved(found)
    assert old.unfolded is not None and new.unfolded is not None
    before, after = _permitted(old.unfolded), _permitted(new.unfolded)
    for one, other in combinations(names, 2):
        was = _relation(old.unfolded, before, one, other)
        is_now = _relation(new.unfolded, after, one, other)
        pair = told.get(frozenset({one, other}))
        assert (pair is not None) is (was != is_now), (one, other, was, is_now)
        if pair is not None and one in pair:
            assert pair[one] == (was, is_now)
    covered = {step for pair in told for step in pair}
    assert not {one.was.text for one in found.moved_in_text} & covered


def test_what_only_all_orders_together_show(empty: Protocol):
    """Whichever of two lists comes first, the helper's first step comes before the last one: by
    hand, as p before a2 before b1 before q, or p before b2 before a1 before q. No line says so."""

    def step(line: int, person: str, label: str, *after: str) -> Step:
        waits = Waiting(person, 1, None)
        asked = tuple((one, HERE) for one in after)
        place = Place("here", line, 1, 2)
        return Step(label, f"{person} {label}", None, waits, (), (), asked, (), (), place)

    first = InOneGo((step(1, "operator", "a1"), step(2, "operator", "a2", "p")), HERE)
    second = InOneGo((step(3, "operator", "b1"), step(4, "operator", "b2", "p")), HERE)
    items = (first, second, step(5, "helper", "p"), step(6, "helper", "q", "a1", "b1"))
    given = _judged(empty, (AnyOrder(items, True, HERE),))
    assert given is not None and given.unfolded is not None
    assert given.judgement is not None and given.judgement.layout is not None
    places = {step.label: step.place for step in given.unfolded.steps}
    asked = Orders(given.unfolded, given.judgement.layout, list(places.values()))
    every = _permitted(given.unfolded)
    told = _relation(given.unfolded, every, "helper p", "helper q")
    assert asked.relation(places["p"], places["q"]).value == told
    acts = _acts(given.unfolded)
    p, q = acts["helper p"][0], acts["helper q"][0]
    assert told == "before" and not given.judgement.layout.network.before[q] >> p & 1


def test_the_trials_hold_what_they_are_about(empty: Protocol):
    """Among the seeds are steps done in one go, steps of worlds apart, and every relation."""
    relations: set[str] = set()
    grouped = 0
    for seed in range(150):
        dice = random.Random(seed)
        names = _names(dice)
        given = _given(empty, dice, names)
        if given is None:
            continue
        assert given.unfolded is not None
        grouped += bool(given.unfolded.plan.together)
        every = _permitted(given.unfolded)
        relations |= {_relation(given.unfolded, every, *two) for two in combinations(names, 2)}
    assert grouped > 20
    assert relations == {one.value for one in Relation}
