"""Values in the units chosen: cells out_... hold shop units, sheets show inches where in_units says so."""

from __future__ import annotations

from ...quantities import QUANTITIES
from ...sheets.conditions import quoted
from ...sheets.inches import IN_INCHES

_LIKE = ("wheel_diameter", "infeed_rate", "wheel_speed", "work_speed", "removal_rate", "power", "specific_energy", "work_volume")
_UNITS = {QUANTITIES[name].unit: QUANTITIES[name] for name in _LIKE}  # µm is not among them: depths stay as they are


def factor(unit: str) -> str:
    """Formula text of how many shop units one unit chosen is."""
    return f"IF({IN_INCHES},{_UNITS[unit].inch_factor!r},1)" if unit in _UNITS else "1"


def unit_words(unit: str) -> str:
    """Formula text of the unit chosen."""
    return f"IF({IN_INCHES},{quoted(_UNITS[unit].inch_unit)},{quoted(unit)})" if unit in _UNITS else quoted(unit)


def shown(cell: str, unit: str, error: str = quoted("")) -> str:
    """Formula text of a cell in the unit chosen; words stay, an error is blank."""
    value = f"{cell}/{factor(unit)}" if unit in _UNITS else cell
    return f"IF(ISERROR({cell}),{error},IF(ISNUMBER({cell}),{value},{cell}))"


def in_words(cell: str, unit: str, digits: int, inch_digits: int) -> str:
    """Formula text of a number as words with the unit chosen, such as 30.0 m/s or 5906 ft/min."""
    inch = _UNITS[unit]
    inches = f"FIXED({cell}/{inch.inch_factor!r},{inch_digits},TRUE)&{quoted(f' {inch.inch_unit}')}"
    return f"IF({IN_INCHES},{inches},FIXED({cell},{digits},TRUE)&{quoted(f' {unit}')})"
