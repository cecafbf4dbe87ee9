"""The smallest sets of lapses that open a path, and the margin (docs/meaning/lapses.md, rule 9).

Size by size. First the sets are named that may open something although no part of them does
(:mod:`protocol_lang.lapses.combining`); all others are proved to open nothing new. Those named go
through two passes at once (:mod:`protocol_lang.lapses.spread`), one that is sure and one that
misses nothing; what lies between is decided exactly, one by one. Only sets that were found keep
larger ones from being looked at: leaving a step out leaves out its contacts too, so that a set may
open nothing and a part of it something.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from protocol_lang.contamination.kernel import Bits
from protocol_lang.lapses.combining import combined
from protocol_lang.lapses.making import Lapses, Set
from protocol_lang.lapses.spread import (
    Bound,
    Opens,
    bound,
    opened,
    sets_in,
    several_orders,
)
from protocol_lang.order.bits import gather
from protocol_lang.order.question import Budget

#: So many lapses are put together at most.
MOST_TOGETHER = 3
#: Worlds in one pass: what is gained by more of them is lost by the room that they take.
MOST_AT_ONCE = 40_000


@dataclass(frozen=True, slots=True)
class Smallest:
    """For each kind of path the smallest sets that open it.

    ``sets``: by kind of path, the smaller ones first, none of them containing another. ``most``: so
    many lapses were put together. ``already``: what is open without any lapse. ``undecided``: sets
    of which it was not decided. ``looked_at``: how many sets there were to speak of, most of them
    proved all at once; ``asked``: how many had to be asked about one by one.
    """

    sets: dict[Opens, tuple[Set, ...]]
    most: int
    already: frozenset[Opens] = frozenset()
    undecided: tuple[tuple[Opens, Set], ...] = ()
    looked_at: int = 0
    asked: int = 0

    def margin(self, what: Opens) -> int | None:
        """The fewest lapses that open it; None: more than were put together, or not known."""
        if what in self.already:
            return 0
        return min(map(len, self.sets[what]), default=None)


#: Kinds of path that soil of the same origins opens: they are looked at together.
GROUPS = (
    frozenset({Opens.NEXT_PATIENT, Opens.STAFF}),
    frozenset({Opens.FROM_ROOM}),
)


@dataclass(slots=True)
class _Search:
    lapses: Lapses
    budget: Budget
    found: dict[Opens, list[Set]]
    wanted: frozenset[Opens] = frozenset(Opens)
    undecided: list[tuple[Opens, Set]] = field(default_factory=list)
    covered: int = 0
    asked: int = 0
    _named: dict[frozenset[Opens], list[Set]] = field(default_factory=dict)

    def size(self, size: int) -> None:
        """All sets of that size that hold none of those found."""
        self._kept = {what: frozenset(self.found[what]) for what in self.wanted}
        self.covered += self._possible(size)
        at_once = max(1, MOST_AT_ONCE // max(1, len(self.lapses.worlds)))
        for group in GROUPS:
            kinds = group & self.wanted
            if not kinds:
                continue
            sets = sorted(self._worth_looking_at(size, kinds))
            self._named.setdefault(group, [()]).extend(sets)
            for first in range(0, len(sets), at_once):
                some = sets[first : first + at_once]
                self._settled(bound(self.lapses, some, kinds), some)

    def _worth_looking_at(self, size: int, kinds: frozenset[Opens]) -> Iterator[Set]:
        """The sets that may open one of these kinds of path though no part of them does."""
        every = range(len(self.lapses.all))
        if size == 1:
            yield from ((one,) for one in every)
            return
        smaller = [one for one in self._named[_group(kinds)] if self._is_new_for_some(kinds, one)]
        told = combined(self.lapses, smaller, size, kinds)
        named = told.sets
        # Of sets that hold one of which the pass told too much its parts tell nothing.
        for what, sets in told.perhaps.items():
            for one in sets:
                if self._is_new(what, one) and one not in self._kept[what]:
                    rest = (lapse for lapse in every if lapse not in one)
                    named.update(
                        tuple(sorted((*one, *more))) for more in combinations(rest, size - len(one))
                    )
        for one in named:
            if self._is_new_for_some(kinds, one) and self._is_possible(one):
                yield one

    def _is_possible(self, one: Set) -> bool:
        return all(self.lapses.can_be(*pair) for pair in combinations(one, 2))

    def _settled(self, told: Bound, some: list[Set]) -> None:
        """Takes down what the sets open; what the passes leave open is asked one by one."""
        doubtful: dict[Set, set[Opens]] = {}
        for what in sorted(self.wanted, key=list(Opens).index):
            for one in sets_in(told.surely[what], some):
                if self._is_new(what, one):
                    self.found[what].append(one)
            for one in sets_in(told.perhaps[what], some):
                if self._is_new(what, one):
                    doubtful.setdefault(one, set()).add(what)
        if doubtful:
            # A few other orders show most of what the listed one does not.
            sets = list(doubtful)
            shown = several_orders(self.lapses, sets, self.wanted)
            for what in Opens:
                for one in sets_in(shown[what], sets):
                    if what in doubtful[one]:
                        doubtful[one].discard(what)
                        self.found[what].append(one)
        for one, wanted in doubtful.items():
            if not wanted:
                continue
            self.asked += 1
            answer = opened(self.lapses, one, frozenset(wanted), self.budget)
            for what in wanted:
                if what in answer.hits:
                    self.found[what].append(one)
                elif what in answer.undecided:
                    self.undecided.append((what, one))

    def _is_new(self, what: Opens, one: Set) -> bool:
        """Whether no smaller set, found before, is part of it."""
        known = self._kept[what]
        return not any(
            part in known for size in range(1, len(one)) for part in combinations(one, size)
        )

    def _is_new_for_some(self, kinds: frozenset[Opens], one: Set) -> bool:
        return any(self._is_new(what, one) and one not in self._kept[what] for what in kinds)

    _kept: dict[Opens, frozenset[Set]] = field(default_factory=dict)

    def _possible(self, size: int) -> int:
        """How many sets of that size can be made and hold, for some kind of path, none found."""
        many = len(self.lapses.all)
        if size == 1:
            return many
        every = (1 << many) - 1
        fits = [
            gather(
                other for other in range(many) if other != one and self.lapses.can_be(one, other)
            )
            for one in range(many)
        ]
        opening: list[tuple[Bits, dict[int, Bits]]] = []
        for what in self.wanted:
            beside: dict[int, Bits] = {}
            for first, second in (one for one in self._kept[what] if len(one) == 2):
                beside[first] = beside.get(first, 0) | 1 << second
                beside[second] = beside.get(second, 0) | 1 << first
            opening.append((gather(one[0] for one in self._kept[what] if len(one) == 1), beside))
        found = 0
        for held in combinations(range(many), size - 1):
            if not all(fits[one] >> other & 1 for one, other in combinations(held, 2)):
                continue
            more = every >> held[-1] + 1 << held[-1] + 1
            for one in held:
                more &= fits[one]
            old = every
            for single, beside in opening:
                here = single
                for one in held:
                    here |= beside.get(one, 0)
                if any(single >> one & 1 for one in held) or any(
                    beside.get(one, 0) >> other & 1 for one, other in combinations(held, 2)
                ):
                    here = every
                old &= here
            found += (more & ~old).bit_count()
        return found


def _group(kinds: frozenset[Opens]) -> frozenset[Opens]:
    return next(group for group in GROUPS if kinds <= group)


def _by_size(one: Set) -> tuple[int, Set]:
    return len(one), one


def smallest_sets(
    lapses: Lapses,
    most: int = 2,
    budget: Budget | None = None,
    told: Callable[[int, int], None] | None = None,
) -> Smallest:
    """The smallest sets of at most ``most`` lapses that open a path, in the worst choice and order.

    Exact: each set listed is shown by a run, each set that is not listed opens nothing or holds one
    that is listed (or is told among the undecided). ``told`` hears of each size that is done, and
    how many sets there were.
    """
    before = bound(lapses, [()])
    already = frozenset(
        what
        for what in Opens
        if before.surely[what]
        or (before.perhaps[what] and what in opened(lapses, (), frozenset({what})).hits)
    )
    search = _Search(
        lapses, budget or Budget(), {what: [] for what in Opens}, frozenset(Opens) - already
    )
    for size in range(1, most + 1):
        search.size(size)
        if told is not None:
            told(size, search.covered)
    return Smallest(
        {
            what: () if what in already else tuple(sorted(search.found[what], key=_by_size))
            for what in Opens
        },
        most,
        already,
        tuple(one for one in search.undecided if one[0] not in already),
        search.covered,
        search.asked,
    )
