"""speed_table.xlsx: every block against the library, the wear table from new to worn, limits just reached, and safety.

What is expected comes from the inputs, by the library's formulas or by hand, never from another cell of the sheet.
"""

from __future__ import annotations

import math
import random
import re

import pytest
from engines import ENGINES, cells_of, same
from open_book import OpenBook
from openpyxl.formula.translate import Translator
from openpyxl.utils.cell import absolute_coordinate, get_column_letter, range_boundaries
from openpyxl.workbook.defined_name import DefinedName
from test_templates import cells_by_name, saved

import gritfuncs as gf
from gritfuncs.planning import LIMIT_WORDS, LOWER_BOUNDS
from gritfuncs.sheets.book import Book
from gritfuncs.workbooks.blocks.wheel import mean_size, tables_page
from gritfuncs.workbooks.plunge_cycle import build as plunge_cycle
from gritfuncs.workbooks.speed_table import build as speed_table
from gritfuncs.workbooks.speed_table.grid import COLUMNS, ROWS

DEFAULTS = speed_table.defaults()
DENSITY = gf.grit_density(gf.mean_grit_size(DEFAULTS["grit_size"]), DEFAULTS["concentration"], DEFAULTS["active_fraction"])
SIDES = {"external": 1, "flat": 0, "internal": -1}
BASES = {"radius": 1.0, "diameter": 0.5}
NO_LIMITS = dict.fromkeys(name for name, _, _ in LIMIT_WORDS)


@pytest.fixture(scope="module")
def book():
    return OpenBook(speed_table.build())


def computed(book, **values):
    """The book with the example's inputs but for these."""
    given = {**DEFAULTS, **values}
    given.pop("records")
    given.pop("today")
    book.fill(**{name: value for name, value in given.items() if f"in_{name}" in book.names()})
    book.fill(**{name: None for name in ("wheel_rpm", "grit_density", "highest_wheel_rpm") if name not in values})
    book.read()
    return book


def filled(book, name, rows, columns):
    """The cells of a block that belong to what is filled in; all others must hold nothing."""
    block = book[f"out_{name}"]
    inside = [row[:columns] for row in block[:rows]]
    assert sum(cell is not None for row in block for cell in row) == sum(cell is not None for row in inside for cell in row)
    return inside


@pytest.mark.parametrize("basis", BASES)
def test_cutting_time_is_stock_over_infeed(book, basis):
    """60 s/min times 0.15 mm over the infeed rate on the radius."""
    computed(book, infeed_basis=basis, infeed_rates=[0.3, 0.9], diameters=[20.0, 40.0], stock=0.15)
    per_row = {"radius": [30.0, 10.0], "diameter": [60.0, 20.0]}[basis]
    assert filled(book, "time_table", 2, 2) == [pytest.approx(per_row, rel=1e-12)] * 2


def test_without_stock_the_time_is_not_known_and_without_a_setup_there_is_none(book):
    computed(book, stock=None, infeed_rates=[0.3], diameters=[20.0])
    assert filled(book, "time_table", 1, 1) == [["not known"]]
    computed(book, infeed_rates=[0.3], diameters=[30.0], side="internal")
    assert filled(book, "time_table", 1, 1) == [["-"]]


WHEELS = {
    "worn to 150": dict(wheel_diameter=200.0, smallest_wheel_diameter=150.0),
    "not worn": dict(wheel_diameter=180.0, smallest_wheel_diameter=180.0),
    "in a bore": dict(
        side="internal",
        wheel_diameter=60.0,
        smallest_wheel_diameter=30.0,
        reference_diameter=45.0,
        reference_infeed_rate=0.2,
        lowest_work_rpm=None,
    ),
    "slow where the wheel turns at constant rpm": dict(lowest_speed_ratio=180.0, reference_infeed_rate=0.5),
    "a speed ratio that holds at constant wheel speed": dict(smallest_wheel_diameter=100.0, lowest_speed_ratio=200.0),
    "an infeed beyond the limits": dict(reference_infeed_rate=2.2, highest_removal_rate=2.0),
    "a spindle too weak": dict(reference_infeed_rate=1.9),
    "by wheel rpm, with limits": dict(
        wheel_speed=None, wheel_rpm=2000.0, lowest_work_rpm=80.0, highest_work_rpm=100.0, highest_wheel_rpm=2400.0
    ),
}


