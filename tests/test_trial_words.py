"""What the lines of a setup say: labels, values and remarks in any order, what is told of them, and what follows."""

from __future__ import annotations

import re

import pytest
from openpyxl import Workbook

from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial
from gritfuncs.trial.page import setup_table

TABLE = "rpm;power (kW)\n120;2.05\n132;1.99\n"
LINES = {
    "work_diameter": "work diameter;20",
    "wheel_diameter": "wheel diameter;200",
    "wheel_speed": "wheel speed;25",
    "infeed_rate": "infeed rate;0.6",
    "side": "side;external",
    "grit_density": "grit density;20",
    "shape_ratio": "shape ratio;10",
}


def read(folder, text, delimiter=";"):
    path = folder / "trial.csv"
    path.write_text(text.replace(";", delimiter), encoding="utf-8")
    return read_trial(path)


def with_lines(folder, table=TABLE, **lines):
    """A trial with a whole setup, but for the lines that are given here."""
    return read(folder, "\n".join([*{**LINES, **lines}.values(), table]))


def refusal(*args, **options):
    with pytest.raises(Refused) as caught:
        with_lines(*args, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def in_sheet(folder, *rows):
    book = Workbook()
    for row in [*rows, *([cell.strip() for cell in line.split(";")] for line in TABLE.split("\n")[:1]), [120, 2.05]]:
        book.active.append(row)
    book.save(folder / "trial.xlsx")
    return read_trial(folder / "trial.xlsx")


@pytest.mark.parametrize(
    "line", ["wheel diameter: 8 in;new", "wheel diameter = 8 in;new", "wheel diameter 8 in;new", "# wheel diameter: 8 in; new"]
)
@pytest.mark.parametrize("delimiter", [";", "\t", ","])
def test_a_remark_in_the_cell_behind_a_whole_line_is_one(tmp_path, line, delimiter):
    remarks = read(tmp_path, f"{line}\n{TABLE}", delimiter).remarks
    assert "Wheel diameter 8 in is used as 203.2 mm." in remarks
    assert "Wheel diameter 8 in is used as 203.2 mm." in in_sheet(tmp_path, line.split(";")).remarks


@pytest.mark.parametrize("line", ["idle 0.5 kW;coolant on", "idle = 0.5;coolant on", "idle: 0.5 kW;coolant on"])
def test_an_idle_reading_in_one_text_with_its_value_may_have_a_remark(tmp_path, line):
    assert [reading.idle for reading in read(tmp_path, f"{line}\n{TABLE}").used] == [0.5, 0.5]
    assert in_sheet(tmp_path, line.split(";")).used[0].idle == 0.5


def test_a_line_whose_words_and_number_stand_in_one_cell_is_named_with_a_remark_behind_it(tmp_path):
    remarks = read(tmp_path, f"Profile of 200 mm;old\nCoolant;on\nStage 7;old\n{TABLE}").remarks
    assert "Lines above the table that were not read: row 1 'Profile of 200 mm'." in remarks


@pytest.mark.parametrize(
    "text, delimiter, title",
    [
        ("Trial 7 on wheel A\nSecond line\n", ";", "Trial 7 on wheel A"),
        ("# Trial seven #\n", ";", "Trial seven"),
        ("7;Wheel A\nWheel B\n", ";", "Wheel B"),
        ("Wheel A;7;x\n", ";", "Wheel A;7;x"),
        ("Wheel A;7;x\n", ",", "Wheel A, 7, x"),
        ("Wheel A;7;x\n", "\t", "Wheel A 7 x"),
        ("infeed rate;0.6\n", ";", ""),
        ("infeed rate;0.6\nWheel A\n", ";", "Wheel A"),
    ],
)
def test_the_first_line_that_is_no_setup_value_is_the_title(tmp_path, text, delimiter, title):
    assert read(tmp_path, text + TABLE, delimiter).title == title


def test_the_title_of_a_sheet_is_its_cells_in_one_line(tmp_path):
    assert in_sheet(tmp_path, ["Trial", 7, "on wheel A"]).title == "Trial 7 on wheel A"


@pytest.mark.parametrize(
    "line",
    ["work diameter;20;wheel diameter;200", "work diameter;:;20", "work diameter;=;20", "in work diameter;20", "work diameter =;20;200",
     "work diameter;20;mm;as drawn;mm²", "# work diameter :;20", "work diameter;20;(mm)", "work diameter;mm;20;ground"],
)  # fmt: skip
def test_what_stands_between_label_and_value_does_not_change_it(tmp_path, line):
    assert with_lines(tmp_path, work_diameter=line, **{"wheel_diameter": "wheel diameter;200"} if "wheel" not in line else {"wheel_diameter": ""}).setup.work_diameter == 20  # fmt: skip


def test_an_infeed_for_each_revolution_needs_the_rpm_and_says_so(tmp_path):
    message = refusal(tmp_path, infeed_rate="infeed rate;0.005;mm/rev")
    assert message.endswith(
        "infeed_rate must be in mm/min: for each revolution it changes with the work rpm (got '0.005 mm/rev'); "
        "give nominal_rpm too, if it is kept at what it is there"
    )
    assert with_lines(tmp_path, infeed_rate="infeed rate;0.005;mm/rev\nnominal rpm;120").setup.infeed_rate == pytest.approx(0.6)


def test_a_line_without_a_value_may_have_its_unit_and_a_remark(tmp_path):
    remarks = with_lines(tmp_path, wheel_diameter="wheel diameter;mm;as drawn").remarks
    assert any("The setup lacks wheel_diameter." in remark for remark in remarks)


@pytest.mark.parametrize("line", ["wheel diameter (as radius);100", "wheel diameter;100 radius", "wheel diameter;100;mm radius"])
def test_a_diameter_that_label_value_or_unit_call_a_radius_is_refused(tmp_path, line):
    assert "wheel_diameter must be a diameter, twice the radius" in refusal(tmp_path, wheel_diameter=line)


@pytest.mark.parametrize(
    "line, told",
    [
        ("marked speed;8500;sfpm", "Marked wheel speed 8500 sfpm is used as 43.18 m/s."),
        ("highest power;3000;W", "Highest power 3000 W is used as 3 kW."),
        ("nominal rpm;2;1/s", "Nominal rpm 2 1/s is used as 120 1/min."),
        ("active fraction;50;%", "Active fraction of the grits 50 % is used as 0.5."),
    ],
)
def test_a_value_in_another_unit_is_told_by_its_name(tmp_path, line, told):
    assert told in with_lines(tmp_path, more=line).remarks


@pytest.mark.parametrize("line", ["noise;3", "noise;3;%", "noise (%);3", "noise;0.03;-"])
def test_the_scatter_may_be_in_percent_or_a_share(tmp_path, line):
    assert with_lines(tmp_path, more=line).noise == pytest.approx(0.03)


def test_the_infeed_on_the_diameter_is_told_with_its_unit(tmp_path):
    trial = with_lines(tmp_path, infeed_rate="infeed rate on the diameter;1.2")
    assert "Infeed rate 1.2 mm/min on the diameter is used as 0.6 mm/min on the radius." in trial.remarks
    assert not any("diameter is used as" in remark for remark in with_lines(tmp_path, infeed_rate="infeed rate on the radius;0.6").remarks)  # fmt: skip


def test_each_value_is_shown_as_it_is_written(tmp_path):
    lines = dict(
        infeed_rate="infeed rate on the diameter;20;µm/s", wheel_diameter="wheel diameter;8;in", shape_ratio="shape ratio;10;-"
    )
    page = setup_table(with_lines(tmp_path, **lines, more="noise;3;%\nmarked speed;43"))
    cells = [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row) for row in page.split("<tr>")]
    assert ["20 µm/s on the diameter", "0.6", "mm/min"] in [row[1:4] for row in cells]
    assert ["8 in", "203.2", "mm"] in [row[1:4] for row in cells] and ["10", "10", ""] in [row[1:4] for row in cells]
    assert ["3 %", "3", "%"] in [row[1:4] for row in cells] and ["43", "43", "m/s"] in [row[1:4] for row in cells]


