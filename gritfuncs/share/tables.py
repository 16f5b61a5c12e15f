"""Tables of a workbook, and the cells that a structured reference such as Trial[depth] stands for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from openpyxl.formula.tokenizer import Token
from openpyxl.utils import coordinate_to_tuple, get_column_letter, quote_sheetname, range_boundaries

from ..spreadsheets.package import Package, sheet_parts
from ..spreadsheets.references import Range
from ..spreadsheets.stored_cells import without_escapes
from .calls import tokens

_REFERENCE = re.compile(r"([^\W\d][\w.\\]*|)\[(.*)\]", re.DOTALL)
_PART = re.compile(r"\[((?:'.|[^'\[\]])*)\]", re.DOTALL)  # an apostrophe stands before a sign that is meant as it is


@dataclass(frozen=True)
class Table:
    """A table: its cells with headings and totals, and the names of its columns."""

    cells: Range
    columns: tuple[str, ...]
    headings: int  # rows
    totals: int

    @property
    def data(self) -> tuple[int, int]:
        """Its first and last row of data."""
        return self.cells.top + self.headings, self.cells.bottom - self.totals

    def rows(self, items: set[str], row: int) -> tuple[int, int]:
        """The rows that the words of a reference mean, as seen from a row."""
        first, last = self.data
        if items == {"#this row"}:
            if not first <= row <= last:
                raise ValueError("it means a row of the table and stands in none")
            return row, row
        known = {
            "#all": (self.cells.top, self.cells.bottom),
            "#headers": (self.cells.top, first - 1),
            "#data": (first, last),
            "#totals": (last + 1, self.cells.bottom),
        }
        if not items <= known.keys():
            raise ValueError("the reference to a table is not understood")
        spans = [known[item] for item in items or {"#data"}]
        top, bottom = min(span[0] for span in spans), max(span[1] for span in spans)
        if top > bottom:
            raise ValueError("the table has no such row")
        return top, bottom

    def column(self, name: str) -> int:
        for place, column in enumerate(self.columns):
            if column.lower() == name.lower():
                return self.cells.left + place
        raise ValueError(f"the table has no column {name!r}")


class Tables:
    """The tables of a workbook by name."""

    def __init__(self, package: Package):
        self._by_name = dict(_tables(package))

    def cells(self, reference: str, sheet: str | None, address: str) -> Range | None:
        """The cells of a structured reference in a formula at an address; None for what is no such reference."""
        match = _REFERENCE.fullmatch(reference)
        if not match:
            return None
        row, column = coordinate_to_tuple(address)
        table, inside = self._table(match[1], sheet, row, column), match[2]
        parts = _PART.findall(inside)
        if inside.lstrip().startswith("@"):  # as it is typed: @ for this row
            parts = ["#This Row", *(parts or [inside.strip()[1:]])]
        elif not parts:
            parts = [inside]
        parts = [part.strip() for part in parts if part.strip()]
        items = {part.lower() for part in parts if part.startswith("#")}
        columns = [table.column(re.sub("'(.)", r"\1", part)) for part in parts if not part.startswith("#")]
        top, bottom = table.rows(items, row)
        columns = columns or [table.cells.left, table.cells.right]
        return Range(table.cells.sheet, min(columns), top, max(columns), bottom)

    def _table(self, name: str, sheet: str | None, row: int, column: int) -> Table:
        if name:
            if name.upper() not in self._by_name:
                raise ValueError(f"there is no table {name!r}")
            return self._by_name[name.upper()]
        for table in self._by_name.values():  # the one around the formula
            cells = table.cells
            if cells.sheet == sheet and cells.top <= row <= cells.bottom and cells.left <= column <= cells.right:
                return table
        raise ValueError("it means a table and stands in none")

    def plain(self, formula: str, sheet: str | None, address: str = "A1") -> str:
        """The formula with addresses in place of structured references, and spaces for other blanks between its parts.

        ValueError where a reference leads to no cells.
        """
        if is_plain(formula):
            return formula
        texts = []
        for token, text in tokens(formula):
            cells = self.cells(text, sheet, address) if token.type == Token.OPERAND and "[" in text else None
            texts.append(absolute(cells) if cells else " " if token.type == Token.WSPACE else text)
        return "".join(texts)

    def plain_names(self, names: Mapping[str | None, Mapping[str, str]]) -> dict[str | None, dict[str, str]]:
        """Defined names with addresses in place of structured references, as far as these lead to cells."""
        return {
            sheet: {name: self._plain_or_same(meaning, sheet) for name, meaning in held.items()} for sheet, held in names.items()
        }

    def _plain_or_same(self, meaning: str, sheet: str | None) -> str:
        try:
            return self.plain(meaning, sheet)
        except ValueError:
            return meaning


def is_plain(formula: str) -> bool:
    """Whether there is nothing in a formula that `Tables.plain` could put in other words."""
    return not re.search(r"[\[\r\n\t]", formula)


def absolute(cells: Range) -> str:
    """An address of cells, with its sheet and dollar signs."""
    first = f"${get_column_letter(cells.left)}${cells.top}"
    last = f"${get_column_letter(cells.right)}${cells.bottom}"
    return f"{quote_sheetname(cells.sheet)}!{first}" + ("" if first == last else f":{last}")


def _tables(package: Package) -> Iterator[tuple[str, Table]]:
    for sheet, part in sheet_parts(package).items():
        for relation in package.relations(part) if package.has_relations(part) else ():
            if relation.is_a("table") and relation.target in package.parts:
                for table in package.elements(relation.target, "table", "tableColumn"):
                    if table.name == "table":
                        yield from _table(sheet, table)


def _table(sheet: str, table) -> Iterator[tuple[str, Table]]:
    reference, columns = table.get("ref"), tuple(without_escapes(column.get("name")) for column in table.children)
    counts = [table.get(name, usual) for name, usual in (("headerRowCount", "1"), ("totalsRowCount", "0"))]
    if re.fullmatch(r"[A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7}", reference) and all(map(str.isdecimal, counts)):
        cells = Range(sheet, *range_boundaries(reference))
        if len(columns) == cells.width:
            yield (table.get("displayName") or table.get("name")).upper(), Table(cells, columns, *map(int, counts))
