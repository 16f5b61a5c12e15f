"""The stretches of a trace where power stands clearly above idle: idle from the gaps, hysteresis around it, three passes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..log_limits import ENTER, LEAVE
from .signal import densest, joined, places, robust_deviation, runs, smooth, split_level

PASSES = 3
BEFORE, BEHIND = 2.0, 6.0  # s; rises as near to a stretch belong to it: the coolant's, and a fine stage's
SMOOTHINGS = (0.5, 1.0, 2.0, 3.0)  # s


class Cut(NamedTuple):
    """First place and the place behind the last of each stretch, and what the cut was made by."""

    stretches: list[tuple[int, int]]
    touches: list[tuple[int, int]]  # clear rises that never reach the level of a stretch
    idle: np.ndarray  # idle at each place, between the gaps
    level: float  # usual height above idle


def cut(power: np.ndarray, interval: float, closed: np.ndarray) -> Cut | None:
    """The stretches, or None where power has no two levels; `closed` places (standstill, holes) belong to none."""
    found = _two_levels(power, interval, closed)
    if found is None:
        return None
    smoothed, idle_value, level = found
    idle = np.full(len(power), idle_value)
    stretches: list[tuple[int, int]] = []
    rough = 0.0
    for _ in range(PASSES):
        below = ~closed & (smoothed - idle < 0.25 * level)
        gaps = [run for run in runs(below) if run[1] - run[0] >= max(3, 1 / interval)]
        if not gaps:
            break
        middles = [(first + last) / 2 for first, last in gaps]
        idle = np.interp(np.arange(len(power)), middles, [np.median(power[first:last]) for first, last in gaps])
        net = smoothed - idle
        lifted = net[~closed & (net > 0.3 * level)]
        if len(lifted) < 3:
            break
        level = float(np.median(lifted))
        rough = robust_deviation((power - idle)[below])
        enter = max(ENTER * level, 3 * robust_deviation(net[below]))
        leave = min(max(LEAVE * level, 1.5 * rough), enter)  # from row to row power is rougher than smoothed
        strong, peaks = runs(~closed & (net > leave)), ~closed & (net > enter)
        risen = [run for run in strong if peaks[run[0] : run[1]].sum() * interval >= 0.5]
        stretches = joined(risen, 0.4 / interval, 1 / interval)
    if not stretches:
        return None
    return Cut(stretches, _touches(smoothed - idle, interval, closed, stretches, max(LEAVE * level, 4 * rough)), idle, level)


def _two_levels(power: np.ndarray, interval: float, closed: np.ndarray) -> tuple[np.ndarray, float, float] | None:
    """The trace with as much smoothing as its noise asks for, idle, and the height of what is not idle."""
    for seconds in SMOOTHINGS:
        smoothed = smooth(power, interval, seconds)
        live = smoothed[~closed]
        if len(live) < 20 or np.ptp(live) <= 0:
            return None
        middle = split_level(live[live <= np.percentile(live, 99)])
        low, high = live[live < middle], live[live >= middle]
        if len(low) > 3 and robust_deviation(low) < 0.1 * (np.median(high) - np.median(low)):
            break
    idle = densest(low) if len(low) > 3 else float(live.min())
    level = float(np.median(high)) - idle
    return (smoothed, idle, level) if level > 0 else None


def _touches(net: np.ndarray, interval: float, closed: np.ndarray, stretches: list[tuple[int, int]], height: float) -> list:
    """Rises of half a second or more that no stretch holds and none is near to."""
    rises = joined(runs(~closed & (net > height)), 0.4 / interval, max(2, 0.5 / interval))
    taken = np.zeros(len(net), bool)
    for first, last in stretches:
        taken[max(0, first - places(BEFORE, interval)) : last + places(BEHIND, interval) + 1] = True
    return [(first, last) for first, last in rises if not taken[first : last + 1].any()]


def by_contact(contact: np.ndarray, interval: float) -> list[tuple[int, int]]:
    """The stretches of a contact channel: where it is nearer to its high value than to its low one."""
    level = split_level(contact) if len(np.unique(contact[:100_000])) > 2 else (contact.min() + contact.max()) / 2
    return joined(runs(contact > level), 0.4 / interval, 1 / interval)
