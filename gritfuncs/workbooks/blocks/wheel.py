"""Rows that several workbooks share: wheel, grits, side of contact, infeed basis, and the values that follow from them."""

from __future__ import annotations

from typing import Any

from ...formulas import catalogue
from ...formulas.wheel import SIEVES
from ...quantities import QUANTITIES, SIDE_WORDS
from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.page import Page
from ...sheets.words import DENSITY
from ...trial.inputs import BAND, GRITS, INFEED_BASIS, SIDE, TITLE, WHEEL


def formula(name: str, **cells: str) -> str:
    """The native text of a catalogue formula, in brackets so that it fits anywhere."""
    return f"({catalogue[name].text(**cells)})"


def mean_size(designation: str) -> str:
    """The native look-up of mean_grit_size in the sheet Grit sizes: exact, where MATCH takes * and ? for any signs.

    Each designation stands there once, so the sum over the rows that hold it is its size.
    """
    holds = "+".join(f"({table}=TRIM({designation}))" for table in ("tab_diamond", "tab_cbn", "tab_sieves"))
    size = f"SUMPRODUCT(({holds})*tab_mean)"
    return first_of((f"{size}>0", size), otherwise="NA()")


def band_input(page: Page, values: dict[str, Any]) -> None:
    page.given(BAND, values[BAND.name])


def title_input(page: Page, values: dict[str, Any]) -> None:
    page.given(TITLE, values[TITLE.name])


def wheel_inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Wheel")
    page.rows_head(True)
    for record in WHEEL:
        page.given(record, values.get(record.name))


def grit_inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Grits")
    page.note(DENSITY, 2)
    page.rows_head(True)
    for record in GRITS:
        page.given(record, values.get(record.name))


def side_input(page: Page, values: dict[str, Any]) -> None:
    page.given(SIDE, values[SIDE.name])


def infeed_basis_input(page: Page, values: dict[str, Any]) -> None:
    page.given(INFEED_BASIS, values[INFEED_BASIS.name])


_FROM_RPM = formula("wheel_speed", wheel_diameter="use_wheel_diameter", wheel_rpm="in_wheel_rpm")


def wheel_results(page: Page) -> None:
    """Wheel speed, side flag and grit density that the inputs mean, with the checks that tie them together."""
    page.quantity_result(
        "wheel_speed",
        f"IF(ISNUMBER(use_wheel_speed),use_wheel_speed,{_FROM_RPM})",
        kind="step",
        text="As given, or from wheel diameter and wheel rpm.",
    )
    page.step(
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
        text="+1 external, 0 flat, -1 internal.",
    )
    page.quantity_result(
        "grit_size",
        first_of(
            ("ISLOGICAL(in_grit_size)", "NA()"),  # a number to LibreOffice
            ("ISNUMBER(in_grit_size)", "in_grit_size"),
            otherwise=mean_size("in_grit_size"),
        ),
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
    _wheel_checks(page.book)


def _wheel_checks(book: Book) -> None:
    most = QUANTITIES["grit_size"].possible
    book.stop_unless(
        "mean grit size: not more than there is",
        f"IF(ISNUMBER(out_grit_size),out_grit_size<={most:G},TRUE)",
        f"in_grit_size: more than {most:g} µm there is not; a slip, or a designation without its letter?",
    )
    for name, label, advice in (
        ("grit_size", "mean grit size", "in_grit_size: a slip, another unit, or a designation without its letter?"),
        ("grit_density", "active grits per area, as used", "in_grit_density, or the inputs from which it is estimated: a slip?"),
    ):
        book.look_unless_usual(label, f"out_{name}", name, advice)
    book.stop_unless(
        "wheel speed: one of speed and rpm is given",
        "ISNUMBER(use_wheel_speed)+ISNUMBER(in_wheel_rpm)>0",
        "in_wheel_speed, in_wheel_rpm: fill in one of the two",
    )
    book.stop_unless(
        "wheel speed and wheel rpm agree within 1 %",
        f"IF(ISNUMBER(use_wheel_speed)*ISNUMBER(in_wheel_rpm)=1,ABS({_FROM_RPM}-use_wheel_speed)<=0.01*use_wheel_speed,TRUE)",
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
        "fill in in_grit_density, or all of in_grit_size, in_concentration and in_active_fraction; see the sheet Grit sizes",
    )


def infeed_factor_result(page: Page) -> None:
    page.step(
        "infeed_factor",
        'IF(in_infeed_basis="radius",1,IF(in_infeed_basis="diameter",0.5,NA()))',
        label="infeed on the radius per infeed as given",
        digits=1,
        text="1 on the radius, 0.5 on the diameter.",
    )
    page.book.stop_unless("infeed basis is known", "ISNUMBER(out_infeed_factor)", "in_infeed_basis: must be radius or diameter")


def tables_page(book: Book) -> None:
    """The sieve table of the grit designations."""
    page = book.page("Grit sizes", "Grit sizes", (12, 12, 14, 20, 20, 20))
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
