"""The table of readings on the sheet Trial: what to type at the machine, and what became of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from openpyxl.worksheet.datavalidation import DataValidation

from ...sheets.book import Book
from ...sheets.columns import filled_up
from ...sheets.conditions import first_of, quoted
from ...sheets.styles import MEDIUM, next_format, not_used_format, outline, warning_format
from ...trial.inputs import OBSERVED_COLUMNS, READING_COLUMNS
from .calculation import IS_BOTH, IS_ENERGY
from .tables import CALCULATION, FINISH, FINISH_SHEET, FIRST_ROW, PLAN, READINGS, ROWS

DAMAGES = ("no", "burn", "crack", "breakdown")
HEAD = FIRST_ROW - 2  # row of the headings; the units stand below it
_CHOICES = ("use", "note", "damage")
_UNITS = dict(
    set=f"=IF({IS_BOTH},{quoted('infeed · rpm')},{quoted('1/min')})",
    infeed_rate='=IF(in_units="inch","in/min","mm/min")',
    work_rpm="1/min",
    load="=out_load_unit",
    idle=f"=IF({IS_ENERGY},{quoted('not used')},out_load_unit)",
    use="yes/no",
    damage="seen",
    depth="µm",
    energy="=out_energy_unit",
)


def typed_rows(values: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What is typed in each row, by column, of values with `readings`, `observations` and `row_infeed_rates`."""
    given = {"readings": READING_COLUMNS, "observations": OBSERVED_COLUMNS, "row_infeed_rates": ("infeed_rate",)}
    values = {**values, "row_infeed_rates": [(rate,) for rate in values["row_infeed_rates"]]}
    for name, columns in given.items():
        if any(len(row) > len(columns) for row in values[name]):
            raise ValueError(f"{name} must be rows of at most {len(columns)} values (got {max(map(len, values[name]))})")
    rows = {name: filled_up(name, values[name], ROWS, "rows") for name in given}
    return [
        {column: value for name, columns in given.items() for column, value in zip(columns, rows[name][place] or ())}
        for place in range(ROWS)
    ]


def readings_table(book: Book, sheet, typed: Sequence[Mapping[str, Any]]) -> None:
    for column in READINGS.columns:
        head, unit = (sheet[READINGS.here(column.name, row)] for row in (HEAD, HEAD + 1))
        head.value, head.style = "=out_load_word" if column.name == "energy" else column.heading, "gf head"
        unit.value, unit.style = _UNITS.get(column.name), "gf unit"
    for place, values in enumerate(typed):
        row = FIRST_ROW + place
        formulas = _formulas(row, place)
        for column in READINGS.columns:
            cell = sheet[READINGS.here(column.name, row)]
            cell.style = "gf choice" if column.name in _CHOICES else "gf input" if column.is_input else "gf result"
            if column.name == "status":
                cell.style = "gf word"
            if column.number_format:
                cell.number_format = column.number_format
            cell.value = values.get(column.name) if column.is_input else formulas[column.name]
        sheet.row_dimensions[row].height = 15
    _outlines(sheet)
    book.name("in_readings", sheet, READINGS.range(READING_COLUMNS[0], READING_COLUMNS[-1]))
    book.name("in_row_infeed_rates", sheet, READINGS.range("infeed_rate"))
    book.name("in_damage", sheet, READINGS.range("damage"))
    _choices(sheet, READINGS.range("use"), ("yes", "no"))
    _choices(sheet, READINGS.range("damage"), DAMAGES)
    _formats(sheet)


def figures(number: str) -> str:
    """Formula text: a number above 0 with its first three figures, as text."""
    return f"FIXED({number},MAX(0,2-INT(LOG10({number}))),TRUE)"


