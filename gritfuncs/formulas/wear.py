"""Wear of the wheel: volumes of layers, grinding ratio."""

from __future__ import annotations

from math import pi

from ..registry import formula


@formula(
    gives="ring_volume",
    source="definition",
    equation=r"V = \frac{\pi}{4} (D^2 - d^2)\, w",
    example=dict(outer_diameter=252.5, inner_diameter=250.0, axial_width=125.0, ring_volume=123332.05),
)
def ring_volume(outer_diameter, inner_diameter, axial_width):
    """Volume of a layer ground off a part, out of a bore, or worn off a wheel."""
    return pi * (outer_diameter**2 - inner_diameter**2) * axial_width / 4


@formula(
    gives="grinding_ratio",
    source="groover",
    equation=r"G = \frac{V_w}{V_s}",
    example=dict(work_volume=123332.055, wheel_volume=1177.1155, grinding_ratio=104.77481),
)
def grinding_ratio(work_volume, wheel_volume):
    """Grinding ratio: work removed per wheel lost.

    Measure the wheel over many parts, diameter before and after. Counting what dressing takes off gives the ratio that
    costs are made of; leaving it out gives the wear of grinding alone. Say which.
    """
    return work_volume / wheel_volume


@formula(
    gives="wheel_volume",
    source="groover",
    equation=r"V_s = \frac{V_w}{G}",
    example=dict(work_volume=1500.0, grinding_ratio=120.0, wheel_volume=12.5),
)
def wheel_wear(work_volume, grinding_ratio):
    """Volume of wheel that a volume of work costs."""
    return work_volume / grinding_ratio
