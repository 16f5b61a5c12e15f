"""What a chart shows, in plain numbers and words, whatever it is drawn with.

Everything differs by shape or stroke and says in words what it is: colours only help, and a grey print loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil, floor, log10
from typing import NamedTuple, Union

SHAPES = ("dot", "square", "triangle", "diamond", "ring", "cross")
STROKES = ("solid", "dashed", "dotted", "dash-dotted")
# Dark to light, so that they differ in grey as well.
COLOURS = ("#1b3f77", "#c2570c", "#2f7d54", "#8a5fb0", "#4d4d4d", "#9a7d0a")
TICKS = 6
_EDGE = 0.06  # of the span, left free about what is drawn


class Points(NamedTuple):
    """Single values."""

    x: Sequence[float]
    y: Sequence[float]
    label: str
    shape: str = "dot"
    colour: str = "black"
    words: Sequence[str] = ()  # beside each point; none where it is empty


class Line(NamedTuple):
    """A line through its corners."""

    x: Sequence[float]
    y: Sequence[float]
    label: str
    stroke: str = "solid"
    colour: str = "black"


class Band(NamedTuple):
    """A stretch of the horizontal axis, over the whole height; None goes on to the edge of the chart."""

    low: float | None
    high: float | None
    label: str
    colour: str = "black"
    lean: int = 1  # 1 or -1: which way its hatching leans


class Upright(NamedTuple):
    """An upright line over the whole height with a word at its top."""

    x: float
    word: str
    stroke: str = "dashed"
    colour: str = "black"


class Chart(NamedTuple):
    """A chart: what its axes mean, and what is drawn, from the back to the front."""

    title: str
    x_label: str
    y_label: str
    layers: tuple[Layer, ...]

    @property
    def x_range(self) -> tuple[float, float]:
        """From where to where the horizontal axis goes."""
        values: list[float] = []
        for layer in self.layers:
            if isinstance(layer, (Points, Line)):
                values += layer.x
            elif isinstance(layer, Band):
                values += [value for value in (layer.low, layer.high) if value is not None]
            else:
                values.append(layer.x)
        return with_edges(values)

    @property
    def y_range(self) -> tuple[float, float]:
        """From where to where the vertical axis goes."""
        return with_edges([value for layer in self.layers if isinstance(layer, (Points, Line)) for value in layer.y])


Layer = Union[Points, Line, Band, Upright]


def with_edges(values: Iterable[float]) -> tuple[float, float]:
    """The span of some values with a little room on both sides; never an empty one."""
    known = list(values) or [0.0, 1.0]
    low, high = min(known), max(known)
    room = _EDGE * (high - low) or _EDGE * abs(high) or 1.0
    return low - room, high + room


def ticks(low: float, high: float, count: int = TICKS) -> list[float]:
    """Round values between two others, about so many."""
    rough = (high - low) / count
    size = 10.0 ** floor(log10(rough))
    step = next(size * factor for factor in (1, 2, 5, 10) if size * factor >= rough * (1 - 1e-9))
    return [float(f"{place * step:.12g}") for place in range(ceil(low / step), floor(high / step) + 1)]
