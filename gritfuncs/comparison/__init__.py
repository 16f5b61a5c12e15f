"""Trials beside one another: differences of knees and of levels with their intervals, and how they go over time."""

from __future__ import annotations

from .result import Comparison, Difference, Drift
from .trials import compare_trials

__all__ = ["Comparison", "Difference", "Drift", "compare_trials"]
