"""Workbooks: the stored values of their cells, and of the cells that have names; and the table of readings on a sheet."""

from __future__ import annotations

import datetime
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Callable

from ..refused import Refused
from ..values import finite_in, is_blank, shown
from .inputs import FIRST_DAY, LAST_DAY
from .layout import Layout, NoTable, find_layout
from .lines_around import lines_around
from .numbers import only_number
from .readings import Unreadable
from .rows import MAX_ROWS, Measured, Row, filled, one_line
from .table import Table, table_of

if TYPE_CHECKING:
    from ..spreadsheets.number_formats import Display

ENDINGS = (".xlsx", ".xlsm", ".ods")
UNCALCULATED = Unreadable("a formula without a stored value: open the file in a spreadsheet program and save it")
_EXACT = 2**53  # whole numbers up to here are shown without a decimal point


def table(
    path: Path,
    book: Workbook,
    sheet: str | None,
    columns: Mapping[str, str] | None,
    load_kind: str | None,
    heading_row: int | None = None,
) -> Table:
    """What the only sheet with readings, or the one that is asked for, holds."""
    names = {name.lower(): name for name in book.sheets}
    if sheet is not None and sheet.lower() not in names:
        raise Refused("sheet", f"be one of {one_line(', '.join(map(repr, book.sheets)))}", shown(sheet))
    wanted = book.sheets if sheet is None else [names[sheet.lower()]]
    fitting, problems = [], [NoTable("have a sheet with cells", nearness=-1)]
    for name in wanted:
        try:
            rows = book.rows(name)
            fitting.append((name, rows, find_layout(rows, columns, load_kind, _is_number, heading_row)))
        except NoTable as problem:
            problems.append(problem)
    if not fitting:
        raise max(problems, key=lambda problem: problem.nearness)
    if len(fitting) > 1:
        both = " and ".join(f"{name!r:.60}" for name, _, _ in fitting[:2])
        raise Refused("sheet", f"be chosen: {both} both have readings")
    name, rows, layout = fitting[0]
    source = f"{one_line(path.name)}, sheet {one_line(name)}"
    lead, rows = lines_around(rows, layout, _is_number)
    lines = {word: line._replace(value=typed(line.value)) for word, line in lead.lines.items()}
    rows = _filled_down(rows, layout, book.merged(name))
    return table_of(source, rows, layout, lead._replace(lines=lines), lambda cell: cell)


def _filled_down(rows: list[Row], layout: Layout, merged: list[tuple[int, int, int]]) -> list[Row]:
    """The rows, those of readings with what a cell that is merged over several of them holds.

    A row that has neither rpm nor load for itself is none of a reading, but of something beside it.
    """
    across = layout.columns["grit_depth" if "grit_depth" in layout.columns else "work_rpm"]
    upward = layout.columns[layout.load or "specific_energy"]
    found, numbers = list(rows), [row.number for row in rows]
    for column, first, last in merged:
        top = bisect_left(numbers, first, layout.start)
        value = rows[top].cell(column) if first in numbers[top : top + 1] else None
        for place in range(top + 1, bisect_right(numbers, last, layout.start)) if not is_blank(value) else ():
            row = rows[place]
            is_reading = not (is_blank(row.cell(across)) and is_blank(row.cell(upward)))
            if is_reading and is_blank(row.cell(column)):
                cells = [*found[place].cells, *[None] * (column + 1 - len(found[place].cells))]
                cells[column] = value
                found[place] = found[place]._replace(cells=cells)
    return found


def typed(value: Any) -> Any:
    """The number in a text such as "15 µm/s" of which the unit was taken, where it can mean but one."""
    number = only_number(value) if isinstance(value, str) else None
    return value if number is None else number


def _is_number(cell: Any) -> bool:
    return finite_in(cell) is not None


