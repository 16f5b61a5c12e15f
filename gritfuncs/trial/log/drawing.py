"""What a picture of a log shows, whatever it is drawn with: the thinned trace, numbered parts, other stretches, the words."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .sorting import GROUND, PART
from .sweep_plan import SAID

if TYPE_CHECKING:
    from .result import PartReading, PowerLog

POINTS = 2000  # of the trace; beyond that the lowest and highest of each piece stand for it
UNITS = {"power": "power, kW", "current": "current, A", "relative": "load"}


class Band(NamedTuple):
    """A stretch: its number if a part was ground in it, else 0, and its word."""

    start: float
    end: float
    number: int
    word: str
    reading: PartReading | None


def bands(log: PowerLog) -> list[Band]:
    readings = {reading.number: reading for reading in log.parts}
    found, number = [], 0
    for stretch in log.stretches:
        number += stretch.word in GROUND
        own = number if stretch.word in GROUND else 0
        found.append(Band(stretch.start, stretch.end, own, stretch.word, readings.get(own) if stretch.word == PART else None))
    return found


class Label(NamedTuple):
    """What stands above stretches: the number of a part, or the word of others."""

    at: float  # s
    text: str
    is_part: bool


def labels(log: PowerLog, near: float) -> list[Label]:
    """The labels of all stretches; neighbours of one word that are nearer than `near` [s] share one."""
    found: list[Label] = []
    group: list[Band] = []
    for band, later in zip(shown := bands(log), [*shown[1:], None]):
        group.append(band)
        if later and not band.number and later.word == band.word and later.start - band.end < near:
            continue
        word = f"{band.number}: {band.word}" if band.number else band.word if len(group) == 1 else f"{len(group)} × {band.word}"
        at = (group[0].start + band.end) / 2
        found.append(Label(at, str(band.number), True) if band.reading else Label(at, word, False))
        group = []
    return found


def thinned(log: PowerLog, first: int = 0, last: int | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Time and power of at most POINTS points, with every peak and every dip."""
    trace = log.trace
    power = trace.power[first:last]
    time = trace.start + (first + np.arange(len(power)) + 0.5) * trace.interval
    width = -(-len(power) // (POINTS // 2))
    if width <= 2:
        return time, power
    whole = len(power) // width * width
    pieces = power[:whole].reshape(-1, width)
    rows = np.arange(len(pieces)) * width
    places = np.sort(np.column_stack((rows + pieces.argmin(1), rows + pieces.argmax(1))), axis=1).ravel()
    return time[places], power[places]


def title(log: PowerLog) -> str:
    if log.refusal and not log.parts:
        return f"{log.source}: no readings"
    ground = sum(band.number > 0 for band in bands(log))
    where = "just before contact (it steps up there)" if log.idle_step else "before and after each part"
    read = "" if ground == len(log.parts) else f", {len(log.parts)} read"
    swept = f"; rpm swept within each: {SAID}" if log.swept else ""
    return f"{log.source}: {ground} parts found{read}{swept}; lag {log.lag:.2g} s; idle read {where}"
