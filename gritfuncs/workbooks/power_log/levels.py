"""The sheet Levels of power_log.xlsx: the interval, idle and grinding level of the log, and what all parts have in common."""

from __future__ import annotations

from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.page import Page
from ...trial.log_limits import ENTER, FEWEST_ROWS, LAGS, LEAVE, NEAR_ZERO, NORMAL
from .rows import BEYOND, log_word
from .tables import LOG, PARTS

SHORTEST_INTERVAL, LONGEST_INTERVAL = 0.01, 2.0  # s
MOST_UNEVEN = 0.02  # of the rows
HALVINGS = 6
ZEROED = 0.01  # of the level; a smaller idle is that of a meter zeroed there, and a rise over it says nothing
COOLANT = 0.02  # of the level: a smaller step before contact is none
TIME_UNITS = {"s": "1", "ms": "0.001", "min": "60", "days": "86400"}  # days: clock times as spreadsheets keep them

_POWER, _MIDDLE, _STRETCH, _ROW = (LOG.area(name) for name in ("power", "middle", "stretch", "row"))
_TIME = LOG.area("time")


def _shifted(name: str, first: int, last: int) -> str:
    letter = LOG.letter(name)
    return f"Log!${letter}${first}:${letter}${last}"


_EARLIER, _POWERS_EARLIER = (_shifted(name, LOG.first_row, LOG.last_row - 1) for name in ("time", "power"))
_LATER, _POWERS_LATER = (_shifted(name, LOG.first_row + 1, LOG.last_row) for name in ("time", "power"))
_STEP = f"({_LATER}-{_EARLIER})"
_BELOW = f"Log!${LOG.letter('time')}${LOG.last_row + 1}:${LOG.letter('power')}${BEYOND}"


def levels_page(book: Book) -> None:
    page = book.page("Levels", "Levels: what the whole log says", (42, 7.5, 15.5, 12, 13, 71))
    page.note("Every step of the reading that holds for the whole log. Nothing is to be filled in here.")
    _whole_log(page)
    _idle_and_grinding(page)
    _common(page)


def _is_above_zero(cell: str) -> str:
    """A condition; it is never an error."""
    return f"IF(ISNUMBER({cell}),{cell}>0,FALSE)"


def _whole_log(page: Page) -> None:
    """Whether the log can be cut."""
    page.rows_head()
    page.step("rows", f"COUNT({_TIME})", label="rows with a time", digits=0)
    page.step(
        "texts", f"COUNTA({_TIME})-COUNT({_TIME})+COUNTA({_POWER})-COUNT({_POWER})", label="cells that are no number", digits=0
    )
    page.step("too_long", f"COUNTA({_BELOW})", label="cells below the table", digits=0)
    page.step("powers", f"COUNT({_POWER})", label="rows with a power", digits=0)
    beyond = (f'COUNTIFS({_ROW},">"&out_rows,{cells},">"&(MIN({cells})-1))' for cells in (_TIME, _POWER))
    page.step("apart", "+".join(beyond), label="cells below a blank row", digits=0)
    are_numbers = "IF(out_rows>1,out_texts=0,FALSE)"
    page.step(
        "growing",
        f"IF({are_numbers},SUMPRODUCT(({_LATER}>{_EARLIER})*1)+1,0)",
        label="rows whose time grows",
        digits=0,
        text="Must be all of them.",
    )
    page.step("mean_step", f"IF({are_numbers},(MAX({_TIME})-MIN({_TIME}))/(out_rows-1),0)", label="mean step of time, as pasted")
    ordinary = f"({_STEP}>0)*({_STEP}<2*out_mean_step)"
    page.step("time_factor", _factor(), label="seconds in the unit of time", unit="s")
    page.step(
        "interval",
        f"IF(out_mean_step>0,IFERROR(SUMPRODUCT({ordinary}*{_STEP})/SUMPRODUCT({ordinary}*1),0)*out_time_factor,0)",
        label="seconds from row to row",
        unit="s",
        text="Of the ordinary steps.",
    )
    step = f"{_STEP}*out_time_factor"
    page.step(
        "uneven",
        f"IF(out_interval>0,SUMPRODUCT(({_STEP}>0)*(({step}<0.5*out_interval)+({step}>1.5*out_interval))),0)",
        label="steps that are far from it",
        digits=0,
    )
    page.step(
        "peak",
        f"IF({are_numbers}*(out_powers>0),LARGE({_POWER},INT(0.02*out_powers)+1),0)",
        label="highest power, peaks of 2 % of the rows aside",
    )
    page.step(
        "near_zero",
        f'IF(out_peak>0,COUNTIF({_POWER},"<"&{NEAR_ZERO}*out_peak),0)',
        label="rows near zero",
        digits=0,
        text="Is the spindle standing there, did the meter drop out, or is it zeroed at idle?",
    )
    page.step(
        "equal",
        f"IF({are_numbers},SUMPRODUCT(({_POWERS_LATER}={_POWERS_EARLIER})*({_LATER}>{_EARLIER}))/out_rows,0)",
        label="share of rows that repeat the power before",
        text="Many: the meter shows coarse steps.",
    )
    page.step(
        "log_fits",
        f"IF({'*'.join(f'({fits})' for fits in fitting().values())}=1,1,0)",
        label="the log can be cut (1 yes)",
        digits=0,
    )
    page.step(
        "running",
        f"IF({_is_above_zero('in_lowest_power')},in_lowest_power,MIN({_POWER})-1)",
        label="rows below this do not count",
        text="The lowest running power, where it is filled in and not 0.",  # zeroed at idle, half of the rows there lie below 0
    )
    page.step(
        "foot",
        f'IF(out_log_fits=1,IFERROR(SMALL({_MIDDLE},COUNTIF({_MIDDLE},"<"&out_running)+INT(0.02*out_powers)+1),0),0)',
        label="lowest running power, 2 % of the rows aside",
    )


