"""How power rises in the parts: at once and then ever slower, as grinding does, or as a slow wave does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .steady import onset_of

SLOW_RISE = 0.35  # of a stretch; a part that cannot be told from a slow wave rises for longer
CLEARLY = 0.95  # of the lag's squares: the wave must fit better by so much
BEFORE = 0.25  # of a stretch before the crossing that is looked at
_POINTS = 200
_CROSSING = 0.6  # of the level, where the rises are laid over one another
_SHIFTS = np.linspace(-0.25, 0.25, 11)  # of a width, of the crossing
_FEWEST = 3


def wave_like(power: np.ndarray, interval: float, parts: Sequence[tuple[int, int]], idle: Sequence[float]) -> float | None:
    """The time of the rise over the length of a stretch, where half a cosine fits it better than a first-order lag; else None.

    The parts' common rise is their median, each over its own level, about the crossing of 60 %.  A plunge cut rises fastest at
    contact, 1 - exp(-t / lag); a sine, a bell or a heater's ramp rises as slowly at first as at last, and over a good part of
    the stretch.  A short rise says nothing: both curves fit it.  The half cosine stays level at its top, so a wave
    that turns there fits as a shorter rise than half its time.
    """
    if len(parts) < _FEWEST:
        return None
    onsets = [onset_of(power, interval, part, base) for part, base in zip(parts, idle)]
    stretch = float(np.median([last - first for first, last in parts])) * interval
    behind = float(np.median([onset.last * interval - onset.crossing for onset in onsets]))
    if behind <= interval or min(onset.level for onset in onsets) <= 0:
        return None
    time = np.arange(-BEFORE * stretch, behind, max(interval, stretch / _POINTS))
    places = (np.arange(len(power)) + 0.5) * interval
    rows = [np.interp(onset.begin * interval + onset.crossing + time, places, power) - base for onset, base in zip(onsets, idle)]
    course = np.median([row / onset.level for row, onset in zip(rows, onsets)], axis=0)
    lag, _ = _fitted(time, course, np.geomspace(max(0.05, interval / 3), stretch / 3, 25), _lag_rise)
    wave, width = _fitted(time, course, np.geomspace(max(0.1, interval), stretch, 30), _wave_rise)
    return width / stretch if wave < CLEARLY * lag and width > SLOW_RISE * stretch else None


def _lag_rise(time: np.ndarray, width: np.ndarray) -> np.ndarray:
    return -np.expm1(-np.maximum(time / width - np.log(1 - _CROSSING), 0))


def _wave_rise(time: np.ndarray, width: np.ndarray) -> np.ndarray:
    return 0.5 - 0.5 * np.cos(np.pi * np.clip(time / width + np.arccos(1 - 2 * _CROSSING) / np.pi, 0, 1))


def _fitted(time: np.ndarray, course: np.ndarray, widths: np.ndarray, rise) -> tuple[float, float]:
    """The least sum of squares of the course about a rise times a level, and the width [s] where it is least."""
    width = np.repeat(widths, len(_SHIFTS))[:, None]
    shape = rise(time + np.tile(_SHIFTS, len(widths))[:, None] * width, width)
    level = shape @ course / np.maximum((shape * shape).sum(1), 1e-12)
    squares = ((course - level[:, None] * shape) ** 2).sum(1)
    best = int(np.argmin(squares))
    return float(squares[best]), float(width[best, 0])
