"""The harness itself: LibreOffice and the other engines answer, and what goes wrong is said."""

from __future__ import annotations

import itertools
import math
import re
import zipfile

import libreoffice as harness
import pytest
from engines import ENGINES, differences, same
from openpyxl import Workbook

from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.formula_text import put_values
from gritfuncs.spreadsheets.package import read_package, write_package


@pytest.fixture
def book(tmp_path):
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "Bob's trial"
    for row in (
        (0.5, "=A1*3"),
        ("text", '=A2&" µm"'),
        (True, "=A1>0"),
        (None, "=1/0"),
        (None, "=SUM(A1:A2)"),
        (None, '=IF(A1>1,1,"")'),
    ):
        sheet.append(row)
    save_workbook(workbook, tmp_path / "book.xlsx")
    return tmp_path / "book.xlsx"


EXPECTED = {
    "A1": 0.5,
    "A2": "text",
    "A3": True,
    "B1": 1.5,
    "B2": "text µm",
    "B3": True,
    "B4": CellError("#DIV/0!"),
    "B5": 0.5,
    "B6": "",
}


@pytest.mark.parametrize("engine", ENGINES)
def test_an_engine_reads_and_computes(engine, book, compute):
    found = compute[engine](book)
    assert differences(found, {"Bob's trial": EXPECTED}) == []
    assert isinstance(found["Bob's trial"]["B4"], CellError)


def test_libreoffice_does_not_trust_stored_values(book, libreoffice, tmp_path):
    package = read_package(book)
    put_values(package, {"Bob's trial": {"B1": 999.0}})
    write_package(package, tmp_path / "wrong.xlsx")
    assert libreoffice.recalc(tmp_path / "wrong.xlsx")["Bob's trial"]["B1"] == 1.5


def test_libreoffice_shows_formulas(book, libreoffice):
    assert libreoffice.formulas(book)["Bob's trial"]["B6"] == '=IF(A1>1;1;"")'


def test_typed_formulas_fill_down_and_arrays_spread(libreoffice, tmp_path):
    formulas = {"E1": "=SUM(A1:A3)", "F1:F3": "=A1*2", "G1:G2": "{=A1:A2*10}", "H1": "=1/0", "I1": "=A4"}
    data = {"A1": [[1], [2], [3], ["four"]]}
    found = libreoffice.type(formulas, data, save=tmp_path / "typed.xlsx", times=2)
    assert found == {"E1": 6, "F1": 2, "F2": 4, "F3": 6, "G1": 10, "G2": 20, "H1": "#DIV/0!", "I1": "four"}
    assert len(libreoffice.seconds) == 2
    assert "SUM(A1:A3)" in harness.stored_formulas(tmp_path / "typed.xlsx")


def test_printing_only_the_sheets_that_are_named(libreoffice, tmp_path):
    workbook = Workbook()
    workbook.active["A1"], workbook.create_sheet("Second")["A1"] = "alpha", "omega"
    save_workbook(workbook, tmp_path / "book.xlsx")
    for sheets, pages in ((None, 2), (["Second"], 1)):
        printed = libreoffice.convert(tmp_path / "book.xlsx", tmp_path / "book.pdf", sheets)
        assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) == pages


def test_the_function_wizard(libreoffice):
    text, arguments = libreoffice.functions("ROUNDDOWN")["ROUNDDOWN"]
    assert "round" in text.lower()
    assert [(name, optional) for name, _, optional in arguments] == [("Number", False), ("Count", True)]


def test_what_libreoffice_cannot_do_is_raised(libreoffice, tmp_path):
    with pytest.raises(RuntimeError):
        libreoffice.recalc(tmp_path / "none.xlsx")
    assert libreoffice.type({"A1": "=1+1"}) == {"A1": 2}  # and the next request is answered


def test_missing_libreoffice_says_what_to_install(monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(harness.Missing, match="apt-get install libreoffice-calc python3-uno"):
        harness.program("soffice")


def test_convert_keeps_values_for_other_readers(book, libreoffice, tmp_path):
    assert zipfile.is_zipfile(libreoffice.convert(book, tmp_path / "copy.ods"))


@pytest.mark.parametrize(
    "left, right, equal",
    [
        (1.0, 1.0 + 1e-10, True),
        (1.0, 1.0 + 1e-8, False),
        (0.0, 1e-13, True),
        (None, None, True),
        (True, True, True),
        *((left, right, False) for left, right in itertools.combinations([None, "", False, 0.0, True, 1.0], 2)),
        (0, 0.0, True),
        ("a", "A", False),
        ("1", 1.0, False),
        (CellError("#N/A"), CellError("#REF!"), True),
        (CellError("#N/A"), "#N/A", False),
        (CellError("#N/A"), 0.0, False),
        (math.inf, 1.0, False),
    ],
)
def test_what_counts_as_the_same(left, right, equal):
    assert same(left, right) is equal and same(right, left) is equal


def test_differences_name_the_cell():
    left, right = {"S": {"A1": 1.0, "A2": 2.0}, "T": {}}, {"S": {"A1": 1.0}, "T": {"B1": "x"}}
    assert differences(left, right) == [("S!A2", 2.0, None), ("T!B1", None, "x")]
