"""Sharing a workbook.

`gritfuncs share` on a workbook with many calls, beside openpyxl loading and saving the same workbook. Ours puts a native
formula in place of every call and then computes each of them to compare it with the stored value; openpyxl only reads and
writes the formulas as texts.
"""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path

import numpy
import openpyxl
from share_books import formulas, stored

import gritfuncs as gf
from gritfuncs.share.job import share

from .timing import Case

FULL, TINY = 20_000, 3


def cases(stack, size=FULL):
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
    chance, numbers = numpy.random.default_rng(1), itertools.count()
    diameters, rates = chance.uniform(5, 60, size), chance.uniform(0.1, 2, size)
    rpm = gf.work_rpm_for(1.2, diameters, rates, 25, 200, 1, 20, 10)
    book = openpyxl.Workbook()
    book.active.title = "Parts"
    for row, (diameter, rate) in enumerate(zip(diameters.tolist(), rates.tolist()), 1):
        book.active.append(
            [
                1.2,
                diameter,
                rate,
                25,
                200,
                1,
                20,
                10,
                f"=GRIT_WORK_RPM_FOR(A{row},B{row},C{row},D{row},E{row},F{row},G{row},H{row})",
            ]
        )
    path = stored(book, folder / "book.xlsx", {"Parts": {f"I{row}": value for row, value in enumerate(rpm.tolist(), 1)}})

    def ours():
        shared = share(path, folder / f"{next(numbers)}.xlsx")
        assert shared.complete and len(shared.replaced) == shared.equal == size
        return shared.output

    def bare():
        output = folder / f"{next(numbers)}.xlsx"
        openpyxl.load_workbook(path).save(output)
        return output

    def as_many_formulas(ours, theirs):
        return [sum(map(len, formulas(output).values())) for output in (ours, theirs)] == [size, size]

    yield Case(
        f"`gritfuncs share`, a workbook with {size:,} calls",
        "openpyxl, load and save",
        ours,
        bare,
        as_many_formulas,
        goal=1.0,
        pairs=3,
    )
