"""The benchmarks on tiny sizes, untimed: both sides compute the same, and what is said about sums of squares is computed right."""

from __future__ import annotations

import subprocess
import sys
from contextlib import ExitStack
from importlib import import_module
from pathlib import Path

import numpy
import pytest
from benchmarks import knee, page
from benchmarks.run import NAMES
from benchmarks.timing import Case, measured

from gritfuncs.knee.hinge import fit_corner, fit_stick
from gritfuncs.knee.readings import read


@pytest.mark.parametrize("name", [name for name in NAMES if name != "knee"])
def test_both_sides_compute_the_same(name):
    module = import_module(f"benchmarks.{name}")
    with ExitStack() as stack:
        cases = list(module.cases(stack, module.TINY))
        assert cases
        for case in cases:
            assert case.same(case.ours(), case.against()), case.what


def test_a_hinge_held_elsewhere_never_fits_better():
    chance = numpy.random.default_rng(2)
    for depths, energies in knee.trials(20):
        ours = fit_corner(read(depths, energies))
        assert knee.hinge_excess(depths, energies, ours.knee) == pytest.approx(0, abs=1e-9)
        elsewhere = [knee.hinge_excess(depths, energies, place) for place in chance.uniform(depths.min(), depths.max(), 20)]
        assert -1 <= min(elsewhere) and max(elsewhere) < 1e-9


def test_a_corner_with_one_depth_on_a_side_is_not_compared():
    for depths, energies in knee.trials(5):
        ours, distinct = fit_stick(read(depths, energies)), numpy.unique(depths)
        assert knee.stick_excess(depths, energies, ours.knee, ours.sse) == 0
        assert knee.stick_excess(depths, energies, (distinct[0] + distinct[1]) / 2, ours.sse) is None
        assert knee.stick_excess(depths, energies, (distinct[-2] + distinct[-1]) / 2, ours.sse) is None


def test_the_ratio_is_the_median_of_the_pairs_without_the_warm_up():
    times = {"ours": iter([99.0, 2.0, 3.0, 8.0]), "theirs": iter([1.0, 1.0, 1.0, 2.0])}
    case = Case("a", "b", "ours", "theirs", None, 2.5, pairs=3, seconds=lambda side: next(times[side]), note=lambda: ["c"])
    result = measured(case)
    assert (result.ratio, result.lowest, result.highest, result.ours, result.against) == (3.0, 2.0, 4.0, 3.0, 1.0)
    assert result.missed
    assert page.columns(result) == ("a", "3 s", "b", "1 s", "3.00 (2.00 to 4.00)", "at most 2.5", "**no**")
    assert "- a: 3.00 times b, goal at most 2.5." in page.page([(knee, [result])], [("cores", "2")])


@pytest.mark.parametrize(
    "arguments, said", [(["tables"], "names must be of arrays, "), (["arrays", "--write"], "--write must stand without names")]
)
def test_a_wrong_command_is_one_clear_line(arguments, said):
    done = subprocess.run(
        [sys.executable, Path(__file__).with_name("benchmarks") / "run.py", *arguments], capture_output=True, text=True
    )
    assert done.returncode == 2 and said in done.stderr
