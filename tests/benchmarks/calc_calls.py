"""Functions in Calc.

A column of add-in calls, beside the same physics as native formulas; the times are those of a hard recalculation. Every call
with eight arguments goes from LibreOffice to its own Python and back, and has its inputs checked there. One array formula for
the whole column makes that way once.
"""

from __future__ import annotations

import tempfile
from math import isclose
from pathlib import Path

from libreoffice import LibreOffice, Missing

from gritfuncs.addins.calc import build_oxt
from gritfuncs.formulas import catalogue

from .timing import Case

FULL, TINY = 10_000, 3
COLUMNS = {
    "work_rpm": "A",
    "work_diameter": "B",
    "infeed_rate": "C",
    "wheel_speed": "D",
    "wheel_diameter": "E",
    "grit_density": "G",
    "shape_ratio": "H",
}


def cases(stack, size=FULL):
    record = catalogue["plunge_grit_depth"]
    cells = {quantity.name: "F{}" if quantity.name == "side" else COLUMNS[quantity.name] + "{}" for quantity in record.arguments}
    first = [cell.format(1) for cell in cells.values()]
    ranges = [f"{letter}1:{letter}{size}" for letter in COLUMNS.values()]
    ranges.insert(5, "F1")  # one side for all, as users do
    data = {"B1": [[20, 0.6, 25, 200, 1, 20, 10]] * size}
    # Other last digits each time: the add-in and Calc remember the results of equal inputs.
    changing = {f"A1:A{size}": f"=100+100*ROW()/{size}+1E-9*RAND()"}
    folder = stack.enter_context(tempfile.TemporaryDirectory())
    try:
        office = stack.enter_context(LibreOffice([build_oxt(Path(folder) / "gritfuncs.oxt")]))
    except Missing as error:
        print(f"  not measured: {error}", flush=True)
        return
    results = f"J1:J{size}"

    def typed(formula):
        return lambda: office.type({**changing, results: formula}, data, times=3)

    def recalculation(side):
        side()
        return min(office.seconds)

    def same(ours, native):
        return all(isclose(ours[cell], value, rel_tol=1e-9) for cell, value in native.items())

    native = typed("=" + record.text(**dict(zip(cells, first))))
    filled, array = f"={record.sheet_name}({';'.join(first)})", f"{{={record.sheet_name}({';'.join(ranges)})}}"
    for what, formula in (
        (f"`{record.sheet_name}` in {size:,} cells, filled down", filled),
        ("the same as one array formula", array),
    ):
        yield Case(what, "native formulas filled down", typed(formula), native, same, pairs=5, seconds=recalculation)
