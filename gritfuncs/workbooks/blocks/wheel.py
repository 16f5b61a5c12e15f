"""Rows that several workbooks share: wheel, grits, side of contact, infeed basis, and the values that follow from them."""

from __future__ import annotations

from typing import Any

from ...formulas import catalogue
from ...formulas.wheel import SIEVES
from ...quantities import QUANTITIES, SIDE_WORDS, Quantity
from ..book import Book, Page
from ..conditions import first_of, quoted
from ..words import DENSITY

_BAND = Quantity("band", "-", "band about the target depth, ±", "%", "Allowed deviation of grit depth.", high=50.0)
SIDES = tuple(SIDE_WORDS)
BASES = ("radius", "diameter")


def formula(name: str, **cells: str) -> str:
    """The native text of a catalogue formula, in brackets so that it fits anywhere."""
    return f"({catalogue[name].text(**cells)})"


def mean_size(designation: str) -> str:
    """The native look-up of mean_grit_size in the sheet Tables: exact, where MATCH takes * and ? for any signs.

    Each designation stands there once, so the sum over the rows that hold it is its size.
    """
    holds = "+".join(f"({table}=TRIM({designation}))" for table in ("tab_diamond", "tab_cbn", "tab_sieves"))
    size = f"SUMPRODUCT(({holds})*tab_mean)"
    return first_of((f"{size}>0", size), otherwise="NA()")


def band_input(page: Page, values: dict[str, Any]) -> None:
    page.input("band", values["band"], quantity=_BAND, text="2 is common practice.")


def title_input(page: Page, values: dict[str, Any]) -> None:
    page.text_input(
        "title", values["title"], label="title", text="Stands at the head of every sheet: part, wheel, machine, date."
    )


def wheel_inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Wheel")
    page.rows_head(True)
    page.input("wheel_diameter", values["wheel_diameter"])
    page.input(
        "wheel_speed",
        values["wheel_speed"],
        optional=True,
        text="Peripheral speed of the wheel. Fill in this or the wheel rpm below.",
    )
    page.input(
        "wheel_rpm",
        values.get("wheel_rpm"),
        optional=True,
        text="Fill in this or the wheel speed above; both only if they agree.",
    )
    page.input(
        "marked_wheel_speed",
        values["marked_wheel_speed"],
        quantity=QUANTITIES["wheel_speed"],
        label="highest speed marked on the wheel",
        text="Read it on the wheel. Nothing is computed for a faster wheel.",
    )


def grit_inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Grits")
    page.note(DENSITY, 2)
    page.rows_head(True)
    page.input(
        "grit_density",
        values.get("grit_density"),
        optional=True,
        text="A count on the wheel surface, if you have one. Blank: estimated from the next three rows.",
    )
    page.input(
        "grit_size",
        values["grit_size"],
        checked=False,
        label="mean grit size or designation",
        unit="µm or ISO 6106",
        text="Mean size in µm, or a designation such as D126, B126 or 120/140 (sheet Tables).",
    )
    page.input("concentration", values["concentration"], optional=True)
    page.input("active_fraction", values["active_fraction"], optional=True)
    page.input("shape_ratio", values["shape_ratio"])


def side_input(page: Page, values: dict[str, Any]) -> None:
    page.choice(
        "side",
        values["side"],
        SIDES,
        label="side of contact",
        symbol="side",
        text="external: wheel outside the part. flat. internal: wheel in a bore.",
    )


def infeed_basis_input(page: Page, values: dict[str, Any]) -> None:
    page.choice(
        "infeed_basis",
        values["infeed_basis"],
        BASES,
        label="infeed counted on the",
        text="radius or diameter: what the machine shows. On the diameter it is halved.",
    )


