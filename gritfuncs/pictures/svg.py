"""Drawing as SVG: axes, points, lines and words at places of a page.  Standard library only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from ..markup import Markup, element, joined
from .chart import Band, Chart, Line, Points, Upright, ticks

DASHES = {"solid": None, "dashed": "8 4", "dotted": "2 3", "dash-dotted": "9 3 2 3"}
NAMESPACE = "http://www.w3.org/2000/svg"
HALO = {"stroke": "white", "stroke_width": "4", "stroke_linejoin": "round", "paint_order": "stroke"}  # words on top of lines
_GREY = "#444"
_SIGN = 0.56  # mean width of a sign, in heights


class Panel(NamedTuple):
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


def page(width: float, height: float, *content: object, title: str = "") -> Markup:
    """A whole picture; `title` is what it is to who cannot see it."""
    return element(
        "svg",
        *([element("title", title)] if title else []),
        element("rect", width=width, height=height, fill="white"),
        *content,
        xmlns=NAMESPACE,
        viewBox=f"0 0 {width:g} {height:g}",
        role="img",
        font_family="sans-serif",
        font_size=13,
    )


def words(
    x: float,
    y: float,
    said: str,
    anchor: str = "start",
    size: float = 13,
    weight: str | None = None,
    turn: float = 0.0,
    **more: str,
) -> Markup:
    """Words at a place, turned about it by so many degrees."""
    turned = f"rotate({turn:g} {x:.1f} {y:.1f})" if turn else None
    anchored = None if anchor == "start" else anchor
    return element(
        "text", said, x=float(x), y=float(y), text_anchor=anchored, font_size=size, font_weight=weight, transform=turned, **more
    )


def line(x1: float, y1: float, x2: float, y2: float, stroke: str = "black", width: float = 1, dash: str | None = None) -> Markup:
    places = dict(x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2))
    return element("line", **places, stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def box(x: float, y: float, width: float, height: float, fill: str, stroke: str | None = None) -> Markup:
    return element("rect", x=float(x), y=float(y), width=float(width), height=float(height), fill=fill, stroke=stroke)


def polyline(places: Iterable[tuple[float, float]], stroke: str, width: float, dash: str | None = None) -> Markup:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    return element("polyline", points=points, fill="none", stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def hatching(name: str, lean: int, stroke: str, fill: str = "none", step: float = 7, width: float = 1) -> Markup:
    """A pattern of slanting lines, to be used as the fill `url(#name)`."""
    return element(
        "pattern",
        element("rect", width=step, height=step, fill=fill),
        line(0, 0, 0, step, stroke, width),
        id=name,
        width=step,
        height=step,
        patternUnits="userSpaceOnUse",
        patternTransform=f"rotate({45 * lean})",
    )


def point(shape: str, x: float, y: float, colour: str = "black", size: float = 4) -> Markup:
    """A sign at a place, by the name of its shape."""
    x, y = float(x), float(y)
    if shape == "dot":
        return element("circle", cx=x, cy=y, r=size, fill=colour)
    if shape == "ring":
        return element("circle", cx=x, cy=y, r=size + 3, fill="none", stroke=colour, stroke_width=1.5)
    if shape == "square":
        return element(
            "rect", x=x - size, y=y - size, width=2 * size, height=2 * size, fill="white", stroke=colour, stroke_width=1.8
        )
    if shape == "cross":
        arms = f"M{x - size:.1f} {y - size:.1f}l{2 * size} {2 * size}M{x - size:.1f} {y + size:.1f}l{2 * size} {-2 * size}"
        return element("path", d=arms, stroke=colour, stroke_width=2.2)
    far = size * 1.3
    corners = {
        "triangle": f"M{x:.1f} {y - far:.1f}L{x + far:.1f} {y + size:.1f}H{x - far:.1f}Z",
        "diamond": f"M{x:.1f} {y - far:.1f}L{x + far:.1f} {y:.1f}L{x:.1f} {y + far:.1f}L{x - far:.1f} {y:.1f}Z",
    }
    return element("path", d=corners[shape], fill=colour if shape == "triangle" else "white", stroke=colour, stroke_width=1.5)


def axes(
    panel: Panel,
    x_label: str,
    y_label: str,
    x_ticks: Sequence[tuple[float, str]] | None = None,
    y_ticks: Sequence[tuple[float, str]] | None = None,
) -> Markup:
    """A frame with ticks and what they mean; round values where none are given."""
    x_ticks = _numbered(panel.x) if x_ticks is None else x_ticks
    y_ticks = _numbered(panel.y, 7) if y_ticks is None else y_ticks
    parts = [box(panel.left, panel.top, panel.right - panel.left, panel.bottom - panel.top, "none", _GREY)]
    for value, said in x_ticks:
        x = panel.at_x(value)
        parts += [line(x, panel.bottom, x, panel.bottom + 4, _GREY), words(x, panel.bottom + 17, said, "middle", 12)]
    for value, said in y_ticks:
        y = panel.at_y(value)
        parts += [line(panel.left - 4, y, panel.left, y, _GREY), words(panel.left - 7, y + 4, said, "end", 12)]
    parts.append(words(panel.left - 46, (panel.top + panel.bottom) / 2, y_label, "middle", turn=-90))
    return joined([*parts, words(panel.right, panel.bottom + 34, x_label, "end", 12)])


def _numbered(span: tuple[float, float], count: int = 6) -> list[tuple[float, str]]:
    return [(value, f"{value:g}") for value in ticks(*span, count)]


def chart_svg(chart: Chart, width: float = 720, height: float = 420) -> Markup:
    """The chart with its key below; nothing in it tells by colour alone."""
    keys = [layer for layer in chart.layers if not isinstance(layer, Upright) and layer.label]
    rows = _key_rows([layer.label for layer in keys], width - 80)
    bottom = height - 52 - 20 * len(rows)
    panel = Panel(66, 40, width - 14, bottom, chart.x_range, chart.y_range)
    hatched = {_pattern(layer): layer for layer in chart.layers if isinstance(layer, Band)}
    made = [
        element("defs", *(hatching(name, layer.lean, layer.colour) for name, layer in hatched.items())),
        words(panel.left, 18, chart.title, size=14, weight="bold"),
    ]
    raised = 0
    for layer in chart.layers:
        if isinstance(layer, Band):
            made.append(_band(panel, layer))
        elif isinstance(layer, Line):
            places = [(panel.at_x(x), panel.at_y(y)) for x, y in zip(layer.x, layer.y)]
            made.append(polyline(places, layer.colour, 2, DASHES[layer.stroke]))
        elif isinstance(layer, Points):
            made += [point(layer.shape, panel.at_x(x), panel.at_y(y), layer.colour) for x, y in zip(layer.x, layer.y)]
            made += [
                words(panel.at_x(x) + 8, panel.at_y(y) - 6, said, size=12) for x, y, said in zip(layer.x, layer.y, layer.words)
            ]
        else:
            made.append(_upright(panel, layer, 14 * raised))
            raised += 1
    made.append(axes(panel, chart.x_label, chart.y_label))
    for row, places in enumerate(rows):
        y = bottom + 58 + 20 * row
        for number, x in places:
            made.append(_sample(keys[number], panel.left + x, y))
            made.append(words(panel.left + x + 34, y + 4, keys[number].label, size=12))
    return page(width, height, *made, title=chart.title)


def _pattern(band: Band) -> str:
    """Its hatching's name: the same in every picture of a page where it looks the same."""
    return f"hatch-{'up' if band.lean > 0 else 'down'}-{band.colour.lstrip('#')}"


