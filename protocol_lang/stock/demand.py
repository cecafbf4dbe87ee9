"""How much to order: demand over a period, and what is added so that it is enough most of the time.

What visits take differs from visit to visit, and so may their number in a day. Over a period the
sum is taken to be normally distributed, with the mean and the variance of a sum of a random number
of independent terms:

    mean = E[N] E[X]        variance = E[N] Var[X] + Var[N] E[X]^2

(S. M. Ross, Introduction to Probability Models, conditional expectation and variance: the compound
random variable). The order is the mean and a safety stock of z standard deviations, z being the
quantile of the standard normal distribution at the service level (E. A. Silver, D. F. Pyke, D. J.
Thomas, Inventory and Production Management in Supply Chains: order up to a level, periodic review).
Both from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, sqrt
from statistics import NormalDist

from protocol_lang.supplied import Range

#: Less than this beyond a whole number is no piece more: it comes of reckoning with decimals.
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Demand:
    """What is expected, and by how much it varies."""

    mean: Fraction
    variance: Fraction

    def over(self, days: int) -> Demand:
        """Of so many days, each for itself."""
        return Demand(self.mean * days, self.variance * days)

    def plus(self, always: Fraction) -> Demand:
        """With what is needed whatever comes."""
        return Demand(self.mean + always, self.variance)


def of_one(parts: Iterable[tuple[Fraction, int]]) -> Demand:
    """What one visit takes: pairs of how often, and how many; the first of them add up to 1."""
    parts = tuple(parts)
    mean = sum((part * number for part, number in parts), Fraction())
    square = sum((part * number * number for part, number in parts), Fraction())
    return Demand(mean, square - mean * mean)


def of_a_day(one: Demand, visits: Range) -> Demand:
    """What the visits of a day take; each number of visits in the range is as likely as the next.

    The mean and variance of a discrete uniform distribution: (a + b) / 2, ((b - a + 1)^2 - 1) / 12.
    """
    many = Fraction(visits.least + visits.most, 2)
    varies = Fraction((visits.most - visits.least + 1) ** 2 - 1, 12)
    return Demand(many * one.mean, many * one.variance + varies * one.mean**2)


def safety(demand: Demand, service: Fraction) -> float:
    """What is added to the mean; ``service``: in which part of such periods it lasts, below 1."""
    return NormalDist().inv_cdf(float(service)) * sqrt(demand.variance)


def pieces(demand: Demand, added: float) -> int:
    """Mean and safety stock in whole pieces."""
    return ceil(float(demand.mean) + added - _NOTHING)


def boxes(number: int, boxes: Mapping[str, int], thing: str) -> tuple[int | None, int | None]:
    """How many are in a box of it, and how many boxes that is; None where nobody tells."""
    size = boxes.get(thing)
    return (None, None) if size is None else (size, -(-number // size))
