"""The rule that judges each row of a trial, line by line."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs.trial.readings import Entry, Unreadable, judge
from gritfuncs.values import NO_WORDS, YES_WORDS


def status(*rows, **options):
    return [reading.status for reading in judge([Entry(n, *row) for n, row in enumerate(rows, 1)], **options)]


@pytest.mark.parametrize(
    "row, word",
    [
        ((None, None), "blank"),
        ((None, None, None, "no", "a note"), "blank"),
        (("  ", ""), "blank"),
        ((None, None, 0.8, "maybe"), "blank"),
        ((120, 2.0, 0.8, "no"), "excluded"),
        ((-1, "text", "text", "no"), "excluded"),
        ((120, None, None, 0), "excluded"),
        ((120, 2.0, 0.8, False), "excluded"),
        ((120, 2.0, 0.8, "perhaps"), "left out: use? must be yes or no"),
        ((120, 2.0, 0.8, 2), "left out: use? must be yes or no"),
        ((None, 2.0), "left out: rpm is blank"),
        (("fast", 2.0), "left out: rpm is not a number"),
        (("120", 2.0), "left out: rpm is not a number"),
        ((True, 2.0), "left out: rpm is not a number"),
        ((math.nan, 2.0), "left out: rpm is not a number"),
        ((10**400, 2.0), "left out: rpm is not a number"),
        ((0, 2.0), "left out: rpm is not > 0"),
        ((-120, None), "left out: rpm is not > 0"),
        ((120, None, 0.8), "left out: load is blank"),
        ((120, "2 kW"), "left out: load is not a number"),
        ((120, Unreadable("#DIV/0!")), "left out: load is not a number (#DIV/0!)"),
        ((120, 2.0, "low"), "left out: idle is not a number"),
        ((120, 0.8, 0.8), "left out: load is not above idle"),
        ((120, -0.5), "left out: load is not above idle"),
        ((120, 2.0), "used"),
        ((120, 2.0, 0.8, "yes"), "used"),
    ],
)
def test_each_kind_of_row_gets_its_word(row, word):
    assert status(row) == [word]


@pytest.mark.parametrize("small", [0.5, 1e-6])
def test_what_is_above_zero_by_little_counts(small):
    """Loads in shares of a range lie between 0 and 1, and energies may in other units."""
    assert status((small, 2.0), (120, small)) == ["used", "used"] and status((120, 2 + small, 2.0)) == ["used"]
    energies = [Entry(1, 120, specific_energy=small), Entry(2, 120, specific_energy=0), Entry(3, 120, specific_energy=-small)]
    assert [reading.status for reading in judge(energies, energy_given=True)] == ["used"] + [
        "left out: specific energy is not > 0"
    ] * 2
    depths = [Entry(1, load=2.0, grit_depth=small), Entry(2, load=2.0, grit_depth=0)]
    assert [reading.status for reading in judge(depths, depth_given=True)] == ["used", "left out: grit depth is not > 0"]


@pytest.mark.parametrize("word", YES_WORDS + NO_WORDS)
def test_words_for_use_count_in_any_case_and_with_spaces(word):
    expected = "used" if word in YES_WORDS else "excluded"
    assert status((120, 2.0, 0.8, word), (130, 2.0, 0.8, f" {word.upper()} ")) == [expected] * 2


def test_idle_comes_from_the_row_then_from_the_trial_then_is_zero():
    taken = [reading.idle for reading in judge([Entry(1, 120, 2.0, 0.5), Entry(2, 130, 2.0)], idle=0.8)]
    assert taken == [0.5, 0.8]
    assert judge([Entry(1, 120, 2.0)])[0].idle == 0


def test_a_row_without_idle_is_left_out_when_others_have_their_own_and_the_trial_has_none():
    rows = ((120, 2.0, 0.8), (130, 2.0), (140, 1.9, 0.8))
    assert status(*rows)[1] == "left out: idle is missing, other rows have it"
    assert status(*rows, idle=0.8)[1] == "used"


def test_idle_of_excluded_and_blank_rows_is_not_missed_elsewhere():
    assert status((120, 2.0, 0.8, "no"), (None, None, 0.8), (130, 2.0)) == ["excluded", "blank", "used"]


def test_equal_rows_stay_used_and_name_the_first():
    rows = ((120, 2.0), (130, 1.9), (120, 2.0), (120, 2.1), (120, 2.0))
    assert status(*rows) == ["used", "used", "used, same as row 1", "used", "used, same as row 1"]


def test_a_repeat_of_a_row_that_is_left_out_is_no_repeat():
    assert status((120, 2.0, None, "no"), (120, 2.0)) == ["excluded", "used"]


def test_given_depths_and_energies_stand_for_rpm_and_load():
    entries = [
        Entry(1, grit_depth=1.0, specific_energy=100),
        Entry(2, grit_depth=0, specific_energy=100),
        Entry(3, grit_depth=1.1, specific_energy=-5),
        Entry(4, 120, 2.0),
        Entry(5, grit_depth=1.2),
    ]
    readings = judge(entries, depth_given=True, energy_given=True)
    assert [reading.status for reading in readings] == [
        "used",
        "left out: grit depth is not > 0",
        "left out: specific energy is not > 0",
        "blank",
        "left out: specific energy is blank",
    ]
    assert (readings[0].depth, readings[0].energy, readings[1].depth) == (1.0, 100, None)


cells = st.one_of(st.none(), st.floats(), st.integers(-10, 300), st.booleans(), st.text(max_size=4), st.just(Unreadable("#REF!")))


@given(
    st.lists(st.tuples(cells, cells, cells, cells, cells), max_size=12),
    st.one_of(st.none(), st.floats(0, 5)),
    st.booleans(),
    st.booleans(),
)
def test_any_rows_are_each_judged_once_and_only_good_numbers_are_used(rows, idle, depth_given, energy_given):
    readings = judge(
        [Entry(n, *row) for n, row in enumerate(rows, 1)], idle=idle, depth_given=depth_given, energy_given=energy_given
    )
    assert [reading.row for reading in readings] == list(range(1, len(rows) + 1))
    for reading in readings:
        assert reading.kind in ("used", "excluded", "left out", "blank")
        if reading.is_used and not depth_given:
            assert reading.work_rpm > 0 and math.isfinite(reading.work_rpm)
        if reading.is_used and not energy_given:
            assert reading.load > reading.idle


def test_a_small_energy_is_one_and_none_is_not():
    readings = judge([Entry(1, 120, specific_energy=0.5), Entry(2, 130, specific_energy=0)], energy_given=True)
    assert [reading.status for reading in readings] == ["used", "left out: specific energy is not > 0"]
