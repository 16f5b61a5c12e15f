"""The line on every sheet of a book with a wheel: the two wheel speeds, and what speaks against running."""

from __future__ import annotations

from ...sheets.conditions import first_of, quoted
from .shown import in_words

MARKED_SPEED = quoted(
    "Never run a wheel above the speed marked on it. Guards closed, extraction on."
)  # of a book without a wheel
NOT_FULFILLED = ("out_stops>0", '"STOP: not fulfilled: "&out_first_stop&". Correct it: see Checks."')  # a case of first_of


def speed_words(cell: str) -> str:
    """Formula text of a wheel speed, in shop units, as words in the units chosen."""
    return in_words(cell, "m/s", 1, 0)


def state(*warnings: tuple[str, str]) -> str:
    """Formula text: STOP and why, a warning (condition, text that begins with !), else the two speeds and no judgement."""
    marked, speed = speed_words("use_marked_wheel_speed"), speed_words("out_wheel_speed")
    too_fast = "IF(ISNUMBER(use_marked_wheel_speed),out_wheel_speed>use_marked_wheel_speed,FALSE)"
    return first_of(
        (
            f"IF(ISNUMBER(out_wheel_speed),{too_fast},FALSE)",
            f'"STOP: the wheel runs at "&{speed}&", above the "&{marked}&" marked on it. It can burst. Switch it off and correct Inputs."',
        ),
        NOT_FULFILLED,
        *warnings,
        otherwise=f'"Wheel "&{speed}&"; highest speed marked on it "&{marked}&". Guards closed, extraction on."',
    )
