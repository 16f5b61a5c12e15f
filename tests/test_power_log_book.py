"""power_log.xlsx: the parts that its formulas find beside those of read_log and the truth, and what it says of a bad paste.

All logs are simulated.
"""

from __future__ import annotations

import math

import engines
import numpy as np
import openpyxl
import pytest
from open_book import OpenBook
from simulated_logs import KNEE_RPM, RPMS, pattern, simulate
from test_templates import differences

import gritfuncs as gf
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.evaluate import Book, Place, value_of, workbook_values
from gritfuncs.trial.inputs import READING_COLUMNS
from gritfuncs.workbooks.power_log import build as power_log
from gritfuncs.workbooks.power_log.tables import LOG, MOST_PARTS, PARTS, READINGS, ROWS
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial import tables

RATE = 5.0
TYPED = np.repeat(RPMS, 2).tolist()


def columns(log):
    return dict(times=[round(float(t), 3) for t in log.time], powers=[round(float(p), 4) for p in log.power])


def read(log, **values):
    """The workbook with a log pasted, open in an engine."""
    book = OpenBook(power_log.build({**columns(log), **values}))
    book.read()
    return book


def readings(book):
    """The rows of the block that is copied into trial.xlsx, without blank ones."""
    return [row for row in book["out_readings"] if any(cell is not None for cell in row)]


SCENES = {
    "dressing": (dict(strokes=2), {}),
    "a fine stage below the threshold": (dict(fine=6.0, fine_share=0.2), {}),
    "spindle switched, an emergency stop": (dict(spindle_off=True, stopped=5), dict(lowest_power=0.3)),
    "drop-outs": (dict(dropped=6, seed=2), dict(lowest_power=0.3)),
    "coolant switched": (dict(coolant=0.25), {}),
    "a meter zeroed at idle, which shows less than zero in half of the rows there": (dict(idle=1e-9), dict(lowest_power=0.0)),
    "idle far above what grinding adds": (dict(idle=9.0), {}),
    "a lag of 2.5 s": (dict(lag=2.5, infeed=25.0), {}),
    "one row a second, a cycle without a part": (dict(rate=1.0, empty=(3,)), {}),
}


@pytest.mark.parametrize("name", SCENES)
def test_the_parts_are_those_of_read_log_within_what_it_states(name):
    changes, known = SCENES[name]
    log = simulate(**{"rate": RATE, **changes})
    python, book = gf.read_log(power=log.power, time=log.time), read(log, **known)
    assert book["out_ready"] == 1 and book["out_parts"] == book["out_parts_read"] == len(python.parts) == len(log.nets)
    rows = readings(book)
    nets = np.array([load - idle for _, load, idle, _, _ in rows])
    assert [use for *_, use, _ in rows] == ["yes"] * len(rows) and {rpm for rpm, *_ in rows} == {None}
    errors = np.array([part.error for part in python.parts])
    assert np.mean(np.abs(nets - [part.net for part in python.parts]) < errors) > 0.9
    off = nets / log.nets - 1
    assert np.sqrt(np.mean(off**2)) < 0.018 and abs(off.mean()) < 0.01
    assert np.mean(np.abs(nets - log.nets) < book["out_error"]) > 0.6
    assert book["out_lag"] == pytest.approx(log.scene.lag, rel=0.15, abs=0.1 if log.scene.rate > 2 else 0.4)
    assert (book["out_coolant_step"] > 0) == bool(log.scene.coolant)


@pytest.mark.parametrize("name", ["spindle on and off", "rising saw", "triangle", "noise", "sine"])
def test_what_is_no_grinding_gives_no_readings(name):
    time, power = pattern(name, rate=4.0) if name != "sine" else (np.arange(0, 900, 0.25), 0)
    power = power if name != "sine" else 2 - np.cos(2 * np.pi * time / 30)
    for lowest in (None, 0.0):
        book = OpenBook(power_log.build(dict(times=time.tolist(), powers=power.tolist(), lowest_power=lowest)))
        book.read()
        assert readings(book) == [] and book["out_check"].startswith("STOP")
        if book["out_near_zero"] == 0:
            break


@pytest.fixture(scope="module")
def short():
    """A log of six parts pasted, as an open book."""
    return read(simulate(rate=2.0, rpms=RPMS[:3]))


