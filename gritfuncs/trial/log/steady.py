"""The steady stretch of every part: one first-order lag for all, the level from three lags after contact to the end."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..log_limits import BEFORE_END, FALLEN, FEWER_LAGS, LAGS, SHORTEST
from .signal import block_means, mean_error, running_mean

CROSSING = 0.6  # of the level, where the time of contact is taken from
MOST_FITTED = 60  # parts that the lag is fitted to
TOLERANCES = dict(xatol=0.005, fatol=1e-7)
MOST_ALIKE, MOST_WIDER = 0.8, 3.0  # of the correlation of neighbouring blocks, and what it does to errors


class Steady(NamedTuple):
    """What one part reads; places count in the trace, levels are over idle."""

    first: int
    last: int
    net: float
    error: float  # one standard error of the level alone
    slope: float  # change over the stretch as a share of the level
    is_early: bool  # begins before three lags
    scatter: float  # from sample to sample
    blocks: np.ndarray  # means of about a second or more, over idle


class _Onset(NamedTuple):
    begin: int  # place in the trace where `net` begins
    net: np.ndarray  # power over idle
    last: int  # end of the infeed, within `net`
    crossing: float  # s from the beginning of `net` to 60 % of the level
    level: float


def steady_stretches(
    power: np.ndarray, interval: float, parts: list[tuple[int, int]], idle: np.ndarray
) -> tuple[float, list[Steady]]:
    """The lag [s] of all parts, and the steady stretch of each."""
    onsets = [onset_of(power, interval, part, base) for part, base in zip(parts, idle)]
    lag, late = _lag(onsets, interval)
    steady = [_steady(onset, interval, lag, late) for onset in onsets]
    wider = _slow_noise([one.blocks for one in steady])
    return lag, [one._replace(error=wider * one.error) for one in steady]


def _slow_noise(parts: list[np.ndarray]) -> float:
    """How much wider errors are because neighbouring blocks resemble one another, seen in all parts together; at least 1."""
    longer = [blocks - blocks.mean() for blocks in parts if len(blocks) > 3]
    square = sum(float((blocks**2).sum()) for blocks in longer)
    if not square:
        return 1.0
    alike = sum(float((blocks[1:] * blocks[:-1]).sum()) for blocks in longer) / square
    alike += float(np.mean([1 / len(blocks) for blocks in longer]))  # the mean was taken off, which makes them look unlike
    return float(np.sqrt((1 + alike) / (1 - alike))) if 0 < alike < MOST_ALIKE else 1.0 if alike <= 0 else MOST_WIDER


def _lag(onsets: list[_Onset], interval: float) -> tuple[float, float]:
    """The lag and how far the crossings are off, that fit all parts best: level (1 - exp(-(t - t0) / lag)), each its level."""
    from scipy.optimize import minimize

    onsets = onsets[:: -(-len(onsets) // MOST_FITTED)]
    width = max(len(onset.net) for onset in onsets)
    time, net, weight = np.zeros((3, len(onsets), width))
    for row, onset in enumerate(onsets):
        seen = slice(max(0, int((onset.crossing - 1) / interval)), onset.last)
        time[row] = (np.arange(width) + 0.5) * interval - onset.crossing
        net[row, : len(onset.net)] = onset.net / max(onset.level, 1e-12)
        weight[row, seen] = 1 / max(1, seen.stop - seen.start)

    def misfit(values: np.ndarray) -> float:
        rise = _rise(time, np.exp(values[0]), values[1])
        weighted = weight * rise
        level = (weighted * net).sum(1) / np.maximum((weighted * rise).sum(1), 1e-12)
        return float((weight * (net - level[:, None] * rise) ** 2).sum())

    longest = float(np.median([onset.last * interval - onset.crossing for onset in onsets]))
    bounds = [(np.log(max(0.02, interval / 4)), np.log(max(longest / 3, 0.1))), (-2.0, 2.0)]
    fits = [
        minimize(misfit, (np.clip(np.log(lag), *bounds[0]), 0.0), method="Nelder-Mead", bounds=bounds, options=TOLERANCES)
        for lag in (0.3, 1.5)
    ]
    log_lag, late = min(fits, key=lambda fit: fit.fun).x
    return float(np.exp(log_lag)), float(late)


def _rise(time: np.ndarray, lag: float, late: float) -> np.ndarray:
    """How far power has risen as a share of its level, `time` after the crossing, which is off by `late` [s]."""
    return -np.expm1(-np.maximum(time + late - np.log(1 - CROSSING) * lag, 0) / lag)


def onset_of(power: np.ndarray, interval: float, part: tuple[int, int], idle: float) -> _Onset:
    first, end = part
    begin = max(0, first - int(2 / interval))
    net = power[begin:end] - idle
    mean = running_mean(net, interval, 0.6)
    level = float(np.percentile(net[first - begin :], 80))
    high = np.flatnonzero(mean > FALLEN * level)
    last = (int(high[-1]) if len(high) else len(net) - 1) - int(BEFORE_END / interval)
    place = int(np.argmax(mean > CROSSING * level))
    part_of = (
        (CROSSING * level - mean[place - 1]) / (mean[place] - mean[place - 1])
        if place and mean[place] != mean[place - 1]
        else 0.0
    )
    return _Onset(begin, net, max(last, place + 2), (place - 0.5 + part_of) * interval, level)


def _steady(onset: _Onset, interval: float, lag: float, late: float) -> Steady:
    time = (np.arange(len(onset.net)) + 0.5) * interval - onset.crossing
    rise = _rise(time, lag, late)
    time = time + late - np.log(1 - CROSSING) * lag  # since contact
    infeed = onset.last - onset.crossing / interval
    first = int(np.searchsorted(time, LAGS * lag))
    is_early = onset.last - first < max(2, SHORTEST * infeed)
    if is_early:
        first = int(np.searchsorted(time, FEWER_LAGS * lag))
    first = min(first, max(0, onset.last - 2))
    net, rise = onset.net[first : onset.last], rise[first : onset.last]
    level = float((net * rise).sum() / (rise * rise).sum())
    flat = net / np.maximum(rise, 1e-9)
    means = block_means(flat, interval, 1.0)
    error = mean_error(means)
    slope = 0.0
    if len(means) > 2:
        place = np.arange(len(means)) - (len(means) - 1) / 2
        slope = float((place * means).sum() / (place * place).sum() * (len(means) - 1) / level)
    begin = onset.begin
    return Steady(begin + first, begin + onset.last, level, error, slope, bool(is_early), float(flat.std()), means)


def infeed_seconds(power: np.ndarray, interval: float, stretch: tuple[int, int], idle: float) -> float:
    """How long power stands above 60 % of the stretch's own height: without finishing and spark-out."""
    first, last = stretch
    net = running_mean(power[first:last] - idle, interval, 0.6)
    return float((net > CROSSING * np.percentile(net, 80)).sum()) * interval
