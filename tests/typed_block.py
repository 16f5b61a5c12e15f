"""A block of formulas open in our own evaluation: type readings into its cells, read its values and columns by their names.

Typing anew takes a tenth of a second where a book takes half a one, so that many trials can be tried.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from openpyxl.utils import column_index_from_string, coordinate_to_tuple, get_column_letter

from gritfuncs.spreadsheets.evaluate import Book
from gritfuncs.spreadsheets.references import Place
from gritfuncs.workbooks.blocks.lay_out import Places

TYPED = "Typed"


def column(number: int, rows: int) -> str:
    """The cells of a column that is typed into."""
    letter = get_column_letter(number)
    return f"{TYPED}!${letter}$2:${letter}${rows + 1}"


def single(number: int) -> str:
    """The cell above that column."""
    return f"{TYPED}!${get_column_letter(number)}$1"


def rows_of(count: int, rows: int) -> list[int]:
    """Where so many readings stand among the rows: every third row is left out as long as there is room."""
    return [row for row in range(rows) if row % 3 != 1 or row // 3 >= rows - count][:count]


class TypedBlock:
    """Blocks on sheets, {sheet: {address: content}}, and the columns beside them that are typed into."""

    def __init__(self, sheets: Mapping[str, Mapping[str, Any]], rows: int):
        self._book, self._rows = Book({None: {}}), rows
        self._book.add_sheet(TYPED, {})
        for sheet, cells in sheets.items():
            constants, formulas = {}, {}
            for address, content in cells.items():
                is_formula = isinstance(content, str) and content.startswith("=")
                (formulas if is_formula else constants)[coordinate_to_tuple(address)] = content
            self._book.add_sheet(sheet, {place: _cell(each) for place, each in constants.items()})
            for place, formula in formulas.items():
                self._book.put(Place(sheet, *place), formula)

    def type(self, *columns, **singles) -> None:
        """Type columns, from the first on, a value a row, None for a blank; `above_1` and so on are the cells above them."""
        typed = self._book.values[TYPED]
        typed.clear()
        for number, values in enumerate(columns, 1):
            assert len(values) <= self._rows
            typed.update({(row, number): _cell(value) for row, value in enumerate(values, 2) if value is not None})
        for name, value in singles.items():
            if value is not None:
                typed[1, int(name.rsplit("_", 1)[1])] = _cell(value)
        self._book.compute_anew()

    def value(self, reference: str):
        """What stands in a cell, "'Sheet name'!$B$3"."""
        sheet, address = reference.rsplit("!", 1)
        return self._book.values[sheet.strip("'")].get(coordinate_to_tuple(address.replace("$", "")))

    def values(self, results: Mapping[str, str]) -> dict[str, Any]:
        """{name: value} of {name: reference}."""
        return {name: self.value(reference) for name, reference in results.items()}

    def column(self, at: Places, name: str, count: int) -> list[Any]:
        """The first so many values of a column of a block."""
        return self._down(at, count)(name)

    def columns(self, at: Places, count: int) -> dict[str, list[Any]]:
        """{name: its first so many values} of all columns of a block."""
        down = self._down(at, count)
        return {name: down(name) for name in at.column_names}

    def _down(self, at: Places, count: int):
        cells, rows = self._book.values[at.sheet_name], range(at.first, at.first + count)
        return lambda name: [cells.get((row, column_index_from_string(at.letter(name)))) for row in rows]


def turns(trial_at, said, shares, near=1e-6):
    """Pairs of trials that hardly differ, of which different things are said: between neighbours of these shares, by halves."""
    for low, high in zip(shares, shares[1:]):
        before = said(*trial_at(low))
        if before == said(*trial_at(high)):
            continue
        while high - low > near:
            middle = (low + high) / 2
            if said(*trial_at(middle)) == before:
                low = middle
            else:
                high = middle
        yield trial_at(low), trial_at(high)


def _cell(value):
    return float(value) if isinstance(value, int) else value
