"""Formulas and values in the XML text of a package's parts: read and put in place, all else kept byte for byte."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping
from typing import Any, Callable, NamedTuple
from xml.sax.saxutils import escape

from .cell_values import CellError
from .package import WORKBOOK, Package, sheet_parts

# An element's content stops at the next element of its kind, so that a hostile part is searched only once.
_CELL = re.compile(r"<((?:\w+:)?)c\b([^<>]*?)(?:/>|>([^<]*(?:<(?!/?(?:\w+:)?c\b)[^<]*)*)</(?:\w+:)?c>)")
_FORMULA = re.compile(r"<(?:\w+:)?f\b([^<>]*?)(?:/>|>([^<]*)</(?:\w+:)?f>)")
_VALUE = re.compile(r"<(?:\w+:)?v\b")
_ADDRESS = re.compile(r"""\sr=["']([A-Z]+[0-9]+)["']""")
_CHART_REFERENCE = re.compile(
    r"<((?:\w+:)?)(num|str)Ref>\s*(<(?:\w+:)?f>([^<]*)</(?:\w+:)?f>)"
    r"([^<]*(?:<(?!/?(?:\w+:)?(?:num|str)Ref\b)[^<]*)*)</(?:\w+:)?\2Ref>"
)
_CHART_RANGE = re.compile(
    r"(?:'((?:[^']|'')+)'|([^'!(,]+))!"
    r"\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?"
)


class FormulaCell(NamedTuple):
    """A formula cell in the XML text of a sheet; the escaped formula is xml[start:end].

    A member of a shared formula that only points to its master has the formula "" and start = end = -1.
    """

    address: str
    formula: str
    attributes: str  # of the formula element: t, ref, si
    start: int
    end: int
    cached: bool


def formula_cells(xml: str) -> Iterator[FormulaCell]:
    """The formula cells of a sheet's XML text, in its order."""
    for address, cell, formula in _formula_matches(xml):
        cached = bool(_VALUE.search(cell[3]))
        text = html.unescape(formula[2] or "")
        yield FormulaCell(address, text, formula[1], formula.start(2), formula.end(2), cached)


def _formula_matches(xml: str) -> Iterator[tuple[str, re.Match, re.Match]]:
    if "<!--" in xml or "<![CDATA[" in xml:
        raise ValueError("a sheet whose XML has comments or CDATA sections cannot be edited")
    for cell in _CELL.finditer(xml):
        formula = cell[3] and _FORMULA.search(xml, cell.start(3), cell.end(3))
        if formula:
            address = _ADDRESS.search(cell[2])
            if not address:
                raise ValueError("a sheet whose cells do not tell their address cannot be edited")
            yield address[1], cell, formula


def uncached_cells(package: Package) -> list[str]:
    """Formula cells without a value, as Sheet!A1."""
    return [
        f"{sheet}!{cell.address}"
        for sheet, part in sheet_parts(package).items()
        for cell in formula_cells(package.text(part))
        if not cell.cached
    ]


# --- values ---


def number_text(value: float) -> str:
    """The shortest text that reads back as the same number."""
    text = repr(float(value) or 0.0)  # no negative zero
    return text.removesuffix(".0")


def typed(value: Any) -> tuple[str, str]:
    """The type letter of a cell and the text of its value."""
    if isinstance(value, bool):
        return "b", str(int(value))
    if isinstance(value, str):
        escaped = re.sub(r"[\x00-\x08\x0b-\x1f]", lambda match: f"_x{ord(match[0]):04X}_", escape(value))
        return "e" if isinstance(value, CellError) else "str", escaped
    return "n", number_text(value)


def put_values(package: Package, values: Mapping[str, Mapping[str, Any]]) -> None:
    """Give formula cells and chart caches their values: {sheet: {"A1": number, text, bool or CellError}}.

    Formula cells that are not in `values` stay as they are, and so do all constants; charts take the
    constants that they show from `values` too.  A spreadsheet program computes all anew on opening the file.
    """
    for sheet, part in sheet_parts(package).items():
        package.put_text(part, _with_values(package.text(part), values.get(sheet, {})))
    for part in package.parts:
        if re.fullmatch(r"xl/charts/chart\d*\.xml", part):
            package.put_text(part, _CHART_REFERENCE.sub(_chart_cache(values), package.text(part)))
    package.put_text(WORKBOOK, computed_on_load(package.text(WORKBOOK)))


def _with_values(xml: str, known: Mapping[str, Any]) -> str:
    pieces, done = [], 0
    for address, cell, formula in _formula_matches(xml):
        if address in known:
            kind, text = typed(known[address])
            prefix, attributes = cell[1], re.sub(r"""\st=["'][^"']*["']""", "", cell[2])
            space = ' xml:space="preserve"' if text != text.strip() else ""
            pieces += [
                xml[done : cell.start()],
                f'<{prefix}c{attributes} t="{kind}">{formula[0]}',
                f"<{prefix}v{space}>{text}</{prefix}v></{prefix}c>",
            ]
            done = cell.end()
    return "".join([*pieces, xml[done:]])


def _chart_cache(values: Mapping[str, Mapping[str, Any]]) -> Callable[[re.Match], str]:
    def written(match: re.Match) -> str:
        prefix, kind, reference, formula, old = match.groups()
        area = _CHART_RANGE.fullmatch(html.unescape(formula))
        if not area:
            return match[0]
        known = values.get((area[1] or area[2]).replace("''", "'"), {})
        addresses = _addresses(area[3], int(area[4]), area[5] or area[3], int(area[6] or area[4]))
        points = [f'<{prefix}ptCount val="{len(addresses)}"/>']
        for place, address in enumerate(addresses):
            letter, text = typed(known.get(address, ""))
            if letter == "n" or kind == "str" and text:
                points.append(f'<{prefix}pt idx="{place}"><{prefix}v>{text}</{prefix}v></{prefix}pt>')
        if kind == "num":
            code = re.search(r"<(?:\w+:)?formatCode>[^<]*</(?:\w+:)?formatCode>", old)
            points.insert(0, code[0] if code else f"<{prefix}formatCode>General</{prefix}formatCode>")
        cache = f"<{prefix}{kind}Cache>{''.join(points)}</{prefix}{kind}Cache>"
        return f"<{prefix}{kind}Ref>{reference}{cache}</{prefix}{kind}Ref>"

    return written


def _addresses(first: str, top: int, last: str, bottom: int) -> list[str]:
    from openpyxl.utils import column_index_from_string, get_column_letter

    columns = range(column_index_from_string(first), column_index_from_string(last) + 1)
    return [f"{get_column_letter(column)}{row}" for row in range(top, bottom + 1) for column in columns]


def computed_on_load(xml: str) -> str:
    """With the mark that makes spreadsheet programs compute everything anew."""
    if not re.search(r"<(?:\w+:)?calcPr\b", xml):
        before = r"(\A.*</((?:\w+:)?)(?:sheets|functionGroups|externalReferences|definedNames)>)"
        xml = re.sub(before, r"\1<\2calcPr/>", xml, count=1, flags=re.DOTALL)
    xml = re.sub(r"""(<(?:\w+:)?calcPr\b[^<>]*?)\sfullCalcOnLoad=["'][^"']*["']""", r"\1", xml)
    return re.sub(r"<((?:\w+:)?)calcPr\b", r'<\1calcPr fullCalcOnLoad="1"', xml)
