"""What every sheet of speed_table.xlsx says of a setup: the work rpm that holds the target, and the word of its limits."""

from __future__ import annotations

from ...planning import DOES_NOT_FIT
from ...sheets.checks import OK
from ...sheets.conditions import first_of, quoted
from ..blocks.wheel import formula

NO_RPM = "-"  # where the wheel does not fit the bore
RPM_FORMAT = "[<0.5]0.0E+0;0.0"  # shows no rpm as 0.0
SEE_CHECKS = "see Checks"
UNKNOWN = "not known"  # for want of an input that may stay blank


def work_rpm(*, work_diameter: str, infeed_rate: str, wheel_speed: str, wheel_diameter: str) -> str:
    """The work rpm that holds the target depth, or NO_RPM."""
    rpm = formula(
        "work_rpm_for",
        grit_depth="out_target_depth",
        work_diameter=work_diameter,
        infeed_rate=infeed_rate,
        wheel_speed=wheel_speed,
        wheel_diameter=wheel_diameter,
        side="out_side",
        grit_density="out_grit_density",
        shape_ratio="in_shape_ratio",
    )
    return first_of((f"{work_diameter}+out_side*{wheel_diameter}>0", rpm), otherwise=quoted(NO_RPM))


def word(value: str, where_a_number: str, *cases: tuple[str, str]) -> str:
    """What is said of a setup by its cell of rpm, or another that has no number where that has none.

    Where there is a number, this; else what hinders it, or one of the cases; nothing where there is no setup.
    """
    return first_of(
        (f"ISERROR({value})", quoted(SEE_CHECKS)),
        (f"ISNUMBER({value})", where_a_number),
        (f"{value}={quoted(NO_RPM)}", quoted(DOES_NOT_FIT)),
        *cases,
        otherwise=quoted(""),
    )


def limit_word(rpm: str, *cases: tuple[str, str]) -> str:
    """ok, or the first of the broken limits, or what hinders a setup."""
    return word(rpm, first_of(*cases, otherwise=quoted(OK)))


def breaks(word: str) -> str:
    """A condition: the word of a setup names a limit that it breaks."""
    return f"IF(ISERROR({word}),FALSE,IF({word}={quoted('')},FALSE,{word}<>{quoted(OK)}))"
