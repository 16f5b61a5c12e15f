"""What may be typed into the cells of the workbooks, and what a slip is told: at the cell, in the checks, and by a stop."""

from __future__ import annotations

import math
import re

import pytest
from engines import cells_of, ironcalc_values
from open_book import OpenBook
from openpyxl.utils.cell import coordinate_to_tuple
from test_templates import cached_values, cells_by_name, column, differences, saved

from gritfuncs.quantities import QUANTITIES
from gritfuncs.sheets.styles import quantity_format
from gritfuncs.workbooks.templates import TEMPLATES
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.tables import CALCULATION

WITH_GRITS = ("trial", "speed table", "plunge cycle")


def place(workbook, name):
    """Sheet and address of a named cell."""
    ((sheet, area),) = workbook.defined_names[name].destinations
    return sheet, area.replace("$", "")


def rules(workbook, name):
    sheet, address = place(workbook, name)
    return [rule for rule in workbook[sheet].data_validations.dataValidation if address in rule.sqref]


@pytest.fixture(scope="module")
def books(as_built):
    return {name: (book := as_built(f"{name.replace(' ', '_')}.xlsx"), OpenBook(book)) for name in WITH_GRITS}


def advice(book, label):
    """State and advice of a check, by its label."""
    rows = [row for row in range(5, 200) if book.at("Checks", f"B{row}") == label]
    assert rows, label
    return [(book.at("Checks", f"C{row}"), book.at("Checks", f"D{row}")) for row in rows]


def typed(books, name, **values):
    """The book with one value typed, and read; give it back to `restore` afterwards."""
    _, book = books[name]
    before = {key: book[f"in_{key}"] for key in values}
    book.fill(**values)
    book.read()
    return book, before


@pytest.mark.parametrize("name", WITH_GRITS)
def test_a_designation_can_be_typed_where_one_is_meant(books, name):
    workbook, _ = books[name]
    ((rule,)) = rules(workbook, "in_grit_size")
    assert rule.type is None and not rule.showErrorMessage and "designation" in rule.prompt + rule.promptTitle
    ((rule,)) = rules(workbook, "in_wheel_diameter")
    assert (rule.type, rule.operator, rule.formula1, bool(rule.showErrorMessage)) == ("decimal", "greaterThan", "0", True)


@pytest.mark.parametrize("name", WITH_GRITS)
def test_the_list_of_sides_takes_what_its_help_says(books, name):
    workbook, _ = books[name]
    ((rule,)) = rules(workbook, "in_side")
    assert rule.formula1 in ('"external,flat,internal"', '"external,internal"')
    assert not re.search(r"[-+]?[01]", rule.prompt)


