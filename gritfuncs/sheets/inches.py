"""Inch units of a book: the choice in_units and, in formula text, what follows from it for an input.

Formulas compute in the shop units of the vocabulary only.
"""

from __future__ import annotations

from ..quantity import Quantity
from .conditions import first_of, quoted

INCH = "inch"  # the other choice of in_units
IN_INCHES = f'in_units="{INCH}"'  # a condition
IN_SHOP_UNITS = "in shop units"
_NOT_CONVERTED = ("grit_depth", "grit_density", "grit_size")  # µm and 1/mm² everywhere


def has_inches(quantity: Quantity, unit: str) -> bool:
    """Whether an input whose unit column says `unit` can be typed in inches."""
    return bool(quantity.inch_unit and quantity.name not in _NOT_CONVERTED and unit == quantity.unit)


def unit_chosen(quantity: Quantity, unit: str) -> str:
    """Formula text of the unit in which the input is typed."""
    return f'IF({IN_INCHES},"{quantity.inch_unit}","{unit}")'


def in_shop_units(cell: str, quantity: Quantity) -> str:
    """Formula text of the value of an input in shop units; blank where nothing is typed."""
    return f'IF({cell}="","",{cell}*IF({IN_INCHES},{quantity.inch_factor!r},1))'


def usual_words(quantity: Quantity, converted: bool) -> str:
    """Formula text: the usual range in the units in which the value stands, so that a switch of units alone is seen."""
    words = "! usually {}: look again. "
    in_shop = quoted(words.format(quantity.usual_range))
    if not converted:
        return in_shop
    low, high = (float(f"{end / quantity.inch_factor:.3g}") for end in quantity.usual)
    in_inch = quoted(words.format(f"{low:g} to {high:g} {quantity.inch_unit}"))
    return first_of((IN_INCHES, in_inch), otherwise=in_shop)
