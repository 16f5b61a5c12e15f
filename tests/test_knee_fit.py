"""The fits and the interval against brute force, a general optimiser and published data."""

from __future__ import annotations

import numpy as np
import pytest
from evidence.notes import computed
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from knee_reference import falling, free_profile, profile, search
from scipy.optimize import curve_fit, least_squares

import gritfuncs as gf
from gritfuncs.knee.find import _least_without_one
from gritfuncs.knee.hinge import fit_corner, fit_stick
from gritfuncs.knee.interval import hinge_hull, span_of, stick_hull
from gritfuncs.knee.quantiles import f1_quantile
from gritfuncs.knee.readings import Readings


def readings_of(depths, energies):
    return Readings(zip(depths, energies, range(len(depths))))


@st.composite
def trials(draw, distinct=5):
    """Readings of every kind: smooth and wild, repeated depths, coarse meters, outliers."""
    steps = draw(st.lists(st.integers(0, 60), min_size=distinct, max_size=14))
    assume(len(set(steps)) >= distinct)
    depths = [0.5 + 0.025 * step for step in steps]
    shape = draw(st.sampled_from(["hinge", "line", "flat", "power", "rise", "wild"]))
    knee, fall = draw(st.floats(0.6, 1.9)), draw(st.floats(5, 80))
    noise = draw(st.sampled_from([0.0, 0.1, 1.0, 5.0]))
    jitter = draw(st.lists(st.floats(-1, 1), min_size=len(depths), max_size=len(depths)))
    truth = {
        "hinge": lambda h: 40 + fall * max(0.0, knee - h),
        "line": lambda h: 200 - fall * h,
        "flat": lambda h: 40.0,
        "power": lambda h: 40 / h,
        "rise": lambda h: 40 + fall * h,
        "wild": lambda h: 0.0,
    }[shape]
    scale = 50.0 if shape == "wild" else noise
    energies = [truth(h) + scale * round(e, 4) for h, e in zip(depths, jitter)]  # not so small that rounding alone is left
    if draw(st.booleans()):
        energies = [round(u, 1) for u in energies]
    return depths, energies


def spread(energies):
    return sum((u - np.mean(energies)) ** 2 for u in energies)


@settings(max_examples=300, deadline=None)
@given(trials(), st.sampled_from([0.0, 0.25, 0.5]))
def test_no_corner_fits_better_than_ours(trial, ratio):
    depths, energies = trial
    ours = fit_corner(readings_of(depths, energies), ratio)
    best = search(falling(depths, energies, ratio), sorted(set(depths)))
    computed(
        "sum of squares of the hinge, over that of the mean",
        "search on refined grids (numpy)",
        best,
        ours.sse,
        within=1e-8,
        scale=max(spread(energies), 1e-9),
    )
    assert ours.sse == pytest.approx(best, rel=1e-9, abs=1e-9 * spread(energies) + 1e-18)
    at_ours, fall = profile(depths, energies, [ours.knee], ratio)
    if ours.slope > 0:
        assert at_ours[0] == pytest.approx(ours.sse, rel=1e-9, abs=1e-11 * spread(energies))
        assert fall[0] == pytest.approx(ours.slope, rel=1e-7)


@settings(max_examples=300, deadline=None)
@given(trials())
def test_no_fit_without_one_reading_falls_below_the_bound_that_spares_it(trial):
    readings = readings_of(*trial)
    best = min(fit_corner(readings.without(i)).sse for i in range(readings.n))
    assert 0 <= best - _least_without_one(readings) + 1e-12 * spread(readings.u) + 1e-18


