"""What `find_knee` answers: verdicts, edge cases, invariances, how often it is right on invented trials."""

from __future__ import annotations

import json
import math
import random
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knee_reference import profile
from scipy import stats
from test_knee_fit import trials

import gritfuncs.knee
from gritfuncs.knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, VERDICTS, find_knee
from gritfuncs.knee.readings import read
from gritfuncs.knee.result import found_in
from gritfuncs.knee.verdict import judge

DEPTHS = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5]


def hinge(depths, knee=1.0, level=40.0, slope=80.0):
    return [level + slope * max(0.0, knee - h) for h in depths]


def scattered(energies, share, seed=1):
    draw = random.Random(seed)
    return [u * (1 + share * draw.gauss(0, 1)) for u in energies]


# --- found ---------------------------------------------------------------------------


def test_an_exact_hinge_is_found_with_an_interval():
    answer = find_knee(DEPTHS, hinge(DEPTHS))
    assert answer.verdict == FOUND and answer.advice == ""
    assert (answer.knee, answer.level, answer.slope) == pytest.approx((1.0, 40.0, 80.0), rel=1e-12)
    assert answer.low < answer.scatter_low < 1.0 < answer.scatter_high < answer.high
    assert answer.definition_allowance == pytest.approx(0.05)  # half the mean gap
    assert (answer.low, answer.high) == pytest.approx((0.95, 1.05))
    assert (answer.noise, answer.noise_floor, answer.suspect) == (pytest.approx(0.01), 0.01, None)
    assert (answer.n_readings, answer.n_depths) == (10, 10)


def test_the_scatter_interval_ends_where_the_fit_reaches_the_f_limit():
    energies = scattered(hinge(DEPTHS), 0.03)
    answer = find_knee(DEPTHS, energies)
    limit = answer.sse + 5.5914478512 * answer.sse / 7  # F(1, 7) at 95 %, from tables
    assert answer.noise == pytest.approx(math.sqrt(answer.sse / 7) / answer.level)
    for end in (answer.scatter_low, answer.scatter_high):
        assert profile(DEPTHS, energies, [end])[0][0] == pytest.approx(limit, rel=1e-8)


def test_more_noise_makes_the_interval_wider():
    widths = []
    for noise in (0.005, 0.02, 0.04):
        answer = find_knee(DEPTHS, hinge(DEPTHS), noise=noise)
        widths.append(answer.scatter_high - answer.scatter_low)
        assert answer.noise_floor == answer.noise == noise
    assert widths == sorted(widths) and widths[0] < widths[2] / 4


@pytest.mark.parametrize(
    "repeats, expected", [([40.0], 0.01), ([40.0, 41.0], 0.01), ([40.0, 42.0, 38.0], 0.05), ([40.0] * 3, 0.005)]
)
def test_the_noise_floor_comes_from_three_repeats_or_more(repeats, expected):
    depths = [0.6, 0.7, 0.8, 0.9, 1.3, 1.4, 1.5] + [1.1] * len(repeats)
    answer = find_knee(depths, hinge(depths[:7]) + repeats)
    assert answer.noise_floor == pytest.approx(expected)


@pytest.mark.parametrize("size, offset, expected", [(1e-3, 0.0, 0.05), (1e3, 0.0, 0.05), (1.0, -40.0, 0.01), (1.0, -41.0, 0.01)])
def test_the_noise_floor_is_a_share_whatever_the_unit_and_the_default_where_there_is_none(size, offset, expected):
    """Repeats about zero, or below it, are no measure for a share."""
    depths = [0.6, 0.7, 0.8, 0.9, 1.3, 1.4, 1.5] + [1.1] * 3
    energies = [size * u + offset for u in hinge(depths[:7]) + [40.0, 42.0, 38.0]]
    assert find_knee(depths, energies).noise_floor == pytest.approx(expected)


@pytest.mark.parametrize("level, measure", [(0.5, "largest reading"), (1.5, "level")])
def test_a_level_below_one_percent_of_the_largest_reading_is_no_measure(level, measure):
    energies = hinge(DEPTHS, level=level, slope=250.0)  # 100 above the level at the lowest depth
    assert f"% of the {measure} up to" in find_knee(DEPTHS, energies).reasons[0]


