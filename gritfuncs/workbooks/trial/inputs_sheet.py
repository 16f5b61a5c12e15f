"""The sheet Inputs of trial.xlsx: the cautions, what every trial needs, and below a line what can stay as it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...sheets.book import Book
from ...sheets.order import ROWS_WIDTHS_CONVERTED
from ...sheets.page import Page
from ...sheets.sizes import GAP
from ...sheets.styles import HEAD_FILL, INPUT_TAB, font
from ...sheets.words import CAUTION_LINES, DENSITY
from ...trial.inputs import MORE, NEEDED
from .tables import INPUTS

_CAUTION_SIGNS = 185  # in a line


def inputs_sheet(book: Book, values: Mapping[str, Any]) -> None:
    page = book.page(INPUTS, "Inputs of the trial", ROWS_WIDTHS_CONVERTED)
    page.sheet.sheet_properties.tabColor = INPUT_TAB
    for caution in CAUTION_LINES:
        page.note(caution, -(-len(caution) // _CAUTION_SIGNS))
        page.sheet.cell(page.row - 1, 1).font = font(9, bold=True)
    page.rows_head(True)
    _groups(page, NEEDED, values)
    page.sheet.row_dimensions[page.row].height = GAP
    page.row += 1
    page.begin()
    for column in range(1, len(ROWS_WIDTHS_CONVERTED) + 1):
        page.sheet.cell(page.row, column).fill = HEAD_FILL
    page.sheet.cell(page.row, 1, "What follows can stay as it is.").font = font(11, bold=True)
    page.row += 1
    page.rows_head(True)
    _groups(page, MORE, values)
    page.sheet.freeze_panes = "A3"


def _groups(page: Page, groups: Mapping[str, Any], values: Mapping[str, Any]) -> None:
    for title, group in groups.items():
        page.begin()
        if title:
            page.sheet.cell(page.row, 1, title).font = font(10, bold=True)
            page.row += 1
        if title == "Grits":
            page.note(DENSITY, 2)
        for given in group:
            page.given(given, values[given.name])
