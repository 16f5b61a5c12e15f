"""Charts: described once in plain numbers, drawn as SVG or with matplotlib.  Nothing of grinding is known here."""

from __future__ import annotations

import io
from pathlib import Path

from ..files import write_new
from ..refused import Refused
from .axes import figure
from .chart import Chart
from .svg import chart_svg

ENDINGS = (".svg", ".png", ".pdf")


def check_ending(path: str | Path) -> str:
    """The ending of a picture's name, or Refused where no picture ends in it."""
    ending = Path(path).suffix.lower()
    if ending not in ENDINGS:
        raise Refused("plot", f"end in {', '.join(ENDINGS)}", f"{Path(path).name!r:.60}")
    return ending


def write_chart(chart: Chart, path: str | Path) -> None:
    """Draw the chart into a new file, by the ending of its name: .svg needs nothing else, .png and .pdf matplotlib."""
    ending = check_ending(path)
    if ending == ".svg":
        content = chart_svg(chart).encode("utf-8")
    else:
        stream = io.BytesIO()
        figure(chart).savefig(stream, format=ending[1:], dpi=150)
        content = stream.getvalue()
    write_new(path, content)
