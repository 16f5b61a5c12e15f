"""General-purpose libraries for knees and segmented regression, called as their documentation says, with seeds."""

from __future__ import annotations

import warnings

import numpy

SEED = 1


def pwlf_fit(depths, energies):
    """(corner, its standard error by the delta method, sum of squares) of two lines by pwlf."""
    import pwlf

    fit = pwlf.PiecewiseLinFit(depths, energies, seed=SEED)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # overflow and poor conditioning of the searches
        fit.fit(2)
        errors = fit.standard_errors(method="non-linear", step_size=1e-4)  # of three parameters of the lines, then of the corner
    return float(fit.fit_breaks[1]), float(errors[-1]), float(fit.ssr)


def piecewise_regression_fit(depths, energies):
    """(corner, low, high) with the 95 % interval of piecewise-regression; None where it does not converge."""
    import piecewise_regression

    numpy.random.seed(SEED)  # its restarts draw from the global generator
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = piecewise_regression.Fit(list(depths), list(energies), n_breakpoints=1).get_results()
    if not found["converged"]:
        return None
    corner = found["estimates"]["breakpoint1"]
    return (corner["estimate"], *corner["confidence_interval"])


def kneed_corner(depths, energies):
    """The point farthest from the chord by kneed, or None."""
    from kneed import KneeLocator

    order = numpy.argsort(depths)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return KneeLocator(depths[order], energies[order], curve="convex", direction="decreasing").knee
