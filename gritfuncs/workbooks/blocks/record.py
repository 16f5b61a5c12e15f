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
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter

from ...quantities import QUANTITIES, Quantity
from ..book import OK, Book, Page, number_check, number_format
from ..conditions import first_of, quoted

ROWS = 60
FIRST_ROW = 8  # of the sheets Record and Record checks alike
LAST_ROW = FIRST_ROW + ROWS - 1
DUPLICATE, INCOMPLETE, FUTURE, OUTDATED = "duplicate", "incomplete", "date after today", "outdated"
NO_KEY, NOT_FOUND = "no key chosen", "not in the record"
DAYS_PER_MONTH = 30.4375  # 365.25 / 12
DATE_FORMAT = "yyyy-mm-dd"

_FIRST_DAY, _LAST_DAY = 36526.0, 73050.0  # 2000-01-01 and 2099-12-31, as the numbers that spreadsheets count days by
_A_DAY = "a date from 2000 to 2099"
_DATE, _TODAY = (
    Quantity(name, "-", label, "-", "A date.", low=_FIRST_DAY, low_open=False, high=_LAST_DAY)
    for name, label in (("date", "date of the trial"), ("today", "today"))
)
_MONTHS = Quantity("months", "-", "months after which an entry is outdated", "-", "Wheels, coolant and machines change.")


@dataclass(frozen=True)
class Column:
    """A column of the record; without a quantity it takes a text."""

    name: str
    label: str  # of the look-up; the heading is the label and the unit
    width: int
    required: bool = True
    quantity: Quantity | None = None

    @property
    def heading(self) -> str:
        unit = self.quantity.unit if self.quantity else "-"
        return self.label if unit == "-" else f"{self.label}, {unit}"

    @property
    def number_format(self) -> str | None:
        if self.quantity is None:
            return None
        return DATE_FORMAT if self.quantity is _DATE else number_format(self.quantity.digits)


_DEPTH = QUANTITIES["grit_depth"]
COLUMNS: tuple[Column, ...] = (
    Column("key", "key", 22),
    Column("wheel", "wheel", 20),
    Column("grit", "grit", 9),
    Column("bond", "bond", 9, required=False),
    Column("concentration", "concentration", 14, required=False, quantity=QUANTITIES["concentration"]),
    Column("material", "material", 16),
    Column("machine", "machine", 12),
    Column("coolant", "coolant", 12, required=False),
    Column("date", "date", 12, quantity=_DATE),
    Column("knee", "knee", 9, quantity=_DEPTH),
    Column("low", "low", 9, quantity=_DEPTH),
    Column("high", "high", 9, quantity=_DEPTH),
    Column("level", "level", 10, required=False, quantity=QUANTITIES["specific_energy"]),
    Column("density", "C", 9, quantity=QUANTITIES["grit_density"]),
    Column("ratio", "r", 7, quantity=QUANTITIES["shape_ratio"]),
    Column("who", "who", 10),
    Column("note", "note", 28, required=False),
)
_LABELS = {
    "grit": "grit designation or size",
    "date": "date of the trial",
    "low": "knee, lower end of the interval",
    "high": "knee, upper end of the interval",
    "level": "level of specific energy beyond the knee",
    "density": "active grits per area that the trial used",
    "ratio": "chip width to thickness ratio that the trial used",
    "who": "who found it",
}
_FIRST_COLUMN = 3  # after the row's number and its status
_LETTERS = {column.name: get_column_letter(place) for place, column in enumerate(COLUMNS, start=_FIRST_COLUMN)}


def record_inputs(page: Page, today: datetime.date | None, months: float) -> None:
    """What decides whether an entry is outdated."""
    page.input(
        "today",
        today,
        quantity=_TODAY,
        unit="date",
        optional=True,
        requirement=_A_DAY,
        text="Ages count from here; a workbook does not know the date by itself. Blank: from the newest entry of the record. Typed (in "
        "Excel: Ctrl and ;), it also finds entries dated after it.",
    )
    page.sheet.cell(page.row - 1, 3).number_format = DATE_FORMAT
    page.input("months", months, quantity=_MONTHS, unit="months", text="Older entries are marked. A month counts 30.4375 days.")


