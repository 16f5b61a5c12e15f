"""The table of spreadsheet functions that can be computed here: those of our workbooks, and those that `share` meets.

It holds only what every spreadsheet computes alike; to teach another one, add a line to the table and a case
to the tests.
"""

from __future__ import annotations

import math
import re
import statistics
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_HALF_UP, ROUND_UP, Decimal
from functools import partial
from typing import Any, Callable

from .cell_values import (
    LONGEST_TEXT,
    NA,
    NUM,
    NUMBER,
    REF,
    RELATIONS,
    VALUE,
    Area,
    CellError,
    Failure,
    compare,
    computed,
    finite,
    fitting,
    number,
    numbers,
    parsed,
    power,
    scalar,
    sort_key,
    text,
    truth,
)

ABOVE_ZERO = math.ulp(0.0)


def _attempt(here: Any, argument: Callable) -> Any:
    """The single value of an argument, be it an error."""
    try:
        return scalar(argument(here))
    except Failure as failure:
        return failure.error


# These are given functions of the cell that a formula stands in, one for each argument, and make such a function.


def _if(condition, then, otherwise=lambda here: False):
    def chosen(here):
        found = condition(here)
        return then(here) if (found if type(found) is bool else truth(found)) else otherwise(here)

    return chosen


def _iferror(value, otherwise):
    def chosen(here):
        found = _attempt(here, value)
        return otherwise(here) if isinstance(found, CellError) else found

    return chosen


def _choose(position, *choices):
    def chosen(here):
        place = int(number(position(here)))
        if not 1 <= place <= len(choices):
            raise Failure(VALUE)
        return choices[place - 1](here)

    return chosen


def _is(test):
    return lambda argument: lambda here: test(_attempt(here, argument))


def _count(in_range, given):
    """COUNT and COUNTA look at errors instead of failing on them."""

    def count(here, *arguments):
        total = 0
        for argument in arguments:
            try:
                value = argument(here)
            except Failure as failure:
                value = failure.error
            total += sum(map(in_range, value)) if isinstance(value, Area) else given(value)
        return float(total)

    return lambda *arguments: lambda here: count(here, *arguments)


def _is_number(value):
    return isinstance(value, float)


def _is_numeric(value):
    try:
        number(value)
    except Failure:
        return False
    return True


def _is_filled(value):
    return value is not None


def _truths(arguments):
    found = []
    for argument in arguments:
        if isinstance(argument, Area):
            counted = [value for value in argument if isinstance(value, (float, bool, CellError))]
            found += [bool(scalar(value)) for value in counted]
        else:
            found.append(truth(argument))
    if not found:
        raise Failure(VALUE)
    return found


def _na():
    raise Failure(NA)


_MOST_DIGITS = 400  # more than any number has before or behind its decimal sign


def _rounded(mode, value, digits=0.0):
    step = Decimal(1).scaleb(-int(max(-_MOST_DIGITS, min(_MOST_DIGITS, digits))))
    if abs(value) >= 1e15 * float(step):  # finer than the number's own digits
        return value
    return float((Decimal(f"{value:.15g}") / step).to_integral_value(mode) * step)


def _modulo(value, divisor):
    return value - divisor * math.floor(value / divisor)


def _mean(values):
    return math.fsum(values) / len(values)


def _deviations(values):
    mean = _mean(values)
    return math.fsum((value - mean) ** 2 for value in values)


def _variance(values):
    return _deviations(values) / (len(values) - 1)


def _ranked(sign, area, place):
    values, place = sorted(numbers([area]), key=lambda value: sign * value), math.ceil(number(place))
    if not 1 <= place <= len(values):
        raise Failure(NUM)
    return values[place - 1]


def _sumproduct(*areas):
    areas = [area if isinstance(area, Area) else Area([[area]]) for area in areas]
    if len({(area.height, area.width) for area in areas}) > 1:
        raise Failure(VALUE)
    for area in areas:
        for value in area:
            scalar(value)
    return computed(math.fsum, [math.prod(row) for row in zip(*areas) if all(map(_is_number, row))])


