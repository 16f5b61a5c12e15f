"""`find_knee`: the verdict on the readings, and once more without the one that is most out of line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import inf, isfinite
from typing import NamedTuple

from .drift import (
    SURE,
    SURE_OF_WHOLE,
    USUAL_DRIFT,
    best_repeat,
    checked_drift,
    drift_range,
    joined,
    shows_drift,
    taken_off,
    without_drift,
    worth_repeating,
)
from .evidence import Evidence, checked_noise
from .fitted_offset import OffsetFit, OffsetModel
from .hinge import fit_corner
from .offset import checked_rates, inverse_rates, median, tells_offset
from .quantiles import f1_quantile
from .readings import Readings, checked, numbered
from .result import FOUND, TOO_FEW, Knee, found_in, not_resolved
from .sentence import READING, Sentence
from .thresholds import MAX_HALF_WIDTH, MAX_RANGE_SHARE, MIN_READINGS, OUTLIER_CHANCE, ROUNDING
from .verdict import judge

PAIRS = "read idle again, and repeat nominal depth with the infeed 1.5 times up and down, the rpm the other way"


def find_knee(
    depths: Iterable[float],
    energies: Iterable[float],
    *,
    noise: float | None = None,
    drift: float | None = None,
    removal_rates: Iterable[float] | None = None,
) -> Knee:
    """Find the knee: the corner of the least-squares hinge u = level + slope * max(0, knee - h).

    Parameters
    ----------
    depths : grit depths h [µm], one a reading; in any order, or with `drift` in the order taken
    energies : specific energies [J/mm³]; net power or a bare load reading serve as well, because a factor or
        an offset does not move the knee (an offset changes what counts as a small fall, so the verdict may
        change)
    noise : reading-to-reading scatter as a share of the level (0.02 = 2 %), if known; without it, the scatter
        of repeated depths, or 1 % where there are fewer than three repeats
    drift : drift that is usual from one reading to the next (standard deviation), as a share of the level a reading
        (0.004 = 0.4 %), for readings in the order taken: the drift that repeats of a depth show is taken off, and a knee
        that a drift could have made is `not resolved`; without it drift is not judged
    removal_rates : removal rate of each reading [mm³/(mm·s), or in any unit], where more than the rpm was stepped: a load that does
        not go with it, such as idle taken off wrongly, is fitted beside the knee (n - 4 degrees of freedom) where the readings can
        tell it from a fall, as two at one depth with the rates 1.5 times up and down do; else it is not

    Shares of the level need a level above zero.  Where it is not, the largest reading stands for it and the
    verdict is never `already level`.

    >>> knee = find_knee([0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3], [72, 64, 56, 48, 40, 40, 40, 40])
    >>> knee.verdict, round(knee.knee, 3)
    ('found', 1.0)
    """
    h, u = checked(depths, energies)
    if not h:
        raise ValueError("depths and energies must hold readings (got none)")
    noise = None if noise is None else checked_noise(noise)
    usual = checked_drift(drift)
    u, offset = without_offset(h, u, removal_rates)
    knee = judged(h, u, noise)
    if usual is not None and knee.verdict != TOO_FEW:
        knee = judged_with_drift(h, u, knee, usual, noise)
    return with_offset(knee, offset)


class TakenOff(NamedTuple):
    """A load that does not go with the removal rate, as it was fitted."""

    model: OffsetModel
    fit: OffsetFit
    middle: float  # removal rate at which it is an energy


def without_offset(
    h: Sequence[float], u: list[float], removal_rates: Iterable[float] | None
) -> tuple[list[float], TakenOff | None]:
    """The energies without a load that does not go with the removal rate, where the readings can tell it from a fall."""
    rates = checked_rates(removal_rates, len(h))
    if rates is None or len(h) < MIN_READINGS or not tells_offset(h, rates):
        return u, None
    model = OffsetModel(h, u, rates)
    fit = model.fit()
    if fit is None:
        return u, None
    taken = [energy - fit.offset * inverse for energy, inverse in zip(u, inverse_rates(rates))]
    return taken, TakenOff(model, fit, median(rates))


def with_offset(knee: Knee, offset: TakenOff | None) -> Knee:
    """The knee with an interval that allows for the offset that was taken off; `not resolved` where that is too wide."""
    if offset is None:
        return knee
    model, fit, middle = offset
    knee = replace(knee, offset=fit.offset * middle, offset_error=fit.error * middle)
    found = found_in(knee)
    if found is None:
        return knee
    variance = max(fit.sse / (model.readings.n - 4), ((knee.noise_floor or 0.0) * found.level) ** 2)
    hull = model.hull(fit, variance)
    low, high = min(hull.low, found.scatter_low), max(hull.high, found.scatter_high)
    widest = min(2 * MAX_HALF_WIDTH * found.knee, MAX_RANGE_SHARE * model.readings.span)
    if not isfinite(high) or low <= model.readings.places[1] or high - low > widest:
        seen = "A load that does not go with the removal rate, such as idle taken off wrongly, could have made the knee."
        return replace(not_resolved(knee), reasons=(seen, *knee.reasons[1:]), advice=PAIRS)
    return replace(knee, scatter_low=low, scatter_high=high, low=min(found.low, low), high=max(found.high, high))


NOT_JUDGED = "Drift was not judged: no rpm was read again half a trial later. Nominal again at the end of a trial shows it."


def knee_of_trial(
    depths: Iterable[float],
    energies: Iterable[float],
    *,
    noise: float | None = None,
    removal_rates: Iterable[float] | None = None,
) -> Knee:
    """The knee of a whole trial, as `find_knee` has it, from readings that stand in the order taken as far as one knows.

    Drift is judged where the repeats tell enough about it: the drift that they show is taken off, and a knee must be found with half
    a standard deviation of drift more and less as well.  Repeats side by side, as in rows sorted by rpm, tell nothing.
    """
    h, u = checked(depths, energies)
    u, offset = without_offset(h, u, removal_rates)
    knee = find_knee(h, u, noise=noise)
    if knee.verdict == TOO_FEW:
        return knee
    if shows_drift(h):
        return with_offset(judged_with_drift(h, u, knee, USUAL_DRIFT, noise, SURE_OF_WHOLE), offset)
    knee = replace(knee, reasons=(*knee.reasons, NOT_JUDGED)) if knee.verdict == FOUND else knee
    return with_offset(knee, offset)


def judged(h: Sequence[float], u: Sequence[float], noise: float | None) -> Knee:
    """The verdict on checked readings, drift aside."""
    readings = numbered(h, u)
    answer = judge(readings, noise)
    return answer if answer.verdict == TOO_FEW else _screen(readings, noise, answer)


def judged_with_drift(
    h: Sequence[float], u: Sequence[float], knee: Knee, usual: float, noise: float | None, sure: float = SURE
) -> Knee:
    """The verdict with the most likely drift taken off, on readings in the order taken that were judged without.

    A knee must be found with the least and with the largest possible drift too, and its interval holds those of both.
    """
    readings = numbered(h, u)
    drift = drift_range(readings, knee, usual)
    knee = taken_off(knee if drift.centre == 0 else judged(h, without_drift(u, drift.centre), noise), drift)
    found = found_in(knee)
    if found is None:
        return knee
    whole = joined(found, [judged(h, without_drift(u, end), noise) for end in drift.ends(sure)])
    if whole is not None:
        return replace(knee, low=whole.low, high=whole.high)
    seen = (
        f"A drift of {drift.shares(sure)} % of the level from one reading to the next is possible, and could have made the knee."
    )
    middle = (found.scatter_low + found.scatter_high) / 2
    repeat = best_repeat(h, worth_repeating(readings), [found.scatter_low, middle, found.scatter_high])
    return replace(not_resolved(knee), reasons=(seen, *knee.reasons[1:]), advice=Sentence(f"repeat {READING}", repeat))


def _screen(readings: Readings, noise: float | None, answer: Knee) -> Knee:
    """The answer after judging once more without the reading that is most out of line, if one is."""
    i = _outlier(readings, noise)
    if i is None:
        return answer
    number = readings.numbers[i]
    other = judge(readings.without(i), noise)
    found = found_in(answer)
    moved = other.knee is not None and found is not None and not found.low <= other.knee <= found.high
    named = f"{READING} is out of line with the others"
    if other.verdict == answer.verdict and not moved:
        harmless = Sentence(f"{named}, but the verdict without it is the same.", number)
        return replace(answer, suspect=number, reasons=answer.reasons + (harmless,))
    without = "the knee moves" if moved else f"the verdict is '{other.verdict}'"
    return replace(
        not_resolved(answer),
        suspect=number,
        advice=Sentence(f"repeat {READING}", number),
        reasons=(Sentence(f"{named}; without it {without}, with it '{answer.verdict}'.", number),),
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
