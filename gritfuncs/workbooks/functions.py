"""functions.xlsx: every function once, natively and through the add-ins, so that one glance tells whether an add-in works here."""

from __future__ import annotations

from typing import Any

from openpyxl.utils import get_column_letter

from .. import __version__, example
from ..addins.functions import FUNCTIONS
from ..addins.hosts import HOSTS, NATIVE
from ..formulas import catalogue
from ..knee import find_knee
from ..sheets.book import Book
from ..sheets.conditions import first_of
from ..sheets.page import Page
from .blocks.knee import knee_block
from .blocks.lay_out import last_step
from .blocks.state import MARKED_SPEED, NOT_FULFILLED
from .blocks.wheel import formula, mean_size, tables_page, title_input
from .read_me import read_me_page

ARGUMENTS = max(len(record.arguments) for record in catalogue)
ABSENT = frozenset(host.spell(function.sheet_name) for function in FUNCTIONS for host in HOSTS)
AGREEMENT = "1E-9"  # relative; the spreadsheets keep 15 digits

_HEADINGS = (
    ("function", "gives", "unit", "arguments in order")
    + tuple(f"argument {number}" for number in range(1, ARGUMENTS + 1))
    + ("expected", "native formula", "native")
    + tuple(heading for host in HOSTS for heading in (f"add-in in {host.title}", host.title))
)
_FIRST_ARGUMENT = 5
_KNEE_PRINTED = 6  # columns, which the steps and the line of the state take
_EXPECTED = _FIRST_ARGUMENT + ARGUMENTS
_KNEE_RESULTS = {
    "GRIT_KNEE": "knee",
    "GRIT_KNEE_LOW": "low",
    "GRIT_KNEE_HIGH": "high",
    "GRIT_KNEE_LEVEL": "level",
    "GRIT_KNEE_VERDICT": "verdict",
}


def build():
    """The workbook, with the worked example of each function."""
    book = Book("Functions", state=first_of(NOT_FULFILLED, otherwise=MARKED_SPEED))
    _read_me(book)
    trial = _trial(book)
    block = _knee(book, len(trial))
    _functions(book, block, trial)
    book.checks_page()
    tables_page(book)
    return book.finish()


def _read_me(book: Book) -> None:
    read_me_page(
        book,
        "Functions: does an add-in work on this machine?",
        purpose=(
            "The sheet Functions computes the example of each function three times: with native formulas, through the "
            "add-in for Excel, and through the extension for LibreOffice. TRUE means that the value is the expected "
            "one; FALSE beside #NAME? means that this add-in is not loaded here. Native formulas work everywhere.",
            "Without any add-in nothing is lost: the other workbooks need none, and gritfuncs share puts native "
            "formulas in place of the functions of any workbook.",
        ),
        steps=(),
        background=(
            "Not in the list: GRIT_KNEE_REPORT, which fills a block of cells, and GRIT_NEXT_RPM, which has no native "
            "formula; the sheet 2 Trial of trial.xlsx does its job.",
        ),
        made_by=f"Made by gritfuncs {__version__}; =GRIT_VERSION() in a cell tells the version of the add-in.",
    )


def _trial(book: Book) -> list:
    """The readings that the knee functions are tried on."""
    page = book.page("Trial", "Readings for the knee functions (invented)", (10, 18, 18))
    page.note("Depth and energy of the invented example.")
    page.table_head(("no.", "grit depth, µm", "specific energy, J/mm³"), lines=2)
    removal_rate = catalogue["removal_rate"].call(example.SETUP["work_diameter"], example.SETUP["infeed_rate"])
    rows = []
    for number, (rpm, power, idle) in enumerate(example.readings(), start=1):
        depth = catalogue["plunge_grit_depth"].call(work_rpm=rpm, **example.setup())
        energy = catalogue["specific_energy"].call(power - idle, removal_rate, example.CONTACT_WIDTH)
        rows.append((depth, energy))
        page.cells((number, depth, energy), formats=("0", "0.0000", "0.00"))
    for name, letter in (("depths", "B"), ("energies", "C")):
        book.name(f"trial_{name}", page.sheet, f"{letter}{page.row - len(rows)}:{letter}{page.row - 1}")
    return rows


def _knee(book: Book, rows: int):
    page = book.page("Knee", "Knee of these readings in native formulas", (44, 16, 24) + (12,) * 60, state_columns=_KNEE_PRINTED)
    first = 7
    block = knee_block(
        f"Trial!$B${first}:$B${first + rows - 1}",
        f"Trial!$C${first}:$C${first + rows - 1}",
        rows,
        sheet_name=page.sheet.title,
        anchor=f"A{page.row}",
    )
    for address, content in block.cells.items():
        if content != "-":  # no unit: a sentence runs on there
            page.put(address, content)
    steps = last_step(block.cells, page.row)  # the table below them is to be read on the screen
    page.sheet.print_area = f"A1:{get_column_letter(_KNEE_PRINTED)}{steps}"
    return block.results


