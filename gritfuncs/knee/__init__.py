"""The knee: the grit depth beyond which the energy no longer falls, how sure it is, and what to do next.

Standard library only, because this package travels inside the LibreOffice extension.
"""

from __future__ import annotations

from .find import find_knee
from .next_reading import Advice, FourthRoot, next_reading
from .result import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, VERDICTS, Knee

__all__ = [
    "ALREADY_LEVEL",
    "FOUND",
    "NOT_RESOLVED",
    "STILL_FALLING",
    "TOO_FEW",
    "VERDICTS",
    "Advice",
    "FourthRoot",
    "Knee",
    "find_knee",
    "next_reading",
]
