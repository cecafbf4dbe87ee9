"""What may run on: steps for whose end nobody waits, and that those who do them do before anything
that comes after.

"Before anything of theirs" differs from world to world: where a helper is there or not, what comes
next is another act. An order pair says the same in all worlds, and what is left out keeps its place
in the order. So the steps are written once for each set of worlds in which the same acts come next;
each of these is in all worlds of its set, and the pair takes nothing from the other worlds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from protocol_lang.contamination.kernel import Bits
from protocol_lang.order.bits import members


@dataclass(frozen=True, slots=True)
class Doing:
    """Who does an act, and in which worlds."""

    person: str
    worlds: Bits


def comes_next(
    running: Bits, later: Bits, doings: Sequence[Doing], before: Sequence[Bits]
) -> dict[Bits, Bits]:
    """For each set of worlds, the acts of those who do the running ones that come next.

    The sets cover all worlds in which something running is done, and do not overlap.
    ``before``: the closed order of all acts.
    """
    people = {doings[act].person for act in members(running)} - {""}
    worlds = 0
    for act in members(running):
        worlds |= doings[act].worlds
    sets: dict[Bits, Bits] = {worlds: 0} if worlds else {}
    for person in sorted(people):
        theirs = [act for act in members(later) if doings[act].person == person]
        for act in theirs:
            first = doings[act].worlds & worlds
            for other in theirs:
                if before[act] >> other & 1:
                    first &= ~doings[other].worlds
            if first:
                sets = dict(_split(sets, first, 1 << act))
    return sets


def _split(sets: Mapping[Bits, Bits], worlds: Bits, acts: Bits) -> Iterator[tuple[Bits, Bits]]:
    for known, next_ones in sets.items():
        if known & worlds:
            yield known & worlds, next_ones | acts
        if known & ~worlds:
            yield known & ~worlds, next_ones
