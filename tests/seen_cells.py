"""What a reader sees of the cells of a sheet: the text of a number in its format, and the room that text takes and has.

Widths are those of Helvetica, which Adobe published (Core 14 AFM files, as matplotlib has them); Arial has the same.
"""

from __future__ import annotations

import datetime
import re
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import matplotlib
from fontTools.afmLib import AFM
from fontTools.agl import UV2AGL
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import from_excel

_DIGIT = 556  # thousandths of the size: the unit of column widths is a digit at 10 points
_RAISED = {"²": "twosuperior", "³": "threesuperior"}  # not in fontTools' list of names
_OTHER = 800  # of a sign that the font has not, such as an arrow
_PADDING = 5 / 7  # of the width of a column, kept free (ECMA-376 part 1, 18.3.1.13)
_LINE = 1.117  # of the size: ascender and descender of Arial together
_ROW, _COLUMN = 12.75, 9.0  # of those without their own, at 10 points


@cache
def _widths(bold: bool) -> AFM:
    return AFM(str(Path(matplotlib.get_data_path(), "fonts", "afm", "phvb8a.afm" if bold else "phvr8a.afm")))


@cache
def text_width(text: str, size: float, bold: bool) -> float:
    """Of a line, in the unit of column widths."""
    font = _widths(bold)
    signs = (_RAISED.get(sign) or UV2AGL.get(ord(sign), "") for sign in text)
    return sum(font[name][1] if font.has_char(name) else _OTHER for name in signs) / _DIGIT * size / 10


def shown(value: Any, number_format: str) -> str:
    """A value as its cell shows it where there is room; of the formats that the books use."""
    if isinstance(value, bool):
        return str(value).upper()
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, (datetime.date, datetime.datetime)) or "yyyy" in number_format:
        day = value if isinstance(value, datetime.date) else from_excel(value)
        return f"{day:%Y-%m-%d}"
    return _in_format(float(value), _section(float(value), number_format.split(";")))


def _section(value: float, sections: list[str]) -> str:
    """The part of a format that a number takes: by the conditions, else by its sign."""
    for section in sections:
        condition = re.match(r"\[([<>]=?)([\d.]+)\]", section)
        if condition and {"<": value < float(condition[2]), ">=": value >= float(condition[2])}[condition[1]]:
            return section[condition.end() :]
    plain = [section for section in sections if not section.startswith("[")]
    if len(plain) == len(sections):
        return plain[1 if value < 0 and len(plain) > 1 else 2 if value == 0 and len(plain) > 2 else 0].lstrip("-")
    return plain[0]


def _in_format(value: float, section: str) -> str:
    words = re.findall(r'"[^"]*"', section)
    number = re.sub(r'"[^"]*"', "\0", section)
    if not re.search("General|[0#?]", number):
        return section.replace('"', "")
    if "General" in number:
        text = f"{value:.6g}"
    elif "E" in number:
        text = f"{value:.{len(number.partition('E')[0].partition('.')[2])}E}"
    else:
        text = f"{value:.{sum(map(number.partition('.')[2].count, '0?#'))}f}"
    before, _, _ = number.partition("General" if "General" in number else "0")
    shown_before, shown_after = before, re.sub(r".*[0?#l](E\+0)?", "", number)
    for word in words:
        if "\0" in shown_before:
            shown_before = shown_before.replace("\0", word.strip('"'), 1)
        else:
            shown_after = shown_after.replace("\0", word.strip('"'), 1)
    return shown_before + text + shown_after


def figures(text: str) -> int:
    """How many significant digits a number shows."""
    digits = re.match(r"\D*?([\d.]+)", text)
    return len(digits[1].replace(".", "").lstrip("0")) if digits else 0


class Cell(NamedTuple):
    """A cell that shows something, the room for it and how much it takes: columns in their unit, rows in points."""

    place: str
    text: str
    is_number: bool
    is_input: bool
    is_formula: bool
    number_format: str
    bold: bool
    size: float
    wraps: bool
    shrinks: bool
    room: float
    overflow: float  # room, with that of the empty cells beside it that a text may run into
    height: float

    @property
    def width(self) -> float:
        return max(text_width(line, self.size, self.bold) for line in self.text.split("\n"))

    @property
    def lines(self) -> int:
        """How many lines the text takes where it wraps between words."""
        taken, used = 1, 0.0
        for word in self.text.split(" "):
            width = text_width(word, self.size, self.bold)
            blank = text_width(" ", self.size, self.bold) if used else 0.0
            if used and used + blank + width > self.room:
                taken, used = taken + 1, width
            else:
                used += blank + width
        return taken

    @property
    def height_of_text(self) -> float:
        return _LINE * self.size * (self.lines if self.wraps else 1)


def seen_cells(sheet, values: dict[tuple[int, int], Any]) -> list[Cell]:
    """The cells of a sheet that show something, with values by row and column."""
    merged = {(area.min_row, area.min_col): area for area in sheet.merged_cells.ranges}
    covered = {(row, column) for area in merged.values() for row, column in area.cells}
    return [
        _cell(sheet, row, column, value, values, merged.get((row, column)), covered)
        for (row, column), value in sorted(values.items())
        if value not in (None, "") and ((row, column) in merged or (row, column) not in covered)
    ]


def _cell(sheet, row, column, value, values, area, covered) -> Cell:
    cell = sheet.cell(row, column)
    last = area.max_col if area else column
    room = sum(_column_width(sheet, number) for number in range(column, last + 1)) - _PADDING
    beside = room
    if cell.alignment.horizontal in (None, "left", "general"):
        for number in range(last + 1, sheet.max_column + 20):
            if values.get((row, number)) not in (None, "") or (row, number) in covered:
                break
            beside += _column_width(sheet, number)
    elif cell.alignment.horizontal == "right":
        for number in range(column - 1, 0, -1):
            if values.get((row, number)) not in (None, "") or (row, number) in covered:
                break
            beside += _column_width(sheet, number)
    indent = 1.3 * (cell.alignment.indent or 0)
    return Cell(
        f"{sheet.title}!{cell.coordinate}",
        shown(value, cell.number_format),
        not isinstance(value, (str, bool)),
        not cell.protection.locked,
        cell.data_type == "f",
        cell.number_format,
        bool(cell.font.bold),
        float(cell.font.size),
        bool(cell.alignment.wrap_text),
        bool(cell.alignment.shrink_to_fit),
        room - indent,
        beside - indent,
        sum(_row_height(sheet, number) for number in range(row, (area.max_row if area else row) + 1)),
    )


def _column_width(sheet, column: int) -> float:
    letter = get_column_letter(column)
    return sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else _COLUMN


def _row_height(sheet, row: int) -> float:
    return (sheet.row_dimensions[row].height if row in sheet.row_dimensions else None) or _ROW
