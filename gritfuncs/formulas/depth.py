"""Grit depth: the maximum undeformed chip thickness."""

from __future__ import annotations

from ..registry import formula
from .geometry import depth_of_cut, equivalent_diameter
from .speeds import work_speed


@formula(
    gives="grit_depth",
    source="kalpakjian",
    equation=r"h_m = 1000 \sqrt{\frac{4}{C r}\, \frac{v_w}{60\, v_s} \sqrt{\frac{a_e}{1000\, d_e}}}",
    example=dict(
        work_speed=30.0,
        wheel_speed=30.0,
        depth_of_cut=50.0,
        equivalent_diameter=200.0,
        grit_density=2.0,
        shape_ratio=15.0,
        grit_depth=5.9275980,
    ),
)
def grit_depth(work_speed, wheel_speed, depth_of_cut, equivalent_diameter, grit_density, shape_ratio):
    """Maximum undeformed chip thickness of a grit.

    Three prefactors are in print: 4 here (chip volume r h² l / 4), 6 for chips of triangular section, 1 for the mean
    thickness; depths compare only under the same one. C and r enter as their product: for one wheel an error in it
    scales every depth alike, and the rpm that holds the knee does not change.
    """
    return (
        1000
        * (
            4
            / (grit_density * shape_ratio)
            * work_speed
            / (60 * wheel_speed)
            * (depth_of_cut / (1000 * equivalent_diameter)) ** 0.5
        )
        ** 0.5
    )


@formula(
    gives="grit_depth",
    source="kalpakjian",
    equation=r"h_m = 1000 \sqrt{\frac{4}{C r}\, \frac{\pi d_w n_w}{60000\, v_s} \sqrt{\frac{v_f}{n_w d_e}}}",
    example=dict(
        work_rpm=150.0,
        work_diameter=20.0,
        infeed_rate=0.6,
        wheel_speed=25.0,
        wheel_diameter=200.0,
        side=1,
        grit_density=20.0,
        shape_ratio=10.0,
        grit_depth=1.3652450,
    ),
)
def plunge_grit_depth(work_rpm, work_diameter, infeed_rate, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    """Grit depth of plunge grinding from what the operator sets.

    At constant infeed rate it grows only with the fourth root of the work rpm, because a faster work takes a smaller
    depth of cut per revolution. Prefactor 4, as in grit_depth.
    """
    return grit_depth(
        work_speed(work_diameter, work_rpm),
        wheel_speed,
        depth_of_cut(infeed_rate, work_rpm),
        equivalent_diameter(wheel_diameter, work_diameter, side),
        grit_density,
        shape_ratio,
    )