@pytest.fixture
def type_in(short):
    """Types into cells of a sheet until the end of the test: a list of (sheet, column, row, value)."""
    before = []

    def type_in(cells):
        for sheet, column, row, value in cells:
            place = openpyxl.utils.column_index_from_string(column)
            before.append((sheet, row, place, short._book.get_value(sheet, row, place)))
            short._book.set_value(sheet, row, place, value)
        short.read()
        return short

    yield type_in
    for sheet, row, place, value in reversed(before):
        short._book.set_value(sheet, row, place, value)
    short.read()


TIME, POWER = LOG.letter("time"), LOG.letter("power")
FIRST, LAST = LOG.first_row, LOG.last_row
BAD_PASTES = {
    "a heading": ([("Log", TIME, FIRST, "time")], "all cells of time and power are numbers"),
    "decimal commas": (
        [("Log", POWER, row, "1,234") for row in range(FIRST, FIRST + 9)],
        "all cells of time and power are numbers",
    ),
    "a text for a time": ([("Log", TIME, FIRST + 5, "06:00:01")], "all cells of time and power are numbers"),
    "a power is missing": ([("Log", POWER, FIRST + 50, None)], "a number in every row"),
    "a time is missing": ([("Log", TIME, FIRST + 50, None)], "a number in every row"),
    "time runs back": ([("Log", TIME, FIRST + 50, 0.1)], "time grows"),
    "the end of an older log": ([("Log", c, FIRST + 2000, v) for c, v in ((TIME, 9e3), (POWER, 1.0))], "a number in every row"),
    "a longer log": ([("Log", POWER, LAST + 1, 1.0)], "fits into the table"),
    "another unit of time": ([("Inputs", "C", None, "ms")], "fast enough"),
    "a drop to zero": ([("Log", POWER, FIRST + 50, 0.0)], "power near zero"),
    "another count": ([("Inputs", "C", None, 7)], "as many as were ground"),
    "no time of infeed": ([("Inputs", "C", None, 0)], "infeed time"),
    "a time of infeed below zero": ([("Inputs", "C", None, -18.0)], "infeed time"),
    "too few work rpm": ([("Readings", READINGS.letter("typed_rpm"), READINGS.first_row, 120.0)], "work rpm are as many"),
    "work rpm with a gap": (
        [("Readings", READINGS.letter("typed_rpm"), READINGS.first_row + k, 120.0) for k in (0, 1, 2, 3, 4, 6)],
        "work rpm are as many",
    ),
}


@pytest.mark.parametrize("name", BAD_PASTES)
def test_a_bad_paste_gives_a_word_and_no_number(name, short, type_in):
    assert len(readings(short)) == 6
    cells, said = BAD_PASTES[name]
    inputs = {"another unit of time": "in_time_unit", "another count": "in_expected_parts"}
    inputs.update(dict.fromkeys(("no time of infeed", "a time of infeed below zero"), "in_infeed_time"))
    row = int(short._places[inputs[name]][1].split("$")[-1]) if name in inputs else 0
    book = type_in([(sheet, column, place or row, value) for sheet, column, place, value in cells])
    assert book["out_check"].startswith("STOP") and said in book["out_check"]
    assert readings(book) == [] and ("no readings" in book["out_log_word"] or "not cut" in book["out_log_word"])


def test_a_stretch_is_left_out_by_a_word_and_nothing_moves(short, type_in):
    before = readings(short)
    book = type_in([("Parts", PARTS.letter("leave_out"), PARTS.first_row + 2, "no")])
    loads = [load for _, load, *_ in before]
    assert [load for _, load, *_ in readings(book)] == pytest.approx(loads[:2] + loads[3:], rel=1e-3)
    assert book.at("Parts", PARTS.here("word", PARTS.first_row + 2)) == "left out by you"


def test_parts_at_the_end_of_the_meter_are_counted_and_not_read():
    log = simulate(ceiling=3.6, rate=RATE)
    book = read(log, highest_power=3.6)
    rows = readings(book)
    assert [use for *_, use, _ in rows] == ["no" if net + 1.1 > 3.6 else "yes" for net in log.nets]
    assert all(load is None and "clipped" in note for _, load, _, use, note in rows if use == "no")


