"""What to see to before a trial whose power is logged, and whether a log can show a knee at all."""

from __future__ import annotations

from collections.abc import Sequence

from .sweep_plan import SAID

LEAST_RISE, USUAL_RISE = 0.05, 0.45  # of idle: below the first a knee is hardly ever found, above the second nearly always
# simulated, 1 % noise on a current: docs/power-log.md

BEFORE = (
    "5 to 20 rows a second; the meter averages over 0.5 s at most",
    "first one cycle without a part: it shows idle with the coolant on",
    "coolant on throughout, or at least switched in the same way at every part, 3 s before contact",
    "5 s of idle between parts, better 10",
    "a pause of 30 s or more at each change of rpm: where counts differ, the pauses show why",
    "write down the work rpm of each part, and each part that was stopped: nothing is shifted to fit",
    "try it with the first three parts: gritfuncs log says how far grinding lifts the reading, and whether that can show a knee",
)


def logging_advice() -> str:
    """How to log power through a trial, as lines for people."""
    lines = ["To log power through the trial instead of reading a needle (tried on simulated logs only):"]
    return "\n".join([*lines, *(f"    - {line}" for line in BEFORE), "Then: gritfuncs log LOG --plan TRIAL"])


def sweep_advice(points: Sequence[float], infeed_time: float) -> str:
    """How to look for the knee within one part, by work rpm [1/min] at the turning points and infeed time [s], as lines for people."""
    listed = ",".join(f"{rpm:.4g}" for rpm in points)
    lines = (
        f"To look for the knee within one part first ({SAID}):",
        f"    - sweep the work rpm {' to '.join(f'{rpm:.4g}' for rpm in points)} 1/min in {len(points) - 1} legs of "
        f"{infeed_time / (len(points) - 1):.3g} s while infeed runs on at constant mm/min (not per turn): {infeed_time:.3g} s of infeed",
        "    - a scrap part with that much stock; limits of chuck and speed ratio hold at the fast end; power climbs at the slow end",
        "    - log 5 to 20 rows a second, coolant on throughout, 10 s of idle before and behind",
        f"Then: gritfuncs log LOG --sweep {listed} --infeed-time {infeed_time:.3g}, and confirm it with parts at fixed rpm about the knee.",
    )
    return "\n".join(lines)


def rise_said(rise: float, load_kind: str) -> str:
    """One sentence on how far grinding lifts the reading, `rise` as a share of idle, and what that can show."""
    what = "current" if load_kind == "current" else "reading"
    can = "this log can show a knee"
    if rise < LEAST_RISE:
        can = "this log cannot show a knee (found in at most 5 of 100 simulated trials with 1 % noise on a current)"
    elif rise < USUAL_RISE:
        can = "this log can show a knee where scatter is small (found in 60 to 75 of 100 simulated trials at 6 to 15 %, 1 % noise on a current)"
    return f"Your {what} rises by {100 * rise:.3g} % over idle when grinding: {can}."
