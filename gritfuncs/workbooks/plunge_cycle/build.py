"""plunge_cycle.xlsx: the stages of one plunge at a grit depth, with time, power, wheel use and cost per part."""

from __future__ import annotations

from typing import Any

from ... import example
from ...quantities import QUANTITIES
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers
from ...sheets.order import CHECKS, HELP, ROWS_WIDTHS_CONVERTED, arrange, caution_lines
from ...sheets.words import IDLE, INCHES
from ...trial.inputs import Input
from ..blocks.example_inputs import with_target_depth
from ..blocks.limits import limit_inputs, order_checks, power_limit_check
from ..blocks.state import state
from ..blocks.units import units_check, units_input, units_known
from ..blocks.wheel import band_input, grit_inputs, infeed_factor_result, tables_page, title_input, wheel_inputs, wheel_results
from ..read_me import read_me_page
from . import chart as plunge_chart
from . import results
from .calculation import calc_page, over
from .cycle_sheet import stages_page
from .stages import PLUNGES
from .stages import SHEET as CYCLE

INPUTS = "Inputs"
_OTHER_TIME = Quantity("other_time", "-", "other time per part", "s", "Loading, approach, gauging, retracting.", low_open=False)
_PRICE = Quantity("wheel_price", "-", "price of a new wheel", "money", "In your currency.", low_open=False)
_RATE = Quantity(
    "hourly_rate", "-", "rate of the machine", "money/h", "Machine and operator, in the same currency.", low_open=False
)
_COST = tuple(
    Input(name, text, quantity, label, optional=True)
    for name, quantity, label, text in (
        ("other_time", _OTHER_TIME, "", "Loading, approach, gauging. Blank: none."),
        ("hourly_rate", _RATE, "", ""),
        ("wheel_price", _PRICE, "", ""),
        (
            "grinding_ratio",
            QUANTITIES["grinding_ratio"],
            "",
            "Work removed per wheel lost. Count what dressing takes off, or the cost comes out too low.",
        ),
        ("new_wheel_diameter", QUANTITIES["wheel_diameter"], "diameter of a new wheel", "Where the usable layer begins."),
        (
            "smallest_wheel_diameter",
            QUANTITIES["wheel_diameter"],
            "diameter at which the wheel is used up",
            "Where the usable layer ends.",
        ),
        (
            "wheel_width",
            QUANTITIES["axial_width"],
            "width of the wheel face",
            "Of the whole face. Needed for the cost of the wheel and for a traverse stage.",
        ),
    )
)
SIDES = ("external", "internal")


