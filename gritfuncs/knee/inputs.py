"""Checks of what `next_reading` and `confirm_knee` are given; each raises ValueError with one clear line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..values import number_in, shown
from .readings import checked


def share(name: str, value: Any, high: float, unit: str) -> float:
    """A number above 0 and below `high`."""
    number = number_in(value)
    if number is None or not 0 < number < high:
        raise ValueError(f"{name} must be > 0 and < {high:g}, {unit} (got {shown(value)})")
    return number


def truth(name: str, value: Any) -> bool:
    """True or False; numpy's truth values are no bool, and are called bool or bool_ by its versions."""
    if not isinstance(value, int) and type(value).__name__ not in ("bool", "bool_") or value not in (True, False):
        raise ValueError(f"{name} must be True or False (got {shown(value)})")
    return bool(value)


def depth_and_rpm(setup: Any) -> Any:
    """The setup, if it has what turns rpm into depth and back."""
    if not (callable(getattr(setup, "depth", None)) and callable(getattr(setup, "rpm_for", None))):
        raise ValueError(f"setup must have depth(work_rpm) and rpm_for(depth), as Setup and FourthRoot have (got {shown(setup)})")
    return setup


def net_readings(depths: Iterable[float], energies: Iterable[float]) -> tuple[list[float], list[float]]:
    """Depths and net energies as numbers."""
    h, u = checked(depths, energies)
    for number, energy in enumerate(u, 1):
        if energy <= 0:
            raise ValueError(f"energies must be > 0, with idle taken off (got {energy:g} in reading {number})")
    return h, u
