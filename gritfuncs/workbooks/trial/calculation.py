"""The sheet calc rows of trial.xlsx: each reading is judged as trial.readings judges it, then gives its depth and energy."""

from __future__ import annotations

from collections.abc import Mapping

from ...planning.plan import BOTH
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers, first_of, is_one_of, quoted, says_no_damage, without_stops
from ...trial.inputs import ENERGY as ENERGY_KIND
from ...trial.readings import (
    BLANK,
    ENERGY,
    EXCLUDED,
    IDLE_MISSING,
    IS_BLANK,
    LEFT_OUT,
    LOAD,
    NOT_A_NUMBER,
    NOT_ABOVE_IDLE,
    NOT_POSITIVE,
    SAME_AS,
    USE_UNCLEAR,
    USED,
)
from ...values import NO_WORDS, YES_WORDS
from ..blocks.limits import beyond
from ..blocks.wheel import formula
from .tables import CALCULATION, FINISH, READINGS, ROWS, ROWS_SHEET

SAME_RPM = 0.01  # readings within 1 % of the nominal rpm count as repeats of it
WAITS = "waits: STOP"
_RPM_DIGITS = 7  # of an rpm that is computed back from a product
IS_ENERGY = f"in_load_kind={quoted(ENERGY_KIND)}"
IS_BOTH = f"in_steps={quoted(BOTH)}"  # rpm and infeed are stepped together
INFEED = "infeed rate"


def calculation_page(book: Book) -> None:
    page = book.page(ROWS_SHEET, "One row for each reading", CALCULATION.widths, one_page=True)
    page.note("Rows are judged in the order of the columns; a row that does not count gives no depth and no energy.")
    page.columns_head(CALCULATION, lines=6)
    for number in range(1, ROWS + 1):
        page.columns_row(CALCULATION, {"number": number}, _formulas(page.row))
    first = CALCULATION.first_row
    page.sheet.freeze_panes = f"B{first}"
    page.sheet.print_title_rows = f"1:{first - 1}"


def counted(column: str, word: str) -> str:
    """How many rows that are neither blank nor switched off have the word in a column."""
    rpm, load, energy = (
        f"({CALCULATION.area(name)}={quoted(_short(IS_BLANK, quantity))})"
        for name, quantity in (("rpm_state", "rpm"), ("load_state", LOAD), ("load_state", ENERGY))
    )
    is_word, is_on = f"({CALCULATION.area(column)}={quoted(word)})", f'({CALCULATION.area("use")}<>"no")'
    return f"SUMPRODUCT({is_word}*{is_on}*(1-{rpm}*({load}+{energy})))"


def _short(words: str, quantity: str) -> str:
    """The words of a status without 'left out: '."""
    return words.format(quantity).split(": ", 1)[1]


def _cell_state(cell: str, quantity: str, positive: str) -> str:
    """ok, or why a reading cell holds no usable number; `positive` is the condition under which it must be above 0."""
    not_a_number = quoted(_short(NOT_A_NUMBER, quantity))
    return first_of(
        (f"ISERROR({cell})", not_a_number),
        (f"ISLOGICAL({cell})", not_a_number),  # a number to LibreOffice
        (f"ISNUMBER({cell})", f"IF({positive},{quoted(_short(NOT_POSITIVE, quantity))},{quoted(OK)})"),
        (f'TRIM({cell})=""', quoted(_short(IS_BLANK, quantity))),
        otherwise=not_a_number,
    )


def _load_state(cell: str) -> str:
    """The same for the load, which is an energy where energies are typed."""
    if_energy = f"IF({IS_ENERGY},{cell}<=0,FALSE)"
    return first_of((IS_ENERGY, _cell_state(cell, ENERGY, if_energy)), otherwise=_cell_state(cell, LOAD, "FALSE"))


