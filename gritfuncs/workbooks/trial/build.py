"""trial.xlsx: plan an rpm trial, take the readings, see depth, energy, knee, interval and verdict on one sheet."""

from __future__ import annotations

from typing import Any

from ... import example
from ...sheets.book import Book
from ...trial.inputs import INPUTS
from ..blocks.example_inputs import wheel_and_grits
from ..blocks.state import state
from ..blocks.wheel import tables_page
from . import results
from .calculation import calculation_page
from .chart import add_chart
from .checks import checks
from .fits import drift_page, knee_page
from .help_sheet import help_sheet
from .inputs_sheet import inputs_sheet
from .next import next_page
from .offset import energies, offset_page, with_offset
from .other_trials import other_trials
from .outlier import screened
from .plan import plan_page
from .readings import finish_page, typed_rows
from .record_sheet import record_sheet
from .steps import steps_page
from .tables import CHECKS, HELP, ORDER, READINGS, RECORD, TRIAL
from .tables import INPUTS as INPUTS_SHEET
from .working_sheet import damage_noted, working_sheet


def defaults() -> dict[str, Any]:
    """The invented example as input values, without readings: rows of an example left among one's own would be computed with."""
    known = dict(
        wheel_and_grits(),
        work_diameter=example.SETUP["work_diameter"],
        infeed_rate=example.SETUP["infeed_rate"],
        nominal_rpm=example.NOMINAL_RPM,
        lowest_work_rpm=example.LIMITS.lowest_work_rpm,
        highest_work_rpm=example.LIMITS.highest_work_rpm,
        readings=(),
        row_infeed_rates=(),
        observations=(),
        other_trials=(),
    )
    return {**{given.name: given.default for given in INPUTS}, **known}


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example.

    `readings` are rows of (work rpm, load, idle, use?, note), `observations` rows of (finish, wear, damage) beside them; shorter
    rows allowed.  `row_infeed_rates` are the infeed rates of these rows, as the machine shows them; None is that of the inputs.
    """
    values = {**defaults(), **(values or {})}
    links = (("Inputs", INPUTS_SHEET), ("Trial", TRIAL), ("Record", RECORD), ("Checks", CHECKS), ("Help", HELP))
    book = Book("Grit depth trial", has_units=True, state=state(damage_noted()), links=links)
    typed = typed_rows(values)
    inputs_sheet(book, values)
    steps_page(book)
    plan_page(book)
    calculation_page(book)
    load_page, load_at = offset_page(book)
    block = knee_page(book, energies(load_at))
    drift = drift_page(book, block, energies(load_at))
    found = with_offset(load_page, load_at, block, screened(book, drift))
    next_page(book, found, energies(load_at))
    working = working_sheet(book, found, typed)
    record_sheet(book, found)
    results.looks(book)
    finish_page(book, typed)
    add_chart(book, working, found, load_at, other_trials(book, values["other_trials"]))
    checks(book)
    book.checks_page()
    tables_page(book)
    help_sheet(book)
    book.finish()
    _arrange(book, working, any(any(row.values()) for row in typed))
    return book.workbook


def _arrange(book: Book, working, has_readings: bool) -> None:
    """The sheets in the order in which they are worked through, and the one to begin with in sight."""
    workbook = book.workbook
    computing = [sheet.title for sheet in workbook if sheet.title not in ORDER]
    workbook._sheets = [workbook[title] for title in (*ORDER, *computing)]
    workbook.active = workbook[TRIAL if has_readings else INPUTS_SHEET]
    margins = working.page_margins
    margins.top, margins.bottom = 0.5, 0.6
    working.oddFooter.left.text = "&F, &D"
    first = READINGS.here("work_rpm", READINGS.first_row)
    for selection in working.sheet_view.selection:
        selection.activeCell = selection.sqref = first