@pytest.mark.parametrize("case", WHEELS)
def test_wear_table_goes_from_the_wheel_to_the_worn_wheel(book, case):
    values = {**DEFAULTS, **WHEELS[case]}
    computed(book, **WHEELS[case])
    speed = values["wheel_speed"] or gf.wheel_speed(values["wheel_diameter"], values["wheel_rpm"])
    new, worn, side = values["wheel_diameter"], values["smallest_wheel_diameter"], SIDES[values["side"]]
    limits = gf.Limits(**{name: values[name] for name, _, _ in LIMIT_WORDS})
    removal_rate = gf.removal_rate(values["reference_diameter"], values["reference_infeed_rate"])
    power = values["specific_energy"] * removal_rate * values["contact_width"] / 1000 + values["idle_power"]

    def expected(place):
        diameter = new + (worn - new) * place / 10
        slower, wheel_rpm = speed * diameter / new, gf.wheel_rpm(diameter, speed)
        row = [diameter, slower]
        for at, turns in ((slower, None), (speed, wheel_rpm)):
            if side < 0 and diameter >= values["reference_diameter"]:
                row += ["-", "wheel too large"]
                continue
            rpm = gf.work_rpm_for(
                values["target_depth"],
                values["reference_diameter"],
                values["reference_infeed_rate"],
                at,
                diameter,
                side,
                DENSITY,
                values["shape_ratio"],
            )
            work_speed = gf.work_speed(values["reference_diameter"], rpm)
            judged = dict(
                work_rpm=rpm,
                infeed_rate=values["reference_infeed_rate"],
                speed_ratio=gf.speed_ratio(at, work_speed),
                removal_rate=removal_rate,
                power=power,
            )
            broken = gf.planning.broken_limits(judged, limits)
            if turns and values.get("highest_wheel_rpm") and turns > values["highest_wheel_rpm"]:
                broken = ("wheel rpm too high",)
            row += [rpm, broken[0] if broken else "ok"]
        return row[:4] + [wheel_rpm] + row[4:]

    names = "diameters wheel_speed rpm_at_wheel_rpm word_at_wheel_rpm wheel_rpm rpm_at_wheel_speed word_at_wheel_speed".split()
    columns = [[cell for (cell,) in book[f"out_wear_{name}"]] for name in names]
    assert {len(column) for column in columns} == {11}
    shown = [list(row) for row in zip(*columns)]
    assert shown[0][0] == new and shown[-1][0] == pytest.approx(worn, rel=1e-12)
    assert [
        (row, wanted)
        for row, wanted in zip(shown, map(expected, range(11)))
        if not all(same(one, other) for one, other in zip(row, wanted)) or len(row) != len(wanted)
    ] == []


def test_words_of_the_wear_table_are_all_driven(book):
    """The cases above see every word that the table has."""
    seen = set()
    for values in WHEELS.values():
        computed(book, **values)
        seen |= {word for name in ("wheel_rpm", "wheel_speed") for (word,) in book[f"out_wear_word_at_{name}"]}
    assert seen >= {
        "ok",
        "wheel too large",
        "wheel rpm too high",
        "rpm too high",
        "rpm too low",
        "ratio too low",
        "power too high",
    }


def test_a_wheel_that_turns_too_fast_when_worn_is_to_be_looked_at(book):
    fits = computed(book, highest_wheel_rpm=gf.wheel_rpm(150.0, 22.0) + 1, **NO_LIMITS)
    assert "a worn wheel leaves the limits" not in fits["out_check"]
    assert {word for (word,) in fits["out_wear_word_at_wheel_speed"]} == {"ok"}
    fast = computed(book, highest_wheel_rpm=gf.wheel_rpm(150.0, 22.0) - 1, **NO_LIMITS)
    assert "a worn wheel leaves the limits" in fast["out_check"]
    assert [word for (word,) in fast["out_wear_word_at_wheel_speed"]] == ["ok"] * 10 + ["wheel rpm too high"]


@pytest.mark.parametrize("off, said", [(-1.1, True), (-0.9, False), (0.0, False), (0.9, False), (1.1, True)])
def test_the_target_of_the_record_holds_for_its_product_of_density_and_ratio(book, off, said):
    _, record = DEFAULTS["records"]
    density, ratio = record[13], record[14]
    computed(
        book,
        target_depth=None,
        lookup_key=record[0],
        grit_density=density * (1 + off / 100) * 2,
        shape_ratio=ratio / 2,
        **NO_LIMITS,
    )
    assert ("C r differs" in book["out_check"]) == said


SETUP = dict(diameters=[20.0], infeed_rates=[0.6], smallest_wheel_diameter=None)


