"""The sheet Trial of trial.xlsx and its order of sheets: what a person at the machine sees, in each state of a trial."""

from __future__ import annotations

import random
import re
import zipfile

import numpy as np
import openpyxl
import pytest
import scipy.stats
import trial_workbook
from engines import cells_of
from open_book import OpenBook
from test_templates import differences, readings, saved

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.knee import knee_of_trial
from gritfuncs.knee.thresholds import OUTLIER_CHANCE
from gritfuncs.workbooks.blocks.record import COLUMNS
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.outlier import CORNERS
from gritfuncs.workbooks.trial.tables import CALCULATION, ORDER, OUTLIER, READINGS, ROWS, TRIAL

ROWS_READ = example.readings()
SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
BIG = {"next": "A4", "why": "A5", "verdict": "F4", "knee": "J4", "set": "N4", "line": "N5", "limits": "N6", "watch": "N28"}


@pytest.fixture(scope="module")
def workbook(as_built):
    return as_built("trial.xlsx")


@pytest.fixture(scope="module")
def book(workbook):
    return OpenBook(workbook)


def seen(book, rows=ROWS_READ, damage=(), **inputs):
    """What the panels show with these readings and inputs."""
    book.fill_example(trial, **inputs)
    book.fill(readings=rows, damage=damage)
    book.read()
    return {name: book.at(TRIAL, cell) for name, cell in BIG.items()}


def noted(row, word="burn"):
    return [word if number == row else None for number in range(1, ROWS + 1)]


# --- states ------------------------------------------------------------------------------------------------------------


def test_a_trial_played_from_the_first_reading_to_the_last(book):
    """Set what the sheet says, read the load of an invented wheel, and go on until it says that the trial is finished."""
    knee, draw, rows = SETUP.depth(110.0), random.Random(4), []
    words = []
    while len(rows) < ROWS:
        panel = seen(book, rows)
        if isinstance(panel["next"], str):
            break
        words.append(panel["verdict"])
        assert book.at(TRIAL, READINGS.here("set", READINGS.first_row + len(rows))) == panel["next"]
        energy = 100 * (1 + 3 * max(0.0, 1 - SETUP.depth(panel["next"]) / knee)) * (1 + draw.gauss(0, 0.01))
        rows.append((panel["next"], gf.grinding_power(energy, SETUP.removal_rate, SETUP.contact_width) + 0.5, 0.5))
    assert panel["next"] == "finished" and panel["verdict"] == "found" and "wanted ±5 %" in panel["why"]
    assert words[:2] == ["no readings yet", "unfinished"] and 6 <= len(rows) < 25
    assert panel["set"] == pytest.approx(SETUP.rpm_for(panel["knee"])) and panel["knee"] == pytest.approx(knee, rel=0.05)


def test_unfinished_is_no_fault(book):
    panel = seen(book, ROWS_READ[:3])
    assert panel["verdict"] == "unfinished" and book.at(TRIAL, "F5").startswith("3 of at least 6 readings")
    assert panel["watch"] == "nothing to look at" and book["out_check"] == "Checks: all ok"
    assert seen(book, ())["watch"] == "nothing to look at"  # and the empty template has nothing to look at either


def test_a_wheel_too_fast_is_a_stop_on_every_panel(book):
    panel = seen(book, ROWS_READ, marked_wheel_speed=20.0)
    assert (panel["next"], panel["set"], panel["verdict"], panel["knee"]) == ("STOP", "STOP", "no verdict", "–")
    assert book["out_state"].startswith("STOP: the wheel runs at 22.0 m/s, above the 20.0 m/s marked on it")
    assert {book.at(TRIAL, READINGS.here("status", row)) for row in range(10, 25)} == {"waits: STOP"}


def test_a_wheel_at_the_speed_marked_on_it_may_run(book):
    panel = seen(book, ROWS_READ, marked_wheel_speed=22.0)
    assert panel["verdict"] == "found" and book["out_state"].startswith("Wheel 22.0 m/s; highest speed marked on it 22.0 m/s.")


