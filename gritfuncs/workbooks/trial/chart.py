"""The chart of trial.xlsx: readings, fitted line, knee with interval, target band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl.chart import Reference
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.series import SeriesLabel

from ..blocks.knee import LINE_POINTS
from ..book import Book, Page
from ..charts import add_line, add_points, scatter_chart
from .tables import CALCULATION


def add(book: Book, results: Page, block: Mapping[str, str], others: Sequence[tuple[Reference, Reference, Reference]]) -> None:
    """Put the chart below the results; its data stand on a sheet of their own, #N/A where there is nothing to draw.

    others are title, depths and energies of the places for other trials.
    """
    data = book.page("Chart data", "Chart data", (44, 14, 14))
    data.note("#N/A draws nothing.")
    ready = "IF(out_ready=1,{},NA())"

    def number_or_nothing(cell: str) -> str:
        return f"IF(ISNUMBER({cell}),{cell},NA())"

    def points(label: str, pairs):
        """Rows of x and y; gives the references of the two columns."""
        start = data.row
        for x, y in pairs:
            data.cells((label, "=" + x, "=" + y), formats=(None, "0.0000", "0.00"))
        return tuple(Reference(data.sheet, min_col=column, min_row=start, max_row=data.row - 1) for column in (2, 3))

    data.table_head(("what it draws", "grit depth, µm", "energy"))
    readings = points(
        "reading",
        [
            tuple(number_or_nothing(CALCULATION.cell(name, row)) for name in ("depth", "energy"))
            for row in range(CALCULATION.first_row, CALCULATION.last_row + 1)
        ],
    )
    fit = points(
        "fitted line",
        [
            (ready.format(block[f"line_depth_{end}"]), ready.format(block[f"line_energy_{end}"]))
            for end in range(1, LINE_POINTS + 1)
        ],
    )
    bottom, top = (f"{function}({CALCULATION.area('energy')})" for function in ("MIN", "MAX"))
    drawn = "IF(ISNUMBER({0}),{1},NA())"
    knee = points("knee", [(drawn.format("out_knee", "out_knee"), drawn.format("out_knee", edge)) for edge in (bottom, top)])
    interval = points(
        "interval of the knee", [(end, drawn.format(end, "out_knee_level")) for end in ("out_knee_low", "out_knee_high")]
    )
    band = {
        name: points(f"{name} edge of the target band", [(end, drawn.format(end, edge)) for edge in (bottom, top)])
        for name, end in (("lower", "out_target_low"), ("upper", "out_target_high"))
    }

    chart = scatter_chart("Energy against grit depth", "grit depth, µm", "energy (unit beside the level)", 23, 11)
    add_points(chart, "readings", *readings)
    add_line(chart, "fitted line", *fit, colour="1F4E79", points=2)
    add_line(chart, "knee", *knee, colour="C00000", points=1.5)
    add_line(chart, "interval of the knee", *interval, colour="C00000", points=4)
    add_line(chart, "target band, lower edge", *band["lower"], colour="548235", dash="dash")
    add_line(chart, "target band, upper edge", *band["upper"], colour="548235", dash="sysDot")
    for (title, depth, energy), symbol in zip(others, ("triangle", "square", "diamond")):
        add_points(chart, "", depth, energy, symbol=symbol, colour="7F7F7F", size=6)
        chart.series[-1].tx = SeriesLabel(strRef=StrRef(str(title)))
    results.sheet.add_chart(chart, f"F{results.chart_row}")
