"""The cells of a workbook's sheet as rows, for a log that was saved as .xlsx."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...quantities import shown
from ...refused import Refused
from ..rows import one_line
from .clock import STAMP
from .columns import number_of

ENDINGS = (".xlsx", ".xlsm")


def rows_of(path: Path, sheet: str | None) -> tuple[list[list[Any]], list[list[Any]], set[int]]:
    """Rows above the data, rows of data, and the columns that hold dates or times by their number format."""
    from ...spreadsheets.package import read_package, sheet_parts
    from ...spreadsheets.stored_cells import date_styles, shared_strings, stored_rows

    package = read_package(path, one_line(path.name))
    parts = sheet_parts(package)
    strings, dates = shared_strings(package), date_styles(package)
    names = {name.lower(): name for name in parts}
    if sheet is not None and sheet.lower() not in names:
        raise Refused("sheet", f"be one of {one_line(', '.join(map(repr, parts)))}", shown(sheet))
    found = []
    for name in parts if sheet is None else [names[sheet.lower()]]:
        rows, styled = [], {}
        for row in stored_rows(package, parts[name], strings):
            cells = {column: _value(cell) for column, cell in row.cells.items()}
            for column, cell in row.cells.items():
                if isinstance(cell.value, float):
                    styled[column - 1] = cell.kind == "d" or cell.style in dates
            if cells:
                rows.append([cells.get(column) for column in range(1, max(cells) + 1)])
        first = next(
            (place for place, row in enumerate(rows) if _is_data(row) and all(map(_is_data, rows[place + 1 : place + 3]))), None
        )
        if first is not None and len(rows) - first >= 3:
            found.append(
                (len(rows) - first, rows[:first], rows[first:], {column for column, is_date in styled.items() if is_date})
            )
    if not found:
        raise Refused("", "have a sheet with rows of numbers")
    return max(found, key=lambda one: one[0])[1:]


def _value(cell: Any) -> Any:
    """A number, text or truth value; None for what cannot be read, such as an error."""
    return cell.value if isinstance(cell.value, (float, str, bool)) else None


def _is_data(row: list[Any]) -> bool:
    filled = [cell for cell in row if cell not in (None, "")]
    good = sum(
        isinstance(cell, (float, bool)) or isinstance(cell, str) and (number_of(cell) is not None or bool(STAMP.fullmatch(cell)))
        for cell in filled
    )
    return bool(filled) and any(isinstance(cell, float) for cell in filled) and good >= 0.6 * len(filled)
