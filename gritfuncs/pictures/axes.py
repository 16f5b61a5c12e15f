"""Drawing a chart with matplotlib, which is an extra: it is imported when a chart is drawn."""

from __future__ import annotations

from typing import Any

from ..refused import Unusable
from .chart import Band, Chart, Line, Points

MISSING = (
    "matplotlib is not installed, which draws this: pip install 'gritfuncs[plots]' (a picture that ends in .svg needs nothing)"
)
_MARKERS = {"dot": "o", "square": "s", "triangle": "^", "diamond": "D", "ring": "o", "cross": "x"}
_HOLLOW = ("square", "diamond", "ring")
_STROKES = {"solid": "-", "dashed": "--", "dotted": ":", "dash-dotted": "-."}


def draw(chart: Chart, ax: Any = None) -> Any:
    """Draw the chart on axes of matplotlib, on new ones where none are given, and give them back."""
    try:
        from matplotlib import pyplot
    except ImportError:
        raise Unusable(MISSING) from None
    if ax is None:
        _, ax = pyplot.subplots(figsize=(7.5, 4.6), layout="constrained")
    return on_axes(chart, ax)


def figure(chart: Chart) -> Any:
    """A figure of its own, which is not shown."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise Unusable(MISSING) from None
    made = Figure(figsize=(7.5, 4.6), layout="constrained")
    on_axes(chart, made.subplots())
    return made


def on_axes(chart: Chart, ax: Any) -> Any:
    """The layers of the chart on these axes."""
    raised = 0
    low, high = chart.x_range
    for layer in chart.layers:
        if isinstance(layer, Band):
            ends = (low if layer.low is None else layer.low, high if layer.high is None else layer.high)
            hatch = "//" if layer.lean > 0 else "\\\\"
            ax.axvspan(*ends, facecolor="none", edgecolor=layer.colour, alpha=0.45, hatch=hatch, label=_plain(layer.label))
        elif isinstance(layer, Line):
            ax.plot(layer.x, layer.y, _STROKES[layer.stroke], color=layer.colour, label=_plain(layer.label))
        elif isinstance(layer, Points):
            _points(ax, layer)
        else:
            ax.axvline(layer.x, linestyle=_STROKES[layer.stroke], color=layer.colour)
            right = layer.x > (low + high) / 2
            ax.annotate(
                _plain(layer.word),
                (layer.x, 0.97 - 0.055 * raised),
                xycoords=("data", "axes fraction"),
                xytext=(-4 if right else 4, 0),
                textcoords="offset points",
                ha="right" if right else "left",
                va="top",
                weight="bold",
            )
            raised += 1
    ax.set_xlim(low, high)
    ax.set_ylim(*chart.y_range)
    ax.set_xlabel(_plain(chart.x_label))
    ax.set_ylabel(_plain(chart.y_label))
    ax.set_title(_plain(chart.title), loc="left", fontsize=11)
    if any(getattr(layer, "label", "") for layer in chart.layers):
        ax.legend(fontsize=8, loc="best")
    return ax


def _points(ax: Any, layer: Points) -> None:
    size = 11 if layer.shape == "ring" else 6
    face = "none" if layer.shape == "ring" else "white" if layer.shape in _HOLLOW else layer.colour
    marker = _MARKERS[layer.shape]
    ax.plot(
        layer.x,
        layer.y,
        marker,
        color=layer.colour,
        markersize=size,
        markerfacecolor=face,
        markeredgewidth=1.5,
        label=_plain(layer.label),
    )
    for x, y, said in zip(layer.x, layer.y, layer.words):
        ax.annotate(_plain(said), (x, y), xytext=(6, 4), textcoords="offset points", fontsize=8)


def _plain(said: str) -> str:
    """Words as they stand: a $ begins no mathematics, and a leading _ does not hide a label."""
    return ("\u200b" + said if said.startswith("_") else said).replace("$", r"\$")
