"""Setup lines around a table: above its headings, below its readings and to both sides of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Callable

from ..quantities import SIDE_WORDS
from ..values import is_blank
from .layout import Layout
from .lines import CELLS, Lead, is_line, leading_lines, word_of
from .rows import Row
from .stated_units import holds_number
from .words import BASES, LOAD_KINDS, side_word


def lines_around(
    rows: Sequence[Row], layout: Layout, is_number: Callable[[Any], bool], delimiter: str = CELLS
) -> tuple[Lead, list[Row]]:
    """What the lines of a setup around a table say, and the rows without those below its headings."""
    across = layout.columns["grit_depth" if "grit_depth" in layout.columns else "work_rpm"]
    width = 1 + max(*layout.columns.values(), *layout.damage, 0)
    first = min(*layout.columns.values(), *layout.damage, width)
    above, kept = list(rows[: layout.lead]), list(rows[: layout.start])
    for place in range(layout.lead, len(rows)):
        row = rows[place]
        if place >= layout.start and not is_number(row.cell(across)) and is_line(row) and any(map(_may_be_value, row.cells)):
            above.append(row)
            continue
        if any(_begins_line(row, column, layout) for column in _filled(row, range(first - 1))[:1]):
            above.append(row._replace(cells=row.cells[:first]))
            row = row._replace(cells=[*[None] * first, *row.cells[first:]])
        beside = _beside(row, width, layout)
        if beside is not None:
            above.append(row._replace(cells=row.cells[beside:]))
            row = row._replace(cells=row.cells[:beside])
        if place >= layout.start:
            kept.append(row)
    return leading_lines(above, delimiter), kept


def _beside(row: Row, width: int, layout: Layout) -> int | None:
    """The column right of the table where a label stands before a value that no heading stands over."""
    filled = _filled(row, range(width, len(row.cells) - 1))
    return filled[0] if filled and _begins_line(row, filled[0], layout) else None


def _filled(row: Row, columns: range) -> list[int]:
    return [column for column in columns if not is_blank(row.cell(column))]


def _begins_line(row: Row, column: int, layout: Layout) -> bool:
    label, value = row.cell(column), row.cell(column + 1)
    head = "".join(layout.texts[column + 1 : column + 2])
    headed = head and not holds_number(head)  # in a text file the value of a line beside the headings is a text, too
    return not headed and isinstance(label, str) and word_of(label)[0] is not None and _may_be_value(value)


def _may_be_value(cell: Any) -> bool:
    """Whether it is a number, a text with one, or a word that a setup knows; a label alone is none."""
    if not isinstance(cell, str):
        return not is_blank(cell)
    return any(map(str.isdigit, cell)) or side_word(cell).strip().lower() in (*SIDE_WORDS, *BASES, *LOAD_KINDS)
