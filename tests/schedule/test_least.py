"""The least time over all orders, compared with doing every order one by one."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from protocol_lang.order import Block, Network, close
from protocol_lang.order.network import Cycle, before_from_pairs
from protocol_lang.schedule.bounds import at_least
from protocol_lang.schedule.least import least
from protocol_lang.schedule.work import Work, longest, sequenced
from tests.schedule.small import can_be_shorter, constraints, every_order, least_by_hand, some_work

#: Of so many random plans those that need a search are tried order by order, and some of the rest.
PLANS = 1_000 * (1 + int(os.environ.get("PROTOCOL_LANG_LONG", "0")))
ONE_IN = 20


def plans() -> Iterator[tuple[int, Work, int, int]]:
    """(seed, work, source, target): all that need a search, and one in twenty of the others."""
    for seed in range(PLANS):
        made = some_work(seed)
        if made is None:
            continue
        found = least(*made)
        if found is None or not found.forced or seed % ONE_IN == 0:
            yield (seed, *made)


def work_of(lengths, who, pairs, blocks=(), delays=None) -> Work:
    network = close(
        Network(
            len(lengths),
            before_from_pairs(len(lengths), pairs),
            tuple(blocks),
            1,
            (1,) * len(lengths),
        )
    )
    assert not isinstance(network, Cycle)
    return Work(tuple(lengths), tuple(who), network.before, network.blocks, delays or {})


def test_the_least_time_is_that_of_the_best_of_all_orders():
    seen = {"searched": 0, "forced": 0, "blocks": 0, "two people": 0, "delays": 0, "none": 0}
    for seed, work, source, target in plans():
        for begin in (source, None):
            wanted = least_by_hand(work, begin, target)
            found = least(work, begin, target)
            if wanted is None or found is None:
                assert wanted is None and found is None, seed
                seen["none"] += 1
                continue
            assert found.exact and found.ticks == wanted, seed
            assert found.order in set(every_order(work)), seed
            before = sequenced(work, found.order)
            assert longest(work, before, found.order, begin, target)[0] == wanted, seed
            seen["forced" if found.forced else "searched"] += 1
        seen["blocks"] += bool(work.blocks)
        seen["delays"] += bool(work.delays)
        seen["two people"] += len(set(work.who) - {None}) > 1
    print(seen)
    assert all(count for what, count in seen.items() if what != "none"), seen


def test_too_short_exactly_if_the_negation_fits_some_order():
    """The negation is put into the network of each order: a negative cycle in all says kept."""
    kept = short = 0
    for seed, work, source, target in plans():
        for label in (3, 8):
            found = least(work, source, target, enough=label)
            if found is None:
                continue
            is_short = can_be_shorter(work, source, target, label)
            assert (found.bound >= label) is not is_short, (seed, label)
            assert (found.ticks < label) is is_short, (seed, label)
            kept += not is_short
            short += is_short
    assert kept and short, (kept, short)


def test_a_bound_is_never_more_than_the_least():
    tight = loose = 0
    for seed, work, source, target in plans():
        wanted = least_by_hand(work, source, target)
        if wanted is None:
            continue
        bound = at_least(work, work.order(), source, target)
        assert bound.ticks <= wanted, seed
        tight += bound.ticks == wanted
        loose += bound.ticks < wanted
    print(f"tight {tight}, loose {loose}")
    assert tight and loose


def test_two_short_steps_of_one_person_add_up():
    """Wipe X (120 s); tidy and fetch, 60 s each, in any order; cover X: at least 120 s lie between
    wiping and covering, though the longest chain between has 60 s."""
    wipe, tidy, fetch, cover = range(4)
    pairs = [(wipe, tidy), (wipe, fetch), (tidy, cover), (fetch, cover)]
    alone = work_of((5, 60, 60, 5), (0, 0, 0, 0), pairs)
    found = least(alone, wipe, cover, enough=120)
    assert found is not None and found.ticks == 120 and found.forced
    assert found.why.load and set(found.why.tasks) == {tidy, fetch}
    graph = constraints(alone, found.order)
    assert graph is not None
    two = work_of((5, 60, 60, 5), (0, 0, 1, 0), pairs)
    helped = least(two, wipe, cover, enough=120)
    assert helped is not None and helped.ticks == 60


def test_what_may_be_done_before_need_not_lie_between():
    """The same, but tidying is done at any time: in one order it comes before the wiping."""
    wipe, tidy, cover = range(3)
    work = work_of((5, 60, 5), (0, 0, 0), [(wipe, cover)])
    found = least(work, wipe, cover, enough=60)
    assert found is not None and found.ticks == 0
    assert found.order.index(tidy) != 1


def test_one_go_can_force_what_the_order_does_not():
    """Wiping and tidying in one go, covering and fetching too: both come in between, or nothing."""
    wipe, tidy, fetch, cover = range(4)
    blocks = [Block(1 << wipe | 1 << tidy, 1 << fetch | 1 << cover)]
    work = work_of((5, 60, 60, 5), (0,) * 4, [(wipe, tidy), (wipe, cover)], blocks)
    found = least(work, wipe, cover)
    assert found is not None and found.ticks == least_by_hand(work, wipe, cover) == 60


@pytest.mark.parametrize("most", [1, 2, 5])
def test_beyond_the_budget_a_bound_is_given_and_said_to_be_one(most: int):
    loose = 0
    for seed, work, source, target in plans():
        wanted = least_by_hand(work, source, target)
        found = least(work, source, target, most=most)
        if wanted is None or found is None:
            continue
        assert found.bound <= wanted <= found.ticks, seed
        loose += not found.exact
    assert loose or most > 1


def test_without_a_permitted_order_there_is_no_time():
    """Of three things none may be in the middle: no circle, and no order."""
    a, b, c = (1 << task for task in range(3))
    blocks = [Block(a | b, c), Block(b | c, a), Block(a | c, b)]
    work = work_of((1,) * 4, (0, 0, 0, 0), [(task, 3) for task in range(3)], blocks)
    assert least_by_hand(work, None, 3) is None
    assert least(work, None, 3) is None
