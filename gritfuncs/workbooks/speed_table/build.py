"""speed_table.xlsx: the work rpm that holds a grit depth, for part diameters by infeed rates, with limits in words."""

from __future__ import annotations

from typing import Any

from ... import example
from ...quantities import QUANTITIES
from ...quantity import Quantity
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers
from ...sheets.order import CHECKS, HELP, ROWS_WIDTHS_CONVERTED, arrange, caution_lines
from ...sheets.words import IDLE, INCHES, RADIUS
from ...trial.inputs import day_input
from .. import knee_record
from ..blocks.example_inputs import with_target_depth
from ..blocks.limits import limit_inputs, order_checks, power_limit_check
from ..blocks.record import OUTDATED, RECORD_CHECKS, RECORD_SHEET, look_up, looked_up, record_inputs, record_pages
from ..blocks.state import state
from ..blocks.units import units_check, units_input, units_known
from ..blocks.wheel import (
    band_input,
    grit_inputs,
    infeed_basis_input,
    infeed_factor_result,
    side_input,
    tables_page,
    title_input,
    wheel_inputs,
    wheel_results,
)
from ..read_me import read_me_page
from . import fastest as fastest_sheet
from . import wear as wear_sheet
from .details import details_page
from .grid import DETAILS, FIRST_ROW, ROWS, TABLE, calc_page
from .page import footer, page_sheet, warning_of_the_record, worn

INPUTS, FROM_RECORD = "Inputs", "From the record"

ON_THE_PAGE = (  # texts for the page to pin up
    ("wheel", "wheel", "Maker's designation or your own number. Blank: grit and concentration."),
    ("material", "material", "Grade of the parts."),
    ("machine", "machine", "That the page hangs at."),
    ("who", "by", "Who signs the page, and is told of burn, cracks or wheel breakdown."),
)
_STOCK = Quantity("stock", "-", "stock on the radius", "mm", "Radial stock of one plunge.", inch_unit="in")


def defaults() -> dict[str, Any]:
    """The invented example as input values."""
    record = knee_record.defaults()
    return dict(
        with_target_depth(),
        diameters=example.WORK_DIAMETERS,
        infeed_rates=example.INFEED_RATES,
        stock=0.15,
        smallest_wheel_diameter=150.0,
        reference_diameter=20.0,
        reference_infeed_rate=0.6,
        today=record["today"],
        months=record["months"],
        records=record["records"][:2],
        copied=None,
        lookup_key=None,
        wheel="resin D126, concentration 75",
        material="carbide K20 (invented)",
        machine="grinder 1 (invented)",
        who=None,
        date=None,
    )


def build(values: dict[str, Any] | None = None, opens: str = INPUTS):
    """The workbook, filled with the values (names without in_) in place of those of the example; it opens at a sheet."""
    values = {**defaults(), **(values or {})}
    links = (("Inputs", INPUTS), (TABLE, TABLE), ("Record", RECORD_SHEET), (HELP, HELP))
    book = Book("Speed table at constant grit depth", has_units=True, state=state(warning_of_the_record()), links=links)
    _inputs(book, values)
    page_sheet(book, values)
    details_page(book)
    fastest_sheet.add(book, ROWS, lambda row: f"'{TABLE}'!$A{FIRST_ROW + row}")
    wear_sheet.add(book)
    _from_the_record(book)
    record_pages(book, values["records"], is_copy=True)
    _steps(book)
    calc_page(book)
    _checks(book)
    book.checks_page()
    tables_page(book)
    _help(book)
    book.finish()
    footer(book.workbook[TABLE])
    arrange(
        book,
        (INPUTS, TABLE),
        (
            DETAILS,
            fastest_sheet.SHEET,
            wear_sheet.SHEET,
            FROM_RECORD,
            RECORD_SHEET,
            RECORD_CHECKS,
            CHECKS,
            book.workbook.sheetnames[-2],
            HELP,
        ),
        opens,
    )
    return book.workbook


