"""The picture of a log as SVG: the whole trace, one part large, and the net loads side by side.  Legible without colour."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

import numpy as np

from ...markup import Markup, element, joined
from ...pictures.chart import ticks
from ...pictures.svg import Panel, axes, box, hatching, line, page, point, polyline, words
from .clock import shown_time
from .drawing import UNITS, bands, labels, thinned, title

if TYPE_CHECKING:
    from .result import PartReading, PowerLog

WIDTH, HEIGHT = 1200, 680
BLUE, HATCH, EDGE = "#dce8f5", "hatch", "#b36b00"
_ROUND_TIMES = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400, 43_200)  # s


def svg(log: PowerLog) -> str:
    lines: list[Markup] = [element("defs", hatching(HATCH, 1, EDGE, "#fff4e0", width=2))]
    lines.append(words(60, 26, title(log), size=16, weight="bold"))
    if log.refusal:
        lines += [words(60, 44 + 15 * row, said, size=12) for row, said in enumerate(textwrap.wrap(log.refusal, 185)[:2])]
    lines += _trace(log)
    if log.parts:
        middle = sorted(log.parts, key=lambda part: part.net)[len(log.parts) // 2]
        lines += _one_part(log, middle) + _nets(log)
    return page(WIDTH, HEIGHT, joined(lines, "\n"), title=title(log)) + "\n"


def _trace(log: PowerLog) -> list[Markup]:
    time, power = thinned(log)
    low, high = min(0.0, float(power.min())), float(np.percentile(power, 99.9)) * 1.02
    high = max([high, *(part.level for part in log.parts)]) or 1.0
    panel = Panel(60, 124, WIDTH - 20, 360, (float(time[0]), float(time[-1])), (low, high + 0.02 * (high - low)))
    lines = []
    for band in bands(log):
        x, width = panel.at_x(band.start), max(1.5, panel.at_x(band.end) - panel.at_x(band.start))
        lines.append(box(x, panel.top, width, panel.bottom - panel.top, BLUE if band.reading else f"url(#{HATCH})"))
    for label in labels(log, 0.02 * log.duration):
        x, y = panel.at_x(label.at), panel.top - 6
        if label.is_part:
            lines.append(words(x, y, label.text, "middle", 13, "bold"))
        else:
            lines.append(words(x + 4, y, label.text, size=11, turn=-55))
    for first, last in log.holes:
        lines.append(words((panel.at_x(first) + panel.at_x(last)) / 2, panel.bottom - 8, "hole", "middle", 11))
    lines.append(_curve(panel, time, power))
    lines += [mark for part in log.parts for mark in _marks(panel, part)]
    clocked = "time" if log.is_clock else "time, min:s"
    clock_ticks = [(value, shown_time(log, value)) for value in _moments(*panel.x, 8)]
    lines.append(axes(panel, clocked, UNITS[log.load_kind], clock_ticks))
    lines.append(
        words(
            60,
            402,
            "Blue: parts, numbered. Hatched: every other stretch with its word. Thick bar: level in the steady stretch. Dotted: idle.",
            size=12,
        )
    )
    return lines


def _marks(panel: Panel, part: PartReading) -> list[Markup]:
    level, idle = panel.at_y(part.level), panel.at_y(part.idle)
    return [
        line(panel.at_x(part.steady_start), level, panel.at_x(part.steady_end), level, width=4),
        line(panel.at_x(part.start) - 4, idle, panel.at_x(part.end) + 4, idle, width=2, dash="2 3"),
    ]


def _one_part(log: PowerLog, part: PartReading) -> list[Markup]:
    trace = log.trace
    first = max(0, int((part.start - trace.start - 6) / trace.interval))
    last = min(len(trace.power), int((part.end - trace.start + 6) / trace.interval))
    time, power = thinned(log, first, last)
    low, high = min(part.idle, float(power.min())), max(part.level, float(power.max()))
    edge = 0.08 * (high - low)
    panel = Panel(60, 440, 610, 630, (float(time[0]), float(time[-1])), (low - edge, high + edge))
    x, width = panel.at_x(part.steady_start), panel.at_x(part.steady_end) - panel.at_x(part.steady_start)
    inside = x + min(30.0, width / 4)
    arrow = line(inside, panel.at_y(part.idle), inside, panel.at_y(part.level), width=1.5)
    unit = {"power": " kW", "current": " A", "relative": ""}[log.load_kind]
    net = f"net {part.net:.3g} ± {part.error:.2g}{unit}"
    return [
        words(
            60,
            430,
            f"Part {part.number}: steady stretch (blue) from 3 lags after contact to the end of infeed",
            size=13,
            weight="bold",
        ),
        box(x, panel.top, width, panel.bottom - panel.top, BLUE),
        _curve(panel, time, power),
        *_marks(panel, part),
        arrow,
        words(inside + 6, (panel.at_y(part.idle) + panel.at_y(part.level)) / 2, net, size=15),
        axes(panel, "", UNITS[log.load_kind], [(value, shown_time(log, value)) for value in _moments(*panel.x, 4)]),
    ]


def _nets(log: PowerLog) -> list[Markup]:
    rpms = [part.work_rpm for part in log.parts]
    by_rpm = all(rpm is not None for rpm in rpms)
    xs = [float(part.work_rpm or 0) if by_rpm else float(part.number) for part in log.parts]
    lows, highs = [part.net - part.error for part in log.parts], [part.net + part.error for part in log.parts]
    edge, span = 0.08 * (max(highs) - min(lows)) or 1.0, (max(xs) - min(xs)) or 1.0
    panel = Panel(
        700, 440, WIDTH - 20, 630, (min(xs) - 0.05 * span, max(xs) + 0.05 * span), (min(lows) - edge, max(highs) + edge)
    )
    lines = [words(700, 430, "Net load of each part, ± 2 standard errors", size=13, weight="bold")]
    for x, part in zip(xs, log.parts):
        at = panel.at_x(x)
        lines.append(line(at, panel.at_y(part.net - part.error), at, panel.at_y(part.net + part.error)))
        lines.append(point("dot", at, panel.at_y(part.net), size=3.5))
    numbered = [(value, f"{value:g}") for value in ticks(*panel.x) if by_rpm or value == int(value)]
    return [*lines, axes(panel, "work rpm, 1/min" if by_rpm else "part", f"net {UNITS[log.load_kind]}", numbered)]


def _moments(low: float, high: float, count: int) -> list[float]:
    """Round times between two others."""
    wanted = (high - low) / count
    step = next((step for step in _ROUND_TIMES if step >= wanted), 86_400 * math.ceil(wanted / 86_400))
    return [float(place * step) for place in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _curve(panel: Panel, time: np.ndarray, power: np.ndarray) -> Markup:
    return polyline(((panel.at_x(x), max(panel.top, panel.at_y(y))) for x, y in zip(time, power)), "#555", 0.8)
