"""Speed tables and trial plans: they hold the depth, name every broken limit, and refuse what could hurt."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

import gritfuncs as gf
from gritfuncs.planning import LIMIT_WORDS

SETUP = dict(
    grit_depth=1.1, wheel_speed=22.0, marked_wheel_speed=35.0, wheel_diameter=200.0, side=1, grit_density=19.0, shape_ratio=10.0
)


def table(**changes):
    return gf.speed_table(**{**SETUP, "work_diameters": [20.0], "infeed_rates": [0.6], **changes})


def si_depth(work_rpm, work_diameter, infeed_rate, wheel_speed, wheel_diameter, side, grit_density, shape_ratio):
    """Grit depth in µm, computed in SI units step by step (Kalpakjian & Schmid, Example 25.1: prefactor 4)."""
    turns = work_rpm / 60
    work, wheel = work_diameter / 1e3, wheel_diameter / 1e3
    cut = infeed_rate / 1e3 / 60 / turns
    contact = work * wheel / (work + side * wheel)
    ratio = math.pi * work * turns / wheel_speed
    return 1e6 * math.sqrt(4 / (grit_density * 1e6 * shape_ratio) * ratio * math.sqrt(cut / contact))


@given(
    depth=st.floats(0.2, 4),
    diameter=st.floats(1, 300),
    rate=st.floats(0.02, 5),
    wheel_speed=st.floats(5, 35),
    wheel_diameter=st.floats(20, 500),
    side=st.sampled_from([1, 0, -1]),
)
def test_every_setup_holds_the_depth(depth, diameter, rate, wheel_speed, wheel_diameter, side):
    if side == -1:
        diameter += wheel_diameter
    cell = table(
        grit_depth=depth,
        work_diameters=[diameter],
        infeed_rates=[rate],
        wheel_speed=wheel_speed,
        wheel_diameter=wheel_diameter,
        side=side,
        band=0.02,
    ).rows[0][0]
    setup = (diameter, rate, wheel_speed, wheel_diameter, side, 19.0, 10.0)
    assert si_depth(cell.work_rpm, *setup) == pytest.approx(depth, rel=1e-12)
    assert si_depth(cell.lowest_rpm, *setup) == pytest.approx(0.98 * depth, rel=1e-12)
    assert si_depth(cell.highest_rpm, *setup) == pytest.approx(1.02 * depth, rel=1e-12)
    assert cell.speed_ratio == pytest.approx(wheel_speed / (math.pi * diameter / 1e3 * cell.work_rpm / 60))
    assert cell.power is None


def test_expected_power_is_energy_times_removal_rate_plus_idle():
    cell = table(specific_energy=120.0, contact_width=15.0, idle_power=0.8).rows[0][0]
    removed_per_second = math.pi * 20.0 * 0.6 / 60 * 15.0  # mm³/s
    assert cell.power == pytest.approx(120.0 * removed_per_second / 1000 + 0.8)


def test_each_limit_is_named_when_only_it_is_broken():
    """Every limit is set just beyond the value of the setup, to either side; only the broken side may speak."""
    powered = dict(specific_energy=120.0, contact_width=15.0, idle_power=0.8)
    cell = table(**powered).rows[0][0]
    for limit, quantity, word in LIMIT_WORDS:
        value = getattr(cell, quantity)
        kept, broken = (1.001, 0.999) if limit.startswith("highest") else (0.999, 1.001)
        assert table(limits=gf.Limits(**{limit: value * kept}), **powered).rows[0][0].word == "ok"
        assert table(limits=gf.Limits(**{limit: value * broken}), **powered).rows[0][0].broken == (word,)
    assert {limit for limit, _, _ in LIMIT_WORDS} == {field.name for field in fields(gf.Limits)}


def test_several_broken_limits_are_all_listed():
    cell = table(limits=gf.Limits(highest_work_rpm=1.0, highest_infeed_rate=0.1)).rows[0][0]
    assert cell.broken == ("rpm too high", "infeed too high")


def test_a_wheel_that_does_not_fit_the_bore_gives_no_rpm():
    small, large = (row[0] for row in table(side=-1, work_diameters=[150.0, 250.0]).rows)
    assert (small.work_rpm, small.word) == (None, "wheel too large")
    assert large.work_rpm > 0 and large.word == "ok"


def test_arrays_hold_what_the_cells_hold():
    """Some diameters too small for the wheel, every kind of limit broken somewhere."""
    limits = gf.Limits(
        highest_work_rpm=300.0,
        lowest_work_rpm=3.0,
        highest_infeed_rate=2.0,
        lowest_infeed_rate=0.2,
        highest_speed_ratio=150.0,
        lowest_speed_ratio=2.0,
        highest_removal_rate=10.0,
        highest_power=15.0,
    )
    diameters, rates = numpy.linspace(150.0, 400.0, 26), numpy.geomspace(0.05, 3.0, 15)
    for energy in (dict(specific_energy=120.0, contact_width=15.0, idle_power=0.8), {}):
        given = dict(side=-1, limits=limits if energy else replace(limits, highest_power=None), **energy)
        many = table(work_diameters=diameters, infeed_rates=rates, **given)
        words = set()
        for i, diameter in enumerate(diameters):
            for j, rate in enumerate(rates):
                one = table(work_diameters=[float(diameter)], infeed_rates=[float(rate)], **given).rows[0][0]
                assert many.rows[i][j] == one
                for name in [field.name for field in fields(one)] + ["word"]:
                    value, expected = many.arrays[name][i, j], getattr(one, name)
                    assert math.isnan(value) if expected is None else value == expected
                assert one.work_rpm is None or many.work_rpm[i, j] == one.work_rpm
                words.update(one.broken)
        assert words >= {"wheel too large", "rpm too high", "infeed too high", "infeed too low", "ratio too high"}


def test_a_bad_number_in_an_array_is_named_with_its_place():
    with pytest.raises(ValueError, match=r"^infeed_rates must be > 0 mm/min \(got -0.5 at position 1\)$"):
        table(infeed_rates=numpy.array([0.5, -0.5]))


@pytest.mark.parametrize(
    "changes",
    [
        dict(grit_depth=1e100),
        dict(infeed_rates=[0.5, 1e-310, 0.7]),  # too large an rpm in one column only
        dict(infeed_rates=[0.5, 1e300, 0.7], grit_depth=1e-10),  # one that vanishes
        dict(work_diameters=[20.0, 1e-300, 30.0]),  # in one row only
        dict(work_diameters=[20.0, 1e300, 30.0]),
    ],
)
def test_what_cannot_be_computed_is_refused_when_the_table_is_made(changes):
    with pytest.raises(ValueError, match="too large or too small for computing"):
        table(**changes)


def test_report_marks_and_explains_broken_limits():
    text = table(work_diameters=[8.0, 20.0], infeed_rates=[0.3, 0.6], limits=gf.Limits(highest_work_rpm=100.0)).report()
    rpm = table(work_diameters=[8.0], infeed_rates=[0.3]).rows[0][0].work_rpm
    assert f"{rpm:.1f}a" in text
    assert "a: rpm too high: do not use" in text


@pytest.mark.parametrize(
    "changes, said",
    [
        (dict(wheel_speed=36.0), "wheel_speed must be <= 35 m/s, the speed marked on the wheel (got 36.0)"),
        (dict(marked_wheel_speed=0), "marked_wheel_speed must be > 0 m/s (got 0.0)"),
        (dict(marked_wheel_speed=None), "marked_wheel_speed must be a number, > 0 m/s (got None)"),
        (dict(grit_depth=-1.0), "grit_depth must be > 0 µm (got -1.0)"),
        (dict(work_diameters=[]), "work_diameters must be a list of at least one number (got an empty list)"),
        (dict(work_diameters=5.0), "work_diameters must be a list of numbers (got 5.0)"),
        (dict(work_diameters=[20.0, "x"]), "work_diameters must be a number, > 0 mm (got 'x')"),
        (dict(infeed_rates=[0.0]), "infeed_rates must be > 0 mm/min (got 0.0)"),
        (dict(side=2), "side must be one of 1, 0, -1 (got 2.0)"),
        (dict(side=-1, work_diameters=[10.0], shape_ratio=0), "shape_ratio must be > 0 (got 0.0)"),
        (dict(band=0), "band must be a fraction > 0 and < 1 of the depth (got 0)"),
        (dict(specific_energy=100.0), "specific_energy and contact_width must be given together (got 100.0 J/mm³ and None mm)"),
        (dict(idle_power=-1), "idle_power must be >= 0 kW (got -1.0)"),
        (
            dict(limits=gf.Limits(highest_power=3.0)),
            "highest_power needs specific_energy and contact_width to compare with (got neither)",
        ),
    ],
)
def test_bad_input_is_one_clear_line(changes, said):
    with pytest.raises(ValueError) as error:
        table(**changes)
    assert str(error.value) == said


def test_limits_refuse_nonsense():
    with pytest.raises(ValueError, match=r"lowest_work_rpm must be <= highest_work_rpm \(got 50 and 40\)"):
        gf.Limits(lowest_work_rpm=50, highest_work_rpm=40)
    with pytest.raises(ValueError, match=r"highest_power must be >= 0 kW \(got -1.0\)"):
        gf.Limits(highest_power=-1)


@given(speed=st.floats(1, 200), marked=st.floats(1, 200))
def test_no_table_for_a_wheel_above_its_marked_speed(speed, marked):
    if speed > marked:
        with pytest.raises(ValueError, match="marked on the wheel"):
            table(wheel_speed=speed, marked_wheel_speed=marked)
    else:
        assert table(wheel_speed=speed, marked_wheel_speed=marked).wheel_speed == speed


@pytest.mark.parametrize("order, at_once", [("out and back", 2), ("alternating", 1)])
@given(
    nominal=st.floats(1, 1000), step=st.floats(0.5, 16), sides=st.integers(1, 6), low=st.floats(1, 1000), high=st.floats(1, 1000)
)
def test_plan_steps_outward_and_stays_within_the_machine(order, at_once, nominal, step, sides, low, high):
    low, nominal, high = sorted((low, nominal, high))
    plan = gf.plan_trial(
        nominal, step_percent=step, steps_each_side=sides, lowest_work_rpm=low, highest_work_rpm=high, order=order
    )
    assert len(plan) == 2 * sides + 3
    assert [plan[0].step_percent, plan[-1].step_percent] == [0, 0]
    assert sum(reading.step_percent == 0 for reading in plan) == 3
    tried = 0.0
    for reading in plan:
        assert abs(reading.step_percent) <= tried + at_once * step * 1.0000001  # never further beyond what was tried
        tried = max(tried, abs(reading.step_percent))
        rpm = nominal * (1 + reading.step_percent / 100)
        if low * (1 + 1e-9) < rpm < high * (1 - 1e-9):
            assert reading.work_rpm == pytest.approx(rpm)
        elif not low * (1 - 1e-9) < rpm < high * (1 + 1e-9):
            assert reading.work_rpm is None


@pytest.mark.parametrize(
    "sides, order, steps",
    [
        (6, "out and back", [0, 20, -20, 40, -40, 60, -60, 0, -50, 50, -30, 30, -10, 10, 0]),
        (3, "out and back", [0, 10, -10, 30, -30, 0, -20, 20, 0]),
        (1, "out and back", [0, 10, -10, 0, 0]),
        (3, "alternating", [0, 10, -10, 20, -20, 0, 30, -30, 0]),
    ],
)
def test_plan_in_run_order(sides, order, steps):
    assert [reading.step_percent for reading in gf.plan_trial(100.0, steps_each_side=sides, order=order)] == steps
    assert gf.plan_trial(100.0) == gf.plan_trial(100.0, order="out and back")


@pytest.mark.parametrize("sides", range(1, 19))
def test_out_and_back_takes_the_same_steps_and_lets_time_tell_nothing_of_depth(sides):
    """Linear drift has little to do with the distance from nominal, nor with the side; in the alternating order it has all to do with the distance."""
    steps = {
        order: [reading.step_percent for reading in gf.plan_trial(100.0, steps_each_side=sides, step_percent=5.0, order=order)]
        for order in ("out and back", "alternating")
    }
    assert sorted(steps["out and back"]) == sorted(steps["alternating"])
    if sides > 1:
        time = range(2 * sides + 3)
        assert abs(numpy.corrcoef(time, numpy.abs(steps["out and back"]))[0, 1]) < 0.45
        assert abs(numpy.corrcoef(time, steps["out and back"])[0, 1]) < 0.2


def test_whole_numbers_of_numpy_count_steps():
    assert gf.plan_trial(numpy.float64(120), steps_each_side=numpy.int64(3)) == gf.plan_trial(120, steps_each_side=3)


@pytest.mark.parametrize(
    "changes, said",
    [
        (dict(nominal_rpm=0), "nominal_rpm must be > 0 1/min (got 0.0)"),
        (dict(steps_each_side=0), "steps_each_side must be a whole number from 1 to 18 (got 0)"),
        (dict(spacing="time"), "spacing must be rpm or depth (got 'time')"),
        (dict(order="random"), "order must be out and back or alternating (got 'random')"),
        (dict(spacing="depth", highest_work_rpm=90.0), "nominal_rpm must be within the machine's limits (got 100: rpm too high)"),
        (dict(lowest_work_rpm=101.0), "nominal_rpm must be within the machine's limits (got 100: rpm too low)"),
        (
            dict(steps="infeed", infeed_rate=0.6, highest_infeed_rate=0.5),
            "infeed_rate must be within the machine's limits (got 0.6: infeed too high)",
        ),
        (dict(nominal_power=5.0, highest_power=4.0), "nominal_power must be within the machine's limits (got 5: power too high)"),
        (dict(step_percent=20.0), "step_percent must be > 0 and, times 6 steps, < 100 % of nominal (got 20.0)"),
    ],
)
def test_bad_plan_is_one_clear_line(changes, said):
    with pytest.raises(ValueError) as error:
        gf.plan_trial(**{"nominal_rpm": 100.0, **changes})
    assert str(error.value) == said


@given(nominal=st.floats(20, 1000), sides=st.integers(1, 6), low=st.floats(0.2, 1), high=st.floats(1, 3))
def test_even_depths_stay_within_the_machine(nominal, sides, low, high):
    plan = gf.plan_trial(
        nominal, steps_each_side=sides, lowest_work_rpm=low * nominal, highest_work_rpm=high * nominal, spacing="depth"
    )
    depths = sorted({(reading.work_rpm / nominal) ** 0.25 for reading in plan})  # relative: depth goes with the fourth root
    assert low * nominal * (1 - 1e-9) <= min(reading.work_rpm for reading in plan)
    assert max(reading.work_rpm for reading in plan) <= high * nominal * (1 + 1e-9)
    below = [depth for depth in depths if depth <= 1 + 1e-12]
    gaps = [right - left for left, right in zip(below, below[1:])]
    assert all(gap == pytest.approx(gaps[0], rel=1e-6, abs=1e-12) for gap in gaps)


@pytest.mark.parametrize(
    "sides, order", [(1, [0, 1, -1, 0, 0]), (2, [0, 1, -1, 0, 2, -2, 0]), (4, [0, 1, -1, 2, -2, 0, 3, -3, 4, -4, 0])]
)
@pytest.mark.parametrize("limits", [{}, dict(lowest_work_rpm=90.0, highest_work_rpm=120.0)])
def test_even_depths_reach_the_ends_of_the_range(sides, order, limits):
    """Equal steps of the fourth root of rpm to each end of the planned range, or to the machine's limit inside it."""
    plan = gf.plan_trial(100.0, step_percent=7.0, steps_each_side=sides, spacing="depth", order="alternating", **limits)
    slowest, fastest = (
        max(1 - 0.07 * sides, limits.get("lowest_work_rpm", 0) / 100),
        min(1 + 0.07 * sides, limits.get("highest_work_rpm", 1e9) / 100),
    )
    assert [reading.number for reading in plan] == list(range(1, len(order) + 1))
    for reading, step in zip(plan, order):
        edge = slowest if step < 0 else fastest
        ratio = (1 + abs(step) / sides * (edge**0.25 - 1)) ** 4
        assert reading.work_rpm == pytest.approx(100 * ratio, rel=1e-12)
        assert reading.step_percent == pytest.approx(100 * ratio - 100, abs=1e-10)


