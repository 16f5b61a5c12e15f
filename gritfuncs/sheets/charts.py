"""Native scatter charts that look the same in Excel and LibreOffice."""

from __future__ import annotations

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.axis import ChartLines
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Font, Paragraph, ParagraphProperties

_POINT = 12700  # EMU


def scatter_chart(title: str, x_title: str, y_title: str, width: float, height: float) -> ScatterChart:
    """An empty chart; width and height in cm."""
    chart = ScatterChart(scatterStyle="lineMarker", style=2)
    chart.title, chart.width, chart.height = title, width, height
    chart.title.overlay = False
    chart.legend.position = "b"
    chart.x_axis.axPos = "b"  # openpyxl writes l
    for axis, text in ((chart.x_axis, x_title), (chart.y_axis, y_title)):
        axis.title, axis.delete, axis.majorTickMark, axis.tickLblPos = text, False, "out", "low"
        axis.title.overlay = False
        axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill="D9D9D9", w=_POINT // 2)))
        axis.number_format = "General"
    return chart


def bare_chart() -> ScatterChart:
    """An empty chart without titles and legend, for a sheet whose cells say what it shows."""
    chart = ScatterChart(scatterStyle="lineMarker", style=2)
    chart.legend = None
    chart.x_axis.axPos = "b"
    chart.y_axis.scaling.min = 0
    for axis, shown in ((chart.x_axis, "0.00#"), (chart.y_axis, "General")):
        axis.delete, axis.majorTickMark, axis.tickLblPos, axis.number_format = False, "out", "low", shown
        axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=_plain_line("D9D9D9", 0.5)))
        axis.graphicalProperties = GraphicalProperties(ln=_plain_line("404040", 0.75))
        axis.txPr = text_in(9, "000000")
    chart.graphical_properties = GraphicalProperties(ln=_plain_line("808080", 0.75))
    return chart


def text_in(size: int, colour: str) -> RichText:
    """Text of a chart: Arial in points."""
    look = CharacterProperties(sz=100 * size, solidFill=colour, latin=Font(typeface="Arial"))
    return RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=look), endParaRPr=look)])


def _plain_line(colour: str, points: float) -> LineProperties:
    return LineProperties(solidFill=colour, w=int(points * _POINT))


def add_points(
    chart: ScatterChart, name: str, x: Reference, y: Reference, *, symbol: str = "circle", colour: str = "000000", size: int = 7
) -> None:
    series = Series(y, x, title=name)
    series.smooth = False
    series.marker.symbol, series.marker.size = symbol, size
    series.marker.graphicalProperties = GraphicalProperties(solidFill=colour, ln=LineProperties(solidFill=colour))
    _without_line(series)
    chart.series.append(series)


def _without_line(series: Series) -> None:
    """Points only: a dash beside noFill lets Gnumeric join them."""
    series.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    series.graphicalProperties.ln.prstDash = None


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
