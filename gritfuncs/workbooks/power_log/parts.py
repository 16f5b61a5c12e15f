"""The sheet Parts of power_log.xlsx: every stretch above idle with a word, and how the load of a part is read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from openpyxl.utils import column_index_from_string

from ...sheets.book import Book
from ...sheets.columns import filled_up
from ...sheets.conditions import are_numbers, first_of, quoted
from ...trial.log_limits import (
    AT_TOP,
    BEFORE_END,
    BEHIND,
    DIFFERENT,
    FALLEN,
    FEWER_LAGS,
    LAGS,
    LAGS_BEHIND,
    LENGTHS,
    LENGTHS_GIVEN,
    LONGEST_IDLE,
    LOW_LEVEL,
    SHORT_BEHIND,
    SHORTEST,
)
from .tables import HEAD, LOG, MOST_STRETCHES, PARTS

NEAR, FAR = 1.5, 3.0  # s before a stretch begins that idle just before contact is read in
RUNNING = 0.9  # of the rows of a stretch; with fewer the spindle stands in it
HOLE = 1.0  # s that a stretch is longer than its rows
PART, STOPPED, SHORT, LONG, CUT, LOW, MISSING, CLIPPED, AT_HIGHEST, NO_IDLE, LEFT_OUT = (
    "part",
    "stop: the spindle stands in it",
    "short: dressing, a stop or a touch",
    "long: two parts in one, or another thing",
    "cut off: the log begins or ends in it",
    "low: a cycle without a part",
    "hole: rows are missing in it",
    "clipped: the meter ends there",
    "at the highest value of the log",
    "no idle on either side",
    "left out by you",
)
GROUND = (PART, MISSING, CLIPPED, AT_HIGHEST, NO_IDLE)  # a part was ground in it, whether it can be read or not

_POWER, _MIDDLE, _STRETCH, _ROW = (LOG.area(name) for name in ("power", "middle", "stretch", "row"))
_TIME = LOG.area("time")


def parts_page(book: Book, leave_out: Sequence[Any]) -> None:
    typed = filled_up("leave_out", leave_out, MOST_STRETCHES)
    page = book.page(
        "Parts",
        "Parts: every stretch above idle",
        PARTS.widths,
        state_columns=column_index_from_string(PARTS.letter("leave_out")),
    )
    page.note("A part is read; any other stretch keeps its word and is not. Write no beside one that is no part.")
    page.note("Columns on the right are the steps. It was tried on simulated logs only.")
    page.columns_head(PARTS, lines=5)
    for number, given in enumerate(typed, start=1):
        page.columns_row(PARTS, {"number": number, "leave_out": given}, _formulas(page.row))
    book.name("in_leave_out", page.sheet, PARTS.range("leave_out"))
    page.offer(PARTS.range("leave_out"), ("no", "yes"), "is it a part?", "no: it is none. Blank or yes: as the word says.")
    page.sheet.freeze_panes = f"A{HEAD + 1}"
    page.sheet.print_title_rows = f"1:{HEAD}"
    page.sheet.print_area = f"A1:{PARTS.letter('leave_out')}{PARTS.last_row}"  # the steps beside it are to be read on the screen


def _rows(seconds: str | float) -> str:
    """Formula text: so many seconds in rows, rounded up."""
    return f"ROUNDUP({seconds}/out_interval,0)"


def _mean(first: str, last: str) -> str:
    """The mean power of the running rows from one to another, an error where there is none."""
    return f'AVERAGEIFS({_POWER},{_ROW},">="&{first},{_ROW},"<="&{last},{_POWER},">="&out_running)'


def _risen(first: str, last: str, contact: str) -> str:
    """How far power has risen over the rows, as a share of its level: the mean of 1 - exp(-t/lag) in closed form."""
    begin, end = (f"({row}-{contact})*out_interval/out_lag" for row in (f"{first}-0.5", f"{last}+0.5"))
    return f"(1-(EXP(-{begin})-EXP(-{end}))/(({last}-{first}+1)*out_interval/out_lag))"


def _formulas(row: int) -> dict[str, str]:
    at = PARTS.row_here(row)
    of_every = {**_place_and_length(at), **_near(at, row)}
    of_parts = {**_infeed(at), **_idle(at, row), **_steady(at)}
    no_more = f"{at['number']}>out_stretches"
    is_alike, is_part = f"{at['length']}={quoted(PART)}", f"{at['word']}={quoted(PART)}"
    counted = "0" if row == PARTS.first_row else f"MAX({PARTS.letter('part')}${PARTS.first_row}:{PARTS.here('part', row - 1)},0)"
    is_ground = "+".join(f"({at['word']}={quoted(word)})" for word in GROUND)
    return {
        **{name: f'IF({no_more},"",{formula})' for name, formula in of_every.items()},
        **{name: f'IF({no_more},"",IF({is_alike},{formula},""))' for name, formula in of_parts.items()},
        **{name: f'IF({is_part},{formula},"")' for name, formula in _net(at).items()},
        "word": f'IF({no_more},"",{_word(at)})',
        "part": f'IF({is_ground}>0,{counted}+1,"")',
    }


def _place_and_length(at: dict[str, str]) -> dict[str, str]:
    number, rows, end = at["number"], at["rows"], _end(at)
    top = f'AVERAGEIFS({_POWER},{_STRETCH},{number},{_POWER},">"&{at["mean"]})'
    no_longer = f'SUMIF({PARTS.area("rows")},"<="&{rows},{PARTS.area("energy")})'
    highest = f"IF(ISNUMBER(in_highest_power),in_highest_power,MAX({_POWER}))"
    usual = f"{rows}*out_interval/out_usual_length"
    most = f"IF(ISNUMBER(in_infeed_time),{LENGTHS_GIVEN[1]},{LENGTHS[1]})"
    return {
        "first": f"MATCH({number},{_STRETCH},0)",
        "rows": f"COUNTIF({_STRETCH},{number})",
        "start": f"INDEX({_TIME},{at['first']})*out_time_factor",
        "seconds": f"{rows}*out_interval",
        "running": f'COUNTIFS({_STRETCH},{number},{_POWER},">="&out_running)',
        "mean": f'IFERROR(AVERAGEIFS({_POWER},{_STRETCH},{number},{_POWER},">="&out_running),0)',
        "top": f"IFERROR({top},{at['mean']})",
        "energy": f"MAX(0,{at['running']}*({at['mean']}-out_low))",
        "usual": f'IF({no_longer}>=0.5*SUM({PARTS.area("energy")}),{rows},"")',
        "length": first_of(
            (f"({at['first']}=1)+({end}=out_rows)>0", quoted(CUT)),
            (f"{at['running']}<{RUNNING}*{rows}", quoted(STOPPED)),
            (f"{usual}<{LENGTHS[0]}", quoted(SHORT)),
            (f"{usual}>{most}", quoted(LONG)),
            otherwise=quoted(PART),
        ),
        "at_top": f'COUNTIFS({_STRETCH},{number},{_POWER},">="&{highest})/{rows}',
    }


def _near(at: dict[str, str], row: int) -> dict[str, str]:
    begin = f"MAX({at['first']}-{_rows(FAR)},{_end_before(row)}+{_rows(SHORT_BEHIND)})"
    return {"near": f'IFERROR({_mean(begin, _until_contact(at))},"")'}


def _infeed(at: dict[str, str]) -> dict[str, str]:
    """How high it is, how long it stays there, and its lag: what its first half lacks to the level of the second."""
    reached = f"{1 - FALLEN:.1g}*out_low+{FALLEN}*{at['top']}"
    inside = f'{_STRETCH},{at["number"]},{_MIDDLE},">"&{reached}'
    until = f"INT({at['centre']})"
    seconds = f"({until}-{at['first']}+1)*out_interval"
    level = f"({_mean(until, at['last'])}-{at['near']})"
    begun = f"MAX(0,MIN(0.9,(out_enter-{at['near']})/{level}))"  # how far it has risen where the stretch begins
    lag = f"{seconds}*(1-({_mean(at['first'], until)}-{at['near']})/{level})/(1-{begun})"
    return {
        "height": f"{at['top']}-out_low",
        "high": f"COUNTIFS({inside})",
        "centre": f"AVERAGEIFS({_ROW},{inside})",
        "last": f"INT({at['centre']}+({at['high']}-1)/2)-{_rows(BEFORE_END)}",
        "lag": f'IFERROR({lag},"")',
    }


def _idle(at: dict[str, str], row: int) -> dict[str, str]:
    wanted = _rows(f"MAX({BEHIND},{LAGS_BEHIND}*out_lag)")
    earlier = f"MAX({at['first']}-{_rows(NEAR + LONGEST_IDLE)},{_end_before(row)}+{wanted})"
    later = f"{_end(at)}+{wanted}"
    following = f"out_rows+{_rows(NEAR)}+1"
    if row < PARTS.last_row:
        following = f"IF({at['number']}<out_stretches,{PARTS.here('first', row + 1)},{following})"
    latest = f"MIN({later}+{_rows(LONGEST_IDLE)},{following}-{_rows(NEAR)})"
    before, behind = at["before"], at["behind"]
    lower = f"IF({at['differ']}>{DIFFERENT}*{at['height']},MIN({before},{behind}),({before}+{behind})/2)"
    return {
        "before": f"IFERROR({_mean(earlier, _until_contact(at))},{at['near']})",
        "rise": f'IFERROR({at["near"]}-{before},"")',
        "behind": f'IFERROR({_mean(f"({later})", latest)},"")',
        "differ": f'IF({are_numbers(before, behind)},ABS({before}-{behind}),"")',
        "idle": first_of(
            (f"(out_coolant_step>0)*ISNUMBER({at['near']})=1", at["near"]),
            (are_numbers(before, behind), lower),
            (f"ISNUMBER({before})", before),
            otherwise=behind,
        ),
    }


def _steady(at: dict[str, str]) -> dict[str, str]:
    begun = f"MAX(0,MIN(0.9,(out_enter-{at['idle']})/({at['top']}-{at['idle']})))"
    lag, room = "out_lag/out_interval", f"({at['last']}-{at['contact']})"
    lags = f"IF({room}-{LAGS:g}*{lag}<MAX(2,{SHORTEST}*{room}),{FEWER_LAGS:g},{LAGS:g})"
    return {
        "contact": f'IF(ISNUMBER({at["idle"]}),{at["first"]}-0.5+{lag}*LN(1-{begun}),"")',
        "steady": f'IF(ISNUMBER({at["contact"]}),MIN(ROUNDUP({at["contact"]}+0.5+{lags}*{lag},0),{at["last"]}-1),"")',
        "middle": f'IF(ISNUMBER({at["steady"]}),INT(({at["steady"]}+{at["last"]})/2),"")',
    }


def _net(at: dict[str, str]) -> dict[str, str]:
    halves = {"one": (at["steady"], at["middle"]), "other": (f"({at['middle']}+1)", at["last"])}
    rows = {name: f"({last}-{first}+1)" for name, (first, last) in halves.items()}
    one, other = at["one"], at["other"]
    return {
        **{
            name: f"({_mean(first, last)}-{at['idle']})/{_risen(first, last, at['contact'])}"
            for name, (first, last) in halves.items()
        },
        "net": f"({one}*{rows['one']}+{other}*{rows['other']})/({rows['one']}+{rows['other']})",
        "halves": f"ABS({one}-{other})",
        "change": f"200*({other}-{one})/{at['net']}",
        "level": f"{at['idle']}+{at['net']}",
    }


def _word(at: dict[str, str]) -> str:
    span = f"(INDEX({_TIME},{_end(at)})-INDEX({_TIME},{at['first']}))*out_time_factor"
    return first_of(
        (f"TRIM({at['leave_out']})={quoted('no')}", quoted(LEFT_OUT)),
        (f"{at['length']}<>{quoted(PART)}", at["length"]),
        (f"{at['height']}<{LOW_LEVEL}*MEDIAN({PARTS.area('height')})", quoted(LOW)),
        (f"{span}>{at['seconds']}+{HOLE:g}", quoted(MISSING)),
        (f"{at['at_top']}>{AT_TOP}", f"IF(ISNUMBER(in_highest_power),{quoted(CLIPPED)},{quoted(AT_HIGHEST)})"),
        (f"NOT(ISNUMBER({at['idle']}))", quoted(NO_IDLE)),
        otherwise=quoted(PART),
    )


def _end(at: dict[str, str]) -> str:
    """The last row of a stretch."""
    return f"({at['first']}+{at['rows']}-1)"


def _end_before(row: int) -> str:
    """The last row of the stretch before."""
    return "0" if row == PARTS.first_row else f"({PARTS.here('first', row - 1)}+{PARTS.here('rows', row - 1)}-1)"


def _until_contact(at: dict[str, str]) -> str:
    return f"({at['first']}-{_rows(NEAR)})"
