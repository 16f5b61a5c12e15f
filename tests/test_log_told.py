"""What the command log reads from a typed list, what a log's clock says, and what advice to log promises."""

from __future__ import annotations

import datetime
import re
import xml.etree.ElementTree as ElementTree
from argparse import ArgumentTypeError
from dataclasses import replace

import numpy as np
import pytest
from openpyxl import load_workbook
from simulated_logs import RPMS, simulate

import gritfuncs as gf
from gritfuncs.commands.log import rpms
from gritfuncs.trial.log.advice import rise_said, sweep_advice
from gritfuncs.trial.log.clock import Stamps, from_numbers
from gritfuncs.trial.log.columns import _growing as growing
from gritfuncs.trial.log.drawing import thinned, title
from gritfuncs.trial.log.report import shown_span
from gritfuncs.trial.log.svg import _moments
from gritfuncs.trial.log.sweep_plan import sweep_points
from gritfuncs.trial.log.trace import _block_means, _grid

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(
    "typed, numbers",
    [
        ("120,96", [120, 96]),
        ("120, 144, 96", [120, 144, 96]),
        ("120,5;96", [120.5, 96]),
        ("120;", [120]),
        ("60,96", [60, 96]),
        ("1200,300", [1200, 300]),
    ],
)
def test_lists_of_rpm(typed, numbers):
    assert rpms(typed) == numbers


@pytest.mark.parametrize("typed", ["120,5", "1200,50", "120,0", "120;-96", "120;0", "120;x"])
def test_what_may_be_a_decimal_comma_is_asked_for_and_no_rpm_is_guessed(typed):
    with pytest.raises(ArgumentTypeError):
        rpms(typed)


def test_a_sweep_is_as_long_as_its_legs():
    """The seconds of a leg times the legs between the rpm that are named are the seconds of infeed."""
    said = sweep_advice(*sweep_points(60.0, 180.0, 1.0))
    listed = re.search(r"sweep the work rpm ([\d. to]+) 1/min in (\d+) legs of ([\d.]+) s .*: ([\d.]+) s of infeed", said)
    points = listed[1].split(" to ")
    assert int(listed[2]) == len(points) - 1
    assert float(listed[2]) * float(listed[3]) == pytest.approx(float(listed[4]), rel=0.01)
    assert f"--sweep {','.join(points)} --infeed-time {listed[4]}" in said
    assert {float(point) for point in points} >= {60.0, 180.0}


@pytest.mark.parametrize(
    "first, is_time",
    [
        ([0.0, 0.2, 0.4], True),
        ([7.0, 7.1, 9.0], True),
        ([1.0, 2.0, 3.0], False),  # the numbers of the rows
        ([3.0, 3.0, 3.0], False),
        ([0.0, 0.0, 1.0], False),
        ([0.4, 0.2, 0.6], False),
        ([1.0], False),
    ],
)
def test_without_headings_a_first_column_is_time_where_it_grows_from_row_to_row(first, is_time):
    assert growing([[value, 1.5] for value in first], [0, 1]) == ([0] if is_time else [])


@pytest.mark.parametrize(
    "seconds, said",
    [(7.25, "7.25 s"), (59, "59 s"), (60, "1 min 0 s"), (754.4, "12 min 34 s"), (3599.6, "1 h 0 min"), (7500, "2 h 5 min")],
)
def test_how_long_a_log_is_is_said_in_hours_minutes_and_seconds(seconds, said):
    assert shown_span(seconds) == said


def test_means_of_a_tenth_of_a_second_pass_over_what_is_missing():
    values = np.array([1.0, np.nan, 3.0, 5.0, np.nan, np.nan, 2.0, 2.0])
    assert _block_means(values, 2).tolist()[:2] == [1.0, 4.0] and np.isnan(_block_means(values, 2)[2])
    assert _block_means(values[:4], 4).tolist() == [3.0]