def test_repeats_pool_over_depths():
    depths = [0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.2, 1.4, 1.4]
    energies = hinge(depths[:5]) + [39.0, 41.0, 38.0, 42.0]
    assert find_knee(depths, energies).noise_floor == pytest.approx(math.sqrt((2 + 8) / 2) / 40)


def test_a_gentle_slope_beyond_the_corner_is_found_and_named():
    energies = [40 + (80 if h < 1 else 6) * (1 - h) for h in DEPTHS]
    answer = find_knee(DEPTHS, energies)
    assert answer.verdict == FOUND and any("gently" in reason for reason in answer.reasons)
    assert answer.knee == pytest.approx(1.0)
    assert answer.level == pytest.approx(40)


def test_a_slight_rise_beyond_the_corner_is_found_and_named():
    energies = [40 + (80 if h < 1 else -8) * (1 - h) for h in DEPTHS]
    answer = find_knee(DEPTHS, energies)
    assert answer.verdict == FOUND and any("rise again a little" in reason for reason in answer.reasons)


# --- not found -----------------------------------------------------------------------


def case(verdict, advice, energies, depths=DEPTHS):
    return pytest.param(verdict, advice, energies, depths)


@pytest.mark.parametrize(
    "verdict, advice, energies, depths",
    [
        case(STILL_FALLING, "higher rpm", [100 - 40 * h for h in DEPTHS]),
        case(STILL_FALLING, "higher rpm", [40 / h for h in DEPTHS]),
        case(STILL_FALLING, "higher rpm", [40 + (80 if h < 1 else 40) * (1 - h) for h in DEPTHS]),
        case(STILL_FALLING, "higher rpm", [90 - 20 * h * h for h in DEPTHS]),  # falls faster and faster
        case(ALREADY_LEVEL, "lower rpm", [40.0] * 10),
        case(ALREADY_LEVEL, "lower rpm", scattered([40.0] * 10, 0.01)),
        case(ALREADY_LEVEL, "lower rpm", [0.1] * 10),
        case(NOT_RESOLVED, "dress the wheel", [20 + 20 * h for h in DEPTHS]),
        case(NOT_RESOLVED, "dress the wheel", [40 + 80 * abs(1 - h) for h in DEPTHS]),
        case(NOT_RESOLVED, "more readings", scattered([40.0] * 10, 0.15)),
        case(NOT_RESOLVED, "lower rpm", [55] + [40] * 9),  # only the first differs
        case(NOT_RESOLVED, "higher rpm", hinge(DEPTHS, knee=1.42)),
        case(NOT_RESOLVED, "lower rpm", hinge(DEPTHS, knee=0.66)),  # between the first two: not identified
        case(NOT_RESOLVED, "check the meter", [0.0] * 10),
        case(NOT_RESOLVED, "check the meter", [-40.0] * 10),
        case(TOO_FEW, "more readings", [1, 2], [1, 2]),
        case(TOO_FEW, "more readings", hinge(DEPTHS[:5]), DEPTHS[:5]),
        case(TOO_FEW, "more readings", hinge([1.0] * 8), [1.0] * 8),
        case(TOO_FEW, "more readings", hinge([0.8, 0.9, 1.0, 1.1] * 2), [0.8, 0.9, 1.0, 1.1] * 2),
    ],
)
def test_every_other_verdict_says_what_to_do_next(verdict, advice, energies, depths):
    answer = find_knee(depths, energies)
    assert answer.verdict == verdict
    assert advice in answer.advice
    assert answer.reasons and all(reason.endswith(".") for reason in answer.reasons)
    assert answer.knee is answer.high is answer.slope is answer.definition_allowance is None
    assert (answer.low is not None) == (verdict == STILL_FALLING)
    assert (answer.level is not None) == (verdict == ALREADY_LEVEL)


