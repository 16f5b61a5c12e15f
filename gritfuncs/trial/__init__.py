"""Trials: readings from a workbook or text file, judged row by row, with grit depth, energy and the knee."""

from __future__ import annotations

from .read import read_trial
from .readings import Reading
from .result import Trial
from .setup import Setup

__all__ = ["Reading", "Setup", "Trial", "read_trial"]