def test_a_log_of_changes_is_as_fine_wherever_its_clock_begins():
    """Such as seconds since 1970."""
    time = np.cumsum(np.random.default_rng(1).exponential(3.0, 400))
    for begin in (0.0, 1.8e9):
        start, places, step, changes_only = _grid(time + begin)
        assert changes_only and start == pytest.approx(begin + time[0]) and step == 0.1
        assert np.abs(places * step - (time - time[0])).max() <= 0.1 + 1e-6


@pytest.mark.parametrize("size, epoch", [(1, "seconds"), (1e-3, "milliseconds")])
def test_counted_moments_run_from_midnight_of_their_day(size, epoch):
    begin = datetime.datetime(2026, 3, 2, 6, 30, 15, tzinfo=datetime.timezone.utc)
    counted = np.array([begin.timestamp() + second for second in (0.0, 1.0, 5.0)]) / size
    clock = from_numbers(counted, None, f"time in {epoch}")
    assert clock.seconds == pytest.approx(np.array([0.0, 1.0, 5.0]) + 6 * 3600 + 30 * 60 + 15)
    assert clock.begin == datetime.datetime(2026, 3, 2)


def test_days_of_a_spreadsheet_run_from_midnight_too():
    clock = from_numbers(np.array([45000.25, 45000.25 + 2 / 86400]), None, "time", are_days=True)
    assert clock.seconds == pytest.approx([21600.0, 21602.0], abs=1e-3) and clock.begin == datetime.datetime(2023, 3, 15)


def remarks_of(log):
    return gf.read_log(power=log.power, time=log.time).remarks


def test_a_slow_log_is_told_so_and_one_of_changes_is_not():
    rows = {rate: simulate(rate=rate, rpms=RPMS[:2]) for rate in (1.0, 2.0, 5.0)}
    said = {rate: [remark for remark in remarks_of(log) if "is slow" in remark] for rate, log in rows.items()}
    assert said == {1.0: ["A row every 1 s is slow: 5 to 20 rows a second show contact and lag better."], 2.0: [], 5.0: []}


@pytest.mark.parametrize("minutes, step", [(1.9, 20), (4, 30), (7.5, 60), (15, 120), (70, 600)])
def test_the_times_below_the_trace_are_round_and_reach_from_end_to_end(minutes, step):
    moments = _moments(7.0, 7.0 + 60 * minutes, 8)
    assert set(np.diff(moments)) == {step} and all(moment % step == 0 for moment in moments)
    assert 0 <= moments[0] - 7 < step and 0 <= 7 + 60 * minutes - moments[-1] < step and len(moments) <= 9


@pytest.mark.parametrize(
    "rise, words", [(0.001, "cannot show a knee"), (0.08, "where scatter is small"), (0.5, "can show a knee.")]
)
def test_what_a_rise_can_show(rise, words):
    said = rise_said(rise, "current")
    assert words in said and f"{100 * rise:.3g} %" in said and said.startswith("Your current rises")


# --- the picture, from a small log of four parts, the third of them with values missing ------------------------------------


@pytest.fixture(scope="module")
def pictured(tmp_path_factory):
    """The log, its picture and its workbook."""
    simulated = simulate(rpms=(120.0, 96.0), infeed=10.0, strokes=2, noise=0.02)
    power, folder = simulated.power.copy(), tmp_path_factory.mktemp("picture")
    power[(simulated.time > simulated.starts[2] + 11.5) & (simulated.time < simulated.starts[2] + 16.5)] = np.nan
    log = gf.read_log(power=power, time=simulated.time, infeed_time=10)
    log.picture(folder / "log.svg")
    log.picture(folder / "log.xlsx")
    return log, ElementTree.parse(folder / "log.svg").getroot(), load_workbook(folder / "log.xlsx")


def texts_of(root):
    """Words of a drawing with their places."""
    return [("".join(text.itertext()), float(text.get("x") or 0)) for text in root.iter(f"{SVG}text")]


def places(root, said):
    return [x for text, x in texts_of(root) if text == said]


