"""Formulas that are filled down a column, written into a sheet once: a spreadsheet program then understands them once, too.

The format calls it a shared formula (ECMA-376, part 1, 18.3.1.40): the first cell has the formula as it reads there, the cells
below it a number that leads to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from openpyxl.utils import coordinate_to_tuple

from .elements import escape_text
from .formula_text import FormulaCell
from .references import relative

LEAST_CELLS = 3  # that share a formula


def filled_down(cells: Iterable[FormulaCell]) -> dict[str, bytes]:
    """Of the formula cells of a sheet those whose formula is filled down so many cells or more: how it is written once."""
    spelled = {}
    for number, run in enumerate(_runs(cells)):
        for address, _, formula in run:
            spelled[address] = f'<{formula.prefix}f t="shared" si="{number}"/>'.encode()
        address, _, formula = run[0]
        opening = f'<{formula.prefix}f t="shared" ref="{address}:{run[-1].address}" si="{number}">'
        spelled[address] = opening.encode() + escape_text(formula.text) + formula.closing
    return spelled


def _runs(formula_cells: Iterable[FormulaCell]) -> Iterator[list[FormulaCell]]:
    """The cells of each formula that may be shared, from the top.

    A formula that names another sheet may not: Excel writes none and gets those of other programs wrong.
    """
    columns: dict[int, list[tuple[int, FormulaCell]]] = {}
    for cell in formula_cells:
        if not cell.formula.attributes and "!" not in cell.formula.text:
            row, column = coordinate_to_tuple(cell.address)
            columns.setdefault(column, []).append((row, cell))
    for column, found in columns.items():
        kinds = [(relative(cell.formula.text, row, column), row - place) for place, (row, cell) in enumerate(found)]
        for _, run in groupby(zip(kinds, found), key=lambda pair: pair[0]):
            cells = [cell for _, (_, cell) in run]
            if len(cells) >= LEAST_CELLS:
                yield cells