@pytest.mark.parametrize("line, said", [("marked speed;200", "Check marked_wheel_speed: 200 m/s, usual is 10 to 80 m/s."), ("nominal rpm;9000", "Check nominal_rpm: 9000 1/min, usual is 5 to 2000 1/min.")])  # fmt: skip
def test_a_mark_and_a_nominal_rpm_that_are_unusual_are_named(tmp_path, line, said):
    assert said in with_lines(tmp_path, more=line).remarks


# --- what follows ---


def test_a_wheel_at_the_speed_marked_on_it_may_run_and_none_above(tmp_path):
    """The faster of speed and rpm counts, as they agree within 1 %: 1910 1/min of 200 mm are 20.0015 m/s."""
    assert with_lines(tmp_path, more="marked speed;25").setup.wheel_speed == 25
    assert "(got 25 m/s)" in refusal(tmp_path, more="marked speed;24.99")
    both = {"wheel_speed": "wheel speed;19.9\nwheel rpm;1910", "more": "marked speed;20"}
    assert "wheel_speed must be <= marked_wheel_speed, 20 m/s" in refusal(tmp_path, **both)
    assert "(got 20.1 m/s)" in refusal(tmp_path, **{**both, "wheel_speed": "wheel speed;20.1\nwheel rpm;1905"})
    assert with_lines(tmp_path, **{**both, "wheel_speed": "wheel speed;19.9\nwheel rpm;1905"}).setup.wheel_speed == 19.9


