"""Options that several commands have."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from typing import Any

from ..quantities import QUANTITIES
from ..trial.words import LOAD_KINDS


def add_number(parser: ArgumentParser, option: str, help_text: str, default: float | None = None, required: bool = False) -> None:
    """An option that takes one number."""
    parser.add_argument(option, type=float, metavar="NUMBER", default=default, required=required, help=help_text)


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


def numbers(text: str) -> list[float]:
    """The numbers of a list that was typed."""
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise ArgumentTypeError(f"must be numbers separated by commas, with decimal points (got {text!r})") from None


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
    parser.add_argument("--load-kind", choices=LOAD_KINDS, help="what the load readings are: kW, A, or any load meter")
    add_number(parser, "--idle", "idle reading for rows without their own, in the unit of the readings")
    add_number(parser, "--noise-percent", "scatter of repeated readings in percent, if you know it")


def reading_options(chosen: Namespace) -> dict[str, Any]:
    """What read_trial is told beside the file."""
    columns: dict[str, str] = {}
    for given in chosen.column:
        word, separator, column = given.partition("=")
        if not separator or not column:
            raise ValueError(f"--column must be WORD=COLUMN, such as work_rpm=B (got {given!r})")
        columns[word.strip()] = column.strip()
    noise = None if chosen.noise_percent is None else chosen.noise_percent / 100
    return {"sheet": chosen.sheet, "columns": columns or None, "load_kind": chosen.load_kind, "idle": chosen.idle, "noise": noise}
