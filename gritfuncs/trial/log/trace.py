"""A trace: power in equal steps of time, mended where values are missing, condensed to what the reading needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...refused import Refused
from ...values import shown
from ..log_limits import FEWEST_ROWS
from .signal import runs

BLOCK = 0.1  # s; means over as much lose nothing of a part
LONGEST_HOLE = 3.0  # s; a longer one parts the log
SAME = 0.5  # of the usual interval; a step of time that is further off is no ordinary one
ORDINARY = 0.9  # of the steps; with fewer it is a log of changes, whose values hold until the next row
SMALLEST, LARGEST = 1e-9, 1e12  # of the highest power, in any unit
LONGEST = 1e12  # s, of a time
_CHUNK = 1_000_000


@dataclass(frozen=True)
class Trace:
    """Equal steps from `start` [s]; `missing` are places in holes longer than 3 s, where power is filled in for looks only."""

    start: float
    interval: float
    power: np.ndarray
    missing: np.ndarray
    rpm: np.ndarray | None
    contact: np.ndarray | None
    rows: int
    row_interval: float  # s, before condensing
    filled: int  # rows whose power was missing or dropped out, and was filled in
    changes_only: bool
    quantum: float  # smallest step of the power values; 0 where it plays no part
    at_top: np.ndarray  # share of the rows in each place that stand at the highest value of the log

    def time(self, place: float) -> float:
        """Seconds of the beginning of a place."""
        return self.start + place * self.interval

    @property
    def holes(self) -> tuple[tuple[float, float], ...]:
        return tuple((self.time(first), self.time(last)) for first, last in runs(self.missing))


def trace_of(
    time: np.ndarray | None, power: np.ndarray, rpm: np.ndarray | None, contact: np.ndarray | None, interval: float | None
) -> Trace:
    """The trace of columns of equal length; nan is a missing value.  `interval` [s] goes before the times."""
    if len(power) < FEWEST_ROWS:
        raise Refused("power", f"have at least {FEWEST_ROWS} values in time order", str(len(power)))
    if not np.isfinite(power).any():
        raise Refused("power", "have numbers", "none")
    largest = max(abs(float(np.nanmin(power))), abs(float(np.nanmax(power))))
    if largest > LARGEST or 0 < largest < SMALLEST:
        raise Refused("power", f"be a reading of {SMALLEST:g} to {LARGEST:g}", f"{largest:.3g}")
    quantum = _quantum(power)
    if interval is not None or time is None:
        if interval is None:
            raise Refused("interval", "be known", "no time column", hint="say interval, the seconds from row to row")
        start, grid, step, changes_only = 0.0, None, interval, False
    else:
        start, grid, step, changes_only = _grid(time)
    power, filled = _mended(power, grid, step, changes_only)
    rows = len(power) if grid is None else len(grid)
    width = max(1, round(BLOCK / step))
    means = _block_means(power, width)
    at_top = np.nan_to_num(_block_means(power >= np.nanmax(power), width))
    missing = ~np.isfinite(means)
    if missing.all() or len(means) < FEWEST_ROWS:
        raise Refused("power", f"cover at least {FEWEST_ROWS * BLOCK:g} s", f"{len(means) * width * step:.3g} s")
    if missing.any():
        means = means.copy()
        means[missing] = np.interp(np.flatnonzero(missing), np.flatnonzero(~missing), means[~missing])
    rpm, contact = (_held(channel, grid, width, len(means)) for channel in (rpm, contact))
    return Trace(start, width * step, means, missing, rpm, contact, rows, step, filled, changes_only, quantum, at_top)


def _grid(time: np.ndarray) -> tuple[float, np.ndarray | None, float, bool]:
    """Start, the place of every row in equal steps (None where rows are these steps), the step, and whether rows are changes."""
    time = _spread_ties(time)
    steps_sample = np.diff(time[:10_001])
    usual = float(np.median(steps_sample))
    odd, total = 0, len(time) - 1
    for begin in range(0, total, _CHUNK):
        steps = np.diff(time[begin : begin + _CHUNK + 1])
        odd += int((np.abs(steps - usual) > SAME * usual).sum())
    step = (float(time[-1]) - float(time[0])) / total
    if not odd and abs(step - usual) <= 0.05 * usual:
        return float(time[0]), None, step, False
    changes_only = odd > (1 - ORDINARY) * total
    if changes_only:
        step = max(BLOCK, float(time[-1] - time[0]) / 1_000_000)
        return float(time[0]), np.floor((time - time[0]) / step).astype(np.int64), step, True
    steps = np.diff(time)
    ordinary = steps[np.abs(steps - usual) <= SAME * usual]
    step = float(ordinary.mean())
    counts = np.maximum(1, np.rint(steps / step)).astype(np.int64)
    if counts.sum() > 100 * len(time):
        raise Refused("time", "run on without holes that are longer than the log itself", f"a step of {steps.max():.6g} s")
    return float(time[0]), np.concatenate(([0], np.cumsum(counts))), step, False


def _spread_ties(time: np.ndarray) -> np.ndarray:
    """Times that grow: rows under one stamp, as of whole seconds, are spread evenly; ValueError where time runs back."""
    if not np.isfinite(time).all():
        row = int(np.flatnonzero(~np.isfinite(time))[0])
        raise Refused("time", "be known in every row", f"none in value {row + 1}")
    if max(abs(time[0]), abs(time[-1])) > LONGEST:
        raise Refused("time", f"be at most {LONGEST:g} s", f"{max(time[0], time[-1], key=abs):.3g}")
    has_ties = False
    for begin in range(0, len(time) - 1, _CHUNK):
        steps = np.diff(time[begin : begin + _CHUNK + 1])
        if (steps < 0).any():
            place = begin + int(np.argmax(steps < 0)) + 1
            raise Refused("time", "grow", f"{time[place]:.10g} after {time[place - 1]:.10g} s in value {place + 1}")
        has_ties = has_ties or bool((steps == 0).any())
    if not has_ties:
        return time
    firsts = np.flatnonzero(np.concatenate(([True], np.diff(time) > 0)))
    if len(firsts) < 3:
        raise Refused("time", "grow", "the same time in all rows")
    counts = np.diff(firsts)
    # the first stamp may have been half over when the log began, the last one cut: both follow the usual pace
    pace = float(np.median(np.diff(time[firsts]) / counts))
    spread = np.interp(np.arange(len(time)), firsts, time[firsts])
    spread[: firsts[1]] = time[firsts[1]] + pace * (np.arange(firsts[1]) - firsts[1])
    spread[firsts[-1] :] = time[firsts[-1]] + pace * np.arange(len(time) - firsts[-1])
    return spread


def _mended(power: np.ndarray, grid: np.ndarray | None, step: float, changes_only: bool) -> tuple[np.ndarray, int]:
    """Power in equal steps with short holes and drop-outs to zero filled in, nan in long holes; and how many were filled."""
    longest = int(LONGEST_HOLE / step + 1e-9)
    dropped = _drop_outs(power, longest)
    bad = ~np.isfinite(power)
    if dropped is not None:
        bad |= dropped
    if grid is not None:
        if changes_only:
            known = np.flatnonzero(~bad)
            return _time_weighted(power[known], grid[known], int(grid[-1]) + 1), int(bad.sum())
        whole = np.full(int(grid[-1]) + 1, np.nan, power.dtype)
        whole[grid] = np.where(bad, np.nan, power)
        power, bad = whole, ~np.isfinite(whole)
    elif bad.any():
        power = np.where(bad, np.nan, power)
    if not bad.any():
        return power, 0
    filled = 0
    for first, last in runs(bad):
        if last - first <= max(longest, 1) and first > 0 and last < len(power):
            power[first:last] = np.interp(np.arange(first, last), [first - 1, last], [power[first - 1], power[last]])
            filled += last - first
    return power, int(filled)


def _drop_outs(power: np.ndarray, longest: int) -> np.ndarray | None:
    """Short runs of exact zeros between values that are clearly none."""
    zeros = np.flatnonzero(power == 0)
    if not len(zeros) or len(zeros) > 0.5 * len(power):
        return None
    clear = 0.06 * float(np.nanpercentile(np.abs(power[:: max(1, len(power) // 200_000)]), 98))
    breaks = np.flatnonzero(np.diff(zeros) > 1)
    firsts, lasts = zeros[np.concatenate(([0], breaks + 1))], zeros[np.concatenate((breaks, [-1]))] + 1
    mask = np.zeros(len(power), bool)
    for first, last in zip(firsts, lasts):
        if last - first <= max(longest, 1) and first > 0 and last < len(power):
            if power[first - 1] > clear and power[last] > clear:
                mask[first:last] = True
    return mask


def _time_weighted(values: np.ndarray, places: np.ndarray, length: int) -> np.ndarray:
    """Values that hold from their place to the next one; of several in one place the last holds on, their mean stands."""
    last_of = np.concatenate((np.flatnonzero(np.diff(places)), [len(places) - 1]))
    held = values[last_of][np.clip(np.searchsorted(places[last_of], np.arange(length), "right") - 1, 0, None)]
    counts = np.bincount(places, minlength=length)
    sums = np.bincount(places, weights=values, minlength=length)
    before = np.concatenate((held[:1], held[:-1]))
    several = counts > 0
    held = held.astype(float)
    held[several] = (sums[several] + before[several]) / (counts[several] + 1)
    return held


def _block_means(values: np.ndarray, width: int) -> np.ndarray:
    """Means of `width` values each; nan where more than half of them are missing."""
    whole = len(values) // width * width
    if width == 1:
        return values.astype(float)
    found = []
    chunk = _CHUNK // width * width or width
    for begin in range(0, whole, chunk):
        block = values[begin : min(whole, begin + chunk)].reshape(-1, width)
        means = block.mean(1, dtype=float)
        if not np.isfinite(means).all():
            known = np.isfinite(block)
            counts = known.sum(1)
            sums = np.where(known, block, 0).sum(1, dtype=float)
            means = np.where(counts >= width / 2, sums / np.maximum(counts, 1), np.nan)
        found.append(means)
    return np.concatenate(found) if found else np.array([])


def _held(channel: np.ndarray | None, grid: np.ndarray | None, width: int, length: int) -> np.ndarray | None:
    """A slow channel at the beginning of every block: its last known value holds."""
    if channel is None:
        return None
    known = np.flatnonzero(np.isfinite(channel))
    if not len(known):
        return None
    places = known if grid is None else grid[known]
    wanted = np.arange(length) * width + width // 2
    return channel[known][np.clip(np.searchsorted(places, wanted, "right") - 1, 0, None)].astype(float)


def _quantum(power: np.ndarray) -> float:
    """The smallest step between the values of a log with few different ones, such as whole percents; 0 where it has many."""
    sample = power[:: max(1, len(power) // 20_000)]
    different = np.unique(sample[np.isfinite(sample)])
    if len(different) < 2 or len(different) > max(50, len(sample) // 10):
        return 0.0
    steps = np.diff(different)
    return float(np.median(steps[steps > 1e-9 * np.abs(different).max()])) if len(steps) else 0.0


def as_numbers(name: str, values: Any) -> np.ndarray:
    """A column of numbers from an array or list; floats of any precision as they are."""
    try:
        array = np.asarray(values)
        if array.dtype.kind in "OU" and array.ndim == 1:
            array = np.array([np.nan if value is None else value for value in array.tolist()], float)
        if array.dtype.kind not in "fiub":
            raise TypeError
        array = array if array.dtype.kind == "f" and array.dtype.itemsize >= 4 else array.astype(float)
    except Exception:  # whatever an object of the caller's does when it is asked for its values
        raise Refused(name, "be numbers in one column", shown(values)) from None
    if array.ndim != 1:
        raise Refused(name, "be numbers in one column", f"an array of shape {array.shape}")
    return array
