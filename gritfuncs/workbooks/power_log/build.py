"""power_log.xlsx: paste a log of power against time, see the parts in it, copy the readings into trial.xlsx."""

from __future__ import annotations

from typing import Any

from ... import example
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.conditions import first_of
from ...trial.log_limits import ENTER, FEWEST_PARTS, LAGS, LEAST_SHARE, LEAVE, MOST_SPREAD, SLOW
from ..blocks.state import MARKED_SPEED, NOT_FULFILLED
from ..blocks.wheel import title_input
from ..read_me import read_me_page
from .chart import chart_data_page, log_chart
from .levels import TIME_UNITS, fitting, levels_page
from .parts import parts_page
from .readings import readings_page
from .rows import log_page
from .tables import LOG, MOST_PARTS, MOST_STRETCHES, READINGS, ROWS

LEAST_FLAT = 0.45  # of a part's time stands above 90 % of its level; a saw or a sine stays there for less
MOST_STEEP = 0.25  # of the level, from one end of the steady stretch to the other
WEAK_RISE = 5.0  # % of idle
COARSE = 0.2  # of the rows repeat the power before
_INFEED_TIME = Quantity("infeed_time", "-", "infeed time of a part", "s", "Seconds of infeed, to tell parts from dressing.")
_EXPECTED = Quantity(
    "expected_parts",
    "-",
    "parts ground while the log ran",
    "-",
    "If another number is found, no readings are handed on.",
    low=1.0,
    low_open=False,
)
_LOWEST = Quantity(
    "lowest_power",
    "-",
    "lowest reading while the spindle runs",
    "as pasted",
    "Lower rows do not count: the spindle stands, or the meter dropped out. 0 for a meter that is zeroed at idle: all rows count.",
    low_open=False,
)
_HIGHEST = Quantity(
    "highest_power", "-", "highest value that the meter can show", "as pasted", "Parts that stand there are not read."
)
_STEP = Quantity(
    "meter_step", "-", "smallest step of the meter", "as pasted", "Such as 1 of a meter in whole percents; widens the error."
)