def _idle_and_grinding(page: Page) -> None:
    page.heading("Idle and grinding")
    page.rows_head()
    middle = "(out_foot+out_peak)/2"  # idle may lie above half of the peak
    for number in range(1, HALVINGS + 1):
        low, high = _mean_below(middle), _mean_above(middle)
        page.step(
            f"middle_{number}",
            f"IF(out_log_fits=1,IFERROR(({low}+{high})/2,{middle}),0)",
            label=f"middle between idle and grinding, {number}. time",
        )
        middle = f"out_middle_{number}"
    for name, mean, label in (("low", _mean_below, "idle"), ("high", _mean_above, "grinding")):
        page.step(name, f"IF(out_log_fits=1,IFERROR({mean(middle)},0),0)", label=f"{label}, over the whole log")
    for name, share, label in (("enter", ENTER, "begins above"), ("leave", LEAVE, "ends below")):
        page.step(
            name,
            f"IF((out_log_fits=1)*(out_high>out_low)=1,out_low+{share}*(out_high-out_low),1E+300)",
            label=f"a stretch {label}",
            text=f"{100 * share:g} % of the way from idle to grinding.",
        )
        page.sheet.cell(page.row - 1, 3).number_format = "[>=1000000]0E+0;0.000"  # beyond any reading where nothing can be cut
    page.result("stretches", f"MAX({_STRETCH},0)", label="stretches above idle", digits=0)


def fitting() -> dict[str, str]:
    """Conditions under which the log can be cut, by what is asked of it; each is TRUE or FALSE, never an error."""
    return {
        "all cells of time and power are numbers": "out_texts=0",
        "the log fits into the table": "out_too_long=0",
        f"time and power have {FEWEST_ROWS} rows or more": f"out_rows>={FEWEST_ROWS}",
        "time and power have a number in every row": "IF(out_powers=out_rows,out_apart=0,FALSE)",
        "time grows from row to row": "out_growing=out_rows",
        "rows follow one another fast enough": f"IF(out_interval>={SHORTEST_INTERVAL},out_interval<={LONGEST_INTERVAL},FALSE)",
        "time runs in even steps": f"out_uneven<={MOST_UNEVEN}*out_rows",
        "it is known what a power near zero means": "IF(out_near_zero>0,ISNUMBER(in_lowest_power),TRUE)",
    }


