"""rpm and infeed stepped together in the cells of trial.xlsx: depths, plan, next reading and knee, beside those of Python."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from open_book import OpenBook
from test_trial_book import filled, in_column

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.planning.plan import BOTH
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.tables import CALCULATION, READINGS

SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
NOMINAL, INFEED = example.NOMINAL_RPM, SETUP.infeed_rate


@pytest.fixture(scope="module")
def book(as_built):
    return OpenBook(as_built("trial.xlsx"))


def power(rpm, infeed, knee, fall=2.5, scatter=0.0, draw=random, level=100.0):
    """Net power at the wheel where energy follows grit depth alone."""
    now = replace(SETUP, infeed_rate=infeed)
    energy = level * (1 + fall * max(0.0, 1 - now.depth(rpm) / knee)) * (1 + scatter * draw.gauss(0, 1))
    return gf.grinding_power(energy, now.removal_rate, SETUP.contact_width)


def rows_of(plan, knee_rpm=118.0, wrong_idle=0.0, seed=1, scatter=0.02, fall=2.5):
    """Readings, and infeed rates, of a plan."""
    draw, knee = random.Random(seed), SETUP.depth(knee_rpm)
    net = power(NOMINAL, INFEED, knee)
    rows, infeeds = [], []
    for step in plan:
        rate = INFEED if step.infeed_rate is None else step.infeed_rate
        rows.append((step.work_rpm, power(step.work_rpm, rate, knee, fall, scatter, draw) + 0.5 + wrong_idle * net, 0.5))
        infeeds.append(rate)
    return rows, infeeds


PLANNED = gf.plan_trial(NOMINAL, steps=BOTH, infeed_rate=INFEED)


def read_as_file(tmp_path, **values):
    trial.build(values).save(tmp_path / "book.xlsx")
    return gf.read_trial(tmp_path / "book.xlsx")


@pytest.mark.parametrize("basis, units", [("radius", "metric"), ("diameter", "metric"), ("diameter", "inch")])
def test_depth_and_energy_of_a_row_follow_from_its_own_infeed_as_in_python(book, tmp_path, basis, units):
    rows, infeeds = rows_of(PLANNED)
    infeeds[3] = None
    shown = 1 if basis == "radius" else 2
    inch = dict(
        wheel_diameter=200 / 25.4,
        wheel_speed=22 / 0.00508,
        marked_wheel_speed=35 / 0.00508,
        work_diameter=20 / 25.4,
        infeed_rate=shown * INFEED / 25.4,
        contact_width=15 / 25.4,
    )
    typed = [None if rate is None else rate * shown / (25.4 if units == "inch" else 1) for rate in infeeds]
    values = {"infeed_basis": basis, "infeed_rate": shown * INFEED, "units": units, **(inch if units == "inch" else {})}
    seen = filled(book, rows, row_infeed_rates=typed, steps=BOTH, **values)
    n, setups = len(rows), [replace(SETUP, infeed_rate=rate or INFEED) for rate in infeeds]
    depths = [setup.depth(rpm) for setup, (rpm, _, _) in zip(setups, rows)]
    energies = [
        gf.specific_energy(load - idle, setup.removal_rate, SETUP.contact_width) for setup, (_, load, idle) in zip(setups, rows)
    ]
    assert in_column(seen, READINGS, "depth")[:n] == pytest.approx(depths)
    assert in_column(seen, READINGS, "energy")[:n] == pytest.approx(energies)
    if units == "inch":  # where all of it comes together
        found = read_as_file(tmp_path, readings=rows, row_infeed_rates=typed, steps=BOTH, **values)
        assert found.way == BOTH and found.used[3].infeed_rate is None
        assert (list(found.depths), list(found.energies)) == (pytest.approx(depths), pytest.approx(energies))
        assert in_column(seen, CALCULATION, "removal")[:n] == pytest.approx(list(found.removal_ratios))
    assert in_column(seen, READINGS, "status")[3] == "! used, infeed blank"


def test_a_book_without_infeeds_computes_as_ever_and_the_words_are_python_s(book, tmp_path):
    rows = [(NOMINAL, 2.0, 0.5)] * 5
    infeeds = [None, "x", -1.0, INFEED, INFEED]
    seen = filled(book, rows, row_infeed_rates=infeeds)
    words = in_column(seen, CALCULATION, "status")[:5]
    found = read_as_file(tmp_path, readings=rows, row_infeed_rates=infeeds)
    assert words == [reading.status for reading in found.readings[:5]]
    assert words[1:4] == ["left out: infeed rate is not a number", "left out: infeed rate is not > 0", "used"]
    assert in_column(seen, READINGS, "status")[1:3] == ["! infeed not a number", "! infeed not > 0"]
    plain = filled(book, example.readings(), row_infeed_rates=[])
    depths = [SETUP.depth(rpm) for rpm, _, _ in example.readings()]
    assert in_column(plain, CALCULATION, "rpm")[: len(depths)] == [rpm for rpm, _, _ in example.readings()]
    assert in_column(plain, CALCULATION, "depth")[: len(depths)] == pytest.approx(depths, rel=1e-15)
