"""The values that a workbook's cells hold, and what a native formula makes of them."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from typing import Any
from xml.etree import ElementTree

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from .cell_values import Area, CellError, Failure, scalar
from .evaluate import Place, Range, _Book, _Parser
from .ooxml import WORKBOOK, Package, sheet_parts

_ADDRESS = re.compile(r"[A-Z]{1,3}[1-9][0-9]{0,6}")


class Values:
    """What the cells of a package show, and single formulas computed from that and from its defined names."""

    def __init__(self, package: Package, names: Mapping[str | None, Mapping[str, str]]):
        if None in sheet_parts(package):
            raise ValueError(f"{package.path}: damaged workbook (a sheet has no name)")
        self.cells = dict(_cells(package))
        self.names = names
        try:
            self._book = self._as_book()
        except ValueError as error:  # a sheet's name or a cell's address that no program would write
            raise ValueError(f"{package.path}: damaged workbook ({error})") from None

    def find(self, reference: str, sheet: str) -> Range:
        """The cells that a reference or a defined name stands for."""
        return self._book.find(reference, Place(sheet, 1, 1))

    def rows(self, cells: Range) -> list[list[Any]]:
        shown = self.cells[cells.sheet]
        return [[shown.get(place.address) for place in row] for row in cells.rows()]

    def add_sheet(self, title: str, cells: dict[str, Any]) -> None:
        self.cells[title] = cells
        self._book = self._as_book()

    def compute(self, formula: str, sheet: str, address: str, is_array: bool) -> Any:
        """The value of a formula in a cell, an Area where it fills several; ValueError if it is not known here."""
        home = self.find(address, sheet)
        parser = _Parser("=" + formula, Place(home.sheet, home.top, home.left), self._book)
        parser.arrays = is_array
        try:
            value = parser.compiled().evaluate()
            if is_array and isinstance(value, Area) and value.height * value.width > 1:
                return value
            value = scalar(value)
        except Failure as failure:
            return failure.error
        return 0.0 if value is None else value

    def _as_book(self) -> _Book:
        workbook = Workbook()
        workbook.remove(workbook.active)
        for title, cells in self.cells.items():
            sheet = workbook.create_sheet(title)
            for address, value in cells.items():
                put_constant(sheet[address], value)
            for name, meaning in self.names.get(title, {}).items():
                sheet.defined_names[name] = DefinedName(name, attr_text=meaning)
        for name, meaning in self.names.get(None, {}).items():
            workbook.defined_names[name] = DefinedName(name, attr_text=meaning)
        return _Book(workbook, absent=())


def put_constant(cell, value: Any) -> None:
    """Give a cell of openpyxl a value that it takes for what it is, be it a text that begins with =."""
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value)
        cell.data_type = "e" if isinstance(value, CellError) else "s"
    else:
        cell.value = value


def _local(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2]


def _texts(element: ElementTree.Element) -> str:
    """The text of a string item, without the reading aids that stand in it."""
    if _local(element) == "rPh":
        return ""
    own = element.text or "" if _local(element) == "t" else ""
    return own + "".join(_texts(child) for child in element)


def _shared_strings(package: Package) -> list[str]:
    for relation in package.xml("xl/_rels/workbook.xml.rels"):
        if relation.get("Type", "").endswith("/sharedStrings"):
            part = posixpath.normpath(posixpath.join("/xl", relation.get("Target", ""))).lstrip("/")
            return [_texts(item) for item in package.xml(part)]
    return []


def _cells(package: Package) -> Iterator[tuple[str, dict[str, Any]]]:
    strings = _shared_strings(package)
    for title, part in sheet_parts(package).items():
        found, row, column = {}, 0, 0
        for element in package.xml(part).iter():
            name, place = _local(element), element.get("r")
            if name == "row":
                row, column = int(place) if (place or "").isdigit() else row + 1, 0
            elif name == "c":
                column += 1
                value, address = _value(element, strings), place or f"{get_column_letter(column)}{row}"
                if not _ADDRESS.fullmatch(address):
                    raise ValueError(f"{package.path}: damaged workbook (a cell of {title!r} has the address {address!r})")
                if value is not None:
                    found[address] = value
        yield title, found


def _value(cell: ElementTree.Element, strings: list[str]) -> Any:
    kind, text = cell.get("t", "n"), None
    for child in cell:
        if _local(child) == "v":
            text = child.text or ""
        elif _local(child) == "is":
            return _texts(child)
    if text is None:
        return None
    if kind == "str":
        return text
    if kind == "e":
        return CellError(text)
    try:
        return strings[int(text)] if kind == "s" else bool(int(text)) if kind == "b" else float(text)
    except (ValueError, IndexError):  # an empty number, a date as text: nothing to compute with
        return text or None


def defined_names(package: Package) -> dict[str | None, dict[str, str]]:
    """{sheet, or None for the whole workbook: {name in capitals: what it stands for}}."""
    titles = list(sheet_parts(package))
    found: dict[str | None, dict[str, str]] = {}
    for element in package.xml(WORKBOOK).iter():
        if _local(element) == "definedName" and element.text:
            number = element.get("localSheetId", "")
            sheet = titles[int(number)] if number.isdigit() and int(number) < len(titles) else None
            found.setdefault(sheet, {})[element.get("name", "").upper()] = element.text
    return found