def defaults() -> dict[str, Any]:
    """The invented example as input values; the inputs of the stages are named as the cells, without in_."""
    stages = dict(
        rough_infeed_rate=0.9,
        rough_stock=0.2,
        rough_work_rpm=68.0,
        semi_infeed_rate=0.6,
        semi_stock=0.08,
        semi_work_rpm=102.0,
        finish_infeed_rate=0.3,
        finish_stock=0.02,
        finish_work_rpm=205.0,
        spark_revolutions=5.0,
        spark_work_rpm=205.0,
    )
    return dict(
        with_target_depth(),
        target_source="the trial of the invented example",
        work_diameter=example.SETUP["work_diameter"],
        grinding_ratio=150.0,
        wheel_price=480.0,
        new_wheel_diameter=203.0,
        smallest_wheel_diameter=193.0,
        wheel_width=20.0,
        hourly_rate=75.0,
        other_time=12.0,
        **stages,
    )


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example."""
    values = {**defaults(), **(values or {})}
    links = (("Inputs", INPUTS), ("Cycle", CYCLE), ("Results", results.SHEET), (HELP, HELP))
    book = Book("Plunge cycle at constant grit depth", has_units=True, state=state(), links=links)
    _inputs(book, values)
    stages_page(book, values)
    results.results_sheet(book)
    _steps(book)
    calc_page(book)
    results.calc_page(book)
    plunge_chart.add(book, book.workbook[results.SHEET])
    _checks(book)
    book.checks_page()
    tables_page(book)
    sizes = book.workbook.sheetnames[-1]
    _help(book)
    book.finish()
    arrange(book, (INPUTS, CYCLE), (results.SHEET, CHECKS, sizes, HELP), INPUTS)
    return book.workbook


def _help(book: Book) -> None:
    read_me_page(
        book,
        "Plunge cycle: rough, semi-finish, finish, spark-out",
        purpose=(
            "A part is ground in stages, each with its own infeed rate. This workbook shows for each stage how deep the"
            " grits cut and whether that is within the band about the target depth, what the machine's limits say, and "
            "what the part takes in time, power, wheel and money.",
        ),
        steps=(
            "Inputs: fill in the target depth (the knee from the trial), wheel, grits, work, limits and, for costs, "
            "wheel and rates. Keep C and r as they were in the trial: then the target means the same cut.",
            "Cycle: fill in the stages. A stage whose cells are all blank is left out. The first row below says ok or names what is wrong; "
            "the row 'work rpm that holds the target' says what to set for each infeed rate.",
            "Results: whether the cycle is within band and limits, cycle time, wheel and machine cost per part, and charts over time.",
            "The target comes from the record of knees, knee_record.xlsx, which stands in one place: type depth, key and date here. That is a "
            "copy: a later change there is not known here. Links between files break when files move, and say nothing of it.",
            f"{INCHES} Grit depth and depth of cut are in µm.",
        ),
        background=(
            "Infeed, stock and rpm are taken as set: real machines give way, so each stage begins and ends softly and "
            "the spark-out takes off what deflection left. Its depth falls towards nothing with each revolution: no "
            "grit depth is shown for it.",
            "Power comes from one specific energy beyond the knee. A stage whose grits cut shallower than the knee "
            "needs more: give it an energy of its own, from the trial.",
            "In the traverse stage the leading edge of the wheel takes the whole depth of the pass over a width of one "
            "feed per work revolution.",
            "Infeed rates and stock count on the radius. Machines that show them on the diameter show twice as much: "
            "choose diameter on Inputs and both are halved.",
        ),
        name=HELP,
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page(INPUTS, "Inputs", ROWS_WIDTHS_CONVERTED)
    caution_lines(page)
    page.rows_head(True)
    title_input(page, values)
    units_input(page, values["units"])
    page.input(
        "target_depth",
        values["target_depth"],
        quantity=QUANTITIES["grit_depth"],
        label="target grit depth",
        text="The knee of the trial, or the depth that your record says.",
    )
    page.text_input(
        "target_source",
        values["target_source"],
        label="where the target comes from",
        text="Key and date in knee_record.xlsx; later changes there are not known here.",
    )
    band_input(page, values)
    wheel_inputs(page, values)
    page.heading("Work and infeed")
    page.rows_head(True)
    page.input("work_diameter", values["work_diameter"], label="finished work diameter", text="After the last stage.")
    page.choice(
        "side",
        values["side"],
        SIDES,
        label="side of contact",
        symbol="side",
        text="external: wheel outside the part. internal: wheel in a bore.",
    )
    page.choice(
        "infeed_basis",
        values["infeed_basis"],
        ("radius", "diameter"),
        label="infeed and stock counted on the",
        text="radius or diameter: what the machine shows. On the diameter both are halved.",
    )
    page.input(
        "contact_width", values.get("contact_width"), optional=True, text="Of the plunge. Blank: no power, no cost of the wheel."
    )
    grit_inputs(page, values)
    page.heading("Power to expect (all three, or none)")
    page.rows_head(True)
    page.input(
        "specific_energy",
        values.get("specific_energy"),
        optional=True,
        text="Level beyond the knee, from the trial in J/mm³. Each stage may have its own.",
    )
    page.input("idle_power", values.get("idle_power"), optional=True, text=IDLE)
    page.note("The third is the grinding width above.")
    limit_inputs(page, values)
    page.heading("Cost per part (blank: not known)")
    page.rows_head(True)
    for record in _COST:
        page.given(record, values.get(record.name))


def _steps(book: Book) -> None:
    """What follows from the inputs, on a sheet of calculation."""
    page = book.page("calc inputs", "Calculation: what follows from the inputs (nothing to type here)")
    page.rows_head()
    wheel_results(page)
    infeed_factor_result(page)
    units_known(page, "length_factor", "wheel_diameter", "mm per unit of length", 4)
    units_known(page, "energy_factor", "specific_energy", "J/mm³ per unit of specific energy", 4)
    units_check(page)
    page.quantity_result(
        "grit_depth", "in_target_depth*(1-in_band/100)", name="target_low", label="lower edge of the band", kind="step"
    )
    page.quantity_result(
        "grit_depth", "in_target_depth*(1+in_band/100)", name="target_high", label="upper edge of the band", kind="step"
    )
    page.quantity_result(
        "work_diameter",
        f"use_work_diameter+out_side*2*out_infeed_factor*out_length_factor*{over('SUM', 'stock', given=True)}",
        name="start_diameter",
        label="work diameter before grinding",
        kind="step",
        text="Finished diameter and the stock of all stages.",
    )


def _checks(book: Book) -> None:
    order_checks(book, "work_rpm", "infeed_rate", "speed_ratio")
    book.stop_unless("side is external or internal", "ABS(out_side)=1", "in_side: a plunge into a flat has no work rpm")
    book.stop_unless(
        "wheel fits the bore before grinding",
        "IF(out_side=-1,out_start_diameter>use_wheel_diameter,TRUE)",
        "in_work_diameter less the stock must be larger than in_wheel_diameter for internal grinding",
    )
    power_limit_check(book)
    book.stop_unless(
        "wheel is used up at a smaller diameter than new",
        f"IF({are_numbers('in_new_wheel_diameter', 'in_smallest_wheel_diameter')},in_smallest_wheel_diameter<in_new_wheel_diameter,TRUE)",
        "in_smallest_wheel_diameter must be < in_new_wheel_diameter",
    )
    book.stop_unless(
        "width of the wheel face is given for a traverse stage",
        "IF(out_traverse_used=1,ISNUMBER(in_wheel_width),TRUE)",
        "in_wheel_width: its feed per revolution is compared with it",
    )
    book.stop_unless(
        "at least one plunge stage is filled in",
        f"{'+'.join(f'out_{stage.name}_used' for stage in PLUNGES)}>0",
        "the sheet Cycle: infeed rate, stock and work rpm of a stage",
    )
    book.look_if(
        "stages outside the band or a limit",
        f'out_cycle_word<>"{OK}"',
        "the sheet Cycle says which and why, below what is filled in",
        "Cycle!C18",
    )
    book.look_if(
        "wheel diameter is outside the usable layer",
        "ISNUMBER(in_new_wheel_diameter)*(in_wheel_diameter>in_new_wheel_diameter)"
        "+ISNUMBER(in_smallest_wheel_diameter)*(in_wheel_diameter<in_smallest_wheel_diameter)>0",
        "in_wheel_diameter: measure the wheel, or correct the diameters under costs",
    )
    book.look_if(
        "grinding width is larger than the wheel face",
        f"IF({are_numbers('in_wheel_width', 'in_contact_width')},in_contact_width>in_wheel_width,FALSE)",
        "in_contact_width, in_wheel_width: correct one of the two",
    )
