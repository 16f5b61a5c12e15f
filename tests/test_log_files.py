"""Power logs in the dialects of loggers, as workbooks, in several files, and what is said of files that are none."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from simulated_logs import BEGIN, DIALECTS, RPMS, simulate, write

import gritfuncs as gf
from gritfuncs.trial.log import text_log

LOG = simulate(rpms=RPMS[:4])
ARRAYS = gf.read_log(power=LOG.power, time=LOG.time)


def same(log, tolerance=2e-3):
    assert len(log.parts) == len(ARRAYS.parts) == 8
    assert [part.net for part in log.parts] == pytest.approx([part.net for part in ARRAYS.parts], rel=tolerance)
    spans = [part.end - part.start for part in log.parts]
    assert spans == pytest.approx([part.end - part.start for part in ARRAYS.parts], abs=0.25)


@pytest.mark.parametrize("dialect", DIALECTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "cp1252"])
def test_every_dialect_reads_the_same(dialect, encoding, tmp_path):
    log = gf.read_log(write(LOG, tmp_path / "log.csv", dialect, encoding))
    same(log, 0.01 if "whole seconds" in dialect or "missing" in dialect else 2e-3)
    assert log.source == "log.csv" and log.load_kind == "power"
    assert log.remarks[0].startswith("Columns read: ")


@pytest.mark.parametrize("dialect", ["rows and interval above", "a time for each channel", "slow channel with blanks"])
def test_a_channel_of_the_work_rpm_is_read_too(dialect, tmp_path):
    log = gf.read_log(write(LOG, tmp_path / "log.csv", dialect))
    assert [part.work_rpm for part in log.parts] == list(np.repeat(RPMS[:4], 2))


@pytest.mark.parametrize(
    "dialect", ["ISO stamps", "stamps with day first", "date and time apart, units in a row", "stamps of whole seconds"]
)
def test_the_date_is_known_where_the_log_has_one(dialect, tmp_path):
    log = gf.read_log(write(LOG, tmp_path / "log.csv", dialect))
    assert log.clock == str(BEGIN) and log.is_clock
    log.write_readings(tmp_path / "readings.csv", RPMS[:4], 2)
    assert gf.read_trial(tmp_path / "readings.csv").readings[-1].note.startswith("part 8, 00:")  # past midnight


def test_a_clock_without_a_date_runs_on_over_midnight(tmp_path):
    log = gf.read_log(write(LOG, tmp_path / "log.csv", "clock over midnight"))
    assert log.clock == "" and log.is_clock and log.parts[-1].end > 86_400


def test_the_days_of_either_order_are_understood(tmp_path):
    rows = [
        f"{day}/{month}/2026 {hour:02d}:{minute:02d}:{second:02d}"
        for day, month, hour in ((31, 1, 23), (1, 2, 0))
        for minute in range(60)
        for second in range(60)
    ]
    power = np.tile(np.where(np.arange(60) % 60 < 25, 3.0, 1.0) + 0.01 * np.sin(np.arange(60)), 120)
    path = tmp_path / "log.csv"
    path.write_text("time;power [kW]\n" + "\n".join(f"{row};{value:.3f}" for row, value in zip(rows, power)), encoding="utf-8")
    log = gf.read_log(path)
    assert log.clock == "2026-01-31 23:00:00" and log.duration == pytest.approx(7200, abs=2)


class TestColumns:
    TWO = "time [s],power x [kW],power y [kW]\n" + "\n".join(f"{t:.2f},0.2,{p:.4f}" for t, p in zip(LOG.time, LOG.power))

    def test_several_that_may_be_it_are_named(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(self.TWO, encoding="utf-8")
        with pytest.raises(ValueError, match=r"log.csv: power must be one column .*'power x \[kW\]', 'power y \[kW\]'"):
            gf.read_log(path)
        same(gf.read_log(path, power="power y [kW]"))
        same(gf.read_log(path, power="POWER Y [KW]"))
        same(gf.read_log(path, power="C"))
        with pytest.raises(ValueError, match="power must be the heading or letter of one column"):
            gf.read_log(path, power="torque")

    def test_a_word_above_that_has_no_column_of_numbers_below_it_is_no_column(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(self.TWO.replace("\n", ",torque\n", 1), encoding="utf-8")
        with pytest.raises(ValueError, match="power must be the heading or letter of one column"):
            gf.read_log(path, power="torque")

    @pytest.mark.parametrize(
        "heading, kind, factor",
        [
            ("Power [kW]", "power", 1),
            ("spindle power / W", "power", 0.001),
            ("Leistung in kW", "power", 1),
            ("power (hp)", "power", 0.745699872),
            ("spindle current [mA]", "current", 0.001),
            ("Motorstrom [A]", "current", 1),
            ("spindle load [%]", "relative", 1),
            ("spindle load [hp]", "power", 0.745699872),
            ("spindle load [A]", "current", 1),
            ("S1_OutputPower", "power", 1),
            ("something", "relative", 1),
        ],
    )
    def test_heading_and_unit_say_what_is_logged(self, heading, kind, factor, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(
            f"time [s];{heading}\n" + "\n".join(f"{t:.2f};{p:.4f}" for t, p in zip(LOG.time, LOG.power)), encoding="utf-8"
        )
        log = gf.read_log(path)
        assert log.load_kind == kind
        assert [part.net for part in log.parts] == pytest.approx([part.net * factor for part in ARRAYS.parts], rel=2e-3)

    def test_without_headings_the_first_column_is_time_only_where_it_grows_throughout(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text("\n".join(f"{t:.2f};{p:.4f}" for t, p in zip(LOG.time, LOG.power)), encoding="utf-8")
        assert any("column 1 grows, and is taken as time in seconds" in remark for remark in gf.read_log(path).remarks)
        path.write_text("\n".join(f"{t // 0.2:.2f};{p:.4f}" for t, p in zip(LOG.time, LOG.power)), encoding="utf-8")
        with pytest.raises(ValueError, match="power must be one column of power, current or load .got 2 that may be it"):
            gf.read_log(path)

    def test_the_rpm_of_the_wheel_is_not_the_works(self, tmp_path):
        path = tmp_path / "log.csv"
        rows = "\n".join(f"{t:.2f};{p:.4f};2400" for t, p in zip(LOG.time, LOG.power))
        path.write_text(f"time [s];power [kW];wheel rpm [1/min]\n{rows}", encoding="utf-8")
        assert gf.read_log(path).parts[0].work_rpm is None

    def test_numbers_without_a_unit_that_cannot_be_seconds_are_asked_about(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(
            "time;power [kW]\n" + "\n".join(f"{t * 1000:.0f};{p:.4f}" for t, p in zip(LOG.time, LOG.power)), encoding="utf-8"
        )
        with pytest.raises(ValueError, match="time must have a unit .*steps of 100 .*say interval"):
            gf.read_log(path)
        same(gf.read_log(path, interval=0.1))

    def test_a_file_of_power_alone_asks_for_the_interval(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text("power [kW]\n" + "\n".join(f"{p:.4f}".replace(".", ",") for p in LOG.power), encoding="utf-8")
        with pytest.raises(ValueError, match="interval must be known"):
            gf.read_log(path)
        same(gf.read_log(path, interval=0.1))


class TestFiles:
    def test_files_that_follow_one_another_are_one_log(self, tmp_path):
        half = len(LOG.time) // 2
        lines = write(LOG, tmp_path / "whole.csv").read_text(encoding="utf-8").splitlines()
        paths = [tmp_path / name for name in ("a.csv", "b.csv")]
        paths[0].write_text("\n".join(lines[: half + 1]), encoding="utf-8")
        paths[1].write_text("\n".join([lines[0], *lines[half + 1 :]]), encoding="utf-8")
        log = gf.read_log(paths)
        same(log)
        assert log.source == "a.csv, b.csv"
        with pytest.raises(ValueError, match="time must grow"):
            gf.read_log(paths[::-1])

    def test_a_workbook_with_times_as_dates(self, tmp_path):
        book = Workbook()
        book.active.append(["Invented log"])
        book.active.append(["Time", "Power [kW]", "work rpm"])
        for time, power, rpm in zip(LOG.time, LOG.power, LOG.rpm):
            book.active.append([BEGIN + timedelta(seconds=float(time)), float(power), float(rpm)])
        book.save(tmp_path / "log.xlsx")
        log = gf.read_log(tmp_path / "log.xlsx")
        same(log)
        assert log.clock == str(BEGIN) and log.parts[0].work_rpm == RPMS[0]
        with pytest.raises(ValueError, match="sheet must be one of 'Sheet'"):
            gf.read_log(tmp_path / "log.xlsx", sheet="other")

    def test_a_workbook_with_seconds_and_a_row_of_units(self, tmp_path):
        book = Workbook()
        for row in (["t", "Leistung"], ["ms", "W"]):
            book.active.append(row)
        for time, power in zip(LOG.time, LOG.power):
            book.active.append([float(time * 1000), float(power * 1000)])
        book.save(tmp_path / "log.xlsx")
        same(gf.read_log(tmp_path / "log.xlsx"))

    def test_a_workbook_without_a_time_has_the_interval_above_its_rows(self, tmp_path):
        book = Workbook()
        for row in (["interval", 0.1, "s"], ["Power [kW]"], *([float(power)] for power in LOG.power)):
            book.active.append(row)
        book.save(tmp_path / "log.xlsx")
        same(gf.read_log(tmp_path / "log.xlsx"))

    @pytest.mark.parametrize("before", [True, False])
    def test_of_several_sheets_the_one_with_the_most_rows_is_the_log(self, before, tmp_path):
        book = Workbook()
        log, limits = book.active, book.create_sheet("limits", 0 if before else None)
        log.append(["Time [s]", "Power [kW]"])
        for time, power in zip(LOG.time, LOG.power):
            log.append([float(time), float(power)])
        for row in (["Time [s]", "Power [kW]"], *([0.1 * number, 5.0] for number in range(30))):
            limits.append(row)
        book.save(tmp_path / "log.xlsx")
        same(gf.read_log(tmp_path / "log.xlsx"))

    @pytest.mark.parametrize(
        "ending", [".csv", ".tsv", ".txt", ".log", ".dat", ".asc", ".prn", ".CSV", ".xlsx", ".xlsm", ".XLSX"]
    )
    def test_every_ending_is_read(self, ending, tmp_path):
        path = tmp_path / f"log{ending}"
        if "xls" in ending.lower():
            book = Workbook()
            for row in (["time [s]", "power [kW]"], *([0.1 * row, 1 + row % 7] for row in range(40))):
                book.active.append(row)
            book.save(tmp_path / "saved.xlsx")
            (tmp_path / "saved.xlsx").rename(path)
        else:
            path.write_text("time [s];power [kW]\n" + "".join(f"{0.1 * row:.1f};{1 + row % 7}\n" for row in range(40)))
        assert gf.read_log(path).trace.power.tolist() == [1 + row % 7 for row in range(40)]

    def test_another_ending_names_those_that_are_read(self, tmp_path):
        for name, got in (("log.tdms", "'.tdms'"), ("log", "'no ending'")):
            (tmp_path / name).write_text("1;2\n" * 9)
            with pytest.raises(ValueError) as caught:
                gf.read_log(tmp_path / name)
            assert str(caught.value) == (
                f"{name}: must end in .csv, .tsv, .txt, .log, .dat, .asc, .prn, .xlsx, .xlsm, .ods (got {got}); "
                "read other files with their own reader, and give arrays of time and power"
            )

    def test_what_is_said_of_a_sheet_goes_before_the_number_of_its_rows(self, tmp_path):
        book = Workbook()
        for name, rows in (("Log A", 60), ("Limits", 40)):
            sheet = book.create_sheet(name)
            sheet.append(["time [s]", "power"])
            for row in range(rows):
                sheet.append([0.1 * row, float(rows + row % 7)])
        book.save(tmp_path / "log.xlsx")
        for sheet, first, kind in ((None, 60, None), ("limits", 40, "current"), ("LOG A", 60, "relative")):
            log = gf.read_log(tmp_path / "log.xlsx", sheet=sheet, load_kind=kind)
            assert log.trace.power.tolist() == [first + row % 7 for row in range(first)] and log.load_kind == (kind or "power")
        with pytest.raises(ValueError, match=r"^log.xlsx: sheet must be one of 'Sheet', 'Log A', 'Limits' \(got 'none'\)$"):
            gf.read_log(tmp_path / "log.xlsx", sheet="none")
        write(LOG, tmp_path / "log.csv")
        with pytest.raises(ValueError, match=r"^log.csv: sheet must be left out for a text file \(got 'Limits'\)$"):
            gf.read_log(tmp_path / "log.csv", sheet="Limits")

    @pytest.mark.parametrize("role", ["power", "time", "rpm", "contact"])
    def test_values_do_not_go_with_a_file(self, role, tmp_path):
        path = write(LOG, tmp_path / "log.csv")
        with pytest.raises(ValueError, match=rf"^log.csv: {role} must be a heading or column letter where a file is read \(got "):
            gf.read_log(path, **{role: [1.0] * 50})

    def test_cells_of_a_workbook_may_be_texts_words_errors_or_missing(self, tmp_path):
        """And a row of numbers above the table is no row of it."""
        book = Workbook()
        book.active.append([2026, 5])
        book.active.append(["order", "in words"])
        book.active.append(["time [s]", "power [kW]", "work rpm", "contact"])
        for row in range(40):
            power = {5: " 2,5 ", 6: None, 7: "#N/A"}.get(row, 1.0 + row % 7)
            cells = [0.1 * row, power, *([120.0, {0: "on", 20: True, 30: "FALSCH"}.get(row)] if row % 10 == 0 else [])]
            book.active.append(cells)
        book.save(tmp_path / "log.xlsx")
        trace = gf.read_log(tmp_path / "log.xlsx").trace
        assert (
            trace.power[:5].tolist() == [1, 2, 3, 4, 5]
            and trace.power[5] == 2.5
            and trace.power[8:].tolist() == [1 + row % 7 for row in range(8, 40)]
        )
        assert trace.filled == 2 and trace.rpm.tolist() == [120] * 40 and trace.contact.tolist() == [1] * 30 + [0] * 10

    @pytest.mark.parametrize("time_is", ["seconds", "stamps", "clock times"])
    def test_an_open_document_as_libreoffice_saves_it(self, time_is, tmp_path, libreoffice):
        book = Workbook()
        book.active.append(["Time [s]" if time_is == "seconds" else "Time", "Power [kW]"])
        for time, power in zip(LOG.time, LOG.power):
            moment = BEGIN + timedelta(seconds=float(time))
            shown = {"seconds": float(time), "stamps": moment, "clock times": (moment - timedelta(hours=1)).time()}[time_is]
            book.active.append([shown, float(power)])
            book.active.cell(book.active.max_row, 1).number_format = {
                "seconds": "0.0",
                "stamps": "yyyy-mm-dd hh:mm:ss.000",
                "clock times": "hh:mm:ss.000",
            }[time_is]
        book.save(tmp_path / "log.xlsx")
        log = gf.read_log(libreoffice.convert(tmp_path / "log.xlsx", tmp_path / "log.ods"))
        same(log, 5e-3)
        assert log.source == "log.ods" and log.is_clock == (time_is != "seconds")
        assert log.clock == (str(BEGIN) if time_is == "stamps" else "")
        with pytest.raises(ValueError, match="sheet must be one of 'Sheet'"):
            gf.read_log(tmp_path / "log.ods", sheet="other")

    @pytest.mark.parametrize(
        "name, content, text",
        [
            ("log.ods", b"PK\x03\x04....", "log.ods"),
            ("log.csv", b"", "must have rows of numbers"),
            ("log.csv", b"just some words\nand more\n", "must have rows of numbers"),
            ("log.csv", b"PK\x03\x04....", "it is a zip file"),
            ("log.csv", b"TDSm\x0e\x00\x00\x00" * 50, "read it with its own reader"),
            ("log.tdms", b"TDSm", "must end in .csv, .*their own reader"),
            ("log.xlsx", b"PK\x03\x04....", "log.xlsx"),
            ("log.csv", b"time [s];power [kW]\n1;2\n", "must have rows of numbers"),
            ("log.csv", b"time [s];power [kW]\n1,250;2\n" * 3, "rows of numbers|decimal sign"),
        ],
    )
    def test_a_file_that_is_no_log_is_one_line(self, name, content, text, tmp_path):
        path = tmp_path / name
        path.write_bytes(content)
        with pytest.raises(ValueError, match=text) as caught:
            gf.read_log(path)
        assert str(caught.value).startswith(name) and "\n" not in str(caught.value)

    @pytest.mark.parametrize("path", ["missing.csv", ".", 5, []])
    def test_a_path_that_is_no_file_is_one_line(self, path):
        with pytest.raises(ValueError) as caught:
            gf.read_log(path)
        assert "\n" not in str(caught.value)

    @pytest.mark.parametrize(
        "error, said", [(PermissionError(13, "Permission denied"), "Permission denied"), (OSError("odd"), "odd")]
    )
    def test_a_file_that_cannot_be_read_is_named_with_the_reason(self, error, said, tmp_path, monkeypatch):
        def opened(path):
            raise error

        monkeypatch.setattr(text_log, "dialect", opened)
        with pytest.raises(ValueError, match=rf"^log.csv: must be a file that can be read \({said}\)$"):
            gf.read_log(write(LOG, tmp_path / "log.csv"))

    @pytest.mark.parametrize("piece", [1 << 21, 2000])
    @pytest.mark.parametrize("more, count", [([], 1), (["EOF"], 2)])
    def test_lines_that_are_no_data_are_counted(self, more, count, piece, tmp_path, monkeypatch):
        monkeypatch.setattr(text_log, "_PIECE", piece)
        lines = write(LOG, tmp_path / "whole.csv").read_text(encoding="utf-8").splitlines()
        lines.insert(500, "trigger stop; start again")
        (tmp_path / "log.csv").write_text("\n".join(lines + more), encoding="utf-8")
        log = gf.read_log(tmp_path / "log.csv")
        same(log)
        assert any(f"passed over: {count}; the first says 'trigger stop" in remark for remark in log.remarks)

    @given(data=st.binary(max_size=2000))
    @settings(max_examples=60, deadline=None)
    def test_any_bytes_give_a_log_or_one_line(self, data, tmp_path_factory):
        path = tmp_path_factory.mktemp("any") / "log.csv"
        path.write_bytes(data)
        try:
            gf.read_log(path)
        except ValueError as error:
            assert "\n" not in str(error)

    @given(
        rows=st.lists(
            st.tuples(
                st.sampled_from(["", "x", "1", "2,5", "3.5", "nan", "1e400", "-1"]), st.sampled_from(["", "0", "1,2", "inf", "7"])
            ),
            min_size=20,
            max_size=80,
        )
    )
    @settings(max_examples=60, deadline=None)
    def test_any_cells_give_a_log_or_one_line(self, rows, tmp_path_factory):
        path = tmp_path_factory.mktemp("any") / "log.csv"
        path.write_text(
            "time [s];power [kW]\n"
            + "\n".join(f"{place};{power}" for place, (_, power) in enumerate(rows))
            + "\n"
            + ";".join(cell for cell, _ in rows),
            encoding="utf-8",
        )
        try:
            gf.read_log(path)
        except ValueError as error:
            assert "\n" not in str(error)


def test_progress_is_told_and_ends_at_one(tmp_path):
    told = []
    gf.read_log(write(LOG, tmp_path / "log.csv"), progress=told.append)
    assert told[-1] == 1 and told == sorted(told)