def test_the_title_counts_parts_and_those_that_are_read(pictured):
    log, root, book = pictured
    assert len(log.parts) == 3 and len(log.holes) == 1
    said = f"arrays: 4 parts found, 3 read; lag {log.lag:.2g} s; idle read before and after each part"
    assert texts_of(root)[0][0] == book["Picture"]["A1"].value == said
    stepped = replace(log, idle_step=0.2, parts=log.parts, stretches=tuple(each for each in log.stretches if each.word != "hole"))
    assert title(stepped) == (f"arrays: 3 parts found; lag {log.lag:.2g} s; idle read just before contact (it steps up there)")


def test_each_part_has_its_number_above_it_and_a_hole_its_word_where_it_is(pictured):
    log, root, _ = pictured
    left, right = 60, 1180  # the edges of the panel

    def at(second):
        first = log.trace.interval / 2
        return left + (right - left) * (second - first) / (log.duration - 2 * first)

    numbered = {text: x for text, x in texts_of(root)[1:] if text in ("1", "2", "3", "4", "3: hole")}
    for part in log.parts:
        assert places(root, str(part.number))[0] == pytest.approx(at((part.start + part.end) / 2), abs=1)
    assert "3: hole" in numbered
    ((first, last),) = log.holes
    assert places(root, "hole") == [pytest.approx(at((first + last) / 2), abs=1)]


def test_the_trace_fills_its_panel_and_the_numbers_stand_above_it(pictured):
    log, root, _ = pictured
    panel = next(box for box in root.iter(f"{SVG}rect") if box.get("fill") == "#dce8f5")  # a part's, as high as the panel
    top, bottom = float(panel.get("y")), float(panel.get("y")) + float(panel.get("height"))
    whole, part = ([float(pair.split(",")[1]) for pair in curve.get("points").split()] for curve in root.iter(f"{SVG}polyline"))
    assert top <= min(whole) < top + 0.1 * (bottom - top) and bottom - 0.6 * (bottom - top) < max(whole) <= bottom
    assert max(part) - min(part) > 0.7 * 190  # of the part shown large, whose panel is 190 high
    numbers = {str(part.number) for part in log.parts}
    heights = [float(text.get("y")) for text in root.iter(f"{SVG}text") if text.get("font-size") == "13" and text.text in numbers]
    assert len(heights) == len(log.parts) and all(top - 20 < height < top for height in heights)


def test_round_times_stand_from_one_end_of_the_axis_to_the_other(pictured):
    log, root, _ = pictured
    shown = {text for text, _ in texts_of(root) if re.fullmatch(r"\d+:\d\d\.0", text)}
    step = 20  # s: the least round time that gives at most eight pieces
    wanted = {f"{second // 60}:{second % 60:04.1f}" for second in range(step, int(log.duration), step)}
    assert log.duration / 8 <= step and log.duration / 8 > 10 and wanted <= shown


@pytest.mark.parametrize(
    "low, high, count, moments", [(0, 80, 8, range(0, 81, 10)), (0, 80.1, 8, range(0, 81, 20)), (7, 23, 4, (10, 15, 20))]
)
def test_the_moments_of_an_axis_are_round_and_none_is_missing(low, high, count, moments):
    assert _moments(low, high, count) == list(moments)


def test_the_bar_of_each_part_reaches_one_error_to_either_side(pictured):
    log, root, _ = pictured
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in root.iter(f"{SVG}circle")]
    assert len(dots) == 3
    lines = [tuple(float(line.get(name)) for name in ("x1", "y1", "x2", "y2")) for line in root.iter(f"{SVG}line")]
    for x, y in dots:
        ((_, one, _, other),) = [
            line
            for line in lines
            if line[0] == line[2] == x and min(line[1::2]) <= y <= max(line[1::2]) and abs(line[1] + line[3] - 2 * y) < 0.3
        ]
        assert abs(one - other) > 0 and (one + other) / 2 == pytest.approx(y, abs=0.1)
    heights = [y for _, y in dots]
    nets = [part.net for part in log.parts]
    assert np.argsort(heights).tolist() == np.argsort(nets)[::-1].tolist()
    assert all(x < further for (x, _), (further, _) in zip(dots, dots[1:])) and "part" in [text for text, _ in texts_of(root)]