@settings(max_examples=150, deadline=None)
@given(trials(distinct=2))
def test_whatever_the_readings_the_answer_is_complete(trial):
    answer = find_knee(*trial)
    assert answer.verdict in VERDICTS and answer.reasons
    assert (answer.verdict == FOUND) == (answer.knee is not None)
    assert answer.verdict == FOUND or answer.advice
    if "rpm" in answer.advice:
        assert "within the machine's limits" in answer.advice or "dress the wheel" in answer.advice
    if answer.verdict == FOUND:
        depths = sorted(set(trial[0]))
        assert depths[0] <= answer.low <= answer.scatter_low <= answer.knee
        assert answer.knee <= answer.scatter_high <= answer.high <= depths[-1]
        assert depths[1] < answer.scatter_low and answer.scatter_high <= depths[-1]
        assert min(answer.knee - answer.low, answer.high - answer.knee) > 0
    assert json.loads(json.dumps(answer.as_dict())) == answer.as_dict()
    for text in (answer.verdict, *answer.reasons):
        assert text in answer.report()
    assert all(isinstance(name, str) and isinstance(text, str) for name, text in answer.rows())


def test_still_falling_carries_the_lower_bound_alone():
    depths = [0.5 + 0.1 * i for i in range(10)]
    answer = find_knee(depths, scattered([100 - 40 * h for h in depths], 0.01))
    assert answer.verdict == STILL_FALLING
    assert answer.low == answer.scatter_low > 0.95 and answer.scatter_high is None
    assert f"above {answer.low:.4g} µm" in answer.report()


def test_a_fall_before_the_second_depth_is_no_level_however_little_the_rest_changes():
    depths = [0.6 + 0.02 * i for i in range(41)]
    fallen = judge(read(depths, [46.0] + [40.0] * 40), None)  # by 15 %; the straight line through all changes by some 4 %
    assert fallen.verdict == NOT_RESOLVED and "too few depths lie below it" in fallen.reasons[0]
    assert judge(read(depths, [42.0] + [40.0] * 40), None).verdict == ALREADY_LEVEL  # 5 % is no fall


def test_readings_at_depths_that_hardly_differ_count_as_one_depth():
    depths = [h * (1 + 1e-4 * i) for i in range(3) for h in (0.8, 1.0, 1.2)]
    answer = find_knee(depths, hinge(depths))
    assert (answer.verdict, answer.n_readings, answer.n_depths) == (TOO_FEW, 9, 3)


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_depths_that_differ_in_their_last_bits_are_repeats(size):
    depths = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 0.1 * 11, 1.1 * (1 - 2e-16), 1.2, 1.3]
    energies = hinge(depths)
    energies[5:8] = [39.0, 40.0, 41.0]
    answer = find_knee([h * size for h in depths], energies)
    assert answer.n_depths == 8 and answer.noise_floor == pytest.approx(0.025)


def test_the_report_and_the_rows_end_with_what_to_do_next_where_there_is_anything_to_do():
    found, few = find_knee(DEPTHS, hinge(DEPTHS)), find_knee(DEPTHS[:3], hinge(DEPTHS[:3]))
    assert few.report().endswith(f"[[Next]]\n    {few.advice}") and few.rows()[-1] == ("next", few.advice)
    assert "[[Next]]" not in found.report() and "next" not in dict(found.rows())


def test_the_rows_give_noise_in_percent_and_the_number_of_the_reading_out_of_line():
    exact = dict(find_knee(DEPTHS, hinge(DEPTHS), noise=0.0154).rows())  # of readings without scatter the floor is all there is
    assert exact["noise"] == "1.5 % of the level about the fit (at least 1.5 % assumed)" and "suspect" not in exact
    energies = scattered(hinge(DEPTHS + [0.65, 0.75, 1.25, 1.45]), 0.005, seed=3)
    energies[9] *= 0.5
    assert dict(find_knee(DEPTHS + [0.65, 0.75, 1.25, 1.45], energies).rows())["suspect"] == "reading 10"


@pytest.mark.parametrize("noise", [0.011, 0.0154])
def test_the_change_of_level_readings_is_bounded_as_in_a_test_of_equivalence(noise):
    answer = find_knee(DEPTHS, [40.0] * len(DEPTHS), noise=noise)
    error = stats.t.ppf(0.95, len(DEPTHS) - 2) * noise / math.sqrt(len(DEPTHS) * np.var(DEPTHS))  # one-sided, for each direction
    assert answer.verdict == ALREADY_LEVEL
    assert f"change by {100 * error * np.ptp(DEPTHS):.2g} % at most" in answer.reasons[0]


