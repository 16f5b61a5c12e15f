"""Counts and volumes of chips."""

from __future__ import annotations

from ..registry import formula


@formula(
    gives="chip_rate",
    source="groover",
    equation=r"n_c = 1000\, v_s\, b\, C",
    example=dict(wheel_speed=25.0, contact_width=5.0, grit_density=0.75, chip_rate=93750.0),
)
def chip_rate(wheel_speed, contact_width, grit_density):
    """Chips formed per second over the grinding width, one by each active grit that passes."""
    return 1000 * wheel_speed * contact_width * grit_density


@formula(
    gives="chip_volume",
    source="groover",
    equation=r"V_c = 10^6 \frac{a_e v_w}{60\, v_s C}",
    example=dict(work_speed=6.0, wheel_speed=25.0, depth_of_cut=50.0, grit_density=0.64, chip_volume=312500.0),
)
def chip_volume(work_speed, wheel_speed, depth_of_cut, grit_density):
    """Mean volume of one chip: what is removed over how many chips form."""
    return 1e6 * depth_of_cut * work_speed / (60 * wheel_speed * grit_density)
