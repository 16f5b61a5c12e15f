"""The quantiles of the standard library alone against scipy."""
import pytest
from scipy import stats

from gritfuncs.knee.quantiles import f1_quantile, f2_quantile, t_quantile

FREEDOMS = range(1, 201)


@pytest.mark.parametrize("probability", [0.6, 0.9, 0.95, 0.975, 0.99, 1 - 0.01 / 40])
def test_quantiles_equal_scipy(probability):
    for freedom in FREEDOMS:
        ours = [quantile(probability, freedom) for quantile in (t_quantile, f1_quantile, f2_quantile)]
        theirs = [stats.t.ppf(probability, freedom), *stats.f.ppf(probability, [1, 2], freedom)]
        assert ours == pytest.approx(theirs, rel=1e-10)


def test_quantiles_equal_the_printed_table():
    """Upper points of t and F: Fisher & Yates, Statistical Tables, tables III and V (recalled)."""
    assert round(t_quantile(0.975, 1), 3) == 12.706
    assert round(t_quantile(0.975, 5), 3) == 2.571
    assert round(f1_quantile(0.95, 10), 2) == 4.96
    assert round(f2_quantile(0.95, 10), 2) == 4.10
