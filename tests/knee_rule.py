"""The whole rule of the verdict once more, from its description (docs/knee.md and the named thresholds), with numpy and scipy.

Slow and plain: every fit is a least-squares solution by numpy, every interval a search along the sums of squares.  For trials
whose different depths lie more than 2 % of their range apart.
"""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
from knee_reference import free_profile, profile
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import f, t

STEPS = 60  # of the search in each gap between depths


def least_squares(columns, u):
    design = np.column_stack(columns)
    solution = np.linalg.lstsq(design, u, rcond=None)[0]
    return solution, float(((u - design @ solution) ** 2).sum())


def corner_fit(h, u, ratio):
    """(sum of squares, corner, level, slope) of the best falling corner whose later slope is this share of the earlier one."""
    places, found = np.unique(h), []
    for corner in places[1:]:
        gap = corner - h
        (level, slope), sse = least_squares([np.ones_like(h), np.where(gap > 0, gap, ratio * gap)], u)
        found.append((sse, corner, level, slope))
    for first, last in zip(places, places[1:]):
        left = h <= first
        (a, c, slope), sse = least_squares([left * 1.0, ~left * 1.0, np.where(left, -h, -ratio * h)], u)
        if slope > 0:
            corner = (a - c) / (slope * (1 - ratio))
            if first < corner < last:
                found.append((sse, corner, a - slope * corner, slope))
    return min((fit for fit in found if fit[3] > 0), default=None)


def line_fit(h, u):
    """(slope upwards, sum of squares) of a straight line."""
    (_, slope), sse = least_squares([np.ones_like(h), h], u)
    return slope, sse


def stick_fit(h, u):
    """(sum of squares, corner, level, fall before it, fall beyond it), with two depths on each side at least."""
    places, found = np.unique(h), []
    for first, last in list(zip(places, places[1:]))[1:-1]:
        left, corners = h <= first, [first, last]
        (a, b, c, d), _ = least_squares([left * 1.0, left * h, ~left * 1.0, ~left * h], u)
        if b != d and first < (c - a) / (b - d) < last:
            corners.append((c - a) / (b - d))
        for corner in corners:
            (level, before, beyond), sse = least_squares(
                [np.ones_like(h), np.maximum(0, corner - h), np.minimum(0, corner - h)], u
            )
            found.append((sse, corner, level, before, beyond))
    return min(found)


def span(excess, places, best):
    """Lowest and highest corner that is not excluded; `excess` of corners is <= 0 where they are not."""
    grid = np.unique(np.concatenate([np.linspace(*gap, STEPS) for gap in zip(places, places[1:])] + [[best]]))
    values = excess(grid)
    dips = 1 + np.flatnonzero(
        (values[1:-1] > 0) & (values[1:-1] <= values[:-2]) & (values[1:-1] <= values[2:]) & np.isfinite(values[1:-1])
    )
    bottoms = [
        minimize_scalar(
            lambda k: excess(np.array([k]))[0], bounds=grid[[dip - 1, dip + 1]], method="bounded", options=dict(xatol=1e-13)
        ).x
        for dip in dips
    ]  # a dip between two steps of the search
    grid = np.union1d(grid, bottoms)
    inside = np.flatnonzero(excess(grid) <= 0)

    def end(near, far):
        return (
            brentq(lambda k: excess(np.array([k]))[0], grid[near], grid[far], xtol=1e-13) if 0 <= far < len(grid) else grid[near]
        )

    return end(inside[0], inside[0] - 1), end(inside[-1], inside[-1] + 1)


