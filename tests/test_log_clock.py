"""Time of a power log as loggers write it, by the moments that it stands for, and logs in several files.  All are simulated."""

from __future__ import annotations

from datetime import datetime, time, timedelta, timezone
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from simulated_logs import RPMS, simulate, write

import gritfuncs as gf
from gritfuncs.trial.log.clock import Clock, Stamps, from_numbers, shown_time
from gritfuncs.trial.log.gathering import _Growing, _is_text, _on_time_of, _seconds_in_a_row

MOMENT = datetime(2026, 3, 2, 6, 30, 15)
LOG = simulate(rpms=RPMS[:4])


def clock_of(*texts):
    stamps = Stamps()
    stamps.add(np.array([text.encode() for text in texts]))
    return stamps.clock()


def write_rows(rows, path):
    """The rows of cells as a text file or as a workbook, by the ending."""
    if path.suffix == ".csv":
        path.write_text("\n".join(";".join(map(str, row)) for row in rows), encoding="utf-8")
        return
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)


class TestNumbers:
    @pytest.mark.parametrize(
        "each, since, factor",
        [
            (1e-7, 1601, None),
            (1e-9, 1970, None),
            (1e-6, 1970, None),
            (1e-3, 1970, None),
            (1.0, 1970, None),
            (1.0, 1970, 1.0),
            (1e-3, 1970, 1e-3),  # time [ms]
            (1e-6, 1970, 1e-6),
            (1e-3, 1970, 1.0),  # time [s] whose size says that it is none
            (1e-7, 1601, 1.0),
        ],
    )
    @pytest.mark.parametrize("year", [2002, 2026, 2064])
    def test_a_count_since_a_day_in_the_past_is_a_clock(self, each, since, factor, year):
        moment = MOMENT.replace(year=year)
        counts = np.array([(moment - datetime(since, 1, 1)) / timedelta(seconds=1) + later for later in (0.0, 0.5, 7.0)]) / each
        clock = from_numbers(counts, factor, "time")
        assert clock.is_clock and clock.begin == datetime(year, 3, 2)
        assert clock.seconds == pytest.approx(np.array([0, 0.5, 7]) + (6 * 60 + 30) * 60 + 15, abs=2e-6)

    @pytest.mark.parametrize("first, is_clock", [(9.99e8, False), (1e9, True), (2.99e9, True), (3e9, False), (0.0, False)])
    def test_other_numbers_are_seconds(self, first, is_clock):
        clock = from_numbers(first + np.arange(5.0), None, "time")
        assert clock.is_clock == is_clock == (clock.begin is not None)
        assert is_clock or clock.seconds.tolist() == (first + np.arange(5.0)).tolist()

    @pytest.mark.parametrize("factor", [1.0, 0.001, 60.0])
    def test_a_unit_is_taken_and_no_step_is_too_long_then(self, factor):
        assert from_numbers(20 * np.arange(5.0), factor, "time").seconds == pytest.approx(20 * factor * np.arange(5.0))

    def test_numbers_that_begin_late_are_looked_for(self):
        values = np.concatenate((np.full(10_001, np.nan), np.arange(5.0)))
        assert from_numbers(values, None, "time").seconds[-1] == 4
        with pytest.raises(ValueError, match="time must have numbers .*none in column 'my time'"):
            from_numbers(values[:10_001], None, "my time")
        assert from_numbers(np.array([np.nan, 5.0]), None, "time").seconds[1] == 5  # one row has no step

    @pytest.mark.parametrize(
        "first, begin", [(1.0, datetime(1899, 12, 31)), (0.999, None), (45000.5, datetime(2023, 3, 15)), (4e6, None)]
    )
    def test_days_of_a_spreadsheet_have_a_date_from_the_first_on(self, first, begin):
        clock = from_numbers(first + np.arange(3) / 1440, None, "time", are_days=True)
        assert clock.begin == begin and clock.is_clock
        assert clock.seconds == pytest.approx(86400 * (first % 1) + 60 * np.arange(3), abs=1e-3)

    def test_clock_times_of_a_spreadsheet_run_on_over_midnight(self):
        days = np.array([0.9999, np.nan, 0.0001, 0.5, 0.9, 0.1])
        seconds = from_numbers(days, None, "time", are_days=True).seconds / 86400
        assert seconds[[0, 2, 3, 4, 5]] == pytest.approx([0.9999, 1.0001, 1.5, 1.9, 2.1]) and np.isnan(seconds[1])


