from itertools import permutations

import pytest

from protocol_lang.chart.sheet import Draft, Hands, HandState, Sheet, rows, worst
from tests.chart.samples import intraoral


def test_worst_first():
    # The order that the design fixes: used glove, used bare hand, unknown, clean glove, clean bare.
    fixed = [
        HandState.USED_GLOVES,
        HandState.USED_BARE,
        HandState.UNKNOWN,
        HandState.CLEAN_GLOVES,
        HandState.CLEAN_BARE,
    ]
    ranks = [state.rank for state in fixed]
    assert ranks == sorted(ranks)
    for size in (1, 2, 3):
        for states in permutations(fixed, size):
            assert worst(states).state is fixed[min(fixed.index(state) for state in states)]


def test_where_orders_differ_used_hands_are_treated_as_used():
    assert worst([HandState.CLEAN_GLOVES, HandState.USED_GLOVES]).treat_as_used
    assert not worst([HandState.USED_GLOVES]).treat_as_used
    assert not worst([HandState.CLEAN_GLOVES, HandState.CLEAN_BARE]).treat_as_used
    assert Hands(HandState.UNKNOWN).treat_as_used
    with pytest.raises(ValueError):
        worst([])


def test_a_sheet_is_a_draft_unless_told_otherwise():
    sheet = Sheet("Anything", (), (), ())
    assert isinstance(sheet.mark, Draft)


@pytest.mark.parametrize("staffing", ["alone", "paired"])
def test_the_samples_number_through(staffing):
    numbers = [r.number for phase in intraoral(staffing).phases for r in rows(phase.items)]
    assert numbers == list(range(1, len(numbers) + 1))
