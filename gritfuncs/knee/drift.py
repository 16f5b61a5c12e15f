"""Drift from reading to reading: which drift the repeats leave possible, and whether it could have made the verdict.

A meter that warms or a wheel that dulls changes every reading a little more than the one before.  Readings that go outward
from nominal then bend a curve without a knee into a fall and a level.  What tells drift from depth is a reading at an rpm that
was read before; so a knee counts only when the verdict holds with every drift that such repeats leave possible.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import sqrt

from ..values import number_in, shown
from .hinge import fit_corner
from .readings import Readings, numbered
from .result import FoundKnee, Knee, found_in
from .thresholds import DEFAULT_NOISE, SAME_PLACE
from .variance import corner_variance

# Convention: what drift is usual before any repeat has told: its standard deviation, as a share of the level a reading.
USUAL_DRIFT = 0.004
# A smaller usual drift is as good as none, and counts as this one: the square of the least number there is would be 0.
LEAST_DRIFT = 1e-9
# Convention, from simulation: standard deviations of drift to both sides with which a verdict must hold; 2 lets fewer false
# knees by and costs half a reading more.
SURE = 1.64
# Convention, from simulation: the same for a trial that is looked at once, when it is whole: there a drift fakes a knee far more
# seldom than where every reading is followed by a look.
SURE_OF_WHOLE = 0.5
# Convention: a drift of more than two standard errors is named; one trial in twenty shows so much by chance.
NAMED = 2.0
# Convention: the scatter by which repeats are judged is kept within these shares of the level, against luck.
LEAST_SCATTER, MOST_SCATTER = 0.01, 0.05
# Convention: a reading is worth repeating when it tells at least this share of what the one that tells most would.
WORTH = 0.5
# Convention: readings whose order is not said to be that of time tell about drift when their repeats do so at least as well as one
# repeat half the trial later; repeats side by side may as well come from sorted rows.
ENOUGH_TIME = 1 / 8  # of the readings squared: squares of time within the repeats

COULD_BE_DRIFT = "drift could have made this verdict"


def checked_drift(drift: float | None) -> float | None:
    """The usual drift as a float; None where drift is not judged."""
    if drift is None:
        return None
    if not 0 < (number_in(drift) or 0) < 1:
        raise ValueError(
            f"drift must be > 0 and < 1, a share of the level a reading, {USUAL_DRIFT:g} for {100 * USUAL_DRIFT:g} %,"
            f" or None (got {shown(drift)})"
        )
    return max(float(drift), LEAST_DRIFT)


@dataclass(frozen=True)
class DriftRange:
    """The drift a reading that the repeats leave possible, in the unit of the readings."""

    centre: float  # most likely
    deviation: float  # standard deviation
    level: float  # what shares are shares of
    seen: float  # drift that the repeats show by themselves, 0 without any
    error: float  # its standard error; infinite without repeats

    @property
    def is_seen(self) -> bool:
        """Whether the repeats show more drift than chance does."""
        return abs(self.seen) > NAMED * self.error

    def words(self) -> str:
        """The drift that was seen, as words."""
        return f"the readings drift by {100 * self.seen / self.level:+.2g} % of the level from one to the next"

    def shares(self, sure: float = SURE) -> str:
        """The least and the largest drift that count as possible, in words."""
        least, most = (100 * end / self.level for end in self.ends(sure))
        return f"{least:+.2g} to {most:+.2g}"

    def ends(self, sure: float = SURE) -> tuple[float, float]:
        """The least and the largest drift that count as possible, so many standard deviations from the most likely one."""
        return self.centre - sure * self.deviation, self.centre + sure * self.deviation


def drift_range(readings: Readings, knee: Knee, usual: float) -> DriftRange:
    """The drift of readings that are numbered in the order taken, with the verdict on them and the drift that is usual.

    Least squares of time within the readings at one depth, each depth with a level of its own; the usual drift stands beside it as
    a normal prior.  Depths that hardly differ count as one; what they differ by is taken off along the fit.
    """
    level = knee.level if knee.level is not None and knee.level > 0 else min(readings.u)
    if level <= 0:
        level = max(map(abs, readings.u)) or 1.0
    scatter = level * min(MOST_SCATTER, max(LEAST_SCATTER, knee.noise or DEFAULT_NOISE))
    fit, squares, products = fit_corner(readings), _squares_of_time(readings), 0.0
    for place in _places(readings):
        times = [readings.numbers[i] for i in place]
        middle = sum(times) / len(times)
        products += sum(
            (time - middle) * (readings.u[i] - fit.slope * max(0.0, fit.knee - readings.h[i])) for time, i in zip(times, place)
        )
    known, prior = squares / scatter**2, (usual * level) ** -2
    seen = products / squares if squares else 0.0
    return DriftRange(
        seen * known / (known + prior), 1 / sqrt(known + prior), level, seen, scatter / sqrt(squares) if squares else float("inf")
    )


def shows_drift(depths: Sequence[float]) -> bool:
    """Whether readings at these depths, in the order taken, have repeats that are far enough apart to judge drift by."""
    readings = numbered(depths, depths)
    return _squares_of_time(readings) >= ENOUGH_TIME * readings.n**2


def without_drift(energies: Sequence[float], drift: float) -> list[float]:
    """The readings, in the order taken, with a drift a reading taken off about the middle of the trial."""
    middle = (len(energies) - 1) / 2
    return [energy - drift * (number - middle) for number, energy in enumerate(energies)]


def taken_off(knee: Knee, drift: DriftRange) -> Knee:
    """The verdict on readings without their most likely drift, which says so."""
    if drift.is_seen:
        words = drift.words()
        knee = replace(knee, reasons=(*knee.reasons, f"{words[0].upper()}{words[1:]}, which is taken off."))
    return replace(knee, drift=drift.centre / drift.level, drift_deviation=drift.deviation / drift.level)


def joined(knee: FoundKnee, others: Sequence[Knee]) -> FoundKnee | None:
    """The knee with an interval that holds those of the others; None where one of them was not found."""
    low, high = knee.low, knee.high
    for other in (found_in(each) for each in others):
        if other is None:
            return None
        low, high = min(low, other.low), max(high, other.high)
    return knee._replace(low=low, high=high)


def worth_repeating(readings: Readings, allowed: Callable[[int], bool] = lambda number: True) -> list[int]:
    """Numbers of readings whose repeat would tell much about drift: the first one at each of these depths."""
    tells = {}
    for place in _places(readings):
        times = [readings.numbers[i] for i in place]
        if allowed(min(times)):
            tells[min(times)] = len(times) / (len(times) + 1) * (readings.n - sum(times) / len(times)) ** 2
    most = max(tells.values(), default=0.0)
    return sorted(number for number, gain in tells.items() if gain >= WORTH * most)


def best_repeat(h: Sequence[float], numbers: Sequence[int], corners: Sequence[float]) -> int:
    """The number of the reading whose repeat narrows the corner most."""
    return min(numbers, key=lambda number: (corner_variance(h, corners, h[number]), number))


def _places(readings: Readings) -> list[list[int]]:
    """Positions, in order of depth, of the readings at each depth; depths that hardly differ count as one."""
    places: list[list[int]] = []
    for i, depth in enumerate(readings.h):
        if places and depth - readings.h[places[-1][0]] <= SAME_PLACE * readings.span:
            places[-1].append(i)
        else:
            places.append([i])
    return places


def _squares_of_time(readings: Readings) -> float:
    """Squares of time within the readings at each depth."""
    return sum(_squares([readings.numbers[i] for i in place]) for place in _places(readings))


def _squares(times: Sequence[int]) -> float:
    middle = sum(times) / len(times)
    return sum((time - middle) ** 2 for time in times)
