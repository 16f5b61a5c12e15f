"""The knee: the grit depth beyond which the energy no longer falls, how sure it is, and what to do next.

Standard library only, because this package travels inside the LibreOffice extension.
"""

from __future__ import annotations

from .confirm import CHANGED, CONFIRMED, GO_ON, Confirmation, RecordedKnee, confirm_knee
from .drift import USUAL_DRIFT
from .find import find_knee, knee_of_trial
from .next_reading import Advice, FourthRoot, next_reading
from .result import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, VERDICTS, Knee
from .scatter import PooledNoise, machine_noise, pooled_noise

__all__ = [
    "ALREADY_LEVEL",
    "CHANGED",
    "CONFIRMED",
    "FOUND",
    "GO_ON",
    "NOT_RESOLVED",
    "STILL_FALLING",
    "TOO_FEW",
    "USUAL_DRIFT",
    "VERDICTS",
    "Advice",
    "Confirmation",
    "FourthRoot",
    "Knee",
    "PooledNoise",
    "RecordedKnee",
    "confirm_knee",
    "find_knee",
    "knee_of_trial",
    "machine_noise",
    "next_reading",
    "pooled_noise",
]