def test_a_knee_that_may_lie_anywhere_in_most_of_a_narrow_range_is_not_found():
    depths = [1.0 + 0.2 * i / 11 for i in range(12)]  # so narrow that 20 % of the knee to both sides would be all of it
    widths = {FOUND: [], NOT_RESOLVED: []}
    for noise in np.linspace(0.04, 0.049, 10):
        answer = find_knee(depths, hinge(depths, knee=1.08, slope=100.0), noise=float(noise))
        widths[answer.verdict].append((answer.scatter_high - answer.scatter_low) / 0.2)
        assert answer.verdict == FOUND or "too wide a span" in answer.reasons[0]
    assert max(widths[FOUND]) <= 0.6 < min(widths[NOT_RESOLVED])


# --- a reading out of line -----------------------------------------------------------


def test_a_reading_that_decides_the_verdict_must_be_repeated():
    depths = DEPTHS + [0.65, 0.75, 1.25, 1.45]
    energies = scattered(hinge(depths), 0.005, seed=3)
    energies[9] *= 0.5  # the reading at the largest depth
    answer = find_knee(depths, energies)
    assert answer.verdict == NOT_RESOLVED and answer.suspect == 9
    assert answer.advice == "repeat reading 10" and "Reading 10" in answer.reasons[0]
    assert answer.knee is answer.low is answer.high is None
    assert "reading 10" in answer.report()


def test_a_reading_that_moves_the_knee_out_of_its_interval_must_be_repeated():
    depths, clean = [0.6 + 0.1 * i for i in range(10)], hinge([0.6 + 0.1 * i for i in range(10)])
    moved = stayed = 0
    for height in range(1, 13):
        energies = clean[:4] + [clean[4] + height] + clean[5:]  # at the knee: the more it is out, the later the knee
        answer, unscreened = find_knee(depths, energies), judge(read(depths, energies), None)
        if answer.suspect is None or unscreened.knee is None:
            continue
        without = find_knee(depths[:4] + depths[5:], energies[:4] + energies[5:])
        assert answer.suspect == 4 and without.verdict == FOUND
        if unscreened.low <= without.knee <= unscreened.high:
            stayed += 1
            assert answer.verdict == FOUND
        else:
            moved += 1
            assert answer.verdict == NOT_RESOLVED and "without it the knee moves" in answer.reasons[0]
    assert moved and stayed


def test_a_reading_that_changes_nothing_is_named_all_the_same():
    depths = [0.5 + 0.05 * i for i in range(20)]
    energies = scattered(hinge(depths), 0.005, seed=2)
    energies[19] += 6
    answer = find_knee(depths, energies)
    assert answer.verdict == FOUND and answer.suspect == 19
    assert "Reading 20 is out of line" in answer.reasons[-1]
    without = find_knee(depths[:19], energies[:19])
    assert answer.low <= without.knee <= answer.high


def test_a_reading_without_which_too_few_depths_remain_must_be_repeated():
    depths = [1.1] + [0.7, 0.8, 0.9, 1.0] * 3
    energies = scattered(hinge(depths, knee=0.9), 0.01)
    energies[0] *= 0.6
    answer = find_knee(depths, energies)
    assert (answer.verdict, answer.advice) == (NOT_RESOLVED, "repeat reading 1")
    assert f"without it the verdict is '{TOO_FEW}'" in answer.reasons[0]


# --- invariances ---------------------------------------------------------------------


def numbers(answer):
    fields = answer.as_dict()
    return {name: value for name, value in fields.items() if isinstance(value, float)}


def words(answer):
    return answer.verdict, answer.advice, answer.suspect, answer.n_readings, answer.n_depths


@settings(max_examples=60, deadline=None)
@given(trials(distinct=2))
def test_the_numbers_of_a_knee_stand_together_where_one_was_found_and_nowhere_else(trial):
    for drift in (None, 0.004):
        knee = find_knee(*trial, drift=drift)
        found = found_in(knee)
        assert (knee.verdict == FOUND) == (found is not None) == (knee.knee is not None)
        if found is not None:
            assert all(getattr(knee, name) == value for name, value in found._asdict().items())


