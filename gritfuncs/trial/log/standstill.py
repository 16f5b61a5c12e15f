"""Where the spindle stands: power near zero beside periods that start at an idle level or hold several stretches."""

from __future__ import annotations

import numpy as np

from ..log_limits import NEAR_ZERO
from .signal import joined, places, running_mean, runs, smooth, split_level

SHORTEST = 3.0  # s; shorter is a drop-out of the meter or of the log
RISES = 0.15  # of the power of a running period, from idle to grinding
START_UP = 4.0  # s after a standstill that are not looked at


def standstill(power: np.ndarray, interval: float) -> np.ndarray:
    """A mask of the places where the spindle stands; empty where zero is the reading at idle (a tared meter)."""
    none = np.zeros(len(power), bool)
    power = smooth(power, interval, 1.0)
    span = np.percentile(power, 98)
    near = np.abs(power) < NEAR_ZERO * span
    periods = joined(runs(~near), 1 / interval, 3 / interval)
    if not near.any() or not periods:
        return none
    running = np.concatenate([power[first:last] for first, last in periods])
    running = np.minimum(running, np.percentile(running, 98))
    middle = split_level(running)
    low = running[running < middle]
    if len(low) < 3 or np.median(low) < 0.08 * span:
        return none
    if _stretches_in(periods, power, interval, middle) <= 1.5 * len(periods):
        if not _start_low(periods, power, interval):
            return none
    for first, last in runs(near):
        if (last - first) * interval >= SHORTEST:
            none[first:last] = True
    return none


def _stretches_in(periods: list[tuple[int, int]], power: np.ndarray, interval: float, middle: float) -> int:
    """How many stretches above the middle the periods hold."""
    means = (running_mean(power[first:last], interval, 1.0) for first, last in periods)
    return sum(len(joined(runs(mean > middle), 1 / interval, 2 / interval)) for mean in means)


def _start_low(periods: list[tuple[int, int]], power: np.ndarray, interval: float) -> bool:
    """Whether most periods begin at an idle level of their own, once the start-up is over."""
    begins = []
    for first, last in periods:
        period = power[first:last]
        begin = float(np.median(period[int(5 / interval) : int(8 / interval) + 1])) if last - first > 8 / interval else np.inf
        begins.append(begin < split_level(period) and begin < (1 - RISES) * np.percentile(period, 90))
    return float(np.mean(begins)) >= 0.5


def with_start_up(mask: np.ndarray, interval: float) -> np.ndarray:
    """The mask grown by the start-up behind each standstill."""
    grown = mask.copy()
    for first, last in runs(mask):
        grown[max(0, first - 1) : last + places(START_UP, interval)] = True
    return grown
