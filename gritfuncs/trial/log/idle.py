"""Idle on both sides of every part, and the step of it where the coolant comes on just before contact."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..log_limits import BEHIND, DIFFERENT, LAGS_BEHIND, LONGEST_IDLE, SHORT_BEHIND
from .signal import block_means, mean_error, places, robust_deviation, running_mean, runs

EDGE = 0.7  # s before contact that are left out
LAST = 1.5  # s before contact that hold the coolant's step


class Idles(NamedTuple):
    """One value a part; nan where there is no free idle."""

    values: np.ndarray
    errors: np.ndarray  # one standard error
    step: float  # height of the coolant's step just before contact; 0 where there is none
    short: np.ndarray  # parts whose idle windows begin sooner behind a stretch than they should


def idles(
    power: np.ndarray,
    interval: float,
    parts: list[tuple[int, int]],
    stretches: list[tuple[int, int]],
    closed: np.ndarray,
    levels: np.ndarray,
    lag: float,
) -> Idles:
    """Idle of each part from the free time around it; `levels` are the usual heights above idle."""
    wanted = max(BEHIND, LAGS_BEHIND * lag)
    free = _Free(power, interval, stretches, closed, wanted)
    level = float(np.median(levels))
    stepped = _switched_before(free, stretches, level)
    values, errors = free.idles(parts, levels, stepped)
    short = ~np.isfinite(values)
    if short.any():
        nearer = _Free(power, interval, stretches, closed, min(wanted, max(SHORT_BEHIND, lag)))
        again, errors_again = nearer.idles(parts, levels, stepped)
        values, errors = np.where(short, again, values), np.where(short, errors_again, errors)
    step = 0.0
    if stepped:
        step = float(np.nanmedian(free.steps(stretches)))
    elif np.isfinite(values).any():
        step = _shoulder(power, interval, parts, stretches, values) * level
        values = values + step
    if step:  # where it is about as high as what a stretch begins above, some begin with it and others at contact
        own = free.steps(parts)
        values = np.where(own < step / 2 if stepped else own > step / 2, free.far(parts) + step, values)
    if len(values) > 4:  # slow wander, which blocks within a window cannot see: how far an idle lies off its neighbours
        off = values[1:-1] - (values[:-2] + values[2:]) / 2
        off = off[np.isfinite(off)]
        errors = np.maximum(errors, robust_deviation(off) / 1.5**0.5) if len(off) else errors
    return Idles(values, errors, step, short & np.isfinite(values))


class _Free:
    """The places of a trace that hold idle and nothing else."""

    def __init__(self, power: np.ndarray, interval: float, stretches: list[tuple[int, int]], closed: np.ndarray, after: float):
        self.power, self.interval, self.after = power, interval, after
        self.taken = closed.copy()
        for first, last in stretches:
            self.taken[max(0, first - round(EDGE / interval)) : last + round(after / interval)] = True
        for first, last in runs(closed):  # the run-down before a standstill, and what is left of the start-up
            self.taken[max(0, first - places(1, interval)) : last + places(1, interval)] = True

    def between(self, first: int, last: int) -> np.ndarray:
        first, last = max(0, first), max(0, last)
        return self.power[first:last][~self.taken[first:last]]

    def before(self, first: int, seconds: float) -> np.ndarray:
        end = first - round(EDGE / self.interval)
        return self.between(end - places(seconds, self.interval), end)

    def behind(self, last: int) -> np.ndarray:
        begin = last + round(self.after / self.interval)
        return self.between(begin, begin + places(LONGEST_IDLE, self.interval))

    def steps(self, stretches: list[tuple[int, int]]) -> np.ndarray:
        """How much higher idle is just before each stretch than a few seconds earlier; nan where it is not seen."""
        near = [self.before(first, LAST) for first, _ in stretches]
        return np.array([side.mean() if len(side) > 1 else np.nan for side in near]) - self.far(stretches)

    def far(self, stretches: list[tuple[int, int]]) -> np.ndarray:
        """Idle a few seconds before each stretch; nan where it is not seen."""
        sides = [self.before(first, LONGEST_IDLE) for first, _ in stretches]
        sides = [side[: max(0, len(side) - places(3.5, self.interval))] for side in sides]
        return np.array([side.mean() if len(side) > 1 else np.nan for side in sides])

    def idles(self, parts: list[tuple[int, int]], levels: np.ndarray, stepped: bool) -> tuple[np.ndarray, np.ndarray]:
        """Idle of each part and its standard error; nan where there is none."""
        sides = [self._means(self.before(first, LAST if stepped else LONGEST_IDLE)) for first, _ in parts]
        sides_behind = [np.array([]) if stepped else self._means(self.behind(last)) for _, last in parts]
        higher = np.array([two.mean() - one.mean() if len(one) and len(two) else np.nan for one, two in zip(sides, sides_behind)])
        usual, scatter = _usual(higher, float(np.median(levels)))
        values, errors = np.full(len(parts), np.nan), np.full(len(parts), np.nan)
        for place, (before, behind, level) in enumerate(zip(sides, sides_behind, levels)):
            means = [blocks for blocks in (before, behind) if len(blocks)]
            odd = abs(higher[place] - usual) > max(DIFFERENT * level, 4 * scatter)
            if len(means) == 2 and (usual or odd):
                means = [min(means, key=np.mean)]
            if means:
                values[place] = np.mean([blocks.mean() for blocks in means])
                within = sum(mean_error(blocks) ** 2 for blocks in means) ** 0.5 / len(means)
                errors[place] = max(within, scatter / (2 if len(means) == 2 else 2**0.5))  # idle wanders while the part is ground
        return values, errors

    def _means(self, side: np.ndarray) -> np.ndarray:
        """Block means of a window, none where it is too short to say how sure it is."""
        means = block_means(side, self.interval, 0.5) if len(side) * self.interval >= 0.5 else np.array([])
        return means if len(means) > 1 else np.array([])


def _usual(higher: np.ndarray, level: float) -> tuple[float, float]:
    """How much higher idle usually is behind a part than before it, 0 where that may be chance; and the scatter of it."""
    higher = higher[np.isfinite(higher)]
    if not len(higher):
        return 0.0, 0.0
    middle, scatter = float(np.median(higher)), robust_deviation(higher)
    systematic = abs(middle) > max(DIFFERENT * level, 3 * 1.25 * scatter / len(higher) ** 0.5)
    return (middle if systematic else 0.0), scatter


def _switched_before(free: _Free, stretches: list[tuple[int, int]], level: float) -> bool:
    """Whether idle steps up within the last seconds before contact, in most of the stretches."""
    steps = free.steps(stretches)
    steps = steps[np.isfinite(steps)]
    if len(steps) < 4:
        return False
    scatter = 1.25 * robust_deviation(steps) / len(steps) ** 0.5
    return bool(np.median(steps) > max(0.01 * level, 4 * scatter))


def _shoulder(
    power: np.ndarray, interval: float, parts: list[tuple[int, int]], stretches: list[tuple[int, int]], idle: np.ndarray
) -> float:
    """A step of idle before contact that is too near to it to be seen alone, over the level; 0 where there is none.

    The onsets of all parts are laid over one another at 60 % of the level, and fitted with and without a step.
    """
    from scipy.optimize import least_squares

    if interval > 0.3:
        return 0.0  # too coarse to tell a step from the rise
    before, behind = int(7 / interval), int(4 / interval)
    onsets = _onsets(power, interval, parts, stretches, idle, before, behind)
    if len(onsets) < 4:
        return 0.0
    mean, error = np.median(onsets, 0), np.std(onsets, 0).mean() / len(onsets) ** 0.5
    time = (np.arange(len(mean)) - before + 0.5) * interval

    def rise(at: float, lag: float) -> np.ndarray:
        return 1 - np.exp(-np.maximum(time - at, 0) / lag)

    def plain(values: np.ndarray) -> np.ndarray:
        level, at, lag, base = values
        return base + level * rise(at, lag) - mean

    def stepped(values: np.ndarray) -> np.ndarray:
        level, at, lag, base, step, step_at = values
        return base + step * rise(step_at, 0.5) + level * rise(at, lag) - mean

    without = min(
        least_squares(plain, (1, -lag, lag, 0), bounds=([0.3, -8, 0.05, -0.3], [2, 2, 8, 0.3])).cost for lag in (0.3, 1.5)
    )
    bounds = ([0.2, -4, 0.05, -0.3, -0.1, -7], [2, 2, 8, 0.3, 0.8, -0.8])
    starts = [(0.8, -lag, lag, 0, 0.2, at) for lag in (0.3, 1.5) for at in (-3, -5)]
    best = min((least_squares(stepped, start, bounds=bounds) for start in starts), key=lambda fit: fit.cost)
    step, apart = best.x[4], best.x[1] - best.x[5]
    return float(step) if best.cost < 0.45 * without and step > max(0.03, 3 * error) and apart > 1.0 else 0.0


def _onsets(
    power: np.ndarray,
    interval: float,
    parts: list[tuple[int, int]],
    stretches: list[tuple[int, int]],
    idle: np.ndarray,
    before: int,
    behind: int,
) -> list[np.ndarray]:
    """Power over idle around the crossing of 60 % of each part that has room around it, over its level."""
    ends, found = np.array([last for _, last in stretches]), []
    for (first, last), base in zip(parts, idle):
        begin = max(0, first - int(4 / interval))
        net = power[begin:last] - base
        if len(net) < 8 or not np.isfinite(base):
            continue
        level = np.percentile(net[first - begin :], 80)
        crossing = begin + int(np.argmax(running_mean(net, interval, 0.4) > 0.6 * level))
        earlier = ends[ends <= first]
        room = crossing >= before and crossing + behind < len(power) and last - crossing >= 1.2 * behind
        if level > 0 and room and not (len(earlier) and earlier.max() + SHORT_BEHIND / interval > crossing - before):
            found.append((power[crossing - before : crossing + behind] - base) / level)
    return found
