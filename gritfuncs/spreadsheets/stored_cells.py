"""Cells as a workbook file stores them: read in one pass, row by row, and within bounds whatever the file says."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from openpyxl.utils import column_index_from_string

from ..refused import Refused
from .cell_values import CellError
from .handing import handed
from .number_formats import Display, display_of
from .package import Package, sheet_parts

MOST_CELLS = 1_000_000  # cells with anything in them, on one sheet; texts in the list that the sheets share
MOST_ELEMENTS = 5 * MOST_CELLS  # of a part's XML
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
TEXT_KINDS = ("str", "s", "inlineStr")

_ESCAPE = re.compile(r"_x((?!D[89A-F])[0-9A-F]{4})_", re.IGNORECASE)  # half of a pair of numbers is no sign
_ADDRESS = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")


def without_escapes(text: str) -> str:
    """A text of a workbook with the signs that stand in it by their numbers, _x000D_ for a carriage return."""
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


class StoredCell(NamedTuple):
    kind: str  # the letter of its type: n number, b boolean, e error, d date, or one of TEXT_KINDS
    value: Any  # float, text, bool or CellError; None where nothing is stored
    is_formula: bool
    style: int


class StoredRow(NamedTuple):
    number: int
    cells: dict[int, StoredCell]  # by column, from 1; only those with a value or a formula


class _Handler:
    """Gets the elements of a part one by one, and no more of them than a part may have."""

    def __init__(self):
        self.elements = 0
        self.text: list[str] | None = None  # the text of the element that is open, where it counts
        self.aside = 0  # open elements inside a reading aid, whose text is not the cell's

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        if self.elements > MOST_ELEMENTS:
            raise Refused("", f"have at most {MOST_ELEMENTS} elements")
        name = name.rpartition(" ")[2]
        if self.aside or name == "rPh":
            self.aside += 1
        else:
            self.opened(name, attributes)

    def end(self, name: str) -> None:
        if self.aside:
            self.aside -= 1
        else:
            self.closed(name.rpartition(" ")[2])

    def data(self, text: str) -> None:
        if self.text is not None and not self.aside:
            self.text.append(text)

    def opened(self, name: str, attributes: dict[str, str]) -> None:
        raise NotImplementedError

    def closed(self, name: str) -> None:
        raise NotImplementedError


class _Strings(_Handler):
    """The texts that the sheets share."""

    def __init__(self):
        super().__init__()
        self.found: list[str] = []
        self.item: list[str] = []

    def opened(self, name: str, attributes: dict[str, str]) -> None:
        if name == "si":
            self.item = []
        elif name == "t":
            self.text = self.item

    def closed(self, name: str) -> None:
        if name == "t":
            self.text = None
        elif name == "si":
            if len(self.found) >= MOST_CELLS:
                raise Refused("", f"have at most {MOST_CELLS} texts")
            self.found.append(without_escapes("".join(self.item)))


class _Sheet(_Handler):
    """Rows that are complete but not yet taken, and the one that is being read."""

    def __init__(self, strings: list[str]):
        super().__init__()
        self.strings = strings
        self.complete: list[StoredRow] = []
        self.row = StoredRow(0, {})
        self.column = self.count = 0
        self.kind, self.style, self.is_formula = "n", 0, False
        self.value: list[str] | None = None

    def opened(self, name: str, attributes: dict[str, str]) -> None:
        if name == "row":
            self._open_row(attributes.get("r"))
        elif name == "c":
            self._open_cell(attributes)
        elif name == "f":
            self.is_formula = True
        elif name == "v" or name == "t" and self.kind == "inlineStr":
            self.value = self.value if name == "t" and self.value is not None else []
            self.text = self.value

    def closed(self, name: str) -> None:
        if name in ("v", "t"):
            self.text = None
        elif name == "c":
            self._close_cell()
        elif name == "row" and self.row.cells:
            self.complete.append(self.row)

    def _open_row(self, number: str | None) -> None:
        before = self.row.number
        place = before + 1 if number is None else int(number) if number.isdecimal() and len(number) < 9 else 0
        if not before < place <= LAST_ROW:
            raise ValueError(f"row {number!r:.40} after row {before}")
        self.row, self.column = StoredRow(place, {}), 0

    def _open_cell(self, attributes: dict[str, str]) -> None:
        self.column += 1
        address = attributes.get("r")
        if address is not None:
            match = _ADDRESS.fullmatch(address)
            if not match or int(match[2]) != self.row.number:
                raise ValueError(f"a cell of row {self.row.number} has the address {address!r:.40}")
            self.column = column_index_from_string(match[1])
        if not self.row.number or self.column > LAST_COLUMN:
            raise ValueError(f"a cell stands beyond the last column or outside of all rows, behind row {self.row.number}")
        style = attributes.get("s", "")
        self.kind, self.style = attributes.get("t", "n"), int(style) if style.isdecimal() and len(style) < 9 else 0
        self.is_formula, self.value = False, None

    def _close_cell(self) -> None:
        text = None if self.value is None else "".join(self.value)
        if text is None and not self.is_formula:
            return
        self.count += 1
        if self.count > MOST_CELLS:
            raise Refused("", f"have at most {MOST_CELLS} filled cells", "more")
        self.row.cells[self.column] = StoredCell(self.kind, self._typed(text), self.is_formula, self.style)

    def _typed(self, text: str | None) -> Any:
        if text is None or self.kind in ("str", "inlineStr"):
            return text and without_escapes(text)
        if self.kind == "e":
            return CellError(text)
        if self.kind == "s" and not text.strip():
            return None
        if self.kind == "s":
            if not (text.strip().isdecimal() and len(text) < 9 and int(text) < len(self.strings)):
                raise ValueError(f"a cell of row {self.row.number} has the text number {text!r:.40}")
            return self.strings[int(text)]
        try:
            number = float(text)
        except ValueError:  # an empty number, a date as text: nothing to compute with
            return text or None
        if not math.isfinite(number):
            return text
        return bool(number) if self.kind == "b" else number


def _chunks(package: Package, part: str, handler: _Handler) -> Iterator[None]:
    """Give a part to a handler, chunk by chunk; ValueError names the part and what is wrong."""
    try:
        yield from handed(package.parts[part], handler)
    except Refused as refusal:
        raise refusal.at(f"part {part}").at(package.path) from None
    except ValueError as error:
        raise package.damaged(f"part {part}: {error}") from None


def _related(package: Package, kind: str) -> str | None:
    """The part to which the workbook has a relation of this kind."""
    found = (relation.target for relation in package.relations(package.workbook) if relation.is_a(kind))
    return next((part for part in found if part in package.parts), None)


def shared_strings(package: Package) -> list[str]:
    strings, part = _Strings(), _related(package, "sharedStrings")
    if part:
        for _ in _chunks(package, part, strings):
            pass
    return strings.found


def stored_rows(package: Package, part: str, strings: list[str]) -> Iterator[StoredRow]:
    """The rows of a sheet that hold anything, from the top."""
    sheet = _Sheet(strings)
    for _ in _chunks(package, part, sheet):
        yield from sheet.complete
        sheet.complete.clear()


def date_styles(package: Package) -> frozenset[int]:
    """The styles of cells that show their number as a date or time."""
    from openpyxl.styles.numbers import is_date_format

    return frozenset(style for style, code in enumerate(_format_codes(package)) if is_date_format(code))


def displays(package: Package) -> dict[int, Display]:
    """By style, how cells show a number in another size or with a text behind it; styles that do not are left out."""
    from openpyxl.styles.numbers import is_date_format

    found = {style: display_of(code) for style, code in enumerate(_format_codes(package)) if not is_date_format(code)}
    return {style: display for style, display in found.items() if display is not None}


def _format_codes(package: Package) -> list[str]:
    """The number format of each style of cells."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS

    part = _related(package, "styles")
    if not part:
        return []
    codes, found = dict(BUILTIN_FORMATS), []
    for element in package.elements(part, "numFmt", "cellXfs", "xf"):
        if element.name == "numFmt" and element.get("numFmtId").isdecimal():
            codes[int(element.get("numFmtId"))] = element.get("formatCode")
        elif element.name == "cellXfs":
            found = [style.get("numFmtId", "0") for style in element.children]
    return [codes.get(int(number), "General") if number.isdecimal() else "General" for number in found]


def defined_names(package: Package) -> dict[str | None, dict[str, str]]:
    """{sheet, or None for the whole workbook: {name in capitals: what it stands for}}."""
    titles = list(sheet_parts(package))
    found: dict[str | None, dict[str, str]] = {}
    for element in package.elements(package.workbook, "definedName"):
        if element.text:
            number = element.get("localSheetId")
            sheet = titles[int(number)] if number.isdecimal() and int(number[:9]) < len(titles) else None
            found.setdefault(sheet, {})[element.get("name").upper()] = element.text
    return found
