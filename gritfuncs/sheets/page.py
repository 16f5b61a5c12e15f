"""A sheet of a book, written from top to bottom: headings, notes, tables, and rows of inputs, choices and results."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from typing import TYPE_CHECKING, Any

from openpyxl.styles import Alignment, Border, Protection
from openpyxl.utils import get_column_letter

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..trial.inputs import Input
from .columns import Columns
from .conditions import first_of, number_check, quoted
from .inches import IN_SHOP_UNITS, has_inches, in_shop_units, unit_chosen, usual_words
from .sizes import GAP, LINE_HEIGHT, row_height
from .styles import BOX, HEAD_FILL, INPUT_BORDER, INPUT_FILL, font, number_format, quantity_format, warning_format
from .texts import DECIMAL_SIGN, longest_text, text_formula
from .validation import add_rule, listed, number_rule
from .words import CAUTIONS

if TYPE_CHECKING:
    from .book import Book

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
# In place of a number format: a word, centred.  No cell gets it as its format: a spreadsheet program would keep the text of a
# formula that is edited there.
WORD = "@"
ROW_HEADINGS = ("quantity", "symbol", "value", "unit", "kind", "what it is, what it must be")
ROW_WIDTHS = (31, 7.5, 15.5, 12, 13, 82)  # of a sheet of rows that shows whole on a small screen
_CHARACTERS_PER_WIDTH = 1.0  # of running text; digits, by which widths are counted, are wider than most letters
_LABEL_SIGNS, _HELP_SIGNS = 1.05, 1.35  # signs of running text for each width of the columns quantity and what it is


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
        self.sheet.row_dimensions[self.row].height = (lines or self._lines(text)) * LINE_HEIGHT
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
        self.sheet.row_dimensions[self.row].height = lines * LINE_HEIGHT + 3
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
        add_rule(self.sheet, cells, label or quantity.label, f"{must} {quantity.help}", **number_rule(quantity, must))

    def offer(self, cells: str, words: Sequence[str] | str, title: str, prompt: str) -> None:
        """Words to choose from, or the name of cells that hold them; any other entry stays possible and a formula judges it."""
        choices = words if isinstance(words, str) else listed(words)
        add_rule(self.sheet, cells, title, prompt, type="list", formula1=choices, showErrorMessage=False)

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
        add_rule(
            self.sheet,
            cell.coordinate,
            label,
            f"{must} {quantity.help}".lstrip(),
            **(number_rule(quantity, must) if checked else {}),
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
        longest = max(map(longest_text, (words for _, words in cases))) + len(help_text)
        if quantity.usual:
            advice = f"{cell}: a slip, another unit, or what your machine does?"
            unusual = self.book.look_unless_usual(label, f"use_{name}", quantity, advice, fits)
            words = usual_words(quantity, self._is_converted(quantity, unit))
            said = first_of((unusual, f"{words}&{quoted(within)}"), otherwise=said)
            longest = max(longest, longest_text(words) + len(within))
        self.sheet.cell(row, len(ROW_HEADINGS)).value = f"={said}"
        warning_format(self.sheet, f"C{row} F{row}", f'LEFT($F{row},1)="!"')
        self.sheet.row_dimensions[row].height = max(self.sheet.row_dimensions[row].height, row_height(longest, self._help_signs))

    def _is_converted(self, quantity: Quantity, unit: str) -> bool:
        return self.book.has_units and has_inches(quantity, unit)

    def _name_in_shop_units(self, name: str, row: int, quantity: Quantity, unit: str) -> None:
        """Name the value that formulas use, use_<name>: the input itself, or its conversion where the book has inch units."""
        if not self._is_converted(quantity, unit):
            self.book.name(f"use_{name}", self.sheet, f"C{row}")
            return
        self.sheet.cell(row, 4).value = f"={unit_chosen(quantity, unit)}"
        converted = self.sheet.cell(row, 7, f"={in_shop_units(f'in_{name}', quantity)}")
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
        add_rule(
            self.sheet,
            cell.coordinate,
            label,
            text,
            type="list",
            formula1=listed(options),
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
