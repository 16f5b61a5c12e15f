"""The sheet Record of trial.xlsx: the row for the shop's record of knees, and every result of the trial."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from ...knee import FOUND
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.panels import merged
from ...sheets.styles import (
    BOX,
    HEAD_FILL,
    MEDIUM,
    RESULT_TAB,
    THIN,
    font,
    number_format,
    outline,
    quantity_format,
    warning_format,
)
from ..blocks.record import COLUMNS
from . import results
from .tables import CALCULATION, RECORD

_HEAD, _UNIT, _ROW = 4, 5, 6
_WIDTHS = (22, 13, 9, 10, 14, 12, 12, 12, 11, 9, 9, 12, 9, 9, 9, 10, 12)
_MORE_WIDTH = 10
_FIRST_PAGE = 14  # columns of the first of two printed pages across, as many as the boxes take
_BOXES = 9  # row
_LABEL, _BOX_WIDTH = 2, 4  # columns of a label, and of a box with the value and the unit
_TEXTS = ("wheel", "bond", "material", "machine", "coolant", "who", "note")
_NEEDED = ("key", "wheel", "material", "machine", "date", "who")  # on the sheet Inputs, before the record takes the row


def record_sheet(book: Book, block: Mapping[str, str]) -> None:
    widths = tuple(_WIDTHS[place] if place < len(_WIDTHS) else _MORE_WIDTH for place in range(len(COLUMNS)))
    page = book.page(RECORD, "Record of the trial", widths, state_columns=_FIRST_PAGE)
    sheet, page.columns = page.sheet, _FIRST_PAGE
    sheet.col_breaks.append(Break(id=_FIRST_PAGE))
    book.state_line(sheet, len(COLUMNS), _FIRST_PAGE + 1)
    sheet.cell(2, _FIRST_PAGE + 1).alignment = Alignment(horizontal="left", vertical="center", indent=1, shrink_to_fit=True)
    sheet.sheet_properties.tabColor = RESULT_TAB
    sheet["A3"] = (
        f"Row for the record: copy A{_ROW}:{get_column_letter(len(COLUMNS))}{_ROW}, paste as values (Ctrl+Shift+V) into the first free row, "
        "from the column key on, of the sheet Record in knee_record.xlsx or speed_table.xlsx."
    )
    sheet["A3"].font, sheet["A4"] = font(9), None
    merged(sheet, "C1:I1", "=in_title", "gf line", vertical="center", shrink_to_fit=True)
    sheet["A8"], sheet["A8"].font = "=out_check", font(9, bold=True)
    for row, words, size in ((1, sheet["A1"].value, 14), (3, "=out_check", 9)):  # the head of the second page across
        sheet.cell(row, _FIRST_PAGE + 1, words).font = font(size, bold=True)
    _row(sheet)
    for first, title, of_box in (
        (1, "Knee", results.knee(block)),
        (6, "What to set", [*results.what_to_set(), *results.interval(block)]),
        (11, "Trial", [*results.plan(), *results.drift(block), *results.damage()]),
    ):
        last = _box(book, sheet, first, title, of_box)
        page.row = max(page.row, last + 2)
    for result in (*results.sentences(block), *results.damage_words()):
        _sentence(book, sheet, page.row, result)
        page.row += 1
    page.row += 1
    page.note(
        "The interval is scatter at 95 %, widened because real curves are rounded. The rpm hold for this wheel, part, infeed and wheel "
        "speed. Only the verdict found carries a knee to set a machine by. This row is a copy: a later change here does not reach the record."
    )


def _row(sheet) -> None:
    """The row to copy; blank, with the reason in its first cell, where there is no knee to record."""
    fits = f"IF(out_ready=1,IF(out_verdict={quoted(FOUND)},out_damage_in_band=0,FALSE),FALSE)"
    why_not = first_of(
        ("out_ready<>1", quoted("no row: STOP")),
        ("out_damage_in_band>0", quoted("no row: damage")),
        otherwise='"no row: "&out_verdict',
    )
    given = _values()
    for place, column in enumerate(COLUMNS, 1):
        head, unit, cell = (sheet.cell(row, place) for row in (_HEAD, _UNIT, _ROW))
        head.value, head.style = column.label, "gf head"
        unit.value, unit.style = (column.quantity.unit if column.quantity else "-"), "gf unit"
        value = given.get(column.name, quoted(""))
        cell.value = f"=IF({fits},{value},{why_not if place == 1 else quoted('')})"
        cell.font, cell.border = font(10, bold=True), BOX
        horizontal = "right" if column.quantity else "left"
        cell.alignment = Alignment(horizontal=horizontal, vertical="center", shrink_to_fit=place > 1)  # the first runs on
        if column.number_format:
            cell.number_format = column.number_format
    sheet.row_dimensions[_HEAD].height, sheet.row_dimensions[_ROW].height = 27, 18
    outline(sheet, f"A{_ROW}:{get_column_letter(len(COLUMNS))}{_ROW}", MEDIUM)
    missing = "&".join(f'IF(IFERROR(in_{name}="",TRUE)," {name}","")' for name in _NEEDED)
    sheet[f"A{_ROW + 1}"] = f'=IF({fits},IF(({missing})="","","! the record also needs, from Inputs:"&{missing}),"")'
    sheet[f"A{_ROW + 1}"].font = font(9)
    warning_format(sheet, f"A{_ROW + 1}:H{_ROW + 1}", f'LEFT($A${_ROW + 1},1)="!"')


def _values() -> dict[str, str]:
    """Formula text of the columns of the record, by their names; one that is not here stays blank."""

    def typed(name: str) -> str:
        return f'IF(ISERROR(in_{name}),"",IF(in_{name}="","",in_{name}))'

    return dict(
        {name: typed(name) for name in (*_TEXTS, "key", "concentration", "date")},
        grit=typed("grit_size"),
        knee="out_knee",
        low="out_knee_low",
        high="out_knee_high",
        level=first_of(
            ('in_load_kind="relative"', quoted("")),
            (f"out_energy_unit={quoted('J/mm³')}", "out_knee_level"),
            otherwise=quoted(""),
        ),
        density="out_grit_density",
        ratio="in_shape_ratio",
        scatter="out_noise",
        steepness='IF(out_knee_level>0,out_knee_slope*out_knee/out_knee_level,"")',
        shallowest=f"MIN({CALCULATION.area('depth')})",
        deepest=f"MAX({CALCULATION.area('depth')})",
        degrees_of_freedom="out_n_readings-3",
        units="in_units",
    )


def _box(book: Book, sheet, first: int, title: str, of_box: Iterable[results.Result]) -> int:
    """Rows of label, value and unit under a title; gives the last row."""
    row = _BOXES
    for offset in range(_BOX_WIDTH):
        sheet.cell(row, first + offset).fill = HEAD_FILL
    sheet.cell(row, first, title).font = font(9, bold=True)
    for result in of_box:
        row += 1
        sheet.row_dimensions[row].height = 15
        label, value, unit = (sheet.cell(row, first + offset) for offset in (0, _LABEL, _LABEL + 1))
        label.value, value.value, unit.value = result.label, "=" + result.formula, "" if result.unit == "-" else result.unit
        label.font, value.font, unit.font = font(9), font(10, bold=True), font(8)
        value.alignment = Alignment(horizontal="right")
        if result.digits is not None:
            quantity = QUANTITIES.get(result.quantity)
            value.number_format = quantity_format(quantity) if quantity else number_format(result.digits)
        book.name(f"out_{result.name}", sheet, value.coordinate)
    outline(sheet, f"{get_column_letter(first)}{_BOXES}:{get_column_letter(first + _BOX_WIDTH - 1)}{row}", THIN)
    return row


def _sentence(book: Book, sheet, row: int, result: results.Result) -> None:
    """A text that runs on over the empty cells to its right."""
    label, value = sheet.cell(row, 1, result.label), sheet.cell(row, 1 + _LABEL, "=" + result.formula)
    label.font, value.font = font(9), font(10, bold=True)
    sheet.row_dimensions[row].height = 15
    book.name(f"out_{result.name}", sheet, value.coordinate)
