"""The values that a workbook's cells hold, and what a native formula makes of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from openpyxl.utils import coordinate_to_tuple

from ..spreadsheets.compiled import Compiled, compiled
from ..spreadsheets.evaluate import Book, Place, Range, find, value_at, value_of
from ..spreadsheets.package import Package, sheet_parts
from ..spreadsheets.stored_cells import StoredFormula, shared_strings, stored_rows

MOST_LOOKED_AT = 20_000_000  # cells, to compute all formulas of a workbook


class Values:
    """What the cells of a package show, and single formulas computed from that and from its defined names.

    A sheet is read once: what its cells show comes with its formulas.
    """

    def __init__(self, package: Package, names: Mapping[str | None, Mapping[str, str]]):
        self.package, self.strings = package, shared_strings(package)
        self.book = Book(names, most_read=MOST_LOOKED_AT)
        self._unread = sheet_parts(package)
        for title in self._unread:
            self.book.add_sheet(title, {})

    def formulas(self, sheet: str) -> Iterator[StoredFormula]:
        """The formulas of a sheet that was not read before, in their order, while what its cells show is entered."""
        shown, formulas = self.book.values[sheet], []
        for number, cells in stored_rows(self.package, self._unread.pop(sheet), self.strings, formulas):
            shown.update({(number, column): cell.value for column, cell in cells.items() if cell.value is not None})
            yield from formulas
            formulas.clear()

    def complete(self) -> None:
        """Read the sheets that were not read before."""
        for sheet in list(self._unread):
            for _ in self.formulas(sheet):
                pass

    @property
    def titles(self) -> list[str]:
        """The names of the sheets, in the order of the tabs."""
        return list(self.book.values)

    def find(self, reference: str, sheet: str) -> Range:
        """The cells that a reference or a defined name stands for."""
        return find(reference, sheet, self.book)

    def stored(self, sheet: str, address: str) -> Any:
        """What a cell shows; None where it is blank."""
        return self.book.values[sheet].get(coordinate_to_tuple(address))

    def rows(self, cells: Range) -> list[list[Any]]:
        return self.book.area(cells).rows

    def compute(self, formula: str, sheet: str, address: str, is_array: bool) -> Any:
        """The value of a formula in a cell, an Area where it fills several; ValueError if it is not known here."""
        home = Place(sheet, *coordinate_to_tuple(address))
        return value_of("=" + formula, home, self.book, is_array=is_array)

    def compute_filled(self, formula: Compiled, sheet: str, address: str) -> Any:
        """The same of a formula that was made ready, in a cell that it is filled down to."""
        return value_at(Place(sheet, *coordinate_to_tuple(address)), formula, self.book)


def ready(formula: str, address: str) -> Compiled:
    """A formula of a cell made ready for it and for all that it is filled down to; ValueError if it is not known here."""
    return compiled("=" + formula, *coordinate_to_tuple(address))
