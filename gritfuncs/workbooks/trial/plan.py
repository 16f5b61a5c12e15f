"""The sheet calc plan of trial.xlsx: the planned steps of work rpm in run order, and their depths."""

from __future__ import annotations

from ..blocks.limits import beyond
from ..book import Book
from ..conditions import are_numbers, first_of, quoted
from .steps import plunge_depth
from .tables import PLAN, PLAN_SHEET, ROWS

OUTSIDE = "outside limits"


def plan_page(book: Book) -> None:
    page = book.page(
        PLAN_SHEET, "The plan: steps of work rpm in run order, nominal again in the middle and at the end", PLAN.widths
    )
    page.note("Steps outside the machine's limits are left out of the turn.")
    page.columns_head(PLAN, lines=3)
    for number in range(1, ROWS + 1):
        page.columns_row(PLAN, {"number": number}, _formulas(page.row))
    page.sheet.freeze_panes = f"B{PLAN.first_row}"


def _formulas(row: int) -> dict[str, str]:
    own = PLAN.row_here(row)
    above = PLAN.here("place", row - 1)
    before = "0" if row == PLAN.first_row else f"MAX({PLAN.here('place', PLAN.first_row)}:{above})"
    return dict(
        step=position(own["number"]),
        planned_step=step_percent(own["step"]),
        planned_rpm=planned_rpm(own["planned_step"]),
        planned_depth=first_of((f"ISNUMBER({own['planned_rpm']})", plunge_depth(own["planned_rpm"])), otherwise=quoted("")),
        place=first_of((f"ISNUMBER({own['planned_rpm']})", f"{before}+1"), otherwise="0"),
        in_turn=f"IFERROR(INDEX({PLAN.area('planned_rpm')},MATCH({own['number']},{PLAN.area('place')},0)),{quoted('')})",
    )


def position(number: str) -> str:
    """Steps from nominal in run order, out and back: nominal, outward by every second step, nominal, home by the others, nominal."""
    steps = "in_steps_each_side"
    middle, last = f"2*INT(({steps}+1)/2)+2", f"2*{steps}+3"
    outward = f"(2-MOD({steps},2)+2*INT(({number}-2)/2))*IF(MOD({number},2)=0,1,-1)"
    home = f"({steps}-1-2*INT(({number}-({middle})-1)/2))*IF(MOD({number}-({middle}),2)=1,-1,1)"
    return first_of(
        ("out_ready<>1", quoted("")),
        (f"{number}>{last}", quoted("")),
        (f"OR({number}=1,{number}={middle},{number}={last})", "0"),
        (f"{number}<{middle}", outward),
        otherwise=home,
    )


def step_percent(position: str) -> str:
    """Percent of nominal: equal steps of rpm, or of depth, which goes with the fourth root of rpm."""
    by_depth = f"100*((1+ABS({position})/in_steps_each_side*(IF({position}>0,out_fastest_step,out_slowest_step)^0.25-1))^4-1)"
    return first_of(
        (f"NOT({are_numbers(position)})", quoted("")), ('in_plan_spacing="depth"', by_depth), otherwise=f"{position}*in_rpm_step"
    )


def planned_rpm(step: str) -> str:
    rpm = f"in_nominal_rpm*(100+{step})/100"
    outside = ((beyond(limit, rpm), quoted(OUTSIDE)) for limit in ("highest_work_rpm", "lowest_work_rpm"))
    return first_of((f"NOT({are_numbers(step)})", quoted("")), *outside, otherwise=rpm)
