"""The sheets that the quick starts have people type, read from their pages: cells with constants, formulas, and what is seen."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter, range_boundaries

_GRID = re.compile(r"^ *\| (\d+) \| (.*?) \| (.*?) \| (.*?) ?\|$", re.MULTILINE)
_TYPED = re.compile(r"^ *\| ([A-Z]\d+)(?:, fill down to ([A-Z]\d+))? \| `([^`]+)` \| ([^|]+) \|$", re.MULTILINE)
_NUMBER = re.compile(r"-?\d+(\.\d+)?")


class Typed(NamedTuple):
    """What is typed into a cell, how far it is filled down, and what the first cell shows."""

    cell: str
    last: str | None
    text: str
    seen: str


def constant(text: str) -> Any:
    return float(text) if _NUMBER.fullmatch(text) else text


def grid(page: str) -> dict[str, Any]:
    """The cells of the table whose columns are A, B, C and whose rows are numbered."""
    return {f"{letter}{row}": constant(text) for row, *texts in _GRID.findall(page) for letter, text in zip("ABC", texts) if text}


def typed(page: str) -> list[Typed]:
    return [Typed(cell, last or None, text, seen) for cell, last, text, seen in _TYPED.findall(page)]


def with_commas(text: str) -> str:
    """A formula as Excel stores it."""
    return text.replace(";", ",")


def filled(page: str, stored=lambda text: text) -> Workbook:
    """The workbook after the steps of a page; `stored` turns a formula into what a program stores."""
    book = Workbook()
    sheet = book.active
    for cell, value in grid(page).items():
        sheet[cell] = value
    for entry in typed(page):
        text = stored(with_commas(entry.text)) if entry.text.startswith("=") else constant(entry.text)
        sheet[entry.cell] = text
        if entry.last:
            column, first, _, last = range_boundaries(f"{entry.cell}:{entry.last}")
            for row in range(first + 1, last + 1):
                cell = f"{get_column_letter(column)}{row}"
                sheet[cell] = Translator(text, origin=entry.cell).translate_formula(cell)
    return book
