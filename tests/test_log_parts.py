"""The steps by which parts are found and read in a power log, each on an invented course whose answer is known."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats
from scipy.signal import lfilter

import gritfuncs as gf
from gritfuncs.trial.log.analyse import _usual_share
from gritfuncs.trial.log.cutting import by_contact, cut
from gritfuncs.trial.log.drawing import labels, thinned
from gritfuncs.trial.log.handing_on import _figures
from gritfuncs.trial.log.idle import _Free, _onsets, _switched_before, _usual, idles
from gritfuncs.trial.log.read import _seconds
from gritfuncs.trial.log.result import Stretch
from gritfuncs.trial.log.rise import _lag_rise, _wave_rise, wave_like
from gritfuncs.trial.log.rpm import Ground, _counts, _long_gaps, _way_on, rpm_within
from gritfuncs.trial.log.signal import (
    block_means,
    densest,
    joined,
    mean_error,
    places,
    robust_deviation,
    running_mean,
    runs,
    smooth,
    split_level,
)
from gritfuncs.trial.log.sorting import sort_out
from gritfuncs.trial.log.standstill import _start_low, _stretches_in, standstill, with_start_up
from gritfuncs.trial.log.steady import _slow_noise, infeed_seconds, onset_of, steady_stretches

STEP = 0.1  # s


class TestSignal:
    @pytest.mark.parametrize("free, off", [(5, 0.012), (7, 0.004), (20, 3e-4), (60, 3e-5)])
    def test_the_error_of_a_mean_is_widened_as_by_students_distribution(self, free, off):
        blocks = np.random.default_rng(free).normal(size=free + 1)
        plain = stats.sem(blocks)
        assert mean_error(blocks) / plain == pytest.approx(stats.t.ppf(0.975, free) / 1.96, rel=off)

    @pytest.mark.parametrize("free", [1, 2, 3])
    def test_of_few_blocks_by_the_two_first_terms_of_the_expansion(self, free):
        """Abramowitz and Stegun, 26.7.5: x + (x³ + x)/4ν + (5x⁵ + 16x³ + 3x)/96ν² (from memory)."""
        blocks, x = np.random.default_rng(free).normal(size=free + 1), 1.96
        quantile = x + np.polyval([1, 0, 1, 0], x) / (4 * free) + np.polyval([5, 0, 16, 0, 3, 0], x) / (96 * free**2)
        assert mean_error(blocks) / stats.sem(blocks) == pytest.approx(quantile / x, rel=1e-12)

    def test_one_block_has_no_scatter(self):
        assert mean_error(np.array([3.0])) == mean_error(np.array([])) == 0 and mean_error(np.array([3.0, 4.0])) > 0.5

    @pytest.mark.parametrize(
        "rows, seconds, sizes",
        [
            (100, 1.0, [13] * 4 + [12] * 4),
            (50, 1.0, [10] * 5),
            (29, 1.0, [15, 14]),
            (3, 1.0, [2, 1]),
            (1, 1.0, [1]),
            (0, 1.0, []),
        ],
    )
    def test_blocks_are_about_as_long_as_asked_two_to_eight_of_them(self, rows, seconds, sizes):
        values = np.arange(rows, dtype=float) ** 2
        ends = np.cumsum([0, *sizes])
        assert block_means(values, STEP, seconds) == pytest.approx(
            [values[first:last].mean() for first, last in zip(ends, ends[1:])]
        )

    @pytest.mark.parametrize(
        "seconds, step, least, count", [(0.3, 0.1, 1, 3), (0.29, 0.1, 1, 2), (0.05, 0.1, 1, 1), (0.05, 0.1, 3, 3)]
    )
    def test_places_are_whole_steps(self, seconds, step, least, count):
        assert places(seconds, step, least) == count

    @pytest.mark.parametrize(
        "gap, shortest, kept",
        [(2, 1, [(0, 8), (11, 12)]), (1, 1, [(0, 3), (5, 8), (11, 12)]), (3, 2, [(0, 12)]), (1, 3, [(0, 3), (5, 8)]), (1, 4, [])],
    )
    def test_runs_are_joined_over_short_gaps_and_short_ones_left_out(self, gap, shortest, kept):
        mask = np.zeros(14, bool)
        mask[[0, 1, 2, 5, 6, 7, 11]] = True
        assert runs(mask).tolist() == [[0, 3], [5, 8], [11, 12]]
        assert joined(runs(mask), gap, shortest) == kept

    @pytest.mark.parametrize("high", [5, 50, 95])
    def test_two_groups_are_split_between_them_however_few_are_in_one(self, high):
        random = np.random.default_rng(high)
        values = np.concatenate((random.normal(1, 0.05, 100 - high), random.normal(3, 0.05, high)))
        assert 1.05 < split_level(values) < 2.8 and (values > split_level(values) + 0.02).sum() == high
        assert split_level(np.full(9, 4.0)) == 4.0 and split_level(np.array([4.0, 4.0 + 1e-13])) == pytest.approx(4)

    def test_the_split_is_that_of_least_variance_within(self):
        """Otsu's threshold, found here by trying each; the two tell the same group of values."""
        values = np.sort(
            np.concatenate((np.random.default_rng(1).exponential(1, 300), np.random.default_rng(2).normal(5, 1, 100)))
        )
        within = [one.var() * len(one) + two.var() * len(two) for one, two in ((values[:n], values[n:]) for n in range(1, 400))]
        assert (values < split_level(values)).sum() == pytest.approx(int(np.argmin(within)) + 1, abs=3)

    def test_the_densest_value_is_that_of_the_densest_half(self):
        assert densest(np.array([9.0, 5.0, 1.02, 1.0, 1.01, 0.0, 4.0])) == pytest.approx(1.01, abs=0.011)
        assert densest(np.array([1.0, 2.0, 6.0])) == 3.0

    def test_a_robust_deviation_is_that_of_normal_noise_and_knows_no_peaks(self):
        noise = np.random.default_rng(1).normal(5, 2, 4000)
        noise[::100] = 1e6
        assert robust_deviation(noise) == pytest.approx(2, rel=0.05) and robust_deviation(noise[:0]) == 0

    @pytest.mark.parametrize("seconds, width", [(0.1, 3), (0.3, 3), (0.4, 5), (0.5, 5), (1.0, 11), (2.9, 29)])
    def test_a_running_median_is_over_an_odd_number_of_rows_three_at_least(self, seconds, width):
        values, half = np.random.default_rng(1).normal(size=80), width // 2
        expected = [np.median(values[place - half : place + half + 1]) for place in range(half, 80 - half)]
        assert smooth(values, 0.1, seconds)[half : 80 - half].tolist() == expected

    def test_a_running_mean_is_centred(self):
        assert running_mean(np.arange(20.0), 0.1, 0.5)[2:-2] == pytest.approx(np.arange(2, 18))