@settings(max_examples=60, deadline=None)
@given(trials(distinct=2), st.randoms(use_true_random=False))
def test_the_order_of_the_readings_does_not_matter(trial, draw):
    pairs = list(zip(*trial))
    draw.shuffle(pairs)
    first, second = find_knee(*trial), find_knee(*zip(*pairs))
    assert numbers(first) == numbers(second)
    assert (first.verdict, first.n_depths) == (second.verdict, second.n_depths)
    if first.suspect is not None:
        assert pairs[second.suspect] == (trial[0][first.suspect], trial[1][first.suspect])


@settings(max_examples=60, deadline=None)
@given(trials(distinct=2), st.integers(-8, 8), st.integers(-8, 8))
def test_a_change_of_unit_scales_the_answer_exactly(trial, depth_power, energy_power):
    depths, energies = trial
    a, b = 2.0**depth_power, 2.0**energy_power
    first = find_knee(depths, energies)
    second = find_knee([a * h for h in depths], [b * u for u in energies])
    assert words(first) == words(second)
    factor = {"level": b, "slope": b / a, "sse": b * b, "noise": 1, "noise_floor": 1}
    assert {name: value * factor.get(name, a) for name, value in numbers(first).items()} == numbers(second)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.1, 30), st.floats(-35, 200))
def test_a_factor_or_an_offset_on_the_readings_leaves_the_knee(seed, factor, offset):
    energies = scattered(hinge(DEPTHS), 0.01, seed)
    first = find_knee(DEPTHS, energies, noise=1e-6)  # a floor that never decides
    second = find_knee(DEPTHS, [factor * u + offset for u in energies], noise=1e-6)
    assert first.verdict == FOUND
    if second.verdict == FOUND:
        for name in ("knee", "low", "high", "scatter_low", "scatter_high"):
            assert getattr(second, name) == pytest.approx(getattr(first, name), rel=1e-9)
    else:  # only because the offset makes the same fall small beside the level
        assert second.verdict == ALREADY_LEVEL and offset > 0


@pytest.mark.parametrize("offset", [-40.0, -100.0])
def test_readings_with_an_unknown_offset_may_be_negative(offset):
    answer = find_knee(DEPTHS, [u + offset for u in hinge(DEPTHS)])
    assert answer.verdict == FOUND and answer.knee == pytest.approx(1.0)
    assert answer.noise is None and "largest reading" in answer.reasons[0]
    flat = find_knee(DEPTHS, [u + offset - 1 for u in scattered([40.0] * 10, 0.001)])
    assert flat.verdict == NOT_RESOLVED


# --- published curves ----------------------------------------------------------------


def chord_knee(x, y):
    """The point farthest from the chord between the ends, in normalised axes (Satopaa et al. 2011)."""
    x, y = ((np.asarray(values, float) - np.min(values)) / np.ptp(values) for values in (x, y))
    return int(np.argmax(np.abs(y - (y[0] + (y[-1] - y[0]) * x))))


def test_chord_knees_of_curves_that_never_level_are_no_knees_to_set_a_machine_by():
    """Satopaa et al. 2011, figure 2 (published knee 0.22); the bumpy series of the library `kneed` (7 and 2).

    A knee by chord exists for any bent curve; by our definition the fall has to end within the range, and on
    these curves it does not.
    """
    x = np.linspace(0, 1, 10)
    y = 5 - 1 / (x + 0.1)
    assert x[chord_knee(x, y)] == pytest.approx(0.22, rel=0.011)
    assert find_knee(x + 1, 6 - y).verdict == STILL_FALLING

    steps, series = np.arange(10), [100, 40, 20, 15, 10, 5, 4, 3, 2, 1]
    assert steps[chord_knee(steps, series[::-1])] == 7
    assert steps[chord_knee(steps, series)] == 2
    answer = find_knee(steps + 1, series)
    assert answer.verdict == STILL_FALLING and answer.low == pytest.approx(2.2, abs=0.1)


# --- how often it is right -----------------------------------------------------------


