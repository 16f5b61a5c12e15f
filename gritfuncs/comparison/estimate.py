"""Values with their 95 % intervals, which need not be symmetric, and the interval of a difference or ratio of two.

Square-and-add, called MOVER (method of variance estimates recovery): the distance of each end of the difference is the root of
the squares of the distances of the two ends that it comes from.  Zou and Donner, Construction of confidence limits about effect
measures: a general approach, Statistics in Medicine 27, 2008, 1693 (from memory).  It keeps an interval's lean, where a mean of
both halves would not.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, hypot, inf, log, sqrt
from statistics import fmean
from typing import NamedTuple

from ..knee import Knee
from ..knee.quantiles import t_quantile
from ..knee.result import found_in

TWO_SIDED = 0.975


class Estimate(NamedTuple):
    """A value and the ends of its 95 % interval."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Estimate:
        return Estimate(self.value * factor, self.low * factor, self.high * factor)

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


def difference(one: Estimate, other: Estimate) -> Estimate:
    """One less the other, of independent trials."""
    value = one.value - other.value
    low = value - hypot(one.value - one.low, other.high - other.value)
    return Estimate(value, low, value + hypot(one.high - one.value, other.value - other.low))


def ratio(one: Estimate, other: Estimate) -> Estimate:
    """One over the other, both above 0: their difference as logarithms."""
    apart = difference(Estimate(*map(log, one)), Estimate(*map(log, other)))
    return Estimate(*map(exp, apart))


def knee_estimate(knee: Knee) -> Estimate | None:
    """The knee with its stated interval, which allows for curves that are rounded; None where none was found."""
    found = found_in(knee)
    return None if found is None else Estimate(found.knee, found.low, found.high)


def level_estimate(knee: Knee, depths: Sequence[float], energies: Sequence[float]) -> Estimate | None:
    """The level with its interval; None where that reaches down to 0.

    Where the left side has a free slope and corner, the level rests on the n readings beyond the corner alone: t s / sqrt(n).
    A rounded curve lifts those next to the corner, and which of them count changes with it: so the interval also holds that of
    the mean beyond the upper end of the knee's interval.
    """
    found = found_in(knee)
    if found is None or knee.noise is None:
        return None
    wide = t_quantile(TWO_SIDED, knee.noise_freedom) * knee.noise * found.level
    low, high = inf, -inf
    for start, level in ((found.knee, found.level), (found.high, None)):
        beyond = [energy for depth, energy in zip(depths, energies) if depth >= start]
        if beyond:
            middle, half = fmean(beyond) if level is None else level, wide / sqrt(len(beyond))
            low, high = min(low, middle - half), max(high, middle + half)
    return Estimate(found.level, low, high) if 0 < low <= found.level <= high else None
