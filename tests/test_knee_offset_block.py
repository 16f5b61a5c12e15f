"""A load fitted beside the knee in cells: each number against numpy and the steps of `gritfuncs.knee.fitted_offset`.

What was found on the energies without the load is typed from Python, so that the block stands alone.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from test_knee_offset import plan
from test_knee_steps import close
from typed_block import TypedBlock, column, rows_of, single, turns

from gritfuncs.knee import FOUND, NOT_RESOLVED, TOO_FEW, Knee, thresholds
from gritfuncs.knee.find import judged, with_offset, without_offset
from gritfuncs.knee.fitted_offset import OffsetModel
from gritfuncs.knee.fitted_offset import _span as span_of_gap
from gritfuncs.knee.offset import inverse_rates, length, median, tells_offset
from gritfuncs.knee.quantiles import f1_quantile
from gritfuncs.knee.readings import numbered
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.workbooks.blocks.knee_falls import NONE
from gritfuncs.workbooks.blocks.offset import offset_block, offset_places

pytestmark = pytest.mark.usefixtures("no_search_for_readings_out_of_line")  # cells leave it out
ROWS = 16
NO_CORNER = float(NONE)
WITHDRAWN = (121, 132, 419, 657, 764, 2392)  # of the seeds below 2500: a load could have made the knee, in each of the four ways
RISING = (558, 963, 1197, 1908)  # of those, the best fit of some gaps rises with the corner on one side of a place
TURNING = (
    17,
    21,
    33,
    43,
    76,
    78,
    80,
    106,
    125,
    127,
    134,
    138,
    145,
    152,
    154,
)  # of those below 160 between which a knee is withdrawn
FROM_THE_KNEE = ("verdict", "knee", "level", "scatter_low", "scatter_high", "noise_floor", "span")


@pytest.fixture(scope="module")
def block():
    return opened()


def opened():
    at = offset_places(ROWS, "Load", "C4")
    knee = {name: single(number) for number, name in enumerate(FROM_THE_KNEE, 1)}
    cells, results = offset_block(at, column(1, ROWS), column(2, ROWS), column(3, ROWS), knee, single(8))
    return TypedBlock({"Load": cells}, ROWS), at, results


def trial_with_load(seed):
    """(depths, energies, rates, noise): plans that change the infeed rate and other rates, orders, shapes, scatter and load."""
    draw = random.Random(f"load {seed}")
    if seed % 3 == 0:
        count = draw.choice((5, 6, 7, 9, 12, 16))
        depths = [draw.uniform(0.6, 1.5) for _ in range(count)]
        for _ in range(draw.choice((0, 0, 3))):
            depths[draw.randrange(count)] = depths[0]
        rates = [draw.uniform(0.5, 2) ** draw.choice((1, 1, 2)) for _ in depths]
        if seed % 9 == 0:
            rates = [1.5 * depth ** draw.choice((1, 2)) for depth in depths]
        if seed % 27 == 0:
            rates = [0.7] * count
    else:
        depths, rates = plan()
        if draw.random() < 0.3:
            kept = sorted(draw.sample(range(len(depths)), draw.randrange(8, len(depths) + 1)))
            depths, rates = [depths[i] for i in kept], [rates[i] for i in kept]
        rates = [draw.choice((1, 3.5)) * rate for rate in rates]
    knee, fall, scatter = draw.uniform(0.8, 1.15), draw.uniform(0.5, 4), draw.choice((0.003, 0.01, 0.02, 0.05))
    shape = draw.choice(
        (
            lambda h: 1 + fall * max(0.0, knee - h),
            lambda h: 1 + fall * max(0.0, knee - h),
            lambda h: 1 + fall * max(0.0, knee - h),
            lambda h: max(1.0, knee / h) ** fall,
            lambda h: 3 - h,
            lambda h: 1 + 0.2 * h,
            lambda h: 1.0,
        )
    )
    load = draw.choice((0, 0.1, 0.4, -0.2))
    middle = median(rates)
    energies = [40 * (shape(h) * (1 + scatter * draw.gauss(0, 1)) + load * middle / q) for h, q in zip(depths, rates)]
    if draw.random() < 0.2:
        energies = [round(u) for u in energies]
    return depths, energies, rates, draw.choice((None, None, 0.01, 0.03))


def lowest_again(seed):
    """The same with the lowest depth read once more, at another removal rate."""
    depths, energies, rates, noise = trial_with_load(seed)
    place = depths.index(min(depths))
    return [*depths, depths[place]], [*energies, 1.01 * energies[place]], [*rates, 1.1 * rates[place]], noise


def typed(block, depths, energies, rates, knee, second_place):
    """The values and the columns of the block on a trial, some rows left out, and where its readings stand."""
    book, at, results = block
    rows = rows_of(len(depths), ROWS)
    columns = [
        [dict(zip(rows, each)).get(row, other) for row in range(ROWS)]
        for each, other in ((depths, "off"), (energies, None), (rates, ""))
    ]
    known = [knee.verdict, knee.knee, knee.level, knee.scatter_low, knee.scatter_high, knee.noise_floor, second_place[1]]
    singles = {f"above_{number}": value for number, value in enumerate(known, 1)}
    book.type(*columns, **singles, above_8=second_place[0])
    return book.values(results), book.columns(at, ROWS), rows


def projected(values, *columns):
    """What numpy's least squares leave of values beside a level and these columns."""
    design = np.column_stack([np.ones(len(values)), *columns])
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def expected(depths, energies, rates, knee, fit, middle):
    """The values and the columns of a trial whose load is taken off."""
    model = OffsetModel(depths, energies, rates)
    n, order = len(depths), sorted(range(len(depths)), key=lambda place: depths[place])
    h = np.array(model.readings.h)
    u, z = np.array([energies[i] for i in order]), np.array([inverse_rates(rates)[i] for i in order])
    y, below = projected(u, z), np.maximum(0, fit.knee - h)
    free = projected(z, below, (h < fit.knee).astype(float))
    line = projected(h, z)
    values = {
        "n_readings": float(n),
        "differ": 1.0,
        "median": middle,
        "length": np.linalg.norm(projected(z, h, h * h)),
        "tells_offset": 1.0,
        "fits_offset": 1.0,
        "yy": y @ y,
        "corner": fit.knee - h[0],
        "fall": fit.slope,
        "sse": fit.sse,
        "offset": fit.offset,
        "offset_at_setup": fit.offset * middle,
        "free": free @ free,
        "offset_error": fit.error * middle,
        "sxx": line @ line,
        "is_found": float(knee.verdict == FOUND),
    }
    columns = {
        "depth": h,
        "u": u,
        "x": h - h[0],
        "z": z - z.mean(),
        "left": projected(z, h, h * h),
        "y": y,
        "below": below,
        "free_z": free,
    }
    columns = {name: dict(enumerate(cells)) for name, cells in columns.items()}
    for name in ("aa", "ab", "bb", "ay", "by", "gain_on", "gain_in", "start", "stop", "gap_low", "gap_high"):
        columns[name] = {}
    variance = max(fit.sse / (n - 4), ((knee.noise_floor or 0) * (knee.level or 0)) ** 2)
    limit = fit.sse + f1_quantile(thresholds.CONFIDENCE, n - 4) * variance
    for number, (gap, end) in enumerate(zip(model.gaps, model.readings.ends)):
        row, upper = end - 1, gap.lower + gap.width
        a, b = projected((h <= gap.lower).astype(float), z), projected(np.maximum(0, gap.lower - h), z)
        columns["aa"][row], columns["ab"][row], columns["bb"][row] = a @ a, a @ b, b @ b
        columns["ay"][row], columns["by"][row] = a @ y, b @ y
        on = projected(np.maximum(0, upper - h), z)
        columns["gain_on"][row] = (on @ y) ** 2 / (on @ on) if on @ y > 0 else 0.0
        turns = gap.ay * gap.ab - gap.by * gap.aa
        if abs(turns) > 1e-9 * abs(gap.ay * gap.ab):
            place = (gap.by * gap.ab - gap.ay * gap.bb) / turns
            columns["gain_in"][row] = gap.gain(place) if 0 <= place <= gap.width else 0.0
        if number and knee.verdict == FOUND:
            zero = -gap.by / gap.ay  # where the fit turns to rise
            columns["start"][row], columns["stop"][row] = (
                max(0.0, zero) if gap.ay > 0 else 0.0,
                min(gap.width, zero) if gap.ay < 0 else gap.width,
            )
            span = span_of_gap(gap, model.squares - limit)
            ends = [gap.lower - h[0] + end for end in span] if span else (NO_CORNER, -NO_CORNER)
            columns["gap_low"][row], columns["gap_high"][row] = ends
    if knee.verdict == FOUND:
        hull = model.hull(fit, variance)
        values.update(
            variance=variance,
            spare=limit - fit.sse,
            needed=model.squares - limit,
            line_gain=(line @ y) ** 2 / (line @ line) if line @ y < 0 else 0.0,
            hull_high=min(hull.high, NO_CORNER),
            low=min(hull.low, knee.scatter_low),
            high=max(min(hull.high, NO_CORNER), knee.scatter_high),
        )
        if model.squares > limit:
            values["hull_low"] = hull.low
    return values, columns


