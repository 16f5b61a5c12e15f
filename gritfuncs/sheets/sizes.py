"""How high rows are for the text in them, and how wide columns are together."""

from __future__ import annotations

from openpyxl.utils import get_column_letter

LINE_HEIGHT = 13.5  # points of one line of 10 point text
GAP = 7  # points above a heading
PLAIN_WIDTH = 9  # of a column without a width of its own, in signs


def row_height(signs: int, in_a_line: int) -> float:
    """Points that so many signs of text need."""
    return LINE_HEIGHT * max(1, -(-signs // in_a_line)) + 1.5


def column_width(sheet, column: int) -> float:
    letter = get_column_letter(column)
    return sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else PLAIN_WIDTH


def columns_for(sheet, width: float, least: int) -> int:
    """How many columns are as wide as that together, at least so many."""
    columns = 0
    while width > 0:
        columns += 1
        width -= column_width(sheet, columns)
    return max(columns, least)
