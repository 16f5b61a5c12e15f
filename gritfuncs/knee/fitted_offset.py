"""The hinge with a load P0 that does not go with the removal rate q fitted beside it: u = level + slope max(0, knee - h) + P0/q.

Level and P0 are projected out (M: what is left of a column after 1 and 1/q).  Between two neighbouring depths the fall's column is
t a + b, with t the place of the corner, a = M 1_L, b = -M (h - lower)_L over the readings L at lower depths, so that the sum of
squares at t is y.y - (t a.y + b.y)²/|t a + b|², its best place t = (b.y a.b - a.y b.b)/(a.y a.b - b.y a.a), and the corners that
the readings do not exclude follow from a quadratic inequality.  No start values, no iteration; n - 4 degrees of freedom.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, sqrt
from typing import NamedTuple

from . import thresholds
from .interval import Hull, span_of
from .offset import inverse_rates, residual
from .quantiles import f1_quantile
from .readings import Readings, numbered


class OffsetFit(NamedTuple):
    """The best corner with the offset beside it."""

    knee: float
    slope: float
    sse: float
    offset: float  # energy at the median removal rate
    error: float  # its standard error


class _Gap(NamedTuple):
    """The fall's column t a + b in a gap, by its products with itself and with the energies."""

    lower: float
    width: float
    aa: float
    ab: float
    bb: float
    ay: float
    by: float

    def slope(self, t: float) -> float:
        size = (self.aa * t + 2 * self.ab) * t + self.bb
        return (t * self.ay + self.by) / size if size > 0 else 0.0

    def gain(self, t: float) -> float:
        """By how much the fall lowers the squares; 0 where it would be a rise."""
        slope = self.slope(t)
        return slope * (t * self.ay + self.by) if slope > 0 else 0.0


class OffsetModel:
    """Readings with 1/q, and what is left of everything after a level and an offset."""

    def __init__(self, depths: Sequence[float], energies: Sequence[float], rates: Sequence[float]):
        self.readings: Readings = numbered(depths, energies)
        order = self.readings.numbers
        self.inverse = [inverse_rates(rates)[number] for number in order]
        self.ones = [1.0] * len(order)
        self.y = self._left(self.readings.u)
        self.squares = _dot(self.y, self.y)
        self.gaps = [self._gap(gap.lower, gap.upper, end) for gap, end in zip(self.readings.gaps, self.readings.ends)]

    def _left(self, column: Sequence[float]) -> list[float]:
        return residual(column, [self.ones, self.inverse])

    def _gap(self, lower: float, upper: float, end: int) -> _Gap:
        n, h = self.readings.n, self.readings.h
        a = self._left([1.0] * end + [0.0] * (n - end))
        b = self._left([lower - depth for depth in h[:end]] + [0.0] * (n - end))
        return _Gap(lower, upper - lower, _dot(a, a), _dot(a, b), _dot(b, b), _dot(a, self.y), _dot(b, self.y))

    def fit(self) -> OffsetFit | None:
        """The best falling corner; None where nothing falls."""
        best: tuple[float, _Gap, float] | None = None
        for gap in self.gaps:
            places = [gap.width]
            below = gap.ay * gap.ab - gap.by * gap.aa
            if below:
                places.append((gap.by * gap.ab - gap.ay * gap.bb) / below)
            for t in places:
                if 0 <= t <= gap.width and gap.gain(t) > 0 and (best is None or gap.gain(t) > best[0]):
                    best = (gap.gain(t), gap, t)
        if best is None:
            return None
        gain, gap, t = best
        knee, slope = gap.lower + t, gap.slope(t)
        below_knee = [1.0 if depth < knee else 0.0 for depth in self.readings.h]
        fall = [max(0.0, knee - depth) for depth in self.readings.h]
        sse = max(0.0, self.squares - gain)
        # The offset of the best fit; its error allows for the corner's, whose column is that of the readings below it.
        rest = [u - slope * each for u, each in zip(self.readings.u, fall)]
        alone = residual(self.inverse, [self.ones])
        free = residual(self.inverse, [self.ones, fall, below_knee])
        size = _dot(free, free)
        error = sqrt(sse / max(1, self.readings.n - 4) / size) if size > 0 else inf
        return OffsetFit(knee, slope, sse, _dot(alone, rest) / _dot(alone, alone), error)

    def hull(self, fit: OffsetFit, variance: float) -> Hull:
        """Lowest and highest corner that the readings do not exclude; infinite where a line without one is not."""
        first = self.readings.depths[0]
        limit = fit.sse + f1_quantile(thresholds.CONFIDENCE, self.readings.n - 4) * variance
        line = self._left(self.readings.h)
        falls = -_dot(line, self.y)
        straight = self.squares - falls * falls / _dot(line, line) if falls > 0 else self.squares
        if self.squares <= limit:
            return Hull(first, inf)
        low, high = fit.knee, fit.knee
        if self.gaps[0].gain(self.gaps[0].width) >= self.squares - limit:
            low = first  # with one depth left of the corner every place there fits equally well
        for gap in self.gaps[1:]:
            span = _span(gap, self.squares - limit)
            if span:
                low, high = min(low, gap.lower + span[0]), max(high, gap.lower + span[1])
        if falls > 0 and straight <= limit:
            high = inf
        return Hull(max(first, low), high)


def _span(gap: _Gap, needed: float) -> tuple[float, float] | None:
    """The places t of a gap where a fall lowers the squares by at least what is needed."""
    start, stop = 0.0, gap.width
    if gap.ay > 0:
        start = max(start, -gap.by / gap.ay)
    elif gap.ay < 0:
        stop = min(stop, -gap.by / gap.ay)
    elif gap.by <= 0:
        return None
    if start > stop:
        return None
    square = needed * gap.aa - gap.ay * gap.ay
    half = needed * gap.ab - gap.ay * gap.by
    constant = needed * gap.bb - gap.by * gap.by
    return span_of(square, half, constant, half * half - square * constant, start, stop)


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(a * b for a, b in zip(one, other))
