"""The same trials given to general-purpose libraries for knees and segmented regression.

`pwlf` and `piecewise-regression` fit two straight lines with a free corner and state a 95 % interval (pwlf: standard
errors of its documentation's delta method, times the t quantile); `kneed` takes the point farthest from the chord.
"""

from __future__ import annotations

from statistics import mean, median

import numpy as np
from peers import kneed_corner, piecewise_regression_fit, pwlf_fit
from scipy import stats

from gritfuncs.knee import find_knee
from gritfuncs.knee.result import FOUND

from .trials import WITH_KNEE, trial

RPM_RANGE, READINGS, NOISE = "±60 %", 10, 0.02
TRIALS = 100  # of each shape
SHAPES = ("hinge", "two slopes", "rounded", "power law", "straight line", "flat")


def by_gritfuncs(depths, energies):
    knee = find_knee(depths, energies)
    return (knee.knee, knee.low, knee.high) if knee.verdict == FOUND else None


def by_pwlf(depths, energies):
    corner, error, _ = pwlf_fit(depths, energies)
    half = float(stats.t.ppf(0.975, len(depths) - 4)) * error
    return corner, corner - half, corner + half


def by_kneed(depths, energies):
    corner = kneed_corner(depths, energies)
    return None if corner is None else (float(corner), None, None)


METHODS = {"gritfuncs": by_gritfuncs, "pwlf": by_pwlf, "piecewise-regression": piecewise_regression_fit, "kneed": by_kneed}


def row(shape, method):
    """[shape, method, knees %, median error %, RMS error %, covers %]; the last three of the knees given, where there is one."""
    answers, truths = [], []
    for number in range(TRIALS):
        truth, depths, energies = trial(shape, RPM_RANGE, READINGS, NOISE, number)
        try:
            answer = METHODS[method](np.array(depths), np.array(energies))
        except (np.linalg.LinAlgError, ValueError, RuntimeError):
            answer = None
        if answer is not None and min(depths) < answer[0] < max(depths):
            answers.append(answer)
            truths.append(truth)
    cells = [shape, method, f"{100 * len(answers) / TRIALS:.1f}"]
    if shape not in WITH_KNEE or not answers:
        return [*cells, "-", "-", "-"]
    errors = [100 * (answer[0] / truth - 1) for answer, truth in zip(answers, truths)]
    intervals = [low <= truth <= high for (_, low, high), truth in zip(answers, truths) if low is not None]
    return [
        *cells,
        f"{median(errors):+.1f}",
        f"{mean(error**2 for error in errors) ** 0.5:.1f}",
        f"{100 * sum(intervals) / len(intervals):.1f}" if intervals else "-",
    ]


ROWS = [(shape, method) for shape in SHAPES for method in METHODS]
