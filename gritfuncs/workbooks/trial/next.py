"""The next reading in trial.xlsx: which work rpm to try next, or that the trial can stop, by a rule that cells can follow.

It stops as `gritfuncs.next_reading` does, a single reading out of line and drift apart, and stays within the machine's limits and
one step of the rpm tried; where to go in between it decides more simply.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Callable

from ...knee import ALREADY_LEVEL, FOUND, STILL_FALLING
from ...knee.next_reading import ENOUGH_REPEATS, MOST_READINGS, SCATTER_BOUND
from ...knee.reach import DEPTH_FACTOR, ENERGY_FACTOR, FURTHEST, LARGEST_SLOWING, NEARLY
from ..book import Book, Page


def add(book: Book, block: Mapping[str, str], column: Callable[[str], str], rpm_for: Callable[[str], str]) -> None:
    """column gives a column of the sheet Calculation; S holds the rpm of the readings that count."""
    page = book.page("Next reading", "Next reading: what to try next, and when to stop")
    page.note(
        "After each reading: stop, or the work rpm to try next. It knows nothing but rpm, load and what you noted: look at part and wheel "
        "after each reading, and at burn, cracks or wheel breakdown stop at once and note it on Readings.",
        2,
    )
    page.rows_head()
    rpm, energy, depth = column("S"), column("N"), column("M")
    n = "out_n_readings"

    def step(name: str, formula: str, label: str, unit: str = "1/min", digits: int = 1, text: str = "") -> None:
        page.result(
            f"next_{name}",
            f"IF(out_ready=1,IF({n}>0,{formula},NA()),NA())",
            label=label,
            unit=unit,
            digits=digits,
            kind="step",
            text=text,
        )

    step("slowest", f"MIN({rpm})", "slowest rpm tried")
    step("fastest", f"MAX({rpm})", "fastest rpm tried")
    step("at_slowest", f"AVERAGEIF({rpm},out_next_slowest,{energy})", "mean energy there, at the slowest", "as on the chart")
    step("at_fastest", f"AVERAGEIF({rpm},out_next_fastest,{energy})", "mean energy there, at the fastest", "as on the chart")
    step("step", "in_nominal_rpm*in_rpm_step/100", "step", text="No further than this beyond the rpm tried.")
    step(
        "lowest",
        f"IF(ISNUMBER(in_lowest_work_rpm),in_lowest_work_rpm,{1 - FURTHEST:g}*in_nominal_rpm)",
        "lowest rpm allowed",
        text="Of the machine; else 60 % below nominal.",
    )
    ceiling = rpm_for(f"({DEPTH_FACTOR}*{block['knee']})")
    step(
        "highest",
        f"MIN(IF(ISNUMBER(in_highest_work_rpm),in_highest_work_rpm,{1 + FURTHEST:g}*in_nominal_rpm),"
        f"IF(ISNUMBER({block['knee']}),{ceiling},1E+300))",
        "highest rpm allowed",
        text=f"Of the machine, else 60 % above nominal; and {DEPTH_FACTOR} times the depth of the knee.",
    )
    step(
        "slower",
        f"IF(out_next_at_slowest>={ENERGY_FACTOR}*MIN({energy}),out_next_slowest,MIN(out_next_slowest,MAX(out_next_lowest,"
        f"out_next_slowest-MIN(out_next_step,{LARGEST_SLOWING}*out_next_slowest))))",
        "one step slower",
        text=f"Not beyond where the energy has risen to {ENERGY_FACTOR} times the lowest.",
    )
    step("faster", "MAX(out_next_fastest,MIN(out_next_highest,out_next_fastest+out_next_step))", "one step faster")
    for way, further in (("slower", "out_next_slowest-out_next_slower"), ("faster", "out_next_faster-out_next_fastest")):
        step(f"can_go_{way}", f"IF({further}>{NEARLY}*out_next_step,1,0)", f"can go {way} (1 yes)", "-", 0)
    step(
        "bracketed",
        f"IF(ISNUMBER({block['scatter_high']}),1,0)",
        "knee is bracketed (1 yes)",
        "-",
        0,
        "Neither a level nor a straight fall fits.",
    )
    step(
        "few_below",
        f"IF(out_next_bracketed=1,IF({block['scatter_low']}<=SMALL({depth},COUNTIF({rpm},out_next_slowest)+1),1,0),0)",
        "too few depths below the knee (1 yes)",
        "-",
        0,
    )
    step(
        "few_beyond",
        f"IF(out_next_bracketed=1,IF({block['scatter_high']}>LARGE({depth},COUNTIF({rpm},out_next_fastest)+1),1,0),0)",
        "too few depths beyond the knee (1 yes)",
        "-",
        0,
    )
    middle = rpm_for(f"(({block['scatter_low']}+{block['scatter_high']})/2)")
    step(
        "middle",
        f"IF(out_next_bracketed=1,MAX(out_next_slower,MIN(out_next_faster,in_nominal_rpm+out_next_step*ROUND(({middle}-in_nominal_rpm)"
        "/out_next_step,0))),NA())",
        "rpm at the middle of where the knee can be",
    )
    outer = f"COUNTIF({rpm},out_next_slowest)+COUNTIF({rpm},out_next_fastest)"
    inner_mean = f"(SUM({energy})-SUMIF({rpm},out_next_slowest,{energy})-SUMIF({rpm},out_next_fastest,{energy}))/({n}-({outer}))"
    step(
        "goes_faster",
        f"IF({n}>{outer},IF(out_next_at_fastest<{inner_mean},1,0),IF(out_next_fastest>in_nominal_rpm,0,1))",
        "outward, the fast side first (1 yes)",
        "-",
        0,
        "While the readings still fall there.",
    )
    spread = f"(2/(9*({n}-3)))"
    bound = f"SQRT({block['sse']}/({n}-3)/(1-{spread}+{SCATTER_BOUND!r}*SQRT({spread}))^3)/{block['level']}"
    step(
        "widening",
        f'IF({block["verdict"]}="{FOUND}",IF(ISNUMBER(in_noise),1,MAX(1,{bound}/{block["noise"]})),NA())',
        "interval wider by, against luck",
        "-",
        2,
        "Scatter that came out small by chance would stop the trial too soon.",
    )
    step(
        "half_width",
        f"100*out_next_widening*({block['high']}-{block['low']})/2/{block['knee']}",
        "half-width that decides, ±",
        "% of the knee",
        2,
    )
    _answer(page, block, n, rpm)


def _answer(page: Page, block: Mapping[str, str], n: str, rpm: str) -> None:
    verdict = block["verdict"]
    end = {"faster": "out_next_fastest", "slower": "out_next_slowest"}

    def at_end(way: str) -> str:
        """At the end of the range: confirm it, then stop."""
        return f'IF(COUNTIF({rpm},{end[way]})<{ENOUGH_REPEATS},{end[way]},"stop")'

    outward = (
        "IF(out_next_can_go_slower+out_next_can_go_faster=0,in_nominal_rpm,IF(out_next_can_go_faster=0,out_next_slower,"
        "IF(out_next_can_go_slower=0,out_next_faster,IF(out_next_goes_faster=1,out_next_faster,out_next_slower))))"
    )
    inward = (
        f"IF(out_next_few_below*out_next_can_go_slower=1,out_next_slower,IF(out_next_few_beyond*out_next_can_go_faster=1,out_next_faster,"
        f"CHOOSE(MOD({n},3)+1,out_next_slower,out_next_middle,out_next_faster)))"
    )
    page.result(
        "next_rpm",
        f'IF(out_ready=1,IF(out_damage_count>0,"stop",IF({n}=0,in_nominal_rpm,'
        f'IF(IF(ISNUMBER(out_next_half_width),out_next_half_width<=in_wanted_half_width,FALSE),"stop",'
        f'IF({n}>={MOST_READINGS},"stop",'
        f'IF({verdict}="{STILL_FALLING}",IF(out_next_can_go_faster=1,out_next_faster,{at_end("faster")}),'
        f'IF({verdict}="{ALREADY_LEVEL}",IF(out_next_can_go_slower=1,out_next_slower,{at_end("slower")}),'
        f"IF(out_next_bracketed=1,{inward},{outward}))))))),NA())",
        label="next work rpm, or stop",
        unit="1/min",
        digits=1,
        text="Set it only if part and wheel look well.",
    )
    page.sentence(
        "next_line",
        f'IF(out_ready=1,IF(out_next_rpm="stop","stop: "&IF(out_damage_count>0,"burn, crack or wheel breakdown was seen",'
        f'IF(ISNUMBER(out_next_half_width),IF(out_next_half_width<=in_wanted_half_width,"knee found within ±"&'
        f'TEXT(out_next_half_width,"0.0")&" %","too many readings: less scatter or a wider range is needed"),'
        f'{verdict}&", and the end of the range is reached")),"next: "&TEXT(out_next_rpm,"0.0")&" 1/min ("&{verdict}&" so far)"),'
        f'"mend the inputs that the sheet Checks names")',
        label="in words",
    )
