"""The sheet calc next of trial.xlsx: which work rpm to try next, or that the trial can end, by a rule that cells can follow.

The cases of the rule stand in `_cases`, in their order: each has a condition, what to set, and why.  What the sheet Trial shows
is that, or the plan in its place where the input in_follow says so.

It stops as `gritfuncs.next_reading` does, but for how it judges drift, and stays within the machine's limits and one step of the
rpm tried; where to go in between it decides more simply.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from ...knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING
from ...knee.drift import SURE
from ...knee.next_reading import ENOUGH_REPEATS, MOST_READINGS, SCATTER_BOUND
from ...knee.reach import DEPTH_FACTOR, ENERGY_FACTOR, FURTHEST, LARGEST_SLOWING, NEARLY
from ...planning.plan import LEAST_PAIR
from ...sheets.book import Book
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.page import Page
from ...trial.next_steps import FURTHEST as FURTHEST_OF_BOTH
from ...trial.next_steps import CombinedSteps
from ..blocks.drift import narrows
from .calculation import IS_BOTH
from .readings import figures
from .steps import plunge_depth, step_depth, step_rpm_for
from .tables import CALCULATION, NEXT, PLAN, ROWS

# Convention, from simulation: a knee ends the trial where the drift that the repeats leave possible (1.64 standard deviations) changes
# the readings from first to last by no more than this share of the fall.
SHARE_OF_FALL = 0.25
DANGER, FINISHED, END = "STOP", "finished", "end here"  # do not run; enough readings; no further reading helps


def next_page(book: Book, block: Mapping[str, str], energies: str) -> None:
    page = book.page(NEXT, "What to set next, and when to end")
    page.note(
        "It knows nothing but rpm, load and what you noted: look at part and wheel after each reading, and at burn, cracks or wheel "
        "breakdown end the trial and note it on the sheet Trial.",
        2,
    )
    page.rows_head()
    rpm, energy, depth = (CALCULATION.area("rpm"), energies, CALCULATION.area("depth"))
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
        first_of(
            (IS_BOTH, f"MAX({1 - FURTHEST_OF_BOTH:g}*in_nominal_rpm,{_limit('lowest', '0')})"),
            (are_numbers("in_lowest_work_rpm"), "in_lowest_work_rpm"),
            otherwise=f"{1 - FURTHEST:g}*in_nominal_rpm",
        ),
        "lowest rpm allowed",
        text="Of the machine; else 60 % below nominal, of rpm and infeed together 40 % at most.",
    )
    machine = first_of((are_numbers("in_highest_work_rpm"), "in_highest_work_rpm"), otherwise=f"{1 + FURTHEST:g}*in_nominal_rpm")
    machine = f"IF({IS_BOTH},MIN({1 + FURTHEST_OF_BOTH:g}*in_nominal_rpm,{_limit('highest', '1E+300')}),{machine})"
    ceiling = first_of((are_numbers(block["knee"]), step_rpm_for(f"({DEPTH_FACTOR}*{block['knee']})")), otherwise="1E+300")
    step(
        "highest",
        f"MIN({machine},{ceiling})",
        "highest rpm allowed",
        text=f"Of the machine, else 60 % above nominal (40 % of rpm and infeed); and {DEPTH_FACTOR} times the depth of the knee.",
    )
    step(
        "slower",
        first_of(
            (f"out_next_at_slowest>={ENERGY_FACTOR}*MIN({energy})", "out_next_slowest"),
            otherwise="MIN(out_next_slowest,MAX(out_next_lowest,"
            f"out_next_slowest-MIN(out_next_step,IF({IS_BOTH},{CombinedSteps.largest_slowing},{LARGEST_SLOWING})*out_next_slowest)))",
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
    for way in ("slower", "faster"):
        step(f"{way}_depth", step_depth(f"out_next_{way}"), f"grit depth one step {way}", "µm", 4)
        step(
            f"{way}_narrows",
            first_of(("out_next_bracketed=0", "NA()"), otherwise=narrows(block, f"out_next_{way}_depth")),
            f"how well the knee is known after one step {way}",
            "log. of variances",
            3,
        )
    tried = f"MAX(out_next_lowest,MIN(out_next_highest,INDEX({rpm},{{}})))"
    step(
        "narrowest",
        first_of(
            ("out_next_bracketed=0", "NA()"),
            (f"{block['narrow_by']}<=MIN(out_next_slower_narrows,out_next_faster_narrows)", tried.format(block["narrow_no"])),
            ("out_next_slower_narrows<=out_next_faster_narrows", "out_next_slower"),
            otherwise="out_next_faster",
        ),
        "rpm whose reading narrows the knee most",
        text="Of those tried and one step further.",
    )
    step("repeat", tried.format(block["repeat_no"]), "rpm whose repeat tells most of drift")
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
    bound = f"SQRT({block['sse']}/({n}-3)/(1-{spread}+{SCATTER_BOUND!r}*SQRT({spread}))^3)/{block['centre_level']}"
    step(
        "widening",
        first_of(
            ("out_outlier_decides=1", "NA()"),
            (f"{block['centre_verdict']}<>{quoted(FOUND)}", "NA()"),
            (are_numbers("in_noise"), "1"),
            otherwise=f"MAX(1,{bound}/{block['noise']})",
        ),
        "interval wider by, against luck",
        "-",
        2,
        "Scatter that came out small by chance would stop the trial too soon.",
    )
    half = "100*({})/2/" + block["centre_knee"]
    step(
        "half_width",
        half.format(f"out_next_widening*({block['centre_high']}-{block['centre_low']})"),
        "half-width that decides, ±",
        "% of knee",
        2,
    )
    step(
        "drift_width",
        first_of((f"ISNUMBER({block['high']})", half.format(f"{block['high']}-{block['low']}")), otherwise="NA()"),
        "half-width that drift leaves, ±",
        "% of knee",
        2,
    )
    step(
        "load_width",
        first_of(
            (f"{block['fits_offset']}<>1", "NA()"),
            (f"{block['offset_made_it']}=1", "NA()"),
            otherwise=half.format(f"{block['scatter_high']}-{block['scatter_low']}"),
        ),
        "half-width that a wrong idle leaves, ±",
        "% of knee",
        2,
    )
    step(
        "load_doubt",
        first_of(
            (f"{block['offset_made_it']}=1", "1"),
            ("ISNUMBER(out_next_load_width)", "IF(out_next_load_width>in_wanted_half_width,1,0)"),
            otherwise="0",
        ),
        "a wrong idle leaves the knee less sure than wanted (1 yes)",
        "-",
        0,
        "Else the pair is wanted again before the end.",
    )
    fall = f"{block['centre_slope']}*({block['centre_knee']}-{block['first']})"
    step(
        "drift_allows",
        first_of(
            (f"{block['drift_judged']}<>1", "0"),
            ("NOT(ISNUMBER(out_next_drift_width))", "0"),
            ("out_next_drift_width>in_wanted_half_width", "0"),
            (f"{SURE!r}*{block['deviation']}*({n}-1)>{SHARE_OF_FALL!r}*{fall}", "0"),
            otherwise="1",
        ),
        "no usual drift could have made the knee (1 yes)",
        "-",
        0,
        "Else a repeat is wanted before the end.",
    )
    _answer(page, block, n, rpm)


def _limit(end: str, none: str) -> str:
    """The rpm along steps of rpm and infeed at which one of both limits is reached."""
    rpm, infeed = (f"use_{end}_{name}" for name in ("work_rpm", "infeed_rate"))
    return f"IF(ISNUMBER({rpm}),{rpm},{none}),IF(ISNUMBER({infeed}),{infeed}/out_infeed_rate*in_nominal_rpm,{none})"


class _Case(NamedTuple):
    condition: str
    value: str  # formula text: a work rpm or one of the words above
    why: str  # formula text
    pair: str = "1"  # formula text: the infeed times, the rpm over this


def _cases(block: Mapping[str, str], n: str, rpm: str) -> list[_Case]:
    """The cases of the rule, the first that holds counts; none is looked at while the inputs say STOP."""
    verdict = block["verdict"]
    enough = first_of((are_numbers("out_next_half_width"), "out_next_half_width<=in_wanted_half_width"), otherwise="FALSE")
    suspect = f"INDEX({CALCULATION.area('rpm')},out_outlier_row)"
    again = (
        f"IF({verdict}={quoted(NOT_RESOLVED)},IF(out_outlier_row>0,IF(COUNTIF({rpm},{suspect})<{ENOUGH_REPEATS},"
        f"IF({suspect}>=out_next_lowest,{suspect}<=out_next_highest,FALSE),FALSE),FALSE),FALSE)"
    )
    drifts = first_of((f"{block['drift_is_seen']}=1", f'"; "&{block["drift_words"]}'), otherwise=quoted(""))
    done = f"IF({enough},out_next_drift_allows=1,FALSE)"
    has_room = f"IF({IS_BOTH},MIN(out_pair_up,out_pair_down)>={LEAST_PAIR},FALSE)"
    takes_pair = f"IF({has_room},{block['tells_offset']}=0,FALSE)"
    factor = "IF(out_pair_seen=1,1/out_pair_down,out_pair_up)"
    unjudged = f"IF({enough},{block['drift_judged']}<>1,FALSE)"
    by_load = f"IF({enough},out_next_load_doubt=1,FALSE)"
    load = quoted("wrong idle may have made or moved this knee")
    cases = [
        _Case("out_damage_count>0", quoted(DANGER), 'out_damage_first_word&" in reading "&out_damage_row'),
        _Case(f"{n}=0", "in_nominal_rpm", quoted("nominal: the trial starts here")),
        _Case(f"IF({done},{takes_pair},FALSE)", "in_nominal_rpm", quoted("pair: tells wrong idle from the knee"), factor),
        _Case(
            done,
            quoted(FINISHED),
            f'"knee within ±"&FIXED(MAX(out_next_half_width,out_next_drift_width),1,TRUE)&" %, wanted ±"&in_wanted_half_width&" %"&{drifts}',
        ),
        _Case(
            f"{n}>={MOST_READINGS}",
            quoted(END),
            f'"{MOST_READINGS} readings, and "&IF({by_load},{load},IF({enough},"drift could have made this knee",{verdict}))',
        ),
        _Case(unjudged, "in_nominal_rpm", quoted("nominal again: do the readings drift?")),
        _Case(f"IF({by_load},{has_room},FALSE)", "in_nominal_rpm", f'"pair again: "&{load}', factor),
        _Case(by_load, quoted(END), f'{load}&"; no room for the pair"'),
        _Case(enough, "out_next_repeat", f'"reading "&{block["repeat_no"]}&" again: drift could have made this knee"&{drifts}'),
        _Case(again, suspect, '"repeat reading "&out_outlier_row&": out of line"'),
    ]
    for word, way, end, fast in (
        (STILL_FALLING, "faster", "out_next_fastest", "fastest"),
        (ALREADY_LEVEL, "slower", "out_next_slowest", "slowest"),
    ):
        is_so, so_far = f"{verdict}={quoted(word)}", word if way == "faster" else "level so far"
        cases += [
            _Case(f"IF({is_so},out_next_can_go_{way}=1,FALSE)", f"out_next_{way}", quoted(f"go {way}: {so_far}")),
            _Case(f"IF({is_so},COUNTIF({rpm},{end})<{ENOUGH_REPEATS},FALSE)", end, quoted(f"{word}: the {fast} rpm again")),
            _Case(is_so, quoted(END), quoted(f"{word}, {fast} rpm reached")),
        ]
    return cases + [
        _Case("out_next_few_below*out_next_can_go_slower=1", "out_next_slower", quoted("too few depths below the knee")),
        _Case("out_next_few_beyond*out_next_can_go_faster=1", "out_next_faster", quoted("too few depths beyond the knee")),
        _Case("out_next_bracketed=1", "out_next_narrowest", f'"narrows the knee most"&{drifts}'),
        _Case("out_next_can_go_slower+out_next_can_go_faster=0", "in_nominal_rpm", quoted("nominal again")),
        _Case("out_next_can_go_faster=0", "out_next_slower", quoted("go slower: no faster rpm is left")),
        _Case("out_next_can_go_slower=0", "out_next_faster", quoted("go faster: no slower rpm is left")),
        _Case("out_next_goes_faster=1", "out_next_faster", quoted("go faster: level not seen yet")),
        _Case("TRUE", "out_next_slower", quoted("go slower: fall not seen yet")),
    ]


def _answer(page: Page, block: Mapping[str, str], n: str, rpm: str) -> None:
    cases = _cases(block, n, rpm)
    page.result(
        "next_case",
        first_of(
            ("out_ready<>1", "NA()"),
            *((case.condition, str(number)) for number, case in enumerate(cases[:-1], 1)),
            otherwise=str(len(cases)),
        ),
        label="case of the rule",
        digits=0,
        kind="step",
        text="In the order in which the rule looks at them.",
    )

    nominal, removal, least = CALCULATION.area("nominal"), CALCULATION.area("removal"), 0.98 * LEAST_PAIR
    up, down = (f'COUNTIFS({nominal},">0",{removal},{half})' for half in (f'">="&{least:g}', f'"<="&{1 / least!r}'))
    page.result(
        "pair_seen",
        f"IF({up}>{down},1,0)",
        label="of the pair, the half with more infeed was read oftener (1 yes)",
        digits=0,
        kind="step",
    )

    def by_case(formulas: list[str]) -> str:
        return f"CHOOSE(out_next_case,{','.join(formulas)})"

    page.result("next_by_rule", by_case([case.value for case in cases]), label="by the rule", unit="1/min", digits=1, kind="step")
    page.result("next_rule_reason", by_case([case.why for case in cases]), label="why", digits=None, kind="step")
    page.result(
        "next_pair",
        first_of((IS_BOTH, by_case([case.pair for case in cases])), otherwise="1"),
        label="infeed times, rpm over",
        digits=3,
        kind="step",
        text="1 but for the pair at nominal depth.",
    )
    page.result("last_row", f"MAX({CALCULATION.area('typed')})", label="last row typed", digits=0, kind="step")
    page.result(
        "next_row",
        first_of((f"out_last_row>={ROWS}", "0"), otherwise="out_last_row+1"),
        label="row of the next reading, or 0",
        digits=0,
        kind="step",
    )
    page.result(
        "planned_next",
        first_of(
            ('in_follow<>"plan"', quoted("")),
            ("out_next_row=0", quoted("")),
            otherwise=f"INDEX({PLAN.area('in_turn')},out_next_row)",
        ),
        label="by the plan, where it is followed and not at its end",
        unit="1/min",
        digits=1,
        kind="step",
    )
    by_plan = "IF(out_next_case>1,ISNUMBER(out_planned_next),FALSE)"  # the first case is damage
    page.result(
        "next_rpm",
        first_of(
            ("out_ready<>1", "NA()"),
            (by_plan, "out_planned_next"),
            ("ISNUMBER(out_next_by_rule)", "out_next_by_rule/out_next_pair"),
            otherwise="out_next_by_rule",
        ),
        label=f"next work rpm, or {DANGER}, {FINISHED}, {END}",
        unit="1/min",
        digits=1,
        text="Set it only if part and wheel look well.",
    )
    rate = "out_infeed_rate*out_next_by_rule/in_nominal_rpm*out_next_pair/out_row_infeed_factor"
    page.result(
        "next_infeed_rate",
        first_of(
            (f"NOT({IS_BOTH})", quoted("")),
            ("NOT(ISNUMBER(out_next_rpm))", quoted("")),
            (by_plan, f"INDEX({PLAN.area('infeed_in_turn')},out_next_row)"),
            otherwise=rate,
        ),
        label="and the infeed rate, as the machine shows it",
        unit='=IF(in_units="inch","in/min","mm/min")',
        digits=4,
        text="Where rpm and infeed are stepped together; else the infeed of the Inputs.",
    )
    page.result(
        "next_depth",
        first_of(
            ("NOT(ISNUMBER(out_next_rpm))", "NA()"),
            (IS_BOTH, plunge_depth("out_next_rpm", "(out_next_infeed_rate*out_row_infeed_factor)")),
            otherwise=plunge_depth("out_next_rpm"),
        ),
        label="grit depth there",
        unit="µm",
        digits=4,
        kind="step",
    )
    page.result(
        "next_reason",
        first_of(
            ("out_ready<>1", quoted("see the line above")),
            (by_plan, f'"plan, step "&out_next_row&" of "&MAX({PLAN.area("place")})'),
            otherwise="out_next_rule_reason",
        ),
        label="why",
        digits=None,
    )
    page.result(
        "next_caution",
        first_of(
            ("out_ready<>1", quoted("No result until it is corrected.")),
            (f"out_next_rpm={quoted(DANGER)}", quoted("Clear the word there if it was a slip.")),
            (f"out_next_rpm={quoted(FINISHED)}", quoted("No further reading is needed.")),
            (f"out_next_rpm={quoted(END)}", quoted("Try another infeed or wheel speed.")),
            (f"IF({IS_BOTH},out_next_pair>1,FALSE)", quoted("Hardest reading: half again the power.")),
            (IS_BOTH, quoted("Hottest on the fast, deep side: look.")),
            (f"{n}=0", quoted("Look at part and wheel after each reading.")),
            otherwise=quoted("Set it only if part and wheel look well."),
        ),
        label="and",
        digits=None,
    )
    page.result(
        "next_line",
        first_of(
            ("out_ready<>1", quoted("mend the inputs that the sheet Checks names")),
            (
                "ISNUMBER(out_next_infeed_rate)",
                f'FIXED(out_next_rpm,1,TRUE)&" 1/min, "&{figures("out_next_infeed_rate")}&IF(in_units="inch"," in/min: "," mm/min: ")&out_next_reason',
            ),
            ("ISNUMBER(out_next_rpm)", 'FIXED(out_next_rpm,1,TRUE)&" 1/min: "&out_next_reason'),
            otherwise='out_next_rpm&": "&out_next_reason',
        ),
        label="in one line",
        digits=None,
    )
