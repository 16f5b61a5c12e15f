"""A power log that has been read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..result import Trial
    from ..setup import Setup
    from .trace import Trace


@dataclass(frozen=True)
class Stretch:
    """A stretch of the log where power stands above idle, with a word for what it looks like and the reason."""

    number: int  # from 1, in the order of time
    start: float  # s
    end: float  # s
    word: str  # part, short, long, low, clipped, hole, touch, no idle or unclear
    why: str


@dataclass(frozen=True)
class PartReading:
    """What the log says of one part; loads in the unit of the log."""

    number: int  # from 1, in the order of time
    start: float  # s, where power leaves idle
    end: float  # s, where it is back
    steady_start: float  # s, three lags after contact
    steady_end: float  # s, before the infeed ends
    level: float  # load in the steady stretch, idle included
    idle: float  # load beside the part
    net: float  # level less idle
    error: float  # two standard errors of net
    slope: float  # change over the steady stretch as a share of net
    work_rpm: float | None  # 1/min, from the rpm channel; None without one, or where it changes within the part


@dataclass(frozen=True)
class SweptPart:
    """Net load over work rpm from one part, while whose infeed the rpm was swept.  Simulated only, not tried on a machine."""

    number: int  # of the part
    lag: float  # s
    work_rpms: tuple[float, ...]  # 1/min, in even steps of depth
    nets: tuple[float, ...]  # load less idle at each
    idle: float
    errors: tuple[float, ...]  # two standard errors of net, of the fit through the lag
    passes: float  # up and down


@dataclass(frozen=True)
class PowerLog:
    """A logged power trace cut into stretches, with a reading for every part.

    Made by `read_log`.  Nothing is dropped in silence: `stretches` has every rise above idle with a word and a reason.
    """

    source: str  # name of the file, or "arrays"
    load_kind: str  # power [kW], current [A] or relative
    duration: float  # s
    clock: str  # date and time of the beginning; "" where the log has no date
    is_clock: bool  # seconds of the stretches and parts count from midnight, else as the log has them
    stretches: tuple[Stretch, ...]
    parts: tuple[PartReading, ...]
    lag: float | None  # s, of the first-order rise of power after contact; None without parts
    idle_step: float  # how much higher idle is just before contact, where the coolant is switched with each part; else 0
    holes: tuple[tuple[float, float], ...]  # s, from and to, of missing values longer than 3 s
    remarks: tuple[str, ...]
    refusal: str  # why no readings are handed on, with the way on; "" where they are
    trace: Trace = field(repr=False, compare=False)
    swept: tuple[SweptPart, ...] = ()  # where `sweep` was given: its readings are handed on in place of the parts'

    def trial(
        self,
        work_rpms: Iterable[Any] | None = None,
        parts_per_step: int | Sequence[int] = 1,
        leave_out: Iterable[int] = (),
        *,
        mean_of_step: bool = False,
        setup: Setup | None = None,
    ) -> Trial:
        """The readings as a trial, for its knee and report.

        Parameters
        ----------
        work_rpms : work rpm of every step in the order of the log [1/min], or a plan of `plan_trial`; None where the log has
            a channel of the work rpm
        parts_per_step : parts ground at each step, one number for all or one a step; counts must agree, nothing is shifted
        leave_out : numbers of parts that are none, or do not count
        mean_of_step : one reading a step, the mean of its parts, instead of one a part
        setup : machine, wheel and work; without it depths are relative

        Raises
        ------
        ValueError
            One line: which counts differ or what is missing, and how to say it.
        """
        from .handing_on import trial

        return trial(self, work_rpms, parts_per_step, leave_out, mean_of_step, setup)

    def write_readings(
        self,
        path: str | Path,
        work_rpms: Iterable[Any] | None = None,
        parts_per_step: int | Sequence[int] = 1,
        leave_out: Iterable[int] = (),
        *,
        mean_of_step: bool = False,
        setup: Setup | None = None,
    ) -> None:
        """Write the readings as a new text file that `read_trial` reads; arguments as for `trial`.

        Without any work rpm its column stays blank, to be typed.
        """
        from .handing_on import write_readings

        write_readings(self, path, work_rpms, parts_per_step, leave_out, mean_of_step, setup)

    def report(self) -> str:
        """What was read, the stretches, the readings and the remarks, as plain text."""
        from .report import report

        return report(self)

    def picture(self, path: str | Path) -> None:
        """Write a picture of the trace as a new file, .svg or .xlsx: numbered parts, other stretches hatched, idle, levels."""
        from .picture import write_picture

        write_picture(self, path)
