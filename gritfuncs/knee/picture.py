"""The chart of a knee: the fitted curve, the interval hatched, the knee as a line with its words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..pictures.chart import Band, Chart, Layer, Line, Points, Upright
from .sentence import name_of, said

if TYPE_CHECKING:
    from .result import Knee

CURVE_POINTS = 40  # of a curved fall
READINGS, FIT, SUSPECT = "readings", "fitted line", "out of line with the others"
_SIDE = 0.3  # of the knee; how far a chart without readings goes to both sides


def chart_of(knee: Knee, depths: Sequence[float], energies: Sequence[float], depth_unit: str = "µm") -> Chart:
    """The chart of a knee with the readings that it comes from, or of the fitted curve alone where none are given."""
    layers = interval_layers(knee, depth_unit)
    first, last = _span(knee, depths)
    layers += fit_layers(knee, first, last)
    if len(depths):
        layers += reading_layers(knee, depths, energies)
    if knee.knee is not None:
        layers.append(Upright(knee.knee, f"knee {knee.knee:.4g}{_unit(depth_unit)}"))
    title = said(knee.reasons[0], None, depth_unit) if knee.reasons else ""
    return Chart(f"{knee.verdict}: {title}" if title else knee.verdict, f"grit depth, {depth_unit}", "energy", tuple(layers))


def reading_layers(knee: Knee, depths: Sequence[float], energies: Sequence[float], names: list[str] | None = None) -> list[Layer]:
    """The readings, and a ring about one that is out of line."""
    layers: list[Layer] = [Points(depths, energies, READINGS)]
    if knee.suspect is not None:
        at = knee.suspect
        layers.append(Points([depths[at]], [energies[at]], SUSPECT, "ring", words=[name_of(at, names)]))
    return layers


def fit_layers(knee: Knee, first: float, last: float) -> list[Layer]:
    """The fitted curve between two depths; nothing where there is none."""
    if knee.level is None:
        return []
    corner = knee.knee
    if corner is None:
        return [Line([first, last], [knee.level, knee.level], "level")]
    steps = CURVE_POINTS if knee.curved else 1
    places = [first + (corner - first) * step / steps for step in range(steps)] + [corner, last]
    return [Line(places, [knee.level if energy is None else energy for energy in map(knee.energy, places)], FIT)]


def interval_layers(knee: Knee, depth_unit: str) -> list[Layer]:
    """Where the knee may lie: its interval, or all that is above a lower bound."""
    unit = _unit(depth_unit)
    if knee.knee is not None and knee.low is not None and knee.high is not None:
        return [Band(knee.low, knee.high, f"95 % interval of the knee: {knee.low:.4g} to {knee.high:.4g}{unit}")]
    if knee.low is not None:
        return [Band(knee.low, None, f"any knee lies above {knee.low:.4g}{unit}")]
    return []


def _unit(depth_unit: str) -> str:
    return f" {depth_unit}" if depth_unit == "µm" else ""  # a relative depth has none


def _span(knee: Knee, depths: Sequence[float]) -> tuple[float, float]:
    if len(depths):
        return min(depths), max(depths)
    at = knee.knee or knee.low or 1.0
    return at * (1 - _SIDE), at * (1 + _SIDE)
