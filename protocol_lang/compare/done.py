"""In which cases a step is done: by the choices that both editions have, and by its words."""

from __future__ import annotations

from collections import defaultdict
from itertools import product
from math import prod

from protocol_lang.compare.steps import WHERE, own_place
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.text import Place

#: Where choices make more combinations than this, only the words are compared.
MOST_COMBINATIONS = 512

#: For a step, the combinations in which it is done, and those in which it is not (both: it depends
#: on something else), as bits.
Cases = tuple[int, int]


def in_common(old: Protocol, new: Protocol) -> tuple[Choice, ...]:
    """The choices, settled before the visit, that both editions have alike."""
    there = {choice.name: choice.values for choice in new.choices if _settled(choice)}
    return tuple(
        choice
        for choice in old.choices
        if _settled(choice) and there.get(choice.name) == choice.values
    )


def _settled(choice: Choice) -> bool:
    return choice.declared and choice.known_after is None


def cases_of(unfolded: Unfolded, common: tuple[Choice, ...]) -> dict[Place, Cases] | None:
    """The cases of each step; None if there are too many combinations."""
    if prod(len(choice.values) for choice in common) > MOST_COMBINATIONS:
        return None
    number = {
        values: at for at, values in enumerate(product(*(choice.values for choice in common)))
    }
    of_world = []
    for examples in unfolded.worlds.examples:
        bits = 0
        for example in examples:
            free = (
                (example[choice.name],) if choice.name in example else choice.values
                for choice in common
            )
            for values in product(*free):
                bits |= 1 << number[values]
        of_world.append(bits)
    worlds: dict[Place, int] = defaultdict(int)
    for step, acts in zip(unfolded.steps, unfolded.acts_of, strict=True):
        for act in acts:
            worlds[own_place(step.place)] |= unfolded.plan.acts[act].worlds
    found: dict[Place, Cases] = {}
    for place, mask in worlds.items():
        done = left = 0
        for world, bits in enumerate(of_world):
            if mask >> world & 1:
                done |= bits
            else:
                left |= bits
        found[place] = (done, left)
    return found


def same_cases(
    was: tuple[str, ...], is_now: tuple[str, ...], before: Cases | None, after: Cases | None
) -> bool:
    """Whether a step is done in the same cases; the words are those of the blocks around it."""
    if before is None or after is None:
        return was == is_now
    if before != after:
        return False
    # Which choices lead there is the same; what else is said ("may be left out") is compared as
    # written.
    return _but_choices(was) == _but_choices(is_now)


def _but_choices(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(one for one in words if not one.startswith(WHERE))