def test_the_bound_is_reached_where_one_reading_alone_is_out_of_line():
    depths, energies = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3], [72.0, 64.0, 56.0, 48.0, 40.0, 40.0, 40.0, 40.0]
    energies[2] += 5.0
    assert _least_without_one(readings_of(depths, energies)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_is_the_best_line_and_level_without_one_reading(seed):
    draw = np.random.default_rng(seed)
    places = np.linspace(0.6, 1.5, 7)
    h = np.sort(np.concatenate([places, draw.choice(places, seed % 4)]))
    u = 40 + 60 * np.maximum(0, 1 - h) + draw.normal(0, 2, len(h))

    def squares(design, values):
        return ((values - design @ np.linalg.lstsq(design, values, rcond=None)[0]) ** 2).sum()

    least = np.inf
    for last in places[:-1]:
        for out in range(len(h)):
            left, right = h <= last, h > last
            left[out] = right[out] = False
            line = np.column_stack([np.ones(left.sum()), h[left]])
            least = min(least, squares(line, u[left]) + squares(np.ones((right.sum(), 1)), u[right]))
    assert _least_without_one(readings_of(h.tolist(), u.tolist())) == pytest.approx(least, rel=1e-8)


@settings(max_examples=200, deadline=None)
@given(trials())
def test_no_stick_fits_better_than_ours(trial):
    depths, energies = trial
    ours = fit_stick(readings_of(depths, energies))
    places = sorted(set(depths))
    best = search(lambda knees: free_profile(depths, energies, knees), places[1:-1], 15, 8)
    assert ours.sse == pytest.approx(best, rel=1e-7, abs=1e-7 * spread(energies) + 1e-18)
    assert ours.sse <= best + 1e-10 * spread(energies) + 1e-18


@settings(max_examples=60, deadline=None)
@given(trials(), st.floats(0.1, 0.9), st.floats(0, 1))
def test_a_general_optimiser_finds_nothing_better(trial, place, share):
    depths, energies = map(np.array, trial)
    start = [np.mean(energies), share * np.ptp(energies), depths.min() + place * np.ptp(depths)]

    def residuals(p):
        return p[0] + p[1] * np.maximum(0, p[2] - depths) - energies

    bounds = ([-np.inf, 0, depths.min()], [np.inf, np.inf, depths.max()])
    start[1], start[2] = max(start[1], 1e-6), np.clip(start[2], depths.min() + 1e-6, depths.max() - 1e-6)
    found = 2 * least_squares(residuals, start, bounds=bounds).cost
    assert fit_corner(readings_of(*trial)).sse <= found + 1e-9 * spread(energies)


@settings(max_examples=200, deadline=None)
@given(trials(), st.floats(0.02, 8))
def test_the_interval_holds_every_corner_within_the_limit_and_ends_there(trial, factor):
    depths, energies = trial
    readings, fit = readings_of(depths, energies), fit_corner(readings_of(depths, energies))
    assume(fit.slope > 0)
    limit = fit.sse + factor * (fit.sse / 5 + 1e-3 * spread(energies))
    assume(limit < 0.999 * spread(energies))
    hull = hinge_hull(readings, fit, limit)
    places = sorted(set(depths))
    grid = np.linspace(places[0], places[-1], 2001)[1:]
    sse, fall = profile(depths, energies, grid)
    inside = grid[(sse <= limit) & (fall > 0)]
    step, high = grid[1] - grid[0], min(hull.high, places[-1])
    assert hull.low <= fit.knee <= hull.high
    if len(inside):
        assert hull.low <= inside[0] + 1e-9 and inside[-1] <= high + 1e-9
        assert hull.low >= min(inside[0], fit.knee) - 1.01 * step
        assert high <= max(inside[-1], fit.knee) + 1.01 * step
    assert (hull.high == np.inf) == (sse[-1] <= limit and fall[-1] > 0)
    at_second, falls = (value[0] for value in profile(depths, energies, places[1:2]))
    if abs(at_second - limit) > 1e-9 * limit:  # one depth alone lies below it: every place there fits equally well
        assert (hull.low == places[0]) == (at_second < limit and falls > 0)
    for end in (hull.low, hull.high):
        if places[1] < end < places[-1]:
            computed(
                "sum of squares at the ends of the interval",
                "regression with the corner held there (numpy)",
                profile(depths, energies, [end])[0][0],
                limit,
                within=1e-7,
            )


def test_the_interval_leaves_out_a_gap_whose_fits_all_rise_though_the_means_on_both_sides_are_equal():
    depths, energies = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [2.75, 3.25, 4.0, 3.0, 2.5, 2.5])  # mean 3 up to depth 2, and beyond it
    readings = readings_of(depths, energies)
    hull = hinge_hull(readings, fit_corner(readings), 1.6)
    sse, fall = profile(depths, energies, [2.0, 2.5, 3.0, hull.low])
    assert all(sse[:2] < 1.6) and all(fall[:3] < 0)  # they would fit, if a knee could rise
    assert 3 < hull.low < 4 and sse[3] == pytest.approx(1.6, rel=1e-9) and fall[3] > 0


def test_a_straight_line_wins_a_tie_with_any_corner():
    """Rounding puts the best corner a last digit before the last depth, or elsewhere on the line."""
    draw = np.random.default_rng(1)
    for _ in range(200):
        depths = np.round(draw.uniform(0.5, 2, draw.integers(5, 13)), 2).tolist()
        slope = float(np.round(draw.choice([draw.uniform(0.01, 0.99), draw.uniform(1, 50)]), 2))
        fit = fit_corner(readings_of(depths, [150 - slope * h for h in depths]))
        assert (fit.knee, fit.right_slope) == (max(depths), 0.0)
        assert (fit.slope, fit.level) == pytest.approx((slope, 150 - slope * max(depths)))


