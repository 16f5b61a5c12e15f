"""The formulas against printed numbers, exact geometry and a second computation in SI units.

"Seen" means that the source was open when the number was written down; the others are recalled from it.
Printed numbers are compared to the digits printed, and noted for the evidence page.
"""

from __future__ import annotations

from math import acos, atan2, pi, sqrt

import pytest
from evidence.notes import RECALLED, SEEN, computed, prints_as, published
from hypothesis import given
from hypothesis import strategies as st
from setups import setups, size_of, to_si

import gritfuncs.formulas  # noqa: F401  (fills the catalogue)
from gritfuncs.formulas.wheel import SIEVES
from gritfuncs.quantities import EXTERNAL, FLAT, INTERNAL, QUANTITIES
from gritfuncs.registry import catalogue

NATIVE = [record for record in catalogue if record.native]


def compute(name, **values):
    return catalogue[name].call(**values)


def from_inch(**values):
    """Values given in the inch units of the vocabulary, in shop units."""
    return {name: value * QUANTITIES[name].inch_factor for name, value in values.items()}


def in_inch(name, value):
    return value / QUANTITIES[name].inch_factor


CHIP = "Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.1"
POWER = "Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.2"
GROOVER = "Groover, Fundamentals of Modern Manufacturing, grinding problem"


def test_the_digits_of_a_printed_number_decide():
    assert prints_as("5.7", 5.672) and not prints_as("5.7", 5.751)
    assert prints_as("0.00023", 0.000233) and not prints_as("0.00023", 0.000236)


class TestChipOfATextbook:
    """Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.1 (seen)."""

    def test_length(self):
        length = compute("contact_length", depth_of_cut=50, equivalent_diameter=200)
        # The book's 0.13 in is its rounded 3.2 mm (recalled) converted again, so the comparison is in mm.
        published(CHIP, RECALLED, "length of chip", "3.2", length, "mm")
        assert length == pytest.approx(3.1622776601683795, rel=1e-14)

    def test_thickness(self):
        depth = compute(
            "grit_depth", work_speed=30, wheel_speed=30, depth_of_cut=50, equivalent_diameter=200, grit_density=2, shape_ratio=15
        )
        published(CHIP, SEEN, "undeformed chip thickness", "0.00023", in_inch("grit_depth", depth) / 1e6, "in")
        published(CHIP, SEEN, "undeformed chip thickness", "0.006", depth / 1000, "mm")
        assert depth == pytest.approx(5.927598, rel=1e-7)


class TestPowerOfATextbook:
    """Kalpakjian & Schmid, Example 25.2 (seen in two independent copies)."""

    metric = from_inch(wheel_diameter=10, contact_width=1, depth_of_cut=2000, work_speed=5, specific_energy=15)

    def rate(self):
        return compute("pass_removal_rate", depth_of_cut=self.metric["depth_of_cut"], work_speed=self.metric["work_speed"])

    def power(self):
        return compute(
            "grinding_power",
            specific_energy=self.metric["specific_energy"],
            removal_rate=self.rate(),
            contact_width=self.metric["contact_width"],
        )

    def force(self):
        speed = compute("wheel_speed", wheel_diameter=self.metric["wheel_diameter"], wheel_rpm=4000)
        return compute("tangential_force", net_power=self.power(), wheel_speed=speed), speed

    def test_rate(self):
        published(POWER, SEEN, "removal rate on 1 in width", "0.12", in_inch("removal_rate", self.rate()), "in³/min")

    def test_power(self):
        horsepower = in_inch("net_power", self.power())
        published(POWER, SEEN, "grinding power", "1.8", horsepower, "hp")
        published(POWER, SEEN, "grinding power", "712800", horsepower * 396000, "in·lb/min")

    def test_tangential_force(self):
        force, _ = self.force()
        published(POWER, SEEN, "tangential force", "5.7", in_inch("tangential_force", force), "lb")
        assert in_inch("tangential_force", force) == pytest.approx(5.672282, rel=1e-6)

    def test_normal_force_at_the_books_ratio(self):
        published(
            POWER,
            SEEN,
            "normal force at 1.3 times the tangential",
            "7.4",
            1.3 * in_inch("tangential_force", self.force()[0]),
            "lb",
        )

    def test_in_metric_units(self):
        """The same example converted by hand: 40.9549 J/mm³, 1342.26 W, 1.290320 mm²/s, 53.1976 m/s."""
        force, speed = self.force()
        assert prints_as("40.9549", self.metric["specific_energy"])
        assert prints_as("1.290320", self.rate())
        assert prints_as("1342.26", self.power() * 1000)
        assert prints_as("53.1976", speed)
        assert prints_as("25.2316", force)


