"""Building blocks of the workbooks: pages with input, choice, result and note rows, and the checks that watch the inputs.

A Book collects pages, defined names and checks; `finish` writes the page of checks, the master line on every page, the
protection and the print set-up.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Protection
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..spreadsheets.evaluate import filled_cells
from ..trial.inputs import Input
from . import paper
from .columns import Columns
from .conditions import first_of, quoted
from .styles import (
    BOX,
    CALC_TAB,
    HEAD_FILL,
    INPUT_BORDER,
    INPUT_FILL,
    add_styles,
    font,
    state_formats,
    stop_format,
    warning_format,
)
from .styles import FONT as FONT  # the other books take it from here
from .words import CAUTIONS

_PLAIN, _BOLD, _SMALL = font(), font(bold=True), font(9)
_WRAP = Alignment(wrap_text=True, vertical="top")
_INDENT = Alignment(wrap_text=True, vertical="top", horizontal="left", indent=1)
_CENTRE = Alignment(wrap_text=True, vertical="center", horizontal="center")
_RIGHT = Alignment(horizontal="right", vertical="top")
_LOOKS: dict[str, dict[str, Any]] = {
    "table": dict(font=_PLAIN, border=BOX, alignment=_WRAP),
    "word": dict(font=_PLAIN, border=BOX, alignment=_CENTRE),
    "number": dict(font=_PLAIN, border=BOX, alignment=_RIGHT),
    "head": dict(font=_BOLD, fill=HEAD_FILL, border=BOX, alignment=_CENTRE),
    "row": dict(font=_PLAIN, border=BOX, alignment=_INDENT),
    "help": dict(font=_SMALL, border=BOX, alignment=_INDENT),
    "small": dict(font=_SMALL),
    "input": dict(font=_PLAIN, fill=INPUT_FILL, border=INPUT_BORDER, protection=Protection(locked=False), alignment=_RIGHT),
}
_CHARACTERS_PER_WIDTH = 1.0  # of running text; digits, by which widths are counted, are wider than most letters
_LINE_HEIGHT = 13.5  # points of one line of 10 point text
GAP = 7  # points above a heading

STOP, LOOK, OK = "STOP", "look", "ok"
# In place of a number format: a word, centred.  No cell gets it as its format: a spreadsheet program would keep the text of a
# formula that is edited there.
WORD = "@"
ROW_HEADINGS = ("quantity", "symbol", "value", "unit", "kind", "what it is, what it must be")
ROW_WIDTHS = (31, 7.5, 15.5, 12, 13, 82)  # of a sheet of rows that shows whole on a small screen
INCH = "inch"  # the other choice of in_units; formulas compute in the shop units of the vocabulary only
IN_INCHES = f'in_units="{INCH}"'  # a condition
IN_SHOP_UNITS = "in shop units"
DECIMAL_SIGN = 'MID(1/2&"",2,1)'  # formula text: that of the computer on which the book is open
_LABEL_SIGNS, _HELP_SIGNS = 1.05, 1.35  # signs of running text for each width of the columns quantity and what it is
_STATE_COLUMNS = 20  # that the line of row 2 takes at most
_STATE_WIDTH = 100  # of columns, at least: what the line of row 2 needs
_SCREEN_WIDTH = 150  # of columns that show at once on a small screen
_HEADING_SIGN = 1.35  # of a width, of a sign of the heading
_LABEL_IN_LINE, _ADVICE_IN_LINE = 60, 79  # signs in a line of the page of checks
_PLAIN_WIDTH = 9  # of a column without a width of its own
CALC = "calc "  # begins the names of sheets with nothing to type
_LONGEST_LITERAL = 250  # signs of a text in a formula; Excel takes 255
_NOT_CONVERTED = ("grit_depth", "grit_density", "grit_size")  # µm and 1/mm² everywhere


def number_format(digits: int) -> str:
    return "0" if digits == 0 else "0." + "0" * digits


def quantity_format(quantity: Quantity) -> str:
    """The decimals of the vocabulary; a number that is never negative and too small for them is shown in full, not as 0.0."""
    shown = number_format(quantity.digits)
    return f"[<{5 * 10 ** -(quantity.digits + 1):g}]General;{shown}" if quantity.low == 0 and quantity.digits else shown


@dataclass
class Check:
    """One line of the page of checks: a formula that gives ok or, as the case may be, STOP or look."""

    label: str
    formula: str
    advice: str  # a text, or a formula that gives one
    where: str = ""  # the name of a cell, or a sheet and a cell; else the first input that the advice or the formula names


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
        self.workbook._named_styles["Normal"].font = _PLAIN
        add_styles(self.workbook)

    def page(
        self, name: str, heading: str, widths: Sequence[float] = ROW_WIDTHS, *, one_page: bool = False, state_columns: int = 0
    ) -> "Page":
        """Add a sheet; one_page prints it on a single page, else it is one page wide. `state_columns` hold the line of row 2."""
        sheet = self.sheet(name, widths)
        title, check = ("A4", "A3") if self.state else ("A2", "A3")
        sheet["A1"], sheet[title], sheet[check] = heading, "=in_title", "=out_check"
        sheet["A1"].font = font(14, bold=True)
        sheet[title].font, sheet[check].font = _PLAIN, _BOLD
        if self.state:
            self.state_line(sheet, state_columns or _columns_for(sheet, _STATE_WIDTH, min(len(widths), _STATE_COLUMNS)))
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
        page = self.page("Checks", "Checks", (5, 54, 9, 72, 22))
        page.note("STOP blocks the results until it is mended. look asks for a look and blocks nothing.")
        page.table_head(("no.", "check", "state", "what to do", "go to"))
        counts = {}
        first = page.row
        page.sheet.freeze_panes = f"A{first}"
        for word, checks in ((STOP, self.stops), (LOOK, self.looks)):
            start = page.row
            for check in checks:
                page.cells((page.row - first + 1, check.label, "=" + check.formula, check.advice, None), formats=("0",))
                self._link_to_what_is_checked(page.sheet, page.row - 1, check)
                page.sheet.row_dimensions[page.row - 1].height = max(
                    row_height(len(check.label), _LABEL_IN_LINE), row_height(_said(check.advice), _ADVICE_IN_LINE)
                )
            counts[word] = tuple(f"{letter}${start}:{letter}${page.row - 1}" for letter in "BC")
        for word, name in ((STOP, "stops"), (LOOK, "looks")):
            page.cells(("", f"checks that say {word}", f'=COUNTIF({counts[word][1]},"{word}")'), formats=(None, None, "0"))
            self.name(f"out_{name}", page.sheet, f"C{page.row - 1}")
        page.cells(("", "results may be shown (1 yes, 0 no)", "=IF(out_stops=0,1,0)"), formats=(None, None, "0"))
        self.name("out_ready", page.sheet, f"C{page.row - 1}")

        for word, name in ((STOP, "stop"), (LOOK, "look")):
            labels, states = counts[word]
            page.cells(("", f"the first that says {word}", f'=IFERROR(INDEX({labels},MATCH("{word}",{states},0)),"none")'))
            self.name(f"out_first_{name}", page.sheet, f"C{page.row - 1}")
            page.sheet.cell(page.row - 1, 3).alignment = Alignment(wrap_text=False)
        page.cells(
            (
                "",
                "master line",
                f'=IF(out_stops>0,"{STOP}: not fulfilled: "&out_first_stop&" ("&out_stops&" STOP, see the sheet Checks)",'
                f'IF(out_looks>0,"Checks: no STOP; look at: "&out_first_look&" ("&out_looks'
                '&" to look at, see the sheet Checks)","Checks: all ok"))',
            )
        )
        self.name("out_check", page.sheet, f"C{page.row - 1}")
        page.sheet.cell(page.row - 1, 3).alignment = Alignment(wrap_text=False)
        if self.state:
            page.cells(("", "state, on every sheet", "=" + self.state))
            self.name("out_state", page.sheet, f"C{page.row - 1}")
            page.sheet.cell(page.row - 1, 3).alignment = Alignment(wrap_text=False)
        warning_format(page.sheet, f"C{first}:C{page.row - 1}", f'C{first}="{LOOK}"')
        stop_format(page.sheet, f"C{first}:C{page.row - 1}", f'C{first}="{STOP}"')

    def _link_to_what_is_checked(self, sheet, row: int, check: Check) -> None:
        """Where to go: the cell that the check names, or the first input that its advice or its formula names."""
        names = [name for text in (check.advice, check.formula) for name in re.findall(r"\b(?:in|use)_\w+", text)]
        known = (name for name in (check.where, *names) if name in self.workbook.defined_names)
        name = next((name.replace("use_", "in_", 1) for name in known), "")
        if name in self.workbook.defined_names:
            self.link(sheet, f"E{row}", name, self.workbook.defined_names[name].attr_text.partition(":")[0].replace("$", ""))
        elif check.where:
            self.link(sheet, f"E{row}", check.where.partition("!")[0].strip("'"), check.where)

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
        last = min(sheet.max_column, _columns_for(sheet, _SCREEN_WIDTH, 1), *on_page)
        behind = _columns_for(sheet, _HEADING_SIGN * len(str(sheet["A1"].value)), 1) + 1  # the heading is not to be cut
        for column, (word, target) in enumerate(links, start=max(behind, last - len(links) + 1)):
            letter = get_column_letter(column)
            if letter not in sheet.column_dimensions:  # beside what the sheet holds: else a long word touches the one to its left
                sheet.column_dimensions[letter].width = max(_PLAIN_WIDTH, len(word) + 2)
            self.link(sheet, f"{letter}1", word, f"{quote_sheetname(target)}!A1")


def _columns_for(sheet, width: float, least: int) -> int:
    """How many columns are as wide as that together, at least so many."""
    columns = 0
    while width > 0:
        columns += 1
        letter = get_column_letter(columns)
        width -= sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else _PLAIN_WIDTH
    return max(columns, least)


def _keep_given_texts(sheet) -> None:
    """An input holds what it was given: openpyxl takes a text such as =1+1 for a formula, and #N/A for an error.

    The mark keeps a spreadsheet program from doing the same when somebody edits the cell.
    """
    for cell in filled_cells(sheet):
        if isinstance(cell.value, str) and not cell.protection.locked:
            cell.data_type = "s"
            if cell.value.startswith(("=", "+", "-", "@", "#")):
                cell.quotePrefix = True


class Page:
    """One sheet, written from top to bottom; `row` is the next free row."""

    def __init__(self, book: Book, sheet, columns: int):
        self.book, self.sheet, self.columns, self.row = book, sheet, columns, 5
        self.tables = book.tables[sheet.title]
        self._styles: dict[Any, Any] = {}  # of cells that look alike, by the look and what a cell looked like before
        self.row_columns = len(ROW_HEADINGS)  # fewer leave the space beside the rows to a chart
        self._label_signs, self._unit_signs, self._help_signs = (
            int(signs * sheet.column_dimensions[letter].width)
            for letter, signs in (("A", _LABEL_SIGNS), ("D", _LABEL_SIGNS), ("F", _HELP_SIGNS))
        )

    def begin(self) -> None:
        """A printed page may begin with the next row."""
        self.tables.begin(self.row)

    def heading(self, text: str) -> None:
        self.sheet.row_dimensions[self.row].height = GAP
        self.row += 1
        self.begin()
        cell = self.sheet.cell(self.row, 1, text)
        cell.font = font(11, bold=True)
        self.row += 1

    def note(self, text: str, lines: int = 0) -> None:
        """A text over the whole width, as many lines high as it needs, or as said."""
        self.merge_row(self.row, 1)
        cell = self.sheet.cell(self.row, 1, text)
        cell.font, cell.alignment = _PLAIN, _WRAP
        self.sheet.row_dimensions[self.row].height = (lines or self._lines(text)) * _LINE_HEIGHT
        self.row += 1

    def _lines(self, text: str) -> int:
        width = sum(self.sheet.column_dimensions[get_column_letter(column)].width for column in range(1, self.columns + 1))
        return 1 + int(len(text) / (_CHARACTERS_PER_WIDTH * width))

    def cautions(self) -> None:
        self.heading("Cautions")
        for caution in CAUTIONS:
            self.note(caution)

    def table_head(self, headings: Sequence[str], column: int = 1, lines: int = 1) -> None:
        self.begin()
        self.tables.heads.append(self.row)
        for offset, heading in enumerate(headings):
            cell = self.sheet.cell(self.row, column + offset, heading)
            self._look(cell, "head")
        self.sheet.row_dimensions[self.row].height = lines * _LINE_HEIGHT + 3
        self.row += 1

    def cells(self, values: Sequence[Any], formats: Sequence[str | None] = (), column: int = 1) -> None:
        """One row of a table: constants and formulas in boxes. The format WORD centres a text."""
        for offset, value in enumerate(values):
            cell = self.sheet.cell(self.row, column + offset, value if value != "" else None)
            shown = formats[offset] if offset < len(formats) else None
            self._look(cell, "word" if shown == WORD else "number" if shown else "table")
            if shown and shown != WORD:
                cell.number_format = shown
        self.tables.filled = self.row
        self.row += 1

    def columns_head(self, table: Columns, lines: int = 1) -> None:
        """The headings of a table, in the row above its first one."""
        self.row = table.first_row - 1
        self.table_head(table.headings, table.first_column, lines)

    def columns_row(self, table: Columns, values: Mapping[str, Any], formulas: Mapping[str, str] | None = None) -> None:
        """One row of a table, values and formula texts by the names of its columns; what is to be filled in is marked."""
        contents = {**values, **{name: "=" + text for name, text in (formulas or {}).items()}}
        self.cells([contents.get(column.name) for column in table.columns], table.formats, table.first_column)
        for column in table.inputs:
            self.mark_input(self.row - 1, column)

    def put(self, address: str, content: Any) -> None:
        """A label or formula at an address."""
        cell = self.sheet[address]
        cell.value = content
        self._look(cell, "small")

    def _look(self, cell, look: str) -> None:
        """Give a cell a look; setting fonts and borders anew in each of the cells that look alike would take long."""
        key = look, tuple(cell._style or ())  # none yet
        if key not in self._styles:
            for part, value in _LOOKS[look].items():
                setattr(cell, part, value)
            self._styles[key] = cell._style
        cell._style = copy(self._styles[key])

    def mark_input(self, row: int, column: int) -> None:
        """Make a cell an input: unlocked, filled, with a strong border."""
        self._look(self.sheet.cell(row, column), "input")

    def table_input(self, name: str, row: int, column: int, quantity: Quantity, *, label: str = "") -> None:
        """Make a cell of a table an input with a name of its own, in_<name>, validation and message."""
        self.mark_input(row, column)
        coordinate = self.sheet.cell(row, column).coordinate
        self.book.name("in_" + name, self.sheet, coordinate)
        self.validate(coordinate, quantity, label)

    def validate(self, cells: str, quantity: Quantity, label: str = "", requirement: str = "") -> None:
        """Let cells, such as B2:B20, take numbers within the limits only, and say so, in other words where some are given."""
        must = f"Must be {requirement or quantity.requirement}, or blank."
        self._rule(cells, label or quantity.label, f"{must} {quantity.help}", **_number_rule(quantity, must))

    def offer(self, cells: str, words: Sequence[str] | str, title: str, prompt: str) -> None:
        """Words to choose from, or the name of cells that hold them; any other entry stays possible and a formula judges it."""
        listed = words if isinstance(words, str) else _listed(words)
        self._rule(cells, title, prompt, type="list", formula1=listed, showErrorMessage=False)

    def _rule(self, cells: str, title: str, prompt: str, **rule: Any) -> None:
        """What stands beside the cells while they are typed in, and what they take."""
        said = dict(showInputMessage=True, promptTitle=title[:32], prompt=prompt[:255])
        validation = DataValidation(
            **said, **{"allow_blank": True, "showErrorMessage": bool(rule), "errorTitle": title[:32], **rule}
        )
        self.sheet.add_data_validation(validation)
        validation.add(cells)

    def rows_head(self, converted: bool = False) -> None:
        """The headings of input, choice and result rows; converted adds the column of values in shop units."""
        self.table_head(ROW_HEADINGS[: self.row_columns] + ((IN_SHOP_UNITS,) if converted and self.book.has_units else ()))

    def _row(self, name: str, label: str, symbol: str, value: Any, unit: str, kind: str, text: str):
        sheet, row = self.sheet, self.row
        for column, content in enumerate((label, symbol, value, unit, kind, text)[: self.row_columns], start=1):
            cell = sheet.cell(row, column, content)
            self._look(cell, "help" if column == len(ROW_HEADINGS) else "row")
        sheet.row_dimensions[row].height = max(
            row_height(len(text) if self.row_columns > 5 else 0, self._help_signs),
            row_height(len(label), self._label_signs),
            row_height(0 if unit.startswith("=") else len(unit), self._unit_signs),
        )
        self.book.name(name, sheet, f"C{row}")
        self.tables.filled = row
        self.row += 1
        return sheet.cell(row, 3)

    def input(
        self,
        name: str,
        value: Any,
        *,
        label: str = "",
        optional: bool = False,
        text: str = "",
        quantity: Quantity | None = None,
        unit: str = "",
        checked: bool = True,
        requirement: str = "",
    ) -> None:
        """A number to fill in, named in_<name>, with validation, message and a check from the vocabulary's limits."""
        quantity = quantity or QUANTITIES[name]
        cell_name = "in_" + name
        required = requirement or quantity.requirement
        own_unit = unit in ("", quantity.unit)  # else the unit is what the shop reads, and the number may be any in it
        if not own_unit or self.book.has_units and quantity.inch_unit:  # the unit column says which
            required = required.replace(f" {quantity.unit}", "")
        label, unit = label or quantity.label, unit or quantity.unit
        must = f"Must be {required}" + (", or blank." if optional else ".") if checked else ""
        kind = "may be blank" if optional else "input"
        within = must.replace(", or blank.", ".")  # the column kind says the rest
        help_text = f"{text or quantity.help} {within}".rstrip()
        cell = self._row(cell_name, label, quantity.symbol, value, unit, kind, help_text)
        self.mark_input(cell.row, 3)
        self._name_in_shop_units(name, cell.row, quantity, unit)
        self._rule(
            cell.coordinate, label, f"{must} {quantity.help}".lstrip(), **(_number_rule(quantity, must) if checked else {})
        )
        if not checked:
            return
        fits = number_check(cell_name, quantity)
        if quantity.possible is not None and own_unit:
            fits = f"IF({fits},use_{name}<={quantity.possible:G},FALSE)"
            must = f"{must} There is none above {quantity.possible:g}{'' if quantity.unit == '-' else ' ' + quantity.unit}."
        self.book.stop_unless(
            label,
            f'IF({cell_name}="",TRUE,{fits})' if optional else fits,
            "="
            + first_of(
                (
                    f"ISTEXT({cell_name})",
                    quoted(f"{cell_name} is a text: type a number without unit or space; decimal sign of this computer: ")
                    + f"&{DECIMAL_SIGN}",
                ),
                otherwise=text_formula(f"{cell_name}: {must[0].lower()}{must[1:]}"),
            ),
        )
        self._name_what_is_unusual(cell.row, name, label, quantity, fits, optional, help_text, within, unit)

    def _name_what_is_unusual(
        self,
        row: int,
        name: str,
        label: str,
        quantity: Quantity,
        fits: str,
        optional: bool,
        help_text: str,
        within: str,
        unit: str,
    ) -> None:
        """Begin the text beside the input with what is wrong about it.

        What is unusual stands in place of what the input is, and among the checks.
        """
        cell = f"in_{name}"
        cases = [
            (f"ISERROR({cell})", quoted("! an error value. ")),
            (f'{cell}=""', quoted("" if optional else "! fill in. ")),
            (f"ISTEXT({cell})", quoted("! not a number. ")),
            (f"NOT({fits})", quoted("! not allowed. ")),
        ]
        said = f"{first_of(*cases, otherwise=quoted(''))}&{text_formula(help_text)}"
        longest = max(map(_longest_text, (words for _, words in cases))) + len(help_text)
        if quantity.usual:
            advice = f"{cell}: a slip, another unit, or what your machine does?"
            unusual = self.book.look_unless_usual(label, f"use_{name}", quantity, advice, fits)
            words = self._usual_words(quantity, unit)
            said = first_of((unusual, f"{words}&{quoted(within)}"), otherwise=said)
            longest = max(longest, _longest_text(words) + len(within))
        self.sheet.cell(row, len(ROW_HEADINGS)).value = f"={said}"
        warning_format(self.sheet, f"C{row} F{row}", f'LEFT($F{row},1)="!"')
        self.sheet.row_dimensions[row].height = max(self.sheet.row_dimensions[row].height, row_height(longest, self._help_signs))

    def _usual_words(self, quantity: Quantity, unit: str) -> str:
        """Formula text: the usual range in the units in which the value stands, so that a switch of units alone is seen."""
        words = "! usually {}: look again. "
        in_shop = quoted(words.format(quantity.usual_range))
        if not self._is_converted(quantity, unit):
            return in_shop
        low, high = (float(f"{end / quantity.inch_factor:.3g}") for end in quantity.usual)
        in_inch = quoted(words.format(f"{low:g} to {high:g} {quantity.inch_unit}"))
        return first_of((IN_INCHES, in_inch), otherwise=in_shop)

    def _is_converted(self, quantity: Quantity, unit: str) -> bool:
        convertible = quantity.inch_unit and quantity.name not in _NOT_CONVERTED and unit == quantity.unit
        return bool(self.book.has_units and convertible)

    def _name_in_shop_units(self, name: str, row: int, quantity: Quantity, unit: str) -> None:
        """Name the value that formulas use, use_<name>: the input itself, or its conversion where the book has inch units."""
        if not self._is_converted(quantity, unit):
            self.book.name(f"use_{name}", self.sheet, f"C{row}")
            return
        self.sheet.cell(row, 4).value = f'=IF({IN_INCHES},"{quantity.inch_unit}","{unit}")'
        converted = self.sheet.cell(row, 7, f'=IF(in_{name}="","",in_{name}*IF({IN_INCHES},{quantity.inch_factor!r},1))')
        shown = (f'{part}" {unit}"' for part in quantity_format(quantity).split(";"))
        converted.font, converted.border, converted.number_format = _PLAIN, BOX, ";".join(shown)
        converted.alignment = _RIGHT
        self.book.name(f"use_{name}", self.sheet, f"G{row}")

    def given(self, record: Input, value: Any) -> None:
        """The row of an input of the list, with its value."""
        if record.quantity:
            self.input(
                record.name,
                value,
                label=record.label,
                optional=record.optional,
                text=record.help,
                quantity=record.quantity,
                unit=record.unit,
                checked=record.limited,
                requirement=record.requirement,
            )
            if record.number_format:
                self.sheet.cell(self.row - 1, 3).number_format = record.number_format
        elif record.choices:
            symbol = QUANTITIES[record.name].symbol if record.name in QUANTITIES else "-"
            self.choice(record.name, value, record.choices, label=record.label, text=record.help, symbol=symbol)
        else:
            self.text_input(record.name, value, label=record.label, text=record.help)

    def choice(self, name: str, value: str, options: Sequence[str], *, label: str, text: str, symbol: str = "-") -> None:
        """A word to choose from a list, named in_<name>."""
        cell = self._row("in_" + name, label, symbol, value, "-", "choice", text)
        self.mark_input(cell.row, 3)
        self._rule(
            cell.coordinate,
            label,
            text,
            type="list",
            formula1=_listed(options),
            allow_blank=False,
            errorTitle="Not in the list",
            error="Choose one of: " + ", ".join(options),
        )

    def text_input(self, name: str, value: str, *, label: str, text: str) -> None:
        """A text, named in_<name>; a long one runs on over the empty cells to its right, which look like one with it."""
        cell = self._row("in_" + name, label, "-", value, "", "", text)
        self.mark_input(cell.row, 3)
        cell.alignment = Alignment(horizontal="left", vertical="top")
        last = self.row_columns if not text else min(self.row_columns, len(ROW_HEADINGS) - 1)
        side, fill = cell.border.left, copy(cell.fill)
        for column in range(3, last + 1):
            part = self.sheet.cell(cell.row, column)
            ends = dict(left=side if column == 3 else None, right=side if column == last else None)
            part.border, part.fill = Border(top=cell.border.top, bottom=cell.border.bottom, **ends), fill

    def result(
        self,
        name: str,
        formula: str,
        *,
        label: str,
        unit: str = "-",
        symbol: str = "-",
        digits: int | None = 3,
        text: str = "",
        kind: str = "result",
    ) -> None:
        """A computed value, named out_<name>."""
        cell = self._row("out_" + name, label, symbol, "=" + formula, unit, kind, text)
        cell.font = _BOLD
        if digits is not None:
            cell.number_format = number_format(digits)
            cell.alignment = _RIGHT

    def step(self, name: str, formula: str, *, label: str, **more: Any) -> None:
        """A computed value on the way to the results."""
        self.result(name, formula, label=label, kind="step", **more)

    def sentence(self, name: str, formula: str, *, label: str) -> None:
        """A computed text that runs over the whole width, named out_<name>."""
        row = self.row
        self.result(name, formula, label=label, digits=None)
        self.merge_row(row, 3)

    def merge_row(self, row: int, column: int) -> None:
        """Make the cells from a column to the last one of the page into one."""
        self.sheet.merge_cells(start_row=row, end_row=row, start_column=column, end_column=self.columns)

    def quantity_result(
        self, quantity_name: str, formula: str, *, name: str = "", label: str = "", text: str = "", kind: str = "result"
    ) -> None:
        """A computed value that is a word of the vocabulary: label, symbol, unit and digits come from there."""
        quantity = QUANTITIES[quantity_name]
        self.result(
            name or quantity_name,
            formula,
            label=label or quantity.label,
            unit=quantity.unit,
            symbol=quantity.symbol,
            digits=quantity.digits,
            text=text or quantity.help,
            kind=kind,
        )
        self.sheet.cell(self.row - 1, 3).number_format = quantity_format(quantity)