@pytest.mark.parametrize("rpm, is_set", [(108.0, False), (48.0, True)])
def test_damage_stops_the_trial_and_withdraws_what_lies_within(book, rpm, is_set):
    row = 1 + next(place for place, reading in enumerate(ROWS_READ) if reading[0] == rpm)
    panel = seen(book, damage=noted(row), band=3.0)
    assert panel["next"] == "STOP" and panel["why"] == f"burn in reading {row}"
    # What is not to be set again is that reading's, beside an rpm that may be set: never "this depth".
    at_once = "End the trial; do not set that reading again."
    assert book["out_state"] == f"! DAMAGE noted: burn in reading {row} at {rpm:.1f} 1/min. {at_once}"
    assert isinstance(panel["set"], float) == is_set and panel["limits"].startswith("! burn was seen")


def test_damage_within_the_interval_withdraws_although_the_band_is_narrow(book):
    """The knee may lie at the burnt depth, whatever band was asked for."""
    low, high = (seen(book), book["out_knee_low"], book["out_knee_high"])[1:]
    rpm = SETUP.rpm_for(low + 0.1 * (high - low))
    rows = [*ROWS_READ, (rpm, *ROWS_READ[0][1:])]
    panel = seen(book, rows, damage=noted(len(rows)), band=0.01)
    assert book["out_knee_low"] <= SETUP.depth(rpm) < book["out_target_low"]
    assert panel["set"] == "–" and "do not set it" in panel["limits"]


def test_an_rpm_that_the_machine_cannot_run_is_no_number(book):
    panel = seen(book, highest_work_rpm=100.0)
    assert panel["set"] == "–" and panel["limits"] == "! rpm too high: the machine's highest is 100.0 1/min"
    assert book["out_target_rpm"] > 100


def test_a_target_is_shown_without_a_knee_and_says_so(book):
    panel = seen(book, ROWS_READ[:2], target_depth=1.4)
    assert panel["set"] == pytest.approx(SETUP.rpm_for(1.4)) and panel["line"].startswith("target as given: ")


def test_stop_is_said_of_danger_only(book):
    falling = [(rpm, 2 + (200 - rpm) / 100, 0.5) for rpm in (120, 132, 144, 156, 168, 180, 190, 190, 190)]
    panel = seen(book, falling, highest_work_rpm=190.0)
    assert panel["next"] == "end here" and "still falling" in panel["why"] and "STOP" not in book["out_next_line"]


def test_the_plan_or_the_readings_one_voice_that_says_which(book):
    by_rule, by_plan = (seen(book, ROWS_READ[:3], follow=word) for word in ("readings", "plan"))
    planned = [reading.work_rpm for reading in gf.plan_trial(example.NOMINAL_RPM)]
    assert by_plan["next"] == planned[3] and by_plan["why"] == f"plan, step 4 of {len(planned)}"
    assert not by_rule["why"].startswith("plan")
    seen(book, ROWS_READ[:3], follow="plan")
    later = [book.at(TRIAL, READINGS.here("set", row)) for row in range(10, 10 + len(planned))]
    assert later == [None] * 3 + [planned[3]] + [f"{rpm:.1f}" for rpm in planned[4:]]
    assert seen(book, ROWS_READ[:3], noted(2), follow="plan")["next"] == "STOP"
    outside = seen(book, ROWS_READ[:3], follow="plan", lowest_work_rpm=100.0)  # steps that the machine cannot run are passed over
    assert outside["next"] in planned and outside["next"] >= 100


@pytest.mark.parametrize(
    "kind, unit, head",
    [("power", "kW", "energy"), ("current", "A", "energy"), ("relative", "%", "net load"), ("energy", "J/mm³", "energy")],
)
def test_headings_carry_the_unit_of_the_kind_of_load(book, kind, unit, head):
    seen(book, load_kind=kind, volts=400.0, power_factor=0.8)
    assert (book.at(TRIAL, "E9"), book.at(TRIAL, "L8")) == (unit, head)
    assert book.at(TRIAL, "F9") == ("not used" if kind == "energy" else unit)
    assert book.at(TRIAL, "L9") == ("%" if kind == "relative" else "J/mm³")