def test_rate_and_chip_count_of_a_textbook():
    """Groover, Fundamentals of Modern Manufacturing, grinding problem 1: 150 mm wheel (recalled)."""
    source = f"{GROOVER} 1 (150 mm wheel)"
    published(
        source, RECALLED, "length of chip", "3.24", compute("contact_length", depth_of_cut=70, equivalent_diameter=150), "mm"
    )
    width_of_path = 5.0
    rate = compute("pass_removal_rate", depth_of_cut=70, work_speed=0.25 * 60)
    published(source, RECALLED, "removal rate", "5250", rate * width_of_path * 60, "mm³/min")
    chips = compute("chip_rate", wheel_speed=1450 / 60, contact_width=width_of_path, grit_density=0.75)
    published(source, RECALLED, "chips formed", "5437500", chips * 60, "1/min")


def test_chip_volume_and_energy_of_a_textbook():
    """Groover, Fundamentals of Modern Manufacturing, grinding problem, 200 mm wheel (recalled)."""
    speed = compute("wheel_speed", wheel_diameter=200, wheel_rpm=2400)
    source = f"{GROOVER}, 200 mm wheel"
    published(
        source, RECALLED, "length of chip", "3.16", compute("contact_length", depth_of_cut=50, equivalent_diameter=200), "mm"
    )
    rate = compute("pass_removal_rate", depth_of_cut=50, work_speed=6)
    published(source, RECALLED, "removal rate", "1050", rate * 3.5 * 60, "mm³/min")
    chips = compute("chip_rate", wheel_speed=speed, contact_width=3.5, grit_density=0.64)
    published(source, RECALLED, "chips formed", "3377840", chips * 60, "1/min")
    volume = compute("chip_volume", work_speed=6, wheel_speed=speed, depth_of_cut=50, grit_density=0.64)
    published(source, RECALLED, "mean volume of a chip", "0.00031", volume / 1e9, "mm³")
    power = 30 * speed / 1000  # kW of a force of 30 N
    assert compute("tangential_force", net_power=power, wheel_speed=speed) == pytest.approx(30, rel=1e-12)
    energy = compute("specific_energy", net_power=power, removal_rate=rate, contact_width=3.5)
    published(source, RECALLED, "specific energy", "43.1", energy, "J/mm³")


def exact_arc(wheel_diameter, work_diameter, depth, side):
    """Arc of the wheel circle from its deepest point to where it leaves the work's circle or line. All mm.

    The wheel's centre is the origin and the deepest point lies straight below it.
    """
    wheel = wheel_diameter / 2
    if side == FLAT:
        return wheel * acos(1 - depth / wheel)
    work = work_diameter / 2  # of the surface before the cut
    if side == EXTERNAL:
        distance = wheel + work - depth
        towards_work = (distance**2 + wheel**2 - work**2) / (2 * distance)
    else:
        distance = work + depth - wheel  # the bore grows by the depth
        towards_work = (work**2 - wheel**2 - distance**2) / (2 * distance)
    aside = sqrt(wheel**2 - towards_work**2)
    return wheel * atan2(aside, towards_work)


