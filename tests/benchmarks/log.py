"""Reading a power log.

A simulated log of a million rows as a text file: read, cut and every part read, beside numpy.loadtxt, which only reads the
numbers; as an array, beside ten running sums over the same array, the least that any detector does; and a short log beside
general detectors of changes, where these are installed: ruptures (kernel change points on 3,000 means) and hmmlearn (two
states), which find stretches and read nothing.
"""

from __future__ import annotations

import itertools
import tempfile
from importlib.util import find_spec
from pathlib import Path

import numpy
from simulated_logs import simulate, write

import gritfuncs as gf

from .timing import Case

ROWS, TINY = 1_000_000, 20_000
MEANS = 3000  # that the change points are sought in


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
        lambda ours, theirs: ours == expected,
        pairs=5,
    )
    yield from detectors(simulate(rate=20.0))


def detectors(log):
    """Our whole reading beside other ways to find the stretches alone."""
    count = len(log.nets)
    condensed = numpy.array([part.mean() for part in numpy.array_split(log.power, MEANS)])

    def change_points():
        import ruptures

        noise = numpy.median(numpy.abs(numpy.diff(condensed))) / 0.95
        return ruptures.KernelCPD(kernel="linear", min_size=2).fit(condensed).predict(pen=6 * numpy.log(MEANS) * noise**2)

    def two_states():
        from hmmlearn.hmm import GaussianHMM

        return GaussianHMM(2, n_iter=30, random_state=0).fit(log.power[:, None]).predict(log.power[:, None])

    for library, against in (("ruptures", change_points), ("hmmlearn", two_states)):
        if find_spec(library):
            yield Case(
                f"find and read {count} parts in {len(log.time):,} values",
                f"{library}, stretches alone",
                lambda: len(gf.read_log(power=log.power, time=log.time).parts),
                against,
                lambda ours, theirs: ours == count,
                pairs=5,
            )
