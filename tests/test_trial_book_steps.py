"""rpm and infeed stepped together in the cells of trial.xlsx: depths, plan, next reading and knee, beside those of Python."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from open_book import OpenBook
from test_next_steps import NEAR_THE_SLOW_END, drawn
from test_trial_book import filled, in_column

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.knee import knee_of_trial
from gritfuncs.planning.plan import BOTH, RPM
from gritfuncs.workbooks.filled import trial_values
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.tables import CALCULATION, PLAN, READINGS, TRIAL

SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
NOMINAL, INFEED = example.NOMINAL_RPM, SETUP.infeed_rate


@pytest.fixture(scope="module")
def book(as_built):
    return OpenBook(as_built("trial.xlsx"))


def power(rpm, infeed, knee, fall=2.5, scatter=0.0, draw=random, level=100.0):
    """Net power at the wheel where energy follows grit depth alone."""
    now = replace(SETUP, infeed_rate=infeed)
    energy = level * (1 + fall * max(0.0, 1 - now.depth(rpm) / knee)) * (1 + scatter * draw.gauss(0, 1))
    return gf.grinding_power(energy, now.removal_rate, SETUP.contact_width)


def rows_of(plan, knee_rpm=118.0, wrong_idle=0.0, seed=1, scatter=0.02, fall=2.5):
    """Readings, and infeed rates, of a plan."""
    draw, knee = random.Random(seed), SETUP.depth(knee_rpm)
    net = power(NOMINAL, INFEED, knee)
    rows, infeeds = [], []
    for step in plan:
        rate = INFEED if step.infeed_rate is None else step.infeed_rate
        rows.append((step.work_rpm, power(step.work_rpm, rate, knee, fall, scatter, draw) + 0.5 + wrong_idle * net, 0.5))
        infeeds.append(rate)
    return rows, infeeds


PLANNED = gf.plan_trial(NOMINAL, steps=BOTH, infeed_rate=INFEED)


def read_as_file(tmp_path, **values):
    trial.build(values).save(tmp_path / "book.xlsx")
    return gf.read_trial(tmp_path / "book.xlsx")


@pytest.mark.parametrize("basis, units", [("radius", "metric"), ("diameter", "metric"), ("diameter", "inch")])
def test_depth_and_energy_of_a_row_follow_from_its_own_infeed_as_in_python(book, tmp_path, basis, units):
    rows, infeeds = rows_of(PLANNED)
    infeeds[3] = None
    shown = 1 if basis == "radius" else 2
    inch = dict(
        wheel_diameter=200 / 25.4,
        wheel_speed=22 / 0.00508,
        marked_wheel_speed=35 / 0.00508,
        work_diameter=20 / 25.4,
        infeed_rate=shown * INFEED / 25.4,
        contact_width=15 / 25.4,
    )
    typed = [None if rate is None else rate * shown / (25.4 if units == "inch" else 1) for rate in infeeds]
    values = {"infeed_basis": basis, "infeed_rate": shown * INFEED, "units": units, **(inch if units == "inch" else {})}
    seen = filled(book, rows, row_infeed_rates=typed, steps=BOTH, **values)
    n, setups = len(rows), [replace(SETUP, infeed_rate=rate or INFEED) for rate in infeeds]
    depths = [setup.depth(rpm) for setup, (rpm, _, _) in zip(setups, rows)]
    energies = [
        gf.specific_energy(load - idle, setup.removal_rate, SETUP.contact_width) for setup, (_, load, idle) in zip(setups, rows)
    ]
    assert in_column(seen, READINGS, "depth")[:n] == pytest.approx(depths)
    assert in_column(seen, READINGS, "energy")[:n] == pytest.approx(energies)
    if units == "inch":  # where all of it comes together
        found = read_as_file(tmp_path, readings=rows, row_infeed_rates=typed, steps=BOTH, **values)
        assert found.way == BOTH and found.used[3].infeed_rate is None
        assert (list(found.depths), list(found.energies)) == (pytest.approx(depths), pytest.approx(energies))
        assert in_column(seen, CALCULATION, "removal")[:n] == pytest.approx(list(found.removal_ratios))
    assert in_column(seen, READINGS, "status")[3] == "! used, infeed blank"


def test_a_book_without_infeeds_computes_as_ever_and_the_words_are_python_s(book, tmp_path):
    rows = [(NOMINAL, 2.0, 0.5)] * 5
    infeeds = [None, "x", -1.0, INFEED, INFEED]
    seen = filled(book, rows, row_infeed_rates=infeeds)
    words = in_column(seen, CALCULATION, "status")[:5]
    found = read_as_file(tmp_path, readings=rows, row_infeed_rates=infeeds)
    assert words == [reading.status for reading in found.readings[:5]]
    assert words[1:4] == ["left out: infeed rate is not a number", "left out: infeed rate is not > 0", "used"]
    assert in_column(seen, READINGS, "status")[1:3] == ["! infeed not a number", "! infeed not > 0"]
    plain = filled(book, example.readings(), row_infeed_rates=[])
    depths = [SETUP.depth(rpm) for rpm, _, _ in example.readings()]
    assert in_column(plain, CALCULATION, "rpm")[: len(depths)] == [rpm for rpm, _, _ in example.readings()]
    assert in_column(plain, CALCULATION, "depth")[: len(depths)] == pytest.approx(depths, rel=1e-15)


def test_a_step_to_either_side_has_the_depth_of_its_rpm_and_infeed(book):
    rows, infeeds = rows_of(PLANNED)
    seen = filled(book, rows[:3], row_infeed_rates=infeeds[:3], steps=BOTH)
    for way in ("slower", "faster"):
        rpm = seen[f"out_next_{way}"]
        assert rpm != NOMINAL
        setup = replace(SETUP, infeed_rate=INFEED * rpm / NOMINAL)
        assert seen[f"out_next_{way}_depth"] == pytest.approx(setup.depth(rpm))


# --- the plan ---------------------------------------------------------------------------------------------------------

PLANS = [
    dict(),
    dict(steps_each_side=3, step_percent=10.0, lowest_infeed_rate=0.45, highest_infeed_rate=0.8),
    dict(spacing="depth", lowest_work_rpm=90.0, highest_work_rpm=190.0, highest_infeed_rate=0.7),
]


@pytest.mark.parametrize("plan", PLANS)
def test_the_planned_steps_of_rpm_and_infeed_are_those_of_python(book, plan):
    steps = gf.plan_trial(NOMINAL, steps=BOTH, infeed_rate=INFEED, **plan)
    limits = {
        name: plan.get(name) for name in ("lowest_work_rpm", "highest_work_rpm", "lowest_infeed_rate", "highest_infeed_rate")
    }
    inputs = dict(
        steps_each_side=plan.get("steps_each_side", 6), plan_spacing=plan.get("spacing", "rpm"), follow="plan", **limits
    )
    seen = filled(book, (), row_infeed_rates=[], steps=BOTH, **inputs)
    for name, column in (("work_rpm", "planned_rpm"), ("infeed_rate", "planned_infeed")):
        told = [value if isinstance(value, float) else None for value in in_column(seen, PLAN, column)]
        assert told[: len(steps)] == [
            None if getattr(step, name) is None else pytest.approx(getattr(step, name)) for step in steps
        ], name
        assert set(told[len(steps) :]) == {None}
    first = next(step for step in steps if step.work_rpm)
    assert (seen["out_next_rpm"], seen["out_next_infeed_rate"]) == (first.work_rpm, pytest.approx(first.infeed_rate))
    assert (seen.at(TRIAL, "A3"), seen.at(TRIAL, "A4")) == ("SET NEXT  ·  INFEED 0.600 mm/min", first.work_rpm)
    assert "deep side" in seen.at("calc plan", "A6") and "deep side" in seen["out_next_caution"]


@pytest.mark.parametrize("seed", range(16))
def test_any_plan_is_that_of_python(book, seed):
    """Of any number of steps, by rpm or depth, within any limits; the depths are those of its rpm and infeed."""
    draw = random.Random(f"plan {seed}")
    steps, sides = (RPM, BOTH)[seed % 2], draw.randint(1, 9)
    percent = round(draw.uniform(1, 0.9 * (40 if steps == BOTH else 60) / sides), 1)
    limits = {
        name: value * draw.choice(shares)
        for name, value, shares in (
            ("lowest_work_rpm", NOMINAL, (0.55, 0.8)),
            ("highest_work_rpm", NOMINAL, (1.15, 1.5)),
            *(() if steps == RPM else (("lowest_infeed_rate", INFEED, (0.6, 0.85)), ("highest_infeed_rate", INFEED, (1.1, 1.4)))),
        )
        if draw.random() < 0.5
    }
    plan = dict(step_percent=percent, steps_each_side=sides, spacing=draw.choice(("rpm", "depth")), **limits)
    planned = gf.plan_trial(NOMINAL, steps=steps, infeed_rate=INFEED, **plan)
    none = dict.fromkeys(("lowest_work_rpm", "highest_work_rpm", "lowest_infeed_rate", "highest_infeed_rate"))
    inputs = dict(rpm_step=percent, steps_each_side=sides, plan_spacing=plan["spacing"], steps=steps)
    seen = filled(book, (), row_infeed_rates=[], nominal_rpm=NOMINAL, **inputs, **{**none, **limits})
    assert seen["out_ready"] == 1, seen["out_check"]
    told = {name: in_column(seen, PLAN, name) for name in ("planned_step", "planned_rpm", "planned_infeed", "planned_depth")}
    kept = [number for number, step in enumerate(planned) if step.work_rpm]
    assert [number for number, rpm in enumerate(told["planned_rpm"]) if isinstance(rpm, float)] == kept
    for number in kept:
        step, rate = planned[number], planned[number].infeed_rate or INFEED
        assert [told[name][number] for name in told] == pytest.approx(
            [step.step_percent, step.work_rpm, rate, replace(SETUP, infeed_rate=rate).depth(step.work_rpm)]
        )


@pytest.mark.parametrize("basis, factor", [("radius", 1.0), ("diameter", 2.0)])
@pytest.mark.parametrize("steps", [RPM, BOTH])
@pytest.mark.parametrize("limits", [dict(lowest_work_rpm=100.0), dict(highest_work_rpm=140.0)])
def test_a_plan_keeps_each_limit_of_the_rpm_and_shows_infeed_as_the_machine_does(book, steps, basis, factor, limits):
    planned = gf.plan_trial(NOMINAL, steps=steps, infeed_rate=INFEED, **limits)
    kept = [(step.work_rpm, step.infeed_rate or INFEED) for step in planned if step.work_rpm]
    assert 2 < len(kept) < len(planned)
    none = dict.fromkeys(("lowest_work_rpm", "highest_work_rpm", "lowest_infeed_rate", "highest_infeed_rate"))
    inputs = dict(none, steps_each_side=6, infeed_rate=factor * INFEED, infeed_basis=basis, **limits)
    seen = filled(book, (), row_infeed_rates=[], steps=steps, **inputs)
    rpms, infeeds = in_column(seen, PLAN, "planned_rpm"), in_column(seen, PLAN, "planned_infeed")
    assert [(rpm, infeed) for rpm, infeed in zip(rpms, infeeds) if isinstance(rpm, float)] == [
        pytest.approx(pair) for pair in kept
    ]
    turn = [rpm for rpm in in_column(seen, PLAN, "in_turn") if isinstance(rpm, float)]
    shown = [infeed for infeed in in_column(seen, PLAN, "infeed_in_turn") if isinstance(infeed, float)]
    assert turn == pytest.approx([rpm for rpm, _ in kept])
    assert shown == pytest.approx([factor * infeed for _, infeed in kept] if steps == BOTH else [])


@pytest.mark.parametrize("limit", ["highest_work_rpm", "lowest_work_rpm"])
def test_nominal_may_be_a_limit_of_the_machine(book, limit):
    seen = filled(book, (), row_infeed_rates=[], steps=RPM, plan_spacing="depth", **{limit: NOMINAL})
    assert seen["out_ready"] == 1, seen["out_check"]
    beyond = NOMINAL * (0.99 if limit.startswith("highest") else 1.01)
    seen = filled(book, (), row_infeed_rates=[], steps=RPM, plan_spacing="depth", **{limit: beyond})
    assert seen["out_ready"] == 0 and "nominal work rpm is within the machine's limits" in seen["out_check"]


def test_one_load_that_no_machine_has_stops_all(book):
    rows = [(120, 1.99, 0.86), (108, 1990000.0, 0.86), (132, 1.96, 0.86)]
    seen = filled(book, rows, row_infeed_rates=[], steps=RPM)
    assert seen["out_ready"] == 0 and "load of the readings" in seen["out_check"]


# --- the knee with the load fitted ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("fall", [2.5, 0.0])
def test_verdict_and_knee_are_python_s_whatever_idle(book, fall):
    """Trials with the pair and without it, idle right and off, verdict for verdict."""
    draw, verdicts, fitted = random.Random(f"load {fall}"), [], 0
    for seed in range(9 if fall else 3):
        pair, wrong = seed % 3 > 0, draw.choice((0.0, 0.2, -0.1))
        steps = [step for step in PLANNED if pair or not step.note]
        rows, infeeds = rows_of(steps, draw.uniform(80, 150), wrong, seed, draw.choice((0.01, 0.02, 0.04)), fall)
        seen = filled(book, rows, row_infeed_rates=infeeds, steps=BOTH)
        setups = [replace(SETUP, infeed_rate=rate) for rate in infeeds]
        depths = [setup.depth(rpm) for setup, (rpm, _, _) in zip(setups, rows)]
        energies = [
            gf.specific_energy(load - idle, setup.removal_rate, SETUP.contact_width)
            for setup, (_, load, idle) in zip(setups, rows)
        ]
        knee = knee_of_trial(depths, energies, removal_rates=[rate / INFEED for rate in infeeds])
        verdicts.append((seed, seen["out_verdict"], knee.verdict))
        offset = seen["out_load_offset"]
        assert isinstance(offset, str) == (knee.offset is None), (seed, offset, knee.offset)
        if knee.offset is not None:
            fitted += 1
            assert offset == pytest.approx(knee.offset, rel=1e-6, abs=1e-6)
            assert seen["out_load_offset_error"] == pytest.approx(knee.offset_error, rel=1e-5)
        if seen["out_verdict"] == knee.verdict == "found":
            ends = (seen["out_knee"], seen["out_knee_low"], seen["out_knee_high"])
            assert ends == pytest.approx((knee.knee, knee.low, knee.high), rel=1e-6)
    assert [sheet for _, sheet, _ in verdicts] == [python for _, _, python in verdicts]
    assert fitted >= (5 if fall else 1), fitted


# --- reading by reading ----------------------------------------------------------------------------------------------------


def test_a_trial_played_by_the_sheet_takes_the_pair_and_leaves_no_limit(book):
    """Idle is off by a fifth of the net load; the sheet sets rpm and infeed, and the knee is right."""
    knee, draw, rows, infeeds, seen = SETUP.depth(116.0), random.Random(3), [], [], None
    off = 0.2 * power(NOMINAL, INFEED, knee)
    limits = dict(lowest_work_rpm=75.0, highest_work_rpm=190.0, lowest_infeed_rate=0.35, highest_infeed_rate=0.95)
    while len(rows) < 30:
        seen = filled(book, rows, row_infeed_rates=infeeds, steps=BOTH, **limits)
        rpm, infeed = seen["out_next_rpm"], seen["out_next_infeed_rate"]
        if isinstance(rpm, str):
            break
        assert 75 <= rpm <= 190 and 0.35 <= infeed <= 0.95
        told = seen.at(TRIAL, READINGS.here("set", READINGS.first_row + len(rows)))
        assert told == f"►{infeed:.3f} · {rpm:.{0 if rpm >= 100 else 1}f}"
        rows.append((rpm, power(rpm, infeed, knee, 3.0, 0.005, draw) + 0.5 + off, 0.5))
        infeeds.append(infeed)
    factors = [infeed / rpm * NOMINAL / INFEED for infeed, (rpm, _, _) in zip(infeeds, rows)]
    assert [f"{factor:.2f}" for factor in factors if abs(factor - 1) > 0.01] == ["2.25", "0.44"]
    assert (seen["out_next_rpm"], seen["out_verdict"]) == ("finished", "found")
    assert seen["out_knee"] == pytest.approx(knee, rel=0.03) and len(rows) < 25
    assert seen["out_load_offset"] == pytest.approx(0.2 * 100, rel=0.5)


@pytest.mark.parametrize(
    "steps, limits, ends",
    [
        (BOTH, (None, None), (72, 168)),  # 40 % of nominal
        (BOTH, (60.0, 180.0), (72, 168)),
        (BOTH, (75.0, 150.0), (75, 150)),
        ("rpm", (None, None), (48, 192)),  # 60 %
        ("rpm", (40.0, 200.0), (40, 200)),
    ],
)
def test_the_rpm_allowed_are_those_of_the_machine_and_not_far_from_nominal(book, steps, limits, ends):
    lowest, highest = limits
    seen = filled(book, [(NOMINAL, 2.0, 0.5)], row_infeed_rates=[], steps=steps, lowest_work_rpm=lowest, highest_work_rpm=highest)
    assert (seen["out_next_lowest"], seen["out_next_highest"]) == pytest.approx(ends)


@pytest.mark.parametrize("factor, is_seen", [(1.25, 0), (1.3, 1), (1.5, 1)])
def test_the_half_of_the_pair_with_more_infeed_is_known_from_its_least_size_on(book, factor, is_seen):
    """The other half is asked for then: at nominal depth, and not where infeed alone was raised."""
    for rpm, seen in ((NOMINAL / factor, is_seen), (NOMINAL, 0)):
        rows = [(NOMINAL, 2.0, 0.5), (rpm, 2.0, 0.5)]
        assert filled(book, rows, row_infeed_rates=[INFEED, factor * INFEED], steps=BOTH)["out_pair_seen"] == seen


def test_where_the_fitted_load_withdraws_the_knee_the_pair_is_asked_for_again(book):
    """Verdict and advice tell the same: never finished with a knee that does not stand, and what is asked is what Python asks."""

    def seen(*more, **inputs):
        rows = [*NEAR_THE_SLOW_END, *more]
        loads = [(rpm, power, 0.5) for rpm, power, _ in rows]
        found = filled(book, loads, row_infeed_rates=[infeed for _, _, infeed in rows], steps=BOTH, **inputs)
        return {name: found[f"out_{name}"] for name in ("verdict", "next_rpm", "next_infeed_rate", "next_reason")}

    again = "pair again: wrong idle may have made or moved this knee"
    assert seen() == dict(verdict="not resolved", next_rpm=80, next_infeed_rate=pytest.approx(0.9), next_reason=again)
    half = seen((80, 1.42, 0.9))
    assert half == dict(verdict="not resolved", next_rpm=180, next_infeed_rate=pytest.approx(0.4), next_reason=again)
    assert seen((80, 1.45, 0.9))["verdict"] == "found"
    narrow = seen(highest_infeed_rate=0.7)
    assert (narrow["next_rpm"], narrow["next_reason"]) == ("end here", f"{again[12:]}; no room for the pair")


@pytest.mark.parametrize(
    "seed, count, wanted, rpm, why",
    [
        (368, 16, 6.5, 80, "pair again: wrong idle may have made or moved this knee"),
        (368, 16, 7.1, "finished", "knee within ±6.8 %, wanted ±7.1 %"),
        (248, 30, 4.0, "end here", "30 readings, and wrong idle may have made or moved this knee"),
    ],
)
def test_the_interval_that_ends_a_trial_holds_what_the_fitted_load_leaves(book, tmp_path, seed, count, wanted, rpm, why):
    """Simulated; what is wanted lies between the half-width of the scatter alone and that with the load, then above both."""
    readings = drawn(tmp_path, seed, count)
    rows = [(reading.work_rpm, reading.load, reading.idle) for reading in readings.used]
    infeeds = [reading.infeed_rate for reading in readings.used]
    given = dict(wanted_half_width=wanted, noise=100 * readings.noise)
    seen = filled(book, rows, row_infeed_rates=infeeds, steps=BOTH, **given)
    assert (seen["out_verdict"], seen["out_next_rpm"], seen["out_next_reason"]) == ("found", rpm, why)
    assert seen["out_next_half_width"] < seen["out_next_load_width"] <= seen["out_next_drift_width"]
    assert seen["out_next_load_width"] == pytest.approx(seen["out_half_width"])


def test_damage_is_judged_by_the_band_of_the_workbook(tmp_path):
    rows = example.readings()
    found = {}
    for band in (0.5, 30.0):
        trial.build(dict(readings=rows, observations=[(None, None, "burn")], band=band)).save(tmp_path / "book.xlsx")
        found[band] = gf.read_trial(tmp_path / "book.xlsx")
    knee, burnt = found[0.5].knee, found[0.5].depths[0]
    assert burnt > knee.high or burnt < knee.low
    assert not found[0.5].damage_at_knee and found[30.0].damage_at_knee


# --- written from a text file ----------------------------------------------------------------------------------------------


def test_a_file_with_infeeds_is_written_as_the_same_trial(tmp_path):
    """As knee --write does it: rows with infeeds of their own, one left out, limits and words of the setup."""
    rows, infeeds = rows_of(PLANNED)
    setup = "wheel_diameter,200\nwheel_speed,22\nmarked_wheel_speed,35\nwork_diameter,20\nside,external\ninfeed_rate,0.6\n"
    setup += "grit_size,D126\nconcentration,75\nactive_fraction,0.5\nshape_ratio,10\ncontact_width,15\nnominal_rpm,120\n"
    setup += "lowest_infeed_rate,0.1\nhighest_infeed_rate,2\nlowest_work_rpm,20\nhighest_work_rpm,400\nsteps,rpm and infeed\n"
    lines = [f"{rpm!r},{rate!r},{load!r},{idle},," for (rpm, load, idle), rate in zip(rows, infeeds)]
    lines[4] += "burn"
    lines.insert(2, "130.0,0.65,2.0,0.5,no,")
    table = "work rpm,infeed rate [mm/min],power [kW],idle [kW],use,damage\n" + "\n".join(lines) + "\n"
    (tmp_path / "trial.csv").write_text(setup + table, encoding="utf-8")
    first = gf.read_trial(tmp_path / "trial.csv")
    values = trial_values(first)
    trial.build(values).save(tmp_path / "written.xlsx")
    again = gf.read_trial(tmp_path / "written.xlsx")
    assert first.way == again.way == BOTH and values["steps"] == "rpm and infeed"
    assert (first.limits, first.nominal_rpm) == (again.limits, again.nominal_rpm)
    for one in (first, again):
        assert [reading.infeed_rate for reading in one.used] == pytest.approx(infeeds)
    assert list(again.depths) == pytest.approx(list(first.depths)) and list(again.energies) == pytest.approx(list(first.energies))
    kinds = [reading.kind for reading in first.readings]
    assert [reading.kind for reading in again.readings[: len(kinds)]] == kinds and len(set(kinds)) == 2
    assert [reading.damage == "burn" for reading in again.readings].index(True) == 5 and len(again.damage) == len(
        first.damage
    ) == 1
    assert (again.knee.verdict, again.knee.knee) == (first.knee.verdict, first.knee.knee and pytest.approx(first.knee.knee))


@pytest.mark.parametrize(
    "known, kind",
    [
        ("volts,400\npower_factor,0.8\n", "current"),
        ("volts,400\n", "relative"),
        ("power_factor,0.8\n", "relative"),
        ("", "relative"),
    ],
)
def test_a_current_is_written_as_one_where_volts_and_power_factor_are_known(tmp_path, known, kind):
    """The workbook stops at a current without them; the knee of any meter is the same."""
    setup = "wheel_diameter,200\nwheel_speed,22\nmarked_wheel_speed,35\nwork_diameter,20\nside,external\ninfeed_rate,0.6\n"
    setup += "grit_density,20\nshape_ratio,10\ncontact_width,15\n"
    (tmp_path / "trial.csv").write_text(f"{setup}{known}rpm,current [A],idle [A]\n120,6,2\n132,5.9,2\n", encoding="utf-8")
    values = trial_values(gf.read_trial(tmp_path / "trial.csv"))
    assert values["load_kind"] == kind and [row[:3] for row in values["readings"]] == [(120, 6, 2), (132, 5.9, 2)]


@pytest.mark.parametrize("share, rpm", [(0.145, "finished"), (0.14, 96)])
def test_a_knee_ends_the_trial_where_a_possible_drift_is_at_most_a_quarter_of_its_fall(book, share, rpm):
    """The example with its fall and scatter made smaller; drift, knee and fall by the library."""
    rows = [(rpm, idle + 1.1 + share * (load - idle - 1.1), idle) for rpm, load, idle in example.readings()]
    setup = gf.Setup(**example.setup())
    depths = [setup.depth(rpm) for rpm, _, _ in rows]
    knee = knee_of_trial(depths, [load - idle for _, load, idle in rows], noise=0.005)
    drift = 1.64 * knee.drift_deviation * knee.level * (len(rows) - 1)
    assert (drift <= 0.25 * abs(knee.slope) * (knee.knee - min(depths))) == (rpm == "finished")
    seen = filled(book, rows, wanted_half_width=20.0, noise=0.5)
    assert (seen["out_verdict"], seen["out_next_rpm"]) == ("found", rpm)
    assert rpm == "finished" or seen["out_next_reason"] == "reading 3 again: drift could have made this knee"
