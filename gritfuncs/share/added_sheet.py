"""The sheet that a shared workbook gets for what no single native formula can do: knees, and the table of grit sizes."""

from __future__ import annotations

import math
import posixpath
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any
from xml.sax.saxutils import escape

from openpyxl.utils import get_column_letter

from ..addins.functions import FUNCTIONS, ErrorCell
from ..formulas.wheel import SIEVES
from ..spreadsheets.cell_values import CellError
from ..spreadsheets.elements import Element, escape_attribute, spliced
from ..spreadsheets.evaluate import Range
from ..spreadsheets.formula_text import number_text, typed
from ..spreadsheets.package import CONTENT_TYPES, Package, relations_of, sheet_parts
from ..spreadsheets.references import LAST_ROW
from ..workbooks.blocks.knee import MOST_ROWS
from ..workbooks.words import CAUTIONS
from .knee_cells import KneeCells, is_formula, kept, knee_cells
from .tables import absolute
from .values import Values

TITLE = "gritfuncs"
STALE = "The readings have changed since this report was written: ask for a new one."
REPORT = "GRIT_KNEE_REPORT"

_CONTENT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_FUNCTION = {function.sheet_name: function for function in FUNCTIONS}
_INTRODUCTION = (
    "Native formulas of this workbook, in place of the functions of gritfuncs. They need no add-in. Keep this sheet.",
    CAUTIONS[0],
)


def _size(cells: Range) -> tuple[int, int]:
    return cells.bottom - cells.top + 1, cells.right - cells.left + 1


@dataclass(frozen=True)
class _Knee:
    """Where the results for one pair of ranges stand; `unchanged` is 1 as long as the readings are what they were."""

    results: dict[str, str]
    unchanged: str
    report: tuple[tuple[str, str], ...]