def wheel_results(page: Page) -> None:
    """Wheel speed, side flag and grit density that the inputs mean, with the checks that tie them together."""
    from_rpm = formula("wheel_speed", wheel_diameter="use_wheel_diameter", wheel_rpm="in_wheel_rpm")
    page.quantity_result(
        "wheel_speed",
        f"IF(ISNUMBER(use_wheel_speed),use_wheel_speed,{from_rpm})",
        kind="step",
        text="As given, or from wheel diameter and wheel rpm.",
    )
    page.result(
        "side",
        first_of(
            ("ISLOGICAL(in_side)", "NA()"),  # a number to LibreOffice
            ("ISNUMBER(in_side)", "in_side"),  # as a script may write it
            *((f"TRIM(in_side)={quoted(word)}", str(number)) for word, number in SIDE_WORDS.items()),
            otherwise="NA()",
        ),
        label="side of contact as a number",
        symbol="side",
        digits=0,
        kind="step",
        text="+1 external, 0 flat, -1 internal.",
    )
    page.quantity_result(
        "grit_size",
        f"IF(ISNUMBER(in_grit_size),in_grit_size,{mean_size('in_grit_size')})",
        kind="step",
        text="As given, or the mean of the two sieve apertures of the designation.",
    )
    estimate = formula(
        "grit_density", grit_size="out_grit_size", concentration="in_concentration", active_fraction="in_active_fraction"
    )
    page.quantity_result(
        "grit_density",
        f"IF(ISNUMBER(in_grit_density),in_grit_density,{estimate})",
        kind="step",
        text="As given, or estimated from grit size, concentration and active fraction.",
    )

    book = page.book
    book.stop_unless(
        "wheel speed: one of speed and rpm is given",
        "ISNUMBER(use_wheel_speed)+ISNUMBER(in_wheel_rpm)>0",
        "in_wheel_speed, in_wheel_rpm: fill in one of the two",
    )
    book.stop_unless(
        "wheel speed and wheel rpm agree within 1 %",
        f"IF(ISNUMBER(use_wheel_speed)*ISNUMBER(in_wheel_rpm)=1,ABS({from_rpm}-use_wheel_speed)<=0.01*use_wheel_speed,TRUE)",
        "in_wheel_speed, in_wheel_rpm: leave one of the two blank, or correct the wheel diameter",
    )
    book.stop_unless(
        "wheel speed is not above the speed marked on the wheel",
        "out_wheel_speed<=use_marked_wheel_speed",
        "DANGER: a wheel that turns faster than marked can burst. Reduce the wheel speed",
    )
    book.stop_unless(
        "side of contact is known", "(ABS(out_side)=1)+(out_side=0)>0", "in_side: must be external, flat or internal"
    )
    book.stop_unless(
        "grit density is known",
        "out_grit_density>0",
        "fill in in_grit_density, or all of in_grit_size, in_concentration and in_active_fraction; see the sheet Tables",
    )


def infeed_factor_result(page: Page) -> None:
    page.result(
        "infeed_factor",
        'IF(in_infeed_basis="radius",1,IF(in_infeed_basis="diameter",0.5,NA()))',
        label="infeed on the radius per infeed as given",
        digits=1,
        kind="step",
        text="1 on the radius, 0.5 on the diameter.",
    )
    page.book.stop_unless("infeed basis is known", "ISNUMBER(out_infeed_factor)", "in_infeed_basis: must be radius or diameter")


def tables_page(book: Book) -> None:
    """The sieve table of the grit designations."""
    page = book.page("Tables", "Tables", (12, 12, 14, 20, 20, 20))
    page.note("Grit designations of ISO 6106 with the sieve apertures of ASTM E11. The number is not the mean size.")
    page.table_head(("diamond", "cBN", "US sieves", "upper aperture, µm", "lower aperture, µm", "mean size, µm"))
    first = page.row
    for number, (sieves, upper, lower) in SIEVES.items():
        page.cells(
            (f"D{number}", f"B{number}", sieves, upper, lower, f"=(D{page.row}+E{page.row})/2"),
            formats=(None, None, None, "0", "0", "0.0"),
        )
    last = page.row - 1
    for name, column in (("tab_diamond", "A"), ("tab_cbn", "B"), ("tab_sieves", "C"), ("tab_mean", "F")):
        book.name(name, page.sheet, f"{column}{first}:{column}{last}")
