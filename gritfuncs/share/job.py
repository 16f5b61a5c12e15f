"""Share a workbook: every call of a cell function becomes an equal native formula, or takes another host's spelling.

Only the texts of formulas change inside the file; all other parts stay byte for byte, and so do the stored values.
What cannot be replaced is left as it is and named, cell by cell.
"""

from __future__ import annotations

import os
import re
from collections import ChainMap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, NamedTuple

from openpyxl.utils import coordinate_to_tuple

from ..addins.functions import FAILED, CellFunction
from ..addins.hosts import HOSTS, NATIVE
from ..files import refuse_existing
from ..formulas import catalogue
from ..refused import Refused, Unusable
from ..registry import Formula
from ..sheets.words import CAUTIONS
from ..spreadsheets.cell_values import Area, CellError
from ..spreadsheets.compiled import Compiled
from ..spreadsheets.formula_text import number_text
from ..spreadsheets.package import Package, read_package, write_package
from ..spreadsheets.references import placed, relative
from ..spreadsheets.stored_cells import defined_names
from ..spreadsheets.workbook_part import compute_on_load
from .added import REPORT, STALE, Added, same_value
from .calls import CLOSED, LONGEST_FORMULA, OPEN, PLAIN, TEXT, Call, Piece, rewritten
from .knee_cells import RESULTS as KNEE_RESULTS
from .links import drop_unused_links
from .report import listed, paragraph, table
from .sites import CELL, NAME, RULE, Site, put_back, separated, sites
from .tables import Tables, is_plain
from .values import Values, ready

SPELLED = {host.name: host for host in HOSTS}  # hosts that a copy can be respelled for
MOST_KNEES = 20_000  # cells; a sheet has room for fewer different ones
LONGEST_REPEATED = 40  # characters of an argument that may stand several times in a native formula

_KNEE = "GRIT_KNEE"
_RECORDS = {record.sheet_name: record for record in catalogue}
_NOT_COMPUTED = CellError("#NAME?")  # what a host shows that lacks the functions
_RANDOM = re.compile(r"\bRAND(?:BETWEEN|ARRAY)?\(", re.IGNORECASE)
_LINK = re.compile(r"\[(\d+)\]!")


class Replaced(NamedTuple):
    place: str
    before: str
    after: str


class Left(NamedTuple):
    place: str
    formula: str
    reason: str


class Difference(NamedTuple):
    """A replaced cell whose native formula does not give the value that was stored."""

    place: str
    stored: Any
    native: Any


