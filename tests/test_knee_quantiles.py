"""The quantiles of the standard library alone against scipy."""

from __future__ import annotations

import pytest
from evidence.notes import RECALLED, computed, published
from scipy import stats

from gritfuncs.knee.quantiles import f1_quantile, f2_quantile, t_quantile

FREEDOMS = range(1, 201)


@pytest.mark.parametrize("probability", [0.6, 0.9, 0.95, 0.975, 0.99, 1 - 0.01 / 40])
def test_quantiles_equal_scipy(probability):
    for freedom in FREEDOMS:
        ours = [quantile(probability, freedom) for quantile in (t_quantile, f1_quantile, f2_quantile)]
        theirs = [stats.t.ppf(probability, freedom), *stats.f.ppf(probability, [1, 2], freedom)]
        for our, their in zip(ours, theirs):
            computed("quantiles of t, F(1, v), F(2, v)", "scipy.stats", their, our, within=1e-10)


def test_quantiles_equal_the_printed_table():
    """Upper points of t and F: Fisher & Yates, Statistical Tables, tables III and V (recalled)."""
    source = "Fisher & Yates, Statistical Tables, tables III and V"
    published(source, RECALLED, "t, 0.975, 1 degree of freedom", "12.706", t_quantile(0.975, 1))
    published(source, RECALLED, "t, 0.975, 5 degrees of freedom", "2.571", t_quantile(0.975, 5))
    published(source, RECALLED, "F(1, 10), 0.95", "4.96", f1_quantile(0.95, 10))
    published(source, RECALLED, "F(2, 10), 0.95", "4.10", f2_quantile(0.95, 10))