@pytest.mark.parametrize(
    "wheel, work, depth, side, equivalent, printed_arc, tolerance",
    [
        (200, 1e9, 0.05, FLAT, 200, 3.162409, 5e-5),
        (200, 1e9, 1.0, FLAT, 200, 14.153947, 9e-4),
        (300, 25, 0.01, EXTERNAL, 23.076923, 0.480303, 2e-4),
        (40, 50, 0.01, INTERNAL, 200, 1.413237, 7e-4),
    ],
)
def test_contact_length_against_the_exact_arc(wheel, work, depth, side, equivalent, printed_arc, tolerance):
    """From first principles: no book needed. The formula is the limit of a small depth."""
    diameter = compute("equivalent_diameter", wheel_diameter=wheel, work_diameter=work, side=side)
    assert diameter == pytest.approx(equivalent, rel=1e-7)
    length = compute("contact_length", depth_of_cut=1000 * depth, equivalent_diameter=diameter)
    arc = exact_arc(wheel, work, depth, side)
    assert arc == pytest.approx(printed_arc, rel=1e-6)
    computed("contact length, depth of cut 0.01 to 1 mm", "exact arc of two circles", arc, length, within=9e-4)
    assert length == pytest.approx(arc, rel=tolerance)
    finer = compute("contact_length", depth_of_cut=10 * depth, equivalent_diameter=diameter)
    assert finer == pytest.approx(exact_arc(wheel, work, depth / 100, side), rel=tolerance / 50)


class TestEquivalentDiameter:
    """Malkin & Guo, Grinding Technology; Klocke; Rowe; Marinescu et al. (recalled)."""

    @pytest.mark.parametrize(
        "wheel, work, side, expected",
        [
            (500, 50, EXTERNAL, 45.454545454545),
            (300, 25, EXTERNAL, 23.076923076923),
            (40, 50, INTERNAL, 200),
            (100, 125, INTERNAL, 500),
            (250, 30, FLAT, 250),
        ],
    )
    def test_cases(self, wheel, work, side, expected):
        assert compute("equivalent_diameter", wheel_diameter=wheel, work_diameter=work, side=side) == pytest.approx(
            expected, rel=1e-12
        )

    @pytest.mark.parametrize("side", [EXTERNAL, INTERNAL])
    def test_a_very_large_work_is_flat(self, side):
        diameter = compute("equivalent_diameter", wheel_diameter=300, work_diameter=3e9, side=side)
        assert diameter == pytest.approx(300, rel=2e-7)


@given(setups(catalogue["removal_rate"], "work_rpm"))
def test_rate_of_plunge_grinding_is_depth_times_speed_at_any_rpm(setup):
    """All grinding texts (recalled): Q'w = π d_w v_f = a_e v_w."""
    plunge = compute("removal_rate", work_diameter=setup["work_diameter"], infeed_rate=setup["infeed_rate"])
    depth = compute("depth_of_cut", infeed_rate=setup["infeed_rate"], work_rpm=setup["work_rpm"])
    speed = compute("work_speed", work_diameter=setup["work_diameter"], work_rpm=setup["work_rpm"])
    assert compute("pass_removal_rate", depth_of_cut=depth, work_speed=speed) == pytest.approx(plunge, rel=1e-12)


def test_plunge_rate_of_a_20_mm_part():
    assert compute("removal_rate", work_diameter=20, infeed_rate=0.6) == pytest.approx(0.628319, rel=1e-6)


def test_equivalent_thickness():
    """Snoeys, Peters & Decneut, CIRP Annals 23 (1974) (recalled): 20 µm, 0.3 m/s, 60 m/s give 0.1 µm."""
    rate = compute("pass_removal_rate", depth_of_cut=20, work_speed=0.3 * 60)
    thickness = compute("equivalent_thickness", removal_rate=rate, wheel_speed=60)
    published(
        "Snoeys, Peters & Decneut, CIRP Annals 23 (1974)", RECALLED, "equivalent grinding thickness", "0.1", thickness, "µm"
    )
    assert thickness == pytest.approx(0.1, rel=1e-14)


