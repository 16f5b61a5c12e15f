"""Charts: what they show, with matplotlib and without; what a notebook shows."""

from __future__ import annotations

import re
import sys
from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs import cli, demo, example
from gritfuncs.knee import FourthRoot, find_knee, next_reading
from gritfuncs.pictures.chart import Band, Chart, Line, Points, Upright, ticks, with_edges
from gritfuncs.pictures.svg import chart_svg
from gritfuncs.planning import Limits, speed_table
from gritfuncs.speed_table_views import chart_of as table_chart
from gritfuncs.trial import read_trial
from gritfuncs.trial.picture import chart_of

matplotlib = pytest.importorskip("matplotlib")
matplotlib.use("Agg")
FINITE = st.floats(-1e12, 1e12)


@pytest.fixture(scope="module")
def readings(tmp_path_factory):
    path = tmp_path_factory.mktemp("plots") / "readings.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def trial(readings):
    return read_trial(readings)


def speeds(diameters=example.WORK_DIAMETERS, rates=example.INFEED_RATES):
    return speed_table(
        grit_depth=1.36,
        work_diameters=diameters,
        infeed_rates=rates,
        marked_wheel_speed=35,
        limits=Limits(highest_work_rpm=300),
        wheel_speed=22,
        wheel_diameter=200,
        side=1,
        grit_density=18.9,
        shape_ratio=10,
    )


def words_of(svg):
    return [found.text for found in ElementTree.fromstring(svg).iter() if found.tag.endswith("}text")]


class TestChart:
    @given(FINITE, FINITE)
    def test_ticks_are_round_and_within(self, one, other):
        low, high = with_edges([one, other])
        places = ticks(low, high)
        assert 1 <= len(places) <= 13 and all(low - 1e-9 * abs(low) <= place <= high + 1e-9 * abs(high) for place in places)

    @given(st.lists(st.tuples(FINITE, FINITE), min_size=1, max_size=5))
    def test_every_point_lies_inside_the_frame(self, places):
        svg = ElementTree.fromstring(chart_svg(Chart("t", "x", "y", (Points(*zip(*places), ""),))))
        frame = next(found for found in svg.iter() if found.get("fill") == "none" and found.tag.endswith("rect"))
        left, top, width, height = (float(frame.get(name)) for name in ("x", "y", "width", "height"))
        for found in svg.iter():
            if found.tag.endswith("circle"):
                assert left <= float(found.get("cx")) <= left + width and top <= float(found.get("cy")) <= top + height

    def test_no_text_becomes_markup(self):
        bad = "</text><script>alert(1)</script>"
        layers = (Points([1], [1], bad, words=[bad]), Line([1, 2], [1, 2], bad), Band(1, 2, bad), Upright(1, bad))
        svg = chart_svg(Chart(bad, bad, bad, layers))
        assert "<script" not in svg and words_of(svg).count(bad) == 8

    def test_nothing_is_told_by_colour_alone(self, trial):
        for chart in (chart_of(trial), table_chart(speeds()), table_chart(speeds(range(10, 26)))):
            points = [layer for layer in chart.layers if isinstance(layer, Points)]
            lines = [layer for layer in chart.layers if isinstance(layer, Line)]
            pairs = [(one.shape, line.stroke) for one, line in zip(points, lines)] if len(lines) > 1 else []
            assert all(one != other for one, other in combinations(pairs, 2))
            assert all(layer.label for layer in points)


