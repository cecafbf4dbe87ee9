"""The checker of answers refuses every kind of wrong answer."""

from __future__ import annotations

from dataclasses import replace as changed

import pytest

from protocol_lang.order import (
    Block,
    Carry,
    Found,
    Hop,
    Network,
    Question,
    Register,
    Stand,
    Way,
    WrongAnswerError,
    before_from_pairs,
    decide,
    replay,
    worlds_shown,
)
from tests.order import fuzz

# Event 0 soils, 1 cleans unless the register is 1, 2 passes on, 3 is hit; 4 writes the register.
WAYS = (
    (Way((), 0b11, {0: (0, 1)}),),
    (Way(((0, 0),), 0b11, {1: ()}),),
    (Way((), 0b11, {1: (1, 2)}),),
    (Way((), 0b11, {}, {2: (7,)}),),
    (),
)
NETWORK = Network(
    5,
    before_from_pairs(5, [(0, 2)]),
    (Block(0b01001, 0b10000),),
    2,
    (0b11, 0b01, 0b11, 0b11, 0b11),
    (Register(0, {4: 1}),),
)
QUESTION = Question(0b11, carry=Carry(3, WAYS), starts=frozenset({0}), targets=frozenset({7}))
ROUTE = (Hop(0, 0, 0, 1), Hop(2, 0, 1, 2), Hop(3, 0, 2, 2, 7))
GOOD = Found(0, (4, 0, 1, 2, 3), ROUTE)


def test_good_answers_are_accepted():
    replay(NETWORK, QUESTION, GOOD)
    replay(NETWORK, QUESTION, Found(1, (0, 1, 2, 3, 4), ROUTE))  # event 1 is absent there
    stand = changed(QUESTION, stands=(Stand(1, 0, frozenset({1})),), takes_place=0b10)
    replay(NETWORK, stand, GOOD)


@pytest.mark.parametrize(
    ("faulty", "sentence"),
    [
        (changed(GOOD, world=2), "no such world"),
        (changed(GOOD, order=(4, 0, 1, 2)), "not an order"),
        (changed(GOOD, order=(4, 2, 1, 0, 3)), "too early"),
        (changed(GOOD, order=(0, 4, 1, 2, 3)), "falls into a block"),
        (changed(GOOD, order=(0, 1, 2, 3, 4)), "ends the stay"),
        (changed(GOOD, route=()), "route is empty"),
        (changed(GOOD, route=ROUTE[1:]), "does not begin at a start"),
        (changed(GOOD, route=ROUTE[:-1]), "does not hit"),
        (changed(GOOD, route=(ROUTE[0], Hop(2, 1, 1, 2), ROUTE[2])), "acts another way"),
        (changed(GOOD, route=(ROUTE[0], Hop(2, 0, 1, 0), ROUTE[2])), "does not go there"),
        (changed(GOOD, route=(ROUTE[0], Hop(2, 0, 1, 1), ROUTE[2])), "a hop that stays"),
        (changed(GOOD, route=(ROUTE[0], ROUTE[2])), "not at position"),
        (changed(GOOD, route=(*ROUTE[:2], Hop(3, 0, 2, 2, 6))), "not one asked for"),
    ],
)
def test_faulty_answers_are_refused(faulty, sentence):
    with pytest.raises(WrongAnswerError, match=sentence):
        replay(NETWORK, QUESTION, faulty)


@pytest.mark.parametrize(
    ("question", "sentence"),
    [
        (changed(QUESTION, worlds=0b10), "not among those asked for"),
        (changed(QUESTION, precedes=((2, 1),)), "does not come before"),
        (changed(QUESTION, stands=(Stand(1, 0, frozenset({0})),)), "another value"),
    ],
)
def test_answers_to_another_question_are_refused(question, sentence):
    with pytest.raises(WrongAnswerError, match=sentence):
        replay(NETWORK, question, GOOD)


def test_an_absent_event_that_must_take_place_is_noticed():
    other = Found(1, (0, 1, 2, 3, 4), ROUTE)
    with pytest.raises(WrongAnswerError, match="does not take place"):
        replay(NETWORK, changed(QUESTION, takes_place=0b10), other)
    with pytest.raises(WrongAnswerError, match="does not take place"):
        replay(NETWORK, changed(QUESTION, stands=(Stand(1, 0, frozenset({0, 1})),)), other)


def test_all_worlds_at_once_are_those_that_replay_accepts_one_by_one():
    several = 0
    for seed, network, question in fuzz.instances(13_000_000, fuzz.times(2500)):
        answer = decide(network, question)
        if not isinstance(answer, Found):
            continue
        accepted = 0
        for world in range(network.worlds):
            try:
                replay(network, question, changed(answer, world=world))
            except WrongAnswerError:
                continue
            accepted |= 1 << world
        assert worlds_shown(network, question, answer) == accepted, seed
        several += accepted.bit_count() > 1
    assert several > 100
