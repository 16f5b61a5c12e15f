"""Cells as a workbook file stores them: read in one pass, row by row, and within bounds whatever the file says."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from openpyxl.utils import column_index_from_string, get_column_letter

from ..refused import Refused
from .cell_values import CellError
from .elements import Element
from .handing import handed
from .number_formats import Display, display_of
from .package import Package, sheet_parts

MOST_CELLS = 1_000_000  # cells with anything in them, on one sheet; texts in the list that the sheets share
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
TEXT_KINDS = ("str", "s", "inlineStr")

_ESCAPE = re.compile(r"_x((?!D[89A-F])[0-9A-F]{4})_", re.IGNORECASE)  # half of a pair of numbers is no sign


def without_escapes(text: str) -> str:
    """A text of a workbook with the signs that stand in it by their numbers, _x000D_ for a carriage return."""
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


@lru_cache(maxsize=LAST_COLUMN)
def _column(letters: str) -> int:
    """The number of a column, 0 for what is no name of one."""
    return column_index_from_string(letters) if re.fullmatch("[A-Z]{1,3}", letters) else 0


@lru_cache(maxsize=4096)
def _style(number: str) -> int:
    """The number of a style, 0 for what is none."""
    return int(number) if number.isdecimal() and len(number) < 9 else 0


class StoredCell(NamedTuple):
    kind: str  # the letter of its type: n number, b boolean, e error, d date, or one of TEXT_KINDS
    value: Any  # float, text, bool or CellError; None where nothing is stored
    is_formula: bool
    style: int


class StoredRow(NamedTuple):
    number: int
    cells: dict[int, StoredCell]  # by column, from 1; only those with a value or a formula


class StoredFormula(NamedTuple):
    """The formula of a cell in the bytes of its sheet."""

    address: str
    element: Element


class _ByName(dict):
    """What to do at an element by its name with the namespace, as it was given by local name; None for any other."""

    def __init__(self, by_local_name: Mapping[str, Callable[..., None]]):
        self.by_local_name = by_local_name

    def __missing__(self, name: str) -> Callable[..., None] | None:
        self[name] = self.by_local_name.get(name.rpartition(" ")[2])
        return self[name]


class _Handler:
    """Gets the elements of a part one by one.

    By the local names of the elements: what takes their attributes when they open, and what is called when they close.
    """

    place: Callable[[], int]

    def __init__(self, opened: Mapping[str, Callable[[dict[str, str]], None]], closed: Mapping[str, Callable[[], None]]):
        self.text: list[str] | None = None  # the text of the element that is open, where it counts
        self.aside = False  # whether a reading aid is open, whose text is not the cell's
        self.opened = _ByName({**opened, "rPh": self._open_aid})
        self.closed = _ByName({**closed, "rPh": self._close_aid})

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if opened := self.opened[name]:
            opened(attributes)

    def end(self, name: str) -> None:
        if closed := self.closed[name]:
            closed()

    def data(self, text: str) -> None:
        if self.text is not None:
            self.text.append(text)

    def _open_aid(self, _: dict[str, str]) -> None:
        self.aside = True

    def _close_aid(self) -> None:
        self.aside = False


class _Strings(_Handler):
    """The texts that the sheets share."""

    def __init__(self):
        super().__init__({"si": self._open_item, "t": self._open_text}, {"si": self._close_item, "t": self._close_text})
        self.found: list[str] = []
        self.item: list[str] = []

    def _open_item(self, _: dict[str, str]) -> None:
        self.item = []

    def _open_text(self, _: dict[str, str]) -> None:
        if not self.aside:
            self.text = self.item

    def _close_text(self) -> None:
        self.text = None

    def _close_item(self) -> None:
        if len(self.found) >= MOST_CELLS:
            raise Refused("", f"have at most {MOST_CELLS} texts")
        self.found.append(without_escapes("".join(self.item)))


def _number(text: str) -> float | str | None:
    """The number in a text; the text where it is none to compute with: a date, one that is not finite."""
    try:
        number = float(text)
    except ValueError:
        return text or None
    return number if math.isfinite(number) else text


def _truth(text: str) -> bool | str | None:
    number = _number(text)
    return bool(number) if isinstance(number, float) else number


_TYPED: dict[str, Callable[[str], Any]] = {  # by the type of a cell, what its text says; of all others a number
    "str": without_escapes,
    "inlineStr": without_escapes,
    "e": CellError,
    "b": _truth,
}


class _Sheet(_Handler):
    """Rows that are complete but not yet taken, and the one that is being read; formulas of `data` where they are wanted."""

    def __init__(self, strings: list[str], data: bytes, formulas: list[StoredFormula] | None):
        opened = {"row": self._open_row, "c": self._open_cell, "v": self._open_value, "t": self._open_text}
        closed = {"row": self._close_row, "c": self._close_cell, "v": self._close_value, "t": self._close_value}
        super().__init__({**opened, "f": self._open_formula}, {**closed, "f": self._close_formula})
        self.strings, self.source, self.formulas = strings, data, formulas
        self.typed = {**_TYPED, "s": self._shared}
        self.complete: list[StoredRow] = []
        self.row = StoredRow(0, {})
        self.digits = ""  # its number as its cells have it in their addresses
        self.column = self.count = 0
        self.kind, self.style, self.is_formula, self.is_in_cell = "n", 0, False, False
        self.value: list[str] | None = None
        self.formula: Element | None = None

    def _open_row(self, attributes: dict[str, str]) -> None:
        before, number = self.row.number, attributes.get("r")
        place = before + 1 if number is None else int(number) if number.isdecimal() and len(number) < 9 else 0
        if not before < place <= LAST_ROW:
            raise ValueError(f"row {number!r:.40} after row {before}")
        self.row, self.digits, self.column = StoredRow(place, {}), str(place), 0

    def _close_row(self) -> None:
        if self.row.cells:
            self.complete.append(self.row)

    def _open_cell(self, attributes: dict[str, str]) -> None:
        self.column += 1
        address = attributes.get("r")
        if address is not None:
            letters = address[: -len(self.digits)]
            self.column = _column(letters)
            if not self.column or letters + self.digits != address:
                raise ValueError(f"a cell of row {self.row.number} has the address {address!r:.40}")
        if not self.row.number or self.column > LAST_COLUMN:
            raise ValueError(f"a cell stands beyond the last column or outside of all rows, behind row {self.row.number}")
        self.kind, self.style = attributes.get("t", "n"), _style(attributes.get("s", ""))
        self.is_formula, self.is_in_cell, self.value = False, True, None

    def _open_formula(self, attributes: dict[str, str]) -> None:
        if self.is_in_cell:
            self.is_formula = True
            if self.formulas is not None:
                self.formula, self.text = Element("f", attributes, self.place(), self.source), []

    def _close_formula(self) -> None:
        if self.formula is not None:
            self.formula.complete("".join(self.text or ()), self.place())
            self.formulas.append(StoredFormula(f"{get_column_letter(self.column)}{self.digits}", self.formula))
            self.formula = self.text = None

    def _open_value(self, _: dict[str, str]) -> None:
        self.value = self.text = []

    def _open_text(self, _: dict[str, str]) -> None:
        if self.kind == "inlineStr" and not self.aside:
            self.value = self.text = [] if self.value is None else self.value

    def _close_value(self) -> None:
        self.text = None

    def _close_cell(self) -> None:
        self.is_in_cell = False
        if self.value is None and not self.is_formula:
            return
        self.count += 1
        if self.count > MOST_CELLS:
            raise Refused("", f"have at most {MOST_CELLS} filled cells", "more")
        value = None if self.value is None else self.typed.get(self.kind, _number)("".join(self.value))
        self.row.cells[self.column] = StoredCell(self.kind, value, self.is_formula, self.style)

    def _shared(self, number: str) -> str | None:
        if not number.strip():
            return None
        if not (number.strip().isdecimal() and len(number) < 9 and int(number) < len(self.strings)):
            raise ValueError(f"a cell of row {self.row.number} has the text number {number!r:.40}")
        return self.strings[int(number)]


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


def stored_rows(
    package: Package, part: str, strings: list[str], formulas: list[StoredFormula] | None = None
) -> Iterator[StoredRow]:
    """The rows of a sheet that hold anything, from the top; a list of `formulas` gets those that were read so far."""
    sheet = _Sheet(strings, package.parts[part], formulas)
    for _ in _chunks(package, part, sheet):
        yield from sheet.complete
        sheet.complete.clear()


def merged_ranges(package: Package, part: str) -> list[str]:
    """The ranges of a sheet whose cells are merged into one, A2:A4."""
    if b"mergeCell" not in package.parts[part]:
        return []
    return [element.get("ref") for element in package.elements(part, "mergeCell")]


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