def test_a_very_slow_nominal_has_no_hidden_lower_limit():
    plan = gf.plan_trial(0.5, step_percent=10.0, steps_each_side=5, spacing="depth")
    assert min(reading.work_rpm for reading in plan) == pytest.approx(0.25)


def test_readings_of_a_plan_are_numbered_from_one():
    assert [reading.number for reading in gf.plan_trial(100.0, steps_each_side=1)] == [1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    "sides, step, allowed",
    [
        (18, 5.0, True),
        (19, 5.0, False),
        (1, 0.0, False),
        (5, 20.0, False),
        (5, 20.1, False),
        (5, 19.99, True),
        (True, 5.0, False),
        (2.0, 5.0, False),
    ],
)
def test_how_far_a_plan_may_go(sides, step, allowed):
    if allowed:
        assert len(gf.plan_trial(100.0, steps_each_side=sides, step_percent=step)) == 2 * sides + 3
    else:
        with pytest.raises(ValueError, match="^step"):
            gf.plan_trial(100.0, steps_each_side=sides, step_percent=step)


@pytest.mark.parametrize("band", [1, 1.5, 0])
def test_a_band_is_a_fraction(band):
    with pytest.raises(ValueError, match=r"^band must be a fraction > 0 and < 1 of the depth"):
        table(band=band)