def judge_of(depths, energies):
    """What is found on the readings as they are; nothing where there are none."""
    return judged(depths, energies, None) if depths else Knee(TOO_FEW, (), "", 0, 0)


def answers(depths, energies, rates, noise):
    """What Python takes off, finds without it, and says of it."""
    taken, offset = without_offset(depths, energies, rates)
    knee = judged(depths, taken, noise)
    return taken, offset, knee, with_offset(knee, offset)


def differing(block, depths, energies, rates, noise):
    """What the block shows otherwise than it should."""
    taken, offset, knee, whole = answers(depths, energies, rates, noise)
    readings = numbered(depths, energies)
    second = readings.places[1] if len(readings.places) > 1 else None
    found, shown, rows = typed(block, depths, energies, rates, knee, (second, readings.span))
    largest = max(map(abs, energies))
    made_it = float(whole.verdict != knee.verdict)
    values = {"tells_offset": float(rates != rates[:1] * len(rates) and len(rates) >= 6 and tells_offset(depths, rates))}
    values.update(fits_offset=float(offset is not None), offset_made_it=made_it)
    columns = {"taken": dict(zip(rows, taken))}
    if offset is not None:
        more, table = expected(depths, energies, rates, knee, offset.fit, offset.middle)
        values.update(more)
        columns.update(table)
    elif values["tells_offset"]:
        values["length"] = length(depths, rates)
    wrong = [(name, found[name], each) for name, each in values.items() if not close(found[name], each, 10 * largest**2)]
    for name, cells in columns.items():
        wrong += [
            (name, row, shown[name][row], each)
            for row, each in cells.items()
            if not close(shown[name][row], each, 10 * largest**2)
        ]
    if offset is None:
        wrong += [name for name in ("offset_error", "low", "high") if found[name] != "#N/A"]
        wrong += ["offset"] if found["offset"] != 0 else []
    return wrong