def test_a_wheel_rpm_without_its_diameter_lacks_only_that(tmp_path):
    remarks = with_lines(tmp_path, wheel_speed="wheel rpm;2400", wheel_diameter="").remarks
    assert any("The setup lacks wheel_diameter." in remark for remark in remarks)
    remarks = with_lines(tmp_path, wheel_speed="", wheel_diameter="").remarks
    assert any("The setup lacks wheel_speed, wheel_diameter." in remark for remark in remarks)


def test_a_counted_grit_density_goes_before_one_that_follows_from_the_grits(tmp_path):
    grits = "grit;D126\nconcentration;100\nactive fraction;0.5"
    assert with_lines(tmp_path, more=grits).setup.grit_density == 20
    lacking = with_lines(tmp_path, grit_density="grit;D126\nconcentration;100").remarks
    assert any("The setup lacks grit_density." in remark for remark in lacking)


@pytest.mark.parametrize(
    "written, side", [("+1", 1), ("1", 1), ("0", 0), ("Außen", 1), ("plano", 0), ("extérieur", 1), ("flat", 0)]
)
def test_the_side_may_be_a_number_or_a_word_of_any_of_the_languages(tmp_path, written, side):
    assert with_lines(tmp_path, side=f"side;{written}").setup.side == side
    assert with_lines(tmp_path, side="side;-1", work_diameter="work diameter;300").setup.side == -1


def test_a_blank_kind_of_load_says_nothing_but_a_blank_basis_is_none(tmp_path):
    assert with_lines(tmp_path, more="load_kind;").load_kind == "power"
    assert "infeed_basis must be radius or diameter (got blank)" in refusal(tmp_path, more="infeed_basis;")


# --- around the table ---


def test_words_without_a_number_below_the_table_count_and_labels_alone_do_not(tmp_path):
    lines = {name: line for name, line in LINES.items() if name != "side"}
    below = "\nSeite;außen\ninfeed_basis;diameter\nload_kind;relative\n"
    trial = read(tmp_path, "\n".join([*lines.values(), TABLE, below]))
    assert trial.setup.side == 1 and trial.setup.infeed_rate == 0.3 and trial.load_kind == "relative"
    phases = "rpm;power;phase\n120;2;grinding\n;;idle\n;0.5;idle\n132;1.9;grinding\n"
    assert [reading.status for reading in read(tmp_path, phases).readings] == ["used", "blank", "left out: rpm is blank", "used"]


def test_lines_right_of_the_table_begin_behind_its_last_column(tmp_path):
    rows = [["rpm", "power", "note", None, "wheel diameter", 8, "in"], [120, 2, "x", None, "coolant", "on"]]
    rows += [[132, 1.9, None, None, "Seite", "innen"], [144, 1.9, "y", None, "infeed rate", 0.6]]
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "right.xlsx")
    trial = read_trial(tmp_path / "right.xlsx")
    assert trial.given.values["wheel_diameter"] == pytest.approx(203.2) and trial.given.values["side"] == "internal"
    assert trial.given.values["infeed_rate"] == 0.6 and len(trial.used) == 3
    assert not any("not read" in remark for remark in trial.remarks)


def test_a_label_under_a_heading_of_its_own_is_no_line(tmp_path):
    rows = [["rpm", "power", "phase", "level"], [120, 2, "idle", 1], [132, 1.9, "idle", 2]]
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "phases.xlsx")
    trial = read_trial(tmp_path / "phases.xlsx")
    assert [reading.idle for reading in trial.used] == [0, 0] and any("not read: 'level'" in remark for remark in trial.remarks)
