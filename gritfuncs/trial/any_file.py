"""The table of readings in a file of any kind that is understood."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from ..refused import Refused
from ..values import shown
from . import text_file, trial_workbook, workbook_file
from .rows import one_line
from .table import Table


def path_of(given: str | Path) -> Path:
    """The path; Refused for what cannot be the name of a file."""
    try:
        return Path(given)
    except TypeError:
        raise Refused("path", "be the name of a file", shown(given)) from None


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """What goes wrong with a file names it; a file that is none, or cannot be read, is refused."""
    try:
        if path.is_dir():
            raise Refused("", "be a file, but it is a folder")
        if not path.exists():
            raise Refused("", "be a file that exists")
        if not path.is_file():  # a pipe or device, which may never end
            raise Refused("", "be a file", "something else under that name")
        yield
    except OSError as error:
        raise Refused("", f"be a file that can be read ({error.strerror or error})", place=(one_line(path.name),)) from None
    except Refused as refused:
        raise refused.at(one_line(path.name)) from None


def table_of_file(
    path: Path,
    sheet: str | None = None,
    columns: Mapping[str, str] | None = None,
    load_kind: str | None = None,
    heading_row: int | None = None,
) -> Table:
    """What a filled trial workbook, any other workbook or a text file holds."""
    ending = path.suffix.lower()
    if ending in workbook_file.ENDINGS:
        book = workbook_file.Workbook(path)
        if sheet is None and columns is None and heading_row is None and trial_workbook.is_trial_workbook(book):
            return trial_workbook.table(path, book)
        return workbook_file.table(path, book, sheet, columns, load_kind, heading_row)
    if ending in text_file.ENDINGS:
        if sheet is not None:
            raise Refused("sheet", "be left out for a text file", shown(sheet))
        return text_file.table(path, columns, load_kind, heading_row)
    endings = ", ".join(workbook_file.ENDINGS + text_file.ENDINGS)
    raise Refused("", f"end in {endings}: save it as one of these", f"{ending or 'no ending'!r:.40}")