def turning_points(seed):
    """Pairs of trials that hardly differ, of which one is found and the other withdrawn: readings between those with little scatter
    and with much."""
    draw = random.Random(f"withdrawn {seed}")
    depths, energies, rates, noise = trial_with_load(seed)
    knee, fall, scatter = draw.uniform(0.85, 1.1), draw.uniform(0.5, 4), draw.choice((0, 0.003, 0.01))
    others = [40 * (1 + fall * max(0.0, knee - h)) * (1 + scatter * draw.gauss(0, 1)) for h in depths]

    def between(share):
        return depths, [(1 - share) * one + share * two for one, two in zip(energies, others)], rates, noise

    def withdrawn(*trial):
        _, offset, knee, whole = answers(*trial)
        return offset is None, knee.verdict == FOUND, knee.verdict == FOUND == whole.verdict

    pairs = turns(between, withdrawn, [step / 16 for step in range(17)])
    return [pair for pair in pairs if all(withdrawn(*trial)[1] for trial in pair)]


@pytest.mark.parametrize(
    "depths, rates",
    [
        ([], []),
        ([0.9], [2.0]),
        ([0.9, 0.9], [2.0, 3.0]),
        ([0.8, 1.0, 1.1], [2.0, 2.0, 2.0]),
        ([0.9] * 7, [1.0, 2.0, 3.0, 1.0, 2.0, 3.0, 1.5]),  # no range of depths
        ([0.6, 0.7, 0.8, 0.9, 1.0, 1.1], [2.0] * 6),  # no range of rates
        ([0.6, 0.7, 0.8, 0.9, 1.0, 1.1], [0.6, 0.7, 0.8, 0.9, 1.0, 1.1]),  # they go with the depth
    ],
)
def test_where_no_load_can_be_told_the_energies_stay_and_no_cell_shows_an_error(block, depths, rates):
    energies = [50.0 - 4 * place for place in range(len(depths))]
    found, shown, rows = typed(block, depths, energies, rates, judge_of(depths, energies), (None, None))
    assert (found["tells_offset"], found["fits_offset"], found["offset"], found["offset_made_it"]) == (0, 0, 0, 0)
    assert [shown["taken"][row] for row in rows] == energies
    unknown = {name for name, value in found.items() if isinstance(value, CellError)}
    assert unknown == {"offset_error", "low", "high"}
    count = len(depths)
    assert found["mean_u"] == pytest.approx(sum(energies) / count if count else 0)
    assert found["mean_x"] == pytest.approx(sum(depths) / count - min(depths) if count else 0)
    assert found["mean_z"] == pytest.approx(sum(found["median"] / rate for rate in rates) / count if count else 0)
    assert count or (found["mean_square"], found["mean_s"], found["mean_below"]) == (0, 0, 0)


