"""The sheet Confirm: does a recorded knee still hold on a new part, or after dressing?  Four readings about it, at most eight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...knee import confirm
from ...knee.reach import ENERGY_FACTOR
from ...quantities import NO_DAMAGE_WORDS, QUANTITIES, Quantity
from ..blocks.limits import above, below
from ..blocks.record import OUTDATED
from ..book import OK, Book, Page, number_check
from ..columns import filled_up
from ..conditions import are_numbers, first_of, quoted
from ..panels import NOTHING, merged, panel, row_heights, title, word_panel
from ..styles import INPUT_TAB, font, next_format, outline, warning_format
from . import cases, steps
from .tables import READINGS, ROWS
from .tables import SHEET as STEPS_SHEET

SHEET = "Confirm"
_WIDTHS = (4, 9, 9, 9, 9, 12, 21, 11, 11, 14, 14, 11, 12, 13)
_LAST = "N"
_FIRST = 17  # row of the first reading
_LAST_ROW = _FIRST + ROWS - 1
_HEIGHTS = {1: 20, 2: 28, 3: 16, 4: 36, 5: 17, 6: 18, 7: 8, 8: 18, 9: 20, 10: 20, 11: 20, 12: 20, 13: 8, 14: 18, 15: 17, 16: 15}
_WANTED = Quantity("wanted", "-", "wanted interval of the knee, ±", "%", "Half the interval, of the knee.", high=50.0)
_RPM = QUANTITIES["work_rpm"]
_INPUTS = (  # name, label, quantity, may be blank, help
    (
        "confirm_rpm",
        "work rpm that cuts the recorded knee in this setup",
        _RPM,
        False,
        "For the new part, wheel diameter and infeed: from speed_table.xlsx.",
    ),
    ("confirm_lowest_rpm", "lowest work rpm of the machine, or blank", _RPM, True, "Blank: no limit."),
    ("confirm_highest_rpm", "highest work rpm of the machine, or blank", _RPM, True, "Blank: no limit."),
    ("confirm_wanted", "wanted interval of the knee, ±", _WANTED, False, "5 is common practice."),
)
_COLUMNS = (("rpm", _RPM), ("load", None), ("idle", None), ("damage", None))


def defaults() -> dict[str, Any]:
    return dict(confirm_rpm=102.0, confirm_lowest_rpm=20.0, confirm_highest_rpm=250.0, confirm_wanted=5.0, confirm_readings=())


def looked_up(name: str) -> str:
    return f"out_lookup_{name}"


def state() -> str:
    """Formula text of the line on every sheet."""
    return first_of(
        ("out_stops>0", '"STOP: not fulfilled: "&out_first_stop&". Correct it: see Checks."'),
        (
            "out_confirm_damage>0",
            '"! DAMAGE noted: "&out_confirm_damage_word&" in reading "&out_confirm_damage&" on the sheet Confirm. End it; do not set this depth."',
        ),
        otherwise='"Never run a wheel above the speed marked on it. Guards closed, extraction on."',
    )


def confirm_pages(book: Book, values: dict[str, Any]) -> None:
    """The sheets Confirm and calc confirm."""
    sheet = book.sheet(SHEET, _WIDTHS)
    page = Page(book, sheet, len(_WIDTHS))
    sheet.sheet_properties.tabColor = INPUT_TAB
    title(sheet, "I")
    book.state_line(sheet, len(_WIDTHS))
    row_heights(sheet, {**_HEIGHTS, **dict.fromkeys(range(_FIRST, _LAST_ROW + 1), 20)})
    _setup(page, values)
    _record(sheet)
    _readings(page, values["confirm_readings"])
    steps.steps_page(book, _given(), [_row(row) for row in range(_FIRST, _LAST_ROW + 1)])
    _answers(book, sheet)
    _notes(page)
    sheet.freeze_panes = f"A{_FIRST}"
    sheet.print_area = f"A1:{_LAST}{page.row - 1}"
    sheet.page_setup.fitToHeight = 1
    for rule in sheet.data_validations.dataValidation:
        rule.showInputMessage = False  # it would cover the readings; what a cell must be is said when it is not
    for selection in sheet.sheet_view.selection:
        selection.activeCell = selection.sqref = f"C{_FIRST}"


def _setup(page: Page, values: dict[str, Any]) -> None:
    sheet, book = page.sheet, page.book
    merged(sheet, "A8:G8", "▼  type: the setup of the new part", "gf head", horizontal="left", indent=1, vertical="center")
    for row, (name, label, quantity, _, text) in enumerate(_INPUTS, 9):
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
        f"H8:{_LAST}8",
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
        merged(sheet, f"M{row}:{_LAST}{row}", text, "gf line").font = font(9, bold=True)
    outline(sheet, f"H9:{_LAST}12")


def _readings(page: Page, readings: Sequence[Sequence[Any]]) -> None:
    sheet, book = page.sheet, page.book
    rows = filled_up("confirm_readings", readings, ROWS, "rows")
    merged(sheet, "C14:F14", "▼  type at the machine", "gf line", horizontal="center").font = font(9, bold=True)
    merged(sheet, "G14:I14", "what became of it", "gf line", horizontal="center").font = font(9, bold=True)
    heads = ("no.", "set", "rpm", "load", "idle", "damage", "used or left out", "depth", "net load")
    for column, (head, unit) in enumerate(
        zip(heads, ("", "1/min", "1/min", "any unit", "the same", "seen", "", "µm", "as load")), 1
    ):
        for row, text, style in ((15, head, "gf head"), (16, unit, "gf unit")):
            cell = sheet.cell(row, column)
            cell.value, cell.style = text, style
    formats = ("0", '[<100]"► "0.0;"► "0', "0.0", "0.00?", "0.00?", "@", "@", "0.000", "0.00?")
    for number, typed in enumerate(rows, 1):
        row = _FIRST + number - 1
        depth, net = (READINGS.cell(name, READINGS.first_row + number - 1) for name in ("depth", "net"))
        set_here = f'IF(ISNUMBER(out_confirm_next_rpm),IF(out_confirm_typed={number - 1},out_confirm_next_rpm,""),"")'
        contents = (
            number,
            "=" + set_here,
            *filled_up(f"reading {number}", typed or (), 4),
            "=" + _status(row),
            f'=IF($G{row}="used",{depth},"")',
            f'=IF($G{row}="used",{net},"")',
        )
        for column, (content, pattern) in enumerate(zip(contents, formats), 1):
            cell = sheet.cell(row, column)
            cell.value = content
            cell.style = "gf input" if 3 <= column <= 6 else "gf word" if column == 7 else "gf result"
            if pattern != "@":
                cell.number_format = pattern
            if column == 6:
                cell.style = "gf choice"
    block, last = f"C{_FIRST}:F{_LAST_ROW}", _LAST_ROW
    outline(sheet, block)
    book.name("in_confirm_readings", sheet, f"C{_FIRST}:E{last}")
    book.name("in_confirm_damage", sheet, f"F{_FIRST}:F{last}")
    book.name("out_confirm_status", sheet, f"G{_FIRST}:G{last}")
    page.offer(
        f"F{_FIRST}:F{last}", ("burn", "crack", "breakdown"), "damage", "What was seen on part or wheel; no or blank: nothing."
    )
    next_format(sheet, f"B{_FIRST}:B{last}", f"ISNUMBER($B{_FIRST})")
    warning_format(sheet, f"G{_FIRST}:I{last}", f'LEFT($G{_FIRST},1)="!"')
    warning_format(sheet, f"F{_FIRST}:F{last}", _is_damage(f"$F{_FIRST}"))


def _is_damage(cell: str) -> str:
    none = "+".join(f"(TRIM({cell})={quoted(word)})" for word in ("", *NO_DAMAGE_WORDS))
    return f"IF(ISERROR({cell}),TRUE,{none}=0)"


def _status(row: int) -> str:
    rpm, load, idle = (f"${letter}{row}" for letter in "CDE")
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
    here = {
        name: f"{SHEET}!${letter}${row}" for name, letter in (("work_rpm", "C"), ("load", "D"), ("idle", "E"), ("status", "G"))
    }
    return dict(work_rpm=here["work_rpm"], net_load=f"({here['load']}-{here['idle']})", is_used=f'{here["status"]}="used"')


def _why_not() -> list[tuple[str, str]]:
    """What is still missing before a first reading can be advised: (condition, formula text of what to do)."""
    return [
        ("out_ready<>1", quoted("STOP: see Checks")),
        (f'OR(out_lookup_word="{OK}",out_lookup_word="{OUTDATED}")=FALSE', '"the key on Look up: "&out_lookup_word'),
        (f"({are_numbers(looked_up('steepness'), looked_up('scatter'))})=FALSE", quoted("the record lacks steepness or scatter")),
        ("ISNUMBER(in_confirm_rpm)=FALSE", quoted("type the rpm that cuts the knee")),
        ("ISNUMBER(in_confirm_wanted)=FALSE", quoted("type the wanted interval")),
        ("out_confirm_faults>0", '"mend reading "&out_confirm_faults'),
    ]


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


def _answers(book: Book, sheet) -> None:
    """What the panels show, each a name; the cells of what only the sheet itself needs stand to the right of the print."""
    damage = [f"$F${row}" for row in range(_FIRST, _LAST_ROW + 1)]
    first_fault = first_of(
        *((f'LEFT($G${row},1)="!"', str(number)) for number, row in enumerate(range(_FIRST, _LAST_ROW + 1), 1)), otherwise="0"
    )
    first_damage = first_of(*((_is_damage(cell), str(number)) for number, cell in enumerate(damage, 1)), otherwise="0")
    last_typed = first_of(*((f'$G${row}<>""', str(row - _FIRST + 1)) for row in range(_LAST_ROW, _FIRST - 1, -1)), otherwise="0")
    case = "out_confirm_case"
    next_rpm = "out_confirm_next_rpm"
    full = '"full trial from "&FIXED(out_confirm_nominal_rpm,1,TRUE)&" 1/min: trial.xlsx"'
    percent = "FIXED(100*(out_confirm_own/out_lookup_knee-1),1,TRUE)"
    after = 'IF(ISNUMBER(out_confirm_next_rpm),""," after "&out_confirm_n_readings&" readings")&"."'
    reasons = {
        cases.STARTING: "out_confirm_waits",
        cases.DAMAGE: '"Go back to the last rpm without damage."',
        cases.NARROW: '"The limits leave fewer than four depths about the recorded knee."',
        cases.READING: '"Readings about the recorded knee come first."',
        cases.HOT: f'"The load has risen to {ENERGY_FACTOR:g} times the lowest: go no slower."',
        cases.NO_FIT: '"The readings fit neither the recorded knee nor another one about it."',
        cases.OPEN: f'"The new readings alone do not bracket a knee"&{after}',
        cases.MOVED: f'"The knee lies at about "&FIXED(out_confirm_own,3,TRUE)&" µm, "&{percent}&" % from the record."',
        cases.WIDE: f'"Known within ±"&FIXED(out_confirm_half_width,1,TRUE)&" % so far"&{after}',
        cases.CONFIRMED: '"From the record and "&out_confirm_n_readings&" new readings; a full trial stays due every few dressings."',
    }
    reason = f"CHOOSE({case}+1,{','.join(reasons[number] for number in sorted(reasons))})"
    words = f"CHOOSE({case}+1,{','.join(quoted(cases.WORDS[number] or 'no answer yet') for number in sorted(reasons))})"
    ends = f"NOT(ISNUMBER({next_rpm}))"
    confirmed = f"{case}={cases.CONFIRMED}"
    to_set = "in_confirm_rpm*(out_confirm_new_knee/out_lookup_knee)^4"
    hidden = (
        ("typed", last_typed),
        ("faults", first_fault),
        ("damage", first_damage),
        (
            "damage_word",
            f'IF(out_confirm_damage=0,"",IFERROR(TRIM(INDEX($F${_FIRST}:$F${_LAST_ROW},out_confirm_damage)),"an error value"))',
        ),
        ("waits", first_of(*_why_not(), otherwise=quoted(""))),
        ("word", words),
        ("reason", reason),
        ("knee", f"IF({confirmed},out_confirm_new_knee,NA())"),
        ("low", f"IF({confirmed},out_confirm_new_low,NA())"),
        ("high", f"IF({confirmed},out_confirm_new_high,NA())"),
        ("set_rpm", f"IF({confirmed},{to_set},NA())"),
        ("full_trial", f"IF({ends},IF(({case}={cases.STARTING})+({case}={cases.DAMAGE})+({confirmed})>0,0,1),0)"),
    )
    calc = book.workbook[STEPS_SHEET]
    row = steps.last_row() + 2
    for name, formula in hidden:
        formula = formula.replace("$G$", f"{SHEET}!$G$").replace("$F$", f"{SHEET}!$F$").replace(f":{SHEET}!", ":")
        calc.cell(row, 1, f"for the sheet {SHEET}: {name.replace('_', ' ')}").font = font(10)
        calc.cell(row, 2, "=" + formula).font = font(10)
        book.name(f"out_confirm_{name}", calc, f"B{row}")
        row += 1
    calc.print_area = f"A1:B{row - 1}"

    rpm = '[<100]0.0" 1/min";0" 1/min"'
    stop = "out_ready<>1"
    panel(
        sheet,
        "A",
        "E",
        "SET NEXT",
        first_of(
            (stop, quoted("STOP")),
            (f"{case}={cases.DAMAGE}", quoted("STOP")),
            (f"ISNUMBER({next_rpm})", next_rpm),
            (f"{case}={cases.STARTING}", quoted(NOTHING)),
            (confirmed, quoted("finished")),
            otherwise=quoted("end here"),
        ),
        first_of(
            (f"{case}={cases.DAMAGE}", '"damage noted in reading "&out_confirm_damage'),
            (f"{case}={cases.STARTING}", "out_confirm_waits"),
            (f"{case}={cases.READING}", '"one of four depths about the recorded knee"'),
            (f"ISNUMBER({next_rpm})", quoted("the depth that tells most about the corner")),
            (confirmed, quoted("No further reading is needed.")),
            otherwise=full,
        ),
        first_of(
            (f"{case}={cases.DAMAGE}", quoted("Clear the word there if it was a slip.")),
            (f"ISNUMBER({next_rpm})", quoted("Set it only if part and wheel look well.")),
            otherwise=quoted(""),
        ),
        rpm,
    )
    reason_shown = f'IF({stop},"STOP: nothing is computed.",out_confirm_reason)'
    word_panel(sheet, "F", "G", "ANSWER", "out_confirm_word", reason_shown)
    low, high = (f"FIXED(out_confirm_{end},3,TRUE)" for end in ("low", "high"))
    panel(
        sheet,
        "H",
        "J",
        "KNEE, GRIT DEPTH",
        f"IF(ISNUMBER(out_confirm_knee),out_confirm_knee,{quoted(NOTHING)})",
        f'IF(ISNUMBER(out_confirm_knee),"95 %: "&{low}&" to "&{high}&" µm","only confirmed carries a knee")',
        'IF(ISNUMBER(out_lookup_knee),"record: "&FIXED(out_lookup_knee,3,TRUE)&" µm","")',
        '0.000" µm"',
    )
    edges = {end: f"in_confirm_rpm*(out_confirm_{end}/out_lookup_knee)^4" for end in ("low", "high")}
    beyond = [
        (
            f"IF(ISNUMBER(in_confirm_highest_rpm),{above('out_confirm_set_rpm', 'in_confirm_highest_rpm')},FALSE)",
            quoted("! rpm too high for the machine: do not set it"),
        ),
        (
            f"IF(ISNUMBER(in_confirm_lowest_rpm),{below('out_confirm_set_rpm', 'in_confirm_lowest_rpm')},FALSE)",
            quoted("! rpm too low for the machine: do not set it"),
        ),
    ]
    outside = "+".join(f"({condition})" for condition, _ in beyond)
    panel(
        sheet,
        "K",
        _LAST,
        "SET FOR THE PARTS",
        first_of(
            (stop, quoted("STOP")),
            (f"{case}={cases.DAMAGE}", quoted("STOP")),
            ("ISERROR(out_confirm_set_rpm)", quoted(NOTHING)),
            (f"{outside}>0", quoted(NOTHING)),
            otherwise="out_confirm_set_rpm",
        ),
        first_of(
            (
                "ISNUMBER(out_confirm_set_rpm)",
                f'"knee between "&FIXED({edges["low"]},1,TRUE)&" and "&FIXED({edges["high"]},1,TRUE)&" 1/min"',
            ),
            otherwise=quoted("only confirmed carries a value to set"),
        ),
        first_of(("ISERROR(out_confirm_set_rpm)", quoted("")), *beyond, otherwise=quoted("Watch the first parts.")),
        rpm,
    )
    book.look_if(
        "damage is noted on the sheet Confirm",
        "out_confirm_damage>0",
        "end it; do not set this depth; take a full trial below it",
        f"{SHEET}!F{_FIRST}",
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
