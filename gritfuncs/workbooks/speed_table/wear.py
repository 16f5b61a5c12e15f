"""The sheet Wheel wear of speed_table.xlsx: the work rpm that holds the depth as the wheel gets smaller.

It is computed in mm and m/s on the sheet calc wheel wear; the sheet Wheel wear shows it in the units chosen.
"""

from __future__ import annotations

from typing import Any

from openpyxl.utils import get_column_letter

from ...quantities import QUANTITIES
from ...sheets.book import CALC, Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers, quoted
from ...sheets.page import Page
from ...sheets.styles import warning_format
from ...trial.inputs import Input
from ..blocks.limits import beyond, limit_cases
from ..blocks.shown import shown, unit_words
from ..blocks.wheel import formula
from .setup import RPM_FORMAT, breaks, limit_word, work_rpm

SHEET, CALC_SHEET = "Wheel wear", f"{CALC}wheel wear"
STEPS = 11
WHEEL_RPM_TOO_HIGH = "wheel rpm too high"
_COLUMNS = {  # by the name of the result, out_wear_<name>: heading, unit and number format
    "diameters": ("wheel diameter", "mm", "0.00"),
    "wheel_speed": ("wheel speed", "m/s", "0.00"),
    "rpm_at_wheel_rpm": ("work rpm", "1/min", RPM_FORMAT),
    "word_at_wheel_rpm": ("is it within the limits", "", "@"),
    "wheel_rpm": ("wheel rpm", "1/min", "0"),
    "rpm_at_wheel_speed": ("work rpm", "1/min", RPM_FORMAT),
    "word_at_wheel_speed": ("is it within the limits", "", "@"),
}
_SHOWN = {"wheel_speed": "[>=1000]0;0.00"}  # ft/min are large
_LETTERS = {name: get_column_letter(place) for place, name in enumerate(_COLUMNS, start=2)}


_INPUTS = tuple(
    Input(name, text, QUANTITIES[like], label, optional=True)
    for name, like, label, text in (
        (
            "smallest_wheel_diameter",
            "wheel_diameter",
            "smallest wheel diameter, worn out",
            "The table goes from the wheel above down to this.",
        ),
        ("reference_diameter", "work_diameter", "part diameter of the table", "The part that the table is for."),
        ("reference_infeed_rate", "infeed_rate", "its infeed rate, on the radius", "On the radius, whatever the machine shows."),
        (
            "highest_wheel_rpm",
            "wheel_rpm",
            "highest rpm of spindle and wheel",
            "A smaller wheel at constant wheel speed turns faster. Blank: no limit.",
        ),
    )
)


def inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Wheel wear table")
    page.rows_head(True)
    for record in _INPUTS:
        page.given(record, values.get(record.name))


def add(book: Book) -> None:
    """Both sheets and their checks."""
    page = book.page(SHEET, "Wheel wear: what holds the target depth as the wheel gets smaller", (16,) * 8)
    page.note(
        "For the part diameter and infeed rate named on Inputs. At constant wheel rpm the wheel speed falls with the diameter; at "
        "constant wheel speed the wheel rpm rises.",
        2,
    )
    _known(page)
    _head(page, {name: f"={quoted(f'{words}, ')}&{unit_words(unit)}" for name, (words, unit, _) in _COLUMNS.items() if unit})
    first, shown_first = _computed(book), page.row
    for number in range(STEPS):
        seen = {name: f"'{CALC_SHEET}'!{letter}{first + number}" for name, letter in _LETTERS.items()}
        page.cells(
            (number + 1, *("=" + shown(cell, _COLUMNS[name][1]) for name, cell in seen.items())),
            formats=("0", *(_SHOWN.get(name, number_format) for name, (_, _, number_format) in _COLUMNS.items())),
        )
    for first_column, rpm, word in (("D", "D", "E"), ("F", "G", "H")):  # the rpm that breaks a limit, and the word that names it
        warning_format(
            page.sheet,
            f"{first_column}{shown_first}:{word}{page.row - 1}",
            f"IF(ISNUMBER(${rpm}{shown_first}),{breaks(f'${word}{shown_first}')},FALSE)",
        )
    book.look_if(
        "the wheel wear table lacks an input, or its worn wheel is larger than the wheel",
        "out_wear_known=0",
        "in_smallest_wheel_diameter must be <= in_wheel_diameter; in_reference_diameter and in_reference_infeed_rate must be given",
    )
    book.look_if(
        "a worn wheel leaves the limits",
        f'COUNTIF(out_wear_word_at_wheel_rpm,"{OK}")+COUNTIF(out_wear_word_at_wheel_speed,"{OK}")<{2 * STEPS}*out_wear_known',
        "the sheet Wheel wear says where",
    )


