"""The fastest setup that holds a grit depth within the limits of machine and wheel."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Any

from ..refused import Refused
from .limits import DOES_NOT_FIT, ROUNDING, Limits
from .speed_table import BAND, SpeedCell, speed_table

# How each limit bounds the infeed rate at constant grit depth, in the order in which a tie is named.  There work rpm times
# infeed rate is fixed: a slower infeed takes a faster work, so a limit to faster work is a lower bound.
UPPER_BOUNDS = ("highest_infeed_rate", "lowest_work_rpm", "highest_speed_ratio", "highest_removal_rate", "highest_power")
LOWER_BOUNDS = ("lowest_infeed_rate", "highest_work_rpm", "lowest_speed_ratio")


@dataclass(frozen=True)
class FastestSetup:
    """The highest infeed rate that holds a grit depth within all limits, and the limit that binds.

    `setup` is None where no infeed rate keeps all limits; then `binds` and `against` are the two that exclude each other.
    """

    setup: SpeedCell | None
    binds: str  # the limit that keeps the infeed rate from rising; its name in Limits, or DOES_NOT_FIT
    against: str | None  # the limit that needs a higher infeed rate than `binds` allows, where none fits

    def __repr__(self) -> str:
        return f"<FastestSetup: {self.words}>"

    @property
    def words(self) -> str:
        """One line for people."""
        if self.setup:
            return f"{self.setup.infeed_rate:.4g} mm/min at {self.setup.work_rpm:.4g} 1/min, bound by the {_in_words(self.binds)}"
        if self.binds == DOES_NOT_FIT:
            return self.binds
        if self.against is None:
            return f"no setup: the {_in_words(self.binds)} leaves nothing to grind with"
        return f"no setup: the {_in_words(self.binds)} excludes the {_in_words(self.against)}"


def _in_words(limit_name: str) -> str:
    return limit_name.replace("_", " ")


def infeed_bounds(
    work_diameter: float,
    rpm_times_infeed: float,
    wheel_speed: float,
    limits: Limits,
    specific_energy: float | None,
    contact_width: float | None,
    idle_power: float,
) -> dict[str, float]:
    """The bound that each given limit sets to the infeed rate [mm/min on the radius] at constant grit depth.

    With n_w v_f = rpm_times_infeed [mm/min²] fixed: q_s = 60000 v_s v_f / (π d_w n_w v_f), Q'w = π d_w v_f / 60,
    P = u Q'w b / 1000 + P_0.
    """
    per_ratio = pi * work_diameter * rpm_times_infeed / (60000 * wheel_speed)
    per_removal = 60 / (pi * work_diameter)
    bounds = {
        "highest_infeed_rate": (limits.highest_infeed_rate, 1.0),
        "lowest_infeed_rate": (limits.lowest_infeed_rate, 1.0),
        "highest_speed_ratio": (limits.highest_speed_ratio, per_ratio),
        "lowest_speed_ratio": (limits.lowest_speed_ratio, per_ratio),
        "highest_removal_rate": (limits.highest_removal_rate, per_removal),
    }
    if limits.highest_power is not None:
        # A power limit comes with both, as speed_table demands: without them the power is not known.
        assert specific_energy is not None and contact_width is not None
        bounds["highest_power"] = (
            max(0.0, limits.highest_power - idle_power),
            1000 * per_removal / (specific_energy * contact_width),
        )
    found = {name: limit * factor for name, (limit, factor) in bounds.items() if limit is not None}
    for name in ("highest_work_rpm", "lowest_work_rpm"):
        if getattr(limits, name) is not None:
            found[name] = rpm_times_infeed / getattr(limits, name)
    return found


def fastest_setup(
    *,
    grit_depth: float,
    work_diameter: float,
    wheel_speed: float,
    marked_wheel_speed: float,
    wheel_diameter: float,
    side: int,
    grit_density: float,
    shape_ratio: float,
    limits: Limits,
    band: float = BAND,
    specific_energy: float | None = None,
    contact_width: float | None = None,
    idle_power: float = 0.0,
) -> FastestSetup:
    """The setup with the highest infeed rate, hence the shortest cycle, that holds a grit depth within all limits.

    Closed form: each limit bounds the infeed rate from above or from below; the lowest upper bound is the answer unless a
    lower bound lies above it. Units as in `speed_table`. Raises ValueError for inputs outside their limits, for a wheel
    above its marked speed, and when no limit bounds the infeed rate from above.
    """
    wheel: dict[str, Any] = dict(
        wheel_speed=wheel_speed,
        marked_wheel_speed=marked_wheel_speed,
        wheel_diameter=wheel_diameter,
        side=side,
        grit_density=grit_density,
        shape_ratio=shape_ratio,
        limits=limits,
        band=band,
        specific_energy=specific_energy,
        contact_width=contact_width,
        idle_power=idle_power,
    )

    def setup_at(infeed_rate: float) -> SpeedCell:
        return speed_table(grit_depth=grit_depth, work_diameters=[work_diameter], infeed_rates=[infeed_rate], **wheel).rows[0][0]

    unit = setup_at(1.0)  # checks every input; its rpm is rpm times infeed
    if unit.work_rpm is None:
        return FastestSetup(None, DOES_NOT_FIT, None)
    bounds = infeed_bounds(unit.work_diameter, unit.work_rpm, wheel_speed, limits, specific_energy, contact_width, idle_power)
    upper = min((name for name in UPPER_BOUNDS if name in bounds), key=bounds.__getitem__, default=None)
    if upper is None:
        raise Refused("limits", f"bound the infeed rate by at least one of {', '.join(UPPER_BOUNDS)}", "none of them")
    lower = max((name for name in LOWER_BOUNDS if name in bounds), key=bounds.__getitem__, default=None)
    if bounds[upper] <= 0 or lower is not None and bounds[lower] > bounds[upper] * (1 + ROUNDING):
        return FastestSetup(None, upper, lower)
    return FastestSetup(setup_at(bounds[upper]), upper, None)