def test_energies_can_be_typed(book, tmp_path):
    energies = [gf.specific_energy(load - idle, SETUP.removal_rate, SETUP.contact_width) for _, load, idle in ROWS_READ]
    rows = [(rpm, energy, "no idle") for (rpm, _, _), energy in zip(ROWS_READ, energies)]
    rows[3] = (rows[3][0], -1.0)
    rows[4] = (rows[4][0], None)
    seen(book, rows, load_kind="energy", contact_width=None)
    trial.build(dict(readings=rows, load_kind="energy", contact_width=None)).save(tmp_path / "book.xlsx")
    read = gf.read_trial(tmp_path / "book.xlsx")
    assert read.energy_unit == "J/mm³" and dict(read.left_out) == {
        4: "left out: specific energy is not > 0",
        5: "left out: specific energy is blank",
    }
    assert [book.at("calc rows", CALCULATION.here("status", row)) for row in (10, 11)] == [status for _, status in read.left_out]
    assert book["out_screened_knee"] == pytest.approx(read.knee.knee)
    assert book["out_n_readings"] == len(read.used) == 13


# --- a reading out of line ---------------------------------------------------------------------------------------------


def test_a_reading_out_of_line_is_named_as_python_names_it(book):
    """Python looks for it with every corner, the sheet with 20: where two readings are about as far out of line, they may differ."""
    named, differ = 0, []
    for seed in range(40):
        draw = random.Random(seed)
        rpms = [reading.work_rpm for reading in gf.plan_trial(120.0)][: draw.choice((9, 12, 15))]
        rows = readings(SETUP.depth(draw.uniform(70, 150)), 100.0, draw.choice((2.0, 4.0)), example.setup(), rpms, seed)
        place, factor = draw.randrange(len(rows)) if seed < 30 else 0, draw.choice((10.0, 0.1, 1.3, 0.85, 1.1, 1.0))
        rpm, load, idle = rows[place]
        rows[place] = (rpm, idle + (load - idle) * factor, idle)
        panel = seen(book, rows, contact_width=10.0)
        energies = [gf.specific_energy(load - idle, SETUP.removal_rate, 10.0) for _, load, idle in rows]
        knee = knee_of_trial([SETUP.depth(row[0]) for row in rows], energies)
        row = 0 if knee.suspect is None else knee.suspect + 1
        if book["out_outlier_row"] != row:
            assert factor not in (10.0, 0.1)  # a slipped decimal is never missed
            differ.append(seed)
            continue
        assert book["out_screened_verdict"] == knee.verdict
        if row:
            named += 1
            assert f"Reading {row} is out of line" in book["out_screened_reason"]
            status = book.at(TRIAL, READINGS.here("status", READINGS.first_row + knee.suspect))
            assert status == "! used, out of line" and f"reading {row} is out of line" in panel["watch"]
            if book["out_outlier_decides"]:
                assert book["out_screened_advice"] == str(knee.advice) == f"repeat reading {row}"
    assert named >= 8 and len(differ) <= 1, (named, differ)


