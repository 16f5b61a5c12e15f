"""The checks of trial.xlsx that tie several cells together."""

from __future__ import annotations

from ...planning.plan import BOTH, FURTHEST_PERCENT
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.conditions import quoted
from ...trial.inputs import BOOK_LOAD_KINDS, BOOK_STEPS, FOLLOWED, SPACINGS, UNITS
from ...trial.readings import BLANK, CHANGED, EXCLUDED, USED
from ..blocks.limits import order_checks
from ..blocks.slips import watch_cells
from .calculation import IS_BOTH, IS_ENERGY
from .plan import OUTSIDE
from .tables import CALCULATION, PLAN, READINGS, ROWS


def checks(book: Book) -> None:
    judged, at_readings = CALCULATION.area("judged"), f"{READINGS.sheet}!{READINGS.here('status', READINGS.first_row)}"
    for name, label, words in (
        ("units", "units are known", UNITS),
        ("load_kind", "kind of load reading is known", BOOK_LOAD_KINDS),
        ("follow", "what to set next by is known", FOLLOWED),
        ("steps", "what is stepped is known", BOOK_STEPS),
        ("plan_spacing", "spacing of the plan is known", SPACINGS),
    ):
        known = "+".join(f"(in_{name}={quoted(word)})" for word in words)
        book.stop_unless(label, f"{known}>0", f"in_{name}: must be " + " or ".join(words))
    book.stop_unless(
        "voltage and power factor are given for readings of current",
        'IF(in_load_kind="current",ISNUMBER(in_volts)*ISNUMBER(in_power_factor)=1,TRUE)',
        "in_volts, in_power_factor: needed for readings in A",
    )
    book.stop_unless(
        "steps of work rpm stay above standstill",
        "in_rpm_step*out_plan_sides<100",
        "in_rpm_step times in_steps_each_side must be < 100 %",
    )
    book.stop_unless(
        "nominal work rpm is within the machine's limits, for equal steps of depth",
        'IF(in_plan_spacing="depth",(out_slowest_step<=1)*(out_fastest_step>=1)=1,TRUE)',
        "in_nominal_rpm: must be within in_lowest_work_rpm and in_highest_work_rpm",
    )
    book.stop_unless(
        "steps of rpm and infeed together are not too large",
        f"IF({IS_BOTH},in_rpm_step<={FURTHEST_PERCENT[BOTH]:g},TRUE)",
        f"in_rpm_step must be <= {FURTHEST_PERCENT[BOTH]:g} % for steps of rpm and infeed",
    )
    book.stop_unless(
        "number of steps is whole", "INT(in_steps_each_side)=in_steps_each_side", "in_steps_each_side must be a whole number"
    )
    order_checks(book, "work_rpm", "infeed_rate")
    book.look_if(
        "readings left out",
        f'COUNTIF({judged},"{USED}")+COUNTIF({judged},"{BLANK}")+COUNTIF({judged},"{EXCLUDED}")<{ROWS}',
        "the sheet Trial says in which row and why",
        at_readings,
    )
    book.look_if(
        "readings excluded",
        f'COUNTIF({judged},"{EXCLUDED}")>0',
        "rows with use? = no: excluding readings to please a curve makes the interval worthless",
        at_readings,
    )
    book.look_if(
        "readings equal in rpm, load and idle",
        f"SUMPRODUCT(({judged}={quoted(USED)})*({CALCULATION.area('first_same')}<>{CALCULATION.area('number')}))>0",
        "a repeat, or a copy? Delete it if it is a copy",
        at_readings,
    )
    book.look_if(
        "readings outside the machine's limits",
        f"SUM({CALCULATION.area('outside')})>0",
        "the sheet Trial says which: a slip, or a wrong limit: in_lowest_work_rpm, in_highest_work_rpm, in_lowest_infeed_rate, in_highest_infeed_rate?",
        at_readings,
    )
    watch_cells(book, CALCULATION.area("rpm_read"), QUANTITIES["work_rpm"], "work rpm of the readings", where=at_readings)
    watch_cells(book, CALCULATION.area("own_infeed"), QUANTITIES["infeed_rate"], "infeed rate of the readings", where=at_readings)
    changes = (
        f"MAX({CALCULATION.area('removal')})-MIN({CALCULATION.area('removal')})>{CHANGED}*MAX({CALCULATION.area('removal')})"
    )
    book.stop_unless(
        "readings go with the infeed, where it changes from row to row",
        f'IF({changes},in_load_kind<>"current",TRUE)',
        "in_load_kind: readings must be power, or a meter that rises evenly with power; a current does not serve",
    )
    book.stop_unless(
        "idle is given, where the infeed changes from row to row",
        f"IF({changes},IF({IS_ENERGY},TRUE,ISNUMBER(in_idle)+out_own_idles>0),TRUE)",
        "in_idle: an idle that is not taken off would pose as a fall",
    )
    most = QUANTITIES["power"].possible
    book.stop_unless(
        "load of the readings: not more than there is on any machine",
        f"IF(in_load_kind={quoted('power')},MAX({CALCULATION.area('load_read')})<={most:G},TRUE)",
        f"load of the readings: more than {most:g} kW there is not; a slip, or another unit?",
        at_readings,
    )
    book.look_if(
        "planned readings outside the machine's limits",
        f"COUNTIF({PLAN.area('planned_rpm')},{quoted(OUTSIDE)})>0",
        "in_rpm_step, in_steps_each_side: the plan skips these steps, and the trial gets narrower",
    )
    book.look_if(
        "idle reading is not given",
        f"IF({IS_ENERGY},FALSE,IF(out_n_readings>0,ISNUMBER(in_idle)+out_own_idles=0,FALSE))",
        "in_idle: the level is too high by the idle load; the knee is the same",
    )
