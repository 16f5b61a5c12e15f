"""Scatter known from before: that of a machine's earlier trials, pooled, is worth more than that of the next trial alone."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum, sqrt
from typing import NamedTuple

from ..quantities import items_of, number_in, shown
from .evidence import checked_noise

# Convention, from simulation: from so many degrees of freedom on the pooled scatter is a better guess than that of a new trial.
ENOUGH_FREEDOM = 8


class PooledNoise(NamedTuple):
    """Reading-to-reading scatter of several trials."""

    noise: float  # share of the level
    freedom: float  # degrees of freedom behind it

    @property
    def known(self) -> float | None:
        """The scatter as `noise` of the next trial on this machine; None while too little is behind it."""
        return self.noise if self.freedom >= ENOUGH_FREEDOM else None


def pooled_noise(trials: Iterable[tuple[float, float]]) -> PooledNoise:
    """The scatter of one machine from its last trials: sqrt(Σ ν s² / Σ ν).

    trials : (scatter as a share of the level, degrees of freedom) of each, as `Knee.noise` and `Knee.noise_freedom` have them

    >>> pooled_noise([(0.01, 6), (0.02, 6)])
    PooledNoise(noise=0.015811388300841896, freedom=12.0)
    """
    listed = items_of(trials)
    if not listed:
        raise ValueError(f"trials must be a list of pairs of scatter and degrees of freedom (got {shown(trials)})")
    pairs = []
    for trial in listed:
        pair = items_of(trial)
        if pair is None or len(pair) != 2 or not 0 < (number_in(pair[1]) or 0) < float("inf"):
            raise ValueError(f"trials must be pairs of scatter and degrees of freedom > 0 (got {shown(trial)})")
        pairs.append((checked_noise(pair[0]), float(pair[1])))
    freedom = fsum(each for _, each in pairs)
    return PooledNoise(sqrt(fsum(each * noise * noise for noise, each in pairs) / freedom), freedom)
