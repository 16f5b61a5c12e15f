"""Text from a user or a file stays text: no cell, name or answer that is written here computes what somebody typed."""

from __future__ import annotations

import csv
import datetime
import functools
import io
import itertools
import re
from xml.etree import ElementTree

import pytest
from engines import cells_of
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.utils.escape import unescape
from share_books import stored
from xlw_call import Excel, cells

from gritfuncs import demo
from gritfuncs.addins import functions as cell_functions
from gritfuncs.addins.functions import BLOCK, FAILED, FUNCTIONS
from gritfuncs.share.job import share
from gritfuncs.share.names import add_names, lambda_names
from gritfuncs.sheets.book import Book
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.formula_text import put_values
from gritfuncs.spreadsheets.package import read_package, sheet_parts
from gritfuncs.trial import read_trial
from gritfuncs.workbooks import functions, knee_record
from gritfuncs.workbooks.plunge_cycle import build as plunge_cycle
from gritfuncs.workbooks.power_log import build as power_log
from gritfuncs.workbooks.speed_table import build as speed_table
from gritfuncs.workbooks.templates import TEMPLATES
from gritfuncs.workbooks.trial import build as trial

LIVE = (
    "=1+1",
    '=HYPERLINK("http://127.0.0.1:9/","look")',
    "+1+1",
    "-1+1",
    "@SUM(1,1)",
    "=cmd|'/c echo'!A1",
    "#N/A",
    "\t=1+1",
    "=",
    "{=1+1}",
)
STARTS = "=+-@\t\r\n"  # what a spreadsheet, or what reads its text, may take for something to compute
FILLED = {
    "trial.xlsx": trial,
    "speed_table.xlsx": speed_table,
    "plunge_cycle.xlsx": plunge_cycle,
    "power_log.xlsx": power_log,
    "knee_record.xlsx": knee_record,
}
MORE = {  # what has no value in the example
    "trial.xlsx": dict(
        volts=1,
        power_factor=1,
        idle=1,
        noise=1,
        target_depth=1,
        contact_width=1,
        wheel_rpm=1,
        grit_density=1,
        specific_energy=1,
        readings=[(120, 2.0, 0.8, "yes", "note")],
        observations=[(1, 2, "no")],
        other_trials=[("title", [(1.0, 2.0)])],
    ),
    "speed_table.xlsx": dict(wheel_rpm=1, grit_density=1, stock=1),
    "plunge_cycle.xlsx": dict(wheel_rpm=1, grit_density=1),
    "power_log.xlsx": dict(times=[1.0] * 9, powers=[1.0] * 9, work_rpms=[1.0] * 9, leave_out=["no"] * 9, infeed_time=1),
    "knee_record.xlsx": {},
}


def replaced(value, texts):
    """The value with the next of the texts in every place of it."""
    return [replaced(item, texts) for item in value] if isinstance(value, (list, tuple)) else next(texts)


def hostile_values(name, *texts):
    """Values with the texts in turn in every place."""
    turn = itertools.cycle(texts)
    return {key: replaced(value, turn) for key, value in {**FILLED[name].defaults(), **MORE[name]}.items()}


def places(workbook, texts):
    """Where the texts stand, and the type of each cell."""
    return {
        (sheet.title, cell.coordinate): cell.data_type for sheet in workbook for cell in cells_of(sheet) if cell.value in texts
    }


@functools.cache
def formulas_of_the_example(name):
    return plain_formulas(FILLED[name].build())


def plain_formulas(workbook):
    return [str(cell.value) for cell in cells_of(*workbook) if cell.data_type == "f"]


def test_every_workbook_that_takes_values_is_tried():
    assert set(FILLED) | {"functions.xlsx"} == set(TEMPLATES)
    with pytest.raises(TypeError):
        functions.build({})


@pytest.mark.parametrize("name", FILLED)
def test_a_workbook_holds_what_it_was_given_as_text(name):
    workbook = FILLED[name].build(hostile_values(name, *LIVE))
    found = places(workbook, LIVE)
    assert len(found) > 20 and set(found.values()) == {"s"}
    assert {workbook[sheet][cell].value for sheet, cell in found} == set(LIVE)
    assert plain_formulas(workbook) == formulas_of_the_example(name)  # nothing given became part of a formula


@pytest.mark.parametrize("name", FILLED)
def test_the_file_shows_the_text_and_computes_nothing(name, libreoffice, tmp_path):
    text = "=1+1"
    workbook = FILLED[name].build(hostile_values(name, text))
    save_workbook(workbook, tmp_path / name)
    given = places(workbook, [text])
    shown, formulas = libreoffice.recalc(tmp_path / name), libreoffice.formulas(tmp_path / name)
    assert {shown[sheet][cell] for sheet, cell in given} == {text}
    assert not [
        place
        for place in given
        if place[1] in formulas.get(place[0], {}) and formulas[place[0]][place[1]] not in (text, "'" + text)
    ]
    again = load_workbook(tmp_path / name)
    for sheet, cell in given:
        assert again[sheet][cell].data_type == "s" and again[sheet][cell].quotePrefix  # text still, after somebody edits it


