"""A function is found by its name, a symbol however typed, a shop word, or several words."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs import cli, finder
from gritfuncs.formulas import catalogue
from gritfuncs.quantities import QUANTITIES


def names(words):
    first, others = finder.search(words)
    return [entry.name for entry in first], [entry.name for entry in others]


@pytest.mark.parametrize(
    "words, expected",
    [
        ("Q'w", "removal_rate"),
        ("Qw", "removal_rate"),
        ("q'_w", "removal_rate"),
        ("Q′w", "removal_rate"),
        ("MRR", "removal_rate"),
        ("stock removal rate", "removal_rate"),
        ("d_eq", "equivalent_diameter"),
        ("de", "equivalent_diameter"),
        ("chip thickness", "grit_depth"),
        ("thickness chip", "grit_depth"),
        ("hm", "grit_depth"),
        ("h_max", "grit_depth"),
        ("spindle speed", "wheel_rpm"),
        ("vs", "wheel_speed"),
        ("G-ratio", "grinding_ratio"),
        ("g ratio", "grinding_ratio"),
        ("cos φ", "line_power"),
        ("carats", "grit_density"),
        ("mesh", "mean_grit_size"),
        ("stock removal", "grinding_ratio"),
        ("feed rate", "infeed_rate_for"),
        ("energy per volume", "specific_energy"),
        ("GRIT_WORK_RPM_FOR", "work_rpm_for"),
        ("grit_next_rpm", "next_reading"),
        ("knee", "find_knee"),
        ("csv", "read_trial"),
        ("cycle time", "fastest_setup"),
        ("ΔT", "peak_temperature_rise"),
        ("burn", "burn_coefficient"),
        ("amperes", "line_power"),
    ],
)
def test_what_people_type_finds_the_function(words, expected):
    assert expected in sum(names(words), [])


def test_a_name_finds_that_function_first_and_those_that_take_it_after():
    assert names("work_rpm") == names("GRIT_WORK_RPM") or names("work_rpm")[0] == ["work_rpm"]
    first, others = names("grit_depth")
    assert first == ["grit_depth"] and "work_rpm_for" in others


def test_what_is_called_just_so_comes_first():
    assert names("chip thickness")[0][:2] == ["grit_depth", "plunge_grit_depth"]
    assert names("V_s")[0] == ["wheel_wear", "wheel_speed", "wheel_speed_for"] and names("v_s")[0][-1] == "wheel_wear"


def test_all_words_must_fit():
    one = {name for found in names("work") for name in found}
    both = {name for found in names("work temperature") for name in found}
    assert both and both < one
    assert names("work zzz") == ([], [])


def test_one_letter_is_a_symbol_and_not_the_beginning_of_words():
    found = set(sum(names("r"), []))
    assert {"grit_depth", "work_rpm_for"} <= found and "removal_rate" not in found
    assert set(sum(names("C r"), [])) <= found


@pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
def test_every_function_is_found_by_all_its_words(record):
    for quantity in (*record.arguments, record.gives):
        for word in (quantity.name, quantity.symbol, quantity.label, *quantity.also):
            assert record in catalogue.search(word), word
            assert record.name in sum(names(word), []), word


@given(st.text(max_size=40))
def test_whatever_is_typed_gives_an_answer(words):
    found = {entry.name for entries in finder.search(words) for entry in entries}
    assert {record.name for record in catalogue.search(words)} <= found
    assert len(finder.nearest(words)) <= 3


def test_other_names_are_no_repetition():
    for quantity in QUANTITIES.values():
        own = {quantity.name.replace("_", " "), quantity.label.lower()}
        assert len(set(quantity.also)) == len(quantity.also) and not own & {word.lower() for word in quantity.also}, quantity.name


def said(capsys, *words, code=0):
    assert cli.main(["functions", *words]) == code
    return capsys.readouterr()


def test_the_command_explains_what_gives_it_and_lists_what_takes_it(capsys):
    text = said(capsys, "equivalent", "diameter").out
    assert "=GRIT_EQUIVALENT_DIAMETER(" in text and "=GRIT_CONTACT_LENGTH(" not in text
    assert re.search(r"^It is also an input or part of:\n(.+\n)*  contact_length ", text, re.MULTILINE)


def test_the_command_explains_what_takes_a_quantity_that_nothing_gives(capsys):
    text = said(capsys, "active", "fraction").out
    assert "=GRIT_DENSITY(" in text and "=GRIT_HEAT_FLUX(" in text and "It is also" not in text


def test_the_command_lists_every_public_function(capsys):
    text = said(capsys).out
    assert [entry.name for entry in finder.ENTRIES if not re.search(rf"^  {entry.name} ", text, re.MULTILINE)] == []


@pytest.mark.parametrize(
    "typed, near", [("spindel speed", "spindle speed"), ("wheal_speed", "wheel speed"), ("removel rate", "removal rate")]
)
def test_a_miss_is_one_line_with_the_nearest_names(capsys, typed, near):
    line = said(capsys, *typed.split(), code=1).err
    assert line.count("\n") == 1 and repr(typed) in line and near in line.replace("_", " ")
    assert re.search(r"quantities \(nearest: [^;]+; gritfuncs functions lists all\)\n$", line)


def test_a_miss_without_anything_near_says_how_to_list_all(capsys):
    line = said(capsys, "zzz", code=1).err
    assert line == (
        "gritfuncs functions: no function has 'zzz' in its name, symbols or quantities (gritfuncs functions lists all)\n"
    )


@pytest.mark.skipif(os.name == "nt", reason="pipes of another kind")
def test_a_reader_that_has_enough_is_no_error():
    read_end, write_end = os.pipe()
    os.close(read_end)
    try:
        ended = subprocess.run(
            [sys.executable, "-m", "gritfuncs", "functions"], stdout=write_end, stderr=subprocess.PIPE, text=True
        )
    finally:
        os.close(write_end)
    assert (ended.returncode, ended.stderr) == (0, "")
