"""The sheet Setups of the record of knees: the setup in which each knee was found, by its key, so that nothing is typed twice.

A book that calls `setups_page` has the names in_setup_<column>, each ROWS rows, in any order; a key without a row here is an
entry whose setup is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...planning import LIMIT_WORDS
from ...quantities import QUANTITIES, SIDE_WORDS
from ...sheets.book import Book
from ...sheets.columns import Columns, filled_up
from .entry_table import EntryColumn, entry_rows
from .record import ROWS

FIRST_ROW = 8


def _column(word: str, label: str = "", like: str = "") -> EntryColumn:
    """The column of a setup word, which is also its name; its values are those of another one where it is like that."""
    quantity = QUANTITIES[like or word]
    longest = max(map(len, f"{label or quantity.label} {quantity.unit}".split()))
    return EntryColumn(word, label or quantity.label, max(9.5, longest + 1.0), required=False, quantity=quantity)


SETUP_COLUMNS: tuple[EntryColumn, ...] = (
    EntryColumn("key", "key", 22),
    _column("wheel_diameter"),
    _column("wheel_speed"),
    _column("marked_wheel_speed", "highest speed marked on the wheel", "wheel_speed"),
    EntryColumn("side", "side of contact", 9, required=False, choices=tuple(SIDE_WORDS), help="external, flat or internal"),
    _column("work_diameter"),
    _column("infeed_rate", "infeed rate on the radius"),
    _column("contact_width"),
    _column("idle_power"),
    _column("nominal_rpm", "nominal work rpm", "work_rpm"),
    *(_column(limit, limit.replace("_", " "), quantity) for limit, quantity, _ in LIMIT_WORDS),
)
SETUPS = Columns("Setups", SETUP_COLUMNS, FIRST_ROW, FIRST_ROW + ROWS - 1)


def setups_page(book: Book, setups: Sequence[Sequence[Any]]) -> None:
    """The sheet Setups; setups are rows by the SETUP_COLUMNS, shorter rows allowed."""
    rows = filled_up("setups", setups, ROWS, "rows")
    page = book.page("Setups", "Setups of the knees in the record", SETUPS.widths)
    page.note(
        "One row for each key of the sheet Record: wheel, part and limits of the trial in which its knee was found. The command "
        "gritfuncs record add fills it in; gritfuncs table --record and gritfuncs confirm read it. Blank cells are not known."
    )
    page.note("Infeed rates count on the radius. Never run a wheel above the speed marked on it, whatever stands here.")
    page.columns_head(SETUPS, lines=5)
    entry_rows(page, SETUPS, rows, "in_setup_")
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"1:{FIRST_ROW - 1}"
