"""What the command log reads from a typed list, what a log's clock says, and what advice to log promises."""

from __future__ import annotations

import datetime
import re
from argparse import ArgumentTypeError

import numpy as np
import pytest
from simulated_logs import RPMS, simulate

import gritfuncs as gf
from gritfuncs.commands.log import rpms
from gritfuncs.trial.log.advice import rise_said, sweep_advice
from gritfuncs.trial.log.clock import from_numbers
from gritfuncs.trial.log.columns import _growing as growing
from gritfuncs.trial.log.report import shown_span
from gritfuncs.trial.log.svg import _moments
from gritfuncs.trial.log.trace import _block_means, _grid


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
    said = sweep_advice(60.0, 180.0, 1.0)
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
