"""Conditions as formula text: what the text means when a spreadsheet's rules compute it."""

from __future__ import annotations

import openpyxl
import pytest
from engines import ENGINES, same

from gritfuncs.sheets.conditions import are_numbers, first_of, quoted
from gritfuncs.spreadsheets.cell_values import CellError

CELLS = {"A1": 2, "A2": "two", "A3": "=1/0"}  # A4 is blank
FORMULAS = [
    (first_of(otherwise='"none"'), "none"),
    (first_of(("A1>1", '"large"'), ("A1>0", '"small"'), otherwise='"none"'), "large"),
    (first_of(("A1>2", '"large"'), ("A1>1", '"small"'), otherwise='"none"'), "small"),
    (first_of(("A1>3", '"large"'), ("A1>2", '"small"'), otherwise='"none"'), "none"),
    (first_of(("A1>1", '"large"'), ("A3>0", '"small"'), otherwise='"none"'), "large"),
    (first_of(("A3>0", '"small"'), ("A1>1", '"large"'), otherwise='"none"'), CellError("#DIV/0!")),
    (first_of((are_numbers("A1", "A1"), "A1*3"), otherwise="0"), 6.0),
    (first_of((are_numbers("A1"), "A1*3"), otherwise="0"), 6.0),
    (first_of((are_numbers("A1", "A2"), "1"), otherwise="0"), 0.0),
    (first_of((are_numbers("A3"), "1"), otherwise="0"), 0.0),
    (first_of((are_numbers("A4"), "1"), otherwise="0"), 0.0),
    (quoted('the 3" wheel'), 'the 3" wheel'),
    (quoted(""), ""),
]


@pytest.mark.parametrize("engine", ENGINES)
def test_the_first_case_that_holds_gives_the_value(engine, compute, tmp_path):
    book = openpyxl.Workbook()
    for address, value in CELLS.items():
        book.active[address] = value
    for row, (text, _) in enumerate(FORMULAS, start=1):
        book.active[f"C{row}"] = "=" + text
    book.save(tmp_path / "book.xlsx")
    found = compute[engine](tmp_path / "book.xlsx")["Sheet"]
    seen = [(text, found.get(f"C{row}")) for row, (text, _) in enumerate(FORMULAS, start=1)]
    assert [pair for pair, (_, wanted) in zip(seen, FORMULAS) if not same(pair[1], wanted)] == []
