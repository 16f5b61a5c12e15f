"""The sheet Confirm: does a recorded knee still hold on a new part, or after dressing?  Four readings about it, at most eight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...knee import confirm
from ...quantities import QUANTITIES
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.columns import filled_up
from ...sheets.conditions import are_numbers, first_of, number_check, quoted
from ...sheets.page import Page
from ...sheets.panels import NOTHING, merged, row_heights, title
from ...sheets.styles import INPUT_TAB, font, next_format, outline, warning_format
from ..blocks.state import MARKED_SPEED, NOT_FULFILLED
from .answers import answers, is_damage, looked_up, panels
from .steps import steps_page
from .tables import CONFIRM as SHEET
from .tables import CONFIRMING, CONFIRMING_INPUTS, LAST_COLUMN, READINGS, ROWS
from .tables import SHEET as STEPS_SHEET

_WIDTHS = (*CONFIRMING.widths, 14, 14, 11, 12, 13)
_FIRST, _LAST_ROW = CONFIRMING.first_row, CONFIRMING.last_row
_HEIGHTS = {1: 20, 2: 28, 3: 16, 4: 36, 5: 17, 6: 18, 7: 17, 8: 18, 9: 20, 10: 20, 11: 20, 12: 20, 13: 8, 14: 18, 15: 17, 16: 15}
_STYLES = dict(status="gf word", damage="gf choice")
_WANTED = Quantity("wanted", "-", "wanted interval of the knee, ±", "%", "Half the interval, of the knee.", high=50.0)
_RPM = QUANTITIES["work_rpm"]
_INPUTS = (  # name, label, quantity, help
    (
        "confirm_rpm",
        "work rpm that cuts the recorded knee in this setup",
        _RPM,
        "For the new part, wheel diameter and infeed: from speed_table.xlsx.",
    ),
    ("confirm_lowest_rpm", "lowest work rpm of the machine, or blank", _RPM, "Blank: no limit."),
    ("confirm_highest_rpm", "highest work rpm of the machine, or blank", _RPM, "Blank: no limit."),
    ("confirm_wanted", "wanted interval of the knee, ±", _WANTED, "5 is common practice."),
)


def defaults() -> dict[str, Any]:
    return dict(confirm_rpm=102.0, confirm_lowest_rpm=20.0, confirm_highest_rpm=250.0, confirm_wanted=5.0, confirm_readings=())


def state() -> str:
    """Formula text of the line on every sheet."""
    return first_of(
        NOT_FULFILLED,
        (
            "out_confirm_damage>0",
            '"! DAMAGE noted: "&out_confirm_damage_word&" in reading "&out_confirm_damage&" on the sheet Confirm. End it; do not set this depth."',
        ),
        otherwise=MARKED_SPEED,
    )


def confirm_pages(book: Book, values: dict[str, Any]) -> None:
    """The sheets Confirm and calc confirm."""
    sheet = book.sheet(SHEET, _WIDTHS)
    page = Page(book, sheet, len(_WIDTHS))
    sheet.sheet_properties.tabColor = INPUT_TAB
    title(sheet, "I")
    book.state_line(sheet, len(_WIDTHS))
    row_heights(sheet, {**_HEIGHTS, **dict.fromkeys(range(_FIRST, _LAST_ROW + 1), 20)})
    merged(sheet, f"A7:{LAST_COLUMN}7", "=out_check", "gf line").font = font(9, bold=True)
    _setup(page, values)
    _record(sheet)
    _readings(page, values["confirm_readings"])
    steps_page(book, _given(), [_row(row) for row in range(_FIRST, _LAST_ROW + 1)])
    answers(book)
    panels(sheet)
    _notes(page)
    sheet.freeze_panes = f"A{_FIRST}"
    sheet.print_area = f"A1:{LAST_COLUMN}{page.row - 1}"
    sheet.page_setup.fitToHeight = 1
    for rule in sheet.data_validations.dataValidation:
        rule.showInputMessage = False  # it would cover the readings; what a cell must be is said when it is not
    for selection in sheet.sheet_view.selection:
        selection.activeCell = selection.sqref = CONFIRMING.here("work_rpm", _FIRST)


def _setup(page: Page, values: dict[str, Any]) -> None:
    sheet, book = page.sheet, page.book
    merged(sheet, "A8:G8", "▼  type: the setup of the new part", "gf head", horizontal="left", indent=1, vertical="center")
    for row, (name, label, quantity, text) in enumerate(_INPUTS, 9):
        merged(sheet, f"A{row}:E{row}", label, "gf line")
        cell = sheet[f"F{row}"]
        cell.value, cell.style = values[name], "gf input"
        book.name(f"in_{name}", sheet, f"F{row}")
        page.validate(f"F{row}", quantity, label)
        sheet[f"G{row}"], sheet[f"G{row}"].style = quantity.unit, "gf line"
        fits = number_check(f"in_{name}", quantity)
        book.stop_unless(
            f"Confirm: {label}", f'IF(in_{name}="",TRUE,{fits})', f"in_{name}: must be {quantity.requirement}, or blank. {text}"
        )
    outline(sheet, "F9:F12")
    limits = are_numbers("in_confirm_lowest_rpm", "in_confirm_highest_rpm")
    book.stop_unless(
        "Confirm: lowest work rpm is not above the highest",
        f"IF({limits},in_confirm_lowest_rpm<=in_confirm_highest_rpm,TRUE)",
        "in_confirm_lowest_rpm must be <= in_confirm_highest_rpm",
    )


def _record(sheet) -> None:
    """What the record says for the key that is chosen on Look up."""

    def shown(name: str, digits: int | None) -> str:
        cell = looked_up(name)
        value = cell if digits is None else f"FIXED({cell},{digits},TRUE)"
        return f'IF(ISERROR({cell}),"{NOTHING}",IF({cell}="","{NOTHING}",{value}))'

    merged(
        sheet,
        f"H8:{LAST_COLUMN}8",
        "what the record says for the key of the sheet Look up",
        "gf head",
        horizontal="left",
        indent=1,
        vertical="center",
    )
    key = f'IF(out_lookup_trimmed="","{NOTHING}",out_lookup_trimmed)'
    lines = (
        ("key", f'={key}&": "&IF(ISERROR(out_lookup_word),"see Checks",out_lookup_word)', "wheel", "=" + shown("wheel", None)),
        (
            "knee and interval",
            f'={shown("knee", 3)}&" µm, "&{shown("low", 3)}&" to "&{shown("high", 3)}',
            "material",
            "=" + shown("material", None),
        ),
        (
            "steepness, scatter",
            f'={shown("steepness", 2)}&", "&{shown("scatter", 2)}&" %"',
            "machine",
            "=" + shown("machine", None),
        ),
        ("depths read", f'={shown("shallowest", 3)}&" to "&{shown("deepest", 3)}&" µm"', "coolant", "=" + shown("coolant", None)),
    )
    for row, (label, value, other, text) in enumerate(lines, 9):
        merged(sheet, f"H{row}:I{row}", label, "gf line")
        merged(sheet, f"J{row}:K{row}", value, "gf line").font = font(9, bold=True)
        sheet[f"L{row}"], sheet[f"L{row}"].style = other, "gf line"
        merged(sheet, f"M{row}:{LAST_COLUMN}{row}", text, "gf line").font = font(9, bold=True)
    outline(sheet, f"H9:{LAST_COLUMN}12")


def _readings(page: Page, readings: Sequence[Sequence[Any]]) -> None:
    sheet, book = page.sheet, page.book
    rows = filled_up("confirm_readings", readings, ROWS, "rows")
    merged(sheet, "C14:F14", "▼  type at the machine", "gf line", horizontal="center").font = font(9, bold=True)
    merged(sheet, "G14:I14", "what became of it", "gf line", horizontal="center").font = font(9, bold=True)
    units = ("", "1/min", "1/min", "any unit", "the same", "seen", "", "µm", "as load")
    for column, unit in zip(CONFIRMING.columns, units):
        for above, text, style in ((2, column.heading, "gf head"), (1, unit, "gf unit")):
            cell = sheet[CONFIRMING.here(column.name, _FIRST - above)]
            cell.value, cell.style = text, style
    for place, typed in enumerate(rows):
        row = _FIRST + place
        given = dict(zip(CONFIRMING_INPUTS, filled_up(f"reading {place + 1}", typed or (), len(CONFIRMING_INPUTS))))
        contents = {"number": place + 1, **given, **_formulas(row, place)}
        for column in CONFIRMING.columns:
            cell = sheet[CONFIRMING.here(column.name, row)]
            cell.value, cell.style = (
                contents[column.name],
                _STYLES.get(column.name, "gf input" if column.is_input else "gf result"),
            )
            if column.number_format:
                cell.number_format = column.number_format
    outline(sheet, CONFIRMING.range("work_rpm", "damage"))
    book.name("in_confirm_readings", sheet, CONFIRMING.range("work_rpm", "idle"))
    book.name("in_confirm_damage", sheet, CONFIRMING.range("damage"))
    book.name("out_confirm_status", sheet, CONFIRMING.range("status"))
    damages = ("burn", "crack", "breakdown")
    page.offer(CONFIRMING.range("damage"), damages, "damage", "What was seen on part or wheel; no or blank: nothing.")
    first = {name: f"${cell}" for name, cell in CONFIRMING.row_here(_FIRST).items()}
    next_format(sheet, CONFIRMING.range("set"), f"ISNUMBER({first['set']})")
    warning_format(sheet, CONFIRMING.range("status", "net"), f'LEFT({first["status"]},1)="!"')
    warning_format(sheet, CONFIRMING.range("damage"), is_damage(first["damage"]))


def _formulas(row: int, place: int) -> dict[str, str]:
    is_used = f'{CONFIRMING.here("status", row)}="used"'
    is_next = f"IF(ISNUMBER(out_confirm_next_rpm),out_confirm_typed={place},FALSE)"
    computed = {name: READINGS.cell(name, READINGS.first_row + place) for name in ("depth", "net")}
    return {
        "set": f'=IF({is_next},out_confirm_next_rpm,"")',
        "status": "=" + _status(row),
        **{name: f'=IF({is_used},{cell},"")' for name, cell in computed.items()},
    }


def _status(row: int) -> str:
    rpm, load, idle = (CONFIRMING.here(name, row) for name in ("work_rpm", "load", "idle"))
    named = ((rpm, "rpm"), (load, "load"), (idle, "idle"))
    return first_of(
        (f"COUNTA({rpm},{load},{idle})=0", quoted("")),
        *((f"ISERROR({cell})", quoted(f"! {word} not a number")) for cell, word in named),
        *((f"ISTEXT({cell})+ISLOGICAL({cell})>0", quoted(f"! {word} not a number")) for cell, word in named),
        *((f"ISBLANK({cell})", quoted(f"! {word} is blank")) for cell, word in named[:2]),
        (f"{rpm}<=0", quoted("! rpm not > 0")),
        (f"{idle}<0", quoted("! idle below 0")),
        (f"{load}-{idle}<=0", quoted("! load not above idle")),
        otherwise=quoted("used"),
    )


def _row(row: int) -> dict[str, str]:
    here = CONFIRMING.row_cells(row)
    return dict(
        work_rpm=here["work_rpm"],
        net_load=f"({here['load']}-{here['idle']})",
        is_used=f'{here["status"]}="used"',
        is_damaged=is_damage(here["damage"]),
    )


def _given() -> dict[str, str]:
    given = {
        name: looked_up(name)
        for name in ("knee", "low", "high", "steepness", "scatter", "degrees_of_freedom", "shallowest", "deepest")
    }
    return dict(
        given,
        rpm_at_knee="in_confirm_rpm",
        lowest_rpm="in_confirm_lowest_rpm",
        highest_rpm="in_confirm_highest_rpm",
        wanted="in_confirm_wanted",
        ready='out_confirm_waits=""',
        damage="out_confirm_damage>0",
    )


def _notes(page: Page) -> None:
    page.row = _LAST_ROW + 2
    for text in (
        f"Takes readings at four depths about the recorded knee and up to four more; `{confirm.CONFIRMED}` leans on the record and is never `found`. "
        f"`{confirm.CHANGED}`: do not use the record; `{confirm.GO_ON}`: not decided. The rule is that of gritfuncs.confirm_knee; the steps stand on the sheet {STEPS_SHEET}.",
        "Load in any unit, the same for all rows, at the same infeed rate and wheel speed; idle is taken off, blank where the load is net. Depth goes "
        "with the fourth root of work rpm. Depths stay in µm whatever units the setup was typed in.",
        "Once confirmed, write date and readings into the note of that row of the record, and leave its knee and date: they are those of the trial.",
    ):
        page.note(text.replace("`", ""), 2)