def _criterion(given):
    """A test of values from a criterion such as 5, "grit", ">0", "<>" or "x*"."""
    given = scalar(given)
    symbol, wanted = "=", given
    if isinstance(given, str):
        symbol, wanted = re.fullmatch(r"(<>|<=|>=|=|<|>|)(.*)", given, re.DOTALL).groups()
        if NUMBER.fullmatch(wanted.strip()):
            wanted = parsed(wanted)
    symbol, relation = symbol or "=", RELATIONS[symbol or "="]
    if wanted == "" and symbol in ("=", "<>"):
        return lambda value: relation(value is None, True)
    if isinstance(wanted, str) and symbol in ("=", "<>"):
        pattern = _Pattern(wanted)
        return lambda value: relation(isinstance(value, str) and pattern.fits(value), True)
    kind = type(0.0 if wanted is None else wanted)
    return lambda value: compare(relation, value, wanted) if type(value) is kind else symbol == "<>"


class _Pattern:
    """A text to look for in which ? stands for a letter, * for any text and ~ takes that meaning away.

    One expression for all of it would try the places of several * in every combination; each piece between them is
    looked for once, from the left.
    """

    def __init__(self, wanted: str):
        pieces: list[list[str]] = [[]]
        for part in re.findall(r"~[?*~]|.", wanted, re.DOTALL):
            if part == "*":
                pieces.append([])
            else:
                pieces[-1].append("." if part == "?" else re.escape(part[-1]))
        self.last = len(pieces[-1])  # letters behind the last *
        self.pieces = [re.compile("".join(piece), re.IGNORECASE | re.DOTALL) for piece in pieces]

    def fits(self, value: str) -> bool:
        first, *others = self.pieces
        found = first.match(value) if others else first.fullmatch(value)
        for piece in others[:-1]:
            found = found and piece.search(value, found.end())
        if not others or not found:
            return bool(found)
        start = len(value) - self.last
        return start >= found.end() and others[-1].match(value, start) is not None


def _chosen(values, *conditions):
    """The values for which every pair (area, criterion) holds."""
    areas, tests = conditions[::2], [_criterion(given) for given in conditions[1::2]]
    if len({(area.height, area.width) for area in (values, *areas)}) > 1:
        raise ValueError("ranges of different size stand in one condition")
    places: Iterable[int] = range(values.height * values.width)
    for area, test in zip(areas, tests):
        held = list(area)
        places = [place for place in places if test(held[place])]
    held = list(values)
    return [held[place] for place in places]


def _numbers_if(result):
    def function(area, given, values=None):
        return computed(result, numbers([Area([_chosen(values or area, area, given)])]))

    return function


def _numbers_ifs(result):
    def function(values, *conditions):
        return computed(result, numbers([Area([_chosen(values, *conditions)])]))

    return function


def _index(area, row, column=None):
    row, column = int(number(row)), None if column is None else int(number(column))
    if column is None:
        row, column = (1, row) if area.height == 1 else (row, 1 if area.width == 1 else 0)
    if not (0 <= row <= area.height and 0 <= column <= area.width):
        raise Failure(REF)
    height, width = 1 if row else area.height, 1 if column else area.width
    return area.part(max(row - 1, 0), max(column - 1, 0), height, width)


def _position(wanted, values, order):
    """Where the wanted value is, from 0: exact (order 0), or the last not above (1) or not below (-1) it."""
    wanted = scalar(wanted)
    wanted = 0.0 if wanted is None else wanted
    if order == 0:
        found = _exact_position(wanted, values)
    else:
        keys, places = values.in_order(sort_key(wanted)[0], falling=order < 0)
        found = bisect_left(keys, sort_key(wanted)) if order < 0 else bisect_right(keys, sort_key(wanted)) - 1
        found = places[found] if 0 <= found < len(places) else None
    if found is None:
        raise Failure(NA)
    return found


def _exact_position(wanted, values):
    if isinstance(wanted, str) and (not wanted.isascii() or re.search("[?*~]", wanted)):
        pattern = _Pattern(wanted)
        return next((place for place, value in enumerate(values) if type(value) is str and pattern.fits(value)), None)
    return values.places.get(sort_key(wanted))


def _match(wanted, area, order=1.0):
    return 1 + _position(wanted, area, number(order))


def _table_lookup(wanted, table, place, sorted_keys=True):
    place = int(number(place))
    if not 1 <= place <= table.width:
        raise Failure(VALUE if place < 1 else REF)
    found = _position(wanted, table.first_column, 1 if truth(sorted_keys) else 0)
    return scalar(table.rows[found][place - 1])


