"""What machine and wheel allow, and which of it a setup breaks."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..refused import Refused
from ..values import shown

ROUNDING = 1e-12  # a limit reached but for the last digits of computing is kept; spreadsheets compare in the same way


@dataclass(frozen=True)
class Limits:
    """What machine and wheel allow; None is no limit. Wheel speed is judged apart: it must never pass the marked speed."""

    lowest_work_rpm: float | None = None
    highest_work_rpm: float | None = None
    lowest_infeed_rate: float | None = None
    highest_infeed_rate: float | None = None
    lowest_speed_ratio: float | None = None
    highest_speed_ratio: float | None = None
    highest_removal_rate: float | None = None
    highest_power: float | None = None

    def __repr__(self) -> str:
        given = {field.name: getattr(self, field.name) for field in fields(self)}
        return f"Limits({', '.join(f'{name}={value!r}' for name, value in given.items() if value is not None)})"

    def __post_init__(self):
        for name, value in [(field.name, getattr(self, field.name)) for field in fields(self)]:
            if value is not None:
                object.__setattr__(self, name, _limited(name).check_one(value, name))
        for quantity in ("work_rpm", "infeed_rate", "speed_ratio"):
            low, high = getattr(self, "lowest_" + quantity), getattr(self, "highest_" + quantity)
            if low is not None and high is not None and low > high:
                raise Refused(f"lowest_{quantity}", f"be <= highest_{quantity}", f"{low:g} and {high:g}")


NO_LIMITS = Limits()

# The words of a broken limit, in the order in which they are tried; the workbook's formulas use the same list.
LIMIT_WORDS: tuple[tuple[str, str, str], ...] = (
    ("highest_work_rpm", "work_rpm", "rpm too high"),
    ("lowest_work_rpm", "work_rpm", "rpm too low"),
    ("highest_infeed_rate", "infeed_rate", "infeed too high"),
    ("lowest_infeed_rate", "infeed_rate", "infeed too low"),
    ("highest_speed_ratio", "speed_ratio", "ratio too high"),
    ("lowest_speed_ratio", "speed_ratio", "ratio too low"),
    ("highest_removal_rate", "removal_rate", "Q'w too high"),
    ("highest_power", "power", "power too high"),
)
DOES_NOT_FIT = "wheel too large"  # for the bore


def _limited(limit_name: str) -> Quantity:
    """The vocabulary's word that a limit such as highest_work_rpm limits."""
    return QUANTITIES[limit_name.partition("_")[2]]


def check_marked_speed(wheel_speed: float, marked_wheel_speed: float) -> None:
    """Raise ValueError when the wheel would turn faster than the speed marked on it."""
    marked = QUANTITIES["wheel_speed"].check_one(marked_wheel_speed, "marked_wheel_speed")
    if QUANTITIES["wheel_speed"].check_one(wheel_speed) > marked:
        raise Refused("wheel_speed", f"be <= {marked:g} m/s, the speed marked on the wheel", shown(wheel_speed))


def broken_limits(values: dict[str, Any], limits: Limits) -> tuple[str, ...]:
    """The words of the limits that the values of one setup break."""
    broken = []
    for limit_name, quantity_name, word in LIMIT_WORDS:
        limit, value = getattr(limits, limit_name), values.get(quantity_name)
        if limit is not None and value is not None and breaks(limit_name, limit, value):
            broken.append(word)
    return tuple(broken)


def breaks(limit_name: str, limit: float, value):
    """Whether a value lies beyond its limit; element by element for an array."""
    beyond = value - limit if limit_name.startswith("highest") else limit - value
    return beyond > ROUNDING * limit
