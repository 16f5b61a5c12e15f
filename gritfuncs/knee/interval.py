"""All corners that the readings do not exclude: the exact profile set, as its hull.

A corner belongs to the set when the best fit with the corner there has a sum of squares of at most `limit`.
In each gap between two depths this is a quadratic inequality in the corner's place (Fieller, Journal of the
Royal Statistical Society B 16, 1954, 175), so the ends come from its roots.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from .hinge import Corner, level_line, on_reading, stick_at, straight_line
from .readings import Gap, Readings


class Hull(NamedTuple):
    """Lowest and highest corner not excluded; `high` is infinite where a line without one is not."""

    low: float
    high: float

    def joined(self, other: Hull) -> Hull:
        """The hull of both."""
        return Hull(min(self.low, other.low), max(self.high, other.high))


def hinge_hull(readings: Readings, best: Corner, limit: float) -> Hull:
    """The hull for the hinge, whose right side is level and whose left side falls."""
    first, last = readings.depths[0], readings.depths[-1]
    if level_line(readings).sse <= limit:
        return Hull(first, inf)
    spans: list[tuple[float, float]] = [(best.knee, best.knee)]
    # Below the second depth only one depth is left of the corner: every place there fits equally well.
    nearest = on_reading(readings, readings.gaps[0], readings.depths[1], 0.0)
    if nearest.slope > 0 and nearest.sse <= limit:
        spans.append((first, readings.depths[1]))
    for gap in readings.gaps[1:]:
        span = _hinge_span(readings, gap, limit)
        if span:
            spans.append(span)
    line = straight_line(readings)
    if line.slope > 0 and line.sse <= limit:
        spans.append((last, inf))
    return Hull(min(low for low, _ in spans), max(high for _, high in spans))


def _hinge_span(readings: Readings, gap: Gap, limit: float) -> tuple[float, float] | None:
    left, right = gap.left, gap.right
    start, stop = gap.lower, gap.upper
    # The fit falls where this product is positive; it changes sign once in the plane of all corners.
    drop = (left.y - right.y) * left.n * right.n / readings.n
    if drop > 0:
        start = max(start, left.x + left.sxy / drop)
    elif drop < 0:
        stop = min(stop, left.x + left.sxy / drop)
    elif left.sxy > 0:
        return None
    if start > stop:
        return None
    miss, slope = left.y - right.y, left.slope
    spare = limit - left.sse_line - right.syy
    give = 1 / left.n + 1 / right.n
    span = span_of(
        slope * slope - spare / left.sxx,
        slope * miss,
        miss * miss - spare * give,
        spare * (slope * slope * give + miss * miss / left.sxx - spare * give / left.sxx),
        start - left.x,
        stop - left.x,
    )
    return (left.x + span[0], left.x + span[1]) if span else None


def stick_hull(readings: Readings, best: Corner, limit: float) -> Hull:
    """The hull for the line with one corner and free slopes on both sides."""
    spans: list[tuple[float, float]] = [(best.knee, best.knee)]
    gaps = readings.gaps[1:-1]
    # Beyond the second depth from either end one slope rests on a single depth: any place fits equally well.
    if stick_at(gaps[0], gaps[0].lower).sse <= limit:
        spans.append((readings.depths[0], readings.depths[1]))
    if stick_at(gaps[-1], gaps[-1].upper).sse <= limit:
        spans.append((readings.depths[-2], readings.depths[-1]))
    for gap in gaps:
        span = _stick_span(gap, limit)
        if span:
            spans.append(span)
    return Hull(min(low for low, _ in spans), max(high for _, high in spans))


def _stick_span(gap: Gap, limit: float) -> tuple[float, float] | None:
    left, right = gap.left, gap.right
    apart = left.x - right.x
    bend = left.slope - right.slope
    miss = left.y - right.y - right.slope * apart
    spare = limit - left.sse_line - right.sse_line
    square = bend * bend - spare * (1 / left.sxx + 1 / right.sxx)
    half = miss * bend - spare * apart / right.sxx
    constant = miss * miss - spare * (1 / left.n + 1 / right.n + apart * apart / right.sxx)
    discriminant = half * half - square * constant
    span = span_of(square, half, constant, discriminant, gap.lower - left.x, gap.upper - left.x)
    return (left.x + span[0], left.x + span[1]) if span else None


def span_of(
    square: float, half: float, constant: float, discriminant: float, start: float, stop: float
) -> tuple[float, float] | None:
    """Hull of the t in [start, stop] with square t² + 2 half t + constant <= 0, whatever the signs."""

    def holds(t: float) -> bool:
        return (square * t + 2 * half) * t + constant <= 0

    places = [t for t in (start, stop) if holds(t)]
    if discriminant >= 0:
        root = sqrt(discriminant)
        larger = -(half + root) if half >= 0 else root - half
        if square:
            places.append(larger / square)
        if larger:
            places.append(constant / larger)
    inside = [t for t in places if start <= t <= stop]
    return (min(inside), max(inside)) if inside else None
