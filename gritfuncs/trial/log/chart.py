"""The picture of a log as a workbook with a native chart, and its stretches and parts as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ...sheets.charts import add_line, scatter_chart
from .drawing import UNITS, bands, labels, thinned, title

if TYPE_CHECKING:
    from .result import PowerLog

_PART_HEADS = ("part", "start, s", "end, s", "level", "idle", "net", "± 2 standard errors", "slope", "work rpm, 1/min")


def book(log: PowerLog) -> Any:
    """An openpyxl workbook: sheets Picture, Parts, Stretches, Trace."""
    from openpyxl import Workbook

    workbook = Workbook()
    picture = workbook.active
    picture.title = "Picture"
    parts, stretches, trace = (workbook.create_sheet(name) for name in ("Parts", "Stretches", "Trace"))
    picture.append([title(log)])
    for line in (log.refusal, *log.remarks):
        if line:
            picture.append([_plain(line)])
    parts.append(_PART_HEADS)
    for part in log.parts:
        parts.append([part.number, part.start, part.end, part.level, part.idle, part.net, part.error, part.slope, part.work_rpm])
    stretches.append(("stretch", "start, s", "end, s", "word", "why"))
    for stretch in log.stretches:
        stretches.append([stretch.number, stretch.start, stretch.end, stretch.word, _plain(stretch.why)])
    for sheet, widths in ((parts, (14,) * 9), (stretches, (10, 12, 12, 12, 90)), (trace, (14,) * 8)):
        for letter, width in zip("ABCDEFGHI", widths):
            sheet.column_dimensions[letter].width = width
        sheet.freeze_panes = "A2"
    row = picture.max_row + 2
    picture.add_chart(_chart(log, trace), f"A{row}")
    picture.page_setup.orientation = "landscape"
    picture.page_setup.fitToWidth, picture.page_setup.fitToHeight = 1, 0
    picture.sheet_properties.pageSetUpPr.fitToPage = True
    return workbook


def _plain(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return "'" + text if text[:1] in "=+-@" else text


def _chart(log: PowerLog, sheet: Any) -> Any:
    """Trace, levels, idle and other stretches as lines; each stretch has its number or word beside it."""
    from openpyxl.chart import Reference, Series
    from openpyxl.chart.label import DataLabelList

    time, power = thinned(log)
    shown = bands(log)
    step = 0.08 * float(power.max() - min(0.0, power.min()))  # words stand above the numbers
    top = float(power.max()) + step
    columns = [["time, s", *map(float, time)], [UNITS[log.load_kind], *map(float, power)]]
    for name, pick in (
        ("level", lambda band: band.reading and (band.reading.steady_start, band.reading.steady_end, band.reading.level)),
        ("idle", lambda band: band.reading and (band.start - 3, band.end + 3, band.reading.idle)),
        ("other stretches", lambda band: None if band.reading else (band.start, band.end, top)),
    ):
        xs: list[Any] = [f"{name} at, s"]
        ys: list[Any] = [name]
        for line in filter(None, map(pick, shown)):
            xs += [line[0], line[1], line[1]]
            ys += [line[2], line[2], None]  # a blank parts the lines
        columns += [xs, ys]
    named = labels(log, (log.duration or 1.0) / 40)
    columns += [
        ["number or word at, s", *(label.at for label in named)],
        ["height", *(top + (0 if label.is_part else step) for label in named)],
    ]
    for column, values in enumerate(columns, 1):
        for row, value in enumerate(values, 1):
            sheet.cell(row, column, value)
    chart = scatter_chart("Power log", "time, s", UNITS[log.load_kind], 34, 15)
    chart.display_blanks = "gap"
    styles = (
        ("trace", "A6A6A6", 0.5, None),
        ("level in the steady stretch", "000000", 3.5, None),
        ("idle", "000000", 1.5, "sysDot"),
        ("other stretches", "B36B00", 4, "sysDash"),
    )
    for place, (name, colour, points, dash) in enumerate(styles):
        x, y = 2 * place + 1, 2 * place + 2
        last = len(columns[x - 1])
        if last > 1:
            add_line(
                chart,
                name,
                Reference(sheet, x, 2, x, last),
                Reference(sheet, y, 2, y, last),
                colour=colour,
                points=points,
                dash=dash,
            )
    for row, label in enumerate(named, 2):
        series = Series(Reference(sheet, 10, row, 10, row), Reference(sheet, 9, row, 9, row), title=label.text)
        series.smooth = False  # one smooth series makes LibreOffice smooth them all
        series.marker.symbol = "none"
        series.graphicalProperties.line.noFill = True
        series.dLbls = DataLabelList(showSerName=True, showVal=False, showCatName=False, showLegendKey=False, dLblPos="t")
        chart.series.append(series)
    chart.legend = None
    return chart
