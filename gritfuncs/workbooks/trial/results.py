"""The sheet Results of trial.xlsx: verdict, knee, and what to set; damage within the target band withdraws the rpm."""

from __future__ import annotations

from collections.abc import Mapping

from ...trial.readings import BLANK
from ..blocks.limits import limit_cases
from ..book import OK, ROW_WIDTHS, STOP, Book, Page
from ..conditions import first_of, quoted
from ..words import PREFACTOR
from .steps import rpm_for
from .tables import CALCULATION, ROWS

DAMAGE_WITHIN = "damage was seen within the target band: do not set it"
DAMAGE_BEYOND = "damage was seen outside the target band: stay within it"


def results_page(book: Book, block: Mapping[str, str]) -> Page:
    page = book.page("Results", "Results", ROW_WIDTHS[:4] + (4,) + (13,) * 9, one_page=True)
    page.row_columns = 4

    def shown(name: str) -> str:
        return f"IF(out_ready=1,{block[name]},NA())"

    page.sentence("verdict", f'IF(out_ready=1,{block["verdict"]},"{STOP}: see Checks")', label="verdict")
    page.sentence(
        "reason", f'IF(out_ready=1,{block["reason"]},"Inputs are missing or do not fit together.")', label="what was seen"
    )
    page.sentence(
        "advice",
        first_of(
            ("out_ready<>1", quoted("mend the inputs that the sheet Checks names")),
            ("out_damage_in_band>0", quoted(f"{DAMAGE_WITHIN}: look for the cause, then take a new trial")),
            ('IF(out_verdict="found",out_damage_count>0,FALSE)', quoted(f"{DAMAGE_BEYOND}; watch the first parts")),
            ('out_verdict="found"', quoted("set the machine by the knee; watch the first parts")),
            ("out_damage_count>0", quoted("damage was seen: end this trial and look for the cause")),
            otherwise=block["advice"],
        ),
        label="what to do next",
    )
    damage = first_of(
        ("out_damage_count>0", f"{quoted('damage: ')}&out_damage_first&{quoted('; ')}&out_damage_word"),
        otherwise=quoted("no damage noted"),
    )
    drift = first_of((f"out_drift_word={quoted('drifts')}", quoted("; the nominal readings drift")), otherwise=quoted(""))
    page.sentence("warning", f"{damage}&{drift}", label="seen in the trial")
    page.row += 1
    page.chart_row = page.row
    page.rows_head()
    page.quantity_result("grit_depth", shown("knee"), name="knee", label="knee")
    for end, name in (("lower", "low"), ("upper", "high")):
        page.quantity_result("grit_depth", shown(name), name=f"knee_{name}", label=f"knee, {end} end of the interval")
    page.result(
        "knee_level", shown("level"), label="level of energy beyond the knee", digits=1, unit="=out_energy_unit", symbol="u"
    )
    page.result("knee_slope", shown("slope"), label="fall of energy below the knee", digits=1, unit="per µm")
    page.result("noise", f"100*{shown('noise')}", label="scatter used for the interval", unit="% of the level", digits=2)
    page.result("n_readings", f"SUM({CALCULATION.area('counts')})", label="readings used", digits=0)
    page.result("n_depths", shown("n_depths"), label="different depths", digits=0)
    page.result(
        "n_left_out",
        f"{ROWS}-SUM({CALCULATION.area('counts')})-COUNTIF({CALCULATION.area('status')},{quoted(BLANK)})",
        label="readings left out or excluded",
        digits=0,
    )
    page.heading("What to set")
    page.rows_head()
    page.quantity_result(
        "grit_depth",
        "IF(out_ready=1,IF(ISNUMBER(in_target_depth),in_target_depth,out_knee),NA())",
        name="target_depth",
        label="target: as given, else the knee",
    )
    page.quantity_result("grit_depth", "out_target_depth*(1-in_band/100)", name="target_low", label="lower edge of the band")
    page.quantity_result("grit_depth", "out_target_depth*(1+in_band/100)", name="target_high", label="upper edge of the band")
    for name, depth, label in (
        ("target_rpm", "out_target_depth", "work rpm that holds the target"),
        ("target_rpm_low", "out_target_low", "lowest rpm within the band"),
        ("target_rpm_high", "out_target_high", "highest rpm within the band"),
    ):
        page.quantity_result("work_rpm", f"IF(out_damage_in_band>0,NA(),{rpm_for(depth)})", name=name, label=label)
    page.result(
        "limit_word",
        first_of(
            ("out_damage_in_band>0", quoted("no: damage seen")),
            ("NOT(ISNUMBER(out_target_rpm))", quoted("no target")),
            *limit_cases(work_rpm="out_target_rpm"),
            ("out_damage_count>0", quoted("in the band only")),
            otherwise=quoted(OK),
        ),
        label="may it be set, does the machine allow it",
        digits=None,
    )
    book.look_if(
        "work rpm for the target is outside the machine's limits",
        first_of(
            ("NOT(ISNUMBER(out_target_rpm))", "FALSE"),
            *((broken, "TRUE") for broken, _ in limit_cases(work_rpm="out_target_rpm")),
            otherwise="FALSE",
        ),
        "out_limit_word on Results says which limit",
    )
    book.look_unless_usual("work rpm for the target", "out_target_rpm", "work_rpm", "look at the inputs and at the target again")
    page.row += 2
    page.note(
        "The interval is scatter at 95 %, widened because real curves are rounded. The rpm hold for this wheel, part, infeed and "
        "wheel speed. The verdict is one of found, still falling, already level, not resolved, too few readings; only found "
        "carries a knee to set a machine by.",
        2,
    )
    page.note(PREFACTOR, 2)
    return page
