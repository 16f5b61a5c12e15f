"""The steps by which cells judge drift: each number against `gritfuncs.knee.drift`, and its words against its numbers."""

from __future__ import annotations

import numpy as np
import pytest
from test_knee_block import NUMBERS, agree
from test_knee_drift_block import drifting_trial
from test_knee_steps import close
from typed_block import TypedBlock, column, rows_of, single, turns

from gritfuncs.knee import FOUND, TOO_FEW, knee_of_trial, thresholds
from gritfuncs.knee import drift as rule
from gritfuncs.knee.find import NOT_JUDGED, judged
from gritfuncs.knee.hinge import fit_corner
from gritfuncs.knee.readings import numbered
from gritfuncs.knee.variance import corner_variance
from gritfuncs.workbooks.blocks.drift import _COLUMNS, _VALUES, CORNERS, drift_block, narrows
from gritfuncs.workbooks.blocks.knee import knee_block
from gritfuncs.workbooks.blocks.knee_falls import NONE
from gritfuncs.workbooks.blocks.lay_out import places

pytestmark = pytest.mark.usefixtures("no_search_for_readings_out_of_line")  # cells leave it out
ROWS = 17
# Of the seeds below 150, so many that each pair of answers, by the signs of their drift, that turn into one another there is theirs.
TURNING = (0, 3, 38, 43, 48, 99, 114, 117, 120)
NO_READING = float(NONE)
NEW_DEPTH = 0.97  # as good as none of the trials has it


@pytest.fixture(scope="module")
def block():
    return opened()


def opened():
    columns = column(1, ROWS), column(2, ROWS)
    plain = knee_block(*columns, ROWS, sheet_name="Knee", noise=single(1))
    made = drift_block(plain, *columns, ROWS, sheet_name="Drift", noise=single(1))
    asked = {"A1": f"={narrows(made.results, single(2))}"}
    return (
        TypedBlock({"Knee": plain.cells, "Drift": made.cells, "Asked": asked}, ROWS),
        made,
        places(_VALUES, _COLUMNS, ROWS, "Drift", "A1"),
    )


def tied(depths, numbers, corners):
    """Whether two repeats narrow the corner alike, but for rounding."""
    known = sorted(corner_variance(depths, corners, depths[number]) for number in numbers)
    return any(np.isclose(one, other, rtol=1e-9) for one, other in zip(known, known[1:]))


def percent(share):
    """A share as the words of a cell have it."""
    return f"{100 * share:+.2f}"


def expected(depths, energies, noise, rows):
    """The values of a trial in the order taken, those that Python knows."""
    plain, readings = judged(depths, energies, noise), numbered(depths, energies)
    drift = rule.drift_range(readings, plain, rule.USUAL_DRIFT)
    times, squares = np.arange(len(depths)), 0.0
    groups = {}
    for depth, time in sorted(zip(depths, times)):
        place = next((each for each in groups if depth - each <= thresholds.SAME_PLACE * readings.span), depth)
        groups.setdefault(place, []).append(time)
    squares = sum(np.var(group) * len(group) for group in groups.values())
    scatter = drift.level * min(rule.MOST_SCATTER, max(rule.LEAST_SCATTER, plain.noise or thresholds.DEFAULT_NOISE))
    fit = fit_corner(readings)
    beside = np.array(energies) - fit.slope * np.maximum(0, fit.knee - np.array(depths))
    products = sum(np.sum((np.array(group) - np.mean(group)) * beside[group]) for group in groups.values())
    is_judged = rule.shows_drift(depths)
    centre = drift.centre if is_judged else 0.0
    least, most = (end - drift.centre + centre for end in drift.ends(rule.SURE_OF_WHOLE))
    values = dict(
        drift_judged=float(is_judged),
        squares=squares,
        products=products,
        drift_level=drift.level,
        drift_scatter=scatter,
        weight=squares / scatter**2,
        usual=(rule.USUAL_DRIFT * drift.level) ** -2,
        seen=drift.seen,
        centre=centre,
        deviation=drift.deviation,
        least=least,
        most=most,
        drift_deviation=drift.deviation / drift.level,
        drift_is_seen=float(is_judged and drift.is_seen),
    )
    if squares:
        values["error"] = drift.error
    taken = rule.without_drift(energies, centre) if is_judged else energies
    without = judged(depths, taken, noise)
    columns = {"centre_energy": dict(zip(rows, taken))}
    if without.verdict == FOUND and is_judged:
        for name, end in (("least_energy", least), ("most_energy", most)):
            columns[name] = dict(zip(rows, rule.without_drift(energies, end)))
    if without.scatter_low is not None and without.scatter_high is not None:
        low, high = without.scatter_low, without.scatter_high
        corners = low, (low + high) / 2, high
        values.update(lowest=low, middle=corners[1], highest=high)
        same = [readings.h[readings.numbers.index(i)] for i in range(len(depths))]  # equal ones made one
        names = dict(zip(("variance_lowest", "variance_middle", "variance_highest"), corners))
        for name, corner in zip(CORNERS, corners):
            below = np.array([depth for depth in same if depth < corner])
            values[f"left_{name}"] = float(len(below))
            values[f"sxx_{name}"] = np.sum((below - below.mean()) ** 2) if len(below) else 0.0
            if len(below):
                values[f"mean_{name}"] = below.mean()
        for name, corner in names.items():
            columns[name] = {row: np.exp(corner_variance(same, [corner], depth)) for row, depth in zip(rows, same)}
        first = sorted(min(group) for group in groups.values())
        logs = {
            row: corner_variance(same, corners, depth) if i in first else NO_READING
            for i, (row, depth) in enumerate(zip(rows, same))
        }
        columns["narrows"] = logs
        narrowest = rule.best_repeat(same, first, corners)
        for name, numbers in (("narrow_no", first), ("repeat_no", rule.worth_repeating(readings))):
            if not tied(same, numbers, corners):
                values[name] = rows[rule.best_repeat(same, numbers, corners)] + 1.0
        values["narrow_by"] = corner_variance(same, corners, same[narrowest])
        values["asked"] = corner_variance(same, corners, NEW_DEPTH)
    return drift, without, values, columns


