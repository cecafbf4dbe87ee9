"""What may run on: steps for whose end nobody waits, and that those who do them do before anything
that comes after.

"Before anything of theirs" differs from world to world: where a helper is there or not, what comes
next is another act. An order pair says the same in all worlds, and an act that is left out keeps
its place, with all pairs that it is in. So the steps are written once for each set of worlds in
which the same of them come last and the same acts come next: then each act of a pair is done
wherever the other is, and no pair takes anything from worlds in which it says nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from protocol_lang.contamination.kernel import Bits
from protocol_lang.order.bits import gather, members


@dataclass(frozen=True, slots=True)
class Following:
    """All acts of ``later`` are done after all of ``acts``."""

    acts: Bits
    later: Bits


@dataclass(frozen=True, slots=True)
class Alike:
    """Worlds in which the same acts that run on come last, and the same come next.

    ``pairs``: for each :class:`Following`, those of ``acts`` that come last and those of ``later``
    that come first.
    """

    worlds: Bits
    pairs: tuple[tuple[Bits, Bits], ...]


def alike(
    running: Bits, following: Sequence[Following], worlds: Sequence[Bits], before: Sequence[Bits]
) -> list[Alike]:
    """All worlds in which something that runs on is done, in sets that do not overlap.

    ``worlds``: of each act; ``before``: the closed order of all acts.
    """
    everywhere = 0
    for act in members(running):
        everywhere |= worlds[act]
    sets: dict[Bits, frozenset[tuple[int, int]]] = {everywhere: frozenset()} if everywhere else {}
    for number, one in enumerate(following):
        if not one.later:
            continue
        for act in members(one.acts):
            last = worlds[act]
            for other in members(one.acts):
                if before[other] >> act & 1:
                    last &= ~worlds[other]
            sets = dict(_split(sets, last, (number, act)))
        for act in members(one.later):
            first = worlds[act]
            for other in members(one.later & before[act]):
                first &= ~worlds[other]
            sets = dict(_split(sets, first, (number, act)))
    return [
        Alike(
            within,
            tuple(
                (
                    gather(act for at, act in told if at == number and one.acts >> act & 1),
                    gather(act for at, act in told if at == number and one.later >> act & 1),
                )
                for number, one in enumerate(following)
            ),
        )
        for within, told in sets.items()
    ]


def _split(
    sets: Mapping[Bits, frozenset[tuple[int, int]]], worlds: Bits, told: tuple[int, int]
) -> Iterator[tuple[Bits, frozenset[tuple[int, int]]]]:
    """The sets divided by whether they lie in ``worlds``, where ``told`` is so."""
    for known, before in sets.items():
        if known & worlds:
            yield known & worlds, before | {told}
        if known & ~worlds:
            yield known & ~worlds, before
