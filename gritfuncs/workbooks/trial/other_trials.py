"""The sheet Other trials of trial.xlsx: depth and energy of earlier trials, to show beside this one on the chart."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl.utils import quote_sheetname

from ...sheets.book import Book
from .tables import OTHERS

MOST_TRIALS, ROWS = 3, 40
_FIRST_ROW = 9


def other_trials(
    book: Book, trials: Sequence[tuple[str, Sequence[tuple[float, float]]]]
) -> list[tuple[str, list[tuple[str, str]]]]:
    """Write the sheet; gives, for each place of a trial, the cell of its title and the cells of depths and energies.

    trials are (title, rows of depth and energy).
    """
    page = book.page(OTHERS, "Other trials, to compare on the chart", (6,) + (16, 16) * MOST_TRIALS)
    if len(trials) > MOST_TRIALS or any(
        len(readings) > ROWS or any(len(pair) != 2 for pair in readings) for _, readings in trials
    ):
        raise ValueError(
            f"other_trials must be at most {MOST_TRIALS} pairs of a title and at most {ROWS} rows of depth and energy"
        )
    page.note(
        "Copy depth and energy of earlier trials here (their sheet Trial, columns depth and energy, as values); same wheel type and "
        "the same C r, or the depths do not compare.",
        3,
    )
    page.row = _FIRST_ROW - 2
    page.cells(
        ("",)
        + tuple(
            value
            for place in range(MOST_TRIALS)
            for value in (trials[place][0] if place < len(trials) else f"trial {place + 1}", "")
        )
    )
    page.table_head(("no.",) + ("grit depth, µm", "energy") * MOST_TRIALS)
    page.sheet.freeze_panes = f"A{_FIRST_ROW}"
    for number in range(ROWS):
        row = [number + 1]
        for place in range(MOST_TRIALS):
            readings = trials[place][1] if place < len(trials) else ()
            row += readings[number] if number < len(readings) else (None, None)
        page.cells(tuple(row), formats=("0",) + ("General",) * (2 * MOST_TRIALS))
    series = []
    for place in range(MOST_TRIALS):
        column = 2 + 2 * place
        letters = [page.sheet.cell(1, column + offset).column_letter for offset in (0, 1)]
        for offset in (0, 1):
            for row in range(_FIRST_ROW, _FIRST_ROW + ROWS):
                page.mark_input(row, column + offset)
        page.mark_input(_FIRST_ROW - 2, column)
        book.name(f"in_other_title_{place + 1}", page.sheet, f"{letters[0]}{_FIRST_ROW - 2}")
        book.name(f"in_other_trial_{place + 1}", page.sheet, f"{letters[0]}{_FIRST_ROW}:{letters[1]}{_FIRST_ROW + ROWS - 1}")
        rows = range(_FIRST_ROW, _FIRST_ROW + ROWS)
        sheet = quote_sheetname(OTHERS)
        series.append(
            (f"{sheet}!${letters[0]}${_FIRST_ROW - 2}", [tuple(f"{sheet}!{letter}{row}" for letter in letters) for row in rows])
        )
    return series
