"""The cell functions: one host-neutral list, made from the catalogue, from which every spreadsheet add-in is built.

Values going in and out are plain: float, text, bool, None for a blank cell, an ErrorCell, or rows of these for a range.
A function never raises and never gives a number for a failure: it gives a short text that begins with #GRIT!.
Standard library only: this module travels inside the Calc extension.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from .. import __version__
from ..formulas import catalogue
from ..knee import FOUND, VERDICTS, FourthRoot, Knee, find_knee, next_reading
from ..quantity import Quantity
from ..registry import Formula
from ..values import is_blank, yes_or_no

FAILED = "#GRIT! "
LONGEST_TEXT = 255  # Excel refuses longer texts inside an array
REPORT_ROWS = 16  # as many as the longest report fills: an array formula is laid out beforehand
NUMBER, TEXT, BLOCK = "number", "text", "block"


@dataclass(frozen=True)
class ErrorCell:
    """A cell that shows an error, such as #DIV/0!."""

    text: str


@dataclass(frozen=True)
class Argument:
    """One argument: its name and help text, and the word of the vocabulary that it is, if it is one."""

    name: str
    help: str
    quantity: Quantity | None = None

    @property
    def is_range(self) -> bool:
        """True for an argument that takes many cells at once; the others take one value at a time."""
        return self.quantity is None


@dataclass(frozen=True)
class CellFunction:
    """A function as a cell knows it.

    `gives` is NUMBER or TEXT for one cell (a range of cells if a range is given to a formula), BLOCK for rows of cells.
    """

    sheet_name: str
    help: str
    arguments: tuple[Argument, ...]
    gives: str
    _compute: Callable

    @property
    def fills_range(self) -> bool:
        """True when the result can be rows of cells; the others always give one cell."""
        return self.gives == BLOCK or not all(argument.is_range for argument in self.arguments)

    def call(self, *values: Any) -> Any:
        """The result for the cell, or a text that begins with #GRIT! and says what is wrong."""
        return self._compute(*values)


def failure(text: str) -> str:
    """The text of a cell for something that failed."""
    return _fitting(FAILED + text)


def _fitting(text: str) -> str:
    """A text that fits a cell, and shows where it was cut."""
    return text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 3] + "..."


def missing(name: str, or_zero: bool = False, hint: str = "") -> str:
    """The text of a cell for an input that is not there yet; `or_zero` for a host that hands a blank over as 0."""
    return failure(f"{name} is {'0 or ' if or_zero else ''}blank{hint}")


_MISSING = re.compile(re.escape(FAILED) + r"\w+ is (?:0 or )?blank(?:;.*)?", re.DOTALL)  # another function's `missing`


def _is_rows(value: Any) -> bool:
    return isinstance(value, (tuple, list))


def _is_failure(value: Any) -> bool:
    return isinstance(value, str) and value.startswith(FAILED)


def _shape(rows: Any) -> tuple[int, int]:
    """Number of rows and of columns."""
    return len(rows), len(rows[0])


def _formula_function(record: Formula) -> CellFunction:
    def one(*values: Any) -> Any:
        for quantity, value in zip(record.arguments, values):
            if _is_failure(value):
                return value  # the first thing that went wrong is what has to be put right
            if isinstance(value, ErrorCell):
                return failure(f"{quantity.name} is an error ({value.text})")
            if is_blank(value):
                return missing(quantity.name)
        try:
            return record.call(*values)
        except ValueError as error:
            return failure(str(error))

    def compute(*values: Any) -> Any:
        if not any(_is_rows(value) for value in values):
            return one(*values)
        grids = [value if _is_rows(value) else ((value,),) for value in values]
        height = max(_shape(grid)[0] for grid in grids)
        width = max(_shape(grid)[1] for grid in grids)
        for quantity, grid in zip(record.arguments, grids):
            rows, columns = _shape(grid)
            if rows not in (1, height) or columns not in (1, width):
                return failure(
                    f"{quantity.name} must be one cell or a range that fits {height} rows and {width} columns "
                    f"(got {rows} rows and {columns} columns)"
                )
        return tuple(
            tuple(one(*(grid[row % len(grid)][column % len(grid[0])] for grid in grids)) for column in range(width))
            for row in range(height)
        )

    arguments = tuple(
        Argument(quantity.name, f"{quantity.help} Must be {quantity.requirement}.", quantity) for quantity in record.arguments
    )
    return CellFunction(record.sheet_name, _help(record), arguments, NUMBER, compute)