class TestStamps:
    @given(
        form=st.sampled_from(["%Y-%m-%d %H:%M:%S.%f", "%d.%m.%Y %H:%M:%S,%f", "%Y/%m/%dT%H:%M:%S", "%H:%M:%S.%f", "%H:%M"]),
        moments=st.lists(st.integers(0, 20 * 86_400), min_size=1, max_size=6),
    )
    def test_stamps_written_alike_and_one_by_one_are_the_same(self, form, moments):
        """An odd stamp among them makes them be read one by one; both are the moments that were written."""
        first = datetime(2026, 3, 1)
        written = [first + timedelta(seconds=each, milliseconds=250) for each in sorted(moments)]
        texts = [f"{each:{form}}" for each in written]
        clock, other = clock_of(*texts), clock_of(*texts, "?")
        assert other.seconds[:-1] == pytest.approx(clock.seconds) and np.isnan(other.seconds[-1])
        assert (clock.begin, clock.is_clock) == (other.begin, True)
        read = [datetime.strptime(text, form) for text in texts]
        if "%Y" in form:
            assert clock.begin == datetime(read[0].year, read[0].month, read[0].day)
            assert clock.seconds == pytest.approx([(each - clock.begin).total_seconds() for each in read])
        else:
            assert clock.seconds % 86400 == pytest.approx([(each - datetime(1900, 1, 1)).total_seconds() for each in read])
            assert (np.diff(clock.seconds) >= -43200).all()

    @pytest.mark.parametrize(
        "text",
        [
            "2026-03-04 23:57:10.250",
            "2026-03-04T23:57:10,25",
            "2026-03-04T 23:57:10.25",
            "2026-03-04_23:57:10.25",
            "2026-03-04,23:57:10.25",
            "2026-03-04, 23:57:10.25",
            "2026-03-04;23:57:10.25",
            "2026-03-04 - 23:57:10.25",
            "2026-03-04 -23:57:10.25",
            "2026-03-04-23:57:10.25",
            "  2026-03-04   23:57:10.25  ",
            "2026/3/4 23:57:10.25",
            "2026.03.04 23:57:10.25",
            "04.03.2026 23:57:10:250",
            "4.3.26 11:57:10.25 PM",
            "04-03-2026 23:57:10.25",
            "03/04/2026 11:57:10.250 p.m.",
            "3/4/26 11:57:10.25PM",
            "3/4/26 11:57:10.25 PM +01:00",
            "2026-03-04T23:57:10.25Z",
            "2026-03-04T23:57:10.25+01:00",
            "2026-03-04 23:57:10.25 -0500",
        ],
    )
    def test_one_moment_in_the_spellings_of_loggers(self, text):
        for others in ((), ("?",)):  # written alike, and one by one
            clock = clock_of(text, text, *others)
            assert clock.begin == datetime(2026, 3, 4) and clock.seconds[:2] == pytest.approx([86230.25] * 2)

    @pytest.mark.parametrize("date", ["4.3.2026 0:00:00", "4.3.2026 00:00", " 4.3.2026", "4.3.26"])
    def test_a_date_beside_the_clock_may_have_a_time_of_its_own(self, date):
        stamps = Stamps()
        stamps.add(np.array([b"23:59:59", b"0:00:01"]), np.array([date.encode(), date.replace("4.", "5.", 1).encode()]))
        clock = stamps.clock()
        assert clock.begin == datetime(2026, 3, 4) and clock.seconds.tolist() == [86399, 86401]

    def test_a_row_without_a_stamp_is_of_the_day_above_it(self):
        clock = clock_of("2026-03-04 23:59:59", "?", "2026-03-05 00:00:01", "", "2026-03-06 00:00:00")
        assert clock.seconds[[0, 2, 4]].tolist() == [86399, 86401, 172800] and np.isnan(clock.seconds[[1, 3]]).all()

    @pytest.mark.parametrize(
        "text, hours", [("12:00:00 AM", 0), ("1:00 am", 1), ("12:00 PM", 12), ("11:30:00 p.m.", 23.5), ("13:00:00 PM", 13)]
    )
    def test_hours_of_twelve(self, text, hours):
        assert clock_of(text).seconds[0] == 3600 * hours

    def test_a_stamp_with_an_offset_is_read_as_it_stands(self):
        clock = clock_of("2026-03-02T06:30:15+01:00", "2026-03-02T06:30:16.5Z")
        assert clock.seconds.tolist() == [23415, 23416.5] and clock.begin == datetime(2026, 3, 2)

    @pytest.mark.parametrize(
        "dates, day",
        [
            (["01/02/2026"], (2026, 1, 2)),
            (["01.02.2026"], (2026, 2, 1)),
            (["01-02-2026"], (2026, 2, 1)),
            (["13/02/2026"], (2026, 2, 13)),
            (["02.13.2026"], (2026, 2, 13)),
            (["03/04/2026", "04/04/2026"], (2026, 4, 3)),  # a day apart, not a month
            (["03.04.2026", "03.05.2026"], (2026, 3, 4)),
            (["2026/02/01"], (2026, 2, 1)),
            (["1.2.99"], (2099, 2, 1)),
        ],
    )
    def test_the_order_of_day_and_month_is_that_of_the_shorter_log_then_the_usual_one(self, dates, day):
        clock = clock_of(*(f"{each} 10:00:00" for each in dates))
        assert clock.begin == datetime(*day) and clock.seconds[-1] == 36000 + 86400 * (len(dates) - 1)

    def test_dates_that_no_order_fits_are_refused(self):
        with pytest.raises(ValueError, match=r"time must have dates that grow \(got '32.13.2026' to '32.13.2026'\)"):
            clock_of("32.13.2026 10:00")

    def test_dates_in_a_column_of_their_own_and_in_pieces(self):
        stamps = Stamps()
        stamps.add(np.array([b"23:59:58", b"23:59:59"]), np.array([b"4.3.2026", b"4.3.2026"]))
        stamps.add(np.array([], "S8"), np.array([], "S8"))
        stamps.add(np.array([b"00:00:00", b"00:00:01"]), np.array([b"5.3.2026", b"5.3.2026"]))
        clock = stamps.clock()
        assert (np.diff(clock.seconds) == 1).all() and clock.begin == datetime(2026, 3, 4)
        assert stamps.dates == [(0, "4.3.2026"), (2, "5.3.2026")]


