"""The invented example of the demonstration and of the templates: a carbide pin and a resin-bonded diamond wheel.

No real machine, wheel or shop is behind the numbers.  The readings follow a known knee plus scatter of a fixed random seed.
"""

from __future__ import annotations

import random

from .formulas import catalogue
from .planning import ALTERNATING, Limits, plan_trial

TITLE = "Invented example: carbide pin, resin-bonded diamond wheel. Replace every input by your own."

NOMINAL_RPM = 120.0
SETUP: dict[str, float] = dict(
    work_diameter=20.0, infeed_rate=0.6, wheel_speed=22.0, wheel_diameter=200.0, side=1, shape_ratio=10.0
)
GRIT: dict[str, float] = dict(grit_size=115.5, concentration=75.0, active_fraction=0.5)
DESIGNATION = "D126"
MARKED_WHEEL_SPEED = 35.0
CONTACT_WIDTH = 15.0
IDLE_POWER = 0.86
LIMITS = Limits(lowest_work_rpm=20.0, highest_work_rpm=400.0, lowest_infeed_rate=0.1, highest_infeed_rate=2.0, highest_power=4.0)
WORK_DIAMETERS = (8.0, 12.0, 16.0, 20.0, 25.0, 32.0)
INFEED_RATES = (0.3, 0.45, 0.6, 0.9, 1.2)

TRUE_KNEE = 1.36  # µm
TRUE_LEVEL = 118.0  # J/mm³
TRUE_STEEPNESS = 3.5  # energy above the level, in levels, per relative depth below the knee
SCATTER = 0.012  # of each reading
_SEED = 20


def setup() -> dict[str, float]:
    """The setup with the grit density that follows from grit size and concentration."""
    return dict(SETUP, grit_density=catalogue["grit_density"].call(**GRIT))


def readings() -> list[tuple[float, float, float]]:
    """(work rpm, power in kW, idle power in kW) in run order, out and back, power read to 0.01 kW.

    The scatter is drawn in another order, the alternating one: so the readings are the same whatever the order they are taken in.
    """
    scatter = random.Random(_SEED)
    removal_rate = catalogue["removal_rate"].call(SETUP["work_diameter"], SETUP["infeed_rate"])
    powers: dict[float | None, list[float]] = {}
    for planned in plan_trial(NOMINAL_RPM, order=ALTERNATING):
        depth = catalogue["plunge_grit_depth"].call(work_rpm=planned.work_rpm, **setup())
        energy = TRUE_LEVEL * (1 + TRUE_STEEPNESS * max(0.0, 1 - depth / TRUE_KNEE)) * (1 + scatter.gauss(0, SCATTER))
        power = catalogue["grinding_power"].call(energy, removal_rate, CONTACT_WIDTH) + IDLE_POWER
        powers.setdefault(planned.work_rpm, []).append(round(power, 2))
    return [(planned.work_rpm, powers[planned.work_rpm].pop(0), IDLE_POWER) for planned in plan_trial(NOMINAL_RPM)]
