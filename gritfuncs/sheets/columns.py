"""A table of a sheet by the names of its columns: where a cell or a whole column stands, without a letter anywhere else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.utils import get_column_letter


@dataclass(frozen=True)
class Column:
    """A column of a table."""

    name: str
    heading: str
    width: float
    number_format: str | None = None
    is_input: bool = False
    formula: str = ""  # where it is the same in all rows but for the cells that it names in braces


class Columns:
    """The columns of a table, from its first row to its last one."""

    def __init__(self, sheet: str, columns: Sequence[Column], first_row: int, last_row: int, first_column: int = 1):
        self.sheet = f"'{sheet}'" if " " in sheet else sheet
        self.columns, self.first_row, self.last_row, self.first_column = tuple(columns), first_row, last_row, first_column
        self._numbers = {column.name: number for number, column in enumerate(self.columns, start=first_column)}

    @property
    def headings(self) -> tuple[str, ...]:
        return tuple(column.heading for column in self.columns)

    @property
    def widths(self) -> tuple[float, ...]:
        return tuple(column.width for column in self.columns)

    @property
    def formats(self) -> tuple[str | None, ...]:
        return tuple(column.number_format for column in self.columns)

    @property
    def inputs(self) -> tuple[int, ...]:
        """The numbers of the columns to fill in."""
        return tuple(self._numbers[column.name] for column in self.columns if column.is_input)

    def letter(self, name: str) -> str:
        return get_column_letter(self._numbers[name])

    def here(self, name: str, row: int) -> str:
        """A cell of a row, for a formula on the same sheet."""
        return f"{self.letter(name)}{row}"

    def row_here(self, row: int) -> dict[str, str]:
        """The cells of a row by the names of the columns, for formulas on the same sheet."""
        return {column.name: self.here(column.name, row) for column in self.columns}

    def row_cells(self, row: int) -> dict[str, str]:
        """The same for formulas on any sheet."""
        return {column.name: self.cell(column.name, row) for column in self.columns}

    def cell(self, name: str, row: int) -> str:
        """A cell of a row, for a formula on any sheet."""
        return f"{self.sheet}!{self.here(name, row)}"

    def range(self, first: str, last: str = "") -> str:
        """The cells of a column, or from one column to another one, on the sheet."""
        return f"{self.here(first, self.first_row)}:{self.here(last or first, self.last_row)}"

    def area(self, name: str) -> str:
        """The cells of a column, for a formula on any sheet."""
        return f"{self.sheet}!{self.area_here(name)}"

    def area_here(self, name: str) -> str:
        """The same for a formula in any cell of the sheet."""
        letter = self.letter(name)
        return f"${letter}${self.first_row}:${letter}${self.last_row}"


def filled_up(name: str, values: Sequence[Any], most: int, what: str = "values") -> list[Any]:
    """The values of an input and, up to the most that its cells take, None; more are refused."""
    if len(values) > most:
        raise ValueError(f"{name} must be at most {most} {what} (got {len(values)})")
    return [*values, *(None,) * (most - len(values))]
