"""How fast work is removed."""

from __future__ import annotations

from math import pi

from ..registry import formula


@formula(
    gives="removal_rate",
    source="malkin",
    equation=r"Q'_w = \frac{\pi\, d_w v_f}{60}",
    example=dict(work_diameter=20.0, infeed_rate=0.6, removal_rate=0.62831853),
)
def removal_rate(work_diameter, infeed_rate):
    """Specific removal rate of plunge grinding.

    It does not depend on the work rpm: along an rpm trial at constant infeed rate, power and specific energy have the
    same knee.
    """
    return pi * work_diameter * infeed_rate / 60


@formula(
    gives="removal_rate",
    source="malkin",
    equation=r"Q'_w = \frac{a_e v_w}{60}",
    example=dict(depth_of_cut=20.0, work_speed=18.0, removal_rate=6.0),
)
def pass_removal_rate(depth_of_cut, work_speed):
    """Specific removal rate of one pass, or of one work revolution, at a depth of cut."""
    return depth_of_cut * work_speed / 60


@formula(
    gives="equivalent_thickness",
    source="iso-3002-5",
    equation=r"h_{eq} = \frac{Q'_w}{v_s}",
    example=dict(removal_rate=6.0, wheel_speed=60.0, equivalent_thickness=0.1),
)
def equivalent_thickness(removal_rate, wheel_speed):
    """Thickness of the layer of chips that would leave with the wheel surface."""
    return removal_rate / wheel_speed
