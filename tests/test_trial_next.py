"""What trial.xlsx tells to set next: it ends as `next_reading` does, drift aside, and never proposes what is unsafe."""

from __future__ import annotations

import random

import pytest
from test_templates import cached_values, cells_by_name, differences, saved

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.workbooks.trial import build as trial

NOMINAL, LOWEST, HIGHEST, STEP = example.NOMINAL_RPM, 60.0, 190.0, 12.0
SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
LIMITS = gf.Limits(lowest_work_rpm=LOWEST, highest_work_rpm=HIGHEST)


def played(knee, seed, most):
    """An invented trial as Python's advice would run it: rows of rpm, power, idle."""
    scatter, rows = random.Random(seed), []
    while len(rows) < most:
        advice = advice_on(rows)
        if advice.stop:
            break
        depth = SETUP.depth(advice.work_rpm)
        energy = 100.0 * (1 + 3.0 * max(0.0, 1 - depth / knee)) * (1 + scatter.gauss(0, 0.015))
        rows.append((advice.work_rpm, gf.grinding_power(energy, SETUP.removal_rate, SETUP.contact_width) + 0.5, 0.5))
    return rows


def advice_on(rows, **more):
    depths = [SETUP.depth(rpm) for rpm, _, _ in rows]
    energies = [gf.specific_energy(power - idle, SETUP.removal_rate, SETUP.contact_width) for _, power, idle in rows]
    return gf.next_reading(depths, energies, SETUP, LIMITS, nominal_rpm=NOMINAL, drift=None, **more)


def workbook_on(rows, folder, **more):
    path = saved(
        trial.build, dict(readings=rows, lowest_work_rpm=LOWEST, highest_work_rpm=HIGHEST, wanted_half_width=5.0, **more), folder
    )
    return path, cells_by_name(path, cached_values(path))


@pytest.mark.parametrize("knee_rpm, seed", [(110.0, 1), (95.0, 2), (400.0, 3), (20.0, 4)])
def test_stops_with_python_and_stays_safe(knee_rpm, seed, tmp_path, request):
    """A knee in range twice, one beyond the fastest and one below the slowest rpm; at several lengths of each trial."""
    rows = played(SETUP.depth(knee_rpm), seed, 20)
    stopped = set()
    for length in sorted({0, 3, 7, len(rows) - 1, len(rows)}):
        part = rows[:length]
        path, seen = workbook_on(part, tmp_path)
        advice = advice_on(part)
        assert (seen["out_next_rpm"] in ("finished", "end here")) == advice.stop, (
            f"{length} readings: {seen['out_next_line']!r}, {advice.line()!r}"
        )
        stopped.add(advice.stop)
        if not advice.stop:
            tried = [rpm for rpm, _, _ in part] or [NOMINAL]
            assert max(LOWEST, min(tried) - STEP) <= seen["out_next_rpm"] <= min(HIGHEST, max(tried) + STEP) * (1 + 1e-12)
    assert stopped == {True, False}
    assert differences(path, request.getfixturevalue("libreoffice").recalc(path)) == []


def test_half_width_that_decides_is_python_s(tmp_path):
    rows = played(SETUP.depth(110.0), 1, 20)
    knee = advice_on(rows).knee  # with the wider interval that stops the trial
    _, seen = workbook_on(rows, tmp_path)
    plain = gf.find_knee(
        [SETUP.depth(rpm) for rpm, _, _ in rows],
        [gf.specific_energy(power - idle, SETUP.removal_rate, SETUP.contact_width) for _, power, idle in rows],
    )
    wider = (knee.high - knee.low) / (plain.high - plain.low)
    assert seen["out_next_widening"] == pytest.approx(wider, rel=1e-6)
    assert seen["out_next_half_width"] == pytest.approx(100 * (knee.high - knee.low) / 2 / knee.knee, rel=1e-6)


def test_damage_stops_at_once(tmp_path):
    rows = played(SETUP.depth(110.0), 1, 5)
    _, seen = workbook_on(rows, tmp_path, observations=[(None, None, "burn")])
    assert seen["out_next_rpm"] == "STOP" and "burn" in seen["out_next_line"]
