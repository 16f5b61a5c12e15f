"""The sheet Calculation of trial.xlsx: each reading is judged as trial.readings judges it, then gives its depth and energy."""

from __future__ import annotations

from collections.abc import Sequence

from ...quantities import NO_DAMAGE_WORDS, NO_WORDS, YES_WORDS
from ...trial.readings import (
    BLANK,
    EXCLUDED,
    IDLE_MISSING,
    IS_BLANK,
    LEFT_OUT,
    NOT_A_NUMBER,
    NOT_ABOVE_IDLE,
    NOT_POSITIVE,
    SAME_AS,
    USE_UNCLEAR,
    USED,
)
from ..blocks.limits import beyond
from ..blocks.wheel import formula
from ..book import OK, Book
from ..conditions import first_of, quoted
from .plan import position
from .tables import CALCULATION, FIRST_ROW, READINGS, ROWS

SAME_RPM = 0.01  # readings within 1 % of the nominal rpm count as repeats of it


def calculation_page(book: Book) -> None:
    page = book.page("Calculation", "Calculation: one row for each reading", CALCULATION.widths, one_page=True)
    page.note("Rows are judged in the order of the columns; a row that does not count gives no depth and no energy.")
    page.table_head(CALCULATION.headings, lines=4)
    for number in range(1, ROWS + 1):
        formulas = _formulas(page.row)
        page.cells((number, *("=" + formulas[column.name] for column in CALCULATION.columns[1:])), CALCULATION.formats)
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"


def counted(column: str, word: str) -> str:
    """How many rows that are neither blank nor switched off have the word in a column."""
    blank = "*".join(
        f"({CALCULATION.area(name)}={quoted(_short(IS_BLANK, quantity))})"
        for name, quantity in (("rpm_state", "rpm"), ("load_state", "load"))
    )
    return f'SUMPRODUCT(({CALCULATION.area(column)}={quoted(word)})*({CALCULATION.area("use")}<>"no")*(1-{blank}))'


def _short(words: str, quantity: str) -> str:
    """The words of a status without 'left out: '."""
    return words.format(quantity).split(": ", 1)[1]


def _cell_state(cell: str, quantity: str, positive: bool) -> str:
    """ok, or why a reading cell holds no usable number."""
    number = first_of(*([(f"{cell}<=0", quoted(_short(NOT_POSITIVE, quantity)))] if positive else []), otherwise=quoted(OK))
    not_a_number = quoted(_short(NOT_A_NUMBER, quantity))
    return first_of(
        (f"ISERROR({cell})", not_a_number),
        (f"ISLOGICAL({cell})", not_a_number),  # a number to LibreOffice
        (f"ISNUMBER({cell})", number),
        (f'TRIM({cell})=""', quoted(_short(IS_BLANK, quantity))),
        otherwise=not_a_number,
    )


def _one_of(text: str, words: Sequence[str]) -> str:
    """A condition that holds where a text is one of the words, in capital or small letters."""
    return "OR(" + ",".join(f"{text}={quoted(word)}" for word in words) + ")"


