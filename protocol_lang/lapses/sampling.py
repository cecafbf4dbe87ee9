"""Draws from the ranges of rates, by numpy: how far sums of products of rates may lie.

A rate is drawn from the triangle over its range, with its peak at the usual rate: no more is known
of it than these three figures. One draw of a rate is taken for all lapses of its sort, so a rate
that is high is high for all of them (lapses of one sort do not even each other out). Different
rates are drawn independently.

The bits come from PCG64, whose stream numpy keeps the same in every version (as it does not for
draws from distributions), so reports stay the same: each rate has a stream of its own, told by its
name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zlib import crc32

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

#: Draws from the ranges of the rates, and where they begin: the same on every machine.
SAMPLES = 20_000
SEED = 20_261

#: Between these shares of the draws lie nine in ten.
LOW, HIGH = 0.05, 0.95


@dataclass(frozen=True, slots=True)
class Range:
    """A rate: shares of 1, ``least`` <= ``usual`` <= ``most``."""

    least: float
    usual: float
    most: float


class Draws:
    """Draws of some rates, by name, and what sums of their products come to."""

    def __init__(self, rates: Mapping[str, Range], samples: int = SAMPLES) -> None:
        self._samples = samples
        self._drawn = {name: _drawn(name, rate, samples) for name, rate in rates.items()}

    def sums(self, products: Iterable[tuple[tuple[str, ...], int]]) -> NDArray[float64]:
        """For each draw the sum of the products of these rates, each taken so many times."""
        import numpy

        total = numpy.zeros(self._samples)
        for names, times in products:
            product = numpy.full(self._samples, float(times))
            for name in names:
                product *= self._drawn[name]
            total += product
        return total

    def middle(self, products: Iterable[tuple[tuple[str, ...], int]]) -> tuple[float, float]:
        """Between which figures nine in ten of the draws of such a sum lie."""
        import numpy

        low, high = numpy.quantile(self.sums(products), (LOW, HIGH))
        return float(low), float(high)


def _drawn(name: str, rate: Range, samples: int) -> NDArray[float64]:
    """Draws from the triangle over the range, by the inverse of its distribution function."""
    import numpy

    bits = numpy.random.PCG64(numpy.random.SeedSequence((SEED, crc32(name.encode()))))
    raw = numpy.asarray(bits.random_raw(samples), dtype=numpy.uint64)
    share = (raw >> numpy.uint64(11)).astype(numpy.float64) * 2.0**-53
    width = rate.most - rate.least
    if width == 0:
        return numpy.full(samples, rate.usual)
    up, down = rate.usual - rate.least, rate.most - rate.usual
    rising = rate.least + numpy.sqrt(share * width * up)
    falling = rate.most - numpy.sqrt((1 - share) * width * down)
    return numpy.where(share * width < up, rising, falling)
