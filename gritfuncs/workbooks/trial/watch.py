"""The sheet Watch of trial.xlsx: is the plan wide enough, how many readings, drift, damage seen."""

from __future__ import annotations

from collections.abc import Mapping

from ..book import Book

# Depth range of a plan, largest over smallest. From simulated trials: below the first only a very steep fall shows a knee,
# from the second on most do with 8 to 15 readings at 2 % scatter.
TOO_NARROW, WIDE_ENOUGH = 1.15, 1.35
MOST_DRIFT = (
    0.1  # of the fall seen in the trial; a larger change between the first and the last nominal reading is a drift (convention)
)


def add(book: Book, block: Mapping[str, str], first: int, last: int) -> None:
    """first and last are the rows of the readings on the sheets Readings and Calculation."""
    page = book.page("Watch", "Watch: the plan, the number of readings, drift and damage")

    def column(letter: str, sheet: str = "Calculation") -> str:
        return f"{sheet}!${letter}${first}:${letter}${last}"

    page.heading("Is the plan wide enough?")
    page.rows_head()
    page.result(
        "plan_ratio",
        f"IF(COUNT({column('D', 'Readings')})>0,MAX({column('D', 'Readings')})/MIN({column('D', 'Readings')}),NA())",
        label="largest planned depth over smallest",
        digits=2,
        text="Depth goes with the fourth root of rpm: ±20 % of rpm covers 1.11, ±60 % covers 1.41.",
    )
    page.result(
        "plan_word",
        f'IF(ISNUMBER(out_plan_ratio),IF(out_plan_ratio<{TOO_NARROW},"too narrow",'
        f'IF(out_plan_ratio<{WIDE_ENOUGH},"narrow","wide enough")),"no plan")',
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
    nominal, energies = column("P"), column("N")
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
        f'IF(ISNUMBER(out_drift_share),IF(out_drift_share>{MOST_DRIFT},"drifts","steady"),"not known")',
        label="drift",
        digits=None,
        text="drifts: more than a tenth of the fall. Dress or warm up, and run the trial again.",
    )
    page.heading("Damage seen at the machine")
    page.rows_head()
    damage = column("Q")
    page.result(
        "damage_count",
        f'COUNTIF({damage},">0")',
        label="readings with burn, crack or wheel breakdown",
        digits=0,
        text="Of the readings that count; the last column of Readings.",
    )
    inside = f"SUMPRODUCT(({damage}>=out_target_low)*({damage}<=out_target_high))"
    page.sentence(
        "damage_word",
        f'IF(out_damage_count=0,"none noted",IF(ISNUMBER(out_target_depth),IF({inside}>0,'
        '"seen within the target band: do not set it","seen outside the target band: stay within it"),"seen"))',
        label="damage and the target",
    )
    book.look_if(
        "the plan is narrow", 'out_plan_word<>"wide enough"', "sheet Watch: more steps to each side, within the machine's limits"
    )
    book.look_if(
        "the nominal readings drift", 'out_drift_word="drifts"', "sheet Watch: dress or warm up, and run the trial again"
    )
    book.look_if(
        "burn, crack or wheel breakdown was seen", "out_damage_count>0", "sheet Watch says whether it lies within the target band"
    )