def values_of_one_setup():
    """What one setup of the example is limited by, by the library."""
    cell = gf.speed_table(
        grit_depth=DEFAULTS["target_depth"],
        work_diameters=[20.0],
        infeed_rates=[0.6],
        grit_density=DENSITY,
        side=1,
        **{
            name: DEFAULTS[name]
            for name in (
                "wheel_speed",
                "marked_wheel_speed",
                "wheel_diameter",
                "shape_ratio",
                "specific_energy",
                "contact_width",
                "idle_power",
            )
        },
    ).rows[0][0]
    return {quantity: getattr(cell, quantity) for _, quantity, _ in LIMIT_WORDS}


@pytest.mark.parametrize("limit, quantity, word", LIMIT_WORDS)
def test_each_limit_is_kept_where_it_is_reached_and_named_beyond(book, limit, quantity, word):
    value, outwards = values_of_one_setup()[quantity], 1 if limit.startswith("highest") else -1
    for beyond, wanted in ((-1e-6, "ok"), (0.0, "ok"), (5e-13, "ok"), (1e-6, word)):
        computed(book, **SETUP, **{**NO_LIMITS, limit: value * (1 - outwards * beyond)})
        assert filled(book, "limit_table", 1, 1) == [[wanted]], beyond
        assert (book["out_stops"], book["out_looks"]) == (0, 1 + (wanted != "ok"))  # one asks for the wear table


@pytest.mark.parametrize("limit", LOWER_BOUNDS)
def test_the_fastest_setup_is_none_where_a_lower_bound_excludes_it_and_this_is_named(book, limit):
    """The specific removal rate allows less than the infeed of one setup, the other limit more."""
    values = values_of_one_setup()
    quantity = next(quantity for name, quantity, _ in LIMIT_WORDS if name == limit)
    least = values[quantity] * (0.99 if limit.startswith("highest") else 1.01)
    for most, allowed in ((0.98, False), (1.05, True)):
        computed(book, **SETUP, **{**NO_LIMITS, limit: least, "highest_removal_rate": most * values["removal_rate"]})
        infeed, binds = book["out_fastest_infeed"][0][0], book["out_fastest_binds"][0][0]
        if allowed:
            assert infeed == pytest.approx(0.6 * most) and binds == "highest removal rate"
        else:
            assert infeed == "no setup" and binds == f"highest removal rate excludes {limit.replace('_', ' ')}"


@pytest.mark.parametrize("limits", [{}, dict(lowest_infeed_rate=0.1), dict(highest_work_rpm=400.0)])
def test_there_is_no_fastest_setup_where_nothing_bounds_it_from_above(book, limits):
    computed(book, **SETUP, **{**NO_LIMITS, **limits})
    assert (book["out_fastest_infeed"][0][0], book["out_fastest_binds"][0][0]) == ("no limit", "give a limit on Inputs")


def test_there_is_no_fastest_setup_where_idle_alone_takes_the_power(book):
    for most in (DEFAULTS["idle_power"], 0.9 * DEFAULTS["idle_power"]):
        computed(book, **SETUP, **{**NO_LIMITS, "highest_power": most})
        assert book["out_fastest_infeed"][0][0] == "no setup"
        assert book["out_fastest_binds"][0][0] == "highest power leaves nothing to grind with"
        bounds = [book.at("Fastest", f"{letter}{row}") for letter in "BCDEFGHI" for row in range(8, 12)]
        assert all(bound >= 0 for bound in bounds if isinstance(bound, float)) and 0 in bounds


@pytest.mark.parametrize("units, basis, factor", [("inch", "radius", 25.4), ("inch", "diameter", 12.7), ("mm", "diameter", 0.5)])
def test_the_fastest_infeed_is_shown_as_the_machine_shows_it(book, units, basis, factor):
    wheel = dict(wheel_diameter=8.0, wheel_speed=4330.0, marked_wheel_speed=6900.0) if units == "inch" else {}
    limits = {**NO_LIMITS, "highest_infeed_rate": 0.02}
    computed(book, **{**SETUP, "diameters": [0.8]}, **limits, **wheel, units=units, infeed_basis=basis)
    assert book["out_fastest_infeed_shown"][0][0] == pytest.approx(book["out_fastest_infeed"][0][0] / factor)


def test_all_limits_reached_at_once_are_kept_by_every_engine(tmp_path, compute):
    """But for the last digits of computing, in which engines differ."""
    values = values_of_one_setup()
    reached = {limit: values[quantity] for limit, quantity, _ in LIMIT_WORDS}
    path = saved(speed_table.build, dict(SETUP, **reached), tmp_path)
    for engine in ENGINES:
        seen = cells_by_name(path, compute[engine](path))
        assert seen["out_limit_table"][0][0] == "ok", engine
        assert same(seen["out_fastest_infeed"][0][0], 0.6), engine


