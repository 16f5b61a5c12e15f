"""Numbers and texts put into cells of a sheet that may be blank, all else in it kept byte for byte."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from openpyxl.utils import coordinate_to_tuple, get_column_letter

from .elements import Element, elements, escape_attribute, spliced, with_attribute
from .formula_text import typed

_Place = tuple[int, int]  # row and column, from 1


def with_constants(data: bytes, values: Mapping[str, Any], styles: Mapping[str, int] | None = None) -> bytes:
    """A sheet with these values {"A1": number or text} in place of what the cells held.

    A cell keeps its style; one that is not in the file yet takes that of `styles`.  ValueError for what is no sheet.
    """
    found = list(elements(data, ("worksheet", "sheetData", "row", "c")))
    table = next((element for element in found if element.name == "sheetData"), None)
    if table is None or not any(element.name == "worksheet" for element in found):
        raise ValueError("no table of cells in it")
    new: dict[int, dict[int, Any]] = {}
    for address, value in values.items():
        row, column = coordinate_to_tuple(address)
        new.setdefault(row, {})[column] = value
    rows = dict(_numbered(table.children, lambda row: row.get("r")))
    styled = {coordinate_to_tuple(address): style for address, style in (styles or {}).items()}
    edits = []
    for number, cells in sorted(new.items()):
        if number in rows:
            row = rows[number]
            edits.append((row.start, row.end, _row(row, number, cells, styled)))
            continue
        made = f'<{table.prefix}row r="{number}">'.encode()
        made += b"".join(_cell(table.prefix, number, column, value, styled) for column, value in sorted(cells.items()))
        made += f"</{table.prefix}row>".encode()
        after = next((row.start for place, row in sorted(rows.items()) if place > number), None)
        edits.append((table.inner_end, table.inner_end, made) if after is None else (after, after, made))
    if table.is_empty_tag:
        return spliced(data, [(table.start, table.end, table.with_content(b"".join(new for _, _, new in edits)))])
    edits += [
        (row.start, row.inner, with_attribute(data[row.start : row.inner], "r", str(number)))
        for number, row in rows.items()
        if not row.get("r") and number not in new
    ]
    return spliced(data, _joined(edits))


def _joined(edits: list[tuple[int, int, bytes]]) -> list[tuple[int, int, bytes]]:
    """New rows at one place, in their order, as one edit."""
    together: dict[tuple[int, int], bytes] = {}
    for start, end, content in edits:
        together[start, end] = together.get((start, end), b"") + content
    return [(start, end, content) for (start, end), content in together.items()]


def _numbered(children: list[Element], given: Any) -> Iterator[tuple[int, Element]]:
    """The rows of a table by number; one that does not state its own comes after the one before."""
    number = 0
    for child in children:
        number = int(given(child)) if given(child).isdecimal() else number + 1
        yield number, child


def _row(row: Element, number: int, values: dict[int, Any], styles: Mapping[_Place, int]) -> bytes:
    """A row with the values among its cells."""
    cells: dict[int, bytes] = {}
    column = 0
    for cell in row.children:
        column = coordinate_to_tuple(cell.get("r"))[1] if cell.get("r") else column + 1
        if column in values:
            style = cell.get("s")
            styles = {**styles, (number, column): int(style)} if style.isdecimal() else styles
        else:
            tag = cell.bytes
            if not cell.get("r"):
                opening = tag[: cell.inner - cell.start]
                tag = with_attribute(opening, "r", f"{get_column_letter(column)}{number}") + tag[len(opening) :]
            cells[column] = tag
    for column, value in values.items():
        cells[column] = _cell(row.prefix, number, column, value, styles)
    opening = with_attribute(with_attribute(row.opening, "spans", None), "r", str(number))
    return opening + b"".join(cell for _, cell in sorted(cells.items())) + row.closing


def _cell(prefix: str, row: int, column: int, value: Any, styles: Mapping[_Place, int]) -> bytes:
    style = styles.get((row, column))
    opening = f'<{prefix}c r="{get_column_letter(column)}{row}"' + ("" if style is None else f' s="{style}"')
    kind, text = typed(value)
    if kind == "str":
        inside = f'<{prefix}is><{prefix}t xml:space="preserve">{text}</{prefix}t></{prefix}is>'
        return f'{opening} t="inlineStr">{inside}</{prefix}c>'.encode()
    return f'{opening} t="{escape_attribute(kind)}"><{prefix}v>{text}</{prefix}v></{prefix}c>'.encode()
