"""What the reader of a log should know beside the readings, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..log_limits import SLOW
from .advice import rise_said
from .rpm import rpm_within
from .sorting import CLIPPED, HOLE, NO_IDLE
from .trace import LONGEST_HOLE, Trace

if TYPE_CHECKING:
    from .analyse import Parts
    from .result import PartReading

STEEP = 0.15  # change within a steady stretch, as a share of net
NO_IDLE_SHARE = 0.01  # of the level; a smaller idle is that of a meter zeroed there, and says nothing
COARSE = 0.05  # of net: the error of a part


def trace_remarks(trace: Trace) -> list[str]:
    """What was done to the rows before they were looked at."""
    said = []
    if trace.changes_only:
        said.append("Time runs in unequal steps: taken as a log of changes, in which each value holds until the next row.")
    if trace.filled:
        said.append(
            f"{trace.filled} values were missing or dropped out to zero for at most {LONGEST_HOLE:g} s, and were filled in."
        )
    if trace.holes:
        first, last = trace.holes[0]
        said.append(
            f"Values are missing for longer than {LONGEST_HOLE:g} s, which parts the log, {_times(len(trace.holes))}; "
            f"first from {first:.1f} to {last:.1f} s."
        )
    if trace.row_interval > SLOW and not trace.changes_only:
        said.append(f"A row every {trace.row_interval:.3g} s is slow: 5 to 20 rows a second show contact and lag better.")
    return said


def part_remarks(
    trace: Trace, parts: Parts, readings: Sequence[PartReading], words: Sequence[tuple[str, str]], load_kind: str
) -> list[str]:
    """What stands out in the readings."""
    said = []
    for word, why in ((CLIPPED, "the meter ends there"), (HOLE, "values are missing"), (NO_IDLE, "no idle beside them")):
        count = sum(one == word for one, _ in words)
        if count:
            said.append(f"{_of(count, len(words), 'stretch')} {word}: {why}; they are counted as parts, and not read.")
    early = [reading.number for reading, steady in zip(readings, parts.steady) if steady.is_early]
    if early:
        said.append(f"{_named(early)}: too short for {parts.lag:.2g} s of lag, read from 1.5 lags after contact instead of 3.")
    short = [reading.number for reading, is_short in zip(readings, parts.idle.short) if is_short]
    if short:
        said.append(f"{_named(short)}: short gaps, idle is read sooner behind a stretch than three lags and 4 s.")
    if parts.idle.step:
        said.append(f"Idle steps up by {parts.idle.step:.3g} just before contact (coolant); it is counted as idle.")
    if any(np.isnan(parts.idle.errors)) or (parts.idle.errors == 0).any():
        said.append("Where no idle is seen beside a part, the given one is taken as exact.")
    uneven = [(reading.number, reading.slope) for reading in readings if abs(reading.slope) > STEEP]
    if uneven:
        worst = max(uneven, key=lambda pair: abs(pair[1]))
        said.append(
            f"{_named([number for number, _ in uneven])}: power is not steady (part {worst[0]} changes by {100 * worst[1]:+.0f} % "
            "within the steady stretch): wheel loading, burn, taper, or noise."
        )
    rises = [reading.net / abs(reading.idle) for reading in readings if abs(reading.idle) > NO_IDLE_SHARE * abs(reading.level)]
    if rises:
        said.append(rise_said(float(np.median(rises)), load_kind))
    coarse = float(np.median([reading.error / reading.net for reading in readings if reading.net > 0] or [0.0]))
    if coarse > COARSE:
        said.append(
            f"The error of a part is {100 * coarse:.0f} % of net: repeat parts at each step, or log a signal that rises more."
        )
    return said + _rpm_remarks(trace, parts, readings)


def _rpm_remarks(trace: Trace, parts: Parts, readings: Sequence[PartReading]) -> list[str]:
    if trace.rpm is None:
        return []
    said = []
    for reading, steady in zip(readings, parts.steady):
        if reading.work_rpm is None:
            said.append(f"Work rpm changes within part {reading.number} ({rpm_within(trace, steady)[1]}): left out.")
    known = [reading.work_rpm for reading in readings if reading.work_rpm]
    if len(known) > 2 and max(known) - min(known) <= 0.01 * max(known):
        said.append(
            f"The work rpm is {known[0]:.4g} in all parts: is it the wheel's? Without steps of the work rpm there is no knee."
        )
    return said


def _named(numbers: Sequence[int]) -> str:
    shown = ", ".join(map(str, numbers[:8])) + (", ..." if numbers[8:] else "")
    return f"Part {shown}" if len(numbers) == 1 else f"Parts {shown}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _of(count: int, whole: int, noun: str) -> str:
    return f"1 of {whole} {noun}es is" if count == 1 else f"{count} of {whole} {noun}es are"