def test_idle_power_is_none_unless_given():
    powered = dict(specific_energy=120.0, contact_width=15.0)
    assert table(**powered).rows[0][0].power == table(**powered, idle_power=0.0).rows[0][0].power
    part = dict(SETUP, work_diameter=20.0, limits=gf.Limits(highest_power=2.0), **powered)
    assert gf.fastest_setup(**part).setup.infeed_rate == gf.fastest_setup(**part, idle_power=0.0).setup.infeed_rate
    assert gf.fastest_setup(**part).setup.power == pytest.approx(2.0)


def test_report_is_a_table_that_lines_up():
    """The window of rpm is (1 ± 0.05)^4; the third diameter does not fit the bore; letters follow the order in which limits show."""
    made = table(
        side=-1,
        work_diameters=[250.0, 300.0, 150.0],
        infeed_rates=[0.6, 5.0],
        band=0.05,
        limits=gf.Limits(lowest_work_rpm=3.0, highest_work_rpm=10.0),
    )
    lines = made.report().splitlines()
    assert lines[1] == "(depth within ±5 % needs rpm within -18.5 to +21.6 %)"
    rows = [lines[4], *lines[5:8]]
    assert {len(row.rstrip("abc").rstrip()) for row in rows} == {len("           mm        0.6           5")}
    words = [cell.word for row in made.rows for cell in row]
    assert set(words) == {"ok", "rpm too high", "rpm too low", "wheel too large"}
    explained = dict(line.strip().partition(": ")[::2] for line in lines[9:] if "Check" not in line)
    assert list(explained) == ["a", "b", "c"]
    for row, cells in zip(lines[5:8], made.rows):
        shown = row.split()[1:]
        for text, cell in zip(shown, cells):
            letter = text.lstrip("-.0123456789")
            assert text[: len(text) - len(letter)] == ("-" if cell.work_rpm is None else f"{cell.work_rpm:.1f}")
            assert explained[letter] == f"{cell.word}: do not use" if letter else cell.word == "ok"


