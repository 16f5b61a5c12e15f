"""Functions on arrays.

A million numbers, beside the bare numpy expression that a user would type. Ours check every number of every argument and of
the result; the bare expression checks nothing. Long columns are checked and computed a block at a time, so that the numbers
stay in the processor's cache meanwhile: that pays for the checks.
"""

from __future__ import annotations

from math import pi

import numpy

import gritfuncs as gf

from .timing import Case

FULL, TINY = 1_000_000, 7
GOAL = 1.3


def bare_plunge_grit_depth(work_rpm, work_diameter, infeed_rate, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    return 1000 * numpy.sqrt(
        4
        / (grit_density * shape_ratio)
        * (pi * work_diameter * work_rpm / 1000)
        / (60 * wheel_speed)
        * numpy.sqrt(infeed_rate / work_rpm / (wheel_diameter * work_diameter / (work_diameter + side * wheel_diameter)))
    )


def bare_grit_depth(work_speed, wheel_speed, depth_of_cut, equivalent_diameter, grit_density, shape_ratio):
    return 1000 * numpy.sqrt(
        4
        / (grit_density * shape_ratio)
        * work_speed
        / (60 * wheel_speed)
        * numpy.sqrt(depth_of_cut / (1000 * equivalent_diameter))
    )


PLUNGE = dict(
    work_rpm=(50, 200),
    work_diameter=(5, 100),
    infeed_rate=(0.1, 2),
    wheel_speed=(15, 35),
    wheel_diameter=(100, 300),
    side=(1, 1),
    grit_density=(5, 30),
    shape_ratio=(5, 15),
)
DEPTH = dict(
    work_speed=(5, 40),
    wheel_speed=(15, 35),
    depth_of_cut=(1, 20),
    equivalent_diameter=(5, 100),
    grit_density=(5, 30),
    shape_ratio=(5, 15),
)


def cases(stack, size=FULL):
    chance = numpy.random.default_rng(1)
    for name, ours, bare, ranges in (
        ("plunge_grit_depth", gf.plunge_grit_depth, bare_plunge_grit_depth, PLUNGE),
        ("grit_depth", gf.grit_depth, bare_grit_depth, DEPTH),
    ):
        columns = {word: chance.uniform(low, high, size) for word, (low, high) in ranges.items()}
        one = {word: column if word == next(iter(ranges)) else float(column[0]) for word, column in columns.items()}
        for arguments, which in ((columns, f"all {len(columns)} arguments arrays"), (one, "one argument an array")):
            yield Case(
                f"`{name}`, {size:,} numbers, {which}",
                "bare numpy expression",
                lambda f=ours, a=arguments: f(**a),
                lambda f=bare, a=arguments: f(**a),
                numpy.allclose,
                GOAL,
            )
