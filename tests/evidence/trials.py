"""Invented trials with a known truth, drawn from seeds: the same ones on every machine.

Nominal depth is 1; depth goes with the fourth root of the rpm, as in plunge grinding at constant infeed rate.
"""

from __future__ import annotations

import random
from math import exp, log1p
from typing import NamedTuple


def hinge(draw, knee, steep):
    return lambda h: 1 + steep * max(0.0, knee - h) / knee


def two_slope(draw, knee, steep):
    """Beyond the corner it falls on with 3 to 15 % of the slope."""
    beyond = draw.uniform(0.03, 0.15)
    return lambda h: 1 + steep * (knee - h) / knee * (1 if h < knee else beyond)


def rounded(draw, knee, steep):
    """A hinge whose corner is rounded off within 0.5 to 2 % of the depth."""
    width = draw.uniform(0.005, 0.02) * knee

    def energy(h):
        t = (knee - h) / width
        return 1 + steep * width / knee * (max(t, 0.0) + log1p(exp(-abs(t))))

    return energy


def power_with_level(draw, knee, steep):
    return lambda h: max(1.0, (knee / h) ** steep)


def no_knee(draw, knee, steep):
    return lambda h: h**-steep


def line(draw, knee, steep):
    """Straight down to depths that no trial reaches."""
    return lambda h: 1 + steep * (2 - h / knee)


def flat(draw, knee, steep):
    return lambda h: 1.0


WITH_KNEE = {"hinge": hinge, "two slopes": two_slope, "rounded": rounded, "power, level": power_with_level}
WITHOUT_KNEE = {"power law": no_knee, "straight line": line, "flat": flat}
SHAPES = {**WITH_KNEE, **WITHOUT_KNEE}

# Lowest and highest rpm over nominal.
RPM_RANGES = {"±20 %": (0.8, 1.2), "±40 %": (0.6, 1.4), "±60 %": (0.4, 1.6), "1 to 16": (0.25, 4.0)}


class Trial(NamedTuple):
    knee: float  # of the truth; without meaning for shapes that have none
    depths: tuple
    energies: tuple


def trial(shape, rpm_range, readings, noise, number):
    """One trial: even steps of depth, the knee in the middle two fifths of them, a fall of 1.5 to 4 times the relative depth below it."""
    draw = random.Random(f"{shape}, {rpm_range}, {readings}, {noise}, {number}")
    low, high = (rpm**0.25 for rpm in RPM_RANGES[rpm_range])
    knee = low + draw.uniform(0.3, 0.7) * (high - low)
    energy = SHAPES[shape](draw, knee, draw.uniform(1.5, 4.0))
    depths = [low + (high - low) * step / (readings - 1) for step in range(readings)]
    draw.shuffle(depths)
    return Trial(knee, tuple(depths), tuple(energy(h) * (1 + noise * draw.gauss(0, 1)) for h in depths))
