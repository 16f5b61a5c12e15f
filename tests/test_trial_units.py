"""What a trial file says of units, radius and range is understood or refused, never dropped."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import trial_workbook
from openpyxl import Workbook, load_workbook

from gritfuncs import units
from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial

SETUP = {
    "work_diameter": "20",
    "wheel_diameter": "200",
    "wheel_speed": "25",
    "infeed_rate": "0.6",
    "side": "external",
    "grit_density": "20",
    "shape_ratio": "10",
    "contact_width": "15",
}
TABLE = "rpm;power (kW);idle (kW)\n120;2.05;0.86\n132;1.99;0.86\n"


def read(folder, text, name="trial.csv", **options):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_trial(path, **options)


def with_lines(folder, table=TABLE, leave_out=(), **lines):
    """A trial whose setup lines are those above, but for the ones that are given whole."""
    words = {name: f"{name};{value}" for name, value in SETUP.items() if name not in leave_out}
    words.update(lines)
    return read(folder, "\n".join(words.values()) + "\n" + table)


def refusal(call, *args, **options):
    with pytest.raises(Refused) as caught:
        call(*args, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    "name, line, part",
    [
        ("work_diameter", "work diameter (x 10);2", "work_diameter must be one number in mm, without a factor (got 'x 10')"),
        ("work_diameter", "work diameter [mm] (x10);2", "without a factor (got 'x10')"),
        ("work_diameter", "work diameter (mm · 10);2", "without a factor"),
        ("work_diameter", "work diameter (tenths of mm);200", "without a factor (got 'tenths of mm')"),
        ("work_diameter", "work diameter (1/10 mm);200", "without a factor"),
        ("work_diameter", "work diameter (0,1 mm);200", "without a factor"),
        ("work_diameter", "Werkstück Ø (Zehntel mm);200", "without a factor"),
        ("work_diameter", "work diameter;20 mm x 2", "without a factor (got 'mm x 2')"),
        (
            "work_diameter",
            "work diameter;200;tenths of mm",
            "must be in mm (got 'tenths of mm'); a remark stands one column further",
        ),
        ("work_diameter", "work diameter;2;10 mm", "must be in mm (got '10 mm')"),
        ("work_diameter", "work diameter;2;x 10 mm", "must be in mm (got 'x 10 mm')"),
        ("contact_width", "grinding width;15 mm x 2", "contact_width must be one number in mm, without a factor"),
        ("infeed_rate", "infeed rate (x 1000);600", "infeed_rate must be one number in mm/min, without a factor"),
        ("infeed_rate", "infeed rate (10^-3 mm/min);600", "infeed_rate must be "),
        ("infeed_rate", "infeed rate (inches a minute);0.02", "infeed_rate must be in mm/min (got 'inches a minute')"),
        ("infeed_rate", "infeed rate [mm/min] (of the part diameter);1.2", "must say radius or diameter in plain words"),
        ("wheel_diameter", "wheel diameter;14;all inches", "wheel_diameter must be in mm (got 'all inches')"),
    ],
)
def test_a_multiple_of_a_unit_or_a_unit_among_words_is_refused(tmp_path, name, line, part):
    assert part in refusal(with_lines, tmp_path, **{name: line})


@pytest.mark.parametrize(
    "line",
    [
        "work diameter (as ground);20",
        "work diameter (±0.01 mm);20",
        "work diameter;20 mm;x 2 parts",
        "work diameter;20;mm, h6 ±0.01",
    ],
)
def test_remarks_beside_a_value_are_no_multiples(tmp_path, line):
    assert with_lines(tmp_path, work_diameter=line).setup.work_diameter == 20


@pytest.mark.parametrize(
    "share", ["25 vol%", "25;vol-%", "25;Vol.-%", "25;% vol", "4.4;carat/cm³", "4,4 Karat", "4.4 ct", "4.4;cts"]
)
def test_a_concentration_in_percent_by_volume_is_refused(tmp_path, share):
    lines = f"grit;D126\nconcentration;{share}\nactive fraction;0.5"
    must = "concentration must be the number of a concentration without a unit, 100 for 25 % by volume"
    assert must in refusal(with_lines, tmp_path, grit_density=lines)


@pytest.mark.parametrize(
    "heading, part",
    [
        ("rpm;power (kW);idle (x10)", "idle must be without a factor in its heading (got heading 'idle (x10)')"),
        ("rpm;power (kW);idle x10 (kW)", "idle must be without a factor"),
        ("rpm;power (kW);idle [1/10 kW]", "idle must be without a factor"),
        ("rpm;load (x10 %);idle (%)", "load must be without a factor in its heading"),
        ("rpm;load (tenths);idle", "load must be without a factor"),
        ("rpm (x100);power (kW);idle", "work_rpm must be in 1/min (got heading 'rpm (x100)')"),
    ],
)
def test_a_factor_in_a_heading_is_refused(tmp_path, heading, part):
    assert part in refusal(read, tmp_path, f"{heading}\n120;2.05;0.86\n132;1.99;0.86\n")


@pytest.mark.parametrize(
    "heading", ["rpm;load (0-100);idle (1st)", "rpm;load meter 1;idle (mean of 3)", "rpm;power (kW), 3x averaged;idle"]
)
def test_numbers_in_a_heading_that_are_no_factors_are_read_past(tmp_path, heading):
    if "averaged" in heading:
        assert "must have a row that heads" in refusal(read, tmp_path, f"{heading}\n120;2.05;0.86\n")
    else:
        columns = {"load": "B"}
        assert read(tmp_path, f"{heading}\n120;2.05;0.86\n", columns=columns).used[0].idle == 0.86


@pytest.mark.parametrize(
    "line, named",
    [
        ("Vitesse limite meule;20 m/s", "row 1 'Vitesse limite meule'"),
        ("depth of the profile;3 mm", "row 1 'depth of the profile'"),
        ("stock removal: 1,2 mm/min", "row 1 'stock removal: 1,2 mm/min'"),
        ("stock removal 1,2 mm/min", "row 1 'stock removal 1,2 mm/min'"),
    ],
)
def test_a_line_with_a_number_and_its_unit_that_is_not_known_is_named(tmp_path, line, named):
    remarks = read(tmp_path, f"{line}\n{TABLE}".replace("1,2", "1.2")).remarks
    assert any(named.replace("1,2", "1.2") in remark for remark in remarks if remark.startswith("Lines above the table"))


def test_a_marked_speed_in_words_that_are_not_known_is_named_with_its_unit_in_the_cell(tmp_path):
    trial = with_lines(tmp_path, mark="maximum allowed speed of the wheel;20 m/s")
    assert any(remark.startswith("CHECK: row ") and "marked on the wheel" in remark for remark in trial.remarks)


@pytest.mark.parametrize(
    "line, is_named",
    [
        ("allowed speed of our wheel;about 20 m/s", True),
        ("allowed speed of our wheel about 20;", True),
        ("allowed speed of our wheel;see label", False),  # no number, nothing to compare with
        ("allowed pressure of coolant;about 20 bar", False),
        ("allowed speed of our wheel" + " " * 473 + "x;about 20 m/s", False),  # 500 signs: a text
        ("allowed speed of our wheel" + " " * 472 + "x;about 20 m/s", True),
    ],
)
def test_what_may_be_the_mark_is_named_whatever_stands_around_its_number(tmp_path, line, is_named):
    remarks = read(tmp_path, f"{line}\n{TABLE}").remarks
    assert any("may be the highest speed marked on the wheel" in remark for remark in remarks) == is_named


def test_a_title_with_a_number_is_no_line(tmp_path):
    assert not any("not read" in remark for remark in read(tmp_path, f"Trial 7\n{TABLE}").remarks)


@pytest.mark.parametrize(
    "name, line, value",
    [
        ("infeed_rate", "infeed rate;15;µm/s", 0.9),
        ("infeed_rate", "infeed rate;15µm/s", 0.9),
        ("infeed_rate", "infeed rate: 15 µm/s", 0.9),
        ("infeed_rate", "# infeed rate = 15 µm/s", 0.9),
        ("infeed_rate", "infeed rate (µm/s);15", 0.9),
        ("infeed_rate", "infeed rate in µm/s;15", 0.9),
        ("infeed_rate", "infeed rate;µm/s;15", 0.9),
        ("infeed_rate", "infeed rate (on part diameter);1.2", 0.6),
        ("infeed_rate", "infeed rate on the workpiece diameter;1.2", 0.6),
        ("infeed_rate", "infeed rate;0.05;ipm", 1.27),
        ("infeed_rate", "infeed rate;0.05;in/min;as set", 1.27),
        ("infeed_rate", "infeed rate;600;µm/min", 0.6),
        ("infeed_rate", "Vorschub;0.01;mm/s", 0.6),
        ("infeed_rate", "Vorschub (mm pro min);0.6", 0.6),
        ("infeed_rate", "nominal_rpm;120\ninfeed rate;0.005;mm/rev", 0.6),
        ("infeed_rate", "infeed rate;5;µm/U\nnominal rpm;2;1/s", 0.6),
        ("wheel_diameter", "wheel diameter;8;in", 203.2),
        ("wheel_diameter", "Wheel Ø;8;in", 203.2),
        ("wheel_diameter", "wheel dia (in);8", 203.2),
        ("wheel_diameter", "wheel diameter in;8", 203.2),
        ("wheel_diameter", "wheel diameter (in inches);8", 203.2),
        ("wheel_diameter", "wheel diameter;8 inch", 203.2),
        ("wheel_diameter", 'wheel diameter;8"', 203.2),
        ("wheel_diameter", "Scheibendurchmesser;8;Zoll", 203.2),
        ("wheel_diameter", "diamètre de la meule;20;cm", 200),
        ("wheel_diameter", "diametro mola;8;pollici", 203.2),
        ("wheel_diameter", "wheel diameter;0.2;m", 200),
        ("work_diameter", "Part Ø;787;thou", 19.9898),
        ("work_diameter", "Werkstück Ø;20;mm", 20),
        ("work_diameter", "work diameter;20;mm ground", 20),
        ("wheel_speed", "wheel speed;1500;m/min", 25),
        ("wheel_speed", "wheel speed;4921.26;sfpm", 25.0000008),
        ("wheel_speed", "wheel speed;5000;ft/min", 25.4),
        ("wheel_speed", "wheel speed;90;km/h", 25),
        ("wheel_speed", "wheel speed;2400;rpm", 25.132741228718345),
        ("wheel_speed", "Scheibendrehzahl;2400;U/min", 25.132741228718345),
        ("wheel_speed", "spindle rpm;40;Hz", 25.132741228718345),
        ("grit_density", "grit density;2000;1/cm²", 20),
        ("grit_density", "grit density;20 1/mm²", 20),
        ("infeed_rate", "vf;15;µm s⁻¹", 0.9),
        ("wheel_diameter", "wheel diameter;8 in (203.2 mm)", 203.2),
        ("wheel_diameter", "wheel diameter;203.2 mm = 8 in", 203.2),
        ("wheel_diameter", "wheel diameter;8;in, new", 203.2),
        ("grit_density", "grit_size;D126\nconcentration;C100\nactive_fraction;50;%", None),
        ("contact_width", "contact width;1.5;cm", 15),
        ("side", "side;+1", 1),
        ("wheel_diameter", "coolant;on\nwheel diameter;8;in;marked speed;45;m/s", 203.2),
        ("wheel_diameter", "marked speed;45;m/s;wheel diameter;8;in", 203.2),
        ("wheel_diameter", "wheel diameter;d_s;8;in", 203.2),
        ("wheel_diameter", "wheel diameter;=;8;in", 203.2),
    ],
)
def test_setup_lines_are_read_in_their_units(tmp_path, name, line, value):
    trial = with_lines(tmp_path, leave_out=[name], more=line)
    if value is not None:
        assert getattr(trial.setup, name) == pytest.approx(value, rel=1e-9)
    else:  # 126 µm of grit at 100 concentration, half of it active
        assert trial.setup.grit_density == pytest.approx(1e6 * 0.5 * (6 * 0.25 / (3.141592653589793 * 115.5**3)) ** (2 / 3))


def test_the_report_shows_the_value_as_written_and_as_used(tmp_path):
    report = with_lines(tmp_path, leave_out=["infeed_rate"], more="infeed rate;15;µm/s").report()
    assert "Infeed rate 15 µm/s is used as 0.9 mm/min." in report
    report = with_lines(tmp_path, table="rpm;power (hp)\n120;2.75\n").report()
    assert "power is written in hp and used in kW: 1 hp = 0.7457 kW." in report


@pytest.mark.parametrize(
    "name, line, part",
    [
        ("infeed_rate", "infeed rate;15;furlong/fortnight", "infeed_rate must be in mm/min (got 'furlong/fortnight')"),
        ("infeed_rate", "infeed rate;15 strokes", "infeed_rate must be in mm/min (got 'strokes')"),
        ("infeed_rate", "infeed rate (clicks/s);15", "infeed_rate must be in mm/min (got 'clicks/s')"),
        ("infeed_rate", "infeed rate;15;kW", "infeed_rate must be in mm/min (got 'kW')"),
        ("infeed_rate", "infeed rate (mm/min);15;µm/s", "infeed_rate must have one unit (got 'mm/min' and 'µm/s')"),
        ("infeed_rate", "infeed rate;0.005;mm/rev", "for each revolution it changes with the work rpm (got '0.005 mm/rev')"),
        ("wheel_diameter", "wheel diameter;8;hands", "wheel_diameter must be in mm (got 'hands')"),
        ("wheel_diameter", "wheel diameter;8;mm²", "wheel_diameter must be in mm (got 'mm²')"),
        ("wheel_speed", "wheel speed;25;sfqm", "wheel_speed must be in m/s (got 'sfqm')"),
        ("concentration", "concentration;25;%", "concentration must be the number of a concentration without a unit"),
        ("wheel_diameter", "wheel_diameter;350;in", "wheel_diameter must be <= 3000 mm, there is no more"),
        (
            "wheel_speed",
            "wheel_speed;1500",
            "wheel_speed must be <= 300 m/s, there is no more: is it in another unit? (got 1500)",
        ),
        ("noise", "noise;2;kW", "noise must be in % (got 'kW')"),
        ("wheel_diameter", "wheel diameter;8¾ in", "wheel_diameter must be one number with its unit (got '8¾ in')"),
        ("wheel_diameter", "wheel diameter;8 3/4;in", "wheel_diameter must be one number with its unit (got '8 3/4')"),
        ("wheel_diameter", "wheel diameter;400 new, now 350", "must be one number with its unit (got '400 new, now 350')"),
        ("wheel_diameter", "wheel diameter;1 ft 2 in", "must be one number with its unit (got '1 ft 2 in')"),
        ("infeed_rate", "infeed rate;1·5;mm/min", "infeed_rate must be one number with its unit (got '1·5')"),
        ("infeed_rate", "infeed rate;0．9;mm/min", "infeed_rate must be one number with its unit (got '0．9')"),
        ("active_fraction", "active fraction;1/2", "active_fraction must be one number with its unit (got '1/2')"),
        ("side", "highest infeed rate (on dia);2;mm/min\nside;external", "highest_infeed_rate must be on the radius"),
        ("side", "highest infeed rate;2;mm/min on diameter\nside;external", "highest_infeed_rate must be on the radius"),
        ("work_diameter", "work diameter;1.25 in ground", "work_diameter must be in mm (got 'in ground')"),
        ("work_diameter", "work diameter;1.25;in stock", "work_diameter must be in mm (got 'in stock')"),
        ("idle", "idle;2;lumps", "idle must be in the unit of the readings (got 'lumps')"),
    ],
)
def test_what_is_not_understood_is_refused(tmp_path, name, line, part):
    assert part in refusal(with_lines, tmp_path, leave_out=[name], more=line)


def test_a_word_behind_a_value_may_be_a_unit_up_to_20_signs(tmp_path):
    """A longer one, a number of a drawing or the like, is a remark."""
    line = "work diameter;20;" + "x" * 20
    assert "work_diameter must be in mm (got 'xxxxxxxxxxxxxxxxxxxx')" in refusal(with_lines, tmp_path, work_diameter=line)
    assert with_lines(tmp_path, work_diameter=line + "x").setup.work_diameter == 20


def test_a_second_number_behind_a_value_is_named(tmp_path):
    trial = with_lines(tmp_path, leave_out=["wheel_diameter"], more="wheel diameter;200;190;mm")
    assert trial.setup.wheel_diameter == 200
    assert "Lines above the table that were not read: row 8 190 behind 'wheel diameter'." in trial.remarks


def test_a_marked_speed_in_feet_keeps_a_wheel_from_passing(tmp_path):
    line = "marked wheel speed;8500;sfpm"  # 43.18 m/s
    assert with_lines(tmp_path, wheel_speed="wheel speed;43", more=line).setup.wheel_speed == 43
    message = refusal(with_lines, tmp_path, wheel_speed="wheel speed;50", more=line)
    assert "wheel_speed must be <= marked_wheel_speed, 43.18 m/s" in message


def test_a_setup_of_the_caller_must_keep_the_marked_speed_too(tmp_path):
    setup = with_lines(tmp_path, wheel_speed="wheel speed;50").setup
    assert "never run a wheel above" in refusal(read, tmp_path, f"marked wheel speed;43\n{TABLE}", setup=setup)


@pytest.mark.parametrize(
    "label",
    [
        "infeed rate (diameter)",
        "infeed rate (on dia)",
        "infeed rate on dia",
        "infeed rate on the diameter",
        "infeed rate, diameter",
        "infeed rate [mm/min] (Ø)",
        "infeed rate (mm/min, on diameter)",
        "diametral infeed rate",
        "Vorschub auf Durchmesser",
        "Zustellung im Durchmesser (mm/min)",
        "avance sur le diamètre",
        "avance au diamètre",
        "avanzamento sul diametro",
    ],
)
def test_an_infeed_on_the_diameter_is_halved(tmp_path, label):
    trial = with_lines(tmp_path, leave_out=["infeed_rate"], more=f"{label};1.2")
    assert trial.setup.infeed_rate == 0.6
    assert with_lines(tmp_path, leave_out=["infeed_rate"], more=f"{label};1.2\nbasis;diameter").setup.infeed_rate == 0.6
    message = refusal(with_lines, tmp_path, leave_out=["infeed_rate"], more=f"{label};1.2\nbasis: radius")
    assert "infeed_basis must be diameter, as the label of infeed_rate says (got radius)" in message


@pytest.mark.parametrize("label", ["infeed rate on the radius", "infeed rate (radial)", "Vorschub auf Radius", "avance au rayon"])
def test_an_infeed_on_the_radius_is_no_infeed_on_the_diameter(tmp_path, label):
    assert with_lines(tmp_path, leave_out=["infeed_rate"], more=f"{label};0.6").setup.infeed_rate == 0.6
    assert "must be radius" in refusal(
        with_lines, tmp_path, leave_out=["infeed_rate"], more=f"{label};0.6\ninfeed_basis;diameter"
    )


@pytest.mark.parametrize(
    "line",
    [
        "infeed rate;1.2 mm/min (0.6 on radius)",
        "infeed rate;1.2 mm/min (0.6 mm/min on radius)",
        "infeed rate;1.2;mm/min (0.6 on the radius)",
        "infeed rate;1.2;mm/min;0.6 on radius",
        "infeed rate;1.2 mm/min on diameter, 0.6 on radius",
        "infeed rate;1.2 mm/min on diameter = 0.6 on radius",
        "infeed rate;0.6 mm/min / 1.2 on diameter",
        "infeed rate: 1.2 mm/min on diameter (0.6 on radius)",
    ],
)
def test_of_two_infeed_rates_in_one_line_the_basis_of_the_other_is_not_taken(tmp_path, line):
    """1.2 on the diameter is 0.6 on the radius; taken as 1.2 on the radius the energies would be half of what they are."""
    assert "infeed_rate must " in refusal(with_lines, tmp_path, leave_out=["infeed_rate"], more=line)


@pytest.mark.parametrize("line", ["infeed rate;0.6;mm/min;stage 3, on radius", "infeed rate;1.2 mm/min, 3 passes, on diameter"])
def test_a_number_of_something_else_beside_the_basis_does_no_harm(tmp_path, line):
    assert with_lines(tmp_path, leave_out=["infeed_rate"], more=line).setup.infeed_rate == 0.6


@pytest.mark.parametrize(
    "line", ["100 mm radius", "100;mm;radius", "100;mm radius", "100 mm (radius)", "100 mm raggio", "100 mm, promień"]
)
@pytest.mark.parametrize("word", ["wheel_diameter", "work_diameter"])
def test_a_diameter_that_is_said_to_be_a_radius_is_refused(tmp_path, word, line):
    """Taken for the diameter depths would be wrong, and the wheel would turn twice as fast as it should."""
    text = f"{word.replace('_', ' ')};{line}"
    if line == "100;mm;radius":  # a remark beside the unit
        text = text.replace(";mm;", ";mm ")
    assert f"{word} must be a diameter, twice the radius (got '100" in refusal(with_lines, tmp_path, leave_out=[word], more=text)


def test_the_radius_beside_a_diameter_with_a_number_of_its_own_does_no_harm(tmp_path):
    line = "wheel diameter;200 mm (radius 100)"
    assert with_lines(tmp_path, leave_out=["wheel_diameter"], more=line).setup.wheel_diameter == 200


@pytest.mark.parametrize(
    "table, load, idle",
    [
        ("rpm;power (W);idle (W)\n120;2050;860\n", 2.05, 0.86),
        ("rpm;power (kW);idle (W)\n120;2.05;860\n", 2.05, 0.86),
        ("rpm;power (W);idle\n120;2050;860\n", 2.05, 0.86),
        ("idle;860;W\nrpm;power (kW)\n120;2.05\n", 2.05, 0.86),
        ("idle;860\nrpm;power (W)\n120;2050\n", 2.05, 0.86),
        ("idle (kW);0.86\nrpm;power (W)\n120;2050\n", 2.05, 0.86),
        ("1/s;W;idle W\n2;2050;860\n", 2.05, 0.86),
        ("Drehzahl (Hz);PS;Leerlauf (kW)\n2;1;0.5\n", 0.73549875, 0.5),
        ("rpm;CV;a vuoto (CV)\n120;2;1\n", 1.4709975, 0.73549875),
        ("rpm;current (mA);idle (A)\n120;6000;2\n", 6, 2),
        ("rpm;load (%);idle (%)\n120;40;10\n", 40, 10),
    ],
)
def test_columns_are_read_in_their_units(tmp_path, table, load, idle):
    reading = read(tmp_path, table).used[0]
    assert (reading.work_rpm, reading.load, reading.idle) == pytest.approx((120, load, idle))


def test_an_idle_given_by_the_caller_is_in_the_unit_of_the_file(tmp_path):
    assert read(tmp_path, "rpm;power (W)\n120;2050\n", idle=860).energies == pytest.approx((1.19,))


@pytest.mark.parametrize("unit", ["hp·min/in³", "hp min/in^3"])
def test_energies_and_depths_are_converted(tmp_path, unit):
    trial = read(tmp_path, f"grit depth (µin);specific energy ({unit})\n40;20\n")
    assert trial.depths == pytest.approx((1.016,)) and trial.energies == pytest.approx((54.606478,))
    assert read(tmp_path, "rpm;h_m (nm);u (GJ/m³)\n1;900;95\n").energies == (95,)


def test_units_of_cells_in_the_trial_workbook_count(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx", wheel_diameter=8, wheel_rpm=2400)
    book = load_workbook(path)
    book["Inputs"]["C1"] = "in"
    book.save(path)
    trial = read_trial(path)
    assert trial.setup.wheel_diameter == 203.2
    assert "Wheel diameter 8 in is used as 203.2 mm." in trial.report()
    book["Inputs"]["C1"] = "hands"
    book.save(path)
    assert "in_wheel_diameter must be in mm (got 'hands')" in refusal(read_trial, path)


def test_an_input_whose_cell_shows_another_number_is_refused(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx", wheel_diameter=8, noise=0.01, concentration=1)
    book = load_workbook(path)
    for cell, code, part in [
        ("wheel_diameter", '0.0" in"', "in_wheel_diameter must be in mm (got a cell that shows 8 in and holds 8)"),
        ("noise", "0%", "in_noise must be in % (got a cell that shows 1 % and holds 0.01)"),
        ("concentration", "0%", "in_concentration must be a number without a unit (got a cell that shows 100 %"),
    ]:
        sheet, address = next(iter(book.defined_names[f"in_{cell}"].destinations))
        book[sheet][address].number_format = code
        book.save(path)
        assert part in refusal(read_trial, path)
        book[sheet][address].number_format = "0.0"
    book["Inputs"]["B12"].number_format = "0%"  # the active fraction: 0.5 is 50 %
    book.save(path)
    assert read_trial(path).setup is not None


def test_inches_of_a_workbook_that_was_never_computed_are_inches(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx", units="inch", wheel_diameter=8)
    assert read_trial(path).setup.wheel_diameter == 8  # a workbook without formulas beside its inputs knows no inches
    book = load_workbook(path)
    book["Inputs"]["C1"] = '=IF(in_units="inch","in","mm")'
    book.save(path)
    assert read_trial(path).setup.wheel_diameter == 203.2
    sheet, address = next(iter(book.defined_names["in_units"].destinations))
    book[sheet][address] = "Zoll"
    book.save(path)
    assert "in_units must be metric or inch (got 'Zoll')" in refusal(read_trial, path)


def test_a_sheet_with_a_column_of_units_is_read_in_them(tmp_path):
    book = Workbook()
    for row in [["Wheel diameter", 8, "in"], ["Marked speed", 8500, "sfpm"], ["rpm", "power"], ["1/min", "W"], [120, 2050]]:
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    trial = read_trial(tmp_path / "a.xlsx")
    assert trial.used[0].load == 2.05 and "Wheel diameter 8 in is used as 203.2 mm." in trial.remarks


@pytest.mark.parametrize(
    "name, line, said",
    [
        ("infeed_rate", "infeed rate;90", "Check infeed_rate: 90 mm/min, usual is 0.01 to 10 mm/min."),
        ("wheel_speed", "wheel speed;250", "Check wheel_speed: 250 m/s, usual is 10 to 80 m/s."),
        ("shape_ratio", "shape ratio;100", "Check shape_ratio: 100, usual is 5 to 20."),
    ],
)
def test_an_unusual_value_is_named(tmp_path, name, line, said):
    assert said in with_lines(tmp_path, leave_out=[name], more=line).remarks
    assert not any("Check" in remark for remark in with_lines(tmp_path).remarks)


def test_unusual_and_impossible_readings_are_named(tmp_path):
    assert any("Check the work speed of rotation: usual is 5 to 2000 1/min (row 2: 9000)" in remark for remark in
               read(tmp_path, "rpm;power\n9000;2\n").remarks)  # fmt: skip
    assert "row 2: work_rpm must be <= 100000 1/min" in refusal(read, tmp_path, "rpm;power\n1e7;2\n")
    assert read(tmp_path, "rpm;power\n100000;2\n").used
    assert any("Check the grit depth" in remark for remark in read(tmp_path, "grit depth;power\n80;2\n").remarks)


SLIP = "Check the {} in row {}: {} stands far from the others; with its decimal sign moved, {}, it would stand among them."


@pytest.mark.parametrize(
    "slips, told",
    [
        ({}, []),
        ({(4, 0): "12.5"}, [SLIP.format("work rpm", 4, 12.5, 125)]),
        ({(2, 0): "1000"}, [SLIP.format("work rpm", 2, 1000, 100)]),
        ({(5, 0): "14", (4, 0): "12.5"}, [SLIP.format("work rpm", 4, 12.5, 125), SLIP.format("work rpm", 5, 14, 140)]),
        ({(3, 1): "20.5"}, [SLIP.format("load reading", 3, 20.5, 2.05)]),
        ({(3, 1): "0.205"}, [SLIP.format("load reading", 3, 0.205, 2.05)]),  # below idle, and so left out
        ({(6, 2): "8.6"}, [SLIP.format("idle reading", 6, 8.6, 0.86)]),
        ({(4, 0): "30"}, []),  # far, but 300 is as far
        ({(4, 0): "x"}, []),
    ],
)
def test_a_decimal_that_slipped_in_a_row_is_named_with_what_was_meant(tmp_path, slips, told):
    rows = [[str(rpm), str(power), "0.86"] for rpm, power in ((100, 2.1), (112, 2.05), (125, 2.0), (140, 1.95), (157, 1.96))]
    for (row, column), text in slips.items():
        rows[row - 2][column] = text
    trial = read(tmp_path, "rpm;power (kW);idle\n" + "\n".join(map(";".join, rows)) + "\n")
    assert [check for check in trial.checks if "decimal" in check] == told


@pytest.mark.parametrize(
    "rpms, row",
    [
        ((100, 200, 290, 30), 5),  # 300 would stand among them, and 30 is less than a third of all
        ((100, 200, 290, 34), None),  # not far enough from 100
        ((100, 110, 120, 10, 11, 12), None),  # as many here as there
        ((100, 110, 120, 125, 10, 11, 12), 6),
        ((100, 110, 120, 15), 5),  # 150 is a step beyond
        ((100, 110, 120, 15.1), None),
        ((100, 110, 120, 8), 5),
        ((100, 110, 120, 7.9), None),
    ],
)
def test_how_far_and_how_few_a_slipped_number_stands(tmp_path, rpms, row):
    checks = [
        check for check in read(tmp_path, "rpm;load\n" + "".join(f"{rpm};2\n" for rpm in rpms)).checks if "decimal" in check
    ]
    if row is None:
        assert checks == []
    else:
        slipped = rpms[row - 2]
        assert checks[0] == SLIP.format("work rpm", row, slipped, 10 * slipped)


def test_steps_that_go_far_are_no_slips(tmp_path):
    """From 20 to 320 1/min, and load and idle that follow the infeed: each number is near its neighbours."""
    rows = "".join(f"{20 * 2**step};{2 * 1.4**step};{1 + step}\n" for step in range(5))
    assert not read(tmp_path, "rpm;load;idle\n" + rows).checks
    assert not read(tmp_path, "rpm;load\n120;2\n12;3\n").checks  # of two nobody knows which


def test_watts_under_a_heading_of_kilowatts_are_named(tmp_path):
    watts = read(tmp_path, "highest_power;4000\nrpm;power (kW);idle (kW)\n120;1990;860\n132;1.96;0.86\n").checks
    assert "Check highest_power: 4000 kW, usual is 0 to 200 kW." in watts
    assert "Check the power reading: usual is 0 to 200 kW (row 3: 1990)." in watts
    assert "Check the idle power: usual is 0 to 50 kW (row 3: 860)." in watts
    assert not read(tmp_path, "rpm;load;idle\n120;1990;860\n132;1960;860\n").checks  # of a load meter
    large = read(tmp_path, "rpm;power;idle\n120;20500;12000\n")  # more than there is: named, and the trial is read
    assert len(large.used) == 1 and sum("(row 2: " in check for check in large.checks) == 2


def test_a_reading_outside_the_machines_limits_is_named(tmp_path):
    text = "lowest work rpm;100\nhighest_work_rpm;400\nrpm;power\n900;2\n120;2\n90;3\n"
    remarks = read(tmp_path, text).remarks
    assert "Outside the machine's limits, 100 to 400 1/min (row 4: 900, row 6: 90)." in remarks
    path = trial_workbook.save(tmp_path / "trial.xlsx", highest_work_rpm=170)
    assert "Outside the machine's limits, 20 to 170 1/min (row 11: 180)." in read_trial(path).remarks
    assert "at most 170" in " ".join(read_trial(trial_workbook.save(path, highest_work_rpm=170, lowest_work_rpm=None)).remarks)


def test_a_power_infeed_or_ratio_outside_the_machines_limits_is_named(tmp_path):
    limits = "highest_power;2 kW\nhighest_infeed_rate;0.5 mm/min\nlowest_speed_ratio;10\nhighest_removal_rate;36 mm³/(mm·min)"
    trial = with_lines(tmp_path, more=limits)
    assert [remark for remark in trial.remarks if "limits" in remark] == [
        "Outside the machine's limits, infeed too high: highest infeed rate is 0.5 mm/min (row 14: 0.6, row 15: 0.6).",
        "Outside the machine's limits, Q'w too high: highest removal rate is 0.6 mm³/(mm·s) (row 14: 0.6283, row 15: 0.6283).",
        "Outside the machine's limits, power too high: highest power is 2 kW (row 14: 2.05).",
    ]
    rows = "rpm;load (%)\n120;40\n"
    assert not any("limits" in remark for remark in with_lines(tmp_path, table=rows, more="highest_power;2 kW").remarks)
    assert any(
        "ratio too low" in remark for remark in with_lines(tmp_path, more="lowest_speed_ratio;200").remarks
    )  # 25 m/s over 7.5 m/min


def test_the_case_that_showed_it(tmp_path):
    """The setup lines of a shop with 15 µm/s: the knee moves by a factor of two and the energy by sixteen."""
    right = with_lines(tmp_path, infeed_rate="infeed rate;15;µm/s")
    same = with_lines(tmp_path, infeed_rate="infeed rate;0.9;mm/min")
    assert right.depths == same.depths and right.energies == same.energies


@pytest.mark.parametrize(
    "line",
    [
        "infeed: 1.2 mm/min on diameter",
        "infeed;1.2;mm/min (on diameter)",
        "infeed;1.2;mm/min;on diameter",
        "infeed;mm/min;1.2;on diameter",
        "infeed;1.2;mm/min;as set;diameter",
        "infeed;1.2;on dia",
        "infeed rate;1.2 mm/min, dia",
        "Zustellung;1.2;mm/min;auf Durchmesser",
    ],
)
def test_a_basis_beside_the_value_counts(tmp_path, line):
    assert with_lines(tmp_path, leave_out=["infeed_rate"], more=line).setup.infeed_rate == 0.6
    assert "must be diameter" in refusal(with_lines, tmp_path, leave_out=["infeed_rate"], more=f"{line}\nbasis;radius")


@pytest.mark.parametrize("line", ["infeed;1.2;mm/min;halved from diameter", "infeed (on dia);1.2;mm/min;on radius"])
def test_a_basis_that_is_not_clear_is_refused(tmp_path, line):
    assert "infeed_rate must" in refusal(with_lines, tmp_path, leave_out=["infeed_rate"], more=line)


def test_a_text_with_its_unit_in_a_cell_of_a_sheet_is_read(tmp_path):
    book = Workbook()
    for row in [["Wheel diameter", "203,2 mm"], ["Work diameter", "0.75 in"], ["rpm", "power"], [120, 2.5]]:
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    assert "Work diameter 0.75 in is used as 19.05 mm." in read_trial(tmp_path / "a.xlsx").remarks
    book.active["A1"], book.active["B1"] = "marked wheel speed", "1,250 m/s"
    book.save(tmp_path / "a.xlsx")
    assert "is its decimal sign the one of the spreadsheet?" in refusal(read_trial, tmp_path / "a.xlsx")


def test_a_number_under_the_other_decimal_sign_is_told_what_is_wrong(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx", infeed_rate="0,9")
    message = refusal(read_trial, path)
    assert "in_infeed_rate must be a number, > 0 mm/min (got '0,9'); it is a text there" in message


def test_the_page_on_trial_files_holds(tmp_path):
    page = (Path(__file__).parents[1] / "docs" / "trial-files.md").read_text(encoding="utf-8")
    trial = read(tmp_path, page.split("```text\n")[1].split("```")[0])
    assert trial.setup.wheel_diameter == 203.2 and trial.setup.infeed_rate == 0.6 and len(trial.used) == 2
    assert "Infeed rate 1.2 mm/min on the diameter is used as 0.6 mm/min on the radius." in trial.remarks
    assert not any("not read" in remark for remark in trial.remarks) and trial.damage == ()
    for line in page.split("## Units")[1].split("## Radius")[0].splitlines():
        if line.startswith("| ") and not line.startswith(("| for", "|--")):
            listed = re.sub(r"only with .*|; in 1/min .*|a length over .*?:|\\|", "", line.split("|")[2])
            for unit in re.split(r"[,;()]", listed):
                assert not unit.strip() or units.is_unit(unit.strip()), unit


def test_the_example_with_an_infeed_rate_in_each_row_holds(tmp_path):
    page = (Path(__file__).parents[1] / "docs" / "trial-files.md").read_text(encoding="utf-8")
    text = page.split("```text\n")[2].split("```")[0]
    trial = read(tmp_path, text)
    assert [reading.infeed_rate for reading in trial.used] == [0.6, 0.72, None]
    assert [reading.equivalent_rpm for reading in trial.used] == pytest.approx([120, 172.8, None])
    assert trial.energy_unit == "J/mm³" and not any("not read" in remark for remark in trial.remarks)
