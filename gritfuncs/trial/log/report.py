"""The report of a power log, for whoever looks at the picture beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .clock import shown_time
from .rpm import ground
from .sorting import GROUND
from .sweep_plan import SAID

if TYPE_CHECKING:
    from .result import PowerLog

UNITS = {"power": "kW", "current": "A", "relative": ""}


def report(log: PowerLog) -> str:
    unit = UNITS[log.load_kind]
    lines = [
        f"Power log: {log.source}",
        f"{log.trace.rows} rows over {shown_span(log.duration)}" + (f", from {log.clock}" if log.clock else ""),
    ]
    lines += [f"    {remark}" for remark in log.remarks]
    lines += _stretch_lines(log)
    if log.refusal:
        return "\n".join([*lines, f"No readings: {log.refusal}"])
    if log.swept:
        return "\n".join([*lines, *_swept_lines(log, unit)])
    lines.append(f"[[Parts]] {len(ground(log))}, of which {len(log.parts)} can be read; lag {log.lag:.2g} s")
    heads = ("part", "at", "net", "±", "idle", "slope, %", "work rpm")
    units = ("", "", unit, unit, unit, "", "1/min")
    rows = [
        (
            str(part.number),
            shown_time(log, part.start),
            f"{part.net:.4g}",
            f"{part.error:.2g}",
            f"{part.idle:.4g}",
            f"{100 * part.slope:+.1f}",
            "-" if part.work_rpm is None else f"{part.work_rpm:.4g}",
        )
        for part in log.parts
    ]
    lines += ["    " + "".join(f"{cell:>11}" for cell in row).rstrip() for row in (heads, units, *rows) if any(row)]
    return "\n".join([*lines, "    ± is two standard errors of net; slope is the change over the steady stretch."])


def _swept_lines(log: PowerLog, unit: str) -> list[str]:
    """The net load at each rpm of the parts in which it was swept."""
    lines = []
    for part in log.swept:
        lines.append(f"[[Part {part.number}, swept: {SAID}]] lag {part.lag:.2g} s; idle {part.idle:.4g} {unit}")
        rows = [(f"{rpm:.4g}", f"{net:.4g}", f"{error:.2g}") for rpm, net, error in zip(part.work_rpms, part.nets, part.errors)]
        for row in (("work rpm", "net", "±"), ("1/min", unit, unit), *rows):
            lines.append("    " + "".join(f"{cell:>11}" for cell in row).rstrip())
    return [*lines, "    ± is two standard errors of net by the fit; slow wandering along the part is only partly in it."]


def _stretch_lines(log: PowerLog) -> list[str]:
    """Every stretch that is no readable part, and how many are."""
    other = [stretch for stretch in log.stretches if stretch.word != "part"]
    lines = [f"[[Stretches]] {len(log.stretches)} above idle"]
    number = 0
    for stretch in log.stretches:
        number += stretch.word in GROUND
        if stretch in other:
            which = f"part {number}, " if stretch.word in GROUND else ""
            lines.append(f"    {shown_time(log, stretch.start):>11}  {which}{stretch.word}: {stretch.why}")
    return lines


def shown_span(seconds: float) -> str:
    """Seconds as hours, minutes and seconds."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s" if minutes else f"{seconds:.3g} s"
