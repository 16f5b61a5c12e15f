"""The readings of a log as the text of a file that `read_trial` reads, and as the trial that it gives."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...files import write_new
from ...quantities import QUANTITIES, SIDE_WORDS
from ...refused import Refused, Unusable
from ...values import shown
from ..read import read_trial
from ..result import Trial
from ..setup import Setup
from .clock import shown_time
from .rpm import NO_PART, Step, steps
from .sweep_plan import SAID

if TYPE_CHECKING:
    from .result import PartReading, PowerLog

HEADINGS = {"power": "power [kW]", "current": "current [A]", "relative": "load"}
FAR = 3  # errors; a scatter within a step that is larger is named


def trial(
    log: PowerLog,
    work_rpms: Iterable[Any] | None,
    parts_per_step: int | Sequence[int],
    leave_out: Iterable[int],
    mean_of_step: bool,
    setup: Setup | None,
) -> Trial:
    """The trial that `read_trial` makes of the readings."""
    _refuse(log)
    if work_rpms is None and log.trace.rpm is None and not log.swept:
        raise Refused("work_rpms", "be given, one a step", "none, and the log has no channel of the work rpm").at(log.source)
    found = _steps(log, work_rpms, parts_per_step, leave_out)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        path.write_bytes(_text(log, found, mean_of_step, setup).encode("utf-8"))
        read = read_trial(path)
    return replace(read, source=log.source, remarks=read.remarks + log.remarks + tuple(_step_remarks(log, found)))


def write_readings(
    log: PowerLog,
    path: str | Path,
    work_rpms: Iterable[Any] | None,
    parts_per_step: int | Sequence[int],
    leave_out: Iterable[int],
    mean_of_step: bool,
    setup: Setup | None,
) -> None:
    """Write the readings as a new file."""
    _refuse(log)
    text = _text(log, _steps(log, work_rpms, parts_per_step, leave_out), mean_of_step, setup)
    write_new(path, text.encode("utf-8"))


def _refuse(log: PowerLog) -> None:
    if log.refusal:
        raise Unusable(log.refusal).at(log.source)


def _steps(log: PowerLog, work_rpms: Any, parts_per_step: Any, leave_out: Iterable[int]) -> list[Step]:
    if log.swept and work_rpms is not None:
        raise Refused("work_rpms", "be left out where the rpm was swept", shown(work_rpms)).at(log.source)
    try:
        return steps(log, work_rpms, parts_per_step, leave_out)
    except Refused as refused:
        raise refused.at(log.source) from None


def _text(log: PowerLog, found: Sequence[Step], mean_of_step: bool, setup: Setup | None) -> str:
    """Setup and kind of load in lines of their own, then a row for every part, or for every step."""
    file = io.StringIO(newline="")
    write = csv.writer(file, lineterminator="\n").writerow
    write([f"# Readings of {log.source}. Errors behind ± are 2 standard errors."])
    for name, value in asdict(setup).items() if setup else ():
        if value is not None:
            side = next((word for word, number in SIDE_WORDS.items() if number == value), value) if name == "side" else None
            write([name, side] if side else [name, f"{value:.12g}", QUANTITIES[name].unit])
    if log.load_kind == "relative":
        write(["load_kind", "relative"])
    write(["work rpm [1/min]", HEADINGS[log.load_kind], "idle", "use?", "note"])
    for row in _swept_rows(log, found) if log.swept else _rows(log, found, mean_of_step):
        write(row)
    return file.getvalue()


def _rows(log: PowerLog, found: Sequence[Step], mean_of_step: bool) -> list[list[str]]:
    readings = {reading.number: reading for reading in log.parts}
    rows = []
    for one in found:
        reading = readings.get(one.part.number)
        if one.left_out or reading is None:
            when = shown_time(log, one.part.start)
            load = [_figures(reading.level), _figures(reading.idle)] if reading else ["", ""]
            rows.append([_rpm(one.work_rpm), *load, "no", f"part {one.part.number}, {when}: {one.left_out}"])
            continue
        alike = [readings[other.part.number] for other in found if not other.left_out and other.step == one.step]
        if not mean_of_step or not one.step:
            note = f"part {one.part.number}, {shown_time(log, one.part.start)}, ± {reading.error:.2g}"
            rows.append([_rpm(one.work_rpm), _figures(reading.level), _figures(reading.idle), "yes", note])
        elif alike[0] is reading:
            rows.append([_rpm(one.work_rpm), *_mean(alike), "yes", _mean_note(alike)])
    return rows


def _swept_rows(log: PowerLog, found: Sequence[Step]) -> list[list[str]]:
    """A row for each rpm of every part that was swept and is not left out."""
    left_out = {one.part.number for one in found if one.left_out == NO_PART}
    rows = []
    for part in (part for part in log.swept if part.number not in left_out):
        for rpm, net, error in zip(part.work_rpms, part.nets, part.errors):
            note = f"part {part.number}, swept, ± {error:.2g}; {SAID}"
            rows.append([_rpm(rpm), _figures(part.idle + net), _figures(part.idle), "yes", note])
    return rows


def _mean(alike: Sequence[PartReading]) -> list[str]:
    return [_figures(sum(getattr(one, name) for one in alike) / len(alike)) for name in ("level", "idle")]


def _mean_note(alike: Sequence[PartReading]) -> str:
    error = sum(one.error**2 for one in alike) ** 0.5 / len(alike)
    return f"mean of parts {', '.join(str(one.number) for one in alike)}, ± {error:.2g}"


def _step_remarks(log: PowerLog, found: Sequence[Step]) -> list[str]:
    """Steps whose parts differ by more than their errors can say: was a part taken for another step?"""
    readings = {reading.number: reading for reading in log.parts}
    said = []
    for step in sorted({one.step for one in found if one.step and not one.left_out}):
        alike = [readings[one.part.number] for one in found if one.step == step and not one.left_out]
        nets, error = [one.net for one in alike], max(one.error for one in alike)
        if len(alike) > 1 and max(nets) - min(nets) > FAR * error:
            numbers = ", ".join(str(one.number) for one in alike)
            said.append(
                f"Parts {numbers} of one step differ by {max(nets) - min(nets):.3g}, more than {FAR} times their error: "
                "scatter from part to part, or the steps do not lie where the plan has them."
            )
    return said


def _rpm(work_rpm: float | None) -> str:
    return "" if work_rpm is None else _figures(work_rpm)


def _figures(value: float) -> str:
    return f"{value:.7g}"