def defaults() -> dict[str, Any]:
    """The input values of the workbook as it is shipped: nothing pasted."""
    return dict(title=example.TITLE, time_unit="s", times=[], powers=[], work_rpms=[], leave_out=[])


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_, and times, powers) in place of those that are shipped."""
    values = {**defaults(), **(values or {})}
    book = Book("Power log: parts and readings", state=first_of(NOT_FULFILLED, otherwise=MARKED_SPEED))
    _read_me(book)
    _inputs(book, values)
    page = log_page(book, values["times"], values["powers"])
    parts_page(book, values["leave_out"])
    readings_page(book, values["work_rpms"])
    levels_page(book)
    log_chart(page, chart_data_page(book))
    _checks(book)
    book.checks_page()
    return book.finish()


def _read_me(book: Book) -> None:
    read_me_page(
        book,
        "Power log: from a logged trace to readings",
        purpose=(
            "A log of spindle power, current or a load meter against time through a whole trial is cut into parts, and the load "
            "and idle of each part are read, ready to be copied into trial.xlsx. All grinding logs that this was tried on are "
            "simulated: look at the chart before you believe a number.",
        ),
        steps=(
            "Before the trial: log 5 rows a second, the meter averaging 0.5 s at most; one cycle without a part first; coolant on "
            "throughout; 5 to 10 s of idle between parts; a longer pause at each change of rpm.",
            f"Inputs: the unit of time, and what else is known. Log: clear the tinted columns, paste time and power (at most {ROWS} "
            "rows: 16 min at 5 rows a second).",
            "Log and Parts: compare chart and words with what was ground. Write no beside a stretch that is no part.",
            "Readings: type the work rpm of the parts, copy the block, paste it as values into the readings on 2 Trial of trial.xlsx.",
        ),
        background=(
            f"Idle and grinding are two levels, halved apart by their means. A stretch begins above {100 * ENTER:g} % of the way between "
            f"them and ends below {100 * LEAVE:g} %. The usual length says which stretches are parts. Power rises after contact as 1 - exp(-t/lag); it is "
            f"read from {LAGS:g} lags after contact to the end of infeed, and what is left of the rise is taken out in closed form.",
            "What it cannot do: logs of more rows, text instead of numbers, uneven steps of time, gaps within a part, a drift of idle "
            "as large as the grinding power, coolant switched less than 3 s before contact, several infeed stages as readings of "
            "their own, an rpm channel. It has one error for all parts, and does not list a rise that stays below a third of the usual level. It does not know burn or cracks, and it cannot see that "
            "something else was logged which rises and falls alike. The command gritfuncs log does more.",
        ),
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page("Inputs", "Inputs")
    page.rows_head()
    title_input(page, values)
    page.choice(
        "time_unit",
        values["time_unit"],
        tuple(TIME_UNITS),
        label="unit of the pasted time",
        text="s, ms or min; days: clock times or dates that the spreadsheet keeps as such.",
    )
    page.heading("If known")
    page.rows_head()
    for quantity in (_INFEED_TIME, _EXPECTED, _LOWEST, _HIGHEST, _STEP):
        page.input(quantity.name, values.get(quantity.name), optional=True, quantity=quantity)


def _number(formula: str, digits: int) -> str:
    """Formula text of a number within a sentence."""
    return f"FIXED({formula},{digits},TRUE)"


def _checks(book: Book) -> None:
    _log_checks(book)
    _part_checks(book)
    _rpm_check(book)
    _looks(book)


def _log_checks(book: Book) -> None:
    """Whether the log can be cut."""
    advice = {
        "all cells of time and power are numbers": '="Log: "&'
        + _number("out_texts", 0)
        + '&" cells are no number (a heading, a decimal sign of another '
        'country, an error value): type or convert them"',
        "the log fits into the table": f"Log: rows stand below row {LOG.last_row}: thin the log out, or cut it in two.",
        "time and power have a number in every row": '="Log: "&'
        + _number("out_rows", 0)
        + '&" times, "&'
        + _number("out_powers", 0)
        + '&" powers, "&'
        + _number("out_apart", 0)
        + '&" cells below a blank row: delete rows that lack one, and clear what an older log left"',
        "time grows from row to row": "Log: time must grow in every row: an older log left below, whole seconds for several rows, or midnight?",
        "rows follow one another fast enough": '="Log: a row every "&'
        + _number("out_interval", 4)
        + '&" s, must be 0.01 to 2 s: is the unit of time right on Inputs?"',
        "time runs in even steps": '="Log: "&'
        + _number("out_uneven", 0)
        + '&" steps of time are not "&'
        + _number("out_interval", 3)
        + '&" s: log at a constant rate, not when a value changes"',
        "it is known what a power near zero means": '="in_lowest_power: "&'
        + _number("out_near_zero", 0)
        + '&" rows are near zero: fill in the lowest reading while the spindle runs; 0 for a meter that is zeroed at idle"',
    }
    for label, fits in fitting().items():
        book.stop_unless(label, f"IF(out_rows+out_powers+out_texts=0,TRUE,{fits})", advice.get(label, f"Log: {label}."))


def _part_checks(book: Book) -> None:
    """Whether what was cut out is plunge grinding, in parts that are as many as were ground."""
    cut = "IF(out_log_fits=1,{},TRUE)".format
    book.stop_unless(
        "power rises and falls",
        cut("out_stretches>0"),
        "Log: two levels, idle and grinding, must be seen: is this the right column?",
    )
    book.stop_unless(
        f"at most {MOST_STRETCHES} stretches and {MOST_PARTS} parts",
        f"IF(out_stretches<={MOST_STRETCHES},out_parts<={MOST_PARTS},FALSE)",
        f"Parts has {MOST_STRETCHES} rows, trial.xlsx takes {MOST_PARTS} readings: cut the log in two",
    )
    parts = cut("IF(out_stretches>0,{},TRUE)").format
    book.stop_unless(
        f"{FEWEST_PARTS} parts or more, or the infeed time is given",
        parts(f"IF(ISNUMBER(in_infeed_time),out_parts>0,out_parts>={FEWEST_PARTS})"),
        "in_infeed_time: say it, to tell fewer parts from other stretches",
    )
    book.stop_unless(
        "most of the time above idle is in parts of one length",
        parts(f"IF(out_share>={LEAST_SHARE},out_spread<={MOST_SPREAD},FALSE)"),
        '="Parts: "&'
        + _number("100*out_share", 0)
        + '&" % of the time above idle in parts, length of infeed within ± "&'
        + _number("100*out_spread", 0)
        + '&" %: this is no plunge grinding, or another column"',
    )
    book.stop_unless(
        "power stays level while a part is ground",
        parts(f"IF(out_flat>={LEAST_FLAT},ABS(out_steepness)<={MOST_STEEP},FALSE)"),
        '="Parts: above 90 % of the level for "&'
        + _number("100*out_flat", 0)
        + '&" % of the time, changes by "&'
        + _number("ABS(100*out_steepness)", 0)
        + '&" % within: this is no plunge grinding"',
    )
    book.stop_unless(
        "parts found are as many as were ground",
        parts("IF(ISNUMBER(in_expected_parts),out_parts=in_expected_parts,TRUE)"),
        '="in_expected_parts: found "&'
        + _number("out_parts", 0)
        + '&": look at the chart; write no on Parts beside a stretch that is none, or correct the number"',
    )


def _rpm_check(book: Book) -> None:
    typed, typed_numbers = "COUNTA(in_work_rpms)", "COUNT(in_work_rpms)"
    in_order = f'COUNTIF(in_work_rpms,">0")={typed}'
    last = "INDEX(in_work_rpms,MAX(1,out_parts))"
    book.stop_unless(
        "work rpm are as many as the parts, or none",
        f"IF({typed}=0,TRUE,({typed}={typed_numbers})*({in_order})*({typed}=out_parts)*ISNUMBER({last})=1)",
        '="Readings: "&'
        + _number("out_parts", 0)
        + '&" parts, "&'
        + _number(typed_numbers, 0)
        + '&" work rpm: one a part from the first row on, without gaps; nothing is shifted to fit"',
    )


def _looks(book: Book) -> None:
    book.look_if(
        "parts at the highest value of the log",
        f'COUNTIF({READINGS.area("word")},"at the highest*")>0',
        "in_highest_power: does the meter end there? Fill in the highest value that it can show: only parts at that value are then left out",
    )
    book.look_if(
        "grinding lifts the reading by little",
        f"IF((out_parts_read>0)*ISNUMBER(out_rise)=1,out_rise<{WEAK_RISE},FALSE)",
        '="a rise of "&IFERROR(' + _number("out_rise", 1) + ',"")&" % over idle: too little to show a knee"',
    )
    book.look_if(
        "the meter shows coarse steps",
        f"IF(ISNUMBER(in_meter_step),FALSE,out_equal>{COARSE})",
        "in_meter_step: many rows repeat the one before; fill in the smallest step, or the error is stated too small",
    )
    book.look_if("rows are slow", f"out_interval>{SLOW}", "5 to 20 rows a second show contact and lag better")
    book.look_if(
        "stretches that are no part",
        "out_stretches>out_parts",
        "Parts: look at each word; the chart shows them without the thick line",
    )
    book.look_if(
        "coolant steps up before contact",
        "out_coolant_step>0",
        "idle is read 1.5 to 3 s before contact only: coolant must be fully on by then",
    )
