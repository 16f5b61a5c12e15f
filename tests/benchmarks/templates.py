"""Building the workbooks.

All of them, beside writing as many cells with the same texts and numbers with bare openpyxl. Ours also styles the cells,
draws charts, adds names and input checks, and computes every formula, so that the files show values before any program has
computed them.
"""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path

import openpyxl

from gritfuncs.workbooks.templates import TEMPLATES, save

from .timing import Case

FULL, TINY = tuple(TEMPLATES), ("knee_record.xlsx",)


def contents(folder):
    """{file: {sheet: {cell: value}}} of the workbooks in a folder."""
    return {
        path.name: {
            sheet.title: {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None}
            for sheet in openpyxl.load_workbook(path)
        }
        for path in sorted(folder.iterdir())
    }


def cases(stack, size=FULL):
    scratch = Path(stack.enter_context(tempfile.TemporaryDirectory()))
    numbers = itertools.count()

    def folder():
        made = scratch / str(next(numbers))
        made.mkdir()
        return made

    def ours():
        made = folder()
        for name in size:
            save(name, made / name)
        return made

    def bare():
        made = folder()
        for name, sheets in known.items():
            book = openpyxl.Workbook()
            book.remove(book.active)
            for title, cells in sheets.items():
                sheet = book.create_sheet(title)
                for place, value in cells.items():
                    sheet[place] = value
            book.save(made / name)
        return made

    known = contents(ours())
    count = sum(len(cells) for sheets in known.values() for cells in sheets.values())
    yield Case(
        f"`gritfuncs templates`, {len(known)} workbooks with {count:,} cells",
        "bare openpyxl, the same cells unstyled and uncomputed",
        ours,
        bare,
        lambda a, b: contents(a) == contents(b),
        goal=8.0,
        pairs=3,
    )
