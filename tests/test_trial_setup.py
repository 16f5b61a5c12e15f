"""What stays the same in a trial."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs.formulas import catalogue
from gritfuncs.trial import Setup, read_trial

GOOD = dict(
    work_diameter=20.0,
    infeed_rate=0.6,
    wheel_speed=25.0,
    wheel_diameter=200.0,
    side=1,
    grit_density=20.0,
    shape_ratio=10.0,
    contact_width=15.0,
)


def test_depth_is_that_of_the_catalogue():
    width_apart = {name: value for name, value in GOOD.items() if name != "contact_width"}
    expected = catalogue["plunge_grit_depth"].call(work_rpm=150.0, **width_apart)
    assert Setup(**GOOD).depth(150) == expected


@given(st.floats(1, 5000), st.sampled_from([("external", 40.0), ("flat", 40.0), ("internal", 400.0)]))
def test_rpm_for_undoes_depth(rpm, place):
    side, work_diameter = place
    setup = Setup(**dict(GOOD, side=side, work_diameter=work_diameter))
    assert math.isclose(setup.rpm_for(setup.depth(rpm)), rpm, rel_tol=1e-12)


@pytest.mark.parametrize("word, number", [("external", 1), (" Flat ", 0), ("INTERNAL", -1), (1.0, 1)])
def test_side_takes_words_and_numbers(word, number):
    setup = Setup(**dict(GOOD, side=word, work_diameter=400))
    assert setup.side == number and isinstance(setup.side, int)


def test_contact_width_may_be_unknown():
    assert Setup(**dict(GOOD, contact_width=None)).contact_width is None


@pytest.mark.parametrize(
    "name, value, part",
    [
        ("work_diameter", 0, "work_diameter must be > 0 mm (got 0.0)"),
        ("infeed_rate", -1, "infeed_rate must be > 0 mm/min (got -1.0)"),
        ("wheel_speed", math.nan, "wheel_speed must be > 0 m/s (got nan)"),
        ("wheel_diameter", "200", "wheel_diameter must be a number, > 0 mm (got '200')"),
        ("grit_density", None, "grit_density must be a number, > 0 1/mm² (got None)"),
        ("shape_ratio", [1, 2], "shape_ratio must be one number, > 0 (got [1, 2])"),
        ("side", "inside", "side must be external, flat, internal or 1, 0, -1 (got 'inside')"),
        ("side", 2, "side must be one of 1, 0, -1 (got 2.0)"),
        ("side", "internal", "work_diameter must be > wheel_diameter for internal grinding, side -1"),
        ("contact_width", 0, "contact_width must be > 0 mm (got 0.0)"),
    ],
)
def test_bad_values_get_one_line(name, value, part):
    with pytest.raises(ValueError) as caught:
        Setup(**dict(GOOD, **{name: value}))
    assert part in str(caught.value) and "\n" not in str(caught.value)


def test_depth_and_rpm_are_checked():
    with pytest.raises(ValueError, match="work_rpm must be > 0 1/min"):
        Setup(**GOOD).depth(0)
    with pytest.raises(ValueError, match="grit_depth must be > 0 µm"):
        Setup(**GOOD).rpm_for(-1)


def test_a_setup_that_is_given_stands_alone_whatever_the_file_says_of_one(tmp_path):
    path = tmp_path / "trial.csv"
    path.write_text("wheel_diameter;300;mm\nwheel_rpm;1500\ngrit_size;D126\nnominal_rpm;120\nrpm;kW\n100;2\n120;1.9\n140;1.8\n")
    trial = read_trial(path, setup=Setup(**GOOD))
    assert trial.setup == Setup(**GOOD) and trial.nominal_rpm == 120
    for word in ("wheel_diameter", "wheel_rpm", "grit_size"):
        assert trial.given.words.get(word) is None and trial.given.source_of(word) == ""
    assert trial.given.source_of("nominal_rpm") == "trial.csv"  # what stands beside a setup counts
