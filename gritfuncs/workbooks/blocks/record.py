"""The shop's record of knees, for any workbook: the table, the judgement of its rows, and a look-up by key.

A book that calls `record_inputs`, `record_pages` and `look_up` (in any order) has the names

  in_today, in_months        what is outdated; without a date of today ages count from the newest entry
  out_record_day             the day from which ages count; out_record_day_word says which it is
  in_records                 ROWS rows by the COLUMNS, one name in_record_<column> for each column
  out_record_status          a word for each row: OK, DUPLICATE, INCOMPLETE, FUTURE, OUTDATED, or blank
  in_lookup_key              the key to look up
  out_lookup_word            OK, or NO_KEY, NOT_FOUND or the word of the row
  out_lookup_<column>        the values of the row where the word is OK or OUTDATED, else #N/A

None of them waits for out_ready: checks on the inputs may use them.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from ...quantities import QUANTITIES
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.columns import Column, Columns, filled_up
from ...sheets.conditions import are_numbers, first_of, number_check, quoted
from ...sheets.inches import INCH
from ...sheets.page import Page
from ...sheets.panels import merged
from ...sheets.styles import font
from ...trial.inputs import DATE_FORMAT, DAY, day_input
from .entry_table import EntryColumn, entry_rows

ROWS = 60
FIRST_ROW = 8  # of the sheets Record and Record checks alike
LAST_ROW = FIRST_ROW + ROWS - 1
DUPLICATE, INCOMPLETE, FUTURE, OUTDATED = "duplicate", "incomplete", "date after today", "outdated"
UNITS = ("metric", INCH)  # in which a trial was typed; what stands in the record is in the units of the headings all the same
NO_KEY, NOT_FOUND = "no key chosen", "not in the record"
DAYS_PER_MONTH = 30.4375  # 365.25 / 12

_TODAY = day_input(
    "today",
    "today",
    "Ages count from here; a workbook does not know the date by itself. Blank: from the newest entry of the record. Typed (in "
    "Excel: Ctrl and ;), it also finds entries dated after it.",
)
# Usual ranges and most that there can be: common sense, no source.
_SCATTER = Quantity(
    "scatter",
    "-",
    "scatter of the readings about the fit",
    "% of the level",
    "Standard deviation, of the level.",
    high=50.0,
    usual=(0.1, 10),
)
_FREEDOM = Quantity(
    "degrees_of_freedom",
    "-",
    "degrees of freedom",
    "-",
    "How many the scatter rests on: it counts for as much.",
    low=1.0,
    low_open=False,
    usual=(1, 100),
    possible=1000,
    digits=0,
)
_STEEPNESS = Quantity(
    "steepness",
    "-",
    "steepness of the fall",
    "-",
    "Slope below the knee times knee over level: 2 means that 1 % less depth takes 2 % more energy.",
    usual=(0.1, 10),
    possible=1000,
)
_MONTHS = Quantity("months", "-", "months until an entry is outdated", "-", "Wheels, coolant and machines change.")


_DEPTH = QUANTITIES["grit_depth"]
COLUMNS: tuple[EntryColumn, ...] = (
    EntryColumn("key", "key", 22),
    EntryColumn("wheel", "wheel", 20),
    EntryColumn("grit", "grit", 9, help="grit designation or size"),
    EntryColumn("bond", "bond", 9, required=False),
    EntryColumn("concentration", "concentration", 14, required=False, quantity=QUANTITIES["concentration"]),
    EntryColumn("material", "material", 16),
    EntryColumn("machine", "machine", 12),
    EntryColumn("coolant", "coolant", 12, required=False),
    EntryColumn("date", "date", 12, quantity=DAY, help="date of the trial"),
    EntryColumn("knee", "knee", 9, quantity=_DEPTH),
    EntryColumn("low", "low", 9, quantity=_DEPTH, help="knee, lower end of the interval"),
    EntryColumn("high", "high", 9, quantity=_DEPTH, help="knee, upper end of the interval"),
    EntryColumn(
        "level",
        "level",
        10,
        required=False,
        quantity=QUANTITIES["specific_energy"],
        help="level of specific energy beyond the knee",
    ),
    EntryColumn("density", "C", 9, quantity=QUANTITIES["grit_density"], help="active grits per area that the trial used"),
    EntryColumn("ratio", "r", 7, quantity=QUANTITIES["shape_ratio"], help="chip width to thickness ratio that the trial used"),
    EntryColumn("who", "who", 10, help="who found it"),
    EntryColumn("note", "note", 28, required=False),
    # New columns stand after all older ones, and may be blank: a row of an older record is pasted as it is.
    EntryColumn(
        "scatter", "scatter", 10, required=False, quantity=_SCATTER, help="scatter of the trial's readings about the fit"
    ),
    EntryColumn(
        "degrees_of_freedom",
        "degrees of freedom",
        10,
        required=False,
        quantity=_FREEDOM,
        help="degrees of freedom of the scatter",
    ),
    EntryColumn("steepness", "steepness", 10, required=False, quantity=_STEEPNESS, help="steepness of the fall below the knee"),
    EntryColumn("shallowest", "shallowest", 11, required=False, quantity=_DEPTH, help="shallowest depth that the trial read"),
    EntryColumn("deepest", "deepest", 9, required=False, quantity=_DEPTH, help="deepest depth that the trial read"),
    EntryColumn("units", "units", 8, required=False, choices=UNITS, help="units in which the trial was typed"),
)
_FIRST_COLUMN = 3  # after the row's number and its status
_AGAIN, _FIRST_PAGE = 3, 14  # columns: the last on both printed pages across, and the last of the first page
_WRAPPED = dict(wrap_text=True, vertical="center", horizontal="left")
RECORD_SHEET, RECORD_CHECKS = "Record", "Record checks"
RECORD = Columns(RECORD_SHEET, COLUMNS, FIRST_ROW, LAST_ROW, _FIRST_COLUMN)
CHECKS = Columns(
    RECORD_CHECKS,
    (
        Column("number", "no.", 5, "0"),
        Column("key", "key, without outer spaces", 24),
        Column("same_key", "rows with this key", 12, "0"),
        Column("missing", "missing or wrong", 40),
        Column("age", "age, months", 14, "0.0"),
        Column("chosen", "is looked up (1 yes)", 14, "0"),
        Column("status", "status", 18),
        Column("date", "date, if it is one", 14, DATE_FORMAT),
        Column("unusual", "usual is another range", 22),
    ),
    FIRST_ROW,
    LAST_ROW,
)


def record_inputs(page: Page, today: datetime.date | None, months: float) -> None:
    """What decides whether an entry is outdated."""
    page.given(_TODAY, today)
    page.input("months", months, quantity=_MONTHS, unit="months", text="Older entries are marked. A month counts 30.4375 days.")


def record_pages(book: Book, records: Sequence[Sequence[Any]], *, is_copy: bool = False) -> None:
    """The sheets Record and Record checks; records are rows by the COLUMNS, shorter rows allowed."""
    rows = filled_up("records", records, ROWS, "rows")
    if any(len(record) > len(COLUMNS) for record in records):
        raise ValueError(f"records must be rows of at most {len(COLUMNS)} values (got {max(map(len, records))})")
    page = book.page("Record", "Record of knees", (5, 17) + RECORD.widths, state_columns=_AGAIN)
    _head_on_both_pages(page.sheet)
    where = "A copy: the shop's record stands in knee_record.xlsx; the day of copying stands on Inputs. " if is_copy else ""
    for row, text in (
        (
            2,
            f"{where}Paste rows as values (Ctrl+Shift+V): a plain paste carries formulas and links. A key names the row: keep it short and "
            "use it once. C and r are those that the trial computed with: a knee means a depth only together with them.",
        ),
        (
            3,
            "Needed: all but "
            + ", ".join(column.label for column in COLUMNS if not column.required)
            + ". The sheet Record checks says what is missing in an incomplete row. Whatever units a trial was typed in (column units), the "
            "row is in the units of the headings.",
        ),
    ):
        merged(
            page.sheet, f"{get_column_letter(_AGAIN + 1)}{row}:{get_column_letter(_FIRST_PAGE)}{row}", text, "gf line", **_WRAPPED
        )
    page.row = FIRST_ROW - 1
    page.table_head(("no.", "status") + RECORD.headings, lines=3)
    entry_rows(page, RECORD, rows, "in_record_")
    for number in range(1, ROWS + 1):
        page.row = FIRST_ROW + number - 1
        page.cells((number, "=" + CHECKS.cell("status", page.row)), formats=("0",))
    book.name("in_records", page.sheet, RECORD.range(COLUMNS[0].name, COLUMNS[-1].name))
    book.name("out_record_status", page.sheet, f"B{FIRST_ROW}:B{LAST_ROW}")
    page.sheet.freeze_panes = f"D{FIRST_ROW}"
    page.sheet.print_title_rows = f"1:{FIRST_ROW - 1}"
    _judgement(book)
    for word, advice in (
        (DUPLICATE, "the same key stands in several rows: delete or rename all but one"),
        (INCOMPLETE, "the sheet Record checks says what is missing or wrong"),
        (FUTURE, "correct the date of the trial, or type a later one for in_today, or none"),
        (OUTDATED, "repeat the trial; use the knee with care until then"),
    ):
        book.look_if(
            f"entries of the record that are {word}" if word != FUTURE else "entries of the record dated after today",
            f'COUNTIF(out_record_status,"{word}")>0',
            f"sheet Record: {advice}",
        )
    book.look_if(
        "entries of the record with a value out of the usual",
        f"SUMPRODUCT(({CHECKS.area('unusual')}<>{quoted('')})*1)>0",
        "the sheet Record checks says which: a slip, another unit, or is it so?",
    )


def _head_on_both_pages(sheet) -> None:
    """Two pages across; title, state and check line keep within the columns that both have."""
    again = get_column_letter(_AGAIN)
    sheet.print_title_cols = f"A:{again}"
    sheet.col_breaks.append(Break(id=_FIRST_PAGE))
    sheet["A2"].font, sheet["A2"].alignment = font(10, bold=True), Alignment(**_WRAPPED)
    sheet["A3"].font, sheet["A3"].alignment = font(9, bold=True), Alignment(wrap_text=True, vertical="top")
    sheet["A4"].font, sheet["A4"].alignment = font(9), Alignment(wrap_text=True, vertical="top")
    for row in (3, 4):
        sheet.merge_cells(f"A{row}:{again}{row}")
    for row, height in {2: 41, 3: 36, 4: 25, 5: 3, 6: 3}.items():
        sheet.row_dimensions[row].height = height


def _judgement(book: Book) -> None:
    page = book.page("Record checks", "Record checks: one row for each row of the record", CHECKS.widths)
    page.note("Rows are judged in the order of the words duplicate, incomplete, date after today, outdated, ok.")
    page.cells(
        (
            "",
            "ages count from",
            "="
            + first_of(
                (number_check("in_today", DAY), "in_today"),
                (f"in_today<>{quoted('')}", "NA()"),
                (f"COUNT({CHECKS.area('date')})>0", f"MAX({CHECKS.area('date')})"),
                otherwise="NA()",
            ),
            "=" + first_of(('in_today=""', quoted("the newest entry")), otherwise=quoted("the date of today, as typed")),
            "outdated after",
            "=" + first_of((number_check("in_months", _MONTHS), "in_months"), otherwise="NA()"),
        ),
        formats=(None, None, DATE_FORMAT, None, None, '0.0" months"'),
    )
    row = page.row - 1
    for name, letter in (("record_day", "C"), ("record_day_word", "D"), ("record_months", "F")):
        book.name(f"out_{name}", page.sheet, f"{letter}{row}")
    page.columns_head(CHECKS, lines=2)
    for number in range(1, ROWS + 1):
        page.columns_row(CHECKS, {"number": number}, _formulas(page.row))
    page.sheet.freeze_panes = f"A{FIRST_ROW}"
    for name, column in (("missing", "missing"), ("count", "same_key"), ("chosen", "chosen"), ("unusual", "unusual")):
        book.name(f"out_record_{name}", page.sheet, CHECKS.range(column))


def _formulas(row: int) -> dict[str, str]:
    """The formulas of a row of the sheet Record checks, by column."""
    own, cell = CHECKS.row_here(row), RECORD.row_cells(row)
    blank = f"COUNTA({RECORD.sheet}!{RECORD.here(COLUMNS[0].name, row)}:{RECORD.here(COLUMNS[-1].name, row)})=0"
    empty = quoted("")
    low, knee, high = (cell[name] for name in ("low", "knee", "high"))
    interval = first_of(
        (f"NOT({are_numbers(low, knee, high)})", empty),
        (f"{low}>{knee}", quoted(" interval")),
        (f"{knee}>{high}", quoted(" interval")),
        otherwise=empty,
    )
    knee_read = first_of(
        (f"IF({are_numbers(cell['shallowest'], knee)},{cell['shallowest']}>{knee},FALSE)", quoted(" depths read")),
        (f"IF({are_numbers(cell['deepest'], knee)},{cell['deepest']}<{knee},FALSE)", quoted(" depths read")),
        otherwise=empty,
    )
    missing = [first_of((_fits(column, cell[column.name]), empty), otherwise=quoted(f" {column.label}")) for column in COLUMNS]
    unusual = [
        first_of((_is_unusual(column.quantity, cell[column.name]), quoted(f" {column.label}")), otherwise=empty)
        for column in COLUMNS
        if column.quantity and column.quantity.usual
    ]
    return dict(
        key=first_of((f"ISERROR({cell['key']})", empty), otherwise=f"TRIM({cell['key']})"),
        same_key=first_of((f"{own['key']}={empty}", "0"), otherwise=f"SUMPRODUCT(({CHECKS.area('key')}={own['key']})*1)"),
        missing=first_of((blank, empty), otherwise=f"TRIM({'&'.join([*missing, interval, knee_read])})"),
        age=first_of((are_numbers(own["date"]), f"(out_record_day-{own['date']})/{DAYS_PER_MONTH}"), otherwise=empty),
        chosen=first_of((f"{own['key']}={empty}", "0"), (f"{own['key']}=out_lookup_trimmed", "1"), otherwise="0"),
        status=first_of(
            (blank, empty),
            (f"{own['same_key']}>1", quoted(DUPLICATE)),
            (f"{own['missing']}<>{empty}", quoted(INCOMPLETE)),
            (f"{own['age']}<0", quoted(FUTURE)),
            (f"{own['age']}>out_record_months", quoted(OUTDATED)),
            otherwise=quoted(OK),
        ),
        date=first_of((number_check(cell["date"], DAY), cell["date"]), otherwise=empty),
        unusual=f"TRIM({'&'.join(unusual)})",
    )


def _fits(column: EntryColumn, cell: str) -> str:
    """TRUE when the cell holds what the column takes."""
    if column.quantity:
        number = number_check(cell, replace(column.quantity, high=column.quantity.high or column.quantity.possible))
        return number if column.required else f"IF(ISBLANK({cell}),TRUE,{number})"
    if column.choices:
        known = "+".join(f"(TRIM({cell})={quoted(word)})" for word in ("", *column.choices))
        return f"IF(ISERROR({cell}),FALSE,{known}>0)"
    return f'IF(ISERROR({cell}),FALSE,TRIM({cell})<>"")' if column.required else f"NOT(ISERROR({cell}))"


def _is_unusual(quantity: Quantity, cell: str) -> str:
    low, high = quantity.usual
    return f"IF({number_check(cell, quantity)},({cell}<{low:G})+({cell}>{high:G})>0,FALSE)"


def look_up(page: Page, key: str) -> None:
    """The key to look up, and whether what the record says of it may be used."""
    page.text_input("lookup_key", key, label="key", text="Choose one of the keys of the sheet Record, or type it.")
    page.offer(f"C{page.row - 1}", "in_record_key", "key", "One of the keys of the sheet Record.")
    page.result(
        "lookup_word",
        first_of(
            (f"out_lookup_trimmed={quoted('')}", quoted(NO_KEY)),
            ("SUM(out_record_chosen)=0", quoted(NOT_FOUND)),
            ("SUM(out_record_chosen)>1", quoted(DUPLICATE)),
            otherwise="INDEX(out_record_status,out_lookup_row)",
        ),
        label="may it be used",
        digits=None,
        text=f"{OK}; or {NO_KEY}, {NOT_FOUND}, {DUPLICATE}, {INCOMPLETE}, {FUTURE}; or {OUTDATED}",
    )
    page.sheet.cell(page.row - 1, 3).alignment = Alignment(horizontal="left", vertical="top", indent=1, shrink_to_fit=True)


def looked_up(page: Page) -> None:
    """What the record says of the key."""
    usable = f"OR(out_lookup_word={quoted(OK)},out_lookup_word={quoted(OUTDATED)})"
    nothing = 'out_lookup_word&": nothing is looked up, and #N/A stands for it; choose a key that may be used"'
    page.sentence("lookup_state", first_of((usable, "out_lookup_word"), otherwise=nothing), label="may it be used")
    page.step(
        "lookup_trimmed",
        'IF(ISERROR(in_lookup_key),"",TRIM(in_lookup_key))',
        label="key, without outer spaces",
        digits=None,
        text="Capital and small letters count the same.",
    )
    page.step(
        "lookup_row",
        "IF(SUM(out_record_chosen)=1,MATCH(1,out_record_chosen,0),NA())",
        label="row of the record",
        digits=0,
        text="#N/A: not exactly one row has this key.",
    )
    page.step("lookup_day", "out_record_day", label="its age counts from", digits=None)
    page.sheet.cell(page.row - 1, 3).number_format = DATE_FORMAT
    page.sentence("lookup_day_word", "out_record_day_word", label="which is")
    for column in COLUMNS[1:]:
        if column.quantity is DAY:
            page.heading("What the trial found")
            page.rows_head()
        found = f"INDEX(in_record_{column.name},out_lookup_row)"
        value = first_of((f"NOT({usable})", "NA()"), (f"ISBLANK({found})", quoted("")), otherwise=found)
        name, label = f"lookup_{column.name}", column.help or column.label
        quantity = column.quantity
        if quantity is None:
            page.sentence(name, value, label=label)
            page.sheet.cell(page.row - 1, 3).alignment = Alignment(horizontal="left", vertical="top", indent=1)  # numbers, too
            continue
        page.result(
            name,
            value,
            label=label,
            unit=quantity.unit,
            symbol=quantity.symbol,
            digits=quantity.digits,
            text="" if column.required else "May be blank.",
        )
        if column.quantity is DAY:
            page.sheet.cell(page.row - 1, 3).number_format = DATE_FORMAT
