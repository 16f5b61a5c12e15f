"""Plans that step rpm and infeed together, the infeed, or the wheel speed: what is set, and that no limit is ever passed."""

from __future__ import annotations

import random
import re
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_commands import run  # noqa: F401  (a fixture)

import gritfuncs as gf
from gritfuncs.cli import main
from gritfuncs.knee.offset import LEAST_LENGTH, length

SETUP = dict(work_diameter=20, wheel_speed=25, wheel_diameter=200, side=1, grit_density=20, shape_ratio=10)


def both(**more):
    return gf.plan_trial(120, steps="rpm and infeed", **{"infeed_rate": 0.6, **more})


def test_rpm_and_infeed_change_by_one_factor_and_the_depth_of_cut_stays():
    plan = both()
    steps = [reading for reading in plan if not reading.note]
    assert [reading.step_percent for reading in steps] == [0, 20, -20, 40, -40, -30, 30, -10, 10, 0]
    for reading in steps:
        assert reading.infeed_rate / reading.work_rpm == pytest.approx(0.6 / 120, rel=1e-12)
        setup = gf.Setup(infeed_rate=reading.infeed_rate, **SETUP)
        nominal = gf.Setup(infeed_rate=0.6, **SETUP).depth(120)
        assert setup.depth(reading.work_rpm) / nominal == pytest.approx((reading.work_rpm / 120) ** 0.5, rel=1e-12)


def test_the_pair_has_nominal_depth_at_two_infeed_rates_and_tells_idle_from_the_knee():
    plan = both()
    pair = [reading for reading in plan if reading.note]
    assert [reading.infeed_rate for reading in pair] == pytest.approx([0.9, 0.4]) and [r.number for r in pair] == [6, 11]
    depths = [gf.Setup(infeed_rate=reading.infeed_rate, **SETUP).depth(reading.work_rpm) for reading in plan]
    assert depths[5] == pytest.approx(depths[0], rel=1e-12) and depths[10] == pytest.approx(depths[0], rel=1e-12)
    assert length(depths, [reading.infeed_rate for reading in plan]) > LEAST_LENGTH
    without = [place for place, reading in enumerate(plan) if not reading.note]
    assert length([depths[place] for place in without], [plan[place].infeed_rate for place in without]) < LEAST_LENGTH / 2


def test_the_pair_goes_as_far_as_the_limits_allow_or_is_left_out():
    narrow = [reading for reading in both(highest_infeed_rate=0.8, highest_work_rpm=165) if reading.note]
    assert [(reading.work_rpm, reading.infeed_rate) for reading in narrow] == [
        (pytest.approx(90), pytest.approx(0.8)),
        (pytest.approx(165), pytest.approx(0.6 * 120 / 165)),
    ]
    none = [reading for reading in both(highest_infeed_rate=0.75) if reading.note]
    assert [(reading.work_rpm, reading.note) for reading in none] == [(None, "pair")] * 2


def test_infeed_alone_keeps_the_rpm_and_wheel_speed_keeps_both():
    infeed = gf.plan_trial(120, steps="infeed", infeed_rate=0.6, steps_each_side=4)
    assert {reading.work_rpm for reading in infeed} == {120} and infeed[1].infeed_rate == pytest.approx(0.72)
    wheel = gf.plan_trial(120, steps="wheel speed", wheel_speed=25, marked_wheel_speed=30)
    assert {reading.work_rpm for reading in wheel} == {120, None} and all(reading.infeed_rate is None for reading in wheel)
    assert [(r.step_percent, r.wheel_speed) for r in wheel if r.step_percent > 0] == [
        (20, pytest.approx(30)),
        (40, None),
        (30, None),
        (10, pytest.approx(27.5)),
    ]


