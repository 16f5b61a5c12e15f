"""What trial.xlsx finds, as named cells: verdict, knee, what to set, range of the plan, readings needed, drift, damage.

They stand in boxes on the sheet Record; the sheet Trial shows the same cells.  Damage within the target band or the interval of
the knee withdraws the rpm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from ...knee import FOUND, TOO_FEW
from ...knee.thresholds import MIN_DEPTHS, MIN_READINGS
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.checks import OK, STOP
from ...sheets.conditions import first_of, quoted
from ...trial.readings import BLANK, CHANGED
from ..blocks.limits import limit_cases
from .steps import rpm_for
from .tables import CALCULATION, PLAN, ROWS

# Depth range of a plan, largest over smallest. From simulated trials: below the first only a very steep fall shows a knee,
# from the second on most do with 8 to 15 readings at 2 % scatter.
TOO_NARROW, WIDE_ENOUGH = 1.15, 1.35
MOST_DRIFT = (
    0.1  # of the fall seen in the trial; a larger change between the first and the last nominal reading is a drift (convention)
)
DAMAGE_WITHIN = "damage was seen within the target band or the interval of the knee: do not set it"
DAMAGE_BEYOND = "damage was seen outside the target band: stay within it"


class Result(NamedTuple):
    """A cell out_<name>."""

    name: str
    formula: str
    label: str
    unit: str = "-"
    digits: int | None = 0
    quantity: str = ""  # of the vocabulary, which says unit and decimals


def _of(quantity: str, name: str, formula: str, label: str) -> Result:
    return Result(name, formula, label, QUANTITIES[quantity].unit, QUANTITIES[quantity].digits, quantity)


def _depth(name: str, formula: str, label: str) -> Result:
    return _of("grit_depth", name, formula, label)


def _shown(cell: str) -> str:
    return f"IF(out_ready=1,{cell},NA())"


def sentences(block: Mapping[str, str]) -> Iterator[Result]:
    """The verdict and what was seen, in words."""
    yield Result("verdict", f'IF(out_ready=1,{block["verdict"]},"{STOP}: see Checks")', "verdict", digits=None)
    yield Result(
        "reason",
        first_of(
            ("out_ready<>1", quoted("Inputs are missing or do not fit together.")),
            ("out_n_readings=0", quoted("No reading is typed yet.")),
            (
                f"{block['verdict']}={quoted(TOO_FEW)}",
                f'out_n_readings&" of at least {MIN_READINGS} readings, at "&out_n_depths&" of at least {MIN_DEPTHS} depths."',
            ),
            otherwise=block["reason"],
        ),
        "what was seen",
        digits=None,
    )
    yield Result(
        "advice",
        first_of(
            ("out_ready<>1", quoted("mend the inputs that the sheet Checks names")),
            ("out_damage_in_band>0", quoted(f"{DAMAGE_WITHIN}; look for the cause, then take a new trial")),
            (f"IF(out_verdict={quoted(FOUND)},out_damage_count>0,FALSE)", quoted(f"{DAMAGE_BEYOND}; watch the first parts")),
            (f"out_verdict={quoted(FOUND)}", quoted("set the machine by the knee; watch the first parts")),
            ("out_damage_count>0", quoted("damage was seen: end this trial and look for the cause")),
            otherwise=block["advice"],
        ),
        "what to do next",
        digits=None,
    )
    damage = first_of(
        ("out_damage_count>0", f"{quoted('damage: ')}&out_damage_first&{quoted('; ')}&out_damage_word"),
        otherwise=quoted("no damage noted"),
    )
    drift = first_of((f"out_drift_word={quoted('drifts')}", quoted("; the nominal readings drift")), otherwise=quoted(""))
    suspect = first_of(("out_outlier_row>0", '"; reading "&out_outlier_row&" is out of line"'), otherwise=quoted(""))
    yield Result("warning", f"{damage}&{drift}&{suspect}", "seen in the trial", digits=None)


def knee(block: Mapping[str, str]) -> Iterator[Result]:
    yield _depth("knee", _shown(block["knee"]), "knee")
    for end, name in (("lower", "low"), ("upper", "high")):
        yield _depth(f"knee_{name}", _shown(block[name]), f"knee, {end} end")
    for end, name in (("knee", "rpm"), ("knee_low", "rpm_low"), ("knee_high", "rpm_high")):
        label = {"rpm": "rpm of the knee", "rpm_low": "of its lower end", "rpm_high": "of its upper end"}[name]
        yield _of("work_rpm", f"knee_{name}", rpm_for(f"out_{end}"), label)
    yield Result("knee_level", _shown(block["level"]), "level beyond the knee", "=out_energy_unit", 1)
    yield Result("knee_slope", _shown(block["slope"]), "fall below the knee", "per µm", 1)
    yield Result("noise", f"100*{_shown(block['noise'])}", "scatter for the interval", "% of level", 2)
    yield Result("n_readings", f"SUM({CALCULATION.area('counts')})", "readings used")
    yield Result("n_depths", _shown(block["n_depths"]), "different depths")
    yield Result(
        "n_left_out",
        f"{ROWS}-SUM({CALCULATION.area('counts')})-COUNTIF({CALCULATION.area('status')},{quoted(BLANK)})",
        "readings left out",
    )


def what_to_set() -> Iterator[Result]:
    yield _depth(
        "target_depth", "IF(out_ready=1,IF(ISNUMBER(in_target_depth),in_target_depth,out_knee),NA())", "target: as given, or knee"
    )
    yield _depth("target_low", "out_target_depth*(1-in_band/100)", "lower edge of the band")
    yield _depth("target_high", "out_target_depth*(1+in_band/100)", "upper edge of the band")
    for name, depth, label in (
        ("target_rpm", "out_target_depth", "rpm for the target"),
        ("target_rpm_low", "out_target_low", "lowest within the band"),
        ("target_rpm_high", "out_target_high", "highest within the band"),
    ):
        yield _of("work_rpm", name, f"IF(out_damage_in_band>0,NA(),{rpm_for(depth)})", label)
    yield Result(
        "limit_word",
        first_of(
            ("out_damage_in_band>0", quoted("no: damage seen")),
            ("NOT(ISNUMBER(out_target_rpm))", quoted("no target")),
            *limit_cases(work_rpm="out_target_rpm"),
            ("out_damage_count>0", quoted("in the band only")),
            otherwise=quoted(OK),
        ),
        "may it be set",
        digits=None,
    )


def plan() -> Iterator[Result]:
    planned = PLAN.area("planned_depth")
    yield Result("plan_ratio", f"IF(COUNT({planned})>0,MAX({planned})/MIN({planned}),NA())", "planned depths, ratio", digits=2)
    yield Result(
        "plan_word",
        first_of(
            ("NOT(ISNUMBER(out_plan_ratio))", quoted("no plan")),
            (f"out_plan_ratio<{TOO_NARROW}", quoted("too narrow")),
            (f"out_plan_ratio<{WIDE_ENOUGH}", quoted("narrow")),
            otherwise=quoted("wide enough"),
        ),
        "range of the plan",
        digits=None,
    )


def interval(block: Mapping[str, str]) -> Iterator[Result]:
    yield Result(
        "half_width",
        f"IF(out_ready=1,100*({block['scatter_high']}-{block['scatter_low']})/2/out_knee,NA())",
        "scatter leaves, ±",
        "% of knee",
        2,
    )
    yield Result(
        "readings_needed",
        f"IF(ISNUMBER(out_half_width),MAX({MIN_READINGS},ROUNDUP(out_n_readings*(out_half_width/in_wanted_half_width)^2,0)),"
        '"not known yet")',
        "readings for ± wanted",
    )


def drift(block: Mapping[str, str]) -> Iterator[Result]:
    """Drift of the repeated nominal readings; the word goes by all repeats where they tell enough."""
    nominal, energies = CALCULATION.area("nominal"), CALCULATION.area("energy")
    yield Result("nominal_repeats", f'COUNTIF({nominal},">0")', "readings at nominal rpm")
    first_energy, last_energy = (
        f"INDEX({energies},{number})" for number in (f"SMALL({nominal},COUNTIF({nominal},0)+1)", f"MAX({nominal})")
    )
    yield Result(
        "drift", f"IF(out_nominal_repeats>1,100*({last_energy}/{first_energy}-1),NA())", "first to last of them", "% of energy", 1
    )
    yield Result(
        "drift_share",
        f"IF(ISNUMBER(out_drift),ABS({last_energy}-{first_energy})/(MAX({energies})-MIN({energies})),NA())",
        "that, of the whole fall",
        digits=2,
    )
    yield Result(
        "drift_word",
        first_of(
            (f"{block['drift_is_seen']}=1", quoted("drifts")),
            (f"{block['drift_judged']}=1", quoted("steady")),
            ("NOT(ISNUMBER(out_drift_share))", quoted("not known")),
            (f"out_drift_share>{MOST_DRIFT}", quoted("drifts")),
            otherwise=quoted("steady"),
        ),
        "drift",
        digits=None,
    )


def damage() -> Iterator[Result]:
    """Damage seen at the machine, whatever became of its reading."""
    damaged, depth = CALCULATION.area("damaged"), CALCULATION.area("depth_read")
    yield Result("damage_count", f"SUM({damaged})", "readings with damage")
    yield Result("damage_row", f"IF(out_damage_count=0,0,MATCH(1,{damaged},0))", "the first of them")
    yield Result(
        "damage_first_word",
        first_of(
            ("out_damage_count=0", quoted("none")), otherwise=f"MID(INDEX({CALCULATION.area('damage')},out_damage_row),1,14)"
        ),
        "what was seen there",
        digits=None,
    )
    yield Result(
        "damage_unplaced", f"SUMPRODUCT({damaged}*(1-({CALCULATION.area('rpm_state')}={quoted(OK)})))", "of them without an rpm"
    )

    def inside(low: str, high: str) -> str:
        return f"({depth}>={low})*({depth}<={high})"  # a text is above any number

    band, interval_ = inside("out_target_low", "out_target_high"), inside("out_knee_low", "out_knee_high")
    either = f"SUMPRODUCT({damaged}*({band}+{interval_}>0))"
    yield Result(
        "damage_in_band",
        first_of(
            ("out_damage_count=0", "0"),
            ("NOT(ISNUMBER(out_target_depth))", "0"),
            ("ISNUMBER(out_knee)", f"out_damage_unplaced+{either}"),
            otherwise=f"out_damage_unplaced+SUMPRODUCT({damaged}*{band})",
        ),
        "of them within the band",
    )


def damage_words() -> Iterator[Result]:
    yield Result(
        "damage_first",
        first_of(
            ("out_damage_count=0", quoted("none")),
            otherwise=f'INDEX({CALCULATION.area("damage")},out_damage_row)&" in reading "&out_damage_row',
        ),
        "damage, the first noted",
        digits=None,
    )
    yield Result(
        "damage_word",
        first_of(
            ("out_damage_count=0", quoted("none noted")),
            ("NOT(ISNUMBER(out_target_depth))", quoted("seen")),
            ("out_damage_in_band>0", quoted("seen within the target band or the interval of the knee: do not set it")),
            otherwise=quoted("seen outside the target band: stay within it"),
        ),
        "damage and the target",
        digits=None,
    )


def looks(book: Book) -> None:
    """What asks for a look, the most urgent first."""
    readings = "'2 Trial'!J10"
    book.look_if(
        "burn, crack or wheel breakdown was seen",
        "out_damage_count>0",
        "sheet Record says whether it lies within the target band",
        "'2 Trial'!I10",
    )
    book.look_if(
        "a reading is out of line with the others",
        "out_outlier_row>0",
        "repeat it; it may be a slip of the decimal sign",
        readings,
    )
    book.look_if(
        "work rpm for the target is outside the machine's limits",
        first_of(
            ("NOT(ISNUMBER(out_target_rpm))", "FALSE"),
            *((broken, "TRUE") for broken, _ in limit_cases(work_rpm="out_target_rpm")),
            otherwise="FALSE",
        ),
        "out_limit_word on the sheet Record says which limit",
        "in_highest_work_rpm",
    )
    book.look_unless_usual(
        "work rpm for the target", "out_target_rpm", "work_rpm", "in_infeed_rate, in_target_depth: look at the inputs again"
    )
    removal = CALCULATION.area("removal")
    book.look_if(
        "a wrong idle would move the knee",
        f"IF(out_verdict={quoted(FOUND)},IF(ISNUMBER(out_load_offset),FALSE,MAX({removal})-MIN({removal})>{CHANGED}*MAX({removal})),FALSE)",
        "the infeed changed, and no pair at nominal depth tells idle from the knee: read idle again; gritfuncs knee FILE says how far",
        "in_idle",
    )
    book.look_if("the nominal readings drift", 'out_drift_word="drifts"', "dress or warm up, and run the trial again", readings)
    book.look_if(
        "the plan is narrow",
        'out_plan_word<>"wide enough"',
        "in_steps_each_side: more steps to each side, within the machine's limits",
    )