def rule(depths, energies, noise=None):
    """The verdict, why (words that its reason holds) and its numbers as a dict, without the search for a reading out of line."""
    h, u = np.array(depths, float), np.array(energies, float)
    places, n = np.unique(h), len(h)
    if n < 6 or len(places) < 5:
        return dict(verdict="too few readings", why="needs at least")
    first, length, mean = places[0], places[-1] - places[0], u.mean()
    spread = ((u - mean) ** 2).sum()
    sse, corner, level, slope = corner_fit(h, u, 0.0) or (spread, first, mean, 0.0)
    rising, line_sse = line_fit(h, u)
    positive = level > 0.01 * np.abs(u).max()
    scale = level if positive else np.abs(u).max()
    floor = noise or repeat_scatter(h, u)

    def variance(squares, parameters):
        return max(squares / (n - parameters), (floor * scale) ** 2)

    shown = dict(noise_floor=floor, noise=sqrt(variance(sse, 3)) / level if positive else None, scatter_low=first)
    error = t.ppf(0.95, n - 2) * sqrt(variance(line_sse, 2) / ((h - h.mean()) ** 2).sum())
    rises = rising > error
    falls = (spread - sse) / variance(sse, 3) > 2 * f.ppf(0.95, 2, n - 3)
    if positive and not rises and (abs(rising) + error) * length / mean <= 0.1:
        if not falls or slope * (corner - first) / level <= 0.1:
            return dict(shown, verdict="already level", level=mean, why=f"any knee lies below {first:.4g} µm")
    stick_sse, bend, at_bend, before, beyond = stick_fit(h, u)
    bends = sse - stick_sse > f.ppf(0.95, 1, n - 4) * variance(stick_sse, 4)
    gentle = abs(beyond) <= 0.25 * before
    if not falls:
        return dict(
            shown,
            verdict="not resolved",
            why="rise with depth"
            if rises
            else "rise again beyond"
            if bends and not gentle and beyond < 0
            else "as large as any fall",
        )
    limit = sse + f.ppf(0.95, 1, n - 3) * variance(sse, 3)

    def hinge_excess(corners):
        squares, fall = profile(h, u, corners)
        return np.where(fall > 0, squares - limit, inf)

    inner = np.append(places[1:], [])
    low, high = span(hinge_excess, inner, corner)
    if hinge_excess(places[1:2])[0] <= 0:
        low = first  # one depth alone lies below: every place fits equally well
    if rising < 0 and line_sse <= limit:
        shown.update(scatter_low=low)
        return (
            dict(shown, verdict="still falling", low=low, why="without a knee fits")
            if low >= first + length / 2
            else dict(shown, verdict="not resolved", why="which could lie anywhere above")
        )
    freedom, s2, corner_sse = n - 3, variance(sse, 3), sse
    if bends:
        later = beyond * (places[-1] - bend)
        if beyond > 0 and not (gentle and later <= 0.3 * max(at_bend, scale)):
            return dict(
                shown,
                verdict="still falling",
                low=min(low, bend),
                scatter_low=min(low, bend),
                scatter_high=high,
                why="but goes on",
            )
        if not gentle:
            return dict(shown, verdict="not resolved", scatter_low=low, scatter_high=high, why="rise again beyond")
        if beyond > 0:
            freedom, s2 = n - 4, variance(stick_sse, 4)
            corner, level, slope, corner_sse = bend, at_bend, before, stick_sse
            stick_limit = stick_sse + f.ppf(0.95, 1, n - 4) * s2

            def stick_excess(corners):
                return free_profile(h, u, corners) - stick_limit

            other = list(span(stick_excess, places[1:-1], bend))
            if stick_excess(places[1:2])[0] <= 0:
                other[0] = first
            if stick_excess(places[-2:-1])[0] <= 0:
                other[1] = places[-1]
            low, high = min(low, other[0]), max(high, other[1])
    fit = dict(knee=corner, level=level, slope=slope, curved=False)
    curve = curved_fall(h, u, corner_sse, lambda squares: variance(squares, 3))
    if curve:
        low, high = min(low, curve["low"]), max(high, curve["high"])
        if corner_sse > curve["limit"]:
            fit = dict(knee=curve["knee"], level=curve["level"], slope=curve["slope"], curved=True)
            shown.update(noise=sqrt(variance(curve["sse"], 3)) / scale if positive else None)
    half_as_steep = corner_fit(h, u, 0.5)
    levels = half_as_steep is None or (half_as_steep[0] - corner_sse) / s2 > f.ppf(0.9, 1, freedom)
    shown.update(scatter_low=low, scatter_high=high if high < inf else None)
    beyond_last_gap = (
        high > places[-1] or corner > places[-2] or u[h == places[-1]].mean() - level > sqrt(variance(corner_sse, 3))
    )
    too_low, too_high = low <= places[1], high > places[-2] and beyond_last_gap
    doubts = {
        "A curved fall without a knee": high == inf,
        "anywhere in the range": too_low and too_high,
        "below it to see": too_low,
        "beyond it to see": too_high,
        "may still be falling": not levels,
        "too wide a span": high - low > min(0.4 * fit["knee"], 0.6 * length),
    }
    for why, holds in doubts.items():
        if holds:
            return dict(shown, verdict="not resolved", why=why)
    half_gap, knee = length / (len(places) - 1) / 2, fit["knee"]
    return dict(
        shown,
        **fit,
        verdict="found",
        why="and level off",
        low=max(first, min(low, knee - half_gap)),
        high=min(places[-1], max(high, knee + half_gap)),
        definition_allowance=half_gap,
    )