def _functions(book: Book, block, trial: list) -> None:
    widths = tuple(width for host in HOSTS for width in (15, max(9, len(host.title) + 1)))
    page = book.page(
        "Functions", "Functions", (36, 46, 13, 52) + (11,) * ARGUMENTS + (15, 15, 9) + widths, state_columns=_FIRST_ARGUMENT - 1
    )
    page.row_columns = 3
    title_input(page, dict(title="Worked examples, invented or from the source of the formula."))
    page.row += 1
    page.table_head(_HEADINGS, lines=2)
    page.sheet.freeze_panes = f"B{page.row}"
    page.sheet.print_title_rows = f"1:{page.row - 1}"
    first = page.row
    for record in catalogue:
        inputs = [record.example[quantity.name] for quantity in record.arguments]
        cells = [_cell(page, offset) for offset in range(len(inputs))]
        native = (
            formula(record.name, **{quantity.name: cell for quantity, cell in zip(record.arguments, cells)})
            if record.native
            else mean_size(cells[0])
        )
        _row(
            page,
            record.sheet_name,
            record.title,
            record.gives.unit,
            ", ".join(quantity.name for quantity in record.arguments),
            inputs,
            record.call(*inputs),
            native,
            cells,
        )
    knee = find_knee(*zip(*trial))
    for function in FUNCTIONS:
        if function.sheet_name in _KNEE_RESULTS:
            result = _KNEE_RESULTS[function.sheet_name]
            _row(
                page,
                function.sheet_name,
                function.help.partition(".")[0].partition(":")[0],
                "-",
                "depths, energies (sheet Trial)",
                [],
                getattr(knee, result),
                block[result],
                ["trial_depths", "trial_energies"],
            )
    _row(page, "GRIT_VERSION", "Version of the add-in", "-", "", [], __version__, f'"{__version__}"', [])
    last = page.row - 1
    page.row += 1
    column = {
        host: page.sheet.cell(first, _EXPECTED + 2 * offset + 2).column_letter
        for offset, host in enumerate((NATIVE, *(host.name for host in HOSTS)))
    }
    rows = last - first + 1
    for host, label in (
        (NATIVE, "native formulas that are TRUE"),
        *((host.name, f"{host.add_in}: functions that are TRUE") for host in HOSTS),
    ):
        page.result(
            f"{host}_true",
            f'SUMPRODUCT(({column[host]}{first}:{column[host]}{last}="TRUE")*1)',
            label=f"{label}, of {rows}",
            digits=0,
        )
    page.sheet.print_area = f"A1:D{page.row - 1}"  # the list; its examples are to be read on the screen
    book.stop_unless(
        "every native formula gives the expected value",
        f"out_native_true={rows}",
        "the spreadsheet computes differently: report it",
    )
    book.look_if(
        "no add-in is loaded here",
        "+".join(f"out_{host.name}_true" for host in HOSTS) + "=0",
        "nothing to do unless you want the functions in cells of your own: see the documents on Excel and on Calc",
    )


def _cell(page: Page, offset: int) -> str:
    return f"{page.sheet.cell(page.row, _FIRST_ARGUMENT + offset).column_letter}{page.row}"


def _row(
    page: Page, name: str, gives: str, unit: str, arguments: str, inputs: list, expected: Any, native: str, cells: list
) -> None:
    """One function: its worked example, the native value and those of the add-ins, each with TRUE or FALSE."""
    row = page.row
    letters = [page.sheet.cell(row, _EXPECTED + offset).column_letter for offset in range(3 + 2 * len(HOSTS))]

    def agrees(letter: str) -> str:
        value, wanted = f"{letter}{row}", f"{letters[0]}{row}"
        test = (
            f"{value}={wanted}"
            if isinstance(expected, str)
            else f"IF(ISNUMBER({value}),ABS({value}-{wanted})<={AGREEMENT}*ABS({wanted}),FALSE)"
        )
        return f'=IF(IFERROR({test},FALSE),"TRUE","FALSE")'

    call = f"({','.join(cells)})"
    page.sheet.row_dimensions[row].height = 27  # two lines
    blanks: tuple[str, ...] = ("",) * (ARGUMENTS - len(inputs))
    page.cells(
        (name, gives, unit, arguments)
        + tuple(inputs)
        + blanks
        + (
            expected,
            "=" + native,
            agrees(letters[1]),
            *(
                content
                for host, letter in zip(HOSTS, letters[3::2])
                for content in (f"={host.spell(name)}{call}", agrees(letter))
            ),
        ),
        formats=(None,) * 4 + ("General",) * (ARGUMENTS + 2) + ("@",) + ("General", "@") * len(HOSTS),
    )
