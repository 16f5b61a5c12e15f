"""No workbook shows a setup for a wheel faster than the speed marked on it, and none whose limit is broken without its word.

Random inputs as people type them: either unit, by speed or by rpm, marks left blank, marks as text. What is allowed is worked
out here from the inputs alone.
"""

from __future__ import annotations

import math

import pytest
from engines import same
from hypothesis import given, settings
from hypothesis import strategies as st
from open_book import OpenBook

import gritfuncs as gf
from gritfuncs.planning import LIMIT_WORDS
from gritfuncs.quantities import QUANTITIES
from gritfuncs.workbooks.plunge_cycle import build as plunge_cycle
from gritfuncs.workbooks.plunge_cycle.stages import ABOVE, BELOW, PLUNGES, STAGES
from gritfuncs.workbooks.speed_table import build as speed_table

INCH, FOOT = 25.4, 0.3048  # mm and m, exact by definition (1959)
MOST = QUANTITIES["wheel_speed"].possible  # m/s: more is taken for a slip
ODD = [None, "", " ", "35", "8500 sfpm", "none", "22,0", "inch", True, 0.0, -30.0]
SPEEDS = st.one_of(st.floats(5.0, 100.0), st.floats(1000.0, 20000.0), st.sampled_from(ODD))
NEAR = st.one_of(st.floats(1.0, 1.5), st.sampled_from([1.0, 1 - 1e-9, 1 + 1e-9, 0.999, 2.0, 60.0, 1 / 60]))


def number(value):
    return value if isinstance(value, float) else None


@st.composite
def wheels(draw, units=("mm", "mm", "inch", "inch", "INCH", "inches", None)):
    """Inputs of a wheel, its mark often near its speed."""
    units = draw(st.sampled_from(units))
    per_speed, per_length = (FOOT / 60, INCH) if str(units).lower() == "inch" else (1.0, 1.0)
    diameter = draw(st.floats(60.0, 400.0)) / per_length
    speed = draw(st.one_of(st.floats(10.0, 60.0).map(lambda v: v / per_speed), SPEEDS))
    typed = draw(st.sampled_from(["speed", "rpm", "both"]))
    turns = (number(speed) or 30.0) * per_speed * 60000 / (math.pi * diameter * per_length)
    marked = draw(st.one_of(NEAR.map(lambda factor: (number(speed) or 30.0) * factor), SPEEDS))
    return dict(
        units=units,
        wheel_diameter=diameter,
        wheel_speed=None if typed == "rpm" else speed,
        wheel_rpm=None if typed == "speed" else turns,
        marked_wheel_speed=marked,
    )


def speed_and_mark(wheel):
    """Both in m/s, None for what is no number; the speed as the workbook takes it, by rpm where no speed is typed."""
    inch = str(wheel.get("units", "mm")).lower() == "inch"
    per_speed, per_length = (FOOT / 60, INCH) if inch else (1.0, 1.0)
    speed, mark = number(wheel["wheel_speed"]), number(wheel["marked_wheel_speed"])
    if speed is None and wheel["wheel_rpm"] is not None:
        speed = math.pi * wheel["wheel_diameter"] * per_length * wheel["wheel_rpm"] / 60000 / per_speed
    return speed and speed * per_speed, mark and mark * per_speed


def too_fast(wheel):
    """Faster than marked, by more than the last digits of computing; or nobody knows."""
    speed, mark = speed_and_mark(wheel)
    return speed is None or mark is None or mark <= 0 or speed > mark * (1 + 1e-12)


def numbers(value):
    cells = [cell for row in value for cell in row] if isinstance(value, list) else [value]
    return [cell for cell in cells if isinstance(cell, float)]


@pytest.fixture(scope="module")
def table():
    return OpenBook(speed_table.build())


@pytest.fixture(scope="module")
def cycle():
    return OpenBook(plunge_cycle.build())


RESULTS = ("_table", "out_fastest_", "out_wear_")
PER_LENGTH = (
    "diameters infeed_rates stock smallest_wheel_diameter reference_diameter reference_infeed_rate contact_width "
    "lowest_infeed_rate highest_infeed_rate"
).split()
PER_OTHER = dict(
    specific_energy=550 * FOOT * 4.4482216152605 * 60 / INCH**3,
    idle_power=550 * FOOT * 4.4482216152605 / 1000,
    highest_power=550 * FOOT * 4.4482216152605 / 1000,
    highest_removal_rate=INCH**2 / 60,
)


@st.composite
def machines(draw):
    """Limits of a machine, some of them none, in shop units."""
    ranges = dict(
        lowest_work_rpm=(10.0, 90.0),
        highest_work_rpm=(100.0, 500.0),
        lowest_infeed_rate=(0.05, 0.3),
        highest_infeed_rate=(0.31, 2.0),
        lowest_speed_ratio=(30.0, 200.0),
        highest_speed_ratio=(201.0, 900.0),
        highest_removal_rate=(0.3, 3.0),
        highest_power=(1.0, 6.0),
    )
    return {name: draw(st.one_of(st.none(), st.floats(*ends))) for name, ends in ranges.items()}