def _formulas(row: int) -> dict[str, str]:
    """The formulas of a row by column; the order of judging is that of trial.readings."""
    own = {column.name: CALCULATION.here(column.name, row) for column in CALCULATION.columns}
    rpm, load, idle, use, damage = (READINGS.cell(name, row) for name in ("work_rpm", "load", "idle", "use", "damage"))
    counts, used, empty = f"{own['counts']}=1", f"{own['judged']}={quoted(USED)}", quoted("")
    has_rpm, has_load = (f"{own[name]}={quoted(OK)}" for name in ("rpm_state", "load_state"))

    def if_counts(text: str, otherwise: str = empty) -> str:
        return first_of((counts, text), otherwise=otherwise)

    left_out = f"{quoted(LEFT_OUT.format(''))}&"
    no_idle = f'AND({own["idle_state"]}="blank",NOT(ISNUMBER(in_idle)),out_own_idles>0)'
    rpm_blank, load_blank = (
        f"{own[name]}={quoted(_short(IS_BLANK, quantity))}" for name, quantity in (("rpm_state", "rpm"), ("load_state", "load"))
    )
    line = {
        cell: formula("line_power", volts="in_volts", amps=cell, power_factor="in_power_factor") for cell in (load, own["idle"])
    }
    at_rpm = f"IF({has_rpm},out_ready,0)=1"
    said = f'SUBSTITUTE(SUBSTITUTE(TRIM({damage}),".",""),"!","")'
    return dict(
        rpm_state=_cell_state(rpm, "rpm", True),
        load_state=_cell_state(load, "load", False),
        use=first_of(
            (f"ISERROR({use})", quoted("?")),
            (f'TRIM({use})=""', quoted("yes")),
            (_one_of(f"TRIM({use})", YES_WORDS), quoted("yes")),
            (_one_of(f"TRIM({use})", NO_WORDS), quoted("no")),
            otherwise=quoted("?"),
        ),
        idle_state=first_of(
            (f"ISERROR({idle})", quoted("text")),
            (f"ISLOGICAL({idle})", quoted("text")),
            (f"ISNUMBER({idle})", quoted("number")),
            (f'TRIM({idle})=""', quoted("blank")),
            otherwise=quoted("text"),
        ),
        idle=first_of((f'{own["idle_state"]}="number"', idle), ("ISNUMBER(in_idle)", "in_idle"), otherwise="0"),
        net=first_of(
            (f"NOT({used})", empty),
            ('in_load_kind="current"', f"{line[load]}-{line[own['idle']]}"),
            otherwise=f"{load}-{own['idle']}",
        ),
        judged=first_of(
            (f"AND({rpm_blank},{load_blank})", quoted(BLANK)),
            (f'{own["use"]}="no"', quoted(EXCLUDED)),
            (f'{own["use"]}="?"', quoted(USE_UNCLEAR)),
            (f"NOT({has_rpm})", left_out + own["rpm_state"]),
            (f"NOT({has_load})", left_out + own["load_state"]),
            (f'{own["idle_state"]}="text"', quoted(NOT_A_NUMBER.format("idle"))),
            (no_idle, quoted(IDLE_MISSING)),
            (f"{load}<={own['idle']}", quoted(NOT_ABOVE_IDLE)),
            otherwise=quoted(USED),
        ),
        first_same=first_of((f"NOT({used})", empty), otherwise=_first_same(row)),
        status=first_of(
            (f"NOT({used})", own["judged"]),
            (f"{own['first_same']}<{own['number']}", f"{quoted(SAME_AS.format(''))}&{own['first_same']}"),
            otherwise=own["judged"],
        ),
        speed=first_of((at_rpm, formula("work_speed", work_diameter="in_work_diameter", work_rpm=rpm)), otherwise=empty),
        cut=first_of((at_rpm, formula("depth_of_cut", infeed_rate="out_infeed_rate", work_rpm=rpm)), otherwise=empty),
        depth=if_counts(own["depth_read"]),
        energy=if_counts(
            first_of(
                (
                    'out_energy_unit="J/mm³"',
                    formula(
                        "specific_energy", net_power=own["net"], removal_rate="out_removal_rate", contact_width="in_contact_width"
                    ),
                ),
                otherwise=own["net"],
            )
        ),
        counts=first_of((used, "out_ready"), otherwise="0"),
        nominal=if_counts(f"IF(ABS({rpm}-in_nominal_rpm)<={SAME_RPM}*in_nominal_rpm,{own['number']},0)", "0"),
        damaged=first_of(
            (f"ISERROR({damage})", "1"),
            (f'TRIM({damage})=""', "0"),
            (_one_of(said, [word for word in NO_DAMAGE_WORDS if word]), "0"),
            otherwise="1",
        ),
        step=position(own["number"]),
        rpm=if_counts(rpm),
        rpm_read=first_of((has_rpm, rpm), otherwise=empty),
        load_read=first_of((has_load, load), otherwise=empty),
        depth_read=first_of(
            (
                at_rpm,
                formula(
                    "grit_depth",
                    work_speed=own["speed"],
                    wheel_speed="out_wheel_speed",
                    depth_of_cut=own["cut"],
                    equivalent_diameter="out_equivalent_diameter",
                    grit_density="out_grit_density",
                    shape_ratio="in_shape_ratio",
                ),
            ),
            otherwise=empty,
        ),
        outside=first_of(
            (f"NOT({has_rpm})", "0"),
            *((beyond(limit, rpm), "1") for limit in ("highest_work_rpm", "lowest_work_rpm")),
            otherwise="0",
        ),
    )


def _first_same(row: int) -> str:
    """The number of the first used row with the same rpm, load and idle: numbers are compared, never texts."""
    number = CALCULATION.here("number", row)
    if row == FIRST_ROW:
        return number
    above = {
        name: f"{CALCULATION.letter(name)}${FIRST_ROW}:{CALCULATION.here(name, row - 1)}"
        for name in ("number", "first_same", "rpm_read", "load_read", "idle")
    }
    same = "*".join(f"({above[name]}={CALCULATION.here(name, row)})" for name in ("rpm_read", "load_read", "idle"))
    found = f"SUMPRODUCT({same}*({above['first_same']}={above['number']})*{above['number']})"
    return first_of((f"{found}>0", found), otherwise=number)