class AddedSheet:
    """The sheet while it is being filled; it is added to the workbook only if something asked for it."""

    def __init__(self, values: Values):
        self.values = values
        taken = {title.lower() for title in values.titles}
        self.title = next(
            title for title in [TITLE, *(f"{TITLE}_{number}" for number in range(2, len(taken) + 3))] if title not in taken
        )
        self.shown: dict[tuple[int, int], Any] = {}  # what formulas elsewhere read, by row and column
        self.row = len(_INTRODUCTION) + 2  # the next free one
        self._rows: list[str] = []  # the XML of those before
        self._write({(row, 1): text for row, text in enumerate(_INTRODUCTION, 1)})
        self._sizes = ""
        self._knees: dict[tuple[Range, Range], _Knee | ValueError] = {}

    @property
    def is_used(self) -> bool:
        return bool(self._sizes) or any(isinstance(knee, _Knee) for knee in self._knees.values())

    def sizes(self) -> str:
        """The table of designations and mean grit sizes."""
        if not self._sizes:
            mean_size = _FUNCTION["GRIT_MEAN_SIZE"]
            designations = [word for number, (sieves, *_) in SIEVES.items() for word in (f"D{number}", f"B{number}", sieves)]
            first, cells = self.row + 1, {(self.row, 1): "Grit designation (ISO 6106) and mean grit size, µm"}
            for row, designation in enumerate(designations, first):
                cells[row, 1], cells[row, 2] = designation, mean_size.call(designation)
            self._write(cells)
            self.shown.update(cells)
            self._sizes = f"{self.title}!$A${first}:$B${row}"
            self.row = row + 3
        return self._sizes

    def knee(self, depths: Range, energies: Range) -> _Knee:
        """The results for two ranges; ValueError where native formulas cannot give the same answer."""
        pair = depths, energies
        if pair not in self._knees:
            try:
                self._knees[pair] = self._add_knee(depths, energies)
            except ValueError as error:
                self._knees[pair] = error
        if isinstance(self._knees[pair], ValueError):
            raise self._knees[pair]
        return self._knees[pair]

    def _add_knee(self, depths: Range, energies: Range) -> _Knee:
        if _size(depths) != _size(energies) or 1 not in _size(depths):
            sizes = " and ".join("{} x {}".format(*_size(cells)) for cells in (depths, energies))
            raise ValueError(f"depths and energies must be one column each, or one row, of equal length (got {sizes} cells)")
        rows = max(_size(depths))
        if rows > MOST_ROWS:
            raise ValueError(f"depths and energies must be at most {MOST_ROWS} cells long (got {rows}): shorten the ranges")
        if all(value is None for cells in (depths, energies) for row in self.values.rows(cells) for value in row):
            raise ValueError(
                "depths and energies must show readings (got blank cells): if they hold formulas, save the workbook in a spreadsheet "
                "program first, so that it stores their values"
            )
        cells = knee_cells(*_size(depths))
        if self.row + cells.length + 2 > LAST_ROW:
            raise ValueError("the added sheet has no room for one more knee: share the workbook in parts")
        computed = cells.values(self.values.rows(depths), self.values.rows(energies))
        self._refuse_other_answers(depths, energies, {name: computed[row, 2] for name, row in cells.rows.items()})
        return self._put(cells, computed, depths, energies)

    def _put(self, cells: KneeCells, computed: dict[tuple[int, int], Any], depths: Range, energies: Range) -> _Knee:
        """Give a knee its place on the sheet."""
        depth, energy, down = absolute(depths), absolute(energies), self.row - 1
        row = cells.unchanged + down
        contents = {
            (self.row, 1): f"Knee of the depths {depth} and the energies {energy}",
            **cells.written(depth, energy, down),
            (row, 1): "readings as they were when a report was written (1 yes)",
            (row, 2): self._unchanged(depth, energy, cells),
            (row + 1, 1): "The results are #N/A where no knee is found, and when rows were put into the ranges or taken out.",
        }
        values = {(place + down, column): value for (place, column), value in computed.items()}
        values[row, 2] = self.values.compute(contents[row, 2][1:], depths.sheet, "A1", is_array=False)
        self._write(contents, values)
        self.shown.update({(place, 2): values[place, 2] for place in (row, *(row + down for row in cells.rows.values()))})
        self.row += cells.length + 2
        results = {name: f"{self.title}!$B${place + down}" for name, place in cells.rows.items()}
        report = _FUNCTION[REPORT].call(self._given(depths), self._given(energies))
        return _Knee(results, f"{self.title}!$B${row}", report)

    def _unchanged(self, depths: str, energies: str, cells: KneeCells) -> str:
        """The formula that is 1 as long as two ranges keep their size and their sums."""
        sums = f"SUM({depths})", f"SUM({energies})", f"SUMPRODUCT({depths},{energies})"
        values = {formula: self.values.compute(formula, self.values.titles[0], "A1", is_array=False) for formula in sums}
        close = [
            f"ABS({formula}-({number_text(value)}))<={number_text(1e-9 * abs(value) + 1e-12)}"
            for formula, value in values.items()
            if isinstance(value, float)
        ]
        return f"=IF(AND({','.join([kept(depths, energies, cells.height, cells.width), *close])}),1,0)"

    def _given(self, cells: Range) -> list[list[Any]]:
        return [[ErrorCell(value) if isinstance(value, CellError) else value for value in row] for row in self.values.rows(cells)]

    def _refuse_other_answers(self, depths: Range, energies: Range, native_values: dict[str, Any]) -> None:
        """The block leaves out a step of the function: where that changes the answer it must not stand in for it."""
        verdict = _FUNCTION["GRIT_KNEE_VERDICT"].call(self._given(depths), self._given(energies))
        for name, native in native_values.items():
            answer = _FUNCTION[name].call(self._given(depths), self._given(energies))
            if isinstance(answer, float) or name == "GRIT_KNEE_VERDICT":
                if not same_value(answer, native):
                    raise ValueError(
                        f"the function answers {_shown(answer)}, native formulas would answer {_shown(native)}: they do not "
                        "look for a single reading out of line"
                    )
            elif isinstance(native, float):
                raise ValueError(f"the function answers {verdict!r}, native formulas would give the number {number_text(native)}")

    def _write(self, cells: Mapping[tuple[int, int], Any], values: Mapping[tuple[int, int], Any] = MappingProxyType({})) -> None:
        """Write cells below those before, formulas with their values."""
        rows: dict[int, list[str]] = {}
        for row, column in sorted(cells):
            address = f"{get_column_letter(column)}{row}"
            rows.setdefault(row, []).append(_cell(address, cells[row, column], values.get((row, column))))
        self._rows += [f'<row r="{row}">{"".join(found)}</row>' for row, found in rows.items()]

    def add_to(self, package: Package) -> None:
        """Put the sheet into the package, as the last one."""
        sheets = list(package.elements(package.workbook, "sheets", "sheet"))
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
        listed = sheets[-1]
        number = 1 + max((int(sheet.get("sheetId")) for sheet in sheets[:-1] if sheet.get("sheetId").isdecimal()), default=0)
        # declared here, since the workbook may declare the prefix of its relations on each sheet, or call it otherwise
        mark = "r" if listed.prefix != "r:" else "rel"
        space = next(name for name in sheets[0].attributes if name.endswith(" id")).rpartition(" ")[0]
        element = f'<{listed.prefix}sheet name="{self.title}" sheetId="{number}" xmlns:{mark}="{space}" {mark}:id="{identity}"/>'
        _append(package, package.workbook, listed, element)
        (types,) = package.elements(CONTENT_TYPES, "Types")
        _append(package, CONTENT_TYPES, types, f'<{types.prefix}Override PartName="/{part}" ContentType="{_CONTENT_TYPE}"/>')

    def _xml(self, namespace: str) -> bytes:
        xml = (
            f'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<worksheet xmlns="{namespace}">'
            '<cols><col min="1" max="1" width="48" customWidth="1"/><col min="2" max="2" width="20" customWidth="1"/></cols>'
            f"<sheetData>{''.join(self._rows)}</sheetData></worksheet>"
        )
        return xml.encode()


def same_value(left: Any, right: Any) -> bool:
    """Equal to 1e-9; any error is any other."""
    if isinstance(left, CellError) or isinstance(right, CellError):
        return isinstance(left, CellError) and isinstance(right, CellError)
    if isinstance(left, str) or isinstance(right, str):
        return left == right
    return math.isclose(left, right, rel_tol=1e-9, abs_tol=1e-12)


def _shown(value: Any) -> str:
    return repr(value) if isinstance(value, str) else number_text(value)


def _cell(address: str, content: Any, value: Any) -> str:
    """A cell as the sheet's XML has it; the value is that of its formula."""
    if is_formula(content):
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
