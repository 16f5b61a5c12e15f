"""Public objects print in one readable line, so that a console or notebook shows what they are."""

from __future__ import annotations

import pytest

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.knee import FourthRoot

WHEEL = dict(wheel_speed=22, marked_wheel_speed=35, wheel_diameter=200, side=1, grit_density=18.9, shape_ratio=10)
SETUP = dict(work_diameter=20, infeed_rate=0.6, wheel_speed=22, wheel_diameter=200, grit_density=18.9, shape_ratio=10)
DEPTHS = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3]
FALL = [72, 64, 56, 48, 40, 40, 40, 40]  # to a knee at 1
TABLE = gf.speed_table(grit_depth=1.36, work_diameters=[12, 20, 32], infeed_rates=[0.3], **WHEEL)


@pytest.mark.parametrize(
    "value, line",
    [
        (gf.Limits(), "Limits()"),
        (gf.Limits(highest_work_rpm=300, highest_power=6), "Limits(highest_work_rpm=300.0, highest_power=6.0)"),
        (TABLE, "<SpeedTable for 1.36 µm at 22 m/s: part diameters 12 to 32 mm (3) by infeed rate 0.3 mm/min>"),
        (
            gf.fastest_setup(grit_depth=1.36, work_diameter=20, limits=gf.Limits(lowest_work_rpm=60), **WHEEL),
            f"<FastestSetup: {gf.infeed_rate_for(1.36, 60, 20, 22, 200, 1, 18.9, 10):.4g} mm/min at 60 1/min, bound by the lowest work rpm>",
        ),
        # Of a step of 0.1 half is the least half-width of the interval, and nothing scatters.
        (gf.find_knee(DEPTHS, FALL), "<Knee found at grit depth 1, interval 0.95 to 1.05: 8 readings at 8 depths>"),
        (gf.find_knee(DEPTHS, [40] * 8), "<Knee already level: 8 readings at 8 depths>"),
        (gf.find_knee([1], [40]), "<Knee too few readings: 1 reading at 1 depth>"),
        (
            gf.next_reading([], [], FourthRoot(), nominal_rpm=100),
            "<Advice next: 100 1/min, start at nominal (too few readings so far)>",
        ),
        (
            gf.Setup(side="internal", contact_width=12.5, **{**SETUP, "wheel_diameter": 15}),
            "<Setup internal: part 20 mm, wheel 15 mm at 22 m/s, infeed 0.6 mm/min on the radius, grit density 18.9 1/mm², "
            "shape ratio 10, contact width 12.5 mm>",
        ),
        (
            gf.Setup(side=1, **SETUP),
            "<Setup external: part 20 mm, wheel 200 mm at 22 m/s, infeed 0.6 mm/min on the radius, grit density 18.9 1/mm², "
            "shape ratio 10>",
        ),
        (gf.catalogue["wheel_speed"], "<Formula wheel_speed(wheel_diameter, wheel_rpm) -> wheel speed [m/s]>"),
        (gf.catalogue["speed_ratio"], "<Formula speed_ratio(wheel_speed, work_speed) -> speed ratio>"),
    ],
)
def test_in_one_line(value, line):
    assert repr(value) == str(value) == line


def test_where_the_readings_still_fall_the_bound_is_printed():
    falling = gf.find_knee(DEPTHS, [100 - 60 * depth for depth in DEPTHS])
    assert repr(falling) == f"<Knee still falling, above grit depth {falling.low:.4g} if there is one: 8 readings at 8 depths>"


def test_advice_to_stop_prints_why():
    advice = gf.next_reading(DEPTHS, FALL, FourthRoot(), nominal_rpm=1, damage_seen=True)
    assert repr(advice) == f"<Advice stop: {advice.reason}>" and "damage" in advice.reason


def test_what_is_printed_of_limits_makes_them_again():
    assert eval(repr(example.LIMITS), {"Limits": gf.Limits}) == example.LIMITS


def test_printing_a_large_table_does_not_compute_it():
    table = gf.speed_table(grit_depth=1.36, work_diameters=range(1, 2000), infeed_rates=range(1, 500), **WHEEL)
    assert "(1999)" in repr(table) and "rows" not in vars(table) and "arrays" not in vars(table)


def test_the_catalogue_says_how_much_it_holds():
    assert repr(gf.catalogue) == f"<catalogue of {len(gf.catalogue)} formulas>"
