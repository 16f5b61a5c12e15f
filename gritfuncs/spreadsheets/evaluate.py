"""Compute the formulas of a workbook where no spreadsheet program is at hand.

openpyxl writes formulas without their values; `workbook_values` computes them.  It knows the functions of
`cell_functions.FUNCTIONS` and refuses everything else, naming the cell: a formula that spreadsheets may
compute differently (an unlisted function, a range where one value is needed, an array formula) is a mistake
to correct, not to guess at.  Cells are computed in the order of their references, so a chain may be long.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Container
from dataclasses import dataclass
from functools import partial
from typing import Any, Callable, NamedTuple

from openpyxl import Workbook
from openpyxl.formula import Tokenizer
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.utils.datetime import to_excel

from .cell_functions import FUNCTIONS
from .cell_values import Area, CellError, Failure, computed, elementwise, finite, number, operate, scalar

STRENGTH = {"=": 1, "<>": 1, "<": 1, ">": 1, "<=": 1, ">=": 1, "&": 2, "+": 3, "-": 3, "*": 4, "/": 4, "^": 5}
WITHOUT_VALUES = {"ROW", "COLUMN", "ROWS", "COLUMNS"}  # ask where a reference is, not what it holds

_REFERENCE = re.compile(
    r"(?:(?:'((?:[^']|'')+)'|([^'!]+))!)?(\$?[A-Z]{1,3}\$?\d+(?::\$?[A-Z]{1,3}\$?\d+)?"
    r"|\$?[A-Z]{1,3}:\$?[A-Z]{1,3}|\$?\d+:\$?\d+)",
    re.IGNORECASE,
)


class Place(NamedTuple):
    """A cell; prints as its reference."""

    sheet: str
    row: int
    column: int

    @property
    def address(self) -> str:
        return f"{get_column_letter(self.column)}{self.row}"

    def __str__(self) -> str:
        return f"{self.sheet}!{self.address}"


class Range(NamedTuple):
    """A rectangle of cells on a sheet, first and last included."""

    sheet: str
    left: int
    top: int
    right: int
    bottom: int

    def rows(self) -> list[list[Place]]:
        rows, columns = range(self.top, self.bottom + 1), range(self.left, self.right + 1)
        return [[Place(self.sheet, row, column) for column in columns] for row in rows]


@dataclass
class _Compiled:
    evaluate: Callable[[], Any]
    precedents: list[Range]


class _Book:
    """The workbook's cells: constants first, the value of each formula as soon as it is known."""

    def __init__(self, workbook: Workbook, absent: Container[str]):
        self.workbook = workbook
        self.absent = absent
        self.sheets = {sheet.title.lower(): sheet for sheet in workbook.worksheets}
        self.values: dict[Place, Any] = {}
        self.formulas: dict[Place, str] = {}
        for sheet in workbook.worksheets:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.value is not None:
                        place = Place(sheet.title, cell.row, cell.column)
                        if cell.data_type == "f":
                            self.formulas[place] = cell.value
                        else:
                            self.values[place] = _constant(cell)

    def find(self, reference: str, home: Place) -> Range:
        """The range that a reference or a defined name stands for."""
        match = _REFERENCE.fullmatch(reference)
        if not match:
            return self._named(reference, home)
        title = (match[1] or match[2] or home.sheet).replace("''", "'")
        sheet = self.sheets.get(title.lower())
        if sheet is None:
            raise ValueError(f"there is no sheet {title!r}")
        left, top, right, bottom = range_boundaries(match[3].upper())
        return Range(sheet.title, left or 1, top or 1, right or sheet.max_column, bottom or sheet.max_row)

    def _named(self, name: str, home: Place) -> Range:
        for names in (self.sheets[home.sheet.lower()].defined_names, self.workbook.defined_names):
            for defined in names.values():
                if defined.name.lower() == name.lower():
                    if not _REFERENCE.fullmatch(defined.attr_text):
                        raise ValueError(f"the name {name} must stand for cells (got {defined.attr_text})")
                    return self.find(defined.attr_text, home)
        raise ValueError(f"there is no name {name!r}")

    def area(self, range_: Range) -> Area:
        rows = [[self.values.get(place) for place in row] for row in range_.rows()]
        return Area(rows, range_.top, range_.left)


def _constant(cell) -> Any:
    value = cell.value
    if cell.data_type == "e":
        return CellError(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, (datetime.date, datetime.time, datetime.timedelta)):
        return float(to_excel(value))
    return float(value) if isinstance(value, (int, float)) else str(value)