class TestConcentration:
    """The carat scale of diamond: Klocke; Marinescu et al. (recalled). Carat 0.2 g, diamond 3.52 g/cm³."""

    @staticmethod
    def volume_share(concentration, grit_size=107.0):
        """Share of the grits in the wheel's volume, back from the density at the surface: C = N_v^(2/3)."""
        grits = compute("grit_density", grit_size=grit_size, concentration=concentration, active_fraction=1) ** 1.5
        return grits * pi / 6 * (grit_size / 1000) ** 3

    @pytest.mark.parametrize("concentration, carats", [(25, 1.1), (50, 2.2), (75, 3.3), (100, 4.4), (125, 5.5), (150, 6.6)])
    def test_carats_per_cubic_centimetre(self, concentration, carats):
        ours = self.volume_share(concentration) * 3.52 / 0.2
        published(
            "Klocke; Marinescu et al.: scale of concentration",
            RECALLED,
            f"diamond at concentration {concentration}",
            str(carats),
            ours,
            "ct/cm³",
        )
        assert ours == pytest.approx(carats, rel=1e-12)

    def test_carats_per_cubic_inch(self):
        """cadcamengineering.net, glossary, "Concentration": 100 is 72 carat/in³ (seen)."""
        published(
            "cadcamengineering.net, glossary, Concentration",
            SEEN,
            "diamond at concentration 100",
            "72",
            self.volume_share(100) * 3.52 / 0.2 * 2.54**3,
            "ct/in³",
        )


class TestGritDensity:
    """Papers on grinding of ceramics (Xu, Jahanmir, Malkin and others) (recalled)."""

    @pytest.mark.parametrize(
        "grit_size, active_fraction, expected", [(107, 1, 53.357241), (107, 0.5, 26.6786), (126, 1, 38.4787), (126, 0.5, 19.2393)]
    )
    def test_numbers(self, grit_size, active_fraction, expected):
        density = compute("grit_density", grit_size=grit_size, concentration=100, active_fraction=active_fraction)
        assert density == pytest.approx(expected, rel=3e-6)

    @given(setups(catalogue["grit_density"]))
    def test_equals_the_form_in_the_papers(self, setup):
        """C = 4 f / (d_g² (4π/(3V))^(2/3))."""
        size, share = setup["grit_size"] / 1000, setup["concentration"] / 400
        printed = 4 * setup["active_fraction"] / (size**2 * (4 * pi / (3 * share)) ** (2 / 3))
        computed(
            "grit density, random wheels",
            "C = 4 f / (d_g² (4π/(3V))^(2/3)), as papers on grinding of ceramics write it (recalled)",
            printed,
            compute("grit_density", **setup),
            within=1e-12,
        )

    def test_mean_spacing(self):
        """Evenly spread: 389.7535 grits per mm³ at 0.136900 mm."""
        density = compute("grit_density", grit_size=107, concentration=100, active_fraction=1)
        assert density**1.5 == pytest.approx(389.7535, rel=1e-6)
        assert density**-0.5 == pytest.approx(0.136900, rel=1e-5)


class TestWheelSpeedTable:
    """Machinery's Handbook, wheel speeds in rev/min (first two rows recalled, the others computed)."""

    @pytest.mark.parametrize(
        "inches, table",
        [
            (1, (15279, 17189, 19099, 21008, 22918, 24828, 26738)),
            (2, (7639, 8594, 9549, 10504, 11459, 12414, 13369)),
            (8, (1910, 2149, 2387, 2626, 2865, 3104, 3342)),
            (12, (1273, 1432, 1592, 1751, 1910, 2069, 2228)),
            (20, (764, 859, 955, 1050, 1146, 1241, 1337)),
        ],
    )
    def test_row(self, inches, table):
        speeds = (4000, 4500, 5000, 5500, 6000, 6500, 7000)
        rpm = [compute("wheel_rpm", **from_inch(wheel_diameter=inches, wheel_speed=speed)) for speed in speeds]
        assert [round(value) for value in rpm] == list(table)
        for speed, printed, ours in zip(speeds, table, rpm):
            if inches <= 2:  # the rows that are recalled from print
                published(
                    "Machinery's Handbook, grinding wheel speeds",
                    RECALLED,
                    f"{inches} in wheel at {speed} ft/min",
                    str(printed),
                    ours,
                    "1/min",
                )


