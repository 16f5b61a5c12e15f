"""Peripheral speeds and speeds of rotation."""

from __future__ import annotations

from math import pi

from ..registry import formula


@formula(
    gives="wheel_speed",
    source="definition",
    equation=r"v_s = \frac{\pi\, d_s\, n_s}{60000}",
    example=dict(wheel_diameter=200.0, wheel_rpm=2400.0, wheel_speed=25.132741),
)
def wheel_speed(wheel_diameter, wheel_rpm):
    """Peripheral speed of the wheel.

    Use the diameter of the wheel as it is now. The result must never exceed the speed marked on the wheel.
    """
    return pi * wheel_diameter * wheel_rpm / 60000


@formula(
    gives="work_speed",
    source="definition",
    equation=r"v_w = \frac{\pi\, d_w\, n_w}{1000}",
    example=dict(work_diameter=20.0, work_rpm=150.0, work_speed=9.4247780),
)
def work_speed(work_diameter, work_rpm):
    """Peripheral speed of the work."""
    return pi * work_diameter * work_rpm / 1000


@formula(
    gives="wheel_rpm",
    source="definition",
    equation=r"n_s = \frac{60000\, v_s}{\pi\, d_s}",
    example=dict(wheel_diameter=200.0, wheel_speed=30.0, wheel_rpm=2864.7890),
)
def wheel_rpm(wheel_diameter, wheel_speed):
    """Speed of rotation that gives the wheel a peripheral speed.

    A smaller wheel turns faster for the same speed: compare the result with the highest rpm marked on the wheel and
    with the spindle's highest rpm before using it.
    """
    return 60000 * wheel_speed / (pi * wheel_diameter)


@formula(
    gives="work_rpm",
    source="definition",
    equation=r"n_w = \frac{1000\, v_w}{\pi\, d_w}",
    example=dict(work_diameter=20.0, work_speed=9.0, work_rpm=143.23945),
)
def work_rpm(work_diameter, work_speed):
    """Speed of rotation that gives the work a peripheral speed."""
    return 1000 * work_speed / (pi * work_diameter)


@formula(
    gives="speed_ratio",
    source="definition",
    equation=r"q_s = \frac{60\, v_s}{v_w}",
    example=dict(wheel_speed=30.0, work_speed=12.0, speed_ratio=150.0),
)
def speed_ratio(wheel_speed, work_speed):
    """Wheel speed over work speed, both in the same unit."""
    return 60 * wheel_speed / work_speed