# What an answer of the sheets must be, for a check of this name: (its last good value, the first bad one).
LIMITS = {
    "time and power have 20 rows": dict(out_rows=(20, 19)),
    "rows follow one another fast enough": dict(out_interval=(2.0, 2.01)),
    "rows follow one another": dict(out_interval=(0.01, 0.0099)),
    "time runs in even steps": dict(out_uneven=(2, 3), out_rows=(100, 100)),
    "all cells of time and power are numbers": dict(out_texts=(0, 1)),
    "the log fits into the table": dict(out_too_long=(0, 1)),
    "time grows": dict(out_growing=(100, 99), out_rows=(100, 100)),
    "it is known what a power near zero means": dict(out_near_zero=(0, 1)),
    "power rises and falls": dict(out_stretches=(1, 0)),
    "at most 60 stretches": dict(out_stretches=(60, 61)),
    "at most 60 stretches and 30 parts": dict(out_parts=(30, 31)),
    "3 parts or more": dict(out_parts=(3, 2)),
    "most of the time above idle": dict(out_share=(0.75, 0.749)),
    "most of the time above idle is in parts": dict(out_spread=(0.17, 0.171)),
    "power stays level": dict(out_flat=(0.45, 0.449)),
    "power stays level while": dict(out_steepness=(0.25, 0.251)),
    "power stays level while a": dict(out_steepness=(-0.25, -0.251)),
    "parts found are as many": dict(in_expected_parts=(6, 7)),
    "grinding lifts the reading by little": dict(out_rise=(5.0, 4.99)),
    "the meter shows coarse steps": dict(out_equal=(0.2, 0.201)),
    "rows are slow": dict(out_interval=(0.5, 0.501)),
    "stretches that are no part": dict(out_stretches=(6, 7)),
    "coolant steps up": dict(out_coolant_step=(0, 1)),
}
GOOD = dict(
    out_rows=100, out_powers=100, out_texts=0, out_too_long=0, out_apart=0, out_growing=100, out_interval=0.2, out_uneven=0,
    out_near_zero=0, out_log_fits=1, out_stretches=6, out_parts=6, out_parts_read=6, out_share=0.95, out_spread=0.05,
    out_flat=0.9, out_steepness=0.01, out_rise=40, out_equal=0, out_coolant_step=0, in_expected_parts=None,
    in_infeed_time=None, in_lowest_power=None, in_meter_step=None,
)  # fmt: skip


def check_of(workbook, words, read=(), **values):
    """(state, what to do) of the check whose name begins with these words, over answers of the sheets in place of a log.

    `read` are words of the parts on the sheet Readings.
    """
    checks = workbook["Checks"]
    (row,) = [row for row in range(7, 33) if str(checks[f"B{row}"].value).startswith(words)]
    book = Book({None: {name.upper(): f"Levels!$A${row}" for row, name in enumerate(values, 1)}})
    book.add_sheet("Levels", {(row, 1): float(value) for row, value in enumerate(values.values(), 1) if value is not None})
    column = openpyxl.utils.column_index_from_string(READINGS.letter("word"))
    book.add_sheet("Readings", {(READINGS.first_row + number, column): word for number, word in enumerate(read)})
    said = str(checks[f"D{row}"].value)
    place = Place("Levels", 1, 2)
    return value_of(checks[f"C{row}"].value, place, book), value_of(said, place, book) if said.startswith("=") else said


@pytest.mark.parametrize("words", LIMITS)
def test_a_check_speaks_from_its_limit_on(words, as_built):
    def state(place):
        values = {**GOOD, **{name: pair[place] for name, pair in LIMITS[words].items()}}
        if "out_rows" in LIMITS[words]:
            values["out_powers"] = values["out_rows"]
        return check_of(as_built("power_log.xlsx"), words, **values)[0]

    assert state(0) == "ok" and state(1) in ("STOP", "look")


@pytest.mark.parametrize(
    "words, answers, said",
    [
        ("all cells of time", dict(out_texts=3), "Log: 3 cells are no number"),
        (
            "time and power have a number",
            dict(out_rows=99, out_powers=98, out_apart=2),
            "Log: 99 times, 98 powers, 2 cells below a blank row",
        ),
        ("rows follow one another", dict(out_interval=2.01234), "Log: a row every 2.0123 s,"),
        ("time runs in even", dict(out_uneven=4, out_interval=0.2345), "Log: 4 steps of time are not 0.235 s:"),
        ("it is known", dict(out_near_zero=7), "in_lowest_power: 7 rows are near zero:"),
        (
            "most of the time",
            dict(out_share=0.62, out_spread=0.254),
            "Parts: 62 % of the time above idle in parts, length of infeed within ± 25 %:",
        ),
        (
            "power stays level",
            dict(out_flat=0.6, out_steepness=-0.314),
            "Parts: above 90 % of the level for 60 % of the time, changes by 31 % within:",
        ),
        ("parts found are", dict(out_parts=5, in_expected_parts=6), "in_expected_parts: found 5:"),
        ("grinding lifts", dict(out_rise=3.24), "a rise of 3.2 % over idle:"),
    ],
)
def test_a_check_that_is_not_fulfilled_says_what_was_found(words, answers, said, as_built):
    state, message = check_of(as_built("power_log.xlsx"), words, **{**GOOD, **answers})
    assert state != "ok" and message.startswith(said)