def _fixed(value, digits=2.0, plain=False):
    """A number as text with so many decimals; the decimal sign is the country's own in a spreadsheet program."""
    digits = int(number(digits))
    if digits > 127:
        raise Failure(VALUE)
    shown = _rounded(ROUND_HALF_UP, number(value), digits) or 0.0  # no negative zero
    return f"{shown:{'' if truth(plain) else ','}.{max(digits, 0)}f}"


def _formatted(value, pattern):
    pattern = text(pattern)
    match = re.fullmatch(r"(#,##)?0(?:\.(0+))?(%?)", pattern)
    if not match:
        raise ValueError(f"TEXT takes formats such as 0, 0.00, #,##0.0 and 0.0% (got {pattern!r})")
    if isinstance(scalar(value), bool) or not _is_numeric(value):
        return text(value)
    digits, percent = len(match[2] or ""), match[3]
    value = number(value) * (100 if percent else 1)
    shown = _rounded(ROUND_HALF_UP, value, digits) or 0.0  # no negative zero
    return f"{shown:{',' if match[1] else ''}.{digits}f}{percent}"


def _length(count):
    if number(count) < 0:
        raise Failure(VALUE)
    return int(number(count))


def _middle(value, start, count):
    if _length(start) < 1:
        raise Failure(VALUE)
    return text(value)[_length(start) - 1 :][: _length(count)]


def _right(value, count=1.0):
    value = text(value)
    return value[max(len(value) - _length(count), 0) :]


def _substitute(value, old, new, occurrence=None):
    value, old, new = text(value), text(old), text(new)
    if occurrence is None or not old:
        grown = len(value) + value.count(old) * (len(new) - len(old)) if old else len(value)
        if grown > LONGEST_TEXT:
            raise Failure(VALUE)
        return value.replace(old, new) if old else value
    parts, place = value.split(old), int(number(occurrence))
    if place < 1:
        raise Failure(VALUE)
    return value if place >= len(parts) else old.join(parts[:place]) + new + old.join(parts[place:])


def _distribution(name, low, high, arguments):
    """A function of scipy.special of a value from low to high and of whole degrees of freedom."""

    def function(first, *rest):
        from scipy import special

        first, rest = number(first), [int(number(value)) for value in rest]
        if not low <= first <= high or any(value < 1 for value in rest):
            raise Failure(NUM)
        return finite(arguments(getattr(special, name), first, *rest))

    return function


def _character(code):
    if not 1 <= code < 256:
        raise Failure(VALUE)
    return bytes([int(code)]).decode("cp1252", "replace")


@dataclass(frozen=True)
class Function:
    """How to call a function, and with how many arguments.

    A lazy one gets functions of the cell that the formula stands in, and makes one that calls what it needs.  `single`
    counts the first arguments that are taken as single values: a reference there is as good as the value it shows.
    `passes` is true where an argument is passed on as it is, so that the same holds for all of them where a single value
    is needed of the function.
    """

    call: Callable
    least: int
    most: int
    lazy: bool = False
    single: int = 0
    passes: bool = False


def _numerical(function, least=1, most=None):
    def call(*arguments):
        return computed(function, *map(number, arguments))

    return Function(call, least, most or least, single=255)


def _aggregate(function):
    return Function(lambda *arguments: computed(function, numbers(arguments)), 1, 255)


def _textual(function):
    return Function(lambda value: function(text(value)), 1, 1)


