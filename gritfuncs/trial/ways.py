"""By which way a trial went through the grit depths, and what follows for its knee."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from ..knee import find_knee
from ..knee.result import found_in
from ..quantities import QUANTITIES
from .own_settings import SAME_SPEED, changes
from .readings import CHANGED, MICROMETRE, Reading

if TYPE_CHECKING:
    from .result import Trial

RPM, BOTH, INFEED, WHEEL, MIXED = "rpm", "rpm and infeed", "infeed", "wheel speed", "several settings"
_IN_WORDS = {BOTH: "rpm and infeed rate together", INFEED: "the infeed rate", WHEEL: "the wheel speed", MIXED: "several settings"}
# By textbook models with a fifth of the level of another kind than grit depth: how far, in % of depth, the knee of rpm steps may lie.
MAY_DIFFER = {BOTH: 2, INFEED: 4, WHEEL: 2, MIXED: 4}
WRONG_IDLE = 0.05  # of the net load at the level: what an idle reading may well be off


def way_of(used: Iterable[Reading], setup_values: dict[str, float | None]) -> str:
    """What was stepped from reading to reading."""
    readings = list(used)

    def changed(word: str, tolerance: float = CHANGED) -> bool:
        values = [getattr(reading, word) or setup_values.get(word) for reading in readings]
        return changes([value for value in values if value], tolerance)

    rpm, infeed, wheel = changed("work_rpm"), changed("infeed_rate"), changed("wheel_speed", SAME_SPEED)
    if changed("work_diameter") or changed("wheel_diameter") or wheel and (rpm or infeed):
        return MIXED
    if wheel:
        return WHEEL
    return (BOTH if rpm else INFEED) if infeed else RPM


def way_remarks(trial: Trial) -> list[str]:
    """What to know of a knee that was found by more than the rpm: where its rpm holds, how far another way may differ, idle."""
    if trial.way == RPM or not trial.used:
        return []
    told = [f"Stepped: {_IN_WORDS[trial.way]}. An rpm that is given for a depth holds at {_conditions(trial)}."]
    if found_in(trial.knee) is not None:
        told.append(
            f"For rpm steps alone the knee may lie up to {MAY_DIFFER[trial.way]} % of depth elsewhere (textbook models, nothing measured): "
            "confirm it with readings at the knee."
        )
    return told + _idle_remarks(trial)


def _conditions(trial: Trial) -> str:
    if trial.setup is None:
        return "the conditions of the first reading"
    words = ("infeed_rate", "wheel_speed", "work_diameter", "wheel_diameter")
    parts = [f"{getattr(trial.setup, word):.4g} {QUANTITIES[word].unit}" for word in words]
    return f"infeed {parts[0]}, wheel speed {parts[1]}, part {parts[2]}, wheel {parts[3]}"


def _idle_remarks(trial: Trial) -> list[str]:
    knee = trial.knee
    if knee.offset is not None and knee.offset_error is not None:
        factor, unit = _as_load(trial)
        left = f"{factor * knee.offset:.2g} ±{factor * knee.offset_error:.1g} {unit}"
        return [
            f"Load that does not go with removal, left after idle: {left}. It was fitted beside the knee, which allows for it."
        ]
    found = found_in(knee)
    if found is None or trial.load_kind == "specific_energy" or not changes(trial.removal_ratios):
        return []
    knees = []
    for sign in (1, -1):
        shifted = [
            energy + sign * WRONG_IDLE * found.level / ratio for energy, ratio in zip(trial.energies, trial.removal_ratios)
        ]
        other = found_in(find_knee(trial.depths, shifted, noise=trial.noise))
        if other is None:
            return [f"If idle were wrong by {100 * WRONG_IDLE:g} % of the net load no knee would be found: read idle again."]
        knees.append(other.knee)
    unit = f" {MICROMETRE}" if trial.depth_unit == MICROMETRE else " (relative)"
    return [
        f"If idle were wrong by {100 * WRONG_IDLE:g} % of the net load the knee would be {min(knees):.4g} to {max(knees):.4g}{unit}."
    ]


def _as_load(trial: Trial) -> tuple[float, str]:
    """What makes an energy at the setup's removal rate a load, and the unit of that."""
    if trial.energy_unit == QUANTITIES["specific_energy"].unit and trial.setup is not None and trial.setup.contact_width:
        return trial.setup.removal_rate * trial.setup.contact_width / 1000, "kW"
    return 1.0, "kW" if trial.load_kind == "power" else "in the unit of the load readings"