def test_with_the_infeed_time_one_part_is_enough_and_without_it_three_are_asked(as_built):
    workbook = as_built("power_log.xlsx")
    for given, parts, state in ((18.0, 1, "ok"), (18.0, 0, "STOP"), (None, 3, "ok"), (None, 2, "STOP")):
        assert check_of(workbook, "3 parts or more", **{**GOOD, "in_infeed_time": given, "out_parts": parts})[0] == state
    nothing = {**GOOD, "out_parts": 0, "out_share": 0, "out_flat": 0}
    for words in ("3 parts or more", "most of the time above idle", "power stays level"):  # nothing is asked twice of such a log
        assert {check_of(workbook, words, **{**nothing, "out_stretches": count})[0] for count in (1, 6)} == {"STOP"}
        assert check_of(workbook, words, **{**nothing, "out_stretches": 0})[0] == "ok"
        assert check_of(workbook, words, **{**nothing, "out_log_fits": 0})[0] == "ok"
    assert check_of(workbook, "power rises", **{**GOOD, "out_stretches": 0, "out_log_fits": 0})[0] == "ok"


@pytest.mark.parametrize(
    "answers",
    [dict(out_rows=1), dict(out_powers=1), dict(out_texts=1), dict(out_powers=1, out_texts=1), dict(out_rows=0, out_powers=0)],
)
def test_a_log_is_asked_for_nothing_until_something_is_pasted(answers, as_built):
    values = {**GOOD, "out_rows": 0, "out_powers": 0, **answers}
    assert check_of(as_built("power_log.xlsx"), "time and power have 20 rows", **values)[0] == (
        "STOP" if any(answers.values()) else "ok"
    )


def test_nothing_pasted_is_no_error():
    book = OpenBook(power_log.build())
    book.read()
    assert book["out_check"] == "Checks: all ok" and book["out_log_word"] == "Nothing pasted yet." and readings(book) == []


def test_the_block_is_what_trial_takes_and_gives_the_knee(tmp_path):
    """As it is copied: the columns of in_readings, pasted as values."""
    log = simulate(rate=RATE)
    book = read(log, work_rpms=TYPED)
    names = [column.name for column in READINGS.columns]
    block = names[names.index("work_rpm") : names.index("note") + 1]
    assert block == ["work_rpm", "load", "idle", "use", "note"] == list(READING_COLUMNS) and MOST_PARTS == tables.ROWS
    rows = [["" if cell is None else cell for cell in row] for row in book["out_readings"]]  # "" is what a blank formula leaves
    path = tmp_path / "trial.xlsx"
    save_workbook(trial.build(dict(readings=rows)), path)
    knee = gf.read_trial(path)
    assert knee.counts["used"] == 14 and [reading.work_rpm for reading in knee.used] == TYPED
    assert knee.knee.verdict == "found" and knee.knee_rpm == pytest.approx(KNEE_RPM, rel=0.1)
    assert "part 3, at" in knee.used[2].note


def test_every_engine_computes_a_pasted_log_alike(tmp_path, compute):
    log = simulate(rate=2.0, strokes=2, coolant=0.2, rpms=RPMS[:4])
    path = tmp_path / "power_log.xlsx"
    save_workbook(power_log.build({**columns(log), "work_rpms": TYPED[:8]}), path)
    for engine in engines.ENGINES:
        assert differences(path, compute[engine](path)) == [], engine


def test_more_values_than_rows_are_refused():
    for name, count in (("times", ROWS + 1), ("powers", ROWS + 1), ("work_rpms", MOST_PARTS + 1), ("leave_out", 61)):
        with pytest.raises(ValueError, match=f"{name} must be at most {count - 1} values"):
            power_log.build({name: [1.0] * count})


