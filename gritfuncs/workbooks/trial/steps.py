"""The sheet calc steps of trial.xlsx: what follows from the inputs before any reading, and the formulas that build on it."""

from __future__ import annotations

from ...planning.plan import BOTH, FURTHEST_PERCENT, LEAST_PAIR, PAIR
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.inches import INCH
from ..blocks.wheel import formula, infeed_factor_result, wheel_results
from .calculation import IS_BOTH, IS_ENERGY, counted
from .tables import STEPS

_SETUP = dict(
    work_diameter="use_work_diameter",
    infeed_rate="out_infeed_rate",
    wheel_speed="out_wheel_speed",
    wheel_diameter="use_wheel_diameter",
    side="out_side",
    grit_density="out_grit_density",
    shape_ratio="in_shape_ratio",
)


def plunge_depth(rpm: str, infeed_rate: str = "out_infeed_rate") -> str:
    """The grit depth at a work rpm, as formula text."""
    return formula("plunge_grit_depth", work_rpm=rpm, **{**_SETUP, "infeed_rate": infeed_rate})


def rpm_for(depth: str) -> str:
    """The work rpm that gives a grit depth, as formula text."""
    return formula("work_rpm_for", grit_depth=depth, **_SETUP)


def step_depth(rpm: str) -> str:
    """The grit depth at a work rpm along the steps: where rpm and infeed change together it goes with the square root."""
    return f"IF({IS_BOTH},out_nominal_grit_depth*SQRT({rpm}/in_nominal_rpm),{plunge_depth(rpm)})"


def step_rpm_for(depth: str) -> str:
    """The work rpm along the steps that gives a grit depth."""
    return f"IF({IS_BOTH},in_nominal_rpm*({depth}/out_nominal_grit_depth)^2,{rpm_for(depth)})"


def _limits(end: str) -> dict[str, str]:
    return {"rpm": f"use_{end}_work_rpm", "infeed": f"use_{end}_infeed_rate"}


def steps_page(book: Book) -> None:
    page = book.page(STEPS, "What follows from the inputs before any reading")
    page.rows_head()
    wheel_results(page)
    infeed_factor_result(page)
    page.quantity_result("infeed_rate", "use_infeed_rate*out_infeed_factor", kind="step", text="On the radius.")
    page.result(
        "row_infeed_factor",
        f'IF(in_units="{INCH}",{QUANTITIES["infeed_rate"].inch_factor!r},1)*out_infeed_factor',
        label="mm/min on the radius per infeed as typed in a row",
        digits=2,
        kind="step",
    )
    page.quantity_result(
        "equivalent_diameter",
        formula("equivalent_diameter", wheel_diameter="use_wheel_diameter", work_diameter="use_work_diameter", side="out_side"),
        kind="step",
    )
    page.quantity_result(
        "removal_rate",
        formula("removal_rate", work_diameter="use_work_diameter", infeed_rate="out_infeed_rate"),
        kind="step",
        text="Does not change with work rpm; rows with an infeed rate of their own have their own.",
    )
    page.quantity_result(
        "grit_depth",
        plunge_depth("in_nominal_rpm"),
        name="nominal_grit_depth",
        label="grit depth at nominal work rpm",
        kind="step",
        text="In the middle of the trial.",
    )
    furthest = FURTHEST_PERCENT[BOTH]
    page.result(
        "plan_sides",
        f"IF({IS_BOTH},MIN(in_steps_each_side,INT({furthest:g}/in_rpm_step*(1+1E-12))),in_steps_each_side)",
        label="planned steps to each side",
        digits=0,
        kind="step",
        text=f"Of rpm and infeed together to ±{furthest:g} % of nominal at most.",
    )
    low = {name: f"IF(ISNUMBER({cell}),{cell},1E-300)" for name, cell in _limits("lowest").items()}
    high = {name: f"IF(ISNUMBER({cell}),{cell},1E+300)" for name, cell in _limits("highest").items()}
    for way, limits in (
        ("up", (f"{high['infeed']}/out_infeed_rate", f"in_nominal_rpm/{low['rpm']}")),
        ("down", (f"out_infeed_rate/{low['infeed']}", f"{high['rpm']}/in_nominal_rpm")),
    ):
        page.result(
            f"pair_{way}",
            f"MIN({PAIR},{','.join(limits)})",
            label=f"pair at nominal depth: infeed {way} by",
            digits=3,
            kind="step",
            text=f"The rpm the other way. Less than {LEAST_PAIR:g} tells nothing: no pair.",
        )
    for name, edge, function, limit in (("slowest", "-", "MAX", "lowest"), ("fastest", "+", "MIN", "highest")):
        planned = f"(100{edge}out_plan_sides*in_rpm_step)/100"
        cut = first_of((are_numbers(f"in_{limit}_work_rpm"), f"in_{limit}_work_rpm/in_nominal_rpm"), otherwise=planned)
        infeed = _limits(limit)["infeed"]
        of_infeed = f"IF({IS_BOTH},IF(ISNUMBER({infeed}),{infeed}/out_infeed_rate,{planned}),{planned})"
        page.result(
            f"{name}_step",
            f"{function}({planned},{cut},{of_infeed})",
            label=f"{name} planned rpm, of nominal",
            digits=3,
            kind="step",
            text="Cut at the machine's limit, for equal steps of depth.",
        )
    page.result(
        "load_unit",
        first_of(
            ('in_load_kind="power"', quoted("kW")),
            ('in_load_kind="current"', quoted("A")),
            (IS_ENERGY, quoted("J/mm³")),
            (f"IF(ISERROR(in_load_unit),TRUE,TRIM(in_load_unit)={quoted('')})", quoted("-")),
            otherwise="TRIM(in_load_unit)",
        ),
        label="unit of the readings",
        digits=None,
        kind="step",
        text="That of the kind of load chosen.",
    )
    page.result(
        "energy_unit",
        first_of(
            (IS_ENERGY, quoted("J/mm³")),
            ('in_load_kind="relative"', "out_load_unit"),
            (are_numbers("use_contact_width"), quoted("J/mm³")),
            otherwise=quoted("kW"),
        ),
        label="unit of the energy axis",
        digits=None,
        kind="step",
        text="J/mm³ where the width of contact is known, else kW; a bare load keeps its own unit.",
    )
    page.result(
        "load_word",
        first_of(
            ('in_load_kind="relative"', quoted("net load")),
            (f"out_energy_unit={quoted('J/mm³')}", quoted("energy")),
            otherwise=quoted("net power"),
        ),
        label="what the vertical axis shows",
        digits=None,
        kind="step",
    )
    page.result(
        "noise_given",
        first_of((are_numbers("in_noise"), "in_noise/100"), otherwise=quoted("")),
        label="scatter of the readings, if given",
        digits=4,
        unit="share of the level",
        kind="step",
        text="Blank: from the repeats, else 1 %.",
    )
    page.result(
        "own_idles",
        counted("idle_state", "number"),
        label="rows with an idle reading of their own",
        digits=0,
        kind="step",
        text="If some rows have one and no common idle is given, rows without are left out.",
    )
    book.stop_unless(
        "diameters fit together",
        "out_equivalent_diameter>0",
        "in_work_diameter: must be larger than the wheel for internal grinding",
    )
    book.look_unless_usual(
        "grit depth at nominal work rpm",
        "out_nominal_grit_depth",
        "grit_depth",
        "in_nominal_rpm, in_infeed_rate: look at the inputs again",
    )
