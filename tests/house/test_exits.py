"""The exit codes, and which one outweighs which."""

from __future__ import annotations

from itertools import permutations

import pytest

from protocol_lang.cli.exits import MEANINGS, ExitCode, weightiest


def test_every_code_has_its_number_and_a_meaning():
    assert [int(code) for code in MEANINGS] == [0, 1, 2, 3, 4]
    assert len(set(MEANINGS.values())) == 5


def test_precedence_is_3_2_1_4_0():
    order = [ExitCode(number) for number in (3, 2, 1, 4, 0)]
    for size in range(1, 6):
        for codes in permutations(order, size):
            assert weightiest(codes) == min(codes, key=order.index)


def test_no_parts_are_clear():
    assert weightiest([]) is ExitCode.CLEAR


@pytest.mark.parametrize("code", ExitCode)
def test_twice_the_same_is_the_same(code):
    assert weightiest([code, code]) is code
