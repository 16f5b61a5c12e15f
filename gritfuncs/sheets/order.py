"""What the workbooks share of their order: cautions first, sheets to work with, checks and help, calculation last."""

from __future__ import annotations

from collections.abc import Sequence

from .book import Book
from .page import Page
from .styles import INPUT_TAB, RESULT_TAB, font
from .words import CAUTION_LINES

CHECKS, HELP = "Checks", "Help"
ROWS_WIDTHS_CONVERTED = (32, 7.5, 13, 14, 13.5, 67, 14)  # of rows with the column of values in shop units
_SIGNS = 160  # of bold 9 point text in a line of these widths


def caution_lines(page: Page) -> None:
    """The cautions in full, at the head of the sheet that is seen first."""
    for caution in CAUTION_LINES:
        page.note(caution, 1 if len(caution) < _SIGNS else 2)
        page.sheet.cell(page.row - 1, 1).font = font(9, bold=True)


def arrange(book: Book, typed: Sequence[str], shown: Sequence[str], active: str) -> None:
    """Put the sheets to type in first, then those with results, all others after them as they come; open at `active`."""
    workbook = book.workbook
    for names, colour in ((typed, INPUT_TAB), (shown, RESULT_TAB)):
        for name in names:
            workbook[name].sheet_properties.tabColor = colour
    order = [*typed, *shown]
    workbook._sheets = [workbook[name] for name in order] + [sheet for sheet in workbook if sheet.title not in order]
    workbook.active = workbook[active]
    for sheet in workbook:
        sheet.sheet_view.tabSelected = sheet.title == active