@pytest.mark.parametrize(
    "is_clock, seconds, said",
    [
        (True, 3661, "01:01:01"),
        (True, 6 * 3600 - 0.6, "05:59:59"),
        (True, 86399.6, "00:00:00"),
        (True, 86400 + 45296, "12:34:56"),
        (True, 0.4, "00:00:00"),
        (False, 5, "0:05.0"),
        (False, 125.26, "2:05.3"),
        (False, 59.96, "1:00.0"),
        (False, 7200, "120:00.0"),
    ],
)
def test_a_moment_is_shown_as_clock_or_minutes(is_clock, seconds, said):
    assert shown_time(SimpleNamespace(is_clock=is_clock), seconds) == said


class TestArrays:
    @pytest.mark.parametrize("kind", ["ns", "us", "ms", "objects"])
    def test_moments_count_from_midnight_as_those_of_a_file_do(self, kind):
        moments = np.datetime64(MOMENT) + (LOG.time * 1e6).astype("timedelta64[us]")
        given = moments.tolist() if kind == "objects" else moments.astype(f"datetime64[{kind}]")
        log, plain = gf.read_log(power=LOG.power, time=given), gf.read_log(power=LOG.power, time=LOG.time)
        assert log.clock == str(MOMENT) and log.is_clock
        midnight = (6 * 60 + 30) * 60 + 15
        assert [part.start - midnight for part in log.parts] == pytest.approx([part.start for part in plain.parts], abs=0.01)
        at = MOMENT + timedelta(seconds=plain.parts[0].start)
        assert abs((datetime.combine(at, time.fromisoformat(shown_time(log, log.parts[0].start))) - at).total_seconds()) <= 0.51

    def test_moments_with_an_offset_are_read_as_they_stand(self, recwarn):
        zone = timezone(timedelta(hours=5))
        moments = [None, *(MOMENT.replace(tzinfo=zone) + timedelta(seconds=float(each)) for each in LOG.time[1:])]
        assert gf.read_log(power=LOG.power, time=moments[1:] + moments[:1]).clock == str(MOMENT) and not len(recwarn)

    def test_spans_of_time_are_seconds(self):
        log = gf.read_log(power=LOG.power, time=(LOG.time * 1e6).astype("timedelta64[us]"))
        assert not log.is_clock and log.parts[0].start == gf.read_log(power=LOG.power, time=LOG.time).parts[0].start

    def test_moments_that_are_not_known_are_passed_over_and_none_at_all_is_one_line(self):
        moments = np.datetime64(MOMENT) + (LOG.time * 1e6).astype("timedelta64[us]")
        moments[:3] = np.datetime64("NaT")
        assert gf.read_log(power=LOG.power, time=moments).clock == "2026-03-02 06:30:15"
        for unknown in ("NaT", "20000-01-01"):
            with pytest.raises(ValueError, match="time must be moments of the years 1 to 9999"):
                gf.read_log(power=LOG.power, time=np.full(len(moments), np.datetime64(unknown)))
        with pytest.raises(ValueError, match=r"time must be readable \(got no row with a time\)"):
            gf.read_log(power=LOG.power, time=np.full(len(moments), np.nan))

    @pytest.mark.parametrize("name", ["rpm", "contact"])
    def test_every_channel_has_as_many_values(self, name):
        with pytest.raises(ValueError, match=f"{name} must have as many values as power, 50 .got 49"):
            gf.read_log(power=np.ones(50), interval=0.1, **{name: np.ones(49)})

    def test_rows_without_a_time_leave_all_channels_together(self):
        seconds = LOG.time.copy()
        seconds[::7] = np.nan
        log = gf.read_log(power=LOG.power, time=seconds, rpm=LOG.rpm, contact=LOG.contact)
        assert [part.work_rpm for part in log.parts] == np.repeat(RPMS[:4], 2).tolist()
        assert log.trace.rows == np.isfinite(seconds).sum() and len(log.trace.power) == pytest.approx(len(LOG.time), abs=2)

    def test_without_a_kind_power_is_said_to_be_taken_as_kilowatts(self):
        said = [gf.read_log(power=LOG.power, time=LOG.time, load_kind=kind).remarks for kind in (None, "power")]
        assert [any("taken as kW" in remark for remark in remarks) for remarks in said] == [True, False]


