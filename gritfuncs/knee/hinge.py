"""Exact least-squares fits of a line with one corner.

Between two neighbouring depths the readings left and right of the corner stay the same, so the best corner
there has a closed form; where it falls outside the gap, the best one lies on a reading (Hudson, Journal of
the American Statistical Association 61, 1966, 1097).  Trying all gaps and all readings is therefore exact: no
start values, no iteration, no local optimum.
"""

from __future__ import annotations

from math import fsum
from typing import NamedTuple

from .readings import Gap, Readings
from .thresholds import ROUNDING


class Corner(NamedTuple):
    """u = level + slope * (knee - h) below the knee, level + right_slope * (knee - h) beyond it."""

    knee: float
    level: float  # the value at the corner
    slope: float  # fall per µm below the knee
    right_slope: float  # fall per µm beyond it
    sse: float


def _with_residuals(readings: Readings, corner: Corner) -> Corner:
    """The corner with its sum of squares from the residuals, which keeps its digits when the fit is close."""
    knee, level, slope, right_slope, _ = corner
    residuals = [u - (level + (slope if h < knee else right_slope) * (knee - h)) for h, u in zip(readings.h, readings.u)]
    return Corner(knee, level, slope, right_slope, fsum([residual * residual for residual in residuals]))


def level_line(readings: Readings) -> Corner:
    """No fall at all.  The knee is the lowest depth by convention."""
    return _with_residuals(readings, Corner(readings.depths[0], readings.all.y, 0.0, 0.0, 0.0))


def straight_line(readings: Readings) -> Corner:
    """A line without a corner, written as one whose corner is the last depth."""
    whole, last = readings.all, readings.depths[-1]
    level = whole.y + whole.slope * (last - whole.x)
    return _with_residuals(readings, Corner(last, level, -whole.slope, 0.0, 0.0))


def fit_corner(readings: Readings, ratio: float = 0.0) -> Corner:
    """The best falling corner with a fixed ratio of the slopes; 0 is the hinge with its level right side.

    A straight line wins ties with any corner, the level line with anything.
    """
    line = straight_line(readings)
    best: Corner | None = None
    for candidate in _candidates(readings, ratio):
        if candidate.slope > 0 and (best is None or candidate.sse < best.sse):
            best = candidate
    if best is not None:
        best = _with_residuals(readings, best)
    tie = ROUNDING * readings.all.syy
    if line.slope > 0 and (best is None or line.sse <= best.sse + tie):
        best = line
    level = level_line(readings)
    return best if best is not None and best.sse < level.sse - tie else level


def _candidates(readings: Readings, ratio: float):
    for gap in readings.gaps:
        yield on_reading(readings, gap, gap.upper, ratio)
        inside = _in_gap(gap, ratio)
        if inside is not None:
            yield inside


def on_reading(readings: Readings, gap: Gap, knee: float, ratio: float) -> Corner:
    """The best fit with the corner at a given place of the gap, its ends included."""
    left, right = gap.left, gap.right
    shared = left.n * right.n / readings.n
    rise = (knee - left.x) - ratio * (knee - right.x)
    szz = left.sxx + ratio * ratio * right.sxx + shared * rise * rise
    szy = shared * rise * (left.y - right.y) - left.sxy - ratio * right.sxy
    slope = szy / szz
    mean = (left.n * (knee - left.x) + right.n * ratio * (knee - right.x)) / readings.n
    return Corner(knee, readings.all.y - slope * mean, slope, ratio * slope, readings.all.syy - szy * slope)


def _in_gap(gap: Gap, ratio: float) -> Corner | None:
    """The free optimum of a gap, when it lies inside."""
    left, right = gap.left, gap.right
    szz = left.sxx + ratio * ratio * right.sxx
    szy = -(left.sxy + ratio * right.sxy)
    if szy <= 0 or szz <= 0:
        return None
    slope = szy / szz
    knee = ((left.y - right.y) / slope + left.x - ratio * right.x) / (1.0 - ratio)
    if not gap.lower <= knee <= gap.upper:
        return None
    level = right.y - ratio * slope * (knee - right.x)
    return Corner(knee, level, slope, ratio * slope, left.syy + right.syy - szy * slope)


def fit_stick(readings: Readings) -> Corner:
    """The best line with one corner and free slopes on both sides (four parameters; needs five depths)."""
    candidates: list[Corner] = []
    for gap in readings.gaps[1:-1]:
        left, right = gap.left, gap.right
        bend = left.slope - right.slope
        places = [gap.lower, gap.upper]
        if bend:
            crossing = left.x + (right.y - left.y + right.slope * (left.x - right.x)) / bend
            if gap.lower < crossing < gap.upper:
                places.append(crossing)
        candidates += [stick_at(gap, knee) for knee in places]
    return _with_residuals(readings, min(candidates, key=lambda candidate: candidate.sse))


def stick_at(gap: Gap, knee: float) -> Corner:
    """The best fit with free slopes whose lines meet at a given place of the gap."""
    left, right = gap.left, gap.right
    miss = left.y + left.slope * (knee - left.x) - right.y - right.slope * (knee - right.x)
    give = 1 / left.n + 1 / right.n + (knee - left.x) ** 2 / left.sxx + (knee - right.x) ** 2 / right.sxx
    pull = miss / give
    left_slope = left.slope - pull * (knee - left.x) / left.sxx
    right_slope = right.slope + pull * (knee - right.x) / right.sxx
    level = left.y - pull / left.n + left_slope * (knee - left.x)
    return Corner(knee, level, -left_slope, -right_slope, left.sse_line + right.sse_line + miss * pull)