class TestIdle:
    """On a meter whose power is the number of the row: ten rows a second, one part in rows 300 to 400."""

    def free(self, after=4.0, closed=()):
        mask = np.zeros(800, bool)
        mask[list(closed)] = True
        return _Free(np.arange(800.0), STEP, [(300, 400)], mask, after)

    def test_it_is_read_from_seven_tenths_of_a_second_before_contact_for_six_seconds(self):
        assert self.free().before(300, 6.0).tolist() == list(range(233, 293))
        assert self.free().before(300, 1.5).tolist() == list(range(278, 293))
        assert self.free().before(30, 6.0).tolist() == list(range(0, 23))

    def test_and_behind_for_six_seconds_once_what_follows_is_over(self):
        assert self.free().behind(400).tolist() == list(range(440, 500))
        assert self.free(after=6.5).behind(400).tolist() == list(range(465, 525))
        assert self.free().behind(760).tolist() == []

    def test_a_second_beside_a_standstill_is_not_read(self):
        assert self.free(closed=range(450, 460)).behind(400).tolist() == [*range(470, 500)]
        assert self.free(closed=range(250, 260)).before(300, 6.0).tolist() == [*range(233, 240), *range(270, 293)]

    def test_how_much_higher_idle_is_before_contact_leaves_a_gap_to_what_is_compared(self):
        """The last 1.5 s beside those from 6.7 to 4.2 s before."""
        assert self.free().steps([(300, 400)]) == pytest.approx([np.mean(range(278, 293)) - np.mean(range(233, 258))])
        assert np.isnan(self.free().steps([(30, 400)])).all()
        assert np.isnan(self.free().far([(43, 400)])).all() and self.free().far([(44, 400)]) == pytest.approx([0.5])  # two rows

    @pytest.mark.parametrize(
        "higher, usual", [([0.06] * 5, 0.06), ([0.04] * 5, 0.0), ([-0.06] * 5, -0.06), ([], 0.0), ([np.nan] * 3, 0.0)]
    )
    def test_idle_that_is_always_higher_behind_is_so_beyond_a_twentieth_of_the_level(self, higher, usual):
        assert _usual(np.array(higher), 1.0) == (usual, 0.0)

    @pytest.mark.parametrize("middle, is_usual", [(0.5, True), (0.3, False)])
    def test_and_beyond_three_errors_of_the_median(self, middle, is_usual):
        higher = middle + np.array([-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3])
        usual, scatter = _usual(higher, 1.0)
        assert scatter == pytest.approx(0.2 * 1.4826) and 3 * 1.25 * scatter / 7**0.5 == pytest.approx(0.42, abs=0.01)
        assert usual == (pytest.approx(middle) if is_usual else 0)

    @pytest.mark.parametrize("step, count, is_switched", [(0.011, 4, True), (0.009, 4, False), (0.5, 3, False), (-0.5, 4, False)])
    def test_coolant_is_switched_where_idle_steps_up_before_four_parts_or_more(self, step, count, is_switched):
        power = np.ones(400 * count + 100)
        stretches = [(400 * number + 300, 400 * number + 390) for number in range(count)]
        for first, _ in stretches:
            power[first - 30 : first] += step
        free = _Free(power, STEP, stretches, np.zeros(len(power), bool), 4.0)
        assert _switched_before(free, stretches, 1.0) == is_switched

    @pytest.mark.parametrize("middle, is_switched", [(0.5, False), (0.62, True)])
    def test_and_by_more_than_four_errors_of_the_median(self, middle, is_switched):
        """The seven steps scatter by 0.2 · 1.4826; four errors of their median are 0.56."""
        power = np.ones(400 * 7 + 100)
        stretches = [(400 * number + 300, 400 * number + 390) for number in range(7)]
        for (first, _), off in zip(stretches, (-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3)):
            power[first - 30 : first] += middle + off
        free = _Free(power, STEP, stretches, np.zeros(len(power), bool), 4.0)
        assert _switched_before(free, stretches, 1.0) == is_switched

    @pytest.mark.parametrize("higher, idle", [(0.056, 1.028), (0.064, 1.0)])
    def test_a_side_that_differs_by_more_than_four_deviations_of_the_others_does_not_count(self, higher, idle):
        """The others differ by 0.005 up and down in turn, the median of all by 0.005: four deviations are 4 · 1.4826 · 0.01."""
        power, parts = idle_of([(1, 1 + (0.005 if number % 2 else -0.005)) for number in range(8)] + [(1, 1 + higher)])
        free = _Free(power, STEP, parts, np.zeros(len(power), bool), 4.0)
        assert free.idles(parts, np.ones(9), False)[0][8] == pytest.approx(idle)

    @pytest.mark.parametrize("before, behind, idle", [(1, 1.06, 1), (1.06, 1, 1), (1, 1.04, 1.02), (1.04, 1, 1.02)])
    def test_where_idle_is_always_higher_on_one_side_the_other_counts(self, before, behind, idle):
        """By more than a twentieth of the level, which is 1."""
        power, parts = idle_of([(before, behind)] * 6)
        assert _Free(power, STEP, parts, np.zeros(len(power), bool), 4.0).idles(parts, np.ones(6), False)[0] == pytest.approx(
            idle
        )

    @pytest.mark.parametrize("rows, is_known", [(4, False), (5, True)])
    def test_half_a_second_of_idle_is_enough(self, rows, is_known):
        """The last rows but seven before row 300, in a log that is closed else."""
        closed = [*range(283 - rows), *range(440, 800)]
        (idle,), (error,) = self.free(closed=closed).idles([(300, 400)], np.ones(1), False)
        assert np.isfinite([idle, error]).tolist() == [is_known] * 2
        assert not is_known or idle == pytest.approx(290, abs=0.5)

    def test_in_gaps_too_short_for_four_seconds_behind_a_part_idle_has_an_error_too(self):
        """4.5 s: 1.3 s are left from 2.5 s behind a part to 0.7 s before the next."""
        off, scatter = [], []
        for seed in range(40):
            power = np.tile(np.repeat([1.0, 3.0], [45, 100]), 4)[:-100] + 0.1 * np.random.default_rng(seed).standard_normal(480)
            parts = [(45 + 145 * number, 145 + 145 * number) for number in range(3)]
            found = idles(power, STEP, parts, parts, np.zeros(480, bool), np.full(3, 2.0), 0.5)
            assert found.short[1] and found.step == 0
            off.append(found.values[1] - 1)
            scatter.append(found.errors[1])
        assert np.isfinite(scatter).all() and np.mean(np.abs(off) < 2 * np.array(scatter)) > 0.85

    def test_the_stated_error_is_that_of_idle_where_the_sides_differ(self):
        """Without noise within a window, only from one to the next: by sqrt(1/2) of it with two of them, by all of it with one."""
        sides = 1 + 0.005 * np.random.default_rng(1).standard_normal((600, 2))
        power, parts = idle_of(sides)
        closed = np.zeros(len(power), bool)
        for _, last in parts[::6]:
            closed[last + 30 : last + 110] = True
        values, errors = _Free(power, STEP, parts, closed, 4.0).idles(parts, np.ones(600), False)
        one = np.arange(600) % 6 == 0
        assert values[one] == pytest.approx(sides[one, 0]) and values[~one] == pytest.approx(sides[~one].mean(1))
        assert errors[one] == pytest.approx(0.005, rel=0.12) and errors[~one] == pytest.approx(0.005 / 2**0.5, rel=0.12)

    def test_and_where_it_wanders_from_part_to_part(self):
        true = 1 + 0.01 * np.random.default_rng(3).standard_normal(600)
        power, parts = idle_of(np.column_stack((true, true)))
        found = idles(power, STEP, parts, parts, np.zeros(len(power), bool), np.ones(600), 0.3)
        assert found.values == pytest.approx(true) and found.errors == pytest.approx(0.01, rel=0.12)
        assert found.step == 0 and not found.short.any()

    @pytest.mark.parametrize("count, is_known", [(4, False), (5, True)])
    def test_from_five_parts_on(self, count, is_known):
        power, parts = idle_of([(idle, idle) for idle in (1, 1.01, 1, 1.02, 1)[:count]])
        errors = idles(power, STEP, parts, parts, np.zeros(len(power), bool), np.ones(count), 0.3).errors
        assert (errors > 0.001).tolist() == [is_known] * count