class TestInchUnits:
    def test_specific_energy(self):
        """Machinery handbooks: 1 hp min/in³ is 2.73 J/mm³ (recalled)."""
        published("machinery handbooks", RECALLED, "1 hp·min/in³", "2.73", QUANTITIES["specific_energy"].inch_factor, "J/mm³")
        assert QUANTITIES["specific_energy"].inch_factor == pytest.approx(2.730323888, rel=1e-9)

    def test_horsepower(self):
        """Kalpakjian & Schmid, Example 25.2 (seen): 1 hp is 396 000 in lb/min."""
        inch_pounds = QUANTITIES["net_power"].inch_factor * 1000 * 60 / (0.0254 * QUANTITIES["tangential_force"].inch_factor)
        published(POWER, SEEN, "1 hp", "396000", inch_pounds, "in·lb/min")
        assert inch_pounds == pytest.approx(396000, rel=1e-12)

    def test_removal_rate_and_speed(self):
        assert QUANTITIES["removal_rate"].inch_factor == pytest.approx(10.752667, rel=1e-7)
        assert in_inch("wheel_speed", 1) == pytest.approx(196.850394, rel=1e-8)
        assert from_inch(wheel_speed=6500)["wheel_speed"] == pytest.approx(33.02, rel=1e-12)

    @pytest.mark.parametrize("horsepower, watts", [(2.5, "7"), (10, "27"), (4.5, "12"), (22, "60"), (5, "14"), (25, "68")])
    def test_dual_unit_table(self, horsepower, watts):
        """Kalpakjian & Schmid, specific grinding energy of aluminium, cast iron and steel (seen)."""
        published(
            "Kalpakjian & Schmid, table of specific grinding energy",
            SEEN,
            f"{horsepower} hp·min/in³",
            watts,
            from_inch(specific_energy=horsepower)["specific_energy"],
            "W·s/mm³",
        )


def test_three_phase_motor():
    """A motor course's slides, example 9.1.8 (seen): 44.278 kW in, 40 kW out, efficiency 90.3 %."""
    power = compute("line_power", volts=415, amps=70, power_factor=0.88)
    source = "slides of a motor course, example 9.1.8"
    published(source, SEEN, "input at 415 V, 70 A, cos φ 0.88", "44.278", power, "kW")
    published(source, SEEN, "efficiency at 40 kW", "90.3", 100 * 40 / power, "%")


class TestSieves:
    """ISO 6106 designations (recalled) by two naming rules, apertures of ASTM E11 by sieve number."""

    # Those that skip a sieve: upper aperture + 2; all others: upper aperture + 1.
    WIDE = (1182, 852, 602, 502, 427, 252)

    @pytest.mark.parametrize("number", SIEVES)
    def test_number_follows_the_upper_aperture(self, number):
        _, upper, lower = SIEVES[number]
        assert number == upper + (2 if number in self.WIDE else 1)
        assert upper > lower

    @pytest.mark.parametrize("number", SIEVES)
    def test_apertures_of_the_sieve_numbers(self, number):
        fluids = pytest.importorskip("fluids.particle_size_distribution")
        apertures = {sieve.old_designation: sieve.opening for sieve in fluids.ASTM_E11_sieves.values()}
        sieves, upper, lower = SIEVES[number]
        openings = [apertures[f"No. {sieve}"] * 1e6 for sieve in sieves.split("/")]
        for opening, aperture in zip(openings, (upper, lower)):
            computed("sieve apertures of all designations", "ASTM E11 in the library fluids", opening, aperture, within=1e-12)

    def test_wide_sizes_skip_one_sieve_and_the_others_none(self):
        order = sorted({sieve for sieves, _, _ in SIEVES.values() for sieve in map(int, sieves.split("/"))})
        for number, (sieves, _, _) in SIEVES.items():
            upper, lower = map(int, sieves.split("/"))
            assert order.index(lower) - order.index(upper) == (2 if number in self.WIDE else 1)

    def test_no_size_is_missing(self):
        """Each sieve from No. 16 to No. 400 and the next one make a narrow size; nothing but those and the wide ones is there."""
        narrow = {sizes[0]: number for number, sizes in SIEVES.items() if number not in self.WIDE}
        sieves = [16, 18, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 100, 120, 140, 170, 200, 230, 270, 325, 400]
        assert set(narrow) == {f"{upper}/{lower}" for upper, lower in zip(sieves, sieves[1:])}
        assert set(SIEVES) == {*narrow.values(), *self.WIDE} and len(SIEVES) == len(sieves) - 1 + len(self.WIDE)

    @pytest.mark.parametrize("designation", ["D126", "B126", "120/140", " d126 ", "120 / 140"])
    def test_spellings_of_one_size(self, designation):
        assert compute("mean_grit_size", designation=designation) == 115.5


