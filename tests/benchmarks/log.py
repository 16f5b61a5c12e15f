"""Reading a power log.

A simulated log of a million rows as a text file: read, cut and every part read, beside numpy.loadtxt, which only reads the
numbers; and as an array, beside ten running sums over the same array, the least that any detector does.
"""

from __future__ import annotations

import itertools
import tempfile
from pathlib import Path

import numpy
from simulated_logs import simulate, write

import gritfuncs as gf

from .timing import Case

ROWS = 1_000_000


def cases(stack, rows=ROWS):
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
    once = simulate(rate=100.0, rpms=(120.0, 132.0, 108.0))
    log = simulate(
        rate=100.0, rpms=tuple(itertools.islice(itertools.cycle(once.scene.rpms), max(2, round(3 * rows / len(once.time)))))
    )
    path = write(log, folder / "log.csv")
    expected = len(log.nets)
    yield Case(
        f"read a text log of {len(log.time):,} rows with {expected} parts",
        "numpy.loadtxt of the same file",
        lambda: len(gf.read_log(path).parts),
        lambda: len(numpy.loadtxt(path, delimiter=",", skiprows=1)),
        lambda ours, theirs: ours == expected and theirs == len(log.time),
        goal=3,
        pairs=5,
    )
    yield Case(
        f"cut and read an array of {len(log.time):,} values",
        "ten running sums of the array",
        lambda: len(gf.read_log(power=log.power, time=log.time).parts),
        lambda: [numpy.cumsum(log.power) for _ in range(10)],
        None,
        pairs=5,
    )
