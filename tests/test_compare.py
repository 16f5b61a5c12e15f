"""Trials compared: intervals of differences, what is refused, the answers, drift over dates, and the command."""

from __future__ import annotations

import json
import random
from datetime import date, datetime
from itertools import product
from math import hypot, log
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs import cli, example
from gritfuncs.comparison import compare_trials
from gritfuncs.comparison.estimate import Estimate, difference, knee_estimate, level_estimate, ratio
from gritfuncs.comparison.picture import chart_of
from gritfuncs.knee import find_knee
from gritfuncs.pictures.chart import Band, Line, Points, Upright
from gritfuncs.pictures.svg import chart_svg
from gritfuncs.reports.comparison import MEANS, comparison_page
from gritfuncs.trial import Setup, read_trial

SETUP = dict(example.setup(), contact_width=15.0)
RPMS = [48, 60, 72, 84, 96, 108, 120, 132, 144, 156, 168, 180, 192, 120, 120]
POSITIVE = st.floats(0.01, 100)


def readings(seed, knee=1.36, level=118.0, scatter=0.01, setup=None, rpms=RPMS):
    """Simulated readings of a hinge."""
    drawn, setup = random.Random(seed), setup or Setup(**SETUP)
    rows = []
    for rpm in rpms:
        energy = level * (1 + 3.5 * max(0.0, 1 - setup.depth(rpm) / knee)) * (1 + drawn.gauss(0, scatter))
        rows.append((rpm, energy * setup.removal_rate * setup.contact_width / 1000))
    return rows


def write(folder, name, rows, head=""):
    path = Path(folder) / name
    path.write_text(head + "rpm;power [kW]\n" + "".join(f"{rpm};{power:.5f}\n" for rpm, power in rows), encoding="utf-8")
    return path


def trial(folder, name, seed=1, setup=SETUP, head="", **truth):
    """A simulated trial under a setup, or without one."""
    path = write(folder, name, readings(seed, **truth), head)
    return read_trial(path, setup=Setup(**setup) if setup else None)


class TestIntervals:
    """The published rule, and what must hold of it."""

    def test_square_and_add_by_hand(self):
        # Worked here from the formula of Zou and Donner (2008): L = d - √((e1 - l1)² + (u2 - e2)²), U = d + √((u1 - e1)² + (e2 - l2)²)
        apart = difference(Estimate(5.0, 4.0, 8.0), Estimate(3.0, 1.0, 5.5))
        assert apart == pytest.approx((2.0, 2 - hypot(1.0, 2.5), 2 + hypot(3.0, 2.0)))

    @given(POSITIVE, POSITIVE, st.floats(0.001, 1), st.floats(0.001, 1))
    def test_of_symmetric_intervals_it_is_the_usual_one(self, one, other, half, other_half):
        apart = difference(Estimate(one, one - half, one + half), Estimate(other, other - other_half, other + other_half))
        assert apart.high - apart.value == pytest.approx(hypot(half, other_half)) == apart.value - apart.low

    @given(POSITIVE, POSITIVE, st.floats(1, 2), st.floats(1, 2), POSITIVE)
    def test_a_ratio_turns_round_and_knows_no_unit(self, one, other, wide, wider, unit):
        a, b = Estimate(one, one / wide, one * wider), Estimate(other, other / wider, other * wide)
        there, back = ratio(a, b), ratio(b, a)
        assert (1 / there.value, 1 / there.high, 1 / there.low) == pytest.approx(back)
        assert ratio(a.times(unit), b.times(unit)) == pytest.approx(there)

    def test_a_level_rests_on_the_readings_beyond_the_knee(self):
        depths = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5]
        energies = [80, 70, 60, 50, 40.4, 39.6, 40.2, 39.8, 40.3, 39.7]
        knee = find_knee(depths, energies)
        level = level_estimate(knee, depths, energies)
        beyond = sum(depth >= knee.knee for depth in depths)
        # t of 97.5 % with 7 degrees of freedom, 2.364624 (printed tables)
        assert level.high - level.value == pytest.approx(2.364624 * knee.noise * knee.level / beyond**0.5, rel=1e-5)
        assert (
            level_estimate(find_knee([1, 2], [1, 1]), [1, 2], [1, 1]) is None and knee_estimate(find_knee([1, 2], [1, 1])) is None
        )

    def test_it_holds_the_true_difference_in_simulated_comparisons(self):
        """Fresh seeds each time; 240 comparisons of a coverage of 97 % fall below 92 % once in 10 000."""
        seeds = random.Random()
        held = {"knee": 0, "level": 0}
        count = 0
        for scatter, (one, other) in product((0.01, 0.02, 0.03), ((1.0, 1.0), (0.98, 1.03))):
            found = 0
            while found < 40:
                pair = []
                for knee, level in ((one, 1.0), (other, 1.1)):
                    depths = [(0.5 + place / 12) ** 0.25 for place in range(13)] + [1.0, 1.0]
                    energies = [
                        level * (1 + 3 * max(0.0, 1 - depth / knee)) * (1 + scatter * seeds.gauss(0, 1)) for depth in depths
                    ]
                    answer = find_knee(depths, energies)
                    pair.append((knee_estimate(answer), level_estimate(answer, depths, energies)))
                if None in (pair[0][0], pair[1][0]):
                    continue
                found += 1
                held["knee"] += ratio(pair[1][0], pair[0][0]).holds(other / one)
                held["level"] += ratio(pair[1][1], pair[0][1]).holds(1.1)
            count += found
        assert held["knee"] >= 0.93 * count and held["level"] >= 0.90 * count, (held, count)


