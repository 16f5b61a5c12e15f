"""The steps of the knee in cells: each number of the list and of the table, against numpy and the steps of `gritfuncs.knee`.

One trial tries nearly every formula of the block this way, where its answer would tell of the last few alone.
"""

from __future__ import annotations

import math
import random
import re

import numpy as np
import pytest
from test_knee_block import DEPTHS, ENERGIES, disagreements, invented_trial, judged
from typed_block import TypedBlock, column, rows_of, single, turns

from gritfuncs.knee import FOUND, TOO_FEW, thresholds
from gritfuncs.knee.curved import curved_fall
from gritfuncs.knee.evidence import Evidence
from gritfuncs.knee.hinge import _in_gap as best_in_gap
from gritfuncs.knee.hinge import fit_corner, fit_stick, level_line, on_reading, stick_at, straight_line
from gritfuncs.knee.interval import _hinge_span as hinge_span
from gritfuncs.knee.interval import _stick_span as stick_span
from gritfuncs.knee.interval import hinge_hull, stick_hull
from gritfuncs.knee.quantiles import f1_quantile, t_quantile
from gritfuncs.knee.readings import read
from gritfuncs.knee.verdict import HIGHER, judge
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.workbooks.blocks.knee import knee_block
from gritfuncs.workbooks.blocks.knee_falls import NONE, UNIT, UNIT_SQUARED
from gritfuncs.workbooks.blocks.knee_values import RESULTS, STEPS

ROWS = 15
NO_CANDIDATE = float(NONE)
# Of the seeds below 600, so many that each pair of answers that turn into one another there, 146 of them, is among theirs.
TURNING = (
    4,
    25,
    46,
    47,
    50,
    60,
    65,
    77,
    85,
    92,
    107,
    110,
    120,
    136,
    144,
    150,
    152,
    157,
    164,
    188,
    192,
    195,
    212,
    220,
    221,
    238,
    245,
    253,
    262,
    270,
    286,
    293,
    302,
    309,
    310,
    337,
    342,
    346,
    377,
    386,
    403,
    408,
    413,
    415,
    416,
    418,
    425,
    431,
    444,
    456,
    472,
    490,
    498,
    500,
    501,
    510,
    511,
    514,
    515,
    516,
    527,
    530,
    545,
    556,
    582,
    587,
    596,
)


@pytest.fixture(scope="module")
def block():
    return opened()


def opened():
    made = knee_block(column(1, ROWS), column(2, ROWS), ROWS, sheet_name="Knee sheet", anchor="B3", noise=single(1))
    return made, TypedBlock({"Knee sheet": made.cells}, ROWS)


def typed(block, depths, energies, noise):
    """The values and the columns of the block on a trial, every third row left out."""
    made, book = block
    rows = rows_of(len(depths), ROWS)
    columns = [
        [dict(zip(rows, each)).get(row, other) for row in range(ROWS)] for each, other in ((depths, "off"), (energies, ""))
    ]
    book.type(*columns, above_1=noise)
    return book.values(made.results), book.columns(made.at, len(depths)), rows


def straight_through(x, y):
    """Slope and squares of numpy's straight line."""
    slope = np.polyfit(x - x.mean(), y, 1)[0]
    return slope, float(np.sum((y - y.mean() - slope * (x - x.mean())) ** 2))


def fall_to(corner, x, y):
    """Fall and squares of the best fit that is level from the corner on, by numpy."""
    design = np.column_stack([np.ones(len(x)), np.maximum(0, corner - x)])
    solution = np.linalg.lstsq(design, y, rcond=None)[0]
    return solution[1], float(np.sum((y - design @ solution) ** 2))