def curved_fall(h, u, straight_sse, variance):
    """Corner and interval of a fall with 1/h², by the same fits over -1/h²; None where the readings exclude it."""
    x = -((h.min() / h) ** 2)
    fit, places = corner_fit(x, u, 0.0), np.unique(x)
    if fit is None or fit[0] >= ((u - u.mean()) ** 2).sum():
        return None
    sse, corner, level, slope = fit
    least = min(sse, straight_sse)
    limit = least + f.ppf(0.95, 1, len(u) - 3) * variance(least)
    if sse > limit:
        return None

    def excess(corners):
        squares, fall = profile(x, u, corners)
        return np.where(fall > 0, squares - limit, inf)

    low, high = span(excess, places[1:], corner)
    if excess(places[1:2])[0] <= 0:
        low = places[0]
    rising, line_sse = line_fit(x, u)
    ends = [h.min() / sqrt(-end) for end in (low, high)]
    knee = h.min() / sqrt(-corner)
    return dict(
        knee=knee,
        level=level,
        slope=2 * slope * h.min() ** 2 / knee**3,
        sse=sse,
        limit=limit,
        low=ends[0],
        high=inf if rising < 0 and line_sse <= limit else ends[1],
    )


def repeat_scatter(h, u):
    repeats = [u[h == place] for place in np.unique(h) if (h == place).sum() > 1]
    freedom = sum(len(group) - 1 for group in repeats)
    if freedom < 2 or np.concatenate(repeats).mean() <= 0:
        return 0.01
    pooled = sqrt(sum(((group - group.mean()) ** 2).sum() for group in repeats) / freedom)
    return max(0.005, pooled / np.concatenate(repeats).mean())


def out_of_line(h, u, noise=None):
    """Position of the reading without which the hinge fits better beyond chance, or None."""
    h, u = np.array(h, float), np.array(u, float)
    n, spread = len(h), ((u - u.mean()) ** 2).sum()
    sse, _, level, _ = corner_fit(h, u, 0.0) or (spread, 0, u.mean(), 0)
    scale = level if level > 0.01 * np.abs(u).max() else np.abs(u).max()
    without = []
    for i in range(n):
        rest = np.delete(u, i)
        fit = corner_fit(np.delete(h, i), rest, 0.0)
        without.append(min(fit[0] if fit else inf, ((rest - rest.mean()) ** 2).sum()))
    best = int(np.argmin(without))
    variance = max(without[best] / (n - 4), ((noise or repeat_scatter(h, u)) * scale) ** 2)
    return best if f.sf((sse - without[best]) / variance, 1, n - 4) * n < 0.01 else None
