"""Units: every spelling that shops write, against a general-purpose unit library, and what is refused."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs import units
from gritfuncs.quantities import QUANTITIES
from gritfuncs.refused import Refused

# What is written, the shop's unit, and what pint calls it.
WRITTEN = [
    ("mm", "mm", "mm"),
    ("µm", "mm", "micrometer"),
    ("μm", "µm", "micrometer"),  # the Greek letter
    ("um", "mm", "micrometer"),
    ("nm", "µm", "nanometer"),
    ("cm", "mm", "cm"),
    ("dm", "mm", "dm"),
    ("m", "mm", "m"),
    ("in", "mm", "inch"),
    ("IN.", "mm", "inch"),
    ("inch", "mm", "inch"),
    ('"', "mm", "inch"),
    ("''", "mm", "inch"),
    ("″", "mm", "inch"),
    ("Zoll", "mm", "inch"),
    ("pollici", "mm", "inch"),
    ("pouce", "mm", "inch"),
    ("ft", "mm", "foot"),
    ("thou", "mm", "thou"),
    ("mil", "mm", "thou"),
    ("µin", "µm", "microinch"),
    ("mm/min", "mm/min", "mm/minute"),
    ("mm pro min", "mm/min", "mm/minute"),
    ("mm/s", "mm/min", "mm/s"),
    ("mm s⁻¹", "mm/min", None),
    ("µm/s", "mm/min", "micrometer/s"),
    ("µm/min", "mm/min", "micrometer/minute"),
    ("in/min", "mm/min", "inch/minute"),
    ("inches per minute", "mm/min", "inch/minute"),
    ("ipm", "mm/min", "inch/minute"),
    ("IPM", "mm/min", "inch/minute"),
    ("m/s", "m/s", "m/s"),
    ("m/min", "m/s", "m/minute"),
    ("mm/s", "m/s", "mm/s"),
    ("ft/min", "m/s", "foot/minute"),
    ("sfpm", "m/s", "foot/minute"),
    ("SFM", "m/s", "foot/minute"),
    ("surface feet per minute", "m/s", "foot/minute"),
    ("fpm", "m/s", "foot/minute"),
    ("km/h", "m/s", "km/hour"),
    ("V·A", "kW", "volt*ampere"),
    ("Wh", "kJ", "watt*hour"),
    ("1/min", "1/min", "1/minute"),
    ("min⁻¹", "1/min", "1/minute"),
    ("min-1", "1/min", "1/minute"),
    ("/min", "1/min", "1/minute"),
    ("rpm", "1/min", "1/minute"),
    ("U/min", "1/min", "1/minute"),
    ("tr/min", "1/min", "1/minute"),
    ("giri/min", "1/min", "1/minute"),
    ("obr./min", "1/min", "1/minute"),
    ("ot/min", "1/min", "1/minute"),
    ("varv/min", "1/min", "1/minute"),
    ("vueltas/min", "1/min", "1/minute"),
    ("rot/min", "1/min", "1/minute"),
    ("Umdrehungen pro Minute", "1/min", "1/minute"),
    ("1/s", "1/min", "1/s"),
    ("Hz", "1/min", "1/s"),
    ("kW", "kW", "kW"),
    ("W", "kW", "W"),
    ("MW", "kW", "MW"),
    ("mW", "kW", "mW"),
    ("hp", "kW", "horsepower"),
    ("PS", "kW", "metric_horsepower"),
    ("CV", "kW", "metric_horsepower"),
    ("A", "A", "A"),
    ("mA", "A", "mA"),
    ("Ampère", "A", "A"),
    ("V", "V", "V"),
    ("J/mm³", "J/mm³", "J/mm**3"),
    ("J/mm^3", "J/mm³", "J/mm**3"),
    ("J mm⁻³", "J/mm³", None),
    ("Ws/mm³", "J/mm³", "W*s/mm**3"),
    ("W·s/mm³", "J/mm³", "W*s/mm**3"),
    ("kJ/cm³", "J/mm³", "kJ/cm**3"),
    ("GJ/m³", "J/mm³", "GJ/m**3"),
    ("hp·min/in³", "J/mm³", "horsepower*minute/inch**3"),
    ("hp min/in^3", "J/mm³", "horsepower*minute/inch**3"),
    ("HP*min/in3", "J/mm³", "horsepower*minute/inch**3"),
    ("1/in²", "1/mm²", "1/inch**2"),
    ("1/cm²", "1/mm²", "1/cm**2"),
    ("in³/(in·min)", "mm³/(mm·s)", "inch**3/inch/minute"),
    ("in³/in/min", "mm³/(mm·s)", "inch**3/inch/minute"),
    ("cm³/(cm·min)", "mm³/(mm·s)", "cm**3/cm/minute"),
    ("lbf", "N", "pound_force"),
    ("%", "-", "percent"),
]


@pytest.fixture(scope="module")
def registry():
    return pytest.importorskip("pint").UnitRegistry()


@pytest.mark.parametrize("written, shop, other", [case for case in WRITTEN if case[2]])
def test_factors_are_those_of_a_general_purpose_library(registry, written, shop, other):
    names = {"mm³/(mm·s)": "mm**2/s", "µm": "micrometer", "1/min": "1/minute", "-": "", "J/mm³": "J/mm**3", "1/mm²": "1/mm**2"}
    names.update({"mm/min": "mm/minute"})
    expected = registry.Quantity(1, other).to(names.get(shop, shop)).magnitude
    assert float(units.ratio(written, shop)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("quantity", [quantity for quantity in QUANTITIES.values() if quantity.inch_unit])
def test_inch_factors_are_those_of_a_general_purpose_library(registry, quantity):
    def pints(text):
        for sign, name in (
            ("·", "*"),
            ("³", "**3"),
            ("²", "**2"),
            ("µin", "microinch"),
            ("hp", "horsepower"),
            ("lbf", "pound_force"),
        ):
            text = text.replace(sign, name)
        return text.replace("in**", "inch**").replace("(in*", "(inch*").replace("hp", "horsepower")

    expected = registry.Quantity(1, pints(quantity.inch_unit)).to(pints(quantity.unit)).magnitude
    assert quantity.inch_factor == pytest.approx(expected, rel=1e-12)


def test_factors_are_exact():
    assert units.ratio("in", "mm") == Fraction(254, 10)
    assert units.ratio("ft/min", "m/s") == Fraction(508, 100000)
    assert units.ratio("µm/s", "mm/min") == Fraction(6, 100)
    assert units.convert(15, "µm/s", "mm/min") == 0.9
    assert units.convert(13.78, "inch", "mm") == 350.012
    assert units.ratio("hp", "kW") == Fraction("0.3048") * Fraction("4.4482216152605") * 550 / 1000
    assert units.ratio("mm min^-1", "mm/min") == units.ratio("J mm⁻³", "J/mm³") == units.ratio("r.p.m.", "1/min") == 1
    assert units.ratio("PS", "kW") == Fraction("0.73549875")  # 75 kgf m/s


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=lambda quantity: quantity.name)
def test_every_unit_of_the_vocabulary_is_known(quantity):
    assert units.ratio(quantity.unit, quantity.unit) == 1


@pytest.mark.parametrize(
    "text",
    ["", " ", "1", "12", "1/1", "²", "furlong", "mm/fortnight", "mm/mm·s", "(mm", "mm)", "mm mm", "in in", "as set", "r", "U", "tr",
     "mw", "NM", "from the machine", "m" * 50, "mm²²", "*", "/", "mm/", "°C", "mm/min/", "cos φ", "D126", "external", "comma",
     "A1", "k0", "V 1", "m^0", "h1", "s+1"],
)  # fmt: skip
def test_what_cannot_be_read_whole_is_no_unit(text):
    assert not units.is_unit(text) and units.ratio(text, "mm") is None


@pytest.mark.parametrize(
    "written, shop",
    [("kW", "mm"), ("m/s", "1/min"), ("rpm", "mm/min"), ("mm/rev", "mm"), ("mm/rev", "mm/min"), ("Nm", "µm"), ("J", "J/mm³")],
)
def test_a_unit_of_another_kind_does_not_convert(written, shop):
    assert units.parse(written) is not None and units.ratio(written, shop) is None


def test_a_length_for_each_revolution_needs_the_rpm():
    assert units.convert(0.005, "mm/rev", "mm/min", turns_per_minute=120) == pytest.approx(0.6)
    assert units.convert(5, "µm/U", "mm/min", turns_per_minute=120) == pytest.approx(0.6)
    assert units.convert(0.001, "ipr", "mm/min", turns_per_minute=100) == pytest.approx(2.54)


@given(st.text(max_size=45))
def test_any_text_is_a_unit_or_none(text):
    unit = units.parse(text)
    assert unit is None or unit.size > 0


@given(st.sampled_from(sorted(units._EXACT)), st.sampled_from(sorted(units._EXACT)), st.floats(1e-6, 1e6))
def test_there_and_back(one, other, value):
    factor = units.ratio(one, other)
    if factor is None:
        assert units.ratio(other, one) is None
    else:
        assert factor * units.ratio(other, one) == 1
        assert math.isclose(units.convert(units.convert(value, one, other), other, one), value, rel_tol=1e-14)


def test_a_quantity_refuses_another_unit_in_one_line():
    diameter = QUANTITIES["wheel_diameter"]
    assert diameter.converted(8, "in") == 203.2
    assert diameter.converted("large", "in") == "large"
    with pytest.raises(Refused) as caught:
        diameter.converted(8, "hands", "in_wheel_diameter")
    assert str(caught.value) == "in_wheel_diameter must be in mm (got 'hands')"
