"""Heat of the contact: published coefficients, Jaeger's integral by quadrature, and the case of a burn threshold."""

from __future__ import annotations

from math import exp, pi, sqrt

import pytest
from evidence.notes import RECALLED, computed, published
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.special import kve

import gritfuncs as gf

# Length of contact, heat flux and material are arbitrary: only the coefficient is compared.
LENGTH, FLUX, CONDUCTIVITY, DIFFUSIVITY = 1.2, 57.5, 40.0, 9.0


def jaeger_rise(peclet, place):
    """Rise at a place of the band, -1 at its trailing to +1 at its leading edge, in units of 2 q α / (π k v).

    Jaeger (1942), Carslaw & Jaeger, Conduction of Heat in Solids, section 10.7: ∫ e^-u K0(|u|) du from the place to both edges.
    """

    def kernel(u):  # K0 scaled, so that nothing overflows far ahead of the band
        return kve(0, abs(u)) * exp(-u - abs(u))

    ahead, behind = peclet * (place - 1), peclet * (place + 1)
    pieces = [
        quad(kernel, low, high, epsabs=1e-13, epsrel=1e-12, limit=400)[0]
        for low, high in ((ahead, 0.0), (0.0, min(behind, 1.0)), (1.0, max(behind, 1.0)))
    ]
    return sum(pieces)


def jaeger_coefficient(peclet):
    """The highest rise over the surface, in units of (q/k) √(α l / v)."""
    best = minimize_scalar(lambda place: -jaeger_rise(peclet, place), bounds=(-1, 1), method="bounded", options=dict(xatol=1e-9))
    # 2 q α / (π k v) over (q/k) √(α l / v) is (2/π) √(α / (l v)) = 1 / (π √peclet), as peclet = v l / (4 α).
    return -best.fun / (pi * sqrt(peclet))


def formula_coefficient(work_speed=12.0):
    rise = gf.peak_temperature_rise(work_speed, LENGTH, FLUX, CONDUCTIVITY, DIFFUSIVITY)
    speed = 1000 * work_speed / 60  # mm/s
    return rise / (1000 * FLUX / CONDUCTIVITY * sqrt(DIFFUSIVITY * LENGTH / speed))


def test_coefficient_is_the_printed_one():
    """Jaeger 1942, equation 33; Malkin & Guo 2007, equation 2: 1.13."""
    published(
        "Jaeger 1942, equation 33; Malkin & Guo 2007, equation 2",
        RECALLED,
        "coefficient of a moving band",
        "1.13",
        formula_coefficient(),
    )
    assert formula_coefficient() == pytest.approx(2 / sqrt(pi), rel=1e-12)


@pytest.mark.parametrize(
    "peclet, coefficient",
    [(0.5, 0.92219), (1, 0.99185), (2, 1.04200), (5, 1.08369), (10, 1.10205), (20, 1.11318), (50, 1.12120), (100, 1.12436)],
)
def test_jaegers_integral_at_finite_peclet_numbers(peclet, coefficient):
    """The formula is its limit from above; the documentation says by how much."""
    integral = jaeger_coefficient(peclet)
    assert integral == pytest.approx(coefficient, abs=6e-6)  # of the quadrature itself
    assert integral < formula_coefficient()
    if peclet >= 5:
        assert formula_coefficient() / integral - 1 < 0.042


def test_the_formula_is_the_limit_of_the_integral():
    computed(
        "peak temperature rise at a Peclet number of 10,000",
        "Jaeger's integral by quadrature (scipy)",
        jaeger_coefficient(1e4),
        formula_coefficient(),
        within=1e-4,
    )


def test_what_the_documentation_says_of_the_coefficient():
    said = gf.catalogue["peclet_number"].description
    for text, peclet in (("1.12 at L = 50", 50), ("1.10 at 10", 10), ("1.08 at 5", 5), ("0.99 at 1", 1), ("0.92 at 0.5", 0.5)):
        assert text in said.replace("\n", " ")
        assert f"{jaeger_coefficient(peclet):.2f}" == text.partition(" ")[0]


def test_peclet_number_in_its_own_units():
    assert gf.peclet_number(work_speed=60 * 0.18, contact_length=2.0, diffusivity=9.0) == pytest.approx(10.0)


class TestBurnThreshold:
    """Malkin & Guo, Grinding Technology (recalled): u* = 6.2 + 7.2 d_e^(1/4) a^(-3/4) v_w^(-1/2) for plain carbon steel."""

    steel = dict(base_energy=6.2, burn_coefficient=7.2)

    def test_the_case_whose_root_is_exactly_5(self):
        assert (200 / (0.02**3 * 200**2)) ** 0.25 == pytest.approx(5, rel=1e-14)
        energy = gf.burn_threshold_energy(work_speed=0.06 * 200, depth_of_cut=20, equivalent_diameter=200, **self.steel)
        assert energy == pytest.approx(42.2, rel=1e-12)

    def test_another_case(self):
        energy = gf.burn_threshold_energy(work_speed=0.06 * 300, depth_of_cut=10, equivalent_diameter=100, **self.steel)
        assert energy == pytest.approx(47.7692, rel=1e-6)

    def test_coefficient_from_the_properties_of_steel(self):
        """Rise 725 K, 0.034 W/(mm·K), 9 mm²/s give 7.3, the book's 7.2 but for the rounded properties."""
        coefficient = gf.burn_coefficient(temperature_rise=725, conductivity=34, diffusivity=9)
        computed(
            "burn coefficient from the rounded properties of steel",
            "7.2 of Malkin & Guo, Grinding Technology (recalled)",
            7.2,
            coefficient,
            within=0.02,
        )

    @given(st.floats(2, 60), st.floats(1, 100), st.floats(10, 500), st.floats(100, 1200), st.floats(5, 200), st.floats(2, 100))
    def test_the_power_at_the_threshold_gives_the_rise_it_was_made_for(
        self, speed, depth, diameter, rise, conductivity, diffusivity
    ):
        base, width = 5.0, 10.0
        coefficient = gf.burn_coefficient(rise, conductivity, diffusivity)
        energy = gf.burn_threshold_energy(speed, depth, diameter, base, coefficient)
        power = gf.grinding_power(energy - base, gf.pass_removal_rate(depth, speed), width)
        length = gf.contact_length(depth, diameter)
        flux = gf.heat_flux(length, power, width, 1.0)
        assert gf.peak_temperature_rise(speed, length, flux, conductivity, diffusivity) == pytest.approx(rise, rel=1e-9)


@pytest.mark.parametrize("name", ["peak_temperature_rise", "burn_threshold_energy"])
def test_documentation_never_permits(name):
    text = gf.catalogue[name].description
    assert "indication" in text and "permission" in text