def _said(text: str) -> int:
    """Signs of a text; of a formula those of its texts and a few for each number between them, of cases the last text."""
    if not text.startswith("="):
        return len(text)
    texts = text.split('"')[1::2]
    return len(texts[-1]) if text.startswith("=IF(") else sum(map(len, texts)) + 4 * text.count("FIXED(")


def _longest_text(formula: str) -> int:
    """Signs of the longest of the texts in quotes that a formula can give."""
    return max(map(len, formula.split('"')[1::2]))


def row_height(signs: int, in_a_line: int) -> float:
    """Points that so many signs of text need."""
    return _LINE_HEIGHT * max(1, -(-signs // in_a_line)) + 1.5


def number_check(cell: str, quantity: Quantity) -> str:
    """A formula that is TRUE when the cell holds a number within the limits; it never gives an error."""
    tests: list[tuple[str, float]] = []
    if quantity.low is not None:
        tests.append((">" if quantity.low_open else ">=", quantity.low))
    tests.append(("<=", quantity.high if quantity.high is not None else 1e300))
    inside = "TRUE"
    for sign, limit in reversed(tests):
        inside = f"IF({cell}{sign}{limit:G},{inside},FALSE)"
    return f"IF(ISLOGICAL({cell}),FALSE,IF(ISNUMBER({cell}),{inside},FALSE))"  # TRUE is a number to LibreOffice


def text_formula(text: str) -> str:
    """A text of any length as a formula holds it."""
    parts = [text[start : start + _LONGEST_LITERAL] for start in range(0, len(text), _LONGEST_LITERAL)]
    return "&".join(map(quoted, parts))


def _listed(words: Sequence[str]) -> str:
    return '"' + ",".join(words) + '"'


def _number_rule(quantity: Quantity, must: str) -> dict[str, Any]:
    """The rule of a cell that takes numbers within the limits only."""
    low, high = quantity.low, quantity.high
    if high is not None:
        limits = dict(operator="between", formula1=f"{low:g}", formula2=f"{high:g}")
    else:
        limits = dict(operator="greaterThan" if quantity.low_open else "greaterThanOrEqual", formula1=f"{low:g}")
    return dict(type="decimal", error=must[:255], **limits)
