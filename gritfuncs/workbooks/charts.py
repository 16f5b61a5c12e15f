"""Native scatter charts that look the same in Excel and LibreOffice."""

from __future__ import annotations

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.axis import ChartLines
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties

_POINT = 12700  # EMU


def scatter_chart(title: str, x_title: str, y_title: str, width: float, height: float) -> ScatterChart:
    """An empty chart; width and height in cm."""
    chart = ScatterChart(scatterStyle="lineMarker", style=2)
    chart.title, chart.width, chart.height = title, width, height
    chart.title.overlay = False
    chart.legend.position = "b"
    for axis, text in ((chart.x_axis, x_title), (chart.y_axis, y_title)):
        axis.title, axis.delete, axis.majorTickMark, axis.tickLblPos = text, False, "out", "low"
        axis.title.overlay = False
        axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill="D9D9D9", w=_POINT // 2)))
        axis.number_format = "General"
    return chart


def add_points(
    chart: ScatterChart, name: str, x: Reference, y: Reference, *, symbol: str = "circle", colour: str = "000000", size: int = 7
) -> None:
    series = Series(y, x, title=name)
    series.smooth = False
    series.marker.symbol, series.marker.size = symbol, size
    series.marker.graphicalProperties = GraphicalProperties(solidFill=colour, ln=LineProperties(solidFill=colour))
    series.graphicalProperties.line.noFill = True
    chart.series.append(series)


def add_line(
    chart: ScatterChart,
    name: str,
    x: Reference,
    y: Reference,
    *,
    colour: str = "000000",
    points: float = 1.75,
    dash: str | None = None,
) -> None:
    series = Series(y, x, title=name)
    series.smooth = False
    series.marker.symbol = "none"
    line = series.graphicalProperties.line
    line.solidFill, line.width, line.dashStyle = colour, int(points * _POINT), dash
    chart.series.append(series)
