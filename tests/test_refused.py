"""One refusal with parts: whoever knows more about the place or the name adds it, and nobody takes the text apart."""

from __future__ import annotations

import copy
import pickle

import pytest

import gritfuncs as gf
from gritfuncs.refused import Refused, Unusable

PLAIN = Refused("power", "be > 0 kW", "-1.0")


def test_the_text_is_one_line_of_the_parts():
    assert str(PLAIN) == "power must be > 0 kW (got -1.0)"
    assert str(PLAIN.at("row 3").at("a.csv")) == "a.csv: row 3: power must be > 0 kW (got -1.0)"
    assert str(PLAIN.named("idle")) == "idle must be > 0 kW (got -1.0)"
    assert str(Refused("", "be a file", place=("a.csv",))) == "a.csv: must be a file"
    assert str(Refused("x", "be clear", "2", hint="say which")) == "x must be clear (got 2); say which"
    assert "\n" not in str(Refused("two\nlines", "be\x1b[2J", "\u202e"))
    assert isinstance(PLAIN, ValueError)


def test_a_sentence_of_its_own_takes_a_place_too():
    told = Unusable("nothing follows from these inputs")
    assert str(told.at("row 3").named("power")) == "row 3: nothing follows from these inputs"


@pytest.mark.parametrize("refused", [PLAIN, Unusable("nothing follows")])
def test_a_place_is_said_once(refused):
    """Who opens a file and who reads it may both say which one it is."""
    once = refused.at("row 3").at("a.csv")
    assert str(once.at("a.csv")) == str(once) == f"a.csv: row 3: {refused.fault}"
    assert str(once.at("row 3")).startswith("row 3: a.csv: row 3: ")


@pytest.mark.parametrize("ending", [".xlsx", ".xlsm", ".ods"])
def test_a_file_that_is_none_is_named_once(tmp_path, ending):
    (tmp_path / f"bad{ending}").write_bytes(b"PK\3\4 nonsense")
    with pytest.raises(Refused) as caught:
        gf.read_trial(tmp_path / f"bad{ending}")
    assert str(caught.value).startswith(f"bad{ending}: ") and str(caught.value).count(f"bad{ending}") == 1


@pytest.mark.parametrize("refused", [PLAIN.at("a.csv"), Unusable("nothing follows").at("a.csv")])
def test_it_travels_between_processes_whole(refused):
    for other in (pickle.loads(pickle.dumps(refused)), copy.copy(refused)):
        assert type(other) is type(refused) and str(other) == str(refused) and other.place == refused.place


@pytest.mark.parametrize(
    "call, name, got",
    [
        (lambda: gf.work_speed(-1, 100), "work_diameter", "-1.0"),
        (
            lambda: gf.equivalent_diameter(200, 20, -1),
            "work_diameter",
            "work_diameter = 20.0, wheel_diameter = 200.0, side = -1.0",
        ),
        (lambda: gf.mean_grit_size("D5"), "designation", "'D5'"),
        (lambda: gf.Limits(highest_work_rpm="x"), "highest_work_rpm", "'x'"),
        (lambda: gf.Limits(lowest_work_rpm=9, highest_work_rpm=8), "lowest_work_rpm", "9 and 8"),
    ],
)
def test_the_parts_are_there_for_whoever_catches_it(call, name, got):
    with pytest.raises(Refused) as caught:
        call()
    assert (caught.value.name, caught.value.got) == (name, got)


def test_a_file_stands_in_the_place(tmp_path):
    path = tmp_path / "trial.csv"
    path.write_text("wheel_diameter;-3\nrpm;power\n120;2\n", encoding="utf-8")
    with pytest.raises(Refused) as caught:
        gf.read_trial(path)
    assert (caught.value.place, caught.value.name, caught.value.must) == (("trial.csv",), "wheel_diameter", "be > 0 mm")
