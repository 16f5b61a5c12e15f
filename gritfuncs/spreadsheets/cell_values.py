"""The values of spreadsheet cells: how they turn into one another, and what operators make of them.

Rules are Excel's.  A value is a float, a text, a bool, None (blank) or a CellError.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Iterable, Iterator
from itertools import chain, repeat
from typing import Any, Callable

LARGEST_ARRAY = 100_000  # cells that one argument of a formula may have; what is larger is not computed here
LONGEST_TEXT = 32_767  # characters, what a cell holds


class CellError(str):
    """An error value, such as '#N/A'."""

    __slots__ = ()


DIV0, NA, NUM, REF, VALUE = map(CellError, ("#DIV/0!", "#N/A", "#NUM!", "#REF!", "#VALUE!"))


class Failure(Exception):
    """Carries the error value in which a formula ends."""

    def __init__(self, error: CellError):
        super().__init__(error)
        self.error = error


class Area:
    """A rectangle of values; a reference has the row and column of its first cell, a computed array none."""

    __slots__ = ("rows", "top", "left", "_numbers", "_places", "_in_order", "_first_column")

    def __init__(self, rows: list[list[Any]], top: int | None = None, left: int | None = None):
        self.rows, self.top, self.left = rows, top, left
        self._numbers: list[float] | CellError | None = None
        self._places: dict[Any, int] | None = None
        self._in_order: dict[tuple[int, bool], tuple[list[Any], list[int]]] = {}
        self._first_column: Area | None = None

    @property
    def height(self) -> int:
        return len(self.rows)

    @property
    def width(self) -> int:
        return len(self.rows[0])

    def __iter__(self) -> Iterator[Any]:
        return (value for row in self.rows for value in row)

    @property
    def numbers(self) -> list[float]:
        """The numbers among the values; an error value fails the formula."""
        if self._numbers is None:
            error = next((value for value in self if isinstance(value, CellError)), None)
            self._numbers = [value for value in self if type(value) is float] if error is None else error
        if isinstance(self._numbers, CellError):
            raise Failure(self._numbers)
        return self._numbers

    @property
    def places(self) -> dict[Any, int]:
        """Where each value stands first, counted from 0, by its sort key."""
        if self._places is None:
            self._places = {}
            for place, value in enumerate(self):
                if value is not None and not isinstance(value, CellError):
                    self._places.setdefault(sort_key(value), place)
        return self._places

    def in_order(self, kind: int, falling: bool) -> tuple[list[Any], list[int]]:
        """The sort keys of one kind of value, rising, and where each stands; ValueError where they are in no such order.

        Spreadsheet programs look up a value in sorted cells each in a way of its own, which shows where they are not sorted.
        """
        if (kind, falling) not in self._in_order:
            values = enumerate(self)
            found = [
                (sort_key(value), place) for place, value in values if value is not None and not isinstance(value, CellError)
            ]
            found = [pair for pair in found if pair[0][0] == kind][:: -1 if falling else 1]
            keys, places = [key for key, _ in found], [place for _, place in found]
            if any(left > right for left, right in zip(keys, keys[1:])):
                raise ValueError("a look-up for sorted cells stands over cells that are not sorted")
            self._in_order[kind, falling] = keys, places
        return self._in_order[kind, falling]

    @property
    def first_column(self) -> Area:
        if self._first_column is None:
            self._first_column = self.part(0, 0, self.height, 1)
        return self._first_column

    def part(self, row: int, column: int, height: int, width: int) -> Area:
        rows = [line[column : column + width] for line in self.rows[row : row + height]]
        return Area(rows) if self.top is None else Area(rows, self.top + row, self.left + column)


# --- from one kind of value to another ---

_LIKE_NUMBER = re.compile(r"(?=.*\d)[\d\s.,:/+\-'()%$€£]+", re.DOTALL)  # a decimal comma, a date, a time, an amount
NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:E[+-]?\d+)?)(%?)", re.IGNORECASE)


def scalar(value: Any) -> Any:
    """One value out of a value or a one-cell reference; an error value fails the formula."""
    if type(value) is float:
        return value
    if isinstance(value, Area):
        rows = value.rows
        if len(rows) != 1 or len(rows[0]) != 1:
            raise ValueError(f"{value.height} x {value.width} cells stand where one value is needed")
        value = rows[0][0]
    if isinstance(value, CellError):
        raise Failure(value)
    return value


def parsed(text: str) -> float:
    match = NUMBER.fullmatch(text.strip())
    if not match:
        if _LIKE_NUMBER.fullmatch(text):
            raise ValueError(f"which number the text {text!r} stands for depends on the country")
        raise Failure(VALUE)
    return float(match[1]) / (100 if match[2] else 1)


def number(value: Any) -> float:
    value = scalar(value)
    if type(value) is float:
        return value
    return parsed(value) if isinstance(value, str) else float(value or 0)


def text(value: Any) -> str:
    value = scalar(value)
    if isinstance(value, bool):
        return str(value).upper()
    return f"{value:.15g}".replace("e", "E") if isinstance(value, float) else value or ""


def fitting(value: str) -> str:
    """A computed text, unless no cell could hold it."""
    if len(value) > LONGEST_TEXT:
        raise Failure(VALUE)
    return value


def truth(value: Any) -> bool:
    if type(value) is bool:
        return value
    value = scalar(value)
    if isinstance(value, str):
        if value.upper() not in ("TRUE", "FALSE"):
            raise Failure(VALUE)
        return value.upper() == "TRUE"
    return bool(value)


def finite(value: Any) -> Any:
    """A computed value as a cell can hold it."""
    if type(value) is float and math.isfinite(value):
        return value
    if isinstance(value, (bool, str, Area)) or value is None:
        return value
    if not math.isfinite(value):
        raise Failure(NUM)
    return float(value)


def computed(function: Callable, *values: Any) -> Any:
    """Call a numerical function; where it has no value the formula fails as a cell would."""
    try:
        return finite(function(*values))
    except ZeroDivisionError:
        raise Failure(DIV0) from None
    except (ValueError, ArithmeticError):
        raise Failure(NUM) from None


def numbers(arguments: Any) -> list[float]:
    """The numbers among arguments: what is given directly must be one, in ranges all else is skipped."""
    found: list[float] = []
    for argument in arguments:
        if isinstance(argument, Area):
            found += argument.numbers
        else:
            found.append(number(argument))
    return found


# --- operators ---


def significant(value: float) -> float:
    """The 15 digits a spreadsheet goes by when it compares and rounds."""
    return float(f"{value:.15g}")


def sort_key(value: Any) -> Any:
    """Numbers before text before booleans."""
    if isinstance(value, bool):
        return 2, value
    return (1, value.lower()) if isinstance(value, str) else (0, significant(value))


def _order(value: Any, other: Any) -> Any:
    """Sort key; a blank is the zero of whatever it meets."""
    return sort_key({str: "", bool: False}.get(type(other), 0.0) if value is None else value)


def compare(relation: Callable, left: Any, right: Any) -> bool:
    if type(left) is type(right) is float and (left == right or abs(left - right) > 2e-14 * (abs(left) + abs(right))):
        return relation(left, right)  # the same, or 15 digits tell them apart, whatever they are
    return relation(_order(left, right), _order(right, left))


def power(base: float, exponent: float) -> float:
    if base == 0 and exponent == 0:
        raise Failure(NUM)
    if base < 0 and exponent != int(exponent):
        raise Failure(NUM)
    return base**exponent


ARITHMETIC = {"+": operator.add, "-": operator.sub, "*": operator.mul, "/": operator.truediv, "^": power}
RELATIONS = {"=": operator.eq, "<>": operator.ne, "<=": operator.le, ">=": operator.ge, "<": operator.lt, ">": operator.gt}


def _arithmetic(function: Callable) -> Callable:
    def operate(left: Any, right: Any) -> float:
        if type(left) is type(right) is float:  # the usual case, without a detour
            try:
                value = function(left, right)
            except ArithmeticError:
                value = math.inf  # which error it is, is told below
            if math.isfinite(value):
                return value
        left, right = scalar(left), scalar(right)  # of two errors the left one counts
        return computed(function, number(left), number(right))

    return operate


def _relation(relation: Callable) -> Callable:
    def operate(left: Any, right: Any) -> bool:
        if type(left) is type(right) is float:
            return compare(relation, left, right)
        return compare(relation, scalar(left), scalar(right))

    return operate


def _joined(left: Any, right: Any) -> str:
    left, right = scalar(left), scalar(right)
    return fitting(text(left) + text(right))


OPERATORS = {
    "&": _joined,
    **{symbol: _relation(relation) for symbol, relation in RELATIONS.items()},
    **{symbol: _arithmetic(function) for symbol, function in ARITHMETIC.items()},
}


def negative(value: Any) -> float:
    return -number(value)


def percent(value: Any) -> float:
    return computed(lambda: number(value) / 100)


def elementwise(function: Callable, *arguments: Any) -> Any:
    """Apply a function of single values to every element; single values, rows and columns stretch."""
    areas = [argument for argument in arguments if isinstance(argument, Area)]
    height, width = (max((getattr(area, side) for area in areas), default=1) for side in ("height", "width"))
    if height * width == 1:
        return function(*arguments)
    if height * width > LARGEST_ARRAY:
        raise ValueError(f"an array must have at most {LARGEST_ARRAY} cells (got {height} x {width})")
    if any(area.height not in (1, height) or area.width not in (1, width) for area in areas):
        raise ValueError("ranges of different size stand in one product")

    def flat(argument: Any) -> Iterable[Any]:
        if not isinstance(argument, Area):
            return repeat(argument)
        rows = argument.rows if argument.height == height else argument.rows * height
        return chain.from_iterable(rows) if argument.width == width else (row[0] for row in rows for _ in range(width))

    def element(*picked: Any) -> Any:
        try:
            return function(*picked)
        except Failure as failure:
            return failure.error

    values = list(map(element, *map(flat, arguments)))
    return Area([values[start : start + width] for start in range(0, height * width, width)])
