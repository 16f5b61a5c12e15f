"""How well the corner would be known with one more reading."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log

# Principled: with one depth on the left, or none on a side, the corner is not known at all; as good as infinite, but
# such that readings can still be compared by the other corners.
UNKNOWN = 1e3


def corner_variance(depths: Sequence[float], corners: Iterable[float], added: float) -> float:
    """Mean logarithm of the corner's variance with a reading at depth `added`, over corners that are possible.

    For a hinge with fall s below the corner k the variance is (sigma/s)² (1/nL + 1/nR + (k - xL)²/Sxx), where L are
    the readings below k (Hinkley, Biometrika 56, 1969, 495); sigma/s is the same for all that is compared.
    """
    readings = [*depths, added]
    return sum(log(_variance(readings, corner)) for corner in corners)


def _variance(depths: Sequence[float], corner: float) -> float:
    left = [depth for depth in depths if depth < corner]
    beyond = len(depths) - len(left)
    if len(left) < 2 or not beyond:
        return UNKNOWN
    mean = sum(left) / len(left)
    sxx = sum((depth - mean) ** 2 for depth in left)
    lever = (corner - mean) ** 2
    if sxx * UNKNOWN <= lever:
        return UNKNOWN
    return min(UNKNOWN, 1 / len(left) + 1 / beyond + lever / sxx)
