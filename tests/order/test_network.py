"""Closing a network, telling cycles, and counting runs, against listing all orders."""

from __future__ import annotations

import random
from math import factorial

import pytest

from protocol_lang.order import (
    Block,
    Cycle,
    MalformedNetworkError,
    Network,
    Register,
    before_from_pairs,
    close,
    count_runs,
    with_order,
)
from protocol_lang.order.partial import transpose, transpose_closed
from tests.order import brute, fuzz, networks


def plain(events: int, pairs: list[tuple[int, int]], blocks: tuple[Block, ...] = ()) -> Network:
    return Network(events, before_from_pairs(events, pairs), blocks, 1, (1,) * events)


def _pair(rng: random.Random, events: int) -> tuple[int, int]:
    a, b = rng.sample(range(events), 2)
    return a, b


def test_closing_is_transitive():
    closed = close(plain(4, [(0, 1), (1, 2), (2, 3)]))
    assert isinstance(closed, Network)
    assert closed.before == (0, 0b1, 0b11, 0b111)


def test_what_comes_before_one_member_comes_before_the_whole_block():
    closed = close(plain(3, [(2, 1)], (Block(0b011, 0b100),)))
    assert isinstance(closed, Network)
    assert closed.before == (0b100, 0b100, 0)


def test_two_blocks_follow_each_other_whole():
    both = (Block(0b0011, 0b1100), Block(0b1100, 0b0011))
    closed = close(plain(4, [(1, 2)], both))
    assert isinstance(closed, Network)
    assert closed.before == (0, 0, 0b0011, 0b0011)


def test_a_cycle_is_told_event_by_event():
    found = close(plain(4, [(0, 1), (1, 2), (2, 1), (2, 3)]))
    assert found == Cycle((1, 2), (None, None))


def test_a_cycle_that_only_blocks_make_names_the_block():
    """Two lists of one person, each in one go, and a helper's acts that tear both apart."""
    a1, a2, b1, b2, x, y = range(6)
    pairs = [(a1, a2), (b1, b2), (a1, x), (x, b2), (b1, y), (y, a2)]
    blocks = (Block(0b000011, 0b001100), Block(0b001100, 0b000011))
    found = close(plain(6, pairs, blocks))
    assert isinstance(found, Cycle)
    assert set(found.blocks) - {None} <= {0, 1}
    assert any(number is not None for number in found.blocks)
    assert brute.orders(plain(6, pairs, blocks)) == []


def test_every_step_of_a_cycle_is_given_or_follows_from_its_block():
    """The steps that are blamed on a block do follow from it, for some event in between."""
    seen = 0
    for seed in range(fuzz.times(800)):
        rng = random.Random(seed)
        events = rng.randint(3, 7)
        pairs = [_pair(rng, events) for _ in range(rng.randint(2, 6))]
        blocks = tuple(networks._blocks(rng, events)) if rng.random() < 0.7 else ()
        network = plain(events, pairs, blocks)
        found = close(network)
        if isinstance(found, Network):
            assert set(brute.orders(found)) == set(brute.orders(network))
            continue
        seen += 1
        assert brute.orders(network) == [], seed
        following = (*found.events[1:], found.events[0])
        for a, b, number in zip(found.events, following, found.blocks, strict=True):
            if number is None:
                assert (a, b) in pairs
            else:
                block = blocks[number]
                one = block.members >> a & 1 and block.others >> b & 1
                other = block.members >> b & 1 and block.others >> a & 1
                assert one or other
    assert seen > 80


def test_further_order_is_closed_again_or_refused():
    for seed, network, _ in fuzz.instances(9_000_000, 600):
        if network.events > 7:
            continue
        rng = random.Random(seed)
        pair = _pair(rng, network.events)
        ordered = with_order(network, [pair])
        listed = brute.orders(network, (pair,))
        if ordered is None:
            assert listed == []
        else:
            assert set(brute.orders(ordered)) == set(listed)


def test_transposing_a_closed_order():
    for _, network, _ in fuzz.instances(9_100_000, 300):
        assert transpose_closed(network.before) == transpose(network.before)


@pytest.mark.parametrize(
    "network",
    [
        Network(2, (0,), (), 1, (1, 1)),
        Network(1, (0b10,), (), 1, (1,)),
        Network(1, (0,), (), 0, (0,)),
        Network(1, (0,), (), 1, (0b10,)),
        Network(2, (0, 0), (Block(0b11, 0b01),), 1, (1, 1)),
        Network(2, (0, 0), (Block(0b11, 0b100),), 1, (1, 1)),
        Network(1, (0,), (), 1, (1,), (Register(0, {3: 1}),)),
    ],
)
def test_numbers_out_of_range_are_refused(network):
    with pytest.raises(MalformedNetworkError):
        close(network)


# Counting. The formulas are those of any textbook on combinatorics (from memory): n! orders of n
# free events, a multinomial number of ways to interleave lists.


def test_free_events_have_n_factorial_orders():
    counted = count_runs(plain(40, []))
    assert (counted.number, counted.exact) == (factorial(40), True)


def test_lists_side_by_side_interleave():
    pairs = [(i, i + 1) for i in range(9)] + [(i, i + 1) for i in range(10, 19)]
    closed = close(plain(20, pairs))
    assert isinstance(closed, Network)
    assert count_runs(closed).number == factorial(20) // factorial(10) ** 2


def test_lists_in_one_go_are_permuted_whole_and_a_second_person_interleaves():
    lists = [[4 * k + i for i in range(4)] for k in range(10)]
    pairs = [(a, a + 1) for mine in lists for a in mine[:-1]] + [(40, 41)]
    bits = [sum(1 << e for e in mine) for mine in lists]
    blocks = tuple(Block(mine, sum(bits) & ~mine) for mine in bits)
    closed = close(plain(42, pairs, blocks))
    assert isinstance(closed, Network)
    counted = count_runs(closed)
    assert counted.exact
    assert counted.number == factorial(10) * factorial(42) // (factorial(40) * 2)


def test_counts_equal_the_number_of_listed_orders():
    exact = 0
    for seed, network, _ in fuzz.instances(9_200_000, fuzz.times(700)):
        if network.events > 8:
            continue
        listed = len(brute.orders(network))
        counted = count_runs(network)
        assert counted.exact and counted.number == listed, seed
        exact += 1
        bounded = count_runs(network, 4)
        assert bounded.number <= listed, seed
        assert not bounded.exact or bounded.number == listed, seed
    assert exact > 400