class TestInterval:
    """What is typed goes before the time in the file, that before the line above the rows."""

    TIMES = dict(
        seconds=("time [s]", [0.1 * row for row in range(400)]),
        stamps=("time", [f"2026-03-04 10:{row // 600:02d}:{row / 10 % 60:04.1f}" for row in range(400)]),
        counts=("time", [100 * row for row in range(400)]),  # of which nobody knows of what
        none=(None, [None] * 400),
    )

    @pytest.mark.parametrize("ending", ["csv", "xlsx"])
    @pytest.mark.parametrize("time", TIMES)
    def test_the_interval(self, time, ending, tmp_path):
        head, times = self.TIMES[time]
        columns = [[head, *times], ["power [kW]", *(1 + row % 7 for row in range(400))]][head is None :]
        rows = [["interval", 0.5, "s"], *map(list, zip(*columns))]
        path = tmp_path / f"log.{ending}"
        write_rows(rows, path)
        log = gf.read_log(path, interval=0.25)
        assert log.duration == pytest.approx(100) and (log.clock, log.is_clock, log.trace.start) == ("", False, 0)
        if time == "counts":
            with pytest.raises(
                ValueError, match="time must have a unit .got steps of 100 .*; write time .ms. above it, or say interval"
            ):
                gf.read_log(path)
        else:
            log = gf.read_log(path)
            assert log.duration == pytest.approx(200 if time == "none" else 40)
            assert (log.clock, log.is_clock) == (("2026-03-04 10:00:00", True) if time == "stamps" else ("", False))

    def test_of_arrays_too(self):
        moments = np.datetime64("2026-03-04T10:00:00") + (np.arange(400) * 1e5).astype("timedelta64[us]")
        log = gf.read_log(power=np.arange(400.0) % 7, time=moments, interval=0.25)
        assert log.duration == pytest.approx(100) and (log.clock, log.is_clock) == ("", False)