def _factor() -> str:
    return first_of(*((f"in_time_unit={quoted(unit)}", size) for unit, size in TIME_UNITS.items()), otherwise="0")


def _mean_below(level: str) -> str:
    return f'AVERAGEIFS({_MIDDLE},{_MIDDLE},"<"&{level},{_MIDDLE},">="&out_running)'


def _mean_above(level: str) -> str:
    return f'AVERAGEIF({_MIDDLE},">="&{level})'


def _common(page: Page) -> None:
    page.heading("What the parts have in common")
    page.rows_head()
    rows, usual, length, lag, differ, halves, net, part, high, change = (
        PARTS.area(name) for name in ("rows", "usual", "length", "lag", "differ", "halves", "net", "part", "high", "change")
    )
    page.step(
        "usual_length",
        f"IF({_is_above_zero('in_infeed_time')},in_infeed_time,IF(COUNT({usual})>0,MIN({usual})*out_interval,0))",
        label="usual length of a part",
        unit="s",
        digits=1,
        text="Half of the energy lies in stretches that are no longer; or the infeed time.",
    )
    page.result(
        "lag",
        f"IF(COUNT({lag})>0,MAX(out_interval/4,MEDIAN({lag})),out_interval)",
        label="lag of the power after contact",
        unit="s",
        digits=2,
        text=f"First order; the median of the parts. The reading begins {LAGS:g} lags after contact.",
    )
    page.result("parts", f"MAX({part},0)", label="parts found", digits=0, text="Those that cannot be read are counted.")
    page.result("parts_read", f"COUNT({net})", label="parts that can be read", digits=0)
    page.result(
        "coolant_step",
        first_of(
            ("out_parts_alike<4", "0"),
            (f"out_near_step>MAX({COOLANT}*(out_high-out_low),3*out_near_scatter/SQRT(out_parts_alike))", "out_near_step/0.7"),
            otherwise="0",
        ),
        label="idle steps up just before contact by about",
        text="Coolant that is switched with each part; it counts as idle. 0: no step.",
    )
    page.step("parts_alike", f"COUNT({lag})", label="parts by their length", digits=0)
    page.step(
        "near_step",
        f"IF(out_parts_alike>0,MEDIAN({PARTS.area('rise')}),0)",
        label="idle just before contact less idle before, median",
    )
    page.step("near_scatter", f"IF(out_parts_alike>1,STDEV({PARTS.area('rise')}),0)", label="its scatter from part to part")
    page.result(
        "error",
        f"IF(COUNT({halves})>0,2*SQRT(({NORMAL}/2*MEDIAN({halves}))^2+IF(COUNT({differ})>0,({NORMAL}/2*MEDIAN({differ}))^2,0)"
        "+IF(ISNUMBER(in_meter_step),in_meter_step^2/6,0)),0)",
        label="error of a part: ± 2 standard errors of net",
        text="From how far the halves of the parts and idle on both sides differ, over all parts, and rounding.",
    )
    page.result(
        "rise",
        f'IF(out_parts_read>0,IF(ABS(out_low)>{ZEROED}*out_high,100*MEDIAN({net})/ABS(out_low),""),0)',
        label="grinding lifts the reading over idle by",
        unit="%",
        digits=1,
    )
    page.step("top_of_chart", "1.04*out_peak-0.04*out_low", label="height of the labels in the chart")
    page.sentence("log_word", log_word(), label="what the log gave")
    for name, formula, label in (
        ("share", f'IF(SUM({rows})>0,SUMIF({part},">0",{rows})/SUM({rows}),1)', "time in parts over time in stretches"),
        (
            "spread",
            f"IF(COUNT({high})>2,(LARGE({high},INT(0.16*COUNT({high}))+1)-SMALL({high},INT(0.16*COUNT({high}))+1))/2/MEDIAN({high}),0)",
            "spread of the length of infeed",
        ),
        ("flat", f'IF(COUNT({high})>0,SUM({high})/SUMIF({length},"part",{rows}),1)', "share of a part above 90 % of its level"),
        ("steepness", f"IF(COUNT({change})>0,MEDIAN({change})/100,0)", "change within a part, as a share of net"),
    ):
        page.step(name, formula, label=label)