def test_the_large_part_is_the_middle_one_with_six_seconds_on_each_side(pictured):
    log, root, _ = pictured
    part = sorted(log.parts, key=lambda part: part.net)[1]
    said = [text for text, _ in texts_of(root)]
    assert f"Part {part.number}: steady stretch (blue) from 3 lags after contact to the end of infeed" in said
    assert f"net {part.net:.3g} ± {part.error:.2g} kW" in said
    whole, large = (
        np.array([[float(number) for number in point.split(",")] for point in curve.get("points").split()])
        for curve in root.iter(f"{SVG}polyline")
    )
    assert (whole[0, 0], whole[-1, 0]) == (60, 1180) and (large[0, 0], large[-1, 0]) == (60, 610)
    begin, end = part.start - 6, part.end + 6
    inside = log.trace.power[round(begin / log.trace.interval) : round(end / log.trace.interval)]
    edge = 0.08 * (inside.max() - inside.min())
    assert large[:, 1].min() == pytest.approx(440 + 190 * 0.08 / 1.16, abs=1) and large[:, 1].max() == pytest.approx(
        630 - 190 * 0.08 / 1.16, abs=1
    )

    def at(second):
        return 60 + 550 * (second - begin) / (end - begin)

    def height(load):
        return 630 - 190 * (load - inside.min() + edge) / (np.ptp(inside) + 2 * edge)

    boxes = [box for box in root.iter(f"{SVG}rect") if box.get("fill") == "#dce8f5"]
    (box,) = [box for box in boxes if float(box.get("y")) == 440]
    x, width = float(box.get("x")), float(box.get("width"))
    assert (x, x + width) == (pytest.approx(at(part.steady_start), abs=2), pytest.approx(at(part.steady_end), abs=2))
    lines = [[float(line.get(name)) for name in ("x1", "y1", "x2", "y2")] for line in root.iter(f"{SVG}line")]
    below = [line for line in lines if line[2] < 611 and line[1] > 440]
    level, idle = height(part.level), height(part.idle)
    assert [pytest.approx(each, abs=2) for each in (x, level, x + width, level)] in below
    assert [pytest.approx(each, abs=2) for each in (at(part.start) - 4, idle, at(part.end) + 4, idle)] in below
    assert [pytest.approx(each, abs=2) for each in (x + 30, idle, x + 30, level)] in below  # the arrow of the net load
    (net,) = [text for text in root.iter(f"{SVG}text") if "".join(text.itertext()).startswith("net ") and "±" in text.text]
    assert level < float(net.get("y")) < idle and x + 30 < float(net.get("x")) < x + 45  # beside it
    in_trace = [box for box in boxes if float(box.get("y")) == 124]
    assert len(in_trace) == 3 and all(float(box.get("height")) == 360 - 124 for box in in_trace)


@pytest.mark.parametrize("has_rpm", [False, True])
def test_the_nets_stand_over_the_work_rpm_where_it_is_known(pictured, has_rpm, tmp_path):
    log = pictured[0]
    rpms = (96.0, 120.0, 132.0) if has_rpm else (96.0, None, 132.0)
    replace(log, parts=tuple(replace(part, work_rpm=rpm) for part, rpm in zip(log.parts, rpms))).picture(tmp_path / "log.svg")
    root = ElementTree.parse(tmp_path / "log.svg").getroot()
    xs = rpms if has_rpm else [part.number for part in log.parts]
    span = max(xs) - min(xs)
    dots = [float(dot.get("cx")) for dot in root.iter(f"{SVG}circle")]
    assert dots == pytest.approx([700 + 480 * (x - min(xs) + 0.05 * span) / (1.1 * span) for x in xs], abs=0.1)
    replace(log, parts=tuple(replace(part, work_rpm=rpm) for part, rpm in zip(log.parts, rpms))).picture(tmp_path / "log.xlsx")
    sheet = load_workbook(tmp_path / "log.xlsx")["Parts"]
    assert [row[8].value for row in sheet.iter_rows(min_row=2)] == list(rpms)
    said = [text for text, _ in texts_of(root)]
    assert ("work rpm, 1/min" in said) == has_rpm and ("part" in said) != has_rpm and "net power, kW" in said