def expected_sides(prefix, readings, x, y):
    """What the columns of one fall show of the readings on both sides of each gap."""
    n, found = len(x), {}

    def put(name, row, value):
        found.setdefault(prefix + name, {})[row] = value

    for row in range(n):
        left, right = slice(0, row + 1), slice(row + 1, n)
        put("left_x", row, x[left].mean())
        put("left_sxx", row, np.sum((x[left] - x[left].mean()) ** 2))
        put("left_sxy", row, np.sum((x[left] - x[left].mean()) * (y[left] - y[left].mean())))
        if prefix:
            continue
        put("left_y", row, y[left].mean())
        put("left_syy", row, np.sum((y[left] - y[left].mean()) ** 2))
        if row < n - 1:
            put("right_x", row, x[right].mean())
            put("right_y", row, y[right].mean())
            put("right_sxx", row, np.sum((x[right] - x[right].mean()) ** 2))
            put("right_sxy", row, np.sum((x[right] - x[right].mean()) * (y[right] - y[right].mean())))
            put("right_syy", row, np.sum((y[right] - y[right].mean()) ** 2))
    for gap, end in zip(readings.gaps, readings.ends):
        row = end - 1
        fall, squares = fall_to(gap.upper, x, y)
        put("on_slope", row, fall)
        if abs(fall) * np.ptp(x) > 1e-9 * max(abs(y)):  # else rounding says whether it falls
            put("on_sse", row, squares if fall > 0 else NO_CANDIDATE)
        if gap is readings.gaps[0]:
            continue
        slope, squares = straight_through(x[:end], y[:end])
        put("left_slope", row, slope)
        put("free_sse", row, squares + np.sum((y[end:] - y[end:].mean()) ** 2))
        inside = best_in_gap(gap, 0.0)
        put("in_sse", row, inside.sse if inside else NO_CANDIDATE)
        if inside:
            put("in_knee", row, inside.knee)
    return found


def expected_hulls(prefix, readings, limit):
    """The corners of each gap that are not excluded, where there are any."""
    low, high = {}, {}
    for gap, end in zip(readings.gaps[1:], readings.ends[1:]):
        span = hinge_span(readings, gap, limit)
        low[end - 1], high[end - 1] = span or (NO_CANDIDATE, -NO_CANDIDATE)
    return {prefix + "gap_low": low, prefix + "gap_high": high}


def expected_bends(readings, x, y, stick, limit):
    """What the columns show of two slopes that meet in a gap, and of half the slope beyond the corner."""
    found = {}

    def put(name, row, value):
        found.setdefault(name, {})[row] = value

    for number, (gap, end) in enumerate(zip(readings.gaps, readings.ends)):
        row = end - 1
        on = on_reading(readings, gap, gap.upper, thresholds.REJECTED_RATIO)
        inside = best_in_gap(gap, thresholds.REJECTED_RATIO)
        put("bent_on", row, on.sse if on.slope > 0 else NO_CANDIDATE)
        put("bent_in", row, inside.sse if inside else NO_CANDIDATE)
        if inside:
            put("bent_knee", row, inside.knee)
        has_two = 1 <= number < len(readings.gaps) - 1
        put("two", row, float(has_two))
        if not has_two:
            continue
        put("bend_low_sse", row, stick_at(gap, gap.lower).sse)
        put("bend_high_sse", row, stick_at(gap, gap.upper).sse)
        (left, _), (right, _) = straight_through(x[:end], y[:end]), straight_through(x[end:], y[end:])
        crossing = None
        if left != right:
            crossing = (y[end:].mean() - right * x[end:].mean() - y[:end].mean() + left * x[:end].mean()) / (left - right)
        ends = gap.lower, gap.upper
        if crossing is not None and gap.lower < crossing < gap.upper:
            ends = (crossing,)
        best, *others = sorted((stick_at(gap, place) for place in ends), key=lambda corner: corner.sse)
        put("bend_sse", row, best.sse)
        if others and math.isclose(best.sse, others[0].sse, rel_tol=1e-9):
            continue
        put("bend_t", row, best.knee - gap.left.x)
        put("bend_level", row, best.level)
        put("bend_fall", row, best.slope)
        put("bend_right", row, best.right_slope)
        span = stick_span(gap, limit)
        put("bend_gap_low", row, span[0] if span else NO_CANDIDATE)
        put("bend_gap_high", row, span[1] if span else -NO_CANDIDATE)
    return found


def fit_values(prefix, readings, x, y):
    """The values of the best corner over a measure of the depth."""
    fit, line = fit_corner(readings), straight_line(readings)
    slope, squares = straight_through(x, y)
    return {
        prefix + "first": x[0],
        prefix + "last": x[-1],
        prefix + "mean_depth": x.mean(),
        prefix + "sxx": np.sum((x - x.mean()) ** 2),
        prefix + "sxy": np.sum((x - x.mean()) * (y - y.mean())),
        prefix + "line_slope": slope,
        prefix + "line_sse": squares,
        prefix + "line_fall_sse": line.sse if line.slope > 0 else NO_CANDIDATE,
        prefix + "fit_knee": fit.knee,
        prefix + "fit_level": fit.level,
        prefix + "fit_slope": fit.slope,
        prefix + "hinge_sse": fit.sse,
    }


