"""The fastest setup under limits, against a general-purpose optimiser and limit by limit."""

from __future__ import annotations

import math
import random

import pytest
from evidence.notes import computed
from scipy.optimize import linprog

import gritfuncs as gf
from gritfuncs.planning import LOWER_BOUNDS, UPPER_BOUNDS

WHEEL = dict(
    grit_depth=1.1, wheel_speed=22.0, marked_wheel_speed=35.0, wheel_diameter=200.0, side=1, grit_density=19.0, shape_ratio=10.0
)
POWER = dict(specific_energy=120.0, contact_width=15.0, idle_power=0.8)
WIDE = dict(
    lowest_work_rpm=1.0,
    highest_work_rpm=5000.0,
    lowest_infeed_rate=1e-3,
    highest_infeed_rate=50.0,
    lowest_speed_ratio=1.0,
    highest_speed_ratio=1e5,
    highest_removal_rate=1e3,
    highest_power=1e3,
)


def fastest(limits, **changes):
    return gf.fastest_setup(**{**WHEEL, **POWER, "work_diameter": 20.0, **changes}, limits=gf.Limits(**limits))


def by_linear_programme(limits, work_diameter, wheel_speed, product):
    """The highest infeed rate in mm/min, or None: written down in SI units from the definitions, solved by scipy."""
    d, v_s = work_diameter / 1e3, wheel_speed
    k = product / 3600 / 1e3  # rev/s times m/s
    b, u, idle = POWER["contact_width"] / 1e3, POWER["specific_energy"] * 1e9, POWER["idle_power"] * 1e3
    upper = [
        limits["highest_infeed_rate"] / 6e4,
        k / (limits["lowest_work_rpm"] / 60),
        limits["highest_speed_ratio"] * math.pi * d * k / v_s,
        limits["highest_removal_rate"] * 1e-6 / (math.pi * d),
        (limits["highest_power"] * 1e3 - idle) / (u * math.pi * d * b),
    ]
    lower = [
        limits["lowest_infeed_rate"] / 6e4,
        k / (limits["highest_work_rpm"] / 60),
        limits["lowest_speed_ratio"] * math.pi * d * k / v_s,
    ]
    scale = max(upper)
    solved = linprog(
        [-1.0],
        A_ub=[[1.0]] * len(upper) + [[-1.0]] * len(lower),
        b_ub=[bound / scale for bound in upper] + [-bound / scale for bound in lower],
        bounds=[(0, None)],
    )
    return solved.x[0] * scale * 6e4 if solved.status == 0 else None


def test_never_worse_and_never_infeasible_beside_an_optimiser():
    chance = random.Random(4)
    found = 0
    for _ in range(400):
        limits = {
            name: value * 10 ** chance.uniform(-4 if name.startswith("highest") else 0, 0 if name.startswith("highest") else 3)
            for name, value in WIDE.items()
        }
        for quantity in ("work_rpm", "infeed_rate", "speed_ratio"):
            low, high = sorted((limits[f"lowest_{quantity}"], limits[f"highest_{quantity}"]))
            limits.update({f"lowest_{quantity}": low, f"highest_{quantity}": high})
        limits["highest_power"] += 0.8
        diameter, speed = chance.uniform(3, 150), chance.uniform(8, 35)
        side = chance.choice([1, 0, -1])
        wheel = dict(work_diameter=diameter + 200.0 * (side == -1), wheel_speed=speed, side=side)
        result = fastest(limits, **wheel)
        product = gf.work_rpm_for(
            infeed_rate=1.0,
            work_diameter=wheel["work_diameter"],
            **{name: value for name, value in {**WHEEL, **wheel}.items() if name not in ("marked_wheel_speed", "work_diameter")},
        )
        best = by_linear_programme(limits, wheel["work_diameter"], speed, product)
        if best is None:
            assert result.setup is None and result.binds in UPPER_BOUNDS and result.against in LOWER_BOUNDS
            continue
        found += 1
        computed(
            "infeed rate of the fastest setup, random machines",
            "linear programme of scipy",
            best,
            result.setup.infeed_rate,
            within=1e-7,
        )
        assert result.setup.broken == ()
    assert 50 < found < 350  # both answers were tried


@pytest.mark.parametrize("name", UPPER_BOUNDS)
def test_each_limit_binds_when_it_alone_is_tight(name):
    cell = gf.speed_table(**WHEEL, **POWER, work_diameters=[20.0], infeed_rates=[0.6]).rows[0][0]
    value = getattr(cell, name.partition("_")[2])
    result = fastest({**WIDE, name: value})
    assert result.binds == name and result.against is None
    assert result.setup.infeed_rate == pytest.approx(0.6, rel=1e-9)
    assert name.replace("_", " ") in result.words


@pytest.mark.parametrize("name", LOWER_BOUNDS)
def test_limits_that_exclude_each_other_are_both_named(name):
    cell = gf.speed_table(**WHEEL, **POWER, work_diameters=[20.0], infeed_rates=[2.0]).rows[0][0]
    limits = {**WIDE, name: getattr(cell, name.partition("_")[2]), "highest_power": 1.2}
    result = fastest(limits)
    assert (result.setup, result.binds, result.against) == (None, "highest_power", name)
    assert result.words == f"no setup: the highest power excludes the {name.replace('_', ' ')}"


def test_wheel_that_does_not_fit_and_power_used_up_by_idle():
    assert fastest(WIDE, side=-1).words == "wheel too large"
    assert fastest(dict(highest_power=0.5)).words == "no setup: the highest power leaves nothing to grind with"


def test_refuses_what_it_must():
    with pytest.raises(ValueError, match="limits must bound the infeed rate by at least one of highest_infeed_rate"):
        fastest(dict(highest_work_rpm=100.0))
    with pytest.raises(ValueError, match="the speed marked on the wheel"):
        fastest(WIDE, wheel_speed=36.0)


@pytest.mark.parametrize("above, fits", [(1.0, True), (1 + 5e-13, True), (1 + 1e-9, False)])
def test_limits_that_meet_but_for_the_last_digits_leave_one_setup(above, fits):
    rpm = fastest(dict(highest_infeed_rate=0.6)).setup.work_rpm  # at constant depth the slowest work has the fastest infeed
    result = fastest(dict(lowest_infeed_rate=0.6 * above, lowest_work_rpm=rpm))
    assert (result.setup is not None) == fits
    assert (result.against is None) == fits
