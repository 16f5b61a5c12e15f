"""`find_knee`: the verdict on the readings, and once more without the one that is most out of line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import inf

from .evidence import Evidence, checked_noise
from .hinge import fit_corner
from .quantiles import f1_quantile
from .readings import Readings, read
from .result import NOT_RESOLVED, TOO_FEW, Knee
from .thresholds import OUTLIER_CHANCE, ROUNDING
from .verdict import judge


def find_knee(depths: Iterable[float], energies: Iterable[float], *, noise: float | None = None) -> Knee:
    """Find the knee: the corner of the least-squares hinge u = level + slope * max(0, knee - h).

    Parameters
    ----------
    depths : grit depths h [µm], one a reading, in any order
    energies : specific energies [J/mm³]; net power or a bare load reading serve as well, because a factor or
        an offset does not move the knee (an offset changes what counts as a small fall, so the verdict may
        change)
    noise : reading-to-reading scatter as a share of the level (0.02 = 2 %), if known; without it, the scatter
        of repeated depths, or 1 % where there are fewer than three repeats

    Shares of the level need a level above zero.  Where it is not, the largest reading stands for it and the
    verdict is never `already level`.

    >>> knee = find_knee([0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3], [72, 64, 56, 48, 40, 40, 40, 40])
    >>> knee.verdict, round(knee.knee, 3)
    ('found', 1.0)
    """
    readings = read(depths, energies)
    if noise is not None:
        noise = checked_noise(noise)
    answer = judge(readings, noise)
    return answer if answer.verdict == TOO_FEW else _screen(readings, noise, answer)


def _screen(readings: Readings, noise: float | None, answer: Knee) -> Knee:
    """The answer after judging once more without the reading that is most out of line, if one is."""
    i = _outlier(readings, noise)
    if i is None:
        return answer
    number = readings.numbers[i]
    other = judge(readings.without(i), noise)
    moved = other.knee is not None and answer.knee is not None and not answer.low <= other.knee <= answer.high
    named = f"Reading {number + 1} is out of line with the others"
    if other.verdict == answer.verdict and not moved:
        harmless = f"{named}, but the verdict without it is the same."
        return replace(answer, suspect=number, reasons=answer.reasons + (harmless,))
    without = "the knee moves" if moved else f"the verdict is '{other.verdict}'"
    return replace(
        answer,
        verdict=NOT_RESOLVED,
        suspect=number,
        advice=f"repeat reading {number + 1}",
        reasons=(f"{named}; without it {without}, with it '{answer.verdict}'.",),
        knee=None,
        low=None,
        high=None,
        level=None,
        slope=None,
        definition_allowance=None,
    )


def _outlier(readings: Readings, noise: float | None) -> int | None:
    """Position, in order of depth, of the reading whose removal improves the fit beyond chance."""
    trial = Evidence.of(readings, noise)
    needed = f1_quantile(1 - OUTLIER_CHANCE / readings.n, readings.n - 4)

    def improves(sse: float) -> bool:
        return trial.hinge.sse - sse > needed * trial.variance(sse, 4)

    if not improves(_least_without_one(readings)):
        return None  # as in most trials, and without a fit for each reading
    sse, best = min((fit_corner(readings.without(i)).sse, i) for i in range(readings.n))
    return best if improves(sse) else None


def _least_without_one(readings: Readings) -> float:
    """What no hinge can fall below without one reading: a line and a level that need not meet, on the sides of a gap.

    When a reading goes, the squares fall by residual² / (1 - leverage); one with leverage 1 has no residual.
    """
    least = inf
    for gap, end in zip(readings.gaps, readings.ends):
        left, right = gap.left, gap.right
        slope, pull = (left.slope, 1 / left.sxx) if left.sxx else (0.0, 0.0)
        residuals = [
            (u - left.y - slope * (h - left.x), 1 - 1 / left.n - pull * (h - left.x) ** 2)
            for h, u in zip(readings.h[:end], readings.u)
        ]
        residuals += [(u - right.y, 1 - 1 / right.n) for u in readings.u[end:]]
        falls = [residual * residual / free for residual, free in residuals if free > ROUNDING]
        least = min(least, left.syy - slope * left.sxy + right.syy - max(falls, default=0.0))
    return least
