"""The cells of a workbook's sheet as rows, for a log that was saved as .xlsx or .ods."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable
from functools import partial
from pathlib import Path
from typing import Any

from ...refused import Refused
from ...values import shown
from ..rows import one_line
from .clock import DAY, STAMP
from .columns import number_of

ENDINGS = (".xlsx", ".xlsm", ".ods")
_DURATION = re.compile(r"PT(?:(\d+)H)?(?:(\d+)M)?(?:(\d+(?:[.,]\d+)?)S)?")  # of an .ods: a clock time


def rows_of(path: Path, sheet: str | None) -> tuple[list[list[Any]], list[list[Any]], set[int]]:
    """Rows above the data, rows of data, and the columns that hold dates or times by their number format."""
    sheets, dates = (_open_document if path.suffix.lower() == ".ods" else _package)(path)
    names = {name.lower(): name for name in sheets}
    if sheet is not None and sheet.lower() not in names:
        raise Refused("sheet", f"be one of {one_line(', '.join(map(repr, sheets)))}", shown(sheet))
    found = []
    for name in sheets if sheet is None else [names[sheet.lower()]]:
        rows, styled = [], {}
        for row in sheets[name]():
            cells = {column: _value(cell) for column, cell in row.cells.items()}
            for column, cell in row.cells.items():
                if isinstance(cells[column], float):
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


def _package(path: Path) -> tuple[dict[str, Callable[[], Iterable[Any]]], Container[int]]:
    """What gives the rows of each sheet, and the styles that show dates."""
    from ...spreadsheets.package import read_package, sheet_parts
    from ...spreadsheets.stored_cells import date_styles, shared_strings, stored_rows

    package = read_package(path, one_line(path.name))
    strings = shared_strings(package)
    sheets = {name: partial(stored_rows, package, part, strings) for name, part in sheet_parts(package).items()}
    return sheets, date_styles(package)


def _open_document(path: Path) -> tuple[dict[str, Callable[[], Iterable[Any]]], Container[int]]:
    from ...spreadsheets.open_document import read_document

    document = read_document(path, one_line(path.name))
    return {name: partial(iter, rows) for name, rows in document.sheets.items()}, ()


def _value(cell: Any) -> Any:
    """A number, text or truth value; None for what cannot be read, such as an error."""
    clock = _DURATION.fullmatch(cell.value) if cell.kind == "d" and isinstance(cell.value, str) else None
    if clock:
        hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in clock.groups())
        return (hours * 3600 + minutes * 60 + seconds) / DAY
    return cell.value if isinstance(cell.value, (float, str, bool)) else None


def _is_data(row: list[Any]) -> bool:
    filled = [cell for cell in row if cell not in (None, "")]
    good = sum(
        isinstance(cell, (float, bool)) or isinstance(cell, str) and (number_of(cell) is not None or bool(STAMP.fullmatch(cell)))
        for cell in filled
    )
    return bool(filled) and any(isinstance(cell, float) for cell in filled) and good >= 0.6 * len(filled)
