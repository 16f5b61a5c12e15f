"""Whether a log is one of grinding at all; where it is not, it is refused in one line with the way on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ..log_limits import FEWEST_PARTS, LEAST_SHARE, MOST_SPREAD
from .sorting import GROUND
from .steady import Steady
from .trace import Trace

MOST_UNEVEN = 0.25  # of the level: how far the parts' common course within the steady stretch may go up and down
QUARTERS = 4
LEVEL_WINDOW = 0.2  # of the height
LEAST_LEVEL = 0.33  # of a stretch within that window; a saw stands so for a quarter of it
GRINDING = "rise and fall between idle and grinding"
TARED = "where the meter shows 0 at idle say idle=0; else choose the power column or the time with between"


class Refusal(NamedTuple):
    """Why no readings are handed on; `is_grinding` where the parts are known all the same."""

    text: str
    is_grinding: bool


def no_levels(trace: Trace) -> Refusal:
    """The refusal of a log without stretches."""
    low, high = np.percentile(trace.power, [2, 98])
    got = (
        f"{trace.power.mean():.4g} throughout"
        if high - low < 1e-9 * max(abs(high), 1)
        else f"{low:.3g} to {high:.3g}, without two levels"
    )
    return Refusal(f"power must {GRINDING} (got {got}); {TARED}", False)


def refusal_of(
    trace: Trace,
    stretches: Sequence[tuple[int, int]],
    words: Sequence[str],
    infeeds: np.ndarray,
    level: float,
    steady: Sequence[Steady],
    infeed_time: float | None,
    has_contact: bool,
    wave: float | None,
) -> Refusal:
    """The refusal, or one without a text.

    `infeeds` are the infeed's lengths of the parts [s], `level` is what level_share gives, `wave` what wave_like gives.
    """
    lengths = np.array([last - first for first, last in stretches])
    ground = np.array([word in GROUND for word in words])
    parts, total = int(lengths[ground].sum()), int(lengths.sum())
    held = _held(trace, stretches)
    if not parts:
        wanted = f"last about {infeed_time:g} s, the infeed time" if infeed_time else "be parts"
        return Refusal(f"stretches above idle must {wanted} (got {held}); {TARED}", False)
    if not has_contact and parts < LEAST_SHARE * total:
        share = f"{100 * parts / total:.0f} % of their time in stretches of like length; {held}"
        return Refusal(f"power must {GRINDING}, in stretches that are alike (got {share}); {TARED}", False)
    low, middle, high = np.percentile(infeeds, [16, 50, 84]) if len(infeeds) else (1, 1, 1)
    if not has_contact and high - low > 2 * MOST_SPREAD * middle:
        spread = f"{low:.3g} to {high:.3g} s; {held}"
        return Refusal(f"power must {GRINDING}, in stretches of one length (got {spread}); {TARED}", False)
    if not has_contact and level < LEAST_LEVEL:
        got = f"level for {100 * level:.0f} % of the time, rising or falling else"
        return Refusal(
            f"power must stay level while a part is ground (got {got}, in all parts alike): this is no plunge grinding", False
        )
    if not has_contact and wave is not None:
        got = f"a slow wave, rising for {100 * wave:.0f} % of a stretch, as slowly at first as at last"
        return Refusal(f"power must rise at once at contact and then hold (got {got}): this is no plunge grinding", False)
    course = _course(trace.power, steady)
    if course is not None and np.ptp(course) > MOST_UNEVEN:
        got = f"{100 * course[0]:.0f} to {100 * course[-1]:.0f} % of the level from the first to the last quarter"
        if (course[0] - course[-1]) ** 2 < 0.25 * np.ptp(course) ** 2:
            got = f"{100 * course.min():.0f} to {100 * course.max():.0f} % of the level within it"
        return Refusal(
            f"power must stay level while a part is ground (got {got}, in all parts alike): this is no plunge grinding", False
        )
    count = int(ground.sum())
    if count < FEWEST_PARTS and infeed_time is None and not has_contact:
        hint = "say infeed_time, the seconds of infeed, to read fewer"
        return Refusal(f"parts must be {FEWEST_PARTS} or more, to tell them from other stretches (got {count}); {hint}", True)
    return Refusal("", True)


def _held(trace: Trace, stretches: Sequence[tuple[int, int]]) -> str:
    """What a log without parts has: levels and times, such as of a spindle that stands and runs."""
    lengths = np.array([last - first for first, last in stretches]) * trace.interval
    inside = np.zeros(len(trace.power), bool)
    for first, last in stretches:
        inside[first:last] = True
    low = float(np.median(trace.power[~inside])) if not inside.all() else float(trace.power.min())
    high = float(np.median(trace.power[inside]))
    times = f"{lengths.min():.3g} to {lengths.max():.3g} s"
    return f"{len(lengths)} stretches of {times} at about {high:.3g}, and {low:.3g} between them: is this spindle off and idle?"


def _course(power: np.ndarray, steady: Sequence[Steady]) -> np.ndarray | None:
    """The median over the parts of the mean of each quarter of the steady stretch, over the level of the whole."""
    rows = []
    for one in steady:
        if one.last - one.first >= QUARTERS and one.net > 0:
            values = power[one.first : one.last]
            base = float(values.mean()) - one.net
            rows.append([(quarter.mean() - base) / one.net for quarter in np.array_split(values, QUARTERS)])
    return np.median(rows, axis=0) if rows else None


def level_share(power: np.ndarray, parts: Sequence[tuple[int, int]], idle: Sequence[float]) -> float:
    """How much of the time the parts' common course stands within a fifth of its height: small where it only rises and falls."""
    length = int(np.median([last - first for first, last in parts]))
    rows = [power[first : first + length] - base for (first, _), base in zip(parts, idle) if first + length <= len(power)]
    if length < 10 or len(rows) < FEWEST_PARTS:
        return 1.0
    course = np.median([row / np.percentile(row, 80) for row in rows], axis=0)
    ordered = np.sort(course)
    return float((np.searchsorted(ordered, ordered + LEVEL_WINDOW, "right") - np.arange(length)).max()) / length
