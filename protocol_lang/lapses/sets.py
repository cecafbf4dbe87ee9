"""Worlds that are sets of lapses at places: world ``place * many + number``, as bits."""

from __future__ import annotations

from protocol_lang.contamination.kernel import Bits


def any_place(worlds: Bits, many: int, places: int) -> Bits:
    """The sets, of ``many``, of which some world is among these."""
    width = 1
    while width < places:
        width *= 2
    while width > 1:
        width //= 2
        # What lies in the upper half is laid onto the lower half.
        worlds = worlds >> width * many | worlds & (1 << width * many) - 1
    return worlds


def at_every_place(sets: Bits, many: int, places: int) -> Bits:
    """The worlds of these sets."""
    done = 1
    while done < places:
        sets |= sets << done * many
        done *= 2
    return sets & (1 << places * many) - 1
