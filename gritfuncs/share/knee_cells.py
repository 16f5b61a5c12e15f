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

_GIVEN = "grit_the_"
_DEPTHS, _ENERGIES = _GIVEN + "depths", _GIVEN + "energies"  # stand for the ranges until they are known
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
        cells: dict[tuple[int, int], Any] = {}
        for name, row in self.rows.items():
            shown = block.results[RESULTS[name]].rpartition("!")[2].replace("$B", "B")
            if name != "GRIT_KNEE_VERDICT":
                verdict = block.results["verdict"].rpartition("!")[2]
                shown = f'IF({verdict}="{FOUND}",{shown},NA())'
            cells[row, 1] = f"in place of {name}"
            cells[row, 2] = f"=IF(AND({kept(_DEPTHS, _ENERGIES, height, width)}),{shown},NA())"
        cells.update({coordinate_to_tuple(address): content for address, content in block.cells.items()})
        self.length = max(row for row, _ in cells)
        self._constants = {place: content for place, content in cells.items() if not is_formula(content)}
        formulas = {place: content for place, content in cells.items() if is_formula(content)}
        self._parts = {place: row_numbers(formula) for place, formula in formulas.items()}
        self._book = Book({None: self._names()})
        self._book.add_sheet(_READINGS, {})
        self._book.add_sheet(
            _HERE, {place: value if isinstance(value, str) else float(value) for place, value in self._constants.items()}
        )
        for place, formula in formulas.items():
            self._book.put(Place(_HERE, *place), formula)

    def _names(self) -> dict[str, str]:
        right, bottom = get_column_letter(self.width), self.height
        below = self.height + 1
        return {
            _DEPTHS.upper(): f"{_READINGS}!$A$1:${right}${bottom}",
            _ENERGIES.upper(): f"{_READINGS}!$A${below}:${right}${below + self.height - 1}",
        }

    def values(self, depths: Sequence[Sequence[Any]], energies: Sequence[Sequence[Any]]) -> dict[tuple[int, int], Any]:
        """What the formulas give for these readings, by row and column."""
        readings = self._book.values[_READINGS]
        readings.clear()
        for row, values in enumerate([*depths, *energies], 1):
            readings.update({(row, column): value for column, value in enumerate(values, 1) if value is not None})
        return {(place.row, place.column): value for place, value in self._book.compute_anew().items()}

    def written(self, depths: str, energies: str, down: int) -> dict[tuple[int, int], Any]:
        """Their texts, numbers and formulas, by row and column, where they stand this many rows further down."""
        cells = {(row + down, column): content for (row, column), content in self._constants.items()}
        for (row, column), parts in self._parts.items():
            text = "".join([str(part + down) if type(part) is int else part for part in parts])
            if _GIVEN in text:
                text = text.replace(_DEPTHS, depths).replace(_ENERGIES, energies)
            cells[row + down, column] = text
        return cells


def is_formula(content: Any) -> bool:
    return isinstance(content, str) and content.startswith("=")
