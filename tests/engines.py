"""Spreadsheet engines that compute a workbook independently of us, and how their values are compared.

A new engine is a function that gives {sheet: {"A1": value}} for a path, entered in OTHERS by the name of its package, capitals aside: the
tests and the page of evidence take it from there.  A value is a float, a truth, a text or a CellError; blanks are left out.
"""

from __future__ import annotations

import math
import os
from functools import lru_cache

import formualizer
import ironcalc
from openpyxl import load_workbook

from gritfuncs.spreadsheets.cell_values import CellError

FORMUALIZER_ERRORS = {
    "Div": "#DIV/0!",
    "Na": "#N/A",
    "Name": "#NAME?",
    "Null": "#NULL!",
    "Num": "#NUM!",
    "Ref": "#REF!",
    "Value": "#VALUE!",
}
ERROR_TEXTS = {*FORMUALIZER_ERRORS.values(), "#ERROR!", "#N/IMPL!", "#SPILL!", "#CALC!", "#CIRC!"}


def cells_of(*sheets):
    """Every cell of these sheets of openpyxl that is there; going through their rows would make those that are not."""
    return [cell for sheet in sheets for cell in sheet._cells.values()]


@lru_cache(maxsize=8)
def filled_cells(path, _changed):
    """(sheet, row, column, address) of every cell that is not blank; read once for all engines."""
    return [
        (cell.parent.title, cell.row, cell.column, cell.coordinate)
        for cell in cells_of(*load_workbook(path).worksheets)
        if cell.value is not None
    ]


def _value(found):
    if isinstance(found, dict):
        kind = found.get("kind", "")
        return CellError(FORMUALIZER_ERRORS.get(kind, f"#{kind}"))
    if isinstance(found, str) and found in ERROR_TEXTS:
        return CellError(found)
    return float(found) if isinstance(found, int) and not isinstance(found, bool) else found


def _collected(path, value_at) -> dict:
    found = {}
    for sheet, row, column, address in filled_cells(path, os.stat(path).st_mtime_ns):
        value = _value(value_at(sheet, row, column))
        found.setdefault(sheet, {})
        if value is not None:
            found[sheet][address] = value
    return found


def formualizer_values(path) -> dict:
    """{sheet: {"A1": value}} as formualizer computes the workbook."""
    book = formualizer.load_workbook(str(path))
    book.evaluate_all()
    return _collected(path, book.get_value)


def ironcalc_values(path) -> dict:
    """{sheet: {"A1": value}} as IronCalc computes the workbook."""
    model = ironcalc.load_from_xlsx(str(path))
    model.evaluate()
    places = {sheet["name"]: place for place, sheet in enumerate(model.get_worksheets_properties())}
    return _collected(path, lambda sheet, row, column: model.get_cell_value(places[sheet], row, column))


OTHERS = {"formualizer": formualizer_values, "IronCalc": ironcalc_values}
ENGINES = ("LibreOffice", *OTHERS)  # the fixture `compute` has each by its name


def same(left, right, relative=1e-9, absolute=1e-12) -> bool:
    """Equal values of one kind: 0, FALSE, "" and a blank are four; any error is any other."""
    if isinstance(left, CellError) or isinstance(right, CellError):
        return isinstance(left, CellError) and isinstance(right, CellError)
    if any(value is None or isinstance(value, (bool, str)) for value in (left, right)):
        return type(left) is type(right) and left == right
    return math.isclose(left, right, rel_tol=relative, abs_tol=absolute)


def differences(left: dict, right: dict, relative=1e-9, absolute=1e-12) -> list:
    """The cells of two {sheet: {"A1": value}} that are not the same, as (Sheet!A1, left, right)."""
    found = []
    for sheet in {**left, **right}:
        ours, theirs = left.get(sheet, {}), right.get(sheet, {})
        for address in {**ours, **theirs}:
            pair = ours.get(address), theirs.get(address)
            if not same(*pair, relative, absolute):
                found.append((f"{sheet}!{address}", *pair))
    return found
