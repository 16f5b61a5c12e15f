"""The records of the vocabulary: a Quantity is one word with its unit and limits, a Relation ties several words together."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from . import units
from .refused import Refused, printable
from .values import finite_in, is_array, number_in, shown


@dataclass(frozen=True)
class IsoTerm:
    """The term of ISO 3002-5:1989 for a word; clause and term were seen in the contents list of its Korean adoption.

    Without a clause everything is from memory: the clauses on motions, speeds and removal rates were not seen.
    """

    clause: str
    term: str
    symbol: str
    symbol_seen: bool = True
    remark: str = ""


class Check(str):
    """A sentence that asks to look: at a value outside of what is usual, or beyond a limit of the machine."""


@dataclass(frozen=True)
class Quantity:
    """A word: what it means, its unit, the limits outside which it makes no sense, and its customary inch unit."""

    name: str
    symbol: str
    label: str
    unit: str
    help: str
    low: float | None = 0.0
    low_open: bool = True
    high: float | None = None
    choices: tuple[int, ...] | None = None
    usual: tuple[float, float] | None = None  # a hint for people, never an error
    possible: float | None = None  # more there is not on any machine: a value beyond it is a slip (common sense, no source)
    inch_unit: str | None = None
    digits: int = 2  # decimals that a table shows
    is_text: bool = False
    also: tuple[str, ...] = ()  # what shops and books call it, or write for it; only for finding it
    iso: IsoTerm | None = None

    @property
    def inch_factor(self) -> float | None:
        """The shop unit is the inch unit times this."""
        factor = units.ratio(self.inch_unit, self.unit) if self.inch_unit else None
        return None if factor is None else float(factor)

    def converted(self, value: Any, unit: str, name: str = "", turns_per_minute: float | None = None) -> Any:
        """A number written in a unit as one in the shop unit; Refused where the unit is unknown or of another kind.

        A length for each revolution needs the revolutions per minute.  What is no number is given back as it is: the check
        of the value says what it must be.
        """
        factor = units.ratio(unit, self.unit, turns_per_minute)
        if factor is None:
            raise Refused(name or self.name, f"be in {self.unit}", repr(printable(unit)[:40]))
        number = finite_in(value)
        return value if number is None or factor == 1 else float(Fraction(number) * factor)

    @property
    def requirement(self) -> str:
        """What a value must be, in words with the unit: '> 0 mm', 'one of 1, 0, -1'."""
        if self.is_text:
            return "a text"
        if self.choices:
            return "one of " + ", ".join(str(choice) for choice in self.choices)
        bounds = []
        if self.low is not None:
            bounds.append(f"{'>' if self.low_open else '>='} {self.low:g}")
        if self.high is not None:
            bounds.append(f"<= {self.high:g}")
        unit = "" if self.unit == "-" else " " + self.unit
        return (" and ".join(bounds) or "a finite number") + unit

    @property
    def usual_range(self) -> str:
        """The usual range in words: '10 to 80 m/s'; "" where there is none."""
        unit = "" if self.unit == "-" else " " + self.unit
        return f"{self.usual[0]:g} to {self.usual[1]:g}{unit}" if self.usual else ""

    def is_usual(self, value: float) -> bool:
        """Whether a number lies within the usual range; True where there is none."""
        return self.usual is None or self.usual[0] <= value <= self.usual[1]

    def doubt(self, values: Iterable[float], label: str = "") -> str:
        """A sentence on the numbers outside of the usual range, called by its label or another; "" where there are none."""
        odd = [value for value in values if not self.is_usual(value)]
        if not odd:
            return ""
        unit = "" if self.unit == "-" else f" {self.unit}"
        shown_values = ", ".join(f"{value:.4g}" for value in odd[:3]) + (", ..." if odd[3:] else "")
        return Check(f"Check the {label or self.label}: usual is {self.usual_range} (got {shown_values}{unit}).")

    def allows(self, value):
        """True where the number lies within the limits; element by element for an array."""
        if self.choices:
            inside = value == self.choices[0]
            for choice in self.choices[1:]:
                inside = inside | (value == choice)
        else:
            inside = abs(value) < math.inf  # false for "not a number", too
        if self.low is not None:
            inside = inside & ((value > self.low) if self.low_open else (value >= self.low))
        return inside if self.high is None else inside & (value <= self.high)

    def allows_all(self, array) -> bool:
        """Whether every number of an array lies within the limits, with no array of its own where there are no choices.

        Limits without choices are an interval: it holds all where it holds the smallest and the largest. Both are "not a
        number" where one element is.
        """
        if self.choices or not array.size:
            return bool(self.allows(array).all())
        return bool(self.allows(array.min()) and self.allows(array.max()))

    def check(self, value: Any):
        """Give the value back as a float (or float array, or text), or raise Refused, one line saying what is wrong."""
        if self.is_text:
            if isinstance(value, str) and value.strip():
                return value
            raise Refused(self.name, f"be {self.requirement}", shown(value))
        number = number_in(value)
        if number is not None:
            if self.allows(number):
                return number
            raise Refused(self.name, f"be {self.requirement}", repr(number))
        if value is None or isinstance(value, (str, bytes, bool)) or not hasattr(value, "__len__"):
            raise Refused(self.name, f"be a number, {self.requirement}", shown(value))
        return self._check_array(value)

    def check_one(self, value: Any, name: str = "") -> float:
        """The value as one number within the limits, no array; a refusal calls it by `name`."""
        if hasattr(value, "__len__") and not isinstance(value, (str, bytes)):
            raise Refused(name or self.name, f"be one number, {self.requirement}", shown(value))
        try:
            return self.check(value)
        except Refused as refused:
            raise refused.named(name or self.name) from None

    def check_possible(self, number: float, name: str = "") -> float:
        """The number, unless it is more than there is on any machine; a refusal calls it by `name`."""
        if self.possible is not None and self.possible < number < math.inf:
            unit = "" if self.unit == "-" else f" {self.unit}"
            must = f"be <= {self.possible:g}{unit}, there is no more: is it in another unit?"
            raise Refused(name or self.name, must, f"{number:g}")
        return number

    def _check_array(self, value):
        import numpy

        try:
            # numpy would make True a 1 and, beside a text, every number a text: look at lists as they are first.
            kept = is_array(value) and isinstance(value.dtype, numpy.dtype)  # pandas has kinds of its own, Int64 and Float64
            array = numpy.asarray(value, dtype=value.dtype if kept else object)
            fault = "a masked array" if numpy.ma.isMaskedArray(value) else _fault(array)
        except ValueError:
            fault = _UNEQUAL_ROWS
        except Exception:  # noqa: BLE001 - an object that has a length and then no items
            fault = shown(value)
        if fault:
            raise Refused(self.name, f"be numbers, {self.requirement}", fault)
        try:
            with numpy.errstate(over="ignore"):  # of longer floats, refused below
                array = array.astype(float, copy=False)
        except OverflowError:
            raise Refused(self.name, f"be numbers, {self.requirement}", "one too large for computing") from None
        if not self.allows_all(array):
            place, number = first_place(array, ~self.allows(array))
            raise Refused(self.name, f"be {self.requirement}", f"{number!r}{place}")
        return array


_UNEQUAL_ROWS = "rows of unequal length"


def _fault(array) -> str | None:
    """What keeps an array from being one of numbers."""
    if array.dtype.kind != "O":
        return None if array.dtype.kind in "iuf" else f"an array of {array.dtype}"
    for item in array.ravel().tolist():
        if isinstance(item, (list, tuple)):
            return _UNEQUAL_ROWS
        if number_in(item) is None:
            return shown(item) if item is None or isinstance(item, (str, bytes, bool)) else f"a {type(item).__name__}"
    return None


def first_place(array, marked):
    """The first marked number of an array, and where it stands: (' at position 3', 0.5)."""
    import numpy

    place = tuple(int(index) for index in numpy.argwhere(marked)[0])
    where = str(place[0] if len(place) == 1 else place)
    return f" at position {where}" if place else "", float(array[place])


@dataclass(frozen=True)
class Relation:
    """A limit that ties several words together; it applies to every formula that has them all as arguments."""

    names: tuple[str, ...]
    margin: Callable  # of the values, in the order of names; also of cells, as a formula
    may_vanish: bool  # the margin must be >= 0, otherwise > 0
    must: str  # what the first of them has to be

    @property
    def text(self) -> str:
        """The limit in one sentence."""
        return f"{self.names[0]} must {self.must}"

    def _margin(self, values: list[Any]):
        if not any(map(is_array, values)):
            return self.margin(*values)
        import numpy

        with numpy.errstate(over="ignore"):  # an infinite margin is one, too
            return self.margin(*values)

    def check(self, values: dict[str, Any]) -> None:
        margin = self._margin([values[name] for name in self.names])
        holds = margin >= 0 if self.may_vanish else margin > 0
        if getattr(holds, "all", lambda: holds)():
            return
        got = ", ".join(f"{name} = {_where_broken(values[name], holds)}" for name in self.names)
        raise Refused(self.names[0], self.must, got)


def _where_broken(value, holds):
    """The value, for an array the one at the first place where the relation does not hold."""
    if not hasattr(holds, "shape") or not hasattr(value, "shape"):
        return value
    import numpy

    place, number = first_place(numpy.broadcast_to(value, holds.shape), ~holds)
    return f"{number!r}{place}"
