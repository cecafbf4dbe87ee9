"""How many of a supply are taken against how many are laid out, over every permitted order.

A supply that is laid out by number is short when in some world and some permitted order more of it
have been taken, at the end of some act, than had been laid out before that act. Acts that lay it
out add up. Laid out without a number, it never runs short from then on.

For one taking the worst order has every other taking before it that can be, and every laying out
after it that can be. Whether all of these can be at once is asked of :mod:`protocol_lang.order`;
where they cannot, the wishes are given up one by one, the best bound first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from protocol_lang.contamination.kernel import Bits
from protocol_lang.order import Network, Question, decide
from protocol_lang.order.bits import members
from protocol_lang.order.question import Budget, Effort, Found, Undecided

#: Questions asked about one supply before it is said not to be decided.
MOST_QUESTIONS = 2_000


@dataclass(frozen=True, slots=True)
class Supply:
    """A thing that is used once and laid out by number.

    ``taken``: by act, how many it takes. ``laid_out``: by act, how many it lays out; None: as many
    as are taken.
    """

    thing: str
    taken: Mapping[int, int]
    laid_out: Mapping[int, int | None]


@dataclass(frozen=True, slots=True)
class Short:
    """A run in which by the end of ``act`` ``taken`` have been taken and ``laid_out`` laid out.

    No run has more taken beyond what is laid out.
    """

    supply: Supply
    act: int
    taken: int
    laid_out: int
    run: Found


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Whether the supply runs short was not decided within the counted questions."""

    supply: Supply


def shortages(
    network: Network,
    supplies: Sequence[Supply],
    worlds: Bits,
    budget: Budget | None = None,
    effort: Effort | None = None,
) -> tuple[Short | Unsettled, ...]:
    """The supplies that run short in one of ``worlds``, each with the run that shows it worst.

    Of takings before anything of it was laid out nothing is said here: that it has been laid out is
    a claim of its own.
    """
    found = (
        _Count(network, supply, worlds, budget or Budget(), effort or Effort()).worst()
        for supply in supplies
    )
    return tuple(one for one in found if one is not None)


@dataclass(slots=True)
class _Count:
    network: Network
    supply: Supply
    worlds: Bits
    budget: Budget
    effort: Effort
    questions: int = 0
    best: Short | None = None

    @property
    def _excess(self) -> int:
        return self.best.taken - self.best.laid_out if self.best is not None else 0

    def worst(self) -> Short | Unsettled | None:
        for within, present in self._alike():
            taken = {act: self.supply.taken.get(act, 0) for act in present}
            laid = {act: self.supply.laid_out[act] for act in present & self.supply.laid_out.keys()}
            bounds = sorted(
                ((self._bound(act, taken, laid), -act) for act in present if taken[act]),
                reverse=True,
            )
            for bound, number in bounds:
                if bound <= self._excess:
                    break
                if not self._look(-number, taken, laid, within):
                    return Unsettled(self.supply)
        return self.best

    def _alike(self) -> Iterator[tuple[Bits, frozenset[int]]]:
        """Worlds in which the same acts take and lay out, and these acts."""
        acts = {act for act, many in self.supply.taken.items() if many} | set(self.supply.laid_out)
        by_present: dict[frozenset[int], Bits] = {}
        for world in members(self.worlds):
            present = frozenset(act for act in acts if self.network.present[act] >> world & 1)
            by_present[present] = by_present.get(present, 0) | 1 << world
        for present, within in by_present.items():
            yield within, present

    def _surely_before(self, first: int, second: int) -> bool:
        return bool(self.network.before[second] >> first & 1)

    def _bound(self, act: int, taken: Mapping[int, int], laid: Mapping[int, int | None]) -> int:
        """No order has more taken beyond what is laid out by the end of the act."""
        before = [laid[one] for one in laid if self._surely_before(one, act)]
        if None in before:
            return 0
        return sum(many for one, many in taken.items() if not self._surely_before(act, one)) - sum(
            many for many in before if many is not None
        )

    def _look(
        self, act: int, taken: Mapping[int, int], laid: Mapping[int, int | None], within: Bits
    ) -> bool:
        """Looks for an order that is worse than the worst so far; False if it cannot be told."""
        open_ones = [
            one
            for one in sorted(taken.keys() | laid.keys())
            if one != act
            and (taken.get(one) or one in laid)
            and not self._surely_before(one, act)
            and not self._surely_before(act, one)
        ]
        surely = [one for one in laid if self._surely_before(one, act)]
        start = self._bound(act, taken, laid)
        stack: list[tuple[int, int, tuple[tuple[int, int], ...], bool]] = [
            (0, start, (), bool(surely))
        ]
        while stack:
            number, bound, wishes, any_laid = stack.pop()
            if bound <= self._excess:
                continue
            if self.questions == MOST_QUESTIONS:
                return False
            self.questions += 1
            question = Question(within, 1 << act, precedes=wishes)
            answer = decide(self.network, question, self.budget, self.effort)
            if isinstance(answer, Undecided):
                return False
            if not isinstance(answer, Found):
                continue
            if number == len(open_ones):
                if any_laid:
                    self._note(act, taken, laid, answer)
                continue
            one = open_ones[number]
            later = bound - taken.get(one, 0), (*wishes, (act, one)), any_laid
            many = laid.get(one, 0)
            ways = [later]
            if many is not None:
                ways.append((bound - many, (*wishes, (one, act)), any_laid or one in laid))
            ways.sort(key=lambda way: way[0])  # the best is looked at first
            stack += [(number + 1, *way) for way in ways]
        return True

    def _note(
        self,
        act: int,
        taken: Mapping[int, int],
        laid: Mapping[int, int | None],
        run: Found,
    ) -> None:
        """Counts along the run that was found."""
        until = run.order[: run.order.index(act) + 1]
        gone = sum(taken.get(one, 0) for one in until)
        there = sum(laid.get(one) or 0 for one in until if one != act)
        if gone - there > self._excess:
            self.best = Short(self.supply, act, gone, there, run)
