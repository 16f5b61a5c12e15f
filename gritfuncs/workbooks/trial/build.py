"""trial.xlsx: plan an rpm trial, take the readings, see depth, energy, knee, interval and verdict."""

from __future__ import annotations

from typing import Any

from ... import example
from ...trial.inputs import GROUPS, INPUTS
from ..blocks.knee import knee_block
from ..blocks.wheel import tables_page
from ..book import Book
from ..read_me import read_me_page
from ..words import DENSITY, RADIUS
from . import chart, watch
from . import next as next_reading
from .calculation import calculation_page
from .checks import checks
from .other_trials import other_trials
from .readings import readings_page
from .results import results_page
from .steps import steps_page
from .tables import CALCULATION, ROWS


def defaults() -> dict[str, Any]:
    """The invented example as input values, without readings: rows of an example left among one's own would be computed with."""
    known = dict(
        example.SETUP,
        title=example.TITLE,
        side="external",
        infeed_basis="radius",
        grit_size=example.DESIGNATION,
        concentration=example.GRIT["concentration"],
        active_fraction=example.GRIT["active_fraction"],
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        contact_width=example.CONTACT_WIDTH,
        nominal_rpm=example.NOMINAL_RPM,
        lowest_work_rpm=example.LIMITS.lowest_work_rpm,
        highest_work_rpm=example.LIMITS.highest_work_rpm,
        readings=(),
        observations=(),
        other_trials=(),
    )
    return {**{given.name: given.default for given in INPUTS}, **known}


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example.

    `readings` are rows of (work rpm, load, idle, use?, note), shorter rows allowed.
    """
    values = {**defaults(), **(values or {})}
    book = Book("Grit depth trial")
    _read_me(book)
    _inputs(book, values)
    readings_page(book, values["readings"], values["observations"])
    steps_page(book)
    block = _knee(book)
    calculation_page(book)
    book.workbook.move_sheet("Knee", 1)  # people read the rows first
    results = results_page(book, block)
    watch.add(book, block)
    next_reading.add(book, block)
    chart.add(book, results, block, other_trials(book, values["other_trials"]))
    checks(book)
    book.checks_page()
    tables_page(book)
    return book.finish()


def _read_me(book: Book) -> None:
    read_me_page(
        book,
        "Grit depth trial: find the depth at which the wheel works well",
        purpose=(
            "Each wheel, material and machine has a range of grit depth where the wheel works well. Shallower, the "
            "grits rub: power and heat climb. Deeper, grits are torn out. This workbook plans a trial in which the work"
            " rpm is stepped, takes the power read at each step, and finds the knee: the depth where the falling curve "
            "levels off.",
        ),
        steps=(
            "Inputs: fill in wheel, work, infeed and the nominal work rpm. Cells to fill in are tinted, have a strong "
            "border and say input or choice beside them.",
            "Readings: run the planned rpm in the order given, nominal again in the middle and at the end. Let each "
            "step settle, then write down what rpm and load really were. Rows may be left blank or switched off with "
            "no.",
            "Results: verdict, knee with its interval, the work rpm that holds it, and the chart. Only the verdict "
            "found carries a knee to set a machine by; every other verdict says what to do next.",
            "Next reading: after each reading, which work rpm to try next or that the trial can stop. Watch: range of "
            "the plan, readings needed, drift, damage. Other trials: earlier trials to show on the same chart.",
        ),
        background=(
            "The knee is the corner of the least-squares curve that falls in a straight line and then stays level. The "
            "interval is what scatter leaves possible at 95 %, widened to half the mean gap between depths because real"
            " curves are rounded. This workbook does not search for a single reading out of line: look at the chart, or"
            " use the command gritfuncs knee.",
            RADIUS,
        ),
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page("Inputs", "Inputs")
    for heading, group in GROUPS.items():
        if heading:
            page.heading(heading)
        if heading == "Grits":
            page.note(DENSITY, 2)
        page.rows_head()
        for given in group:
            page.given(given, values[given.name])


def _knee(book: Book) -> dict[str, str]:
    """The sheet that finds the knee; gives the addresses of its results by name."""
    page = book.page("Knee", "Knee: the fit, step by step", (44, 16, 24) + (12,) * 60)
    block = knee_block(
        CALCULATION.area("depth"),
        CALCULATION.area("energy"),
        ROWS,
        sheet_name=page.sheet.title,
        anchor=f"A{page.row}",
        noise="out_noise_given",
    )
    for address, content in block.cells.items():
        page.put(address, content)
    page.sheet.print_area = "A1:C145"  # the steps; the table of 40 rows below them is to be read on the screen
    return block.results