def hull_values(prefix, readings, fit, limit):
    """The ends of all corners that are not excluded, where a level line is."""
    if level_line(readings).sse <= limit:
        return {}
    hull = hinge_hull(readings, fit, limit)
    return {prefix + "hull_low": hull.low, prefix + "hull_high": min(hull.high, NO_CANDIDATE)}


def expected(depths, energies, noise):
    """The values and the columns that the block should show, and the sizes below which a difference is rounding."""
    readings = read(depths, energies)
    trial = Evidence.of(readings, noise)
    order = sorted(range(len(depths)), key=lambda place: depths[place])  # equal depths as they were typed
    x, y, n = np.array(readings.h), np.array([energies[place] for place in order]), readings.n
    first, last = x[0], x[-1]
    hinge, stick = trial.hinge, fit_stick(readings)
    variance, stick_variance = trial.variance(hinge.sse, 3), trial.variance(stick.sse, 4)
    confidence = thresholds.CONFIDENCE
    limit = hinge.sse + f1_quantile(confidence, n - 3) * variance
    stick_spare = f1_quantile(confidence, n - 4) * stick_variance
    stick_range = stick_hull(readings, stick, stick.sse + stick_spare)
    slope, squares = straight_through(x, y)
    error = t_quantile(confidence, n - 2) * math.sqrt(trial.variance(squares, 2) / np.sum((x - x.mean()) ** 2))
    bent = fit_corner(readings, thresholds.REJECTED_RATIO)
    values = {
        **fit_values("", readings, x, y),
        "span": last - first,
        "mean": y.mean(),
        "syy": np.sum((y - y.mean()) ** 2),
        "largest": max(abs(y)),
        "positive": float(trial.positive),
        "scale": trial.scale,
        "noise_fits": 1.0,
        "enough": 1.0,
        "dead": float(not trial.positive and max(y) == min(y)),
        "repeats": float(n - len(readings.depths)),
        "noise_floor": trial.noise_floor,
        "floor_square": (trial.noise_floor * trial.scale) ** 2,
        "variance": variance,
        "line_error": error,
        "rises": float(slope > error),
        "limit": limit,
        "stick_knee": stick.knee,
        "stick_level": stick.level,
        "stick_slope": stick.slope,
        "stick_right": stick.right_slope,
        "stick_sse": stick.sse,
        "stick_variance": stick_variance,
        "stick_spare": stick_spare,
        "stick_low": stick_range.low,
        "stick_high": stick_range.high,
        "later_fall": stick.right_slope * (last - stick.knee),
        "bends": float(hinge.sse - stick.sse > stick_spare),
        "bent_sse": bent.sse,
        "last_but_one": readings.places[-2],
        "allowance": (last - first) / (len(readings.places) - 1) / 2,
    }
    if abs(y.mean()) > 1e-9 * max(abs(y)):
        values["change"] = (abs(slope) + error) * (last - first) / y.mean()
    values.update(hull_values("", readings, hinge, limit))
    columns = {
        "sorted": dict(enumerate(depths[place] for place in order)),
        "energy": dict(enumerate(y)),
        "depth": dict(enumerate(x)),
        **expected_sides("", readings, x, y),
        **expected_hulls("", readings, limit),
        **expected_bends(readings, x, y, stick, stick.sse + stick_spare),
        "bend_residual": dict(
            enumerate((y - stick.level - np.where(x < stick.knee, stick.slope, stick.right_slope) * (stick.knee - x)) ** 2)
        ),
        "residual": dict(enumerate((y - hinge.level - hinge.slope * np.maximum(0, hinge.knee - x)) ** 2)),
    }
    return readings, trial, x, y, values, columns