def test_the_block_to_copy_is_told_by_its_cells(as_built):
    workbook = as_built("power_log.xlsx")
    (_, cells), *_ = workbook.defined_names["out_readings"].destinations
    assert f"copy the block {cells.replace('$', '').replace(':', ' to ')} and paste" in workbook["Readings"]["A5"].value


def test_the_shipped_book_is_blank(as_built):
    values = workbook_values(as_built("power_log.xlsx"))
    assert values["Levels"]["C7"] == 0


def test_below_the_rows_of_the_log_more_can_be_pasted(as_built):
    """A protected sheet takes nothing where cells are locked; what is too long is told afterwards."""
    columns = as_built("power_log.xlsx")["Log"].column_dimensions
    assert [letter for letter in "ABCDE" if not columns[letter].protection.locked] == ["B", "C"]


def test_the_chart_is_within_what_is_printed(as_built):
    sheet = as_built("power_log.xlsx")["Log"]
    (chart,) = sheet._charts
    columns = [sheet.column_dimensions[letter].width for letter in "GHIJKLMN"]
    assert chart.anchor.startswith("G") and sheet.print_area.replace("$", "").startswith("'Log'!A1:N")
    assert chart.width / 2.54 * 72 <= sum(5.25 * width + 3.75 for width in columns)


def test_what_is_copied_goes_below_the_heading_that_is_named(as_built):
    """The first tinted column of 2 Trial is another one."""
    note = as_built("power_log.xlsx")["Readings"]["A5"].value
    assert "first cell under rpm on 2 Trial of trial.xlsx" in note
    book = as_built("trial.xlsx")
    first = book.defined_names["in_readings"].attr_text.replace("$", "").rpartition("!")[2].partition(":")[0]
    assert book["2 Trial"][first].offset(-2).value == "rpm"


def computed(as_built, sheet, table, name, number, cells, **values):
    """What the shipped formula of a column gives in a row of its table, over cells {(sheet, table, column, row number): value}."""
    book = Book({None: {name.upper(): f"Levels!$A${row}" for row, name in enumerate(values, 1)}})
    sheets = {
        "Log": {},
        "Parts": {},
        "Levels": {(row, 1): float(value) for row, value in enumerate(values.values(), 1) if value is not None},
    }
    for (its, columns, column, row), value in cells.items():
        place = openpyxl.utils.column_index_from_string(columns.letter(column))
        sheets[its][columns.first_row + row - 1, place] = value
    for title, held in sheets.items():
        book.add_sheet(title, held)
    if table is None:
        address = as_built("power_log.xlsx").defined_names[f"out_{name}"].attr_text.rpartition("!")[2].replace("$", "")
    else:
        address = f"{table.letter(name)}{table.first_row + number - 1}"
    cell = as_built("power_log.xlsx")[sheet][address]
    return value_of(cell.value, Place(sheet, cell.row, cell.column), book)


@pytest.mark.parametrize("longer, word", [(0.9, "part"), (1.1, "hole: rows are missing in it")])
def test_a_stretch_that_lasts_more_than_a_second_longer_than_its_rows_has_a_hole(as_built, longer, word):
    cells = {("Parts", PARTS, name, 1): value for name, value in dict(number=1.0, first=1.0, rows=20.0, seconds=10.0).items()}
    cells |= {("Parts", PARTS, name, 1): value for name, value in dict(length="part", height=1.0, at_top=0.1, idle=1.0).items()}
    cells |= {("Log", LOG, "time", row): time for row, time in ((1, 100.0), (20, 110.0 + longer))}
    assert computed(as_built, "Parts", PARTS, "word", 1, cells, out_stretches=1, out_time_factor=1, in_highest_power=None) == word


def test_the_change_within_a_part_goes_from_its_beginning_to_its_end(as_built):
    """The means of the halves of a straight line lie half of its change apart."""
    line = 2 + 0.3 * np.linspace(0, 1, 20_001)
    cells = {
        ("Parts", PARTS, name, 1): value for name, value in dict(one=line[:10_000].mean(), other=line[10_000:].mean()).items()
    }
    cells |= {("Parts", PARTS, "net", 1): line.mean(), ("Parts", PARTS, "word", 1): "part"}
    assert computed(as_built, "Parts", PARTS, "change", 1, cells) == pytest.approx(100 * 0.3 / 2.15, rel=1e-3)


