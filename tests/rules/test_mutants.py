"""Named faults put into the decider on purpose: each has to be seen by the comparisons.

A comparison that a wrong decider survives proves little. Each mutant changes one thing that
docs/meaning/rules.md says; it must differ from the oracle on one of the pairs of the usual run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from protocol_lang.contamination.kernel import AllOf, AnyOf
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.steps import ForEach
from protocol_lang.rules import claims, deciding, happenings, judging, worlds
from protocol_lang.rules.deciding import Orders
from protocol_lang.rules.happenings import WHOLE, Happenings
from tests.rules import test_rounds
from tests.rules.test_against_every_order import Pairs, pairs

#: A mutant that lives for so many protocols is not seen.
MOST_PROTOCOLS = 80

Mutation = Callable[[pytest.MonkeyPatch], None]


def _what_settles_is_forgotten(patch: pytest.MonkeyPatch) -> None:
    """What is owed after something stays owed."""
    old = Orders._after
    patch.setattr(Orders, "_after", lambda self, owing, settling: old(self, owing, ()))


def _what_prepares_is_forgotten(patch: pytest.MonkeyPatch) -> None:
    """Nothing that comes before counts."""
    old = Orders._before
    patch.setattr(Orders, "_before", lambda self, settling, spoiling: old(self, (), spoiling))


def _what_spoils_is_forgotten(patch: pytest.MonkeyPatch) -> None:
    """ "but never" is passed over."""
    old = Orders._before
    patch.setattr(Orders, "_before", lambda self, settling, spoiling: old(self, settling, ()))


def _begins_the_other_way_round(patch: pytest.MonkeyPatch) -> None:
    """A bit begins with the other value."""
    old = Orders._remember
    patch.setattr(Orders, "_remember", lambda self, initial, writes: old(self, 1 - initial, writes))


def _clinics_are_mixed(patch: pytest.MonkeyPatch) -> None:
    """What is fixed for the clinic changes from one visit to the next."""
    old = Orders.__init__

    def init(self: Orders, unfolded: Any, judgement: Any, *rest: Any) -> None:
        plan = replace(unfolded.plan, clinic=((1 << unfolded.plan.worlds) - 1,))
        old(self, replace(unfolded, plan=plan), judgement, *rest)

    patch.setattr(Orders, "__init__", init)


def _where_is_passed_over(patch: pytest.MonkeyPatch) -> None:
    """A rule is about all courses, whatever it says under "where"."""
    old = Orders.lay_out
    patch.setattr(
        Orders,
        "lay_out",
        lambda self, duty, scope: old(self, duty, replace(scope, worlds=self.judged)),
    )


def _not_so_is_read_as_so(patch: pytest.MonkeyPatch) -> None:
    """ "where staffing is not alone" means that it is."""
    old = worlds.worlds_where
    patch.setattr(
        judging,
        "worlds_where",
        lambda unfolded, where: old(unfolded, [replace(one, so=True) for one in where]),
    )


def _the_next_visit_is_like_the_first(patch: pytest.MonkeyPatch) -> None:
    """The next patient comes only in a visit that the rule is about."""
    old = Orders._owed_to_the_next

    def owed(self: Orders, *asked: Any) -> Iterator[Any]:
        judged, self.judged = self.judged, asked[-1].worlds
        found = list(old(self, *asked))
        self.judged = judged
        return iter(found)

    patch.setattr(Orders, "_owed_to_the_next", owed)


def _but_is_passed_over(patch: pytest.MonkeyPatch) -> None:
    """Every name counts."""
    old = Happenings.seen
    patch.setattr(
        Happenings, "seen", lambda self, what, binding, but=None: old(self, what, binding)
    )


def _what_settles_counts_against_itself(patch: pytest.MonkeyPatch) -> None:
    """A step that brings what is owed is too late if it does the other thing as well."""
    old = Orders._after
    patch.setattr(
        Orders,
        "_after",
        lambda self, owing, settling: replace(old(self, owing, settling), settling=frozenset()),
    )


def _bound_to_nobody(patch: pytest.MonkeyPatch) -> None:
    """A kind means anybody each time that it is said."""
    old = Happenings._bound
    patch.setattr(
        Happenings, "_bound", lambda self, what, filled, binding: old(self, what, filled, {})
    )


def _the_first_sentence_alone(patch: pytest.MonkeyPatch) -> None:
    """Of several sentences the first one alone counts."""
    old = Orders._all
    patch.setattr(Orders, "_all", lambda self, what, *rest: old(self, what[:1], *rest))


def _every_phase(patch: pytest.MonkeyPatch) -> None:
    """Steps of all phases are meant."""
    patch.setattr(Orders, "_in_phase", lambda self, seen, scope: list(seen))


def _whatever_is_in_a_step_settles(patch: pytest.MonkeyPatch) -> None:
    """The order within a step does not count."""
    old = Orders._after
    patch.setattr(
        Orders,
        "_after",
        lambda self, owing, settling: old(
            self, owing, [replace(one, index=WHOLE) for one in settling]
        ),
    )


def _a_step_does_not_prepare_itself(patch: pytest.MonkeyPatch) -> None:
    """What the step itself does first does not count as coming before."""
    patch.setattr(
        Orders, "_unprepared", staticmethod(lambda goals, settling: [one.act for one in goals])
    )


def _a_verb_is_over_as_it_begins(patch: pytest.MonkeyPatch) -> None:
    """A sentence of a verb settles nothing that happens in its own step."""
    patch.setattr(deciding, "WHOLE", -2)


def _the_first_way_alone(patch: pytest.MonkeyPatch) -> None:
    """Of several ways the first one has to be kept."""
    old = judging._Book._asked
    patch.setattr(
        judging._Book, "_asked", lambda self, case: old(self, replace(case, ways=case.ways[:1]))
    )


def _a_way_about_nothing_is_none(patch: pytest.MonkeyPatch) -> None:
    """A way that is about nothing done here is not kept."""
    every = frozenset({"no-such", "no-step", "no-choice"})
    patch.setattr(judging, "_NOT_TOLD", every)


def _somebody_will_do(patch: pytest.MonkeyPatch) -> None:
    """A kind in a claim means any one of it."""
    old = claims.settled

    def settled(claim: Any, happenings: Any, binding: Any) -> Any:
        every = old(claim, happenings, binding)
        assert isinstance(every, AllOf)
        return AnyOf(every.parts)

    patch.setattr(deciding, "settled", settled)


def _the_end_is_not_looked_at(patch: pytest.MonkeyPatch) -> None:
    """What is owed when the visit ends is let go."""
    patch.setattr(Orders, "_owed_at_end", lambda self, facts, memory, scope: iter(()))


def _one_too_many(patch: pytest.MonkeyPatch) -> None:
    """ "at most two times" lets it be done three times."""
    old = worlds.beyond
    patch.setattr(
        deciding,
        "beyond",
        lambda unfolded, acts, duty, within: old(
            unfolded, acts, replace(duty, most=None if duty.most is None else duty.most + 1), within
        ),
    )


def _waits_of_any_length(patch: pytest.MonkeyPatch) -> None:
    """A wait is long enough however short it is."""
    old = happenings._waited
    patch.setattr(happenings, "_waited", lambda wait, event, least: old(wait, event, None))


def _waits_without_minutes_are_long(patch: pytest.MonkeyPatch) -> None:
    """Who waits until something is dry has waited long enough for anything."""
    old = happenings._waited
    patch.setattr(
        happenings,
        "_waited",
        lambda wait, event, least: old(wait, event, None if wait.minutes is None else least),
    )


MUTANTS = [
    _what_settles_is_forgotten,
    _what_prepares_is_forgotten,
    _what_spoils_is_forgotten,
    _begins_the_other_way_round,
    _clinics_are_mixed,
    _where_is_passed_over,
    _not_so_is_read_as_so,
    _the_next_visit_is_like_the_first,
    _but_is_passed_over,
    _what_settles_counts_against_itself,
    _bound_to_nobody,
    _the_first_sentence_alone,
    _every_phase,
    _whatever_is_in_a_step_settles,
    _a_step_does_not_prepare_itself,
    _a_verb_is_over_as_it_begins,
    _the_first_way_alone,
    _a_way_about_nothing_is_none,
    _somebody_will_do,
    _the_end_is_not_looked_at,
    _one_too_many,
    _waits_of_any_length,
    _waits_without_minutes_are_long,
]


@cache
def expected(number: int) -> tuple[tuple[Pairs, list[str]], ...]:
    """Some pairs of the usual run with what the oracle says, looked up once for all mutants."""
    some = (
        *pairs(number * 20, 20),
        *pairs(10_000 + number * 20, 20, two_visits=True),
        *pairs(20_000 + number * 20, 5, waits=True),
    )
    return tuple((one, one.wanted()) for one in some)


def first_seen() -> int | None:
    """The first protocol on which the decider, as it is now, goes wrong."""
    for number in range(MOST_PROTOCOLS // 20):
        for one, wanted in expected(number):
            if [verdict.verdict.value for verdict in one.decided()] != wanted:
                return one.seed
    return None


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.__name__.strip("_"))
def test_the_mutant_is_caught(mutant: Mutation):
    with pytest.MonkeyPatch.context() as patch:
        mutant(patch)
        assert first_seen() is not None, f"{mutant.__doc__} Nothing saw it."


def _repeated(patch: pytest.MonkeyPatch, change: Callable[[ForEach], ForEach]) -> None:
    patch.setattr(
        worlds, "repetitions", lambda protocol: [change(one) for one in repetitions(protocol)]
    )


def _rounds_that_are_not_spelt_out(patch: pytest.MonkeyPatch) -> None:
    """Rounds that are not spelt out do not count."""
    _repeated(patch, lambda one: replace(one, most=3, least=1))


def _one_round_too_many(patch: pytest.MonkeyPatch) -> None:
    """One round more is counted than there may be."""
    _repeated(patch, lambda one: replace(one, most=one.most + 1))


def _the_last_time_in_every_round(patch: pytest.MonkeyPatch) -> None:
    """What is done the last time only counts for all rounds that are not spelt out."""
    patch.setattr(worlds, "_last_time_only", lambda repeated: set())


@pytest.mark.parametrize(
    "mutant",
    [_rounds_that_are_not_spelt_out, _one_round_too_many, _the_last_time_in_every_round],
    ids=lambda mutant: mutant.__name__.strip("_"),
)
def test_mutants_of_rounds_are_caught(mutant: Mutation):
    with pytest.MonkeyPatch.context() as patch:
        mutant(patch)
        assert any(test_rounds.differs(case) for case in test_rounds.CASES)


def test_the_unchanged_decider_is_not_caught():
    assert first_seen() is None
