"""Options that several commands have, and how their values are read.

A number may be written with a decimal point or a decimal comma, and a quantity with a unit behind it.  What could mean two
things (1,250) and a unit that does not fit are refused.
"""

from __future__ import annotations

import re
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable, Iterable, Iterator
from glob import glob
from pathlib import Path
from typing import Any

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..refused import Refused
from ..trial.numbers import parse
from ..trial.words import LOAD_KINDS
from ..units import is_unit, ratio
from .parser import Parser

SECONDS, OF_READINGS = "s", "the unit of the readings"
_ZERO = re.compile(r"\s*[+-]?0")  # before a comma
_WITH_UNIT = re.compile(r"\s*([+-]?[\d.,]*\d[.,]?(?:[eE][+-]?\d+)?)\s*([^\s\d.,;].*|1/.*)", re.DOTALL)


def number(text: str) -> float:
    """The number that was typed."""
    point, comma = parse(text, "."), parse(text, ",")
    if "," in text and None not in (point, comma) and point != comma:
        raise ArgumentTypeError(f"must be a number of one meaning, {point:.10g} or {comma:.10g} (got {text!r})")
    value = comma if point is None else point
    if value is not None:
        return value
    if text.strip().lower() in ("nan", "inf", "-inf"):
        return float(text)  # a number to Python; the limits of each input refuse it
    raise ArgumentTypeError(f"must be a number (got {text!r})")


def in_unit_of(quantity: Quantity) -> Callable[[str], float]:
    """Reads a number with a unit behind it, or one in the quantity's own unit, and gives it in that."""

    def read(text: str) -> float:
        return _converted(text, quantity)[0]

    return read


def numbers_in_unit_of(quantity: Quantity) -> Callable[[str], list[float]]:
    """Reads a list of numbers: parted by semicolons, or by commas where decimals have points.

    A comma that may be a decimal sign is refused: a zero before it (0,6), or a list that does not rise (12,5).
    """

    def read(text: str) -> list[float]:
        by_commas = "," in text and ";" not in text
        parts = text.split(",") if by_commas else text.rstrip("; ").split(";")
        if by_commas and "." not in text and _may_have_decimal_commas(parts):
            raise ArgumentTypeError(f"must be numbers parted by semicolons, such as 12;20 or 0,3;0,6 (got {text!r})")
        values = [_converted(part, quantity) for part in parts]
        if len({unit for _, unit in values}) > 1:
            raise ArgumentTypeError(f"must be numbers with one unit behind each, or behind none (got {text!r})")
        return [value for value, _ in values]

    return read


def _may_have_decimal_commas(parts: list[str]) -> bool:
    values = [value for value in (parse(part, ".") for part in parts) if value is not None]
    return _ZERO.match(parts[0]) is not None or values != sorted(values)


def _parted(text: str) -> tuple[float, str]:
    """The number that was typed and the unit behind it, "" where there is none."""
    found = None if parse(text, ".") is not None else _WITH_UNIT.fullmatch(text)  # 1e9 has no unit
    return (number(found[1]), found[2].strip()) if found else (number(text), "")


def _converted(text: str, quantity: Quantity) -> tuple[float, str]:
    """The number in the quantity's unit, and the unit that was typed."""
    value, unit = _parted(text)
    try:
        value = quantity.converted(value, unit) if unit else value
    except Refused:
        own = "without a unit" if quantity.unit == "-" else f"in {quantity.unit} or with a unit that converts"
        raise ArgumentTypeError(f"must be a number, {own} (got {text!r})") from None
    try:
        return quantity.check_possible(value), unit
    except Refused as refused:
        raise ArgumentTypeError(f"must {refused.must} (got {text!r})") from None


def number_in(unit: str) -> Callable[[str], float]:
    """Reads a number in a unit that no quantity has, or with one behind it that converts."""

    def read(text: str) -> float:
        value, typed = _parted(text)
        factor = ratio(typed, unit) if typed else 1
        if factor is None:
            own = f"in {unit} or with a unit that converts" if is_unit(unit) else f"in {unit}"
            raise ArgumentTypeError(f"must be a number, {own} (got {text!r})")
        return float(value * factor)

    return read


def whole_number(text: str) -> int:
    """The whole number that was typed."""
    value = parse(text, ".")
    if value is None or not value.is_integer():
        raise ArgumentTypeError(f"must be a whole number (got {text!r})")
    return int(value)


def share(text: str) -> float:
    """A percentage that was typed, as a share of 1."""
    percent = number(text.strip().removesuffix("%"))
    if not 0 < percent < 100:
        raise ArgumentTypeError(f"must be > 0 and < 100 % (got {text!r})")
    return percent / 100