@given(
    text=st.text(st.characters(codec="utf-8", exclude_categories=("C",)), min_size=1, max_size=20),
    start=st.sampled_from(["", *STARTS[:4]]),
)
def test_an_input_keeps_any_text(text, start):
    book = Book("title")
    page = book.page("Inputs", "Inputs")
    page.text_input("title", start + text, label="title", text="")
    page.cells((start + text,))
    page.mark_input(page.row - 1, 1)
    book.finish()
    assert page.sheet["C5"].data_type == page.sheet["A6"].data_type == "s"
    assert page.sheet["C5"].value == start + text


@pytest.mark.parametrize(
    "name, values",
    [
        ("trial.xlsx", dict(readings=[(120, 2, 0.8, "yes", "note", "=1+1")])),
        ("trial.xlsx", dict(observations=[(1, 2, 3, "=1+1")])),
        ("trial.xlsx", dict(other_trials=[("a", [(1, 2, "=1+1")])])),
        ("trial.xlsx", dict(other_trials=[("a", [])] * 4)),
        ("trial.xlsx", dict(other_trials=[("a", [(1, 2)] * 41)])),
        ("knee_record.xlsx", dict(records=[("=1+1",) * 40])),
        ("speed_table.xlsx", dict(records=[("=1+1",) * 40])),
    ],
)
def test_values_that_would_stand_beside_the_inputs_are_refused(name, values):
    with pytest.raises(ValueError, match="must be .*at most"):
        FILLED[name].build(values)


# --- what is copied from one workbook into another ---

HOSTILE = '\'=1+1\'!A1 & "=HYPERLINK(""x"")" <f>1+1</f>'