@pytest.mark.parametrize(
    "rows, gap, lead, count",
    [(49, 120, 100, 5), (48, 120, 100, 0), (100, 94, 100, 5), (100, 93, 100, 1), (100, 120, 69, 5), (100, 120, 68, 4)],
)
def test_onsets_are_laid_over_one_another_where_there_is_room(rows, gap, lead, count):
    """Seven seconds before the crossing, which begin 2.5 s behind the part before at least, and 1.2 times the four seconds behind it."""
    power = np.concatenate((np.ones(lead), *[np.repeat([3.0, 1.0], [rows, gap])] * 5))
    parts = [(lead + number * (rows + gap), lead + number * (rows + gap) + rows) for number in range(5)]
    found = _onsets(power, STEP, parts, parts, np.ones(5), 70, 40)
    assert len(found) == count
    for net in found:  # over the level, from a row behind the contact on
        assert net.tolist() == [0] * 69 + [1] * 41


def idle_of(sides):
    """Power and places of parts of 10 s on an idle that is known before and behind each of them, without noise."""
    pieces = [piece for before, behind in sides for piece in (np.full(100, before), np.full(100, 2.0), np.full(110, behind))]
    return np.concatenate(pieces), [(310 * number + 100, 310 * number + 200) for number in range(len(sides))]


def cooled(step, before, parts=8):
    """A log of parts of 10 s and 1.5 kW on an idle of 1 kW, whose coolant is on from so long before contact to the end."""
    net = np.array(([0.0] * 120 + [1.5] * 100) * parts + [0.0] * 120)
    coolant = np.zeros(len(net))
    for number in range(parts):
        contact = 220 * number + 120
        coolant[contact - round(before / STEP) : contact + 100] = step
    lagged = [lfilter([share], [1, share - 1], values) for share, values in ((0.2212, net), (0.2835, coolant))]  # 0.4 and 0.3 s
    noise = 0.02 * np.random.default_rng(1).standard_normal(len(net))
    return gf.read_log(power=1 + sum(lagged) + noise, interval=STEP)


@pytest.mark.parametrize(
    "step, before, off",
    [(0.0, 0, 0.004), (0.03, 3, 0.01), (0.25, 3, 0.01), (0.25, 4, 0.01), (0.5, 2, 0.03), (0.6, 3, 0.02), (0.6, 4, 0.02)],
)
def test_coolant_that_comes_on_before_contact_is_idle(step, before, off):
    """Above a fifth of the level the stretch begins with it, and the step is seen in the courses laid over one another."""
    log = cooled(step, before)
    assert log.idle_step == pytest.approx(step, rel=0.08, abs=0.006) and len(log.parts) == 8
    assert [part.net for part in log.parts] == pytest.approx([1.5] * 8, rel=off)
    assert [part.idle for part in log.parts] == pytest.approx([1 + step] * 8, abs=0.05)


@pytest.mark.parametrize("step, before", [(0.5, 1.2), (0.5, 1.8), (0.6, 1.5)])
def test_coolant_that_comes_on_one_to_two_seconds_before_contact_is_told_from_it(step, before):
    log = cooled(step, before)
    assert log.idle_step == pytest.approx(step, rel=0.15) and [part.net for part in log.parts] == pytest.approx(
        [1.5] * 8, rel=0.06
    )
    assert cooled(step, 0.6).idle_step == 0  # later it is one rise with that of the grinding


@pytest.mark.parametrize("step, before", [(0.4, 3), (0.4, 4)])
def test_coolant_of_about_a_fifth_of_the_level_with_which_some_stretches_begin_is_idle_in_all(step, before):
    log = cooled(step, before)
    assert len({part.steady_start - part.start > 2 for part in log.parts}) == 2  # some begin with it, others at contact
    assert [part.net for part in log.parts] == pytest.approx([1.5] * len(log.parts), rel=0.045)


@pytest.mark.parametrize("parts, step", [(4, 0.25), (3, 0.0)])
def test_a_step_of_idle_is_told_from_four_parts(parts, step):
    assert cooled(0.25, 3, parts).idle_step == pytest.approx(step, rel=0.08, abs=1e-12)


def risen(lag, seconds=20.0, level=2.0, slope=0.0, count=4, noise=0.0, seed=1):
    """Parts of so many seconds on an idle of 1, whose power rises by one lag and drops at once; (power, their places)."""
    time = (np.arange(round(seconds / STEP)) + 0.5) * STEP
    net = level * -np.expm1(-time / lag) * (1 + slope * (time / seconds - 0.5))
    piece = np.concatenate((np.zeros(100), net, np.zeros(100)))
    power = 1 + np.tile(piece, count) + noise * np.random.default_rng(seed).standard_normal(count * len(piece))
    return power, [(number * len(piece) + 100, number * len(piece) + 100 + len(net)) for number in range(count)]