@pytest.mark.parametrize("seed", range(6))
def test_the_squares_without_a_reading_are_those_of_a_fit_without_it(workbook, book, seed):
    """The best of a level and of falls that end at the places of the sheet's corners, by numpy's least squares.

    Of the energies of the sheet: drift is taken off them.
    """
    (heads,) = (cell for cell in workbook[OUTLIER]["E"] if cell.value == "least squares without this reading")
    draw = random.Random(seed)
    rpms = [reading.work_rpm for reading in gf.plan_trial(120.0)][: draw.choice((9, 12, 15))]
    rows = readings(SETUP.depth(draw.uniform(25, 170)), 100.0, draw.choice((0.5, 4.0)), example.setup(), rpms, seed)
    seen(book, rows, contact_width=10.0)
    first = heads.row + 1
    depths, energies = (np.array([book.at(OUTLIER, f"{column}{first + row}") for row in range(len(rows))]) for column in "CD")
    assert depths == pytest.approx([SETUP.depth(rpm) for rpm, _, _ in rows])
    needed = scipy.stats.f.isf(OUTLIER_CHANCE / len(rows), 1, len(rows) - 4)  # of so many readings one is as odd by chance
    assert book["out_outlier_needed"] == pytest.approx(needed, rel=1e-6)
    places = depths.min() + np.ptp(depths) * np.arange(1, CORNERS + 1) / CORNERS
    for left_out in range(len(rows)):
        others = np.arange(len(rows)) != left_out
        squares = [np.sum((energies[others] - energies[others].mean()) ** 2)]
        for place in places:
            design = np.column_stack([np.ones(len(rows)), np.maximum(0, place - depths)])[others]
            (_, fall), found, rank, _ = np.linalg.lstsq(design, energies[others], rcond=None)
            squares += list(found) if rank == 2 and fall > 0 else []
        assert book.at(OUTLIER, f"E{first + left_out}") == pytest.approx(min(squares), rel=1e-7)


def test_a_slipped_decimal_is_named_and_repeated(book):
    rows = list(ROWS_READ)
    rows[6] = (rows[6][0], rows[6][1] * 10, rows[6][2])
    panel = seen(book, rows)
    assert (panel["verdict"], panel["next"], panel["why"]) == ("not resolved", rows[6][0], "repeat reading 7: out of line")
    assert book.at(TRIAL, "F5") == "Reading 7 is out of line with the others: repeat it."


# --- units -------------------------------------------------------------------------------------------------------------

INCHES = dict(
    units="inch",
    wheel_diameter=200 / 25.4,
    wheel_speed=22 / 0.00508,
    marked_wheel_speed=35 / 0.00508,
    work_diameter=20 / 25.4,
    infeed_rate=0.6 / 25.4,
    contact_width=15 / 25.4,
)


@pytest.fixture(scope="module")
def in_inches(tmp_path_factory):
    """The path of the trial in inches."""
    return saved(trial.build, dict(readings=ROWS_READ, **INCHES), tmp_path_factory.mktemp("inches"))


def test_a_trial_typed_in_inches_is_the_same_trial(book, in_inches):
    metric, knee = seen(book), book["out_knee"]
    inch = seen(book, **INCHES)
    assert book["out_knee"] == pytest.approx(knee) and inch["set"] == pytest.approx(metric["set"])
    assert "4331 ft/min" in book["out_state"] and book.at("3 Record", record_cell("units")) == "inch"
    read = gf.read_trial(in_inches)
    assert read.knee.knee == pytest.approx(knee) and not [line for line in read.remarks if "own cells" in line]


def test_switching_the_units_alone_is_warned_at_the_cells(book, workbook):
    place = workbook.defined_names["in_work_diameter"].attr_text.replace("$", "").rpartition("!")[2]
    beside = place.replace("C", "F")
    seen(book, units="inch")
    assert book.at("1 Inputs", beside).startswith("! usually 0.0394 to 19.7 in: look again.")
    seen(book, **{**INCHES, "units": "metric"})
    assert book.at("1 Inputs", beside).startswith("! usually 1 to 500 mm: look again.")


def test_the_wheel_speed_beside_the_marked_one_is_in_the_same_unit(book):
    """The conditions of the trial, for the record: both speeds are compared by eye."""
    for units, speed, marked in (
        ({}, (22.0, "m/s"), (35.0, "m/s")),
        (INCHES, (22 / 0.00508, "ft/min"), (35 / 0.00508, "ft/min")),
    ):
        seen(book, **units)
        assert [book.at(TRIAL, cell) for cell in ("N31", "N32")] == ["wheel speed", "marked on wheel"]
        for row, (value, unit) in ((31, speed), (32, marked)):
            assert (book.at(TRIAL, f"O{row}"), book.at(TRIAL, f"P{row}")) == (pytest.approx(value), unit)


# --- the record --------------------------------------------------------------------------------------------------------


