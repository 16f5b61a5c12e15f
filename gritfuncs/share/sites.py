"""Where formulas stand in a workbook package: cells, rules of sheets, defined names and table columns."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

from openpyxl.formula.translate import Translator, TranslatorError
from openpyxl.utils import get_column_letter, range_boundaries

from ..spreadsheets.formula_text import FormulaCell, formula_cells
from ..spreadsheets.package import WORKBOOK, Package, sheet_parts
from .calls import may_call

MOST_CELLS = 100_000  # of a workbook that show a function; each is rewritten and computed
_NEAR = 5000  # characters around a rule in which its cells are named
CELL, RULE, NAME, COLUMN = "cell", "rule", "name", "column"

_RULE = re.compile(r"<((?:\w+:)?formula[12]?|xm:f)(?:\s[^<>]*)?>([^<]+)</\1>")
_NAME = re.compile(r"<((?:\w+:)?definedName)\b([^<>]*)>([^<]+)</\1>")
_COLUMN = re.compile(r"<((?:\w+:)?(?:calculatedColumnFormula|totalsRowFormula))\b([^<>]*)>([^<]+)</\1>")
_TABLE = re.compile(r"xl/tables/[^/]+\.xml")
_MEMBER = re.compile(r"""<(?:\w+:)?c\b[^<>]*?\sr=["']([A-Z]+\d+)["'][^<>]*>\s*(<((?:\w+:)?)f\b[^<>]*?(?:/>|></(?:\w+:)?f>))""")


@dataclass(frozen=True)
class Site:
    """A formula in the text of a part: text[start:end] is written anew, between `before` and `after`."""

    part: str
    start: int
    end: int
    formula: str
    place: str  # for people
    kind: str
    sheet: str | None = None
    cells: tuple[str, ...] = ()  # addresses that show its value; of a shared formula the one that has the text first
    is_array: bool = False
    before: str = ""
    after: str = ""

    @property
    def is_shared(self) -> bool:
        return len(self.cells) > 1 and not self.is_array

    def edited(self, formula: str) -> str:
        return self.before + escape(formula, {"\r": "&#13;"}) + self.after

    def moved(self, formula: str, cell: str) -> str | None:
        """The formula of the first cell as it reads in another one of a shared formula; None if that is not known."""
        try:
            return Translator("=" + formula, self.cells[0]).translate_formula(cell)[1:]
        except (TranslatorError, ValueError):
            return None


def attribute(attributes: str, name: str) -> str:
    found = re.search(rf"""(?:^|\s){name}=["']([^"']*)["']""", attributes)
    return html.unescape(found[1]) if found else ""


def sites(package: Package) -> Iterator[Site]:
    """All formulas that may call a cell function."""
    count = 0
    for site in _sites(package):
        count += max(1, len(site.cells))
        if count > MOST_CELLS:
            raise ValueError(
                f"{package.path}: must have at most {MOST_CELLS} cells that show a function ({site.place} is beyond that)"
            )
        yield site


def _sites(package: Package) -> Iterator[Site]:
    for sheet, part in sheet_parts(package).items():
        xml = package.text(part)
        if may_call(xml):
            try:
                yield from _cell_sites(sheet, part, xml)
            except ValueError as error:
                raise ValueError(f"{package.path}: {error}") from None
            yield from _rule_sites(sheet, part, xml)
    titles = list(sheet_parts(package))
    for match in _NAME.finditer(package.text(WORKBOOK)):
        number = attribute(match[2], "localSheetId")
        sheet = titles[int(number)] if number.isdigit() and int(number) < len(titles) else None
        place = f"name {attribute(match[2], 'name')}" + (f" of {sheet}" if sheet else "")
        yield from _site(WORKBOOK, match, 3, place, NAME, sheet=sheet)
    for part in package.parts:
        if _TABLE.fullmatch(part):
            xml = package.text(part)
            for match in _COLUMN.finditer(xml):
                column = xml.rfind("tableColumn ", 0, match.start())
                name = attribute(xml[column : match.start()], "name")
                yield from _site(
                    part,
                    match,
                    3,
                    f"table {attribute(xml[:column], 'name')}, column {name}",
                    COLUMN,
                    is_array=attribute(match[2], "array") == "1",
                )


def _site(part: str, match: re.Match, group: int, place: str, kind: str, **more) -> Iterator[Site]:
    formula = html.unescape(match[group])
    if may_call(formula):
        yield Site(part, match.start(group), match.end(group), formula, place, kind, **more)


def _cell_sites(sheet: str, part: str, xml: str) -> Iterator[Site]:
    members: dict[str, list[str]] = {}  # of each shared formula
    found: list[tuple[FormulaCell, list[str]]] = []
    for cell in formula_cells(xml):
        cells = [cell.address]
        if attribute(cell.attributes, "t") == "shared":
            number = attribute(cell.attributes, "si")
            if not cell.formula:
                members.get(number, []).append(cell.address)
                continue
            members[number] = cells
        if may_call(cell.formula):
            found.append((cell, cells))
    for cell, cells in found:
        reference = attribute(cell.attributes, "ref")
        is_array = attribute(cell.attributes, "t") == "array"
        if is_array:
            cells = list(_addresses(reference)) or cells
        place = f"{sheet}!{reference if is_array and reference else cell.address}"
        yield Site(part, cell.start, cell.end, cell.formula, place, CELL, sheet, tuple(cells), is_array)


def _addresses(reference: str) -> Iterator[str]:
    if re.fullmatch(r"[A-Z]{1,3}\d+(:[A-Z]{1,3}\d+)?", reference):
        left, top, right, bottom = range_boundaries(reference)
        if (bottom - top + 1) * (right - left + 1) > MOST_CELLS:
            raise ValueError(f"must have at most {MOST_CELLS} cells that show a function (an array formula fills {reference})")
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                yield f"{get_column_letter(column)}{row}"


def _rule_sites(sheet: str, part: str, xml: str) -> Iterator[Site]:
    for match in _RULE.finditer(xml):
        if not may_call(match[2]):
            continue
        if match[1] == "xm:f":  # the newer form names its cells after the formula
            kind, cells = "rule", re.search(r"<xm:sqref>([^<]*)", xml[match.end() : match.end() + _NEAR])
            where = cells[1] if cells else "?"
        else:
            kind = "validation" if match[1][-1] in "12" else "conditional format"
            before = xml[max(0, match.start() - _NEAR) : match.start()]
            where = attribute(before[before.rfind(" sqref=") :], "sqref") or "?"
        yield from _site(part, match, 2, f"{sheet}, {kind} of {where}", RULE, sheet=sheet)


def separated(site: Site, package: Package) -> list[Site]:
    """The cells of a shared formula as formulas of their own; none if one of them cannot be told for certain."""
    xml = package.text(site.part)
    names = re.findall(r"![A-Z_\\][\w.\\]*(?![\w.\\(\d])", site.formula, re.IGNORECASE)
    formulas = {cell: site.moved(site.formula, cell) for cell in site.cells[1:]}
    if None in formulas.values() or any(not re.fullmatch(r"![A-Z]{1,3}\d+", name, re.IGNORECASE) for name in names):
        return []
    opening = xml.rindex("<", 0, site.start)
    closing = xml.index(">", site.end) + 1
    prefix = re.match(r"<((?:\w+:)?)f\b", xml[opening:])[1]
    wrap = {"before": f"<{prefix}f>", "after": f"</{prefix}f>"}
    found = [Site(site.part, opening, closing, site.formula, site.place, CELL, site.sheet, site.cells[:1], **wrap)]
    for match in _MEMBER.finditer(xml):
        if match[1] in formulas:
            found.append(
                Site(
                    site.part,
                    match.start(2),
                    match.end(2),
                    formulas[match[1]],
                    f"{site.sheet}!{match[1]}",
                    CELL,
                    site.sheet,
                    (match[1],),
                    **wrap,
                )
            )
    return found if len(found) == len(site.cells) else []


def put_back(package: Package, edits: dict[Site, str]) -> None:
    """Write formulas into the package; all other bytes of its parts stay."""
    by_part: dict[str, list[Site]] = {}
    for site in edits:
        by_part.setdefault(site.part, []).append(site)
    for part, places in by_part.items():
        xml, pieces, done = package.text(part), [], 0
        for site in sorted(places, key=lambda site: site.start):
            pieces += [xml[done : site.start], site.edited(edits[site])]
            done = site.end
        package.put_text(part, "".join([*pieces, xml[done:]]))
