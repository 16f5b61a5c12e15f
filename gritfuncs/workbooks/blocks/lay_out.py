"""Cells from named formulas: a list of values with label and unit, and a table below it with one row a reading.

In a formula {name} is the value of that name, a column of another block or whatever else is known; [column] is the cell of a column in the
same row, [column-] the one above, [column+] the one below, [column^] the column down to this row, [column:] the whole column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from types import ModuleType
from typing import Any

from openpyxl.utils import coordinate_to_tuple, get_column_letter, quote_sheetname

Value = tuple[str, str, str, str]  # name, label, unit, formula
Column = tuple[str, str, str]  # name, label, formula
_SPANS = {"": "{0}{1}", "-": "{0}{2}", "+": "{0}{3}", ":": "${0}${4}:${0}${5}", "^": "{0}${4}:{0}{1}"}


@dataclass(frozen=True)
class Places:
    """Where the values and the columns of a block stand: on the sheet of that name, from the anchor on."""

    value_names: tuple[str, ...]
    column_names: tuple[str, ...]
    rows: int
    sheet_name: str
    anchor: str

    @cached_property
    def _corner(self) -> tuple[int, int]:
        return coordinate_to_tuple(self.anchor)

    @cached_property
    def head(self) -> int:
        """The row with the labels of the columns."""
        return self._corner[0] + len(self.value_names) + 3

    @property
    def first(self) -> int:
        """The row of the first reading; between it and the head stands a row of zeros."""
        return self.head + 2

    @property
    def last(self) -> int:
        return self.head + 1 + self.rows

    @property
    def below(self) -> str:
        """The anchor of a block below this one."""
        return f"{get_column_letter(self._corner[1])}{self.last + 3}"

    def letter(self, column: str) -> str:
        """The letter of a column, of `no` for that of the numbers."""
        return get_column_letter(self._corner[1] + ("no", *self.column_names).index(column))

    def row(self, value: str) -> int:
        return self._corner[0] + 2 + self.value_names.index(value)

    def here(self) -> dict[str, str]:
        """The values by their addresses on the same sheet."""
        return {name: self._place(name) for name in self.value_names}

    def _place(self, value: str) -> str:
        return f"${get_column_letter(self._corner[1] + 1)}${self.row(value)}"

    def column(self, name: str) -> str:
        """The address of a column with the sheet."""
        letter = self.letter(name)
        return f"{quote_sheetname(self.sheet_name)}!${letter}${self.first}:${letter}${self.last}"

    def value(self, name: str) -> str:
        """The address of a value with the sheet."""
        return f"{quote_sheetname(self.sheet_name)}!{self._place(name)}"


def last_step(cells: Mapping[str, Any], title: int) -> int:
    """The last row of the list of values of a block in column A: blank rows part it from its title and from the table below."""
    return next(row for row in count(title + 2) if f"A{row + 1}" not in cells)


def constants(*modules: ModuleType) -> dict[str, str]:
    """The public numbers in capital letters of modules, as formulas hold them."""
    known = {name: value for module in modules for name, value in vars(module).items() if name.isupper()}
    return {name: repr(value).upper() for name, value in known.items() if isinstance(value, (int, float))}


def places(values: Sequence[Value], columns: Sequence[Column], rows: int, sheet_name: str, anchor: str) -> Places:
    """Where a block of these values and columns will stand."""
    names = tuple(name for name, *_ in values), tuple(name for name, *_ in columns)
    return Places(*names, rows, sheet_name, anchor)


def lay_out(
    at: Places,
    values: Sequence[Value],
    columns: Sequence[Column],
    known: Mapping[str, str],
    note: str,
    before_first: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The cells of a block by address; before_first says what stands above the first reading where it is not 0."""
    top, left = coordinate_to_tuple(at.anchor)
    known = {**known, **at.here()}
    letters = {key: at.letter(key) for key in ("no", *at.column_names)}
    all_formulas = "".join(column[2] for column in columns)

    def written(formula: str, row: int = at.first) -> str:
        def reference(match: re.Match[str]) -> str:
            name, key, span = match.groups()
            if name:
                return known[name]
            return _SPANS[span].format(letters[key], row, row - 1, row + 1, at.first, at.last)

        return "=" + re.sub(r"\{(\w+)\}|\[(\w+)([-+:^]?)\]", reference, formula)

    cells: dict[str, Any] = {f"{get_column_letter(left)}{top}": note}
    for name, label, unit, formula in values:
        for offset, content in enumerate((label, written(formula), unit)):
            cells[f"{get_column_letter(left + offset)}{at.row(name)}"] = content
    for key, label in [("no", "reading no."), *(column[:2] for column in columns)]:
        cells[f"{letters[key]}{at.head}"] = label
    for key, _, formula in columns:
        for row in range(at.first, at.last + 1):
            cells[f"{letters[key]}{row}"] = written(formula, row)
        if f"[{key}-]" in all_formulas:
            cells[f"{letters[key]}{at.first - 1}"] = (before_first or {}).get(key, 0)
        if f"[{key}+]" in all_formulas:
            cells[f"{letters[key]}{at.last + 1}"] = 0
    for number, row in enumerate(range(at.first, at.last + 1), 1):
        cells[f"{letters['no']}{row}"] = number
    return cells