@pytest.mark.parametrize("step, error", [(None, 0.0), (0.3, 2 * math.sqrt(2 * 0.3**2 / 12))])
def test_the_step_of_the_meter_adds_the_rounding_of_level_and_idle(as_built, step, error):
    """The standard deviation of a rounded number is its step over the root of 12: GUM (JCGM 100:2008), 4.3.7 and F.2.2.1."""
    cells = {("Parts", PARTS, "halves", number): 0.0 for number in (1, 2, 3)}
    assert computed(as_built, "Levels", None, "error", 1, cells, in_meter_step=step) == pytest.approx(error)


def beside_a_part(as_built, name, ends_before, **also):
    """Idle beside part 2 of 3, of a log whose power is its row: two rows a second, the part in rows 101 to 120."""
    cells = {("Log", LOG, "row", row): float(row) for row in range(1, 201)}
    cells |= {("Log", LOG, "power", row): float(row) for row in range(1, 201)}
    for number, (first, rows) in enumerate([(ends_before - 19, 20), (101, 20), (also.pop("next_begins", 160), 20)], 1):
        cells |= {("Parts", PARTS, "number", number): float(number)}
        cells |= {("Parts", PARTS, "first", number): float(first), ("Parts", PARTS, "rows", number): float(rows)}
    cells |= {("Parts", PARTS, "length", 2): "part", ("Parts", PARTS, "near", 2): -1.0}
    levels = dict(out_interval=0.5, out_running=-10, out_stretches=3, out_rows=200, out_lag=1.0)
    return computed(as_built, "Parts", PARTS, name, 2, cells, **levels)


def test_idle_is_read_in_the_free_seconds_beside_a_part_also_in_short_gaps(as_built):
    """Half a second a row: 1.5 to 3 s before contact, but not within 2.5 s of the stretch before."""
    assert beside_a_part(as_built, "near", 60) == np.mean(range(95, 99))
    assert beside_a_part(as_built, "near", 92) == np.mean([97, 98])
    assert beside_a_part(as_built, "near", 93) == 98 and beside_a_part(as_built, "near", 94) == ""
    assert beside_a_part(as_built, "before", 60) == np.mean(range(86, 99))  # from 7.5 s on, not within 4 s of the one before
    assert beside_a_part(as_built, "before", 85) == np.mean(range(93, 99)) and beside_a_part(as_built, "before", 91) == -1
    assert beside_a_part(as_built, "behind", 60) == np.mean(range(128, 141))  # from 4 s on for 6 s, to 1.5 s before the next
    assert beside_a_part(as_built, "behind", 60, next_begins=135) == np.mean(range(128, 133))
    assert beside_a_part(as_built, "behind", 60, next_begins=130) == ""


@pytest.mark.parametrize(
    "before, behind, idle",
    [
        (1.0, 1.49, 1.245),
        (1.0, 1.5, 1.25),
        (1.0, 1.51, 1.0),
        (1.49, 1.0, 1.245),
        (1.51, 1.0, 1.0),
        (1.2, "", 1.2),
        ("", 1.2, 1.2),
    ],
)
def test_where_idle_differs_by_more_than_a_twentieth_of_the_level_the_lower_counts(as_built, before, behind, idle):
    """The same limit as that of read_log, in tests/test_log_limits.py."""
    differ = abs(before - behind) if "" not in (before, behind) else ""
    known = dict(number=1.0, length="part", near=9.0, before=before, behind=behind, differ=differ, height=10.0)
    cells = {("Parts", PARTS, name, 1): value for name, value in known.items()}
    given = computed(as_built, "Parts", PARTS, "idle", 1, cells, out_stretches=1, out_coolant_step=0)
    assert given == pytest.approx(idle)
    assert computed(as_built, "Parts", PARTS, "idle", 1, cells, out_stretches=1, out_coolant_step=0.1) == 9.0


@pytest.mark.parametrize(
    "row, first, last", [(1, 1, 3), (2, 1, 4), (3, 1, 5), (50, 48, 52), (ROWS - 1, ROWS - 3, ROWS), (ROWS, ROWS - 2, ROWS)]
)
def test_power_is_smoothed_by_the_median_of_five_rows_about_each(as_built, row, first, last):
    cells = {("Log", LOG, "power", number): float(number**2) for number in range(max(1, row - 9), min(ROWS, row + 9) + 1)}
    assert computed(as_built, "Log", LOG, "middle", row, cells) == np.median([number**2 for number in range(first, last + 1)])


