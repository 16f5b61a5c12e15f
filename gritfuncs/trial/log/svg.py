"""The picture of a log as SVG: the whole trace, one part large, and the net loads side by side.  Legible without colour."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple
from xml.sax.saxutils import escape

import numpy as np

from .clock import shown_time
from .drawing import UNITS, bands, labels, thinned, title

if TYPE_CHECKING:
    from .result import PartReading, PowerLog

WIDTH, HEIGHT = 1200, 680
_ROUND_TIMES = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400, 43_200)  # s
_HEAD = f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="13">
<defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
<rect width="7" height="7" fill="#fff4e0"/><line x1="0" y1="0" x2="0" y2="7" stroke="#b36b00" stroke-width="2"/></pattern></defs>
<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>"""


class _Panel(NamedTuple):
    """A rectangle on the page and the values at its edges."""

    left: float
    top: float
    right: float
    bottom: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at_x(self, value: float) -> float:
        return self.left + (value - self.x[0]) / (self.x[1] - self.x[0]) * (self.right - self.left)

    def at_y(self, value: float) -> float:
        return self.bottom - (value - self.y[0]) / (self.y[1] - self.y[0]) * (self.bottom - self.top)


def svg(log: PowerLog) -> str:
    lines = [_HEAD, _text(60, 26, title(log), size=16, weight="bold")]
    if log.refusal:
        lines += [_text(60, 44 + 15 * row, line, size=12) for row, line in enumerate(textwrap.wrap(log.refusal, 185)[:2])]
    lines += _trace(log)
    if log.parts:
        middle = sorted(log.parts, key=lambda part: part.net)[len(log.parts) // 2]
        lines += _one_part(log, middle) + _nets(log)
    return "\n".join([*lines, "</svg>\n"])


def _trace(log: PowerLog) -> list[str]:
    time, power = thinned(log)
    low, high = min(0.0, float(power.min())), float(np.percentile(power, 99.9)) * 1.02
    high = max([high, *(part.level for part in log.parts)]) or 1.0
    panel = _Panel(60, 124, WIDTH - 20, 360, (float(time[0]), float(time[-1])), (low, high + 0.02 * (high - low)))
    lines = []
    for band in bands(log):
        x, width = panel.at_x(band.start), max(1.5, panel.at_x(band.end) - panel.at_x(band.start))
        lines.append(_box(x, panel.top, width, panel.bottom - panel.top, "#dce8f5" if band.reading else "url(#hatch)"))
    for label in labels(log, 0.02 * log.duration):
        x, y = panel.at_x(label.at), panel.top - 6
        turn = f'transform="rotate(-55 {x + 4:.1f} {y:.1f})"'
        if label.is_part:
            lines.append(_text(x, y, label.text, "middle", 13, "bold"))
        else:
            lines.append(f'<text x="{x + 4:.1f}" y="{y:.1f}" font-size="11" {turn}>{escape(label.text)}</text>')
    for first, last in log.holes:
        lines.append(_text((panel.at_x(first) + panel.at_x(last)) / 2, panel.bottom - 8, "hole", "middle", 11))
    lines.append(_curve(panel, time, power))
    lines += [mark for part in log.parts for mark in _marks(panel, part)]
    clocked = "time" if log.is_clock else "time, min:s"
    lines += _axes(
        panel, log, UNITS[log.load_kind], clocked, [(value, shown_time(log, value)) for value in _moments(*panel.x, 8)]
    )
    lines.append(
        _text(
            60,
            402,
            "Blue: parts, numbered. Hatched: every other stretch with its word. Thick bar: level in the steady stretch. Dotted: idle.",
            size=12,
        )
    )
    return lines


def _marks(panel: _Panel, part: PartReading) -> list[str]:
    level, idle = panel.at_y(part.level), panel.at_y(part.idle)
    return [
        f'<line x1="{panel.at_x(part.steady_start):.1f}" x2="{panel.at_x(part.steady_end):.1f}" y1="{level:.1f}" y2="{level:.1f}" stroke="black" stroke-width="4"/>',
        f'<line x1="{panel.at_x(part.start) - 4:.1f}" x2="{panel.at_x(part.end) + 4:.1f}" y1="{idle:.1f}" y2="{idle:.1f}" stroke="black" stroke-width="2" stroke-dasharray="2 3"/>',
    ]


def _one_part(log: PowerLog, part: PartReading) -> list[str]:
    trace = log.trace
    first = max(0, int((part.start - trace.start - 6) / trace.interval))
    last = min(len(trace.power), int((part.end - trace.start + 6) / trace.interval))
    time, power = thinned(log, first, last)
    low, high = min(part.idle, float(power.min())), max(part.level, float(power.max()))
    edge = 0.08 * (high - low)
    panel = _Panel(60, 440, 610, 630, (float(time[0]), float(time[-1])), (low - edge, high + edge))
    x, width = panel.at_x(part.steady_start), panel.at_x(part.steady_end) - panel.at_x(part.steady_start)
    inside = x + min(30.0, width / 4)
    arrow = f'<line x1="{inside:.1f}" x2="{inside:.1f}" y1="{panel.at_y(part.idle):.1f}" y2="{panel.at_y(part.level):.1f}" stroke="black" stroke-width="1.5"/>'
    unit = {"power": " kW", "current": " A", "relative": ""}[log.load_kind]
    net = f"net {part.net:.3g} ± {part.error:.2g}{unit}"
    return [
        _text(
            60,
            430,
            f"Part {part.number}: steady stretch (blue) from 3 lags after contact to the end of infeed",
            size=13,
            weight="bold",
        ),
        _box(x, panel.top, width, panel.bottom - panel.top, "#dce8f5"),
        _curve(panel, time, power),
        *_marks(panel, part),
        arrow,
        _text(inside + 6, (panel.at_y(part.idle) + panel.at_y(part.level)) / 2, net, size=15),
        *_axes(panel, log, UNITS[log.load_kind], "", [(value, shown_time(log, value)) for value in _moments(*panel.x, 4)]),
    ]


def _nets(log: PowerLog) -> list[str]:
    rpms = [part.work_rpm for part in log.parts]
    by_rpm = all(rpm is not None for rpm in rpms)
    xs = [float(part.work_rpm or 0) if by_rpm else float(part.number) for part in log.parts]
    lows, highs = [part.net - part.error for part in log.parts], [part.net + part.error for part in log.parts]
    edge, span = 0.08 * (max(highs) - min(lows)) or 1.0, (max(xs) - min(xs)) or 1.0
    panel = _Panel(
        700, 440, WIDTH - 20, 630, (min(xs) - 0.05 * span, max(xs) + 0.05 * span), (min(lows) - edge, max(highs) + edge)
    )
    lines = [_text(700, 430, "Net load of each part, ± 2 standard errors", size=13, weight="bold")]
    for x, part in zip(xs, log.parts):
        at = panel.at_x(x)
        lines.append(
            f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{panel.at_y(part.net - part.error):.1f}" y2="{panel.at_y(part.net + part.error):.1f}" stroke="black"/>'
        )
        lines.append(f'<circle cx="{at:.1f}" cy="{panel.at_y(part.net):.1f}" r="3.5"/>')
    ticks = [(value, f"{value:g}") for value in _ticks(*panel.x, 6) if by_rpm or value == int(value)]
    return lines + _axes(panel, log, f"net {UNITS[log.load_kind]}", "work rpm, 1/min" if by_rpm else "part", ticks)


def _axes(panel: _Panel, log: PowerLog, y_label: str, x_label: str, x_ticks: Sequence[tuple[float, str]]) -> list[str]:
    lines = [
        f'<rect x="{panel.left}" y="{panel.top}" width="{panel.right - panel.left}" height="{panel.bottom - panel.top}" fill="none" stroke="#444"/>'
    ]
    for value, shown in x_ticks:
        x = panel.at_x(value)
        lines += [
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{panel.bottom}" y2="{panel.bottom + 4}" stroke="#444"/>',
            _text(x, panel.bottom + 17, shown, "middle", 12),
        ]
    for value in _ticks(*panel.y, 5):
        y = panel.at_y(value)
        lines += [
            f'<line x1="{panel.left - 4}" x2="{panel.left}" y1="{y:.1f}" y2="{y:.1f}" stroke="#444"/>',
            _text(panel.left - 7, y + 4, f"{value:g}", "end", 12),
        ]
    x, y = panel.left - 44, (panel.top + panel.bottom) / 2
    lines.append(f'<text x="{x}" y="{y}" text-anchor="middle" transform="rotate(-90 {x} {y})">{escape(y_label)}</text>')
    return lines + [_text(panel.right, panel.bottom + 32, x_label, "end", 12)]


def _moments(low: float, high: float, count: int) -> list[float]:
    """Round times between two others."""
    wanted = (high - low) / count
    step = next((step for step in _ROUND_TIMES if step >= wanted), 86_400 * math.ceil(wanted / 86_400))
    return [float(place * step) for place in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _ticks(low: float, high: float, count: int) -> list[float]:
    """Round values between two others."""
    rough = (high - low) / count
    size = 10 ** math.floor(math.log10(rough))
    step = next(size * factor for factor in (1, 2, 5, 10) if size * factor >= rough)
    return [round(place * step, 10) for place in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _curve(panel: _Panel, time: np.ndarray, power: np.ndarray) -> str:
    points = " ".join(f"{panel.at_x(x):.1f},{max(panel.top, panel.at_y(y)):.1f}" for x, y in zip(time, power))
    return f'<polyline points="{points}" fill="none" stroke="#555" stroke-width="0.8"/>'


def _box(x: float, y: float, width: float, height: float, fill: str) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"/>'


def _text(x: float, y: float, text: str, anchor: str = "start", size: int = 13, weight: str = "normal") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" font-weight="{weight}">{escape(text)}</text>'