def typed(block, depths, energies, noise):
    """The values of the block on a trial, some rows left out, and where its readings stand."""
    book, made, _ = block
    rows = rows_of(len(depths), ROWS)
    columns = [
        [dict(zip(rows, each)).get(row, other) for row in range(ROWS)] for each, other in ((depths, ""), (energies, "off"))
    ]
    book.type(*columns, above_1=noise, above_2=NEW_DEPTH)
    return {**book.values(made.results), "asked": book.value("Asked!A1")}, rows


def differing(block, depths, energies, noise):
    """What the block shows otherwise than it should."""
    book, _, at = block
    found, rows = typed(block, depths, energies, noise)
    answer = knee_of_trial(depths, energies, noise=noise)
    wrong = [name for name in (*NUMBERS, "drift") if not agree(found[name], getattr(answer, name))]
    wrong += ["verdict"] if found["verdict"] != answer.verdict else []
    if answer.verdict == TOO_FEW:
        return wrong
    drift, without, values, columns = expected(depths, energies, noise, rows)
    wrong += [(name, found[name], each) for name, each in values.items() if not close(found[name], each, abs(drift.level))]
    for name, cells in columns.items():
        shown = book.column(at, name, ROWS)
        wrong += [(name, row, shown[row], each) for row, each in cells.items() if not close(shown[row], each, abs(drift.level))]
    made_it = without.verdict == FOUND != answer.verdict
    wrong += ["drift_made_it"] if found["drift_made_it"] != made_it else []
    said = f"the readings drift by {percent(drift.seen / drift.level)} % of the level from one to the next"
    said = said if values["drift_is_seen"] else ""
    wrong += [("drift_words", found["drift_words"])] if (found["drift_words"] or "") != said else []
    least, most = (percent(values[name] / drift.level) for name in ("least", "most"))
    if made_it:
        reason = (
            f"A drift of {least} to {most} % of the level from one reading to the next is possible, and could have made the knee."
        )
        advice = f"repeat reading {found['repeat_no']:.0f}"
    else:
        reason = (found["centre_reason"] or "") + (f" T{said[1:]}, which is taken off." if said else "")
        reason += f" {NOT_JUDGED}" if answer.verdict == FOUND and not values["drift_judged"] else ""
        advice = answer.advice
    wrong += [("reason", found["reason"], reason)] if found["reason"] != reason else []
    wrong += [("advice", found["advice"], advice)] if (found["advice"] or "") != advice else []
    return wrong


def turning_points(seed):
    """Pairs of trials that hardly differ, of which one is withdrawn for drift, or names it: a drift of one size and of another."""
    depths, energies, noise = drifting_trial(seed)
    size = sum(energies) / len(energies) / len(energies)

    def with_drift(share):
        return depths, [energy + share * size * time for time, energy in enumerate(energies)], noise

    def said(depths, energies, noise):
        answer = knee_of_trial(depths, energies, noise=noise)
        return answer.verdict == FOUND, "could have made" in str(answer.reasons), "taken off" in str(answer.reasons)

    return list(turns(with_drift, said, [0.1 * step for step in range(-4, 5)], near=1e-7))


@pytest.mark.parametrize(
    "seeds", [range(12), range(12, 24), (41, 77, 107, 143, 413, 424)]
)  # of the last, repeats tell too little, or a single reading lies below a corner
def test_every_step_is_that_of_an_independent_computation(block, seeds):
    assert {seed: differing(block, *drifting_trial(seed)) for seed in seeds} == {seed: [] for seed in seeds}


@pytest.mark.parametrize("later, is_judged", [(5, False), (6, True), (7, True)])
def test_one_repeat_half_a_trial_later_is_enough_to_judge_drift(block, later, is_judged):
    depths = [0.6 + 0.07 * place for place in range(12)]
    depths[2 + later] = depths[2]
    energies = [40 + 60 * max(0.0, 1 - depth) for depth in depths]
    assert typed(block, depths, energies, None)[0]["drift_judged"] == is_judged
    assert differing(block, depths, energies, None) == []


@pytest.mark.parametrize("seed", [0, 2, 3, 9])
@pytest.mark.parametrize("shift, share", [(-60.0, 1.0), (-45.0, 1.0), (-300.0, 1.0), (0.0, 0.0), (0.0, 1e-3), (-0.045, 1e-3)])
def test_shares_are_of_the_level_or_else_of_the_largest_reading_in_any_unit(block, seed, shift, share):
    depths, energies, noise = drifting_trial(seed)
    assert differing(block, depths, [share * energy + shift for energy in energies], noise) == []


@pytest.mark.parametrize("seed", TURNING)
def test_the_cells_change_their_mind_of_drift_where_python_does(block, seed):
    pairs = turning_points(seed)
    assert pairs
    for pair in pairs:
        assert [differing(block, *trial) for trial in pair] == [[], []]
