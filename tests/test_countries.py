"""The workbooks in countries with a decimal comma: every cell is recalculated in LibreOffice under their settings."""

from __future__ import annotations

import re

import pytest
from engines import cells_of, differences
from libreoffice import LibreOffice
from openpyxl import Workbook

from gritfuncs import example
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.evaluate import workbook_values
from gritfuncs.spreadsheets.package import read_package
from gritfuncs.workbooks import functions
from gritfuncs.workbooks.templates import TEMPLATES
from gritfuncs.workbooks.trial import build as trial

COUNTRIES = ("de-DE", "fr-FR", "it-IT", "pl-PL")
BOOKS = {**TEMPLATES, "trial.xlsx, filled in": lambda: trial.build(dict(readings=example.readings()))}


@pytest.fixture(scope="module", params=COUNTRIES)
def office(request):
    with LibreOffice(country=request.param) as office:
        yield office


@pytest.fixture(scope="module")
def books(tmp_path_factory):
    """{name: (path, values)} of the workbooks; built once for all countries."""
    folder, found = tmp_path_factory.mktemp("countries"), {}
    for name, build in BOOKS.items():
        path = folder / f"{name}.xlsx"
        workbook = build()
        found[name] = path, workbook_values(workbook, functions.ABSENT)
        save_workbook(workbook, path, absent=functions.ABSENT)
    return found


def test_libreoffice_computes_the_texts_anew_when_it_opens_a_book(books):
    """It takes what is stored in a file of Microsoft Excel: 1.342 beside 1,362 where a point parts thousands."""
    for path, _ in books.values():
        assert "<Application>gritfuncs</Application>" in read_package(path).text("docProps/app.xml")


def with_points(values):
    """Texts with the decimal points that another country would show; an empty text is left out, as LibreOffice does with one typed."""
    found = {}
    for sheet, cells in values.items():
        texts = {
            address: re.sub(r"(?<=\d),(?=\d)", ".", value) for address, value in cells.items() if type(value) is str and value
        }
        found[sheet] = {**{address: value for address, value in cells.items() if type(value) is not str}, **texts}
    return found


def test_the_settings_of_the_country_are_in_force(office, tmp_path):
    book = Workbook()
    for row, formula in enumerate(('=1/2&""', "=FIXED(1234.5678,2,TRUE)", '=FIXED(0.00012,6,TRUE)&" mm"'), 1):
        book.active.cell(row, 1, formula)
    save_workbook(book, tmp_path / "book.xlsx")
    found = office.recalc(tmp_path / "book.xlsx")["Sheet"]
    assert [found[f"A{row}"] for row in (1, 2, 3)] == ["0,5", "1234,57", "0,000120 mm"]


@pytest.mark.parametrize("name", BOOKS)
def test_every_cell_is_the_same_in_another_country(name, office, books):
    path, values = books[name]
    assert differences(with_points(values), with_points(office.recalc(path))) == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_condition_is_a_text_with_a_decimal_point(name, as_built):
    """COUNTIF(A1:A9,">=1.3") counts nothing where a comma is the decimal sign; ">="&1.3 counts everywhere."""
    texts = [
        f"{sheet.title}!{cell.coordinate}: {text}"
        for sheet in as_built(name)
        for cell in cells_of(sheet)
        if cell.data_type == "f" and isinstance(cell.value, str)
        for text in re.findall(r'"([<>=]+-?\d*\.\d+)"', cell.value)
    ]
    assert texts == []