DESIGNATIONS = {
    "D91": 82.5,
    "b91": 82.5,
    " 170/200 ": 82.5,
    "D126": 115.5,
    "D*": None,
    "D1?6": None,
    "*": None,
    "?126": None,
    "D12": None,
    "D126x": None,
    "~D126": None,
    "D127": None,
    "": None,
    "=D126": None,
}


@pytest.mark.parametrize("engine", ENGINES)
def test_a_grit_size_is_looked_up_exactly(engine, tmp_path, compute):
    """Signs that stand for any others in a search stand for themselves; the sizes are the means of the two apertures by hand."""
    book = Book("designations")
    tables_page(book)
    book.workbook["Grit sizes"]["A2"] = book.workbook["Grit sizes"]["A3"] = None  # title and master line, which stand elsewhere
    sheet = book.workbook.create_sheet("Tried")
    for row, designation in enumerate(DESIGNATIONS, start=1):
        sheet.cell(row, 1, designation).data_type = "s"
        sheet.cell(row, 2, f"={mean_size(f'A{row}')}")
    book.workbook.save(tmp_path / "book.xlsx")
    found = compute[engine](tmp_path / "book.xlsx")["Tried"]
    seen = {designation: found.get(f"B{row}") for row, designation in enumerate(DESIGNATIONS, start=1)}
    assert {designation: None if str(value).startswith("#") else value for designation, value in seen.items()} == DESIGNATIONS


@pytest.mark.parametrize("build", [speed_table.build, plunge_cycle.build])
def test_no_formula_cell_is_formatted_as_text(build):
    """Where a formula in such a cell is edited, a spreadsheet program keeps its text and computes it no more."""
    formulas = [cell for cell in cells_of(*build()) if cell.data_type == "f"]
    assert len(formulas) > 100
    assert [f"{cell.parent.title}!{cell.coordinate}" for cell in formulas if cell.number_format == "@"] == []


@pytest.mark.parametrize("build", [speed_table.build, plunge_cycle.build])
def test_no_formula_writes_a_number_with_decimals(build):
    """TEXT(x, "0.0") means another number where the comma is the decimal sign."""
    formulas = [str(cell.value) for cell in cells_of(*build()) if cell.data_type == "f"]
    assert [text for text in formulas if re.search(r'\bTEXT\([^"]*"(?!0")', text)] == []


def test_every_rpm_that_breaks_a_limit_carries_its_mark():
    """The rules of the conditional formats, typed as formulas beside their cells: also where only an edge of the band is beyond."""
    tight = dict(
        highest_work_rpm=90.0,
        lowest_work_rpm=36.0,
        highest_infeed_rate=1.0,
        diameters=[20.0, 31.0],
        infeed_rates=[0.6, 0.7, 1.2, 1.9],
    )
    workbook = speed_table.build({**NO_LIMITS, **tight})
    away = 20  # columns
    details = workbook["Details"]
    shown = {}  # the blocks of the sheet that carry marks, in the order of their names
    for area in details.conditional_formatting:
        rule, first = area.rules[0], str(area.sqref).partition(":")[0]
        if not rule.formula[0].startswith(("IF(ISNUMBER(B", "IF(ISERROR(B")):
            continue  # the line of the state
        assert rule.dxf.fill.bgColor.rgb == "FFFFC000"  # grey on a grey print
        shown[("rpm_table", "rpm_low_table", "rpm_high_table", "limit_table")[len(shown)]] = str(area.sqref)
        for row in details[str(area.sqref)]:
            for cell in row:
                moved = Translator("=" + rule.formula[0], first).translate_formula(cell.coordinate)
                details.cell(cell.row, cell.column + away, moved)
    assert len(shown) == 4
    for name, area in shown.items():
        left, top, right, bottom = range_boundaries(area)
        marks = f"{get_column_letter(left + away)}{top}:{get_column_letter(right + away)}{bottom}"
        workbook.defined_names.add(DefinedName(f"marks_{name}", attr_text=f"'Details'!{absolute_coordinate(marks)}"))
    book = OpenBook(workbook)
    book.read()
    words = [row[:4] for row in book["out_limit_table"][:2]]
    assert {word for row in words for word in row} == {"ok", "rpm too high", "rpm too low", "infeed too high"}
    assert [[word not in ("ok", None) for word in row] for row in book["out_limit_table"]] == book["marks_limit_table"]
    for name in ("rpm_table", "rpm_low_table", "rpm_high_table"):
        for row, (shown, marks) in enumerate(zip(book[f"out_{name}"], book[f"marks_{name}"])):
            for column, (rpm, mark) in enumerate(zip(shown, marks)):
                beyond = isinstance(rpm, float) and (words[row][column] != "ok" or not 36.0 <= rpm <= 90.0)
                assert mark == beyond, (name, row, column)
    assert any(
        words[row][column] == "ok" and book["out_rpm_high_table"][row][column] > 90.0 for row in (0, 1) for column in range(4)
    )


