"""How much is ordered: against published tables, a textbook's example and exact distributions."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import product
from math import erf, sqrt

import pytest

from protocol_lang.stock.demand import Demand, boxes, of_a_day, of_one, pieces, safety
from protocol_lang.supplied import Range


@pytest.mark.parametrize(
    ("percent", "z"),
    [("90", 1.282), ("95", 1.645), ("97.5", 1.960), ("99", 2.326)],
)
def test_quantiles_are_those_of_the_published_table(percent: str, z: float):
    """NIST/SEMATECH e-Handbook of Statistical Methods, table of the cumulative standard normal
    distribution: z of the usual levels (from memory)."""
    assert safety(Demand(Fraction(0), Fraction(1)), Fraction(percent) / 100) == pytest.approx(
        z, abs=0.0006
    )


def test_the_example_of_a_textbook():
    """S. Chopra, P. Meindl, Supply Chain Management, safety inventory for a given service level:
    weekly demand normal with mean 2,500 and standard deviation 500, two weeks: at 90 percent 906
    for safety; reordered at 6,000, 1,000 are for safety, and the level is 92 percent (from
    memory)."""
    weeks = Demand(Fraction(2_500), Fraction(500) ** 2).over(2)
    assert weeks.mean == 5_000
    assert sqrt(weeks.variance) == pytest.approx(707, abs=0.2)
    assert safety(weeks, Fraction(9, 10)) == pytest.approx(906, abs=0.5)
    level = (1 + erf(1_000 / sqrt(2 * weeks.variance))) / 2
    assert level == pytest.approx(0.92, abs=0.002)
    assert pieces(weeks, safety(weeks, Fraction(level))) == 6_000


def test_half_of_the_periods_need_nothing_for_safety():
    assert safety(Demand(Fraction(10), Fraction(4)), Fraction(1, 2)) == pytest.approx(0)


def test_of_one_visit():
    """Three gloves in 60 percent, two in the rest: mean 2.6; variance 0.6 times 0.4."""
    one = of_one([(Fraction(6, 10), 3), (Fraction(4, 10), 2)])
    assert one == Demand(Fraction(26, 10), Fraction(24, 100))


@pytest.mark.parametrize("visits", [Range(1, 1), Range(3, 3), Range(2, 4), Range(1, 4)])
def test_a_day_is_the_sum_over_all_numbers_of_visits(visits: Range):
    """Mean and variance of the random sum, worked out over every outcome."""
    parts = [(Fraction(1, 5), 0), (Fraction(1, 2), 2), (Fraction(3, 10), 5)]
    outcomes = distribution(parts, visits)
    mean = sum((chance * total for total, chance in outcomes.items()), Fraction())
    square = sum((chance * total * total for total, chance in outcomes.items()), Fraction())
    assert sum(outcomes.values()) == 1
    assert of_a_day(of_one(parts), visits) == Demand(mean, square - mean * mean)


def distribution(parts, visits: Range) -> dict[int, Fraction]:
    """How likely each total is, by going through everything that can happen."""
    found: dict[int, Fraction] = defaultdict(Fraction)
    numbers = range(visits.least, visits.most + 1)
    for number in numbers:
        for outcome in product(parts, repeat=number):
            chance = Fraction(1, len(numbers))
            for part, _ in outcome:
                chance *= part
            found[sum(many for _, many in outcome)] += chance
    return dict(found)


def summed(one: dict[int, float], days: int) -> dict[int, float]:
    """The distribution of a sum of so many days."""
    found = {0: 1.0}
    for _ in range(days):
        further: dict[int, float] = defaultdict(float)
        for total, chance in found.items():
            for more, its in one.items():
                further[total + more] += chance * its
        found = dict(further)
    return found


@pytest.mark.parametrize("percent", [90, 95, 99])
@pytest.mark.parametrize("visits", [Range(4, 4), Range(3, 5)])
def test_the_order_lasts_as_often_as_it_should(percent: int, visits: Range):
    """The exact distribution of twenty days: the normal one comes within a percent of it."""
    parts = [(Fraction(6, 10), 3), (Fraction(3, 10), 2), (Fraction(1, 10), 7)]
    exact = summed({k: float(v) for k, v in distribution(parts, visits).items()}, 20)
    demand = of_a_day(of_one(parts), visits).over(20)
    order = pieces(demand, safety(demand, Fraction(percent, 100)))
    lasts = sum(chance for total, chance in exact.items() if total <= order)
    assert lasts == pytest.approx(percent / 100, abs=0.012)


def test_a_certain_demand_is_ordered_as_it_is():
    demand = of_a_day(of_one([(Fraction(1), 3)]), Range(12, 12)).plus(Fraction(1)).over(20)
    assert demand == Demand(Fraction(740), Fraction(0))
    assert pieces(demand, safety(demand, Fraction(99, 100))) == 740


def test_boxes_are_whole():
    assert boxes(101, {"gloves": 50}, "gloves") == (50, 3)
    assert boxes(100, {"gloves": 50}, "gloves") == (50, 2)
    assert boxes(100, {"gloves": 50}, "wipe") == (None, None)
