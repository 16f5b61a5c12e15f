"""What a shared workbook gets besides its formulas: knees, which no single native formula gives, and the table of grit sizes.

They stand on added sheets: one, and further ones where it is full.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from openpyxl.utils import get_column_letter

from ..addins.functions import FUNCTIONS, ErrorCell
from ..formulas.wheel import SIEVES
from ..sheets.words import CAUTIONS
from ..spreadsheets.cell_values import CellError
from ..spreadsheets.evaluate import Range
from ..spreadsheets.formula_text import number_text
from ..spreadsheets.package import Package
from ..spreadsheets.references import LAST_COLUMN
from ..spreadsheets.stored_cells import MOST_CELLS
from ..workbooks.blocks.knee import MOST_ROWS
from .added_sheet import AddedSheet, free_title
from .knee_cells import DEPTHS, ENERGIES, FIRST_KNEE, LABEL, NUMBER, KneeCells, kept, knee_cells
from .tables import absolute
from .values import Values

STALE = "The readings have changed since this report was written: ask for a new one."
REPORT = "GRIT_KNEE_REPORT"

_FUNCTION = {function.sheet_name: function for function in FUNCTIONS}
_INTRODUCTION = (
    "Native formulas of this workbook, in place of the functions of gritfuncs. They need no add-in. Keep this sheet.",
    CAUTIONS[0],
)
_LETTERS = [get_column_letter(column) for column in range(FIRST_KNEE, LAST_COLUMN + 1)]


def _size(cells: Range) -> tuple[int, int]:
    return cells.bottom - cells.top + 1, cells.right - cells.left + 1


@dataclass
class _Page:
    """An added sheet while it is planned: which rows and how many cells of it are taken, and what formulas elsewhere read."""

    title: str
    row: int = len(_INTRODUCTION) + 2  # the next free one
    filled: int = 0
    shown: dict[tuple[int, int], Any] = field(default_factory=dict)


@dataclass
class _Band:
    """Knees of one length side by side on a page, so many rows further down than their cells say."""

    page: _Page
    cells: KneeCells
    down: int
    ranges: list[tuple[str, str]] = field(default_factory=list)  # depths and energies of each knee
    values: list[dict[int, Any]] = field(default_factory=list)  # of its formulas, by row
    unchanged: dict[int, tuple[str, Any]] = field(default_factory=dict)  # formula and value, for knees with a report

    @property
    def has_room(self) -> bool:
        return len(self.ranges) < len(_LETTERS) and self.page.filled + self.cells.filled <= MOST_CELLS

    def address(self, row: int, place: int) -> str:
        return f"{self.page.title}!${_LETTERS[place]}${row + self.down}"

    def write(self, sheet: AddedSheet) -> None:
        shared, own = self.cells.shared(self.down), self._own()
        for row in range(1, self.cells.length + 1):
            constants = {LABEL: self.cells.labels[row]} if row in self.cells.labels else {}
            if row in self.cells.numbers:
                constants[NUMBER] = self.cells.numbers[row]
            if row in shared:
                sheet.write_shared(row + self.down, constants, shared[row], _LETTERS, [values[row] for values in self.values])
            elif constants or row in own:
                formulas, values = own.get(row, ({}, {}))
                sheet.write(row + self.down, {**constants, **formulas}, values)

    def _own(self) -> dict[int, tuple[dict[int, str], dict[int, Any]]]:
        """What each knee has for itself, with its values, by row and column."""
        found: dict[int, tuple[dict[int, str], dict[int, Any]]] = {}
        for place, ((depths, energies), values) in enumerate(zip(self.ranges, self.values)):
            column = place + FIRST_KNEE
            formulas = self.cells.looking_at(depths, energies, self.down, column)
            if place in self.unchanged:
                formulas[self.cells.unchanged], value = self.unchanged[place]
                values = {**values, self.cells.unchanged: value}
            for row, text in {DEPTHS: depths, ENERGIES: energies, **formulas}.items():
                texts, known = found.setdefault(row, ({}, {}))
                texts[column], known[column] = text, values.get(row)
        return found


@dataclass(frozen=True)
class _Knee:
    """Where the results for one pair of ranges stand."""

    band: _Band
    place: int

    def result(self, name: str) -> str:
        return self.band.address(self.band.cells.rows[name], self.place)


class Added:
    """The cells that are added, while calls ask for them."""

    def __init__(self, values: Values):
        self.values = values
        self._pages: list[_Page] = []
        self._sizes: tuple[_Page, dict[tuple[int, int], Any], str] | None = None
        self._bands: list[_Band] = []
        self._open: dict[KneeCells, _Band] = {}
        self._knees: dict[tuple[Range, Range], _Knee | ValueError] = {}

    @property
    def titles(self) -> list[str]:
        return [page.title for page in self._pages]

    def sizes(self) -> str:
        """The table of designations and mean grit sizes."""
        if not self._sizes:
            page = self._page(0)
            mean_size = _FUNCTION["GRIT_MEAN_SIZE"]
            designations = [word for number, (sieves, *_) in SIEVES.items() for word in (f"D{number}", f"B{number}", sieves)]
            first, cells = page.row + 1, {(page.row, 1): "Grit designation (ISO 6106) and mean grit size, µm"}
            for row, designation in enumerate(designations, first):
                cells[row, 1], cells[row, 2] = designation, mean_size.call(designation)
            page.shown.update(cells)
            page.row = row + 3
            page.filled += len(cells)
            self._sizes = page, cells, f"{page.title}!$A${first}:$B${row}"
        return self._sizes[2]

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

    def report(self, depths: Range, energies: Range) -> tuple[str, tuple[tuple[str, str], ...]]:
        """The cell that is 1 as long as the readings are what they are now, and the report on them."""
        knee = self.knee(depths, energies)
        band, place = knee.band, knee.place
        if place not in band.unchanged:
            formula = self._unchanged(absolute(depths), absolute(energies), band.cells)
            value = self.values.compute(formula[1:], depths.sheet, "A1", is_array=False)
            band.unchanged[place] = formula, value
            band.page.shown[band.cells.unchanged + band.down, place + FIRST_KNEE] = value
        return band.address(band.cells.unchanged, place), _FUNCTION[REPORT].call(self._given(depths), self._given(energies))

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
        computed = cells.values(self.values.rows(depths), self.values.rows(energies))
        self._refuse_other_answers(depths, energies, {name: computed[row] for name, row in cells.rows.items()})
        return self._put(self._band(cells), computed, (absolute(depths), absolute(energies)))

    def _put(self, band: _Band, computed: dict[int, Any], ranges: tuple[str, str]) -> _Knee:
        """Give a knee its place in a band."""
        place = len(band.ranges)
        band.ranges.append(ranges)
        band.values.append(computed)
        band.page.filled += band.cells.filled
        for row in band.cells.rows.values():
            band.page.shown[row + band.down, place + FIRST_KNEE] = computed[row]
        return _Knee(band, place)

    def _band(self, cells: KneeCells) -> _Band:
        """Where there is room for one more knee."""
        band = self._open.get(cells)
        if not band or not band.has_room:
            page = self._page(cells.length + cells.filled)
            band = self._open[cells] = _Band(page, cells, page.row - 1)
            page.row += cells.length + 2
            page.filled += len(cells.labels) + len(cells.numbers)
            self._bands.append(band)
        return band

    def _page(self, cells: int) -> _Page:
        """The last page, or one more if that has no room for so many cells."""
        if not self._pages or self._pages[-1].filled + cells > MOST_CELLS:
            self._pages.append(_Page(free_title([*self.values.titles, *self.titles])))
        return self._pages[-1]

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
        given = self._given(depths), self._given(energies)
        verdict = _FUNCTION["GRIT_KNEE_VERDICT"].call(*given)
        for name, native in native_values.items():
            answer = _FUNCTION[name].call(*given)
            if isinstance(answer, float) or name == "GRIT_KNEE_VERDICT":
                if not same_value(answer, native):
                    raise ValueError(
                        f"the function answers {_shown(answer)}, native formulas would answer {_shown(native)}: they do not "
                        "look for a single reading out of line"
                    )
            elif isinstance(native, float):
                raise ValueError(f"the function answers {verdict!r}, native formulas would give the number {number_text(native)}")

    def add_to(self, package: Package) -> None:
        """Put the added sheets into the package, and what they show among the values."""
        for page in self._pages:
            self.values.book.add_sheet(page.title, page.shown)
            sheet = AddedSheet(page.title)
            for row, text in enumerate(_INTRODUCTION, 1):
                sheet.write(row, {LABEL: text})
            for _, write in sorted(self._parts(page), key=lambda part: part[0]):
                write(sheet)
            sheet.add_to(package)

    def _parts(self, page: _Page) -> Iterator[tuple[int, Any]]:
        """What stands on a page: the first row, and what writes it from there."""
        if self._sizes and self._sizes[0] is page:
            yield min(row for row, _ in self._sizes[1]), self._write_sizes
        for band in self._bands:
            if band.page is page:
                yield band.down, band.write

    def _write_sizes(self, sheet: AddedSheet) -> None:
        _, cells, _ = self._sizes
        for row in sorted({row for row, _ in cells}):
            sheet.write(row, {column: content for (at, column), content in cells.items() if at == row})


def same_value(left: Any, right: Any) -> bool:
    """Equal to 1e-9; any error is any other."""
    if isinstance(left, CellError) or isinstance(right, CellError):
        return isinstance(left, CellError) and isinstance(right, CellError)
    if isinstance(left, str) or isinstance(right, str):
        return left == right
    return math.isclose(left, right, rel_tol=1e-9, abs_tol=1e-12)


def _shown(value: Any) -> str:
    return repr(value) if isinstance(value, str) else number_text(value)