def drawn(log, folder):
    log.picture(folder / "log.svg")
    return [text for text, _ in texts_of(ElementTree.parse(folder / "log.svg").getroot())]


@pytest.mark.parametrize(
    "kind, axis, unit", [("power", "power, kW", " kW"), ("current", "current, A", " A"), ("relative", "load", "")]
)
@pytest.mark.parametrize("is_clock", [False, True])
def test_the_words_beside_the_drawing_are_of_the_kind_of_load_and_of_time(pictured, kind, axis, unit, is_clock, tmp_path):
    log = replace(pictured[0], load_kind=kind, is_clock=is_clock)
    part = sorted(log.parts, key=lambda part: part.net)[1]
    said = drawn(log, tmp_path)
    assert said.count(axis) == 2 and f"net {axis}" in said and f"net {part.net:.3g} ± {part.error:.2g}{unit}" in said
    assert ("time" in said, "time, min:s" in said) == (is_clock, not is_clock)
    shown = [text for text in said if re.fullmatch(r"00:0\d:\d\d" if is_clock else r"\d:\d\d\.0", text)]
    assert len(shown) > 8
    assert "Net load of each part, ± 2 standard errors" in said
    assert (
        "Blue: parts, numbered. Hatched: every other stretch with its word. Thick bar: level in the steady stretch. Dotted: idle."
    ) in said
    log.picture(tmp_path / "log.xlsx")
    book = load_workbook(tmp_path / "log.xlsx")
    assert [cell.value for (cell,) in book["Trace"].iter_cols(max_row=1)] == [
        "time, s", axis, "level at, s", "level", "idle at, s", "idle", "other stretches at, s", "other stretches",
        "number or word at, s", "height",
    ]  # fmt: skip
    (chart,) = book["Picture"]._charts
    titles = [
        "".join(run.t for line in each.tx.rich.p for run in line.r or ())
        for each in (chart.title, chart.x_axis.title, chart.y_axis.title)
    ]
    assert titles == ["Power log", "time, s", axis] and chart.legend is None


def test_each_line_of_the_chart_is_told_from_the_others_and_labels_stand_in_their_place(pictured):
    log, _, book = pictured
    (chart,) = book["Picture"]._charts
    sheet = book["Trace"]

    def cells(reference):
        """The values of an area such as 'Trace'!$A$2:$A$9, or of one cell."""
        first, _, last = reference.f.split("!")[1].replace("$", "").partition(":")
        return [cell.value for row in sheet[first : last or first] for cell in row]

    lines, named = chart.series[:4], chart.series[4:]
    assert [series.tx.v for series in lines] == ["trace", "level in the steady stretch", "idle", "other stretches"]
    looks = [(line.spPr.ln.solidFill.srgbClr, line.spPr.ln.w, line.spPr.ln.prstDash) for line in lines]
    assert len(set(looks)) == 4 and [dash for *_, dash in looks[2:]] == ["sysDot", "sysDash"]
    assert looks[1][1] > 2 * looks[2][1] > 2 * looks[0][1]  # levels are thick, the trace thin
    time, power = thinned(log)
    assert cells(lines[0].xVal.numRef) == pytest.approx(time.tolist()) and cells(lines[0].yVal.numRef) == pytest.approx(
        power.tolist()
    )
    bars = [each for part in log.parts for each in (part.level, part.level, None)]
    assert cells(lines[1].yVal.numRef) == [each if each is None else pytest.approx(each) for each in bars]
    ends = [each for part in log.parts for each in (part.steady_start, part.steady_end, part.steady_end)]
    assert cells(lines[1].xVal.numRef) == pytest.approx(ends)
    idle = [each for part in log.parts for each in (part.idle, part.idle, None)]
    assert cells(lines[2].yVal.numRef) == [each if each is None else pytest.approx(each) for each in idle]
    others = [each for stretch in log.stretches if stretch.word != "part" for each in (stretch.start, stretch.end, stretch.end)]
    assert cells(lines[3].xVal.numRef) == pytest.approx(others)
    shown = {series.tx.v: cells(series.xVal.numRef)[0] for series in named}
    for part in log.parts:
        assert shown[str(part.number)] == pytest.approx((part.start + part.end) / 2)
    assert "3: hole" in shown and all(text.endswith("short") for text in shown if text not in ("1", "2", "4", "3: hole"))
    for series in named:
        labels = series.dLbls
        assert (labels.showSerName, labels.showVal, labels.showCatName, labels.dLblPos) == (True, False, False, "t")
        assert cells(series.yVal.numRef)[0] > power.max()