def test_every_printed_page_of_the_parts_begins_with_the_title_and_ends_its_head_with_the_headings(as_built):
    sheet = as_built("power_log.xlsx")["Parts"]
    first, last = (int(row) for row in sheet.print_title_rows.replace("$", "").split(":"))
    assert sheet[f"A{first}"].value.startswith("Parts:") and first == 1
    assert [sheet.cell(last, column).value for column in (1, 2)] == ["stretch", "start, s"]


@pytest.mark.parametrize(
    "first, rows, running, infeed_time, word",
    [
        (10, 20, 20, None, "part"),
        (10, 20, 18, None, "part"),  # the spindle runs in nine tenths of it
        (10, 20, 17, None, "stop"),
        (10, 12, 12, None, "part"),  # 6 s of a usual 10 s
        (10, 11, 11, None, "short"),
        (10, 32, 32, None, "part"),  # 16 s
        (10, 33, 33, None, "long"),
        (10, 33, 33, 10, "part"),
        (10, 38, 38, 10, "part"),  # 19 s, finishing and spark-out in it
        (10, 39, 39, 10, "long"),
        (1, 20, 20, None, "cut"),
        (2, 20, 20, None, "part"),
        (80, 20, 20, None, "part"),
        (81, 20, 20, None, "cut"),  # to the last of 100 rows
    ],
)
def test_a_stretch_is_a_part_by_its_length_from_limit_to_limit(first, rows, running, infeed_time, word, as_built):
    cells = {"number": [1], "first": [first], "rows": [rows], "running": [running]}
    cells = {("Parts", PARTS, name, 1): float(value) for name, (value,) in cells.items()}
    answers = dict(out_stretches=1, out_rows=100, out_interval=0.5, out_usual_length=10, in_infeed_time=infeed_time)
    assert computed(as_built, "Parts", PARTS, "length", 1, cells, **answers).startswith(word)


@pytest.mark.parametrize(
    "height, at_top, highest, word",
    [(5.0, 0.2, None, "part"), (4.99, 0.0, None, "low"), (9.0, 0.21, None, "at the highest"), (9.0, 0.21, 12.0, "clipped")],
)
def test_a_part_is_half_as_high_as_the_others_and_a_fifth_of_it_may_stand_at_the_top(height, at_top, highest, word, as_built):
    known = dict(number=2.0, first=1.0, rows=20.0, seconds=10.0, length="part", height=height, at_top=at_top, idle=1.0)
    cells = {("Parts", PARTS, name, 2): value for name, value in known.items()}
    cells |= {("Parts", PARTS, "height", 1): 10.0, ("Parts", PARTS, "height", 3): 10.0}
    cells |= {("Log", LOG, "time", row): 0.5 * row for row in (1, 20)}
    answers = dict(out_stretches=3, out_time_factor=1, in_highest_power=highest)
    assert computed(as_built, "Parts", PARTS, "word", 2, cells, **answers).startswith(word)


@pytest.mark.parametrize("enter, risen", [(90.0, 0), (100.0, 0), (135.0, 0.35), (180.0, 0.8), (195.0, 0.9), (250.0, 0.9)])
def test_contact_is_where_a_rise_of_first_order_began(enter, risen, as_built):
    """1 - exp(-t/lag) is `risen` half a row before the first row of the stretch; it is taken to be 0.9 at most."""
    known = dict(number=1.0, length="part", first=50.0, idle=100.0, top=200.0)
    cells = {("Parts", PARTS, name, 1): value for name, value in known.items()}
    answers = dict(out_stretches=1, out_enter=enter, out_lag=2.0, out_interval=0.5)
    contact = computed(as_built, "Parts", PARTS, "contact", 1, cells, **answers)
    assert 1 - math.exp(-(49.5 - contact) * 0.5 / 2.0) == pytest.approx(risen)


@pytest.mark.parametrize(
    "last, steady",
    [
        (120, 104),  # three lags and half a row behind contact at 100, the lag being a row: 103.5
        (105, 104),  # two rows are left then, which are enough
        (104, 102),  # one row would be: 1.5 lags and half a row
        (103, 102),
        (102, 101),  # the last but one at the latest
    ],
)
def test_the_steady_stretch_begins_three_lags_after_contact_or_one_and_a_half(last, steady, as_built):
    known = dict(number=1.0, length="part", contact=100.0, last=float(last))
    cells = {("Parts", PARTS, name, 1): value for name, value in known.items()}
    assert computed(as_built, "Parts", PARTS, "steady", 1, cells, out_stretches=1, out_lag=0.5, out_interval=0.5) == steady


