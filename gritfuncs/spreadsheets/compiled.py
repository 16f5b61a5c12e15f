"""Formulas made ready to be computed: once for all cells in which a formula differs in nothing but its place.

A formula whose addresses are written as distances from its cell (`references.relative`) is the same text in every row
it is filled down to.  It becomes a function of the cell that it stands in and of the cells that it sees.
"""

from __future__ import annotations

from collections.abc import Container
from functools import lru_cache
from typing import Any, Callable, NamedTuple, Protocol

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import TokenizerError

from .cell_functions import FUNCTIONS
from .cell_values import OPERATORS, Area, CellError, elementwise, finite, negative, percent, scalar
from .references import Range, is_one_cell, reference, relative

STRENGTH = {"=": 1, "<>": 1, "<": 1, ">": 1, "<=": 1, ">=": 1, "&": 2, "+": 3, "-": 3, "*": 4, "/": 4, "^": 5}
WITHOUT_VALUES = {"ROWS", "COLUMNS"}  # ask where a reference is, not what it holds

_MOST_KEPT = 4096  # formulas that are kept ready


class Cells(Protocol):
    """Who supplies the cells that formulas read."""

    def title(self, sheet: str) -> str:
        """The name of a sheet as its tab spells it; ValueError where there is none."""

    def named(self, name: str, sheet: str) -> Range:
        """The cells that a defined name stands for in formulas of a sheet; ValueError where it stands for none."""

    def single(self, cells: Range) -> Callable[[], Any]:
        """What tells, whenever it is asked, the value that a single cell shows; None for a blank."""

    def area(self, cells: Range) -> Area:
        """The values that cells show."""


class Here:
    """The cell that a formula stands in, and all cells that the formula may read; ValueError where there are none."""

    __slots__ = ("cells", "sheet", "row", "column", "precedents", "single")

    def __init__(self, formula: Compiled, cells: Cells, sheet: str, row: int, column: int):
        self.cells, self.sheet, self.row, self.column = cells, sheet, row, column
        self.precedents = [seen(self) for seen in formula.precedents]
        self.single = [cells.single(precedent) for precedent in self.precedents]


Evaluate = Callable[[Here], Any]
Seen = Callable[[Here], Range]


class Compiled(NamedTuple):
    """A formula that can be computed wherever it stands: `evaluate` gives a value, or an Area of them."""

    evaluate: Evaluate
    precedents: tuple[Seen, ...]


def compiled(formula: str, row: int, column: int, absent: Container[str] = (), is_array: bool = False) -> Compiled:
    """The formula of a cell, ready to be computed; ValueError says what is wrong with it.

    `absent` are functions of add-ins, in capitals, that are #NAME? as in a program without the add-in.
    """
    absent = frozenset(absent)
    try:
        return _compiled(relative(formula, row, column), absent, is_array)
    except ValueError:
        _Parser(formula, absent, is_array).compiled()  # says it in the formula's own spelling
        raise


@lru_cache(maxsize=_MOST_KEPT)
def _compiled(formula: str, absent: frozenset[str], is_array: bool) -> Compiled:
    return _Parser(formula, absent, is_array).compiled()


def _seen(text: str) -> Seen:
    """Which cells a reference or a defined name means, seen from a cell."""
    found = reference(text)
    if not found:
        return lambda here: here.cells.named(text, here.sheet)
    if found.sheet:
        return lambda here: found.seen_from(here.cells.title(found.sheet), here.row, here.column)
    return lambda here: found.seen_from(here.sheet, here.row, here.column)


