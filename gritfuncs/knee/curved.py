"""The fall taken as curved: u = level + slope knee/2 ((knee/h)² - 1) up to the knee, level beyond it.

Real falls are seldom straight.  Over x = 2 - (h1/h)², with h1 the lowest depth, this curve is a straight line that ends in
a level, so its fit and its interval are exact as well.  The square is a convention: by simulation 1/h³ serves as well, and
falls in between need no more, because the interval holds the corners of the straight fall and of the curved one.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from . import thresholds
from .evidence import Evidence
from .hinge import Corner, fit_corner
from .interval import Hull, hinge_hull
from .quantiles import f1_quantile


class CurvedFall(NamedTuple):
    """The corner of a curved fall that the readings do not exclude."""

    knee: float
    level: float
    slope: float  # fall per µm just below the knee
    sse: float
    hull: Hull  # of all its corners that are not excluded
    limit: float  # squares above which a fit, curved or straight, is excluded


def rise(slope: float, knee: float, depth: float) -> float:
    """Energy above the level at a depth below the knee."""
    return slope * knee / 2 * ((knee / depth) ** 2 - 1)


def curved_fall(trial: Evidence, straight: Corner) -> CurvedFall | None:
    """The curved fall beside the straight one that was fitted, or None where the readings exclude it."""
    readings = trial.readings
    first = readings.depths[0]

    def depth(place: float) -> float:
        return first / sqrt(2.0 - place) if place < 2.0 else inf

    over = readings.over(lambda depth: 2.0 - (first / depth) ** 2)
    fit = fit_corner(over)
    least = min(fit.sse, straight.sse)
    limit = least + f1_quantile(thresholds.CONFIDENCE, readings.n - 3) * trial.variance(least, 3)
    if fit.slope <= 0 or fit.sse > limit:
        return None
    knee, hull = depth(fit.knee), hinge_hull(over, fit, limit)
    slope = 2 * fit.slope * first**2 / knee**3
    return CurvedFall(knee, fit.level, slope, fit.sse, Hull(depth(hull.low), depth(hull.high)), limit)
