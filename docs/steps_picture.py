"""The trial of the picture in docs/steps.md: rpm and infeed stepped together on an invented wheel, simulated, idle read too low."""

from __future__ import annotations

import random

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.workbooks.trial import build as trial

NAME = "steps-2-trial.png"
IDLE_READ_TOO_LOW = 0.2  # kW
_SEED = 7


def book():
    """trial.xlsx with the readings."""
    scatter, readings, infeed_rates = random.Random(_SEED), [], []
    setup = example.setup()
    for planned in gf.plan_trial(example.NOMINAL_RPM, steps="rpm and infeed", infeed_rate=setup["infeed_rate"]):
        depth = gf.plunge_grit_depth(planned.work_rpm, **{**setup, "infeed_rate": planned.infeed_rate})
        fall = example.TRUE_STEEPNESS * max(0.0, 1 - depth / example.TRUE_KNEE)
        energy = example.TRUE_LEVEL * (1 + fall) * (1 + scatter.gauss(0, example.SCATTER))
        removal_rate = gf.removal_rate(setup["work_diameter"], planned.infeed_rate)
        power = gf.grinding_power(energy, removal_rate, example.CONTACT_WIDTH) + example.IDLE_POWER
        readings.append((round(planned.work_rpm, 1), round(power, 3), round(example.IDLE_POWER - IDLE_READ_TOO_LOW, 3)))
        infeed_rates.append(round(planned.infeed_rate, 3))
    return trial.build(dict(readings=readings, row_infeed_rates=infeed_rates, steps="rpm and infeed"))