class TestAnswers:
    def test_the_same_wheel_twice(self, tmp_path):
        compared = compare_trials(trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2))
        (each,) = compared.differences
        assert each.word == "can be the same" and each.knee_ratio.holds(1.0) and each.level_ratio.holds(1.0)
        assert "would not show" in each.reason and compared.names == ("a.csv", "b.csv")
        assert each.knee_difference.value == pytest.approx(compared.knees[1].value - compared.knees[0].value)

    def test_another_wheel(self, tmp_path):
        compared = compare_trials(trial(tmp_path, "a.csv", 1, knee=1.30), trial(tmp_path, "b.csv", 2, knee=1.46))
        (each,) = compared.differences
        assert each.word == "differ" and each.knee_ratio.holds(1.46 / 1.30) and each.knee_difference.holds(0.16)
        assert "differ by more than" in each.reason

    def test_knees_that_differ_as_those_of_one_wheel_may(self, tmp_path):
        compared = compare_trials(
            trial(tmp_path, "a.csv", 1, knee=1.34, scatter=0.004), trial(tmp_path, "b.csv", 2, knee=1.40, scatter=0.004)
        )
        assert compared.differences[0].word == "differ a little"

    def test_the_same_knee_at_another_level(self, tmp_path):
        (each,) = compare_trials(trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2, level=140.0)).differences
        assert each.word == "differ" and each.knee_ratio.holds(1.0) and each.level_ratio.holds(140 / 118)

    def test_each_of_several_against_the_first(self, tmp_path):
        trials = [trial(tmp_path, f"{number}.csv", number, knee=1.36 + 0.05 * (number == 3)) for number in range(1, 4)]
        compared = compare_trials(*trials)
        assert [each.name for each in compared.differences] == ["2.csv", "3.csv"]
        assert any("by itself" in remark for remark in compared.remarks)

    def test_trials_of_one_name_are_told_apart(self, tmp_path):
        one = trial(tmp_path, "a.csv")
        assert compare_trials(one, one).names == ("a.csv (1)", "a.csv (2)")

    def test_levels_that_are_no_specific_energies_are_not_compared(self, tmp_path):
        bare = {name: value for name, value in SETUP.items() if name != "contact_width"}
        (each,) = compare_trials(trial(tmp_path, "a.csv", 1, bare), trial(tmp_path, "b.csv", 2, bare)).differences
        assert each.level_ratio is None and "kW" in each.no_levels and each.word == "can be the same"

    def test_what_else_differs_is_said(self, tmp_path):
        compared = compare_trials(trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2, dict(SETUP, wheel_speed=22.5)))
        assert [remark for remark in compared.remarks if "heel speed differs: 22 and 22.5 in b.csv" in remark]


