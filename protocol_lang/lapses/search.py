"""The smallest sets of lapses that open a path, and the margin (docs/meaning/lapses.md, rule 9).

Size by size: all sets of a size go through two passes at once (:mod:`protocol_lang.lapses.spread`),
one that is sure and one that misses nothing; what lies between is decided exactly, one by one. Only
sets that were found keep larger ones from being looked at: leaving a step out leaves out its
contacts too, so that a set may open nothing and a part of it something.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import combinations, islice

from protocol_lang.lapses.making import Lapses, Set
from protocol_lang.lapses.spread import (
    Bound,
    Opens,
    bound,
    opened,
    sets_in,
)
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
    of which it was not decided. ``looked_at``: how many sets there were to look at; ``asked``: how
    many of them had to be asked about one by one.
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


@dataclass(slots=True)
class _Search:
    lapses: Lapses
    budget: Budget
    found: dict[Opens, list[Set]]
    undecided: list[tuple[Opens, Set]] = field(default_factory=list)
    looked_at: int = 0
    asked: int = 0

    def size(self, size: int) -> None:
        """All sets of that size that hold none of those found."""
        at_once = max(1, MOST_AT_ONCE // max(1, len(self.lapses.worlds)))
        sets = self._sets(size)
        while some := list(islice(sets, at_once)):
            self.looked_at += len(some)
            self._settled(bound(self.lapses, some), some)

    def _settled(self, told: Bound, some: list[Set]) -> None:
        """Takes down what the sets open; what the passes leave open is asked one by one."""
        doubtful: dict[Set, set[Opens]] = {}
        for what in Opens:
            for one in sets_in(told.surely[what], some):
                if self._is_new(what, one):
                    self.found[what].append(one)
            for one in sets_in(told.perhaps[what], some):
                if self._is_new(what, one):
                    doubtful.setdefault(one, set()).add(what)
        for one, wanted in doubtful.items():
            self.asked += 1
            answer = opened(self.lapses, one, frozenset(wanted), self.budget)
            for what in wanted:
                if what in answer.hits:
                    self.found[what].append(one)
                elif what in answer.undecided:
                    self.undecided.append((what, one))

    def _is_new(self, what: Opens, one: Set) -> bool:
        """Whether no smaller set, found before, is part of it."""
        known = self._known(what)
        return not any(
            part in known for size in range(1, len(one)) for part in combinations(one, size)
        )

    def _known(self, what: Opens) -> frozenset[Set]:
        return frozenset(self.found[what]) if what not in self._kept else self._kept[what]

    _kept: dict[Opens, frozenset[Set]] = field(default_factory=dict)

    def _sets(self, size: int) -> Iterator[Set]:
        """The sets worth looking at: possible, and new for some kind of path."""
        self._kept = {what: frozenset(self.found[what]) for what in Opens}
        for one in combinations(range(len(self.lapses.all)), size):
            if any(self._is_new(what, one) for what in Opens) and all(
                self.lapses.can_be(*pair) for pair in combinations(one, 2)
            ):
                yield one


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
    search = _Search(lapses, budget or Budget(), {what: [] for what in Opens})
    before = bound(lapses, [()])
    already = frozenset(
        what
        for what in Opens
        if before.surely[what]
        or (before.perhaps[what] and what in opened(lapses, (), frozenset({what})).hits)
    )
    for size in range(1, most + 1):
        search.size(size)
        if told is not None:
            told(size, search.looked_at)
    return Smallest(
        {
            what: () if what in already else tuple(sorted(search.found[what], key=_by_size))
            for what in Opens
        },
        most,
        already,
        tuple(one for one in search.undecided if one[0] not in already),
        search.looked_at,
        search.asked,
    )
