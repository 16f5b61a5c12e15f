"""Solved back: what to set for a wanted grit depth."""

from __future__ import annotations

from math import pi

from ..registry import formula
from .geometry import equivalent_diameter


@formula(
    gives="work_speed",
    source="kalpakjian",
    equation=r"v_w = \frac{C r}{4} \left(\frac{h_m}{1000}\right)^2 60\, v_s \sqrt{\frac{1000\, d_e}{a_e}}",
    example=dict(
        grit_depth=1.2,
        wheel_speed=25.0,
        depth_of_cut=4.0,
        equivalent_diameter=18.0,
        grit_density=20.0,
        shape_ratio=10.0,
        work_speed=7.2448602,
    ),
)
def work_speed_for(grit_depth, wheel_speed, depth_of_cut, equivalent_diameter, grit_density, shape_ratio):
    """Work speed that gives a grit depth at a depth of cut."""
    return (
        grit_density
        * shape_ratio
        / 4
        * (grit_depth / 1000) ** 2
        * 60
        * wheel_speed
        / (depth_of_cut / (1000 * equivalent_diameter)) ** 0.5
    )


def rpm_times_infeed(grit_depth, work_diameter, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    """Work rpm times infeed rate, mm/min²: fixed by the grit depth, the wheel and the diameters.

    From h_m² = 4/(C r) · π d_w n_w / (60000 v_s) · √(v_f / (n_w d_e)), all lengths in mm.
    """
    return (
        equivalent_diameter(wheel_diameter, work_diameter, side)
        * ((grit_depth / 1000) ** 2 * grit_density * shape_ratio * wheel_speed * 60000 / (4 * work_diameter * pi)) ** 2
    )


@formula(
    gives="work_rpm",
    source="kalpakjian",
    equation=r"n_w = \frac{d_e}{v_f} \left(\frac{h^2 C r\, 60000\, v_s}{4 \pi d_w}\right)^2,\quad h = \frac{h_m}{1000}",
    example=dict(
        grit_depth=1.2,
        work_diameter=20.0,
        infeed_rate=0.6,
        wheel_speed=25.0,
        wheel_diameter=200.0,
        side=1,
        grit_density=20.0,
        shape_ratio=10.0,
        work_rpm=89.531082,
    ),
)
def work_rpm_for(grit_depth, work_diameter, infeed_rate, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    """Work rpm that gives a grit depth in plunge grinding.

    Twice the depth takes sixteen times the rpm: check the result against the machine's rpm range.
    """
    return rpm_times_infeed(grit_depth, work_diameter, wheel_speed, wheel_diameter, side, grit_density, shape_ratio) / infeed_rate


@formula(
    gives="infeed_rate",
    source="kalpakjian",
    equation=r"v_f = \frac{d_e}{n_w} \left(\frac{h^2 C r\, 60000\, v_s}{4 \pi d_w}\right)^2,\quad h = \frac{h_m}{1000}",
    example=dict(
        grit_depth=1.2,
        work_rpm=150.0,
        work_diameter=20.0,
        wheel_speed=25.0,
        wheel_diameter=200.0,
        side=1,
        grit_density=20.0,
        shape_ratio=10.0,
        infeed_rate=0.35812433,
    ),
)
def infeed_rate_for(grit_depth, work_rpm, work_diameter, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    """Infeed rate, on the radius, that gives a grit depth in plunge grinding.

    A machine that shows infeed on the diameter is set to twice the result.
    """
    return rpm_times_infeed(grit_depth, work_diameter, wheel_speed, wheel_diameter, side, grit_density, shape_ratio) / work_rpm


@formula(
    gives="wheel_speed",
    source="kalpakjian",
    equation=r"v_s = \frac{4 \pi d_w}{60000\, h^2 C r} \sqrt{\frac{n_w v_f}{d_e}},\quad h = \frac{h_m}{1000}",
    example=dict(
        grit_depth=1.2,
        work_rpm=150.0,
        work_diameter=20.0,
        infeed_rate=0.6,
        wheel_diameter=200.0,
        side=1,
        grit_density=20.0,
        shape_ratio=10.0,
        wheel_speed=32.359270,
    ),
)
def wheel_speed_for(grit_depth, work_rpm, work_diameter, infeed_rate, wheel_diameter, side, grit_density, shape_ratio):
    """Wheel speed that gives a grit depth in plunge grinding.

    The formula knows no limit of your wheel: a result above the speed marked on the wheel, or above the spindle's
    limit, must not be used; change the infeed rate or the work rpm instead.
    """
    return (
        4
        * work_diameter
        * pi
        / (60000 * (grit_depth / 1000) ** 2 * grit_density * shape_ratio)
        * (work_rpm * infeed_rate / equivalent_diameter(wheel_diameter, work_diameter, side)) ** 0.5
    )
