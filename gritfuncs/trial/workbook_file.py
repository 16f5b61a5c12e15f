"""Workbooks: the stored values of their cells, and of the cells that have names."""
import warnings
from datetime import date, datetime, time, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any, Dict, List, Tuple

from .readings import Unreadable, is_blank
from .rows import MAX_ROWS, Row, TooManyRows, filled

ENDINGS = (".xlsx", ".xlsm")
UNCALCULATED = Unreadable("a formula without a stored value: open the file in a spreadsheet program and save it")


class Workbook:
    """Sheets as rows of stored values; opened once for the values and once for the formulas behind them."""

    def __init__(self, path: Path):
        from openpyxl import load_workbook

        from ..workbooks.ooxml import read_package

        try:
            read_package(path)
        except ValueError as error:  # names the path, as all messages of read_trial do already
            raise ValueError(str(error).replace(f"{path}: ", "", 1)) from None
        try:
            with warnings.catch_warnings():  # openpyxl warns of charts and validations that it does not keep
                warnings.simplefilter("ignore")
                self._values = load_workbook(path, read_only=True, data_only=True, keep_links=False)
                self._formulas = load_workbook(path, read_only=True, keep_links=False)
        except Exception as error:  # a damaged file makes openpyxl raise nearly anything
            raise _unreadable(error) from None
        self._rows: Dict[str, List[Row]] = {}

    def __enter__(self) -> "Workbook":
        return self

    def __exit__(self, *_):
        self._values.close()
        self._formulas.close()

    @property
    def sheets(self) -> List[str]:
        return [sheet.title for sheet in self._values.worksheets]

    def rows(self, sheet: str) -> List[Row]:
        """The filled rows of a sheet.

        Hidden rows and columns count like the others; of merged cells only the first holds the value.
        """
        if sheet not in self._rows:
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    self._rows[sheet] = filled(self._read(sheet))
            except TooManyRows:
                raise
            except Exception as error:  # as above: sheets are parsed only now
                raise _unreadable(error) from None
        return self._rows[sheet]

    def _read(self, sheet: str):
        values, formulas = self._values[sheet], self._formulas[sheet]
        for part in (values, formulas):
            part.reset_dimensions()  # some writers state a range that is too small
        for number, (stored, written) in enumerate(zip(values.iter_rows(), formulas.iter_rows()), 1):
            yield Row(number, [_value(*pair) for pair in zip(stored, written)])

    @cached_property
    def names(self) -> Dict[str, Tuple[str, str]]:
        """Sheet and range of each defined name that stands for one range; names in lower case."""
        found = {}
        for name, defined in self._values.defined_names.items():
            try:
                places = list(defined.destinations)
            except Exception:  # a name may hold any formula
                places = []
            found[name.lower()] = places[0] if len(places) == 1 else ("", "")
        return found

    def named(self, name: str) -> List[List[Any]]:
        """The cells of a defined name, row by row; ValueError where it names no range."""
        from openpyxl.utils.cell import range_boundaries

        sheet, where = self.names.get(name, ("", ""))
        try:
            left, top, right, bottom = range_boundaries(where)
            if None in (left, top, right, bottom) or sheet not in self.sheets or bottom - top >= MAX_ROWS:
                raise ValueError
        except (ValueError, TypeError):
            raise ValueError(f"{name} must name a range of at most {MAX_ROWS} rows of cells in one sheet") from None
        filled_rows = {row.number: row for row in self.rows(sheet)}
        rows = [filled_rows.get(number, Row(number, ())) for number in range(top, bottom + 1)]
        return [[row.cell(column - 1) for column in range(left, right + 1)] for row in rows]


def _value(stored, written) -> Any:
    if stored.value is None:
        # a formula that gives an empty text is stored as one; one that was never calculated stores nothing
        return UNCALCULATED if written.data_type == "f" and stored.data_type != "str" else None
    if stored.data_type == "e":
        return Unreadable(str(stored.value))
    if isinstance(stored.value, (date, datetime, time, timedelta)):
        return Unreadable("a date or time")
    return None if is_blank(stored.value) else stored.value


def _unreadable(error: Exception) -> ValueError:
    return ValueError(f"must be a workbook that can be read ({type(error).__name__}: {error})")