class _Parser:
    """One formula, by precedence climbing, into a function and the ranges that it reads."""

    def __init__(self, formula: str, absent: Container[str], is_array: bool):
        try:
            tokens = Tokenizer(formula).items
        except (TokenizerError, IndexError, AssertionError):
            raise ValueError("the formula is not understood") from None
        self.tokens = [token for token in tokens if token.type != "WHITE-SPACE"][::-1]  # the next one last
        self.absent = absent
        self.precedents: list[Seen] = []
        self.places: dict[str, int] = {}  # of each reference among them: what stands several times is looked up once
        self.single: dict[Evaluate, Evaluate] = {}  # for what may give an Area of one cell: its value
        self.arrays = is_array  # inside SUMPRODUCT and array formulas operators work on whole ranges

    def compiled(self) -> Compiled:
        evaluate = self.expression(0)
        if not self.arrays:
            evaluate = self.single.get(evaluate, evaluate)
        if self.tokens:
            raise ValueError(f"{self.tokens[-1].value!r} stands where the formula should end")
        return Compiled(evaluate, tuple(self.precedents))

    def peek(self, type_: str, subtype: str = "") -> bool:
        return bool(self.tokens) and (self.tokens[-1].type, self.tokens[-1].subtype) == (type_, subtype)

    def expression(self, floor: int) -> Evaluate:
        left = self.signed()
        while self.peek("OPERATOR-INFIX") and STRENGTH.get(self.tokens[-1].value, 0) > floor:
            symbol = self.tokens.pop().value
            left = self.applied(OPERATORS[symbol], left, self.expression(STRENGTH[symbol]))
        return left

    def signed(self) -> Evaluate:
        if self.peek("OPERATOR-PREFIX"):  # binds tighter than any operator between two values
            minus = self.tokens.pop().value == "-"
            operand = self.signed()
            return self.applied(negative, operand) if minus else operand
        value = self.atom()
        while self.peek("OPERATOR-POSTFIX"):
            self.tokens.pop()
            value = self.applied(percent, value)
        return value

    def applied(self, function: Callable, *operands: Evaluate) -> Evaluate:
        if self.arrays:
            return lambda here: elementwise(function, *[operand(here) for operand in operands])
        if len(operands) == 1:
            operand = self.single.get(operands[0], operands[0])
            return lambda here: function(operand(here))
        left, right = [self.single.get(operand, operand) for operand in operands]
        return lambda here: function(left(here), right(here))

    def atom(self) -> Evaluate:
        if not self.tokens:
            raise ValueError("the formula ends too soon")
        token = self.tokens.pop()
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
        self.tokens.pop()

    def operand(self, token) -> Evaluate:
        if token.subtype == "RANGE":
            return self.reference(token.value)
        if token.subtype == "ERROR":
            return lambda here: scalar(CellError(token.value))
        value = {
            "NUMBER": lambda: float(token.value),
            "LOGICAL": lambda: token.value.upper() == "TRUE",
            "TEXT": lambda: token.value[1:-1].replace('""', '"'),
        }[token.subtype]()
        return lambda here: value

    def reference(self, text: str) -> Evaluate:
        place = self.places.setdefault(text, len(self.places))
        if place == len(self.precedents):
            self.precedents.append(_seen(text))

        def area(here: Here) -> Area:
            return here.cells.area(here.precedents[place])

        if is_one_cell(text):
            self.single[area] = lambda here: here.single[place]()
        return area

    def function(self, name: str) -> Evaluate:
        function = FUNCTIONS.get(name)
        if function is None and name in self.absent:
            self.arguments()
            return lambda here: scalar(CellError("#NAME?"))
        if function is None:
            raise ValueError(f"unknown function {name}")
        outside = self.arrays
        self.arrays = name == "SUMPRODUCT"
        arguments = [self.place(name)] if name in WITHOUT_VALUES else self.arguments()
        self.arrays = outside
        if not function.least <= len(arguments) <= function.most:
            allowed = f"{function.least} to {function.most}"
            raise ValueError(f"{name} takes {allowed} arguments (got {len(arguments)})")
        single = [self.single.get(argument, argument) for argument in arguments]
        arguments[: function.single] = single[: function.single]
        call = function.call
        if function.lazy:
            made = call(*arguments)
            if function.passes and single != arguments:
                self.single[made] = call(*single)
            return made
        return lambda here: finite(call(*[argument(here) for argument in arguments]))

    def arguments(self) -> list[Evaluate]:
        found: list[Evaluate] = []
        if not self.peek("FUNC", "CLOSE"):
            found.append(self.argument())
            while self.peek("SEP", "ARG"):
                self.tokens.pop()
                found.append(self.argument())
        self.close("FUNC")
        return found

    def place(self, name: str) -> Seen:
        """The argument of a function that asks where its cells are; its own cell where it names none."""
        if self.peek("OPERAND", "RANGE"):
            cells = _seen(self.tokens.pop().value)
        else:
            raise ValueError(f"{name} takes a reference")
        self.close("FUNC")
        return cells

    def argument(self) -> Evaluate:
        if self.peek("SEP", "ARG") or self.peek("FUNC", "CLOSE"):
            return lambda here: None
        return self.expression(0)
