"""Public objects print in one readable line, so that a console or notebook shows what they are."""

from __future__ import annotations

import pytest

import gritfuncs as gf
from gritfuncs import example

WHEEL = dict(wheel_speed=22, marked_wheel_speed=35, wheel_diameter=200, side=1, grit_density=18.9, shape_ratio=10)
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
        (gf.catalogue["wheel_speed"], "<Formula wheel_speed(wheel_diameter, wheel_rpm) -> wheel speed [m/s]>"),
        (gf.catalogue["speed_ratio"], "<Formula speed_ratio(wheel_speed, work_speed) -> speed ratio>"),
    ],
)
def test_in_one_line(value, line):
    assert repr(value) == str(value) == line


def test_what_is_printed_of_limits_makes_them_again():
    assert eval(repr(example.LIMITS), {"Limits": gf.Limits}) == example.LIMITS


def test_printing_a_large_table_does_not_compute_it():
    table = gf.speed_table(grit_depth=1.36, work_diameters=range(1, 2000), infeed_rates=range(1, 500), **WHEEL)
    assert "(1999)" in repr(table) and "rows" not in vars(table) and "arrays" not in vars(table)


def test_the_catalogue_says_how_much_it_holds():
    assert repr(gf.catalogue) == f"<catalogue of {len(gf.catalogue)} formulas>"
