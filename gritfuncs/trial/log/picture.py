"""Writing the picture of a log, as SVG or as a workbook with a native chart."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ...files import write_new
from ...refused import Refused

if TYPE_CHECKING:
    from .result import PowerLog


def write_picture(log: PowerLog, path: str | Path) -> None:
    """Draw the log into a new file, by the ending of its name."""
    path = Path(path)
    if path.suffix.lower() == ".svg":
        from .svg import svg

        write_new(path, svg(log).encode("utf-8"))
    elif path.suffix.lower() == ".xlsx":
        from ...sheets.save import save_workbook
        from .chart import book

        save_workbook(book(log), path)
    else:
        raise Refused("picture", "end in .svg or .xlsx", f"{path.name!r:.60}")