class TestWhatDepthsCompare:
    def test_another_product_is_refused_and_converted_where_the_wheel_is_the_same(self, tmp_path):
        other = dict(SETUP, grit_density=2 * SETUP["grit_density"])
        one, two = trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2, other)
        with pytest.raises(ValueError, match=r"C r must be the same .*in a.csv, .*in b.csv.*same_wheel") as caught:
            compare_trials(one, two)
        assert "\n" not in str(caught.value)
        compared = compare_trials(one, two, same_wheel=True)
        assert compared.factors[1] == pytest.approx(2**0.5) and compared.differences[0].knee_ratio.holds(1.0)
        assert compared.knees[1].value == pytest.approx(1.36, rel=0.03)  # under the first one's C r
        assert any("multiplied by 1.414" in remark for remark in compared.remarks)

    def test_the_same_product_by_other_factors_compares(self, tmp_path):
        other = dict(SETUP, grit_density=SETUP["grit_density"] / 2, shape_ratio=SETUP["shape_ratio"] * 2)
        assert compare_trials(trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2, other)).factors == pytest.approx((1, 1))

    def test_relative_depths_compare_by_the_rpm_of_one_wheel_in_one_setup(self, tmp_path):
        one = read_trial(write(tmp_path, "a.csv", readings(1)))
        two = read_trial(write(tmp_path, "b.csv", readings(2, knee=1.45, rpms=RPMS[::-1])))  # relative to another first rpm
        with pytest.raises(ValueError, match="same_wheel=True"):
            compare_trials(one, two)
        compared = compare_trials(one, two, same_wheel=True)
        (each,) = compared.differences
        assert each.knee_ratio.holds(1.45 / 1.36) and each.knee_difference is None and each.level_ratio is None
        assert each.knee_ratio.value == pytest.approx((two.knee_rpm / one.knee_rpm) ** 0.25)

    def test_depths_of_a_file_are_of_an_unknown_prefactor(self, tmp_path):
        paths = []
        for number in (1, 2):
            rows = [(Setup(**SETUP).depth(rpm), 50 * power) for rpm, power in readings(number)]
            paths.append(tmp_path / f"{number}.csv")
            text = "grit depth [µm];specific energy [J/mm³]\n" + "".join(f"{depth:.5f};{energy:.5f}\n" for depth, energy in rows)
            paths[-1].write_text(text, encoding="utf-8")
        given = [read_trial(path) for path in paths]
        with pytest.raises(ValueError, match="prefactor"):
            compare_trials(*given)
        assert compare_trials(*given, same_wheel=True).differences[0].knee_difference.holds(0.0)
        with pytest.raises(ValueError, match="be of one kind") as caught:  # whatever is told of the wheel
            compare_trials(given[0], trial(tmp_path, "a.csv"), same_wheel=True)
        assert "as the file gives them in 1.csv, from a setup in a.csv" in str(caught.value)

    def test_a_trial_without_a_knee_is_named(self, tmp_path):
        few = read_trial(write(tmp_path, "few.csv", readings(1)[:4]), setup=Setup(**SETUP))
        falling = read_trial(write(tmp_path, "falling.csv", readings(1, knee=1.7)), setup=Setup(**SETUP))
        with pytest.raises(ValueError) as caught:
            compare_trials(trial(tmp_path, "a.csv"), few, falling)
        assert "'too few readings' in few.csv and 'still falling' in falling.csv" in str(caught.value)

    def test_a_trial_without_readings_is_one_line(self, tmp_path):
        path = tmp_path / "none.csv"
        path.write_text("rpm;power\nx;1\n")
        with pytest.raises(ValueError, match="none.csv") as caught:
            compare_trials(trial(tmp_path, "a.csv"), read_trial(path))
        assert "\n" not in str(caught.value)

    @pytest.mark.parametrize(
        "options, said",
        [
            (dict(names="ab"), "names must be 2 texts"),
            (dict(names=["a"]), "names must be 2 texts"),
            (dict(names=["a", 1]), "names must be 2 texts"),
            (dict(dates=["2026-01-01"]), "dates must be 2 days"),
            (dict(dates=["2026-01-01", "5/11/26"]), "dates must be days written as 2026-11-05 (got '5/11/26')"),
            (dict(dates=[None, 5]), "dates must be days"),
        ],
    )
    def test_other_input_is_one_line(self, tmp_path, options, said):
        one = trial(tmp_path, "a.csv")
        with pytest.raises(ValueError) as caught:
            compare_trials(one, one, **options)
        assert said in str(caught.value) and "\n" not in str(caught.value)

    @pytest.mark.parametrize("given", [(), (1,), (1, 2), ("a", None)])
    def test_what_are_no_trials(self, given):
        with pytest.raises(ValueError, match="trials must be at least two"):
            compare_trials(*given)