def _known(page: Page) -> None:
    """Whether the table can be computed, out_wear_known."""
    given = are_numbers("use_smallest_wheel_diameter", "use_reference_diameter", "use_reference_infeed_rate")
    known = f"IF(out_ready=1,IF({given},IF(use_smallest_wheel_diameter<=use_wheel_diameter,1,0),0),0)"
    page.cells(("table can be computed (1 yes, 0 no)",) + ("",) * 6 + ("=" + known,), formats=(None,) * 7 + ("0",))
    page.sheet.merge_cells(start_row=page.row - 1, end_row=page.row - 1, start_column=1, end_column=7)
    page.book.name("out_wear_known", page.sheet, f"H{page.row - 1}")


def _head(page: Page, headings: dict[str, str]) -> None:
    """The headings, those given in place of the words."""
    page.sheet.cell(page.row, 3, "at constant wheel rpm")
    page.sheet.cell(page.row, 6, "at constant wheel speed")
    page.row += 1
    page.table_head(("no.", *(headings.get(name, words) for name, (words, _, _) in _COLUMNS.items())), lines=2)


def _computed(book: Book) -> int:
    """The sheet that computes, in mm and m/s; gives its first row."""
    page = book.page(CALC_SHEET, "Calculation of the wheel wear table, in mm and m/s", (16,) * 8)
    _head(page, {name: f"{words}, {unit}" for name, (words, unit, _) in _COLUMNS.items() if unit})
    first = page.row
    for number in range(STEPS):
        cells = {name: f"{letter}{page.row}" for name, letter in _LETTERS.items()}
        page.cells(
            (number + 1,) + tuple("=" + text for text in _row(cells, f"{number}/{STEPS - 1}")),
            formats=("0",) + tuple(number_format for _, _, number_format in _COLUMNS.values()),
        )
    for name, letter in _LETTERS.items():
        book.name(f"out_wear_{name}", page.sheet, f"{letter}{first}:{letter}{page.row - 1}")
    return first


def _row(cells: dict[str, str], worn: str) -> tuple[str, ...]:
    """The formulas of a row, worn being how far the wheel is worn from 0 to 1."""
    diameter = cells["diameters"]
    at_rpm, at_speed = cells["rpm_at_wheel_rpm"], cells["rpm_at_wheel_speed"]
    wheel_rpm = formula("wheel_rpm", wheel_diameter=diameter, wheel_speed="out_wheel_speed")
    part = dict(work_diameter="use_reference_diameter", infeed_rate="use_reference_infeed_rate", wheel_diameter=diameter)
    too_fast = (beyond("highest_wheel_rpm", cells["wheel_rpm"]), quoted(WHEEL_RPM_TOO_HIGH))
    return (
        f"IF(out_wear_known=1,use_wheel_diameter-(use_wheel_diameter-use_smallest_wheel_diameter)*{worn},NA())",
        f"out_wheel_speed*{diameter}/use_wheel_diameter",
        work_rpm(wheel_speed=cells["wheel_speed"], **part),
        limit_word(at_rpm, *_limits(at_rpm, cells["wheel_speed"])),
        wheel_rpm,
        work_rpm(wheel_speed="out_wheel_speed", **part),
        limit_word(at_speed, too_fast, *_limits(at_speed, "out_wheel_speed")),
    )


def _limits(rpm: str, wheel_speed: str) -> list[tuple[str, str]]:
    """The cases of broken limits at a work rpm and wheel speed."""
    speed = formula("work_speed", work_diameter="use_reference_diameter", work_rpm=rpm)
    removal_rate = formula("removal_rate", work_diameter="use_reference_diameter", infeed_rate="use_reference_infeed_rate")
    power = formula(
        "grinding_power", specific_energy="use_specific_energy", removal_rate=removal_rate, contact_width="use_contact_width"
    )
    return limit_cases(
        work_rpm=rpm,
        infeed_rate="use_reference_infeed_rate",
        speed_ratio=formula("speed_ratio", wheel_speed=wheel_speed, work_speed=speed),
        removal_rate=removal_rate,
        power=f"({power}+use_idle_power)",
    )