@pytest.mark.parametrize(
    "energies",
    [
        [40.1] * 7,
        [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
        [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.3],
        [3.4625, 1.6, 2.2, 3.0, 3.4, 4.2, 4.2, 4.4, 4.7],
    ],
)  # the first is the mean of the others: a fall of 4e-15 per µm by rounding
def test_readings_that_do_not_fall_have_no_slope_and_by_convention_the_lowest_depth(energies):
    depths = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4][: len(energies)]
    fit = fit_corner(readings_of(depths, energies))
    assert (fit.knee, fit.slope, fit.right_slope) == (0.6, 0.0, 0.0) and fit.level == pytest.approx(np.mean(energies))


@pytest.mark.parametrize(
    "square, half, constant, expected",
    [
        (1e-20, 0.5, -0.5, (0.0, 0.5)),  # the other root lies 20 powers of ten away, and takes no digits from this one
        (1e-20, -0.5, 0.5, (0.5, 1.0)),
        (1.0, -0.5, 0.21, (0.3, 0.7)),
        (-1.0, 0.5, -0.21, (0.0, 1.0)),
        (1.0, 0.0, -0.25, (0.0, 0.5)),
        (0.0, 0.0, -1.0, (0.0, 1.0)),
        (1.0, 0.0, 1.0, None),
    ],
)
def test_the_stretch_where_a_quadratic_is_not_above_zero(square, half, constant, expected):
    span = span_of(square, half, constant, half * half - square * constant, 0.0, 1.0)
    assert span == (expected and pytest.approx(expected, rel=1e-12))


def test_the_interval_goes_on_where_the_means_on_both_sides_of_a_gap_are_equal():
    depths, energies = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [4.0, 2.0, 3.0, 3.0, 3.0, 3.0])  # mean 3 up to depth 2, and beyond it
    readings = readings_of(depths, energies)
    hull = hinge_hull(readings, fit_corner(readings), 1.4)
    assert hull.low == 1.0 and 2 < hull.high < 3
    assert profile(depths, energies, [hull.high])[0][0] == pytest.approx(1.4, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(trials(), st.floats(0.02, 8))
def test_the_interval_of_the_stick_ends_at_the_limit(trial, factor):
    depths, energies = trial
    readings = readings_of(depths, energies)
    fit = fit_stick(readings)
    limit = fit.sse + factor * (fit.sse / 5 + 1e-3 * spread(energies)) + 1e-12
    hull = stick_hull(readings, fit, limit)
    places = sorted(set(depths))
    grid = np.linspace(places[1], places[-2], 301)
    sse = free_profile(depths, energies, grid)
    assert hull.low <= fit.knee <= hull.high
    inside = grid[sse <= limit * (1 - 1e-9)]
    if len(inside):
        assert hull.low <= inside[0] + 1e-9 and inside[-1] <= hull.high + 1e-9
    at_second, at_last_but_one = free_profile(depths, energies, [places[1], places[-2]])
    if abs(at_second - limit) > 1e-6 * limit:
        assert (hull.low == places[0]) == (at_second < limit)
    if abs(at_last_but_one - limit) > 1e-6 * limit:
        assert (hull.high == places[-1]) == (at_last_but_one < limit)
    for end in (hull.low, hull.high):
        if places[1] < end < places[-2]:
            assert free_profile(depths, energies, [end])[0] == pytest.approx(limit, rel=1e-6, abs=1e-9)


# Stagnant band height against flow of water, both as logarithms: R. A. Cook's data in Bacon & Watts,
# Biometrika 58, 1971, 525-534, as listed in BUGS Examples vol. II, "Stagnant" (29 rows).
BAND_FLOW = [
    -1.39,
    -1.39,
    -1.08,
    -1.08,
    -0.94,
    -0.80,
    -0.63,
    -0.63,
    -0.25,
    -0.25,
    -0.12,
    -0.12,
    0.01,
    0.11,
    0.11,
    0.11,
    0.25,
    0.25,
    0.34,
    0.34,
    0.44,
    0.59,
    0.70,
    0.70,
    0.85,
    0.85,
    0.99,
    0.99,
    1.19,
]
BAND_HEIGHT = [
    1.12,
    1.12,
    0.99,
    1.03,
    0.92,
    0.90,
    0.81,
    0.83,
    0.65,
    0.67,
    0.60,
    0.59,
    0.51,
    0.44,
    0.43,
    0.43,
    0.33,
    0.30,
    0.25,
    0.24,
    0.13,
    -0.01,
    -0.13,
    -0.14,
    -0.30,
    -0.33,
    -0.46,
    -0.43,
    -0.65,
]


def test_band_height_has_the_least_squares_corner_of_an_independent_computation():
    """The published Bayes means (corner 0.026, slopes -0.418, -1.014) differ from least squares by design."""
    shift = 3.0  # depths are positive
    readings = readings_of([x + shift for x in BAND_FLOW], BAND_HEIGHT)
    fit = fit_stick(readings)
    limit = fit.sse + f1_quantile(0.95, 25) * fit.sse / 25
    hull = stick_hull(readings, fit, limit)
    computed(
        "two-slope corner of the stagnant band data (Bacon & Watts 1971; listed in BUGS Examples II)",
        "least squares, computed apart",
        0.035912,
        fit.knee - shift,
        within=3e-5,
    )
    assert fit.knee - shift == pytest.approx(0.035912, abs=1e-6)
    assert fit.level == pytest.approx(0.529503, abs=1e-6)
    assert (-fit.slope, -fit.right_slope) == pytest.approx((-0.422077, -1.016593), abs=1e-6)
    assert fit.sse == pytest.approx(0.009381362698, rel=1e-9)
    assert (hull.low - shift, hull.high - shift) == pytest.approx((-0.0321, 0.0809), abs=1e-4)
    start = [0.5, -0.4, -1.0, 0.0]
    least = least_squares(
        lambda p: p[0] + np.where(np.array(BAND_FLOW) < p[3], p[1], p[2]) * (np.array(BAND_FLOW) - p[3]) - BAND_HEIGHT,
        start,
        x_scale=[1, 1, 1, 0.1],
    )
    assert 2 * least.cost >= fit.sse - 1e-12


# SAS/STAT User's Guide, procedure NLIN, example "Segmented Model": a quadratic that runs into a plateau.
PLATEAU_X = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 13, 15, 16]
PLATEAU_Y = [0.46, 0.47, 0.57, 0.61, 0.62, 0.68, 0.69, 0.78, 0.70, 0.74, 0.77, 0.78, 0.74, 0.80, 0.80, 0.78]


