"""Quantiles of Student's t and of F with 1 or 2 numerator degrees of freedom."""

from __future__ import annotations

from functools import lru_cache
from math import cos, exp, lgamma, pi, sin, sqrt, tan


@lru_cache(maxsize=256)
def t_quantile(probability: float, freedom: int) -> float:
    """t below which a Student variable stays with `probability` (at least 0.5).

    With t = sqrt(v) tan(angle), P(|T| < t) is a finite sum for whole v (Abramowitz & Stegun, Handbook of
    Mathematical Functions, 26.7.3 and 26.7.4).  It is concave in the angle, so Newton's steps from 0 never
    overshoot.
    """
    inside = 2.0 * probability - 1.0
    slope_at_zero = 2.0 * exp(lgamma((freedom + 1) / 2) - lgamma(freedom / 2)) / sqrt(pi)
    angle = 0.0
    while True:
        step = (inside - _share_inside(angle, freedom)) / (slope_at_zero * cos(angle) ** (freedom - 1))
        if angle + step <= angle:
            return sqrt(freedom) * tan(angle)
        angle += step


def _share_inside(angle: float, freedom: int) -> float:
    """P(|T| < sqrt(v) tan(angle))."""
    cosine = cos(angle)
    if freedom % 2:
        term, total = cosine, 0.0
        for k in range(1, (freedom - 1) // 2 + 1):
            total += term
            term *= cosine * cosine * 2 * k / (2 * k + 1)
        return 2.0 / pi * (angle + sin(angle) * total)
    term, total = 1.0, 0.0
    for k in range(1, freedom // 2 + 1):
        total += term
        term *= cosine * cosine * (2 * k - 1) / (2 * k)
    return sin(angle) * total


def f1_quantile(probability: float, freedom: int) -> float:
    """F with 1 and `freedom` degrees of freedom: the square of a two-sided t."""
    return t_quantile((1.0 + probability) / 2.0, freedom) ** 2


def f2_quantile(probability: float, freedom: int) -> float:
    """F with 2 and `freedom` degrees of freedom: closed form."""
    return freedom / 2.0 * ((1.0 - probability) ** (-2.0 / freedom) - 1.0)
