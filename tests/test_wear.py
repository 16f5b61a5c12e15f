"""Wear of the wheel: a textbook's grinding ratio, and rings by another way."""

from __future__ import annotations

import pytest
from evidence.notes import RECALLED, published
from hypothesis import given
from hypothesis import strategies as st

import gritfuncs as gf

SOURCE = "Groover, Fundamentals of Modern Manufacturing, internal grinding problem"


class TestGrindingRatioOfATextbook:
    """Groover, Fundamentals of Modern Manufacturing, internal grinding problem (recalled)."""

    work = gf.ring_volume(outer_diameter=252.5, inner_diameter=250.0, axial_width=125.0)
    wheel = gf.ring_volume(outer_diameter=150.0, inner_diameter=149.75, axial_width=20.0)

    def test_volumes(self):
        published(SOURCE, RECALLED, "volume of work", "123332", self.work, "mm³")
        published(SOURCE, RECALLED, "volume of wheel", "1177", self.wheel, "mm³")

    def test_ratio(self):
        ratio = gf.grinding_ratio(self.work, self.wheel)
        assert ratio == pytest.approx(104.77481, rel=1e-7)
        published(SOURCE, RECALLED, "grinding ratio", "104.8", ratio)

    def test_wheel_lost_follows_from_the_ratio(self):
        assert gf.wheel_wear(self.work, 104.77481) == pytest.approx(1177.1155, rel=1e-7)


@given(st.floats(1, 500), st.lists(st.floats(0.01, 50), min_size=2, max_size=6), st.floats(0.5, 300))
def test_rings_inside_each_other_add_up(inner, steps, width):
    total, diameter = 0.0, inner
    for step in steps:
        total += gf.ring_volume(diameter + step, diameter, width)
        diameter += step
    assert total == pytest.approx(gf.ring_volume(diameter, inner, width), rel=1e-9)


@pytest.mark.parametrize("outer", [20.0, 19.9])
def test_a_ring_needs_the_larger_diameter_first(outer):
    with pytest.raises(ValueError, match=r"^outer_diameter must be > inner_diameter, both in mm \(got outer_diameter = "):
        gf.ring_volume(outer, 20.0, 10.0)