@pytest.mark.parametrize("record", ["limits", "table", "cell", "fastest", "planned"])
def test_answers_cannot_be_changed(record):
    made = {
        "limits": gf.Limits(highest_work_rpm=1.0),
        "table": table(),
        "cell": table().rows[0][0],
        "fastest": gf.fastest_setup(**SETUP, work_diameter=20.0, limits=gf.Limits(highest_infeed_rate=1.0)),
        "planned": gf.plan_trial(100.0)[0],
    }[record]
    with pytest.raises(AttributeError):
        setattr(made, fields(made)[0].name, 2.0)


def test_an_rpm_near_zero_is_not_shown_as_zero_and_what_is_unusual_is_named():
    sound = table()
    assert sound.unusual == () and "Check the" not in sound.report()
    slow = table(grit_depth=0.02)
    assert " 0.0 " not in slow.report() and 0 < slow.rows[0][0].work_rpm < 0.05
    assert "  Check the grit depth: usual is 0.1 to 5 µm (got 0.02 µm)." in slow.report()
    assert "Check the work speed of rotation: usual is 5 to 2000 1/min" in slow.report()
    fast = table(wheel_speed=250.0, marked_wheel_speed=260.0, infeed_rates=[0.6, 90.0])
    assert "Check the wheel speed: usual is 10 to 80 m/s (got 250 m/s)." in fast.unusual
    assert "Check the infeed rate on the radius: usual is 0.01 to 10 mm/min (got 90 mm/min)." in fast.unusual
    watts = table(idle_power=860.0, limits=gf.Limits(highest_power=4000.0), specific_energy=40.0, contact_width=15.0)
    assert watts.unusual == (
        "Check the idle power: usual is 0 to 50 kW (got 860 kW).",
        "Check the highest power: usual is 0 to 200 kW (got 4000 kW).",
    )
