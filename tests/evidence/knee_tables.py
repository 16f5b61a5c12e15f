"""How often the knee's verdict and interval are right, over simulated trials."""

from __future__ import annotations

from collections import Counter
from statistics import median
from typing import NamedTuple

from gritfuncs.knee import find_knee
from gritfuncs.knee.result import FOUND, STILL_FALLING, VERDICTS

from .trials import RPM_RANGES, SHAPES, WITH_KNEE, trial

NOISES = (0.01, 0.02, 0.05)
READINGS = (6, 8, 10, 15)
TRIALS = 400  # each cell of the tables of coverage
CONFUSION_TRIALS = 100  # of each range and number of readings, in each row of the table of verdicts


class Outcome(NamedTuple):
    """What became of some trials."""

    trials: int
    verdicts: Counter
    covered: int  # found, and the stated interval holds the true knee
    errors: tuple  # of the found knees, relative to the truth, with their signs
    half_widths: tuple  # of their stated intervals, relative to the knee
    bound_wrong: int  # still falling, and the true knee lies below the bound that is given

    @property
    def found(self):
        return self.verdicts[FOUND]


def outcome(trials):
    verdicts, covered, errors, half_widths, bound_wrong = Counter(), 0, [], [], 0
    for truth, depths, energies in trials:
        knee = find_knee(depths, energies)
        verdicts[knee.verdict] += 1
        if knee.verdict == FOUND:
            covered += knee.low <= truth <= knee.high
            errors.append(knee.knee / truth - 1)
            half_widths.append((knee.high - knee.low) / 2 / knee.knee)
        elif knee.verdict == STILL_FALLING and knee.low is not None:
            bound_wrong += truth < knee.low
    return Outcome(sum(verdicts.values()), verdicts, covered, tuple(errors), tuple(half_widths), bound_wrong)


def coverage(shape, rpm_range, readings, noise):
    """The outcome of one cell of the tables of coverage."""
    return outcome(trial(shape, rpm_range, readings, noise, number) for number in range(TRIALS))


def confusion(shape, noise):
    """The outcome of one row of the table of verdicts: all ranges and numbers of readings together."""
    return outcome(
        trial(shape, rpm_range, readings, noise, number)
        for rpm_range in RPM_RANGES
        for readings in READINGS
        for number in range(TRIALS, TRIALS + CONFUSION_TRIALS)
    )


def percent(share, of):
    return f"{100 * share / of:.1f}" if of else "-"


def high(values, share=0.95):
    """The value below which a share of the values lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def coverage_rows(shape, rpm_range, noise):
    """A line of the table of coverage and one of the table of widths, from the same trials."""
    held, widths = [], []
    for readings in READINGS:
        found = coverage(shape, rpm_range, readings, noise)
        held.append(f"{percent(found.found, found.trials)} / {percent(found.covered, found.found)}")
        worst = high([abs(error) for error in found.errors]) if found.found else 0.0
        widths.append(f"{100 * median(found.half_widths):.1f} / {100 * worst:.1f}" if found.found else "-")
    head = [f"{100 * noise:g} %", rpm_range]
    return head + held, head + widths


def definition_row(shape):
    cells = []
    for rpm_range in RPM_RANGES:
        found = coverage(shape, rpm_range, *DEFINITION_CASE)
        cells.append(f"{100 * median(found.errors):+.1f} / {percent(found.covered, found.found)}")
    return [shape, *cells]


def confusion_row(shape, noise):
    row = confusion(shape, noise)
    covered = percent(row.covered, row.found) if shape in WITH_KNEE else "-"
    wrong = percent(row.bound_wrong, row.verdicts[STILL_FALLING]) if shape in WITH_KNEE else "-"
    return [
        shape,
        f"{100 * noise:g} %",
        *(percent(row.verdicts[verdict], row.trials) for verdict in VERDICTS[:4]),
        covered,
        wrong,
    ]


DEFINITION_CASE = (10, 0.02)  # readings and noise of the table of shapes
DEFINITION_ROWS = [(shape,) for shape in WITH_KNEE]
COVERAGE_ROWS = [("hinge", rpm_range, noise) for noise in NOISES for rpm_range in RPM_RANGES]
CONFUSION_ROWS = [(shape, noise) for shape in SHAPES for noise in NOISES]