# Beyond what our workbooks use. These stand in the formulas of shops beside a call of a cell function or inside it: `share`
# computes such a formula to compare the value with the one that was stored.
FOR_SHARING = frozenset(
    "AVERAGE CHAR CONCATENATE LEFT LOG10 POWER RIGHT ROUNDDOWN SUMIFS TEXT VALUE VLOOKUP ROWS COLUMNS".split()
)
FUNCTIONS = {
    # logic
    "IF": Function(_if, 2, 3, lazy=True, single=1, passes=True),
    "IFERROR": Function(_iferror, 2, 2, lazy=True, single=1, passes=True),
    "CHOOSE": Function(_choose, 2, 255, lazy=True, single=1, passes=True),
    "AND": Function(lambda *arguments: all(_truths(arguments)), 1, 255),
    "OR": Function(lambda *arguments: any(_truths(arguments)), 1, 255),
    "NOT": Function(lambda value: not truth(value), 1, 1),
    "NA": Function(_na, 0, 0),
    "ISNUMBER": Function(_is(_is_number), 1, 1, lazy=True, single=1),
    "ISLOGICAL": Function(_is(lambda value: isinstance(value, bool)), 1, 1, lazy=True, single=1),
    "ISTEXT": Function(_is(lambda value: type(value) is str), 1, 1, lazy=True, single=1),
    "ISBLANK": Function(_is(lambda value: value is None), 1, 1, lazy=True, single=1),
    "ISERROR": Function(_is(lambda value: isinstance(value, CellError)), 1, 1, lazy=True, single=1),
    # numbers
    "ABS": _numerical(abs),
    "INT": _numerical(math.floor),
    "MOD": _numerical(_modulo, 2),
    "ROUND": _numerical(partial(_rounded, ROUND_HALF_UP), 2),
    "ROUNDUP": _numerical(partial(_rounded, ROUND_UP), 2),
    "ROUNDDOWN": _numerical(partial(_rounded, ROUND_DOWN), 2),
    "SQRT": _numerical(math.sqrt),
    "POWER": _numerical(power, 2),
    "EXP": _numerical(math.exp),
    "LN": _numerical(math.log),
    "LOG10": _numerical(math.log10),
    "PI": _numerical(lambda: math.pi, 0),
    # lists of numbers
    "SUM": _aggregate(math.fsum),
    "AVERAGE": _aggregate(_mean),
    "MIN": _aggregate(partial(min, default=0.0)),
    "MAX": _aggregate(partial(max, default=0.0)),
    "MEDIAN": _aggregate(statistics.median),
    "STDEV": _aggregate(lambda values: math.sqrt(_variance(values))),
    "COUNT": Function(_count(_is_number, _is_numeric), 1, 255, lazy=True),
    "COUNTA": Function(_count(_is_filled, lambda value: True), 1, 255, lazy=True),
    "LARGE": Function(partial(_ranked, -1), 2, 2),
    "SMALL": Function(partial(_ranked, 1), 2, 2),
    "SUMPRODUCT": Function(_sumproduct, 1, 255),
    "SUMIF": Function(_numbers_if(math.fsum), 2, 3),
    "SUMIFS": Function(_numbers_ifs(math.fsum), 3, 255),
    "AVERAGEIF": Function(_numbers_if(_mean), 2, 3),
    "AVERAGEIFS": Function(_numbers_ifs(_mean), 3, 255),
    "COUNTIF": Function(lambda area, given: len(_chosen(area, area, given)), 2, 2),
    "COUNTIFS": Function(lambda area, *rest: len(_chosen(area, area, *rest)), 2, 255),
    # places
    "INDEX": Function(_index, 2, 3),
    "MATCH": Function(_match, 2, 3),
    "VLOOKUP": Function(_table_lookup, 3, 4),
    "ROWS": Function(lambda area: area.height, 1, 1),
    "COLUMNS": Function(lambda area: area.width, 1, 1),
    # distributions, right tails; TINV counts both tails, TDIST as many as asked
    "FINV": Function(_distribution("fdtri", ABOVE_ZERO, 1, lambda f, p, n, m: 1 / f(m, n, p)), 3, 3),
    "TINV": Function(_distribution("stdtrit", ABOVE_ZERO, 1, lambda f, p, n: -f(n, p / 2)), 2, 2),
    # text
    "TEXT": Function(_formatted, 2, 2),
    "FIXED": Function(_fixed, 1, 3),
    "CONCATENATE": Function(lambda *arguments: fitting("".join(map(text, arguments))), 1, 255),
    "LEFT": Function(lambda value, count=1.0: text(value)[: _length(count)], 1, 2),
    "RIGHT": Function(_right, 1, 2),
    "MID": Function(_middle, 3, 3),
    "SUBSTITUTE": Function(_substitute, 3, 4),
    "TRIM": _textual(lambda value: re.sub(" +", " ", value).strip(" ")),
    "VALUE": Function(number, 1, 1),
    "CHAR": _numerical(_character),
}
