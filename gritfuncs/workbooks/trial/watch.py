"""The sheet Watch of trial.xlsx: is the plan wide enough, how many readings, drift, damage seen."""

from __future__ import annotations

from collections.abc import Mapping

from ..book import OK, Book
from ..conditions import first_of, quoted
from .tables import CALCULATION, READINGS

# Depth range of a plan, largest over smallest. From simulated trials: below the first only a very steep fall shows a knee,
# from the second on most do with 8 to 15 readings at 2 % scatter.
TOO_NARROW, WIDE_ENOUGH = 1.15, 1.35
MOST_DRIFT = (
    0.1  # of the fall seen in the trial; a larger change between the first and the last nominal reading is a drift (convention)
)


def add(book: Book, block: Mapping[str, str]) -> None:
    page = book.page("Watch", "Watch: the plan, the number of readings, drift and damage")
    planned = READINGS.area("planned_depth")
    page.heading("Is the plan wide enough?")
    page.rows_head()
    page.result(
        "plan_ratio",
        f"IF(COUNT({planned})>0,MAX({planned})/MIN({planned}),NA())",
        label="largest planned depth over smallest",
        digits=2,
        text="Depth goes with the fourth root of rpm: ±20 % of rpm covers 1.11, ±60 % covers 1.41.",
    )
    page.result(
        "plan_word",
        first_of(
            ("NOT(ISNUMBER(out_plan_ratio))", quoted("no plan")),
            (f"out_plan_ratio<{TOO_NARROW}", quoted("too narrow")),
            (f"out_plan_ratio<{WIDE_ENOUGH}", quoted("narrow")),
            otherwise=quoted("wide enough"),
        ),
        label="range of the plan",
        digits=None,
        text="too narrow: only a very steep fall shows a knee. narrow: needs a steep fall or little scatter. wide enough: for most trials.",
    )
    page.heading("How many readings?")
    page.rows_head()
    page.result(
        "half_width",
        f"IF(out_ready=1,100*({block['scatter_high']}-{block['scatter_low']})/2/out_knee,NA())",
        unit="% of the knee",
        label="half-width that scatter leaves now, ±",
        digits=2,
        text="Known once the verdict is found.",
    )
    page.result(
        "readings_needed",
        'IF(ISNUMBER(out_half_width),MAX(6,ROUNDUP(out_n_readings*(out_half_width/in_wanted_half_width)^2,0)),"not known yet")',
        label="readings for the interval wanted",
        digits=0,
        text="The width goes with one over the square root of their number, at this scatter and spacing.",
    )
    page.heading("Drift of the repeated nominal readings")
    page.rows_head()
    nominal, energies = CALCULATION.area("nominal"), CALCULATION.area("energy")
    page.result(
        "nominal_repeats", f'COUNTIF({nominal},">0")', label="readings at nominal work rpm", digits=0, text="Within 1 % of it."
    )
    first_energy, last_energy = (
        f"INDEX({energies},{number})" for number in (f"SMALL({nominal},COUNTIF({nominal},0)+1)", f"MAX({nominal})")
    )
    page.result(
        "drift",
        f"IF(out_nominal_repeats>1,100*({last_energy}/{first_energy}-1),NA())",
        label="change from the first to the last of them",
        unit="% of energy",
        digits=1,
        text="Wheel wear, warming up, or a dulled wheel.",
    )
    page.result(
        "drift_share",
        f"IF(ISNUMBER(out_drift),ABS({last_energy}-{first_energy})/(MAX({energies})-MIN({energies})),NA())",
        label="that change, of the whole fall of the trial",
        digits=2,
        text="Share of the largest less the smallest energy.",
    )
    page.result(
        "drift_word",
        first_of(
            ("NOT(ISNUMBER(out_drift_share))", quoted("not known")),
            (f"out_drift_share>{MOST_DRIFT}", quoted("drifts")),
            otherwise=quoted("steady"),
        ),
        label="drift",
        digits=None,
        text="drifts: more than a tenth of the fall. Dress or warm up, and run the trial again.",
    )
    page.heading("Damage seen at the machine")
    page.rows_head()
    damaged, depth = CALCULATION.area("damaged"), CALCULATION.area("depth_read")
    page.result(
        "damage_count",
        f"SUM({damaged})",
        label="readings with burn, crack or wheel breakdown",
        digits=0,
        text="Whether they count or not; the last column of Readings.",
    )
    first = f"MATCH(1,{damaged},0)"
    page.sentence(
        "damage_first",
        first_of(
            ("out_damage_count=0", quoted("none")),
            otherwise=f'IFERROR(TRIM(INDEX({READINGS.area("damage")},{first})),"an error value")&" in reading "&{first}',
        ),
        label="the first of them",
    )
    page.result(
        "damage_unplaced",
        f"SUMPRODUCT({damaged}*(1-({CALCULATION.area('rpm_state')}={quoted(OK)})))",
        label="of them without a work rpm",
        digits=0,
        text="Where they lie is not known, so they count as within the target band.",
    )
    inside = f"SUMPRODUCT({damaged}*({depth}>=out_target_low)*({depth}<=out_target_high))"  # a text is above any number
    page.result(
        "damage_in_band",
        first_of(("out_damage_count=0", "0"), ("ISNUMBER(out_target_depth)", f"out_damage_unplaced+{inside}"), otherwise="0"),
        label="of them within the target band",
        digits=0,
        text="Any of them withdraws the rpm to set.",
    )
    page.sentence(
        "damage_word",
        first_of(
            ("out_damage_count=0", quoted("none noted")),
            ("NOT(ISNUMBER(out_target_depth))", quoted("seen")),
            ("out_damage_in_band>0", quoted("seen within the target band: do not set it")),
            otherwise=quoted("seen outside the target band: stay within it"),
        ),
        label="damage and the target",
    )
    book.look_if(
        "burn, crack or wheel breakdown was seen", "out_damage_count>0", "sheet Watch says whether it lies within the target band"
    )
    book.look_if(
        "the plan is narrow", 'out_plan_word<>"wide enough"', "sheet Watch: more steps to each side, within the machine's limits"
    )
    book.look_if(
        "the nominal readings drift", 'out_drift_word="drifts"', "sheet Watch: dress or warm up, and run the trial again"
    )