def record_cell(name):
    return f"{openpyxl.utils.get_column_letter(1 + [column.name for column in COLUMNS].index(name))}6"


def test_the_row_for_the_record_has_its_columns_in_its_order(book):
    typed = dict(key="W1", wheel="a", bond="resin", material="b", machine="c", coolant="oil", date=46000, who="d", note="e")
    seen(book, **typed)
    row = {column.name: book.at("3 Record", record_cell(column.name)) for column in COLUMNS}
    assert {name: row[name] for name in typed} == typed
    assert (row["grit"], row["concentration"], row["knee"]) == ("D126", 75, book["out_knee"])
    assert (row["density"], row["ratio"], row["level"]) == (book["out_grit_density"], 10, book["out_knee_level"])
    assert (row["scatter"], row["degrees_of_freedom"], row["units"]) == (book["out_noise"], 12, "metric")
    assert row["shallowest"] == pytest.approx(SETUP.depth(48)) and row["deepest"] == pytest.approx(SETUP.depth(192))
    assert not [name for name, value in row.items() if value is None]
    assert book.at("3 Record", "A7") is None
    seen(book, **{**typed, "who": None})
    assert book.at("3 Record", "A7").endswith(" who")


def test_there_is_no_row_without_a_knee_to_set(book):
    for state, said in (
        (dict(rows=ROWS_READ[:4]), "too few readings"),
        (dict(marked_wheel_speed=20.0), "STOP"),
        (dict(damage=noted(3), band=3.0), "damage"),
    ):
        seen(book, key="W1", **state)
        cells = [book.at("3 Record", record_cell(column.name)) for column in COLUMNS]
        assert cells == [f"no row: {said}"] + [None] * (len(COLUMNS) - 1)


# --- files -------------------------------------------------------------------------------------------------------------


def test_a_file_of_the_old_form_is_read_with_its_damage(tmp_path):
    """Damage stood in the third column of in_observations, and there was no in_damage."""
    path = trial_workbook.save(tmp_path / "old.xlsx")
    book = openpyxl.load_workbook(path)
    book["My readings"]["L7"] = "burn"
    name = openpyxl.workbook.defined_name.DefinedName("in_observations", attr_text="'My readings'!$J$5:$L$44")
    book.defined_names["in_observations"] = name
    book.save(path)
    assert gf.read_trial(path).damage == ((3, "burn"),)


def test_damage_written_by_a_script_where_older_files_have_it_counts(tmp_path, libreoffice):
    workbook = trial.build(dict(readings=ROWS_READ))
    workbook["Finish and wear"]["D20"] = "burn"  # the third column of in_observations, row 14
    workbook.save(tmp_path / "book.xlsx")
    values = libreoffice.recalc(tmp_path / "book.xlsx")
    assert values[TRIAL]["A4"] == "STOP" and gf.read_trial(tmp_path / "book.xlsx").damage == ((14, "burn"),)


def test_the_sheets_stand_in_the_order_of_the_work_and_say_which_only_compute(workbook):
    names = workbook.sheetnames
    assert tuple(names[: len(ORDER)]) == ORDER and names[:3] == ["1 Inputs", "2 Trial", "3 Record"]
    assert all(name.startswith("calc ") for name in names[len(ORDER) :]) and workbook.active.title == "1 Inputs"
    grey = {workbook[name].sheet_properties.tabColor.rgb for name in names if name.startswith("calc ")}
    assert grey == {"FF808080"}
    for name in names[len(ORDER) :]:
        assert not [cell for cell in cells_of(workbook[name]) if not cell.protection.locked]


def test_it_opens_where_one_goes_on():
    opened = trial.build(dict(readings=ROWS_READ[:2]))
    assert opened.active.title == TRIAL


def test_every_sheet_shows_the_state_in_its_second_row(workbook):
    for sheet in workbook:
        assert sheet["A2"].value == "=out_state"
        conditions = [rule.formula[0] for cells in sheet.conditional_formatting for rule in cells.rules]
        assert 'LEFT($A$2,4)="STOP"' in conditions and 'LEFT($A$2,1)="!"' in conditions