class Workbook:
    """Sheets as rows of stored values, of an .xlsx, .xlsm or .ods file."""

    def __init__(self, path: Path):
        opened = _open_document if path.suffix.lower() == ".ods" else _package
        self._stored, self._names, self._merged, self._dates, self._displays = opened(path)
        self._rows: dict[str, list[Row]] = {}

    @property
    def sheets(self) -> list[str]:
        return list(self._stored)

    def rows(self, sheet: str) -> list[Row]:
        """The filled rows of a sheet.

        Hidden rows and columns count like the others; of merged cells the first holds the value.
        """
        if sheet not in self._rows:
            self._rows[sheet] = filled(self._read(sheet))
        return self._rows[sheet]

    def _read(self, sheet: str) -> Iterator[Row]:
        last = 0
        for number, cells in self._stored[sheet]():
            found = {
                column: value
                for column, value in ((column, self._value(cell)) for column, cell in cells.items())
                if value is not None
            }
            if found:
                yield Row(number, [found.get(column) for column in range(1, max(found) + 1)], number - last - 1)
                last = number

    def merged(self, sheet: str) -> list[tuple[int, int, int]]:
        """Column (from 0), first and last row of the cells of a sheet that are merged over several rows."""
        from openpyxl.utils.cell import range_boundaries

        found = set()
        for where in self._merged[sheet]():
            try:
                left, top, _, bottom = range_boundaries(where)
            except (ValueError, TypeError):
                continue
            if None not in (left, top, bottom) and bottom > top:
                found.add((left - 1, top, bottom))
        return sorted(found)

    @cached_property
    def names(self) -> dict[str, tuple[str, str]]:
        """Sheet and range of each defined name that stands for one range; names in lower case."""
        return self._names()

    def _place(self, name: str) -> tuple[str, tuple[int, int, int, int]]:
        """Sheet, and first column, first row, last column, last row of a defined name; Refused where it names no range."""
        from openpyxl.utils.cell import range_boundaries

        sheet, where = self.names.get(name, ("", ""))
        try:
            left, top, right, bottom = range_boundaries(where)
            if None in (left, top, right, bottom) or sheet not in self.sheets or bottom - top >= MAX_ROWS:
                raise ValueError
        except (ValueError, TypeError):
            raise Refused(name, f"name a range of at most {MAX_ROWS} rows of cells in one sheet") from None
        return sheet, (left, top, right, bottom)

    def named(self, name: str) -> list[list[Any]]:
        """The cells of a defined name, row by row."""
        sheet, (left, top, right, bottom) = self._place(name)
        filled_rows = {row.number: row for row in self.rows(sheet)}
        rows = [filled_rows.get(number, Row(number, ())) for number in range(top, bottom + 1)]
        return [[row.cell(column - 1) for column in range(left, right + 1)] for row in rows]

    def beside(self, name: str, unless_stored: str = "") -> str:
        """The text in the cell right of a name of one cell; "" where there is none, `unless_stored` where it was never computed."""
        sheet, (left, top, right, bottom) = self._place(name)
        row = next((row for row in self.rows(sheet) if row.number == top), Row(0, ()))
        text = row.cell(right) if (left, top) == (right, bottom) else None
        if text is UNCALCULATED:
            return unless_stored
        return text if isinstance(text, str) else ""

    def day(self, name: str) -> datetime.date | None:
        """The date in a named cell, None where there is none."""
        from openpyxl.utils.datetime import from_excel

        sheet, (left, top, _, _) = self._place(name)
        value = next((cells[left].value for number, cells in self._stored[sheet]() if number == top and left in cells), None)
        return from_excel(value).date() if isinstance(value, float) and FIRST_DAY <= value <= LAST_DAY else None

    def _value(self, cell) -> Any:
        from ..spreadsheets.cell_values import CellError

        value = cell.value
        if value is None or value == "" and cell.kind != "str":
            # a formula that gives an empty text is stored as one; one that was never calculated stores nothing
            return UNCALCULATED if cell.is_formula else None
        if isinstance(value, CellError):
            return Unreadable(str(value))
        if cell.kind == "d" or isinstance(value, float) and cell.style in self._dates:
            return Unreadable("a date or time", _day_of(value))
        if isinstance(value, float) and cell.style in self._displays:
            return Measured(value, *self._displays[cell.style])
        if isinstance(value, float) and value.is_integer() and abs(value) <= _EXACT:
            return int(value)
        return None if is_blank(value) else value


def _day_of(value: Any) -> str:
    """The day of a date cell as 2026-11-05, "" where it is none of this century."""
    from openpyxl.utils.datetime import from_excel

    if isinstance(value, str):
        return value[:10]
    return from_excel(value).date().isoformat() if FIRST_DAY <= value <= LAST_DAY else ""


_Stored = dict[str, Callable[[], Iterator[Any]]]  # how to read the rows of each sheet
_Names = Callable[[], dict[str, tuple[str, str]]]
_Merged = dict[str, Callable[[], list[str]]]  # how to find the merged ranges of each sheet


def _package(path: Path) -> tuple[_Stored, _Names, _Merged, frozenset[int], dict[int, Display]]:
    """What an .xlsx or .xlsm file stores."""
    from ..spreadsheets.package import read_package, sheet_parts
    from ..spreadsheets.stored_cells import date_styles, displays, merged_ranges, shared_strings, stored_rows

    package = read_package(path, one_line(path.name))
    strings = shared_strings(package)
    parts = sheet_parts(package)
    stored = {title: partial(stored_rows, package, part, strings) for title, part in parts.items()}
    merged = {title: partial(merged_ranges, package, part) for title, part in parts.items()}
    return stored, partial(_package_names, package), merged, date_styles(package), displays(package)


def _package_names(package: Any) -> dict[str, tuple[str, str]]:
    from openpyxl.workbook.defined_name import DefinedName

    from ..spreadsheets.stored_cells import defined_names

    found = {}
    for name, meaning in defined_names(package).get(None, {}).items():
        try:
            places = list(DefinedName(name, attr_text=meaning).destinations)
        except Exception:  # noqa: BLE001 - a name may hold any formula
            places = []
        found[name.lower()] = places[0] if len(places) == 1 else ("", "")
    return found


def _open_document(path: Path) -> tuple[_Stored, _Names, _Merged, frozenset[int], dict[int, Display]]:
    """What an .ods file stores."""
    from ..spreadsheets.open_document import read_document

    document = read_document(path, one_line(path.name))
    stored: _Stored = {title: partial(iter, rows) for title, rows in document.sheets.items()}
    merged = {title: partial(list, ranges) for title, ranges in document.merged.items()}
    return stored, lambda: document.names, merged, frozenset(), document.displays
