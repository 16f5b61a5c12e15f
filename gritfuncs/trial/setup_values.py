"""What follows from the values in shop units: those of the setup, the machine's limits, and what is unusual."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

from ..formulas import catalogue
from ..planning import Limits
from ..quantities import QUANTITIES
from ..quantity import Check
from ..refused import Refused
from ..values import finite_in
from .shop_units import Words, unit_behind
from .words import BASES, QUANTITY_WORDS, SETUP_WORDS, quantity_of, side_number

SPEED_AGREEMENT = 0.01  # of the wheel speed; diameters and rpm are read to about this


def limits_from(given: Words) -> Limits:
    """What is said of the machine's limits."""
    return Limits(**{limit.name: given.number(limit.name) for limit in fields(Limits)})


def unusual(given: Words) -> list[str]:
    """A sentence for each value outside of what is usual, and one for an infeed rate on the diameter."""
    found = []
    for word in QUANTITY_WORDS + ("marked_wheel_speed", "nominal_rpm", "highest_power"):
        quantity, number = quantity_of(word), finite_in(given.values.get(word))
        if quantity is not None and number is not None and not quantity.is_usual(number):
            odd = f"Check {given.shown(word)}: {number:.6g}{unit_behind(quantity)}, usual is {quantity.usual_range}."
            found.append(Check(odd))
    rate = finite_in(given.values.get("infeed_rate"))
    if rate is not None and given.choice("infeed_basis", BASES, "radius") == "diameter":
        found.append(f"Infeed rate {rate:.9g} mm/min on the diameter is used as {rate / 2:.9g} mm/min on the radius.")
    return found


def setup_from(given: Words) -> tuple[dict[str, Any], list[str]]:
    """The values of a setup, with the words that are missing from it; ValueError for a value out of its limits."""
    values = {word: given.number(word) for word in SETUP_WORDS if word not in ("side", "wheel_speed", "grit_density")}
    side = given.get("side")
    if side is not None:
        values["side"] = QUANTITIES["side"].check_one(side_number(side, given.shown("side")), given.shown("side"))
    values["wheel_speed"] = _wheel_speed(given, values["wheel_diameter"])
    values["grit_density"] = _grit_density(given)
    if given.choice("infeed_basis", BASES, "radius") == "diameter" and values["infeed_rate"]:
        values["infeed_rate"] /= 2
    missing = [word for word in SETUP_WORDS if word != "contact_width" and values.get(word) is None]
    if {"wheel_diameter", "wheel_speed"} <= set(missing) and given.get("wheel_rpm") is not None:
        missing.remove("wheel_speed")  # it will follow from the rpm
    return values, missing


def _wheel_speed(given: Words, wheel_diameter: float | None) -> float | None:
    speed, rpm = given.number("wheel_speed"), given.number("wheel_rpm")
    if rpm is not None and wheel_diameter is not None:
        from_rpm = catalogue["wheel_speed"].call(wheel_diameter, rpm)
        if speed is not None and not math.isclose(speed, from_rpm, rel_tol=SPEED_AGREEMENT):
            got = f"{speed:g} m/s, and {from_rpm:.4g} m/s from {rpm:g} 1/min"
            raise Refused(given.shown("wheel_speed"), f"agree with {given.shown('wheel_rpm')} within 1 %", got)
        speed = from_rpm if speed is None else speed
        fastest = max(speed, from_rpm)
    else:
        fastest = speed
    check_marked(given, fastest)
    return speed


def check_marked(given: Words, fastest: float | None) -> None:
    """Refused where the wheel [m/s] is faster than the speed that the file says is marked on it."""
    marked = given.number("marked_wheel_speed")
    if marked is not None and fastest is not None and fastest > marked:
        never = "never run a wheel above the speed marked on it"
        must = f"be <= {given.shown('marked_wheel_speed')}, {marked:g} m/s: {never}"
        raise Refused(given.shown("wheel_speed"), must, f"{fastest:.6g} m/s")


def _grit_density(given: Words) -> float | None:
    density = given.number("grit_density")
    if density is not None:
        return density
    size = _grit_size(given)
    concentration, fraction = given.number("concentration"), given.number("active_fraction")
    if None in (size, concentration, fraction):
        return None
    return catalogue["grit_density"].call(size, concentration, fraction)


def _grit_size(given: Words) -> float | None:
    for word in ("grit_size", "designation"):
        value = given.get(word)
        if word == "designation" and value is not None or isinstance(value, str):
            try:
                return catalogue["mean_grit_size"].call(value)
            except Refused as refused:
                label = given.shown(word)
                raise (refused.named(label) if word == "designation" else refused.at(label)) from None
        if value is not None:
            return given.number(word)
    return None
