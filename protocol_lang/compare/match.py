"""Which step of the new edition is which step of the old one.

By label first; then by sentence within the phase, by sentence anywhere, and what is left by
nearness. Texts that stand several times are told apart by what stands around them. It does not
matter which edition is called the old one: the same pairs are found.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from difflib import SequenceMatcher

from protocol_lang.compare.steps import Written

#: Sentences at least so much alike, by words in order, can be one step in other words.
NEAR = 0.6

Steps = Sequence[Written]


def matched(old: Steps, new: Steps) -> tuple[tuple[int, int], ...]:
    """Pairs (number in ``old``, number in ``new``), in the order of the new edition."""
    # The library's matcher breaks ties by which side is first; so the sides go by their texts.
    turned = _texts(old) > _texts(new)
    pairs = _pairs(new, old) if turned else _pairs(old, new)
    found = [(b, a) for a, b in pairs] if turned else pairs
    return tuple(sorted(found, key=lambda pair: (pair[1], pair[0])))


def _texts(steps: Steps) -> list[tuple[str, str, str]]:
    return [(one.seen.part or "", one.seen.phase, one.seen.text) for one in steps]


def _pairs(one: Steps, other: Steps) -> list[tuple[int, int]]:
    found: dict[int, int] = {}
    _by_label(one, other, found)
    for key in (_of_phase, _anywhere):
        _in_line(one, other, found, key)
        _one_by_one(one, other, found, key)
    _by_nearness(one, other, found)
    return sorted(found.items())


def _by_label(one: Steps, other: Steps, found: dict[int, int]) -> None:
    """Labels are names that the author gave: within a protocol each is there once."""

    def labels(steps: Steps) -> dict[tuple[str, str], list[int]]:
        named: dict[tuple[str, str], list[int]] = defaultdict(list)
        for number, step in enumerate(steps):
            if step.seen.label is not None:
                named[step.seen.part or "", step.seen.label].append(number)
        return named

    there = labels(other)
    for label, here in labels(one).items():
        if len(here) == 1 and len(there.get(label, ())) == 1:
            found[here[0]] = there[label][0]


def _of_phase(step: Written) -> Hashable:
    return (step.seen.part, step.seen.phase, step.seen.text)


def _anywhere(step: Written) -> Hashable:
    return step.seen.text


Key = Callable[[Written], Hashable]


def _left(one: Steps, other: Steps, found: dict[int, int]) -> tuple[list[int], list[int]]:
    taken = set(found.values())
    return (
        [number for number in range(len(one)) if number not in found],
        [number for number in range(len(other)) if number not in taken],
    )


def _in_line(one: Steps, other: Steps, found: dict[int, int], key: Key) -> None:
    """Runs of the same steps in the same order, longest first."""
    here, there = _left(one, other, found)
    matcher = SequenceMatcher(
        None, [key(one[at]) for at in here], [key(other[at]) for at in there], autojunk=False
    )
    for block in matcher.get_matching_blocks():
        for at in range(block.size):
            found[here[block.a + at]] = there[block.b + at]


def _one_by_one(one: Steps, other: Steps, found: dict[int, int], key: Key) -> None:
    """What is the same elsewhere: the first with the first, the second with the second."""
    here, there = _left(one, other, found)
    waiting: dict[Hashable, list[int]] = defaultdict(list)
    for number in there:
        waiting[key(other[number])].append(number)
    for number in here:
        if same := waiting.get(key(one[number])):
            found[number] = same.pop(0)


def _by_nearness(one: Steps, other: Steps, found: dict[int, int]) -> None:
    """A sentence in other words, between the same neighbours or in a phase of the same title."""
    here, there = _left(one, other, found)
    gaps = _gaps(found, len(one), len(other))
    near: list[tuple[float, int, int]] = []
    for a in here:
        for b in there:
            if one[a].seen.label and other[b].seen.label:
                continue  # each has a name of its own
            same_phase = _of_phase(one[a])[:2] == _of_phase(other[b])[:2]  # type: ignore[index]
            if not same_phase and gaps[0][a] != gaps[1][b]:
                continue
            alike = _alike(one[a].seen.text, other[b].seen.text)
            if alike >= NEAR:
                near.append((-alike, a, b))
    taken: set[int] = set()
    for _, a, b in sorted(near):
        if a not in found and b not in taken:
            found[a] = b
            taken.add(b)


def _gaps(found: dict[int, int], here: int, there: int) -> tuple[list[int], list[int]]:
    """For every step the number of the matched pair that it follows, on both sides."""
    back = {b: a for a, b in found.items()}
    first, second, last = [], [], -1
    for a in range(here):
        last = a if a in found else last
        first.append(last)
    last = -1
    for b in range(there):
        last = back.get(b, last)
        second.append(last)
    return first, second


def _alike(one: str, other: str) -> float:
    """How much alike two sentences are, by their words in order: 0 to 1, both ways the same."""
    first, second = sorted((one.split(), other.split()))
    return SequenceMatcher(None, first, second, autojunk=False).ratio()
