"""How far the next reading may go, worked out by hand, and the variance of a corner by its published formula."""

from __future__ import annotations

from math import inf, log

import pytest

from gritfuncs.knee.reach import Bounds, Reach, bounds_of, reach_of
from gritfuncs.knee.variance import corner_variance
from gritfuncs.planning import Limits

FURTHEST, RISEN, GRITS = ("60 % from nominal is reached", "risen to 1.5 times the lowest", "1.5 times the depth of the knee")
LOWEST, HIGHEST = "the machine's lowest rpm", "the machine's highest rpm"


@pytest.mark.parametrize(
    "lowest, highest, tried, energies, low, high, slower, faster, why_not_slower, why_not_faster",
    [
        (None, None, [], [], 90.0, 110.0, True, True, FURTHEST, FURTHEST),
        (None, None, [100.0, 110.0, 90.0], [40.0] * 3, 80.0, 120.0, True, True, FURTHEST, FURTHEST),
        (
            None,
            None,
            [45.0],
            [40.0],
            40.0,
            55.0,
            True,
            True,
            FURTHEST,
            FURTHEST,
        ),  # 36 would be a fifth slower, 40 is 60 % from nominal
        (None, None, [41.0], [40.0], 41.0, 51.0, False, True, FURTHEST, FURTHEST),
        (None, None, [155.0], [40.0], 145.0, 160.0, True, True, FURTHEST, FURTHEST),
        (20.0, 200.0, [45.0, 100.0], [40.0] * 2, 36.0, 110.0, True, True, LOWEST, HIGHEST),  # a fifth of 45
        (20.0, 200.0, [47.3, 100.0], [40.0] * 2, 38.0, 110.0, True, True, LOWEST, HIGHEST),  # 37.84, in figures that can be set
        (20.0, 200.0, [22.5, 197.5], [40.0] * 2, 22.5, 197.5, False, False, LOWEST, HIGHEST),  # a quarter of a step from the ends
        (20.0, 200.0, [22.6, 197.4], [40.0] * 2, 20.0, 200.0, True, True, LOWEST, HIGHEST),
        (20.0, 200.0, [21.0, 199.0], [40.0] * 2, 21.0, 199.0, False, False, LOWEST, HIGHEST),
        (20.0, 200.0, [100.0, 90.0], [40.0, 60.0], 90.0, 110.0, False, True, RISEN, HIGHEST),
        (20.0, 200.0, [100.0, 90.0], [40.0, 59.9], 80.0, 110.0, True, True, LOWEST, HIGHEST),
        (20.0, 200.0, [100.0, 90.0, 90.0], [40.0, 70.0, 51.0], 90.0, 110.0, False, True, RISEN, HIGHEST),  # 60.5 on average
    ],
)
def test_the_reach_of_a_step_of_ten_about_a_nominal_of_a_hundred(
    lowest, highest, tried, energies, low, high, slower, faster, why_not_slower, why_not_faster
):
    reach = reach_of(Bounds(lowest, highest, 100.0, tried), energies, 10.0, inf)
    assert (reach.nominal, reach.step) == (100.0, 10.0)
    assert (reach.low, reach.high, reach.can_go_slower, reach.can_go_faster) == (low, high, slower, faster)
    assert why_not_slower in reach.why_not_slower and why_not_faster in reach.why_not_faster


@pytest.mark.parametrize(
    "ceiling, high, why",
    [(105.0, 105.0, GRITS), (104.6, 104.0, GRITS), (101.0, 100.0, GRITS), (200.0, 110.0, HIGHEST), (199.0, 110.0, GRITS)],
)
def test_it_goes_no_faster_than_grits_allow(ceiling, high, why):
    reach = reach_of(Bounds(20.0, 200.0, 100.0, [100.0]), [40.0], 10.0, ceiling)
    assert reach.high == high and reach.can_go_faster == (high > 100) and why in reach.why_not_faster


def test_slow_work_has_a_reach_too():
    reach = reach_of(Bounds(None, None, 0.5, []), [], 10.0, inf)
    assert (reach.low, reach.high) == (0.45, 0.55)


@pytest.mark.parametrize(
    "step, rpm, expected",
    [
        (10.0, 52.33, 52.0),
        (5.0, 52.33, 52.3),
        (0.5, 52.333, 52.33),
        (10.0, 40.2, 40.0),
        (10.0, 59.8, 60.0),
        (10.0, 39.0, 40.0),
        (10.0, 61.0, 60.0),
    ],
)
def test_rpm_come_in_figures_that_can_be_set(step, rpm, expected):
    assert Reach(50.0, step, 40.0, 60.0, True, True, "", "").settable(rpm, 40.0, 60.0) == expected


def test_every_whole_step_and_every_rpm_tried_within_reach_is_compared():
    reach = Reach(100.0, 10.0, 75.0, 131.0, True, True, "", "")
    assert reach.candidates([100.0, 87.3, 150.0, 60.0]) == [75.0, 80.0, 87.3, 90.0, 100.0, 110.0, 120.0, 130.0, 131.0]


def test_rpm_computed_back_from_a_depth_are_those_that_were_set():
    bounds = bounds_of(
        Limits(lowest_work_rpm=20.0, highest_work_rpm=200.0), 100.0, [100.0 * (1 + 8e-9), 20.0 * (1 - 8e-9), 87.3 * (1 + 1e-11)]
    )
    assert bounds.tried == [100.0, 20.0, 87.3]
    assert bounds_of(None, 100.0, [100.0 * (1 + 2e-8)]).tried == [100.000002]


def test_the_variance_of_a_corner_by_hinkleys_formula():
    """Three depths below the corner, mean 0.7 and sum of squares 0.02, and two beyond it (Biometrika 56, 1969, 495)."""
    assert corner_variance([0.6, 0.7, 0.8, 1.1], [1.0], 1.2) == pytest.approx(log(1 / 3 + 1 / 2 + 0.3**2 / 0.02))
    assert corner_variance([0.6, 0.7, 0.8, 1.1], [1.0, 1.0], 1.2) == pytest.approx(2 * log(1 / 3 + 1 / 2 + 0.3**2 / 0.02))


@pytest.mark.parametrize(
    "depths, corner", [([0.6, 0.7, 0.8], 0.65), ([0.6, 0.7, 0.8], 1.3), ([0.6, 0.6, 1.2], 1.0), ([0.6, 0.6 + 1e-9, 1.2], 1.0)]
)
def test_a_corner_without_a_line_below_or_a_level_beyond_counts_as_a_thousand(depths, corner):
    assert corner_variance(depths, [corner], 1.2 if corner < 1.2 else 1.25) == pytest.approx(log(1000))
