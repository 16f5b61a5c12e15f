"""Trials from workbooks: the trial workbook by its names, any other by its headings or columns."""

from __future__ import annotations

import re
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
import trial_workbook
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.workbook.defined_name import DefinedName

from gritfuncs.trial import Setup, read_trial

SAMPLE = Path(__file__).parent / "data" / "trial_invented.csv"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "trial.xlsx"


def error(path, **options):
    with pytest.raises(ValueError) as caught:
        read_trial(path, **options)
    message = str(caught.value)
    assert "\n" not in message and message.startswith(f"{path.name}: ") and str(path.parent) not in message
    return message


def sheet(path, rows, **named):
    book = Workbook()
    book.active.title = "Trial"
    for row in rows:
        book.active.append(row)
    for name, more in named.items():
        other = book.create_sheet(name)
        for row in more:
            other.append(row)
    book.save(path)
    return path


def edit(path, part, *changes):
    """Change the text of one part, as a spreadsheet program might have written it."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    text = parts[part].decode()
    for old, new in changes:
        text, number = re.subn(old, new, text)
        assert number
    parts[part] = text.encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


# --- the trial workbook -----------------------------------------------------------------------------------------------


def test_the_trial_workbook_says_the_same_as_the_text_file(path):
    from_book, from_text = read_trial(trial_workbook.save(path)), read_trial(SAMPLE)
    assert from_book.setup == from_text.setup
    assert from_book.depths == from_text.depths and from_book.energies == from_text.energies
    assert from_book.knee == from_text.knee
    assert from_book.counts == {"used": 10, "excluded": 1, "left out": 1, "blank": 28}
    assert from_book.left_out == ((3, "excluded"), (8, "left out: load is not a number"))
    assert from_book.repeated == ((13, "used, same as row 1"),)
    assert from_book.readings[2].note == "coolant off"


@pytest.mark.parametrize("name", ["wheel_diameter", "work_diameter", "side", "infeed_rate", "shape_ratio"])
def test_a_missing_input_is_named_by_its_cell(path, name):
    assert f"in_{name} must be given (got blank)" in error(trial_workbook.save(path, **{name: None}))
    assert f"in_{name} must be given (got blank)" in error(trial_workbook.save(path, leave_out=name))


@pytest.mark.parametrize(
    "changes, part",
    [
        (dict(wheel_diameter=-3), "in_wheel_diameter must be > 0 mm (got -3.0)"),
        (dict(work_diameter="20 mm"), "in_work_diameter must be a number, > 0 mm (got '20 mm')"),
        (dict(side="inside"), "in_side must be external, flat, internal or 1, 0, -1 (got 'inside')"),
        (dict(side=3), "in_side must be one of 1, 0, -1 (got 3.0)"),
        (dict(side="internal"), "work_diameter must be > wheel_diameter for internal grinding"),
        (dict(infeed_basis=None), "in_infeed_basis must be radius or diameter (got blank)"),
        (dict(infeed_basis="turn"), "in_infeed_basis must be radius or diameter (got 'turn')"),
        (dict(wheel_rpm=None), "in_wheel_speed must be given (got blank)"),
        (dict(wheel_speed=30), "in_wheel_speed must agree with in_wheel_rpm within 1 % (got 30 m/s"),
        (dict(marked_wheel_speed=25), "in_wheel_speed must be <= in_marked_wheel_speed, 25 m/s"),
        (dict(wheel_speed=40, wheel_rpm=None), "never run a wheel above the speed marked on it (got 40 m/s)"),
        (dict(concentration=None), "in_grit_density must be given (or grit size, concentration and active fraction)"),
        (dict(grit_size="D125"), "in_grit_size: designation must be an ISO 6106 sieve size"),
        (dict(grit_size=-5), "in_grit_size must be > 0 µm (got -5.0)"),
        (dict(active_fraction=2), "in_active_fraction must be > 0 and <= 1 (got 2.0)"),
        (dict(contact_width=0), "in_contact_width must be > 0 mm (got 0.0)"),
        (dict(load_kind=None), "in_load_kind must be power or current or relative or energy (got blank)"),
        (dict(load_kind="torque"), "in_load_kind must be power or current or relative or energy (got 'torque')"),
        (dict(load_kind="current", volts=400), "in_power_factor must be given for current readings"),
        (dict(load_kind="current", power_factor=0.8), "in_volts must be given for current readings"),
        (dict(load_kind="current", volts=400, power_factor=80), "in_power_factor must be > 0 and <= 1 (got 80.0)"),
        (dict(idle="low"), "in_idle must be a number (got 'low')"),
        (dict(noise=0), "in_noise must be > 0 and < 100, in % (got 0)"),
        (dict(noise="=1/0"), "in_noise must be a value (got a formula without a stored value"),
        (dict(wheel_diameter=datetime(2024, 5, 2)), "in_wheel_diameter must be a value (got a date or time)"),
    ],
)
def test_bad_inputs_are_named_by_their_cells(path, changes, part):
    assert part in error(trial_workbook.save(path, **changes))


@pytest.mark.parametrize(
    "changes, expected",
    [
        (dict(wheel_speed=25, wheel_rpm=None), ("wheel_speed", 25)),
        (dict(wheel_speed=25.2), ("wheel_speed", 25.2)),
        (dict(marked_wheel_speed=None), ("wheel_speed", pytest.approx(25.132741))),
        (dict(infeed_basis="Radius"), ("infeed_rate", 1.2)),
        (dict(infeed_basis="diameter"), ("infeed_rate", 0.6)),
        (dict(side=-1, work_diameter=300), ("side", -1)),
        (dict(side="Flat"), ("side", 0)),
        (dict(grit_density=7), ("grit_density", 7)),
        (dict(grit_size=107, concentration=100), ("grit_density", pytest.approx(26.678621))),
        (dict(grit_size="120/140"), ("grit_density", pytest.approx(22.896, rel=1e-4))),
        (dict(contact_width=None), ("contact_width", None)),
    ],
)
def test_inputs_make_the_setup(path, changes, expected):
    name, value = expected
    assert getattr(read_trial(trial_workbook.save(path, **changes)).setup, name) == value


def test_idle_noise_and_load_kind_come_from_their_cells(path):
    rows = [(120, 6.0), (130, 5.5, 1.5)]
    trial = read_trial(trial_workbook.save(path, rows, load_kind="current", volts=400, power_factor=0.8, idle=2, noise=3))
    assert trial.noise == 0.03 and [reading.idle for reading in trial.used] == [2, 1.5]
    assert trial.energies == pytest.approx([3**0.5 * 0.32 * 4 * 1000 / (trial.setup.removal_rate * 15)] * 2)
    relative = read_trial(trial_workbook.save(path, rows, load_kind="relative", idle=2))
    assert (relative.energies, relative.energy_unit, relative.depth_unit) == ((4, 4), "relative", "µm")


def test_without_contact_width_energies_are_net_power(path):
    trial = read_trial(trial_workbook.save(path, contact_width=None))
    assert trial.energy_unit == "kW" and trial.energies[0] == pytest.approx(2.05 - 0.86)
    assert trial.knee.knee == pytest.approx(read_trial(SAMPLE).knee.knee, rel=1e-9)


def test_an_empty_trial_workbook_says_so(path):
    trial = read_trial(trial_workbook.save(path, []))
    assert trial.counts["blank"] == 40 and "No reading can be used" in trial.report()
    with pytest.raises(ValueError, match="trial.xlsx: must have at least one usable reading"):
        trial.knee  # noqa: B018


@pytest.mark.parametrize(
    "loads, why",
    [(("x",), "row 1: left out: load is not a number)"), (("x", "y", "z"), "row 1: left out: load is not a number, and 2 more)")],
)
def test_of_rows_that_cannot_be_used_the_first_is_told_and_how_many_more(path, loads, why):
    trial = read_trial(trial_workbook.save(path, [(120, load) for load in loads]))
    with pytest.raises(ValueError, match=re.escape(f"must have at least one usable reading ({why}")):
        trial.knee  # noqa: B018


@pytest.mark.parametrize(
    "where",
    ["#REF!", "'My readings'!$C$5:$F$44", "Gone!$A$1:$E$40", "'My readings'!$C:$G", "'My readings'!$C$5:$G$9,Inputs!$A$1", "1+2"],
)
def test_a_broken_readings_name_is_refused(path, where):
    trial_workbook.save(path)
    edit(path, "xl/workbook.xml", (r"'My readings'!\$C\$5:\$G\$44", where.replace("\\", r"\\")))
    assert "in_readings must" in error(path)


@pytest.mark.parametrize("where", ["#REF!", "Gone!$B$1", "Inputs!$B:$B"])
def test_a_broken_name_of_an_input_is_refused(path, where):
    trial_workbook.save(path)
    edit(path, "xl/workbook.xml", (r"(?<=>)Inputs!\$B\$1(?=<)", where))
    assert "in_wheel_diameter must name a range" in error(path)


def test_a_sheet_of_the_trial_workbook_can_be_read_by_its_headings(path):
    trial = read_trial(trial_workbook.save(path), sheet="my readings", load_kind="power")
    assert trial.setup is None and len(trial.used) == 10 and trial.source == "trial.xlsx, sheet My readings"


# --- any other workbook -----------------------------------------------------------------------------------------------


def test_the_named_row_of_headings_goes_before_the_names_of_the_trial_workbook(path):
    book = load_workbook(trial_workbook.save(path))
    sheet = book["My readings"]
    sheet["A600"], sheet["B600"], sheet["A601"], sheet["B601"] = "rpm", "power", 100, 2
    book.save(path)
    assert [reading.row for reading in read_trial(path, heading_row=600).readings] == [601]
    assert len(read_trial(path).used) == 10


def test_a_sheet_with_setup_above_its_headings(path):
    rows = [
        ["Invented"],
        ["Wheel diameter", 200, "mm"],
        ["Work diameter (mm)", 20],
        ["Infeed rate", 0.6, "as set"],
        ["Wheel speed", 25],
        ["Side", "external"],
        ["Grit density", 20],
        ["Shape ratio", 10],
        [],
        ["Nr", "Work rpm", "Spindle kW", "Idle kW", "Remark"],
        [1, 120, 2.0, 0.8, "first"],
        [],
        [2, 130, 1.9, 0.8],
    ]
    trial = read_trial(sheet(path, rows))
    assert trial.setup.wheel_diameter == 200 and trial.energy_unit == "kW"
    assert [(reading.row, reading.note) for reading in trial.used] == [(11, "first"), (13, "")]


@pytest.mark.parametrize(
    "columns", [{"work_rpm": "B", "power": "D", "use": "A"}, {"work_rpm": "DREHZAHL", "power": "Leistung [kW]", "use": "gilt"}]
)
def test_columns_of_any_sheet(path, columns):
    rows = [["gilt", "Drehzahl", "x", "Leistung [kW]"], ["yes", 120, 0, 2.0], ["no", 130, 0, 1.9], [None, 140, 0, 1.8]]
    trial = read_trial(sheet(path, rows, Other=[["text"]]), sheet="Trial", columns=columns)
    assert [reading.status for reading in trial.readings] == ["used", "excluded", "used"]
    assert trial.energies == (2.0, 1.8)


def test_the_sheet_with_readings_is_found_and_a_choice_of_two_is_asked_for(path):
    table = [["rpm", "load"], [120, 5]]
    assert read_trial(sheet(path, [["cover"]], Data=table)).source == "trial.xlsx, sheet Data"
    sheet(path, table, Data=table)
    assert "sheet must be chosen: 'Trial' and 'Data' both have readings" in error(path)
    assert read_trial(path, sheet="Data").energies == (5,)
    assert "sheet must be one of 'Trial', 'Data' (got 'Date')" in error(path, sheet="Date")
    sheet(path, table, Data=table, More=table)
    assert "sheet must be chosen: 'Trial' and 'Data' both have readings" in error(path)
    assert read_trial(path, sheet="more").energies == (5,)


def test_cells_that_are_no_numbers_are_left_out_with_what_they_are(path):
    rows = [
        ["rpm", "load", "idle", "use"],
        [120, "=2+3"],
        [130, "#DIV/0!"],
        [140, datetime(2024, 5, 2)],
        [150, True],
        [160, "5"],
        ["=A1", "=A1"],
        [170, 5, "#N/A"],
        [180, 5, None, "#N/A"],
    ]
    uncalculated = "(a formula without a stored value: open the file in a spreadsheet program and save it)"
    assert [status for _, status in read_trial(sheet(path, rows)).left_out] == [
        f"left out: load is not a number {uncalculated}",
        "left out: load is not a number (#DIV/0!)",
        "left out: load is not a number (a date or time)",
        "left out: load is not a number",
        "left out: load is not a number",
        f"left out: rpm is not a number {uncalculated}",
        "left out: idle is not a number (#N/A)",
        "left out: use? must be yes or no",
    ]


def test_formulas_are_read_by_their_stored_values(path):
    sheet(path, [["rpm", "load"], [120, "=2+3"], [130, '=""']])
    edit(
        path,
        "xl/worksheets/sheet1.xml",
        ("<f>2\\+3</f><v ?/>|<f>2\\+3</f><v></v>", "<f>2+3</f><v>5</v>"),
        ('<c r="B3"([^>]*)><f>""</f><v ?/>', '<c r="B3"\\1 t="str"><f>""</f><v></v>'),
    )
    assert [reading.status for reading in read_trial(path).readings] == ["used", "left out: load is blank"]


def test_a_cell_merged_over_several_rows_holds_for_each_of_them(path):
    book = Workbook()
    rows = [
        ["infeed rate", 0.5, "mm/min"],
        ["rpm", "load", "idle", "infeed", "use", "damage"],
        [120, 5, 1, 0.6, None, None],
        [None, 4, None, None, None, None],
        [130, 4.5, None, 0.9, "no", "burn"],
        [140, 4.6, None, None, None, None],
    ]
    for row in rows:
        book.active.append(row)
    for merged in ("A3:A4", "C3:C6", "D3:D4", "D5:D6", "E5:E6", "F5:F6"):
        book.active.merge_cells(merged)
    book.save(path)
    readings = read_trial(path).readings
    assert [reading.work_rpm for reading in readings] == [120, 120, 130, 140]
    assert [reading.infeed_rate for reading in readings] == [0.6, 0.6, 0.9, 0.9]
    assert [reading.idle for reading in readings] == [1] * 4
    assert [reading.status for reading in readings] == ["used", "used", "excluded", "excluded"]
    assert [reading.damage for reading in readings] == ["", "", "burn", "burn"]


def test_a_row_that_lies_wholly_in_merged_cells_is_no_reading_of_its_own(path):
    book = Workbook()
    for row in (["rpm", "load", "Ra"], [120, 5, 0.2], [None, None, 0.3], [130, 4, 0.2]):
        book.active.append(row)
    for merged in ("A2:A3", "B2:B3"):
        book.active.merge_cells(merged)
    book.save(path)
    assert read_trial(path).counts == {"used": 2, "excluded": 0, "left out": 0, "blank": 1}


def test_a_sheet_that_states_too_small_a_range_is_read_whole(path):
    sheet(path, [["rpm", "load"], [120, 5], [130, 4]])
    edit(path, "xl/worksheets/sheet1.xml", ('<dimension ref="[^"]*"', '<dimension ref="A1"'))
    assert len(read_trial(path).used) == 2


def test_rows_far_down_are_read_and_too_many_refused(path):
    book = Workbook()
    book.active.append(["rpm", "load"])
    book.active.cell(5000, 1, 120)
    book.active.cell(5000, 2, 5)
    book.save(path)
    assert read_trial(path).used[0].row == 5000
    sheet(path, [["rpm", "load"]] + [[120, 5]] * 500)
    assert "must have at most 500 filled rows (row 501 is beyond that)" in error(path)


@pytest.mark.parametrize(
    "content, part",
    [
        (b"", "must be an .xlsx or .xlsm file"),
        (b"rpm,load\n1,2\n", "must be an .xlsx or .xlsm file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "save it as .xlsx"),
        (b"PK\x03\x04 and no more", "damaged workbook"),
    ],
)
def test_files_that_are_no_workbook_are_refused(path, content, part):
    path.write_bytes(content)
    assert part in error(path)


def test_a_workbook_without_readings_is_refused(path):
    assert "must have a row that heads a column of work rpm" in error(sheet(path, [["a", "b"], [1, 2]]))
    assert "must have a row that heads" in error(sheet(path, []))


def test_names_that_stand_for_formulas_do_no_harm(path):
    book = Workbook()
    for row in (["rpm", "load"], [120, 5]):
        book.active.append(row)
    book.defined_names["rate"] = DefinedName("rate", attr_text="LAMBDA(x,x+1)")
    book.defined_names["in_readings"] = DefinedName("in_readings", attr_text="Sheet!$A$1:$B$2")
    book.save(path)
    assert read_trial(path).energies == (5,)


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return trial_workbook.save(tmp_path_factory.mktemp("sound") / "trial.xlsx").read_bytes()


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_damaged_workbook_is_read_or_refused_in_one_line(tmp_path_factory, sound, data):
    path = tmp_path_factory.mktemp("book") / "trial.xlsx"
    path.write_bytes(sound)
    if data.draw(st.booleans()):
        content = bytearray(sound)
        for _ in range(data.draw(st.integers(1, 5))):
            content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
        path.write_bytes(bytes(content[: data.draw(st.integers(1, len(content)))]))
    else:  # damage below the zip's own checks
        with zipfile.ZipFile(path) as archive:
            parts = {name: bytearray(archive.read(name)) for name in archive.namelist()}
        name = data.draw(st.sampled_from(sorted(parts)))
        for _ in range(data.draw(st.integers(1, 5))):
            place = data.draw(st.integers(0, len(parts[name]) - 1))
            parts[name][place : place + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
        with zipfile.ZipFile(path, "w") as archive:
            for each, content in parts.items():
                archive.writestr(each, bytes(content))
    try:
        read_trial(path).report()
    except ValueError as problem:
        assert "\n" not in str(problem) and str(problem).startswith("trial.xlsx: ")


def test_a_day_that_a_file_stores_as_text_with_its_time_is_that_day(tmp_path):
    book = Workbook(iso_dates=True)
    for row in (["date", datetime(2026, 11, 5, 6, 30)], ["work rpm", "power [kW]"], [120, 2.0], [132, 1.9], [108, 2.2]):
        book.active.append(row)
    book.save(tmp_path / "trial.xlsx")
    assert read_trial(tmp_path / "trial.xlsx").date == datetime(2026, 11, 5).date()


@pytest.mark.parametrize(
    "day, is_one", [((2000, 1, 1), True), ((2099, 12, 31), True), ((1999, 12, 31), False), ((2100, 1, 1), False)]
)
def test_a_day_of_this_century_is_one(path, day, is_one):
    rows = [["date", datetime(*day)], ["work rpm", "power [kW]"], [120, 2.0]]
    assert read_trial(sheet(path, rows)).date == (datetime(*day).date() if is_one else None)
    book = load_workbook(trial_workbook.save(path))
    book["Inputs"]["D1"] = datetime(*day)
    book.defined_names["in_date"] = DefinedName("in_date", attr_text="Inputs!$D$1")
    book.save(path)
    assert read_trial(path).date == (datetime(*day).date() if is_one else None)


def test_the_title_the_band_and_the_record_of_a_trial_workbook_are_read(path):
    book = load_workbook(trial_workbook.save(path))
    texts = dict(title="Wheel A\nsecond line", band=3, wheel="resin 7", machine=4, bond="=1/0", date="soon")
    for row, (name, text) in enumerate(texts.items(), 1):
        book["Inputs"].cell(row, 4, text)
        book.defined_names[f"in_{name}"] = DefinedName(f"in_{name}", attr_text=f"Inputs!$D${row}")
    book.save(path)
    trial = read_trial(path)
    assert trial.title == "Wheel A second line" and trial.band == 0.03 and trial.date is None
    assert {name: trial.given.values.get(name) for name in ("wheel", "machine", "bond")} == {
        "wheel": "resin 7",
        "machine": "4",
        "bond": None,
    }
    for band, counts in ((50, 0.5), (0.5, 0.005), (51, 0.02), (0, 0.02), (None, 0.02), ("wide", 0.02)):
        book["Inputs"]["D2"] = band
        book.save(path)
        assert read_trial(path).band == counts


def test_a_range_of_readings_may_have_as_many_rows_as_a_trial(path):
    trial_workbook.save(path)
    edit(path, "xl/workbook.xml", (r"\$G\$44", "$G$504"))
    assert len(read_trial(path).readings) == 500
    edit(path, "xl/workbook.xml", (r"\$G\$504", "$G$505"))
    assert "in_readings must name a range of at most 500 rows of cells in one sheet" in error(path)


def test_damage_and_observations_of_older_files_are_read_beside_the_readings(path):
    book = load_workbook(trial_workbook.save(path))
    readings = book["My readings"]
    readings["I5"], readings["J6"] = "crack", "seen late"
    readings["M5"], readings["M7"] = "other words", "burn"
    book.defined_names["in_observations"] = DefinedName("in_observations", attr_text="'My readings'!$K$5:$M$44")
    book.save(path)
    assert read_trial(path).damage == ((1, "other words"), (3, "burn"))
    book.defined_names["in_damage"] = DefinedName("in_damage", attr_text="'My readings'!$I$5:$I$44")
    book.save(path)
    assert read_trial(path).damage == ((1, "crack"), (3, "burn"))
    readings["M8"] = "=1/0"  # a formula that only shows what stands elsewhere
    book.save(path)
    assert read_trial(path).damage == ((1, "crack"), (3, "burn"))


def test_infeed_rates_beside_the_readings_are_in_the_unit_of_the_input(path):
    book = load_workbook(trial_workbook.save(path))
    for row, rate in ((5, 1.2), (6, 1.44)):
        book["My readings"].cell(row, 9, rate)
    book.defined_names["in_row_infeed_rates"] = DefinedName("in_row_infeed_rates", attr_text="'My readings'!$I$5:$I$44")
    book.save(path)
    assert [reading.infeed_rate for reading in read_trial(path).used[:3]] == [
        0.6,
        0.72,
        None,
    ]  # on the diameter, as in the inputs
    book["Inputs"]["C7"] = "in/min"
    book["Inputs"]["B7"] = 1.2 / 25.4
    for row, rate in ((5, 1.2), (6, 1.44)):
        book["My readings"].cell(row, 9, rate / 25.4)
    book.save(path)
    assert [reading.infeed_rate for reading in read_trial(path).used[:3]] == pytest.approx([0.6, 0.72, None])
    book.defined_names["in_row_infeed_rates"] = DefinedName("in_row_infeed_rates", attr_text="'My readings'!$I$5:$I$6")
    book.save(path)
    assert [reading.infeed_rate for reading in read_trial(path).used[:3]] == pytest.approx([0.6, 0.72, None])
    for row in (5, 6):
        book["My readings"].cell(row, 9).value = None
    book.save(path)
    assert read_trial(path).used[0].infeed_rate is None and read_trial(path).way == "rpm"


def test_the_diameter_of_the_part_goes_before_that_of_a_wear_table(path):
    book = load_workbook(trial_workbook.save(path))
    book["Inputs"]["D1"], book["Inputs"]["D2"] = 33, 7
    for row, name in ((1, "in_reference_diameter"), (2, "in_reference_infeed_rate")):
        book.defined_names[name] = DefinedName(name, attr_text=f"Inputs!$D${row}")
    before = Setup.read(trial_workbook.save(path.with_name("plain.xlsx")))
    book.save(path)
    assert Setup.read(path) == before and before.work_diameter != 33
