"""Planning: the steps of a trial, and work speeds that hold a grit depth under the limits of wheel and machine."""

from __future__ import annotations

from .fastest import LOWER_BOUNDS, UPPER_BOUNDS, FastestSetup, fastest_setup, infeed_bounds
from .limits import DOES_NOT_FIT, LIMIT_WORDS, ROUNDING, Limits, breaks, broken_limits, check_marked_speed
from .plan import ALTERNATING, DEPTH_POWER, OUT_AND_BACK, STEP_PERCENT, STEPS_EACH_SIDE, PlannedReading, plan_trial, plan_words
from .speed_table import BAND, OK, SpeedCell, SpeedTable, speed_table

__all__ = [
    "ALTERNATING",
    "BAND",
    "DEPTH_POWER",
    "DOES_NOT_FIT",
    "LIMIT_WORDS",
    "LOWER_BOUNDS",
    "OK",
    "OUT_AND_BACK",
    "ROUNDING",
    "STEPS_EACH_SIDE",
    "STEP_PERCENT",
    "UPPER_BOUNDS",
    "FastestSetup",
    "Limits",
    "PlannedReading",
    "SpeedCell",
    "SpeedTable",
    "breaks",
    "broken_limits",
    "check_marked_speed",
    "fastest_setup",
    "infeed_bounds",
    "plan_trial",
    "plan_words",
    "speed_table",
]
