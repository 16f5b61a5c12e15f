"""What follows for a reading from an infeed rate, wheel speed or diameter of its own: depth, equivalent rpm, removal rate.

Under the setup's conditions the depth h at n 1/min is that of n_eq = n (f/f0) (v0/v)² (d_w/d_w0)² (d_e0/d_e): only the product of
rpm and infeed rate counts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..formulas import catalogue
from ..quantities import QUANTITIES
from ..refused import Refused
from ..values import finite_in, shown
from .readings import CHANGED, Reading
from .setup import Setup
from .setup_values import SPEED_AGREEMENT, check_marked
from .shop_units import Words

# Idle power of one wheel speed serves another so near: at 2 % it is off by 4 % of idle at most (between linear and square, from memory).
SAME_SPEED = 0.02
LOADS_NEED = "power in kW, or a meter that rises evenly with power, where more than the work rpm changes"
DIAMETERS = ("work_diameter", "wheel_diameter")
OWN = ("infeed_rate", "wheel_speed") + DIAMETERS


@dataclass(frozen=True)
class Base:
    """The conditions that the readings are compared with, as far as they are known."""

    setup: Setup | None
    values: Mapping[str, float | None]  # of what a row may have of its own
    wheel_rpm: float | None  # 1/min, where the setup says it

    def settings(self, row: Mapping[str, Any]) -> dict[str, float]:
        """The infeed rate, wheel speed and diameters of a row that has its own."""
        found = {word: QUANTITIES[word].check_possible(QUANTITIES[word].check_one(value)) for word, value in row.items()}
        turns = found.pop("wheel_rpm", None)
        if turns is None and "wheel_diameter" in found:
            turns = self.wheel_rpm
        if turns is not None:
            diameter = found.get("wheel_diameter") or self.values.get("wheel_diameter")
            if diameter is None:
                raise Refused("wheel_diameter", "be given where the wheel rpm changes", "blank")
            speed = catalogue["wheel_speed"].call(diameter, turns)
            if not math.isclose(found.setdefault("wheel_speed", speed), speed, rel_tol=SPEED_AGREEMENT):
                got = f"{found['wheel_speed']:g} m/s, and {speed:.4g} m/s from {turns:g} 1/min"
                raise Refused("wheel_speed", "agree with wheel_rpm within 1 %", got)
        return found

    def setup_of(self, reading: Reading) -> Setup:
        """The setup as it was at a reading."""
        assert self.setup is not None
        return replace(self.setup, **{word: value for word in OWN if (value := getattr(reading, word)) is not None})

    def depth(self, reading: Reading) -> float:
        """Grit depth [µm] of a reading, by the setup."""
        return self.setup_of(reading).depth(reading.work_rpm)

    def removal_rate(self, reading: Reading) -> float:
        """Specific removal rate [mm³/(mm·s)] of a reading."""
        return self.setup_of(reading).removal_rate

    def equivalent_rpm(self, work_rpm: float, own: Mapping[str, float]) -> float:
        """The work rpm that gives the same depth under the base's conditions."""
        infeed, speed = self._ratio("infeed_rate", own), self._ratio("wheel_speed", own)
        if not any(word in own for word in DIAMETERS):
            return work_rpm * infeed / speed**2
        if self.setup is None:
            must = "be the same in every reading unless the setup is complete: the depth does not follow from the rpm alone"
            raise Refused(next(word for word in DIAMETERS if word in own), must, "one of its own")
        now = replace(self.setup, **{word: own[word] for word in DIAMETERS if word in own})
        equivalent = (_equivalent_diameter(each) for each in (self.setup, now))
        return work_rpm * infeed / speed**2 * self._ratio("work_diameter", own) ** 2 * next(equivalent) / next(equivalent)

    def removal_ratio(self, own: Mapping[str, float]) -> float:
        """Removal rate over that of the base."""
        return self._ratio("infeed_rate", own) * self._ratio("work_diameter", own)

    def _ratio(self, word: str, own: Mapping[str, float]) -> float:
        if word not in own:
            return 1.0
        base = self.values.get(word)
        if base is None:
            raise Refused(word, "be given above the table, or in a setup, to compare its column with", "blank")
        return own[word] / base


def _equivalent_diameter(setup: Setup) -> float:
    return catalogue["equivalent_diameter"].call(setup.wheel_diameter, setup.work_diameter, setup.side)


def with_own(reading: Reading, row: Mapping[str, Any], base: Base) -> Reading:
    """The reading with the settings that its row has of its own, and what follows from them."""
    own = base.settings(row)
    if not own:
        return reading
    rpm = reading.work_rpm
    equivalent = base.equivalent_rpm(rpm, own) if rpm is not None and rpm > 0 else None
    return replace(reading, **own, equivalent_rpm=equivalent, removal_ratio=base.removal_ratio(own))


def changes(values: Iterable[float], tolerance: float = CHANGED) -> bool:
    """Whether positive values differ by more than is one setting."""
    held = list(values)
    return bool(held) and max(held) - min(held) > tolerance * max(held) * (1 + 1e-9)


def check_own(used: list[Reading], base: Base, words: Words, load_kind: str, idle_rows: set[int]) -> None:
    """Refuse what cannot be computed where more than the work rpm changes.

    load_kind : as the file has it; "specific_energy" needs nothing
    idle_rows : the rows that have an idle reading of their own
    """
    speeds = [(reading, speed) for reading in used if (speed := reading.wheel_speed or base.values.get("wheel_speed"))]
    faster = changes([speed for _, speed in speeds], SAME_SPEED)
    removal = changes([reading.removal_ratio or 1.0 for reading in used])
    for reading, speed in speeds:
        try:
            check_marked(words, speed)
        except Refused as refused:
            raise refused.at(f"row {reading.row}") from None
    if faster and words.number("marked_wheel_speed") is None:
        raise Refused(words.shown("marked_wheel_speed"), "be given where the wheel speed changes between rows", "blank")
    if load_kind == "specific_energy" or not (faster or removal):
        return
    if load_kind == "current":
        raise Refused("readings", f"be {LOADS_NEED}", load_kind)
    if faster and load_kind != "power":
        must = "be power in kW where the wheel speed changes: a load meter may show torque"
        raise Refused("readings", must, load_kind)
    without = next((reading.row for reading in used if reading.row not in idle_rows), None)
    if faster and without is not None:
        raise Refused("idle", "be read at each wheel speed, a value in every row", f"none in row {without}")


def check_one_speed(words: Words, own_words: Iterable[str]) -> None:
    """Refused where nothing says whether the wheel keeps its rpm or its speed as its diameter changes."""
    if "wheel_diameter" in own_words and not {"wheel_speed", "wheel_rpm"} & set(own_words):
        speed, turns = words.number("wheel_speed"), words.number("wheel_rpm")
        if speed is not None and turns is not None:
            got = f"{shown(speed)} m/s and {shown(turns)} 1/min"
            raise Refused("wheel_speed and wheel_rpm", "not both be given where the wheel diameter changes between rows", got)


def own_numbers(settings: Mapping[str, Any], on_diameter: bool) -> dict[str, float]:
    """The numbers of a row's own columns; infeed rates on the radius."""
    found = {word: number for word, value in settings.items() if (number := finite_in(value)) is not None}
    if on_diameter and "infeed_rate" in found:
        found["infeed_rate"] /= 2
    return found
