"""The sheet calc plan of trial.xlsx: the planned steps of work rpm in run order, and their depths."""

from __future__ import annotations

from collections.abc import Mapping

from ...planning.plan import BOTH, LEAST_PAIR, RPM, plan_words
from ...sheets.book import Book
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.texts import text_formula
from ..blocks.limits import beyond
from .calculation import IS_BOTH
from .steps import plunge_depth
from .tables import PLAN, PLAN_SHEET, ROWS

OUTSIDE = "outside limits"
_STEPS = "out_plan_sides"
_MIDDLE, _LAST = f"(2*INT(({_STEPS}+1)/2)+2)", f"(2*{_STEPS}+3)"  # places of nominal; of rpm and infeed the pair stands there


def plan_page(book: Book) -> None:
    page = book.page(
        PLAN_SHEET, "The plan: steps of work rpm in run order, nominal again in the middle and at the end", PLAN.widths
    )
    page.note("Steps outside the machine's limits are left out of the turn.")
    page.note("=" + first_of((IS_BOTH, text_formula(_said(BOTH))), otherwise=text_formula(_said(RPM))), 3)
    page.columns_head(PLAN, lines=3)
    for number in range(1, ROWS + 1):
        page.columns_row(PLAN, {"number": number}, _formulas(page.row))
    page.sheet.freeze_panes = f"B{PLAN.first_row}"


def _formulas(row: int) -> dict[str, str]:
    own = PLAN.row_here(row)
    above = PLAN.here("place", row - 1)
    number_of_pair = {"up": _MIDDLE, "down": _LAST}
    is_pair = {way: f"IF({IS_BOTH},{own['number']}={number},FALSE)" for way, number in number_of_pair.items()}
    allowed = f"MIN(out_pair_up,out_pair_down)>={LEAST_PAIR}"
    before = "0" if row == PLAN.first_row else f"MAX({PLAN.here('place', PLAN.first_row)}:{above})"
    return dict(
        step=position(own["number"]),
        planned_step=step_percent(own["step"]),
        pair=first_of(
            ("out_ready<>1", quoted("")),
            (is_pair["up"], f"IF({allowed},out_pair_up,{quoted(OUTSIDE)})"),
            (is_pair["down"], f"IF({allowed},1/out_pair_down,{quoted(OUTSIDE)})"),
            otherwise="1",
        ),
        planned_rpm=_planned_rpm(own),
        planned_infeed=first_of(
            (f"NOT(ISNUMBER({own['planned_rpm']}))", quoted("")),
            (IS_BOTH, f"out_infeed_rate*(100+{own['planned_step']})/100*{own['pair']}"),
            otherwise="out_infeed_rate",
        ),
        planned_depth=first_of(
            (f"ISNUMBER({own['planned_rpm']})", plunge_depth(own["planned_rpm"], own["planned_infeed"])), otherwise=quoted("")
        ),
        place=first_of((f"ISNUMBER({own['planned_rpm']})", f"{before}+1"), otherwise="0"),
        in_turn=f"IFERROR(INDEX({PLAN.area('planned_rpm')},MATCH({own['number']},{PLAN.area('place')},0)),{quoted('')})",
        infeed_in_turn=first_of(
            (
                IS_BOTH,
                f'IFERROR(INDEX({PLAN.area("planned_infeed")},MATCH({own["number"]},{PLAN.area("place")},0))/out_row_infeed_factor,"")',
            ),
            otherwise=quoted(""),
        ),
    )


def position(number: str) -> str:
    """Steps from nominal in run order, out and back: nominal, outward by every second step, nominal, home by the others, nominal."""
    steps, middle, last = _STEPS, _MIDDLE, _LAST
    outward = f"(2-MOD({steps},2)+2*INT(({number}-2)/2))*IF(MOD({number},2)=0,1,-1)"
    home = f"({steps}-1-2*INT(({number}-({middle})-1)/2))*IF(MOD({number}-({middle}),2)=1,-1,1)"
    return first_of(
        ("out_ready<>1", quoted("")),
        (f"{number}>{last}+IF({IS_BOTH},1,0)", quoted("")),
        (f"{number}>{last}", "0"),
        (f"OR({number}=1,{number}={middle},{number}={last})", "0"),
        (f"{number}<{middle}", outward),
        otherwise=home,
    )


def step_percent(position: str) -> str:
    """Percent of nominal: equal steps of rpm, or of depth, which goes with the fourth root of rpm."""
    root = f"IF({IS_BOTH},0.5,0.25)"
    by_depth = f"100*((1+ABS({position})/{_STEPS}*(IF({position}>0,out_fastest_step,out_slowest_step)^{root}-1))^(1/{root})-1)"
    return first_of(
        (f"NOT({are_numbers(position)})", quoted("")), ('in_plan_spacing="depth"', by_depth), otherwise=f"{position}*in_rpm_step"
    )


def _planned_rpm(own: Mapping[str, str]) -> str:
    """The work rpm of a step; pair is 1 but for the two readings at nominal depth."""
    step, pair = own["planned_step"], own["pair"]
    at_step = f"in_nominal_rpm*(100+{step})/100"
    rpm = f"IF({IS_BOTH},{at_step}/{pair},{at_step})"
    infeed = f"out_infeed_rate*(100+{step})/100*{pair}"
    outside = [(beyond(limit, rpm), quoted(OUTSIDE)) for limit in ("highest_work_rpm", "lowest_work_rpm")]
    outside += [
        (f"IF({IS_BOTH},{beyond(limit, infeed)},FALSE)", quoted(OUTSIDE))
        for limit in ("highest_infeed_rate", "lowest_infeed_rate")
    ]
    return first_of(
        (f"NOT({are_numbers(step)})", quoted("")), (f"NOT(ISNUMBER({pair}))", quoted(OUTSIDE)), *outside, otherwise=rpm
    )


def _said(steps: str) -> str:
    """What to know at the machine of these steps."""
    return " ".join(plan_words((), steps))
