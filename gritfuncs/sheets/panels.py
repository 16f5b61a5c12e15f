"""Panels at the head of a sheet: a label, a large number or word and two lines below it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from openpyxl.styles import Alignment

from .styles import MEDIUM, font, outline, stop_format, warning_format

NOTHING = "–"  # where there is no value to show


def row_heights(sheet, pixels: Mapping[int, float]) -> None:
    """Rows without a height shrink in LibreOffice when they are filled."""
    for row, height in pixels.items():
        sheet.row_dimensions[row].height = height * 0.75


def merged(sheet, cells: str, value: Any, style: str, **alignment: Any):
    """A text or result over several cells; never an input."""
    corner = cells.partition(":")[0]
    for row in sheet[cells]:
        for cell in row:
            cell.style = style
    sheet[corner].value = value
    if alignment:
        sheet[corner].alignment = Alignment(**alignment)
    sheet.merge_cells(cells)
    return sheet[corner]


def title(sheet, last: str) -> None:
    """The title of the book in the first row, up to a column; a long one is shown smaller."""
    merged(sheet, f"A1:{last}1", "=in_title", "gf line", horizontal="left", vertical="center", shrink_to_fit=True).font = font(
        12, bold=True
    )


def panel(
    sheet, first: str, last: str, label: str, big: str, line: str, below: str, number_format: str = "General", *, size: float = 24
) -> None:
    """The panel of rows 3 to 6 between two columns, in formula text; STOP is a dark bar, a line that begins with ! a warning."""
    for row, value, look in (
        (3, label, "gf panel label"),
        (4, "=" + big, "gf big"),
        (5, "=" + line, "gf line"),
        (6, "=" + below, "gf line"),
    ):
        merged(sheet, f"{first}{row}:{last}{row}", value, look)
    sheet[f"{first}4"].number_format, sheet[f"{first}4"].font = number_format, font(size, bold=True)
    outline(sheet, f"{first}3:{last}6", MEDIUM)
    stop_format(sheet, f"{first}4:{last}6", f'${first}$4="STOP"')
    for row in (5, 6):
        warning_format(sheet, f"{first}{row}:{last}{row}", f'LEFT(${first}${row},1)="!"')


def word_panel(sheet, first: str, last: str, label: str, word: str, reason: str) -> None:
    """The same with a word, in formula text, and what it rests on as one text over both lines."""
    merged(sheet, f"{first}3:{last}3", label, "gf panel label")
    merged(sheet, f"{first}4:{last}4", "=" + word, "gf verdict")
    merged(sheet, f"{first}5:{last}6", "=" + reason, "gf line", horizontal="left", vertical="top", wrap_text=True, indent=1)
    outline(sheet, f"{first}3:{last}6", MEDIUM)
