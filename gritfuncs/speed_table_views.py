"""A speed table as a chart, as HTML and as a frame.  It stands below the planning, whose tables show themselves by it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .markup import Markup, element, joined, table
from .pictures.chart import COLOURS, SHAPES, STROKES, Chart, Layer, Line, Points
from .refused import Refused

if TYPE_CHECKING:
    from .planning import SpeedCell, SpeedTable

MOST_CELLS = 2000  # a longer table is not laid out in a notebook
_PLAIN_SHAPES = tuple(shape for shape in SHAPES if shape not in ("ring", "cross"))
MOST_LINES = len(_PLAIN_SHAPES) * len(STROKES)  # more cannot be told apart on paper
BROKEN = "breaks a limit: do not use"


def chart_of(speeds: SpeedTable) -> Chart:
    """Work rpm over infeed rate, a line for each part diameter; crossed out where a limit is broken."""
    if len(speeds.work_diameters) > MOST_LINES:
        got = str(len(speeds.work_diameters))
        raise Refused("work_diameters", f"be at most {MOST_LINES} for a chart: more lines cannot be told apart", got)
    layers: list[Layer] = []
    crossed: list[tuple[float, float]] = []
    for number, (diameter, row) in enumerate(zip(speeds.work_diameters, speeds.rows)):
        places = sorted((cell.infeed_rate, cell.work_rpm) for cell in row if cell.work_rpm is not None)
        if not places:
            continue
        colour = COLOURS[number % len(COLOURS)]
        rates, rpms = zip(*places)
        layers.append(Line(rates, rpms, "", STROKES[number // len(_PLAIN_SHAPES) % len(STROKES)], colour))
        layers.append(Points(rates, rpms, f"part {diameter:g} mm", _PLAIN_SHAPES[number % len(_PLAIN_SHAPES)], colour))
        crossed += [(cell.infeed_rate, cell.work_rpm) for cell in row if cell.broken and cell.work_rpm is not None]
    if crossed:
        layers.append(Points(*zip(*crossed), BROKEN, "cross"))
    title = f"Work rpm for a grit depth of {speeds.grit_depth:.3f} µm at {speeds.wheel_speed:.1f} m/s wheel speed"
    return Chart(title, "infeed rate on the radius, mm/min", "work rpm, 1/min", tuple(layers))


def table_page(speeds: SpeedTable) -> Markup:
    """The table as HTML: rpm, with the broken limit beside it; its one line where it is very long."""
    if len(speeds.work_diameters) * len(speeds.infeed_rates) > MOST_CELLS:
        return element("p", repr(speeds))
    heads = ["part diameter, mm", *(f"{rate:g} mm/min" for rate in speeds.infeed_rates)]
    rows = [[f"{diameter:g}", *map(_cell, row)] for diameter, row in zip(speeds.work_diameters, speeds.rows)]
    title = f"Work rpm, 1/min, for a grit depth of {speeds.grit_depth:.3f} µm at {speeds.wheel_speed:.1f} m/s wheel speed"
    remarks = [element("p", sentence) for sentence in speeds.unusual]
    return joined([element("p", element("strong", title)), table(heads, rows), *remarks])


def _cell(cell: SpeedCell) -> Any:
    if cell.work_rpm is None:
        return cell.word
    rpm = f"{cell.work_rpm:.4g}"
    return joined([element("s", rpm), " ", cell.word]) if cell.broken else rpm


def frame_of(speeds: SpeedTable) -> Any:
    """A row for each cell, with pandas."""
    from .frames import frame

    arrays = {name: values.ravel() for name, values in speeds.arrays.items()}
    arrays["broken"] = [", ".join(words) for words in arrays["broken"]]
    return frame(arrays, grit_depth=speeds.grit_depth, wheel_speed=speeds.wheel_speed)
