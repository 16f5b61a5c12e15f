"""Sheets as shops lay them out: units in number formats, setup lines beside and below the table, totals under it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from openpyxl import Workbook
from test_trial_units import SETUP, refusal

from gritfuncs.spreadsheets.number_formats import display_of
from gritfuncs.trial import read_trial

LINES = [[name, float(value) if value[0].isdigit() else value] for name, value in SETUP.items()]
HEAD = ["rpm", "power (kW)", "idle (kW)"]
READINGS = [[120, 2.05, 0.86], [132, 1.99, 0.86]]


def saved(folder, rows, formats=None, name="trial.xlsx"):
    """A sheet with these rows, and number formats by cell."""
    book = Workbook()
    for row in rows:
        book.active.append(row)
    for cell, code in (formats or {}).items():
        book.active[cell].number_format = code
    book.save(folder / name)
    return folder / name


@pytest.mark.parametrize(
    "code, times, behind",
    [
        ('0.00" in"', 1, "in"),
        ('General" mm"', 1, "mm"),
        ("0.0 \\m\\m", 1, "mm"),
        ('#,##0.0" µm/s";[Red]-#,##0.0" µm/s"', 1, "µm/s"),
        ("0.0 [$kW]", 1, "kW"),
        ('0.000,"kW"', Fraction(1, 1000), "kW"),
        ("0.0,,", Fraction(1, 10**6), ""),
        ("0.0%", 100, "%"),
        ("0.0 %", 100, "%"),
        ('0.0"%"', 1, "%"),
    ],
)
def test_a_number_format_says_how_a_number_is_shown(code, times, behind):
    assert display_of(code) == (times, behind)


@pytest.mark.parametrize(
    "code", ["General", "0.00", "#,##0", "0.00E+00", "# ?/?", "_-* #,##0.00_-;-* #,##0.00_-", '"D"0', '0 "(?)"']
)
def test_a_number_format_that_says_no_more_counts_for_nothing(code):
    assert display_of(code) is None


def test_a_unit_in_the_number_format_of_a_setup_cell_counts(tmp_path):
    lines = [
        ["wheel diameter", 8],
        ["infeed rate", 15],
        *(line for line in LINES if line[0] not in ("wheel_diameter", "infeed_rate")),
    ]
    path = saved(tmp_path, [*lines, HEAD, *READINGS], {"B1": '0.0" in"', "B2": '0 "µm/s"'})
    trial = read_trial(path)
    assert (trial.setup.wheel_diameter, trial.setup.infeed_rate) == (203.2, 0.9)
    assert "Wheel diameter 8 in is used as 203.2 mm." in trial.remarks
    path = saved(tmp_path, [["wheel diameter", 8, "mm"], HEAD, *READINGS], {"B1": '0.0" in"'})
    assert "wheel_diameter must have one unit (got 'in' and 'mm')" in refusal(read_trial, path)


def test_a_share_shown_in_percent_is_read_as_shown(tmp_path):
    path = saved(tmp_path, [["noise", 0.02], HEAD, *READINGS], {"B1": "0%"})
    assert read_trial(path).noise == 0.02
    path = saved(tmp_path, [["concentration", 1.0], HEAD, *READINGS], {"B1": "0%"})
    assert "concentration must be the number of a concentration without a unit" in refusal(read_trial, path)


def test_readings_shown_in_another_unit_are_read_as_shown(tmp_path):
    rows = [["rpm", "power", "idle"], [120, 2050, 860], [132, 1990, 860]]
    watts = read_trial(saved(tmp_path, rows, {cell: '0" W"' for cell in ("B2", "C2", "B3", "C3")}))
    assert [(reading.load, reading.idle) for reading in watts.used] == [(2.05, 0.86), (1.99, 0.86)]
    rows = [HEAD, [120, 2050, 0.86], [132, 1990, 0.86]]
    assert read_trial(saved(tmp_path, rows, {"B2": "0.000,", "B3": '0.000,"kW"'})).energies == watts.energies
    rows = [["rpm", "load (%)", "idle (%)"], [120, 0.4, 10], [132, 39, 0.1]]
    percent = read_trial(saved(tmp_path, rows, {"B2": "0%", "C3": "0.0%"}))
    assert [(reading.load, reading.idle) for reading in percent.used] == [(40, 10), (39, 10)]
    rows = [HEAD, *READINGS]
    left = read_trial(saved(tmp_path, rows, {"B2": '0.0"A"'})).readings[0]
    assert left.status == "left out: load is not a number (its cell shows 'A', not kW)"


@pytest.mark.parametrize("head", ["load", "load (%)"])
def test_a_share_of_one_beside_cells_in_percent_is_refused(tmp_path, head):
    """The last two cells were typed into a column without the format of the others: 0.78 is 78 %, and as 0.78 % it made a knee."""
    rows = [["rpm", head, "idle"], [80, 0.9, 0.2], [100, 0.84, 0.2], [120, 0.78, 0.2], [140, 0.75, 0.2]]
    formats = {f"{column}{row}": "0%" for column in "BC" for row in (2, 3, 4, 5)}
    assert [reading.load for reading in read_trial(saved(tmp_path, rows, formats)).used] == [90, 84, 78, 75]
    bare = {cell: code for cell, code in formats.items() if cell not in ("B4", "B5")}
    assert "row 4: load must be in %, as 84 % is in other cells (got 0.78)" in refusal(read_trial, saved(tmp_path, rows, bare))
    bare = {cell: code for cell, code in formats.items() if cell != "C5"}
    assert "row 5: idle must be in %, as 20 % is in other cells (got 0.2)" in refusal(read_trial, saved(tmp_path, rows, bare))
    rows[3:] = [[120, 78, 0], [140, 75, 20]]  # in percent, without the format
    bare = {cell: code for cell, code in formats.items() if cell[1] in "23"}
    used = read_trial(saved(tmp_path, rows, bare)).used
    assert [(reading.load, reading.idle) for reading in used] == [(90, 20), (84, 20), (78, 0), (75, 20)]


@pytest.mark.parametrize("sign", ["-", "\u2013", "\u2014", "--"])
def test_a_dash_below_damage_says_that_there_was_none(tmp_path, sign):
    rows = [[*HEAD, "damage"], *[[*row, sign] for row in READINGS]]
    assert [reading.damage for reading in read_trial(saved(tmp_path, rows)).used] == ["", ""]


def test_setup_lines_below_the_table_count(tmp_path):
    trial = read_trial(saved(tmp_path, [HEAD, *READINGS, [], *LINES]))
    assert trial.setup is not None and len(trial.readings) == 2
    lines = [*LINES, HEAD, *READINGS]
    assert "never run a wheel above" in refusal(read_trial, saved(tmp_path, [*lines, [], ["marked wheel speed", 20, "m/s"]]))
    assert "never run a wheel above" in refusal(read_trial, saved(tmp_path, [*lines, ["marked wheel speed: 20 m/s"]]))
    path = tmp_path / "a.csv"
    path.write_text("wheel speed;25\nrpm;power (kW)\n120;2.05\n132;1.99\nmarked wheel speed;20;m/s\n", encoding="utf-8")
    assert "never run a wheel above" in refusal(read_trial, path)
    again = saved(tmp_path, [*lines, ["infeed rate 1.2 mm/min from here"], [140, 1.9, 0.86]])
    assert "infeed_rate must be given once" in refusal(read_trial, again)


def test_setup_lines_right_of_the_table_count(tmp_path):
    table = [HEAD, *READINGS] + [[None, None, None]] * (len(LINES) - 3)
    trial = read_trial(saved(tmp_path, [[*row, None, *line] for row, line in zip(table, LINES)]))
    assert trial.setup is not None and len(trial.used) == 2
    phases = [[*HEAD, "phase", "coolant °C"], [120, 2.05, None, "idle", 21], [132, 1.99, None, "grinding", 22]]
    assert [reading.idle for reading in read_trial(saved(tmp_path, phases)).used] == [0, 0]


def test_setup_lines_left_of_the_table_count(tmp_path):
    """Beside headings and readings, and further down than these; the mark of the wheel among them is never passed over."""
    table = [HEAD, *READINGS] + [[None, None, None]] * (len(LINES) - 3)
    for gap in ([], [None]):
        trial = read_trial(saved(tmp_path, [[*line, *gap, *row] for row, line in zip(table, LINES)]))
        assert trial.setup is not None and len(trial.used) == 2 and trial.setup.wheel_diameter == 200
        assert not any("not read" in remark for remark in trial.remarks)
    rows = [["wheel speed", 25, *HEAD], ["marked wheel speed", 20, *READINGS[0]], [None, None, *READINGS[1]]]
    assert "never run a wheel above" in refusal(read_trial, saved(tmp_path, rows))
    path = tmp_path / "a.csv"
    for text in (
        "wheel speed;25;m/s;rpm;power\nmarked wheel speed;20;m/s;120;2\n;;;132;1.9\n",
        "rpm;power;;wheel speed;25 m/s\n120;2;;marked wheel speed;20\n132;1.9;;;\n",
    ):
        path.write_text(text, encoding="utf-8")
        assert "never run a wheel above" in refusal(read_trial, path)
    phases = [["phase", "coolant °C", *HEAD], ["idle", 21, 120, 2.05, None], ["grinding", 22, 132, 1.99, None]]
    assert [reading.idle for reading in read_trial(saved(tmp_path, phases)).used] == [0, 0]


def test_totals_under_the_readings_are_no_readings(tmp_path):
    head, readings = ["no", *HEAD], [[1, *READINGS[0]], [2, *READINGS[1]]]
    trial = read_trial(saved(tmp_path, [head, *readings, ["Mittelwert", 126, 2.02, 0.86], ["max.", 132, 2.05, 0.86]]))
    assert [reading.status for reading in trial.readings[2:]] == [
        "left out: rpm is not a number (the row is 'Mittelwert' of others)",
        "left out: rpm is not a number (the row is 'max.' of others)",
    ]
    assert len(trial.used) == 2
    head, readings = ["stage", *HEAD], [["max", *READINGS[0]], ["max", *READINGS[1]]]
    assert len(read_trial(saved(tmp_path, [head, *readings])).used) == 2


@pytest.mark.parametrize(
    "label",
    ["Ø", "Σ", "Mean value:", "mean values", "Averages", "Durchschnittswert", "valeur moyenne", "Valor médio", "wartość średnia"],
)
def test_signs_and_longer_words_for_totals_are_known(tmp_path, label):
    trial = read_trial(saved(tmp_path, [["no", *HEAD], [1, *READINGS[0]], [2, *READINGS[1]], [label, 126, 2.02, 0.86]]))
    assert len(trial.used) == 2 and "of others" in trial.readings[2].status
    work = read_trial(saved(tmp_path, [["part", *HEAD], ["Ø 20", *READINGS[0]], ["Ø 21", *READINGS[1]]]))
    assert len(work.used) == 2  # diameters of parts


@pytest.mark.parametrize(
    "line", [["max wheel rpm", 1300], ["n max", 1300, "1/min"], ["prędkość maksymalna ściernicy", 20], ["Wheel rated for 20 m/s"]]
)
def test_a_line_that_may_be_the_mark_of_the_wheel_is_never_passed_over(tmp_path, line):
    trial = read_trial(saved(tmp_path, [*LINES, line, HEAD, *READINGS]))
    assert any("may be the highest speed marked on the wheel" in remark for remark in trial.remarks)
    plain = [*LINES, ["Trial 7 on the max of the month"], ["highest work rpm", 400], HEAD, *READINGS]
    assert not any("marked" in remark for remark in read_trial(saved(tmp_path, plain)).remarks)


@pytest.mark.parametrize(
    "label", ["Arbeitshöchstgeschwindigkeit", "max. Umfangsgeschwindigkeit", "vitesse max.", "max peripheral speed"]
)
def test_the_mark_of_the_wheel_has_many_names(tmp_path, label):
    assert "never run a wheel above" in refusal(read_trial, saved(tmp_path, [*LINES, [label, 20, "m/s"], HEAD, *READINGS]))


def test_a_column_of_settings_is_read_or_named(tmp_path):
    lines = [line for line in LINES if line[0] != "infeed_rate"]
    rows = [[*HEAD, "infeed rate"], *([*row, "10 µm/s"] for row in READINGS)]
    assert read_trial(saved(tmp_path, [*lines, *rows])).setup.infeed_rate == 0.6
    rows = [[*HEAD, "infeed rate"], *([*row, "10 µm/s or so"] for row in READINGS)]
    assert "Columns with numbers that were not read: 'infeed rate'." in read_trial(saved(tmp_path, [*lines, *rows])).remarks
    rows = [[*HEAD, "infeed rate"], *([*row, 0.6] for row in READINGS)]
    remarks = read_trial(saved(tmp_path, [*LINES, *rows])).remarks
    assert "infeed_rate from 'infeed rate'" in remarks[0] and not any("not read" in remark for remark in remarks)


def test_a_column_of_one_value_is_that_value_and_of_nearly_one_their_mean(tmp_path):
    lines = [line for line in LINES if line[0] != "infeed_rate"]

    def infeed_of(*rates):
        rows = [[120 + turn, 2.05, 0.86, rate] for turn, rate in enumerate(rates)]
        return read_trial(saved(tmp_path, [*lines, [*HEAD, "infeed rate"], *rows])).setup.infeed_rate

    assert infeed_of(*[0.1] * 10) == 0.1  # ten times a tenth over ten is not
    assert infeed_of(0.6, 0.603) == pytest.approx(0.6015)