def test_the_first_sheet_says_title_and_remarks_and_the_stretches_their_reasons(pictured):
    log, _, book = pictured
    said = [cell.value for (cell,) in book["Picture"].iter_rows(max_col=1)]
    assert said == [title(log), *log.remarks] and len(log.remarks) > 2
    rows = [[cell.value for cell in row] for row in book["Stretches"].iter_rows()]
    assert rows[0] == ["stretch", "start, s", "end, s", "word", "why"]
    assert rows[1:] == [
        [each.number, pytest.approx(each.start), pytest.approx(each.end), each.word, each.why] for each in log.stretches
    ]
    assert [row[0].value for row in book["Parts"].iter_rows(min_row=2)] == [1, 2, 4]
    page = book["Picture"].page_setup
    assert (page.orientation, page.fitToWidth, page.fitToHeight) == ("landscape", 1, 0)
    assert book["Picture"].sheet_properties.pageSetUpPr.fitToPage and book["Picture"]._charts[0].anchor._from.row > len(said)
    assert {book[name].freeze_panes for name in ("Parts", "Stretches", "Trace")} == {"A2"}


def test_why_a_log_gives_no_readings_stands_below_the_title_and_above_the_remarks(tmp_path):
    power = 1 + np.random.default_rng(5).standard_normal(3000) / 10
    log = replace(gf.read_log(power=power, interval=0.1), remarks=("a remark",), stretches=())
    said = drawn(log, tmp_path)
    assert said[0] == "arrays: no readings" and log.refusal.startswith("power must rise and fall") and len(log.refusal) > 185
    assert " ".join(said[1:3]) == log.refusal and not any("Net load" in text or text.startswith("Part ") for text in said)
    log.picture(tmp_path / "log.xlsx")
    book = load_workbook(tmp_path / "log.xlsx")
    assert [cell.value for (cell,) in book["Picture"].iter_rows(max_col=1)] == ["arrays: no readings", log.refusal, "a remark"]
    assert book["Parts"].max_row == book["Stretches"].max_row == 1


