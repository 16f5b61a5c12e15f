"""Cell: operators in, spreadsheet formula text out.

A formula function called with Cells instead of numbers gives the text of the native formula.  The text has one meaning
under Python's and under every spreadsheet's precedence, and keeps what the author wrote: nothing is folded or simplified.
Standard library only.
"""

from __future__ import annotations

import math
from fractions import Fraction
from numbers import Integral

_SUM, _PRODUCT, _POWER, _ATOM = 1, 2, 3, 4
_WHOLE = 0  # a negation: fits only where nothing is around it


def _constant(value) -> "Cell":
    if value == math.pi:
        return Cell("PI()")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    text = repr(value).upper().replace("E+", "E")
    if len(text.strip("-").partition("E")[0].replace(".", "").strip("0")) > 15:  # more than a spreadsheet keeps
        fraction = Fraction(value).limit_denominator(1000)
        if abs(fraction.numerator) > 1e15 or float(fraction) != value:
            raise ValueError(f"a constant in a formula must have at most 15 digits (got {value!r})")
        return Cell(f"{fraction.numerator}/{fraction.denominator}", _PRODUCT if value > 0 else _WHOLE)
    return Cell(text, _WHOLE if text.startswith("-") else _ATOM)


class Cell:
    """The text of a formula, or of a reference or name, with the strength that binds it."""

    __array_ufunc__ = None  # numpy numbers hand the operation to us; arrays refuse
    __hash__ = None  # type: ignore[assignment]
    __slots__ = ("strength", "text")

    def __init__(self, text: str, strength: int = _ATOM):
        self.text, self.strength = text, strength

    def __str__(self) -> str:
        return self.text

    __repr__ = __str__

    def _in(self, slot: int) -> str:
        return self.text if self.strength >= slot else f"({self.text})"

    def __neg__(self):
        return Cell("-" + self._in(_ATOM), _WHOLE)  # in a spreadsheet -a^2 is (-a)^2

    def _no_branch(self, *_):
        raise TypeError("a formula must not branch on its inputs")

    __bool__ = __eq__ = __ne__ = __lt__ = __le__ = __gt__ = __ge__ = _no_branch


def _cell(operand) -> Cell:
    if isinstance(operand, Cell):
        return operand
    is_number = isinstance(operand, Integral) or isinstance(operand, float) and math.isfinite(operand)
    if not is_number or isinstance(operand, bool):
        raise TypeError(f"a formula takes cells and finite numbers (got {operand!r})")
    return _constant(int(operand) if isinstance(operand, Integral) else float(operand))


def _operator(sign: str, strength: int, left_slot: int, right_slot: int):
    def join(left, right):
        left, right = _cell(left), _cell(right)
        return Cell(left._in(left_slot) + sign + right._in(right_slot), strength)

    return join


# The right operand is bracketed when of equal strength, so that the cell computes in the author's order to the last bit.
for _name, _join in (
    ("add", _operator("+", _SUM, _SUM, _PRODUCT)),
    ("sub", _operator("-", _SUM, _SUM, _PRODUCT)),
    ("mul", _operator("*", _PRODUCT, _PRODUCT, _POWER)),
    ("truediv", _operator("/", _PRODUCT, _PRODUCT, _POWER)),
    ("pow", _operator("^", _POWER, _ATOM, _ATOM)),
):
    setattr(Cell, f"__{_name}__", _join)
    setattr(Cell, f"__r{_name}__", lambda right, left, join=_join: join(left, right))
