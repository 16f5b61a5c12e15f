"""The sheets calc knee and calc drift of trial.xlsx: the fit, which drift the repeats leave possible, and the knee without it."""

from __future__ import annotations

from typing import Any

from ...sheets.book import Book
from ...sheets.page import Page
from ..blocks.drift import DriftBlock, drift_block
from ..blocks.knee import KneeBlock, knee_block
from ..blocks.lay_out import last_step
from .tables import CALCULATION, DRIFT, KNEE, ROWS

_WIDTHS = (44, 16, 36) + (12,) * 60


def knee_page(book: Book, energies: str) -> KneeBlock:
    """The knee of the readings as they are, step by step."""
    page = book.page(KNEE, "The fit, step by step; the answer stands on the sheet Trial", _WIDTHS)
    block = knee_block(**_readings(page, energies))
    _write(page, block.cells)
    return block


def drift_page(book: Book, plain: KneeBlock, energies: str) -> DriftBlock:
    """The results of the knee with drift judged, for the readings in the order of their rows."""
    page = book.page(DRIFT, "Does a drift bend the curve?", _WIDTHS)
    block = drift_block(plain, **_readings(page, energies))
    _write(page, block.cells)
    return block


def _readings(page: Page, energies: str) -> dict[str, Any]:
    return dict(
        depths=CALCULATION.area("depth"),
        energies=energies,
        rows=ROWS,
        sheet_name=page.sheet.title,
        anchor=f"A{page.row}",
        noise="out_noise_given",
    )


def _write(page: Page, cells: dict[str, Any]) -> None:
    """The cells; the steps are printed: tables and blocks below them are to be read on the screen."""
    for address, content in cells.items():
        page.put(address, content)
    page.sheet.print_area = f"A1:C{last_step(cells, page.row)}"
