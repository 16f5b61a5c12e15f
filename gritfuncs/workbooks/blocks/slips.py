"""Slips in the inputs of a table: what is unusual is named beside the cells and among the checks, what cannot be stops."""

from __future__ import annotations

from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.inches import IN_INCHES


def watch_cells(
    book: Book,
    cells: str,
    quantity: Quantity,
    label: str,
    *,
    factor: str = "1",
    text: str = "",
    where: str = "",
    in_inches: bool = False,
) -> str:
    """Check the numbers among the cells, times a factor in shop units; gives formula text of what to say beside them, else text.

    Where the cells may be in inches, the words beside them have the range in the units chosen: a switch of units alone is seen.
    Texts and blanks do not count: whether each cell is a number within its limits is another check.
    """
    if quantity.possible is not None:
        unit = "" if quantity.unit == "-" else f" {quantity.unit}"
        book.stop_unless(
            f"{label}: not more than there is on any machine",
            f"MAX({cells})*{factor}<={quantity.possible:G}",
            f"{label}: more than {quantity.possible:g}{unit} there is not; a slip, or another unit?",
            where,
        )
    if not quantity.usual:
        return quoted(text)
    (low, high), words = quantity.usual, f"usually {quantity.usual_range}"
    unusual = f"IF(COUNT({cells})>0,(MIN({cells})*{factor}<{low:G})+(MAX({cells})*{factor}>{high:G})>0,FALSE)"
    book.look_if(f"{label}: {words}", unusual, f"{label}: a slip, another unit, or what your machine does?", where)
    seen = quoted(f"! {words}: look again. ")
    if in_inches and quantity.inch_unit:
        ends = " to ".join(f"{float(f'{end / quantity.inch_factor:.3g}'):g}" for end in quantity.usual)
        seen = first_of((IN_INCHES, quoted(f"! usually {ends} {quantity.inch_unit}: look again. ")), otherwise=seen)
    return first_of((f"IFERROR({unusual},FALSE)", seen), otherwise=quoted(text))
