"""Options that several commands have, and how their values are read.

A number may be written with a decimal point or a decimal comma.  Where it could mean two things (1,250) it is refused.
"""

from __future__ import annotations

import re
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable, Iterable
from glob import glob
from pathlib import Path
from typing import Any

from ..quantities import QUANTITIES
from ..refused import Refused
from ..trial.numbers import parse
from ..trial.words import LOAD_KINDS

_DECIMAL_COMMA_IN_A_LIST = re.compile(r"(?:^|,)\s*[+-]?0\d*(?=,)")


def number(text: str) -> float:
    """The number that was typed."""
    point, comma = parse(text, "."), parse(text, ",")
    if "," in text and None not in (point, comma) and point != comma:
        raise ArgumentTypeError(f"must be a number of one meaning, {point:.10g} or {comma:.10g} (got {text!r})")
    value = comma if point is None else point
    if value is None:
        raise ArgumentTypeError(f"must be a number (got {text!r})")
    return value


def whole_number(text: str) -> int:
    """The whole number that was typed."""
    value = number(text)
    if value != int(value):
        raise ArgumentTypeError(f"must be a whole number (got {text!r})")
    return int(value)


def share(text: str) -> float:
    """A percentage that was typed, as a share of 1."""
    percent = number(text)
    if not 0 < percent < 100:
        raise ArgumentTypeError(f"must be > 0 and < 100 % (got {text!r})")
    return percent / 100


def numbers(text: str) -> list[float]:
    """The numbers of a list that was typed: parted by semicolons, or by commas where decimals have points.

    A comma that may be a decimal sign is refused: a zero before it (0,6), or a list that does not rise (12,5).
    """
    if ";" in text:
        return [number(part) for part in text.rstrip("; ").split(";")]
    if "," not in text:
        return [number(text)]
    values = [parse(part, ".") for part in text.split(",")]
    parted = [value for value in values if value is not None]
    whole = "." not in text
    if len(parted) < len(values) or whole and (_DECIMAL_COMMA_IN_A_LIST.search(text) or parted != sorted(parted)):
        raise ArgumentTypeError(f"must be numbers parted by semicolons, such as 12;20 or 0,3;0,6 (got {text!r})")
    return parted


def one_of(words: Iterable[str]) -> Callable[[str], str]:
    """Reads one of some words."""

    def read(text: str) -> str:
        if text not in words:
            raise ArgumentTypeError(f"must be one of {', '.join(words)} (got {text!r})")
        return text

    return read


def files(paths: Iterable[Path]) -> list[Path]:
    """The files that were named, with * and ? filled in where the shell has left them, as on Windows."""
    return [
        Path(name)
        for path in paths
        for name in ((not path.exists() and re.search(r"[*?]", path.name) and sorted(glob(str(path)))) or [path])
    ]


def add_number(parser: ArgumentParser, option: str, help_text: str, default: float | None = None, required: bool = False) -> None:
    """An option that takes one number."""
    parser.add_argument(option, type=number, metavar="NUMBER", default=default, required=required, help=help_text)


def add_share(parser: ArgumentParser, name: str, help_text: str, default: float | None = None) -> None:
    """An option --NAME-percent for an input that the code takes as a share of 1."""
    shown = help_text if default is None else f"{help_text} (default: ±{100 * default:g} %%)"
    parser.add_argument(f"--{name}-percent", dest=name, type=share, metavar="NUMBER", default=default, help=shown)


def add_numbers(parser: ArgumentParser, option: str, metavar: str, help_text: str) -> None:
    """An option that takes a list of numbers and must be given."""
    parser.add_argument(option, type=numbers, required=True, metavar=metavar, help=help_text)


def add_choice(parser: ArgumentParser, option: str, words: Iterable[str], help_text: str, default: str | None = None) -> None:
    """An option that takes one of some words."""
    words = tuple(words)
    parser.add_argument(option, type=one_of(words), choices=words, default=default, help=help_text)


def add_quantity(parser: ArgumentParser, name: str, help_text: str = "", required: bool = False) -> None:
    """An option that takes a quantity of the vocabulary, or one whose name ends with it, such as highest_work_rpm."""
    quantity = QUANTITIES.get(name) or QUANTITIES[name.partition("_")[2]]
    unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
    add_number(parser, "--" + name.replace("_", "-"), (help_text or quantity.label) + unit, required=required)


def add_work_rpm_limits(parser: ArgumentParser) -> None:
    add_quantity(parser, "lowest_work_rpm", "lowest work rpm of the machine")
    add_quantity(parser, "highest_work_rpm", "highest work rpm of the machine or chuck")


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
        "grit_depth or specific_energy (may be given several times)",
    )
    add_choice(parser, "--load-kind", LOAD_KINDS, "what the load readings are: kW, A, or any load meter")
    add_number(parser, "--idle", "idle reading for rows without their own, in the unit of the readings")
    add_share(parser, "noise", "scatter of repeated readings in percent, if you know it")


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
    }
