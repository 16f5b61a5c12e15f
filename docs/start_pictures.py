"""The pictures of the quick starts: the sheets that they have people type, drawn by LibreOffice with the extension."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

from libreoffice import LibreOffice
from openpyxl.styles import Border, Font, Side
from openpyxl.worksheet.properties import PageSetupProperties
from start_sheets import filled

from gritfuncs.addins.calc import build_oxt
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.addins.naming import calc_stored_name

START = Path(__file__).resolve().parent / "start"
PICTURES = {"start-cells.png": "libreoffice.md", "start-names.png": "excel-365.md"}
LABELS = {"D10": "grit depth, µm", "E10": "specific energy, J/mm³"}
KNEE_LABELS = {
    "G1": "verdict",
    "G2": "knee, µm",
    "G3": "lower end, µm",
    "G4": "upper end, µm",
    "G5": "work rpm for a part of 32 mm, 1/min",
}
NAMES_LABELS = {"G2": "depth to hold, µm", "G5": "work rpm for a part of 32 mm, 1/min"}
WIDTHS = {"A": 34, "B": 10, "C": 9, "D": 14, "E": 21, "F": 3, "G": 34, "H": 9}
FORMATS = {"D": "0.000", "E": "0.0", "H": "0.000"}
CROP = ("-x", "60", "-y", "92", "-W", "960", "-H", "330")
RESOLUTION = 100


def draw_all(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        extension = build_oxt(Path(scratch) / "gritfuncs.oxt")
        with LibreOffice([extension]) as office:
            for picture, page in PICTURES.items():
                path = Path(scratch) / "sheet.xlsx"
                _sheet(page, path)
                office.convert(path, path.with_suffix(".pdf"), sheets=["Sheet"])
                subprocess.run(
                    [
                        "pdftoppm",
                        "-png",
                        "-r",
                        str(RESOLUTION),
                        "-f",
                        "1",
                        "-singlefile",
                        *CROP,
                        str(path.with_suffix(".pdf")),
                        str(folder / Path(picture).stem),
                    ],
                    check=True,
                )


def _sheet(page: str, path: Path) -> None:
    book = filled((START / page).read_text(encoding="utf-8"), stored=_stored)
    sheet = book.active
    for cell, text in {**LABELS, **(KNEE_LABELS if sheet["H1"].value else NAMES_LABELS)}.items():
        sheet[cell] = text
    for cell in sheet[10]:
        cell.font = Font(name="Calibri", bold=True)
    line = Side(style="thin", color="999999")
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value is not None:
                cell.border = Border(line, line, line, line)
                cell.number_format = FORMATS.get(cell.column_letter, "General") if str(cell.value).startswith("=") else "General"
    for column, width in WIDTHS.items():
        sheet.column_dimensions[column].width = width
    sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = "landscape", 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_options.headings = True  # the letters and numbers that the steps name
    book.save(path)


def _stored(formula: str) -> str:
    """A formula as Calc stores it."""
    for name in sorted((function.sheet_name for function in FUNCTIONS), key=len, reverse=True):
        formula = formula.replace(name + "(", calc_stored_name(name) + "(")
    return formula
