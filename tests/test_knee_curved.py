"""A fall that is a curve: found with its own corner, an interval that holds the corners of both falls, and said in the report."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from evidence.hard_cases import judged, shares
from evidence.hard_trials import WITHOUT_KNEE
from knee_reference import profile
from scipy.stats import f

from gritfuncs.knee import FOUND, NOT_RESOLVED, find_knee
from gritfuncs.workbooks.blocks.knee_cases import CASES

DEPTHS = [0.6 + 0.075 * number for number in range(13)]
CURVE = "Below the knee the readings fall along a curve."


def curve(depths, knee=1.0, level=40.0, power=2.0):
    return [level * max(1.0, knee / h) ** power for h in depths]


def test_a_fall_with_the_square_of_the_depth_is_found_exactly():
    answer = find_knee(DEPTHS, curve(DEPTHS))
    assert answer.verdict == FOUND and answer.curved and CURVE in answer.reasons and CURVE in answer.report()
    assert (answer.knee, answer.level) == pytest.approx((1.0, 40.0), rel=1e-9)
    assert answer.slope == pytest.approx(80.0)  # the derivative of 40/h² at 1
    assert "µm just below the knee" in answer.report()
    assert answer.noise == pytest.approx(0.01) and answer.sse == pytest.approx(0.0, abs=1e-18)
    assert "1.8e+02 % of the level up to 1 µm" in answer.reasons[0]  # 1/0.6² - 1


def test_the_energy_of_the_fit_at_any_depth():
    straight, curved = find_knee(DEPTHS, [40 + 80 * max(0, 1 - h) for h in DEPTHS]), find_knee(DEPTHS, curve(DEPTHS))
    assert not straight.curved and curved.curved
    for h in (0.6, 0.8, 1.0, 1.4):
        assert straight.energy(h) == pytest.approx(40 + 80 * max(0, 1 - h))
        assert curved.energy(h) == pytest.approx(40 * max(1, 1 / h) ** 2)
    assert find_knee(DEPTHS, [100 - 40 * h for h in DEPTHS]).energy(1.0) is None


def test_a_straight_fall_is_not_called_a_curve():
    draw = random.Random(1)
    for noise in (0.0, 0.002, 0.02):
        answer = find_knee(DEPTHS, [(40 + 80 * max(0, 1 - h)) * (1 + noise * draw.gauss(0, 1)) for h in DEPTHS])
        assert answer.verdict == FOUND and not answer.curved and CURVE not in answer.reasons
        assert answer.knee == pytest.approx(1.0, abs=0.03)


def test_where_both_falls_fit_the_interval_holds_the_corners_of_both():
    """The straight fall by its own squares, the curved one by those of the better of the two."""
    grid, different, factor = np.linspace(DEPTHS[1], DEPTHS[-1], 20001), 0, 1 + f.ppf(0.95, 1, 10) / 10
    for seed in range(20):
        draw = random.Random(seed)
        energies = [u * (1 + 0.03 * draw.gauss(0, 1)) for u in curve(DEPTHS, power=0.8 + 0.05 * seed)]
        answer = find_knee(DEPTHS, energies)
        straight, curved = profile(DEPTHS, energies, grid)[0], profile([-(h**-2) for h in DEPTHS], energies, -(grid**-2))[0]
        limit = min(straight.min(), curved.min()) * factor
        gently = any("gently" in reason for reason in answer.reasons)  # then the corner of two slopes counts too
        if answer.verdict == FOUND and not gently and answer.noise > 0.0101 and max(straight.min(), curved.min()) < limit:
            inside = [grid[straight <= straight.min() * factor], grid[curved <= limit]]
            assert answer.scatter_low == pytest.approx(min(corners[0] for corners in inside), abs=1e-4), seed
            assert answer.scatter_high == pytest.approx(max(corners[-1] for corners in inside), abs=1e-4), seed
            different += abs(inside[0][0] - inside[1][0]) > 0.01
    assert different >= 3


def test_a_curve_that_may_go_on_is_not_resolved_and_says_so():
    seen = 0
    for seed in range(60):
        draw = random.Random(seed)
        answer = find_knee(DEPTHS, [(20 + 20 / h**2) * (1 + 0.03 * draw.gauss(0, 1)) for h in DEPTHS])
        if "A curved fall without a knee fits" in answer.reasons[0]:
            seen += 1
            assert answer.verdict == NOT_RESOLVED and answer.scatter_high is None and "wider range" in answer.advice
    assert seen > 3


@pytest.mark.parametrize("size", [1e-90, 1.0, 1e90])
def test_a_curve_of_any_size_and_a_range_of_any_width(size):
    answer = find_knee([size * h for h in DEPTHS], curve(DEPTHS))
    assert answer.verdict == FOUND and answer.knee == pytest.approx(size)


def test_a_first_depth_next_to_nothing_is_no_hindrance():
    """There a curve with 1/h² is gone before the second reading."""
    answer = find_knee([1e-9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5], [70, 45, 42.5, 40, 40, 40, 40])
    assert answer.verdict == FOUND and not answer.curved and math.isfinite(answer.scatter_high)


def test_the_upper_end_may_lie_in_the_last_gap_unless_the_readings_rise_there():
    """A level of three depths, whose scatter leaves the knee anywhere up to the last; then the last one higher."""
    found = risen = 0
    for seed in range(300):
        draw = random.Random(seed)
        depths = [0.6 + 0.1 * number for number in range(8)]
        energies = [(40 + 90 * max(0, 1.14 - h)) * (1 + 0.03 * draw.gauss(0, 1)) for h in depths]
        answer = find_knee(depths, energies)
        if answer.verdict == FOUND and answer.scatter_high > depths[-2]:
            found += 1
            assert answer.scatter_high <= depths[-1] and answer.knee <= depths[-2]
            assert energies[-1] - answer.level <= answer.noise * answer.level * (1 + 1e-9)
        rise = energies[:-1] + [energies[-1] + 2.5 * answer.noise * 40]
        other = find_knee(depths, rise)
        risen += other.verdict == FOUND and other.scatter_high > depths[-2] and rise[-1] - other.level > other.noise * other.level
    assert found > 5 and risen == 0


def test_the_cells_have_words_for_it():
    assert (FOUND, "The readings fall along a curve up to the knee and level off there.", "") in CASES


@pytest.mark.parametrize("shape, holds, far", [("hinge", 0.94, 0.02), ("power to level", 0.88, 0.05)])
def test_the_interval_holds_the_knee_as_often_as_stated(shape, holds, far):
    """Simulated, 480 trials of each; the shares on the page come from more."""
    trials, found, held, _, off = shares(judged(shape, 0.01, 60, seed="gate") + judged(shape, 0.02, 60, seed="gate"))
    assert found > 0.4 * trials and held >= (holds - 0.03) * found and off <= far * trials


def test_few_knees_are_found_where_there_is_none():
    for shape in WITHOUT_KNEE:
        trials, found, *_ = shares(judged(shape, 0.02, 40, seed="gate"))
        assert found <= (0.14 if shape in ("step", "vee") else 0.03) * trials, shape
