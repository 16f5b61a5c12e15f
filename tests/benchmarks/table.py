"""Speed tables.

A thousand part diameters by a thousand infeed rates, beside bare numpy. The bare work rpm is typed in two ways: as the
formula is printed, and in the quickest way there is, everything that depends on the diameter alone first and then one
division a cell. `speed_table(...)` checks the inputs and computes the rpm of every cell; whatever else a cell holds is
computed when it is asked for. `arrays` holds all of it for all cells: nine numbers, and in words which of the limits a cell
breaks (seven limits are given). `rows` makes an object of every cell, for tables that people read. The limits cost many times
the rpm itself, in bare numpy as well: a line measures that against the same numbers and words typed in numpy. So the goal of
twice the bare rpm is within reach for the rpm only. A table checks the rpm at its lowest and its highest infeed rate, between
which all others lie; `work_rpm_for` reads all its results once more.
"""

from __future__ import annotations

from math import pi

import numpy

import gritfuncs as gf

from .timing import Case

FULL, TINY = 1000, 5
GOAL = 2.0
DEPTH, WHEEL_SPEED, WHEEL, DENSITY, RATIO, ENERGY, WIDTH, IDLE = 1.2, 25.0, 200.0, 20.0, 10.0, 100.0, 10.0, 0.8
LIMITS = dict(
    lowest_work_rpm=20.0,
    highest_work_rpm=200.0,
    lowest_infeed_rate=0.2,
    highest_infeed_rate=1.0,
    highest_speed_ratio=200.0,
    highest_removal_rate=3.0,
    highest_power=4.0,
)


def printed_rpm(diameters, rates):
    diameter = diameters[:, None]
    equivalent = WHEEL * diameter / (diameter + WHEEL)
    return equivalent / rates * ((DEPTH / 1000) ** 2 * DENSITY * RATIO * 60000 * WHEEL_SPEED / (4 * pi * diameter)) ** 2


def quickest_rpm(diameters, rates):
    equivalent = WHEEL * diameters / (diameters + WHEEL)
    return (equivalent * ((DEPTH / 1000) ** 2 * DENSITY * RATIO * 60000 * WHEEL_SPEED / (4 * pi * diameters)) ** 2)[
        :, None
    ] / rates


def bare_all(diameters, rates):
    """What the arrays of a speed table hold, by name."""
    column, rpm = diameters[:, None], quickest_rpm(diameters, rates)
    speed = pi * column * rpm / 1000
    removal_rate = pi * column * rates / 60
    ratio, power = 60 * WHEEL_SPEED / speed, ENERGY * removal_rate * WIDTH / 1000 + IDLE
    word = numpy.select(
        [
            rpm > LIMITS["highest_work_rpm"],
            rpm < LIMITS["lowest_work_rpm"],
            rates > LIMITS["highest_infeed_rate"] + 0 * rpm,
            rates < LIMITS["lowest_infeed_rate"] + 0 * rpm,
            ratio > LIMITS["highest_speed_ratio"],
            removal_rate > LIMITS["highest_removal_rate"],
            power > LIMITS["highest_power"],
        ],
        ["rpm too high", "rpm too low", "infeed too high", "infeed too low", "ratio too high", "Q'w too high", "power too high"],
        "ok",
    )
    return dict(
        work_diameter=numpy.broadcast_to(column, rpm.shape),
        infeed_rate=numpy.broadcast_to(rates, rpm.shape),
        work_rpm=rpm,
        lowest_rpm=0.98**4 * rpm,
        highest_rpm=1.02**4 * rpm,
        work_speed=speed,
        speed_ratio=ratio,
        removal_rate=removal_rate,
        power=power,
        word=word,
    )


def same_arrays(ours, bare):
    return all(
        (ours[name] == values).all() if name == "word" else numpy.allclose(ours[name], values) for name, values in bare.items()
    )


def same_rows(rows, rpm):
    return numpy.allclose([[cell.work_rpm for cell in row] for row in rows], rpm)


def cases(stack, size=FULL):
    diameters, rates, limits = numpy.linspace(10.0, 60.0, size), numpy.linspace(0.1, 2.0, size), gf.Limits(**LIMITS)

    def table():
        return gf.speed_table(
            grit_depth=DEPTH,
            work_diameters=diameters,
            infeed_rates=rates,
            wheel_speed=WHEEL_SPEED,
            marked_wheel_speed=35.0,
            wheel_diameter=WHEEL,
            side=gf.EXTERNAL,
            grit_density=DENSITY,
            shape_ratio=RATIO,
            limits=limits,
            specific_energy=ENERGY,
            contact_width=WIDTH,
            idle_power=IDLE,
        )

    def by_function():
        return gf.work_rpm_for(DEPTH, diameters[:, None], rates, WHEEL_SPEED, WHEEL, gf.EXTERNAL, DENSITY, RATIO)

    def quickest():
        return quickest_rpm(diameters, rates)

    cells, alone = f"{size * size:,} cells", "bare numpy, the rpm in the quickest way"
    for way, bare in (
        ("bare numpy, the rpm as the formula is printed", lambda: printed_rpm(diameters, rates)),
        (alone, quickest),
    ):
        yield Case(f"`speed_table(...)`, {cells}, the rpm", way, lambda: table().work_rpm, bare, numpy.allclose, GOAL)
        yield Case(f"`work_rpm_for` on a column and a row, {cells}", way, by_function, bare, numpy.allclose, GOAL)
    yield Case(
        f"`speed_table(...).arrays`, {cells}, nine numbers and the words of broken limits",
        alone,
        lambda: table().arrays,
        quickest,
        lambda ours, theirs: numpy.allclose(ours["work_rpm"], theirs),
        GOAL,
        pairs=7,
    )
    yield Case(
        f"`speed_table(...).arrays`, {cells}, the same",
        "bare numpy, the same numbers and words",
        lambda: table().arrays,
        lambda: bare_all(diameters, rates),
        same_arrays,
        pairs=7,
    )
    yield Case(f"`speed_table(...).rows`, {cells} as objects", alone, lambda: table().rows, quickest, same_rows, pairs=3)