def family(shape, noise, count, seed):
    """Invented trials: 9 readings over a factor 2 in depth, a knee about the middle, a fall of 50-100 %."""
    rng = np.random.default_rng(seed)
    depths = np.linspace(0.7, 1.4, 9)
    for _ in range(count):
        knee, fall = rng.uniform(0.9, 1.2), rng.uniform(0.5, 1.0)
        energies = {
            "hinge": 1 + fall * np.maximum(0, knee - depths) / (knee - 0.7),
            "two slopes": 1 + fall * np.where(depths < knee, 1, 0.1) * (knee - depths) / (knee - 0.7),
            "line": 1 + fall * (1.4 - depths) / 0.7,
            "power": (depths / 0.7) ** -rng.uniform(0.5, 1.5),
            "flat": np.ones_like(depths),
            "vee": 1 + fall * np.abs(knee - depths) / (knee - 0.7),
        }[shape]
        order = rng.permutation(len(depths))
        yield knee, depths[order], (energies * (1 + noise * rng.standard_normal(len(depths))))[order]


@pytest.mark.parametrize(
    "shape, noise, expected, at_least",
    [
        ("hinge", 0.01, FOUND, 0.97),
        ("hinge", 0.03, FOUND, 0.80),
        ("two slopes", 0.01, FOUND, 0.85),
        ("line", 0.02, STILL_FALLING, 0.93),
        ("power", 0.01, STILL_FALLING, 0.85),
        ("flat", 0.02, ALREADY_LEVEL, 0.85),
        ("vee", 0.02, NOT_RESOLVED, 0.97),
    ],
)
def test_verdicts_on_invented_trials_are_mostly_right(shape, noise, expected, at_least):
    count, right, covered, found = 200, 0, 0, 0
    for knee, depths, energies in family(shape, noise, count, seed=11):
        answer = find_knee(depths, energies)
        right += answer.verdict == expected
        if answer.verdict == FOUND:
            found += 1
            covered += answer.low <= knee <= answer.high
    assert right >= at_least * count
    if expected == FOUND:
        assert covered >= 0.93 * found
    else:
        assert found <= 0.02 * count


# --- input ---------------------------------------------------------------------------


@pytest.mark.parametrize("make", [list, tuple, np.array, iter, np.float32, lambda v: map(Fraction, v)])
def test_any_iterable_of_numbers_will_do(make):
    depths, energies = [float(np.float32(h)) for h in DEPTHS], [float(round(u)) for u in hinge(DEPTHS)]
    assert find_knee(make(depths), make(energies)) == find_knee(depths, energies)


@pytest.mark.parametrize(
    "depths, energies, message",
    [
        ([1, 2], [1], r"depths and energies must be equally long \(got 2 and 1 readings\)"),
        ([], [], r"depths and energies must hold readings \(got none\)"),
        ([1, 0], [1, 1], r"depths must be > 0 µm \(got 0.0 in reading 2\)"),
        ([1, -2], [1, 1], r"depths must be > 0 µm \(got -2.0 in reading 2\)"),
        ([1, float("nan")], [1, 1], r"depths must be finite numbers in µm.*got nan in reading 2"),
        ([1, 2], [1, float("inf")], r"energies must be finite numbers in J/mm³.*got inf in reading 2"),
        ([1, 2], [1, 1e200], r"energies must be finite .* at most 1e\+100 in size \(got 1e\+200 in reading 2\)"),
        ([1, 2], [1, 10**400], r"energies must be finite .*reading 2"),
        ([1, 1e-200], [1, 1], r"depths must be >= 1e-100 µm"),
        ([1, "2"], [1, 1], r"depths must be numbers in µm \(got '2' in reading 2\)"),
        ([1, 2], [None, 1], r"energies must be numbers .*got None in reading 1"),
        ([1, 2], [True, 1], r"energies must be numbers .*got True in reading 1"),
        ([1, 2], [np.bool_(True), 1], r"energies must be numbers .*in reading 1"),
        ([[1, 2]], [1], r"depths must be numbers in µm \(got \[1, 2\] in reading 1\)"),
        ("12", [1, 2], r"depths must be a list of numbers in µm \(got '12'\)"),
        (3.5, [1, 2], r"depths must be a list of numbers in µm \(got 3.5\)"),
        (None, [1, 2], r"depths must be a list of numbers in µm \(got None\)"),
        ([1, 2], {1: 2}, r"energies must be a list of numbers in J/mm³"),
    ],
)
def test_bad_readings_get_one_clear_line(depths, energies, message):
    with pytest.raises(ValueError, match=message) as caught:
        find_knee(depths, energies)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("noise", [0, -0.01, 1, 2, float("nan"), float("inf"), "1 %", True])
