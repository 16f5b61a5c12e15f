"""The sheet Log of power_log.xlsx: time and power to paste, and for each row the stretch above idle that it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import Any

from openpyxl.styles import Protection

from ...sheets.book import Book
from ...sheets.columns import filled_up
from ...sheets.conditions import first_of, quoted
from ...sheets.page import Page
from .tables import HEAD, LOG, ROWS

BEYOND = LOG.last_row + 20  # rows below the table that are watched: a longer log fills them first


def log_page(book: Book, times: Sequence[Any], powers: Sequence[Any]) -> Page:
    """The sheet; `times` and `powers` stand in its first rows."""
    typed = filled_up("times", times, ROWS), filled_up("powers", powers, ROWS)
    page = book.page("Log", "Log: paste time and power here", LOG.widths + (3,) + (12,) * 8)
    page.note(
        "Clear both tinted columns first, or the end of an older log stays below. Then paste time and power as values (numbers), "
        "without headings. In the chart the thick line is what was read, through idle and level, and numbers are parts; x is a stretch that "
        "is no part: the sheet Parts says why."
    )
    page.row = HEAD - 2
    page.put(f"A{page.row}", "=out_log_word")
    page.columns_head(LOG, lines=4)
    _fill(page, *typed)
    for name in ("time", "power"):
        book.name(f"in_{name}", page.sheet, LOG.range(name))
        column = page.sheet.column_dimensions[LOG.letter(name)]
        column.protection = Protection(locked=False)  # a longer log can be pasted, and is then told to be too long
    page.sheet.freeze_panes = f"A{HEAD + 1}"
    page.sheet.print_area = f"A1:N{HEAD + 22}"  # the chart and the first rows; all rows would fill a hundred pages
    page.sheet.page_setup.fitToHeight = 1
    return page


def _fill(page: Page, times: Sequence[Any], powers: Sequence[Any]) -> None:
    """All rows in the style of the first one: thousands of cells are styled by copying."""
    sheet = page.sheet
    page.columns_row(LOG, {})
    styles = [copy(sheet.cell(HEAD + 1, column)._style) for column in range(1, len(LOG.columns) + 1)]
    for number, (time, power) in enumerate(zip(times, powers), start=1):
        row = LOG.first_row + number - 1
        values = (number, time, power, _middle(row), _stretch(row))
        for column, (value, style) in enumerate(zip(values, styles), start=1):
            cell = sheet.cell(row, column, value)
            cell._style = style
    page.row = LOG.last_row + 1


def _middle(row: int) -> str:
    """The median of five rows: a peak or drop-out of one or two rows moves nothing."""
    power = LOG.letter("power")
    first, last = max(row - 2, LOG.first_row), min(row + 2, LOG.last_row)
    return f'=IF({power}{row}="","",MEDIAN({power}{first}:{power}{last}))'


def _stretch(row: int) -> str:
    """The number of the stretch; behind it the same with a minus.

    It stays what it was between the levels of leaving and entering, and where the meter drops out or the spindle stands.
    """
    middle = LOG.here("middle", row)
    if row == LOG.first_row:
        return f'=IF({middle}="",0,IF({middle}>out_enter,1,0))'
    before = LOG.here("stretch", row - 1)
    inside = first_of(
        (f"{middle}>out_enter", f"IF({before}>0,{before},1-{before})"),
        (f"{middle}<out_leave", f"IF({before}>0,-{before},{before})"),
        otherwise=before,
    )
    stands = f"{LOG.here('power', row)}<out_running"
    return "=" + first_of((f'{middle}=""', "0"), (stands, before), otherwise=inside)


def log_word() -> str:
    """One sentence on what the log gave."""
    return first_of(
        ("out_rows+out_powers+out_texts=0", quoted("Nothing pasted yet.")),
        ("out_log_fits<>1", quoted("This log is not cut yet: the line in bold says what to mend first.")),
        (
            "out_ready<>1",
            f"{quoted('Found ')}&out_parts&{quoted(' parts, but no readings are handed on: the line in bold says why.')}",
        ),
        otherwise=f"out_parts_read&{quoted(' parts read of ')}&out_parts&{quoted('; lag ')}&FIXED(out_lag,2,TRUE)"
        f"&{quoted(' s; copy them from the sheet Readings.')}",
    )