class TestMatplotlib:
    def test_a_trial_on_axes_that_are_given_and_on_new_ones(self, trial):
        from matplotlib import pyplot

        _, axes = pyplot.subplots()
        assert trial.plot(axes) is axes
        assert trial.plot() is not axes
        drawn = next(line for line in axes.lines if line.get_label() == "readings")
        assert list(drawn.get_xdata()) == list(trial.depths) and list(drawn.get_ydata()) == list(trial.energies)
        assert axes.get_xlabel() == "grit depth, µm" and axes.get_ylabel() == "specific energy, J/mm³"
        pyplot.close("all")

    def test_a_knee_with_and_without_readings(self, trial):
        from matplotlib import pyplot

        axes = trial.knee.plot(depths=trial.depths, energies=trial.energies)
        assert [text.get_text() for text in axes.texts] == [f"knee {trial.knee.knee:.4g} µm"]
        assert trial.knee.plot().lines
        for depths, energies in (((1, 2), (1, 1)), (range(1, 9), [9] * 8), (range(1, 9), range(9, 1, -1))):
            knee = find_knee(depths, energies)
            assert knee.plot(depths=depths, energies=energies).get_title(loc="left").startswith(knee.verdict)
            assert knee.plot()
        with pytest.raises(ValueError, match="equally long"):
            trial.knee.plot(depths=[1, 2])
        pyplot.close("all")

    def test_a_speed_table(self):
        from matplotlib import pyplot

        axes = speeds().plot()
        labels = [text.get_text() for text in axes.get_legend().get_texts()]
        assert labels == [*(f"part {each:g} mm" for each in example.WORK_DIAMETERS), "breaks a limit: do not use"]
        pyplot.close("all")

    def test_more_lines_than_can_be_told_apart_are_refused(self):
        with pytest.raises(ValueError, match="work_diameters must be at most 16 for a chart"):
            speeds(range(10, 40)).plot()

    def test_a_dollar_sign_is_no_mathematics(self):
        from matplotlib import pyplot

        from gritfuncs.pictures.axes import draw

        axes = draw(Chart("$x$ _a_ $", "$", "$\\frac$", (Points([1], [1], "_$\\nothing{$", words=["$"]),)))
        axes.figure.canvas.draw()
        pyplot.close("all")

    def test_without_it_a_line_says_what_to_install(self, trial, monkeypatch):
        monkeypatch.setitem(sys.modules, "matplotlib", None)
        for draw in (trial.plot, trial.knee.plot, speeds().plot):
            with pytest.raises(ValueError, match=r"pip install 'gritfuncs\[plots\]'") as caught:
                draw()
            assert "\n" not in str(caught.value)


class TestCommand:
    @pytest.mark.parametrize("ending, begins", [(".svg", b"<svg"), (".png", b"\x89PNG"), (".pdf", b"%PDF")])
    def test_plot(self, readings, tmp_path, capsys, ending, begins):
        path = tmp_path / f"chart{ending}"
        assert cli.main(["knee", str(readings), "--plot", str(path)]) == 0
        assert path.read_bytes().startswith(begins) and "[[Knee]]" in capsys.readouterr().out

    def test_svg_needs_no_matplotlib_and_png_says_so(self, readings, tmp_path, capsys, monkeypatch):
        monkeypatch.setitem(sys.modules, "matplotlib", None)
        monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
        assert cli.main(["knee", str(readings), "--plot", str(tmp_path / "chart.svg")]) == 0
        assert cli.main(["knee", str(readings), "--plot", str(tmp_path / "chart.png")]) == 1
        assert "gritfuncs[plots]" in capsys.readouterr().err and not (tmp_path / "chart.png").exists()

    @pytest.mark.parametrize(
        "more, said",
        [
            (["--plot", "x.gif"], "--plot must end in .svg, .png, .pdf"),
            (["other.csv", "--plot", "x.svg"], "--plot must be given with one file"),
        ],
    )
    def test_what_cannot_be_drawn(self, readings, capsys, more, said):
        assert cli.main(["knee", str(readings), *more]) == 1
        captured = capsys.readouterr()
        assert said in captured.err and not captured.out

    def test_nothing_is_overwritten(self, readings, tmp_path, capsys):
        (tmp_path / "chart.svg").write_text("mine")
        assert cli.main(["knee", str(readings), "--plot", str(tmp_path / "chart.svg")]) == 1
        assert (tmp_path / "chart.svg").read_text() == "mine" and "must not exist yet" in capsys.readouterr().err


class TestNotebook:
    def test_each_shows_itself_as_whole_markup_and_in_one_line(self, trial):
        advice = next_reading(trial.depths[:6], trial.energies[:6], FourthRoot(), nominal_rpm=1.0)
        start = next_reading([], [], FourthRoot(), nominal_rpm=100.0)
        for shown in (trial, trial.knee, advice, start, speeds(), find_knee([1, 2], [1, 1])):
            html = shown._repr_html_()
            ElementTree.fromstring(f"<div>{html}</div>")
            assert "\n" not in repr(shown) and len(repr(shown)) < 200
        assert advice.line() in advice._repr_html_().replace("&#x27;", "'")

    def test_a_table_shows_what_breaks_a_limit_and_a_very_long_one_its_line(self):
        assert "<s>" in speeds()._repr_html_() and "rpm too high" in speeds()._repr_html_()
        assert len(speeds([10 + i / 10 for i in range(100)], [0.1 + i / 100 for i in range(100)])._repr_html_()) < 300

    def test_patterns_of_one_name_look_alike(self, trial):
        both = trial._repr_html_() + trial.knee._repr_html_()
        patterns = re.findall(r'<pattern.*?id="([^"]*)".*?</pattern>', both)
        assert len(patterns) == 2 and len(set(re.findall(r"<pattern.*?</pattern>", both))) == len(set(patterns))