class TestDates:
    def test_the_files_state_them(self, tmp_path):
        heads = ("date;2026-01-05\n", "Datum: 5.3.2026\n", "date;5/3/26\n", "date;31.2.2026\n", "# Trial of 2026-01-05\n")
        days = [trial(tmp_path, f"{number}.csv", head=head).date for number, head in enumerate(heads)]
        assert days == [date(2026, 1, 5), date(2026, 3, 5), None, None, None]

    def test_drift_that_is_there_is_seen_and_its_interval_holds_it(self, tmp_path):
        days = [date(2026, month, 1) for month in range(1, 7)]
        trials = [trial(tmp_path, f"{day.month}.csv", day.month, knee=1.36 * 1.02 ** ((day - days[0]).days / 30)) for day in days]
        drift = compare_trials(*trials, dates=days).drift
        assert drift.is_seen and drift.per_month.holds(1.02) and drift.days == 151

    def test_none_is_seen_where_there_is_none(self, tmp_path):
        trials = [trial(tmp_path, f"{number}.csv", number) for number in range(1, 6)]
        drift = compare_trials(*trials, dates=[datetime(2026, 1, 1 + 5 * number, 12) for number in range(5)]).drift
        assert not drift.is_seen and drift.per_month.holds(1.0)

    def test_two_trials_a_month_apart_change_as_they_differ(self, tmp_path):
        trials = trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2, knee=1.46)
        compared = compare_trials(*trials, dates=["2026-01-01", "2026-01-31"])
        assert compared.drift.per_month.value == pytest.approx(compared.differences[0].knee_ratio.value)
        near = log(compared.drift.per_month.high / compared.drift.per_month.low)
        assert near == pytest.approx(
            log(compared.differences[0].knee_ratio.high / compared.differences[0].knee_ratio.low), rel=0.1
        )

    @pytest.mark.parametrize("dates", [None, ["2026-01-01", "2026-01-01"]])
    def test_without_two_days_there_is_no_drift(self, tmp_path, dates):
        assert compare_trials(trial(tmp_path, "a.csv", 1), trial(tmp_path, "b.csv", 2), dates=dates).drift is None


