"""The setups of speed_table.xlsx: part diameters by infeed rates, computed in shop units on the sheet `calc setups`.

The names out_<block> hold shop units whatever units are typed; the sheets Speed table and Details show them in the units chosen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Callable

from openpyxl.utils import get_column_letter

from ...quantities import QUANTITIES
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.conditions import are_numbers, first_of, quoted
from ..blocks.limits import limit_cases
from ..blocks.wheel import formula
from .setup import RPM_FORMAT, UNKNOWN, limit_word, work_rpm

ROWS = COLUMNS = 12
TABLE, DETAILS, CALC = "Speed table", "Details", "calc setups"
LETTERS = tuple(get_column_letter(2 + column) for column in range(COLUMNS))
AXIS, FIRST_ROW = 9, 11  # rows of the infeed rates and of the first part diameter on the sheet Speed table
_RATE = 6  # row of the infeed rates on the radius on the sheet of calculation
_TIME = Quantity("time", "-", "time", "s", "Time for the stock.", digits=1)


@dataclass(frozen=True)
class Block:
    """A value of every setup: the name out_<name>, its heading, unit and formula."""

    name: str
    title: str
    compute: Callable[["Setup"], str]
    quantity: Quantity | None = None  # decimals and units; without one it is an rpm or a word
    is_word: bool = False

    @property
    def number_format(self) -> str | None:
        if self.is_word:
            return "@"
        return RPM_FORMAT if self.quantity is None else f"0.{'0' * self.digits}".rstrip(".")

    @property
    def digits(self) -> int:
        return {"speed_ratio_table": 0, "removal_rate_table": 3}.get(self.name, self.quantity.digits if self.quantity else 1)

    @property
    def first_row(self) -> int:
        return _RATE + 3 + BLOCKS.index(self) * (ROWS + 2)


@dataclass(frozen=True)
class Setup:
    """The cells of one setup by its row and the letter of its column."""

    row: int
    letter: str

    @property
    def given(self) -> str:
        return f"'{TABLE}'!$A{FIRST_ROW + self.row}"

    @property
    def diameter(self) -> str:
        return f"$A{BLOCKS[0].first_row + self.row}"

    @property
    def rate(self) -> str:
        return f"{self.letter}${_RATE}"

    def of(self, name: str) -> str:
        """The cell of another value of the setup, on the sheet of calculation."""
        block = next(block for block in BLOCKS if block.name == name)
        return f"{self.letter}{block.first_row + self.row}"

    def seen(self, name: str) -> str:
        """The same, for a formula on another sheet."""
        return f"'{CALC}'!{self.of(name)}"


def _from_rpm(setup: Setup, value: str) -> str:
    """A value that needs the rpm: nothing where there is no setup, a dash where the wheel does not fit."""
    rpm = setup.of("rpm_table")
    return f"IF(ISNUMBER({rpm}),{value},{rpm})"


def _rpm(setup: Setup) -> str:
    rpm = work_rpm(
        work_diameter=setup.diameter, infeed_rate=setup.rate, wheel_speed="out_wheel_speed", wheel_diameter="use_wheel_diameter"
    )
    return first_of(
        (f"ISBLANK({setup.given})", quoted("")),
        (f"ISBLANK('{TABLE}'!{setup.letter}${AXIS})", quoted("")),
        ("out_ready=1", rpm),
        otherwise="NA()",
    )


def _work_speed(setup: Setup) -> str:
    return _from_rpm(setup, formula("work_speed", work_diameter=setup.diameter, work_rpm=setup.of("rpm_table")))


def _speed_ratio(setup: Setup) -> str:
    return _from_rpm(setup, formula("speed_ratio", wheel_speed="out_wheel_speed", work_speed=setup.of("work_speed_table")))


def _removal_rate(setup: Setup) -> str:
    return _from_rpm(setup, formula("removal_rate", work_diameter=setup.diameter, infeed_rate=setup.rate))


def _power(setup: Setup) -> str:
    power = formula(
        "grinding_power",
        specific_energy="use_specific_energy",
        removal_rate=setup.of("removal_rate_table"),
        contact_width="use_contact_width",
    )
    return _from_rpm(setup, first_of(("out_power_known=1", f"{power}+use_idle_power"), otherwise=quoted(UNKNOWN)))


def _time(setup: Setup) -> str:
    return _from_rpm(setup, first_of((are_numbers("use_stock"), f"60*use_stock/{setup.rate}"), otherwise=quoted(UNKNOWN)))


def _rpm_low(setup: Setup) -> str:
    return _from_rpm(setup, f"{setup.of('rpm_table')}*out_rpm_low_factor")


def _rpm_high(setup: Setup) -> str:
    return _from_rpm(setup, f"{setup.of('rpm_table')}*out_rpm_high_factor")


def _word(setup: Setup) -> str:
    values = {name: setup.of(f"{name}_table") for name in ("speed_ratio", "removal_rate", "power")}
    values.update(work_rpm=setup.of("rpm_table"), infeed_rate=setup.rate)
    return limit_word(setup.of("rpm_table"), *limit_cases(**values))


EDGES = ("rpm_low_table", "rpm_high_table")  # of the band
BLOCKS = (
    Block("rpm_table", "work rpm, 1/min (! breaks a limit)", _rpm),
    Block("limit_table", "is it within the limits", _word, is_word=True),
    Block("work_speed_table", "work speed", _work_speed, QUANTITIES["work_speed"]),
    Block("speed_ratio_table", "speed ratio", _speed_ratio, QUANTITIES["speed_ratio"]),
    Block("removal_rate_table", "specific removal rate", _removal_rate, QUANTITIES["removal_rate"]),
    Block("power_table", "spindle power, idle included", _power, QUANTITIES["power"]),
    Block("time_table", "time for the stock", _time, _TIME),
    Block("rpm_low_table", "lowest work rpm within the band, 1/min (! breaks a limit)", _rpm_low),
    Block("rpm_high_table", "highest work rpm within the band, 1/min (! breaks a limit)", _rpm_high),
)


def calc_page(book: Book) -> None:
    """Add the sheet of calculation with the names out_<block>."""
    page = book.page(CALC, "Calculation of each setup, in mm, m/min, kW (nothing to type here)", (44,) + (14,) * COLUMNS)
    page.row = _RATE
    factor = "out_infeed_factor*out_length_factor"
    axis = (f"'{TABLE}'!{letter}{AXIS}" for letter in LETTERS)
    page.cells(
        ("infeed rate on the radius, mm/min", *(f'=IF(ISNUMBER({cell}),{cell}*{factor},"")' for cell in axis)),
        formats=(None,) + ("General",) * COLUMNS,
    )
    for block in BLOCKS:
        page.row = block.first_row - 1
        unit = "" if not block.quantity or block.quantity.unit == "-" else f", {block.quantity.unit}"
        page.table_head((f"{block.title}{unit}; part diameter, mm",) + ("",) * COLUMNS, lines=2)
        for row in range(ROWS):
            setups = [Setup(row, letter) for letter in LETTERS]
            given = setups[0].given
            diameter = f'=IF(ISBLANK({given}),"",IFERROR({given}*out_length_factor,{given}))'
            page.cells(
                (diameter, *("=" + block.compute(setup) for setup in setups)),
                formats=("General", *(block.number_format,) * COLUMNS),
            )
        book.name(f"out_{block.name}", page.sheet, f"B{block.first_row}:{LETTERS[-1]}{page.row - 1}")
    page.sheet.freeze_panes = "B5"
