"""A workbook being built: its sheets, defined names and checks.

`finish` writes the links between the sheets, the protection and the print set-up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from openpyxl import Workbook
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.hyperlink import Hyperlink

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..spreadsheets.evaluate import filled_cells
from . import paper
from .checks import CHECKS_WIDTHS, LOOK, OK, STOP, Check, list_checks
from .page import ROW_WIDTHS, Page
from .sizes import PLAIN_WIDTH, columns_for
from .styles import CALC_TAB, add_styles, font, state_formats

CALC = "calc "  # begins the names of sheets with nothing to type
_STATE_COLUMNS = 20  # that the line of row 2 takes at most
_STATE_WIDTH = 100  # of columns, at least: what the line of row 2 needs
_SCREEN_WIDTH = 150  # of columns that show at once on a small screen
_HEADING_SIGN = 1.35  # of a width, of a sign of the heading


@dataclass
class Book:
    """A workbook under construction."""

    title: str
    has_units: bool = False  # inputs may be given in inch units: the input in_units chooses
    state: str = ""  # formula text of the line that says on every sheet whether to run; out_state
    links: Sequence[tuple[str, str]] = ()  # (word, sheet) in the first row of each sheet
    workbook: Workbook = field(default_factory=Workbook)
    stops: list[Check] = field(default_factory=list)  # on inputs only: results wait for them
    looks: list[Check] = field(default_factory=list)  # may judge results
    tables: defaultdict[str, paper.Tables] = field(default_factory=lambda: defaultdict(paper.Tables))  # by the sheet

    def __post_init__(self):
        self.workbook.remove(self.workbook.active)
        self.workbook._named_styles["Normal"].font = font()
        add_styles(self.workbook)

    def page(
        self, name: str, heading: str, widths: Sequence[float] = ROW_WIDTHS, *, one_page: bool = False, state_columns: int = 0
    ) -> Page:
        """Add a sheet; one_page prints it on a single page, else it is one page wide. `state_columns` hold the line of row 2."""
        sheet = self.sheet(name, widths)
        title, check = ("A4", "A3") if self.state else ("A2", "A3")
        sheet["A1"], sheet[title], sheet[check] = heading, "=in_title", "=out_check"
        sheet["A1"].font = font(14, bold=True)
        sheet[title].font, sheet[check].font = font(), font(bold=True)
        if self.state:
            self.state_line(sheet, state_columns or columns_for(sheet, _STATE_WIDTH, min(len(widths), _STATE_COLUMNS)))
        sheet.page_setup.fitToHeight = 1 if one_page else 0
        return Page(self, sheet, len(widths))

    def sheet(self, name: str, widths: Sequence[float]):
        """Add a sheet with nothing on it."""
        sheet = self.workbook.create_sheet(name)
        for column, width in enumerate(widths, start=1):
            sheet.column_dimensions[get_column_letter(column)].width = width
        sheet.sheet_view.showGridLines = False
        if name.startswith(CALC):
            sheet.sheet_properties.tabColor = CALC_TAB
        return sheet

    def state_line(self, sheet, columns: int, first: int = 1) -> None:
        """The line of row 2, the same on every sheet, so that a STOP cannot look like ok on any of them."""
        sheet.row_dimensions[1].height, sheet.row_dimensions[2].height = 18, 21
        for column in range(first, columns + 1):
            sheet.cell(2, column).style = "gf state"
        sheet.cell(2, first).value = "=out_state"
        sheet.merge_cells(start_row=2, end_row=2, start_column=first, end_column=columns)
        state_formats(sheet, f"{get_column_letter(first)}2:{get_column_letter(columns)}2")

    def link(self, sheet, cell: str, word: str, target: str) -> None:
        """A word that leads to a cell of the workbook, such as 'Help'!A1."""
        sheet[cell] = word
        sheet[cell].hyperlink = Hyperlink(ref=cell, location=target, display=word)
        sheet[cell].style = "gf link"

    def name(self, name: str, sheet, cells: str) -> None:
        """Give cells of a sheet, such as C5 or B2:F20, a defined name."""
        absolute = ":".join(
            "$" + corner.rstrip("0123456789") + "$" + corner.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for corner in cells.split(":")
        )
        if name in self.workbook.defined_names:
            raise ValueError(f"the name {name} is used twice")
        self.workbook.defined_names[name] = DefinedName(name, attr_text=f"{quote_sheetname(sheet.title)}!{absolute}")

    def stop_unless(self, label: str, fits: str, advice: str, where: str = "") -> None:
        """Block all results unless the condition on the inputs holds; an error in the condition blocks too."""
        self.stops.append(Check(label, f'IFERROR(IF({fits},"{OK}","{STOP}"),"{STOP}")', advice, where))

    def look_if(self, label: str, condition: str, advice: str, where: str = "") -> None:
        """Ask for a look when the condition holds; an error in the condition is nothing to see."""
        self.looks.append(Check(label, f'IFERROR(IF({condition},"{LOOK}","{OK}"),"{OK}")', advice, where))

    def look_unless_usual(self, label: str, cell: str, quantity: str | Quantity, advice: str, is_number: str = "") -> str:
        """Ask for a look where a cell holds a number, in shop units, outside the usual range; gives that condition.

        `is_number` is a condition in place of ISNUMBER of the cell.
        """
        known = quantity if isinstance(quantity, Quantity) else QUANTITIES[quantity]
        low, high = known.usual
        unusual = f"IF({is_number or f'ISNUMBER({cell})'},({cell}<{low:G})+({cell}>{high:G})>0,FALSE)"
        self.look_if(f"{label}: usually {known.usual_range}", unusual, advice)
        return unusual

    def checks_page(self) -> None:
        """Add the page of checks and the names out_check (the master line) and out_ready (1 when nothing says STOP)."""
        list_checks(self.page("Checks", "Checks", CHECKS_WIDTHS), self.stops, self.looks, self.state)

    def finish(self) -> Workbook:
        for sheet in self.workbook:
            _keep_given_texts(sheet)
            self._link(sheet)
            sheet.protection.sheet = True
            sheet.protection.formatColumns = sheet.protection.formatRows = False
            paper.set_up(sheet, self.tables[sheet.title])
        self.workbook.properties.title = self.title
        self.workbook.properties.creator = "gritfuncs"
        return self.workbook

    def _link(self, sheet) -> None:
        """The links of the first row, in its last columns, where the sheet has none of its own."""
        if any(cell.hyperlink for cell in sheet[1]):
            return
        links = [(word, target) for word, target in self.links if target != sheet.title]
        on_page = (broken.id for broken in sheet.col_breaks.brk)
        last = min(sheet.max_column, columns_for(sheet, _SCREEN_WIDTH, 1), *on_page)
        behind = columns_for(sheet, _HEADING_SIGN * len(str(sheet["A1"].value)), 1) + 1  # the heading is not to be cut
        for column, (word, target) in enumerate(links, start=max(behind, last - len(links) + 1)):
            letter = get_column_letter(column)
            if letter not in sheet.column_dimensions:  # beside what the sheet holds: else a long word touches the one to its left
                sheet.column_dimensions[letter].width = max(PLAIN_WIDTH, len(word) + 2)
            self.link(sheet, f"{letter}1", word, f"{quote_sheetname(target)}!A1")


def _keep_given_texts(sheet) -> None:
    """An input holds what it was given: openpyxl takes a text such as =1+1 for a formula, and #N/A for an error.

    The mark keeps a spreadsheet program from doing the same when somebody edits the cell.
    """
    for cell in filled_cells(sheet):
        if isinstance(cell.value, str) and not cell.protection.locked:
            cell.data_type = "s"
            if cell.value.startswith(("=", "+", "-", "@", "#")):
                cell.quotePrefix = True
