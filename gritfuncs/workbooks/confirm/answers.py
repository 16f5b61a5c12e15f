"""What the sheet Confirm answers: each answer a name, computed on the sheet calc confirm, and the panels that show them."""

from __future__ import annotations

from ...knee.reach import ENERGY_FACTOR
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers, first_of, quoted, says_no_damage, without_stops
from ...sheets.panels import NOTHING, panel, word_panel
from ...sheets.styles import font
from ..blocks.limits import above, below
from ..blocks.record import OUTDATED
from . import cases
from .steps import last_row
from .tables import CONFIRM, CONFIRMING, LAST_COLUMN, READINGS, SHEET

_CASE, _NEXT = "out_confirm_case", "out_confirm_next_rpm"
_STOP, _DAMAGE, _STARTING, _CONFIRMED = (
    "out_ready<>1",
    *(f"{_CASE}={case}" for case in (cases.DAMAGE, cases.STARTING, cases.CONFIRMED)),
)
_RPM_FORMAT = '[<100]0.0" 1/min";0" 1/min"'


def looked_up(name: str) -> str:
    return f"out_lookup_{name}"


def is_damage(cell: str) -> str:
    """A condition: the cell says that damage was seen."""
    return first_of(
        (f"ISERROR({cell})", "TRUE"), (f'TRIM({cell})=""', "FALSE"), otherwise=f"NOT({says_no_damage(without_stops(cell))})"
    )


def answers(book: Book) -> None:
    """The names out_confirm_..., below the steps of the sheet calc confirm."""
    rows = [CONFIRMING.row_cells(row) for row in range(CONFIRMING.first_row, CONFIRMING.last_row + 1)]

    def first_row_where(condition: str, numbers: list[int]) -> str:
        """The number of the first of these rows where the condition holds, else 0; {status} is a cell of the row."""
        return first_of(*((condition.format_map(rows[number - 1]), str(number)) for number in numbers), otherwise="0")

    numbers = list(range(1, len(rows) + 1))
    ends = f"NOT(ISNUMBER({_NEXT}))"
    to_set = "in_confirm_rpm*(out_confirm_new_knee/out_lookup_knee)^4"
    reasons = _reasons()
    found = (
        ("typed", first_row_where('{status}<>""', numbers[::-1])),
        ("faults", first_row_where('LEFT({status},1)="!"', numbers)),
        ("damage", f"IFERROR(MATCH(1,{READINGS.area('damaged')},0),0)"),
        (
            "damage_word",
            f'IF(out_confirm_damage=0,"",IFERROR(TRIM(INDEX({CONFIRMING.area("damage")},out_confirm_damage)),"an error value"))',
        ),
        ("waits", first_of(*_why_not(), otherwise=quoted(""))),
        ("word", _by_case([quoted(cases.WORDS[case] or "no answer yet") for case in sorted(reasons)])),
        ("reason", _by_case([reasons[case] for case in sorted(reasons)])),
        ("knee", f"IF({_CONFIRMED},out_confirm_new_knee,NA())"),
        ("low", f"IF({_CONFIRMED},out_confirm_new_low,NA())"),
        ("high", f"IF({_CONFIRMED},out_confirm_new_high,NA())"),
        ("set_rpm", f"IF({_CONFIRMED},{to_set},NA())"),
        ("full_trial", f"IF({ends},IF(({_STARTING})+({_DAMAGE})+({_CONFIRMED})>0,0,1),0)"),
    )
    sheet = book.workbook[SHEET]
    for row, (name, formula) in enumerate(found, last_row() + 2):
        sheet.cell(row, 1, f"for the sheet {CONFIRM}: {name.replace('_', ' ')}").font = font(10)
        sheet.cell(row, 2, "=" + formula).font = font(10)
        book.name(f"out_confirm_{name}", sheet, f"B{row}")
    sheet.print_area = f"A1:B{last_row() + 1 + len(found)}"
    book.look_if(
        "damage is noted on the sheet Confirm",
        "out_confirm_damage>0",
        "end it; do not set this depth; take a full trial below it",
        CONFIRMING.cell("damage", CONFIRMING.first_row),
    )


def _by_case(formulas: list[str]) -> str:
    return f"CHOOSE({_CASE}+1,{','.join(formulas)})"


def _reasons() -> dict[int, str]:
    """Why, by case, as formula text."""
    percent = "FIXED(100*(out_confirm_own/out_lookup_knee-1),1,TRUE)"
    after = f'IF(ISNUMBER({_NEXT}),""," after "&out_confirm_n_readings&" readings")&"."'
    return {
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


def panels(sheet) -> None:
    """What to set next, the answer, the knee and what to set for the parts, at the head of the sheet Confirm."""
    _next_panel(sheet)
    reason_shown = f'IF({_STOP},"STOP: nothing is computed.",out_confirm_reason)'
    word_panel(sheet, "F", "G", "ANSWER", "out_confirm_word", reason_shown)
    _knee_panel(sheet)
    _set_panel(sheet)


def _next_panel(sheet) -> None:
    full = '"full trial from "&FIXED(out_confirm_nominal_rpm,1,TRUE)&" 1/min: trial.xlsx"'
    panel(
        sheet,
        "A",
        "E",
        "SET NEXT",
        first_of(
            (_STOP, quoted("STOP")),
            (_DAMAGE, quoted("STOP")),
            (f"ISNUMBER({_NEXT})", _NEXT),
            (_STARTING, quoted(NOTHING)),
            (_CONFIRMED, quoted("finished")),
            otherwise=quoted("end here"),
        ),
        first_of(
            (_DAMAGE, '"damage noted in reading "&out_confirm_damage'),
            (_STARTING, "out_confirm_waits"),
            (f"{_CASE}={cases.READING}", '"one of four depths about the recorded knee"'),
            (f"ISNUMBER({_NEXT})", quoted("the depth that tells most about the corner")),
            (_CONFIRMED, quoted("No further reading is needed.")),
            otherwise=full,
        ),
        first_of(
            (_DAMAGE, quoted("Clear the word there if it was a slip.")),
            (f"ISNUMBER({_NEXT})", quoted("Set it only if part and wheel look well.")),
            otherwise=quoted(""),
        ),
        _RPM_FORMAT,
    )


def _knee_panel(sheet) -> None:
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


def _set_panel(sheet) -> None:
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
        LAST_COLUMN,
        "SET FOR THE PARTS",
        first_of(
            (_STOP, quoted("STOP")),
            (_DAMAGE, quoted("STOP")),
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
        _RPM_FORMAT,
    )