class TestSteady:
    @pytest.mark.parametrize("seconds, slope", [(4.0, 0.0), (9.0, 0.1)])
    def test_a_slope_needs_three_seconds(self, seconds, slope):
        power, parts = risen(0.4, seconds=seconds, slope=0.1 if slope else 0.5)
        _, steady = steady_stretches(power, STEP, parts, np.ones(4))
        assert [len(one.blocks) > 2 for one in steady] == [slope > 0] * 4
        assert all(bool(one.slope) == bool(slope) for one in steady)

    @pytest.mark.parametrize("lag", [0.4, 1.0, 2.0])
    @pytest.mark.parametrize("level", [0.05, 2.0, 300.0])
    def test_lag_level_and_where_the_steady_stretch_lies(self, lag, level):
        power, parts = risen(lag, level=level)
        found, steady = steady_stretches(power, STEP, parts, np.ones(4))
        assert found == pytest.approx(lag, rel=0.03)
        for one, (first, last) in zip(steady, parts):
            assert one.net == pytest.approx(level, rel=0.002) and not one.is_early and abs(one.slope) < 0.005
            assert (one.first - first) * STEP == pytest.approx(3 * lag, abs=0.25)
            assert (last - one.last) * STEP == pytest.approx(0.7, abs=0.15)  # 0.4 s before a mean over 0.6 s falls

    @pytest.mark.parametrize("seconds, is_early", [(9.0, False), (7.8, True)])
    def test_where_less_than_three_tenths_are_left_after_three_lags_it_begins_after_one_and_a_half(self, seconds, is_early):
        power, parts = risen(2.0)
        short, ((first, last), *_) = risen(2.0, seconds=seconds, count=1)
        parts = [*parts, (len(power) + first, len(power) + last)]
        _, steady = steady_stretches(np.concatenate((power, short)), STEP, parts, np.ones(5))
        assert [one.is_early for one in steady] == [False] * 4 + [is_early]
        assert (steady[4].first - parts[4][0]) * STEP == pytest.approx(3.0 if is_early else 6.0, abs=0.3)
        assert steady[4].net == pytest.approx(2, rel=0.01)

    @pytest.mark.parametrize("slope", [-0.2, 0.1])
    def test_the_change_within_is_from_one_end_to_the_other_as_a_share(self, slope):
        """Blocks of a second or more: from the middle of the first to that of the last."""
        power, parts = risen(0.3, slope=slope)
        _, (one, *_) = steady_stretches(power, STEP, parts, np.ones(4))
        span = (one.last - one.first) * STEP * 7 / 8
        assert one.slope == pytest.approx(slope * span / 20, rel=0.1)

    def test_the_stated_error_is_that_of_the_level_in_simulated_parts(self):
        errors, stated = [], []
        for seed in range(12):
            power, parts = risen(0.5, noise=0.1, seed=seed)
            _, steady = steady_stretches(power, STEP, parts, np.ones(4))
            errors += [one.net - 2 for one in steady]
            stated += [one.error for one in steady]
            assert np.mean([one.scatter for one in steady]) == pytest.approx(0.1, rel=0.15)
        assert np.median(stated) == pytest.approx(np.std(errors), rel=0.35)

    def test_neighbouring_blocks_that_resemble_one_another_widen_errors(self):
        random = np.random.default_rng(1)
        white = [random.normal(size=8) for _ in range(200)]
        alike = [np.cumsum(each) for each in white]
        assert _slow_noise(white) == pytest.approx(1, abs=0.08)
        slow = []
        for each in white:
            values = [each[0]]
            for new in each[1:]:
                values.append(0.4 * values[-1] + new)
            slow.append(np.array(values))
        assert 1.2 < _slow_noise(slow) < ((1 + 0.4) / (1 - 0.4)) ** 0.5 * 1.1
        assert _slow_noise(alike) > 1.5
        assert _slow_noise([np.array([1.0, -1.0] * 4)]) == 1.0  # unlike: never narrower
        # on a straight line, alike by 26.25/42 + 1/8 of eight and by 1.25/5 + 1/4 of four
        assert _slow_noise([np.arange(8.0)]) == pytest.approx(7**0.5) and _slow_noise([np.arange(4.0)]) == pytest.approx(3**0.5)
        assert _slow_noise([np.arange(8.0), np.zeros(3)]) == pytest.approx(7**0.5)  # three blocks tell nothing
        assert _slow_noise([np.repeat([-1.0, 1.0], 20)]) == 3.0  # alike by 37/40 + 1/40, and no wider than this

    @pytest.mark.parametrize("level", [1.0, 300.0])
    def test_where_a_ramp_crosses_six_tenths(self, level):
        """After 2.4 of 4 s; what is looked at begins 2 s before the stretch, and ends 0.4 s before power falls."""
        net = level * np.concatenate((np.zeros(100), (np.arange(40) + 0.5) / 40, np.ones(160), np.zeros(100)))
        onset = onset_of(1 + net, STEP, (105, 310), 1.0)
        assert onset.begin == 85 and onset.level == pytest.approx(level)
        assert onset.begin * STEP + onset.crossing == pytest.approx(10 + 2.4, abs=0.051)
        assert onset.begin + onset.last == pytest.approx(300 - 4, abs=3)  # by a mean over 0.6 s

    def test_where_a_step_crosses_lies_between_two_rows(self):
        """At six tenths of the way from the middle of the last row at idle to that of the first row at the level."""
        onset = onset_of(np.repeat([1.0, 2.0], [10, 20]), 1.0, (10, 30), 1.0)
        assert onset.begin + onset.crossing == pytest.approx(9.5 + 0.6)

    def test_of_a_part_that_is_ground_when_the_log_begins_the_crossing_lies_before_its_first_row(self):
        assert onset_of(np.full(20, 2.0), 1.0, (0, 20), 1.0).crossing < 0.5
        assert _slow_noise([np.arange(3.0)] * 9) == _slow_noise([]) == _slow_noise([np.ones(8)]) == 1.0

    def test_the_length_of_the_infeed_leaves_out_a_fine_stage(self):
        net = np.concatenate((np.zeros(20), np.full(100, 2.0), np.full(60, 0.6), np.zeros(20)))
        assert infeed_seconds(1 + net, STEP, (10, 190), 1.0) == pytest.approx(10, abs=0.21)


