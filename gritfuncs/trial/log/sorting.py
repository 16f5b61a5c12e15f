"""A word for every stretch: what it looks like, and why it is a part or none."""

from __future__ import annotations

import numpy as np

from ..log_limits import LENGTHS, LENGTHS_GIVEN, LOW_LEVEL
from .signal import places

PART, SHORT, LONG, LOW, CLIPPED, HOLE, TOUCH, NO_IDLE, UNCLEAR = (
    "part",
    "short",
    "long",
    "low",
    "clipped",
    "hole",
    "touch",
    "no idle",
    "unclear",
)
STOPPED = 0.9  # of the usual length; a shorter one that ends in a standstill was stopped
GROUND = (PART, CLIPPED, HOLE, NO_IDLE)  # words of the stretches that a part was ground in, whether it can be read or not


def sort_out(
    stretches: list[tuple[int, int]],
    power: np.ndarray,
    interval: float,
    idle: np.ndarray,
    missing: np.ndarray,
    closed: np.ndarray,
    infeed_time: float | None,
) -> list[tuple[str, str]]:
    """Word and reason of every stretch."""
    lengths = np.array([last - first for first, last in stretches]) * interval
    energies = np.array([(power[first:last] - idle[first:last]).sum() for first, last in stretches])
    usual, (least, most) = usual_length(lengths, energies), LENGTHS
    if infeed_time is not None:
        usual, (least, most) = infeed_time, LENGTHS_GIVEN
    levels = np.array([np.percentile(power[first:last] - idle[first:last], 75) for first, last in stretches])
    behind = places(1, interval)
    ends_in_standstill = np.array([(closed & ~missing)[last : last + behind].any() for _, last in stretches])
    words = []
    for place, (first, last) in enumerate(stretches):
        length = f"{lengths[place]:.3g} s, usual {usual:.3g} s"
        stops = ends_in_standstill[place] and not ends_in_standstill.mean() > 0.3 and lengths[place] < STOPPED * usual
        if lengths[place] >= least * usual and stops:
            words.append((SHORT, f"lasts {length}, and the spindle stands behind it: a stop"))
        elif lengths[place] < least * usual:
            words.append((SHORT, f"lasts {length}: dressing, a stop or a touch"))
        elif lengths[place] > most * usual:
            words.append((LONG, f"lasts {length}: two parts without idle between them, or something else"))
        elif _any_beside(missing, first, last, interval):
            words.append((HOLE, "values are missing in it or beside it"))
        else:
            words.append((PART, f"lasts {length}"))
    alike = [place for place, (word, _) in enumerate(words) if word == PART]
    for order, place in enumerate(alike):
        near = [levels[other] for other in alike[max(0, order - 3) : order + 4] if other != place]
        if near and levels[place] < LOW_LEVEL * np.median(near):
            share = levels[place] / np.median(near)
            words[place] = (LOW, f"rises to {100 * share:.0f} % of its neighbours: a cycle without a part")
    return words


def usual_length(lengths: np.ndarray, energies: np.ndarray) -> float:
    """The median length, weighted by energy."""
    order = np.argsort(lengths)
    summed = np.cumsum(np.maximum(energies[order], 0))
    return float(lengths[order][min(len(lengths) - 1, np.searchsorted(summed, summed[-1] / 2))])


def _any_beside(mask: np.ndarray, first: int, last: int, interval: float) -> bool:
    """Whether the mask has a place within a second of the stretch."""
    beside = places(1, interval)
    return bool(mask[max(0, first - beside) : last + beside].any())
