"""Sharing a workbook, of many calls and of many knees.

`gritfuncs share` on a workbook with many calls, beside openpyxl loading and saving the same workbook. Ours puts a native
formula in place of every call and then computes each of them to compare it with the stored value; openpyxl only reads and
writes the formulas as texts. With knees the other side is openpyxl loading and saving the copy, where each knee has become
some 1,300 cells: ours finds each knee, computes and writes these cells.
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
READINGS = 10


def cases(stack, size=FULL):
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
    yield _calls(folder, size)
    yield _knees(folder, max(1, size // 200))


def _knees(folder, count):
    chance, numbers = numpy.random.default_rng(1), itertools.count()
    book, values = openpyxl.Workbook(), {}
    book.active.title = "Trials"
    depths = numpy.linspace(0.4, 2.6, READINGS).tolist()
    for _ in range(count):
        energies = 40 * (1 + 0.5 * numpy.clip(1.2 - numpy.array(depths), 0, None) + 0.01 * chance.standard_normal(READINGS))
        for pair in zip(depths, energies.tolist()):
            book.active.append(pair)
        last = book.active.max_row
        book.active[f"C{last}"] = f"=GRIT_KNEE_VERDICT(A{last - READINGS + 1}:A{last},B{last - READINGS + 1}:B{last})"
        values[f"C{last}"] = gf.find_knee(depths, energies).verdict
    path = stored(book, folder / "trials.xlsx", {"Trials": values})

    def ours():
        shared = share(path, folder / f"knees-{next(numbers)}.xlsx")
        assert shared.complete and len(shared.replaced) == shared.equal == count
        return shared.output

    copy = ours()

    def bare():
        output = folder / f"knees-{next(numbers)}.xlsx"
        openpyxl.load_workbook(copy).save(output)
        return output

    def as_many_formulas(ours, theirs):
        return len({sum(map(len, formulas(output).values())) for output in (ours, theirs)}) == 1

    return Case(
        f"`gritfuncs share`, a workbook with {count:,} knees of {READINGS} readings",
        "openpyxl, load and save the copy",
        ours,
        bare,
        as_many_formulas,
        pairs=3,
    )


def _calls(folder, size):
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

    return Case(
        f"`gritfuncs share`, a workbook with {size:,} calls",
        "openpyxl, load and save",
        ours,
        bare,
        as_many_formulas,
        goal=1.0,
        pairs=3,
    )
