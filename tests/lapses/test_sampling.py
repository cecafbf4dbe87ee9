"""Draws from ranges against what is known of them exactly: moments, quantiles, a fine grid."""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable

import pytest

from protocol_lang.lapses.sampling import HIGH, LOW, SAMPLES, Draws, Range

RATES = {
    "level": Range(0.2, 0.2, 0.2),
    "early": Range(0.1, 0.1, 0.4),
    "late": Range(0.22, 0.58, 0.58),
    "middle": Range(0.36, 0.6, 0.64),
}


def mean(rate: Range) -> float:
    """Of a triangular distribution (Evans, Hastings and Peacock, Statistical Distributions, from
    memory): a third of the sum of the three."""
    return (rate.least + rate.usual + rate.most) / 3


def variance(rate: Range) -> float:
    """The same source: (a^2 + b^2 + c^2 - ab - ac - bc) / 18."""
    a, c, b = rate.least, rate.usual, rate.most
    return (a * a + b * b + c * c - a * b - a * c - b * c) / 18


def density(rate: Range) -> Callable[[float], float]:
    a, c, b = rate.least, rate.usual, rate.most

    def at(x: float) -> float:
        if not a <= x <= b:
            return 0.0
        if x < c:
            return 2 * (x - a) / ((b - a) * (c - a))
        return 2 * (b - x) / ((b - a) * (b - c)) if c < b else 2 / (b - a)

    return at


def quantile(rate: Range, share: float) -> float:
    """By halving: the figure below which that share of the density lies, summed on a fine grid."""
    steps = 40_000
    width = (rate.most - rate.least) / steps
    at, total = density(rate), 0.0
    for number in range(steps):
        total += at(rate.least + (number + 0.5) * width) * width
        if total >= share:
            return rate.least + (number + 1) * width
    return rate.most


@pytest.mark.parametrize("name", RATES)
def test_a_rate_has_the_moments_of_its_triangle(name: str):
    draws = Draws(RATES).sums([((name,), 1)])
    spread = math.sqrt(variance(RATES[name]))
    assert float(draws.mean()) == pytest.approx(
        mean(RATES[name]), abs=1e-12 + 4 * spread / SAMPLES**0.5
    )
    assert float(draws.std()) == pytest.approx(spread, rel=0.03, abs=1e-12)
    assert RATES[name].least <= float(draws.min()) <= float(draws.max()) <= RATES[name].most


@pytest.mark.parametrize("name", ["early", "late", "middle"])
def test_nine_in_ten_of_one_rate(name: str):
    low, high = Draws(RATES).middle([((name,), 1)])
    wide = RATES[name].most - RATES[name].least
    assert low == pytest.approx(quantile(RATES[name], LOW), abs=0.02 * wide)
    assert high == pytest.approx(quantile(RATES[name], HIGH), abs=0.02 * wide)


def test_products_and_sums_of_independent_rates():
    """E(XY) = E(X)E(Y); E(X^2) = Var(X) + E(X)^2 where one rate is taken twice, which is what it
    means that all lapses of one sort share a draw; variances of independent sums add up."""
    draws = Draws(RATES)
    one, other = RATES["early"], RATES["middle"]
    both = draws.sums([(("early", "middle"), 1)])
    assert float(both.mean()) == pytest.approx(mean(one) * mean(other), rel=0.01)
    square = variance(one) + mean(one) ** 2
    twice = draws.sums([(("early", "early"), 1)])
    assert float(twice.mean()) == pytest.approx(square, rel=0.02)
    assert square > 1.03 * mean(one) ** 2  # so that a draw for each lapse would be told
    exact = (
        variance(one) * variance(other)
        + variance(one) * mean(other) ** 2
        + variance(other) * mean(one) ** 2
    )
    assert float(both.var()) == pytest.approx(exact, rel=0.05)
    added = draws.sums([(("late",), 3), (("middle",), 1)])
    assert float(added.mean()) == pytest.approx(3 * mean(RATES["late"]) + mean(other), rel=0.01)
    assert float(added.var()) == pytest.approx(
        9 * variance(RATES["late"]) + variance(other), rel=0.05
    )


def test_nine_in_ten_of_a_sum_of_products_by_quadrature():
    """Z = 2 X + X Y with X early and Y late, summed on a grid of both densities."""
    one, other = RATES["early"], RATES["late"]
    steps = 400
    weights: list[tuple[float, float]] = []
    for i in range(steps):
        x = one.least + (i + 0.5) * (one.most - one.least) / steps
        for j in range(steps):
            y = other.least + (j + 0.5) * (other.most - other.least) / steps
            weights.append((2 * x + x * y, density(one)(x) * density(other)(y)))
    weights.sort()
    whole = sum(weight for _, weight in weights)
    found: list[float] = []
    total = 0.0
    for value, weight in weights:
        total += weight
        if len(found) == 0 and total >= LOW * whole:
            found.append(value)
        if len(found) == 1 and total >= HIGH * whole:
            found.append(value)
    low, high = Draws(RATES).middle([(("early",), 2), (("early", "late"), 1)])
    assert low == pytest.approx(found[0], rel=0.02)
    assert high == pytest.approx(found[1], rel=0.02)


def test_the_same_on_every_machine():
    """The stream of bits is one that is kept: its first draws are written down here."""
    first = [f"{value:.12f}" for value in Draws(RATES).sums([(("middle",), 1)])[:3]]
    assert first == ["0.562766243237", "0.486456651218", "0.621724913755"]


def test_a_rate_is_drawn_the_same_whatever_stands_beside_it():
    alone = Draws({"middle": RATES["middle"]}).sums([(("middle",), 1)])
    assert (alone == Draws(RATES).sums([(("middle",), 1)])).all()


@pytest.mark.parametrize("words", [["lapses", "--help"], ["lapses", "nothing.protocol"]])
def test_numpy_waits_until_draws_are_asked_for(words: list[str]):
    code = (
        "import sys; from protocol_lang.cli import main\n"
        f"main({words!r})\n"
        "import protocol_lang.lapses.chances, protocol_lang.lapses.improving\n"
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True).returncode == 0
