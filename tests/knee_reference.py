"""Slow, plain computations of the knee's fits with numpy, independent of the package."""

from __future__ import annotations

import numpy as np


def profile(depths, energies, knees, ratio=0.0):
    """Sum of squares and fall of the best fit with its corner at each of the knees, by simple regression."""
    h, u = np.asarray(depths, float), np.asarray(energies, float)
    gap = np.asarray(knees, float)[:, None] - h[None, :]
    z = np.where(gap > 0, gap, ratio * gap)
    z = z - z.mean(axis=1, keepdims=True)
    y = u - u.mean()
    szz, szy = (z * z).sum(axis=1), z @ y
    fall = np.divide(szy, szz, out=np.zeros_like(szy), where=szz > 0)
    return ((y[None, :] - fall[:, None] * z) ** 2).sum(axis=1), fall


def free_profile(depths, energies, knees):
    """Sum of squares of the best fit with free slopes on both sides of each of the knees."""
    h, u = np.asarray(depths, float), np.asarray(energies, float)
    gap = np.asarray(knees, float)[:, None] - h[None, :]
    design = np.stack([np.ones_like(gap), np.maximum(0, gap), np.maximum(0, -gap)], axis=2)
    fit = np.einsum("kij,kj->ki", design, np.linalg.pinv(design) @ u)
    return ((u - fit) ** 2).sum(axis=1)


def search(function, places, points=41, zooms=9):
    """Smallest value of a function: in each gap between the places, a grid refined about its best point."""
    best = np.inf
    for first, last in zip(places, places[1:]):
        low, high = first, last
        for _ in range(zooms):
            grid = np.linspace(low, high, points)
            values = function(grid)
            i = int(np.argmin(values))
            best = min(best, values[i])
            step = grid[1] - grid[0]
            low, high = max(first, grid[i] - 2 * step), min(last, grid[i] + 2 * step)
    return best


def falling(depths, energies, ratio=0.0):
    """The profile with rising fits replaced by the level line."""
    u = np.asarray(energies, float)
    level = ((u - u.mean()) ** 2).sum()

    def sse(knees):
        squares, fall = profile(depths, energies, knees, ratio)
        return np.where(fall > 0, squares, level)

    return sse
