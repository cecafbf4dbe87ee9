"""A partial order that grows: closed under transitivity and under the rule of blocks.

Rule of blocks: let x be one of a block's ``others``. If x comes before one member it comes before
all of them, and if it comes after one member it comes after all of them. For two blocks that are
among each other's others this gives: any event of the one before any of the other puts the whole
one first. The rule is sound and not complete: that it finds no contradiction does not prove that a
run exists.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from protocol_lang.order.bits import members
from protocol_lang.order.question import Bits, Block


class PartialOrder:
    """``before[e]`` and ``after[e]`` as sets of bits, closed; copied when a search branches."""

    __slots__ = ("after", "before", "blocks")

    def __init__(self, before: list[Bits], after: list[Bits], blocks: Sequence[Block]) -> None:
        self.before = before
        self.after = after
        self.blocks = blocks

    def copy(self) -> PartialOrder:
        """An independent copy (the blocks are shared: they never change)."""
        return PartialOrder(self.before.copy(), self.after.copy(), self.blocks)

    def precede(self, first: int, second: int) -> bool:
        """Add "first before second" and all that follows; False if that is a contradiction.

        After False the order is spoilt and must be thrown away.
        """
        if self.before[second] >> first & 1:
            return True
        return self.precede_sets(1 << first, 1 << second)

    def precede_sets(self, firsts: Bits, seconds: Bits) -> bool:
        """Add "each of ``firsts`` before each of ``seconds``"; as :meth:`precede`."""
        before, after = self.before, self.after
        todo = [(firsts, seconds)]
        while todo:
            low, high = todo.pop()
            rest = low
            while rest:
                top = rest.bit_length() - 1
                low |= before[top]
                rest &= ~(before[top] | 1 << top)
            rest = high
            while rest:
                bit = rest & -rest
                later = after[bit.bit_length() - 1]
                high |= later
                rest &= ~(later | bit)
            if low & high:
                return False
            rest = high
            while rest:
                bit = rest & -rest
                before[bit.bit_length() - 1] |= low
                rest ^= bit
            rest = low
            while rest:
                bit = rest & -rest
                after[bit.bit_length() - 1] |= high
                rest ^= bit
            for block in self.blocks:
                inside = block.members
                outside = block.others
                if low & inside and inside & ~low and high & outside:
                    later = high & outside
                    if any(inside & ~before[event] for event in members(later)):
                        todo.append((inside, later))
                if high & inside and inside & ~high and low & outside:
                    earlier = low & outside
                    if any(inside & ~after[event] for event in members(earlier)):
                        todo.append((earlier, inside))
        return True

    def precede_all(self, pairs: Iterable[tuple[int, int]]) -> bool:
        """Add several pairs; False if they contradict each other or the order."""
        return all(self.precede(a, b) for a, b in pairs)


def transpose(before: Sequence[Bits]) -> list[Bits]:
    """``after`` for a given ``before``: b is in after[a] exactly when a is in before[b]."""
    after = [0] * len(before)
    for event, earlier in enumerate(before):
        bit = 1 << event
        while earlier:
            low = earlier & -earlier
            after[low.bit_length() - 1] |= bit
            earlier ^= low
    return after


def transpose_closed(before: Sequence[Bits]) -> list[Bits]:
    """The same for a closed ``before`` without circles.

    What comes after an event is handed down to one of those before it at a time, which hands it on
    to all before itself: that costs far less than one step for each pair.
    """
    after = [0] * len(before)
    for event in sorted(range(len(before)), key=lambda one: -before[one].bit_count()):
        later = after[event] | 1 << event
        earlier = before[event]
        while earlier:
            # Any will do; the one with the highest number mostly has most of the others before it.
            one = earlier.bit_length() - 1
            after[one] |= later
            earlier &= ~(before[one] | 1 << one)
    return after