class TestRise:
    @pytest.mark.parametrize("width", [0.5, 4.0])
    def test_both_shapes_cross_six_tenths_at_zero(self, width):
        """A lag has risen by 1 - exp(-t/lag), half a cosine by (1 - cos(pi t/width))/2."""
        time = np.linspace(-2 * width, 3 * width, 1001)
        lagged, wave = (rise(time, np.array([width])) for rise in (_lag_rise, _wave_rise))
        assert (lagged[400], wave[400]) == (pytest.approx(0.6), pytest.approx(0.6)) and time[400] == pytest.approx(0)
        since = np.maximum(time + np.log(1 / 0.4) * width, 0)
        assert lagged == pytest.approx(1 - np.exp(-since / width))
        assert wave.min() == 0 and wave.max() == 1 and np.ptp(time[(wave > 0) & (wave < 1)]) == pytest.approx(width, rel=0.02)

    def course(self, shape, count=4, level=2.0):
        """Parts of 200 rows of this shape between 100 rows of idle, and what is told of their rise."""
        power = 1 + level * np.concatenate((*([np.zeros(100), shape(np.linspace(0, 1, 200))] * count), np.zeros(100)))
        parts = [(300 * number + 100, 300 * number + 300) for number in range(count)]
        return wave_like(power, STEP, parts, [1.0] * count)

    @pytest.mark.parametrize("level", [0.01, 2.0, 500.0])
    @pytest.mark.parametrize("share", [0.4, 0.6])
    def test_half_a_cosine_is_a_wave_of_its_own_length(self, share, level):
        told = self.course(lambda at: 0.5 - 0.5 * np.cos(np.pi * np.clip(at / share, 0, 1)), level=level)
        assert told == pytest.approx(share, rel=0.1)

    @pytest.mark.parametrize("share", [0.05, 0.25])
    def test_a_short_one_says_nothing(self, share):
        assert self.course(lambda at: 0.5 - 0.5 * np.cos(np.pi * np.clip(at / share, 0, 1))) is None

    @pytest.mark.parametrize("lag", [0.01, 0.05, 0.2, 0.3])
    def test_a_lag_is_none_however_slow(self, lag):
        assert self.course(lambda at: -np.expm1(-at / lag)) is None

    def test_two_parts_are_too_few_and_three_are_enough(self):
        assert [self.course(lambda at: 0.5 - 0.5 * np.cos(np.pi * at), count=count) is None for count in (2, 3)] == [True, False]

    def test_of_parts_below_idle_nothing_is_told(self):
        assert self.course(lambda at: 0 * at - 1.0) is None


class TestCut:
    def power(self, *heights, noise=0.01, gap=100, length=100):
        pieces = [part for height in heights for part in (np.zeros(gap), np.full(length, height))]
        net = np.concatenate((*pieces, np.zeros(gap)))
        return 1 + net + noise * np.random.default_rng(1).standard_normal(len(net))

    def stretches(self, power, closed=None):
        return cut(power, STEP, np.zeros(len(power), bool) if closed is None else closed)

    def test_stretches_begin_and_end_where_power_does(self):
        found = self.stretches(self.power(1, 1, 1))
        assert found.level == pytest.approx(1, abs=0.02) and found.touches == []
        for (first, last), begin in zip(found.stretches, (100, 300, 500)):
            assert abs(first - begin) <= 3 and abs(last - begin - 100) <= 3
        assert found.idle == pytest.approx(1, abs=0.02)

    @pytest.mark.parametrize("height, is_found", [(0.4, "stretch"), (0.3, "touch"), (0.15, "none")])
    def test_a_rise_above_a_third_is_a_stretch_and_a_clear_one_below_is_listed(self, height, is_found):
        found = self.stretches(self.power(1, 1, height, 1, 1))
        assert (len(found.stretches), len(found.touches)) == {"stretch": (5, 0), "touch": (4, 1), "none": (4, 0)}[is_found]
        assert not found.touches or abs(found.touches[0][0] - 500) <= 3

    @pytest.mark.parametrize("seconds, is_none", [(1.5, True), (3.0, False)])
    def test_a_rise_within_two_seconds_before_a_stretch_belongs_to_it(self, seconds, is_none):
        power = self.power(1, 1, 1, gap=200)
        begin = 500 - round(seconds / STEP)
        power[begin - 10 : begin] += 0.3
        assert (self.stretches(power).touches == []) == is_none

    @pytest.mark.parametrize("seconds, is_none", [(4.0, True), (8.0, False)])
    def test_and_within_six_seconds_behind_one(self, seconds, is_none):
        power = self.power(1, 1, 1, gap=200)
        begin = 600 + round(seconds / STEP)
        power[begin : begin + 10] += 0.3
        assert (self.stretches(power).touches == []) == is_none

    @pytest.mark.parametrize("rows, count", [(3, 3), (9, 4)])
    def test_a_dip_of_less_than_half_a_second_parts_nothing(self, rows, count):
        power = self.power(1, 1, 1)
        power[350 : 350 + rows] -= 1
        assert len(self.stretches(power).stretches) == count

    def test_idle_follows_a_drift(self):
        power = self.power(1, 1, 1, 1) + np.linspace(0, 0.6, 900)
        found = self.stretches(power)
        assert len(found.stretches) == 4
        middles = [50, 250, 450, 650, 850]
        assert found.idle[middles] == pytest.approx(1 + np.linspace(0, 0.6, 900)[middles], abs=0.05)

    def test_closed_places_belong_to_no_stretch_and_without_two_levels_there_is_none(self):
        power = self.power(1, 1, 1)
        closed = np.zeros(len(power), bool)
        closed[290:410] = True
        assert len(self.stretches(power, closed).stretches) == 2
        assert self.stretches(np.full(400, 2.0)) is None and self.stretches(power, ~np.zeros(len(power), bool)) is None

    @pytest.mark.parametrize("low, high", [(0.0, 1.0), (0.2, 5.0), (-1.0, 24.0)])
    def test_a_contact_channel_is_high_while_the_wheel_cuts(self, low, high):
        contact = np.full(300, low)
        contact[50:120] = contact[122:150] = high  # a gap of 0.2 s
        contact[200:205] = high  # half a second
        assert by_contact(contact, STEP) == [(50, 150)]
        noisy = contact + 0.05 * (high - low) * np.random.default_rng(1).standard_normal(300)
        assert by_contact(noisy, STEP) == [(50, 150)]
        contact[250] += 5 * (high - low)  # a spike makes nothing else low
        assert by_contact(contact, STEP) == [(50, 150)]


