"""A sheet that a shared workbook gets: cells with formulas and values, put into the package as its last sheet."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any
from xml.sax.saxutils import escape

from openpyxl.utils import get_column_letter

from ..spreadsheets.elements import Element, escape_attribute, spliced
from ..spreadsheets.formula_text import number_text, typed
from ..spreadsheets.package import CONTENT_TYPES, Package, relations_of, sheet_parts

TITLE = "gritfuncs"

_CONTENT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_COLUMNS = ((1, 1, 56), (2, 2, 12), (3, 16384, 20))  # first, last and width
_NOTHING: Mapping[int, Any] = MappingProxyType({})


def free_title(taken: Iterable[str]) -> str:
    """A name for one more sheet."""
    known = {title.lower() for title in taken}
    names = [TITLE, *(f"{TITLE}_{number}" for number in range(2, len(known) + 3))]
    return next(name for name in names if name not in known)


class AddedSheet:
    """The sheet while its rows are written, from the top down."""

    def __init__(self, title: str):
        self.title = title
        self._rows: list[str] = []
        self._shared = 0  # formulas so far that a row of cells shares

    def write(self, row: int, cells: Mapping[int, Any], values: Mapping[int, Any] = _NOTHING) -> None:
        """The next row: constants and formulas by column, and the values of the formulas."""
        self._put(
            row, [_cell(f"{get_column_letter(column)}{row}", cells[column], values.get(column)) for column in sorted(cells)]
        )

    def write_shared(
        self, row: int, cells: Mapping[int, Any], formula: str, letters: Sequence[str], values: Sequence[Any]
    ) -> None:
        """The next row: constants by column, and beyond them one formula, as the first of its cells reads it, with the
        values that it has in the columns of these letters."""
        number, found = self._shared, [_cell(f"{get_column_letter(column)}{row}", cells[column]) for column in sorted(cells)]
        self._shared += 1
        own = f't="shared" si="{number}"/>'
        for letter, value in zip(letters, values):
            kind, text = typed(value)
            mark = "" if kind == "n" else f' t="{kind}"'
            found.append(f'<c r="{letter}{row}"{mark}><f {own}<v>{text}</v></c>')
        first = f't="shared" ref="{letters[0]}{row}:{letters[len(values) - 1]}{row}" si="{number}">{escape(formula[1:])}</f>'
        found[len(cells)] = found[len(cells)].replace(own, first, 1)
        self._put(row, found)

    def _put(self, row: int, cells: list[str]) -> None:
        self._rows.append(f'<row r="{row}">{"".join(cells)}</row>')

    def add_to(self, package: Package) -> None:
        """Put the sheet into the package, as the last one."""
        sheets = list(package.elements(package.workbook, "sheet"))
        like = min(sheet_parts(package).values(), key=lambda part: "/worksheets/" not in part)  # not a chart
        folder = posixpath.join(posixpath.dirname(package.workbook), "worksheets")
        part = next(
            name
            for name in (f"{folder}/{TITLE}{number or ''}.xml" for number in range(len(package.parts) + 1))
            if name not in package.parts
        )
        # the strict form of the format has other namespaces than the usual one
        strict = _STRICT.encode() in package.data(package.workbook)
        package.put(part, self._xml(_STRICT if strict else _NAMESPACE))
        identity = _add_relation(package, like, f"/{part}")
        *_, listed = package.elements(package.workbook, "sheets")
        number = 1 + max((int(sheet.get("sheetId")) for sheet in sheets if sheet.get("sheetId").isdecimal()), default=0)
        # declared here, since the workbook may declare the prefix of its relations on each sheet, or call it otherwise
        mark = "r" if listed.prefix != "r:" else "rel"
        space = next(name for name in sheets[0].attributes if name.endswith(" id")).rpartition(" ")[0]
        element = f'<{listed.prefix}sheet name="{self.title}" sheetId="{number}" xmlns:{mark}="{space}" {mark}:id="{identity}"/>'
        _append(package, package.workbook, listed, element)
        (types,) = package.elements(CONTENT_TYPES, "Types")
        _append(package, CONTENT_TYPES, types, f'<{types.prefix}Override PartName="/{part}" ContentType="{_CONTENT_TYPE}"/>')

    def _xml(self, namespace: str) -> bytes:
        columns = "".join(f'<col min="{first}" max="{last}" width="{width}" customWidth="1"/>' for first, last, width in _COLUMNS)
        xml = (
            f'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<worksheet xmlns="{namespace}">'
            f"<cols>{columns}</cols><sheetData>{''.join(self._rows)}</sheetData></worksheet>"
        )
        return xml.encode()


def _cell(address: str, content: Any, value: Any = None) -> str:
    """A cell as the sheet's XML has it; the value is that of its formula."""
    if isinstance(content, str) and content.startswith("="):
        kind, text = typed(value)
        space = ' xml:space="preserve"' if text != text.strip() else ""
        return f'<c r="{address}" t="{kind}"><f>{escape(content[1:])}</f><v{space}>{text}</v></c>'
    if isinstance(content, str):
        return f'<c r="{address}" t="inlineStr"><is><t xml:space="preserve">{escape(content)}</t></is></c>'
    return f'<c r="{address}"><v>{number_text(content)}</v></c>'


def _add_relation(package: Package, like: str, target: str) -> str:
    """A relation from the workbook to a part, of the kind that leads to another; returns its identifier."""
    relations = list(package.relations(package.workbook))
    taken = {relation.identity for relation in relations}
    kind = next(relation.kind for relation in relations if relation.target == like)
    identity = next(name for name in (f"rIdGritfuncs{number}" for number in range(len(taken) + 1)) if name not in taken)
    part = relations_of(package, package.workbook)
    (listed,) = package.elements(part, "Relationships")
    element = f'<{listed.prefix}Relationship Id="{identity}" Type="{escape_attribute(kind)}" Target="{target}"/>'
    _append(package, part, listed, element)
    return identity


def _append(package: Package, part: str, parent: Element, element: str) -> None:
    """Put an element at the end of another one."""
    edit = (parent.start, parent.end, parent.with_child(element.encode()))
    package.put(part, spliced(package.data(part), [edit]))
