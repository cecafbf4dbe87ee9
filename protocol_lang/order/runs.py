"""One run of a partial order with blocks, and how many there are.

:func:`linearise` finds an order by taking, again and again, the lowest-numbered event that may
come next; where that runs into a dead end it branches on "this block before that event" instead,
with the closure of :class:`~protocol_lang.order.partial.PartialOrder`, which is complete.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, factorial

from protocol_lang.order.bits import gather, members
from protocol_lang.order.partial import PartialOrder, transpose_closed
from protocol_lang.order.question import Bits, Block, Network


class OutOfBudgetError(Exception):
    """The counted budget of a search is spent."""


class Meter:
    """Counts the nodes of a search against a limit."""

    __slots__ = ("limit", "spent")

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.spent = 0

    def tick(self) -> None:
        """Count one node; :class:`OutOfBudgetError` when there were ``limit`` already."""
        if self.spent >= self.limit:
            raise OutOfBudgetError
        self.spent += 1


def linearise(order: PartialOrder, meter: Meter) -> tuple[int, ...] | None:
    """A total order that extends ``order`` and keeps its blocks together; None if there is none.

    Of the events that may come next the lowest number is preferred, so that an order close to the
    numbering is found. May raise :class:`OutOfBudgetError`.
    """
    run = _greedy(order)
    if run is not None:
        return run
    open_pair = _undecided(order)
    if open_pair is None:
        return None
    block, event = open_pair
    meter.tick()
    first = (block.members & -block.members).bit_length() - 1
    for pair in ((first, event), (event, first)):
        branch = order.copy()
        if branch.precede(*pair):
            run = linearise(branch, meter)
            if run is not None:
                return run
    return None


def _greedy(order: PartialOrder) -> tuple[int, ...] | None:
    before, blocks = order.before, order.blocks
    inside_any = 0
    for block in blocks:
        inside_any |= block.members
    waiting = list(range(len(before)))
    done = forbidden = 0
    run: list[int] = []
    while waiting:
        for event in waiting:
            if not before[event] & ~done and not forbidden >> event & 1:
                break
        else:
            return None
        waiting.remove(event)
        run.append(event)
        done |= 1 << event
        if inside_any >> event & 1:
            forbidden = 0
            for block in blocks:
                if block.members & done and block.members & ~done:
                    forbidden |= block.others
    return tuple(run)


def _undecided(order: PartialOrder) -> tuple[Block, int] | None:
    """A block and one of its others that are not yet ordered."""
    for block in order.blocks:
        if not block.members:
            continue
        first = (block.members & -block.members).bit_length() - 1
        free = block.others & ~order.before[first] & ~order.after[first]
        if free:
            return block, (free & -free).bit_length() - 1
    return None


@dataclass(frozen=True, slots=True)
class RunCount:
    """How many orders a network permits (worlds not counted): at least so many, or exactly."""

    number: int
    exact: bool


def count_runs(network: Network, limit: int = 10_000) -> RunCount:
    """The number of total orders that ``network`` permits, all blocks respected.

    Exact when the order falls apart, in series and in parallel, into pieces that are small or
    series and parallel again. A piece that is neither is counted over its sets of finished events;
    where these are more than ``limit`` altogether, it is bounded from below instead (0 says
    nothing then). The network must be closed.
    """
    return RunCounts(network, limit).of((1 << network.events) - 1)


class RunCounts:
    """The same for some events of a network alone, for whoever asks about many such sets."""

    def __init__(self, network: Network, limit: int = 10_000) -> None:
        self._before = list(network.before)
        self._after = transpose_closed(network.before)
        self._blocks = network.blocks
        self._limit = limit

    def of(self, events: Bits) -> RunCount:
        """In how many orders these events may come: what is closed stays closed without others."""
        blocks = (Block(block.members & events, block.others & events) for block in self._blocks)
        counter = _Counter(
            self._before,
            self._after,
            [block for block in blocks if block.members & (block.members - 1)],
            self._limit,
        )
        number = counter.count(events)
        return RunCount(number, counter.exact)


class _Counter:
    """Counts linear extensions of subsets; ``exact`` turns False once a bound was used."""

    def __init__(
        self, before: list[Bits], after: list[Bits], blocks: Sequence[Block], limit: int
    ) -> None:
        self.before = before
        self.after = after
        self.blocks = blocks
        self.limit = limit
        self.exact = True

    def count(self, part: Bits) -> int:
        if part & (part - 1) == 0:
            return 1
        layers = self._series(part)
        if len(layers) > 1:
            product = 1
            for layer in layers:
                product *= self.count(layer)
            return product
        return self._parallel(part)

    def _series(self, part: Bits) -> list[Bits]:
        """Pieces such that all of one come before all of the next."""
        ranked = sorted(members(part), key=lambda e: (self.before[e] & part).bit_count())
        # What comes before each of the events from some place in that row on.
        common = [part]
        for event in reversed(ranked):
            common.append(common[-1] & self.before[event])
        pieces: list[Bits] = []
        taken = current = 0
        for number, event in enumerate(ranked):
            # A cut is where all that was taken comes before all that is left.
            if current and taken & ~common[len(ranked) - number] == 0:
                pieces.append(current)
                current = 0
            current |= 1 << event
            taken |= 1 << event
        pieces.append(current)
        return pieces

    def _parallel(self, part: Bits) -> int:
        pieces = self._components(part)
        groups = self._grouped_by_blocks(pieces)
        if len(groups) > 1:
            total = part.bit_count()
            product = 1
            for group in groups:
                whole = 0
                for piece in group:
                    whole |= piece
                inner = self.count(whole) if len(group) == 1 else self._group(group)
                product *= comb(total, whole.bit_count()) * inner
                total -= whole.bit_count()
            return product
        return self._group(groups[0])

    def _components(self, part: Bits) -> list[Bits]:
        pieces = []
        while part:
            piece = part & -part
            front = piece
            while front:
                event = front.bit_length() - 1
                front ^= 1 << event
                fresh = (self.before[event] | self.after[event]) & part & ~piece
                piece |= fresh
                front |= fresh
            pieces.append(piece)
            part &= ~piece
        return pieces

    def _grouped_by_blocks(self, pieces: list[Bits]) -> list[list[Bits]]:
        """Components put together where a block lets them depend on each other."""
        groups = [[piece] for piece in pieces]
        for block in self.blocks:
            if not block.members & (block.members - 1):
                continue
            touched = [g for g in groups if any(p & (block.members | block.others) for p in g)]
            if len(touched) > 1 and any(p & block.members for g in touched for p in g):
                groups = [g for g in groups if g not in touched]
                groups.append([piece for g in touched for piece in g])
        return groups

    def _group(self, group: list[Bits]) -> int:
        whole = 0
        for piece in group:
            whole |= piece
        if len(group) > 1 and all(self._in_one_go(piece, whole) for piece in group):
            product = factorial(len(group))
            for piece in group:
                product *= self.count(piece)
            return product
        return self._by_finished_sets(whole)

    def _in_one_go(self, piece: Bits, whole: Bits) -> bool:
        """Nothing else of ``whole`` may fall into ``piece``, and no block reaches beyond it."""
        rest = whole & ~piece
        alone = piece & (piece - 1) == 0
        held = alone or any(
            block.members & whole == piece and rest & ~block.others == 0 for block in self.blocks
        )
        return held and all(
            not block.members & piece or not block.members & rest or not block.others & whole
            for block in self.blocks
        )

    def _by_finished_sets(self, part: Bits) -> int:
        """Dynamic programme over the sets of finished events, a limited number of each size."""
        before = self.before
        blocks = [
            (block.members & part, block.others & part)
            for block in self.blocks
            if block.members & part and block.others & part
        ]
        followers = self._followers(part)
        width = max(1, self.limit // part.bit_count())
        bounded = False
        # A set of finished events: in how many ways, and which events may then be next.
        ready = gather(event for event in members(part) if not before[event] & part)
        level: dict[Bits, tuple[int, Bits]] = {0: (1, ready)}
        for _ in range(part.bit_count()):
            following: dict[Bits, tuple[int, Bits]] = {}
            for done, (ways, ready) in level.items():
                free = ready
                for inside, outside in blocks:
                    if inside & done and inside & ~done:
                        free &= ~outside
                for event in members(free):
                    key = done | 1 << event
                    known = following.get(key)
                    if known is not None:
                        following[key] = (known[0] + ways, known[1])
                        continue
                    more = ready & ~(1 << event)
                    for later in followers[event]:
                        if not before[later] & part & ~key:
                            more |= 1 << later
                    following[key] = (ways, more)
            if len(following) > width:
                self.exact = False
                if not bounded:
                    bound = self._bound(part)
                    if bound:
                        return bound
                    bounded = True
                ranked = sorted(following.items(), key=lambda item: (-item[1][0], item[0]))
                following = dict(ranked[:width])
            level = following
        return level[part][0] if part in level else 0

    def _bound(self, part: Bits) -> int:
        """A lower bound: n! divided by the product of how many come before each, itself included.

        It holds for every partial order and is exact for forests (Hammett and Pittel 2008, from
        memory). Events of one block are taken as one; 0 if blocks overlap or something must fall
        into one.
        """
        elements: list[Bits] = []
        rest = part
        for block in self.blocks:
            inside = block.members & part
            if inside & (inside - 1) and block.others & part:
                if inside & ~rest:
                    return 0
                elements.append(inside)
                rest &= ~inside
        number = 1
        for inside in elements:
            number *= self.count(inside)
        elements += [1 << event for event in members(rest)]
        lower = upper = factorial(len(elements))
        for inside in elements:
            earlier = self._among(inside, self.before, elements)
            later = self._among(inside, self.after, elements)
            if earlier & later & ~inside:
                return 0
            lower //= sum(1 for element in elements if element & (earlier | inside))
            upper //= sum(1 for element in elements if element & (later | inside))
        return max(number * max(lower, upper), 1)

    def _among(self, start: Bits, relation: list[Bits], elements: list[Bits]) -> Bits:
        """All elements that are related to one, step by step, as one set of events."""
        reached = start
        front = start
        while front:
            related = 0
            for event in members(front):
                related |= relation[event]
            front = 0
            for element in elements:
                if element & related and element & ~reached:
                    front |= element & ~reached
                    reached |= element
        return reached & ~start

    def _followers(self, part: Bits) -> dict[int, list[int]]:
        """For each event of ``part`` the events that it is directly before."""
        found: dict[int, list[int]] = {event: [] for event in members(part)}
        for event in found:
            earlier = self.before[event] & part
            covered = 0
            for before in members(earlier):
                covered |= self.before[before]
            for direct in members(earlier & ~covered):
                found[direct].append(event)
        return found
