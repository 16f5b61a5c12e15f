"""The chart of trial.xlsx: readings, fit, knee with interval, target band, the next reading, damage, and rpm at the foot.

Its data stand on the sheet calc chart.  Where there is nothing to draw y is #N/A; x is a number even then: a program that finds
no number among the x of a series counts 1, 2, 3 and stretches the axis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl.chart import Reference
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, TwoCellAnchor

from ...sheets.book import Book
from ...sheets.charts import add_line, add_points, bare_chart, text_in
from ...sheets.conditions import are_numbers, quoted
from ..blocks.knee_values import LINE_POINTS
from ..blocks.lay_out import Places
from .steps import step_depth
from .tables import CALCULATION, CHART, FIRST_ROW, LOAD

_FIRST_COLUMN, _LAST_COLUMN, _LAST_ROW = 14, 19, 23  # N to S, rows 10 to 23 of the sheet Trial
_NEAR = 0.06  # rpm this near to nominal, as a share of it, get no mark of their own


def add_chart(
    book: Book, sheet, block: Mapping[str, str], at: Places, others: Sequence[tuple[str, Sequence[tuple[str, str]]]]
) -> None:
    """Put the chart on the sheet; others are the cells of title, and of depth and energy, of the places for other trials."""
    data = book.page(CHART, "What the chart draws", (44, 14, 14, 14))
    data.note("#N/A draws nothing.")
    data.table_head(("what it draws", "grit depth, µm", "energy", "rpm, in words"))
    somewhere = f"{data.sheet.title!r}!$B${data.row}"
    data.cells(
        ("somewhere within the axis", "=IF(ISNUMBER(out_nominal_grit_depth),out_nominal_grit_depth,1)"), formats=(None, "0.0000")
    )

    def points(label: str, triples):
        """Rows of (condition, x, y) and what they are called; gives the references of the two columns."""
        start = data.row
        for condition, x, y, *word in triples:
            data.cells(
                (
                    label,
                    f"=IFERROR(IF({condition},{x},{somewhere}),{somewhere})",
                    f"=IFERROR(IF({condition},{y},NA()),NA())",
                    *(f"=IFERROR(IF({condition},{text},{quoted('')}),{quoted('')})" for text in word),
                ),
                formats=(None, "0.0000", "0.00"),
            )
        return tuple(Reference(data.sheet, min_col=column, min_row=start, max_row=data.row - 1) for column in (2, 3))

    rows = range(CALCULATION.first_row, CALCULATION.last_row + 1)
    depths = [CALCULATION.cell("depth", row) for row in rows]
    energies = [f"'{LOAD}'!{at.letter('taken')}{row}" for row in range(at.first, at.last + 1)]
    read, damaged = ([CALCULATION.cell(name, row) for row in rows] for name in ("depth_read", "damaged"))
    readings = points("reading", [(f"ISNUMBER({depth})", depth, energy) for depth, energy in zip(depths, energies)])
    burnt = points(
        "damage",
        [
            (f"IF({seen}=1,ISNUMBER({depth}),FALSE)", depth, f"IF(ISNUMBER({energy}),{energy},0)")
            for depth, energy, seen in zip(read, energies, damaged)
        ],
    )
    known, top = "ISNUMBER(out_knee)", f"MAX({at.column('taken')})"
    fit = points(
        "fitted line", [(known, block[f"line_depth_{end}"], block[f"line_energy_{end}"]) for end in range(1, LINE_POINTS + 1)]
    )
    knee = points("knee", [(known, "out_knee", edge) for edge in ("0", top)])
    interval = points("interval of the knee", [(known, end, "out_knee_level") for end in ("out_knee_low", "out_knee_high")])
    has_band = "IF(out_n_readings>0,ISNUMBER(out_target_depth),FALSE)"
    band = points(
        "target band",
        [(has_band, f"out_target_{end}", edge) for end, edge in (("low", "0"), ("low", top), ("high", top), ("high", "0"))],
    )
    rpms = CALCULATION.area("rpm")
    count, away = "out_n_readings>0", f"in_nominal_rpm*{_NEAR}"
    marks = {
        "nominal rpm": ("out_ready=1", "in_nominal_rpm"),
        "slowest rpm read": (f"IF({count},MIN({rpms})<in_nominal_rpm-{away},FALSE)", f"MIN({rpms})"),
        "fastest rpm read": (f"IF({count},MAX({rpms})>in_nominal_rpm+{away},FALSE)", f"MAX({rpms})"),
        "next rpm": ("ISNUMBER(out_next_rpm)", "out_next_rpm", "out_next_depth"),
    }
    at_foot = {}
    for label, (condition, rpm, *depth) in marks.items():
        at_foot[label] = (
            *points(label, [(condition, *(depth or [step_depth(rpm)]), "0", f"FIXED({rpm},0,TRUE)")]),
            f"$D${data.row - 1}",
        )

    chart = bare_chart()
    add_line(chart, "target band", *band, colour="548235", points=1.25, dash="dash")
    add_line(chart, "knee", *knee, colour="C00000", points=1.5)
    add_line(chart, "interval of the knee", *interval, colour="C00000", points=4)
    add_line(chart, "fitted line", *fit, colour="1F4E79", points=2)
    add_points(chart, "readings", *readings)
    add_points(chart, "damage", *burnt, symbol="x", size=13)
    chart.series[-1].marker.graphicalProperties = GraphicalProperties(noFill=True, ln=LineProperties(solidFill="C00000", w=25400))
    for label, (x, y, word) in at_foot.items():
        is_next = label == "next rpm"
        add_points(chart, label, x, y, symbol="triangle" if is_next else "plus", colour="7F7F7F", size=10 if is_next else 5)
        if not is_next:
            _label_by_name(chart.series[-1], f"'{CHART}'!{word}")
    for (title, cells), symbol in zip(others, ("triangle", "square", "diamond")):
        x, y = points("other trial", [(are_numbers(depth, energy), depth, energy) for depth, energy in cells])
        add_points(chart, "", x, y, symbol=symbol, colour="7F7F7F", size=6)
        chart.series[-1].tx = SeriesLabel(strRef=StrRef(title))
    anchor = (AnchorMarker(col=_FIRST_COLUMN - 1, row=FIRST_ROW - 1), AnchorMarker(col=_LAST_COLUMN, row=_LAST_ROW))
    chart.anchor = TwoCellAnchor(editAs="oneCell", _from=anchor[0], to=anchor[1])
    sheet.add_chart(chart)


def _label_by_name(series, cell: str) -> None:
    """Write the words of a cell beside the point: as the name of the series, which every program keeps up to date."""
    series.tx = SeriesLabel(strRef=StrRef(cell))
    hidden = dict(showVal=False, showCatName=False, showLegendKey=False, showPercent=False, showBubbleSize=False)
    series.dLbls = DataLabelList(dLblPos="t", showSerName=True, txPr=text_in(8, "595959"), **hidden)