@dataclass(frozen=True)
class Shared:
    """What `share` did; `output` is None where nothing could be replaced, and then nothing was written."""

    path: str
    output: str | None
    to: str
    replaced: tuple[Replaced, ...]
    left: tuple[Left, ...]
    refused: tuple[Difference, ...]  # the function refused its inputs there, native formulas do not
    differences: tuple[Difference, ...]
    equal: int  # replaced cells that give their stored value to 1e-9
    unchecked: tuple[str, ...]  # replaced cells with nothing to compare
    notes: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every call was replaced, and no cell that can be checked changes its value."""
        return not self.left and not self.differences

    def report(self) -> str:
        """What was replaced and what was not, as plain text."""
        if self.output:
            lines = [*paragraph(f"{self.path} -> {self.output}"), ""]
        else:
            lines = [*paragraph(f"{self.path}: nothing could be replaced, nothing was written"), ""]
        if self.replaced:
            lines += [f"Replaced: {len(self.replaced)}", *table(("cell", "before", "after"), self.replaced), ""]
        if self.left:
            lines += paragraph(
                f"Not replaced: {len(self.left)}. Without gritfuncs these show #NAME? as soon as they are computed."
            )
            lines += [*table(("cell", "formula", "reason"), self.left), ""]
        if self.refused:
            lines += paragraph(
                f"Refused by the function: {len(self.refused)}. The native formula shows an error there, or a number not to be used."
            )
            lines += [*table(("cell", "stored", "native"), self.refused), ""]
        if self.differences:
            lines += paragraph(f"Other value than stored: {len(self.differences)}. These change when the workbook is computed.")
            lines += [*table(("cell", "stored", "native"), self.differences), ""]
        if self.to == NATIVE and self.replaced:
            lines.append(f"Checked: {self.equal} cells give their stored value to 1e-9.")
            if self.unchecked:
                lines += paragraph(f"Not checked, for want of a stored value or of a function here: {listed(self.unchecked)}.")
            lines.append("Native formulas take a blank for 0 and know no limits: look at the inputs first.")
        for note in (*self.notes, CAUTIONS[0]):
            lines += paragraph(note)
        return "\n".join(lines)


def share(path, output=None, *, to: str = NATIVE, progress: Callable[[int, int], None] | None = None) -> Shared:
    """Write a copy of a workbook (.xlsx, .xlsm) that needs no add-in (`to` "native"), or one for another host.

    `to` "excel" and "calc" only spell the calls as that host stores them. The copy stands beside the original unless
    `output` says where; no file is ever overwritten. ValueError in one line for what is no such workbook, and for one
    without anything to replace.  `progress` is told now and then how much is done, and of how much.
    """
    path = os.fspath(path)
    if to not in (NATIVE, *SPELLED):
        raise Refused("to", f"be {', '.join((NATIVE, *SPELLED))}", repr(to))
    output = _output(path, output, to)
    package = read_package(path)
    if to == NATIVE:
        job: _Job = _ToNative(package)
    else:
        job = _Job(package, SPELLED[to].spell)
    job.run(progress or (lambda done, of: None))
    if not job.calls:
        raise Refused("", "have a function of gritfuncs in a formula", "none", (path,))
    if not job.replaced and not job.left:
        raise Unusable(f"all functions are spelled for {to.capitalize()} already", (path,))
    if job.replaced:
        job.write(output)
    return Shared(
        path,
        output if job.replaced else None,
        to,
        tuple(job.replaced),
        tuple(job.left),
        tuple(job.refused),
        tuple(job.differences),
        job.equal,
        tuple(job.unchecked),
        tuple(job.notes),
    )


def _output(path: str, output: Any, to: str) -> str:
    stem, ending = os.path.splitext(path)
    kind = "shared" if to == NATIVE else f"for {to.capitalize()}"
    output = f"{stem} ({kind}){ending}" if output is None else os.fspath(output)
    if os.path.splitext(output)[1].lower() != ending.lower():
        raise Refused("", f"end in {ending} as the workbook does", place=(output,))
    refuse_existing(output)
    return output


@dataclass
class _Filled:
    """A new formula that stands in all cells that the old one is filled down to; its addresses are written as distances."""

    formula: str
    calls: int
    links: set[int]
    is_plain: bool  # otherwise a part of it may mean other cells in another row
    ready: Compiled | None = None  # once it was computed


@dataclass
class _Job:
    """Spell the calls anew and keep account of it."""

    package: Package
    spell: Callable[[str], str] | None = None
    edits: dict[Site, str] = field(default_factory=dict)
    replaced: list[Replaced] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    refused: list[Difference] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)
    unchecked: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    equal: int = 0
    calls: int = 0
    links: set[int] = field(default_factory=set)
    shows_rounded: bool = False
    sites: list[Site] = field(default_factory=list)

    def __post_init__(self):
        self.tables = Tables(self.package)
        self.names = self.tables.plain_names(defined_names(self.package))
        self.values = Values(self.package, self.names)
        self.sites = list(sites(self.package, self.values))
        self._names_at: dict[str | None, ChainMap[str, str]] = {}
        self._alike: dict[tuple[str | None, str], _Filled] = {}  # by old formulas as seen from their cell
        self._last_shape: dict[tuple[str | None, int], str] = {}  # by sheet and column
        self.filled: dict[Site, _Filled] = {}

    def run(self, progress: Callable[[int, int], None]) -> None:
        self.progress = progress
        for done, site in enumerate(self.sites):
            progress(done, 2 * len(self.sites))
            self.rewrite(site)

    def rewrite(self, site: Site) -> None:
        """Enter the new formula of a place, or why it stays."""
        try:
            formula, calls, links = self._rewritten_alike(site) or self._rewritten(site)
        except ValueError as reason:
            self.calls += 1
            self.left += [Left(place, "=" + before, str(reason)) for place, before, _ in _each_cell(site, site.formula)]
            return
        self.calls += calls
        if formula != site.formula:
            self.edits[site] = formula
            self.links |= links
            self.replaced += [Replaced(place, "=" + before, "=" + after) for place, before, after in _each_cell(site, formula)]

    def _rewritten(self, site: Site) -> tuple[str, int, set[int]]:
        """The new formula, the number of its calls and of the links that these used."""
        links: set[int] = set()

        def replaced(call: Call) -> Piece:
            links.update(int(number) for number in _LINK.findall(call.name))
            return self.replace(call, site)

        formula, calls = rewritten(site.formula, replaced, self.names_at(site.sheet))
        return formula, calls, links

    def _rewritten_alike(self, site: Site) -> tuple[str, int, set[int]] | None:
        """The same from a formula that differs in nothing but its cell; None where there is none of the kind."""
        if len(site.cells) != 1 or site.is_array or _KNEE in site.formula.upper():
            return None
        row, column = coordinate_to_tuple(site.cells[0])
        shape = self._shape(site.formula, site.sheet, row, column)
        if shape is None:
            return None
        filled = self._alike.get((site.sheet, shape))
        if filled is None:
            formula, calls, links = self._rewritten(site)
            filled = _Filled(relative(formula, row, column), calls, links, is_plain(formula))
            self._alike[site.sheet, shape] = filled
        formula = placed(filled.formula, row, column)
        if len(formula) > LONGEST_FORMULA:
            return None
        if filled.is_plain:
            self.filled[site] = filled
        return formula, filled.calls, filled.links

    def _shape(self, formula: str, sheet: str | None, row: int, column: int) -> str | None:
        """A formula with its addresses written as distances from its cell; None where that does not read as it did."""
        above = self._last_shape.get((sheet, column))  # most formulas are filled down: that is quicker to see than to write
        if above is not None and _reads_as(above, row, column, formula):
            return above
        shape = self._last_shape[sheet, column] = relative(formula, row, column)
        return shape if _reads_as(shape, row, column, formula) else None

    def names_at(self, sheet: str | None) -> Mapping[str, str]:
        """{name in capitals: what it stands for} as a formula on a sheet reads them."""
        if sheet not in self._names_at:
            self._names_at[sheet] = ChainMap(self.names.get(sheet, {}), self.names.get(None, {}))
        return self._names_at[sheet]

    def replace(self, call: Call, site: Site) -> Piece:
        """What stands in place of a call; ValueError says why nothing can."""
        return Piece(f"{self.spell(call.function.sheet_name)}({call.inside})", CLOSED)

    def write(self, output: str) -> None:
        put_back(self.package, self.edits)
        self.finish()
        for number in drop_unused_links(self.package, self.links):
            self.notes.append(f"The link to workbook [{number}] stays: a formula uses it, or a link behind it stays.")
        self._name_what_travels_along()
        write_package(self.package, output)

    def finish(self) -> None:
        """What else changes in the package once the formulas are in it."""

    def _name_what_travels_along(self) -> None:
        names = list(self.package.parts)
        links = sum(1 for name in names if re.fullmatch(r"xl/externalLinks/[^/]+\.xml", name, re.IGNORECASE))
        for found, text in (
            (any("vbaproject" in name.lower() for name in names), "Macros travel along: they are in the copy as they were."),
            (links, f"Links to other workbooks travel along: {links}, with the values they last had."),
            (any(name.lower() == "xl/connections.xml" for name in names), "Data connections travel along."),
            (
                any("_xmlsignatures/" in name.lower() for name in names),
                "The digital signature travels along and no longer holds.",
            ),
            (self.shows_rounded, "The workbook computes with the numbers as they are shown: its values were not checked."),
        ):
            if found:
                self.notes.append(text)


def _reads_as(shape: str, row: int, column: int, formula: str) -> bool:
    """Whether a formula with distances is this formula in a cell."""
    try:
        return placed(shape, row, column) == formula
    except ValueError:  # beyond the edge of the sheet
        return False


def _each_cell(site: Site, after: str) -> list[tuple[str, str, str]]:
    """(place, formula before, formula after) of every cell that shares a formula; otherwise of the one place."""
    found = [(site.place, site.formula, after)]
    for cell in site.cells[1:] if site.is_shared else ():
        found.append(
            (
                f"{site.sheet}!{cell}",
                *(site.moved(formula, cell) or f"{formula}, as in {site.cells[0]}" for formula in (site.formula, after)),
            )
        )
    return found


class _ToNative(_Job):
    """Put native formulas in place of the calls, and compare their values with the stored ones."""

    def __init__(self, package: Package):
        super().__init__(package)
        knees = sum(max(1, len(site.cells)) for site in self.sites if _KNEE in site.formula.upper())
        if knees > MOST_KNEES:
            raise Refused("", f"have at most {MOST_KNEES} cells with a knee", str(knees), (str(package.path),))
        self.values.complete()
        self.added = Added(self.values)
        self.has_old_values = False
        self.shows_rounded = any(
            element.get("fullPrecision") in ("0", "false") for element in package.elements(package.workbook, "calcPr")
        )

    def rewrite(self, site: Site) -> None:
        if site.is_shared and _KNEE in site.formula.upper():  # each cell has a trial of its own
            alone = separated(site)
            if not alone:
                self.calls += 1
                self.left.append(Left(site.place, "=" + site.formula, "type it into each cell: it was filled over several"))
                return
            for cell in alone:
                super().rewrite(cell)
                self.edits.setdefault(cell, cell.formula)
            return
        super().rewrite(site)

    def replace(self, call: Call, site: Site) -> Piece:
        function, arguments = call.function, call.arguments
        if len(arguments) != len(function.arguments):
            raise ValueError(f"{function.sheet_name} takes {len(function.arguments)} arguments (got {len(arguments)})")
        for argument, given in zip(function.arguments, arguments):
            if not given.text:
                raise ValueError(f"{argument.name} is left out")
        if function.sheet_name in KNEE_RESULTS or function.sheet_name == REPORT:
            return self._knee(site, function, arguments)
        if not arguments:
            raise ValueError("it tells the version of an add-in, and the shared workbook needs none: delete it")
        if function.sheet_name not in _RECORDS:
            raise ValueError("no native formula gives it: see the sheet 2 Trial of trial.xlsx, or type its value")
        record, in_array = _RECORDS[function.sheet_name], site.is_array or call.in_array
        return _native(record, arguments, in_array) if record.native else self._mean_size(site, function, arguments[0])

    def _refer(self, site: Site) -> None:
        if site.kind == RULE:
            raise ValueError("a rule cannot refer to the added sheet: put the call in a cell and refer to that cell")

    def _mean_size(self, site: Site, function: CellFunction, designation: Piece) -> Piece:
        if designation.many and not site.is_array:
            raise ValueError(_range_refused(function.arguments[0].name))
        if designation.kind == TEXT and designation.text.startswith('"'):
            size = function.call(designation.text[1:-1].replace('""', '"'))
            if not isinstance(size, float):
                raise ValueError(size)
            return Piece(number_text(size), PLAIN)
        self._refer(site)
        asked = f'SUBSTITUTE({designation.text}," ","")'
        for sign in "*?~":  # which a look-up would take for any other signs
            asked = f'SUBSTITUTE({asked},"{sign}","!")'
        return Piece(f"VLOOKUP({asked},{self.added.sizes()},2,FALSE)", CLOSED, designation.many)

    def _knee(self, site: Site, function: CellFunction, arguments: list[Piece]) -> Piece:
        self._refer(site)
        ranges = []
        for argument, given in zip(function.arguments, arguments):
            if given.kind != PLAIN or site.kind != CELL and given.text.count("$") < 4 and "[" not in given.text:
                raise ValueError(
                    f"{argument.name} must be a range of cells such as {'A2:A12' if site.kind == CELL else '$A$2:$A$12'} "
                    f"(got {given.text})"
                )
            try:
                plain = self.tables.plain(given.text, site.sheet, site.cells[0] if site.cells else "A1")
                ranges.append(self.values.find(plain, site.sheet or self.values.titles[0]))
            except ValueError as error:
                raise ValueError(f"{argument.name} must be a range of cells in this workbook ({error})") from None
            if site.kind == NAME and "!" not in plain:
                raise ValueError(f"{argument.name} must name its sheet")
        if function.sheet_name != REPORT:
            return Piece(self.added.knee(*ranges).result(function.sheet_name), PLAIN)
        if not site.is_array or not re.fullmatch(r"[^()]*\([^()]*\)", site.formula):
            raise ValueError("the report must be an array formula of its own")
        unchanged, report = self.added.report(*ranges)
        rows = ";".join(",".join('"' + text.replace('"', '""') + '"' for text in row) for row in report)
        self.notes.append(
            f"{site.place}: the report is frozen, as it was; when the readings change it says that it is out of date."
        )
        return Piece(f'IF({unchanged}=1,{{{rows}}},"{STALE}")', CLOSED, many=True)

    def finish(self) -> None:
        self.added.add_to(self.package)
        self.notes += [
            f"The sheet {title!r} was added: it computes what does not fit into one formula." for title in self.added.titles
        ]
        for done, (site, formula) in enumerate(self.edits.items()):
            self.progress(len(self.edits) + done, 2 * len(self.edits))
            if site.kind == CELL and formula != site.formula:
                self._check(site, formula)
        if self.has_old_values:
            compute_on_load(self.package)
            self.notes.append("Some cells had no value stored: spreadsheet programs compute the copy when they open it.")

    def _check(self, site: Site, formula: str) -> None:
        if site.is_array:
            value = self._computed(formula, site, site.cells[0])
            for number, cell in enumerate(site.cells):
                self._compare(f"{site.sheet}!{cell}", self.values.stored(site.sheet, cell), _element(value, number, site))
        else:
            for cell in site.cells:
                moved = site.moved(formula, cell) if site.is_shared else formula
                self._compare(
                    f"{site.sheet}!{cell}", self.values.stored(site.sheet, cell), moved and self._computed(moved, site, cell)
                )

    def _computed(self, formula: str, site: Site, cell: str) -> Any:
        if self.shows_rounded:
            return None
        try:
            filled = self.filled.get(site)
            if filled is None:
                return self.values.compute(self.tables.plain(formula, site.sheet, cell), site.sheet, cell, site.is_array)
            filled.ready = filled.ready or ready(formula, cell)
            return self.values.compute_filled(filled.ready, site.sheet, cell)
        except (ValueError, RecursionError):  # not known here, or nested too deeply to be computed here
            return None

    def _compare(self, place: str, stored: Any, native: Any) -> None:
        if stored is None or stored == _NOT_COMPUTED:
            self.has_old_values = True
            self.unchecked.append(place)
        elif isinstance(stored, str) and stored.startswith(FAILED):
            self.refused.append(Difference(place, stored, native))
        elif native is None:
            self.unchecked.append(place)
        elif same_value(stored, native):
            self.equal += 1
        else:
            self.differences.append(Difference(place, stored, native))


def _element(value: Any, number: int, site: Site) -> Any:
    """The value that an array formula puts into one of its cells; a row or a column of values fills the others alike."""
    if not isinstance(value, Area):
        return value
    width = len({re.sub(r"\d", "", cell) for cell in site.cells})
    row, column = divmod(number, width)
    try:
        return value.rows[row if value.height > 1 else 0][column if value.width > 1 else 0]
    except IndexError:
        return CellError("#N/A")


def _range_refused(name: str) -> str:
    return (
        f"{name} is a range in an ordinary formula, of which a native formula would take one row: enter it as an array "
        "formula (Ctrl+Shift+Enter)"
    )


@cache
def _times_used(sheet_name: str) -> dict[str, int]:
    """How often each argument stands in the native formula."""
    record = _RECORDS[sheet_name]
    names = [quantity.name for quantity in record.arguments]
    text = record.text(**{name: name for name in names})
    return {name: len(re.findall(rf"\b{name}\b", text)) for name in names}


def _native(record: Formula, arguments: list[Piece], in_array: bool) -> Piece:
    times = _times_used(record.sheet_name)
    for quantity, given in zip(record.arguments, arguments):
        if given.many and not in_array:
            raise ValueError(_range_refused(quantity.name))
        if given.kind == TEXT:
            raise ValueError(f"{quantity.name} must be a number (got {given.text})")
        if (
            given.kind != PLAIN
            and times[quantity.name] > 1
            and (len(given.text) > LONGEST_REPEATED or _RANDOM.search(given.text))
        ):
            raise ValueError(
                f"put `{given.text}` in a cell of its own: it would stand {times[quantity.name]} times in the native formula"
            )
    text = record.text(**{quantity.name: given.inside for quantity, given in zip(record.arguments, arguments)})
    return Piece(text, OPEN, any(given.many for given in arguments))