def _contact(v):
    """Equivalent diameter, by curvatures: those of wheel and work add up outside, subtract in a bore."""
    return 1 / (1 / v["wheel_diameter"] + v["side"] / v["work_diameter"])


def _plunge_arc(v):
    """Contact length at which chips carry off what the infeed brings: π d_w v_f = C v_s · r h² l / 4."""
    chip_area = v["shape_ratio"] * v["grit_depth"] ** 2 / 4
    return pi * v["work_diameter"] * v["infeed_rate"] / (v["grit_density"] * v["wheel_speed"] * chip_area)


def _depth_from_chips(rate, length, v):
    """The same balance of volumes, solved for the depth."""
    return sqrt(4 * rate / (v["grit_density"] * v["wheel_speed"] * v["shape_ratio"] * length))


def _plunge_depth(v):
    length = sqrt(v["infeed_rate"] / v["work_rpm"] * _contact(v))
    return _depth_from_chips(pi * v["work_diameter"] * v["infeed_rate"], length, v)


def _infeed_for(v):
    unit = dict(v, infeed_rate=1.0)  # the arc grows with the infeed rate, and its square with depth of cut times diameter
    return _contact(v) / (v["work_rpm"] * _plunge_arc(unit) ** 2)


def _wheel_speed_for(v):
    length = sqrt(v["infeed_rate"] / v["work_rpm"] * _contact(v))
    return _plunge_arc(dict(v, wheel_speed=1.0)) / length


def _rise_per_flux(time, v):
    """A half space under an even flux for a time: 2 √(α t / π) / k (any book on conduction of heat)."""
    return 2 * sqrt(v["diffusivity"] * time / pi) / v["conductivity"]


def _rise_after_contact(v):
    return v["heat_flux"] * _rise_per_flux(v["contact_length"] / v["work_speed"], v)


def _burn_threshold(v):
    """The flux that the surface just bears for the time of contact, over the volume removed, and what the chips take."""
    length = sqrt(v["depth_of_cut"] * v["equivalent_diameter"])
    flux = v["burn_coefficient"] / sqrt(length / v["work_speed"])
    return v["base_energy"] + flux * length / (v["depth_of_cut"] * v["work_speed"])


