"""What a power log's limits are, on both sides of each that docs/power-log.md states, and what is remarked.  All logs are simulated."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.signal import lfilter
from simulated_logs import pattern

import gritfuncs as gf
from gritfuncs.trial.log.checks import level_share, no_levels, refusal_of
from gritfuncs.trial.log.idle import Idles, _Free
from gritfuncs.trial.log.remarks import part_remarks, trace_remarks
from gritfuncs.trial.log.result import PartReading
from gritfuncs.trial.log.sorting import usual_length
from gritfuncs.trial.log.steady import Steady
from gritfuncs.trial.log.trace import trace_of


def power_of(seconds, heights=1.0, gap=12.0, idle=1.0):
    """Power [kW] ten times a second: strokes so long and so high above idle, behind a lag of 0.4 s."""
    rest, net = [0.0] * round(10 * gap), []
    for length, height in zip(seconds, np.broadcast_to(heights, len(seconds))):
        net += [*rest, *[height] * round(10 * length)]
    share = -np.expm1(-0.1 / 0.4)
    noise = 0.01 * np.random.default_rng(1).standard_normal(len(net) + len(rest))
    return idle + lfilter([share], [1, share - 1], [*net, *rest]) + noise


def read(seconds, heights=1.0, **options):
    return gf.read_log(power=power_of(seconds, heights), interval=0.1, **options)


def words(log):
    return [stretch.word for stretch in log.stretches]


def test_the_words_of_a_stretch_go_by_its_length_over_the_usual_one():
    log = read([10, 10, 10, 5.5, 10, 6.5, 10, 15, 10, 10, 10, 10])  # about 0.4 s of the lag more in each
    assert words(log) == ["part"] * 3 + ["short"] + ["part"] * 8 and log.refusal == ""
    log = read([10, 10, 10, 18, 10, 10, 10, 10])
    assert words(log) == ["part"] * 3 + ["long"] + ["part"] * 4 and log.refusal == ""
    assert log.stretches[3].why.startswith("lasts 18.") and "two parts without idle between them" in log.stretches[3].why


def test_a_given_infeed_time_takes_parts_with_fine_stage_and_spark_out_that_are_nearly_twice_as_long():
    assert words(read([18] * 3, infeed_time=10)) == ["part"] * 3
    assert words(read([20] * 3, infeed_time=10)) != ["part"] * 3
    assert words(read([6.5] * 3, infeed_time=10)) == ["part"] * 3
    assert "last about 10 s" in read([5] * 3, infeed_time=10).refusal


def test_a_given_idle_is_taken_off_where_no_idle_is_free_beside_a_part():
    power = power_of([10] * 6, gap=2.5)
    assert words(gf.read_log(power=power, interval=0.1)) == ["part"] + ["no idle"] * 5
    log = gf.read_log(power=power, interval=0.1, idle=0.9)
    assert words(log) == ["part"] * 6
    assert [part.idle for part in log.parts] == [pytest.approx(1, abs=0.01)] + [0.9] * 5  # one that was read goes before
    assert [part.net for part in log.parts[1:]] == pytest.approx([1.1] * 5, abs=0.01)


def test_less_than_half_of_its_neighbours_is_a_cycle_without_a_part():
    assert words(read([10] * 5, [1, 1, 0.55, 1, 1])) == ["part"] * 5
    log = read([10] * 5, [1, 1, 0.45, 1, 1])
    assert words(log) == ["part", "part", "low", "part", "part"]
    assert log.stretches[2].why == "rises to 45 % of its neighbours: a cycle without a part"


@pytest.mark.parametrize("strokes, is_refused", [([10] * 5 + [4] * 2, False), ([10] * 5 + [4] * 5, True)])
def test_less_than_three_quarters_of_the_time_in_parts_is_refused(strokes, is_refused):
    log = read(strokes)  # 83 and 68 % with the rise and fall of each
    assert ("in stretches that are alike" in log.refusal) == is_refused
    assert not is_refused or "got 69 % of their time" in log.refusal or "got 70 % of their time" in log.refusal


@pytest.mark.parametrize("more, is_refused", [(1.4, False), (2.2, True)])
def test_lengths_that_vary_by_more_than_17_percent_are_refused(more, is_refused):
    log = read([10 - more] * 2 + [10] * 4 + [10 + more] * 2)
    assert ("in stretches of one length" in log.refusal) == is_refused


def test_two_parts_are_too_few_and_three_are_enough():
    assert "parts must be 3 or more, to tell them from other stretches (got 2)" in read([10] * 2).refusal
    assert read([10] * 3).refusal == ""


def test_the_usual_length_is_weighted_by_energy():
    """Many short strokes of dressing weigh less than the parts they stand between."""
    assert usual_length(np.array([2.0] * 9 + [10.0] * 3), np.array([2.0] * 9 + [10.0] * 3)) == 10.0
    assert usual_length(np.array([2.0] * 18 + [10.0] * 3), np.array([2.0] * 18 + [10.0] * 3)) == 2.0


@pytest.mark.parametrize("length, behind, is_stop", [(8, 0.5, True), (9.4, 0.5, False), (8, 5, False)])
def test_a_stretch_below_nine_tenths_that_the_spindle_stops_behind_is_a_stop(length, behind, is_stop):
    """The lag adds about 0.4 s to each length; within a second behind it, that is."""
    before = power_of([10, 10, length])[: -round(10 * (12 - behind))]
    log = gf.read_log(power=np.concatenate((before, np.zeros(150), power_of([10] * 4))), interval=0.1)
    assert words(log)[:3] == ["part", "part", "short" if is_stop else "part"]
    assert ("the spindle stands behind it: a stop" in log.stretches[2].why) == is_stop


@pytest.mark.parametrize("behind, word", [(0.5, "hole"), (5, "part")])
def test_values_that_are_missing_within_a_second_of_a_part_leave_it_out(behind, word):
    power = power_of([10] * 4)
    first = round(10 * (12 + 10 + 0.4 + behind))
    power[first : first + 40] = np.nan
    assert words(gf.read_log(power=power, interval=0.1)) == [word, "part", "part", "part"]


def idle_beside(higher):
    """Idle of nine parts of 10 s, 1 kW high, of a meter at 1 kW that stands `higher` from the end of the fifth on for 12 s."""
    piece = np.concatenate((np.full(200, 1.0), np.full(100, 2.0)))
    power = np.concatenate((*[piece] * 9, np.full(200, 1.0)))
    stretches = [(300 * number + 200, 300 * number + 300) for number in range(9)]
    power[stretches[4][1] : stretches[4][1] + 120] += higher
    return _Free(power, 0.1, stretches, np.zeros(len(power), bool), 4.0).idles(stretches, np.ones(9), False)[0]


@pytest.mark.parametrize("higher, idle", [(0.04, 1.02), (0.049, 1.0245), (0.051, 1.0), (0.15, 1.0), (-0.04, 0.98), (-0.06, 0.94)])
def test_where_idle_differs_by_more_than_a_twentieth_of_the_level_the_lower_counts(higher, idle):
    """As in power_log.xlsx, in tests/test_power_log_book.py."""
    values = idle_beside(higher)
    assert values[4] == pytest.approx(idle) and np.delete(values, 4) == pytest.approx(1.0)


def shaped(shape, parts=5):
    """Parts of 10 s whose net load has the course of `shape`, a hundred values."""
    net = np.concatenate((*([np.zeros(120), shape] * parts), np.zeros(120)))
    return gf.read_log(power=1 + net + 0.005 * np.random.default_rng(2).standard_normal(len(net)), interval=0.1)


@pytest.mark.parametrize("dip, is_refused", [(0.14, False), (0.19, False), (0.28, True)])
def test_a_load_that_changes_by_more_than_a_quarter_within_the_part_is_not_level(dip, is_refused):
    """A dip in the two middle quarters: over the mean it is a little more."""
    log = shaped(np.repeat([1, 1 - dip, 1 - dip, 1], 25))
    assert ("must stay level while a part is ground (got" in log.refusal) == is_refused
    assert len(log.parts) == (0 if is_refused else 5)


def rising(share, count=4, rows=200):
    """Power of parts of so many rows on an idle of 1, which rise evenly for a share of them and are level then; and their places."""
    piece = np.concatenate((np.zeros(50), np.minimum((np.arange(rows) + 0.5) / rows / share, 1)))
    return 1 + np.tile(piece, count), [((rows + 50) * number + 50, (rows + 50) * (number + 1)) for number in range(count)]


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_how_long_a_part_is_level_is_the_longest_time_within_a_fifth_of_its_height(share):
    """The level itself and the last fifth of the rise; known of three parts of ten rows or more, of which the log holds all."""
    power, parts = rising(share)
    assert level_share(power, parts, [1.0] * 4) == pytest.approx(1 - share + 0.2 * share)
    assert level_share(10 * power, parts[:3], [10.0] * 3) == pytest.approx(1 - share + 0.2 * share)
    assert level_share(power, parts[:2], [1.0] * 2) == 1
    assert level_share(power[:-1], parts, [1.0] * 4) < 1 == level_share(power[:-1], parts[1:], [1.0] * 3)
    assert level_share(*rising(share, rows=10), [1.0] * 4) < 1 == level_share(*rising(share, rows=9), [1.0] * 4)


def numbers(text):
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]


@pytest.mark.parametrize(
    "quarters, said, where",
    [
        ((1, 0.7, 0.7, 1), (82, 118), "within it"),
        ((0.75, 1.2, 1.25, 0.8), (75, 125), "within it"),
        ((1.2, 1.05, 0.95, 0.8), (120, 80), "from the first to the last quarter"),
        ((0.8, 0.9, 1.1, 1.2), (80, 120), "from the first to the last quarter"),
    ],
)
def test_how_a_load_changes_within_the_part_is_told_in_percent_of_its_level(quarters, said, where):
    power = 1 + np.tile(np.concatenate((np.zeros(50), np.repeat(quarters, 25))), 4)
    parts = [(150 * number + 50, 150 * number + 150) for number in range(4)]
    steady = [Steady(*part, float(np.mean(quarters)), 0.01, 0.0, False, 0.01, np.ones(4)) for part in parts]
    trace = SimpleNamespace(power=power, interval=0.1)
    refused = refusal_of(trace, parts, ["part"] * 4, np.full(4, 10.0), 1.0, steady, None, False, None).text
    got = re.search(r"\(got (\S+ to \S+) % of the level (.*), in all parts alike\): this is no plunge grinding$", refused)
    assert tuple(numbers(got[1])) == said and got[2] == where


def test_what_a_log_without_parts_has_is_told_in_numbers():
    power = power_of([3, 10, 20, 10], [2.0] * 4)
    refused = gf.read_log(power=power, interval=0.1, infeed_time=60).refusal
    got = re.search(
        r"last about (.*) s, the infeed time \(got (\d) stretches of (.*) s at about (.*), and (.*) between them", refused
    )
    assert numbers(got[1]) == [60] and got[2] == "4" and numbers(got[3]) == pytest.approx([3, 20], abs=1)
    assert numbers(got[4]) == pytest.approx([3], abs=0.05) and numbers(got[5]) == pytest.approx([1], abs=0.02)
    spread = read([6.5, 6.5, 10, 10, 10, 10, 13.5, 13.5]).refusal
    low, high = numbers(re.search(r"in stretches of one length \(got (.*) s; 8 stretches", spread)[1])
    assert (low, high) == pytest.approx((6.5, 13.5), abs=0.7)
    assert "(got 3 throughout)" in gf.read_log(power=np.full(50, 3.0), interval=0.1).refusal
    two = no_levels(SimpleNamespace(power=np.linspace(0, 100, 101))).text
    assert "(got 2 to 98, without two levels); where the meter shows 0 at idle say idle=0" in two


@pytest.mark.parametrize(
    "height, spread, is_flat",
    [(1e6, 1e-4, True), (1e6, 1e-2, False), (1.0, 1e-10, True), (1.0, 1e-8, False), (1e-3, 1e-10, True)],
)
def test_a_log_that_does_not_change_is_told_by_its_one_value(height, spread, is_flat):
    """Within a thousand millionth of it, or of 1 where it is less."""
    said = no_levels(SimpleNamespace(power=height + spread * np.linspace(0, 1, 100))).text
    assert (f"(got {height:.4g} throughout)" in said) == is_flat == ("without two levels" not in said)


@pytest.mark.parametrize("rising, is_refused", [(0.8, False), (0.9, True)])
def test_a_load_that_is_level_for_less_than_a_third_of_the_stretch_is_a_saw(rising, is_refused):
    """Rising evenly for a share of the stroke, then level: a fifth of the rise counts as level, too."""
    log = shaped(np.minimum(np.linspace(0, 1 / rising, 100), 1))
    assert ("power must stay level while a part is ground (got level for" in log.refusal) == is_refused
    assert not is_refused or 0.25 < float(log.refusal.split("level for ")[1].split(" %")[0]) / 100 < 0.33


def test_how_long_a_slow_wave_rises_is_told_in_percent_of_its_stretch():
    """A sine of 30 s rises for 15 s, and stands above a fifth of its height for 21 s: the fitted one turns sooner."""
    time, power = pattern("slow sine")
    log = gf.read_log(power=power + 0.01 * np.random.default_rng(1).standard_normal(len(power)), time=time)
    told = float(log.refusal.split("a slow wave, rising for ")[1].split(" % of a stretch")[0])
    assert 35 < told < 100 * 15 / 21


def test_a_rise_below_the_level_of_a_stretch_is_told_with_its_share():
    log = read([10, 10, 10, 10, 10], [1, 1, 0.3, 1, 1])
    assert words(log) == ["part", "part", "touch", "part", "part"]
    assert log.stretches[2].why in ("rises to 29 % of the usual level only", "rises to 30 % of the usual level only")


@pytest.mark.parametrize("noise, is_counted", [(0.01, True), (0.11, False)])
def test_the_steps_of_a_quiet_meter_count_in_the_error_of_a_part(noise, is_counted):
    """A value rounded to a step is off by step/sqrt(12), at the level and at idle; two standard errors are stated."""
    random = np.random.default_rng(3)
    power = power_of([10] * 5)
    power = np.round(power + noise * random.standard_normal(len(power)), 1)
    errors = [part.error for part in gf.read_log(power=power, interval=0.1).parts]
    rounding = 2 * (2 * 0.1**2 / 12) ** 0.5
    assert len(errors) == 5
    assert min(errors) == pytest.approx(rounding, rel=0.1) if is_counted else np.median(errors) < rounding


@pytest.mark.parametrize("noise, is_counted", [(0.05, True), (0.2, False)])
def test_noise_from_row_to_row_dithers_the_steps_of_a_quick_meter(noise, is_counted):
    """A hundred rows a second, of which ten make a tenth of a second: their means scatter by less than a step in both cases."""
    power = np.repeat(power_of([10] * 5), 10)
    power = np.round(power + noise * np.random.default_rng(3).standard_normal(len(power)), 1)
    errors = [part.error for part in gf.read_log(power=power, interval=0.01).parts]
    rounding = 2 * (2 * 0.1**2 / 12) ** 0.5
    assert len(errors) == 5 and (min(errors) >= rounding if is_counted else max(errors) < rounding)


@pytest.mark.parametrize("share, is_clipped", [(0.15, False), (0.3, True)])
def test_more_than_a_fifth_at_the_highest_value_is_clipped(share, is_clipped):
    power = power_of([10] * 4)
    power[round(10 * 12) + 30 :][: round(share * 104)] = 2.5
    log = gf.read_log(power=power, interval=0.1)
    assert words(log) == ["clipped" if is_clipped else "part"] + ["part"] * 3
    if is_clipped:
        assert log.stretches[0].why.startswith(("29 % of it", "30 % of it"))
        assert "1 of 4 stretches is clipped: the meter ends there; they are counted as parts, and not read." in log.remarks


def test_the_report_lists_every_stretch_that_is_no_reading_with_the_number_of_its_part():
    """Contact every 22 s from 12 s on; a cycle without a part has no number, and what follows it counts on."""
    power = power_of([10] * 6, [1, 1, 0.45, 1, 1, 1])
    for place in (1, 4):
        power[round(10 * (12 + 22 * place)) + 30 :][:40] = 2.5
    log = gf.read_log(power=power, interval=0.1)
    assert words(log) == ["part", "clipped", "low", "part", "clipped", "part"]
    lines = log.report().partition("[[Stretches]] 6 above idle\n")[2].splitlines()[:4]
    told = [re.fullmatch(r" {9}(\d):(\d\d\.\d)  ([^:]*): .+", line).groups() for line in lines[:3]]
    assert [said for *_, said in told] == ["part 2, clipped", "low", "part 4, clipped"]
    assert [60 * int(minutes) + float(rest) for minutes, rest, _ in told] == pytest.approx([34, 56, 100], abs=0.3)
    assert lines[3].startswith("[[Parts]] 5, of which 3 can be read; lag 0.")


class TestTime:
    """What becomes of rows before a part is looked for."""

    POWER = np.linspace(1, 2, 400)

    @pytest.mark.parametrize("missing, filled, holes", [(29, 29, 0), (30, 30, 0), (31, 0, 1)])
    def test_up_to_three_seconds_are_filled_in_and_a_longer_hole_parts_the_log(self, missing, filled, holes):
        power = self.POWER.copy()
        power[100 : 100 + missing] = np.nan
        trace = trace_of(None, power, None, None, 0.1)
        assert (trace.filled, len(trace.holes)) == (filled, holes)
        assert np.allclose(trace.power, self.POWER)  # between the neighbours, for looks where it is a hole
        said = trace_remarks(trace)
        if holes:
            assert trace.holes == ((pytest.approx(10), pytest.approx(10 + missing / 10)),)
            assert said == ["Values are missing for longer than 3 s, which parts the log, once; first from 10.0 to 13.1 s."]
        else:
            assert said == [f"{missing} values were missing or dropped out to zero for at most 3 s, and were filled in."]

    @pytest.mark.parametrize("value, holes", [(np.nan, 1), (0.0, 0)])
    def test_of_a_log_of_few_rows_one_is_filled_in_however_long_it_lasts(self, value, holes):
        power = self.POWER.copy()
        power[100] = value
        assert trace_of(None, power, None, None, 5.0).filled == 1
        power[101] = value
        read = trace_of(None, power, None, None, 5.0)
        assert (read.filled, len(read.holes)) == (0, holes)

    @pytest.mark.parametrize("value", [np.nan, 0.0])
    def test_in_a_log_of_changes_the_value_before_a_missing_one_holds_on(self, value):
        random = np.random.default_rng(1)
        time, power, known = np.cumsum(random.uniform(0.5, 4, 400)), random.uniform(1, 2, 400), np.ones(400, bool)
        known[50:300:7] = False
        read = trace_of(time, np.where(known, power, value), None, None, None)
        assert read.filled == 36 and read.changes_only and not read.holes
        assert read.power.tolist() == trace_of(time[known], power[known], None, None, None).power.tolist()

    @pytest.mark.parametrize("known, is_hole", [(6, False), (5, False), (4, True)])
    def test_a_tenth_of_a_second_is_known_where_half_of_its_rows_are(self, known, is_hole):
        power = np.repeat(self.POWER, 10)
        power[1000 + known : 1500] = np.nan  # 100 rows a second, whose hole begins within a tenth
        ((first, last),) = trace_of(None, power, None, None, 0.01).holes
        assert (first, last) == (pytest.approx(10.0 if is_hole else 10.1), pytest.approx(15.0))

    @pytest.mark.parametrize("height, is_mended", [(0.05, False), (0.2, True)])
    def test_a_zero_between_values_that_are_clearly_none_is_a_drop_out(self, height, is_mended):
        power = np.concatenate((np.full(200, height), np.full(200, 2.0)))
        power[100:103] = 0
        trace = trace_of(None, power, None, None, 0.1)
        assert trace.filled == (3 if is_mended else 0)
        assert trace.power[101] == (pytest.approx(height) if is_mended else 0)

    @pytest.mark.parametrize(
        "begin, rows, is_mended", [(100, 30, True), (100, 31, False), (200, 3, False), (197, 3, False), (0, 3, False)]
    )
    def test_a_drop_out_lasts_three_seconds_and_has_clear_values_on_both_sides(self, begin, rows, is_mended):
        power = np.repeat([2.0, 0.05, 2.0], [200, 100, 100])
        power[begin : begin + rows] = 0
        assert trace_of(None, power, None, None, 0.1).filled == (rows if is_mended else 0)

    @pytest.mark.parametrize("largest, is_taken", [(2e-9, True), (5e-10, False), (9e11, True), (2e12, False)])
    def test_a_reading_has_a_size(self, largest, is_taken):
        power = self.POWER / 2 * largest
        if is_taken:
            assert trace_of(None, power, None, None, 0.1).power.max() == pytest.approx(largest)
        else:
            with pytest.raises(ValueError, match=r"power must be a reading of 1e-09 to 1e\+12"):
                trace_of(None, power, None, None, 0.1)

    @pytest.mark.parametrize("gap, is_taken", [(3000, True), (5000, False)])
    def test_a_hole_may_be_a_hundred_times_as_long_as_the_log(self, gap, is_taken):
        time = np.arange(400) * 0.1
        time[200:] += gap
        if is_taken:
            assert trace_of(time, self.POWER, None, None, None).holes[0][1] == pytest.approx(gap + 20, abs=0.2)
        else:
            with pytest.raises(ValueError, match="time must run on without holes that are longer than the log itself"):
                trace_of(time, self.POWER, None, None, None)

    @pytest.mark.parametrize("odd, is_of_changes", [(30, False), (50, True)])
    def test_where_a_tenth_of_the_steps_are_odd_it_is_a_log_of_changes(self, odd, is_of_changes):
        steps = np.full(400, 0.1)
        steps[5 : 5 + 2 * odd : 2] = 0.4
        trace = trace_of(np.cumsum(steps), self.POWER, None, None, None)
        assert trace.changes_only == is_of_changes
        assert any("Time runs in unequal steps" in said for said in trace_remarks(trace)) == is_of_changes

    def test_rows_under_one_stamp_are_spread_evenly_also_before_the_first_new_one(self):
        time = np.floor((np.arange(400) + 4) * 0.1)  # stamps of whole seconds; the log begins in the midst of one
        trace = trace_of(time, self.POWER, None, None, None)
        assert trace.row_interval == pytest.approx(0.1, rel=1e-6) and trace.start == pytest.approx(0.4)
        assert np.allclose(trace.power, self.POWER)

    def test_a_slow_channel_holds_its_last_known_value(self):
        rpm = np.full(400, np.nan)
        rpm[[0, 100, 300]] = 120, 132, 108
        assert trace_of(None, self.POWER, rpm, None, 0.1).rpm.tolist() == [120.0] * 100 + [132.0] * 200 + [108.0] * 100

    @pytest.mark.parametrize("interval, is_slow", [(0.1, False), (0.5, False), (0.6, True)])
    def test_a_slow_log_is_told_so_and_no_other(self, interval, is_slow):
        said = trace_remarks(trace_of(None, self.POWER, None, None, interval))
        assert said == (["A row every 0.6 s is slow: 5 to 20 rows a second show contact and lag better."] if is_slow else [])

    def test_several_holes_are_counted_and_the_first_is_told(self):
        power = self.POWER.copy()
        power[100:140] = power[200:250] = np.nan
        (said,) = trace_remarks(trace_of(None, power, None, None, 0.1))
        assert said == "Values are missing for longer than 3 s, which parts the log, 2 times; first from 10.0 to 14.0 s."

    def test_a_log_of_changes_is_not_called_slow(self):
        trace = trace_of(np.cumsum(np.random.default_rng(1).uniform(0.5, 4, 400)), self.POWER, None, None, None)
        (said,) = trace_remarks(replace(trace, row_interval=2.0))
        assert said.startswith("Time runs in unequal steps")


class TestPartRemarks:
    """What stands out in the readings, with its number, and nothing where nothing does."""

    TRACE = trace_of(None, np.linspace(1, 2, 400), None, None, 0.1)

    @pytest.mark.parametrize(
        "words, said",
        [
            (dict(clipped=1), "1 of 4 stretches is clipped: the meter ends there; they are counted as parts, and not read."),
            (dict(clipped=2), "2 of 5 stretches are clipped: the meter ends there; they are counted as parts, and not read."),
            (dict(hole=1), "1 of 4 stretches is hole: values are missing; they are counted as parts, and not read."),
            ({"no idle": 3}, "3 of 6 stretches are no idle: no idle beside them; they are counted as parts, and not read."),
            (dict(short=3, low=2, long=1, touch=1), None),
        ],
    )
    def test_stretches_that_are_parts_and_not_read_are_counted_with_the_reason(self, words, said):
        told = self.said(words=[word for word, count in words.items() for _ in range(count)])
        assert told == ([] if said is None else [said])

    def test_each_word_of_them_has_a_line(self):
        told = self.said(words=["hole", "no idle", "clipped"])
        assert [remark.partition(":")[0] for remark in told] == [
            f"1 of 6 stretches is {word}" for word in ("clipped", "hole", "no idle")
        ]

    def test_the_coolants_step_is_said_with_its_height(self):
        assert self.said(step=0.2514) == ["Idle steps up by 0.251 just before contact (coolant); it is counted as idle."]

    @pytest.mark.parametrize("errors", [(0.01, np.nan, 0.01), (0.01, 0.01, 0.0)])
    def test_an_idle_that_is_given_is_said_to_count_as_exact(self, errors):
        assert self.said(errors=errors) == ["Where no idle is seen beside a part, the given one is taken as exact."]

    def test_of_several_that_are_not_steady_the_worst_is_told_of(self):
        slopes = {1: 0.16, 2: -0.3, 3: 0.2, 4: 0.1}
        (told,) = self.said(count=4, slopes=slopes)
        assert told == (
            "Parts 1, 2, 3: power is not steady (part 2 changes by -30 % within the steady stretch): wheel loading, burn, taper, "
            "or noise."
        )

    def said(self, count=3, rpms=None, is_early=(), short=(), words=(), step=0.0, errors=None, slopes=None, **one):
        """The remarks on parts that read alike, but for what is said of the second."""
        from gritfuncs.trial.log.analyse import Parts

        plain = dict(level=3.0, idle=1.0, net=2.0, error=0.02, slope=0.0)
        alike = one.pop("alike", {})
        readings = [
            PartReading(
                number, 10.0 * number, 10.0 * number + 8, 10.0 * number + 2, 10.0 * number + 7,
                **{**plain, **alike, **(one if number == 2 else {}), **(dict(slope=slopes[number]) if slopes else {})}, work_rpm=rpms[number - 1] if rpms else None,
            )
            for number in range(1, count + 1)
        ]  # fmt: skip
        steady = [
            Steady(100, 150, reading.net, 0.01, reading.slope, reading.number in is_early, 0.01, np.ones(5))
            for reading in readings
        ]
        idle = Idles(
            np.ones(count), np.array(errors or [0.01] * count), step, np.array([reading.number in short for reading in readings])
        )
        trace = replace(self.TRACE, rpm=np.linspace(80, 120, 400)) if rpms else self.TRACE
        parts = Parts([reading.number for reading in readings], [], idle, 0.7, steady)
        told = part_remarks(trace, parts, readings, [("part", "")] * count + [(word, "") for word in words], "power")
        return [remark for remark in told if "over idle when grinding" not in remark or "idle" in alike]

    @pytest.mark.parametrize("idle, said", [(0.031, ["6.45e+03 %"]), (0.029, []), (-0.031, ["6.45e+03 %"]), (4.0, ["50 %"])])
    def test_how_far_grinding_lifts_an_idle_of_more_than_a_hundredth_is_said(self, idle, said):
        """Of a net load of 2 and a level of 3; a smaller idle is that of a meter zeroed there."""
        told = self.said(alike=dict(idle=idle))
        assert [re.search("rises by (.*) over idle", remark)[1] for remark in told] == said

    def test_of_plain_parts_nothing_is_said(self):
        assert self.said() == []

    def test_parts_that_are_read_early_or_beside_short_gaps_are_named(self):
        assert self.said(is_early=(2,)) == ["Part 2: too short for 0.7 s of lag, read from 1.5 lags after contact instead of 3."]
        (said,) = self.said(count=4, short=(1, 3))
        assert said == "Parts 1, 3: short gaps, idle is read sooner behind a stretch than three lags and 4 s."
        for count, end in ((8, "7, 8: "), (9, "7, 8, ...: ")):
            (said,) = self.said(count=count, short=range(1, count + 1))
            assert said.startswith(f"Parts 1, 2, 3, 4, 5, 6, {end}short gaps")

    @pytest.mark.parametrize("slope, said", [(0.14, None), (0.16, "+16 %"), (-0.2, "-20 %")])
    def test_a_part_that_does_not_hold_its_power_is_named_with_how_much(self, slope, said):
        told = self.said(slope=slope)
        assert len(told) == (said is not None)
        assert not told or told[0].startswith(f"Part 2: power is not steady (part 2 changes by {said} within the steady stretch)")

    @pytest.mark.parametrize("error, said", [(0.098, []), (0.12, ["6 %"])])
    def test_an_error_of_more_than_5_percent_of_net_is_said(self, error, said):
        told = self.said(alike=dict(error=error))
        assert told == [
            f"The error of a part is {one} of net: repeat parts at each step, or log a signal that rises more." for one in said
        ]

    @pytest.mark.parametrize("rpms, is_said", [((2400.0, 2400.0, 2420.0), True), ((120.0, 120.0, 126.0), False)])
    def test_an_rpm_that_hardly_changes_may_be_the_wheels(self, rpms, is_said):
        told = self.said(rpms=rpms)
        assert (
            any(remark.startswith(f"The work rpm is {rpms[0]:g} in all parts: is it the wheel's?") for remark in told) == is_said
        )
        assert len(told) == is_said

    def test_an_rpm_that_changes_within_a_part_is_named_with_its_span(self):
        (said,) = self.said(count=2, rpms=(120.0, None))
        assert said == "Work rpm changes within part 2 (90.12 to 94.84): left out."
