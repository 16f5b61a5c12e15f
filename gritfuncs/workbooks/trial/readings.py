"""The sheet Readings of trial.xlsx: the planned steps, the cells to fill in at the machine, and what became of each row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...quantities import QUANTITIES
from ...trial.inputs import OBSERVED_COLUMNS, READING_COLUMNS
from ...trial.readings import BLANK
from ..book import Book
from ..conditions import first_of, quoted
from .plan import planned_rpm, step_percent
from .steps import plunge_depth
from .tables import CALCULATION, FIRST_ROW, READINGS, ROWS

DAMAGES = ("no", "burn", "crack", "breakdown")
OUTSIDE_WORDS = "outside the machine's limits"


def readings_page(book: Book, readings: Sequence[Sequence[Any]], observations: Sequence[Sequence[Any]]) -> None:
    page = book.page("Readings", "Readings", READINGS.widths, one_page=True)
    page.note(
        "Planned steps in run order on the left; write what was really read in the tinted cells. use? takes yes or no (blank is yes). "
        "Load and idle in kW, A or divisions, as chosen on Inputs. Stop going slower when power climbs fast.",
        2,
    )
    page.table_head(READINGS.headings, lines=4)
    if len(readings) > ROWS:
        raise ValueError(f"readings must be at most {ROWS} rows (got {len(readings)})")
    given = {"readings": (readings, READING_COLUMNS), "observations": (observations, OBSERVED_COLUMNS)}
    for name, (rows, columns) in given.items():
        if any(len(row) > len(columns) for row in rows):
            raise ValueError(f"{name} must be rows of at most {len(columns)} values (got {max(map(len, rows))})")
    for number in range(1, ROWS + 1):
        row = page.row
        typed = {
            column: value
            for rows, columns in given.values()
            for column, value in zip(columns, rows[number - 1] if number <= len(rows) else ())
        }
        cells = {"number": number, **_formulas(row), **typed}
        page.cells([cells.get(column.name) for column in READINGS.columns], READINGS.formats)
        for column in READINGS.inputs:
            page.mark_input(row, column)
    for name, columns in (("readings", READING_COLUMNS), ("observations", OBSERVED_COLUMNS)):
        book.name(f"in_{name}", page.sheet, READINGS.range(columns[0], columns[-1]))
    page.offer(READINGS.range("use"), ("yes", "no"), "use?", "yes or no; blank is yes. With no the row is left out.")
    page.offer(
        READINGS.range("damage"), DAMAGES, "damage", "burn, crack or wheel breakdown, or words of your own; no or blank: none."
    )
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"


def _formulas(row: int) -> dict[str, str]:
    status, outside = (CALCULATION.cell(name, row) for name in ("status", "outside"))
    rpm, low_high = CALCULATION.cell("rpm_read", row), QUANTITIES["work_rpm"].usual
    step, planned = (READINGS.here(name, row) for name in ("planned_step", "planned_rpm"))
    unusual = f"IF(ISNUMBER({rpm}),({rpm}<{low_high[0]:G})+({rpm}>{low_high[1]:G})>0,FALSE)"
    beside = first_of(
        (f"{outside}=1", quoted(f"; ! {OUTSIDE_WORDS}")), (unusual, quoted("; ! rpm is unusual")), otherwise=quoted("")
    )
    formulas = dict(
        planned_step=step_percent(CALCULATION.cell("step", row)),
        planned_rpm=planned_rpm(step),
        planned_depth=first_of((f"ISNUMBER({planned})", plunge_depth(planned)), otherwise=quoted("")),
        status=first_of((f"{status}={quoted(BLANK)}", quoted("")), otherwise=f"{status}&{beside}"),
        depth=CALCULATION.cell("depth", row),
        energy=CALCULATION.cell("energy", row),
    )
    return {name: "=" + text for name, text in formulas.items()}