def with_curve(readings, trial, y, found, values, columns):
    """The same of the curved fall, beside the straight one that the cells go by."""
    over = readings.over(lambda depth: 2 - (readings.depths[0] / depth) ** 2)
    place = np.array(over.h)
    values.update(fit_values("curve_", over, place, y))
    stick = fit_stick(readings)
    straight = stick if found["gentle"] == 1 else trial.hinge
    curved = fit_corner(over)
    least = min(curved.sse, straight.sse)
    limit = least + f1_quantile(thresholds.CONFIDENCE, readings.n - 3) * trial.variance(least, 3)
    values.update(best_sse=straight.sse, best_knee=straight.knee, best_level=straight.level, best_slope=straight.slope)
    values.update(curve_least=least, curve_limit=limit)
    if found["gentle"] == 1 and found["curve_serves"] == 0 and found["verdict"] == FOUND:
        values["line_energy_5"] = stick.level + stick.right_slope * (stick.knee - readings.depths[-1])
    columns.update(expected_sides("curve_", over, place, y))
    columns.update(expected_hulls("curve_", over, limit))
    values.update(hull_values("curve_", over, curved, limit))
    curve = curved_fall(trial, straight)
    if curve:
        values.update(curve_knee=curve.knee, curve_slope=curve.slope)
    values["last_rise"] = y[np.array(readings.h) == readings.depths[-1]].mean() - straight.level


def close(cell, number, size):
    """Whether a cell shows the number, to what rounding leaves of values so large."""
    return isinstance(cell, float) and (cell == number or math.isclose(cell, number, rel_tol=1e-7, abs_tol=1e-11 * size))


def size_of(name, values):
    """How large the numbers are that a number of this name is a difference of."""
    fall = values["largest"] / values["span"] if "curve_" not in name else values["largest"]
    if "sse" in name or "residual" in name or name in ("syy", "variance", "limit", "least") or name.endswith("syy"):
        return values["largest"] ** 2
    if "slope" in name or "fall" in name or "right" in name:
        return 10 * fall
    return values["largest"] + values["last"]


def differing(block, depths, energies, noise):
    """What the block shows otherwise than it should: of its answer, its values and its columns."""
    found, shown, rows = typed(block, depths, energies, noise)
    answer = judged(depths, energies, noise)
    wrong = disagreements(found, answer)
    if answer.verdict == TOO_FEW:
        return wrong
    wrong += [(name, "an error") for name, cells in shown.items() if any(isinstance(cell, CellError) for cell in cells)]
    readings, trial, x, y, values, columns = expected(depths, energies, noise)
    if values["stick_sse"] < 1e-9 * max(values["syy"], 1e-9 * values["largest"] ** 2):
        return wrong  # where readings lie on their fit, rounding chooses among steps that all lead there
    with_curve(readings, trial, y, found, values, columns)
    wrong += [(name, found[name], each) for name, each in values.items() if not close(found[name], each, size_of(name, values))]
    for name, cells in columns.items():
        wrong += [
            (name, row, shown[name][row], each)
            for row, each in cells.items()
            if not close(shown[name][row], each, size_of(name, values))
        ]
    return wrong


def kind(depths, energies, noise):
    """What is said of a trial, but for its numbers."""
    answer = judge(read(depths, energies), noise)
    return answer.verdict, answer.advice, answer.curved, re.sub(r"[\d.]+(e[-+]\d+)?", "0", " ".join(answer.reasons))


def turning_points(seed):
    """Pairs of trials that hardly differ, of which Python says different things: readings between those of two shapes."""
    draw = random.Random(f"between {seed}")
    depths, energies, noise = invented_trial(seed)
    scatter = draw.choice([0.003, 0.01, 0.02, 0.05])
    knee, fall = draw.uniform(0.7, 1.3), draw.uniform(10, 60)
    other = draw.choice(
        (
            lambda h: 40 + fall * max(0.0, knee - h),
            lambda h: 40 + fall * (knee - h) * (1 if h < knee else draw_ratio),
            lambda h: 40 * max(1.0, knee / h) ** 2,
            lambda h: 40.0,
            lambda h: 70 - fall / 2 * h,
        )
    )
    draw_ratio = draw.uniform(-0.4, 0.4)
    others = [other(h) * (1 + scatter * draw.gauss(0, 1)) for h in depths]

    def between(share):
        return depths, [(1 - share) * one + share * two for one, two in zip(energies, others)], noise

    return list(turns(between, kind, [step / 16 for step in range(17)]))