@pytest.mark.parametrize(
    "rows, parts, share", [([], [], 1), ([1], [""], 0), ([30, 10], [1.0, ""], 0.75), ([30, 30], [1.0, 2.0], 1)]
)
def test_the_share_of_parts_is_that_of_their_rows(rows, parts, share, as_built):
    cells = {("Parts", PARTS, "rows", number): float(value) for number, value in enumerate(rows, 1)}
    cells |= {("Parts", PARTS, "part", number): value for number, value in enumerate(parts, 1)}
    assert computed(as_built, "Levels", None, "share", 1, cells) == share


@pytest.mark.parametrize("low, rise", [(100.0, 50.0), (-100.0, 50.0), (2.5, 2000.0), (2.0, ""), (0.0, ""), (-1.0, "")])
def test_no_rise_is_said_over_the_idle_of_a_meter_that_is_zeroed_there(low, rise, as_built):
    """A hundredth of the level, here of 200, and less is such an idle; a rise over it says nothing."""
    cells = {("Parts", PARTS, "net", number): net for number, net in enumerate((10.0, 50.0, 60.0), 1)}
    for parts in (3, 1):
        assert computed(as_built, "Levels", None, "rise", 1, cells, out_parts_read=parts, out_low=low, out_high=200) == rise
    assert computed(as_built, "Levels", None, "rise", 1, {}, out_parts_read=0, out_low=low, out_high=200) == 0


def test_a_check_of_the_rise_says_nothing_of_a_meter_that_is_zeroed_at_idle(as_built):
    state, said = check_of(as_built("power_log.xlsx"), "grinding lifts", **{**GOOD, "out_rise": None})
    assert state == "ok" and said.startswith("a rise of ")
    assert check_of(as_built("power_log.xlsx"), "grinding lifts", **{**GOOD, "out_rise": 4.0, "out_parts_read": 0})[0] == "ok"
    assert check_of(as_built("power_log.xlsx"), "grinding lifts", **{**GOOD, "out_rise": 4.0, "out_parts_read": 1})[0] == "look"


@pytest.mark.parametrize(
    "lengths, spread",
    [
        ([], 0),
        ([30, 60], 0),  # of two nothing can be said
        ([30, 40, 60], 30 / 2 / 40),
        ([10, 60, 70, 80, 90, 100, 200], (100 - 60) / 2 / 80),  # one of seven
        (list(range(101, 114)), (111 - 103) / 2 / 107),  # two of thirteen
    ],
)
def test_the_spread_of_the_infeed_leaves_a_sixth_of_the_parts_aside_at_each_end(lengths, spread, as_built):
    cells = {("Parts", PARTS, "high", number): float(rows) for number, rows in enumerate(lengths, 1)}
    assert computed(as_built, "Levels", None, "spread", 1, cells) == pytest.approx(spread)


@pytest.mark.parametrize("at_highest, state", [(0, "ok"), (1, "look"), (2, "look")])
def test_one_part_at_the_highest_value_of_the_log_is_worth_a_look(at_highest, state, as_built):
    words = ["part", "clipped: the meter ends there", "part"] + ["at the highest value of the log"] * at_highest
    assert check_of(as_built("power_log.xlsx"), "parts at the highest value", words, **GOOD)[0] == state


@pytest.mark.parametrize("differ, error", [([], 0.3), ([0.4], 0.5), ([0.2, 0.4, 0.9], 0.5)])
def test_the_error_is_that_of_the_halves_and_of_idle_on_both_sides(differ, error, as_built):
    """Two standard deviations, each from the median of a difference: 1.4826 times half of it, 3 to 4 as in a triangle of 3, 4, 5."""
    cells = {("Parts", PARTS, "halves", number): 0.3 / 1.4826 for number in (1, 2, 3)}
    cells |= {("Parts", PARTS, "differ", number): value / 1.4826 for number, value in enumerate(differ, 1)}
    assert computed(as_built, "Levels", None, "error", 1, cells, in_meter_step=None) == pytest.approx(error)
