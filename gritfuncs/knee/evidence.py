"""The scatter of a trial, by which every test of the verdict is measured."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, sqrt

from ..values import number_in, shown
from .hinge import Corner, fit_corner
from .readings import Readings
from .thresholds import DEFAULT_NOISE, LEAST_LEVEL, MIN_REPEAT_FREEDOM, MINIMUM_NOISE, SMALLEST


def checked_noise(noise: float) -> float:
    """The noise a user states, as a float."""
    if not 0 < (number_in(noise) or 0) < 1:
        raise ValueError(f"noise must be > 0 and < 1, a share of the level, 0.02 for 2 % (got {shown(noise)})")
    return float(noise)


def _noise_floor(readings: Readings) -> float:
    """Scatter of the repeats relative to their mean, or the default where there are too few."""
    repeats = [group for group in readings.groups() if len(group) > 1]
    freedom = sum(len(group) - 1 for group in repeats)
    if freedom < MIN_REPEAT_FREEDOM:
        return DEFAULT_NOISE
    mean = fsum(u for group in repeats for u in group) / sum(map(len, repeats))
    if mean <= 0:
        return DEFAULT_NOISE
    squares = fsum((u - fsum(group) / len(group)) ** 2 for group in repeats for u in group)
    return max(MINIMUM_NOISE, sqrt(squares / freedom) / mean)


@dataclass(frozen=True)
class Evidence:
    """The readings with their fits, and the scatter that all tests use."""

    readings: Readings
    noise_floor: float
    hinge: Corner
    scale: float  # what shares are shares of: the level, or the largest reading
    positive: bool  # whether the level is far enough above zero to serve

    @classmethod
    def of(cls, readings: Readings, noise: float | None) -> Evidence:
        """The evidence of these readings, with the noise floor as given or else from the repeats."""
        hinge = fit_corner(readings)
        largest = max(SMALLEST, *map(abs, readings.u))
        positive = hinge.level > LEAST_LEVEL * largest
        scale = hinge.level if positive else largest
        return cls(readings, _noise_floor(readings) if noise is None else noise, hinge, scale, positive)

    def variance(self, sse: float, parameters: int) -> float:
        """Mean squared residual of a fit with so many parameters, at least the noise floor squared."""
        return max(sse / (self.readings.n - parameters), (self.noise_floor * self.scale) ** 2)

    @property
    def measure(self) -> str:
        """What shares are shares of, in words."""
        return "level" if self.positive else "largest reading"

    def share(self, fall: float) -> float:
        """A fall as a share of the level, or of the largest reading."""
        return fall / self.scale
