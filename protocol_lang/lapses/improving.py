"""Single changes after which less has to go right: each is written into the text, read and checked
in full, and asked for lapses again.

A change helps if nothing is found with it that was not found before, no margin is smaller, no kind
of path has more lapses that open it alone, and one of these holds: a margin is greater, fewer
lapses open something alone, or the chances of the sets, added up by the usual rates, are less. In
that sum a lapse of which no study tells a rate counts as one that is always made, so that nothing
seems better for being unknown. A change with which one kind of path has more single lapses, and
which all the same raises a margin, or cuts the sum over all kinds of path with no more single
lapses in all, is told apart: better in one thing, worse in another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import prod

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding
from protocol_lang.lapsed import Change, Improvement, Lapsed, Tally, Tried
from protocol_lang.lapses.chances import Rated, first_order
from protocol_lang.lapses.doing import NoListedOrder
from protocol_lang.lapses.ideas import Idea, ideas
from protocol_lang.lapses.lines import changed
from protocol_lang.lapses.making import Lapses
from protocol_lang.lapses.search import Smallest, smallest_sets
from protocol_lang.lapses.spread import Opens
from protocol_lang.lapses.telling import WORD, lapses_in
from protocol_lang.order.question import Budget
from protocol_lang.text import Text

#: Changes of one kind that are tried; each is a whole check and a search.
MOST_OF_A_KIND = 6
#: Lapses put together at most with each change.
MOST_TOGETHER = 2
#: Changes told, the best first.
MOST_TOLD, MOST_MIXED = 10, 4
#: What a search may cost: a change of which the lapses are not decided within it is not offered.
TRIAL = Budget(own=300, conflicts=20_000)


@dataclass(frozen=True, slots=True)
class Read:
    """What a text comes to: what is found in it, and the plan with its judgement; without these
    where no plan can be made."""

    findings: tuple[Finding, ...]
    unchecked: int
    unfolded: Unfolded | None
    judgement: Judgement | None


#: Reads and checks the protocol with some texts in the place of its files.
Reader = Callable[[Mapping[str, Text]], Read]


@dataclass(frozen=True, slots=True)
class _Measured:
    """``guarded``: the sums in which a lapse without a rate is always made."""

    tally: Tally
    guarded: Mapping[str, float]


def improved(
    told: Lapsed,
    unfolded: Unfolded,
    lapses: Lapses,
    smallest: Smallest,
    texts: Mapping[str, Text],
    read: Reader,
) -> Improvement:
    """The changes that help, those first that raise a margin, then those that cut the ranking most.

    ``told``: the report with the stories of its sets; ``texts``: the lines of all files read.
    """
    together = min(smallest.most, MOST_TOGETHER)
    before = _measured(unfolded, lapses, smallest, together)
    usual = read({})
    found: dict[str, list[tuple[Change, _Measured]]] = {"helped": [], "mixed": []}
    counts: list[Tried] = []
    for kind, thought_of in ideas(told, unfolded, lapses, texts).items():
        came: Counter[str] = Counter()
        for idea in thought_of[:MOST_OF_A_KIND]:
            verdict, measured = _tried(idea, usual, before, together, texts, read)
            came[verdict] += 1
            if verdict in found and measured is not None:
                found[verdict].append((Change(kind, idea.edits, measured.tally), measured))
        counts.append(Tried(kind, len(thought_of), sum(came.values()), **came))
    for those in found.values():
        those.sort(key=lambda one: _rank(before, one[1]))
    return Improvement(
        together,
        before.tally,
        tuple(change for change, _ in found["helped"][:MOST_TOLD]),
        tuple(change for change, _ in found["mixed"][:MOST_MIXED]),
        tuple(counts),
    )


def _tried(
    idea: Idea,
    usual: Read,
    before: _Measured,
    together: int,
    texts: Mapping[str, Text],
    read: Reader,
) -> tuple[str, _Measured | None]:
    """What comes of a change, in the words of the fields of :class:`Tried`."""
    made = read(changed(texts, idea.edits))
    if made.unfolded is None or made.judgement is None or _adds(made.findings, usual.findings):
        return "faulty", None
    if made.unchecked > usual.unchecked:
        return "undecided", None
    try:
        lapses = lapses_in(made.unfolded, made.judgement)
    except NoListedOrder:
        return "undecided", None
    alone = smallest_sets(lapses, 1, TRIAL)
    if alone.undecided or alone.already:
        return "undecided", None
    singly = _measured(made.unfolded, lapses, alone, 1)
    if _margin_falls(before, singly):
        return "no_better", None
    found = alone if together == 1 else smallest_sets(lapses, together, TRIAL)
    if found.undecided:
        return "undecided", None
    after = _measured(made.unfolded, lapses, found, together)
    return _verdict(before, after), after


def _adds(new: Iterable[Finding], old: Iterable[Finding]) -> bool:
    """Whether something is found that was not, or more often."""
    return bool(Counter(one.kind for one in new) - Counter(one.kind for one in old))


def _measured(unfolded: Unfolded, lapses: Lapses, smallest: Smallest, together: int) -> _Measured:
    rated = Rated(unfolded, lapses)
    margins: dict[str, int | None] = {}
    singles: dict[str, int] = {}
    chances: dict[str, float] = {}
    guarded: dict[str, float] = {}
    for what in Opens:
        sets = [one for one in smallest.sets[what] if len(one) <= together]
        margins[WORD[what]] = min(map(len, sets), default=None)
        singles[WORD[what]] = sum(len(one) == 1 for one in sets)
        rates = [[rated.of[lapse] for lapse in one] for one in sets]
        chances[WORD[what]] = first_order(
            [habit.usual for habit in one if habit is not None] for one in rates if None not in one
        )
        guarded[WORD[what]] = sum(
            prod(habit.usual for habit in one if habit is not None) for one in rates
        )
    return _Measured(Tally(margins, singles, chances), guarded)


def _verdict(before: _Measured, after: _Measured) -> str:
    """ "helped": better in something, worse in nothing. "mixed": better in one thing and worse in
    another, but less in all. "no_better": neither."""
    if _margin_falls(before, after):
        return "no_better"
    raised = any(_raised(before, after))
    fewer, more = _compared(before.tally.singles, after.tally.singles)
    less, greater = _compared(before.guarded, after.guarded)
    if not more and (raised or fewer or (less and not greater)):
        return "helped"
    saved = sum(before.tally.chances.values()) - sum(after.tally.chances.values())
    as_many = sum(after.tally.singles.values()) <= sum(before.tally.singles.values())
    return "mixed" if raised or (saved > _LITTLE and as_many) else "no_better"


#: Sums of products of rates that differ by no more than this are the same.
_LITTLE = 1e-9


def _compared(before: Mapping[str, float], after: Mapping[str, float]) -> tuple[bool, bool]:
    """Whether some figure is smaller, and whether some is greater."""
    return (
        any(after[one] < before[one] - _LITTLE for one in before),
        any(after[one] > before[one] + _LITTLE for one in before),
    )


def _margin_falls(before: _Measured, after: _Measured) -> bool:
    return any(
        _smaller(after.tally.margins[one], before.tally.margins[one])
        for one in before.tally.margins
    )


def _smaller(one: int | None, other: int | None) -> bool:
    return one is not None and (other is None or one < other)


def _raised(before: _Measured, after: _Measured) -> list[bool]:
    """Of each kind of path, whether its margin is greater."""
    return [
        _smaller(before.tally.margins[one], after.tally.margins[one])
        for one in before.tally.margins
    ]


def _rank(before: _Measured, after: _Measured) -> tuple[object, ...]:
    """The margins that are greater, those between patients first; then the ranking cut most; then
    the single lapses that are left."""
    return (
        [not one for one in _raised(before, after)],
        sum(after.tally.chances.values()) - sum(before.tally.chances.values()),
        sum(after.tally.singles.values()),
    )
