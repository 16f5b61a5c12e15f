"""The load over work rpm from a single part, while whose infeed the rpm is swept up and down.  Simulated only, not tried on a machine.

Infeed per minute stays constant, so that only the depth of the grits changes.  The load of each rpm is fitted through the
lag of the process, with a drift along the part that is no straight function of the rpm, because it is swept twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile
from typing import Any

import numpy as np

from ...quantities import QUANTITIES
from ...refused import Refused
from ...values import finite_in, shown
from ..log_limits import BEFORE_END
from .result import SweptPart
from .sweep_plan import LEAST_LAGS, LEAST_LEG, LEAST_LEG_LAGS, LEAST_TURNS, SAID
from .trace import Trace

NODES = 11  # of work rpm, even in its fourth root, as depth is
FEWEST_LEGS = 2
LEFT_OUT = 3 / LEAST_LAGS  # of the infeed at its beginning: three of the longest lag that is taken
FIRST_LAGS = (0.3, 1.0, 3.0)  # s, where the fit of the lag begins


def checked_sweep(sweep: Any, infeed_time: float | None) -> tuple[float, ...] | None:
    """The work rpm at the turning points, or one line on what they must be."""
    if sweep is None:
        return None
    try:
        points = tuple(finite_in(rpm) or 0.0 for rpm in sweep)
    except Exception:  # whatever an object of the caller's does when it is asked for its values
        points = ()
    must = "be the work rpm at the turning points of a sweep, up and down in turn, such as (60, 180, 60, 180, 60)"
    if len(points) <= FEWEST_LEGS or min(points) <= 0 or len(set(points[::2])) > 1 or len(set(points[1::2])) > 1:
        raise Refused("sweep", must, shown(sweep))
    if points[0] == points[1]:
        raise Refused("sweep", must, shown(sweep))
    for rpm in points:
        QUANTITIES["work_rpm"].check_one(rpm)
    if infeed_time is None:
        raise Refused("infeed_time", "be given with sweep", "none")
    leg = infeed_time / (len(points) - 1)
    turns = leg * (min(points) + max(points)) / 2 / 60
    if leg < LEAST_LEG or turns < LEAST_TURNS:
        must = f"have legs of {LEAST_LEG:g} s and {LEAST_TURNS:g} turns of the work or more"
        raise Refused("sweep", must, f"{leg:.3g} s and {turns:.3g} turns", hint="infeed longer, or sweep once")
    return points


def swept_part(
    trace: Trace, number: int, stretch: tuple[int, int], idle: float, points: Sequence[float], infeed_time: float
) -> SweptPart:
    """The net load at even steps of depth, from the part in a stretch of the trace."""
    first, last = stretch
    count = min(round(infeed_time / trace.interval), last - first)
    net = trace.power[first : first + count] - idle
    time = (np.arange(count) + 0.5) * trace.interval
    legs = len(points) - 1
    root = np.linspace(min(points) ** 0.25, max(points) ** 0.25, NODES)
    counts = (time > LEFT_OUT * infeed_time) & (time < infeed_time - BEFORE_END)
    course = time / infeed_time - 0.5
    turning = np.linspace(0.0, infeed_time, legs + 1)
    measured = None if trace.rpm is None else trace.rpm[first : first + count]

    def rpm_at(delay: float) -> np.ndarray:
        if measured is not None:
            return np.interp(time - delay, time, measured)
        return np.interp(time - delay, turning, points)

    def columns_of(lag: float, delay: float) -> np.ndarray:
        shares = _shares(np.clip(rpm_at(delay) ** 0.25, root[0], root[-1]), root)
        return np.column_stack((_lagged(shares, lag, trace.interval), course * net[counts].mean()))[counts]

    def fitted(lag: float, delay: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        columns = columns_of(lag, delay)
        found = np.linalg.lstsq(columns, net[counts], rcond=None)[0]
        return columns, found, net[counts] - columns @ found

    lag, delay = _best(lambda lag, delay: float((fitted(lag, delay)[-1] ** 2).sum()), infeed_time, legs)
    columns, found, rest = fitted(lag, delay)
    longer, later = 1.05 * lag, delay + trace.interval
    changes = [(columns_of(longer, delay) - columns) @ found / 0.05, (columns_of(lag, later) - columns) @ found / trace.interval]
    return SweptPart(
        number,
        lag,
        tuple((root**4).tolist()),
        tuple(found[:-1].tolist()),
        float(idle),
        tuple(_errors(rest, np.column_stack((columns, *changes)))[:NODES].tolist()),
        legs / 2,
    )


def refusal(swept: Sequence[SweptPart], infeed_time: float, legs: int) -> str:
    """Why nothing is handed on, or ""."""
    if not swept:
        return "sweep must have a part that can be read (got none); look at the picture"
    lag = float(np.median([part.lag for part in swept]))
    if infeed_time < LEAST_LAGS * lag or infeed_time / legs < LEAST_LEG_LAGS * lag:
        must = f"last {LEAST_LAGS} lags of {lag:.2g} s, {LEAST_LEG_LAGS} a leg"
        return f"the sweep's infeed must {must} (got {infeed_time:g} s in {legs} legs); infeed longer, or sweep once"
    lowest = min(net for part in swept for net in part.nets)
    if not lowest > 0:
        return f"the net load of a sweep must be > 0 at every rpm (got {lowest:.3g}): was the rpm really swept while the part was ground?"
    return ""


def remark(swept: Sequence[SweptPart]) -> str:
    passes = "one pass only: drift within the part can look like a knee; sweep twice. " if swept[0].passes < 2 else ""
    return (
        f"Work rpm swept within a part: {SAID}. {passes}Look first with it where the knee is, then confirm it with parts at "
        "fixed rpm about it; one part is one state of the wheel."
    )


def _shares(values: np.ndarray, nodes: np.ndarray) -> np.ndarray:
    """How much of each node counts at each value, by straight lines between the nodes."""
    place = np.clip(np.searchsorted(nodes, values, "right") - 1, 0, len(nodes) - 2)
    part = (values - nodes[place]) / (nodes[place + 1] - nodes[place])
    shares = np.zeros((len(values), len(nodes)))
    rows = np.arange(len(values))
    shares[rows, place], shares[rows, place + 1] = 1 - part, part
    return shares


def _lagged(columns: np.ndarray, lag: float, interval: float) -> np.ndarray:
    """Each column behind a first-order lag, from nothing at contact."""
    from scipy.signal import lfilter

    share = -np.expm1(-interval / lag)
    return lfilter([share], [1, share - 1], columns, axis=0)


def _best(misfit: Any, infeed_time: float, legs: int) -> tuple[float, float]:
    """Lag and delay of the sweep [s] under which up and down agree best."""
    from scipy.optimize import minimize

    leg = infeed_time / legs
    bounds = [(np.log(0.02), np.log(leg / 2)), (-leg / 4, leg / 4)]
    fits = [
        minimize(
            lambda values: misfit(float(np.exp(values[0])), float(values[1])),
            (np.clip(np.log(lag), *bounds[0]), 0.0),
            method="Nelder-Mead",
            bounds=bounds,
            options=dict(xatol=0.02, fatol=1e-9, maxfev=120),
        )
        for lag in FIRST_LAGS
        if lag < leg / 2
    ]
    log_lag, delay = min(fits, key=lambda fit: fit.fun).x
    return float(np.exp(log_lag)), float(delay)


def _errors(rest: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Two standard errors of what belongs to each column, by least squares, where what is left wanders slowly.

    The variance of what is left is widened by its correlation from sample to sample, up to where this is first lost in chance.
    """
    count = len(rest)
    spread = np.linalg.pinv(columns.T @ columns).diagonal()
    square = float(rest @ rest)
    if not square > 0:
        return np.zeros(len(spread))
    alike = (float(rest[step:] @ rest[:-step]) / square for step in range(1, count // 4))
    widened = 1 + 2 * sum(takewhile(lambda share: share >= 2 / count**0.5, alike))
    return 2 * np.sqrt(square / max(1, count - columns.shape[1]) * widened * spread)
