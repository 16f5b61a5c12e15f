"""The checks of trial.xlsx that tie several cells together."""

from __future__ import annotations

from ...quantities import QUANTITIES
from ...trial.inputs import SPACINGS
from ...trial.readings import BLANK, EXCLUDED, USED
from ...trial.words import LOAD_KINDS
from ..blocks.limits import order_checks
from ..blocks.slips import watch_cells
from ..book import Book
from ..conditions import quoted
from .plan import OUTSIDE
from .tables import CALCULATION, READINGS, ROWS


def checks(book: Book) -> None:
    statuses, counts = CALCULATION.area("status"), CALCULATION.area("counts")
    known = "+".join(f'(in_load_kind="{kind}")' for kind in LOAD_KINDS)
    book.stop_unless("kind of load reading is known", f"{known}>0", "in_load_kind: must be " + ", ".join(LOAD_KINDS))
    book.stop_unless(
        "voltage and power factor are given for readings of current",
        'IF(in_load_kind="current",ISNUMBER(in_volts)*ISNUMBER(in_power_factor)=1,TRUE)',
        "in_volts, in_power_factor: needed for readings in A",
    )
    book.stop_unless(
        "steps of work rpm stay above standstill",
        "in_rpm_step*in_steps_each_side<100",
        "in_rpm_step times in_steps_each_side must be < 100 %",
    )
    book.stop_unless(
        "spacing of the plan is known",
        "+".join(f"(in_plan_spacing={quoted(word)})" for word in SPACINGS) + ">0",
        "in_plan_spacing: must be " + " or ".join(SPACINGS),
    )
    book.stop_unless(
        "nominal work rpm is within the machine's limits, for equal steps of depth",
        'IF(in_plan_spacing="depth",(out_slowest_step<=1)*(out_fastest_step>=1)=1,TRUE)',
        "in_nominal_rpm: must be within in_lowest_work_rpm and in_highest_work_rpm",
    )
    book.stop_unless(
        "number of steps is whole", "INT(in_steps_each_side)=in_steps_each_side", "in_steps_each_side must be a whole number"
    )
    order_checks(book, "work_rpm")
    book.look_if("the verdict is found", 'out_verdict<>"found"', "see what to do next on Results")
    book.look_if(
        "readings left out",
        f'SUM({counts})+COUNTIF({statuses},"{BLANK}")+COUNTIF({statuses},"{EXCLUDED}")<{ROWS}',
        "the sheet Readings says in which row and why",
    )
    book.look_if(
        "readings excluded",
        f'COUNTIF({statuses},"{EXCLUDED}")>0',
        "rows with use? = no: excluding readings to please a curve makes the interval worthless",
    )
    book.look_if(
        "readings equal in rpm, load and idle",
        f'SUM({counts})>COUNTIF({statuses},"{USED}")',
        "a repeat, or a copy? Delete it if it is a copy",
    )
    book.look_if(
        "readings outside the machine's limits",
        f"SUM({CALCULATION.area('outside')})>0",
        "the sheet Readings says which: a slip, or wrong limits on Inputs?",
    )
    watch_cells(book, CALCULATION.area("rpm_read"), QUANTITIES["work_rpm"], "work rpm of the readings")
    most = QUANTITIES["power"].possible
    book.stop_unless(
        "load of the readings: not more than there is on any machine",
        f"IF(in_load_kind={quoted('power')},MAX({CALCULATION.area('load_read')})<={most:G},TRUE)",
        f"load of the readings: more than {most:g} kW there is not; a slip, or another unit?",
    )
    book.look_if(
        "planned readings outside the machine's limits",
        f"COUNTIF({READINGS.area('planned_rpm')},{quoted(OUTSIDE)})>0",
        "the plan skips these steps: the trial gets narrower",
    )
    book.look_if(
        "idle reading is not given",
        "ISNUMBER(in_idle)+out_own_idles=0",
        "the level is too high by the idle load; the knee is the same",
    )
