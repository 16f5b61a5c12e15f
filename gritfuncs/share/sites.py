"""Where formulas stand in a workbook package: cells, rules of sheets, defined names and table columns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from openpyxl.formula.translate import Translator, TranslatorError
from openpyxl.utils import get_column_letter, range_boundaries

from ..refused import Refused, Unusable
from ..spreadsheets.elements import Element, escape_text, spliced
from ..spreadsheets.package import Package, sheet_parts
from ..spreadsheets.stored_cells import StoredFormula
from .calls import may_call
from .values import Values

MOST_CELLS = 100_000  # of a workbook that show a function; each is rewritten and computed
CELL, RULE, NAME, COLUMN = "cell", "rule", "name", "column"

_RULES = {"conditionalFormatting": "conditional format", "dataValidation": "validation"}
_RULE_FORMULAS = ("formula", "formula1", "formula2", "f")  # f: in the newer form, whose cells stand in a sqref
_COLUMN_FORMULAS = ("calculatedColumnFormula", "totalsRowFormula")
_TABLE = re.compile(r"xl/tables/[^/]+\.xml", re.IGNORECASE)
_WORTH_A_LOOK = re.compile(rb"GRIT_|&#", re.IGNORECASE)  # letters may be written by their numbers


@dataclass(frozen=True, eq=False)
class Site:
    """A formula in the bytes of a part: data[start:end] is written anew; it is the formula, or `has_tags` around it."""

    part: str
    start: int
    end: int
    formula: str
    place: str  # for people
    kind: str
    sheet: str | None = None
    cells: tuple[str, ...] = ()  # addresses that show its value; of a shared formula the one that has the text first
    is_array: bool = False
    wrap: tuple[bytes, bytes] = (b"", b"")  # the tags of a formula of its own
    own: tuple[tuple[int, int], ...] = ()  # where each cell of a shared formula takes a formula of its own, with its tags
    has_tags: bool = False

    @property
    def is_shared(self) -> bool:
        return len(self.cells) > 1 and not self.is_array

    def edited(self, formula: str) -> bytes:
        text = escape_text(formula)
        return self.wrap[0] + text + self.wrap[1] if self.has_tags else text

    def moved(self, formula: str, cell: str) -> str | None:
        """The formula of the first cell as it reads in another one of a shared formula; None if that is not known."""
        try:
            return Translator("=" + formula, self.cells[0]).translate_formula(cell)[1:]
        except (TranslatorError, ValueError):
            return None


def sites(package: Package, values: Values) -> Iterator[Site]:
    """All formulas that may call a cell function; `values` gets what the cells of their sheets show."""
    count = 0
    for site in _sites(package, values):
        count += max(1, len(site.cells))
        if count > MOST_CELLS:
            raise _too_many(package, f"{site.place} beyond that")
        yield site


def _sites(package: Package, values: Values) -> Iterator[Site]:
    titles = sheet_parts(package)
    for sheet, part in titles.items():
        if _WORTH_A_LOOK.search(package.data(part)):
            yield from _cell_sites(package, sheet, part, values.formulas(sheet))
            yield from _rule_sites(package, sheet, part)
    main = package.workbook
    for name in package.elements(main, "definedName"):
        number = name.get("localSheetId")
        sheet = list(titles)[int(number)] if number.isdecimal() and int(number) < len(titles) else None
        place = f"name {name.get('name')}" + (f" of {sheet}" if sheet else "")
        yield from _site(main, name, place, NAME, sheet=sheet)
    for part in package.parts:
        if _TABLE.fullmatch(part) and _WORTH_A_LOOK.search(package.data(part)):
            yield from _column_sites(package, part)


def _site(part: str, element: Element, place: str, kind: str, **more) -> Iterator[Site]:
    if may_call(element.text):
        yield Site(part, element.inner, element.inner_end, element.text, place, kind, **more)


def _column_sites(package: Package, part: str) -> Iterator[Site]:
    for table in package.elements(part, "table", "tableColumn", *_COLUMN_FORMULAS):
        for column in table.children if table.name == "table" else ():
            for formula in column.children:
                place = f"table {table.get('name')}, column {column.get('name')}"
                yield from _site(part, formula, place, COLUMN, is_array=formula.get("array") in ("1", "true"))


def _cell_sites(package: Package, sheet: str, part: str, formulas: Iterable[StoredFormula]) -> Iterator[Site]:
    shared: dict[str, list[StoredFormula]] = {}  # the cells of each shared formula that calls
    callers: list[list[StoredFormula]] = []  # the cells of each formula that calls, the one that has the text first
    for cell in formulas:
        kind, number, text = cell.element.get("t"), cell.element.get("si"), cell.element.text
        if kind == "shared" and not text:
            shared.get(number, []).append(cell)
        elif may_call(text):
            callers.append([cell])
            if kind == "shared":
                shared[number] = callers[-1]
            if len(callers) > MOST_CELLS:
                raise _too_many(package, f"{sheet}!{cell.address} beyond that")
    for cells in callers:
        address, formula = cells[0]
        block = formula.get("ref", address) if formula.get("t") == "array" else ""
        addresses = (block and tuple(_addresses(package, block))) or tuple(address for address, _ in cells)
        place = f"{sheet}!{block or address}"
        site = Site(part, formula.inner, formula.inner_end, formula.text, place, CELL, sheet, addresses, bool(block))
        if site.is_shared:
            opening, own = f"<{formula.prefix}f>".encode(), tuple((element.start, element.end) for _, element in cells)
            site = replace(site, wrap=(opening, formula.closing), own=own)
        yield site


def _too_many(package: Package, got: str) -> Refused:
    return Refused("", f"have at most {MOST_CELLS} cells that show a function", got, (str(package.path),))


def _addresses(package: Package, reference: str) -> Iterator[str]:
    if re.fullmatch(r"[A-Z]{1,3}\d+(:[A-Z]{1,3}\d+)?", reference):
        left, top, right, bottom = range_boundaries(reference)
        if (bottom - top + 1) * (right - left + 1) > MOST_CELLS:
            raise _too_many(package, f"an array formula that fills {reference}")
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                yield f"{get_column_letter(column)}{row}"


def _rule_sites(package: Package, sheet: str, part: str) -> Iterator[Site]:
    if any(name.encode() in package.data(part) for name in _RULES):  # names of elements are never spelled in another way
        for rule in package.elements(part, *_RULES, *_RULE_FORMULAS, "sqref"):
            if rule.name in _RULES:
                yield from _sites_of_rule(sheet, part, rule)


def _sites_of_rule(sheet: str, part: str, rule: Element) -> Iterator[Site]:
    sqref = rule.child("sqref")
    cells = (sqref.text if sqref else rule.get("sqref")) or "?"
    for formula in rule.children:
        for inner in formula.children or (formula,):
            if inner.name in _RULE_FORMULAS:
                kind = "rule" if inner.name == "f" else _RULES[rule.name]
                yield from _site(part, inner, f"{sheet}, {kind} of {cells}", RULE, sheet=sheet)


def separated(site: Site) -> list[Site]:
    """The cells of a shared formula as formulas of their own; none if one of them cannot be told for certain."""
    names = re.findall(r"![A-Z_\\][\w.\\]*(?![\w.\\($])", site.formula, re.IGNORECASE)
    formulas = [site.formula, *(site.moved(site.formula, cell) for cell in site.cells[1:])]
    if None in formulas or any(not re.fullmatch(r"![A-Z]{1,3}\d+", name, re.IGNORECASE) for name in names):
        return []
    return [
        Site(site.part, start, end, formula, f"{site.sheet}!{cell}", CELL, site.sheet, (cell,), wrap=site.wrap, has_tags=True)
        for cell, formula, (start, end) in zip(site.cells, formulas, site.own)
    ]


def put_back(package: Package, edits: dict[Site, str]) -> None:
    """Write formulas into the package; all other bytes of its parts stay.

    Each part is read again: every formula must stand where it was put, as it was written.
    """
    by_part: dict[str, list[Site]] = {}
    for site in edits:
        by_part.setdefault(site.part, []).append(site)
    for part, places in by_part.items():
        edited, wanted, longer = [], {}, 0
        for site in sorted(places, key=lambda site: site.start):
            new = site.edited(edits[site])
            wanted[site.start + longer + (len(site.wrap[0]) if site.has_tags else 0)] = edits[site]
            longer += len(new) - (site.end - site.start)
            edited.append((site.start, site.end, new))
        package.put(part, spliced(package.data(part), edited))
        found = package.elements(part, *_RULE_FORMULAS, *_COLUMN_FORMULAS, "definedName")
        read = {element.inner: element.text for element in found if element.inner in wanted}
        if read != wanted:
            raise Unusable(f"the formulas of part {part} cannot be changed", (str(package.path),))
