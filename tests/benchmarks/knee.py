"""The knee.

Ten readings, with verdict and interval, beside general-purpose libraries on the same invented trials. pwlf fits two lines
with a free corner (`fit(2)`, and its standard errors by the delta method), piecewise-regression does the same with its
defaults, kneed takes the point farthest from a chord and states no interval. On every trial two things are checked as well,
and neither may exceed the other by more than rounding: the sum of squares of our hinge that of the best hinge with its corner
at the other's break, and that of our two lines with a free corner that of pwlf, wherever its corner has two depths on each
side.
"""

from __future__ import annotations

import numpy
from knee_reference import falling
from peers import kneed_corner, piecewise_regression_fit, pwlf_fit

from gritfuncs.knee import find_knee
from gritfuncs.knee.hinge import fit_corner, fit_stick
from gritfuncs.knee.readings import read

from .timing import Case

TRIALS, READINGS, SEED = 100, 10, 7
GOAL = 1 / 100


def trials(count=TRIALS, seed=SEED):
    """Readings of an rpm trial within ±60 % of nominal: a fall that ends in a level, in a gentle slope, or nowhere; scatter 2 %."""
    chance = numpy.random.default_rng(seed)
    for _ in range(count):
        depths = 1.2 * (1 + chance.uniform(-0.6, 0.6, READINGS)) ** 0.25
        knee, steep, beyond = chance.uniform(1.0, 1.3), chance.uniform(1.5, 4.0), chance.choice([0.0, 0.0, 0.1, 1.0])
        energies = 60 * (1 + steep * (numpy.maximum(0, knee - depths) - beyond * numpy.maximum(0, depths - knee)) / knee)
        yield depths, energies * (1 + 0.02 * chance.standard_normal(READINGS))


def hinge_excess(depths, energies, place):
    """Our hinge's sum of squares over that of the hinge held at a place, less one."""
    return fit_corner(read(depths, energies)).sse / falling(depths, energies)([place])[0] - 1


def stick_excess(depths, energies, place, squares):
    """Our free corner's sum of squares over another's, less one; None where that corner has too few depths on a side."""
    distinct = numpy.unique(depths)
    if min((distinct <= place).sum(), (distinct >= place).sum()) < 2:
        return None
    return fit_stick(read(depths, energies)).sse / squares - 1


def by_pwlf(depths, energies):
    corner, _, squares = pwlf_fit(depths, energies)
    return corner, squares


def by_piecewise_regression(depths, energies):
    found = piecewise_regression_fit(depths, energies)
    return (found and found[0]), None


def by_kneed(depths, energies):
    return kneed_corner(depths, energies), None


PEERS = (("pwlf", by_pwlf, GOAL), ("piecewise-regression", by_piecewise_regression, GOAL), ("kneed", by_kneed, None))


def against(name, fit, goal):
    """The case of one peer, with what its breaks say about our sums of squares."""
    drawn = list(trials(TRIALS + 1))  # the first one warms up
    for_ours, for_theirs = iter(drawn), iter(drawn)
    fits = []

    def theirs():
        fits.append(fit(*next(for_theirs)))

    def note():
        hinges = [hinge_excess(*trial, place) for trial, (place, _) in zip(drawn, fits) if place is not None]
        sticks = [stick_excess(*trial, *found) for trial, found in zip(drawn, fits) if found[1] is not None]
        sticks = [excess for excess in sticks if excess is not None]
        lines = [f"Sum of squares, our hinge beside the best one with its corner at the break of {name}: {_in_words(hinges)}."]
        return lines + (
            [f"Sum of squares, our two lines with a free corner beside {name}: {_in_words(sticks)}."] if sticks else []
        )

    return Case(
        f"`find_knee`, {READINGS} readings", name, lambda: find_knee(*next(for_ours)), theirs, None, goal, TRIALS, note=note
    )


def _in_words(excesses):
    above, median = max(excesses), 100 * float(numpy.median(excesses))
    return f"{len(excesses)} trials; ours is the larger by {max(above, 0):.0e} of it at most, and in the median smaller by {max(-median, 0):.1f} %"


def cases(stack, size=None):
    for name, fit, goal in PEERS:
        try:
            __import__(name.replace("-", "_"))
        except ImportError:
            print(f"  {name} is not installed, so find_knee is not compared with it: pip install {name}", flush=True)
            continue
        yield against(name, fit, goal)
