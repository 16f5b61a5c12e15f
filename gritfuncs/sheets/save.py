"""Save a workbook that was built here with the value of every formula.

openpyxl writes formulas without values, which previews and protected views then show as blanks; so the values are put
into the package itself.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Container

from ..spreadsheets.evaluate import workbook_values
from ..spreadsheets.filled_down import filled_down
from ..spreadsheets.formula_text import put_values
from ..spreadsheets.package import Package, sheet_parts, write_package

_PROGRAM = re.compile(r"(?<=<Application>)[^<]*")
_TIME = "2000-01-01T00:00:00Z"  # in every file that is built, so that equal workbooks give equal files
_NAMES = re.compile(r"(?<=<definedNames>).*(?=</definedNames>)", re.DOTALL)
_NAME = re.compile(r"<definedName .*?</definedName>", re.DOTALL)


def save_workbook(workbook, path, absent: Container[str] = ()) -> None:
    """Write an openpyxl workbook with the value of every formula; equal workbooks give equal files.

    `absent` are functions of add-ins that show #NAME? until a program has the add-in.
    """
    write_package(package_of(workbook, absent), path)


def package_of(workbook, absent: Container[str] = ()) -> Package:
    """The package of an openpyxl workbook, with the value of every formula."""
    values = workbook_values(workbook, absent)
    file = io.BytesIO()
    workbook.save(file)
    with zipfile.ZipFile(file) as archive:
        package = Package({name: archive.read(name) for name in archive.namelist()})
    put_values(package, values, filled_down)
    for part in sheet_parts(package).values():  # an empty cell typed as a number is 0 to some programs
        package.put_text(part, re.sub(r'(<c\b[^<>]*?) t="n" ?(?:/>|></c>)', r"\1/>", package.text(part)))  # lxml writes </c>
    package.put_text(package.workbook, _NAMES.sub(_areas_first, package.text(package.workbook)))
    # openpyxl says Microsoft Excel, of which LibreOffice takes the texts that are stored, with the decimal sign of another country
    package.put_text("docProps/app.xml", _PROGRAM.sub("gritfuncs", package.text("docProps/app.xml")))
    core = package.text("docProps/core.xml")
    package.put_text("docProps/core.xml", re.sub(r"(<dcterms:\w+\b[^<>]*>)[^<]*", rf"\g<1>{_TIME}", core))
    return package


def _areas_first(names: re.Match) -> str:
    """The defined names with the areas to be printed first: LibreOffice pages all sheets anew at each title that it reads."""
    return "".join(sorted(_NAME.findall(names[0]), key=lambda name: "_xlnm.Print_Area" not in name))
