"""The line on every sheet of a book with a wheel: the two wheel speeds, and what speaks against running."""

from __future__ import annotations

from ...quantities import QUANTITIES
from ..book import INCH
from ..conditions import first_of

_FACTOR = QUANTITIES["wheel_speed"].inch_factor


def speed_words(cell: str) -> str:
    """Formula text of a wheel speed, in shop units, as words in the units chosen."""
    return f'IF(in_units="{INCH}",FIXED({cell}/{_FACTOR!r},0,TRUE)&" ft/min",FIXED({cell},1,TRUE)&" m/s")'


def state(*warnings: tuple[str, str]) -> str:
    """Formula text: STOP and why, a warning (condition, text that begins with !), else the two speeds and no judgement."""
    marked, speed = speed_words("use_marked_wheel_speed"), speed_words("out_wheel_speed")
    too_fast = "IF(ISNUMBER(use_marked_wheel_speed),out_wheel_speed>use_marked_wheel_speed,FALSE)"
    return first_of(
        (
            f"IF(ISNUMBER(out_wheel_speed),{too_fast},FALSE)",
            f'"STOP: the wheel runs at "&{speed}&", above the "&{marked}&" marked on it. It can burst. Switch it off and correct Inputs."',
        ),
        ("out_stops>0", '"STOP: not fulfilled: "&out_first_stop&". Correct it: see Checks."'),
        *warnings,
        otherwise=f'"Wheel "&{speed}&"; highest speed marked on it "&{marked}&". Guards closed, extraction on."',
    )