class TestCutAtItsLimits:
    """Courses without noise, or with a ripple 0, +a, -a, whose deviation is 1.4826 a; a running median sees a slow one only."""

    def course(self, *pieces, deviation=0.0, slow=1):
        """Power of so many rows at each height above an idle of 1; the ripple changes from row to row, or every `slow` rows."""
        net = np.concatenate([np.full(rows, float(height)) for rows, height in pieces])
        return 1 + net + deviation / 1.4826 * np.resize(np.repeat([0.0, 1.0, -1.0], slow), len(net))

    def found(self, *pieces, interval=STEP, **ripple):
        """What is found of these pieces between two plain parts on each side; they begin at row 500."""
        beside = [(100, 0), (100, 1)]
        power = self.course(*beside, *beside, (100, 0), *pieces, (100, 0), (100, 1), *beside, (100, 0), **ripple)
        return cut(power, interval, np.zeros(len(power), bool))

    def counts(self, *pieces, **ripple):
        found = self.found(*pieces, **ripple)
        return len(found.stretches) - 4, len(found.touches)

    @pytest.mark.parametrize(
        "deviation, interval, height, is_found",
        [
            (0, STEP, 0.34, 0),
            (0, STEP, 0.36, 1),
            (0.5 / 3, STEP, 0.34, 0),  # smoothed over more rows than the ripple keeps its value for
            (0.5 / 3, STEP, 0.36, 1),
            (0.5 / 3, 1.0, 0.37, 0),  # smoothed over three, which leaves it; it reaches 0.48
            (0.5 / 3, 1.0, 0.41, 1),  # and 0.52
        ],
    )
    def test_a_stretch_stands_out_by_a_third_and_by_three_deviations_of_smoothed_idle(
        self, deviation, interval, height, is_found
    ):
        assert self.counts((100, height), deviation=deviation, interval=interval, slow=2)[0] == is_found

    @pytest.mark.parametrize(
        "deviation, height, rows",
        [
            (0, 0.19, 100),
            (0, 0.21, 150),
            (0.25 / 1.5, 0.24, 100),
            (0.25 / 1.5, 0.26, 150),
            (0.5 / 1.5, 0.34, 100),
            (0.5 / 1.5, 0.36, 150),
        ],
    )
    def test_and_lasts_until_power_is_within_a_fifth_and_one_and_a_half_deviations_or_a_third(self, deviation, height, rows):
        first, last = self.found((100, 1), (50, height), deviation=deviation).stretches[2]
        assert (first, last) == (pytest.approx(500, abs=2), pytest.approx(500 + rows, abs=2))

    @pytest.mark.parametrize("deviation, height, is_listed", [(0, 0.19, 0), (0, 0.21, 1), (0.3 / 4, 0.29, 0), (0.3 / 4, 0.31, 1)])
    def test_a_touch_is_clear_above_a_fifth_and_four_deviations(self, deviation, height, is_listed):
        assert self.counts((100, height), deviation=deviation) == (0, is_listed)

    @pytest.mark.parametrize(
        "pieces, counts",
        [
            ([(20, 0.3), (4, 1), (20, 0.3)], (0, 1)),  # as high as a part for 0.4 s
            ([(20, 0.3), (5, 1), (20, 0.3)], (1, 0)),  # and for 0.5 s
            ([(100, 1), (4, 0), (100, 1)], (1, 0)),  # gone for 0.4 s
            ([(100, 1), (5, 0), (100, 1)], (2, 0)),
            ([(9, 1)], (0, 1)),  # a stretch lasts a second
            ([(10, 1)], (1, 0)),
            ([(4, 0.3)], (0, 0)),  # a touch half a second
            ([(5, 0.3)], (0, 1)),
            ([(5, 0.3), (4, 0), (5, 0.3)], (0, 1)),
            ([(5, 0.3), (5, 0), (5, 0.3)], (0, 2)),
        ],
    )
    def test_how_long_a_rise_and_a_dip_are(self, pieces, counts):
        assert self.counts(*pieces) == counts

    @pytest.mark.parametrize("rows, stretches", [(2, None), (3, [(30, 33)])])
    def test_of_one_row_a_second_three_make_a_level(self, rows, stretches):
        power = self.course((30, 0), (rows, 1), (27, 0))
        found = cut(power, 1.0, np.zeros(len(power), bool))
        assert (found and found.stretches) == stretches

    @pytest.mark.parametrize("rows, touches", [(1, []), (2, [(60, 62)])])
    def test_and_two_a_touch(self, rows, touches):
        power = self.course((30, 0), (10, 1), (20, 0), (rows, 0.3), (20, 0), (10, 1), (20, 0))
        assert cut(power, 1.0, np.zeros(len(power), bool)).touches == touches

    def test_twenty_rows_that_are_not_closed_are_enough(self):
        power, closed = self.course((8, 0), (6, 1), (6, 0)), np.zeros(20, bool)
        assert cut(power, 1.0, closed).stretches == [(8, 14)]
        closed[0] = True
        assert cut(power, 1.0, closed) is None

    def test_of_four_rows_of_idle_the_densest_count(self):
        """One lies half way down to zero: from there the others would be no idle."""
        found = cut(np.array([0.5, 0.9, 1.0, 1.0] + [2.0] * 16), 1.0, np.zeros(20, bool))
        assert found.stretches == [(4, 20)] and found.idle == pytest.approx(1, abs=0.06)

    @pytest.mark.parametrize("seconds, is_none", [(5.5, True), (6.5, False)])
    def test_a_touch_six_seconds_behind_a_stretch_is_one_of_its_own(self, seconds, is_none):
        before = round(seconds / STEP)
        found = self.found((100, 1), (before, 0), (10, 0.3), (100, 0))
        assert (found.touches == []) == is_none