def test_the_trace_stands_over_zero_and_holds_every_level(pictured, tmp_path):
    """The panel is from 124 to 360; its top is a fiftieth above the highest power or level."""
    log = pictured[0]
    low, part = log.parts[1], log.parts[0]
    for name, each, bottom in (
        ("a", log, 0.0),
        ("b", replace(log, parts=(replace(part, level=9.0), *log.parts[1:])), 0.0),
        ("c", replace(log, trace=replace(log.trace, power=log.trace.power - 2)), float(log.trace.power.min()) - 2),
    ):
        top = max(1.02 * np.percentile(each.trace.power, 99.9), *(part.level for part in each.parts))
        each.picture(tmp_path / f"{name}.svg")
        lines = list(ElementTree.parse(tmp_path / f"{name}.svg").getroot().iter(f"{SVG}line"))
        bars = [float(line.get("y1")) for line in lines if line.get("stroke-width") == "4" and float(line.get("y1")) < 440]
        dotted = [float(line.get("y1")) for line in lines if line.get("stroke-dasharray") and float(line.get("y1")) < 440]
        for drawn_at, loads in ((bars, [part.level for part in each.parts]), (dotted, [part.idle for part in each.parts])):
            expected = [360 - 236 * (load - bottom) / (1.02 * (top - bottom)) for load in loads]
            assert drawn_at[: len(loads)] == pytest.approx(expected, abs=0.2)
    assert low.level < 9


def test_parts_are_numbered_in_whole_numbers_and_the_drawing_has_its_title(pictured, tmp_path):
    log = pictured[0]
    few = replace(log, parts=log.parts[:2])
    few.picture(tmp_path / "log.svg")
    texts = ElementTree.parse(tmp_path / "log.svg").getroot().iter(f"{SVG}text")
    below = [text.text for text in texts if float(text.get("x") or 0) >= 700 and float(text.get("y") or 0) == 647]
    assert below == ["1", "2"]
    assert pictured[1].find(f"{SVG}title").text == title(log)


def test_too_few_parts_are_drawn_with_what_they_read_and_why_they_are_not_handed_on(tmp_path):
    simulated = simulate(rpms=(120.0,), infeed=10.0)
    log = gf.read_log(power=simulated.power, time=simulated.time)
    said = drawn(log, tmp_path)
    assert said[0] == f"arrays: 2 parts found; lag {log.lag:.2g} s; idle read before and after each part"
    assert said[1] == log.refusal and log.refusal.startswith("parts must be 3 or more") and {"1", "2"} <= set(said)
    assert "Net load of each part, ± 2 standard errors" in said


def test_the_sheets_of_the_picture_hold_what_their_headings_say(pictured):
    log, _, book = pictured
    heads, first = ([cell.value for cell in row] for row in book["Parts"].iter_rows(max_row=2))
    part = log.parts[0]
    own = (part.number, part.start, part.end, part.level, part.idle, part.net, part.error, part.slope)
    assert heads[:8] == ["part", "start, s", "end, s", "level", "idle", "net", "± 2 standard errors", "slope"]
    assert first == [*map(pytest.approx, own), None] and heads[8] == "work rpm, 1/min"
    columns = [[cell.value for cell in column] for column in book["Trace"].iter_cols()]
    trace = {heading[0]: heading[1:] for heading in columns}
    assert trace["level at, s"][:3] == [pytest.approx(at) for at in (part.steady_start, part.steady_end, part.steady_end)]
    assert trace["level"][:3] == [pytest.approx(part.level), pytest.approx(part.level), None]
    assert trace["idle at, s"][:3] == [pytest.approx(at) for at in (part.start - 3, part.end + 3, part.end + 3)]
    assert trace["idle"][:3] == [pytest.approx(part.idle), pytest.approx(part.idle), None]
    other = next(stretch for stretch in log.stretches if stretch.word != "part")
    assert trace["other stretches at, s"][:3] == [pytest.approx(at) for at in (other.start, other.end, other.end)]
    named = [(at, height) for at, height in zip(trace["number or word at, s"], trace["height"]) if at is not None]
    middles = [pytest.approx((part.start + part.end) / 2) for part in log.parts]
    numbers = {height for at, height in named if any(at == middle for middle in middles)}
    words = {height for at, height in named if not any(at == middle for middle in middles)}
    assert len(numbers) == len(words) == 1 and min(words) > min(numbers)  # words stand above the numbers
    (chart,) = book["Picture"]._charts
    assert chart.display_blanks == "gap" and len(chart.series) > 4 and not any(series.smooth for series in chart.series)