def one_of(words: Iterable[str]) -> Callable[[str], str]:
    """Reads one of some words."""

    def read(text: str) -> str:
        if text not in words:
            raise ArgumentTypeError(f"must be one of {', '.join(words)} (got {text!r})")
        return text

    return read


def files(paths: Iterable[Path]) -> list[Path]:
    """The files that were named, with * and ? filled in where the shell has left them, as on Windows."""
    named: list[Path] = []
    for path in paths:
        wild = re.search(r"[*?]", path.name) and not path.exists()
        named += [Path(name) for name in sorted(glob(str(path)))] or [path] if wild else [path]
    return named


def add_number(parser: ArgumentParser, option: str, unit: str, help_text: str, default: float | None = None) -> None:
    """An option that takes one number in a unit that no quantity has."""
    parser.add_argument(option, type=number_in(unit), metavar="NUMBER", default=default, help=help_text)


def add_quantity(parser: ArgumentParser, name: str, help_text: str = "") -> None:
    """An option that takes a quantity, by its word."""
    quantity = QUANTITIES[name]
    unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
    parser.add_argument(
        "--" + name.replace("_", "-"), type=in_unit_of(quantity), metavar="NUMBER", help=(help_text or quantity.label) + unit
    )


def add_share(parser: ArgumentParser, name: str, help_text: str, default: float | None = None) -> None:
    """An option --NAME-percent for an input that the code takes as a share of 1."""
    shown = help_text if default is None else f"{help_text} (default: ±{100 * default:g} %%)"
    parser.add_argument(f"--{name}-percent", dest=name, type=share, metavar="NUMBER", default=default, help=shown)


def add_quantities(parser: ArgumentParser, name: str, metavar: str, help_text: str) -> None:
    """An option that takes a list of one quantity; its name is the word with an s."""
    read = numbers_in_unit_of(QUANTITIES[name.removesuffix("s")])
    parser.add_argument("--" + name.replace("_", "-"), type=read, metavar=metavar, help=help_text)


def add_choice(parser: ArgumentParser, option: str, words: Iterable[str], help_text: str, default: str | None = None) -> None:
    """An option that takes one of some words."""
    words = tuple(words)
    parser.add_argument(option, type=one_of(words), choices=words, default=default, help=help_text)


def add_json(parser: ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON instead of text")


def add_reading_options(parser: ArgumentParser) -> None:
    """How a trial is read, where the file does not say it."""
    parser.add_argument("--sheet", help="sheet of the workbook that has the readings")
    parser.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="WORD=COLUMN",
        help="where a column is: its letter or heading; WORD is work_rpm, power, current, load, idle, use, note, "
        "grit_depth, specific_energy, infeed_rate, wheel_speed, wheel_rpm, work_diameter or wheel_diameter (may be given several times)",
    )
    parser.add_argument(
        "--heading-row", type=whole_number, metavar="NUMBER", help="row of the headings, where the file does not make it clear"
    )
    add_choice(parser, "--load-kind", LOAD_KINDS, "what the load readings are: kW, A, or any load meter")
    add_number(parser, "--idle", OF_READINGS, "idle reading for rows without their own, in the unit of the readings")
    add_share(parser, "noise", "scatter of repeated readings in percent, if you know it")


def typed_options(chosen: Namespace) -> Iterator[tuple[str, str]]:
    """Option and value of each that was typed, as far as it differs from what stands where none is."""
    parser: Parser = chosen.parser
    for action in parser.arguments + parser.setup_arguments:
        value = getattr(chosen, action.dest, action.default)
        if not action.option_strings or value == action.default:
            continue
        if action.type is share:
            value *= 100
        given = value if isinstance(value, list) else [value]
        yield action.option_strings[0], ", ".join(f"{each:g}" if isinstance(each, float) else str(each) for each in given)


def refuse_reading_options(chosen: Namespace, missing: str) -> None:
    """Refused: an option that says how a trial is read, where none is given; `missing` is what would give one."""
    for option, got in typed_options(chosen):
        if option in ("--sheet", "--column", "--heading-row", "--load-kind", "--idle"):
            raise Refused(option, f"be given together with {missing}, or be left out", got)


def reading_options(chosen: Namespace) -> dict[str, Any]:
    """What read_trial is told beside the file."""
    columns: dict[str, str] = {}
    for given in chosen.column:
        word, separator, column = given.partition("=")
        if not separator or not column:
            raise Refused("--column", "be WORD=COLUMN, such as work_rpm=B", repr(given))
        columns[word.strip()] = column.strip()
    return {
        "sheet": chosen.sheet,
        "columns": columns or None,
        "load_kind": chosen.load_kind,
        "idle": chosen.idle,
        "noise": chosen.noise,
        "heading_row": chosen.heading_row,
    }
