"""Reading a power log; what it needs loads when it is first used."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from ...refused import Refused
from ...values import finite_in, shown
from .result import PowerLog

LOAD_KINDS = ("power", "current", "relative")
LEAST, MOST = 1e-6, 1e9  # s, of a time that is given


def read_log(
    path: str | Path | Sequence[str | Path] | None = None,
    *,
    power: Any = None,
    time: Any = None,
    rpm: Any = None,
    contact: Any = None,
    interval: float | None = None,
    load_kind: str | None = None,
    idle: float | None = None,
    infeed_time: float | None = None,
    between: Sequence[float] | str | None = None,
    sheet: str | None = None,
    sweep: Sequence[float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> PowerLog:
    """Read a log of spindle power against time, find the parts that were ground, and read each.

    Parameters
    ----------
    path : a text file of any length (.csv, .tsv, .txt, .log, .dat, .asc, .prn) or a workbook (.xlsx, .xlsm, .ods); several
        files that follow one another are joined.  None where the columns are given as arrays
    power : heading or column letter of the power, current or load meter; or the values themselves
    time : the same for time: seconds, milliseconds and other units by the heading, clock times, stamps
    rpm : the same for the work rpm [1/min]
    contact : the same for a signal that is high while the wheel cuts; where there is one, stretches are cut by it
    interval : seconds from row to row, > 0; goes before the time in the file
    load_kind : "power" [kW], "current" [A] or "relative" (any unit); without it the heading says it, arrays count as power
    idle : about what the meter shows at idle, where that cannot be seen: 0 for a meter that is zeroed at idle
    infeed_time : seconds of infeed, > 0, by which parts are told from dressing; without it the usual length counts
    between : from and to, in seconds from the beginning or as "0:30-41:00"
    sheet : sheet of the workbook
    sweep : work rpm at the turning points, such as (60, 180, 60, 180, 60), where it is swept within each part in legs of
        equal time over `infeed_time`, at constant infeed per minute.  Simulated only, not tried on a machine
    progress : called with the share that has been read, 0 to 1

    A stretch of power above idle is a part by its length; every other one keeps a word and a reason.  Idle is read on both
    sides of each part, one first-order lag is fitted to all of them, and the level is read from three lags after contact to
    the end of infeed.  Errors are two standard errors.  Method and limits were tried on simulated logs only.

    Raises
    ------
    ValueError
        One line that names the file: what must be different, and what it was.  A log that is no grinding is read without
        an error, so that its picture can be looked at; its `refusal` says why there are no readings.
    """
    interval, infeed_time = _seconds("interval", interval), _seconds("infeed_time", infeed_time)
    if idle is not None and (finite_in(idle) is None or abs(finite_in(idle)) > MOST):
        raise Refused("idle", "be a number", shown(idle))
    if load_kind is not None and not (isinstance(load_kind, str) and load_kind in LOAD_KINDS):
        raise Refused("load_kind", f"be {', '.join(LOAD_KINDS)}", shown(load_kind))
    if sheet is not None and not isinstance(sheet, str):
        raise Refused("sheet", "be the name of a sheet", shown(sheet))
    if progress is not None and not callable(progress):
        raise Refused("progress", "be a function of the share that has been read", shown(progress))
    from .gathering import gathered
    from .sweep import checked_sweep

    return gathered(
        path,
        dict(power=power, time=time, rpm=rpm, contact=contact),
        interval,
        load_kind,
        finite_in(idle),
        infeed_time,
        between,
        sheet,
        checked_sweep(sweep, infeed_time),
        progress,
    )


def _seconds(name: str, value: Any) -> float | None:
    """A time in seconds within bounds, None where it is not given."""
    seconds = finite_in(value)
    if value is not None and (seconds is None or not LEAST <= seconds <= MOST):
        bounds = "> 0 s" if seconds is None or seconds <= 0 else f"{LEAST:g} to {MOST:g} s"
        raise Refused(name, f"be {bounds}", shown(value))
    return seconds
