"""The sheet Details of speed_table.xlsx: every value of each setup, in the units chosen, infeed rates as the machine shows them."""

from __future__ import annotations

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat

from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import quoted
from ...sheets.page import Page
from ...sheets.styles import FONT, WARNING_FILL, warning_format
from ..blocks.limits import above, below
from ..blocks.shown import shown, unit_words
from .grid import AXIS, BLOCKS, COLUMNS, DETAILS, EDGES, LETTERS, ROWS, TABLE, Block, Setup
from .setup import RPM_FORMAT, breaks

_LIMITS = 5  # row of the machine's rpm, for the marks


def details_page(book: Book) -> None:
    page = book.page(DETAILS, "Details of each setup", (34,) + (10.5,) * COLUMNS)
    page.put(f"A{_LIMITS}", "lowest and highest work rpm, 1/min")
    for letter, limit in (("B", "lowest"), ("C", "highest")):
        page.put(f"{letter}{_LIMITS}", f'=IF(ISNUMBER(use_{limit}_work_rpm),use_{limit}_work_rpm,"none")')
    page.row = _LIMITS + 2
    starts = {}
    for block in BLOCKS:
        starts[block.name] = _block(page, block)
    for name in ("rpm_table", *EDGES):
        _mark(page, starts[name], starts["limit_table"], name in EDGES)
    words = f"B{starts['limit_table']}"
    warning_format(page.sheet, f"{words}:{LETTERS[-1]}{starts['limit_table'] + ROWS - 1}", breaks(words))
    page.sheet.freeze_panes = f"B{_LIMITS}"
    page.sheet.print_title_rows = f"1:{_LIMITS}"


def _block(page: Page, block: Block) -> int:
    """The heading and the rows of a block; gives the first row."""
    unit = block.quantity.unit if block.quantity else "-"
    length = unit_words("mm")
    of_unit = "" if unit == "-" else f'&", "&{unit_words(unit)}'
    head = f'={quoted(block.title)}{of_unit}&"; part diameter, "&{length}&"; infeed rate, "&{length}&"/min"'
    page.table_head(
        (head, *(f"=IF(ISBLANK('{TABLE}'!{letter}{AXIS}),\"\",'{TABLE}'!{letter}{AXIS})" for letter in LETTERS)), lines=3
    )
    first = page.row
    for row in range(ROWS):
        setups = [Setup(row, letter) for letter in LETTERS]
        given = setups[0].given
        cells = [f'=IF(ISBLANK({given}),"",{given})']
        cells += ["=" + shown(setup.seen(block.name), unit) for setup in setups]
        page.cells(cells, formats=("General", *(block.number_format,) * COLUMNS))
        if block.is_word:
            for letter in LETTERS:
                page.sheet[f"{letter}{page.row - 1}"].alignment = Alignment(horizontal="center", shrink_to_fit=True)
    page.row += 1
    return first


def _mark(page: Page, first: int, words: int, is_edge: bool) -> None:
    """An exclamation mark, bold, a frame and a fill, so that an rpm that breaks a limit shows on a grey print; own sheet only."""
    frame = Side(style="thin", color="FF000000")
    style = DifferentialStyle(
        font=Font(name=FONT, bold=True),
        border=Border(frame, frame, frame, frame),
        fill=PatternFill(bgColor=WARNING_FILL, fill_type="solid"),
        numFmt=NumberFormat(numFmtId=190, formatCode=";".join(part + '" !"' for part in RPM_FORMAT.split(";"))),
    )
    cell, word = f"B{first}", f"B{words}"
    broken = [f"{word}<>{quoted(OK)}"]
    if is_edge:
        broken += [
            f"IF(ISNUMBER({edge}),{judge(cell, edge)},FALSE)"
            for edge, judge in ((f"$B${_LIMITS}", below), (f"$C${_LIMITS}", above))
        ]
    rule = FormulaRule(formula=[f"IF(ISNUMBER({cell}),OR({','.join(broken)}),FALSE)"])
    rule.dxf = style
    page.sheet.conditional_formatting.add(f"B{first}:{LETTERS[-1]}{first + ROWS - 1}", rule)
