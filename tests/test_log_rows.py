"""Rows of a power log before a part is looked for: equal steps of time, dialects of text files, which column is what."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulated_logs import DIALECTS, RPMS, simulate, write

import gritfuncs as gf
from gritfuncs.trial.log import text_log, trace
from gritfuncs.trial.log.columns import choose, headings_of
from gritfuncs.trial.log.text_log import Dialect, _Reader, dialect, interval_in, pieces
from gritfuncs.trial.log.trace import _block_means, _grid, _held, _quantum, _time_weighted, as_numbers, trace_of

LOG = simulate(rpms=RPMS[:2])


@pytest.fixture(params=[1_000_000, 7], ids=["whole", "in chunks"])
def chunk(request, monkeypatch):
    """Long logs are looked through a million rows at a time; nothing may depend on where these end."""
    monkeypatch.setattr(trace, "_CHUNK", request.param)


@pytest.mark.usefixtures("chunk")
class TestGrid:
    @pytest.mark.parametrize("odd", [0, 6, 7, 20, 28])
    def test_a_longer_step_is_a_hole_wherever_it_is(self, odd):
        steps = np.full(29, 0.1)
        steps[odd] = 0.4
        start, places, step, changes_only = _grid(5 + np.concatenate(([0], np.cumsum(steps))))
        assert (start, step, changes_only) == (5, pytest.approx(0.1), False)
        assert places.tolist() == [*range(odd + 1), *range(odd + 4, 33)]

    @pytest.mark.parametrize("row", [1, 6, 7, 8, 14, 28, 29])
    def test_time_that_runs_back_is_named_with_its_row(self, row):
        time = 0.1 * np.arange(30)
        time[row] = time[row - 1] - 0.05
        with pytest.raises(ValueError, match=rf"time must grow .*s in value {row + 1}\)"):
            _grid(time)

    @pytest.mark.parametrize("row", [1, 7, 8, 28])
    def test_two_rows_of_one_time_are_spread(self, row):
        time = np.arange(30.0)
        time[row] = time[row - 1]
        _, places, step, _ = _grid(time)
        assert step == pytest.approx(1, rel=0.05) and (places is None or (np.diff(places) > 0).all())

    def test_even_steps_need_no_places_and_their_mean_counts(self):
        start, places, step, _ = _grid(3 + 0.1 * np.arange(30) + 0.02 * np.sin(np.arange(30)))
        assert places is None and start == 3 and step == pytest.approx(0.1, rel=0.01)

    @pytest.mark.parametrize("share, is_even", [(0.04, True), (0.07, False)])
    def test_steps_whose_mean_is_not_the_usual_one_are_placed(self, share, is_even):
        """A tenth of the steps are longer by 45 %, which is none that is odd."""
        steps = np.full(100, 0.1)
        steps[: round(100 * share / 0.45)] = 0.145
        assert (_grid(np.concatenate(([0], np.cumsum(steps))))[1] is None) == is_even

    @pytest.mark.parametrize("last", [20, 3e6])
    def test_a_log_of_changes_has_at_most_a_million_steps(self, last):
        random = np.random.default_rng(2)
        time = 1e6 + np.concatenate(([0], np.sort(random.uniform(0.05, 0.95, 28)) * last, [last]))
        start, places, step, changes_only = _grid(time)
        assert changes_only and start == 1e6 and step == pytest.approx(max(0.1, last / 1e6))
        assert np.abs(start + places * step - time).max() <= step + 1e-6

    @pytest.mark.parametrize("time", [[0, np.nan, 2], [1e13, 1e13 + 1, 1e13 + 2], [-1e13, 0, 1]])
    def test_times_that_are_none(self, time):
        with pytest.raises(ValueError, match=r"time must be (known in every row .*none in value 2|at most 1e\+12 s .*1e\+13)"):
            _grid(np.array(time, float))

    @pytest.mark.parametrize("width", [1, 2, 3, 7, 10])
    def test_means_of_blocks_are_those_of_numpy(self, width):
        values = np.random.default_rng(3).normal(size=53)
        values[[5, 6, 20, 30, 31, 32, 33]] = np.nan
        whole = values[: len(values) // width * width].reshape(-1, width)
        known = np.isfinite(whole).sum(1)
        expected = [np.nanmean(row) if count and 2 * count >= width else np.nan for row, count in zip(whole, known)]
        assert np.allclose(_block_means(values, width), expected, equal_nan=True)


class TestChannels:
    @given(st.lists(st.tuples(st.integers(0, 9), st.floats(-5, 5)), min_size=1, max_size=12))
    def test_values_hold_to_the_next_and_of_several_in_one_step_the_mean_stands(self, rows):
        """With the value before them, which held while the step began."""
        rows = sorted(rows, key=lambda row: row[0])
        rows = [(place - rows[0][0], value) for place, value in rows]
        expected, held = [], rows[0][1]
        for step in range(12):
            own = [value for place, value in rows if place == step]
            last = own[-1] if own else held
            before = held if step else last
            expected.append((sum(own) + before) / (len(own) + 1) if own else held)
            held = last
        places, values = np.array([place for place, _ in rows]), np.array([value for _, value in rows])
        assert _time_weighted(values, places, 12) == pytest.approx(expected)

    def test_a_slow_channel_is_read_in_the_middle_of_a_block(self):
        channel = np.array([1.0, np.nan, 2.0, 3.0])
        assert _held(channel, None, 2, 2).tolist() == [1, 3]
        assert _held(channel, np.array([0, 9, 14, 15]), 10, 4).tolist() == [1, 3, 3, 3]
        assert _held(channel, np.array([6, 9, 16, 26]), 10, 3).tolist() == [1, 1, 2]
        assert _held(None, None, 2, 2) is None and _held(np.full(4, np.nan), None, 2, 2) is None

    @pytest.mark.parametrize(
        "values, step",
        [
            (np.round(np.linspace(0, 40, 500)), 1.0),
            (np.round(np.linspace(0, 49, 500)) / 10, 0.1),
            (np.linspace(0, 49, 500), 0.0),
            (np.repeat(np.arange(51.0), 3), 0.0),
            (np.repeat(np.arange(50.0), 3), 1.0),
            (np.repeat(np.arange(90.0), 12), 1.0),
            (np.repeat(np.arange(90.0), 9), 0.0),
            (np.repeat(np.arange(90.0), 10), 1.0),  # a tenth of the rows
            (np.repeat(np.arange(90.0), 10)[1:], 0.0),
            (np.ones(500), 0.0),
            (np.array([1.0, 3.0, np.nan] * 100), 2.0),
            (np.array([1.0, 1.0 + 1e-12, 2.0] * 100), 1.0),
        ],
    )
    def test_the_step_of_a_meter_is_seen_where_it_shows_few_values(self, values, step):
        assert _quantum(values) == pytest.approx(step)

    @pytest.mark.parametrize(
        "values, kind",
        [
            ([1, 2, None], "float64"),
            (np.ones(3, np.float32), "float32"),
            (np.ones(3, np.float16), "float64"),
            ([True, False, True], "float64"),
            (["1", "2.5", None], "float64"),
        ],
    )
    def test_columns_become_numbers_of_enough_figures(self, values, kind):
        assert as_numbers("power", values).dtype == kind and len(as_numbers("power", values)) == 3

    @pytest.mark.parametrize("values", [np.ones((3, 2)), 5.0, ["x"], [1j], [object()], "12"])
    def test_what_are_no_columns_of_numbers(self, values):
        with pytest.raises(ValueError, match="rpm must be numbers in one column"):
            as_numbers("rpm", values)

    @pytest.mark.parametrize("ends", [slice(0, 3), slice(397, 400)])
    def test_values_that_are_missing_at_either_end_are_not_made_up(self, ends):
        power = np.linspace(1, 2, 400)
        power[ends] = np.nan
        read = trace_of(None, power, None, None, 0.1)
        assert read.filled == 0 and read.missing[ends].all() and read.missing.sum() == 3

    @pytest.mark.parametrize("interval, rows, width", [(0.01, 2000, 10), (0.04, 600, 2), (0.1, 400, 1), (0.3, 400, 1)])
    def test_rows_are_condensed_to_tenths_of_a_second(self, interval, rows, width):
        read = trace_of(None, np.linspace(1, 2, rows), None, None, interval)
        assert read.interval == pytest.approx(width * interval) and len(read.power) == rows // width
        assert read.row_interval == interval and read.rows == rows
        assert read.power[3] == pytest.approx(np.linspace(1, 2, rows)[3 * width : 4 * width].mean())

    def test_a_log_shorter_than_two_seconds_is_refused(self):
        assert len(trace_of(None, np.linspace(1, 2, 200), None, None, 0.01).power) == 20
        with pytest.raises(ValueError, match=r"power must cover at least 2 s \(got 1.9 s\)"):
            trace_of(None, np.linspace(1, 2, 199), None, None, 0.01)
        with pytest.raises(ValueError, match="power must have at least 20 values"):
            trace_of(None, np.linspace(1, 2, 19), None, None, 1.0)

    @pytest.mark.parametrize("share, is_mended", [(0.4, True), (0.6, False)])
    def test_a_meter_that_shows_zero_for_half_the_time_did_not_drop_out(self, share, is_mended):
        power = np.tile(np.where(np.arange(10) < 10 * share, 0.0, 2.0), 40)
        assert (trace_of(None, np.concatenate(([2.0], power, [2.0])), None, None, 0.1).filled > 0) == is_mended

    def test_the_share_of_rows_at_the_highest_value_is_kept(self):
        power = np.linspace(1, 2, 400)
        power[100:105] = 3.0
        at_top = trace_of(None, power, None, None, 0.01).at_top
        assert at_top[10] == 0.5 and at_top.sum() == 0.5


class TestText:
    QUICK = [
        name
        for name in DIALECTS
        if name not in ("rows and interval above", "decimal comma in quotes", "words for missing values")
    ]

    @pytest.mark.parametrize("name", QUICK)
    def test_the_usual_dialects_are_read_quickly(self, name, tmp_path, monkeypatch):
        """By numpy's reader, not cell by cell."""

        def slowly(self, text):
            raise AssertionError(text[:200])

        monkeypatch.setattr(_Reader, "_row_by_row", slowly)
        assert gf.read_log(write(LOG, tmp_path / "log.csv", name)).parts

    @pytest.mark.parametrize("comma", [False, True])
    def test_and_so_are_cells_in_quotes(self, comma, tmp_path, monkeypatch):
        monkeypatch.setattr(_Reader, "_row_by_row", None)
        lines = "".join(f'"{0.1 * row:.1f}";"{1 + row % 7}.25"\n' for row in range(40))
        (tmp_path / "log.csv").write_text(
            "time [s];power [kW]\n" + (lines.replace(".", ",") if comma else lines), encoding="utf-8"
        )
        assert gf.read_log(tmp_path / "log.csv").trace.power == pytest.approx([1.25 + row % 7 for row in range(40)])

    @pytest.mark.parametrize(
        "name", ["seconds", "decimal comma", "ISO stamps", "blanks between columns", "slow channel with blanks"]
    )
    def test_pieces_of_a_file_make_the_same_whole(self, name, tmp_path, monkeypatch):
        path = write(LOG, tmp_path / "log.csv", name)
        whole = gf.read_log(path)
        monkeypatch.setattr(text_log, "_PIECE", 1000)
        told = []
        parted = gf.read_log(path, progress=told.append)
        assert parted.parts == whole.parts and parted.remarks == whole.remarks
        assert len(told) > 20 and told == sorted(told) and 0 < told[0] < 0.1 and told[-1] == 1

    def test_progress_is_the_share_of_the_file_that_has_been_read(self, tmp_path, monkeypatch):
        monkeypatch.setattr(text_log, "_PIECE", 40)
        path, told = tmp_path / "log.csv", []
        path.write_bytes(b"1;2\n" * 50)
        assert len(list(pieces(path, Dialect("utf-8", ";", ".", False, 0, [], [], None), [0, 1], [], told.append))) == 5
        assert told == [0.2, 0.4, 0.6, 0.8, 0.99, 1]

    def test_a_line_longer_than_a_piece_and_one_without_an_end_are_read(self, tmp_path, monkeypatch):
        path = tmp_path / "log.csv"
        path.write_text("time;power;note\n" + "\n".join(f"{t};{1 + t};{'x' * 90}" for t in range(9)), encoding="utf-8")
        monkeypatch.setattr(text_log, "_PIECE", 50)
        found = list(pieces(path, Dialect("utf-8", ";", ".", False, 1, [], [], None), [0, 1], []))
        assert np.concatenate([piece.columns[1] for piece in found]).tolist() == [1 + t for t in range(9)]

    @pytest.mark.parametrize(
        "text, delimiter, first",
        [
            ("a;b\n1,5;2\n1,6;3\n1,7;4\n", ";", 1),
            ("a,b\n1.5,2\n1.6,3\n1.7,4\n", ",", 1),
            ("1.5\t2\n1.6\t3\n1.7\t4\n", "\t", 0),
            ("a|b\n1|2\n1|3\n1|4\n", "|", 1),
            ("a b\n1 2\n1   3\n1 4\n", " ", 1),
            ("power\n1,5\n1,6\n1,7\n", ";", 1),  # a decimal comma: one column
            ("a,b\n1,5\n1,6\n1,7\n", ",", 1),  # two columns of whole numbers
            ("1,5\n1,6\n1,7\n", ";", 0),
            ("0.1,5\n0.2,6\n0.3,7\n", ",", 0),
            ("10:00:01;1\n10:00:02;2\n10:00:03;3\n", ";", 0),
            ("x\nin 2026\n\na;b\nkW;s\n1;2\n1;3\n1;4\n", ";", 5),
            ("5;6\ntext;more\na;b\n1;2\n1;3\n1;4\n1;5\n", ";", 3),  # a row of numbers above is none of the data
            ("a;b;c\n1;2;\n1;;3\n1;4;5\n", ";", 1),
        ],
    )
    def test_delimiter_and_first_row(self, text, delimiter, first, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        how = dialect(path)
        assert (how.delimiter, how.first) == (delimiter, first) and how.sample

    @pytest.mark.parametrize("size", range(90, 100))
    def test_of_a_long_file_the_line_that_is_cut_tells_nothing(self, size, tmp_path, monkeypatch):
        monkeypatch.setattr(text_log, "_HEAD", size)
        path = tmp_path / "log.csv"
        path.write_text("Zähler;µ\n" + "1,25;3,5;µµ\n" * 90, encoding="utf-8")
        how = dialect(path)
        assert (how.encoding, how.delimiter, how.decimal) == ("utf-8", ";", ",")
        assert how.sample == [["1,25", "3,5", "µµ"]] * len(how.sample) and 5 <= len(how.sample) <= 6

    def test_a_short_file_counts_to_its_last_line_without_an_end(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text("a;b\n1;2\n1;3\n1;4", encoding="utf-8")
        assert dialect(path).sample == [["1", "2"], ["1", "3"], ["1", "4"]]

    @pytest.mark.parametrize(
        "data, encoding",
        [
            ("a;b\n1;2\n1;2\n1;2\n".encode("utf-16"), "utf-16-le"),
            (b"\xfe\xff" + "a;b\n1;2\n1;2\n1;2\n".encode("utf-16-be"), "utf-16-be"),
            (b"\xef\xbb\xbfa;b\n1;2\n1;2\n1;2\n", "utf-8-sig"),
            (b"\xb5;b\n1;2\n1;2\n1;2\n", "cp1252"),
            ("µ;b\n1;2\n1;2\n1;2\n".encode(), "utf-8"),
        ],
    )
    def test_the_encoding_is_told_by_its_mark_or_by_what_can_be_read(self, data, encoding, tmp_path):
        path = tmp_path / "log.csv"
        path.write_bytes(data)
        how = dialect(path)
        assert how.encoding == encoding and how.above[0][0].lstrip("\ufeff") in ("a", "µ") and len(how.sample) == 3

    @pytest.mark.parametrize("cut", [False, True])
    def test_a_byte_that_is_no_letter_is_shown_as_such(self, cut, tmp_path, monkeypatch):
        """So that no heading is recognised by what is left of it."""
        path = tmp_path / "log.csv"
        path.write_bytes(b"\xb5;powe\x81r\n" + b"1;2\n" * 9)
        if cut:
            monkeypatch.setattr(text_log, "_HEAD", 40)
        assert dialect(path).above == [["µ", "powe\ufffdr"]]

    @pytest.mark.parametrize(
        "yes, no", [("true", "false"), ("ON", "off"), ("wahr", "FALSCH"), ("vrai", "faux"), ("Vero", "falso")]
    )
    def test_contact_may_be_said_in_words(self, yes, no, tmp_path):
        rows = "".join(f"{0.1 * row:.1f};{1 + row % 7};{yes if row > 20 else no}\n" for row in range(40))
        (tmp_path / "log.csv").write_text("time [s];power [kW];contact\n" + rows, encoding="utf-8")
        assert gf.read_log(tmp_path / "log.csv").trace.contact.tolist() == [0] * 21 + [1] * 19

    @pytest.mark.parametrize("rows, is_read", [(3, True), (2, False)])
    def test_three_rows_are_needed(self, rows, is_read, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text("a;b\n" + "1;2\n" * rows, encoding="utf-8")
        if is_read:
            assert len(dialect(path).sample) == 3
        else:
            with pytest.raises(ValueError, match=r"must have rows of numbers with power in a column \(got a;b\)"):
                dialect(path)

    @pytest.mark.parametrize(
        "line, seconds",
        [
            ("interval = 0.1 s", 0.1),
            ("interval;0,1;s", 0.1),
            ("Interval: 100 ms", 0.1),
            ("sampling rate: 10 Hz", 0.1),
            ("rate 10", 0.1),
            ("frequency, 2 kHz", 0.0005),
            ("sample interval [s]: 0.2", 0.2),
            ("dt\t500\tµs", 0.0005),
            ("Abtastrate: 50", 0.02),
            ("period = 2 min", 120.0),
            ("log interval = 0.5 sec.", 0.5),
            ("interval = 0.1", None),  # of what?
            ("interval = 0 s", None),
            ("interval = -1 s", None),
            ("power (10 Hz) [kW]", 0.1),
            ("power 1.5 kHz", 1 / 1500),
            ("a 10 Hz;b 10 Hz", 0.1),
            ("a 10 Hz;b 20 Hz", None),
            ("a 0 Hz", None),
            ("A10 Hz", None),
            ("frequency [kHz]: 2", 0.0005),
            ("sample interval (ms);100", 0.1),
            ("rate of the meter [Hz] = 5", 0.2),
        ],
    )
    def test_an_interval_above_the_data(self, line, seconds):
        assert interval_in(["invented log", line]) == (None if seconds is None else pytest.approx(seconds))

    def test_every_name_of_an_interval_is_known_and_every_unit(self):
        names = (
            "interval, period, time step, timestep, dt, delta t, deltat, increment, Abtastintervall, Intervall, intervalle, "
            "sample interval, sampling period, scan interval, log interval, logging interval, time interval, # interval"
        )
        for name in names.split(", "):
            for unit, size in (("s", 1), ("sec", 1), ("seconds", 1), ("ms", 1e-3), ("us", 1e-6), ("µs", 1e-6), ("min", 60)):
                for line in (f"{name} = 2.5 {unit}", f"{name} [{unit}]: 2,5", f"{name};2.5;{unit}", f"{name}\t2.5\t({unit})"):
                    assert interval_in([line]) == pytest.approx(2.5 * size), line
        for name in ("rate", "frequency", "Abtastrate", "sample rate", "sampling frequency", "scan rate", "log rate"):
            for unit, size in (("Hz", 1), ("kHz", 1e3), ("1/s", 1), ("", 1)):
                assert interval_in([f"{name} = 5 {unit}"]) == pytest.approx(1 / 5 / size), (name, unit)
            assert interval_in([f"{name} = 5 ms"]) == pytest.approx(5e-3)
        assert interval_in(["temperature = 5 s", "interval = 2 s", "interval = 3 s"]) == 2  # the first that is one
        assert interval_in(["note (10 Hz)", "interval = 2 s"]) == 2


class TestColumns:
    SAMPLE = [["0.1", "1.5", "120"]] * 9

    @pytest.mark.parametrize(
        "above, expected",
        [
            ([["a", "b"], ["time", "power"]], [("time", ""), ("power", "")]),
            ([["time", "power"], ["s", "kW"]], [("time", "s"), ("power", "kW")]),
            ([["time", "power"], ["[ms]", "(W)"]], [("time", "ms"), ("power", "W")]),
            ([["time", "power"], ["x", "y"]], [("time", ""), ("power", "")]),
            ([["one title"], ["s", "kW"]], [("", "s"), ("", "kW")]),
            ([["time [s]", "power"], ["min", "A"]], [("time", "min"), ("power", "A")]),
            ([], [("", ""), ("", "")]),
        ],
    )
    def test_headings_and_the_units_below_them(self, above, expected):
        assert [(heading.phrase, heading.unit) for heading in headings_of(above, 2)] == expected

    def chosen(self, *heads, sample=None, kind=None, **wanted):
        sample = sample or [["0.1"] * len(heads)] * 9
        return choose([list(heads)], sample, {role: wanted.get(role) for role in ("power", "time", "rpm", "contact")}, kind)

    @pytest.mark.parametrize(
        "heads, roles",
        [
            (("time", "power", "work rpm", "contact"), dict(time=0, power=1, rpm=2, contact=3)),
            (("No", "time [s]", "spindle power [kW]"), dict(time=1, power=2, rpm=None)),
            (("t", "power mean", "power max"), dict(time=0, power=1)),
            (("t", "power min", "power max", "power mean"), dict(time=0, power=3)),
            (("t", "load [%]", "power [kW]"), dict(time=0, power=2)),
            (("t", "current [A]", "load [%]"), dict(time=0, power=1)),
            (("t", "power", "wheel rpm"), dict(time=0, power=1, rpm=None)),
            (("t", "power", "wheel rpm", "workpiece speed"), dict(time=0, power=1, rpm=3)),
            (("t", "power", "work rpm", "work rpm"), dict(time=0, power=1, rpm=None)),  # which of the two?
            (("t1", "power", "t2", "work rpm"), dict(time=0, power=1, rpm=3)),
            (("[s]", "[kW]", "[1/min]"), dict(time=0, power=1, rpm=2)),
            (("t", "P [W]", "x [mm]"), dict(time=0, power=1)),
            (("t", "x [mm]", "motor [A]"), dict(time=0, power=2)),  # a place between them
            (("t [s]", "T1 [°C]", "power"), dict(time=0, power=2)),  # a temperature
            (("t [hh:mm:ss]", "power"), dict(time=0, power=1)),
            (("x", "power"), dict(time=0, power=1)),
            (("time", "day", "power"), dict(time=0, power=2, date=None)),  # days of a month or a year
            (("day", "time", "power"), dict(time=1, power=2, date=None)),
            (("t", "x [mm]", "wheel spindle [kW]"), dict(time=0, power=2)),
            (("seconds", "torque"), dict(time=0, power=1)),
            (("t", "power", "work spindle rpm"), dict(time=0, power=1, rpm=2)),
            (("t", "power", "workpiece spindle speed"), dict(time=0, power=1, rpm=2)),
            (("t", "power", "spindle rpm"), dict(time=0, power=1, rpm=None)),
            (("t", "y", "%"), dict(time=0, power=2)),
            (("t", "power [mm]", "load"), dict(time=0, power=2)),
            (("[s]", "[kW]", "[Hz]"), dict(time=0, power=1, rpm=None)),
        ],
    )
    def test_roles(self, heads, roles):
        chosen = self.chosen(*heads)
        assert {role: getattr(chosen, role) for role in roles} == roles

    @pytest.mark.parametrize(
        "names, role",
        [
            (
                "time, Timestamp, DateTime, datetime, date time, elapsed, Zeit, Uhrzeit, Zeitstempel, Zeitpunkt, temps, heure, horodatage, "
                "tempo, ora, tiempo, hora, elapsed time, relative time, time of day, seconds, Sekunden, secondes, secondi, clock, "
                "heure de mesure, ora di misura, date, Datum, Tag, jour, data, giorno, fecha, "
                "t, t1, t 2, x, time (s), [s], Date/Time, Day",
                "time",
            ),
            ("contact, in contact, contact signal, cycle signal, in cycle, cycle active, cycle running, infeed running, "
             "infeed active, in cut, grinding active, Kontakt, Anschnitt, Zustellung aktiv, contatto", "contact"),
            ("work rpm, workpiece rpm, workpiece speed, part rpm, Werkstückdrehzahl, Drehzahl Werkstück, vitesse piece, "
             "giri pezzo, velocità pezzo, velocità del pezzo, vitesse de la pièce, giri del pezzo, part actual rpm [1/min], "
             "work table speed, Werkstück Ist Drehzahl, pièce vitesse, pezzo velocità, pezzo giri, part axis speed, vitesse broche pièce, work spindle rpm, "
             "work rpm [U/min], work speed [-], [1/min]", "rpm"),
        ],
        ids=["time", "contact", "rpm"],
    )  # fmt: skip
    def test_every_name_of_a_column_is_known(self, names, role):
        for name in names.split(", "):
            heads = [name, "power [kW]"] if role == "time" else ["time [s]", "power [kW]", name]
            chosen = self.chosen(*heads)
            assert getattr(chosen, role) == heads.index(name) and chosen.power == 1, name

    @pytest.mark.parametrize("unit", ["m/min", "1/s", "Hz", "mm/s", "ft/min"])
    def test_a_speed_of_the_work_in_another_unit_is_no_rpm(self, unit):
        head = f"work speed [{unit}]"
        chosen = self.chosen("t", "power [kW]", head)
        assert chosen.rpm is None and chosen.remarks[1:] == [f"'{head}' is not in 1/min: no work rpm is read."]
        assert self.chosen("t", "y", head).power == 1
        beside = self.chosen("t", "power [kW]", head, "work rpm [1/min]")
        assert beside.rpm == 3 and len(beside.remarks) == 1
        for name in (head, "C"):
            with pytest.raises(ValueError, match=rf"rpm must be a column in 1/min \(got 'work speed \[{unit}\]'\)"):
                self.chosen("t", "power [kW]", head, rpm=name)
        assert self.chosen("t", "power [kW]", head, "n", rpm="n").rpm == 3

    def test_numbers_of_rows_are_no_load(self):
        """Beside a column whose heading says nothing, which is the load then."""
        names = (
            "row, sample, record, line, index, idx, no, nr, num, number, count, counter, scan, point, Zeile, Zähler, lfd nr, n, "
            "row no, sample number, record nr, scan index"
        )
        for name in names.split(", "):
            assert self.chosen("t", name, "y").power == 2, name

    @pytest.mark.parametrize("word", ["min", "max", "minimum", "maximum", "peak", "Spitze"])
    def test_the_highest_and_the_least_of_an_interval_are_no_power(self, word):
        for heads in (("t", f"power {word}", "power"), ("t", f"{word} power total", "active power total")):
            assert self.chosen(*heads).power == 2

    @pytest.mark.parametrize("word", ["mean", "avg", "average", "Mittel", "Mittelwert", "moyenne", "media"])
    def test_the_mean_of_an_interval_is_the_power(self, word):
        chosen = self.chosen("t", "power max [kW]", f"power {word} [kW]")
        assert (chosen.power, chosen.load_kind) == (2, "power")
        assert self.chosen("t", f"active power {word}", "reactive power").power == 1

    @pytest.mark.parametrize("word", ["power", "Leistung", "puissance", "potenza", "potencia"])
    def test_a_heading_with_power_in_it_is_a_power(self, word):
        chosen = self.chosen("t", "torque", f"channel 5 {word} x")
        assert (chosen.power, chosen.load_kind) == (2, "power")
        assert self.chosen("t", f"channel 5 {word} x", power="B").load_kind == "power"

    @pytest.mark.parametrize(
        "word", ["wheel", "spindle", "Scheibe", "Schleifscheibe", "Spindel", "meule", "broche", "mola", "mandrino"]
    )
    def test_the_speed_of_wheel_or_spindle_is_not_the_works(self, word):
        for name in (f"{word} rpm", f"rpm {word}", f"{word} speed", f"{word} Drehzahl"):
            assert self.chosen("t", "power", name).rpm is None, name

    @pytest.mark.parametrize("unit, factor", [("kW", 1.0), ("W", 1e-3), ("MW", 1e3), ("hp", 0.745699872)])
    def test_what_stands_in_a_unit_of_power_is_one_by_short_names(self, unit, factor):
        for name in ("P", "spindle", "wheel spindle", "motor", "wheel", ""):
            chosen = self.chosen("t", "x [mm]", f"{name} [{unit}]")
            assert (chosen.power, chosen.load_kind, chosen.factor) == (2, "power", pytest.approx(factor))
        assert self.chosen("t", "x [mm]", "I [A]").load_kind == "current"

    @pytest.mark.parametrize(
        "head, kind", [("y [kW]", "power"), ("y [mA]", "current"), ("y [%]", "relative"), ("y [mm]", "relative")]
    )
    def test_the_unit_of_a_column_that_is_named_says_what_it_is(self, head, kind):
        assert self.chosen("t", head, "power", power=head).load_kind == kind

    def test_what_is_read_from_which_column_is_said_in_this_order(self):
        chosen = self.chosen(
            "contact", "work rpm", "power [kW]", "Time", "Date", sample=[["1", "120", "2", "10:00:01", "4.3.2026"]] * 9
        )
        assert chosen.remarks == [
            "Columns read: time from 'Time', date from 'Date', power from 'power [kW]', work_rpm from 'work rpm', "
            "contact from 'contact'."
        ]
        assert self.chosen("t", "power").remarks[1:] == ["The column of the power names no unit: taken as kW."]
        assert self.chosen("t", "current").remarks[1:] == ["The column of the current names no unit: taken as A."]
        assert self.chosen("t", "load").remarks[1:] == ["The power has no unit: only its course counts, which has the same knee."]
        assert self.chosen("t", "contact", "contact", "power [kW]").remarks[1:] == [
            "2 columns may be the contact: none is read, say which."
        ]

    def test_of_many_columns_the_first_are_named(self):
        with pytest.raises(ValueError) as caught:
            self.chosen("t", *(f"torque of axis {number}" for number in range(20)))
        assert str(caught.value).startswith(
            "power must be one column of power, current or load (got 20 that may be it: 'torque of axis 0', 'torque of axis 1', "
        )
        assert str(caught.value).endswith("; say power, its heading or letter")
        with pytest.raises(ValueError, match=r"power must be one column of power, current or load \(got none\); say power"):
            self.chosen("time [s]", sample=[["0.1"]] * 9)

    def test_a_load_without_a_unit_is_said_to_be_known_by_its_course_only(self):
        said = [
            any("only its course counts" in remark for remark in self.chosen("t", head).remarks) for head in ("load", "load [%]")
        ]
        assert said == [True, False]

    def test_columns_without_headings_are_named_by_their_number(self):
        growing = [[f"{0.1 * row:.1f}", "2"] for row in range(9)]
        assert self.chosen("", "", sample=growing).remarks[0] == "Columns read: time from column 1, power from column 2."
        with pytest.raises(ValueError, match="got 2 that may be it: 'column 1', 'column 2'"):
            self.chosen("", "", sample=[["1", "2"]] * 9)

    def test_a_single_column_is_power_even_where_it_grows(self):
        chosen = self.chosen("", sample=[[f"{0.1 * row:.1f}"] for row in range(9)])
        assert (chosen.power, chosen.time) == (0, None)

    @pytest.mark.parametrize("letter, is_column", [("C", True), ("D", False), ("AA", False)])
    def test_a_letter_names_a_column_that_there_is(self, letter, is_column):
        if is_column:
            assert self.chosen("t", "power", "y", power=letter).power == 2
        else:
            with pytest.raises(ValueError, match="power must be the heading or letter of one column, such as 't', 'power', 'y'"):
                self.chosen("t", "power", "y", power=letter)

    def test_several_channels_of_the_rpm_are_said(self):
        remarks = self.chosen("t", "power", "work rpm", "work rpm").remarks
        assert "2 columns may be the work rpm: none is read, say which." in remarks

    @pytest.mark.parametrize("heads, times", [(("t1", "power", "t2", "work rpm"), {3: 2}), (("power", "t1", "work rpm"), {})])
    def test_each_channel_has_the_time_to_its_left(self, heads, times):
        chosen = self.chosen(*heads)
        assert chosen.times == times and chosen.time == heads.index("t1")

    @pytest.mark.parametrize("name, is_found", [("c", True), ("d", False), ("x", True), ("X ", True)])
    def test_a_name_may_stand_in_any_row_above_a_column(self, name, is_found):
        above = [["a", "b", "c", "d"], ["time", "power", "x"]]
        wanted = dict(power=name, time=None, rpm=None, contact=None)
        if is_found:
            assert choose(above, self.SAMPLE, wanted, None).power == 2
        else:
            with pytest.raises(ValueError, match="power must be the heading or letter of one column"):
                choose(above, self.SAMPLE, wanted, None)

    def test_a_column_that_is_named_goes_before_what_is_recognised(self):
        chosen = self.chosen("t", "power", "power b", "x", power="power b", time="D", rpm="A")
        assert (chosen.power, chosen.time, chosen.rpm) == (2, 3, 0)

    @pytest.mark.parametrize(
        "head, kind, factor, read",
        [
            ("power [W]", None, 0.001, "power"),
            ("power", None, 1.0, "power"),
            ("current [mA]", None, 0.001, "current"),
            ("load [%]", None, 1.0, "relative"),
            ("spindle [A]", None, 1.0, "current"),
            ("power [%]", None, 1.0, "relative"),
            ("torque [Nm]", None, 1.0, "relative"),
            ("power [W]", "relative", 1.0, "relative"),
            ("anything", "current", 1.0, "current"),
            ("active power total", None, 1.0, "power"),
        ],
    )
    def test_kind_and_factor_of_the_load(self, head, kind, factor, read):
        chosen = self.chosen("t", head, kind=kind)
        assert (chosen.load_kind, chosen.factor) == (read, pytest.approx(factor))
        no_unit = any("names no unit" in remark for remark in chosen.remarks)
        assert no_unit == (read != "relative" and "[" not in head)

    def test_a_kind_that_the_unit_contradicts_is_refused(self):
        with pytest.raises(ValueError, match=r"load_kind must fit the unit of column 'power \[kW\]' .got 'current'"):
            self.chosen("t", "power [kW]", kind="current")

    @pytest.mark.parametrize("heads", [("t", "position", "torque"), ("t", "power a", "power b")])
    def test_two_that_may_be_it_are_asked_about(self, heads):
        with pytest.raises(ValueError, match=rf"got 2 that may be it: '{heads[1]}', '{heads[2]}'"):
            self.chosen(*heads)

    @pytest.mark.parametrize("filled, is_numeric", [(5, True), (4, False)])
    def test_a_column_of_numbers_has_more_than_half_of_them(self, filled, is_numeric):
        sample = [["0.1", "1.5" if row < filled else "n/a"] for row in range(9)]
        if is_numeric:
            assert self.chosen("t", "power", sample=sample).power == 1
        else:
            with pytest.raises(ValueError, match="power must be one column"):
                self.chosen("t", "power", sample=sample)

    @pytest.mark.parametrize("stamp, date", [("10:00:01", 0), ("2026-03-04 10:00:01", None)])
    def test_a_date_beside_a_clock_is_its_day(self, stamp, date):
        chosen = self.chosen("Date", "Time", "power", sample=[["4.3.2026", stamp, "1.5"]] * 5)
        assert (chosen.time, chosen.date, chosen.power) == (1, date, 2)
        assert chosen.remarks[0].startswith("Columns read: time from 'Time', " + ("" if date is None else "date from 'Date', "))
