"""The sheet calc drift of trial.xlsx: which drift the repeats leave possible, and the knee without it."""

from __future__ import annotations

from ..blocks.drift import DriftBlock, drift_block
from ..blocks.knee import KneeBlock
from ..book import Book
from .tables import CALCULATION, DRIFT, ROWS


def drift_page(book: Book, plain: KneeBlock) -> DriftBlock:
    """Write the sheet; gives the results of the knee with drift judged, for the readings in the order of their rows."""
    page = book.page(DRIFT, "Does a drift bend the curve?", (44, 16, 24) + (12,) * 60)
    block = drift_block(
        plain,
        CALCULATION.area("depth"),
        CALCULATION.area("energy"),
        ROWS,
        sheet_name=page.sheet.title,
        anchor=f"A{page.row}",
        noise="out_noise_given",
    )
    for address, content in block.cells.items():
        page.put(address, content)
    page.sheet.print_area = f"A1:C{page.row + 80}"  # the steps; the tables and blocks below them are to be read on the screen
    return block
