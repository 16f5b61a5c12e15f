"""The knee with a load that does not go with the removal rate fitted beside it."""

from __future__ import annotations

import math

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gritfuncs.knee import find_knee
from gritfuncs.knee.fitted_offset import OffsetModel
from gritfuncs.knee.offset import inverse_rates, length, residual, tells_offset
from gritfuncs.knee.quantiles import f1_quantile
from gritfuncs.planning import plan_trial


def plan(**more):
    """Depths and removal rates of a plan that steps rpm and infeed, nominal 1."""
    readings = plan_trial(1.0, steps="rpm and infeed", infeed_rate=1.0, **more)
    return [(r.work_rpm * r.infeed_rate) ** 0.25 for r in readings], [r.infeed_rate for r in readings]


DEPTHS, RATES = plan()


def energies(knee=1.0, fall=2.0, scatter=0.0, idle=0.0, seed=0):
    draw = numpy.random.default_rng(seed)
    return [(1 + fall * max(0.0, knee - h)) * (1 + scatter * draw.normal()) + idle / rate for h, rate in zip(DEPTHS, RATES)]


def squares_at(knee, u):
    """Least squares with the corner at a place, by numpy."""
    columns = [numpy.ones(len(u)), numpy.array(inverse_rates(RATES)), numpy.maximum(0, knee - numpy.array(DEPTHS))]
    matrix = numpy.stack(columns, axis=1)
    solution, *_ = numpy.linalg.lstsq(matrix, numpy.array(u), rcond=None)
    if solution[2] < 0:
        matrix, solution = matrix[:, :2], numpy.linalg.lstsq(matrix[:, :2], numpy.array(u), rcond=None)[0]
    return float(((numpy.array(u) - matrix @ solution) ** 2).sum())


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    knee=st.floats(0.85, 1.12),
    fall=st.floats(1.5, 4),
    scatter=st.floats(0.005, 0.05),
    idle=st.floats(-0.3, 1),
)
def test_the_fit_is_the_best_of_all_corners_and_its_interval_exact(seed, knee, fall, scatter, idle):
    u = energies(knee, fall, scatter, idle, seed)
    model = OffsetModel(DEPTHS, u, RATES)
    fit = model.fit()
    grid = numpy.linspace(min(DEPTHS), max(DEPTHS), 400)[1:]
    by_grid = [squares_at(corner, u) for corner in grid]
    assert fit.sse <= min(by_grid) * (1 + 1e-9) + 1e-12
    assert fit.sse == pytest.approx(squares_at(fit.knee, u), rel=1e-6, abs=1e-12)
    variance = fit.sse / (len(u) - 4)
    hull = model.hull(fit, variance)
    limit = fit.sse + f1_quantile(0.95, len(u) - 4) * variance
    if math.isfinite(hull.high) and hull.low > sorted(DEPTHS)[1]:
        inside = [corner for corner, squares in zip(grid, by_grid) if squares <= limit]
        step = grid[1] - grid[0]
        assert not inside or hull.low - 1e-6 <= inside[0] <= hull.low + step + 1e-6
        assert not inside or hull.high - step - 1e-6 <= inside[-1] <= hull.high + 1e-6


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 1000), knee=st.floats(0.85, 1.12), idle=st.floats(-0.3, 3))
def test_an_idle_error_that_stays_moves_neither_knee_nor_verdict_nor_interval(seed, knee, idle):
    right = find_knee(DEPTHS, energies(knee, scatter=0.02, seed=seed), removal_rates=RATES)
    wrong = find_knee(DEPTHS, energies(knee, scatter=0.02, seed=seed, idle=idle), removal_rates=RATES)
    assert wrong.verdict == right.verdict
    for name in ("knee", "low", "high", "scatter_low", "scatter_high"):
        one, other = getattr(wrong, name), getattr(right, name)
        assert one is other is None or one == pytest.approx(other, rel=1e-6)
    assert wrong.offset - right.offset == pytest.approx(idle, abs=1e-6)
    assert wrong.offset_error == pytest.approx(right.offset_error, rel=1e-6)


def test_the_unit_of_the_rates_is_free():
    one = find_knee(DEPTHS, energies(idle=0.3), removal_rates=RATES)
    other = find_knee(DEPTHS, energies(idle=0.3), removal_rates=[7.5 * rate for rate in RATES])
    assert other.knee == pytest.approx(one.knee, rel=1e-12) and other.offset == pytest.approx(7.5 * one.offset, rel=1e-9)


def test_equal_rates_and_none_are_the_plain_knee():
    u = energies(scatter=0.02)
    plain = find_knee(DEPTHS, u)
    assert find_knee(DEPTHS, u, removal_rates=[2.0] * len(u)) == plain == find_knee(DEPTHS, u, removal_rates=None)
    assert plain.offset is None


def test_an_offset_is_never_fitted_on_a_plan_that_cannot_tell_it_from_a_knee():
    """On steps along one path 1/q copies a bend: fitted there, a power law without any knee becomes one."""
    kept = [place for place, reading in enumerate(plan_trial(1.0, steps="rpm and infeed", infeed_rate=1.0)) if not reading.note]
    depths, rates = [DEPTHS[place] for place in kept], [RATES[place] for place in kept]
    u = [depth**-2 for depth in depths]
    assert not tells_offset(depths, rates) and tells_offset(DEPTHS, RATES)
    assert find_knee(depths, u, removal_rates=rates) == find_knee(depths, u)


def test_length_by_an_independent_fit():
    matrix = numpy.vander(numpy.array(DEPTHS), 3)
    inverse = numpy.array(inverse_rates(RATES))
    left = inverse - matrix @ numpy.linalg.lstsq(matrix, inverse, rcond=None)[0]
    assert length(DEPTHS, RATES) == pytest.approx(float(numpy.linalg.norm(left)), rel=1e-9)
    assert length([1.0, 1.0], [1, 2]) == 0 and residual([1.0, 2.0], [[1.0, 2.0]]) == pytest.approx([0, 0], abs=1e-12)


@pytest.mark.parametrize(
    "rates, said",
    [
        ([1.0], "removal_rates must be one a reading (got 1 for 12 readings)"),
        ([0.0, *RATES[1:]], "removal_rates must be > 0 (got 0 in reading 1)"),
        (["a", *RATES[1:]], "removal_rates must be"),
        (3, "removal_rates must be a list"),
    ],
)
def test_rates_that_are_none_are_refused(rates, said):
    with pytest.raises(ValueError) as error:
        find_knee(DEPTHS, energies(), removal_rates=rates)
    assert str(error.value).startswith(said) and "\n" not in str(error.value)
