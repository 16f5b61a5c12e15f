"""The choice of units of a book whose inputs may be typed in inches, and how much of a shop unit the unit chosen is."""

from __future__ import annotations

from ...quantities import QUANTITIES
from ...sheets.inches import IN_INCHES, INCH
from ...sheets.page import Page

_METRIC = "mm"


def units_input(page: Page, value: str) -> None:
    page.choice(
        "units",
        value,
        (_METRIC, INCH),
        label="units of the inputs",
        text="mm, m/s, kW or inch, ft/min, hp. It converts nothing: type anew what stands below.",
    )


def units_known(page: Page, name: str, like: str, label: str, digits: int) -> None:
    """The value out_<name>: how many of the shop unit of a quantity one unit chosen is; it is an error where none is chosen."""
    factor = QUANTITIES[like].inch_factor
    page.step(
        name,
        f'IF(in_units="{_METRIC}",1,IF({IN_INCHES},{factor!r},NA()))',
        label=label,
        digits=digits,
        text=f"1, or {factor:g} for inches.",
    )


def units_check(page: Page) -> None:
    page.book.stop_unless("units are known", "ISNUMBER(out_length_factor)", f"in_units: must be {_METRIC} or {INCH}")
