"""Formulas that are filled down are written once, and every reader sees in each row what was written there."""

from __future__ import annotations

import io
import re
import zipfile

import pytest
from engines import OTHERS, differences
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.workbook.defined_name import DefinedName

from gritfuncs.share.job import share
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.filled_down import LEAST_CELLS, filled_down
from gritfuncs.spreadsheets.formula_text import with_values
from gritfuncs.spreadsheets.package import Package, packed, read_package

ROWS = range(2, 9)
SHEET = "xl/worksheets/sheet1.xml"
KINDS = (  # as they read in a row; above is the row before, below the one after
    "A{row}*2+$B{row}",
    "SUM(A$2:A{row})/B$9+$B$2",
    "SUMPRODUCT(($A$2:$A$8<=A{row})*$B$2:$B$8)",
    "IF(A{row}>3,A{above}-A{below},factor)",
    '"A2 & <"&A{row}&""" ok"',
    "LOG10(A{row})+C{row}^2",
    "IF(A{row}=0,1,INDEX(B$2:B$8,MATCH(A{row},A$2:A$8,0)))",
)
BEYOND = "Other!A{row}+'It''s'!$A$1"  # of another sheet


def written(kind, row):
    return "=" + kind.format(row=row, above=row - 1, below=row + 1)


def cells(sheet):
    return {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None}


def book():
    workbook = Workbook()
    sheet = workbook.active
    other, quoted = workbook.create_sheet("Other"), workbook.create_sheet("It's")
    quoted["A1"] = 0.5
    workbook.defined_names["factor"] = DefinedName("factor", attr_text="Sheet!$B$2")
    for row in range(1, 10):
        sheet.cell(row, 1, row * 1.25)
        sheet.cell(row, 2, 10.0 - row)
        other.cell(row, 1, row)
    for row in ROWS:
        for column, kind in enumerate((*KINDS, BEYOND), start=3):
            sheet.cell(row, column, written(kind, row))
    sheet["C5"] = "=A5*3"  # another one stands between
    return workbook


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """The workbook with each formula written out, and as it is saved here."""
    folder = tmp_path_factory.mktemp("filled")
    book().save(folder / "written out.xlsx")
    save_workbook(book(), folder / "filled down.xlsx")
    return folder / "written out.xlsx", folder / "filled down.xlsx"


def test_each_kind_is_written_once_but_for_other_sheets(files):
    text = read_package(files[1]).text(SHEET)
    assert len(re.findall(r'<f t="shared" ref="[A-Z]\d:[A-Z]\d" si="\d+">[^<]', text)) == len(KINDS) + 1
    assert len(re.findall(r'<f t="shared" si="\d+"/>', text)) == len(KINDS) * (len(ROWS) - 1) - 2
    assert '<f t="shared" ref="C2:C4" si="0">A2*2+$B2</f>' in text and '<f t="shared" ref="C6:C8" si="1">A6*2+$B6</f>' in text
    assert "<f>Other!A5+'It''s'!$A$1</f>" in text


def test_openpyxl_reads_each_row_as_it_was_written(files):
    plain, filled = (cells(load_workbook(path)["Sheet"]) for path in files)
    assert filled == plain


def test_libreoffice_reads_each_row_as_it_was_written(files, libreoffice):
    plain, filled = (libreoffice.formulas(path) for path in files)
    assert filled == plain and len(filled["Sheet"]) == (len(KINDS) + 1) * len(ROWS)
    assert differences(*(libreoffice.recalc(path) for path in files)) == []


@pytest.mark.parametrize("engine", OTHERS)
def test_other_engines_compute_each_row_as_it_was_written(files, engine):
    plain, filled = (OTHERS[engine](path) for path in files)
    assert differences(plain, filled) == [] and len(filled["Sheet"]) > len(KINDS) * len(ROWS)


def test_a_workbook_with_functions_is_shared_from_either_form(tmp_path):
    workbook = Workbook()
    sheet = workbook.active
    for row in ROWS:
        sheet.cell(row, 1, 10.0 * row)
        sheet.cell(row, 2, 300.0)
        sheet.cell(row, 3, f"=GRIT_WORK_SPEED(A{row},B{row})")
    workbook.save(tmp_path / "plain.xlsx")
    save_workbook(workbook, tmp_path / "filled.xlsx", absent={"GRIT_WORK_SPEED"})
    found = []
    for name in ("plain", "filled"):
        assert share(tmp_path / f"{name}.xlsx", tmp_path / f"{name} native.xlsx").complete
        found.append(cells(load_workbook(tmp_path / f"{name} native.xlsx").active))
    assert found[0] == found[1] and "GRIT" not in str(found)


CELLS = st.lists(st.sampled_from((*KINDS, BEYOND, "=", "")), min_size=1, max_size=12)


@given(st.lists(CELLS, min_size=1, max_size=3))
def test_any_columns_are_read_back(columns):
    workbook = Workbook()
    sheet = workbook.active
    for column, kinds in enumerate(columns, start=3):
        for row, kind in enumerate(kinds, start=2):
            sheet.cell(row, column, written(kind, row) if "{" in kind else kind or None)
    file = io.BytesIO()
    workbook.save(file)
    with zipfile.ZipFile(file) as archive:
        package = Package({name: archive.read(name) for name in archive.namelist()})
    package.put(SHEET, with_values(package.data(SHEET), {}, filled_down))
    assert cells(load_workbook(io.BytesIO(packed(package))).active) == cells(sheet)
    for first, last in re.findall(r'ref="[A-Z]+(\d+):[A-Z]+(\d+)" si', package.text(SHEET)):
        assert int(last) - int(first) + 1 >= LEAST_CELLS


def test_formulas_of_a_kind_of_their_own_stay():
    cell = '<row r="{0}"><c r="A{0}"><f t="array" ref="A{0}">B{0}</f></c></row>'
    data = f"<worksheet><sheetData>{''.join(map(cell.format, ROWS))}</sheetData></worksheet>".encode()
    assert with_values(data, {}, filled_down) == data
