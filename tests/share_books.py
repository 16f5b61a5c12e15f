"""Workbooks with calls of the cell functions and stored values, as hosts leave them, for the tests of `share`."""

from __future__ import annotations

import html
import re

from gritfuncs.spreadsheets.elements import elements
from gritfuncs.spreadsheets.formula_text import FORMULAS, cells_with_formulas, number_text, put_values
from gritfuncs.spreadsheets.package import read_package, sheet_parts, write_package

FORMULA = re.compile(r"(<(?:\w+:)?(?:f|formula[12]?|definedName|calculatedColumnFormula)\b[^<>]*>)([^<]*)(?=</)")


def stored(workbook, path, values=None, edit=None):
    """Write an openpyxl workbook with these values of its formulas, and the package as `edit` leaves it."""
    plain = path.with_name("plain-" + path.name)
    workbook.save(plain)
    package = read_package(plain)
    put_values(package, values or {})
    for name in package.parts:
        if name == "xl/workbook.xml":  # Excel does not ask for computing on load
            package.put_text(name, re.sub(r"<calcPr[^<>]*/>", '<calcPr calcId="191029"/>', package.text(name)))
    if edit:
        edit(package)
    package.path = None
    package.changed.clear()  # be it well-formed or not: what is written here is what others hand over
    path.unlink(missing_ok=True)
    write_package(package, path)
    plain.unlink()
    return path


def replace_in(package, part, old, new):
    text = package.text(part)
    assert old in text, (part, old)
    package.parts[part] = text.replace(old, new).encode()  # whatever it makes of the part


def formulas(path):
    """Every formula text of a workbook's parts, unescaped, in order: {part: [formula]}."""
    package = read_package(path)
    return {
        name: [html.unescape(match[2]) for match in FORMULA.finditer(package.text(name))]
        for name in package.parts
        if re.match(r"xl/(worksheets/\w+\.xml|workbook\.xml|tables/)", name)
    }


def uncached_cells(package):
    """Formula cells without a stored value, as Sheet!A1."""
    return [
        f"{sheet}!{found.address}"
        for sheet, part in sheet_parts(package).items()
        for found in cells_with_formulas(elements(package.data(part), (*FORMULAS, "v")))
        if found.cell.child("v") is None
    ]


def without_formulas(data):
    return FORMULA.sub(r"\1", data.decode("utf-8"))


def literal(value):
    return f'"{value}"' if isinstance(value, str) else number_text(value)