class TestBetween:
    POWER = 1 + 1e-3 * np.arange(600)

    @pytest.mark.parametrize("options", [dict(interval=0.1), dict(time=50 + 0.1 * np.arange(600))], ids=["interval", "time"])
    @pytest.mark.parametrize(
        "between, first, last",
        [((10, 20), 100, 200), ("0:10-0:20", 100, 200), ("10,5 - 20.5", 105, 205), ("10\u201320", 100, 200), ((0, 5.3), 0, 53)],
    )
    def test_it_is_from_the_first_row_on(self, options, between, first, last):
        trace = gf.read_log(power=self.POWER, between=between, **options).trace
        assert trace.power[0] == pytest.approx(1 + 1e-3 * first)
        assert trace.power[-1] == pytest.approx(1 + 1e-3 * last, abs=1.1e-3)  # the last row with or without

    @pytest.mark.parametrize("options", [dict(interval=0.1), dict(time=50 + 0.1 * np.arange(600))], ids=["interval", "time"])
    def test_all_channels_are_cut_alike(self, options):
        trace = gf.read_log(
            power=self.POWER, rpm=np.arange(600.0), contact=np.arange(600) % 2, between=(10.1, 20), **options
        ).trace
        assert trace.rpm[0] == 101 == round(1e3 * (trace.power[0] - 1)) and trace.contact[0] == 1
        assert trace.rpm.tolist() == pytest.approx(1e3 * (trace.power - 1)) and (trace.contact == trace.rpm % 2).all()

    @pytest.mark.parametrize("begin", ["0", "23:59:58"])
    def test_three_files_follow_one_another_whether_they_begin_at_0_or_go_on_over_midnight(self, begin, tmp_path):
        """4 s each; by the clock the second lies on midnight and the third behind it."""
        for number in range(3):
            stamps = [0.1 * row if begin == "0" else (86398 + 4 * number + 0.1 * row) % 86400 for row in range(40)]
            if begin != "0":
                stamps = [f"{s // 3600:02.0f}:{s % 3600 // 60:02.0f}:{s % 60:04.1f}" for s in stamps]
            else:
                stamps = [f"{stamp:.1f}" for stamp in stamps]
            rows = "".join(f"{stamp};{1 + 0.01 * (40 * number + row):.2f}\n" for row, stamp in enumerate(stamps))
            (tmp_path / f"{number}.csv").write_text("time [s];power [kW]\n" + rows, encoding="utf-8")
        trace = gf.read_log([tmp_path / f"{number}.csv" for number in range(3)]).trace
        assert (
            trace.rows == 120 and trace.power == pytest.approx(1 + 0.01 * np.arange(120)) and trace.interval == pytest.approx(0.1)
        )

    def test_of_several_files_it_counts_from_the_first_row_of_the_first(self, tmp_path):
        """Files that each begin at 0, a row apart: 4 s are 40 rows, so that 3 to 6 s are rows 30 to 60."""
        for name, first in (("a.csv", 0), ("b.csv", 40)):
            rows = "".join(f"{0.1 * row:.1f};{1 + 0.01 * (first + row):.2f}\n" for row in range(40))
            (tmp_path / name).write_text("time [s];power [kW]\n" + rows, encoding="utf-8")
        trace = gf.read_log([tmp_path / "a.csv", tmp_path / "b.csv"], between="3-6").trace
        assert trace.power[0] == pytest.approx(1.3) and trace.power[-1] == pytest.approx(1.6, abs=0.011)

    @pytest.mark.parametrize("between", ["x", "1", "1-2-3", (1,), (1, "x"), 5, "1:2:3:4-5", "-5", (float("nan"), 3)])
    def test_what_is_no_span_is_one_line_with_the_form(self, between):
        with pytest.raises(
            ValueError,
            match="^arrays: between must be two times from the beginning, such as 0:30-41:00 or two numbers of seconds ",
        ):
            gf.read_log(power=self.POWER, interval=0.1, between=between)

    def test_a_row_at_either_end_belongs_to_it(self):
        trace = gf.read_log(power=self.POWER[:60], time=np.arange(60.0), between=(10, 40)).trace
        assert trace.rows == 31 and trace.start == 10

    @pytest.mark.parametrize("between", [(5, 5), (-1, 5), (7, 5), "5-5"])
    def test_it_is_from_an_earlier_to_a_later_time(self, between):
        with pytest.raises(ValueError, match="between must be"):
            gf.read_log(power=self.POWER, interval=0.1, between=between)

    def test_without_any_time_the_interval_is_asked_for(self):
        with pytest.raises(ValueError, match="interval must be known .got no time column.; say interval"):
            gf.read_log(power=self.POWER, between=(1, 2))


@pytest.fixture(scope="module")
def parted(tmp_path_factory):
    """A function that cuts the log, as written in a dialect, in two files before a row; each may be given its own clock."""
    folder = tmp_path_factory.mktemp("parted")

    def parted(dialect, row):
        lines = write(LOG, folder / "whole.csv", dialect).read_text(encoding="utf-8").splitlines()
        for name, rows in (("a.csv", lines[: row + 1]), ("b.csv", [lines[0], *lines[row + 1 :]])):
            (folder / name).write_text("\n".join(rows), encoding="utf-8")
        return gf.read_log([folder / "a.csv", folder / "b.csv"]), gf.read_log(folder / "whole.csv")

    return parted


