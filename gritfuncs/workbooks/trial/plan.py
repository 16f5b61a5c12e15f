"""The planned steps of work rpm in trial.xlsx, as formulas of a row of the table of readings."""

from __future__ import annotations

from ..blocks.limits import beyond
from ..conditions import are_numbers, first_of, quoted

OUTSIDE = "outside limits"


def position(number: str) -> str:
    """Steps from nominal in run order: 0, +1, -1, +2, -2 ..., nominal again after half of them and at the end."""
    middle = "2*INT((in_steps_each_side+1)/2)+2"
    last = "2*in_steps_each_side+3"
    outward = f"({number}-IF({number}>{middle},2,1))"
    return first_of(
        ("out_ready<>1", quoted("")),
        (f"{number}>{last}", quoted("")),
        (f"OR({number}=1,{number}={middle},{number}={last})", "0"),
        otherwise=f"IF(MOD({outward},2)=1,1,-1)*INT(({outward}+1)/2)",
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
