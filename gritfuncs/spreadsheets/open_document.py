"""Cells as an OpenDocument spreadsheet (.ods) stores them: read in one pass, within bounds whatever the file says."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from openpyxl.utils import get_column_letter

from ..refused import Refused, Unusable
from .cell_values import CellError
from .handing import handed
from .number_formats import Display
from .package import Package, read_parts
from .stored_cells import LAST_ROW, MOST_CELLS, StoredCell, StoredRow

KIND = "an .ods spreadsheet"
_MIME = b"application/vnd.oasis.opendocument.spreadsheet"
_CONTENT, _MANIFEST = "content.xml", "META-INF/manifest.xml"
_EXTENSION = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"
_BEHIND = re.compile(r"[-+\u2212]?[\d.,'\u00a0\u2009\u202f\u2019 ]*\d\s*([^\W\d][^\d]{0,19}[²³]?|[%\"']{1,2})")  # 13.78 in
MOST_COLUMNS = 1024  # with anything in them
MOST_REPEATS = 10_000  # of a row with anything in it
_RANGE = re.compile(
    r"\$?(?:'((?:[^']|'')+)'|([^'.$]+))\.(\$?[A-Z]{1,3}\$?\d+)(?::(?:\$?(?:'(?:[^']|'')+'|[^'.$:]*)\.)?(\$?[A-Z]{1,3}\$?\d+))?"
)


@dataclass
class Document:
    """The sheets of a document, each with its filled rows, and the ranges that have names."""

    sheets: dict[str, list[StoredRow]] = field(default_factory=dict)
    names: dict[str, tuple[str, str]] = field(default_factory=dict)  # name: sheet and range such as $A$1:$B$2
    merged: dict[str, list[str]] = field(default_factory=dict)  # by sheet, the ranges whose cells are merged over several rows
    displays: dict[int, Display] = field(default_factory=dict)  # by style of a cell, where it shows a text behind its number


def read_document(path, name: str = "") -> Document:
    """The document at a path, or ValueError with one line saying why there is none; it calls the file by `name`."""
    package = read_parts(path, name, KIND)
    if not package.parts.get("mimetype", b"").startswith(_MIME) or _CONTENT not in package.parts:
        raise Refused("", f"be {KIND}", "another kind of file under that name", (str(package.path),))
    if b"encryption-data" in package.parts.get(_MANIFEST, b""):
        raise Unusable("encrypted document: remove the password first", (str(package.path),))
    return _parsed(package)


def _parsed(package: Package) -> Document:
    reader = _Reader()
    try:
        for _ in handed(package.parts[_CONTENT], reader):
            pass
    except Refused as refusal:
        raise refusal.at(package.path) from None
    except ValueError as error:
        raise Unusable(f"damaged document (part {_CONTENT}: {error})", (str(package.path),)) from None
    return reader.document


def _repeats(attributes: dict[str, str], what: str) -> int:
    text = attributes.get(what, "1")
    if not text.isdecimal() or not 0 < int(text[:9]) <= LAST_ROW:
        raise ValueError(f"a repetition of {text!r:.20}")
    return int(text)


class _Reader:
    """Gets the elements of the content one by one."""

    def __init__(self):
        self.document = Document()
        self.count = 0
        self.path: list[str] = []  # the open elements
        self.tables = 0  # open tables; a table inside a cell is not read
        self.rows: list[StoredRow] = []
        self.merged: list[str] = []
        self.row, self.row_repeats, self.cells, self.column = 0, 1, {}, 0
        self.cell: dict[str, str] | None = None
        self.text: list[str] = []
        self.shown: list[str] = []  # the texts behind numbers

    def start(self, full_name: str, attributes: dict[str, str]) -> None:
        name = full_name.rpartition(" ")[2]
        given = {key.rpartition(" ")[2]: value for key, value in attributes.items() if not key.startswith(_EXTENSION)}
        if attributes.get(f"{_EXTENSION} value-type") == "error":
            given["value-type"] = "error"
        self.path.append(name)
        if name == "table":
            self._open_table(given)
        elif name == "named-range":
            self._name(given)
        elif self.tables == 1:
            self._open_inside(name, given)

    def _open_table(self, given: dict[str, str]) -> None:
        self.tables += 1
        if self.tables == 1:
            title = given.get("name", "")
            if not title or title in self.document.sheets:
                raise ValueError("a sheet has no name of its own")
            self.rows = self.document.sheets[title] = []
            self.merged = self.document.merged[title] = []
            self.row = 0

    def _name(self, given: dict[str, str]) -> None:
        match = _RANGE.fullmatch(given.get("cell-range-address", ""))
        place = ("", "")
        if match:
            sheet = (match[1] or match[2]).replace("''", "'")
            place = (sheet, match[3] + (f":{match[4]}" if match[4] else ""))
        self.document.names[given.get("name", "").lower()] = place

    def _open_inside(self, name: str, given: dict[str, str]) -> None:
        if name == "table-row":
            self.row_repeats, self.cells, self.column = _repeats(given, "number-rows-repeated"), {}, 0
        elif name in ("table-cell", "covered-table-cell") and self.cell is None:
            self.cell, self.text = given, []
        elif self._in_text():
            if name == "p" and self.text:
                self.text.append("\n")
            elif name == "s":
                self.text.append(" " * min(_repeats(given, "c"), 1000))
            elif name in ("tab", "line-break"):
                self.text.append("\t" if name == "tab" else "\n")

    def _in_text(self) -> bool:
        """Whether the open element is a paragraph of the cell or inside one; notes and drawings are none of its text."""
        if self.cell is None:
            return False
        inside = self.path[len(self.path) - self.path[::-1].index("table-row") :]
        return len(inside) > 1 and inside[1] == "p" and not {"annotation", "note"} & set(inside)

    def data(self, text: str) -> None:
        if self.tables == 1 and self._in_text():
            self.text.append(text)

    def end(self, full_name: str) -> None:
        name = self.path.pop()
        if name == "table":
            self.tables -= 1
        elif self.tables == 1 and name in ("table-cell", "covered-table-cell") and "table-cell" not in self.path:
            self._close_cell()
        elif self.tables == 1 and name == "table-row":
            self._close_row()

    def _close_cell(self) -> None:
        given, self.cell = self.cell or {}, None
        repeats, value = _repeats(given, "number-columns-repeated"), self._value(given)
        if value is not None:
            if self.column + repeats > MOST_COLUMNS:
                raise Refused("", f"have at most {MOST_COLUMNS} filled columns")
            for column in range(self.column + 1, self.column + repeats + 1):
                self.cells[column] = value
            rows = _repeats(given, "number-rows-spanned")
            if rows > 1:
                letter = get_column_letter(self.column + 1)
                self.merged.append(f"{letter}{self.row + 1}:{letter}{self.row + rows}")
        self.column += repeats

    def _value(self, given: dict[str, str]) -> StoredCell | None:
        kind, text, is_formula = given.get("value-type", ""), "".join(self.text), "formula" in given
        value: Any = given.get("string-value", text)
        letter, style = "str", 0
        if kind in ("float", "percentage", "currency"):
            letter, value = "n", float(given.get("value", "nan"))
            style = self._style(kind, text)
            if not math.isfinite(value):
                letter, value = "str", text
        elif kind == "boolean":
            letter, value = "b", given.get("boolean-value") == "true"
        elif kind in ("date", "time"):
            letter, value = "d", given.get(f"{kind}-value", text)
        elif kind == "error":
            letter, value = "e", CellError(text)
        if value == "" and not is_formula:
            return None
        return StoredCell(letter, value, is_formula, style)

    def _style(self, kind: str, text: str) -> int:
        """The number of what a number shows behind itself; 0 for nothing."""
        behind = _BEHIND.fullmatch(text.strip())
        shown = "%" if kind == "percentage" else behind[1] if behind else ""
        if not shown:
            return 0
        if shown not in self.shown:
            self.shown.append(shown)
            self.document.displays[len(self.shown)] = Display(Fraction(100 if kind == "percentage" else 1), shown)
        return self.shown.index(shown) + 1

    def _close_row(self) -> None:
        first, self.row = self.row + 1, self.row + self.row_repeats
        if not self.cells:
            return
        if self.row_repeats > MOST_REPEATS:
            raise Refused("", f"repeat a filled row at most {MOST_REPEATS} times")
        self.count += len(self.cells) * self.row_repeats
        if self.row > LAST_ROW or self.count > MOST_CELLS:
            raise Refused("", f"have at most {MOST_CELLS} filled cells in {LAST_ROW} rows")
        self.rows.extend(StoredRow(number, self.cells) for number in range(first, self.row + 1))
