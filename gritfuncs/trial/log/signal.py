"""Small tools for a sampled signal: runs of a mask, a split into two levels, the densest value, means of blocks."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..log_limits import NORMAL


def runs(mask: np.ndarray) -> np.ndarray:
    """First place and the place behind the last of every run of True, one run a row."""
    edges = np.diff(np.concatenate(([0], np.asarray(mask, np.int8), [0])))
    return np.column_stack((np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)))


def joined(found: Iterable[tuple[int, int]], gap: float, shortest: float) -> list[tuple[int, int]]:
    """The runs, those with at most `gap` places between them as one, without those shorter than `shortest`."""
    kept: list[tuple[int, int]] = []
    for first, last in found:
        if kept and first - kept[-1][1] <= gap:
            kept[-1] = (kept[-1][0], int(last))
        else:
            kept.append((int(first), int(last)))
    return [(first, last) for first, last in kept if last - first >= shortest]


def split_level(values: np.ndarray, bins: int = 256) -> float:
    """The value that parts a sample into two groups with the smallest variance inside them (Otsu's threshold)."""
    low, high = float(values.min()), float(values.max())
    if high - low <= 1e-12 * max(abs(low), abs(high)):
        return (low + high) / 2
    counts, edges = np.histogram(values, bins)
    centres = (edges[1:] + edges[:-1]) / 2
    below, moment = np.cumsum(counts), np.cumsum(counts * centres)
    with np.errstate(all="ignore"):
        between = (moment[-1] * below / below[-1] - moment) ** 2 / (below * (below[-1] - below))
    return float(centres[np.argmax(np.where(np.isfinite(between), between, -1))])


def densest(values: np.ndarray) -> float:
    """The half-sample mode: the middle of the densest half, again and again."""
    values = np.sort(values)
    while len(values) > 3:
        half = (len(values) + 1) // 2
        start = int(np.argmin(values[half - 1 :] - values[: len(values) - half + 1]))
        values = values[start : start + half]
    return float(values.mean())


def robust_deviation(values: np.ndarray) -> float:
    """Standard deviation from the median absolute deviation; 0 of nothing."""
    return NORMAL * float(np.median(np.abs(values - np.median(values)))) if len(values) else 0.0


def smooth(values: np.ndarray, interval: float, seconds: float) -> np.ndarray:
    """Running median over about so many seconds, at least 3 values."""
    from scipy.ndimage import median_filter

    return median_filter(values, places(seconds, interval, 3) | 1, mode="nearest")


def running_mean(values: np.ndarray, interval: float, seconds: float) -> np.ndarray:
    width = places(seconds, interval)
    return np.convolve(values, np.ones(width) / width, "same")


def places(seconds: float, interval: float, least: int = 1) -> int:
    """How many samples so many seconds are, at least `least`."""
    return max(least, int(seconds / interval + 1e-9))


def block_means(values: np.ndarray, interval: float, seconds: float, most: int = 8) -> np.ndarray:
    """Means of equal blocks of about so many seconds, two to `most` of them; none of no values."""
    count = min(most, max(2, int(len(values) * interval / seconds)), len(values))
    return np.array([block.mean() for block in np.array_split(values, count)]) if count else np.array([])


def mean_error(blocks: np.ndarray) -> float:
    """Standard error of the mean of blocks, widened so that two of it cover 95 % although few blocks tell the scatter.

    The quantile of Student's distribution over that of the normal one, by its expansion in 1/degrees of freedom
    (Abramowitz and Stegun, 26.7.5; from memory).
    """
    free, normal = len(blocks) - 1, 1.96
    if free < 1:
        return 0.0
    wider = 1 + (normal**2 + 1) / (4 * free) + (5 * normal**4 + 16 * normal**2 + 3) / (96 * free**2)
    return float(wider * blocks.std(ddof=1) / len(blocks) ** 0.5)