def record_pages(book: Book, records: Sequence[Sequence[Any]]) -> None:
    """The sheets Record and Record checks; records are rows by the COLUMNS, shorter rows allowed."""
    if len(records) > ROWS:
        raise ValueError(f"records must be at most {ROWS} rows (got {len(records)})")
    if any(len(record) > len(COLUMNS) for record in records):
        raise ValueError(f"records must be rows of at most {len(COLUMNS)} values (got {max(map(len, records))})")
    page = book.page("Record", "Record of knees", (5, 17) + tuple(column.width for column in COLUMNS))
    page.note(
        "One row for each wheel, material and machine. A key names the row: keep it short and use it once. C and r are those that the "
        "trial computed with: a knee means a depth only together with them."
    )
    page.note(
        "Needed: all but "
        + ", ".join(column.label for column in COLUMNS if not column.required)
        + ". The sheet Record checks says what is missing in an incomplete row."
    )
    page.table_head(("no.", "status") + tuple(column.heading for column in COLUMNS), lines=3)
    for number in range(1, ROWS + 1):
        record = tuple(records[number - 1]) if number <= len(records) else ()
        page.cells(
            (number, f"='Record checks'!G{page.row}") + record + (None,) * (len(COLUMNS) - len(record)),
            formats=("0", None) + tuple(column.number_format for column in COLUMNS),
        )
        for place, column in enumerate(COLUMNS, start=_FIRST_COLUMN):
            page.mark_input(page.row - 1, place)
            if not column.quantity:
                page.sheet.cell(page.row - 1, place).alignment = Alignment(horizontal="left", vertical="top")
    for column in COLUMNS:
        letter = _LETTERS[column.name]
        area = f"{letter}{FIRST_ROW}:{letter}{LAST_ROW}"
        book.name(f"in_record_{column.name}", page.sheet, area)
        if column.quantity:
            page.validate(area, column.quantity, requirement=_A_DAY if column.quantity is _DATE else "")
    letters = tuple(_LETTERS.values())
    book.name("in_records", page.sheet, f"{letters[0]}{FIRST_ROW}:{letters[-1]}{LAST_ROW}")
    book.name("out_record_status", page.sheet, f"B{FIRST_ROW}:B{LAST_ROW}")
    page.sheet.freeze_panes = f"D{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"
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


def _judgement(book: Book) -> None:
    page = book.page(
        "Record checks", "Record checks: one row for each row of the record", (5, 24, 12, 40, 14, 14, 18, 14), one_page=True
    )
    page.note("Rows are judged in the order of the words duplicate, incomplete, date after today, outdated, ok.")
    dates = f"H${FIRST_ROW}:H${LAST_ROW}"
    page.cells(
        (
            "",
            "ages count from",
            "="
            + first_of(
                (number_check("in_today", _TODAY), "in_today"),
                ('in_today<>""', "NA()"),
                (f"COUNT({dates})>0", f"MAX({dates})"),
                otherwise="NA()",
            ),
            "=" + first_of(('in_today=""', quoted("the newest entry")), otherwise=quoted("the date of today, as typed")),
            "outdated after, months",
            "=" + first_of((number_check("in_months", _MONTHS), "in_months"), otherwise="NA()"),
        ),
        formats=(None, None, DATE_FORMAT, None, None, "0.0"),
    )
    day, months = f"$C${page.row - 1}", f"$F${page.row - 1}"
    book.name("out_record_day", page.sheet, day.replace("$", ""))
    book.name("out_record_day_word", page.sheet, f"D{page.row - 1}")
    page.table_head(
        (
            "no.",
            "key, without outer spaces",
            "rows with this key",
            "missing or wrong",
            "age, months",
            "is looked up (1 yes)",
            "status",
            "date, if it is one",
        ),
        lines=2,
    )
    keys = f"B${FIRST_ROW}:B${LAST_ROW}"
    for number in range(1, ROWS + 1):
        row = page.row
        cell = {name: f"Record!{letter}{row}" for name, letter in _LETTERS.items()}
        filled = f"COUNTA(Record!{_LETTERS[COLUMNS[0].name]}{row}:{_LETTERS[COLUMNS[-1].name]}{row})"
        missing = "&".join(f'IF({_fits(column, cell[column.name])},""," {column.label}")' for column in COLUMNS)
        numbers = "*".join(f"ISNUMBER({cell[name]})" for name in ("low", "knee", "high"))
        interval = (
            f'IF({numbers}=1,IF({cell["low"]}<={cell["knee"]},IF({cell["knee"]}<={cell["high"]},""," interval")," interval"),"")'
        )
        page.cells(
            (
                number,
                f'=IF(ISERROR({cell["key"]}),"",TRIM({cell["key"]}))',
                f'=IF(B{row}="",0,SUMPRODUCT(({keys}=B{row})*1))',
                f'=IF({filled}=0,"",TRIM({missing}&{interval}))',
                f'=IF(ISNUMBER({cell["date"]}),({day}-{cell["date"]})/{DAYS_PER_MONTH},"")',
                f'=IF(B{row}="",0,IF(B{row}=out_lookup_trimmed,1,0))',
                f'=IF({filled}=0,"",IF(C{row}>1,"{DUPLICATE}",IF(D{row}<>"","{INCOMPLETE}",IF(E{row}<0,"{FUTURE}",'
                f'IF(E{row}>{months},"{OUTDATED}","{OK}")))))',
                "=" + first_of((number_check(cell["date"], _DATE), cell["date"]), otherwise=quoted("")),
            ),
            formats=("0", None, "0", None, "0.0", "0", None, DATE_FORMAT),
        )
    page.sheet.freeze_panes = f"A{FIRST_ROW}"
    book.name("out_record_missing", page.sheet, f"D{FIRST_ROW}:D{LAST_ROW}")
    book.name("out_record_count", page.sheet, f"C{FIRST_ROW}:C{LAST_ROW}")
    book.name("out_record_chosen", page.sheet, f"F{FIRST_ROW}:F{LAST_ROW}")


