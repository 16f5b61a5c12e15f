"""The charts of plunge_cycle.xlsx over time: stock left on the radius, and grit depth with its band."""

from __future__ import annotations

from openpyxl.chart import Reference

from ..book import Book, Page
from ..charts import add_line, scatter_chart
from ..conditions import are_numbers, first_of
from .stages import REMOVING, STAGES, over

_DASHES = {"rough": None, "semi": None, "finish": None, "traverse": "sysDash"}
_COLOURS = {"rough": "1F1F1F", "semi": "1F4E79", "finish": "C00000", "traverse": "7F6000"}
_ROWS = 20  # of the sheet that a chart covers


def row_below(results: Page) -> int:
    """The first row below both charts."""
    return results.chart_row + 2 * _ROWS


def add(book: Book, results: Page) -> None:
    """Put both charts beside the results; their data stand on a sheet of their own, #N/A where there is nothing to draw."""
    data = book.page("Chart data", "Chart data", (44, 14, 14))
    data.note("#N/A draws nothing.")

    def points(label: str, pairs):
        start = data.row
        for x, y in pairs:
            data.cells((label, "=" + x, "=" + y), formats=(None, "0.000", "0.0000"))
        return tuple(Reference(data.sheet, min_col=column, min_row=start, max_row=data.row - 1) for column in (2, 3))

    def until(count: int) -> str:
        """Time when so many stages are over."""
        return f"IF(out_ready=1,{over('SUM', 'time', STAGES[:count])},NA())"

    def left(count: int) -> str:
        return f"IF(out_ready=1,{over('SUM', 'stock', STAGES[count:])},NA())"

    data.table_head(("what it draws", "time, s", "value"))
    stock = points("stock left on the radius, mm", [(until(count), left(count)) for count in range(len(STAGES) + 1)])
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

    chart = scatter_chart("Stock left", "time, s", "stock left on the radius, mm", 23, 9.5)
    add_line(chart, "stock left on the radius", *stock)
    results.sheet.add_chart(chart, f"F{results.chart_row}")
    chart = scatter_chart("Grit depth of the stages", "time, s", "grit depth, µm", 23, 9.5)
    for stage in REMOVING:
        add_line(chart, stage.label, *depths[stage.name], colour=_COLOURS[stage.name], points=4, dash=_DASHES[stage.name])
    add_line(chart, "lower edge of the band", *band["lower"], colour="548235", dash="dash")
    add_line(chart, "upper edge of the band", *band["upper"], colour="548235", dash="sysDot")
    results.sheet.add_chart(chart, f"F{results.chart_row + _ROWS}")