def test_what_is_to_be_looked_at_has_the_look_of_a_warning(workbook):
    """A condition that asks how a text begins asks a cell that it formats: else a warning stays white on paper."""
    asked = 0
    for sheet in workbook:
        for cells in sheet.conditional_formatting:
            for rule in cells.rules:
                for letter, row in re.findall(r"LEFT\(\$?([A-Z]+)\$?(\d+),1\)=\"!\"", rule.formula[0]):
                    asked += 1
                    assert f"{letter}{row}" in openpyxl.worksheet.cell_range.MultiCellRange(str(cells.sqref)), (
                        sheet.title,
                        cells,
                    )
    assert asked > 30
    assert workbook[TRIAL]["S24"].hyperlink.location == "'Checks'!A1"  # beside what it says of them


def test_links_stay_within_the_book_and_lead_to_cells(workbook):
    links = [(cell.parent, cell) for cell in cells_of(*workbook) if cell.hyperlink]
    assert len(links) > 60
    for _, cell in links:
        sheet, address = cell.hyperlink.location.rsplit("!", 1)
        assert cell.hyperlink.target is None and workbook[sheet.strip("'")][address] is not None
    checks = workbook["Checks"]
    for row in range(7, checks.max_row):
        if checks[f"C{row}"].value and "IFERROR(IF(" in checks[f"C{row}"].value:
            assert checks[f"E{row}"].hyperlink, checks[f"B{row}"].value
    assert [cell.value for cell in workbook["1 Inputs"][1] if cell.hyperlink] == ["Trial", "Record", "Checks", "Help"]


def test_the_cautions_are_the_first_thing_on_the_first_sheet(workbook):
    sheet = workbook["1 Inputs"]
    said = " ".join(str(sheet[f"A{row}"].value) for row in range(5, 9))
    for word in ("speed marked on it", "ring-test", "extraction", "cracks", "Local rules"):
        assert word in said


def test_every_row_of_the_working_sheet_has_its_height_and_nothing_typed_is_merged(workbook):
    sheet = workbook[TRIAL]
    assert all(sheet.row_dimensions[row].height for row in range(1, 40))
    for page in workbook:
        merged = {cell for area in page.merged_cells.ranges for row in page[area.coord] for cell in row}
        assert not [cell.coordinate for cell in merged if not cell.protection.locked]
    assert sum(sheet.column_dimensions[letter].width for letter in "ABCDEFGHIJKLMNOPQRS") < 162


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    path = saved(trial.build, dict(readings=ROWS_READ), tmp_path_factory.mktemp("parts"))
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode() for name in archive.namelist() if name.endswith(".xml")}


def test_colours_are_opaque(parts):
    styles = parts["xl/styles.xml"]
    for kind in ("fonts", "fills", "borders", "dxfs"):
        (said,) = re.findall(rf"<{kind}[ >].*?</{kind}>", styles)
        assert 'rgb="FF' in said and not re.findall(r'rgb="00[0-9A-F]{6}"', said), kind


def test_the_chart_is_drawn_alike_in_all_programs(parts):
    chart = next(text for name, text in parts.items() if name.startswith("xl/charts/chart"))
    assert not re.search(r"<a:noFill ?/><a:prstDash", chart)  # joins the readings in Gnumeric
    axes = re.findall(r"<valAx>.*?</valAx>", chart)
    assert [re.search(r'axPos val="(\w)"', axis)[1] for axis in axes] == ["b", "l"]
    assert "<title>" not in chart and "<legend>" not in chart


def test_the_places_of_the_chart_are_numbers_in_every_state(book):
    for state in (dict(rows=()), dict(rows=ROWS_READ[:3]), dict(marked_wheel_speed=20.0), dict()):
        seen(book, **state)
        places = [book.at("calc chart", f"B{row}") for row in range(7, 200)]
        assert all(isinstance(place, (int, float)) for place in places if place is not None)
        assert len([place for place in places if place is not None]) > 100