def _help(book: Book) -> None:
    read_me_page(
        book,
        "Speed table: the work rpm that holds a grit depth",
        purpose=(
            "Once the knee of a wheel, material and machine is known, every setup should hold that grit depth. This "
            "workbook gives the work rpm for part diameters and infeed rates, and says in words which limit a setup "
            "breaks.",
        ),
        steps=(
            "Inputs: fill in the target depth (the knee from the trial), wheel, grits and the limits of the machine. "
            "Keep C and r as they were in the trial: then the target means the same cut.",
            "Speed table: fill in up to 12 part diameters and 12 infeed rates, as the machine shows them, in the tinted cells, in any "
            "order; leave the rest blank. Print it: one page to pin up, for this wheel, at this wheel diameter and speed.",
            "Words in place of an rpm name the limit that forbids the setup; the number stands on the sheet Details, with an exclamation "
            "mark. As the wheel wears at constant rpm the depth grows: print the page again below the wheel diameter that stands on it.",
            "Details: work speed, speed ratio, removal rate, power, time and the rpm window of the band. Fastest: the "
            "highest infeed within all limits for each part. Wheel wear: what holds the depth as the wheel gets "
            "smaller. Record: a copy of the shop's record of knees.",
            "The record itself stands in knee_record.xlsx, in one place. Copy its rows to the sheet Record here, paste them as values "
            "(Ctrl+Shift+V in LibreOffice, paste special in Excel) and type the day: links between files break when files move, and say "
            "nothing of it.",
            f"{INCHES} Grit depth is in µm, energy of the record in J/mm³.",
        ),
        background=(
            "At constant grit depth, work rpm times infeed rate is fixed for a part diameter: half the infeed takes "
            "twice the rpm. Depth within ±2 % needs rpm within about ±8 %.",
            RADIUS,
        ),
        name=HELP,
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page(INPUTS, "Inputs", ROWS_WIDTHS_CONVERTED)
    caution_lines(page)
    page.rows_head(True)
    title_input(page, values)
    for name, label, text in ON_THE_PAGE:
        page.text_input(name, values.get(name), label=label, text=text)
    page.given(day_input("date", "date of the page", "Of the page to pin up."), values.get("date"))
    units_input(page, values["units"])
    page.input(
        "target_depth",
        values["target_depth"],
        optional=True,
        quantity=QUANTITIES["grit_depth"],
        label="target grit depth",
        text="The knee of the trial. Blank: looked up by the key below.",
    )
    band_input(page, values)
    wheel_inputs(page, values)
    page.heading("Work and infeed")
    page.rows_head(True)
    side_input(page, values)
    infeed_basis_input(page, values)
    page.input(
        "stock", values.get("stock"), optional=True, quantity=_STOCK, text="What the plunge takes off, for the time it takes."
    )
    grit_inputs(page, values)
    page.heading("Power to expect (all three, or none)")
    page.rows_head(True)
    page.input(
        "specific_energy", values.get("specific_energy"), optional=True, text="Level beyond the knee, from the trial in J/mm³."
    )
    page.input("contact_width", values.get("contact_width"), optional=True)
    page.input("idle_power", values.get("idle_power"), optional=True, text=IDLE)
    limit_inputs(page, values)
    wear_sheet.inputs(page, values)
    page.heading("Target from the copy of the shop's record (sheet Record)")
    page.rows_head()
    page.given(
        day_input(
            "copied", "day on which the rows were copied", "From knee_record.xlsx: what changed there since is not known here."
        ),
        values["copied"],
    )
    record_inputs(page, values["today"], values["months"])
    look_up(page, values["lookup_key"])


def _from_the_record(book: Book) -> None:
    page = book.page(FROM_RECORD, "What the record says of the key that is chosen on Inputs")
    page.rows_head()
    looked_up(page)


def _steps(book: Book) -> None:
    """What follows from the inputs, on a sheet of calculation."""
    page = book.page("calc inputs", "Calculation: what follows from the inputs (nothing to type here)")
    page.rows_head()
    usable = f'IF(out_lookup_word="{OK}",TRUE,out_lookup_word="{OUTDATED}")'
    page.quantity_result(
        "grit_depth",
        f"IF(ISNUMBER(in_target_depth),in_target_depth,IF({usable},out_lookup_knee,NA()))",
        name="target_depth",
        label="target grit depth",
        kind="step",
        text="As given, else the knee of the record.",
    )
    book.stop_unless(
        "target grit depth is given or stands in the record",
        "ISNUMBER(out_target_depth)",
        "fill in in_target_depth, or leave it blank and choose in_lookup_key; out_lookup_word says what is wrong with the key",
    )
    wheel_results(page)
    book.look_if(
        "the target comes from an outdated entry of the record",
        f'ISNUMBER(in_target_depth)+(out_lookup_word<>"{OUTDATED}")=0',
        "repeat the trial; use the knee with care until then",
    )
    book.look_if(
        "C r differs from that of the record by more than 1 %",
        "(1-ISNUMBER(in_target_depth))*(ABS(out_grit_density*in_shape_ratio/(out_lookup_density*out_lookup_ratio)-1)>0.01)>0",
        "the target means the same cut only with the C and r of its trial; or another wheel of known C r",
    )
    infeed_factor_result(page)
    units_known(page, "length_factor", "wheel_diameter", "mm per unit of part diameter and infeed", 1)
    units_check(page)
    page.step(
        "power_known",
        f"IF({are_numbers('use_specific_energy', 'use_contact_width', 'use_idle_power')},1,0)",
        label="power can be expected (1 yes, 0 no)",
        digits=0,
        text="All three of its inputs are given.",
    )
    worn(page)
    page.result(
        "rpm_low_factor",
        "(1-in_band/100)^4",
        label="lowest rpm within the band, per rpm of the table",
        digits=4,
        text="Depth goes with the fourth root of rpm.",
    )
    page.result(
        "rpm_high_factor",
        "(1+in_band/100)^4",
        label="highest rpm within the band, per rpm of the table",
        digits=4,
        text="Depth goes with the fourth root of rpm.",
    )


def _checks(book: Book) -> None:
    for name, label in (("diameters", "part diameters"), ("infeed_rates", "infeed rates")):
        book.stop_unless(
            f"{label} are numbers > 0", f'COUNTA(in_{name})=COUNTIF(in_{name},">0")', f"in_{name}: must be > 0, or blank"
        )
        book.stop_unless(f"at least one of the {label} is given", f"COUNT(in_{name})>0", f"in_{name}: fill in at least one")
    order_checks(book, "work_rpm", "infeed_rate", "speed_ratio")
    power_limit_check(book)
    book.look_if(
        "the target comes from a copy of the record without a day of copying",
        "IF(ISNUMBER(in_target_depth),FALSE,NOT(ISNUMBER(in_copied)))",
        "in_copied: type the day on which the rows were copied from knee_record.xlsx",
    )
    book.look_if(
        "setups that break a limit",
        f'COUNTIF(out_limit_table,"{OK}")<COUNT(in_diameters)*COUNT(in_infeed_rates)',
        "the Speed table names the limit in words; Details has the number, with !: do not use it",
        f"'{TABLE}'!B{FIRST_ROW}",
    )
