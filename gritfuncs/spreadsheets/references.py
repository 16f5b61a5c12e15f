"""Cells and rectangles of cells, and how formulas spell them: as an address, or by how far away they are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from openpyxl.utils import column_index_from_string, get_column_letter

LAST_ROW, LAST_COLUMN = 1_048_576, 16_384

_MOST_PARTED = 4096  # formulas whose parts are kept

_WHERE = r"(?:(?:'((?:[^']|'')+)'|([^'!]+))!)?"  # the sheet
_CELL = r"R(\[-?\d+\]|\d+)C(\[-?\d+\]|\d+)"
_CELLS = re.compile(rf"{_WHERE}{_CELL}(?::{_CELL})?")
_COLUMNS = re.compile(rf"{_WHERE}\$?([A-Z]{{1,3}}):\$?([A-Z]{{1,3}})", re.IGNORECASE)
_ROWS = re.compile(rf"{_WHERE}\$?(\d{{1,7}}):\$?(\d{{1,7}})")
# Texts, sheet names and what stands in square brackets are passed over; so are names that only look like addresses.
_ADDRESS = re.compile(
    r'"(?:[^"]|"")*"|' + r"'(?:[^']|'')*'" + r"|\[[^\]]*\]"
    r"|(?<![\w.$\\?])(\$?)([A-Z]{1,3})(\$?)([1-9]\d{0,6})(?![\w.(!\\?#])",
    re.IGNORECASE,
)


_DISTANCE = re.compile(r'"(?:[^"]|"")*"|' + r"'(?:[^']|'')*'" + rf"|(?<![\w.$\\?]){_CELL}(?![\w.(!\\?#])|\[[^\]]*\]")


class Place(NamedTuple):
    """A cell; prints as its reference."""

    sheet: str
    row: int
    column: int

    @property
    def address(self) -> str:
        return f"{get_column_letter(self.column)}{self.row}"

    def __str__(self) -> str:
        return f"{self.sheet}!{self.address}"


class Range(NamedTuple):
    """A rectangle of cells on a sheet, first and last included."""

    sheet: str
    left: int
    top: int
    right: int
    bottom: int

    @property
    def height(self) -> int:
        return self.bottom - self.top + 1

    @property
    def width(self) -> int:
        return self.right - self.left + 1

    def places(self) -> Iterator[tuple[str, int, int]]:
        """Its cells, row by row, each equal to its Place."""
        return product((self.sheet,), range(self.top, self.bottom + 1), range(self.left, self.right + 1))


class Reference(NamedTuple):
    """A rectangle as a formula refers to it; where a side is 1 in `moves`, it counts from the formula's own cell."""

    sheet: str | None
    left: int
    top: int
    right: int
    bottom: int
    moves: tuple[int, int, int, int]

    def seen_from(self, sheet: str, row: int, column: int) -> Range:
        """The cells meant by a formula in this row and column; `sheet` where the reference names none."""
        left, top, right, bottom = self.moves
        left, right = self.left + left * column, self.right + right * column
        top, bottom = self.top + top * row, self.bottom + bottom * row
        if left > right:
            left, right = right, left
        if top > bottom:
            top, bottom = bottom, top
        return Range(sheet, left, top, right, bottom)


def relative(formula: str, row: int, column: int) -> str:
    """The formula with its addresses written as distances from its cell (R1C1 notation), dollar signs as fixed numbers.

    Formulas that differ in nothing but their cell become the same text.
    """

    def spelled(match: re.Match[str]) -> str:
        fixed_column, letters, fixed_row, digits = match.groups()
        if digits is None:
            return match[0]
        across, down = _column(letters), int(digits)
        if across > LAST_COLUMN or down > LAST_ROW:
            return match[0]
        return f"R{down if fixed_row else f'[{down - row}]'}C{across if fixed_column else f'[{across - column}]'}"

    return _ADDRESS.sub(spelled, formula)


def placed(formula: str, row: int, column: int) -> str:
    """A formula that `relative` has written with distances, as it reads in a cell; ValueError beyond the edge of a sheet."""
    first, addresses = _parted(formula)
    found = [first]
    for down, down_moves, across, across_moves, behind in addresses:
        down, across = down + down_moves * row, across + across_moves * column
        if not (1 <= down <= LAST_ROW and 1 <= across <= LAST_COLUMN):
            raise ValueError("a reference leads beyond the edge of the sheet")
        found.append(f"{'' if across_moves else '$'}{get_column_letter(across)}{'' if down_moves else '$'}{down}{behind}")
    return "".join(found)


@lru_cache(maxsize=_MOST_PARTED)
def _parted(formula: str) -> tuple[str, list[tuple[int, bool, int, bool, str]]]:
    """What stands before the first address of a formula with distances; then of each address row, whether it counts from the
    formula's own, column, whether that does, and what stands behind the address."""
    matches = [match for match in _DISTANCE.finditer(formula) if match[1]]
    ends = [match.start() for match in matches[1:]] + [len(formula)]
    addresses = [
        (int(down.strip("[]")), "[" in down, int(across.strip("[]")), "[" in across, formula[match.end() : end])
        for match, end in zip(matches, ends)
        for down, across in (match.groups(),)
    ]
    return formula[: matches[0].start()] if matches else formula, addresses


@lru_cache(maxsize=LAST_COLUMN)
def _column(letters: str) -> int:
    return column_index_from_string(letters)


def reference(text: str) -> Reference | None:
    """What a reference in R1C1 notation, or one to whole rows or columns, means; None for any other text."""
    if match := _CELLS.fullmatch(text):
        top, left, bottom, right = match.groups()[2:]
        sides = left, top, right or left, bottom or top
        numbers = [int(side.strip("[]")) for side in sides]
        return Reference(_title(match), *numbers, tuple(int(side.startswith("[")) for side in sides))
    if match := _COLUMNS.fullmatch(text):
        return Reference(_title(match), _column(match[3]), 1, _column(match[4]), LAST_ROW, (0, 0, 0, 0))
    if match := _ROWS.fullmatch(text):
        return Reference(_title(match), 1, int(match[3]), LAST_COLUMN, int(match[4]), (0, 0, 0, 0))
    return None


def is_one_cell(text: str) -> bool:
    """Whether a text is a reference, in R1C1 notation, to a single cell."""
    match = _CELLS.fullmatch(text)
    return match is not None and match[5] is None


def _title(match: re.Match[str]) -> str | None:
    title = match[1] or match[2]
    return title and title.replace("''", "'")
