"""Random setups for any formula, and what each unit of the vocabulary means in SI."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

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
    low, high = RANGES.get(quantity.name) or quantity.usual
    return st.floats(low, high)


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


# Unit: (its size in SI, its exponents of kilogram, metre, second, ampere and, where it counts, kelvin).
UNITS = {
    "-": (1, (0, 0, 0, 0)),
    "mm": (1e-3, (0, 1, 0, 0)),
    "µm": (1e-6, (0, 1, 0, 0)),
    "mm³": (1e-9, (0, 3, 0, 0)),
    "mm²/s": (1e-6, (0, 2, -1, 0)),
    "µm³": (1e-18, (0, 3, 0, 0)),
    "1/mm²": (1e6, (0, -2, 0, 0)),
    "1/s": (1, (0, 0, -1, 0)),
    "1/min": (Fraction(1, 60), (0, 0, -1, 0)),
    "m/s": (1, (0, 1, -1, 0)),
    "m/min": (Fraction(1, 60), (0, 1, -1, 0)),
    "mm/min": (Fraction(1, 60000), (0, 1, -1, 0)),
    "mm³/(mm·s)": (1e-6, (0, 2, -1, 0)),
    "N": (1, (1, 1, -2, 0)),
    "kW": (1000, (1, 2, -3, 0)),
    "J/mm³": (1e9, (1, -1, -2, 0)),
    "J/(mm²·√s)": (1e6, (1, 0, Fraction(-5, 2), 0)),
    "W/mm²": (1e6, (1, 0, -3, 0)),
    "W/(m·K)": (1, (1, 1, -3, 0, -1)),
    "K": (1, (0, 0, 0, 0, 1)),
    "V": (1, (1, 2, -3, -1)),
    "A": (1, (0, 0, 0, 1)),
}


def to_si(values):
    """The same setup in SI units; texts and pure numbers as they are."""
    return {
        name: value if isinstance(value, str) else value * float(UNITS[QUANTITIES[name].unit][0])
        for name, value in values.items()
    }
