"""The cells that stand in for a knee in a shared workbook: one column a knee, alike for all trials of a length.

The block of `workbooks.blocks.knee` is turned so that it stands in one column: its list of values as it is, the columns of
its table below it, one under the other.  What is the same for all knees, labels and numbers, stands beside it once.  The
formulas of every knee differ in nothing but their column and the readings they look at, so they are understood once,
written once for a whole row of knees, and computed for one trial after another.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from openpyxl.utils import coordinate_to_tuple, get_column_letter

from ..knee import FOUND
from ..spreadsheets.evaluate import Book, Place
from ..spreadsheets.references import placed, relative
from ..workbooks.blocks.knee import MOST_ROWS, knee_block

RESULTS = {
    "GRIT_KNEE_VERDICT": "verdict",
    "GRIT_KNEE": "knee",
    "GRIT_KNEE_LOW": "low",
    "GRIT_KNEE_HIGH": "high",
    "GRIT_KNEE_LEVEL": "level",
}
LABEL, NUMBER, FIRST_KNEE = 1, 2, 3  # columns: for people, the numbers that all knees share, and the first knee of many
DEPTHS, ENERGIES = 1, 2  # rows that say which readings a knee is of

_GIVEN = "grit_the_"
_DEPTHS, _ENERGIES = _GIVEN + "depths", _GIVEN + "energies"  # stand for the ranges until they are known
_READINGS, _HERE = "Readings", "Here"
_ADDRESS = re.compile(r'"[^"]*"|(?<![\w.])\$?([A-Z]{1,2})\$?(\d+)(?![\w(])')  # in the formulas of a block


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
    """The results as formulas elsewhere take them, the row for `unchanged`, and the steps that find them, from row 1 down.

    A result is a number only from a knee found, and only while the ranges keep their size.
    """

    def __init__(self, height: int, width: int):
        self.height, self.width = height, width
        self.rows = {name: row for row, name in enumerate(RESULTS, ENERGIES + 1)}  # of the results
        self.unchanged = ENERGIES + len(RESULTS) + 1  # the row that is left for it
        self.labels = {
            DEPTHS: "depths",
            ENERGIES: "energies",
            **{row: f"in place of {name}" for name, row in self.rows.items()},
            self.unchanged: "readings as they were when a report was written (1 yes)",
            self.unchanged
            + 1: "The results are #N/A where no knee is found, and when rows were put into the ranges or taken out.",
        }
        self.numbers: dict[int, float] = {}  # by row
        formulas: dict[int, str] = {}
        block = knee_block(_DEPTHS, _ENERGIES, max(height, width), sheet_name=_HERE)
        turned = _Turned(block.cells, self.unchanged + 3)
        for place, content in block.cells.items():
            row = turned.row(*coordinate_to_tuple(place))
            if is_formula(content):
                formulas[row] = turned.formula(content)
            elif not isinstance(content, str):
                self.numbers[row] = float(content)
        for name, row in self.rows.items():
            shown, verdict = (turned.formula(block.results[result].rpartition("!")[2]) for result in (RESULTS[name], "verdict"))
            if name != "GRIT_KNEE_VERDICT":
                shown = f'IF({verdict}="{FOUND}",{shown},NA())'
            formulas[row] = f"=IF(AND({kept(_DEPTHS, _ENERGIES, height, width)}),{shown},NA())"
        self.labels.update(turned.labels())
        self.length = max(formulas.keys() | self.labels.keys())
        self.filled = len(formulas) + 2  # cells of one knee
        self._formulas = {row: relative(formula, row, FIRST_KNEE) for row, formula in formulas.items()}
        self.own = [row for row, formula in self._formulas.items() if _GIVEN in formula]  # that look at the readings
        self._book = self._filled_book(formulas)

    def _filled_book(self, formulas: dict[int, str]) -> Book:
        right, bottom, below = get_column_letter(self.width), self.height, self.height + 1
        names = {
            _DEPTHS.upper(): f"{_READINGS}!$A$1:${right}${bottom}",
            _ENERGIES.upper(): f"{_READINGS}!$A${below}:${right}${below + self.height - 1}",
        }
        book = Book({None: names})
        book.add_sheet(_READINGS, {})
        book.add_sheet(_HERE, {(row, NUMBER): number for row, number in self.numbers.items()})
        for row, formula in formulas.items():
            book.put(Place(_HERE, row, FIRST_KNEE), formula)
        return book

    def values(self, depths: Sequence[Sequence[Any]], energies: Sequence[Sequence[Any]]) -> dict[int, Any]:
        """What the formulas give for these readings, by row."""
        readings = self._book.values[_READINGS]
        readings.clear()
        for row, values in enumerate([*depths, *energies], 1):
            readings.update({(row, column): value for column, value in enumerate(values, 1) if value is not None})
        self._book.compute_anew()
        here = self._book.values[_HERE]
        return {row: here[row, FIRST_KNEE] for row in self._formulas}

    def shared(self, down: int) -> dict[int, str]:
        """The formulas that are the same in every column, as they read in the first one, so many rows further down; by row."""
        return {row: placed(formula, row + down, FIRST_KNEE) for row, formula in self._formulas.items() if _GIVEN not in formula}

    def looking_at(self, depths: str, energies: str, down: int, column: int) -> dict[int, str]:
        """The formulas that look at the readings, in a column and so many rows further down; by row."""
        texts = {row: placed(self._formulas[row], row + down, column) for row in self.own}
        return {row: text.replace(_DEPTHS, depths).replace(_ENERGIES, energies) for row, text in texts.items()}


class _Turned:
    """Where the cells of a block stand once all of them that differ between knees are in one column, from a row on."""

    def __init__(self, cells: dict[str, Any], first: int):
        self.cells = {coordinate_to_tuple(address): content for address, content in cells.items()}
        self.first = first
        self.head = min(row for row, column in self.cells if column > 3)  # of the table; the list has three columns
        self.rows = max(row for row, _ in self.cells) - self.head  # of the table, with one before the readings and one after

    def row(self, row: int, column: int) -> int:
        """The new row of a cell."""
        row_of_table = (column - 1) * self.rows + self.head
        return self.first - 1 + (row if row < self.head else row_of_table + row - self.head - 1)

    def formula(self, formula: str) -> str:
        """A formula, or an address, with the new places of its addresses."""

        def moved(match: re.Match[str]) -> str:
            if match[1] is None:
                return match[0]
            place = coordinate_to_tuple(match[1] + match[2])
            mark = (
                f"${get_column_letter(NUMBER)}" if isinstance(self.cells[place], (int, float)) else get_column_letter(FIRST_KNEE)
            )
            return f"{mark}{self.row(*place)}"

        return _ADDRESS.sub(moved, formula)

    def labels(self) -> dict[int, str]:
        """The label of every cell, by its new row."""
        found = {}
        for (row, column), content in self.cells.items():
            if row < self.head and column == 1:
                unit = self.cells.get((row, 3))
                found[self.row(row, column)] = f"{content}, {unit}" if unit and unit != "-" else content
            elif row > self.head:
                number = row - self.head - 1
                reading = (
                    f"reading {number}"
                    if 1 <= number <= self.rows - 2
                    else "before the first"
                    if number < 1
                    else "after the last"
                )
                found[self.row(row, column)] = f"{self.cells[self.head, column]}: {reading}"
        return found


def is_formula(content: Any) -> bool:
    return isinstance(content, str) and content.startswith("=")
