"""Compute the formulas of a workbook where no spreadsheet program is at hand.

openpyxl writes formulas without their values; `workbook_values` computes them.  It knows the functions of
`cell_functions.FUNCTIONS` and refuses everything else, naming the cell: a formula that spreadsheets may
compute differently (an unlisted function, a range where one value is needed, an array formula) is a mistake
to correct, not to guess at.  Cells are computed in the order of their references, so a chain may be long.

`value_of` computes a single formula over cells that anything supplies (`compiled.Cells`); `Book` supplies those
it was given, in memory.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import to_excel

from .cell_values import LARGEST_ARRAY, Area, CellError, Failure, scalar
from .compiled import Cells, Compiled, Here, compiled
from .references import LAST_COLUMN, LAST_ROW, Place, Range, reference, relative

_MOST_HELD = 1_000_000  # cells of areas that are kept for the next formula which reads them


def find(text: str, sheet: str, cells: Cells) -> Range:
    """The cells that a reference or a defined name stands for on a sheet; ValueError where it stands for none."""
    found = reference(relative(text, 1, 1))
    if found is None:
        return cells.named(text, sheet)
    return found.seen_from(cells.title(found.sheet or sheet), 1, 1)


def value_of(formula: str, home: Place, cells: Cells, absent: Container[str] = (), is_array: bool = False) -> Any:
    """What a formula gives in a cell, an Area where an array formula fills several; ValueError says why it is not known here.

    A value is a float, a text, a bool or a CellError.  `absent` are functions of add-ins, in capitals, that are #NAME?
    here as in a program without the add-in.
    """
    return value_at(home, compiled(formula, home.row, home.column, absent, is_array), cells, is_array)


def value_at(home: Place, formula: Compiled, cells: Cells, is_array: bool = False) -> Any:
    """The same of a formula that was made ready for this cell or for another one that it is filled down to."""
    return _value(formula, Here(formula, cells, *home), is_array)


def _value(formula: Compiled, here: Here, is_array: bool = False) -> Any:
    try:
        value = formula.evaluate(here)
        if type(value) is float:
            return value
        if not (is_array and isinstance(value, Area) and value.height * value.width > 1):
            value = scalar(value)
    except Failure as failure:
        return failure.error
    return 0.0 if value is None else value


class _Ready(NamedTuple):
    """A formula cell that can be computed once the cells it reads are."""

    place: Place
    text: str
    formula: Compiled
    here: Here


class Book:
    """Cells in memory: constants, and the value of each formula once `compute` has run.

    `names` are the defined names, {sheet, or None for the whole workbook: {name in capitals: what it stands for}};
    `most_read` bounds the cells that all formulas together may read.
    """

    def __init__(self, names: Mapping[str | None, Mapping[str, str]], absent: Container[str] = (), most_read: float = math.inf):
        self.values: dict[str, dict[tuple[int, int], Any]] = {}  # of each sheet, by row and column
        self.names, self.absent, self.most_read = names, absent, most_read
        self._formulas: dict[Place, str] = {}
        self._waiting: dict[Place, str] = {}  # formulas that are not computed yet
        self._order: list[_Ready] = []  # all formulas in the order of their references, for `compute_anew`
        self._titles: dict[str, str] = {}
        self._named: dict[tuple[str, str], Range] = {}
        self._corners: dict[str, tuple[int, int]] = {}  # last row and column of each sheet that hold anything
        self._areas: dict[Range, Area] = {}
        self._held = self._read = 0

    def add_sheet(self, title: str, values: dict[tuple[int, int], Any]) -> None:
        """A sheet with its constants, by row and column."""
        self.values[title] = values
        self._titles[title.lower()] = title
        self._corners.clear()

    def put(self, place: Place, formula: str) -> None:
        """A formula for `compute`; no formula that was computed before may read its cell."""
        self._formulas[place] = self._waiting[place] = formula
        self.values[place.sheet][place.row, place.column] = None
        self._corners.clear()

    # what formulas ask for

    def title(self, sheet: str) -> str:
        try:
            return self._titles[sheet.lower()]
        except KeyError:
            raise ValueError(f"there is no sheet {sheet!r}") from None

    def named(self, name: str, sheet: str) -> Range:
        found = self._named.get((name, sheet))
        if found is None:
            found = self._named[name, sheet] = self._defined(name, sheet)
        return found

    def _defined(self, name: str, sheet: str) -> Range:
        for names in (self.names.get(sheet, {}), self.names.get(None, {})):
            meaning = names.get(name.upper())
            if meaning is not None:
                found = reference(relative(meaning, 1, 1))
                if found is None or any(found.moves):
                    raise ValueError(f"the name {name} must stand for cells, with $ (got {meaning})")
                return found.seen_from(self.title(found.sheet or sheet), 1, 1)
        raise ValueError(f"there is no name {name!r}")

    def single(self, cells: Range) -> Callable[[], Any]:
        return partial(self.values[cells.sheet].get, (cells.top, cells.left))

    def area(self, cells: Range) -> Area:
        found = self._areas.get(cells)
        return self._new_area(cells) if found is None else found

    def _new_area(self, cells: Range) -> Area:
        sheet, left, top, right, bottom = used = self._used(cells)
        get = self.values[sheet].get
        if left == right and top == bottom:
            return Area([[get((top, left))]], top, left)
        size = used.height * used.width
        self._read += size
        if size > LARGEST_ARRAY or self._read > self.most_read:
            raise ValueError("more cells than are looked at here")
        columns = range(left, right + 1)
        found = Area([[get((row, column)) for column in columns] for row in range(top, bottom + 1)], top, left)
        self._held += size
        if self._held > _MOST_HELD:
            self._areas.clear()
            self._held = size
        self._areas[cells] = found
        return found

    def _used(self, cells: Range) -> Range:
        """Of whole rows and columns the part where anything is."""
        if cells.bottom < LAST_ROW and cells.right < LAST_COLUMN:
            return cells
        if cells.sheet not in self._corners:
            places = self.values[cells.sheet]
            self._corners[cells.sheet] = tuple(max((place[side] for place in places), default=1) for side in (0, 1))
        bottom, right = self._corners[cells.sheet]
        return cells._replace(
            bottom=max(cells.top, bottom) if cells.bottom == LAST_ROW else cells.bottom,
            right=max(cells.left, right) if cells.right == LAST_COLUMN else cells.right,
        )

    # computing

    def compute(self) -> None:
        """Enter the values of the formulas that were put in since, each computed after the ones it reads; ValueError names
        the cell that cannot be computed, or the circle of references."""
        self._enter(self._in_order(self._waiting))

    def compute_anew(self) -> None:
        """Enter the values of all formulas, after a change of constants in `values`."""
        if len(self._order) < len(self._formulas):
            self._order = list(self._in_order(dict(self._formulas)))
            self._waiting.clear()
        self._areas.clear()
        self._held = 0
        self._enter(self._order)

    def _enter(self, order: Iterable[_Ready]) -> None:
        for place, text, formula, here in order:
            sheet, row, column = place
            try:
                self.values[sheet][row, column] = _value(formula, here)
            except ValueError as error:
                raise ValueError(f"{place}: {error}, in {text}") from None

    def _ready(self, place: Place, text: Any) -> _Ready:
        if not isinstance(text, str):
            raise ValueError(f"{place}: array formulas and data tables are not computed here")
        try:
            formula = compiled(text, place.row, place.column, self.absent)
            return _Ready(place, text, formula, Here(formula, self, *place))
        except ValueError as error:
            raise ValueError(f"{place}: {error}, in {text}") from None

    def _in_order(self, waiting: dict[Place, str]) -> Iterator[_Ready]:
        """The formula cells, each after the ones it reads, and taken out of `waiting`; a circle of references is refused."""
        opened: dict[Place, _Ready] = {}  # that wait for cells further along the path
        through: set[Range] = set()  # ranges of which no cell waits any more
        for start in list(waiting):
            path = [start]
            while path:
                place = path[-1]
                if place not in waiting:  # reached on another path before
                    path.pop()
                    continue
                ready = opened.pop(place, None)
                if ready is None:
                    ready = self._ready(place, waiting[place])
                    first = self._read_first(ready, waiting, opened, through)
                    if first:
                        opened[place] = ready
                        path += first
                        continue
                path.pop()
                del waiting[place]
                yield ready

    def _read_first(
        self, ready: _Ready, waiting: Mapping[Place, str], opened: Mapping[Place, _Ready], through: set[Range]
    ) -> list[Place]:
        """The cells that a formula reads and that wait to be computed."""
        found: list[Place] = []
        for cells in map(self._used, ready.here.precedents):
            if cells in through:
                continue
            others = list(map(Place._make, filter(waiting.__contains__, cells.places())))
            for other in others:
                if other == ready.place or other in opened:
                    raise ValueError(f"{ready.place}: refers in a circle to {other}")
            if not others:
                through.add(cells)
            found += others
        return found


def workbook_values(workbook: Workbook, absent: Container[str] = ()) -> dict[str, dict[str, Any]]:
    """{sheet: {"A1": value}} of all cells that are not blank, formulas computed.

    Values and `absent` are those of `value_of`.  ValueError names the cell that cannot be computed.
    """
    book = _named_book(workbook, absent)
    for sheet in workbook.worksheets:
        _put_sheet(book, sheet)
    book.compute()
    return _by_address(book, book.values)


def stored_values(file: Any, sheets: Container[str]) -> dict[str, dict[str, Any]] | None:
    """The same of these sheets of a stored workbook; None where a formula on them is not known here.

    Other sheets count with the values that are stored for them.
    """
    workbook, stored = load_workbook(file), load_workbook(file, data_only=True)
    book = _named_book(workbook)
    try:
        for sheet in workbook.worksheets:
            _put_sheet(book, sheet if sheet.title in sheets else stored[sheet.title])
        book.compute()
    except ValueError:
        return None
    return _by_address(book, [title for title in book.values if title in sheets])


def _named_book(workbook: Workbook, absent: Container[str] = ()) -> Book:
    names = {sheet.title: _meanings(sheet.defined_names) for sheet in workbook.worksheets}
    return Book({None: _meanings(workbook.defined_names), **names}, absent)


def filled_cells(sheet: Any) -> list[Any]:
    """The cells of an openpyxl sheet that hold anything, row by row; `iter_rows` would make all the blank ones between them."""
    return [cell for _, cell in sorted(sheet._cells.items()) if cell.value is not None]


def _put_sheet(book: Book, sheet: Any) -> None:
    """Enter the constants of a sheet, and its formulas to be computed."""
    cells = filled_cells(sheet)
    constants = [cell for cell in cells if cell.data_type != "f"]
    book.add_sheet(sheet.title, {(cell.row, cell.column): _constant(cell) for cell in constants})
    for cell in cells:
        if cell.data_type == "f":
            book.put(Place(sheet.title, cell.row, cell.column), cell.value)


def _by_address(book: Book, titles: Iterable[str]) -> dict[str, dict[str, Any]]:
    return {
        title: {f"{get_column_letter(column)}{row}": value for (row, column), value in book.values[title].items()}
        for title in titles
    }


def _meanings(names: Mapping[str, Any]) -> dict[str, str]:
    return {name.upper(): defined.attr_text for name, defined in names.items()}


def _constant(cell) -> Any:
    value = cell.value
    if cell.data_type == "e":
        return CellError(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, (datetime.date, datetime.time, datetime.timedelta)):
        return float(to_excel(value))
    return float(value) if isinstance(value, (int, float)) else str(value)