def test_a_worn_wheel_that_breaks_a_limit_is_filled_on_a_grey_print():
    workbook = speed_table.build({**NO_LIMITS, "lowest_work_rpm": 60.0, "highest_wheel_rpm": 2300.0})
    wear = workbook["Wheel wear"]
    areas = {str(area.sqref): area.rules[0] for area in wear.conditional_formatting if "$2" not in area.rules[0].formula[0]}
    assert list(areas) == ["D9:E19", "F9:H19"] and {rule.dxf.fill.bgColor.rgb for rule in areas.values()} == {"FFFFC000"}
    for row in range(9, 20):
        for letter, rule in zip("JK", areas.values()):
            wear[f"{letter}{row}"] = Translator("=" + rule.formula[0], f"{letter}9").translate_formula(f"{letter}{row}")
    book = OpenBook(workbook)
    book.read()
    for letter, words in (("J", "wear_word_at_wheel_rpm"), ("K", "wear_word_at_wheel_speed")):
        said = [word for (word,) in book[f"out_{words}"]]
        assert [book.at("Wheel wear", f"{letter}{row}") for row in range(9, 20)] == [word != "ok" for word in said]
        assert len(set(said)) == 2


@pytest.mark.parametrize(
    "values, said",
    [
        (dict(diameters=[8.0, 600.0]), "part diameters: usually 1 to 500 mm"),
        (dict(diameters=[None, 0.5]), "part diameters: usually 1 to 500 mm"),
        (dict(diameters=[1.0, 500.0]), ""),
        (dict(infeed_rates=[0.6, 90.0]), "infeed rates: usually 0.01 to 10 mm/min"),
        (dict(infeed_rates=[15.0], infeed_basis="diameter"), ""),
        (dict(infeed_rates=[0.015], infeed_basis="diameter"), "infeed rates: usually 0.01 to 10 mm/min"),
    ],
)
def test_an_unusual_axis_is_named_beside_it_and_among_the_checks(book, values, said):
    computed(book, **{"smallest_wheel_diameter": 200.0, **NO_LIMITS, **values})
    assert book["out_stops"] == 0
    looks = [book.at("Checks", f"B{row}") for row in range(1, 120) if book.at("Checks", f"C{row}") == "look"]
    assert [look for look in looks if "diameters" in look or "infeed rates" in look] == ([said] if said else [])
    beside = book.at("Speed table", "B10") or ""
    assert beside == (f"! {said.partition(': ')[2]}: look again. ({said.partition(':')[0]})" if said else "")


def test_an_axis_in_inches_is_judged_in_millimetres(book):
    given = {name: None for name in ("specific_energy", "contact_width", "idle_power", "stock")}
    inches = dict(units="inch", wheel_diameter=8.0, wheel_speed=4330.0, marked_wheel_speed=6900.0, smallest_wheel_diameter=8.0)
    computed(
        book,
        **{**given, **NO_LIMITS, **inches},
        reference_diameter=0.8,
        reference_infeed_rate=0.02,
        diameters=[0.3, 350.0],
        infeed_rates=[0.02],
    )
    assert book["out_stops"] == 0 and book.at("Speed table", "B10") == "! usually 0.0394 to 19.7 in: look again. (part diameters)"
    computed(
        book,
        **{**given, **NO_LIMITS, **inches},
        reference_diameter=0.8,
        reference_infeed_rate=0.02,
        diameters=[0.3, 19.0],
        infeed_rates=[0.02],
    )
    assert not book.at("Speed table", "B10")
    computed(
        book,
        **{**given, **NO_LIMITS, **inches},
        reference_diameter=0.8,
        reference_infeed_rate=0.02,
        diameters=[3500.0],
        infeed_rates=[0.02],
    )
    assert book["out_check"].startswith("STOP") and "part diameters" in book["out_check"]