class TestSeveralFiles:
    @pytest.mark.parametrize("dialect", ["clock over midnight", "ISO stamps", "ticks since 1601"])
    @pytest.mark.parametrize("row", [1000, 1900])  # midnight lies between them
    def test_the_clock_is_that_of_the_first_and_runs_on_over_midnight(self, parted, dialect, row):
        log, whole = parted(dialect, row)
        assert (log.clock, log.is_clock) == (whole.clock, True)
        assert [part.start for part in log.parts] == pytest.approx([part.start for part in whole.parts], abs=0.01)
        assert [part.net for part in log.parts] == pytest.approx([part.net for part in whole.parts])

    def joined(self, tmp_path, *times, kind=("kW", "kW")):
        """What is read of files with these times, of which a blank is one that is not known."""
        paths = []
        for number, (its, unit) in enumerate(zip(times, kind)):
            paths.append(tmp_path / f"{number}.csv")
            rows = "".join(f"{'' if each is None else round(each, 3)};{1 + 0.01 * number:.3f}\n" for each in its)
            paths[-1].write_text(f"time [s];power [{unit}]\n{rows}", encoding="utf-8")
        return gf.read_log(paths).trace

    @pytest.mark.parametrize("first", [0.0, 0.1, 0.95])
    def test_files_that_all_begin_anew_follow_one_another_a_row_apart(self, tmp_path, first):
        times = first + 0.1 * np.arange(40)
        trace = self.joined(tmp_path, times, times)
        assert trace.rows == 80 and not trace.holes and trace.start == first
        assert trace.interval == pytest.approx(0.1, rel=0.02)

    def test_a_time_that_is_not_known_at_the_end_of_a_file_loses_no_row_of_the_next(self, tmp_path):
        times = [*(0.1 * np.arange(40)), None]
        assert self.joined(tmp_path, times, [None, *times]).rows == pytest.approx(80, abs=1)

    @pytest.mark.parametrize("second, is_refused", [(4.0, False), (1.05, True)])
    def test_files_that_do_not_begin_anew_keep_their_times(self, tmp_path, second, is_refused):
        times = 0.1 * np.arange(40)
        if is_refused:
            with pytest.raises(ValueError, match="time must grow"):
                self.joined(tmp_path, times, second + times)
        else:
            assert self.joined(tmp_path, times, second + times).rows == 80

    @pytest.mark.parametrize("later, is_taken", [(13, True), (11, False)])
    def test_a_clock_that_falls_by_more_than_half_a_day_is_past_midnight(self, tmp_path, later, is_taken):
        paths = []
        for name, hour in (("a.csv", 18), ("b.csv", 18 - later)):
            rows = "".join(f"{hour:02d}:{each // 60:02d}:{each % 60:02d};{1 + each % 7}\n" for each in range(50))
            paths.append(tmp_path / name)
            paths[-1].write_text(f"time;power [kW]\n{rows}", encoding="utf-8")
        with pytest.raises(ValueError, match="holes that are longer than the log" if is_taken else "time must grow"):
            gf.read_log(paths)

    def test_a_clock_without_a_date_goes_on_behind_one_with_a_date(self, tmp_path):
        begin = datetime(2026, 3, 4, 23, 59, 40)
        for name, form, first in (("a.csv", "%Y-%m-%d %H:%M:%S", 0), ("b.csv", "%H:%M:%S", 30)):
            rows = [f"{begin + timedelta(seconds=second):{form}};{1 + second % 7}" for second in range(first, first + 30)]
            (tmp_path / name).write_text("time;power [kW]\n" + "\n".join(rows), encoding="utf-8")
        log = gf.read_log([tmp_path / "a.csv", tmp_path / "b.csv"])
        assert log.clock == "2026-03-04 23:59:40" and log.holes == ()
        assert log.trace.power.tolist() == [1 + second % 7 for second in range(60)]

    def test_a_clock_without_dates_that_ran_over_midnight_goes_on_the_day_after(self):
        clocks = [Clock(np.array(seconds, float), None, True) for seconds in ([50, 2 * 86400 - 60], [60, 70])]
        found = _seconds_in_a_row(clocks)
        assert [each.tolist() for each in found] == [[50, 172740], [172860, 172870]]

    def test_kinds_of_load_and_files_without_time_do_not_mix(self, tmp_path):
        times = 0.1 * np.arange(40)
        with pytest.raises(ValueError, match="1.csv: load_kind must be the same in all files, power .got current"):
            self.joined(tmp_path, times, times, kind=("kW", "A"))
        (tmp_path / "c.csv").write_text("power [kW]\n" + "1.5\n" * 40, encoding="utf-8")
        with pytest.raises(ValueError, match="c.csv: time must be in all files or in none .got a file with time and one without"):
            gf.read_log([tmp_path / "0.csv", tmp_path / "c.csv"])

    def test_a_channel_counts_where_all_files_have_it(self, tmp_path):
        rows = [f"{0.1 * row:.1f};{1 + row % 7};{120 + row};{row % 2}" for row in range(80)]
        heads = ["time [s]", "power [kW]", "work rpm", "contact"]
        for second, rpm, contact in ((4, True, True), (3, True, False), (2, False, False)):
            for name, own, count in (("a.csv", rows[:40], 4), ("b.csv", rows[40:], second)):
                text = [";".join(row.split(";")[:count]) for row in (";".join(heads), *own)]
                (tmp_path / name).write_text("\n".join(text), encoding="utf-8")
            trace = gf.read_log([tmp_path / "a.csv", tmp_path / "b.csv"]).trace
            assert trace.power.tolist() == [1 + row % 7 for row in range(80)]
            assert trace.rpm.tolist() == [*range(120, 200)] if rpm else trace.rpm is None
            assert trace.contact.tolist() == [0, 1] * 40 if contact else trace.contact is None

    @pytest.mark.parametrize("book", [False, True])
    def test_files_without_a_time_have_one_interval(self, book, tmp_path):
        """Of two that differ the rows of one would be read at the pace of the other."""

        def read(*intervals, **options):
            paths = []
            for number, interval in enumerate(intervals):
                rows = [
                    *([["interval", interval, "s"]] if interval else []),
                    ["power [kW]"],
                    *([1 + row % 7] for row in range(40)),
                ]
                paths.append(tmp_path / f"{number}.{'xlsx' if book else 'csv'}")
                if book:
                    workbook = Workbook()
                    for row in rows:
                        workbook.active.append(row)
                    workbook.save(paths[-1])
                else:
                    paths[-1].write_text("\n".join(";".join(map(str, row)) for row in rows), encoding="utf-8")
            return gf.read_log(paths, **options)

        assert read(0.2, 0.2).duration == pytest.approx(16)
        assert read(0.2, 0.5, interval=0.25).duration == pytest.approx(20) == read(None, 0.5, interval=0.25).duration
        for one, other, said in (
            (0.2, 0.5, "0.2 s (got 0.5 s)"),
            (None, 0.5, "none (got 0.5 s)"),
            (0.2, None, "0.2 s (got none)"),
        ):
            with pytest.raises(ValueError) as caught:
                read(one, other)
            assert str(caught.value).endswith(f"interval must be the same in all files, {said}")

    def test_a_file_that_is_not_there_is_named_once_behind_all_of_them(self, tmp_path):
        (tmp_path / "a.csv").write_text("power [kW]\n" + "1.5\n" * 40, encoding="utf-8")
        with pytest.raises(ValueError, match=r"^a\.csv, none\.csv: none\.csv: must be a file that exists$"):
            gf.read_log([tmp_path / "a.csv", tmp_path / "none.csv"])
        with pytest.raises(ValueError, match=r"^none\.csv: must be a file that exists$"):
            gf.read_log([tmp_path / "none.csv"])

    def test_a_remark_on_both_files_is_said_once(self, parted):
        log, whole = parted("seconds", 1000)
        assert [remark for remark in log.remarks if remark.startswith("Columns read")] == list(whole.remarks[:1])