def _formulas(row: int, place: int) -> dict[str, Any]:
    behind = {name: CALCULATION.cell(name, CALCULATION.first_row + place) for name in ("short", "depth", "energy")}
    number, planned = READINGS.here("number", row), PLAN.cell("in_turn", PLAN.first_row + place)
    infeed = PLAN.cell("infeed_in_turn", PLAN.first_row + place)
    later = f'IF(in_follow="plan",IF({number}>out_last_row,ISNUMBER({planned}),FALSE),FALSE)'
    return {
        "number": place + 1,
        "set": "="
        + first_of(
            (
                f"{number}=out_next_row",
                first_of(
                    ("NOT(ISNUMBER(out_next_rpm))", quoted("")),
                    ("ISNUMBER(out_next_infeed_rate)", f'"►"&{figures("out_next_infeed_rate")}&" · "&{figures("out_next_rpm")}'),
                    otherwise="out_next_rpm",
                ),
            ),
            (later, f'IF({IS_BOTH},{figures(infeed)}&" · "&{figures(planned)},FIXED({planned},1,TRUE))'),
            otherwise=quoted(""),
        ),
        "status": "=" + behind["short"],
        "depth": "=" + behind["depth"],
        "energy": "=" + behind["energy"],
    }


def _outlines(sheet) -> None:
    """A strong line round what is to be typed, its headings included."""
    inputs = [column.name for column in READINGS.columns if column.is_input]
    first, last = READINGS.letter(inputs[0]), READINGS.letter(inputs[-1])
    outline(sheet, f"{first}{HEAD}:{last}{HEAD + 1}", MEDIUM)
    outline(sheet, READINGS.range(inputs[0], inputs[-1]), MEDIUM)


def _choices(sheet, cells: str, words: Sequence[str]) -> None:
    """Words to choose from; any other stays possible and is judged. No prompt: it would cover the readings."""
    listed = ",".join(words)
    rule = DataValidation(type="list", formula1=f'"{listed}"', allow_blank=True, showErrorMessage=False, showInputMessage=False)
    sheet.add_data_validation(rule)
    rule.add(cells)


def _formats(sheet) -> None:
    first = {name: f"${READINGS.letter(name)}{FIRST_ROW}" for name in ("set", "status", "damage")}
    next_format(sheet, READINGS.range("set"), f'IF(ISNUMBER({first["set"]}),TRUE,LEFT({first["set"]},1)="►")')
    not_used_format(sheet, READINGS.range("infeed_rate", "idle"), f'LEFT({first["status"]},8)="not used"')
    warning_format(sheet, READINGS.range("status", "energy"), f'LEFT({first["status"]},1)="!"')
    word = f"TRIM({first['damage']})"  # of its own sheet, as in every condition of a format
    warning_format(sheet, READINGS.range("damage"), f'AND({word}<>"",{word}<>"no")')


def finish_page(book: Book, typed: Sequence[Mapping[str, Any]]) -> None:
    """The sheet for what is measured on the parts afterwards."""
    page = book.page(FINISH_SHEET, "Finish of the part and wear of the wheel, where they were measured", FINISH.widths)
    page.note("May stay blank; nothing is computed from them. Damage is typed on the sheet Trial and shown here.")
    page.columns_head(FINISH, lines=3)
    for place, values in enumerate(typed):
        at = CALCULATION.first_row + place
        shown = {name: READINGS.cell(name, FIRST_ROW + place) for name in ("damage", "note")}
        cells = {
            "number": place + 1,
            "finish": values.get("finish"),
            "wear": values.get("wear"),
            **{name: f'=IF(ISBLANK({cell}),"",{cell})' for name, cell in shown.items()},
            "rpm": "=" + CALCULATION.cell("rpm_read", at),
            "depth": "=" + CALCULATION.cell("depth_read", at),
        }
        page.columns_row(FINISH, cells)
    book.name("in_observations", page.sheet, FINISH.range(OBSERVED_COLUMNS[0], OBSERVED_COLUMNS[-1]))
    page.sheet.freeze_panes = f"B{FINISH.first_row}"
