"""What trial.xlsx tells to set next: it follows its rule (sheet_rule.py) and never proposes what is unsafe."""

from __future__ import annotations

import random

import pytest
import sheet_rule
from open_book import OpenBook
from test_templates import differences, saved

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.workbooks.trial import build as trial

NOMINAL, LOWEST, HIGHEST, STEP = example.NOMINAL_RPM, 60.0, 190.0, 12.0
SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
LIMITS = gf.Limits(lowest_work_rpm=LOWEST, highest_work_rpm=HIGHEST)


def readings(knee, seed, drift, noise=0.015):
    """An invented trial as the rule of the sheet runs it, and the rule's answers: rows of rpm, power, idle."""
    scatter, rows, answers = random.Random(seed), [], []
    while not answers or answers[-1].work_rpm is not None:
        if answers:
            depth = SETUP.depth(answers[-1].work_rpm)
            energy = 100.0 * (1 + 2.0 * max(0.0, 1 - depth / knee)) * (1 + scatter.gauss(0, noise)) + 100.0 * drift * len(rows)
            power = gf.grinding_power(energy, SETUP.removal_rate, SETUP.contact_width) + 0.5
            rows.append((answers[-1].work_rpm, power, 0.5))
        answers.append(sheet_rule.answer([rpm for rpm, _, _ in rows], energies(rows), SETUP, LIMITS, NOMINAL))
    return rows, answers


def energies(rows):
    return [gf.specific_energy(power - idle, SETUP.removal_rate, SETUP.contact_width) for _, power, idle in rows]


INPUTS = dict(lowest_work_rpm=LOWEST, highest_work_rpm=HIGHEST, wanted_half_width=5.0)


@pytest.fixture(scope="module")
def book():
    return OpenBook(trial.build(INPUTS))


def workbook_on(rows, book, damage=()):
    """The results of the open book with these readings."""
    book.fill(readings=rows, damage=damage)
    book.read()
    return book.results()


CASES = [(110.0, 1, 0.0), (95.0, 2, 0.006), (400.0, 3, 0.0), (20.0, 4, -0.004)]


@pytest.mark.parametrize("knee_rpm, seed, drift", CASES)
def test_the_sheet_follows_its_rule_and_stays_safe(book, knee_rpm, seed, drift):
    """A knee in range twice, one beyond the fastest and one below the slowest rpm; at several lengths of each trial."""
    rows, answers = readings(SETUP.depth(knee_rpm), seed, drift)
    for length in sorted({0, min(7, len(rows)), len(rows) - 1, len(rows)}):
        part, expected = rows[:length], answers[length].work_rpm
        seen = workbook_on(part, book)
        if expected is None:
            assert seen["out_next_rpm"] in ("finished", "end here"), seen["out_next_line"]
            continue
        assert seen["out_next_rpm"] == pytest.approx(expected, rel=1e-9), f"{length} readings: {seen['out_next_line']!r}"
        tried = [rpm for rpm, _, _ in part] or [NOMINAL]
        assert max(LOWEST, min(tried) - STEP) <= expected <= min(HIGHEST, max(tried) + STEP) * (1 + 1e-12)


@pytest.fixture(scope="module")
def blank_book(as_built):
    return OpenBook(as_built("trial.xlsx"))


