"""Formulas and values in the XML text of a package's parts: read and put in place, all else kept byte for byte."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from openpyxl.utils import column_index_from_string, get_column_letter

from ..refused import Refused
from .cell_values import CellError
from .elements import Element, elements, spliced, with_attribute
from .package import Package, sheet_parts
from .workbook_part import compute_on_load

FORMULAS = ("row", "c", "f")  # the elements in which the formulas of cells are told

_CHART_RANGE = re.compile(
    r"(?:'((?:[^']|'')+)'|([^'!(,]+))!"
    r"\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?"
)


class FormulaCell(NamedTuple):
    """A formula cell in the bytes of a sheet.

    A member of a shared formula that only points to its master has a formula without text.
    """

    address: str
    cell: Element
    formula: Element


def formula_cells(data: bytes) -> Iterator[FormulaCell]:
    """The formula cells of a sheet, in its order."""
    return cells_with_formulas(elements(data, FORMULAS))


def cells_with_formulas(found: Iterable[Element]) -> Iterator[FormulaCell]:
    """Those of the elements of a sheet, FORMULAS among them, that are cells with a formula."""
    number = 0
    for row in found:
        if row.name != "row":
            continue
        given = row.get("r")
        number, column = (
            int(given) if given.isdecimal() else number + 1,
            0,
        )  # rows and cells may leave their address to be counted
        for cell in row.children:
            if cell.name == "c":
                address = cell.get("r")
                column = _column(address) if address else column + 1
                formula = cell.child("f")
                if formula:
                    yield FormulaCell(address or f"{get_column_letter(column)}{number}", cell, formula)


def _column(address: str) -> int:
    letters = re.match("[A-Z]*", address)[0]
    try:
        return column_index_from_string(letters)
    except ValueError:
        raise Refused("a cell", "have an address such as B2", repr(address)[:40]) from None


# --- values ---

# Of the formula cells of a sheet those whose formula is written in another way, by address: the bytes of its element.
Spelling = Callable[[list[FormulaCell]], Mapping[str, bytes]]


def as_they_are(_: list[FormulaCell]) -> Mapping[str, bytes]:
    return {}


def number_text(value: float) -> str:
    """The shortest text that reads back as the same number."""
    text = repr(float(value) or 0.0)  # no negative zero
    return text.removesuffix(".0")


def typed(value: Any) -> tuple[str, str]:
    """The type letter of a cell and the text of its value."""
    if isinstance(value, bool):
        return "b", str(int(value))
    if isinstance(value, str):
        text = re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", value)  # what looks like the number of a sign is none
        escaped = re.sub(r"[\x00-\x08\x0b-\x1f]", lambda match: f"_x{ord(match[0]):04X}_", escape(text))
        return "e" if isinstance(value, CellError) else "str", escaped
    return "n", number_text(value)


def put_values(package: Package, values: Mapping[str, Mapping[str, Any]], spelling: Spelling = as_they_are) -> None:
    """Give formula cells and chart caches their values: {sheet: {"A1": number, text, bool or CellError}}.

    Formula cells that are not in `values` stay as they are, and so do all constants; charts take the
    constants that they show from `values` too.  A spreadsheet program computes all anew on opening the file.
    """
    for sheet, part in sheet_parts(package).items():
        package.put(part, with_values(package.data(part), values.get(sheet, {}), spelling))
    for part in [name for name in package.parts if re.fullmatch(r"xl/charts/chart\d*\.xml", name)]:
        _put_chart_caches(package, part, values)
    compute_on_load(package)


def with_values(data: bytes, known: Mapping[str, Any], spelling: Spelling = as_they_are) -> bytes:
    """A sheet with the values of its formula cells, as far as they are known, and its formulas in this spelling."""
    edits, cells = [], list(formula_cells(data))
    spelled = spelling(cells)
    for address, cell, formula in cells:
        written = spelled.get(address, formula.bytes)
        if address in known:
            kind, text = typed(known[address])
            opening = with_attribute(cell.opening, "t", None) if cell.get("t") else cell.opening
            tag = opening[:-1].decode()
            space = ' xml:space="preserve"' if text != text.strip() else ""
            name = f"{cell.prefix}v"
            new = f'{tag} t="{kind}">{written.decode()}<{name}{space}>{text}</{name}>'.encode() + cell.closing
            edits.append((cell.start, cell.end, new))
        elif address in spelled:
            edits.append((formula.start, formula.end, written))
    return spliced(data, edits)


def _put_chart_caches(package: Package, part: str, values: Mapping[str, Mapping[str, Any]]) -> None:
    edits = []
    for reference in package.elements(part, "numRef", "strRef", "f", "formatCode"):
        formula = reference.child("f")
        area = formula and _CHART_RANGE.fullmatch(formula.text)
        if area:
            known = values.get((area[1] or area[2]).replace("''", "'"), {})
            addresses = _addresses(area[3], int(area[4]), area[5] or area[3], int(area[6] or area[4]))
            content = formula.bytes + _chart_cache(reference, [known.get(address, "") for address in addresses]).encode()
            edits.append((reference.start, reference.end, reference.with_content(content)))
    package.put(part, spliced(package.data(part), edits))


def _chart_cache(reference: Element, values: list[Any]) -> str:
    prefix, kind = reference.prefix, reference.name[:3]
    points = [f'<{prefix}ptCount val="{len(values)}"/>']
    for place, value in enumerate(values):
        letter, text = typed(value)
        if letter == "n" or kind == "str" and text:
            points.append(f'<{prefix}pt idx="{place}"><{prefix}v>{text}</{prefix}v></{prefix}pt>')
    if kind == "num":
        code = reference.child("formatCode")
        points.insert(0, code.bytes.decode() if code else f"<{prefix}formatCode>General</{prefix}formatCode>")
    return f"<{prefix}{kind}Cache>{''.join(points)}</{prefix}{kind}Cache>"


def _addresses(first: str, top: int, last: str, bottom: int) -> list[str]:
    columns = range(column_index_from_string(first), column_index_from_string(last) + 1)
    return [f"{get_column_letter(column)}{row}" for row in range(top, bottom + 1) for column in columns]