class _Parser:
    """One formula, by precedence climbing, into a callable and the ranges that it reads."""

    def __init__(self, formula: str, home: Place, book: _Book):
        self.tokens = [token for token in Tokenizer(formula).items if token.type != "WHITE-SPACE"]
        self.home, self.book = home, book
        self.precedents: list[Range] = []
        self.arrays = False  # inside SUMPRODUCT operators work on whole ranges

    def compiled(self) -> _Compiled:
        evaluate = self.expression(0)
        if self.tokens:
            raise ValueError(f"{self.tokens[0].value!r} stands where the formula should end")
        return _Compiled(evaluate, self.precedents)

    def peek(self, type_: str, subtype: str = "") -> bool:
        return bool(self.tokens) and (self.tokens[0].type, self.tokens[0].subtype) == (type_, subtype)

    def expression(self, floor: int) -> Callable[[], Any]:
        left = self.signed()
        while self.peek("OPERATOR-INFIX") and STRENGTH.get(self.tokens[0].value, 0) > floor:
            symbol = self.tokens.pop(0).value
            left = self.applied(partial(operate, symbol), left, self.expression(STRENGTH[symbol]))
        return left

    def signed(self) -> Callable[[], Any]:
        if self.peek("OPERATOR-PREFIX"):  # binds tighter than any operator between two values
            minus = self.tokens.pop(0).value == "-"
            operand = self.signed()
            return self.applied(lambda value: -number(value), operand) if minus else operand
        value = self.atom()
        while self.peek("OPERATOR-POSTFIX"):
            self.tokens.pop(0)
            value = self.applied(lambda value: computed(lambda: number(value) / 100), value)
        return value

    def applied(self, function: Callable, *operands: Callable) -> Callable[[], Any]:
        if self.arrays:
            return lambda: elementwise(function, *[operand() for operand in operands])
        return lambda: function(*[operand() for operand in operands])

    def atom(self) -> Callable[[], Any]:
        if not self.tokens:
            raise ValueError("the formula ends too soon")
        token = self.tokens.pop(0)
        if token.type == "OPERAND":
            return self.operand(token)
        if token.type == "FUNC" and token.subtype == "OPEN":
            return self.function(token.value[:-1].upper())
        if token.type == "PAREN" and token.subtype == "OPEN":
            inner = self.expression(0)
            self.close("PAREN")
            return inner
        raise ValueError(f"{token.value!r} stands where a value should be")

    def close(self, type_: str) -> None:
        if not self.peek(type_, "CLOSE"):
            raise ValueError("a bracket is not closed")
        self.tokens.pop(0)

    def operand(self, token) -> Callable[[], Any]:
        if token.subtype == "RANGE":
            range_ = self.book.find(token.value, self.home)
            self.precedents.append(range_)
            return lambda: self.book.area(range_)
        if token.subtype == "ERROR":
            return lambda: scalar(CellError(token.value))
        value = {
            "NUMBER": lambda: float(token.value),
            "LOGICAL": lambda: token.value.upper() == "TRUE",
            "TEXT": lambda: token.value[1:-1].replace('""', '"'),
        }[token.subtype]()
        return lambda: value

    def function(self, name: str) -> Callable[[], Any]:
        function = FUNCTIONS.get(name)
        if function is None and name in self.book.absent:
            self.arguments()
            return lambda: scalar(CellError("#NAME?"))
        if function is None:
            raise ValueError(f"unknown function {name}")
        outside, before = self.arrays, len(self.precedents)
        self.arrays = name == "SUMPRODUCT"
        arguments = self.arguments()
        self.arrays = outside
        if name in WITHOUT_VALUES:
            del self.precedents[before:]
            arguments = arguments or [lambda: Area([[None]], self.home.row, self.home.column)]
        if not function.least <= len(arguments) <= function.most:
            allowed = f"{function.least} to {function.most}"
            raise ValueError(f"{name} takes {allowed} arguments (got {len(arguments)})")
        if function.lazy:
            return lambda: finite(function.call(*arguments))
        return lambda: finite(function.call(*[argument() for argument in arguments]))

    def arguments(self) -> list[Callable[[], Any]]:
        found: list[Callable[[], Any]] = []
        if not self.peek("FUNC", "CLOSE"):
            found.append(self.argument())
            while self.peek("SEP", "ARG"):
                self.tokens.pop(0)
                found.append(self.argument())
        self.close("FUNC")
        return found

    def argument(self) -> Callable[[], Any]:
        if self.peek("SEP", "ARG") or self.peek("FUNC", "CLOSE"):
            return lambda: None
        return self.expression(0)


def _compile(place: Place, formula: Any, book: _Book) -> _Compiled:
    if hasattr(formula, "ref"):
        raise ValueError(f"{place}: array formulas and data tables are not computed here")
    try:
        return _Parser(formula, place, book).compiled()
    except ValueError as error:
        raise ValueError(f"{place}: {error}, in {formula}") from None


def _evaluate(place: Place, formula: str, compiled: _Compiled) -> Any:
    try:
        value = scalar(compiled.evaluate())
    except Failure as failure:
        return failure.error
    except ValueError as error:
        raise ValueError(f"{place}: {error}, in {formula}") from None
    return 0.0 if value is None else value


def _in_order(compiled: dict[Place, _Compiled]) -> list[Place]:
    """The formula cells, each after the ones it reads; a circle of references is refused."""
    order: list[Place] = []
    state: dict[Place, str] = {}
    for start in compiled:
        path = [start]
        while path:
            place = path[-1]
            if place in state:
                path.pop()
                if state[place] == "open":
                    state[place] = "done"
                    order.append(place)
                continue
            state[place] = "open"
            for range_ in compiled[place].precedents:
                for row in range_.rows():
                    for other in row:
                        if state.get(other) == "open":
                            raise ValueError(f"{place}: refers in a circle to {other}")
                        if other in compiled and other not in state:
                            path.append(other)
    return order


def workbook_values(workbook: Workbook, absent: Container[str] = ()) -> dict[str, dict[str, Any]]:
    """{sheet: {"A1": value}} of all cells that are not blank, formulas computed.

    A value is a float, a text, a bool or a CellError.  `absent` are functions of add-ins, in capitals, that are #NAME?
    here as in a program without the add-in.  ValueError names the cell that cannot be computed.
    """
    book = _Book(workbook, absent)
    compiled = {place: _compile(place, formula, book) for place, formula in book.formulas.items()}
    for place in _in_order(compiled):
        book.values[place] = _evaluate(place, book.formulas[place], compiled[place])
    found: dict[str, dict[str, Any]] = {sheet.title: {} for sheet in workbook.worksheets}
    for place, value in book.values.items():
        found[place.sheet][place.address] = value
    return found
