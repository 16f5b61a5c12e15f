"""Logged power traces: cut into parts, with a reading for each."""

from __future__ import annotations

from .read import read_log
from .result import PartReading, PowerLog, Stretch

__all__ = ["PartReading", "PowerLog", "Stretch", "read_log"]