def test_the_corner_lies_before_the_published_join_of_a_rounded_curve():
    """Published join 12.7477 and plateau 0.7775: a quadratic meets its plateau where it has stopped rising, a
    corner cuts that bend short.  The hinge itself is checked by an independent fit of the same data."""
    x, y = np.array(PLATEAU_X, float), np.array(PLATEAU_Y)

    def quadratic(x, a, b, c):
        join = -b / (2 * c)
        return np.where(x < join, a + b * x + c * x * x, a - b * b / (4 * c))

    (a, b, c), _ = curve_fit(quadratic, x, y, [0.45, 0.05, -0.0025])
    join, plateau = -b / (2 * c), a - b * b / (4 * c)
    assert join == pytest.approx(12.7477, abs=5e-4) and plateau == pytest.approx(0.7775, abs=5e-5)
    assert (a, b, c) == pytest.approx((0.3921, 0.0605, -0.00237), rel=2e-3)

    ours = fit_corner(readings_of(PLATEAU_X, [1 - v for v in PLATEAU_Y]))

    def hinge(x, level, slope, knee):
        return level - slope * np.maximum(0, knee - x)

    starts = (6.5, 8.5, 10.5)  # local optima: a single start does not do
    fits = [curve_fit(hinge, x, y, [0.78, 0.03, start])[0] for start in starts]
    fitted = min(fits, key=lambda fit: ((hinge(x, *fit) - y) ** 2).sum())
    for word, our, their in zip(("level", "slope", "corner"), (1 - ours.level, ours.slope, ours.knee), fitted):
        computed(
            f"{word} of the hinge on the plateau data of the SAS/STAT User's Guide",
            "scipy's curve_fit from three starts",
            their,
            our,
            within=1e-5,
        )
    assert PLATEAU_X[1] < ours.knee < join
    assert 1 - ours.level == pytest.approx(plateau, abs=0.02)


def test_sets_have_no_order_and_are_no_readings():
    with pytest.raises(ValueError, match=r"^depths must be a list of numbers in µm \(got \{"):
        gf.find_knee({1.0, 1.1, 1.2}, {3.0, 2.0, 1.0})