def _help(record: Formula) -> str:
    """Title, unit of the result, and what the vocabulary says of it, as far as it fits."""
    gives = record.gives
    unit = "" if gives.unit == "-" else f", {gives.unit}"
    sentences = [record.title, f"Gives {gives.label}{unit}"] + gives.help.rstrip(".").split(". ")
    text = ""
    for sentence in dict.fromkeys(sentences):
        longer = f"{text} {sentence}.".strip()
        text = longer if len(longer) <= LONGEST_TEXT else text
    return text


@dataclass(frozen=True)
class _Readings:
    depths: tuple[float, ...]
    energies: tuple[float, ...]
    left_out: tuple[int, ...]  # places, counted from 1, of the pairs before the end without a number in both lists

    @property
    def numbering(self) -> str:
        """A reading has the number of its cell, unless cells were left out."""
        return "; readings are counted without the blank cells" if self.left_out else ""


def _waits(value: Any) -> bool:
    """True for a blank, and for the failure of a cell function whose input is still blank."""
    return is_blank(value) or isinstance(value, str) and _MISSING.fullmatch(value) is not None


def _cells(name: str, rows: Any) -> tuple[Any, ...]:
    """The cells of one list; ValueError for one that is neither a number nor blank."""
    values = tuple(value for row in rows for value in row)
    for place, value in enumerate(values, 1):
        wrong = _what_is_wrong(value)
        if wrong:
            raise ValueError(f"{name}, cell {place}{wrong}")
    return values


def _what_is_wrong(value: Any) -> str:
    if isinstance(value, ErrorCell):
        return f", is an error ({value.text})"
    if _waits(value) or not isinstance(value, (str, bool)):
        return ""
    return f": {str(value)[len(FAILED) :]}" if _is_failure(value) else f", must be a number or blank (got {value!r})"


def _readings(depths: Any, energies: Any, names: tuple[str, str] = ("depths", "energies")) -> _Readings:
    """The pairs of numbers; a pair with a blank in it is left out."""
    depths, energies = (rows if _is_rows(rows) else ((rows,),) for rows in (depths, energies))
    if _shape(depths) != _shape(energies):
        got = " and ".join("{} x {}".format(*_shape(rows)) for rows in (depths, energies))
        raise ValueError(f"{names[0]} and {names[1]} must be ranges of equal shape (got {got} cells)")
    pairs = list(zip(_cells(names[0], depths), _cells(names[1], energies)))
    while pairs and all(_waits(value) for value in pairs[-1]):
        pairs.pop()
    left_out = tuple(place for place, pair in enumerate(pairs, 1) if any(_waits(value) for value in pair))
    used = [pair for pair in pairs if not any(_waits(value) for value in pair)]
    return _Readings(tuple(depth for depth, _ in used), tuple(energy for _, energy in used), left_out)


def _knee_number(field: str) -> Callable:
    def number(knee: Knee, readings: _Readings) -> Any:
        if knee.verdict == FOUND:
            return getattr(knee, field)
        return failure(f"{knee.verdict}: {knee.advice}{readings.numbering if knee.suspect is not None else ''}")

    return number


def _knee_verdict(knee: Knee, readings: _Readings) -> str:
    return knee.verdict


def _knee_report(knee: Knee, readings: _Readings) -> Any:
    rows = list(knee.rows())
    if readings.left_out:
        cells = "cell" if len(readings.left_out) == 1 else "cells"
        places = ", ".join(str(place) for place in readings.left_out)
        rows.append(("left out", f"{cells} {places} of the lists: no number in both{readings.numbering}"))
    return _block((label, _fitting(value)) for label, value in rows)