class TestStandstill:
    def switched(self, stands=200, idle=1.0, starts=((300, 400), (500, 600)), rows=800):
        """Two periods of a spindle with an idle level and two parts each, and so long without power between them."""
        one = np.full(rows, idle)
        for first, last in starts:
            one[first:last] += 2
        return np.concatenate((one, np.zeros(stands), one)) + 0.01 * np.random.default_rng(1).standard_normal(2 * rows + stands)

    @pytest.mark.parametrize("seconds, stands", [(20, True), (4, True), (2, False)])
    def test_three_seconds_without_power_are_a_standstill(self, seconds, stands):
        mask = standstill(self.switched(round(seconds / STEP)), STEP)
        assert mask.any() == stands
        if stands:
            assert abs(mask.argmax() - 800) <= 6 and mask.sum() == pytest.approx(seconds / STEP, abs=8)

    @pytest.mark.parametrize(
        "pieces, stands",
        [
            ([(3, 10), (1, 3), (3, 10), (0, 10)], True),
            ([(3, 10), (1, 2), (3, 10), (0, 10)], False),  # of two rows at idle nothing is known
            ([(3, 10), (0.27, 5), (3, 10), (0, 10)], True),  # idle is above 8 % of what is usual at most
            ([(3, 10), (0.21, 5), (3, 10), (0, 10)], False),
            ([(3, 10), (1, 5), (3, 10), (0.17, 10)], True),  # the spindle stands below 6 % of it
            ([(3, 10), (1, 5), (3, 10), (0.19, 10)], False),
            ([(3, 10), (1, 5), (3, 10), (0, 3), (3, 10), (1, 5), (3, 10)], True),
            ([(3, 10), (1, 5), (3, 10), (0, 2), (3, 10), (1, 5), (3, 10)], False),  # two seconds are a drop-out
            ([(3, 10), (1, 5), (3, 10), (0, 10), (3, 20)], False),  # three stretches in two periods, none of which begins at idle
        ],
    )
    def test_of_one_row_a_second_where_periods_hold_several_stretches(self, pieces, stands):
        """(power, rows) in turn; the zeros are where the spindle stands."""
        power = np.repeat([float(height) for height, _ in pieces], [rows for _, rows in pieces])
        assert standstill(power, 1.0).tolist() == (power < 0.2).tolist() if stands else not standstill(power, 1.0).any()

    def test_of_a_meter_zeroed_at_idle_none_is_seen(self):
        assert not standstill(self.switched(idle=0.0), STEP).any()
        assert not standstill(self.switched() + 1.0, STEP).any()  # never near zero

    def test_the_stretches_of_a_period_are_two_seconds_long_and_a_second_apart(self):
        power = np.ones(600)
        for first, rows in ((50, 30), (88, 12), (120, 17), (200, 26), (300, 60), (400, 60)):
            power[first : first + rows] = 3.0
        assert _stretches_in([(0, 600)], power, STEP, 2.0) == 4  # the first two are one, the third is too short
        assert _stretches_in([(0, 280), (280, 600)], power, STEP, 2.0) == 4
        assert _stretches_in([(350, 450)], power, STEP, 2.0) == 1

    @pytest.mark.parametrize("low, is_low", [(1.0, True), (2.5, True), (2.6, False), (3.0, False)])
    @pytest.mark.parametrize("begins, most", [(2, True), (1, True), (0, False)])
    def test_a_period_begins_low_where_it_is_clearly_below_its_level_from_5_to_8_seconds(self, low, is_low, begins, most):
        periods, power = [], np.full(400, 3.0)
        for number in range(2):
            first = 200 * number
            periods.append((first, first + 200))
            power[first : first + 15] = 9.0  # the start-up
            if number < begins:
                power[first + 48 : first + 85] = low
        assert _start_low(periods, power + 1e-6 * np.arange(400), STEP) == (is_low and most)
        assert not _start_low([(0, 80)], power, STEP)  # a period of 8 s or less tells nothing

    def test_the_start_up_is_four_seconds(self):
        mask = np.zeros(300, bool)
        mask[100:150] = True
        assert runs(with_start_up(mask, STEP)).tolist() == [[99, 190]]


class TestWords:
    def sorted(self, lengths, levels=None, infeed_time=None, closed=(), missing=()):
        """Words and reasons of stretches with 100 rows of idle before and behind each; (stretch, first, last) is counted from its end."""
        levels = levels or [1.0] * len(lengths)
        pieces, stretches, at = [], [], 0
        for length, level in zip(lengths, levels):
            pieces += [np.zeros(100), np.full(length, level)]
            stretches.append((at + 100, at + 100 + length))
            at += 100 + length
        power = 1 + np.concatenate((*pieces, np.zeros(100)))
        masks = np.zeros((2, len(power)), bool)
        for mask, places_of in zip(masks, (closed, missing)):
            for stretch, first, last in places_of:
                mask[stretches[stretch][1] + first : stretches[stretch][1] + last] = True
        return sort_out(stretches, power, STEP, np.ones(len(power)), masks[1], masks[0] | masks[1], infeed_time)

    def words(self, *args, **options):
        return [word for word, _ in self.sorted(*args, **options)]

    def test_lengths_at_the_limits_are_parts(self):
        assert self.words([100] * 5 + [60, 160]) == ["part"] * 7
        assert self.words([100] * 5 + [59, 161]) == ["part"] * 5 + ["short", "long"]
        assert self.words([60, 190, 100], infeed_time=10) == ["part"] * 3
        assert self.words([59, 191], infeed_time=10) == ["short", "long"]

    def test_a_low_one_is_compared_with_three_on_each_side(self):
        assert self.words([100] * 9, [1, 1, 1, 1, 0.51, 1, 1, 1, 1]) == ["part"] * 9
        assert self.words([100] * 9, [1, 1, 1, 1, 0.49, 1, 1, 1, 1])[4] == "low"
        assert self.words([100] * 9, [3, 3, 3, 3, 3, 1.6, 1, 1, 1])[5] == "part"
        assert self.words([100] * 9, [9, 9, 4, 4, 4, 2.1, 4, 4, 4])[5] == "part"
        assert self.words([100] * 7, [1, 1, 1, 1.2, 3, 3, 3])[3] == "part"  # half of 2, the median of three on each side
        assert self.words([100] * 7, [1, 1, 1, 0.99, 3, 3, 3])[3] == "low"
        assert self.words([100] * 9, [3, 3, 3, 3, 3, 1.4, 1, 1, 1])[5] == "part"  # a fourth before would make it half of 3
        assert self.words([100] * 8, [1, 1, 1, 1.2, 3, 3, 3, 3])[3] == "part"  # and a fourth behind

    def test_the_usual_length_goes_by_energy_above_idle(self):
        """Four of 10 s and height 1 have more of it than four of 30 s and 0.2, which have more with an idle of 1."""
        lengths, levels = [100, 300] * 4, [1, 0.2] * 4
        assert self.words(lengths, levels) == ["part", "long"] * 4

    def test_how_high_a_low_one_rises_is_told_by_its_neighbours(self):
        words = self.sorted([100] * 5, [2, 2, 0.9, 2, 2])
        assert words[2] == ("low", "rises to 45 % of its neighbours: a cycle without a part")

    @pytest.mark.parametrize("length, behind, is_stop", [(89, 9, True), (90, 9, False), (89, 10, False), (60, 9, True)])
    def test_a_stop_is_shorter_than_nine_tenths_with_a_standstill_within_a_second(self, length, behind, is_stop):
        words = self.sorted([100] * 5 + [length, 100, 100, 100], closed=[(5, behind, 60)])
        assert [word for word, _ in words] == ["part"] * 5 + ["short" if is_stop else "part"] + ["part"] * 3
        assert ("and the spindle stands behind it: a stop" in words[5][1]) == is_stop

    @pytest.mark.parametrize("stops, word", [(3, "short"), (4, "part")])
    def test_where_the_spindle_stands_behind_more_than_three_tenths_it_is_the_way_of_working(self, stops, word):
        assert self.words([100] * 9 + [80], closed=[(9 - number, 5, 60) for number in range(stops)]) == ["part"] * 9 + [word]

    def test_where_values_are_missing_the_spindle_is_not_known_to_stand(self):
        assert self.words([100] * 5 + [80], missing=[(5, 5, 60)]) == ["part"] * 5 + ["hole"]

    @pytest.mark.parametrize(
        "first, last, word", [(9, 30, "hole"), (10, 30, "part"), (-130, -109, "hole"), (-131, -110, "part"), (-60, -59, "hole")]
    )
    def test_a_hole_counts_within_a_second_of_a_stretch(self, first, last, word):
        assert self.words([100] * 4, missing=[(2, first, last)]) == ["part", "part", word, "part"]

    @pytest.mark.parametrize("first, last, word", [(0, 1, "hole"), (1, 2, "hole")])
    def test_also_where_the_log_has_just_begun(self, first, last, word):
        missing = np.zeros(400, bool)
        missing[first:last] = True
        power = np.repeat([1.0, 2.0, 1.0, 2.0], [5, 100, 195, 100])
        none = np.zeros(400, bool)
        assert sort_out([(5, 105), (300, 400)], power, STEP, np.ones(400), missing, none, None)[0][0] == word


