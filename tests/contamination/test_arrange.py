"""From a checklist to the orders it permits, against the plain meaning of its blocks.

Oracle: two steps are ordered if the smallest block that holds both is a list (and then as written);
of a part done in one go, no step of the same person outside it falls between two of its own. Every
permutation of the steps is looked at.
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations, permutations
from pathlib import Path

import pytest

from protocol_lang.contamination.kernel import WetEnd
from protocol_lang.contamination.unfold import Unfolded, unfold
from protocol_lang.language.load import load
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import (
    AnyOrder,
    InOneGo,
    InOrder,
    Item,
    Phase,
    SideBySide,
    Step,
    Waiting,
)
from protocol_lang.resources import folder
from protocol_lang.text import Place

HERE = Place("here", 1, 1, 2)
PEOPLE = ("operator", "helper")


@pytest.fixture(scope="module")
def empty() -> Protocol:
    """The shipped protocol without its steps."""
    protocol = load(
        folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"
    ).protocol
    assert protocol is not None
    return replace(protocol, phases=(), choices=(), leaves=())


def _step(name: str, person: str) -> Step:
    return Step(None, name, None, Waiting(person, 1, None), (), (), (), (), (), HERE)


class _Tree:
    """A random checklist of so many steps."""

    def __init__(self, dice: random.Random, steps: int) -> None:
        self.dice = dice
        self.left = steps
        self.made = 0

    def items(self, deep: int) -> tuple[Item, ...]:
        items: list[Item] = []
        while self.left and (not items or self.dice.random() < 0.7):
            items.append(self.item(deep))
        return tuple(items)

    def item(self, deep: int, person: str | None = None) -> Item:
        kind = self.dice.choice("sssoagmb") if deep and self.left > 1 else "s"
        if kind == "s" or person is not None:
            self.left -= 1
            self.made += 1
            return _step(f"step {self.made}", person or self.dice.choice(PEOPLE))
        if kind == "b":
            lanes = []
            for who in PEOPLE:
                count = min(self.left, self.dice.randint(1, 2))
                lanes.append((who, tuple(self.item(0, who) for _ in range(count))))
            return SideBySide(tuple(lane for lane in lanes if lane[1]), HERE)
        inner = self.items(deep - 1)
        if kind == "o":
            return InOrder(inner, HERE)
        if kind == "g":
            return InOneGo(inner, HERE)
        return AnyOrder(inner, kind == "m", HERE)


def _steps(item: Item) -> list[Step]:
    match item:
        case Step():
            return [item]
        case InOrder(items) | InOneGo(items) | AnyOrder(items):
            return [step for inner in items for step in _steps(inner)]
        case SideBySide(lanes):
            return [step for _, items in lanes for inner in items for step in _steps(inner)]
    raise AssertionError(item)


def _meaning(item: Item) -> tuple[set[tuple[str, str]], list[set[str]]]:
    """(pairs that are in order, parts done in one go), by the names of the steps."""
    pairs: set[tuple[str, str]] = set()
    parts: list[set[str]] = []

    def names(one: Item) -> set[str]:
        return {step.text for step in _steps(one)}

    def in_order(items: tuple[Item, ...]) -> None:
        for first, second in combinations(items, 2):
            pairs.update((a, b) for a in names(first) for b in names(second))

    def look(one: Item) -> None:
        match one:
            case InOrder(items) | InOneGo(items):
                in_order(items)
                if isinstance(one, InOneGo):
                    parts.append(names(one))
            case AnyOrder(items, mixed):
                if not mixed:
                    parts.extend(names(inner) for inner in items if not isinstance(inner, Step))
            case SideBySide(lanes):
                for _, items in lanes:
                    in_order(items)
                items = tuple(inner for _, lane in lanes for inner in lane)
            case _:
                return
        for inner in items:
            look(inner)

    look(item)
    return pairs, parts


def _permitted(item: Item) -> set[tuple[str, ...]]:
    pairs, parts = _meaning(item)
    who = {step.text: step.does.actor for step in _steps(item) if isinstance(step.does, Waiting)}
    found = set()
    for order in permutations(who):
        at = {name: number for number, name in enumerate(order)}
        if any(at[a] > at[b] for a, b in pairs):
            continue
        if all(
            not any(
                min(spots) < at[other] < max(spots)
                for other in who
                if who[other] == person and other not in part
            )
            for part in parts
            for person in PEOPLE
            for spots in [[at[name] for name in part if who[name] == person]]
            if len(spots) > 1
        ):
            found.add(order)
    return found


def _of_plan(unfolded: Unfolded) -> set[tuple[str, ...]]:
    plan = unfolded.plan
    acts = [number for number, note in enumerate(unfolded.acts) if note.step is not None]
    found = set()
    for order in permutations(acts):
        at = {act: number for number, act in enumerate(order)}
        if any(a in at and b in at and at[a] > at[b] for a, b in plan.order):
            continue
        if all(
            not any(
                min(spots) < at[other] < max(spots) for other in acts if group.others >> other & 1
            )
            for group in plan.together
            for spots in [[at[act] for act in acts if group.members >> act & 1]]
            if len(spots) > 1
        ):
            found.add(tuple(unfolded.acts[act].text for act in order))
    return found


@pytest.mark.parametrize("seed", range(150))
def test_the_plan_permits_what_the_blocks_mean(seed: int, empty: Protocol):
    dice = random.Random(seed)
    item = InOrder(_Tree(dice, dice.randint(2, 6)).items(3), HERE)
    if not _steps(item):
        return
    protocol = replace(empty, phases=(Phase("All", None, (), item.items, HERE),))
    unfolded = unfold(protocol)
    assert isinstance(unfolded, Unfolded)
    assert _of_plan(unfolded) == _permitted(item)


# Wet times and waits


def _unfolded(tmp_path: Path, steps: str) -> Unfolded:
    path = tmp_path / "wet.protocol"
    path.write_text(
        'protocol "Wet"\n  edition 1\n  takes words from "Imaging room 2"\n\nphase "All"\n' + steps,
        "utf-8",
    )
    loaded = load(path)
    assert loaded.complete, loaded.findings
    assert loaded.protocol is not None
    unfolded = unfold(loaded.protocol)
    assert isinstance(unfolded, Unfolded)
    return unfolded


def _surely_dry_before(unfolded: Unfolded, text: str) -> bool:
    """Whether the one wet time has surely ended before the step of that text."""
    plan = unfolded.plan
    ends = [
        number
        for number, act in enumerate(plan.acts)
        if any(isinstance(effect, WetEnd) for effect in act.effects)
    ]
    step = next(n for n, note in enumerate(unfolded.acts) if note.text == text)
    reach = set(ends)
    grown = True
    while grown:
        more = {b for a, b in plan.order if a in reach} - reach
        reach |= more
        grown = bool(more)
    return step in reach


DISINFECT = "  [ ] operator cleans hands\n  [ ] operator disinfects chair arms with a new wipe\n"
LAST = "operator works at keyboard"


@pytest.mark.parametrize(
    ("between", "dry"),
    {
        "": False,
        "  [ ] operator waits 2 minutes\n": True,
        "  [ ] operator waits 1 minute\n": False,
        "  [ ] operator waits 1 minute\n  [ ] operator waits 1 minute\n": True,
        "  [ ] helper waits 3 minutes\n": True,
        "  [ ] operator waits until chair arms is dry\n": True,
        "  [ ] operator waits until used half is dry\n": False,
    }.items(),
)
def test_what_a_wait_waits_for(between: str, dry: bool, tmp_path: Path):
    """The room's wipe stays wet for two minutes."""
    unfolded = _unfolded(tmp_path, f"{DISINFECT}{between}  [ ] {LAST}\n")
    assert _surely_dry_before(unfolded, LAST) is dry


def test_waits_beside_each_other_do_not_add_up(tmp_path: Path):
    beside = (
        "  side by side\n    operator\n      [ ] operator waits 1 minute\n"
        "    helper\n      [ ] helper waits 1 minute\n"
    )
    unfolded = _unfolded(tmp_path, f"{DISINFECT}{beside}  [ ] {LAST}\n")
    assert not _surely_dry_before(unfolded, LAST)


def test_members_of_a_list_are_gone_through_in_one_go(tmp_path: Path):
    """One step that goes through a list: nothing else of the same person comes in between."""
    unfolded = _unfolded(
        tmp_path,
        "  [ ] operator cleans hands\n"
        "  any order, mixed\n"
        "    [ ] operator works at chair arms and clean half\n"
        "    [ ] operator works at keyboard\n",
    )
    chair, half = (n for n, note in enumerate(unfolded.acts) if "chair arms" in note.text)
    (keyboard,) = (n for n, note in enumerate(unfolded.acts) if "keyboard" in note.text)
    assert (chair, half) in unfolded.plan.order
    assert any(
        group.members == 1 << chair | 1 << half and group.others >> keyboard & 1
        for group in unfolded.plan.together
    )
