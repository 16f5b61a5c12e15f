"""The public names of the package, in one place; `gritfuncs.__getattr__` hands them out."""

from __future__ import annotations

from typing import Any

from .comparison import Comparison, compare_trials
from .formulas import catalogue
from .knee import Advice, Confirmation, FourthRoot, Knee, RecordedKnee, confirm_knee, find_knee, next_reading
from .planning import FastestSetup, Limits, SpeedTable, fastest_setup, plan_trial, speed_table
from .quantities import EXTERNAL, FLAT, INTERNAL, QUANTITIES
from .registry import checked
from .trial import Setup, Trial, read_trial
from .trial.log import PowerLog, read_log

PUBLIC: dict[str, Any] = {formula.name: checked(formula) for formula in catalogue}
PUBLIC.update(
    EXTERNAL=EXTERNAL,
    FLAT=FLAT,
    INTERNAL=INTERNAL,
    QUANTITIES=QUANTITIES,
    Advice=Advice,
    Comparison=Comparison,
    compare_trials=compare_trials,
    FourthRoot=FourthRoot,
    Knee=Knee,
    catalogue=catalogue,
    next_reading=next_reading,
    Confirmation=Confirmation,
    RecordedKnee=RecordedKnee,
    confirm_knee=confirm_knee,
    FastestSetup=FastestSetup,
    Limits=Limits,
    PowerLog=PowerLog,
    Setup=Setup,
    SpeedTable=SpeedTable,
    Trial=Trial,
    fastest_setup=fastest_setup,
    find_knee=find_knee,
    plan_trial=plan_trial,
    read_log=read_log,
    read_trial=read_trial,
    speed_table=speed_table,
)