class TestRpm:
    def parts(self, *gaps):
        at, found = 0.0, []
        for number, gap in enumerate((0, *gaps), 1):
            at += gap
            found.append(Ground(number, at, at + 10, "part"))
            at += 10
        return found

    @pytest.mark.parametrize("gaps, long", [((5, 5, 11, 5), [3]), ((5, 5, 9.9, 5), []), ((5,), []), ((), []), ((5, 20), [])])
    def test_a_gap_longer_than_twice_the_usual_is_named(self, gaps, long):
        assert _long_gaps(self.parts(*gaps)) == long

    def test_the_way_on_counts_the_parts_between_the_long_gaps_where_that_fits(self):
        parts = self.parts(5, 30, 5, 5, 30, 5)
        assert "(--parts) 2,3,2," in _way_on(None, parts, [3, 3, 3])
        assert "(--parts) 3,3,3,...," in _way_on(None, parts, [3, 3, 3, 3])

    @pytest.mark.parametrize("given, counts", [(2, [2, 2, 2]), ([1, 2, 3], [1, 2, 3]), (0, [0, 0, 0]), ([2.0] * 3, [2, 2, 2])])
    def test_counts_of_a_step(self, given, counts):
        assert _counts(given, 3) == counts

    @pytest.mark.parametrize("given", [1.5, [1, 2], "ab", None, [1, -1, 1], [1, 1.5, 1], float("nan")])
    def test_counts_that_are_none(self, given):
        with pytest.raises(ValueError, match="parts_per_step must be"):
            _counts(given, 3)

    @pytest.mark.parametrize("spread, is_step", [(0.029, True), (0.032, False)])
    def test_an_rpm_within_three_percent_is_one_step(self, spread, is_step):
        values = np.full(1000, 100.0)
        values[::3] *= 1 + spread
        trace, steady = SimpleNamespace(rpm=np.concatenate((values, [300.0] * 9))), SimpleNamespace(first=0, last=1000)
        rpm, said = rpm_within(trace, steady)
        assert (rpm, said) == ((100, "") if is_step else (None, "100 to 103.2"))
        assert rpm_within(SimpleNamespace(rpm=None), steady) == (None, "")
        assert rpm_within(SimpleNamespace(rpm=np.zeros(1000)), steady) == (None, "0 to 0")


class TestDrawn:
    def log(self, *stretches, power=None):
        found = tuple(Stretch(number, *each, "why") for number, each in enumerate(stretches, 1))
        trace = SimpleNamespace(power=power, start=5.0, interval=STEP)
        reading = SimpleNamespace(number=1)
        return SimpleNamespace(stretches=found, parts=(reading,), trace=trace)

    def test_neighbours_of_one_word_share_a_label_and_parts_have_numbers(self):
        log = self.log(
            (0, 2, "short"), (4, 6, "short"), (20, 22, "short"), (30, 40, "part"), (50, 60, "clipped"), (61, 62, "long")
        )
        shown = labels(log, 5.0)
        assert [(label.text, label.at, label.is_part) for label in shown] == [
            ("2 × short", 3, False),
            ("short", 21, False),
            ("1", 35, True),
            ("2: clipped", 55, False),
            ("long", 61.5, False),
        ]
        assert len(labels(log, 1.9)) == 6

    @pytest.mark.parametrize("rows, shown", [(2000, 2000), (2001, 1334), (30_000, 2000), (30_001, 1936)])
    def test_a_trace_is_thinned_from_2000_points_on(self, rows, shown):
        power = np.random.default_rng(1).normal(size=rows)
        time, drawn = thinned(self.log(power=power))
        assert len(drawn) == len(time) <= 2000 and (rows > 2000 or len(drawn) == shown)
        assert drawn.max() == power[: rows // 31 * 31].max() or rows <= 30_000
        at = np.rint((time - 5.0) / STEP - 0.5).astype(int)
        assert power[at].tolist() == drawn.tolist()

    def test_a_piece_of_it_begins_where_it_is_cut(self):
        time, drawn = thinned(self.log(power=np.arange(100.0)), 20, 50)
        assert drawn.tolist() == list(range(20, 50)) and time[0] == pytest.approx(5 + 20.5 * STEP)


@pytest.mark.parametrize(
    "seconds, said",
    [
        (1e-6, None),
        (9e-7, "1e-06 to 1e+09 s"),
        (1e9, None),
        (1.1e9, "1e-06 to 1e+09 s"),
        (0, "> 0 s"),
        (-1, "> 0 s"),
        ("x", "> 0 s"),
    ],
)
def test_times_that_are_given_have_bounds(seconds, said):
    if said is None:
        assert _seconds("infeed_time", seconds) == seconds
    else:
        with pytest.raises(ValueError, match=f"infeed_time must be {re.escape(said)}"):
            _seconds("infeed_time", seconds)
    assert _seconds("infeed_time", None) is None


@pytest.mark.parametrize(
    "options, said",
    [
        (dict(idle=1.1e9), "idle must be a number"),
        (dict(idle=-1.1e9), "idle must be a number"),
        (dict(progress=5), "progress must be a function"),
        (dict(sheet=5), "sheet must be the name of a sheet"),
        (dict(load_kind=5), "load_kind must be power, current, relative"),
    ],
)
def test_what_else_is_given_is_judged_before_anything_is_read(options, said):
    with pytest.raises(ValueError, match=said):
        gf.read_log("none.csv", **options)


def test_the_usual_share_is_that_of_the_commonest_value():
    assert _usual_share(np.array([1.0, 2.0, 1.0, 3.0, 1.5])) == 0.4


def test_readings_are_handed_on_with_seven_figures():
    assert [_figures(value) for value in (1 / 3, 1234567.8, 2.0)] == ["0.3333333", "1234568", "2"]
