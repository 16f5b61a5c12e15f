"""How cells of the workbooks look: fonts, fills and borders, number formats, named styles, and the formats that a condition
adds.

A state shows by its word, its shape and its fill, never by a colour alone: half of the prints are grey.  Every colour is opaque
ARGB: with the 00 in front that openpyxl writes otherwise, Gnumeric draws no border.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.styles.differential import DifferentialStyle

from ..quantity import Quantity

FONT = "Arial"
INPUT, HEAD, STOP_FILL, WARNING_FILL = "FFFFF6D6", "FFE4E4E4", "FFB00000", "FFFFC000"
BLACK, GREY, WHITE, LINK = "FF000000", "FF808080", "FFFFFFFF", "FF1F4E79"
INPUT_TAB, RESULT_TAB, CALC_TAB = "FFF2C200", "FF1F4E79", "FF808080"

THIN, HAIR = Side(style="thin", color=GREY), Side(style="hair", color=GREY)
MEDIUM, EDGE = Side(style="medium", color=BLACK), Side(style="thin", color=BLACK)
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
CELL = Border(left=THIN, right=THIN, top=HAIR, bottom=HAIR)
INPUT_BORDER = Border(left=MEDIUM, right=MEDIUM, top=MEDIUM, bottom=MEDIUM)
INPUT_FILL, HEAD_FILL = PatternFill("solid", fgColor=INPUT), PatternFill("solid", fgColor=HEAD)


def font(size: float = 10, bold: bool = False, colour: str = BLACK, **more) -> Font:
    return Font(name=FONT, size=size, bold=bold, color=colour, **more)


def number_format(digits: int) -> str:
    return "0" if digits == 0 else "0." + "0" * digits


def quantity_format(quantity: Quantity) -> str:
    """The decimals of the vocabulary; a number that is never negative and too small for them is shown in full, not as 0.0."""
    shown = number_format(quantity.digits)
    return f"[<{5 * 10 ** -(quantity.digits + 1):g}]General;{shown}" if quantity.low == 0 and quantity.digits else shown


@dataclass(frozen=True)
class Look:
    """What a named style says; `alignment` as openpyxl names it."""

    font: Font
    alignment: dict = field(default_factory=dict)
    fill: PatternFill | None = None
    border: Border | None = None
    locked: bool = True


_RIGHT = dict(horizontal="right", vertical="center")
_LEFT = dict(horizontal="left", vertical="center", indent=1)
_CENTRE = dict(horizontal="center", vertical="center", wrap_text=True)
LOOKS = {
    "gf input": Look(font(10), _RIGHT, INPUT_FILL, CELL, locked=False),
    "gf choice": Look(font(10), dict(horizontal="left", vertical="center"), INPUT_FILL, CELL, locked=False),
    "gf result": Look(font(10), _RIGHT, border=CELL),
    "gf word": Look(font(9), _LEFT, border=CELL),
    "gf head": Look(font(10, True), _CENTRE, HEAD_FILL, BOX),
    "gf unit": Look(font(8), _CENTRE, HEAD_FILL, BOX),
    "gf panel label": Look(font(9, True), _LEFT, HEAD_FILL),
    "gf big": Look(font(24, True), _LEFT),
    "gf verdict": Look(font(16, True), _LEFT),
    "gf line": Look(font(9), _LEFT),
    "gf state": Look(font(13, True), {**_LEFT, "shrink_to_fit": True}, border=INPUT_BORDER),
    "gf value": Look(font(9, True), _RIGHT),
    "gf small": Look(font(8), dict(horizontal="left", vertical="center")),
    "gf link": Look(font(9, colour=LINK, underline="single"), _RIGHT),
}


def add_styles(workbook) -> None:
    """Give a workbook the named styles."""
    for name, look in LOOKS.items():
        style = NamedStyle(name=name, font=look.font, alignment=Alignment(**look.alignment), protection=Protection(look.locked))
        if look.fill:
            style.fill = look.fill
        if look.border:
            style.border = look.border
        workbook.add_named_style(style)


def outline(sheet, cells: str, side: Side = MEDIUM) -> None:
    """Draw a line round a block of cells and leave the borders inside it."""
    rows = sheet[cells]
    rows = rows if isinstance(rows, tuple) else ((rows,),)
    for row in rows:
        for cell in row:
            old = cell.border
            cell.border = Border(
                left=side if cell is row[0] else old.left,
                right=side if cell is row[-1] else old.right,
                top=side if row is rows[0] else old.top,
                bottom=side if row is rows[-1] else old.bottom,
            )


def _format(sheet, cells: str, condition: str, style: DifferentialStyle) -> None:
    sheet.conditional_formatting.add(cells, Rule(type="expression", formula=[condition], dxf=style))


def stop_format(sheet, cells: str, condition: str) -> None:
    """White on a dark bar: do not run."""
    fill = PatternFill(bgColor=STOP_FILL, fill_type="solid")
    _format(sheet, cells, condition, DifferentialStyle(font=Font(bold=True, color=WHITE), fill=fill))


def warning_format(sheet, cells: str, condition: str) -> None:
    fill = PatternFill(bgColor=WARNING_FILL, fill_type="solid")
    _format(sheet, cells, condition, DifferentialStyle(font=Font(bold=True, color=BLACK), fill=fill))


def not_used_format(sheet, cells: str, condition: str) -> None:
    _format(sheet, cells, condition, DifferentialStyle(font=Font(strike=True, color="FF595959")))


def next_format(sheet, cells: str, condition: str) -> None:
    border = Border(left=EDGE, right=EDGE, top=EDGE, bottom=EDGE)
    _format(sheet, cells, condition, DifferentialStyle(font=Font(bold=True), border=border))


def state_formats(sheet, cells: str) -> None:
    """The formats of the line that says the state, by how its text begins."""
    first = "$" + cells.partition(":")[0][0] + "$" + cells.partition(":")[0][1:]
    stop_format(sheet, cells, f'LEFT({first},4)="STOP"')
    warning_format(sheet, cells, f'LEFT({first},1)="!"')
