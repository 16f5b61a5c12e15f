"""What sharing did, as plain text of at most 100 columns: rows that were filled down stand together."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from openpyxl.utils import coordinate_to_tuple

from ..spreadsheets.formula_text import number_text
from ..spreadsheets.references import relative

WIDTH = 100
_LISTED = 20  # cells that a line names
_CELL = re.compile(r"(.*)!([A-Z]{1,3})([1-9]\d{0,6})", re.DOTALL)


def table(head: tuple[str, ...], rows: Iterable[Sequence[Any]]) -> list[str]:
    """Entries that begin with a place: a line each where all fit in, otherwise a line for each part, broken where it is long."""
    cells = [head, *([_text(row[0]), *map(_text, row[1:])] for row in _grouped(rows))]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    if sum(widths) + 2 * len(head) <= WIDTH:
        return ["  " + "  ".join(text.ljust(width) for text, width in zip(row, widths)).rstrip() for row in cells]
    lines = []
    for row in cells[1:]:
        lines += _broken(row[0], "  ")
        for name, text in zip(head[1:], row[1:]):
            lines += _broken(f"{name}: {text}", "    ")
    return lines


def listed(places: Sequence[str]) -> str:
    """Places in a row, and how many more there are."""
    grouped = [_text(place) for place, *_ in _grouped([(place,) for place in places])]
    more = len(grouped) - _LISTED
    return ", ".join(grouped[:_LISTED]) + (f" and {more} more" if more > 0 else "")


def paragraph(text: str) -> list[str]:
    return _broken(_text(text), "")


def _broken(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False) or [indent]


def _grouped(rows: Iterable[Sequence[Any]]) -> list[Sequence[Any]]:
    """Cells below one another whose formulas differ in nothing but the row become one entry, `Sheet!D2:D21, 20 cells`."""
    groups: list[list[Sequence[Any]]] = []
    open_groups: dict[Any, list[Sequence[Any]]] = {}  # by what the next row of a group would be
    for row in rows:
        cell = _CELL.fullmatch(row[0])
        group = open_groups.pop(_key(cell, row, int(cell[3])), None) if cell else None
        if group is None:
            groups.append(group := [])
        group.append(row)
        if cell:
            open_groups[_key(cell, row, int(cell[3]) + 1)] = group
    return [_joined(group) for group in groups]


def _key(cell: re.Match, row: Sequence[Any], number: int) -> tuple[Any, ...]:
    place = coordinate_to_tuple(cell[2] + cell[3])
    parts = (relative(part, *place) if isinstance(part, str) and part.startswith("=") else part for part in row[1:])
    return cell[1], cell[2], number, *parts


def _joined(group: list[Sequence[Any]]) -> Sequence[Any]:
    if len(group) == 1:
        return group[0]
    return (f"{group[0][0]}:{group[-1][0].rpartition('!')[2]}, {len(group)} cells", *group[0][1:])


def _text(value: Any) -> str:
    """Text in one line without signs that command a terminal or turn the direction of writing."""
    if value is None:
        return "not known here"
    if not isinstance(value, str):
        return str(value).upper() if isinstance(value, bool) else number_text(value)
    return "".join(sign if sign.isprintable() else " " for sign in value) or "(empty)"
