"""Scatter known from before: that of a machine's earlier trials, pooled, is worth more than that of the next trial alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import fsum, sqrt
from typing import Any, NamedTuple

from ..values import items_of, number_in, shown
from .evidence import checked_noise

# Convention, from simulation: from so many degrees of freedom on the pooled scatter is a better guess than that of a new trial.
ENOUGH_FREEDOM = 8
# Convention: a machine changes; so many of its last trials count.
LAST_TRIALS = 10


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


def machine_noise(rows: Iterable[Mapping[str, Any]], machine: str) -> PooledNoise | None:
    """The scatter of a machine from rows of a record of knees; None where none of them tells it.

    rows : what the record holds, by the names of its columns: machine, scatter [% of the level], degrees_of_freedom and date; the
        ten last trials that have both numbers count, whatever the wheel and the material were
    machine : its name, capitals and outer spaces aside

    >>> rows = [dict(machine="G1", scatter=1.0, degrees_of_freedom=6), dict(machine="G2", scatter=5.0, degrees_of_freedom=6)]
    >>> machine_noise(rows, "g1")
    PooledNoise(noise=0.01, freedom=6.0)
    """
    known = [row for row in rows if _folded(row.get("machine")) == _folded(machine) and _tells(row)]
    dated = sorted(known, key=lambda row: str(row.get("date") or ""))[-LAST_TRIALS:]
    if not dated:
        return None
    return pooled_noise([(float(row["scatter"]) / 100, float(row["degrees_of_freedom"])) for row in dated])


def _folded(name: Any) -> str:
    return " ".join(str("" if name is None else name).split()).casefold()


def _tells(row: Mapping[str, Any]) -> bool:
    """Whether a row has a scatter and its degrees of freedom, as numbers that can be."""
    scatter, freedom = (number_in(row.get(name)) or 0.0 for name in ("scatter", "degrees_of_freedom"))
    return 0 < scatter < 100 and 0 < freedom < float("inf")