@pytest.mark.parametrize("name", TEMPLATES)
def test_rules_of_cells_are_formulas_without_an_equals_sign(name, as_built):
    """The file format writes them without one: with it some programs see two."""
    found = [rule for sheet in as_built(name) for rule in sheet.data_validations.dataValidation]
    written = [text for rule in found for text in (rule.formula1, rule.formula2) if text]
    assert (len(written) > 0) == (name != "functions.xlsx")
    assert [text for text in written if text.startswith("=")] == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_list_to_choose_from_is_a_text_in_quotes_or_a_name(name, as_built):
    """Words without quotes are names that no cell has: nothing is offered, or the file is called damaged."""
    book = as_built(name)
    lists = [rule.formula1 for sheet in book for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert [text for text in lists if not re.fullmatch('"[^"]+"', text) and text not in book.defined_names] == []


SLIPS = [
    ("0,9", "! not a number. ", "STOP", "is a text: type a number without unit or space; decimal sign of this computer: ."),
    ("0.9 mm/min", "! not a number. ", "STOP", "without unit or space"),
    (True, "! not allowed. ", "STOP", "must be > 0"),
    (None, "! fill in. ", "STOP", "must be > 0"),
    (0, "! not allowed. ", "STOP", "must be > 0"),
    (-1, "! not allowed. ", "STOP", "must be > 0"),
    (90, "! usually 0.01 to 10 mm/min: look again. ", "ok", ""),
    (0.001, "! usually 0.01 to 10 mm/min: look again. ", "ok", ""),
    (20000, "! not allowed. ", "STOP", "There is none above 1000 mm/min."),
    (0.9, "", "ok", ""),
    (10, "", "ok", ""),
]


@pytest.mark.parametrize("value, at_cell, state, told", SLIPS)
def test_a_slip_is_named_at_the_cell_and_in_the_checks(books, value, at_cell, state, told):
    workbook, _ = books["trial"]
    book, before = typed(books, "trial", infeed_rate=value)
    sheet, address = place(workbook, "in_infeed_rate")
    beside = book.at(sheet, f"F{coordinate_to_tuple(address)[0]}")
    label = "infeed rate, at nominal work rpm"
    ((stop, words),) = advice(book, label)
    ((look, _),) = advice(book, f"{label}: usually 0.01 to 10 mm/min")
    master, ready = book["out_check"], book["out_ready"]
    typed(books, "trial", **before)
    assert beside.startswith(at_cell) and (at_cell or beside.startswith("As the machine"))
    assert stop == state and told in words
    assert look == ("look" if "usually" in at_cell else "ok")
    assert (label in master) == bool(at_cell) and ready == (state == "ok")


def test_what_is_usual_is_told_in_the_units_chosen(books):
    """So that a switch of units alone is seen: 0.6 mm/min becomes 0.6 in/min."""
    workbook, _ = books["trial"]
    sheet, address = place(workbook, "in_infeed_rate")
    book, before = typed(books, "trial", units="inch", infeed_rate=0.6)
    beside = book.at(sheet, f"F{coordinate_to_tuple(address)[0]}")
    typed(books, "trial", **before)
    low, high = (float(f"{end / 25.4:.3g}") for end in QUANTITIES["infeed_rate"].usual)
    assert beside.startswith(f"! usually {low:g} to {high:g} in/min: look again. ")


@pytest.mark.parametrize(
    "name, values, label",
    [
        ("trial", dict(wheel_speed=1500.0, marked_wheel_speed=2100.0), "wheel speed"),
        ("speed table", dict(units="inch", wheel_diameter=350.0), "wheel diameter"),
        ("plunge cycle", dict(wheel_diameter=4000.0), "wheel diameter"),
        ("trial", dict(grit_size=126000.0), "grit size"),
    ],
)
def test_what_there_is_not_stops_in_every_unit(books, name, values, label):
    book, before = typed(books, name, **values)
    master, ready = book["out_check"], book["out_ready"]
    typed(books, name, **before)
    assert master.startswith("STOP") and label in master and ready == 0


@pytest.mark.parametrize(
    "quantity, value",
    [("wheel_diameter", 8.0), ("shape_ratio", 40.0), ("wheel_speed", 5.0), ("grit_size", 2.0), ("active_fraction", 0.01)],
)
def test_what_is_unusual_is_looked_at_and_blocks_nothing(books, quantity, value):
    book, before = typed(books, "trial", **{quantity: value})
    master, ready, looks = book["out_check"], book["out_ready"], book["out_looks"]
    typed(books, "trial", **before)
    assert ready == 1 and looks >= 1 and "usually" in master


def test_true_is_not_one_in_any_engine(tmp_path, libreoffice):
    """To LibreOffice TRUE is a number; Excel, and a file that is read by Python, know better."""
    path = saved(
        trial.build,
        dict(shape_ratio=True, side=True, grit_size=True, readings=[(True, 2.0), (120.0, True), (120.0, 2.0, True)]),
        tmp_path,
    )
    assert differences(path, libreoffice.recalc(path)) == []
    seen = cells_by_name(path, ironcalc_values(path))
    assert seen["out_check"].startswith("STOP") and seen["out_ready"] == 0
    assert str(seen["out_side"]).startswith("#") and str(seen["out_grit_size"]).startswith("#")
    assert column(cached_values(path), CALCULATION, "status")[:3] == [
        f"left out: {name} is not a number" for name in ("rpm", "load", "idle")
    ]


def test_the_key_of_the_record_is_offered(as_built):
    ((rule,)) = [rule for rule in rules(as_built("knee_record.xlsx"), "in_lookup_key")]
    assert (rule.type, rule.formula1) == ("list", "in_record_key")


def test_a_small_result_is_not_shown_as_zero(as_built):
    """As Excel's grammar of number formats has it: a condition in brackets, then what holds otherwise."""
    assert quantity_format(QUANTITIES["work_rpm"]) == "[<0.05]General;0.0"
    assert quantity_format(QUANTITIES["wheel_rpm"]) == "0" and quantity_format(QUANTITIES["side"]) == "0"
    workbook = as_built("trial.xlsx")
    sheet, address = place(workbook, "out_target_rpm")
    assert workbook[sheet][address].number_format == "[<0.05]General;0.0"


@pytest.mark.parametrize("off, stops", [(0.0099, False), (0.0101, True), (-0.0099, False), (-0.0101, True)])
def test_wheel_speed_and_wheel_rpm_may_differ_by_a_percent(books, off, stops):
    _, book = books["trial"]
    speed, diameter = book["in_wheel_speed"], book["in_wheel_diameter"]
    rpm = speed * (1 + off) * 60000 / (math.pi * diameter)
    book, before = typed(books, "trial", wheel_rpm=rpm)
    master = book["out_check"]
    typed(books, "trial", **before)
    assert ("agree within 1 %" in master) == stops


@pytest.mark.parametrize("name", TEMPLATES)
def test_formulas_keep_to_what_excel_takes(name, as_built):
    """8192 signs, 64 functions within each other, 255 signs of text (Microsoft, Excel specifications and limits; recalled)."""
    formulas = [cell.value for cell in cells_of(*as_built(name)) if cell.data_type == "f"]
    assert len(formulas) > 10 and max(map(len, formulas)) <= 8192
    texts = [text for formula in formulas for text in re.findall(r'"((?:[^"]|"")*)"', formula)]
    assert max(map(len, texts)) <= 255
    for formula in formulas:
        depth = 0
        for sign in re.sub(r'"(?:[^"]|"")*"', "", formula):
            depth += (sign == "(") - (sign == ")")
            assert 0 <= depth <= 64, formula
        assert depth == 0, formula