def test_power_above_the_limit_is_not_planned():
    plan = both(nominal_power=2.5, idle_power=0.5, highest_power=2.9)
    assert [(r.step_percent, r.work_rpm is None) for r in plan if r.step_percent > 0] == [
        (20, False),
        (40, True),
        (30, True),
        (10, False),
    ]
    assert all(reading.work_rpm is None for reading in plan if reading.note)  # 1.2 times is no pair


def random_machine(chance):
    low = chance.uniform(1, 400)
    lowest_infeed = chance.uniform(0.01, 1)
    idle = chance.uniform(0, 5)
    nominal = idle + chance.uniform(0.01, 10)
    given = dict(
        lowest_work_rpm=low,
        highest_work_rpm=low * chance.uniform(1, 10),
        lowest_infeed_rate=lowest_infeed,
        highest_infeed_rate=lowest_infeed * chance.uniform(1, 20),
        highest_power=nominal * chance.uniform(0.5, 3),
    )
    given = {name: value for name, value in given.items() if chance.random() < 0.7}
    if "highest_power" in given or chance.random() < 0.3:
        given.update(nominal_power=nominal, idle_power=idle)
    mark = chance.uniform(10, 80)
    given.update(marked_wheel_speed=mark, wheel_speed=mark * chance.choice([1, chance.uniform(0.3, 1)]))
    given.update(infeed_rate=chance.uniform(0.01, 3))
    return chance.uniform(1, 1000), given


def nominal_is_outside(nominal, given, infeed_is_stepped):
    def outside(value, name):
        return not given.get("lowest_" + name, 0) <= value <= given.get("highest_" + name, inf)

    infeed = infeed_is_stepped and outside(given["infeed_rate"], "infeed_rate")
    return outside(nominal, "work_rpm") or infeed or outside(given.get("nominal_power", 0), "power")


def test_no_plan_leaves_the_limits_or_passes_the_marked_speed_on_ten_thousand_machines():
    chance = random.Random("machines")
    planned = refusals = 0
    for number in range(10_000):
        nominal, given = random_machine(chance)
        steps = ("rpm", "rpm and infeed", "infeed", "wheel speed")[number % 4]
        spacing, order = chance.choice(("rpm", "depth")), chance.choice(("out and back", "alternating"))
        try:
            plan = gf.plan_trial(nominal, steps=steps, spacing=spacing, order=order, **given)
        except ValueError as refused:
            assert "must be within the machine's limits" in str(refused)
            refusals += 1
            assert nominal_is_outside(nominal, given, infeed_is_stepped=steps in ("rpm and infeed", "infeed"))
            continue
        for reading in plan:
            if reading.work_rpm is None:
                assert reading.infeed_rate is None and reading.wheel_speed is None
                continue
            planned += 1
            slack = 1 + 2e-12
            assert given.get("lowest_work_rpm", 0) <= reading.work_rpm * slack
            assert reading.work_rpm <= given.get("highest_work_rpm", inf) * slack
            if reading.infeed_rate is not None:
                assert given.get("lowest_infeed_rate", 0) <= reading.infeed_rate * slack
                assert reading.infeed_rate <= given.get("highest_infeed_rate", inf) * slack
                if "highest_power" in given:
                    net = given["nominal_power"] - given["idle_power"]
                    assert (
                        given["idle_power"] + net * reading.infeed_rate / given["infeed_rate"] <= given["highest_power"] * slack
                    )
            assert reading.wheel_speed is None or reading.wheel_speed <= given["marked_wheel_speed"]
    assert planned > 30_000 and refusals > 1_000