def test_no_rpm_is_shown_as_zero():
    """The format of an rpm has a part for what one decimal would show as 0.0."""
    workbook = speed_table.build()
    areas = {name: next(iter(defined.destinations)) for name, defined in workbook.defined_names.items() if "rpm" in name}
    areas = {name: place for name, place in areas.items() if name.startswith("out_") and ":" in place[1] and "word" not in name}
    assert len(areas) == 7
    for name, (sheet, area) in areas.items():
        formats = {cell.number_format for row in workbook[sheet][area.replace("$", "")] for cell in row}
        assert formats == ({"0"} if name == "out_wear_wheel_rpm" else {"[<0.5]0.0E+0;0.0"})


def test_the_words_of_the_limits_are_shrunk_to_their_narrow_cells(as_built):
    sheet = as_built("speed_table.xlsx")["Details"]
    (head,) = [cell.row for cell in sheet["A"] if "is it within the limits" in str(cell.value)]
    assert max(len(words) for _, _, words in LIMIT_WORDS) > sheet.column_dimensions["B"].width
    assert all(cell.alignment.shrink_to_fit for row in sheet[f"B{head + 1}:F{head + 12}"] for cell in row)


def test_a_wheel_that_turns_too_fast_is_named_before_any_other_limit(book):
    """The highest rpm of spindle and wheel is a matter of safety."""
    computed(book, **NO_LIMITS, highest_wheel_rpm=2200.0)
    limits = {**NO_LIMITS, "highest_work_rpm": 1.0}
    words = [word for (word,) in book["out_wear_word_at_wheel_speed"]]
    assert {"ok", "wheel rpm too high"} == set(words)
    computed(book, **limits, highest_wheel_rpm=2200.0)
    both = [word for (word,) in book["out_wear_word_at_wheel_speed"]]
    assert both == [word if word != "ok" else "rpm too high" for word in words]


@pytest.mark.parametrize("typed, side", [("external", 1), (" internal ", -1), ("flat ", 0), ("External", 1), ("inner", None)])
def test_a_side_is_known_with_spaces_about_it(book, typed, side):
    computed(book, diameters=[300.0], side=typed)
    assert book["out_side"] == side if side is not None else book["out_ready"] == 0


@pytest.mark.parametrize("quantity", ["work_rpm", "infeed_rate", "speed_ratio"])
def test_a_machine_may_have_one_value_only_and_no_lowest_above_the_highest(book, quantity):
    value = values_of_one_setup()[quantity]
    for lowest, ready in ((value, 1), (1.01 * value, 0)):
        computed(book, **SETUP, **{**NO_LIMITS, f"highest_{quantity}": value, f"lowest_{quantity}": lowest})
        assert book["out_ready"] == ready, book["out_check"]


# --- the page to pin up


def page(book, rows=ROWS, columns=COLUMNS):
    return [row[:columns] for row in book["out_page_table"][:rows]]


def test_the_page_to_pin_up_holds_all_setups_of_the_table(as_built):
    workbook = as_built("speed_table.xlsx")
    area, table = (next(workbook.defined_names[name].destinations) for name in ("out_page_table", "out_rpm_table"))
    shapes = {
        tuple(map(len, (cells, cells[0])))
        for cells in (workbook[sheet][cells.replace("$", "")] for sheet, cells in (area, table))
    }
    assert shapes == {(ROWS, COLUMNS)}
    assert area[1].replace("$", "") in [str(each.sqref) for each in workbook[area[0]].conditional_formatting]


def test_the_page_shows_the_rpm_that_may_be_set_and_words_for_all_others(book):
    tight = dict(
        highest_work_rpm=180.0,
        lowest_work_rpm=45.0,
        highest_infeed_rate=1.0,
        diameters=[20.0, 32.0],
        infeed_rates=[0.3, 0.6, 0.9, 1.2],
    )
    computed(book, **{**NO_LIMITS, **tight})
    words, rpm = filled(book, "limit_table", 2, 4), filled(book, "rpm_table", 2, 4)
    assert {word for row in words for word in row} == {"ok", "rpm too high", "rpm too low", "infeed too high"}
    for row in range(2):
        for column in range(4):
            seen = page(book)[row][column]
            assert seen == (rpm[row][column] if words[row][column] == "ok" else f"– {words[row][column].replace(' too', '')}")
    computed(book, side="internal", diameters=[150.0, 260.0], infeed_rates=[0.3], smallest_wheel_diameter=None)
    assert page(book, 2, 1)[0] == ["– wheel too large"] and page(book, 2, 1)[1][0] is not None


