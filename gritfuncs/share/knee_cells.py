"""The cells that stand in for a knee in a shared workbook: written and computed alike for all trials of a length.

The cells of every knee are the same but for their place and the readings they look at.  So they are understood once, and
computed for one trial after another.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from openpyxl.utils import coordinate_to_tuple, get_column_letter

from ..knee import FOUND
from ..spreadsheets.evaluate import Book, Place
from ..spreadsheets.references import row_numbers
from ..workbooks.blocks.knee import MOST_ROWS, knee_block

RESULTS = {
    "GRIT_KNEE_VERDICT": "verdict",
    "GRIT_KNEE": "knee",
    "GRIT_KNEE_LOW": "low",
    "GRIT_KNEE_HIGH": "high",
    "GRIT_KNEE_LEVEL": "level",
}

_DEPTHS, _ENERGIES = "grit_the_depths", "grit_the_energies"  # stand for the ranges until they are known
_READINGS, _HERE = "Readings", "Here"


def kept(depths: str, energies: str, height: int, width: int) -> str:
    """Whether two ranges have the size they had, as arguments of AND."""
    return ",".join(
        f"{function}({cells})={size}" for cells in (depths, energies) for function, size in (("ROWS", height), ("COLUMNS", width))
    )


@lru_cache(maxsize=2 * MOST_ROWS)
def knee_cells(height: int, width: int) -> KneeCells:
    """The cells for depths and energies in ranges of this size, one column or one row of at most MOST_ROWS readings."""
    return KneeCells(height, width)


class KneeCells:
    """The results as formulas elsewhere take them, the row for `unchanged`, and the block that finds them, from row 1 down.

    A result is a number only from a knee found, and only while the ranges keep their size.
    """

    def __init__(self, height: int, width: int):
        self.height, self.width = height, width
        self.rows = {name: row for row, name in enumerate(RESULTS, 2)}  # of the results, in column B
        self.unchanged = len(RESULTS) + 2  # the row that is left for it
        block = knee_block(_DEPTHS, _ENERGIES, max(height, width), sheet_name=_HERE, anchor=f"A{self.unchanged + 3}")
        cells: dict[str, Any] = {}
        for name, row in self.rows.items():
            shown = block.results[RESULTS[name]].rpartition("!")[2].replace("$B", "B")
            if name != "GRIT_KNEE_VERDICT":
                verdict = block.results["verdict"].rpartition("!")[2]
                shown = f'IF({verdict}="{FOUND}",{shown},NA())'
            cells[f"A{row}"] = f"in place of {name}"
            cells[f"B{row}"] = f"=IF(AND({kept(_DEPTHS, _ENERGIES, height, width)}),{shown},NA())"
        cells.update(block.cells)
        self.places = {address: coordinate_to_tuple(address) for address in cells}
        self.length = max(row for row, _ in self.places.values())
        self._constants = {address: content for address, content in cells.items() if not _is_formula(content)}
        formulas = {address: content for address, content in cells.items() if _is_formula(content)}
        self._parts = {address: row_numbers(formula) for address, formula in formulas.items()}
        self._book = Book({None: self._names()})
        self._book.add_sheet(_READINGS, {})
        self._book.add_sheet(
            _HERE,
            {
                self.places[address]: value if isinstance(value, str) else float(value)
                for address, value in self._constants.items()
            },
        )
        for address, formula in formulas.items():
            self._book.put(Place(_HERE, *self.places[address]), formula)

    def _names(self) -> dict[str, str]:
        right, bottom = get_column_letter(self.width), self.height
        below = self.height + 1
        return {
            _DEPTHS.upper(): f"{_READINGS}!$A$1:${right}${bottom}",
            _ENERGIES.upper(): f"{_READINGS}!$A${below}:${right}${below + self.height - 1}",
        }

    def values(self, depths: Sequence[Sequence[Any]], energies: Sequence[Sequence[Any]]) -> dict[str, Any]:
        """What the formulas give for these readings."""
        readings = self._book.values[_READINGS]
        readings.clear()
        for row, values in enumerate([*depths, *energies], 1):
            readings.update({(row, column): value for column, value in enumerate(values, 1) if value is not None})
        return {place.address: value for place, value in self._book.compute_anew().items()}

    def written(self, depths: str, energies: str, first_row: int) -> dict[str, Any]:
        """The cells with their texts, numbers and formulas, where the first row is that of a sheet."""
        down = first_row - 1
        given = {_DEPTHS: depths, _ENERGIES: energies}
        cells = {self.moved(address, down): content for address, content in self._constants.items()}
        for address, parts in self._parts.items():
            text = "".join([str(part + down) if type(part) is int else part for part in parts])
            for name, cells_given in given.items():
                if name in text:
                    text = text.replace(name, cells_given)
            cells[self.moved(address, down)] = text
        return cells

    def moved(self, address: str, down: int) -> str:
        row, column = self.places[address]
        return f"{get_column_letter(column)}{row + down}"


def _is_formula(content: Any) -> bool:
    return isinstance(content, str) and content.startswith("=")
