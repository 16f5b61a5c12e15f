"""The charts of plunge_cycle.xlsx over time: stock left on the radius, and grit depth with its band."""

from __future__ import annotations

from openpyxl.chart import Reference

from ...sheets.book import Book
from ...sheets.charts import add_line, scatter_chart
from ...sheets.conditions import are_numbers, first_of
from ...sheets.panels import merged
from ..blocks.shown import factor, unit_words
from .calculation import over
from .results import CHARTS
from .stages import REMOVING, STAGES

_DASHES = {"rough": None, "semi": None, "finish": None, "traverse": "sysDash"}
_COLOURS = {"rough": "1F1F1F", "semi": "1F4E79", "finish": "C00000", "traverse": "7F6000"}
SHEET = "calc charts"
_ROWS = 8  # of the sheet that the upper chart covers
_WIDTH, _HEIGHT = 19.0, 4.0  # cm


def add(book: Book, results) -> None:
    """Put both charts beside the results; their data stand on a sheet of their own, #N/A where there is nothing to draw.

    Every x stays a number: a series whose x are all #N/A spoils the axis.
    """
    data = book.page(SHEET, "What the charts draw (nothing to type here)", (44, 14, 14))
    data.note("#N/A draws nothing.")
    data.table_head(("what it draws", "time, s", f'="in µm, or "&{unit_words("mm")}'))

    def points(label: str, pairs):
        start = data.row
        for x, y in pairs:
            data.cells((label, f"=IFERROR({x},0)", "=" + y), formats=(None, "0.000", "0.0000"))
        return tuple(Reference(data.sheet, min_col=column, min_row=start, max_row=data.row - 1) for column in (2, 3))

    def until(count: int) -> str:
        """Time when so many stages are over."""
        return f"IF(out_ready=1,{over('SUM', 'time', STAGES[:count])},0)"

    def left(count: int) -> str:
        return f"IF(out_ready=1,{over('SUM', 'stock', STAGES[count:])}/{factor('mm')},NA())"

    stock = points("stock left on the radius", [(until(count), left(count)) for count in range(len(STAGES) + 1)])
    depths = {}
    for stage in REMOVING:
        ends = [first_of((are_numbers(depth), depth), otherwise="NA()") for depth in stage.both_ends("grit_depth")]
        place = STAGES.index(stage)
        depths[stage.name] = points(f"grit depth, {stage.label}, µm", zip((until(place), until(place + 1)), ends))
    band = {
        edge: points(
            f"{edge} edge of the band, µm", [(until(count), f"IF(out_ready=1,{cell},NA())") for count in (0, len(STAGES))]
        )
        for edge, cell in (("lower", "out_target_low"), ("upper", "out_target_high"))
    }

    column, row = CHARTS
    caption = f'="stock left on the radius, "&{unit_words("mm")}&", and below it grit depth, µm, both over time, s"'
    merged(results, f"{column}{row}:L{row}", caption, "gf panel label")
    chart = scatter_chart("", "", "stock left", _WIDTH, _HEIGHT)
    chart.legend = None
    add_line(chart, "stock left on the radius", *stock)
    results.add_chart(chart, f"{column}{row + 1}")
    chart = scatter_chart("", "time, s", "grit depth, µm", _WIDTH, _HEIGHT + 2.4)
    for stage in REMOVING:
        add_line(chart, stage.label, *depths[stage.name], colour=_COLOURS[stage.name], points=4, dash=_DASHES[stage.name])
    add_line(chart, "lower edge of the band", *band["lower"], colour="548235", dash="dash")
    add_line(chart, "upper edge of the band", *band["upper"], colour="548235", dash="sysDot")
    results.add_chart(chart, f"{column}{row + 1 + _ROWS}")
