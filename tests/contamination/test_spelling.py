"""What a checklist stands for, against a reader that goes through it step by step.

The reader knows nothing of choices, copies or worlds: it walks through the text and, wherever the
checklist leaves something open, goes every way. The sequences of steps that it comes back with have
to be those of the plan.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from protocol_lang.contamination.unfold import ActNote, Unfolded, unfold
from protocol_lang.language.load import load_text
from protocol_lang.text import decode

NAMES = [f"shelf {letter}" for letter in "abcdefghijklmnopqrstuvwxyz"]
HEAD = f"""protocol "Ways"
  edition 1
  takes words from "Imaging room 2"

surfaces
  {", ".join(NAMES)}: surface

"""

Course = tuple[str, ...]


@dataclass(frozen=True)
class Once:
    """A step, by the name of what it touches; ``label``: whether "again" can go back to it."""

    name: str
    label: str | None = None


@dataclass(frozen=True)
class Ways:
    ways: tuple[tuple[object, ...], ...]


@dataclass(frozen=True)
class Perhaps:
    items: tuple[object, ...]


@dataclass(frozen=True)
class Times:
    least: int
    most: int
    items: tuple[object, ...]


@dataclass(frozen=True)
class Only:
    first: bool
    items: tuple[object, ...]


@dataclass(frozen=True)
class Back:
    """may be left out: again from a label, at most so many times."""

    label: str
    most: int


@dataclass(frozen=True)
class Interrupted:
    """The whole, with a mishap right after any step, at most once."""

    steps: Course


# --- The reader ----------------------------------------------------------------------------------


def courses(items: tuple[object, ...], first: bool = True, last: bool = True) -> Iterator[Course]:
    """Every sequence of steps that a list stands for."""
    yield from _from(items, 0, {}, first, last)


def _from(
    items: tuple[object, ...], at: int, gone_back: dict[str, int], first: bool, last: bool
) -> Iterator[Course]:
    if at == len(items):
        yield ()
        return
    item = items[at]
    if isinstance(item, Back):
        yield from _from(items, at + 1, gone_back, first, last)
        times = gone_back.get(item.label, 0)
        if times < item.most:
            start = next(
                n
                for n, one in enumerate(items)
                if isinstance(one, Once) and one.label == item.label
            )
            yield from _from(items, start, {**gone_back, item.label: times + 1}, first, last)
        return
    for here in _of(item, first and not gone_back, last):
        for rest in _from(items, at + 1, gone_back, first, last):
            yield here + rest


def _of(item: object, first: bool, last: bool) -> Iterator[Course]:
    match item:
        case Once(name):
            yield (name,)
        case Ways(ways):
            for way in ways:
                yield from courses(way, first, last)
        case Perhaps(inner):
            yield ()
            yield from courses(inner, first, last)
        case Times(least, most, inner):
            for number in range(least, most + 1):
                yield from _rounds(inner, number, 1)
        case Only(only_first, inner):
            if first if only_first else last:
                yield from courses(inner, first, last)
            else:
                yield ()


def _rounds(inner: tuple[object, ...], number: int, now: int) -> Iterator[Course]:
    if now > number:
        yield ()
        return
    for here in courses(inner, now == 1, now == number):
        for rest in _rounds(inner, number, now + 1):
            yield here + rest


def interrupted(course: Course, what: Course) -> Iterator[Course]:
    """The course, and the same with the mishap anywhere."""
    yield course
    for at in range(len(course) + 1):
        yield course[:at] + what + course[at:]


# --- As text -------------------------------------------------------------------------------------


def written(items: tuple[object, ...], indent: str = "  ") -> str:
    return "".join(_line(item, indent) for item in items)


def _line(item: object, indent: str) -> str:
    deeper = indent + "  "
    match item:
        case Once(name, label):
            return f"{indent}[ ] {f'{label}: ' if label else ''}operator works at {name}\n"
        case Ways(ways):
            words = ["either", *["or"] * (len(ways) - 1)]
            return "".join(
                f"{indent}{word}\n{written(way, deeper)}"
                for word, way in zip(words, ways, strict=True)
            )
        case Perhaps(inner):
            return f"{indent}may be left out\n{written(inner, deeper)}"
        case Times(least, most, inner):
            return f"{indent}for each view, {least} to {most}\n{written(inner, deeper)}"
        case Only(first, inner):
            return f"{indent}{'first' if first else 'last'} time only\n{written(inner, deeper)}"
        case Back(label, most):
            return f"{indent}may be left out\n{deeper}again from {label}, at most {most} times\n"
        case _:
            raise AssertionError(item)


def plan_of(text: str) -> Unfolded:
    loaded = load_text(decode(text.encode(), "ways.protocol"))
    assert not loaded.findings, [(f.kind, f.place, f.facts) for f in loaded.findings]
    assert loaded.protocol is not None
    unfolded = unfold(loaded.protocol)
    assert isinstance(unfolded, Unfolded), unfolded
    return unfolded


def sequences(unfolded: Unfolded) -> list[Course]:
    """What is done in each world, in each permitted order."""
    plan = unfolded.plan
    before: list[int] = [0] * len(plan.acts)
    for one, other in plan.order:
        before[other] |= 1 << one
    told: list[Course] = []
    for world in range(plan.worlds):
        present = [act for act in range(len(plan.acts)) if plan.acts[act].worlds >> world & 1]
        for order in _orders(unfolded, _closed(before), present):
            steps = [unfolded.acts[act] for act in order if unfolded.acts[act].step is not None]
            told.append(tuple(filter(None, map(_told, steps))))
    return told


def _told(note: ActNote) -> str:
    """What is touched; gloves on and off by a sign."""
    if "SURFACE" in note.filled:
        return note.filled["SURFACE"][0]
    return {"operator puts on gloves": "+", "operator takes off gloves": "-"}.get(
        note.text.partition(" (")[0], ""
    )


def _closed(before: list[int]) -> list[int]:
    """Everything that comes before, however far: what is left out keeps its place in the order."""
    closed = list(before)
    grown = True
    while grown:
        grown = False
        for act, known in enumerate(closed):
            more = known
            for other in range(len(closed)):
                if known >> other & 1:
                    more |= closed[other]
            if more != known:
                closed[act], grown = more, True
    return closed


def _orders(
    unfolded: Unfolded, before: list[int], left: list[int], done: tuple[int, ...] = ()
) -> Iterator[tuple[int, ...]]:
    if not left:
        yield done
        return
    finished = sum(1 << act for act in done)
    waiting = sum(1 << act for act in left)
    begun = [
        group
        for group in unfolded.plan.together
        if group.members & finished and group.members & waiting
    ]
    for act in left:
        if not before[act] & waiting and not any(group.others >> act & 1 for group in begun):
            rest = [other for other in left if other != act]
            yield from _orders(unfolded, before, rest, (*done, act))


# --- Random checklists ---------------------------------------------------------------------------


class Maker:
    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.names = iter(NAMES)
        self.labels = 0

    def step(self) -> Once:
        return Once(next(self.names))

    def items(self, deep: int, in_times: bool = False) -> tuple[object, ...]:
        made: list[object] = [self.step()]
        for _ in range(self.chance.randint(0, 2 if deep else 0)):
            made.append(self.item(deep - 1, in_times))
        if deep and self.chance.random() < 0.4:
            self.labels += 1
            label = f"mark {self.labels}"
            made += [Once(next(self.names), label), Back(label, self.chance.randint(1, 2))]
        return tuple(made)

    def item(self, deep: int, in_times: bool) -> object:
        match self.chance.choice(["ways", "perhaps", "times", "only" if in_times else "step"]):
            case "ways":
                return Ways((self.items(deep, in_times), self.items(deep, in_times)))
            case "perhaps":
                return Perhaps(self.items(deep, in_times))
            case "times":
                least = self.chance.randint(0, 1)
                return Times(least, self.chance.randint(max(least, 1), 3), self.items(deep, True))
            case "only":
                return Only(self.chance.random() < 0.5, self.items(0, in_times))
            case _:
                return self.step()


SEEDS = range(150)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_plan_has_the_courses_that_the_checklist_has(seed: int) -> None:
    items = _some(seed)
    text = HEAD + 'phase "Visit"\n' + written(items)
    found = sequences(plan_of(text))
    assert set(found) == set(courses(items)), text


@pytest.mark.parametrize("seed", SEEDS[::3])
def test_a_mishap_comes_after_every_step_once_at_most(seed: int) -> None:
    items = _some(seed)
    what = ("shelf z", "shelf y")
    mishap = (
        'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
        "    [ ] operator works at shelf z\n    [ ] operator works at shelf y\n\n"
    )
    text = HEAD + mishap + 'phase "Visit"\n' + written(items)
    found = sequences(plan_of(text))
    wanted = {one for course in courses(items) for one in interrupted(course, what)}
    assert set(found) == wanted, text


def _some(seed: int) -> tuple[object, ...]:
    """A random checklist of moderate size, each seed its own."""
    for again in range(50):
        try:
            items = Maker(seed * 1000 + again).items(2)
        except StopIteration:
            continue  # more steps than there are shelves
        if len(written(items).splitlines()) <= 18 and len(set(courses(items))) <= 300:
            return items
    raise AssertionError("no checklist of that size")


def test_again_after_a_mishap_goes_back_to_the_label(tmp_path: Path) -> None:
    text = (
        HEAD
        + 'can happen in "Visit"\n  sensor falls, right after place\n'
        + "    [ ] operator works at shelf z\n    again from start, at most 1 time\n\n"
        + 'phase "Visit"\n  [ ] start: operator works at shelf a\n'
        + "  [ ] place: operator works at shelf b\n  [ ] operator works at shelf c\n"
    )
    plain = ("shelf a", "shelf b", "shelf c")
    fallen = ("shelf a", "shelf b", "shelf z", "shelf a", "shelf b", "shelf c")
    assert set(sequences(plan_of(text))) == {plain, fallen}


def test_what_happens_in_one_visit_is_one_thing(tmp_path: Path) -> None:
    mishaps = "".join(
        f"  thing {n}, between any two steps of operator\n    [ ] operator works at {NAMES[n]}\n"
        for n in range(3)
    )
    text = (
        HEAD
        + f'can happen in "Visit"\n{mishaps}\n'
        + 'phase "Visit"\n  [ ] operator works at shelf x\n  [ ] operator works at shelf y\n'
    )
    found = [set(course) for course in sequences(plan_of(text))]
    assert all(len(course & set(NAMES[:3])) <= 1 for course in found)
    assert set().union(*found) >= set(NAMES[:3])


@pytest.mark.parametrize("seed", range(60))
def test_what_is_done_after_a_mishap_depends_on_how_things_are_then(seed: int) -> None:
    """Gloves on and off between the steps, some of it only perhaps; in one go, nothing happens."""
    dice = random.Random(seed)
    lines: list[str] = []
    wanted: list[tuple[Course, bool]] = [((), False)]
    for name in NAMES[: dice.randint(2, 5)]:
        lines.append(f"  [ ] operator works at {name}\n")
        wanted = [((*course, name), gloved) for course, gloved in wanted]
        if dice.random() < 0.6 and len({gloved for _, gloved in wanted}) == 1:
            _, gloved = wanted[0]
            do = ("operator takes off gloves", "operator cleans hands")
            do = do if gloved else ("operator cleans hands", "operator puts on gloves")
            sign = "-" if gloved else "+"
            perhaps = dice.random() < 0.3
            indent = "    " if perhaps else "  "
            lines.append("  may be left out\n" if perhaps else "")
            lines.append(f"{indent}in one go\n{indent}  [ ] {do[0]}\n{indent}  [ ] {do[1]}\n")
            changed = [((*course, sign), not gloved) for course, gloved in wanted]
            wanted = [*wanted, *changed] if perhaps else changed
    mishap = (
        'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
        "    where operator wears gloves\n      [ ] operator works at shelf y\n"
        "    otherwise\n      [ ] operator works at shelf z\n\n"
    )
    text = HEAD + mishap + 'phase "Visit"\n' + "".join(lines)
    allowed: set[Course] = set()
    for course, _ in wanted:
        allowed.add(course)
        for at in range(len(course) + 1):
            before = [sign for sign in course[:at] if sign in "+-"]
            gloved = bool(before) and before[-1] == "+"
            allowed.add((*course[:at], "shelf y" if gloved else "shelf z", *course[at:]))
    assert set(sequences(plan_of(text))) == allowed, text
