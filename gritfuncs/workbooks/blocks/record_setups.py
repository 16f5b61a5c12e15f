"""The sheet Setups of the record of knees: the setup in which each knee was found, by its key, so that nothing is typed twice.

A book that calls `setups_page` has the names in_setup_<column>, each ROWS rows, in any order; a key without a row here is an
entry whose setup is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment

from ...planning import LIMIT_WORDS
from ...quantities import QUANTITIES, SIDE_WORDS, Quantity
from ..book import Book, number_format
from ..columns import Columns
from .record import ROWS

FIRST_ROW = 8


@dataclass(frozen=True)
class SetupColumn:
    """A column of the sheet; `word` is the setup word that it holds, "" where it is none."""

    name: str
    label: str
    width: int
    quantity: Quantity | None = None
    word: str = ""

    @property
    def heading(self) -> str:
        unit = self.quantity.unit if self.quantity else "-"
        return self.label if unit == "-" else f"{self.label}, {unit}"


def _column(word: str, label: str = "", like: str = "", width: int = 11) -> SetupColumn:
    quantity = QUANTITIES[like or word]
    return SetupColumn(word, label or quantity.label, width, quantity, word)


SETUP_COLUMNS: tuple[SetupColumn, ...] = (
    SetupColumn("key", "key", 22),
    _column("wheel_diameter"),
    _column("wheel_speed"),
    _column("marked_wheel_speed", "highest speed marked on the wheel", "wheel_speed"),
    SetupColumn("side", "side of contact", 10, word="side"),
    _column("work_diameter"),
    _column("infeed_rate", "infeed rate on the radius"),
    _column("contact_width"),
    _column("idle_power"),
    _column("nominal_rpm", "nominal work rpm", "work_rpm"),
    *(_column(limit, limit.replace("_", " "), quantity) for limit, quantity, _ in LIMIT_WORDS),
)
SETUPS = Columns("Setups", SETUP_COLUMNS, FIRST_ROW, FIRST_ROW + ROWS - 1, 1)


def setups_page(book: Book, setups: Sequence[Sequence[Any]]) -> None:
    """The sheet Setups; setups are rows by the SETUP_COLUMNS, shorter rows allowed."""
    if len(setups) > ROWS:
        raise ValueError(f"setups must be at most {ROWS} rows (got {len(setups)})")
    page = book.page("Setups", "Setups of the knees in the record", tuple(column.width for column in SETUP_COLUMNS))
    page.note(
        "One row for each key of the sheet Record: wheel, part and limits of the trial in which its knee was found. The command "
        "gritfuncs record add fills it in; gritfuncs table --record and gritfuncs confirm read it. Blank cells are not known."
    )
    page.note("Infeed rates count on the radius. Never run a wheel above the speed marked on it, whatever stands here.")
    page.table_head(tuple(column.heading for column in SETUP_COLUMNS), lines=4)
    for number in range(ROWS):
        row = tuple(setups[number]) if number < len(setups) else ()
        formats = tuple(column.quantity and number_format(column.quantity.digits) for column in SETUP_COLUMNS)
        page.cells(row + (None,) * (len(SETUP_COLUMNS) - len(row)), formats=formats)
        for place, column in enumerate(SETUP_COLUMNS, start=1):
            page.mark_input(page.row - 1, place)
            if not column.quantity:
                page.sheet.cell(page.row - 1, place).alignment = Alignment(horizontal="left", vertical="top")
    for column in SETUP_COLUMNS:
        area = SETUPS.range(column.name)
        book.name(f"in_setup_{column.name}", page.sheet, area)
        if column.quantity:
            page.validate(area, column.quantity)
        elif column.name == "side":
            page.offer(area, ",".join(SIDE_WORDS), column.label, "external, flat or internal")
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"
