"""Named mistakes in the search for the least time; the comparison with every order catches each."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from protocol_lang.schedule import least as searching
from protocol_lang.schedule.bounds import Bound, at_least
from protocol_lang.schedule.least import least
from protocol_lang.schedule.work import Work, longest
from tests.schedule.small import least_by_hand, some_work


@cache
def plans() -> tuple[tuple[Work, int, int, int], ...]:
    """Small plans, most of which need a search, with the least time by every order."""
    found = []
    for seed in (*range(40), *range(41, 3_000, 2)):
        made = some_work(seed)
        if made is None:
            continue
        came = least(*made)
        if came is None or (came.forced and seed >= 40):
            continue
        wanted = least_by_hand(*made)
        if wanted is not None:
            found.append((*made, wanted))
    return tuple(found)


def is_right() -> bool:
    """Whether the search answers as every order does."""
    for work, source, target, wanted in plans():
        try:
            found = least(work, source, target)
        except ValueError:
            return False
        if found is None or not found.exact or found.ticks != wanted:
            return False
    return True


def _too_high(work, order, source, target):
    bound = at_least(work, order, source, target)
    return Bound(bound.ticks + 1, bound.tasks, bound.load)


def _everybody_at_once(work, run):
    return list(work.given)


def _last_pair_only(order, found):
    for one, other in found.chosen[-1:]:
        turned = order.copy()
        if turned.precede(other, one):
            yield turned


def _no_delays(work, *rest):
    return longest(replace(work, delays={}), *rest)


MUTANTS = {
    "a bound that is too high": ("at_least", _too_high),
    "one person does several things at once": ("sequenced", _everybody_at_once),
    "only the last chosen pair of a way is turned round": ("_turned", _last_pair_only),
    "delays are forgotten": ("longest", _no_delays),
}


def test_without_a_mistake_it_is_right():
    assert len(plans()) > 30
    assert is_right()


@pytest.mark.parametrize("name", MUTANTS)
def test_the_mistake_is_caught(name, monkeypatch):
    plans()
    where, mutant = MUTANTS[name]
    monkeypatch.setattr(searching, where, mutant)
    assert not is_right()
