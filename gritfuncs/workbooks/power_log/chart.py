"""The chart of power_log.xlsx: the trace, what was read as a thick line through idle and levels, and the numbers of the parts."""

from __future__ import annotations

from openpyxl.chart import Reference, Series
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel

from ...sheets.book import Book
from ...sheets.charts import add_line, scatter_chart
from ...sheets.columns import Column, Columns
from ...sheets.conditions import quoted
from ...sheets.page import Page
from .parts import PART
from .tables import HEAD, LOG, MOST_STRETCHES, PARTS

POINTS = 4  # of the thick line for each part: idle, level, level, idle
DATA = Columns(
    "Chart data",
    (
        Column("number", "stretch", 9, "0"),
        Column("time", "time, as pasted", 12, "0.00"),
        Column("load", "load read", 12, "0.000"),
        Column("label_time", "middle of the stretch", 12, "0.00"),
        Column("label_height", "height of its label", 12, "0.000"),
        Column("label", "label", 12),
    ),
    HEAD + 1,
    HEAD + POINTS * MOST_STRETCHES,
)


def chart_data_page(book: Book) -> Page:
    """The sheet with the points of the thick line and the labels; #N/A where there is nothing to draw."""
    page = book.page("Chart data", "Chart data", DATA.widths, state_columns=9)
    page.note("#N/A draws nothing.")
    page.columns_head(DATA, lines=2)
    for place in range(POINTS * MOST_STRETCHES):
        stretch, point = PARTS.first_row + place // POINTS, place % POINTS
        at = PARTS.row_cells(stretch)
        row = (at["first"], at["steady"], at["last"], f"({at['first']}+{at['rows']}-1)")[point]
        load = at["level"] if point in (1, 2) else at["idle"]
        is_read = f"{at['word']}={quoted(PART)}"
        cells = [place // POINTS + 1, f"=IF({is_read},INDEX({LOG.area('time')},{row}),NA())", f"=IF({is_read},{load},NA())"]
        if place < MOST_STRETCHES:
            own = PARTS.row_cells(PARTS.first_row + place)
            there = f"ISNUMBER({own['first']})"
            middle = f"INDEX({LOG.area('time')},{own['first']}+INT({own['rows']}/2))"
            word = f'IF(ISNUMBER({own["part"]}),{own["part"]}&IF({own["word"]}={quoted(PART)},"","!"),"x")'
            cells += [f"=IF({there},{middle},NA())", f"=IF({there},out_top_of_chart,NA())", f'=IF({there},{word},"")']
        page.cells(cells, DATA.formats)
    page.sheet.print_area = f"A1:I{HEAD + MOST_STRETCHES}"  # to the last label; all points fill nine pages
    return page


def log_chart(page: Page, data: Page) -> None:
    """Draw it beside the rows of the sheet Log."""
    chart = scatter_chart(
        "Power log", "time, as pasted", "power, current or load", 18.5, 10.5
    )  # cm, within the columns that are printed

    def of(table: Columns, sheet, name: str, first: int = 0, last: int = 0) -> Reference:
        letter = table.letter(name)
        return Reference(
            sheet, range_string=f"'{sheet.title}'!${letter}${first or table.first_row}:${letter}${last or table.last_row}"
        )

    add_line(chart, "trace", of(LOG, page.sheet, "time"), of(LOG, page.sheet, "power"), colour="A6A6A6", points=0.75)
    add_line(chart, "idle and level that were read", of(DATA, data.sheet, "time"), of(DATA, data.sheet, "load"), points=2.5)
    for row in range(DATA.first_row, DATA.first_row + MOST_STRETCHES):
        series = Series(of(DATA, data.sheet, "label_height", row, row), of(DATA, data.sheet, "label_time", row, row))
        series.tx = SeriesLabel(strRef=StrRef(f"'{DATA.sheet.strip(chr(39))}'!${DATA.letter('label')}${row}"))
        series.smooth = False
        series.marker.symbol = "none"
        series.graphicalProperties.line.noFill = True
        series.dLbls = DataLabelList(showSerName=True, showVal=False, showCatName=False, showLegendKey=False, dLblPos="t")
        chart.series.append(series)
    chart.legend = None
    page.sheet.add_chart(chart, f"G{HEAD}")
