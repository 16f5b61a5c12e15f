"""The values that a workbook's cells hold, and what a native formula makes of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.utils import coordinate_to_tuple, get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from ..spreadsheets.cell_values import LARGEST_ARRAY, Area, CellError, Failure, scalar
from ..spreadsheets.evaluate import Place, Range, _Book, _Parser
from ..spreadsheets.package import Package, sheet_parts
from ..spreadsheets.stored_cells import shared_strings, stored_rows

MOST_LOOKED_AT = 20_000_000  # cells, to compute all formulas of a workbook


class Values:
    """What the cells of a package show, and single formulas computed from that and from its defined names."""

    def __init__(self, package: Package, names: Mapping[str | None, Mapping[str, str]]):
        strings = shared_strings(package)
        self.cells = {title: _shown(package, part, strings) for title, part in sheet_parts(package).items()}
        self.names = names
        self._book = _StoredBook(self.cells, names)

    def find(self, reference: str, sheet: str) -> Range:
        """The cells that a reference or a defined name stands for."""
        return self._book.find(reference, Place(sheet, 1, 1))

    def rows(self, cells: Range) -> list[list[Any]]:
        shown = self.cells[cells.sheet]
        return [[shown.get(place.address) for place in row] for row in cells.rows()]

    def add_sheet(self, title: str, cells: dict[str, Any]) -> None:
        self.cells[title] = cells
        self._book = _StoredBook(self.cells, self.names)

    def compute(self, formula: str, sheet: str, address: str, is_array: bool) -> Any:
        """The value of a formula in a cell, an Area where it fills several; ValueError if it is not known here."""
        home = self.find(address, sheet)
        parser = _Parser("=" + formula, Place(home.sheet, home.top, home.left), self._book)
        parser.arrays = is_array
        try:
            value = parser.compiled().evaluate()
            if is_array and isinstance(value, Area) and value.height * value.width > 1:
                return value
            value = scalar(value)
        except Failure as failure:
            return failure.error
        return 0.0 if value is None else value


class _StoredSheet:
    """What the evaluator asks a sheet for."""

    def __init__(self, title: str, cells: Mapping[str, Any], names: Mapping[str, str]):
        self.title, self.defined_names = title, _defined(names)
        places = [coordinate_to_tuple(address) for address in cells]
        self.max_row, self.max_column = (max((place[side] for place in places), default=1) for side in (0, 1))


class _StoredBook(_Book):
    """The cells as they are stored; no more of them are looked at than share takes time for."""

    def __init__(self, cells: Mapping[str, Mapping[str, Any]], names: Mapping[str | None, Mapping[str, str]]):
        self.cells, self.absent, self.looked_at = cells, (), 0
        self.workbook = _StoredSheet("", {}, names.get(None, {}))
        self.sheets = {title.lower(): _StoredSheet(title, shown, names.get(title, {})) for title, shown in cells.items()}

    def area(self, range_: Range) -> Area:
        size = (range_.bottom - range_.top + 1) * (range_.right - range_.left + 1)
        self.looked_at += size
        if size > LARGEST_ARRAY or self.looked_at > MOST_LOOKED_AT:
            raise ValueError("more cells than are looked at here")
        shown = self.cells[range_.sheet]
        return Area([[shown.get(place.address) for place in row] for row in range_.rows()], range_.top, range_.left)


def _defined(names: Mapping[str, str]) -> dict[str, DefinedName]:
    return {name: DefinedName(name, attr_text=meaning) for name, meaning in names.items()}


def put_constant(cell, value: Any) -> None:
    """Give a cell of openpyxl a value that it takes for what it is, be it a text that begins with =."""
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value)
        cell.data_type = "e" if isinstance(value, CellError) else "s"
    else:
        cell.value = value


def _shown(package: Package, part: str, strings: list[str]) -> dict[str, Any]:
    """The values of a sheet's cells by address."""
    return {
        f"{get_column_letter(column)}{number}": cell.value
        for number, cells in stored_rows(package, part, strings)
        for column, cell in cells.items()
        if cell.value is not None
    }