def _fits(column: Column, cell: str) -> str:
    """TRUE when the cell holds what the column takes."""
    if column.quantity:
        number = number_check(cell, column.quantity)
        return number if column.required else f"IF(ISBLANK({cell}),TRUE,{number})"
    return f'IF(ISERROR({cell}),FALSE,TRIM({cell})<>"")' if column.required else f"NOT(ISERROR({cell}))"


def look_up(page: Page, key: str) -> None:
    """The key to look up and what the record says for it."""
    page.text_input("lookup_key", key, label="key", text="Choose one of the keys of the sheet Record, or type it.")
    page.offer(f"C{page.row - 1}", "in_record_key", "key", "One of the keys of the sheet Record.")
    page.result(
        "lookup_trimmed",
        'IF(ISERROR(in_lookup_key),"",TRIM(in_lookup_key))',
        label="key, without outer spaces",
        digits=None,
        kind="step",
        text="Capital and small letters count the same.",
    )
    page.result(
        "lookup_row",
        "IF(SUM(out_record_chosen)=1,MATCH(1,out_record_chosen,0),NA())",
        label="row of the record",
        digits=0,
        kind="step",
        text="#N/A: not exactly one row has this key.",
    )
    page.result(
        "lookup_word",
        f'IF(out_lookup_trimmed="","{NO_KEY}",IF(SUM(out_record_chosen)=0,"{NOT_FOUND}",'
        f'IF(SUM(out_record_chosen)>1,"{DUPLICATE}",INDEX(out_record_status,out_lookup_row))))',
        label="may it be used",
        digits=None,
        text=f"{OK}; or {NO_KEY}, {NOT_FOUND}, {DUPLICATE}, {INCOMPLETE}, {FUTURE}; or {OUTDATED}.",
    )
    page.result("lookup_day", "out_record_day", label="its age counts from", digits=None, kind="step")
    page.sheet.cell(page.row - 1, 3).number_format = DATE_FORMAT
    page.sentence("lookup_day_word", "out_record_day_word", label="which is")
    usable = f'IF(out_lookup_word="{OK}",TRUE,out_lookup_word="{OUTDATED}")'
    for column in COLUMNS[1:]:
        found = f"INDEX(in_record_{column.name},out_lookup_row)"
        shown = f'IF(ISBLANK({found}),"",{found})'
        name, value, label = (f"lookup_{column.name}", f"IF({usable},{shown},NA())", _LABELS.get(column.name, column.label))
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
        if column.quantity is _DATE:
            page.sheet.cell(page.row - 1, 3).number_format = DATE_FORMAT