def _formulas(row: int) -> dict[str, str]:
    """The formulas of a row by column; the order of judging is that of trial.readings."""
    own = CALCULATION.row_here(row)
    at = row - CALCULATION.first_row
    rpm, infeed, load, idle, use, noted = (
        READINGS.cell(name, READINGS.first_row + at) for name in ("work_rpm", "infeed_rate", "load", "idle", "use", "damage")
    )
    observed = FINISH.cell("damage", FINISH.first_row + at)
    counts, used, empty = f"{own['counts']}=1", f"{own['judged']}={quoted(USED)}", quoted("")
    has_rpm, has_load = (f"{own[name]}={quoted(OK)}" for name in ("rpm_state", "load_state"))

    def if_counts(text: str, otherwise: str = empty) -> str:
        return first_of((counts, text), otherwise=otherwise)

    left_out = f"{quoted(LEFT_OUT.format(''))}&"
    no_idle = f'AND({own["idle_state"]}="blank",NOT(ISNUMBER(in_idle)),out_own_idles>0)'
    blank = {
        quantity: f"{own[name]}={quoted(_short(IS_BLANK, quantity))}"
        for name, quantity in (("rpm_state", "rpm"), ("load_state", LOAD), ("load_state", ENERGY))
    }
    nothing = f"IF({blank['rpm']},OR({blank[LOAD]},{blank[ENERGY]}),FALSE)"
    line = {
        cell: formula("line_power", volts="in_volts", amps=cell, power_factor="in_power_factor") for cell in (load, own["idle"])
    }
    wrong_infeed = f"IF({own['infeed_state']}={quoted(OK)},FALSE,{own['infeed_state']}<>{quoted(_short(IS_BLANK, INFEED))})"
    at_rpm = f"IF({has_rpm},IF({wrong_infeed},0,out_ready),0)=1"
    own_or_common = f"IF(ISNUMBER({own['own_infeed']}),{own['own_infeed']},out_infeed_rate)"
    over_removal = f"IF(ISNUMBER({own['own_infeed']}),{own['net']}/{own['removal']},{own['net']})"
    return dict(
        rpm_state=_cell_state(rpm, "rpm", f"{rpm}<=0"),
        infeed_state=_cell_state(infeed, INFEED, f"{infeed}<=0"),
        load_state=_load_state(load),
        use=first_of(
            (f"ISERROR({use})", quoted("?")),
            (f'TRIM({use})=""', quoted("yes")),
            (is_one_of(f"TRIM({use})", YES_WORDS), quoted("yes")),
            (is_one_of(f"TRIM({use})", NO_WORDS), quoted("no")),
            otherwise=quoted("?"),
        ),
        idle_state=first_of(
            (f"ISERROR({idle})", quoted("text")),
            (f"ISLOGICAL({idle})", quoted("text")),
            (f"ISNUMBER({idle})", quoted("number")),
            (f'TRIM({idle})=""', quoted("blank")),
            otherwise=quoted("text"),
        ),
        idle=first_of((IS_ENERGY, "0"), (f'{own["idle_state"]}="number"', idle), ("ISNUMBER(in_idle)", "in_idle"), otherwise="0"),
        net=first_of(
            (f"NOT({used})", empty),
            ('in_load_kind="current"', f"{line[load]}-{line[own['idle']]}"),
            otherwise=f"{load}-{own['idle']}",
        ),
        judged=first_of(
            (nothing, quoted(BLANK)),
            (f'{own["use"]}="no"', quoted(EXCLUDED)),
            (f'{own["use"]}="?"', quoted(USE_UNCLEAR)),
            (f"NOT({has_rpm})", left_out + own["rpm_state"]),
            (wrong_infeed, left_out + own["infeed_state"]),
            (f"NOT({has_load})", left_out + own["load_state"]),
            (IS_ENERGY, quoted(USED)),
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
        short=_short_words(own),
        own_infeed=first_of(
            (
                f"{own['infeed_state']}={quoted(OK)}",
                f"IF(ISNUMBER(out_row_infeed_factor),{infeed}*out_row_infeed_factor,{empty})",
            ),
            otherwise=empty,
        ),
        removal=first_of(
            (f"NOT({used})", empty), (f"ISNUMBER({own['own_infeed']})", f"{own['own_infeed']}/out_infeed_rate"), otherwise="1"
        ),
        speed=first_of((at_rpm, formula("work_speed", work_diameter="use_work_diameter", work_rpm=rpm)), otherwise=empty),
        cut=first_of((at_rpm, formula("depth_of_cut", infeed_rate=own_or_common, work_rpm=rpm)), otherwise=empty),
        depth=if_counts(own["depth_read"]),
        energy=if_counts(
            first_of(
                (IS_ENERGY, load),
                ('in_load_kind="relative"', over_removal),
                (
                    are_numbers("use_contact_width"),
                    formula(
                        "specific_energy",
                        net_power=own["net"],
                        removal_rate=f"IF(ISNUMBER({own['own_infeed']}),{_removal_rate(own['own_infeed'])},out_removal_rate)",
                        contact_width="use_contact_width",
                    ),
                ),
                otherwise=over_removal,
            )
        ),
        rate=if_counts(own["removal"]),
        counts=first_of((used, "out_ready"), otherwise="0"),
        nominal=if_counts(f"IF(ABS({own['rpm']}-in_nominal_rpm)<={SAME_RPM}*in_nominal_rpm,{own['number']},0)", "0"),
        damage=first_of(  # a word that a script wrote into in_observations counts like one on the sheet
            (f"ISERROR({noted})", quoted("an error value")),
            (f'TRIM({noted})<>""', f"TRIM({noted})"),
            (f"ISERROR({observed})", quoted("an error value")),
            otherwise=f"TRIM({observed})",
        ),
        damage_word=without_stops(own["damage"]),
        damaged=first_of((f'{own["damage"]}=""', "0"), (says_no_damage(own["damage_word"]), "0"), otherwise="1"),
        rpm=if_counts(
            first_of(
                (IS_BOTH, f"ROUND(SQRT(in_nominal_rpm*{rpm}*{own['removal']}),{_RPM_DIGITS})"),
                (f"ISNUMBER({own['own_infeed']})", f"ROUND({rpm}*{own['removal']},{_RPM_DIGITS})"),
                otherwise=rpm,
            )
        ),
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
            (f"NOT(ISNUMBER({own['own_infeed']}))", "0"),
            *((beyond(limit, own["own_infeed"]), "1") for limit in ("highest_infeed_rate", "lowest_infeed_rate")),
            otherwise="0",
        ),
        typed=first_of(
            (f"{own['judged']}<>{quoted(BLANK)}", own["number"]), (f"{own['damaged']}=1", own["number"]), otherwise="0"
        ),
        kept_depth=first_of(
            ("out_outlier_candidate=0", empty), (f"{own['number']}=out_outlier_candidate", empty), otherwise=own["depth"]
        ),
    )


