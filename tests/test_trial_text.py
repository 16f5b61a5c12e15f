"""Trials from text files."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gritfuncs import example
from gritfuncs.trial import Setup, read_trial
from gritfuncs.trial.rows import MAX_ROWS
from gritfuncs.trial.text_file import MAX_BYTES

SAMPLE = Path(__file__).parent / "data" / "trial_invented.csv"
READINGS = "120;2.05\n132;1.99\n"


def write(folder, text, name="trial.csv", encoding="utf-8"):
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def read(folder, text, **options):
    return read_trial(write(folder, text), **options)


def error(path, **options):
    with pytest.raises(ValueError) as caught:
        read_trial(path, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_the_sample_file_is_read_whole():
    trial = read_trial(SAMPLE)
    assert trial.source == "trial_invented.csv"
    assert trial.counts == {"used": 10, "excluded": 1, "left out": 1, "blank": 0}
    assert trial.left_out == ((17, "excluded"), (21, "left out: load is not a number"))
    assert trial.repeated == ((26, "used, same as row 15"),)
    assert (trial.load_kind, trial.depth_unit, trial.energy_unit) == ("power", "µm", "J/mm³")
    # 100 concentration of D126: sieve mean 115.5 µm, half of the grits active; 2400 1/min of a 200 mm wheel
    assert trial.setup == Setup(
        work_diameter=20,
        infeed_rate=0.6,
        wheel_speed=25.132741228718345,
        wheel_diameter=200,
        side=1,
        grit_density=trial.setup.grit_density,
        shape_ratio=10,
        contact_width=15,
    )
    assert trial.setup.grit_density == pytest.approx(1e6 * 0.5 * (6 * 0.25 / (3.141592653589793 * 115.5**3)) ** (2 / 3))
    first = trial.used[0]
    assert (first.row, first.work_rpm, first.load, first.idle) == (15, 120, 2.05, 0.86)
    assert first.energy == pytest.approx(1000 * (2.05 - 0.86) / (3.141592653589793 * 20 * 0.6 / 60 * 15))
    assert first.depth == trial.setup.depth(120)


@pytest.mark.parametrize(
    "heading, load_kind",
    [
        ("rpm;power", "power"),
        ("Work rpm (1/min);Spindle power [kW]", "power"),
        ("n_w / 1/min;P / kW", "power"),
        ("speed;kW", "power"),
        ("work speed (rpm);Power in kW", "power"),
        ("RPM;power, kW", "power"),
        ("1/min;kW", "power"),
        ("work rpm n_w [min⁻¹];power P [kW]", "power"),
        ("rpm;Spindle current (A)", "current"),
        ("rpm;Amps", "current"),
        ("rpm;A", "current"),
        ("rpm;Load meter %", "relative"),
        ("rpm;load", "relative"),
        ("rpm;%", "relative"),
        ("work_rpm;load (bar)", "relative"),
    ],
)
def test_headings_are_recognised(tmp_path, heading, load_kind):
    trial = read(tmp_path, f"{heading}\n{READINGS}")
    assert [reading.work_rpm for reading in trial.used] == [120, 132]
    assert trial.load_kind == load_kind


@pytest.mark.parametrize(
    "heading, part",
    [
        ("rpm;power (V)", "power must be in kW (got heading 'power (V)')"),
        ("rpm;power (donkey)", "power must be in kW"),
        ("rpm;current in kW", "must have a row that heads"),
        ("speed (m/min);power", "work_rpm must be in 1/min"),
        ("wheel rpm;power", "must have a row that heads a column of work rpm"),
        ("work speed;power", "must have a row that heads"),
        ("rpm;net power", "must have a row that heads"),
        ("grit depth (mm²);power", "grit_depth must be in µm"),
        ("a;b", "must have a row that heads"),
        ("rpm;rpm;power", "must have one column of work_rpm in row 1 (got 'rpm' and 'rpm')"),
        ("rpm;power;current", "must have one column of load readings in row 1"),
        ("rpm;power (kW);idle (A)", "idle must be in the unit of the load, kW (got heading 'idle (A)')"),
        ("rpm;power;idle;idle power", "must have one column of idle"),
        ("rpm;power\n130;2.1\nrpm;power", "rows 1 and 3 both look like one"),
    ],
)
def test_headings_that_are_missing_unclear_or_in_another_unit_are_refused(tmp_path, heading, part):
    message = error(write(tmp_path, f"{heading}\n120;2;0\n"))
    assert part in message and message.startswith("trial.csv: ")


def test_several_loads_are_chosen_by_kind_or_column(tmp_path):
    text = "rpm;power;current;load\n120;2;5;40\n"
    assert [read(tmp_path, text, load_kind=kind).used[0].load for kind in ("power", "current", "relative")] == [2, 5, 40]
    assert read(tmp_path, text, columns={"work_rpm": "rpm", "current": "Current"}).used[0].load == 5


def test_power_may_be_read_as_a_bare_load(tmp_path):
    trial = read(tmp_path, "rpm;power (kW)\n120;2\n", load_kind="relative")
    assert (trial.load_kind, trial.energy_unit, trial.energies) == ("relative", "relative", (2,))


@pytest.mark.parametrize(
    "load_kind, part",
    [
        ("current", "load_kind must be power or relative for this file"),
        ("amps", "load_kind must be power, current, relative (got 'amps')"),
    ],
)
def test_a_load_kind_that_cannot_be_is_refused(tmp_path, load_kind, part):
    assert part in error(write(tmp_path, "rpm;power\n120;2\n"), load_kind=load_kind)


@pytest.mark.parametrize(
    "columns",
    [
        {"work_rpm": "B", "power": "C", "note": "A"},
        {"work_rpm": "drehzahl", "power": " LEISTUNG  (kW)", "note": "A"},
        {"work_rpm": "B", "power": "Leistung (kW)", "note": "A"},
    ],
)
def test_columns_by_letter_or_heading(tmp_path, columns):
    trial = read(
        tmp_path, "Versuch 7\nwork_diameter;20\nNr;Drehzahl;Leistung (kW)\n1;120;2,05\n2;;1,99\n3;130;x\n", columns=columns
    )
    assert [(reading.row, reading.status, reading.note) for reading in trial.readings] == [
        (4, "used", "1"),
        (5, "left out: rpm is blank", "2"),
        (6, "left out: load is not a number", "3"),
    ]


@pytest.mark.parametrize(
    "columns, part",
    [
        ({}, "columns must be a dictionary"),
        ("B", "columns must be a dictionary"),
        ({"rpm": "B", "power": "C"}, "columns must name work_rpm, "),
        ({"note": "A"}, "must have a row that heads a column of work rpm"),
        ({"work_rpm": "kW"}, "work_rpm must be in 1/min (got heading 'kW')"),
        ({"work_rpm": "B", "power": "C", "current": "D"}, "columns must name only one of"),
        ({"work_rpm": 2, "power": "C"}, "columns['work_rpm'] must be a heading or a column letter (got 2)"),
        ({"work_rpm": "rpm", "power": "kilowatt"}, "missing: 'kilowatt'"),
        ({"work_rpm": "rpm", "power": "Z"}, ""),
        ({"work_rpm": "Y", "power": "Z"}, "must have a row with numbers in the columns Y, Z"),
        ({"work_rpm": "rpm", "power": "twice"}, "must have one column headed 'twice'"),
        ({"work_rpm": "rpm", "power": "P (mm)"}, "power must be in kW (got heading 'P (mm)')"),
    ],
)
def test_columns_that_do_not_fit_are_refused(tmp_path, columns, part):
    path = write(tmp_path, "rpm;kW;twice;twice;P (mm);A\n120;2;1;1;9;9\n")
    if part:
        assert part in error(path, columns=columns)
    else:  # an empty column is no error of the file, every row says so
        assert read_trial(path, columns=columns).left_out == ((2, "left out: load is blank"),)


@pytest.mark.parametrize(
    "line",
    [
        "infeed_rate; 0.6; mm/min",
        "infeed rate (mm/min);0.6",
        "# infeed_rate = 0.6",
        "#infeed rate: 0.6 mm/min",
        "Infeed rate on the radius;0.6",
        "in_infeed_rate;0.6;;from the machine",
        "infeed_rate;1.2\ninfeed_basis;diameter",
    ],
)
def test_lines_above_the_headings_give_the_setup(tmp_path, line):
    others = "work_diameter;20\nwheel_diameter;200\nwheel speed;25;m/s\nside;internal\ngrit_density;20\nshape_ratio;10\n"
    text = f"{others.replace('20', '300', 1)}{line}\nrpm;power\n120;2.5\n"
    assert read(tmp_path, text).setup == Setup(300, 0.6, 25, 200, "internal", 20, 10)


@pytest.mark.parametrize(
    "line, part",
    [
        ("wheel_diameter;-3", "wheel_diameter must be > 0 mm (got -3.0)"),
        ("wheel_diameter;large", "wheel_diameter must be a number, > 0 mm (got 'large')"),
        ("wheel_diameter;8;hands", "wheel_diameter must be in mm (got 'hands')"),
        ("wheel_speed;1500;kW", "wheel_speed must be in m/s (got 'kW')"),
        ("side;inside", "side must be external, flat, internal or 1, 0, -1 (got 'inside')"),
        ("infeed_basis;both", "infeed_basis must be radius or diameter (got 'both')"),
        ("grit_size;D125", "designation must be an ISO 6106 sieve size"),
        ("designation;126", "designation must be"),
        ("active_fraction;1.5", "active_fraction must be > 0 and <= 1 (got 1.5)"),
        ("noise;150", "noise must be > 0 and < 100, in % (got 150.0)"),
        ("idle;800;mm", "idle must be in the unit of the load, kW (got 'mm')"),
        ("idle;low", "idle must be a number (got 'low')"),
        ("load_kind;current", "load_kind must be power or relative for this file (got 'current')"),
        ("wheel_diameter;200\nwheel diameter;201", "wheel_diameter must be given once (got it in rows 1 and 2)"),
        ("wheel_diameter;200\nwheel_speed;25\nwheel_rpm;2600", "wheel_speed must agree with wheel_rpm within 1 %"),
        ("wheel_diameter;200\nwheel_rpm;4000\nmarked_wheel_speed;35", "never run a wheel above the speed marked on it"),
        ("wheel_speed;36\nmarked_wheel_speed;35", "wheel_speed must be <= marked_wheel_speed, 35 m/s"),
        ("decimal;dot", "decimal must be point or comma (got 'dot')"),
    ],
)
def test_bad_setup_lines_are_refused(tmp_path, line, part):
    assert part in error(write(tmp_path, f"{line}\nrpm;power\n120;2.5\n"))


def test_of_a_complete_setup_nothing_is_said_to_lack(tmp_path):
    lines = "".join(f"{name};{value}\n" for name, value in example.setup().items())
    trial = read(tmp_path, f"{lines}rpm;power\n120;2.5\n240;2.4\n")
    assert trial.setup is not None and trial.depth_unit == "µm"
    assert not any("No setup" in remark or "lacks" in remark for remark in trial.remarks)


@pytest.mark.parametrize("signs, is_read", [(500, True), (501, False)])
def test_a_line_of_more_than_500_signs_is_a_remark(tmp_path, signs, is_read):
    trial = read(tmp_path, f"wheel diameter:{'200':>{signs - 15}}\nrpm;power\n120;2.5\n240;2.4\n")
    assert (trial.given.words.get("wheel_diameter") == 200) == is_read


def test_an_incomplete_setup_is_named_and_depths_are_relative(tmp_path):
    trial = read(tmp_path, "wheel_diameter;200\nrpm;power\n120;2.5\n240;2.4\n")
    assert trial.setup is None and trial.depth_unit == "relative"
    assert trial.depths == (1, 2**0.25)
    assert any("The setup lacks work_diameter, infeed_rate" in remark for remark in trial.remarks)


def test_a_blank_setup_value_is_a_missing_one(tmp_path):
    assert "grit_density" in read(tmp_path, "grit_density;;1/mm²\nrpm;power\n120;2.5\n").remarks[1]


def test_current_with_volts_and_power_factor_is_power(tmp_path):
    setup = Setup(20, 0.6, 25, 200, 1, 20, 10, contact_width=15)
    text = "volts;400\npower_factor;0.8\nrpm;current;idle\n120;6;2\n"
    # root 3 times 400 V times 4 A times 0.8 = 2.217 kW
    assert read(tmp_path, text).energies == pytest.approx((3**0.5 * 400 * 4 * 0.8 / 1000,))
    assert read(tmp_path, text).energy_unit == "kW"
    with_width = read(tmp_path, text, setup=setup)
    assert with_width.energy_unit == "J/mm³"
    assert with_width.energies[0] == pytest.approx(2217.025 / (0.2 * 3.14159265 * 15), rel=1e-6)


def test_current_alone_is_net_current_and_says_so(tmp_path):
    trial = read(tmp_path, "rpm;current;idle\n120;6;2\n")
    assert (trial.energies, trial.energy_unit) == ((4,), "A")
    assert any("volts" in remark for remark in trial.remarks)


def test_arguments_go_before_the_file(tmp_path):
    setup = Setup(20, 0.6, 25, 200, 1, 20, 10)
    text = "wheel_diameter;100\nidle;0.5\nnoise;3\nrpm;power\n120;2.5\n"
    from_file = read(tmp_path, text)
    assert (from_file.noise, from_file.used[0].idle) == (0.03, 0.5)
    given_more = read(tmp_path, text, setup=setup, idle=0.7, noise=0.02)
    assert (given_more.noise, given_more.used[0].idle, given_more.setup) == (0.02, 0.7, setup)


@pytest.mark.parametrize(
    "options, part",
    [
        (dict(noise=2), "noise must be > 0 and < 1, a share: 0.02 means 2 % (got 2)"),
        (dict(noise="2"), "noise must be a number (got '2')"),
        (dict(idle="0.8"), "idle must be a number (got '0.8')"),
        (dict(idle=float("nan")), "idle must be a number (got nan)"),
        (dict(setup={"side": 1}), "setup must be a Setup"),
        (dict(sheet=1), "sheet must be the name of a sheet"),
        (dict(sheet="Readings"), "sheet must be left out for a text file"),
    ],
)
def test_bad_arguments_are_refused(tmp_path, options, part):
    assert part in error(write(tmp_path, "rpm;power\n120;2\n"), **options)


def test_depths_and_energies_may_be_given(tmp_path):
    trial = read(tmp_path, "rpm;grit depth (µm);specific energy (J/mm³)\n100;1,0;90\n1600;2,0;60\n")
    assert (trial.depths, trial.energies, trial.depth_unit, trial.energy_unit) == ((1, 2), (90, 60), "µm", "J/mm³")
    assert trial.rpm_for(1.5) == pytest.approx(100 * 1.5**4)


def test_no_rpm_is_made_up_where_the_infeed_rate_changed(tmp_path):
    assert read(tmp_path, "rpm;grit depth;load\n100;1.0;90\n200;2.0;60\n").rpm_for(1.5) is None
    assert read(tmp_path, "grit depth;load\n1.0;90\n2.0;60\n").rpm_for(1.5) is None


def test_a_file_of_thousands_and_points(tmp_path):
    trial = read(tmp_path, 'rpm,power\n"1,250",2.5\n960,2.6\n')
    assert [reading.work_rpm for reading in trial.used] == [1250, 960]


@pytest.mark.parametrize("text", ["rpm;load\n120;1,250\n130;1,210\n", "rpm;load\n120;1.250\n130;1.210\n"])
def test_an_unclear_decimal_sign_is_refused_until_a_line_settles_it(tmp_path, text):
    assert "can be read in two ways" in error(write(tmp_path, text))
    sign = "point" if "." in text else "comma"
    assert read(tmp_path, f"decimal = {sign}\n{text}").energies == (1.25, 1.21)


def test_a_comma_that_marks_decimals_does_not_part_columns(tmp_path):
    assert read(tmp_path, "120,5;x;2,5\n130,5;x;2,4\n", columns={"work_rpm": "A", "load": "C"}).energies == (2.5, 2.4)


@pytest.mark.parametrize(
    "rows, row",
    [("120,2,05\n132,1,9\n", 2), ("120,2\n132,1,95\n", 3), ("120,2,05,\n", 2), ("120,2,05\n\nwheel diameter,200,mm\n", 2)],
)
def test_decimal_commas_between_columns_that_commas_part_are_refused(tmp_path, rows, row):
    """120,2,05 for 120 1/min and 2,05 kW would be read as 2 kW, and with idle before the power as any power."""
    message = error(write(tmp_path, f"rpm,power{',' if rows.endswith('05,') else ''}\n{rows}"))
    assert f"row {row} must have no more cells than there are headings, 2, where commas part the columns" in message
    assert "if numbers have a decimal comma, part the columns by semicolons" in message


def test_cells_beyond_the_headings_that_no_decimal_comma_makes_are_read_past(tmp_path):
    for text in ("rpm,power\n120,2,hot\n", "rpm,power,\n120,2,7\n", "rpm,power\n120,2,,\n", "rpm;power\n120;2;7\n",
                 "rpm,power\n120,2\nwheel diameter,200,mm\n", "rpm,power\n120,2,7.5\n"):  # fmt: skip
        assert [(reading.work_rpm, reading.load) for reading in read(tmp_path, text).used] == [(120, 2)]
    assert read(tmp_path, "120,2,7\n", columns={"work_rpm": "A", "power": "B"}).energies == (2,)
    assert read(tmp_path, 'rpm,power\n120,"2,05"\n').energies == (2.05,)


def test_mixed_decimal_signs_are_refused(tmp_path):
    assert "one decimal sign" in error(write(tmp_path, "rpm;load\n120;2,5\n130;2.7\n"))


def test_titles_blank_lines_and_a_sep_line_are_passed_over_and_rows_keep_their_line_numbers(tmp_path):
    trial = read(tmp_path, 'sep=;\nInvented\n\nrpm;load;note\n\n120;5;"two\nlines"\n130;4;\n')
    assert [(reading.row, reading.note) for reading in trial.readings] == [(6, "two\nlines"), (8, "")]


def test_rows_below_the_table_are_named(tmp_path):
    trial = read(tmp_path, "rpm;load\n120;5\nmean;5\n# end\n")
    assert trial.left_out == ((3, "left out: rpm is not a number"), (4, "left out: rpm is not a number"))


@pytest.mark.parametrize(
    "content, part",
    [
        (b"", "it is empty"),
        (b" \n\n", "it is empty"),
        (b"\xff\xfe", "it is empty"),
        (bytes(range(256)), "must be a text file"),
        (b"rpm;power\n120;2\x00\n", "must be a text file"),
        (b"\x81\x8d", "must be a text file"),
        (b"PK\x03\x04rest", "zip file"),
        (b"\xff\xfer", "must be a text file"),
        (b'rpm;power;note\n120;2;"open\n130;2;x\n', "closed quotes"),
        (b"rpm;power\n" + b"120;2\n" * MAX_ROWS, f"at most {MAX_ROWS} filled rows"),
        (b"x" * (MAX_BYTES + 1), "at most 2 MB"),
        (b"rpm\n120\n", "must have a row that heads"),
    ],
)
def test_files_that_are_no_trial_are_refused(tmp_path, content, part):
    path = tmp_path / "trial.csv"
    path.write_bytes(content)
    assert part in error(path)


@pytest.mark.parametrize("name", ["trial.xls", "trial.fods", "trial", "trial.pdf", "trial.XLSB"])
def test_other_endings_are_refused(tmp_path, name):
    assert "must end in .xlsx, .xlsm, .ods, .csv, .tsv, .txt" in error(write(tmp_path, "rpm;power\n120;2\n", name))


def test_missing_files_folders_and_non_paths_are_refused(tmp_path):
    assert error(tmp_path / "none.csv") == "none.csv: must be a file that exists"
    assert "it is a folder" in error(tmp_path)
    assert "path must be the name of a file" in error(7)
    assert "exists" in error("") or "folder" in error("")
    error("bad\0name.csv")
    error("x" * 5000 + ".csv")
    error("two\nlines.csv")


numbers = st.floats(0.001, 9999).map(lambda number: round(number, 4))
notes = st.text(st.characters(codec="cp1252", exclude_categories=("C",)), max_size=8)
rows = st.lists(st.tuples(numbers, numbers, st.sampled_from(["", "yes", "no"]), notes), min_size=1, max_size=8)


def is_other_text_in_utf8(text):
    """Whether the bytes of a text in cp1252 are those of another text in UTF-8: nothing tells which was meant."""
    try:
        return text.encode("cp1252").decode("utf-8") != text
    except UnicodeDecodeError:
        return False


@settings(max_examples=60)
@given(
    rows=rows,
    dialect=st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), (",", ",")]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    quoting=st.sampled_from([0, 1]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    crowd=st.booleans(),
)
def test_written_readings_are_read_back_from_any_dialect(tmp_path_factory, rows, dialect, encoding, quoting, end, crowd):
    delimiter, decimal = dialect
    text = io.StringIO()
    out = csv.writer(text, delimiter=delimiter, lineterminator=end, quoting=quoting)
    if crowd:
        out.writerows([["Invented trial"], [], ["idle", "0.0005".replace(".", decimal)]])
    else:
        out.writerow(["decimal", {".": "point", ",": "comma"}[decimal]])
    out.writerow(["Note", "work rpm", "Load meter", "use?"])
    for rpm, load, use, note in rows:
        out.writerow([note, str(rpm).replace(".", decimal), str(load).replace(".", decimal), use])
    assume(encoding != "cp1252" or not is_other_text_in_utf8(text.getvalue()))
    path = write(tmp_path_factory.mktemp("csv"), text.getvalue(), encoding=encoding)
    found = read_trial(path).readings
    assert [(reading.work_rpm, reading.load) for reading in found] == [(rpm, load) for rpm, load, _, _ in rows]
    assert [reading.note for reading in found] == [note.strip() for *_, note in rows]
    assert [reading.kind == "excluded" for reading in found] == [use == "no" for _, _, use, _ in rows]


@settings(max_examples=150)
@given(st.data())
def test_a_damaged_text_file_is_read_or_refused_in_one_line(tmp_path_factory, data):
    content = bytearray(SAMPLE.read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place : place + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    del content[data.draw(st.integers(1, len(content))) :]
    path = tmp_path_factory.mktemp("csv") / "trial.csv"
    path.write_bytes(bytes(content))
    try:
        read_trial(path).report()
    except ValueError as problem:
        assert "\n" not in str(problem) and "trial.csv" in str(problem)


def test_blank_lines_between_readings_are_counted(tmp_path):
    path = tmp_path / "gaps.csv"
    path.write_text('\nrpm;kW;note\n\n100;1,5;a\n\n;;\n110;1,4;"two\nlines"\n120;1,3;b\n\n\n', encoding="utf-8")
    trial = read_trial(path)
    assert trial.counts == {"used": 3, "excluded": 0, "left out": 0, "blank": 2}
    assert [reading.row for reading in trial.readings] == [4, 5, 6, 7, 9]
    assert "3 used, 2 blank" in trial.report()


@pytest.mark.parametrize("written", ["D*", "D1?6", "D125"])
def test_a_designation_that_is_none_is_named_once(tmp_path, written):
    text = f"grit;{written}\nconcentration;100\nactive_fraction;0.5\n" + "rpm;power\n" + READINGS
    assert error(write(tmp_path, text)).startswith("trial.csv: designation must be an ISO 6106 sieve size")


@pytest.mark.parametrize(
    "text, idle, refused",
    [
        ("rpm;power\n120;1.9\n", -1e101, "row 2: energy must be at most 1e+100 kW with idle taken off (got 1e+101)"),
        ("rpm;load\n132;2.1\n120;1e101\n", None, "row 3: energy must be at most 1e+100 with idle taken off (got 1e+101)"),
        ("rpm;specific energy\n120;1e101\n", None, "row 2: energy must be at most 1e+100 J/mm³ (got 1e+101)"),
        ("grit depth;power\n1e-101;1.9\n", None, "row 2: grit depth must be >= 1e-100 µm (got 1e-101)"),
    ],
)
def test_a_reading_that_no_knee_can_be_computed_with_is_named_when_it_is_read(tmp_path, text, idle, refused):
    assert error(write(tmp_path, text), idle=idle).endswith(refused)


@pytest.mark.parametrize("text, idle", [("rpm;power\n120;1.9\n", -1e100), ("grit depth;power\n1e-100;1e100\n", None)])
def test_the_largest_reading_that_is_read_has_a_knee(tmp_path, text, idle):
    assert read(tmp_path, text, idle=idle).knee.verdict


# Common words of the trade, from memory; each sheet has the setup of the first but for what it does not say.
SHEETS = {
    "pl": (
        "Średnica ściernicy;200 mm\nPrędkość ściernicy;22 m/s\nDopuszczalna prędkość obwodowa;35 m/s\nŚrednica przedmiotu;20,0 mm\n"
        "Posuw wgłębny (na średnicy);1,2 mm/min\nStrona;zewnętrzna\n",
        "Lp.;Obroty przedmiotu [obr/min];Moc wrzeciona [kW];Bieg jałowy [kW];Uwagi;Przypalenia",
        ("nie", "tak"),
        "Średnia",
    ),
    "cs": (
        "Průměr kotouče;200 mm\nObvodová rychlost kotouče;22 m/s\nNejvyšší pracovní rychlost;35 m/s\nPrůměr obrobku;20 mm\n"
        "Přísuv (na průměr);1,2 mm/min\nStrana;vnější\n",
        "Č.;Otáčky obrobku [ot/min];Výkon vřetena [kW];Chod naprázdno [kW];Poznámka;Spálení",
        ("ne", "ano"),
        "Průměr",
    ),
    "sv": (
        "Skivdiameter;200 mm\nPeriferihastighet;22 m/s\nHögsta periferihastighet;35 m/s\nArbetsstyckets diameter;20 mm\n"
        "Matning (på diametern);1,2 mm/min\nSida;utvändig\n",
        "Nr;Arbetsstyckets varvtal (varv/min);Spindeleffekt (kW);Tomgång (kW);Anmärkning;Brännskada",
        ("nej", "ja"),
        "Medel",
    ),
    "es": (
        "Diámetro de la muela;200 mm\nVelocidad de la muela;22 m/s\nVelocidad máxima de la muela;35 m/s\nDiámetro de la pieza;20 mm\n"
        "Velocidad de avance (en diámetro);1,2 mm/min\nLado;exterior\n",
        "N.º;Velocidad de giro (rpm);Potencia del husillo (kW);Potencia en vacío (kW);Observaciones;Quemaduras",
        ("no", "sí"),
        "Promedio",
    ),
    "pt": (
        "Diâmetro do rebolo;200 mm\nVelocidade do rebolo;22 m/s\nVelocidade máxima do rebolo;35 m/s\nDiâmetro da peça;20 mm\n"
        "Velocidade de avanço (no diâmetro);1,2 mm/min\nLado;externo\n",
        "N.º;Rotação da peça (rpm);Potência do fuso (kW);Potência em vazio (kW);Observações;Queima",
        ("não", "sim"),
        "Média",
    ),
    "it": (
        "Diametro mola;200 mm\nVelocità mola;22 m/s\nVelocità massima mola;35 m/s\nDiametro pezzo;20 mm\n"
        "Avanzamento (sul diametro);1,2 mm/min\nLato;esterno\n",
        "N.;Giri pezzo (giri/min);Potenza mandrino (kW);Potenza a vuoto (kW);Note;Bruciature",
        ("no", "sì"),
        "Media",
    ),
    "fr": (
        "Diamètre de la meule;200 mm\nVitesse de la meule;22 m/s\nVitesse maxi meule;35 m/s\nDiamètre de la pièce;20 mm\n"
        "Avance (au diamètre);1,2 mm/min\nCôté;extérieur\n",
        "N°;Vitesse de rotation pièce (tr/min);Puissance broche (kW);Puissance à vide (kW);Remarques;Brûlure",
        ("non", "oui"),
        "Moyenne",
    ),
    "de": (
        "Scheibendurchmesser;200 mm\nUmfangsgeschwindigkeit;22 m/s\nArbeitshöchstgeschwindigkeit;35 m/s\nWerkstückdurchmesser;20 mm\n"
        "Vorschub (auf Durchmesser);1,2 mm/min\nSeite;außen\n",
        "Nr.;Drehzahl Werkstück (U/min);Spindelleistung (kW);Leerlauf (kW);Bemerkung;Schleifbrand",
        ("nein", "ja"),
        "Mittel",
    ),
}


@pytest.mark.parametrize(
    "language, encoding",
    [
        (language, encoding)
        for language in SHEETS
        for encoding in ("utf-8-sig", "utf-16", "iso8859-2" if language in ("pl", "cs") else "cp1252")
    ]
    + [("pl", "cp1250"), ("cs", "cp1250"), ("de", "cp1250")],
)
def test_a_sheet_in_any_of_the_languages_and_their_code_pages(tmp_path, language, encoding):
    lines, heads, (no, yes), total = SHEETS[language]
    text = lines + "grit density;18,9\nshape ratio;10\ngrinding width;15 mm\n" + heads
    path = write(
        tmp_path, f"{text}\n1;120;2,05;0,86;;{no}\n2;1 132;1,99;0,86;;{yes}\n{total};626;2,02;0,86;;\n", encoding=encoding
    )
    trial = read_trial(path)
    assert trial.setup == Setup(20, 0.6, 22, 200, "external", 18.9, 10, 15)
    assert [(reading.work_rpm, reading.load, reading.idle) for reading in trial.used] == [(120, 2.05, 0.86), (1132, 1.99, 0.86)]
    assert [reading.damage for reading in trial.used] == ["", yes]
    assert trial.counts["left out"] == 1
    assert "CHECK" not in trial.report() and "Lines above the table" not in trial.report()
    fast = write(tmp_path, text.replace("35 m/s", "20 m/s") + "\n1;120;2,05;0,86;;\n", encoding=encoding)
    assert "never run a wheel above the speed marked on it" in error(fast)


@pytest.mark.parametrize("encoding", ["cp1250", "iso8859-2"])
def test_a_word_of_four_letters_tells_the_code_page(tmp_path, encoding):
    assert read_trial(write(tmp_path, "obroty;prąd\n120;5,2\n", encoding=encoding)).load_kind == "current"


@pytest.mark.parametrize("encoding, mark", [("utf-8", b"\xef\xbb\xbf"), ("utf-16-le", b"\xff\xfe"), ("utf-16-be", b"\xfe\xff")])
def test_a_mark_of_the_order_of_bytes_is_no_part_of_the_text(tmp_path, encoding, mark):
    (tmp_path / "trial.csv").write_bytes(mark + "Versuch für A\nrpm;power\n120;2\n".encode(encoding))
    assert read_trial(tmp_path / "trial.csv").title == "Versuch für A"


def test_a_date_in_a_line_does_not_tell_the_decimal_sign(tmp_path):
    assert read(tmp_path, "date;5.11\nrpm;power\n120;2,05\n").used[0].load == 2.05
    assert "the decimal sign must be clear" in error(write(tmp_path, "date;20261105\nrpm;load\n120;1,250\n"))


def test_a_column_of_a_setting_tells_the_decimal_sign_and_cells_with_units_go_by_it(tmp_path):
    trial = read(tmp_path, "rpm;load;infeed rate\n120;1,250;0,6\n132;1,240;0,6\n")
    assert ([reading.load for reading in trial.used], trial.infeed_rate) == ([1.25, 1.24], 0.6)
    trial = read(tmp_path, "rpm;power\n120;1,250 kW\n132;1,24 kW\n")
    assert [reading.load for reading in trial.used] == [1.25, 1.24]


def test_a_quoted_cell_may_stand_behind_a_space(tmp_path):
    assert read(tmp_path, 'rpm; power; note\n120; 2; "first; cold"\n').used[0].note == "first; cold"


def test_control_signs_make_a_file_none_of_text(tmp_path):
    for sign in (b"\x90", b"\x81", b"\x00", b"\x07"):
        (tmp_path / "trial.csv").write_bytes(b"Trial " + sign + b"\nrpm;power\n120;2\n")
        assert "must be a text file in UTF-8, UTF-16 with byte order mark" in error(tmp_path / "trial.csv")


def test_a_code_page_that_is_not_known_is_refused_with_what_to_do(tmp_path):
    message = error(write(tmp_path, "研削試験\nrpm;kW\n120;2,05\n", encoding="shift_jis"))
    assert message.endswith("Windows-1250 or ISO 8859-2; a spreadsheet program saves it as CSV UTF-8")


def test_signs_of_another_code_page_in_a_note_are_no_reason_to_change_it(tmp_path):
    path = write(tmp_path, "rpm;kW;note\n120;2,05;Ø ê æ Œ\n", encoding="cp1252")
    assert read_trial(path).readings[0].note == "Ø ê æ Œ"


def test_a_file_of_the_largest_size_is_read(tmp_path):
    assert "must hold readings, but it is empty" in error(write(tmp_path, " " * 2_000_000))
    assert "must be at most 2 MB: condense a log" in error(write(tmp_path, " " * 2_000_001))


@pytest.mark.parametrize("length, is_read", [(99, True), (100, False)])
def test_a_heading_is_no_longer_than_a_line_of_words(tmp_path, length, is_read):
    heading = f"power (kW, {'n' * (length - 12)})"
    text = f"rpm;{heading}\n120;2\n"
    assert len(heading) == length
    if is_read:
        assert read(tmp_path, text).load_kind == "power"
    else:
        assert "must have a row that heads a column of work rpm" in error(write(tmp_path, text))


def test_headings_are_looked_for_in_256_columns(tmp_path):
    for before, is_read in ((255, True), (256, False)):
        text = f"rpm{';' * before}power\n120{';' * before}2\n"
        if is_read:
            assert len(read(tmp_path, text).used) == 1
        else:
            assert "must have a row that heads a column of work rpm" in error(write(tmp_path, text))


def test_a_note_of_several_rows_speaks_of_damage_and_six_are_named(tmp_path):
    rows = "".join(f"{120 + row};2;a burn\n" for row in range(7))
    assert "The note of row 2, 3, 4, 5, 6, 7 speaks of damage" in " ".join(read(tmp_path, f"rpm;power;note\n{rows}").remarks)
    seen = read(tmp_path, "rpm;power;note;damage\n120;2;a burn;burn\n").remarks  # said where it counts
    assert not any("speaks of damage" in remark for remark in seen)


@pytest.mark.parametrize(
    "limits, said",
    [
        ("lowest work rpm;100\n", "at least 100"),
        ("highest work rpm;85\n", "at most 85"),
        ("lowest work rpm;100\nhighest work rpm;200\n", "100 to 200"),
    ],
)
def test_the_limits_that_there_are_are_named_with_the_rpm_outside_of_them(tmp_path, limits, said):
    remarks = read(tmp_path, f"{limits}rpm;power\n90;2\n").remarks
    row = 2 + limits.count("\n")
    assert f"Outside the machine's limits, {said} 1/min (row {row}: 90)." in remarks


def test_an_rpm_at_a_limit_is_within_it_and_a_blank_row_is_none(tmp_path):
    trial = read(tmp_path, "lowest work rpm;100\nhighest work rpm;200\nrpm;power\n100;2\n200;2\n;\n")
    assert not any("outside" in remark.lower() for remark in trial.remarks)


@pytest.mark.parametrize("noise, is_one", [(0.999, True), (1, False), (1e-9, True), (0, False), (-0.1, False)])
def test_a_scatter_is_a_share_between_nothing_and_all(tmp_path, noise, is_one):
    path = write(tmp_path, "rpm;power\n120;2\n")
    if is_one:
        assert read_trial(path, noise=noise).noise == noise
        percent = write(tmp_path, f"noise;{100 * noise!r}\nrpm;power\n120;2\n")
        assert read_trial(percent).noise == pytest.approx(noise)
    else:
        assert "noise must be > 0 and < 1, a share: 0.02 means 2 %" in error(path, noise=noise)


def test_the_setup_of_a_trial_has_its_infeed_also_where_the_rest_is_not_known(tmp_path):
    assert read(tmp_path, "infeed rate;1.2\ninfeed_basis;diameter\nrpm;power\n120;2\n").infeed_rate == 0.6
    assert read(tmp_path, "rpm;power\n120;2\n").infeed_rate is None


def test_of_many_damages_three_are_named_where_the_trial_stops(tmp_path):
    rows = "".join(f"{120 + row};2;burn{row}\n" for row in range(4))
    advice = read(tmp_path, f"nominal rpm;120\nrpm;power;damage\n{rows}").next_reading()
    assert advice.stop and advice.reason.endswith("; noted in row 3 (burn0), row 4 (burn1), row 5 (burn2)")


def test_a_step_outside_the_limits_of_the_caller_is_not_advised(tmp_path):
    class Narrow:
        lowest_work_rpm, highest_work_rpm = 119.0, 121.0

    trial = read(tmp_path, "nominal rpm;120\nrpm;power\n120;2\n120;2.01\n")
    assert trial.next_reading().work_rpm is not None
    advice = trial.next_reading(Narrow())
    assert advice.work_rpm is None or 119 <= advice.work_rpm <= 121


def test_work_that_turns_once_a_minute_is_advised_and_computed_like_any_other(tmp_path):
    rows = ["1;2", "1.1;2"]
    for _ in range(3):
        trial = read(tmp_path, "nominal rpm;1\nrpm;load\n" + "\n".join(rows) + "\n")
        rows.append(f"{trial.next_reading().work_rpm};2")
    assert min(float(row.partition(";")[0]) for row in rows) < 1
    assert read(tmp_path, "rpm;load\n0.5;2\n0.8;2\n").rpm_for(1) == pytest.approx(0.5)


def test_a_trial_as_a_dictionary_holds_all_that_was_read(tmp_path):
    lines = "nominal rpm;120\nnoise;2\nhighest_power;4\nlowest work rpm;20\nrpm;power;idle;damage\n"
    found = read(tmp_path, f"{lines}120;2;0.5;\n132;1.9;0.5;burn\n;;;\nx;1;;\n").as_dict()
    assert (found["source"], found["setup"], found["load_kind"], found["steps"]) == ("trial.csv", None, "power", "rpm")
    assert (found["depth_unit"], found["energy_unit"], found["noise"], found["nominal_rpm"]) == ("relative", "kW", 0.02, 120)
    limits = {name: value for name, value in found["limits"].items() if value is not None}
    assert limits == {"highest_power": 4, "lowest_work_rpm": 20}
    assert found["sources"] == dict.fromkeys(("nominal_rpm", "noise", "highest_power", "lowest_work_rpm"), "trial.csv")
    assert found["counts"] == {"used": 2, "excluded": 0, "left out": 1, "blank": 1}
    assert [(row["row"], row["work_rpm"], row["status"]) for row in found["readings"]] == [
        (6, 120, "used"),
        (7, 132, "used"),
        (8, None, "blank"),
        (9, None, "left out: rpm is not a number"),
    ]
    assert found["damage"] == [{"row": 7, "words": "burn"}] and found["remarks"][0].startswith("Columns read: ")
    assert found["knee"]["verdict"] == "too few readings" and found["knee_rpm"] is found["suspect_row"] is None


def test_a_blank_row_is_none_that_was_left_out(tmp_path):
    trial = read(tmp_path, "rpm;power;use\n120;2;\n\nx;1;\n;;\n132;2;no\n")
    assert trial.left_out == ((4, "left out: rpm is not a number"), (6, "excluded"))


def test_a_row_set_aside_holds_no_slipped_number_and_amperes_are_no_power(tmp_path):
    rows = "rpm;current;idle;use\n" + "".join(f"{rpm};5000;2500;\n" for rpm in (120, 132, 108, 144))
    told = read(tmp_path, f"{rows}12;5000;2500;no\n").checks
    assert not any("stands far" in check or "Check the" in check for check in told)
    assert any("in row 6: 12 stands far" in check for check in read(tmp_path, f"{rows}12;;2500;\n").checks)


def test_rows_that_do_not_count_are_outside_the_limits_all_the_same(tmp_path):
    """The machine was set to it."""
    trial = read(tmp_path, "highest work rpm;200\nrpm;power;use\n120;2;\n250;;\n260;2;no\n")
    assert "Outside the machine's limits, at most 200 1/min (row 4: 250, row 5: 260)." in trial.checks


@pytest.mark.parametrize(
    "lines, said",
    [
        ("", "No volts and power factor: energies are net current"),
        ("volts;400\n", "No power factor: energies are net current"),
        ("power factor;0.8\n", "No volts: energies are net current"),
        (
            "volts;400\npower factor;0.8\n",
            "Without a complete setup energies are net load, not specific energy; the knee is the same.",
        ),
    ],
)
def test_what_a_current_lacks_to_be_a_power_is_said(tmp_path, lines, said):
    assert any(remark.startswith(said) for remark in read(tmp_path, f"{lines}rpm;current\n120;5\n").remarks)


def test_a_file_that_says_nothing_of_the_setup_is_not_said_to_lack_parts_of_it(tmp_path):
    assert not any("lacks" in remark for remark in read(tmp_path, "nominal rpm;120\nrpm;power\n120;2\n").remarks)
    (said,) = (remark for remark in read(tmp_path, "volts;400\nrpm;power\n120;2\n").remarks if "lacks" in remark)
    lacking = {"wheel_diameter", "work_diameter", "side", "infeed_rate", "wheel_speed", "grit_density", "shape_ratio"}
    assert set(said.partition("lacks ")[2].rstrip(".").split(", ")) == lacking


def test_depths_of_a_file_without_rpm_have_that_of_the_setup(tmp_path):
    setup = Setup(20, 0.6, 22, 200, "external", 18.9, 10)
    path = write(tmp_path, "grit depth;power\n0.9;2\n1.1;1.9\n")
    assert read_trial(path, setup=setup).rpm_for(1.2) == setup.rpm_for(1.2) and read_trial(path).rpm_for(1.2) is None
    with pytest.raises(ValueError, match="^depth, as a work rpm, must be "):
        read(tmp_path, "rpm;power\n120;2\n").rpm_for(1e200)


def test_a_specific_energy_or_depth_that_is_unusual_is_named(tmp_path):
    trial = read(tmp_path, "grit depth;specific energy\n0.9;95\n900;0.0001\n")
    told = " ".join(trial.checks)
    assert "Check the grit depth: usual is " in told and "(row 3: 900)" in told
    assert "Check the specific energy: usual is " in told and "(row 3: 0.0001)" in told