@pytest.fixture
def given_book(tmp_path):
    """Calls of the functions among texts that look like formulas and markup."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "=1+1 & <b>"
    sheet.append(["depth", "energy", *LIVE])
    for depth, energy in zip((0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3), (72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9)):
        sheet.append([depth, energy, HOSTILE])
    for row in sheet.iter_rows(min_col=3):
        for cell in row:
            if cell.value is not None:
                cell.data_type = "s"
    sheet["A12"], sheet["B12"] = "=GRIT_KNEE(A2:A9,B2:B9)", "=GRIT_WORK_SPEED(20,120)&C1"
    sheet["A13"] = "=GRIT_KNEE_VERDICT(A2:A9,B2:B9)"
    return stored(
        workbook, tmp_path / "book.xlsx", {sheet.title: {"A12": 1.0016666666666667, "B12": "7.5398223686155=1+1", "A13": "found"}}
    )


def texts_of(path):
    return {
        (sheet.title, cell.coordinate): (cell.value, cell.data_type)
        for sheet in load_workbook(path)
        for cell in cells_of(sheet)
        if isinstance(cell.value, str) and cell.data_type != "f"
    }


def test_a_shared_copy_keeps_texts_as_texts(given_book, libreoffice, tmp_path):
    shared = share(given_book)
    assert shared.complete, shared.report()
    before, after = texts_of(given_book), texts_of(shared.output)
    assert {place: after[place] for place in before} == before
    added = {place: value for place, (value, kind) in after.items() if place not in before and kind != "f"}
    assert added and not [
        value for value in added.values() if value[:1] in tuple(STARTS) and len(value) > 1
    ]  # a lone - is no formula
    shown = libreoffice.recalc(shared.output)["=1+1 & <b>"]
    assert [shown[f"{letter}1"] for letter in "CDEFGH"] == list(LIVE[:6]) and shown["C2"] == HOSTILE
    assert shown["A13"] == "found"


def test_a_copy_with_names_keeps_texts_as_texts(given_book, tmp_path):
    names = add_names(given_book, tmp_path / "out.xlsx")
    assert texts_of(tmp_path / "out.xlsx") == texts_of(given_book)
    assert set(load_workbook(tmp_path / "out.xlsx").defined_names) == set(names) == set(lambda_names())


@given(text=st.text(min_size=1, max_size=30), formula=st.sampled_from(["=A1", "=IF(1,A1)"]))
def test_the_stored_value_of_a_formula_is_a_text_and_no_markup(text, formula):
    xml = f'<worksheet><row><c r="A2"><f>{formula[1:]}</f></c></row></worksheet>'
    package = read_package_of(xml)
    put_values(package, {"S": {"A2": text}})
    root = ElementTree.fromstring(package.parts["xl/s.xml"])
    assert [element.tag for element in root.iter()] == ["worksheet", "row", "c", "f", "v"]
    (cell,) = root[0]
    assert cell.get("t") == "str" and cell[0].text == formula[1:] and unescape(cell[1].text or "") == text


def read_package_of(xml):
    from gritfuncs.spreadsheets.package import Package

    return Package(
        {
            "xl/workbook.xml": b"<workbook xmlns:r='urn:r'><sheets><sheet name='S' r:id='a'/></sheets></workbook>",
            "xl/_rels/workbook.xml.rels": b"<R><Relationship Id='a' Target='/xl/s.xml'/></R>",
            "xl/s.xml": xml.encode(),
        }
    )


def test_a_report_that_is_frozen_in_a_copy_is_a_list_of_texts(tmp_path):
    """Quotes in it are doubled, and nothing in it starts like a formula."""
    from openpyxl.worksheet.formula import ArrayFormula

    workbook = Workbook()
    sheet = workbook.active
    for depth, energy in zip((0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3), (72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9)):
        sheet.append([depth, energy])
    sheet["D1"] = ArrayFormula("D1:E16", "=GRIT_KNEE_REPORT(A1:A8,B1:B8)")
    path = stored(workbook, tmp_path / "book.xlsx", {"Sheet": {"D1": "verdict"}})
    output = share(path).output
    package = read_package(output)
    formula = re.search(r"<f[^<>]*array[^<>]*>([^<]*)</f>", package.text(next(iter(sheet_parts(package).values()))))[1]
    texts = re.findall(r'"((?:[^"]|"")*)"', formula.replace("&quot;", '"'))
    assert "verdict" in texts and not [text for text in texts if text[:1] in tuple(STARTS) and text]


# --- what functions answer in cells ---

ARGUMENTS = st.one_of(
    st.sampled_from(LIVE), st.text(max_size=300), st.sampled_from([FAILED + "=1+1", FAILED + "x is blank", "\n=1+1"])
)


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.sheet_name)
@given(data=st.data())
def test_an_answer_never_starts_like_a_formula(function, data):
    """Whatever texts a cell function is given, alone or in ranges, and whether it answers a text or rows of them."""
    one = st.one_of(ARGUMENTS, st.sampled_from([1.0, 2.0, 120.0, None, True, cell_functions.ErrorCell("=1+1")]))
    rows = st.lists(st.lists(one, min_size=1, max_size=1), min_size=1, max_size=4)
    answer = function.call(*(data.draw(st.one_of(one, rows)) for _ in function.arguments))
    answers = [value for row in answer for value in row] if isinstance(answer, tuple) else [answer]
    for value in answers:
        if isinstance(value, str):
            assert not value or value[0] not in STARTS
            assert len(value) <= cell_functions.LONGEST_TEXT
    assert function.gives != BLOCK or isinstance(answer, tuple)


def test_an_answer_through_xlwings_is_returned_and_never_typed():
    """What a function returns is shown as it is; only what is typed into a cell could become a formula."""
    with Excel("gritfuncs.addins.excel") as excel:
        said = excel.cell("GRIT_MEAN_SIZE", "=1+1")
        assert said.startswith(FAILED) and "'=1+1'" in said
        depths, energies = cells(*[0.5 + number / 10 for number in range(8)]), cells(9, 7.2, 5.1, 3, 3, 3.1, 3, 2.9)
        for row in excel.cell("GRIT_KNEE_REPORT", depths, energies):
            assert all(not text or text[0] not in STARTS for text in row)


# --- text that is printed or written ---


def test_the_readings_of_the_demonstration_hold_numbers_and_words():
    for row in csv.reader(io.StringIO(demo.readings_text())):
        assert all(cell[:1] not in tuple(STARTS) for cell in row if len(cell) > 1)  # a lone - is no formula


def test_signs_that_command_a_terminal_are_not_printed(tmp_path):
    """A note, a heading or a sheet's name may hold them; a message and a report show a space instead."""
    workbook = Workbook()
    workbook.active.title = "a\x9b31mb"
    workbook.active.append(["rpm", "load", "use", "note"])
    workbook.active.append([120, 5, "no", "a\x9b2Jb\u202eb\u2028c"])
    workbook.active.append([130, 4, None, "date", datetime.date(2026, 1, 2)])
    workbook.save(tmp_path / "book.xlsx")
    report = read_trial(tmp_path / "book.xlsx").report()
    assert "a 2Jb b c" in report
    assert all(sign.isprintable() or sign == "\n" for sign in report)
    with pytest.raises(ValueError) as error:
        read_trial(tmp_path / "book.xlsx", sheet="none")
    assert str(error.value).isprintable()