def test_bad_noise_gets_one_clear_line(noise):
    message = r"^noise must be > 0 and < 1, a share of the level, 0.02 for 2 % \(got .*\)$"
    with pytest.raises(ValueError, match=message):
        find_knee(DEPTHS, hinge(DEPTHS), noise=noise)


@pytest.mark.parametrize(
    "factor, offset, verdict", [(1e-300, 0, NOT_RESOLVED), (1e97, 0, FOUND), (1, 1e12, ALREADY_LEVEL), (1, -40, FOUND)]
)
def test_extreme_readings_get_an_answer(factor, offset, verdict):
    assert find_knee(DEPTHS, [factor * u + offset for u in hinge(DEPTHS)]).verdict == verdict


@pytest.mark.parametrize("size", [1e-90, 1e-6, 1e6, 1e90])
def test_depths_of_any_size_get_an_answer(size):
    answer = find_knee([h * size for h in DEPTHS], hinge(DEPTHS))
    assert answer.verdict == FOUND and answer.knee == pytest.approx(size, rel=1e-9)


def test_the_limits_of_what_can_be_computed_belong_to_it():
    assert read([1e-100, 1e100], [1e100, -1e100]).depths == [1e-100, 1e100]


def test_depths_no_further_apart_than_what_counts_as_one_are_one():
    assert read([1.0, 2.0, 26.0, 51.0], [1.0] * 4).places == [1.0, 26.0, 51.0]  # 2 % of the range of 50 is 1
    assert read([1.0, 2.001, 26.0, 51.0], [1.0] * 4).places == [1.0, 2.001, 26.0, 51.0]
    assert read([1e9, 1e9 + 1, 2e9], [1.0] * 3).depths == [1e9, 2e9]  # 1e-9 of it is 1


@pytest.mark.parametrize("value", [0, -1, math.inf, math.nan, "1", None, True])
def test_what_must_be_above_zero_and_is_not_gets_one_clear_line(value):
    with pytest.raises(ValueError, match=r"^depth_at_1 must be > 0 \(the depth at 1 1/min\) \(got "):
        gritfuncs.knee.FourthRoot(value)


@pytest.mark.parametrize(
    "offset, said",
    [
        (0.0, "fall by 80 % of the level up to 1 µm"),
        (-72.0, "fall by 1e+02 % of the largest reading up to 1 µm"),
        (-60.0, "fall by 1.6e+02 % of the largest reading up to 1 µm"),
    ],
)
def test_the_fall_is_told_as_a_share(offset, said):
    """From 72 at 0.6 µm to the level of 40: 32 is 80 % of 40; taken down by 60, the largest reading is -20."""
    assert said in find_knee(DEPTHS, [u + offset for u in hinge(DEPTHS)]).reasons[0]


def test_readings_may_be_named_and_noise_must_be():
    assert find_knee(depths=DEPTHS, energies=hinge(DEPTHS)) == find_knee(DEPTHS, hinge(DEPTHS))
    with pytest.raises(TypeError):
        find_knee(DEPTHS, hinge(DEPTHS), 0.02)


def test_an_answer_cannot_be_changed():
    with pytest.raises(AttributeError):
        find_knee(DEPTHS, hinge(DEPTHS)).knee = 2.0


def test_the_package_needs_the_standard_library_alone():
    """It travels inside the LibreOffice extension.  -S leaves site-packages out, -I the environment."""
    root = Path(gritfuncs.knee.__file__).parents[2]
    script = (
        f"import sys; sys.path.insert(0, {str(root)!r}); from gritfuncs.knee import find_knee;"
        f"print(find_knee({DEPTHS}, {hinge(DEPTHS)}).verdict)"
    )
    command = [sys.executable, "-I", "-S", "-c", script]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == FOUND