@pytest.mark.parametrize("apart, said", [(2.5, ["2 × short"]), (8.0, ["short", "short"])])
def test_short_stretches_share_a_word_where_they_are_near(apart, said, tmp_path):
    """Nearer than a fortieth of the log, which is 4 s here, the words would stand over one another."""
    simulated = simulate(rpms=(120.0, 96.0), infeed=10.0, noise=0.02)
    power, begin = simulated.power.copy(), simulated.starts[1] + 16
    for start in (begin, begin + 1.5 + apart):
        power[(simulated.time > start) & (simulated.time < start + 1.5)] += 1.0
    log = gf.read_log(power=power, time=simulated.time, infeed_time=10)
    log.picture(tmp_path / "log.xlsx")
    log.picture(tmp_path / "log.svg")
    columns = [[cell.value for cell in column] for column in load_workbook(tmp_path / "log.xlsx")["Trace"].iter_cols()]
    (places,) = (column[1:] for column in columns if column[0] == "number or word at, s")
    drawn = [text for text, _ in texts_of(ElementTree.parse(tmp_path / "log.svg").getroot())]
    assert [text for text in drawn if "short" in text] == said
    assert sum(at is not None for at in places) == len(log.parts) + len(said)


def test_a_long_trace_keeps_the_dips_too():
    power = np.ones(60_000)
    power[12_345], power[40_000] = 0.2, 3.0
    log = gf.read_log(power=power + 1e-3 * np.sin(np.arange(60_000)), interval=0.1)
    time, shown = thinned(log)
    assert len(shown) <= 2002 and shown.min() == pytest.approx(0.2, abs=0.01) and shown.max() == pytest.approx(3, abs=0.01)
    assert time[shown.argmin()] == pytest.approx(1234.55) and (np.diff(time) >= 0).all()


@pytest.mark.parametrize("step, is_taken", [(9.9, True), (10, False)])
def test_numbers_of_time_without_a_unit_are_seconds_where_rows_follow_within_ten(step, is_taken):
    if is_taken:
        assert from_numbers(step * np.arange(50), None, "time").seconds[1] == step
    else:
        with pytest.raises(ValueError, match="time must have a unit"):
            from_numbers(step * np.arange(50), None, "time")


def test_years_of_two_digits_are_of_this_century_and_a_log_is_no_longer_than_a_month_from_date_to_date():
    stamps = Stamps()
    stamps.add(np.array([b"04.03.26 10:00:00", b"05.03.26 10:00:00"]))
    assert stamps.clock().begin == datetime.datetime(2026, 3, 4)
    for later, is_taken in ((b"2026-02-01 10:00", True), (b"2026-02-02 10:00", False)):
        stamps = Stamps()
        stamps.add(np.array([b"2026-01-01 10:00", later]))
        if is_taken:
            assert np.diff(stamps.clock().seconds) == 31 * 86400
        else:
            with pytest.raises(ValueError, match="time must have dates that grow"):
                stamps.clock()


def test_times_between_may_be_said_in_hours_and_without_a_time_column():
    power = 1 + 1e-3 * np.arange(80_000)
    for options in (dict(interval=0.1), dict(time=0.1 * np.arange(80_000))):
        log = gf.read_log(power=power, between="1:00:00-1:10:00", **options)
        assert log.duration == pytest.approx(600, abs=0.2) and log.trace.power[0] == pytest.approx(37.0, abs=0.01)


def test_no_text_of_a_picture_becomes_a_formula(tmp_path):
    power = np.ones(100) + 1e-3 * np.arange(100)
    log = replace(gf.read_log(power=power, interval=0.1), remarks=("=1+1", "@x", "+2", "-3", "plain"))
    log.picture(tmp_path / "log.xlsx")
    shown = [cell.value for (cell,) in load_workbook(tmp_path / "log.xlsx")["Picture"].iter_rows(max_col=1)]
    assert shown[2:7] == ["'=1+1", "'@x", "'+2", "'-3", "plain"]
