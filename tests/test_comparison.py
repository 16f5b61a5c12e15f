"""The limits of what a comparison of trials says, its line over time beside that of numpy, and what its chart and tables hold."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from datetime import date
from math import exp

import numpy as np
import pytest
from scipy import stats
from test_compare import RPMS, SETUP, readings, trial, write

from gritfuncs.comparison import compare_trials
from gritfuncs.comparison.estimate import Estimate, level_estimate
from gritfuncs.comparison.page import trials_table
from gritfuncs.comparison.picture import chart_of
from gritfuncs.comparison.result import Drift
from gritfuncs.comparison.trials import _drift, _word
from gritfuncs.comparison.words import difference_rows, drift_words, percent
from gritfuncs.knee import find_knee
from gritfuncs.pictures.chart import Band, Points, Upright
from gritfuncs.trial import read_trial

NORMAL = stats.norm.ppf(0.975)
DAYS = [date(2026, 1, 1), date(2026, 1, 11), date(2026, 2, 10), date(2026, 3, 2)]


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """Two trials of one wheel in one setup."""
    folder = tmp_path_factory.mktemp("pair")
    return trial(folder, "a.csv", 1), trial(folder, "b.csv", 2)


@pytest.fixture(scope="module")
def relative(tmp_path_factory):
    """Two trials without a setup, the second from the other end of its rpm."""
    folder = tmp_path_factory.mktemp("relative")
    rows = readings(1), readings(2, knee=1.45, rpms=RPMS[::-1])
    return [read_trial(write(folder, f"{name}.csv", each)) for name, each in zip("ab", rows)]


def spanned(value, error):
    """An estimate with this standard error of its logarithm."""
    return Estimate(value, value * exp(-NORMAL * error), value * exp(NORMAL * error))


class TestDrift:
    @pytest.mark.parametrize("knees, is_worse", [((1.3, 1.31, 1.36, 1.37), False), ((1.3, 1.5, 1.25, 1.6), True)])
    def test_it_is_the_weighted_line_of_numpy(self, knees, is_worse):
        """With the covariance of the stated errors, and where the trials scatter more, with that of the scatter."""
        errors = np.array([0.02, 0.03, 0.02, 0.04])
        drift = _drift([spanned(*each) for each in zip(knees, errors)], DAYS)
        at = [day.toordinal() - DAYS[0].toordinal() for day in DAYS]
        line, covariance = np.polyfit(at, np.log(knees), 1, w=1 / errors, cov=True if is_worse else "unscaled")
        times = stats.t.ppf(0.975, 2) if is_worse else NORMAL
        half = times * covariance[0, 0] ** 0.5
        change = [line[0], line[0] - half, line[0] + half]
        assert drift.per_month == pytest.approx([exp(30 * each) for each in change], rel=1e-4)
        assert drift.days == 60 and drift.is_seen == (change[1] > 0 or change[2] < 0)

    @pytest.mark.parametrize("error, is_seen", [(0.018, True), (0.022, False)])
    @pytest.mark.parametrize("turned", [False, True])
    def test_it_is_seen_where_two_knees_lie_apart_by_more_than_scatter_does(self, error, is_seen, turned):
        """0.0553 in the logarithm is 1.96 errors of a difference, of 0.02 each."""
        knees = [spanned(1.3, error), spanned(1.3 * exp(0.0553), error)]
        drift = _drift(knees[::-1] if turned else knees, DAYS[:2])
        assert drift.is_seen == is_seen
        said = drift_words(drift)
        assert said.startswith("the knee changes with time: " if is_seen else "no change with time beyond what scatter does: ")
        assert said.endswith(" in 30 days, over 10 days")

    def test_none_is_told_without_all_days_or_from_one_day_or_of_a_knee_without_an_interval(self):
        knees = [spanned(1.3, 0.02), spanned(1.4, 0.02), spanned(1.5, 0.02)]
        assert isinstance(_drift(knees, DAYS[:3]), Drift)
        assert _drift(knees, [*DAYS[:2], None]) is None
        assert _drift(knees, [DAYS[0]] * 3) is None
        assert _drift([*knees[:2], Estimate(1.5, 1.5, 1.5)], DAYS[:3]) is None

    @pytest.mark.parametrize("factor, is_told", [(1.55, True), (1.6, False), (1 / 1.55, True), (1 / 1.6, False)])
    def test_of_days_too_near_to_one_another_nothing_is_told_of_a_month(self, factor, is_told):
        """More than a million times in a month: 1.585 from day to day."""
        knees = [spanned(1.3, 1e-4), spanned(1.3 * factor, 1e-4)]
        assert (_drift(knees, [date(2026, 1, 1), date(2026, 1, 2)]) is not None) == is_told


class TestWords:
    @pytest.mark.parametrize(
        "knee, level, word, said",
        [
            ((1.0, 0.96, 1.03), None, "can be the same", "up to 4 % would not show"),
            ((1.0, 0.98, 1.05), None, "can be the same", "up to 5 % would not show"),
            ((1.0, 0.98, 1.05), (1.0, 0.97, 1.02), "can be the same", "no difference beyond scatter"),
            ((1.07, 1.05, 1.1), None, "differ a little", "by no more than two trials of one wheel may (5.5 %"),
            ((1.08, 1.06, 1.1), None, "differ", "the knees differ by more than two trials of one wheel do"),
            ((0.93, 0.9, 0.95), None, "differ a little", "beyond scatter"),
            ((0.92, 0.9, 0.94), None, "differ", "the knees differ by more"),
            ((1.0, 0.98, 1.05), (1.1, 1.01, 1.2), "differ", "the levels differ beyond scatter"),
            ((1.07, 1.05, 1.1), (0.9, 0.8, 0.99), "differ", "the levels differ beyond scatter, and so do the knees"),
        ],
    )
    def test_the_answer_goes_by_where_the_intervals_end(self, knee, level, word, said):
        """Two trials of one wheel: 1.96 √2 times 2 %, 5.5 % of the knee."""
        told, reason = _word(Estimate(*knee), level and Estimate(*level))
        assert told == word and said in reason and ("so do the knees" in reason) == ("so do" in said)

    @pytest.mark.parametrize(
        "factor, said",
        [(1.0, "+0 %"), (1.024, "+2.4 %"), (0.95, "-5 %"), (1.0 + 1e-9, "+0 %"), (2.0, "+1e+02 %"), (1.87, "+87 %")],
    )
    def test_a_factor_is_said_in_percent(self, factor, said):
        assert percent(factor) == said

    def test_a_difference_has_its_rows(self, pair):
        (each,) = compare_trials(*pair).differences
        each = replace(each, knee_difference=Estimate(0.0123, -0.01, 0.0345), knee_ratio=Estimate(1.01, 0.99, 1.03))
        rows = difference_rows(each)
        assert [name for name, _ in rows] == ["answer", "knee", "", "level"]
        assert rows[0][1] == f"{each.word}: {each.reason}"
        assert rows[1][1] == "+1 % (-1 % to +3 %)" and rows[2][1] == "+0.0123 (-0.01 to +0.0345) µm"
        bare = difference_rows(replace(each, knee_difference=None, level_ratio=None, no_levels="so"))
        assert [said for _, said in bare[2:]] == ["not compared: so"]


class TestRemarks:
    def remarks(self, pair, **changes):
        other = replace(pair[1], setup=replace(pair[1].setup, **changes))
        return compare_trials(pair[0], other, same_wheel=True).remarks

    @pytest.mark.parametrize("speed, said", [(22.02, []), (22.03, ["Wheel speed differs: 22 and 22.03 in b.csv."])])
    def test_what_differs_by_more_than_a_thousandth_is_said(self, pair, speed, said):
        assert SETUP["wheel_speed"] == 22 and list(self.remarks(pair, wheel_speed=speed)) == said

    @pytest.mark.parametrize("share, said", [(1.0009, []), (1.0012, ["are multiplied by 1.001, to be those of a.csv."])])
    def test_depths_that_are_converted_by_more_than_half_a_thousandth_are_said(self, pair, share, said):
        told = self.remarks(pair, grit_density=SETUP["grit_density"] * share)
        assert [remark.partition("b.csv ")[2] for remark in told] == said

    @pytest.mark.parametrize("share, is_taken", [(1.0009, True), (1.0011, False), (0.9991, True), (0.9989, False)])
    def test_products_within_a_thousandth_are_of_one_wheel_and_others_are_refused(self, pair, share, is_taken):
        other = replace(pair[1], setup=replace(pair[1].setup, grit_density=SETUP["grit_density"] * share))
        if is_taken:
            assert compare_trials(pair[0], other).factors == pytest.approx((1, share**0.5))
        else:
            with pytest.raises(ValueError, match="C r must be the same"):
                compare_trials(pair[0], other)

    def test_a_width_that_one_trial_lacks_is_said(self, pair):
        assert self.remarks(pair, contact_width=None) == ("Grinding width differs: 15 and not known in b.csv.",)

    @pytest.mark.parametrize("one, other", [("flat", "external"), ("external", "flat"), ("flat", "internal")])
    def test_another_side_is_said_by_its_word(self, pair, one, other):
        trials = [
            replace(each, setup=replace(each.setup, side=side, work_diameter=30, wheel_diameter=20))
            for each, side in zip(pair, (one, other))
        ]
        (said,) = compare_trials(*trials, same_wheel=True).remarks
        assert said.endswith(f"differs: {one} and {other} in b.csv.")

    def test_of_two_trials_no_chance_among_many_is_spoken_of(self, pair):
        assert compare_trials(*pair).remarks == ()
        assert compare_trials(*pair, pair[0]).remarks == ("Each interval holds by itself; of many comparisons some miss.",)


def test_an_interval_holds_its_ends():
    assert [Estimate(1.0, 0.9, 1.2).holds(value) for value in (0.89, 0.9, 1.0, 1.2, 1.21)] == [False, True, True, True, False]


def test_an_answer_cannot_be_changed(pair):
    compared = compare_trials(*pair, dates=DAYS[:2])
    for each, name in ((compared, "names"), (compared.differences[0], "word"), (compared.drift, "days")):
        with pytest.raises(FrozenInstanceError):
            setattr(each, name, None)


class TestInput:
    @pytest.mark.parametrize("names", [["", "b"], [" ", "b"], [None, "b"], 5])
    def test_a_name_is_a_text(self, pair, names):
        with pytest.raises(ValueError, match="names must be 2 texts"):
            compare_trials(*pair, names=names)

    def test_a_long_name_is_cut_and_one_given_twice_gets_a_number(self, pair):
        assert compare_trials(*pair, names=["a\nb", "x" * 99]).names[0] == "a b"
        assert len(compare_trials(*pair, names=["a", "x" * 99]).names[1]) <= 60
        assert compare_trials(*pair, pair[0], names=["a", "b", "a"]).names == ("a (1)", "b", "a (3)")

    def test_days_of_every_kind_are_taken(self, pair):
        assert compare_trials(*pair, dates=[date(2026, 3, 4), " 2026-03-05 "]).dates == (date(2026, 3, 4), date(2026, 3, 5))

    def test_relative_depths_go_by_the_rpm_of_depth_1(self, relative):
        """h goes with the fourth root of the work rpm in one setup."""
        compared = compare_trials(*relative, same_wheel=True)
        assert compared.factors == pytest.approx((1.0, (RPMS[-1] / RPMS[0]) ** 0.25)) and compared.depth_unit != "µm"


def test_a_level_holds_that_of_the_readings_beyond_the_knees_interval():
    """A rounded curve: what lies next to the knee lifts its level."""
    depths = np.linspace(0.6, 1.6, 21).tolist()
    energies = [40 + 60 * exp(-((depth - 0.5) * 4)) + 0.2 * (-1) ** place for place, depth in enumerate(depths)]
    knee = find_knee(depths, energies)
    assert knee.verdict == "found"
    level = level_estimate(knee, depths, energies)
    ends = []
    for start, middle in ((knee.knee, knee.level), (knee.high, None)):
        beyond = [energy for depth, energy in zip(depths, energies) if depth >= start]
        half = stats.t.ppf(0.975, knee.noise_freedom) * knee.noise * knee.level / len(beyond) ** 0.5
        middle = np.mean(beyond) if middle is None else middle
        ends.append((middle - half, middle + half))
    assert level == pytest.approx((knee.level, min(low for low, _ in ends), max(high for _, high in ends)), rel=1e-6)
    assert ends[0][0] > ends[1][0]  # the second one reaches lower
    assert level_estimate(replace(knee, noise=3.0), depths, energies) is None  # down to 0
    assert level_estimate(replace(knee, noise=None), depths, energies) is None


class TestShown:
    def test_specific_energies_are_drawn_as_they_are_and_other_loads_over_their_level(self, pair, relative):
        for trials, is_absolute in ((pair, True), (relative, False)):
            compared = compare_trials(*trials, same_wheel=True)
            chart = chart_of(compared)
            points = [layer for layer in chart.layers if isinstance(layer, Points)]
            for each, factor, drawn in zip(trials, compared.factors, points):
                scale = 1 if is_absolute else each.knee.level
                assert list(drawn.x) == pytest.approx([depth * factor for depth in each.depths])
                assert list(drawn.y) == pytest.approx([energy / scale for energy in each.energies])
            assert chart.y_label == ("specific energy, J/mm³" if is_absolute else "energy over its level")
            assert chart.x_label == ("grit depth, µm" if is_absolute else "grit depth, relative to a.csv")
            knees = [layer for layer in chart.layers if isinstance(layer, Upright)]
            assert [each.x for each in knees] == [knee.value for knee in compared.knees]
            bands = [layer for layer in chart.layers if isinstance(layer, Band)]
            assert [(band.low, band.high, band.lean) for band in bands] == [
                (knee.low, knee.high, lean) for knee, lean in zip(compared.knees, (1, -1))
            ]

    def test_hatchings_lean_to_either_side_in_turn(self, pair):
        bands = [layer for layer in chart_of(compare_trials(*pair, *pair)).layers if isinstance(layer, Band)]
        assert [band.lean for band in bands] == [1, -1, 1, -1]

    def test_the_lines_of_a_fit_run_through_its_knee_in_the_measure_of_the_first(self, relative):
        compared = compare_trials(*relative, same_wheel=True)
        lines = [layer for layer in chart_of(compared).layers if type(layer).__name__ == "Line"]
        least = [min(each.depths) * factor for each, factor in zip(relative, compared.factors)]
        most = [max(each.depths) * factor for each, factor in zip(relative, compared.factors)]
        assert min(min(line.x) for line in lines) == pytest.approx(min(least))
        assert max(max(line.x) for line in lines) == pytest.approx(max(most))
        assert min(min(line.y) for line in lines) == pytest.approx(1.0, abs=0.02)  # the level

    def test_the_table_has_a_dash_for_what_is_not_known(self, pair, relative):
        assert "<td>-</td>" not in str(trials_table(compare_trials(*pair, dates=DAYS[:2])))
        assert str(trials_table(compare_trials(*pair))).count("<td>-</td>") == 2

    def test_the_report_names_levels_of_specific_energies_only(self, pair, relative):
        lines = compare_trials(*pair, names=["a", "longer"], dates=DAYS[:2]).report().splitlines()
        assert (
            lines[0] == "[[Trials]]" and lines[1].startswith("    a      = knee ") and lines[2].startswith("    longer = knee ")
        )
        assert all("µm, level " in line and line.endswith(day) for line, day in zip(lines[1:3], (", 2026-01-01", ", 2026-01-11")))
        assert "level" not in compare_trials(*relative, same_wheel=True).report().splitlines()[1]

    def test_it_is_printed_with_its_answers(self, pair):
        assert repr(compare_trials(*pair)) == "<Comparison with a.csv: b.csv can be the same>"