def _removal_rate(infeed: str) -> str:
    return formula("removal_rate", work_diameter="use_work_diameter", infeed_rate=infeed)


def _short_words(own: Mapping[str, str]) -> str:
    """What became of a row in the few words that its cell on the sheet Trial has room for."""
    low, high = QUANTITIES["work_rpm"].usual
    unusual = f"IF(ISNUMBER({own['rpm_read']}),({own['rpm_read']}<{low:G})+({own['rpm_read']}>{high:G})>0,FALSE)"
    slow, fast = QUANTITIES["infeed_rate"].usual
    infeed = own["own_infeed"]
    unusual_infeed = f"IF(ISNUMBER({infeed}),({infeed}<{slow:G})+({infeed}>{fast:G})>0,FALSE)"
    no_infeed = (
        f"IF({IS_BOTH},IF(ISNUMBER({infeed}),FALSE,ABS({own['rpm_read']}-in_nominal_rpm)>{SAME_RPM}*in_nominal_rpm),FALSE)"
    )
    is_used = f"{own['judged']}={quoted(USED)}"
    cases = [
        (f"{own['judged']}={quoted(BLANK)}", quoted("")),
        (f"{own['judged']}={quoted(EXCLUDED)}", quoted("not used (no)")),
        (f"{own['judged']}={quoted(USE_UNCLEAR)}", quoted("! use? yes or no")),
        (f"{own['judged']}={quoted(IDLE_MISSING)}", quoted("! idle is missing")),
        (f"{own['judged']}={quoted(NOT_ABOVE_IDLE)}", quoted("! load not above idle")),
        (f"{own['judged']}={quoted(NOT_A_NUMBER.format('idle'))}", quoted("! idle not a number")),
        *(
            (f"{own['judged']}={quoted(words.format(quantity))}", quoted(f"! {shown} {why}"))
            for words, why in ((IS_BLANK, "is blank"), (NOT_A_NUMBER, "not a number"), (NOT_POSITIVE, "not > 0"))
            for quantity, shown in (("rpm", "rpm"), (INFEED, "infeed"), (LOAD, LOAD), (ENERGY, "energy"))
        ),
        (f"NOT({is_used})", quoted("! left out")),
        ("out_ready<>1", quoted(WAITS)),
        (no_infeed, quoted("! used, infeed blank")),
        (f"{own['number']}=out_outlier_row", quoted("! used, out of line")),
        (f"{own['outside']}=1", quoted("! used, beyond limits")),
        (unusual, quoted("! used, unusual rpm")),
        (unusual_infeed, quoted("! used, unusual infeed")),
        (f"{own['damaged']}=1", quoted("used, damage")),
        (f"{own['first_same']}<{own['number']}", f"{quoted('used, same as ')}&{own['first_same']}"),
    ]
    return first_of(*cases, otherwise=quoted("used"))


def _first_same(row: int) -> str:
    """The number of the first used row with the same rpm, infeed, load and idle: numbers are compared, never texts."""
    number = CALCULATION.here("number", row)
    first = CALCULATION.first_row
    if row == first:
        return number
    above = {
        name: f"{CALCULATION.letter(name)}${first}:{CALCULATION.here(name, row - 1)}"
        for name in ("number", "first_same", "rpm_read", "own_infeed", "load_read", "idle")
    }
    same = "*".join(f"({above[name]}={CALCULATION.here(name, row)})" for name in ("rpm_read", "own_infeed", "load_read", "idle"))
    found = f"SUMPRODUCT({same}*({above['first_same']}={above['number']})*{above['number']})"
    return first_of((f"{found}>0", found), otherwise=number)