def last_reading_rises(seed):
    """Trials whose knee lies before the last depth but one, their last reading a share higher and higher."""
    draw = random.Random(f"rise {seed}")
    count = draw.choice((8, 9, 10))
    depths = [0.6 + 0.1 * place for place in range(count)]
    knee, fall, scatter = depths[-2] - draw.uniform(0, 0.14), draw.uniform(40, 90), draw.choice((0.003, 0.01, 0.02))
    energies = [(40 + fall * max(0, knee - depth)) * (1 + scatter * draw.gauss(0, 1)) for depth in depths]
    noise = draw.choice((None, 0.003, 0.005))
    return lambda share: (depths, [*energies[:-1], energies[-1] * (1 + share)], noise)


def odd_trial(seed):
    """Readings of a coarse meter, which are often equal; depths that are nearly or hardly one; hardly enough of either."""
    draw = random.Random(f"odd {seed}")
    count = draw.choice((5, 6, 6, 7, 8, 10))
    depths = [0.5 + draw.choice((0.1, 0.125)) * place for place in range(count)]
    energies = [
        draw.choice((2, 3, 4, 8)) * max(0, draw.randrange(2, 6) - place) + draw.randrange(-1, 2) + 6.0 for place in range(count)
    ]
    if seed % 3 == 0:
        energies = sorted(energies, reverse=True)
    if seed % 3 == 1:
        for place in range(1, count):
            if draw.random() < 0.4:
                near = draw.choice((0, 3e-10, 1e-5, 1e-3, 0.015, 0.025))
                depths[place] = depths[place - 1] * (1 + near)
    if seed % 4 == 2:
        energies = [draw.choice((8.0, 9.0)) for _ in depths]
    if seed % 5 == 4:
        energies = [energy - draw.choice((6.0, 9.0)) for energy in energies]
    if seed % 7 == 6:
        energies = [draw.choice((0.0, 0.0, -3.0, 4.0))] * count
    return depths, energies, draw.choice((None, None, 0.001, 0.02, 0.3))


@pytest.mark.parametrize(
    "depths, energies, noise, reason",
    [
        (DEPTHS, ENERGIES, 0.999, None),
        (DEPTHS, ENERGIES, 1e-6, None),
        (DEPTHS, ENERGIES, "", None),
        (DEPTHS, ENERGIES, 0, "The noise must be > 0 and < 1, a share of the level."),
        (DEPTHS, ENERGIES, 1, "The noise must be > 0 and < 1, a share of the level."),
        (DEPTHS, ENERGIES, -0.02, "The noise must be > 0 and < 1, a share of the level."),
        (DEPTHS, ENERGIES, "2 %", "The noise must be > 0 and < 1, a share of the level."),
        (DEPTHS, ENERGIES, CellError("#REF!"), "The noise must be > 0 and < 1, a share of the level."),
        ([0, *DEPTHS[1:]], ENERGIES, None, "Depths must be > 0 µm."),
        ([-0.1, *DEPTHS[1:5]], ENERGIES[:5], None, "Depths must be > 0 µm."),
        ([*DEPTHS[:7], CellError("#N/A")], ENERGIES, None, "A reading is an error value."),
        (DEPTHS, [*ENERGIES[:7], CellError("#DIV/0!")], 2, "A reading is an error value."),
        (DEPTHS, [energy * 1e200 for energy in ENERGIES], None, "The readings cannot be computed with."),
    ],
)
def test_what_cannot_be_judged_is_said_in_words(block, depths, energies, noise, reason):
    found, _, _ = typed(block, depths, energies, noise)
    if reason is None:
        assert found["verdict"] == judged(depths, energies, noise or None).verdict
    else:
        assert (found["verdict"], found["reason"], found["knee"]) == ("no verdict", reason, "#N/A")
        assert found["advice"] == f"mend the {'noise' if 'noise' in reason else 'readings'}"


def stepped_trial(seed):
    """An invented trial in a unit of its own, of watts or of shares."""
    depths, energies, noise = invented_trial(300 + seed)
    return depths, [energy * 10.0 ** (seed % 7 - 4) for energy in energies], noise


def alike(start):
    """Ten seeds of which nothing differs."""
    return {seed: [] for seed in range(start, start + 10)}


@pytest.mark.parametrize("start", range(0, 40, 10))
def test_every_step_is_that_of_an_independent_computation(block, start):
    assert {seed: differing(block, *stepped_trial(seed)) for seed in range(start, start + 10)} == alike(start)