class TestColumns:
    def test_a_slow_channel_holds_its_last_value_at_each_time_of_the_power(self):
        clock = Clock(np.array([0.0, 1.0, np.nan, 2.0, 3.5, 9.0]), None)
        own = Clock(np.array([1.0, 2.0, np.nan, 3.0, 4.0]), None)
        held = _on_time_of(clock, own, np.array([120.0, 130.0, 1.0, np.nan, 140.0]))
        assert np.isnan(held[2]) and held[[0, 1, 3, 4, 5]].tolist() == [120, 120, 130, 130, 140]
        assert np.isnan(_on_time_of(clock, own, np.full(5, np.nan))).all()

    def test_pieces_are_put_behind_one_another(self):
        growing = _Growing(np.float32)
        pieces = [np.arange(n, dtype=np.float32) for n in (3, 0, 1, 50, 2, 400)]
        for piece in pieces:
            growing.add(piece)
        assert growing.whole().tolist() == np.concatenate(pieces).tolist() and growing.whole().dtype == np.float32

    @pytest.mark.parametrize("cells, is_text", [("1:0 1:1 5", True), ("1:0 5", False), ("5 1:0 6", False), ("1:0", True)])
    def test_a_column_is_of_stamps_where_most_cells_have_a_colon(self, cells, is_text):
        rows = [["x", cell] for cell in cells.split()] + [["x"], ["x", ""]]
        assert _is_text(rows, 1) == is_text

    @pytest.mark.parametrize("ending", ["csv", "xlsx"])
    def test_a_date_in_a_column_of_its_own_is_the_day_of_each_row(self, ending, tmp_path):
        """Two days lie between the halves, which no clock alone can tell."""
        path, rows = tmp_path / f"log.{ending}", [["Date", "Time", "power [kW]", "Clock", "work rpm"]]
        for row in range(60):
            rows.append([f"{4 + 2 * (row > 29)}.3.2026", f"10:00:{row:02d}", 1 + row % 7, f"10:00:{row:02d}", 120 + row])
        write_rows(rows, path)
        with pytest.raises(ValueError, match="a step of 172801 s"):
            gf.read_log(path)
        log = gf.read_log(path, between=(0, 29))
        assert log.clock == "2026-03-04 10:00:00" and "time from 'Time', date from 'Date'" in log.remarks[0]
        assert log.trace.rpm.tolist() == [*range(120, 150)]  # by the clock beside it, which has no date

    @pytest.mark.parametrize("heads", [("Date", "Time"), ("Time", "Date")])
    def test_dates_and_clock_times_in_cells_of_their_own_are_one_moment(self, heads, tmp_path):
        """As a text file that a spreadsheet program has opened and saved; two days lie between the halves, or midnight."""
        for first, half, is_long in ((datetime(2026, 3, 4, 10), 2 * 86400, True), (datetime(2026, 3, 4, 23, 59, 40), 0, False)):
            book = Workbook()
            book.active.append([*heads, "power [kW]"])
            for row in range(60):
                moment = first + timedelta(seconds=row + half * (row > 29))
                cells = dict(Date=moment.date(), Time=moment.time())
                book.active.append([*(cells[head] for head in heads), 1 + row % 7])
            path = tmp_path / f"{half}.xlsx"
            book.save(path)
            if is_long:
                with pytest.raises(ValueError, match="a step of 172801 s"):
                    gf.read_log(path)
            log = gf.read_log(path, between=(0, 29.5))
            assert log.clock == str(first) and log.is_clock and log.trace.power.tolist() == [1 + row % 7 for row in range(30)]
            assert log.remarks[:2] == (
                "Columns read: time from 'Time', power from 'power [kW]'.",
                "The day of each row is from 'Date'.",
            )

    @pytest.mark.parametrize("whole", [False, True])
    def test_other_cells_of_dates_and_times_are_not_the_day_of_a_row(self, whole, tmp_path):
        """Where a cell holds the whole moment no other date counts; the clock of the work rpm is ten seconds behind, and has no date."""
        first, book = datetime(2026, 3, 4, 23, 59, 40), Workbook()
        book.active.append(["shift", "off", "Date", "Time", "power [kW]", "Clock", "work rpm"])
        for row in range(40):
            moment, earlier = first + timedelta(seconds=row), first + timedelta(seconds=row - 10)
            shown = moment if whole else moment.time()
            book.active.append([datetime(2026, 3, 4, 6), time(0), moment.date(), shown, 1 + row % 7, earlier.time(), 120 + row])
        book.save(tmp_path / "log.xlsx")
        log = gf.read_log(tmp_path / "log.xlsx")
        assert log.clock == str(first) and log.trace.power.tolist() == [1 + row % 7 for row in range(40)]
        assert any("The day of each row is from 'Date'" in remark for remark in log.remarks) != whole
        assert whole or log.trace.rpm.tolist() == pytest.approx([*range(130, 160), *[159] * 10], abs=1)

    def test_the_date_is_that_of_the_power_and_a_channels_own_clock_runs_on_over_midnight(self, tmp_path):
        """The work rpm of each row was read ten seconds before its power, on the day before in some."""
        begin, rows = datetime(2026, 3, 4, 23, 59, 40), ["Date;Time;power [kW];Clock;work rpm"]
        for row in range(40):
            now, then = begin + timedelta(seconds=row), begin + timedelta(seconds=row - 10)
            rows.append(f"{now:%d.%m.%Y};{now:%H:%M:%S};{1 + row % 7};{then:%H:%M:%S};{120 + row}")
        (tmp_path / "log.csv").write_text("\n".join(rows), encoding="utf-8")
        log = gf.read_log(tmp_path / "log.csv")
        assert log.clock == str(begin) and log.trace.rpm.tolist() == [*range(130, 160), *[159] * 10]

    @pytest.mark.parametrize("kind", ["texts", "clock times over midnight", "truths"])
    def test_a_workbook_holds_stamps_as_texts_clock_times_and_words_for_contact(self, kind, tmp_path):
        book = Workbook()
        book.active.append(["Time", "Power [kW]", "contact"])
        begin = datetime(2026, 3, 4, 23, 57, 10)
        for seconds, power, cuts in zip(LOG.time, LOG.power, LOG.contact):
            moment = begin + timedelta(seconds=float(seconds))
            shown = {"texts": f"{moment:%Y-%m-%d %H:%M:%S.%f}", "clock times over midnight": moment.time()}.get(
                kind, float(seconds)
            )
            book.active.append([shown, float(power), ("on" if cuts else "off") if kind == "truths" else None])
        book.save(tmp_path / "log.xlsx")
        log = gf.read_log(tmp_path / "log.xlsx")
        assert len(log.parts) == 8 and log.is_clock == (kind != "truths")
        assert log.clock == (str(begin) if kind == "texts" else "")
        assert (log.trace.contact is not None) == (kind == "truths")
        assert kind == "truths" or 86_400 - 171 < log.trace.start < 86_400 < log.parts[-1].end
