"""Which lapses can help each other: pairs of which one acts on soil where the other has brought it.

A pass over all single lapses at once tells where soil gets with each (the nodes of the relaxed
graph) and what each act does otherwise. Say that two lapses open a path together and neither does
alone. Take the path, and go along it as long as it is one of the first lapse alone. The step that
stops this is one that only the second makes possible, from a place to which the first has brought
soil. If soil is there without any lapse, begin the path with that way instead, and go along it as
long as it is one of the second alone, and so on: the rest gets shorter each time. So either there
is a place that one of the two gains and at which the other changes something, or both change
something about the same place or the same act. Pairs of which nothing of that is true open nothing
together.

Soil does not stay for ever: between the two, there must be no act that surely ends it there as
written. (If one of the two changes that act, it is nearer itself.)

The facts of a node hold on every way to it in *all* worlds of the pass, so ways of different
lapses can be put together as above. A lapse that the pass calls open and that is not, and lapses
that change the same covers, are never passed over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from protocol_lang.contamination.kernel import Bits
from protocol_lang.contamination.marks import Spread
from protocol_lang.lapses.making import Made
from protocol_lang.order import START, Effects, Network
from protocol_lang.order.bits import members
from protocol_lang.order.partial import transpose_closed
from protocol_lang.order.relaxed import place_of

#: Stand for "before every act" and, in the order of acts, for "after every one".
BEFORE_ALL = -1


class Meetings:
    """Gathers, from passes over single lapses of which the first set is the empty one, who meets.

    Sets go by their numbers in ``made``; number 0 is the empty set. ``network``: the order of the
    acts of the plan as written.
    """

    def __init__(self, made: Made, network: Network) -> None:
        self._made = made
        self._many = len(made.sets)
        self._every = (1 << self._many) - 1
        self._before = network.before
        self._after = transpose_closed(network.before)
        #: By place of soil and act: the sets that bring it there, that change something there.
        self._gained: dict[tuple[int, int], dict[int, Bits]] = {}
        self._changed: dict[tuple[int, int], dict[int, Bits]] = {}
        #: By place of soil: the acts that bring it there with no lapse.
        self._there: dict[tuple[int, int], set[int]] = {}
        #: By place of soil, for each world looked at: the acts that surely end it there as written.
        self._ended: dict[tuple[int, int], tuple[Bits, ...]] = {}
        #: By act, the sets with which it comes out differently.
        self._of_act: dict[int, Bits] = {}
        self._spreads: list[Spread] = []

    def see_changes(self, spread: Spread, effects: Effects) -> None:
        """What acts do otherwise to this soil, and what they do as written."""
        number = len(self._spreads)
        self._spreads.append(spread)
        for event, ways in enumerate(spread.carry.ways):
            act = self._act(event)
            for way in ways:
                different = self._differ(way.worlds)
                if not different:
                    continue
                self._of_act[act] = self._of_act.get(act, 0) | different
                for place in (*way.moves, *way.hits):
                    at = self._changed.setdefault((number, place), {})
                    at[act] = at.get(act, 0) | different
        for key in self._changed:
            if key[0] == number:
                self._ended[key] = self._enders(effects.positions[key[1]].sure)

    def _act(self, event: int) -> int:
        """The act of an event; what comes after all acts keeps its own number beyond them."""
        acts = self._made.acts
        return acts[event] if event < len(acts) else len(self._before) + event

    def _enders(self, sure: Mapping[int, Bits]) -> tuple[Bits, ...]:
        """For each world looked at the acts that surely end a stay there, with no lapse; alike
        worlds once."""
        found: dict[Bits, None] = {}
        for place in range(len(self._made.worlds)):
            world = place * self._many
            acts: Bits = 0
            for event, worlds in sure.items():
                act = self._act(event)
                if worlds >> world & 1 and 0 <= act < len(self._before):
                    acts |= 1 << act
            found[acts] = None
        return tuple(found)

    def see_reach(self, spread: Spread, effects: Effects, reached: Mapping[int, Bits]) -> None:
        """Where soil gets: by node of the relaxed graph the worlds, in one kind of visit."""
        number = self._spreads.index(spread)
        for node, worlds in reached.items():
            gained, always = self._more(worlds)
            place, event = place_of(effects, node)
            act = BEFORE_ALL if event == START else self._act(event)
            if gained:
                at = self._gained.setdefault((number, place), {})
                at[act] = at.get(act, 0) | gained
            if always:
                self._there.setdefault((number, place), set()).add(act)

    def _differ(self, worlds: Bits) -> Bits:
        """The sets that are among the worlds where the empty one is not, or the other way."""
        found: Bits = 0
        while worlds:
            here = worlds & self._every
            found |= here ^ self._every if here & 1 else here
            worlds >>= self._many
        return found

    def _more(self, worlds: Bits) -> tuple[Bits, bool]:
        """The sets that are among the worlds where the empty one is not, and whether that one is
        among some."""
        found: Bits = 0
        always = False
        while worlds:
            here = worlds & self._every
            if here & 1:
                always = True
            else:
                found |= here
            worlds >>= self._many
        return found, always

    def met(self, always: Iterable[int] = ()) -> list[Bits]:
        """For each set the others that it may help; ``always``: sets that are never passed over."""
        found: list[Bits] = [0] * self._many
        for key, changed in self._changed.items():
            there = self._there.get(key, ())
            for enders in self._ended[key]:
                # What one gains the other may change; what is there anyhow both may change.
                begun = {
                    act: ones
                    for act, ones in changed.items()
                    if any(self._stays(first, act, enders) for first in there)
                }
                for act, gained in self._gained.get(key, {}).items():
                    begun[act] = begun.get(act, 0) | gained
                for act, ones in begun.items():
                    others: Bits = 0
                    for other, bits in changed.items():
                        if self._stays(act, other, enders):
                            others |= bits
                    for one in members(ones):
                        found[one] |= others
        for alike in self._of_act.values():
            for one in members(alike):
                found[one] |= alike
        for one in always:
            found[one] = self._every
        for one in range(self._many):
            for other in members(found[one]):
                found[other] |= 1 << one
        return found

    def _stays(self, act: int, other: int, enders: Bits) -> bool:
        """Whether soil that is there at the act may still be there at the other one, later."""
        acts = len(self._before)
        if other == act or not 0 <= other < acts:
            # Beyond all acts, or before them: only what surely ends it at last is in between.
            after = (
                enders if act == BEFORE_ALL else (enders & self._after[act] if act < acts else 0)
            )
            return other == act or other < 0 or not after
        if act == BEFORE_ALL:
            return not enders & self._before[other]
        if act >= acts or self._before[act] >> other & 1:
            return False
        return not enders & self._after[act] & self._before[other]
