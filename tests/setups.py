"""Random setups for any formula, and what each unit of the vocabulary means in SI."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from gritfuncs import units
from gritfuncs.quantities import QUANTITIES

RANGES = {
    "equivalent_diameter": (5, 900),
    "contact_length": (0.05, 30),
    "removal_rate": (0.05, 50),
    "power": (0, 50),
    "idle_power": (0, 5),
    "net_power": (0.01, 50),
    "tangential_force": (0.1, 500),
    "volts": (100, 700),
    "amps": (0, 200),
    "power_factor": (0.1, 1),
    "concentration": (25, 200),
}
WORDS = ("D126", "B64", "325/400")
NEAREST_BORE = 1.05  # bore over wheel; nearer to 1 the difference of the diameters has too few digits to compare


def one(quantity):
    """A value inside the limits and the customary range of a word."""
    if quantity.is_text:
        return st.sampled_from(WORDS)
    if quantity.choices:
        return st.sampled_from(quantity.choices)
    return st.floats(*range_of(quantity))


def range_of(quantity):
    """From which to which value examples are drawn: usual ones, else within the limits."""
    low, high = quantity.low or 0.0, quantity.high or 100.0
    return RANGES.get(quantity.name) or quantity.usual or (low + 0.01 * (high - low), high)


@st.composite
def setups(draw, record, *more):
    """Inputs of a formula (and of more words) that fit together, by name."""
    words = {quantity.name: quantity for quantity in record.arguments + tuple(QUANTITIES[name] for name in more)}
    values = {name: draw(one(quantity)) for name, quantity in words.items()}
    if values.get("side") == -1 and values["work_diameter"] < NEAREST_BORE * values["wheel_diameter"]:
        values["work_diameter"] = values["wheel_diameter"] * draw(st.floats(NEAREST_BORE, 20))
    if "inner_diameter" in values:
        values["outer_diameter"] = values["inner_diameter"] * draw(st.floats(1.01, 3))
    if "idle_power" in values:
        values["power"] += values["idle_power"]
    return values


def size_of(quantity) -> float:
    """One of the quantity's unit in SI."""
    return float(units.parse(quantity.unit).size)


def exponents_of(quantity) -> tuple[Fraction, ...]:
    """The exponents of metre, second, kilogram, ampere and kelvin in the quantity's unit."""
    return units.parse(quantity.unit).powers


def to_si(values):
    """The same setup in SI units; texts and pure numbers as they are."""
    return {name: value if isinstance(value, str) else value * size_of(QUANTITIES[name]) for name, value in values.items()}