def test_the_page_carries_no_number_of_a_setup_that_breaks_a_limit_whatever_is_typed(book):
    for seed in range(25):
        draw = random.Random(seed)
        limits = {
            name: draw.choice((None, None, value))
            for name, value in dict(
                highest_work_rpm=150.0, lowest_work_rpm=60.0, highest_power=2.5, highest_speed_ratio=250.0
            ).items()
        }
        sizes = dict(
            diameters=[round(draw.uniform(5, 60), 1) for _ in range(3)],
            infeed_rates=[round(draw.uniform(0.1, 2), 2) for _ in range(3)],
        )
        computed(book, **{**NO_LIMITS, **limits, **sizes})
        for seen, words in zip(page(book, 3, 3), filled(book, "limit_table", 3, 3)):
            assert [isinstance(value, float) for value in seen] == [word == "ok" for word in words]


def test_a_stop_leaves_the_page_without_a_number_and_says_so_in_a_dark_bar(book):
    """40 m/s with a wheel marked 35 m/s; and inputs that lack anything else."""
    for values, said in (
        (dict(wheel_speed=40.0), "STOP: the wheel runs at 40.0 m/s, above the 35.0 m/s marked on it"),
        (dict(target_depth=None), "STOP: not fulfilled: target grit depth"),
        (dict(infeed_rates=[0.6, "fast"]), "STOP: not fulfilled: infeed rates"),
    ):
        computed(book, **values)
        assert book["out_state"].startswith(said) and book.at("Speed table", "A2") == book["out_state"]
        assert {value for row in page(book) for value in row} == {None}
        assert book.at("Speed table", "A4") == "STOP"
        details = [book.at("Details", f"{letter}{row}") for letter in "BCDEF" for row in range(8, 20)]
        assert set(details) == {None}
    bars = [rule.formula[0] for area in speed_table.build()["Speed table"].conditional_formatting for rule in area.rules]
    assert any('"STOP"' in formula and "$A$2" in formula for formula in bars)


@pytest.mark.parametrize(
    "values",
    [
        dict(),
        dict(diameters=[400.0], band=5.0),
        dict(side="flat", band=3.0),
        dict(side="internal", wheel_diameter=40.0, diameters=[50.0, 90.0], band=2.0, smallest_wheel_diameter=30.0),
        dict(side="internal", wheel_diameter=12.0, diameters=[13.0], band=1.0, smallest_wheel_diameter=10.0),
        dict(wheel_diameter=350.0, wheel_speed=28.0, smallest_wheel_diameter=300.0),
    ],
)
def test_the_page_is_printed_again_before_the_depth_leaves_the_band(book, values):
    """At constant wheel rpm, infeed and work rpm the depth of every part at that wheel diameter is within the band."""
    computed(book, **{**NO_LIMITS, "reference_infeed_rate": None, "reference_diameter": None, **values})
    given = {**DEFAULTS, **values}
    again, now, rpm = book["out_print_again_below"], given["wheel_diameter"], book["out_rpm_table"]
    assert 0.8 * now < again <= now
    for diameter, row in zip(given["diameters"], rpm):
        for rate, work_rpm in zip(given["infeed_rates"], row):
            depth = gf.plunge_grit_depth(
                work_rpm=work_rpm,
                work_diameter=diameter,
                infeed_rate=rate,
                wheel_speed=given["wheel_speed"] * again / now,
                wheel_diameter=again,
                side=SIDES[given["side"]],
                grit_density=DENSITY,
                shape_ratio=given["shape_ratio"],
            )
            assert given["target_depth"] * (1 - 1e-9) <= depth <= given["target_depth"] * (1 + given["band"] / 100) * (1 + 1e-9)


def test_the_page_says_what_it_is_for(book):
    texts = dict(wheel="resin 7", material="carbide", machine="grinder 4", who="M. K.", date=46000.0)
    computed(book, **texts)
    seen = {
        address: book.at("Speed table", address)
        for address in ("A5", "A7", "D4", "D5", "D6", "G4", "G5", "G6", "J4", "J6", "K1", "L1", "A23")
    }
    assert seen["A5"] == "±2 % of depth = rpm -7.8 to +8.2 %"  # 0.98⁴ and 1.02⁴
    assert "carbide" in seen["A7"] and "grinder 4" in seen["A7"] and seen["D5"] == "resin 7" and seen["D4"] == "200.0 mm"
    assert seen["D6"].startswith("at 2101 1/min: print again below 195.0 mm") and seen["G4"] == "22.0 m/s"  # 60000·22/(π·200)
    assert seen["G6"] == "marked on the wheel: 35.0 m/s" and seen["J4"] == "20 to 400 1/min" and "external" in seen["J6"]
    assert (seen["K1"], seen["L1"]) == (46000.0, "by M. K.") and seen["A23"].endswith("stop and tell M. K..")