def _block(rows: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    rows = tuple(rows)
    return rows + (("", ""),) * (REPORT_ROWS - len(rows))


_found = lru_cache(maxsize=8)(find_knee)  # the cells of one trial ask for the same knee


def _knee_function(ending: str, title: str, gives: str, result: Callable) -> CellFunction:
    def compute(depths: Any, energies: Any) -> Any:
        readings = None
        try:
            readings = _readings(depths, energies)
            return result(_found(readings.depths, readings.energies), readings)
        except ValueError as error:
            text = failure(str(error) + (readings.numbering if readings else ""))
            return _block([(text, "")]) if gives == BLOCK else text

    return CellFunction("GRIT_KNEE" + ending, title, _KNEE_ARGUMENTS, gives, compute)


@dataclass(frozen=True)
class _Limits:
    lowest_work_rpm: float | None
    highest_work_rpm: float | None


def _next_rpm(work_rpms: Any, loads: Any, nominal_rpm: Any, lowest: Any, highest: Any, damage_seen: Any) -> Any:
    """The rpm to try next, or why to stop."""
    readings = None
    try:
        readings = _readings(work_rpms, loads, ("work_rpms", "loads"))
        nominal = _one_or_blank("nominal_rpm", nominal_rpm)
        limits = _Limits(_one_or_blank("lowest_work_rpm", lowest), _one_or_blank("highest_work_rpm", highest))
        for name, unit, values in (("work_rpms", " 1/min", readings.depths), ("loads", ", idle taken off", readings.energies)):
            if any(value <= 0 for value in values):
                raise ValueError(f"{name} must be > 0{unit} (got {min(values)!r})")
        scale = FourthRoot()
        advice = next_reading(
            [scale.depth(rpm) for rpm in readings.depths],
            readings.energies,
            scale,
            limits,
            nominal_rpm=nominal,
            damage_seen=_yes_or_no("damage_seen", damage_seen),
        )
    except ValueError as error:
        return failure(str(error) + (readings.numbering if readings else ""))
    return advice.line() if advice.stop else advice.work_rpm


def _one_cell(name: str, value: Any) -> Any:
    """The value of an argument that must be one cell; None for a blank one."""
    if _is_rows(value):
        if _shape(value) != (1, 1):
            rows, columns = _shape(value)
            raise ValueError(f"{name} must be one cell (got {rows} x {columns} cells)")
        value = value[0][0]
    return None if is_blank(value) else value


def _one_or_blank(name: str, value: Any) -> float | None:
    """The number of a cell, None for a blank one."""
    value = _one_cell(name, value)
    wrong = _what_is_wrong(value)
    if wrong:
        raise ValueError(name + wrong)
    return None if _waits(value) or value == 0 else value  # a blank cell comes as 0 from some hosts, and no rpm is 0


def _yes_or_no(name: str, value: Any) -> bool:
    value = _one_cell(name, value)
    answer = False if value is None else yes_or_no(value)
    if answer is None:
        raise ValueError(f"{name} must be yes, no or blank (got {value.text if isinstance(value, ErrorCell) else value!r})")
    return answer


_KNEE_ARGUMENTS = (
    Argument("depths", "Grit depths of the trial in µm, one cell for each reading. A reading with a blank cell is left out."),
    Argument(
        "energies",
        "Specific energy or grinding power of each reading, all in one unit, in a range of the same shape as the depths.",
    ),
)
_NEXT_ARGUMENTS = (
    Argument("work_rpms", "Work rpm of the readings so far, 1/min, in the order taken. A reading with a blank cell is left out."),
    Argument("loads", "Net power, net load or specific energy of each reading, idle taken off, in a range of the same shape."),
    Argument("nominal_rpm", "Work rpm where the trial starts, 1/min. Blank or 0: that of the first reading."),
    Argument("lowest_work_rpm", "Lowest work rpm of the machine, 1/min. Blank or 0: the trial ends 60 % below nominal."),
    Argument("highest_work_rpm", "Highest work rpm of machine and chuck, 1/min. Blank or 0: the trial ends 60 % above nominal."),
    Argument("damage_seen", "yes when burn, a crack or wheel breakdown was seen; no or blank when not."),
)
_ONLY_FOUND = " A number only when the verdict is found, otherwise a text that says what to do next."

FUNCTIONS: tuple[CellFunction, ...] = tuple(_formula_function(record) for record in catalogue) + (
    _knee_function(
        "",
        "Knee of a trial: the grit depth beyond which the energy no longer falls, µm." + _ONLY_FOUND,
        NUMBER,
        _knee_number("knee"),
    ),
    _knee_function("_LOW", "Lower end of the knee's interval, µm." + _ONLY_FOUND, NUMBER, _knee_number("low")),
    _knee_function("_HIGH", "Upper end of the knee's interval, µm." + _ONLY_FOUND, NUMBER, _knee_number("high")),
    _knee_function(
        "_LEVEL",
        "Energy or power at and beyond the knee, in the unit of the readings." + _ONLY_FOUND,
        NUMBER,
        _knee_number("level"),
    ),
    _knee_function("_VERDICT", "Verdict on a trial: " + ", ".join(VERDICTS[:-1]) + f" or {VERDICTS[-1]}.", TEXT, _knee_verdict),
    _knee_function(
        "_REPORT", f"Report on a trial, two columns: what, and its value in words; {REPORT_ROWS} rows.", BLOCK, _knee_report
    ),
    CellFunction(
        "GRIT_NEXT_RPM",
        "Work rpm to try next in a trial at constant infeed rate, 1/min, within the machine's limits and at "
        "most one step of 10 % of nominal beyond those tried; or a text that begins with stop: and says why.",
        _NEXT_ARGUMENTS,
        NUMBER,
        _next_rpm,
    ),
    CellFunction("GRIT_VERSION", "Version of the add-in.", (), TEXT, lambda: __version__),
)
