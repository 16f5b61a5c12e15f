"""Invented trials that are harder on the knee than those of trials.py: curved falls, knees in the outer parts, other designs.

Nominal depth is 1; depth goes with the fourth root of the rpm.  A trial is drawn from a seed, so each can be had alone.
"""

from __future__ import annotations

import random
from math import exp, hypot, log
from typing import NamedTuple

RPM_RANGES = {"±20 %": (0.8, 1.2), "±40 %": (0.6, 1.4), "±60 %": (0.4, 1.6), "1 to 16": (0.25, 4.0)}


def hinge(draw, knee, steep, low, high):
    return lambda h: 1 + steep * max(0.0, 1 - h / knee)


def rounded(draw, knee, steep, low, high):
    """A parabola joins fall and level within 4 to 15 % of the range to both sides of the knee."""
    width = draw.uniform(0.04, 0.15) * (high - low)
    return lambda h: 1 + steep / knee * (max(0.0, knee - h) if abs(knee - h) > width else (knee - h + width) ** 2 / (4 * width))


def hyperbola(draw, knee, steep, low, high):
    """Asymptotes that meet at the knee, 4 to 12 % of the range from the curve's bend."""
    width = draw.uniform(0.04, 0.12) * (high - low)
    return lambda h: 1 + steep / knee * (knee - h + hypot(knee - h, width)) / 2


def two_slopes(draw, knee, steep, low, high):
    """Goes on falling with 3 to 15 % of the slope."""
    later = draw.uniform(0.03, 0.15)
    return lambda h: 1 + steep * (1 - h / knee) * (1 if h < knee else later)


def power_to_level(draw, knee, steep, low, high):
    return lambda h: max(1.0, (knee / h) ** steep)


def exponential_to_level(draw, knee, steep, low, high):
    """An exponential of whose fall a tenth is left at the knee."""
    length = (knee - low) / log(10)
    return lambda h: 1 + 1.1 * steep * (1 - low / knee) * exp((low - h) / length)


def two_knees(draw, knee, steep, low, high):
    """A third of the slope is left between a first knee, about half way to the second, and the second; level beyond."""
    first = low + draw.uniform(0.4, 0.6) * (knee - low)
    return lambda h: 1 + steep / knee * (2 * max(0.0, first - h) + max(0.0, knee - h)) / 3


def offset_power(power):
    """A power of the depth above an offset of 0 to half of it: a curve without a knee."""

    def shape(draw, knee, steep, low, high):
        offset = draw.uniform(0.0, 0.5)
        return lambda h: offset + (1 - offset) * h**-power

    return shape


def exponential_on(draw, knee, steep, low, high):
    """An exponential of whose fall 40 % is left at the deepest reading."""
    length = (high - low) / log(2.5)
    return lambda h: 1 + steep * (high - low) * exp((low - h) / length)


def straight_on(draw, knee, steep, low, high):
    return lambda h: 1 + steep * (1.6 * high - h)


def flat(draw, knee, steep, low, high):
    return lambda h: 1.0


def step(draw, knee, steep, low, high):
    """Two levels: a wheel dressed or a meter switched half way."""
    return lambda h: 1 + (0.3 * steep * (high - low) if h < knee else 0.0)


def vee(draw, knee, steep, low, high):
    """Falls and rises at once, as where chips pack."""
    return lambda h: 1 + steep / knee * (max(0.0, knee - h) + 0.6 * max(0.0, h - knee))


WITH_KNEE = {
    "hinge": hinge,
    "rounded": rounded,
    "hyperbola": hyperbola,
    "two slopes": two_slopes,
    "power to level": power_to_level,
    "exponential to level": exponential_to_level,
    "two knees": two_knees,
}
WITHOUT_KNEE = {
    "a + b/√h": offset_power(0.5),
    "a + b/h": offset_power(1.0),
    "a + b/h²": offset_power(2.0),
    "exponential, 40 % left": exponential_on,
    "straight line": straight_on,
    "flat": flat,
    "step": step,
    "vee": vee,
}
SHAPES = {**WITH_KNEE, **WITHOUT_KNEE}


class Trial(NamedTuple):
    knee: float | None  # of the truth; None where there is none
    depths: tuple  # in the order taken
    energies: tuple


def trial(shape, rpm_range, noise, number, readings=None, seed="hard"):
    """One trial: the knee in the middle 70 % of the depths, a fall of 1.2 to 4.5 times the relative depth below it.

    Depths are even, at even rpm or uneven; each once, each twice or nominal three times; in any order.
    """
    draw = random.Random(f"{seed}, {shape}, {rpm_range}, {noise}, {number}, {readings}")
    slowest, fastest = RPM_RANGES[rpm_range]
    low, high = slowest**0.25, fastest**0.25
    knee = low + draw.uniform(0.15, 0.85) * (high - low)
    energy = SHAPES[shape](draw, knee, exp(draw.uniform(log(1.2), log(4.5))), low, high)
    count = readings or draw.choice((6, 7, 8, 10, 12, 14))
    twice, thrice = draw.choice(((0, 0), (0, 0), (1, 0), (0, 1)))
    different = max(5, (count + 1) // 2 if twice else count - 2 if thrice else count)
    spacing = draw.choice(("depth", "rpm", "rough"))
    if spacing == "depth":
        depths = [low + (high - low) * place / (different - 1) for place in range(different)]
    elif spacing == "rpm":
        depths = [(slowest + (fastest - slowest) * place / (different - 1)) ** 0.25 for place in range(different)]
    else:
        depths = [low, high] + [draw.uniform(slowest, fastest) ** 0.25 for _ in range(different - 2)]
    more = [min(depths, key=lambda h: abs(h - 1))] * (count - different) if thrice else depths[: count - different]
    depths += more
    draw.shuffle(depths)
    return Trial(
        knee if shape in WITH_KNEE else None, tuple(depths), tuple(energy(h) * (1 + noise * draw.gauss(0, 1)) for h in depths)
    )