def _band(panel: Panel, band: Band) -> Markup:
    low = panel.left if band.low is None else panel.at_x(band.low)
    high = panel.right if band.high is None else panel.at_x(band.high)
    filled = box(low, panel.top, max(1.5, high - low), panel.bottom - panel.top, f"url(#{_pattern(band)})")
    edges = [
        line(x, panel.top, x, panel.bottom, band.colour) for x, end in ((low, band.low), (high, band.high)) if end is not None
    ]
    return element("g", filled, *edges, opacity="0.45")


def _upright(panel: Panel, upright: Upright, lower: float) -> Markup:
    """Several stand their words below one another, on the side where there is room."""
    x = panel.at_x(upright.x)
    left = x > (panel.left + panel.right) / 2
    return joined(
        [
            line(x, panel.top, x, panel.bottom, upright.colour, 1.5, DASHES[upright.stroke]),
            words(x - 6 if left else x + 6, panel.top + 16 + lower, upright.word, "end" if left else "start", 13, "bold", **HALO),
        ]
    )


def _sample(layer: Points | Line | Band, x: float, y: float) -> Markup:
    if isinstance(layer, Points):
        return point(layer.shape, x + 14, y, layer.colour)
    if isinstance(layer, Line):
        return line(x, y, x + 28, y, layer.colour, 2, DASHES[layer.stroke])
    return box(x, y - 7, 28, 14, f"url(#{_pattern(layer)})", layer.colour)


def _key_rows(labels: Sequence[str], width: float) -> list[list[tuple[int, float]]]:
    """Which label stands where, row by row."""
    rows: list[list[tuple[int, float]]] = []
    x = width
    for number, label in enumerate(labels):
        needed = 34 + 12 * _SIGN * len(label) + 18
        if not rows or x + needed > width:
            rows.append([])
            x = 0.0
        rows[-1].append((number, x))
        x += needed
    return rows