# A second computation, in SI units and written from the physics rather than from the formulas of the library.
IN_SI = {
    "wheel_speed": lambda v: v["wheel_diameter"] / 2 * 2 * pi * v["wheel_rpm"],
    "work_speed": lambda v: v["work_diameter"] / 2 * 2 * pi * v["work_rpm"],
    "wheel_rpm": lambda v: v["wheel_speed"] / (v["wheel_diameter"] / 2) / (2 * pi),
    "work_rpm": lambda v: v["work_speed"] / (v["work_diameter"] / 2) / (2 * pi),
    "speed_ratio": lambda v: v["wheel_speed"] / v["work_speed"],
    "equivalent_diameter": _contact,
    "depth_of_cut": lambda v: v["infeed_rate"] / v["work_rpm"],
    "contact_length": lambda v: sqrt(v["depth_of_cut"] * v["equivalent_diameter"]),
    "removal_rate": lambda v: pi * v["work_diameter"] * v["infeed_rate"],
    "pass_removal_rate": lambda v: v["depth_of_cut"] * v["work_speed"],
    "equivalent_thickness": lambda v: v["removal_rate"] / v["wheel_speed"],
    "grit_density": lambda v: (
        v["active_fraction"] * (v["concentration"] / 400 / (4 / 3 * pi * (v["grit_size"] / 2) ** 3)) ** (2 / 3)
    ),
    "grit_depth": lambda v: _depth_from_chips(
        v["depth_of_cut"] * v["work_speed"], sqrt(v["depth_of_cut"] * v["equivalent_diameter"]), v
    ),
    "plunge_grit_depth": _plunge_depth,
    "work_speed_for": lambda v: (
        v["grit_density"]
        * v["wheel_speed"]
        * v["shape_ratio"]
        * v["grit_depth"] ** 2
        / 4
        * sqrt(v["equivalent_diameter"] / v["depth_of_cut"])
    ),
    "work_rpm_for": lambda v: v["infeed_rate"] * _contact(v) / _plunge_arc(v) ** 2,
    "infeed_rate_for": _infeed_for,
    "wheel_speed_for": _wheel_speed_for,
    "chip_rate": lambda v: v["grit_density"] * v["wheel_speed"] * v["contact_width"],
    "chip_volume": lambda v: v["depth_of_cut"] * v["work_speed"] / (v["grit_density"] * v["wheel_speed"]),
    "net_power": lambda v: v["power"] - v["idle_power"],
    "line_power": lambda v: 3 * (v["volts"] / sqrt(3)) * v["amps"] * v["power_factor"],
    "specific_energy": lambda v: v["net_power"] / (v["removal_rate"] * v["contact_width"]),
    "grinding_power": lambda v: v["specific_energy"] * v["removal_rate"] * v["contact_width"],
    "tangential_force": lambda v: v["net_power"] / v["wheel_speed"],
    # Thickness times the length of its middle (Pappus).
    "ring_volume": lambda v: (
        (v["outer_diameter"] - v["inner_diameter"]) / 2 * pi * (v["outer_diameter"] + v["inner_diameter"]) / 2 * v["axial_width"]
    ),
    "grinding_ratio": lambda v: v["work_volume"] / v["wheel_volume"],
    "wheel_wear": lambda v: v["work_volume"] / v["grinding_ratio"],
    "heat_flux": lambda v: v["heat_fraction"] * v["net_power"] / (v["contact_length"] * v["contact_width"]),
    "peclet_number": lambda v: v["work_speed"] * (v["contact_length"] / 2) / (2 * v["diffusivity"]),
    "peak_temperature_rise": _rise_after_contact,
    "burn_coefficient": lambda v: v["temperature_rise"] / _rise_per_flux(1.0, v),
    "burn_threshold_energy": _burn_threshold,
}


def test_every_formula_is_computed_a_second_time():
    missing = [record.name for record in NATIVE if record.name not in IN_SI]
    assert missing == [], "write the physics of these a second time, in SI units: a line each in IN_SI, in this file"
    assert set(IN_SI) == {record.name for record in NATIVE}


@pytest.mark.parametrize("record", [record for record in NATIVE if record.name in IN_SI], ids=lambda record: record.name)
@given(data=st.data())
def test_against_si(record, data):
    setup = data.draw(setups(record))
    expected = IN_SI[record.name](to_si(setup)) / size_of(record.gives)
    ours = record.call(**setup)
    if record.name == "net_power":  # a difference: its digits are those of the power
        assert ours == pytest.approx(expected, rel=1e-11, abs=1e-11)
    else:
        computed(f"`{record.name}`, random setups", "the physics again, in SI units", expected, ours, within=1e-11)