@pytest.mark.parametrize("seed", range(10))
def test_at_every_reading_of_any_trial_the_sheet_follows_its_rule(blank_book, seed):
    draw = random.Random(f"rule {seed}")
    nominal, step, wanted = draw.choice((100.0, 240.0)), draw.choice((7.0, 10.0, 14.0)), draw.choice((2.5, 5.0, 9.0))
    lowest, highest = (nominal * draw.choice(shares) if draw.random() < 0.6 else None for shares in ((0.5, 0.85), (1.2, 1.9)))
    limits = gf.Limits(lowest_work_rpm=lowest or 0.4 * nominal, highest_work_rpm=highest or 1.6 * nominal)
    knee, noise, drift = SETUP.depth(nominal * draw.uniform(0.4, 1.7)), draw.choice((0.005, 0.02)), draw.choice((0, 0, 0.004))
    blank_book.fill_example(
        trial,
        nominal_rpm=nominal,
        rpm_step=step,
        wanted_half_width=wanted,
        lowest_work_rpm=lowest,
        highest_work_rpm=highest,
        contact_width=SETUP.contact_width,
    )
    rows, rpm = [], nominal
    while rpm is not None:
        energy = 100.0 * (1 + 2.0 * max(0.0, 1 - SETUP.depth(rpm) / knee) + drift * len(rows)) * (1 + draw.gauss(0, noise))
        rows.append((rpm, gf.grinding_power(energy, SETUP.removal_rate, SETUP.contact_width) + 0.5, 0.5))
        seen = workbook_on(rows, blank_book)
        if seen["out_outlier_row"]:
            return  # the rule in Python does not look for one
        tried = [rpm for rpm, _, _ in rows]
        rpm = sheet_rule.answer(tried, energies(rows), SETUP, limits, nominal, step_percent=step, wanted=wanted / 100).work_rpm
        if rpm is None:
            assert seen["out_next_rpm"] in ("finished", "end here"), seen["out_next_line"]
        else:
            assert seen["out_next_rpm"] == pytest.approx(rpm, rel=1e-9), (len(rows), seen["out_next_line"])


def test_the_end_of_a_drifting_trial_is_computed_alike(tmp_path, libreoffice):
    rows, _ = readings(SETUP.depth(95.0), 2, 0.006)
    path = saved(trial.build, dict(readings=rows, **INPUTS), tmp_path)
    assert differences(path, libreoffice.recalc(path)) == []


def test_a_knee_found_asks_for_a_repeat_before_the_end_and_a_drift_is_named(book):
    rows, answers = readings(SETUP.depth(95.0), 2, 0.006)
    whys = {}
    for length in (len(rows) - 1, len(rows)):
        whys[length] = workbook_on(rows[:length], book)
    assert "again: d" in whys[len(rows) - 1]["out_next_reason"]  # do the readings drift?, or: drift could have made this knee
    assert whys[len(rows)]["out_next_rpm"] == "finished"


@pytest.mark.parametrize("drift, sign", [(0.02, "+"), (-0.012, "-")])
def test_a_drift_to_either_side_is_seen_and_named(book, drift, sign):
    drifting, _ = readings(SETUP.depth(95.0), 2, drift)
    seen = workbook_on(drifting[:20], book)
    assert f"the readings drift by {sign}" in seen["out_reason"].lower() + seen["out_next_reason"]
    assert seen["out_drift_word"] == "drifts"


def test_half_width_that_decides_is_python_s(book):
    """Without repeats far apart, so that no drift is judged."""
    rows = [(rpm, 0.5 + 1.2 * (1 + 2.0 * max(0.0, 1 - SETUP.depth(rpm) / SETUP.depth(110.0))), 0.5) for rpm in range(60, 190, 12)]
    rows = [(rpm, power * (1 + 0.01 * (-1) ** number), idle) for number, (rpm, power, idle) in enumerate(rows)]
    advice = gf.next_reading(
        [SETUP.depth(rpm) for rpm, _, _ in rows], energies(rows), SETUP, LIMITS, nominal_rpm=NOMINAL, drift=None, wanted=0.2
    )
    assert advice.stop
    seen = workbook_on(rows, book)
    knee = advice.knee  # with the wider interval that stops the trial
    assert seen["out_next_half_width"] == pytest.approx(100 * (knee.high - knee.low) / 2 / knee.knee, rel=1e-6)


def test_damage_stops_at_once(book):
    rows = readings(SETUP.depth(110.0), 1, 0.0)[0][:5]
    seen = workbook_on(rows, book, damage=["burn"])
    assert seen["out_next_rpm"] == "STOP" and "burn" in seen["out_next_line"]