@pytest.mark.parametrize("seeds", [range(20), range(20, 40), range(40, 60), WITHDRAWN, RISING])
def test_every_step_is_that_of_an_independent_computation(block, seeds):
    assert {seed: differing(block, *trial_with_load(seed)) for seed in seeds} == {seed: [] for seed in seeds}


@pytest.mark.parametrize("seed", [6, 419, 1103, 1564, 2205])  # of those below 2500 whose corner may lie at the lowest depth
def test_the_lowest_depth_may_be_read_again(block, seed):
    assert differing(block, *lowest_again(seed)) == []


def test_what_a_load_could_have_made_is_withdrawn_for_each_of_the_reasons():
    made = []
    for seed in WITHDRAWN:
        depths, energies, rates, noise = trial_with_load(seed)
        _, offset, knee, whole = answers(depths, energies, rates, noise)
        assert knee.verdict == FOUND and whole.verdict == NOT_RESOLVED
        hull = offset.model.hull(offset.fit, max(offset.fit.sse / (len(depths) - 4), (knee.noise_floor * knee.level) ** 2))
        made.append((math.isinf(hull.high), min(hull.low, knee.scatter_low) <= offset.model.readings.places[1]))
    assert set(made) == {(False, False), (False, True), (True, False), (True, True)}


@pytest.mark.parametrize("seed", TURNING)
def test_the_cells_withdraw_a_knee_where_python_does(block, seed):
    pairs = turning_points(seed)
    assert pairs
    for pair in pairs:
        assert [differing(block, *trial) for trial in pair] == [[], []]