def test_no_format_that_a_country_reads_differently(parts):
    formulas = [
        formula
        for name, text in parts.items()
        for formula in re.findall(r"<f(?: [^<>]*)?>([^<]+)</f>", text)
        if "worksheets" in name
    ]
    assert len(formulas) > 2000 and not [formula for formula in formulas if re.search(r"\bTEXT\(", formula)]


def test_states_are_computed_alike(in_inches, tmp_path, libreoffice):
    unfinished = saved(trial.build, dict(readings=ROWS_READ[:4], follow="plan"), tmp_path)
    for path in (unfinished, in_inches):
        assert differences(path, libreoffice.recalc(path)) == []


# --- what the rule goes by -------------------------------------------------------------------------------------------------

ENERGIES = [(120.0, 50.0), (108.0, 52.0), (132.0, 49.0), (108.0, 54.0), (132.0, 47.0)]  # typed as they are


def rule(book, rows, **inputs):
    seen(book, rows, load_kind="energy", idle=None, **inputs)
    return {name[9:]: value for name, value in book.results().items() if name.startswith("out_next_")}


def test_the_rule_goes_by_the_mean_at_both_ends_and_a_step_beyond(book):
    got = rule(book, ENERGIES)
    assert [got[name] for name in ("slowest", "fastest", "at_slowest", "at_fastest")] == [108, 132, 53, 48]
    assert [got[name] for name in ("step", "slower", "faster")] == pytest.approx([12, 96, 144])
    assert (got["can_go_slower"], got["can_go_faster"], got["row"]) == (1, 1, 6)


@pytest.mark.parametrize(
    "limits, slower, can",
    [
        (dict(lowest_work_rpm=100.0), 100.0, 1),
        (dict(lowest_work_rpm=104.9), 104.9, 1),  # a quarter of a step is worth a reading
        (dict(lowest_work_rpm=105.1), 105.1, 0),
        (dict(lowest_work_rpm=110.0), 108.0, 0),  # never the other way
        (dict(lowest_work_rpm=1.0, rpm_step=25.0, steps_each_side=3), 0.8 * 108, 1),  # a fifth slower at most
    ],
)
def test_one_step_slower_keeps_to_the_machine_and_to_a_fifth(book, limits, slower, can):
    got = rule(book, ENERGIES, **limits)
    assert got["slower"] == pytest.approx(slower) and got["can_go_slower"] == can


@pytest.mark.parametrize("highest, faster, can", [(140.0, 140.0, 1), (135.1, 135.1, 1), (134.9, 134.9, 0), (130.0, 132.0, 0)])
def test_one_step_faster_keeps_to_the_machine(book, highest, faster, can):
    got = rule(book, ENERGIES, highest_work_rpm=highest)
    assert got["faster"] == pytest.approx(faster) and got["can_go_faster"] == can


@pytest.mark.parametrize("energy, slower", [(74.9, 96.0), (75.0, 108.0)])
def test_no_step_slower_where_the_energy_has_risen_to_half_again(book, energy, slower):
    assert rule(book, [(120.0, 50.0), (108.0, energy)])["slower"] == pytest.approx(slower)


@pytest.mark.parametrize("count, row", [(29, 30), (30, 0)])
def test_the_next_row_is_the_one_below_the_last_that_holds_anything(book, count, row):
    assert rule(book, [(120.0, 50.0 + number % 3) for number in range(count)])["row"] == row
    assert rule(book, [(120.0, 50.0), (), ("fast", None), (None, None, None, None, "a note alone")])["row"] == 4


def test_damage_says_how_to_clear_a_slip_and_which_reading_was_first(book):
    damage = [None, None, "crack", "burn"]
    seen(book, damage=damage)
    assert book.at(TRIAL, "A6") == "Clear the word there if it was a slip."
    assert (book["out_damage_count"], book["out_damage_row"], book["out_damage_first"]) == (2, 3, "crack in reading 3")
    assert (book["out_next_line"], book["out_next_reason"]) == ("STOP: crack in reading 3", "crack in reading 3")