class TestShown:
    @pytest.fixture
    def compared(self, tmp_path):
        trials = trial(tmp_path, "a.csv", 1, knee=1.28), trial(tmp_path, "b.csv", 2, knee=1.46)
        return compare_trials(*trials, names=["old <b>", "new $"], dates=["2026-01-05", "2026-03-02"])

    def test_report_and_json(self, compared):
        report = compared.report()
        for said in ("old <b> = knee", "[[new $ against old <b>]]", "differ: ", "[[Drift]]", "2026-03-02", "µm", "level"):
            assert said in report
        held = json.loads(json.dumps(compared.as_dict(), allow_nan=False))
        assert held["differences"][0]["word"] == "differ" and held["dates"] == ["2026-01-05", "2026-03-02"]
        assert held["differences"][0]["knee_ratio"]["low"] < held["differences"][0]["knee_ratio"]["value"]
        assert "\n" not in repr(compared)

    def test_wheels_differ_in_the_chart_by_shape_stroke_and_hatching(self, compared):
        layers = chart_of(compared).layers
        for kind, told_by in ((Points, "shape"), (Line, "stroke"), (Upright, "stroke"), (Band, "lean")):
            assert len({getattr(layer, told_by) for layer in layers if isinstance(layer, kind)}) == 2

    def test_page_and_notebook(self, compared):
        page = comparison_page(compared, date(2026, 3, 4))
        assert "old &lt;b&gt;" in page and "<b>" not in page and MEANS["differ"] in page and "2026-03-04" in page
        ElementTree.fromstring(f"<div>{compared._repr_html_()}</div>")
        ElementTree.fromstring(chart_svg(chart_of(compared)))

    def test_plot(self, compared):
        matplotlib = pytest.importorskip("matplotlib")
        matplotlib.use("Agg")
        from matplotlib import pyplot

        assert len(compared.plot().lines) == 6
        pyplot.close("all")

    def test_more_trials_than_can_be_told_apart_have_a_page_without_a_chart(self, tmp_path):
        compared = compare_trials(*[trial(tmp_path, f"{number}.csv", number) for number in range(1, 6)])
        assert "cannot be told apart" in comparison_page(compared) and "<svg" not in comparison_page(compared)
        with pytest.raises(ValueError, match="trials must be at most 4 for a chart"):
            compared.plot()


class TestCommand:
    HEAD = "".join(f"{name};{value}\n" for name, value in SETUP.items())

    def run(self, capsys, *arguments):
        code = cli.main(["compare", *map(str, arguments)])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    @pytest.fixture
    def paths(self, tmp_path):
        return [
            write(tmp_path, f"{name}.csv", readings(seed, knee), self.HEAD)
            for name, seed, knee in (("a", 1, 1.28), ("b", 2, 1.46))
        ]

    def test_text_page_and_picture(self, paths, tmp_path, capsys):
        made = tmp_path / "page.html", tmp_path / "chart.svg"
        code, out, err = self.run(
            capsys, *paths, "--names", "old;new", "--dates", "2026-01-05,2026-03-02", "--output", made[0], "--plot", made[1]
        )
        assert (code, err) == (0, "") and "[[new against old]]" in out and "[[Drift]]" in out
        assert made[0].read_text(encoding="utf-8").startswith("<!DOCTYPE html>") and made[1].read_text(
            encoding="utf-8"
        ).startswith("<svg")
        assert self.run(capsys, *paths, "--output", made[0])[0] == 1  # nothing is overwritten

    def test_json(self, paths, capsys):
        code, out, _ = self.run(capsys, *paths, "--json")
        assert code == 0 and json.loads(out)["differences"][0]["word"] == "differ"

    def test_one_file_and_another_wheel_are_refused_in_one_line(self, paths, tmp_path, capsys):
        code, out, err = self.run(capsys, paths[0])
        assert code == 1 and not out and "FILE must be at least two trials" in err
        other = write(tmp_path, "c.csv", readings(3), self.HEAD.replace("shape_ratio;10", "shape_ratio;12"))
        code, out, err = self.run(capsys, paths[0], other)
        assert code == 1 and not out and "--same-wheel" in err and err.count("\n") == 1
        assert self.run(capsys, paths[0], other, "--same-wheel")[0] == 0