@settings(max_examples=150)
@given(wheel=wheels(), limits=machines(), rates=st.lists(st.floats(0.1, 2.0), min_size=1, max_size=3))
def test_a_speed_table_shows_no_wheel_faster_than_marked_and_no_broken_limit_without_its_word(table, wheel, limits, rates):
    inch = str(wheel["units"]).lower() == "inch"
    given_now = {**speed_table.defaults(), **limits, "infeed_rates": rates, "diameters": [8.0, 31.0], "highest_wheel_rpm": None}
    given_now.update({name: None for name in ("grit_density", "lookup_key")}, smallest_wheel_diameter=40.0)
    shop = dict(given_now)
    if inch:
        factors = {**dict.fromkeys(PER_LENGTH, INCH), **PER_OTHER}
        for name, factor in factors.items():
            value = given_now[name]
            given_now[name] = [one / factor for one in value] if isinstance(value, list) else value and value / factor
    del given_now["records"], given_now["today"]
    table.fill(**{**given_now, **wheel})
    table.read()
    results = [name for name in table.names() if name.startswith("out_") and any(word in name for word in RESULTS)]
    results.remove("out_wear_known")
    assert len(results) > 18
    if too_fast(wheel):
        assert table["out_check"].startswith("STOP")
        assert {name: numbers(table[name]) for name in results if numbers(table[name])} == {}
        return
    speed, mark = speed_and_mark(wheel)
    wear = zip(*(numbers(table[f"out_wear_{name}"]) for name in ("diameters", "wheel_speed", "wheel_rpm")))
    assert all(max(slow, math.pi * diameter * turns / 60000) <= mark * (1 + 1e-9) for diameter, slow, turns in wear)
    if table["out_stops"]:
        assert {name: numbers(table[name]) for name in results if numbers(table[name])} == {}
        assert wheel["units"] in ("inches", None) or wheel["wheel_speed"] in ODD or max(speed, mark) > MOST
        return
    density = gf.grit_density(gf.mean_grit_size(shop["grit_size"]), shop["concentration"], shop["active_fraction"])
    expected = gf.speed_table(
        grit_depth=shop["target_depth"],
        work_diameters=shop["diameters"],
        infeed_rates=rates,
        wheel_speed=speed,
        marked_wheel_speed=speed,
        wheel_diameter=wheel["wheel_diameter"] * (INCH if inch else 1.0),
        side=1,
        grit_density=density,
        limits=gf.Limits(**limits),
        **{name: shop[name] for name in ("shape_ratio", "specific_energy", "contact_width", "idle_power")},
    )
    for row, setups in enumerate(expected.rows):
        assert [same(cell, setup.work_rpm) for cell, setup in zip(table["out_rpm_table"][row], setups)] == [True] * len(rates)
        assert table["out_limit_table"][row][: len(rates)] == [setup.word for setup in setups]


@settings(max_examples=150)
@given(wheel=wheels(units=("mm",)), limits=machines(), stock=st.floats(0.01, 2.0))
def test_a_plunge_cycle_shows_no_stage_for_a_wheel_faster_than_marked(cycle, wheel, limits, stock):
    wheel = {name: value for name, value in wheel.items() if name != "units"}
    values = {**plunge_cycle.defaults(), **limits, **wheel, "rough_stock": stock, "grit_density": None}
    values.update(new_wheel_diameter=None, wheel_price=None)
    cycle.fill(**values)
    cycle.read()
    steps = {f"out_{stage.name}_used" for stage in STAGES}
    results = [
        name for name in cycle.names() if name.startswith("out_") and name.split("_")[1] in {stage.name for stage in STAGES}
    ]
    results += ["out_grinding_time", "out_highest_stage_power", "out_cycle_time"]
    if too_fast(wheel):
        assert cycle["out_check"].startswith("STOP") and cycle["out_cycle_word"].startswith("STOP")
        assert {name: cycle[name] for name in set(results) - steps if numbers(cycle[name])} == {}
        return
    if cycle["out_stops"]:
        assert wheel["wheel_speed"] in ODD or max(speed_and_mark(wheel)) > MOST
        return
    for stage in PLUNGES:
        ends = [
            {name: cycle[f"out_{stage.name}_{at}{name}"] for name in ("speed_ratio", "removal_rate", "power")}
            | {name: values[f"{stage.name}_{name}"] for name in ("work_rpm", "infeed_rate")}
            for at in ("start_", "")
        ]
        broken = {word for end in ends for word in gf.planning.broken_limits(end, gf.Limits(**limits))}
        wanted = [word for _, _, word in LIMIT_WORDS if word in broken][:1] or ["ok", BELOW, ABOVE]
        assert cycle[f"out_{stage.name}_word"] in wanted
