"""What no rule can do better: PYTHONPATH=.:tests python3 -m evidence.drift_bound.

Whoever finds the hinge that lies nearest to a curve a + b/h in 95 of 100 trials, with n readings, must find a knee on that curve in at
least Φ(1.645 − √λ) of them (Neyman and Pearson), where λ is the squared distance of the two curves in units of the scatter.  The hinge
is at least as steep as those of the simulated trials, its knee anywhere; drift is normal with a standard deviation of 0.4 % of the
level a reading, or none; n rpm at even steps from 40 to 160 % of nominal, out and back; mean over a from 0 to 0.5.
"""

from __future__ import annotations

from statistics import mean

import numpy as np
from scipy.stats import norm

from gritfuncs.knee import USUAL_DRIFT

FOUND = 0.95
STEEPEST_NEAR = 1.5  # the least steep hinge of the simulated trials
READINGS = (10, 13, 16, 20, 30)
OFFSETS = np.linspace(0, 0.5, 6)


def distance(n, scatter, offset, drift):
    """λ between a + b/h and the nearest hinge."""
    rpm = np.linspace(0.4, 1.6, n)
    depths, outward = rpm**0.25, np.argsort(abs(rpm - 1), kind="stable")
    time = np.empty(n)
    time[[*outward[::2], *outward[1::2][::-1]]] = np.arange(n) - (n - 1) / 2
    energies = offset + (1 - offset) / depths
    covariance = np.diag((scatter * energies) ** 2) + drift**2 * np.outer(time, time)
    weigh = np.linalg.cholesky(np.linalg.inv(covariance)).T
    nearest = np.inf
    for knee in np.linspace(depths[0], depths[-1], 120)[6:]:
        columns = np.column_stack([np.ones(n), np.maximum(0, 1 - depths / knee)])
        level, fall = np.linalg.lstsq(weigh @ columns, weigh @ energies, rcond=None)[0]
        if fall < STEEPEST_NEAR * level:
            shape = weigh @ columns @ [1.0, STEEPEST_NEAR]
            level = shape @ (weigh @ energies) / (shape @ shape)
            fall = STEEPEST_NEAR * level
        nearest = min(nearest, float(((weigh @ (energies - columns @ [level, fall])) ** 2).sum()))
    return nearest


def least_false(n, scatter, drift=USUAL_DRIFT):
    """The least share of trials on a + b/h in which a knee is found."""
    return mean(norm.cdf(norm.ppf(FOUND) - distance(n, scatter, offset, drift) ** 0.5) for offset in OFFSETS)


def main():
    for scatter in (0.01, 0.02, 0.03):
        for drift in (0.0, USUAL_DRIFT):
            cells = " | ".join(f"{100 * least_false(n, scatter, drift):.1f}" for n in READINGS)
            print(f"| {100 * scatter:g} % | {'none' if drift == 0 else '±0.4 %'} | {cells} |")


if __name__ == "__main__":
    main()