@given(ways=st.sampled_from(["rpm and infeed", "infeed", "wheel speed"]), sides=st.integers(1, 4), order=st.booleans())
def test_equal_steps_of_depth(ways, sides, order):
    plan = gf.plan_trial(
        120,
        steps=ways,
        steps_each_side=sides,
        spacing="depth",
        infeed_rate=0.6,
        wheel_speed=20,
        marked_wheel_speed=35,
        order="out and back" if order else "alternating",
    )
    depths = sorted(
        {
            round(
                gf.Setup(**{**SETUP, "infeed_rate": r.infeed_rate or 0.6, "wheel_speed": r.wheel_speed or 20}).depth(r.work_rpm),
                9,
            )
            for r in plan
        }
    )
    middle = depths.index(
        min(depths, key=lambda depth: abs(depth - gf.Setup(infeed_rate=0.6, **{**SETUP, "wheel_speed": 20}).depth(120)))
    )
    for side in (depths[: middle + 1], depths[middle:]):
        gaps = [b - a for a, b in zip(side, side[1:])]
        assert max(gaps) - min(gaps) < 1e-7


@pytest.mark.parametrize(
    "given, said",
    [
        (dict(steps="depth"), "steps must be rpm, rpm and infeed, infeed or wheel speed (got 'depth')"),
        (dict(steps="infeed"), "infeed_rate must be given for these steps (got nothing)"),
        (
            dict(steps="rpm and infeed", infeed_rate=0.6, steps_each_side=5),
            "step_percent must be, times 5 steps, <= 40 % of nominal",
        ),
        (dict(steps="wheel speed", wheel_speed=25), "marked_wheel_speed must be given for these steps (got nothing)"),
        (
            dict(steps="wheel speed", wheel_speed=36, marked_wheel_speed=35),
            "wheel_speed must be <= 35 m/s, the speed marked on the wheel",
        ),
        (dict(highest_power=5), "nominal_power must be given with highest_power"),
        (dict(nominal_power=1, idle_power=2), "nominal_power must be above idle_power, 2 kW (got 1)"),
        (dict(infeed_rate=-1), "infeed_rate must be > 0 mm/min"),
    ],
)
def test_bad_plans_are_one_clear_line(given, said):
    with pytest.raises(ValueError) as error:
        gf.plan_trial(120, **given)
    assert str(error.value).startswith(said) and "\n" not in str(error.value)


def test_the_command_prints_what_to_set_where_heat_is_and_where_to_end(capsys):
    typed = [
        "plan",
        "--nominal-rpm",
        "120",
        "--steps",
        "rpm and infeed",
        "--infeed-rate",
        "0,6",
        "--highest-infeed-rate",
        "12 µm/s",
    ]
    assert main(typed) == 0
    shown = capsys.readouterr().out
    assert (
        "infeed on the radius, mm/min" in shown
        and re.search(r"144\.0 +0\.72\n", shown)
        and shown.count("outside limits: skip") == 4
    )
    assert "The limits leave no room for the pair" in shown
    assert "hottest on the fast, deep side" in shown and "1.5 times the lowest" in shown
    assert main(["plan", "--nominal-rpm", "120"]) == 0
    shown = capsys.readouterr().out
    assert "hottest on the slow, shallow side" in shown and "1.5 times the lowest" in shown and "infeed" not in shown
    typed = [
        "plan",
        "--nominal-rpm",
        "120",
        "--steps",
        "wheel speed",
        "--wheel-speed",
        "1500 m/min",
        "--marked-wheel-speed",
        "24",
    ]
    assert main(typed) == 1
    assert "--wheel-speed must be <= --marked-wheel-speed, 24 m/s" in capsys.readouterr().err


def test_the_command_shows_the_infeed_as_the_machine_shows_it(run):  # noqa: F811
    """A machine that shows infeed on the diameter is set by what it shows."""
    common = ("plan", "--nominal-rpm", "120", "--steps", "rpm and infeed", "--steps-each-side", "1", "--infeed-rate", "1.2")
    on_radius, on_diameter = run(*common)[1], run(*common, "--infeed-basis", "diameter")[1]
    assert "infeed on the radius, mm/min" in on_radius and "infeed on the diameter, mm/min" in on_diameter
    numbers = [[line.split() for line in out.splitlines()[1:6]] for out in (on_radius, on_diameter)]
    assert numbers[0] == numbers[1] and numbers[0][0][:4] == ["1", "0", "120.0", "1.2"]
