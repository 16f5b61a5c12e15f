"""The invented example as input values that several workbooks take."""

from __future__ import annotations

from typing import Any

from ... import example


def wheel_and_grits() -> dict[str, Any]:
    """Title, wheel, grits and contact."""
    return dict(
        title=example.TITLE,
        side="external",
        infeed_basis="radius",
        wheel_diameter=example.SETUP["wheel_diameter"],
        wheel_speed=example.SETUP["wheel_speed"],
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        shape_ratio=example.SETUP["shape_ratio"],
        grit_size=example.DESIGNATION,
        concentration=example.GRIT["concentration"],
        active_fraction=example.GRIT["active_fraction"],
        contact_width=example.CONTACT_WIDTH,
    )


def with_target_depth() -> dict[str, Any]:
    """Those of the books that start from a known grit depth."""
    return dict(
        vars(example.LIMITS),
        **wheel_and_grits(),
        target_depth=example.TRUE_KNEE,
        band=2.0,
        units="mm",
        specific_energy=example.TRUE_LEVEL,
        idle_power=example.IDLE_POWER,
    )
