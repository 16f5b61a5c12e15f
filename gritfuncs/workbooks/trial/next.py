"""The next reading in trial.xlsx: which work rpm to try next, or that the trial can stop, by a rule that cells can follow.

It stops as `gritfuncs.next_reading` does, a single reading out of line and drift apart, and stays within the machine's limits and
one step of the rpm tried; where to go in between it decides more simply.
"""

from __future__ import annotations

from collections.abc import Mapping

from ...knee import ALREADY_LEVEL, FOUND, STILL_FALLING
from ...knee.next_reading import ENOUGH_REPEATS, MOST_READINGS, SCATTER_BOUND
from ...knee.reach import DEPTH_FACTOR, ENERGY_FACTOR, FURTHEST, LARGEST_SLOWING, NEARLY
from ..book import Book, Page
from ..conditions import are_numbers, first_of, quoted
from .steps import rpm_for
from .tables import CALCULATION

STOP = "stop"


def add(book: Book, block: Mapping[str, str]) -> None:
    page = book.page("Next reading", "Next reading: what to try next, and when to stop")
    page.note(
        "After each reading: stop, or the work rpm to try next. It knows nothing but rpm, load and what you noted: look at part and wheel "
        "after each reading, and at burn, cracks or wheel breakdown stop at once and note it on Readings.",
        2,
    )
    page.rows_head()
    rpm, energy, depth = (CALCULATION.area(name) for name in ("rpm", "energy", "depth"))
    n = "out_n_readings"

    def step(name: str, formula: str, label: str, unit: str = "1/min", digits: int = 1, text: str = "") -> None:
        page.result(
            f"next_{name}",
            first_of(("out_ready<>1", "NA()"), (f"{n}=0", "NA()"), otherwise=formula),
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
        first_of((are_numbers("in_lowest_work_rpm"), "in_lowest_work_rpm"), otherwise=f"{1 - FURTHEST:g}*in_nominal_rpm"),
        "lowest rpm allowed",
        text="Of the machine; else 60 % below nominal.",
    )
    machine = first_of((are_numbers("in_highest_work_rpm"), "in_highest_work_rpm"), otherwise=f"{1 + FURTHEST:g}*in_nominal_rpm")
    ceiling = first_of((are_numbers(block["knee"]), rpm_for(f"({DEPTH_FACTOR}*{block['knee']})")), otherwise="1E+300")
    step(
        "highest",
        f"MIN({machine},{ceiling})",
        "highest rpm allowed",
        text=f"Of the machine, else 60 % above nominal; and {DEPTH_FACTOR} times the depth of the knee.",
    )
    step(
        "slower",
        first_of(
            (f"out_next_at_slowest>={ENERGY_FACTOR}*MIN({energy})", "out_next_slowest"),
            otherwise="MIN(out_next_slowest,MAX(out_next_lowest,"
            f"out_next_slowest-MIN(out_next_step,{LARGEST_SLOWING}*out_next_slowest)))",
        ),
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
        first_of(
            ("out_next_bracketed=0", "0"),
            (f"{block['scatter_low']}<=SMALL({depth},COUNTIF({rpm},out_next_slowest)+1)", "1"),
            otherwise="0",
        ),
        "too few depths below the knee (1 yes)",
        "-",
        0,
    )
    step(
        "few_beyond",
        first_of(
            ("out_next_bracketed=0", "0"),
            (f"{block['scatter_high']}>LARGE({depth},COUNTIF({rpm},out_next_fastest)+1)", "1"),
            otherwise="0",
        ),
        "too few depths beyond the knee (1 yes)",
        "-",
        0,
    )
    middle = rpm_for(f"(({block['scatter_low']}+{block['scatter_high']})/2)")
    step(
        "middle",
        first_of(
            ("out_next_bracketed=0", "NA()"),
            otherwise="MAX(out_next_slower,MIN(out_next_faster,in_nominal_rpm"
            f"+out_next_step*ROUND(({middle}-in_nominal_rpm)/out_next_step,0)))",
        ),
        "rpm at the middle of where the knee can be",
    )
    outer = f"COUNTIF({rpm},out_next_slowest)+COUNTIF({rpm},out_next_fastest)"
    inner_mean = f"(SUM({energy})-SUMIF({rpm},out_next_slowest,{energy})-SUMIF({rpm},out_next_fastest,{energy}))/({n}-({outer}))"
    step(
        "goes_faster",
        first_of(
            (f"{n}>{outer}", f"IF(out_next_at_fastest<{inner_mean},1,0)"), ("out_next_fastest>in_nominal_rpm", "0"), otherwise="1"
        ),
        "outward, the fast side first (1 yes)",
        "-",
        0,
        "While the readings still fall there.",
    )
    spread = f"(2/(9*({n}-3)))"
    bound = f"SQRT({block['sse']}/({n}-3)/(1-{spread}+{SCATTER_BOUND!r}*SQRT({spread}))^3)/{block['level']}"
    step(
        "widening",
        first_of(
            (f"{block['verdict']}<>{quoted(FOUND)}", "NA()"),
            (are_numbers("in_noise"), "1"),
            otherwise=f"MAX(1,{bound}/{block['noise']})",
        ),
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
    verdict, stop = block["verdict"], quoted(STOP)
    enough = first_of((are_numbers("out_next_half_width"), "out_next_half_width<=in_wanted_half_width"), otherwise="FALSE")

    def to_the_end(way: str, end: str) -> str:
        """One step further; at the end of the range: confirm it, then stop."""
        return first_of(
            (f"out_next_can_go_{way}=1", f"out_next_{way}"), (f"COUNTIF({rpm},{end})<{ENOUGH_REPEATS}", end), otherwise=stop
        )

    outward = first_of(
        ("out_next_can_go_slower+out_next_can_go_faster=0", "in_nominal_rpm"),
        ("out_next_can_go_faster=0", "out_next_slower"),
        ("out_next_can_go_slower=0", "out_next_faster"),
        ("out_next_goes_faster=1", "out_next_faster"),
        otherwise="out_next_slower",
    )
    inward = first_of(
        ("out_next_few_below*out_next_can_go_slower=1", "out_next_slower"),
        ("out_next_few_beyond*out_next_can_go_faster=1", "out_next_faster"),
        otherwise=f"CHOOSE(MOD({n},3)+1,out_next_slower,out_next_middle,out_next_faster)",
    )
    page.result(
        "next_rpm",
        first_of(
            ("out_ready<>1", "NA()"),
            ("out_damage_count>0", stop),
            (f"{n}=0", "in_nominal_rpm"),
            (enough, stop),
            (f"{n}>={MOST_READINGS}", stop),
            (f"{verdict}={quoted(STILL_FALLING)}", to_the_end("faster", "out_next_fastest")),
            (f"{verdict}={quoted(ALREADY_LEVEL)}", to_the_end("slower", "out_next_slowest")),
            ("out_next_bracketed=1", inward),
            otherwise=outward,
        ),
        label="next work rpm, or stop",
        unit="1/min",
        digits=1,
        text="Set it only if part and wheel look well.",
    )
    page.sentence(
        "next_line",
        first_of(
            ("out_ready<>1", quoted("mend the inputs that the sheet Checks names")),
            (f"out_next_rpm<>{stop}", f'"next: "&FIXED(out_next_rpm,1,TRUE)&" 1/min ("&{verdict}&" so far)"'),
            ("out_damage_count>0", '"stop: burn, crack or wheel breakdown was seen: "&out_damage_first'),
            (enough, '"stop: knee found within ±"&FIXED(out_next_half_width,1,TRUE)&" %"'),
            (are_numbers("out_next_half_width"), quoted("stop: too many readings: less scatter or a wider range is needed")),
            otherwise=f'"stop: "&{verdict}&", and the end of the range is reached"',
        ),
        label="in words",
    )
