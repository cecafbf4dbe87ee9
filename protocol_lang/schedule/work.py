"""What there is to do: tasks, who does each, what comes before what.

A **timing** of an order gives each task a start and an end. It keeps the order if

* a task ends no sooner than its length after its start;
* a task starts no sooner than the end of each task before it in the partial order, and no sooner
  than the delay after it where there is one;
* the tasks of one person come one after the other, in the order chosen, also those without length.

Nobody has to begin at once: any pause is allowed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from protocol_lang.order import Block
from protocol_lang.order.bits import gather
from protocol_lang.order.partial import PartialOrder, transpose_closed

#: Lengths are whole numbers of thousandths of a second, so that every sum is exact.
TICKS = 1000


@dataclass(frozen=True, slots=True)
class Work:
    """Tasks numbered from 0.

    ``lengths``: in ticks, 0 or more. ``who``: the person, None for what is nobody's.
    ``before``: closed under transitivity and the rule of blocks, as sets of bits. ``blocks``: what
    is done in one go. ``delays``: (a, b) to ticks: b starts no sooner than so long after the end of
    a; a has to come before b. ``given``: pairs as sets of bits from which ``before`` follows,
    together with the blocks; ``before`` itself if there are no fewer.

    ``counts``: the tasks that take time by themselves, and those with delays.
    """

    lengths: tuple[int, ...]
    who: tuple[int | None, ...]
    before: tuple[int, ...]
    blocks: tuple[Block, ...] = ()
    delays: Mapping[tuple[int, int], int] = field(default_factory=dict)
    given: tuple[int, ...] = ()
    counts: int = field(init=False)

    def __post_init__(self) -> None:
        ends = {end for pair in self.delays for end in pair}
        counts = gather(one for one, ticks in enumerate(self.lengths) if ticks or one in ends)
        object.__setattr__(self, "counts", counts)
        given = list(self.given or self.before)
        for one, other in self.delays:
            given[other] |= 1 << one
        object.__setattr__(self, "given", tuple(given))

    def order(self) -> PartialOrder:
        """The partial order, to be added to."""
        return PartialOrder(list(self.before), transpose_closed(self.before), self.blocks)


def sequenced(work: Work, run: Sequence[int]) -> list[int]:
    """For each task what it waits for in the order ``run``: what is given, and the task that the
    same person does before it. What follows from these is left out."""
    before = list(work.given)
    last: dict[int, int] = {}
    for task in run:
        person = work.who[task]
        if person is not None:
            before[task] |= last.get(person, 0)
            last[person] = 1 << task
    return before


def longest(
    work: Work, before: Sequence[int], tasks: Sequence[int], source: int | None, target: int
) -> tuple[int, list[int]]:
    """The longest way from the end of ``source`` (None: from the beginning) to the start of
    ``target``, and the tasks on it with both ends.

    ``tasks``: all of them, each after those that it waits for; ``before``: these, for each.
    """
    at: dict[int, int] = {} if source is None else {source: 0}
    came: dict[int, int] = {}
    inside = 0 if source is None else 1 << source
    for task in tasks:
        best, by = (0, None) if source is None else (-1, None)  # type: tuple[int, int | None]
        waits = before[task] & inside
        while waits:
            low = waits & -waits
            waits ^= low
            earlier = low.bit_length() - 1
            value = at[earlier] + work.delays.get((earlier, task), 0)
            # Of two ways of one length that which is forced leaves less to be tried.
            if value > best or (value == best and work.before[task] & low):
                best, by = value, earlier
        if best < 0:
            continue
        if by is not None:
            came[task] = by
        if task == target:
            way = [task]
            while (step := came.get(way[-1])) is not None:
                way.append(step)
            return best, way[::-1]
        at[task] = best + work.lengths[task]
        inside |= 1 << task
    raise ValueError("the target does not come after the source")
