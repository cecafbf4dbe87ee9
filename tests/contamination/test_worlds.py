"""Worlds of a protocol against every combination of its choices, one by one."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from protocol_lang.contamination.unfold import worlds as module
from protocol_lang.contamination.unfold.worlds import MOST_COMBINATIONS, Worlds, worlds_of
from protocol_lang.language.load import load
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere, NotWhere
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.model.steps import AnyOrder, InOrder, Item, Phase, Where
from protocol_lang.text import Place

AT = Place("a.protocol", 1, 1, 2)
SHIPPED = Path(__file__).parents[2] / "protocols/imaging-room-2/intraoral-wired-sensor.protocol"


@pytest.fixture(scope="module")
def empty() -> Protocol:
    """A protocol in which nothing depends on a choice."""
    protocol = load(SHIPPED).protocol
    assert protocol is not None
    return replace(protocol, floors=(), choices=(), phases=())


def _with(protocol: Protocol, choices: Iterable[Choice], items: tuple[Item, ...]) -> Protocol:
    phase = Phase("One", None, (), items, AT)
    return replace(protocol, choices=tuple(choices), phases=(phase,))


def _condition(chance: random.Random, choices: list[Choice], deep: int = 2) -> Condition:
    kind = chance.choice(["is", "is", "not", "every", "any"]) if deep else "is"
    if kind == "is":
        choice = chance.choice(choices)
        return ChoiceIs(choice.name, chance.choice(choice.values), AT)
    if kind == "not":
        return NotWhere(_condition(chance, choices, deep - 1))
    parts = tuple(_condition(chance, choices, deep - 1) for _ in range(2))
    return EveryWhere(parts) if kind == "every" else AnyWhere(parts)


def _items(chance: random.Random, choices: list[Choice], deep: int) -> tuple[Item, ...]:
    made: list[Item] = []
    for _ in range(chance.randint(0, 2)):
        inner = _items(chance, choices, deep - 1) if deep else ()
        kind = chance.choice(["where", "where", "list", "any"])
        if kind == "where":
            other = _items(chance, choices, deep - 1) if deep else ()
            last = chance.choice([None, _condition(chance, choices)])
            made.append(Where(((_condition(chance, choices), inner), (last, other)), AT))
        else:
            made.append(InOrder(inner, AT) if kind == "list" else AnyOrder(inner, False, AT))
    return tuple(made)


def _so(condition: Condition, values: Mapping[str, str]) -> bool:
    match condition:
        case ChoiceIs(choice, value):
            return values[choice] == value
        case NotWhere(part):
            return not _so(part, values)
        case EveryWhere(parts):
            return all(_so(part, values) for part in parts)
        case AnyWhere(parts):
            return any(_so(part, values) for part in parts)
        case _:
            raise AssertionError("nothing here asks for the state")


def _taken(items: Iterable[Item], values: Mapping[str, str]) -> list[tuple[int, int]]:
    """By the rule as the reference states it: the first branch whose condition holds."""
    found: list[tuple[int, int]] = []
    for item in items:
        if isinstance(item, Where):
            for number, (condition, inner) in enumerate(item.branches):
                if condition is None or _so(condition, values):
                    found += [(id(item), number), *_taken(inner, values)]
                    break
            else:
                found.append((id(item), -1))
        elif isinstance(item, InOrder | AnyOrder):
            found += _taken(item.items, values)
    return found


def _agrees(known: Mapping[str, str], values: Mapping[str, str]) -> bool:
    return all(values[name] == value for name, value in known.items())


def _world_of(worlds: Worlds, values: Mapping[str, str]) -> list[int]:
    return [
        number
        for number, known in enumerate(worlds.examples)
        if any(_agrees(one, values) for one in known)
    ]


@pytest.mark.parametrize("seed", range(300))
def test_every_combination_belongs_to_the_worlds_that_do_what_it_does(
    seed: int, empty: Protocol
) -> None:
    chance = random.Random(seed)
    choices = [
        Choice(f"c{n}", tuple(f"v{k}" for k in range(chance.randint(1, 3))), n < 2, AT)
        for n in range(5)
    ]
    items = _items(chance, choices, 2)
    worlds = worlds_of(_with(empty, choices, items))
    assert worlds is not None
    doing: defaultdict[int, set[object]] = defaultdict(set)
    counted: defaultdict[int, int] = defaultdict(int)
    settings: defaultdict[tuple[str, ...], set[object]] = defaultdict(set)
    for row in product(*(choice.values for choice in choices)):
        values = dict(zip((choice.name for choice in choices), row, strict=True))
        taken = tuple(_taken(items, values))
        settings[row[:2]].add(taken)
        (world,) = _world_of(worlds, values)
        doing[world].add(taken)
        counted[world] += 1
    assert all(len(done) == 1 for done in doing.values()), "a world does one thing"
    assert set(doing) == set(range(len(worlds.examples))), "every world comes about"
    for world, number in counted.items():
        assert worlds.standing_for(world) == number
    assert sum(counted.values()) == worlds.combinations
    # The settings of the clinic that lead to the same behaviours are one part, and no others.
    parts = {frozenset(done) for done in settings.values()}
    found = {
        frozenset(next(iter(doing[w])) for w in range(len(worlds.examples)) if part >> w & 1)
        for part in worlds.clinic
    }
    assert found == parts
    assert len(worlds.clinic) == len(parts)


@pytest.mark.parametrize("seed", range(200))
def test_settings_come_to_the_same_together_and_one_by_one(
    seed: int, empty: Protocol, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(50_000 + seed)
    choices = [
        Choice(f"c{n}", tuple(f"v{k}" for k in range(2)), chance.random() < 0.6, AT)
        for n in range(5)
    ]
    protocol = _with(empty, choices, _items(chance, choices, 2))
    found = []
    for together in (0, 32):
        monkeypatch.setattr(module, "MOST_TOGETHER", together)
        found.append(worlds_of(protocol))
    one_by_one, at_once = found
    assert one_by_one is not None
    assert at_once == one_by_one
    told = [[list(known) for row in worlds.examples for known in row] for worlds in found if worlds]
    assert told[0] == told[1], "what is known, in the same order"


def test_choices_in_branches_that_exclude_each_other_add_up(empty: Protocol) -> None:
    """Ten ways with four choices of two values each: 10 × 16 worlds, not 2 to the 40th."""
    way = Choice("way", tuple(f"w{n}" for n in range(10)), False, AT)
    inner = [[Choice(f"w{n} c{k}", ("yes", "no"), False, AT) for k in range(4)] for n in range(10)]
    items: tuple[Item, ...] = tuple(
        Where(
            (
                (
                    ChoiceIs("way", f"w{n}", AT),
                    tuple(Where(((ChoiceIs(c.name, "yes", AT), ()),), AT) for c in inner[n]),
                ),
            ),
            AT,
        )
        for n in range(10)
    )
    worlds = worlds_of(_with(empty, [way, *(c for row in inner for c in row)], items))
    assert worlds is not None
    assert len(worlds.examples) == 160
    assert worlds.combinations == 10 * 2**40
    assert sum(worlds.standing_for(world) for world in range(160)) == worlds.combinations


def test_too_many_behaviours_are_not_looked_at(empty: Protocol) -> None:
    choices = [Choice(f"c{n}", ("yes", "no"), False, AT) for n in range(16)]
    items: tuple[Item, ...] = tuple(
        Where(((ChoiceIs(choice.name, "yes", AT), ()),), AT) for choice in choices
    )
    assert worlds_of(_with(empty, choices[:15], items[:15])) is not None
    assert MOST_COMBINATIONS == 2**15
    assert worlds_of(_with(empty, choices, items)) is None