@pytest.mark.parametrize("seed", [5700, 6791])  # of those below 8000
def test_a_curved_fall_does_not_count_where_a_straight_one_without_a_knee_does(block, seed):
    """Though its lowest corner lies below that of the straight falls."""
    trial = invented_trial(seed)
    found, _, _ = typed(block, *trial)
    assert (found["line_in"], found["curve_in"]) == (1, 0)
    assert found["first"] / math.sqrt(2 - found["curve_hull_low"]) < found["scatter_low"]
    assert differing(block, *trial) == []


@pytest.mark.parametrize("start", range(0, 60, 10))
def test_odd_readings_are_computed_step_by_step_as_in_python(block, start):
    assert {seed: differing(block, *odd_trial(seed)) for seed in range(start, start + 10)} == alike(start)


@pytest.mark.parametrize("seed", range(12))
def test_a_straight_fall_is_taken_where_a_corner_fits_as_well(block, seed):
    """On a straight line every corner within rounding of it is as good; the end of the range is said to be the corner."""
    draw = random.Random(f"line {seed}")
    depths = sorted(draw.uniform(0.5, 1.6) for _ in range(8))
    fall = draw.uniform(10, 90)
    found, _, _ = typed(block, depths, [200 - fall * depth for depth in depths], None)
    assert (found["verdict"], found["fit_knee"]) == ("still falling", depths[-1])
    assert found["fit_slope"] == pytest.approx(fall) and found["fit_level"] == pytest.approx(200 - fall * depths[-1])


@pytest.mark.parametrize("seed", TURNING)
def test_the_cells_change_their_mind_where_python_does(block, seed):
    pairs = turning_points(seed)
    assert pairs
    for pair in pairs:
        assert kind(*pair[0]) != kind(*pair[1])
        assert [differing(block, *trial) for trial in pair] == [[], []]


@pytest.mark.parametrize("seed", [3, 4, 13, 112])  # seeds with such a turn; in two of them the noise floor is the scatter
def test_a_knee_near_the_end_is_doubted_once_the_last_reading_rises_by_the_scatter(block, seed):
    pairs = turns(last_reading_rises(seed), kind, [step / 100 for step in range(-6, 11)], near=1e-8)
    ((before, after),) = ((*pair,) for pair in pairs if kind(*pair[0])[0] == FOUND and kind(*pair[1])[1] == HIGHER)
    trial = Evidence.of(read(*after[:2]), after[2])
    assert after[1][-1] - trial.hinge.level == pytest.approx(math.sqrt(trial.variance(trial.hinge.sse, 3)), rel=1e-4)
    assert [differing(block, *each) for each in (before, after)] == [[], []]


# How often a number with this unit holds the unit of depth, and that of the readings.
POWERS = {
    "µm": (1, 0),
    "per µm": (-1, 1),
    UNIT: (0, 1),
    UNIT_SQUARED: (0, 2),
    "place, squared": (2, 0),
    "place × reading": (1, 1),
}
NO_UNIT = ("-", "no unit", "share of the level", "share of the mean")


@pytest.mark.parametrize("seed", TURNING[:40])
def test_every_number_of_the_list_has_the_unit_that_stands_beside_it(block, seed):
    """In other units of depth and of the readings it is as many times larger as its unit is smaller."""
    depths, energies, noise = invented_trial(seed)
    plain, _, _ = typed(block, depths, energies, noise)
    for depth_unit, energy_unit in ((4.0, 1.0), (1.0, 8.0)):  # powers of two: nothing is rounded
        scaled, _, _ = typed(block, [depth_unit * each for each in depths], [energy_unit * each for each in energies], noise)
        for name, _, unit, _ in (*RESULTS, *STEPS):
            of_depth, of_energy = (0, 0) if unit in NO_UNIT else POWERS[unit]
            if name.startswith("curve_") and unit.startswith("place"):  # which has no unit there
                of_depth = 0
            value, factor = plain[name], depth_unit**of_depth * energy_unit**of_energy
            if isinstance(value, float) and abs(value) < NO_CANDIDATE:
                assert scaled[name] == pytest.approx(value * factor, rel=1e-9, abs=1e-12 * factor), (name, unit)
            else:
                assert scaled[name] == value or isinstance(value, CellError), (name, unit)
