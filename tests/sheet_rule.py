"""The rule of the sheet that says what to read next in trial.xlsx once more, in Python, from its description (docs/next-reading.md).

For depth as the fourth root of the rpm, and without the search for a reading out of line.
"""

from __future__ import annotations

from statistics import mean
from typing import NamedTuple

from gritfuncs.knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, USUAL_DRIFT
from gritfuncs.knee.drift import (
    SURE,
    SURE_OF_WHOLE,
    best_repeat,
    drift_range,
    joined,
    shows_drift,
    without_drift,
    worth_repeating,
)
from gritfuncs.knee.find import judged
from gritfuncs.knee.next_reading import MOST_READINGS, WANTED, widening
from gritfuncs.knee.readings import numbered
from gritfuncs.knee.result import found_in
from gritfuncs.knee.variance import corner_variance
from gritfuncs.workbooks.trial.next import SHARE_OF_FALL


class Answer(NamedTuple):
    """The next work rpm, or None for a stop; the knee where it is found."""

    work_rpm: float | None
    knee: object = None


def answer(rpms, energies, setup, limits, nominal, *, step_percent=10.0, wanted=WANTED, drift=True):
    """What to read next; drift False leaves out whatever judges drift."""
    n, step = len(rpms), nominal * step_percent / 100
    if n == 0:
        return Answer(nominal)
    depths = [setup.depth(rpm) for rpm in rpms]
    knee, may_stop, repeat = _judged(depths, energies, rpms, nominal, drift)
    found = found_in(knee)
    if found is not None and (1 if knee.noise is None else widening(knee)) * (found.high - found.low) / 2 <= wanted * found.knee:
        if may_stop is not None and may_stop.high - may_stop.low <= 2 * wanted * found.knee:
            return Answer(None, may_stop)
        return Answer(None if n >= MOST_READINGS else repeat)
    if n >= MOST_READINGS:
        return Answer(None)
    return Answer(_further(knee, rpms, depths, energies, setup, limits, nominal, step))


def _judged(depths, energies, rpms, nominal, judge_drift):
    """(the knee without the most likely drift, the knee with which the trial may stop or None, else the rpm to repeat)."""
    plain = judged(depths, energies, None)
    if plain.verdict == TOO_FEW or not judge_drift:
        return plain, _wider(plain), nominal
    if not shows_drift(depths):
        return plain, None, nominal
    readings = numbered(depths, energies)
    drift = drift_range(readings, plain, USUAL_DRIFT)
    knee = judged(depths, without_drift(energies, drift.centre), None)
    found = found_in(knee)
    if found is None:
        return knee, None, nominal
    ends = [judged(depths, without_drift(energies, end), None) for end in drift.ends(SURE_OF_WHOLE)]
    whole = joined(found, ends)
    if whole is not None:
        wider = _wider(knee)
        whole = whole._replace(low=min(whole.low, wider.low), high=max(whole.high, wider.high))
    fall = found.slope * (found.knee - min(depths))
    if SURE * drift.deviation * (len(rpms) - 1) > SHARE_OF_FALL * fall:
        whole = None
    numbers = worth_repeating(readings)
    return knee, whole, rpms[best_repeat(depths, numbers, _corners(knee))]


def _corners(knee):
    """The lowest, the middle and the highest corner that scatter leaves possible."""
    return [knee.scatter_low, (knee.scatter_low + knee.scatter_high) / 2, knee.scatter_high]


def _wider(knee):
    """The knee with the interval for scatter that came out small by luck."""
    found = found_in(knee)
    if found is None:
        return None
    wider = widening(knee)
    return found._replace(low=found.knee - wider * (found.knee - found.low), high=found.knee + wider * (found.high - found.knee))


def _further(knee, rpms, depths, energies, setup, limits, nominal, step):
    """The next rpm where the knee is not known well enough."""
    slowest, fastest = min(rpms), max(rpms)
    at_slowest = mean(u for rpm, u in zip(rpms, energies) if rpm == slowest)
    at_fastest = mean(u for rpm, u in zip(rpms, energies) if rpm == fastest)
    hot = at_slowest >= 1.5 * min(energies)
    slower = slowest if hot else min(slowest, max(limits.lowest_work_rpm, slowest - min(step, slowest / 5)))
    highest = limits.highest_work_rpm if knee.knee is None else min(limits.highest_work_rpm, setup.rpm_for(1.5 * knee.knee))
    faster = max(fastest, min(highest, fastest + step))
    can_go_slower, can_go_faster = slowest - slower > step / 4, faster - fastest > step / 4
    for verdict, can_go, further, end in (
        (STILL_FALLING, can_go_faster, faster, fastest),
        (ALREADY_LEVEL, can_go_slower, slower, slowest),
    ):
        if knee.verdict == verdict:
            return further if can_go else end if rpms.count(end) < 3 else None
    if knee.verdict in (FOUND, NOT_RESOLVED) and knee.scatter_high is not None:
        places = sorted(set(depths))
        if knee.scatter_low <= places[1] and can_go_slower:
            return slower
        if knee.scatter_high > places[-2] and can_go_faster:
            return faster
        tried = list(dict.fromkeys(rpms))
        candidates = [*(min(highest, max(limits.lowest_work_rpm, rpm)) for rpm in tried), slower, faster]
        read = [*tried, slower, faster]  # an rpm outside the limits is compared as it was read
        best = min(range(len(read)), key=lambda i: corner_variance(depths, _corners(knee), setup.depth(read[i])))
        return candidates[best]
    if not can_go_slower and not can_go_faster:
        return nominal
    if not can_go_faster or not can_go_slower:
        return slower if can_go_slower else faster
    between = [u for rpm, u in zip(rpms, energies) if slowest < rpm < fastest]
    goes_faster = at_fastest < mean(between) if between else fastest == nominal
    return faster if goes_faster else slower