@pytest.mark.parametrize(
    "limits, rpm, more",
    [
        (dict(), "no rpm limit", "no infeed limit"),
        (dict(lowest_work_rpm=20.4), "from 20 1/min", "no infeed limit"),
        (dict(highest_work_rpm=400.0, highest_infeed_rate=1.234), "up to 400 1/min", "infeed up to 1.23 mm/min on the radius"),
        (dict(lowest_infeed_rate=0.125), "no rpm limit", "infeed from 0.13 mm/min on the radius"),
        (
            dict(
                lowest_work_rpm=20.0, highest_work_rpm=400.0, lowest_infeed_rate=0.1, highest_infeed_rate=2.0, highest_power=7.5
            ),
            "20 to 400 1/min",
            "infeed 0.10 to 2.00 mm/min on the radius, power 7.5 kW",
        ),
    ],
)
def test_the_page_tells_the_limits_that_are_known(book, limits, rpm, more):
    computed(book, **{**NO_LIMITS, **limits})
    assert [book.at("Speed table", address) for address in ("J4", "J5")] == [rpm, more]


@pytest.mark.parametrize("diameter, step", [(8.0, 0.2), (4.0, 0.2), (3.9, 0.05), (0.8, 0.05), (0.79, 0.005), (0.3, 0.005)])
def test_a_wheel_in_inches_is_printed_again_from_a_round_diameter_on(book, diameter, step):
    """Rounded up from 0.98^(4/3) of it, and never above it."""
    given = dict(units="inch", wheel_speed=4330.0, marked_wheel_speed=6900.0, wheel_diameter=diameter, band=2.0)
    computed(book, **NO_LIMITS, **given, smallest_wheel_diameter=None, stock=None)
    exact, again = diameter / 1.02 ** (4 / 3), book["out_print_again_below"] / 25.4
    assert again == pytest.approx(min(diameter, math.ceil(exact / step - 1e-9) * step))


def test_in_a_bore_the_depth_grows_as_the_wheel_wears_alike_in_inches(book):
    """By the smallest part: 0.5 + 0.25 · 50/(50 - 40)."""
    sizes = dict(wheel_diameter=40.0, smallest_wheel_diameter=30.0, stock=None)
    inches = {name: value and value / 25.4 for name, value in sizes.items()}
    speeds = dict(units="inch", wheel_speed=4330.0, marked_wheel_speed=6900.0)
    for unit, given in ((1.0, sizes), (25.4, {**inches, **speeds})):
        computed(book, **NO_LIMITS, side="internal", diameters=[90.0 / unit, 50.0 / unit], infeed_rates=[0.6 / unit], **given)
        assert book["out_diameter_exponent"] == pytest.approx(1.75)


def test_the_page_in_inches_says_inches(book):
    inches = dict(
        units="inch", wheel_diameter=8.0, wheel_speed=4330.0, marked_wheel_speed=6900.0, smallest_wheel_diameter=8.0, stock=None
    )
    none = dict.fromkeys(("specific_energy", "contact_width", "idle_power", "reference_diameter", "reference_infeed_rate"))
    limits = dict(NO_LIMITS, highest_work_rpm=250.0, highest_infeed_rate=0.08)
    computed(book, **{**limits, **none, **inches}, diameters=[0.8], infeed_rates=[0.024])
    assert book["out_stops"] == 0, book["out_check"]
    seen = [book.at("Speed table", address) for address in ("A10", "B8", "D4", "G4", "G6", "J5", "A2")]
    assert seen[0] == "▼  part diameter, in" and "in/min, on the radius" in seen[1] and seen[2] == "8.000 in"
    assert (
        seen[3:5] == ["4330 ft/min", "marked on the wheel: 6900 ft/min"] and seen[5] == "infeed up to 0.0800 in/min on the radius"
    )
    assert seen[6].startswith("Wheel 4330 ft/min; highest speed marked on it 6900 ft/min")
    heads = [book.at("Details", f"A{row}") for row in range(7, 140)]
    shown = {head.partition(";")[0] for head in heads if isinstance(head, str)}
    assert (
        "work speed, ft/min" in shown
        and "specific removal rate, in³/(in·min)" in shown
        and "spindle power, idle included, hp" in shown
    )


def test_only_the_page_prints_on_one_sheet_and_every_sheet_repeats_its_head():
    workbook = speed_table.build()
    sheet = workbook["Speed table"]
    assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == ("landscape", 1, 1)
    assert sheet.oddFooter.right.text == "valid until the wheel, the part or the infeed changes"
    for other in workbook:
        assert other.page_setup.fitToHeight == 1 or other.print_title_rows, other.title
