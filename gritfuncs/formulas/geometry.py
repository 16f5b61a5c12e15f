"""Geometry of the contact between wheel and work."""

from __future__ import annotations

from ..registry import formula


@formula(
    gives="equivalent_diameter",
    source="malkin",
    equation=r"d_e = \frac{d_s d_w}{d_w + side\, d_s}",
    example=dict(wheel_diameter=300.0, work_diameter=25.0, side=1, equivalent_diameter=23.076923),
)
def equivalent_diameter(wheel_diameter, work_diameter, side):
    """Diameter of the wheel that has the same contact on a flat.

    External contact (+1) makes it smaller than both diameters, internal contact (-1) larger than the wheel, flat (0)
    gives the wheel itself. ISO 3002-5 defines the equivalent radius, half of this.
    """
    return wheel_diameter * work_diameter / (work_diameter + side * wheel_diameter)


@formula(
    gives="depth_of_cut",
    source="definition",
    equation=r"a_e = \frac{1000\, v_f}{n_w}",
    example=dict(infeed_rate=0.6, work_rpm=150.0, depth_of_cut=4.0),
)
def depth_of_cut(infeed_rate, work_rpm):
    """Radial depth removed per work revolution in plunge grinding.

    The infeed rate counts on the radius; halve what a machine shows on the diameter. Holds once the infeed is steady.
    """
    return 1000 * infeed_rate / work_rpm


@formula(
    gives="contact_length",
    source="marinescu",
    equation=r"l_g = \sqrt{\frac{a_e d_e}{1000}}",
    example=dict(depth_of_cut=50.0, equivalent_diameter=200.0, contact_length=3.1622777),
)
def contact_length(depth_of_cut, equivalent_diameter):
    """Length of the arc of contact, without deflection of wheel and work.

    Holds while the depth of cut is small beside the diameters: the error is below 0.1 % at a_e = d_e / 200.
    """
    return (depth_of_cut * equivalent_diameter / 1000) ** 0.5
